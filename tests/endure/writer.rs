//! One person at work: every form that is sent is noted before, every answer after.

use std::sync::atomic::{AtomicBool, Ordering};

use domain::words::SlotState;
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use crate::browser::{Answer, Browser, hidden};
use crate::record::{
    PASSWORD, PLANNED, RESULTS, Record, excursion_of, slot_with_result, task_to_plan,
    task_with_result,
};

pub struct Writer {
    number: usize,
    browser: Browser,
    chance: ChaCha8Rng,
    /// In the order in which they were sent. Only the last one may be without an answer.
    sent: Vec<Sent>,
    /// Where the answer to a new task led.
    made: Vec<String>,
}

struct Sent {
    claim: Claim,
    path: String,
    fields: Vec<(String, String)>,
    acknowledged: bool,
}

/// What is true of the record once the form was taken.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Claim {
    /// Exactly one task has this title; an answer that came tells its code.
    Made {
        title: String,
        code: Option<String>,
    },
    Notes {
        task: String,
        notes: String,
    },
    Result {
        slot: String,
        words: String,
    },
    /// The task stands there so, or not at all.
    Planned {
        task: String,
        state: Option<SlotState>,
    },
    /// All of these are parked with these words.
    Parked {
        tasks: Vec<String>,
        why: String,
    },
}

impl Claim {
    /// Claims about the same thing take one another's place.
    fn about(&self) -> String {
        match self {
            Self::Made { title, .. } => format!("made {title}"),
            Self::Notes { task, .. } => format!("notes {task}"),
            Self::Result { slot, .. } => format!("result {slot}"),
            Self::Planned { task, .. } => format!("planned {task}"),
            Self::Parked { why, .. } => format!("parked {why}"),
        }
    }
}

impl Writer {
    pub fn new(number: usize, seed: u64) -> Self {
        let mut chance = ChaCha8Rng::seed_from_u64(seed);
        chance.set_stream(number as u64 + 1);
        let browser = Browser::new();
        Self { number, browser, chance, sent: Vec::new(), made: Vec::new() }
    }

    pub fn acknowledged(&self) -> usize {
        self.sent.iter().filter(|sent| sent.acknowledged).count()
    }

    /// Goes on after a start: the session still holds, and the form without an answer is sent
    /// again. Whether it had been taken or not, it counts once.
    pub fn come_back(&mut self, address: &str) {
        self.browser.goes_to(address);
        if !self.browser.is_signed_in() {
            self.browser.sign_in("lead", PASSWORD);
        }
        if self.sent.last().is_some_and(|sent| !sent.acknowledged) {
            let sent = self.sent.pop().unwrap();
            assert!(self.send(sent), "writer {} gets no answer", self.number);
        }
    }

    pub fn write_until_cut_off(&mut self, killed: &AtomicBool) {
        while let Some(form) = self.next_form() {
            if killed.load(Ordering::SeqCst) || !self.send(form) {
                break;
            }
        }
        assert!(killed.load(Ordering::SeqCst), "the service went away by itself");
    }

    /// Sends a form and notes the answer. False where none came.
    fn send(&mut self, mut form: Sent) -> bool {
        let fields: Vec<(&str, &str)> =
            form.fields.iter().map(|(name, value)| (&**name, &**value)).collect();
        let answer = self.browser.post(&form.path, &fields);
        if let Some(answer) = &answer {
            self.taken(&mut form.claim, answer);
            form.acknowledged = true;
        }
        self.sent.push(form);
        answer.is_some()
    }

    fn taken(&mut self, claim: &mut Claim, answer: &Answer) {
        let expected = if matches!(claim, Claim::Result { .. }) { 200 } else { 303 };
        assert_eq!(answer.status, expected, "{claim:?}: {}", answer.body);
        if let Claim::Made { code, .. } = claim {
            let made = answer.location.strip_prefix("/tasks/").unwrap().to_owned();
            self.made.push(made.clone());
            *code = Some(made);
        }
    }

    /// The version of a row of the debrief, on whichever of its pages it stands.
    fn version_of_row(&mut self, slot: &str) -> Option<String> {
        let key = format!("-key\" value=\"{slot}\"");
        for rows in 1.. {
            let page = self.browser.get(&format!("/excursions/E-36.1/debrief?rows={rows}"))?.body;
            if let Some((_, row)) = page.split_once(&key) {
                let version = row.split("-version\" value=\"").nth(1)?;
                return version.split('"').next().map(str::to_owned);
            }
            if !page.contains("rel=\"next\"") {
                break;
            }
        }
        panic!("{slot} has no row in the debrief")
    }

    /// The next form, or nothing where the service is gone.
    fn next_form(&mut self) -> Option<Sent> {
        let count = self.sent.len();
        let tag = format!("{} of writer {}", count, self.number);
        let key = format!("endure-{}-{count}", self.number);
        let form = |path: String, claim, fields: &[(&str, &str)]| Sent {
            claim,
            path,
            fields: [&[("form_key", &*key)], fields]
                .concat()
                .into_iter()
                .map(|(name, value)| (name.to_owned(), value.to_owned()))
                .collect(),
            acknowledged: false,
        };
        match self.chance.random_range(0..10) {
            0..2 => {
                let title = format!("Look at strap {tag}");
                let fields = [("title", &*title), ("worksite", "W-B"), ("lighting", "any")];
                let claim = Claim::Made { title: title.clone(), code: None };
                Some(form("/tasks/new".to_owned(), claim, &fields))
            }
            2..4 => {
                let number = self.chance.random_range(0..RESULTS);
                let task = task_with_result(self.number, number);
                let path = format!("/tasks/{task}/edit");
                let version = hidden(&self.browser.get(&path)?.body, "version")?;
                let notes = format!("Noted: {tag}.");
                let fields = [("version", &*version), ("notes", &*notes)];
                Some(form(path, Claim::Notes { task, notes: notes.clone() }, &fields))
            }
            4..7 => {
                let number = self.chance.random_range(0..RESULTS);
                let (slot, task) =
                    (slot_with_result(self.number, number), task_with_result(self.number, number));
                let words = format!("It did not turn: {tag}.");
                // The row as it stands, so that nothing of somebody else is overwritten.
                let version = self.version_of_row(&slot)?;
                let fields = [
                    ("r0-version", &*version),
                    ("r0-minutes", "20"),
                    ("r0-key", &*slot),
                    ("r0-slot", &*slot),
                    ("r0-task", &*task),
                    ("r0-outcome", "not completed"),
                    ("r0-cause", "19"),
                    ("r0-words", &*words),
                ];
                let claim = Claim::Result { slot: slot.clone(), words: words.clone() };
                Some(form("/excursions/E-36.1/debrief/rows".to_owned(), claim, &fields))
            }
            7..9 => self.plan_or_take_off(form),
            _ => {
                let tasks: Vec<String> = self.made.iter().rev().take(3).cloned().collect();
                if tasks.is_empty() {
                    return self.next_form();
                }
                let why = format!("waits: {tag}");
                let picks: Vec<(&str, &str)> =
                    tasks.iter().map(|task| ("pick", task.as_str())).collect();
                let fields = [&[("do", "park"), ("why", &*why)], &picks[..]].concat();
                let claim = Claim::Parked { tasks: tasks.clone(), why: why.clone() };
                Some(form("/open/together".to_owned(), claim, &fields))
            }
        }
    }

    /// Puts a task on the writer's own excursion, or takes it off again.
    fn plan_or_take_off(
        &mut self,
        form: impl Fn(String, Claim, &[(&str, &str)]) -> Sent,
    ) -> Option<Sent> {
        let task = task_to_plan(self.number, self.chance.random_range(0..PLANNED));
        let cell = format!("{task}:{}", excursion_of(self.number));
        let page = self.browser.get(&format!("/slots?cell={cell}"))?.body;
        if let Some(path) = taking_off(&page, &cell) {
            let fields = [("reason", "time"), ("words", "Others go first.")];
            return Some(form(path, Claim::Planned { task, state: None }, &fields));
        }
        let approach = format!("K-{},nadir", self.number);
        let set = self.chance.random_bool(0.7);
        let (act, state) =
            if set { ("set", SlotState::Set) } else { ("pencil", SlotState::Pencilled) };
        let fields = [("cell", &*cell), ("approach", &*approach), ("seats", "EV1"), ("do", act)];
        Some(form("/slots".to_owned(), Claim::Planned { task, state: Some(state) }, &fields))
    }

    /// Everything that was acknowledged and is not there, and everything that is there by halves.
    pub fn held_against(&self, record: &Record) -> Vec<String> {
        let mut faults = Vec::new();
        let mut seen = std::collections::BTreeSet::new();
        // The last claim about a thing holds, or the one before it while the last has no answer.
        for (index, sent) in self.sent.iter().enumerate().rev() {
            let about = sent.claim.about();
            if !seen.insert(about.clone()) {
                continue;
            }
            let holds = self.is_true(&sent.claim, record);
            let before = self.sent[..index].iter().rev().find(|older| older.claim.about() == about);
            let stands = match before {
                Some(older) => self.is_true(&older.claim, record),
                None => self.is_untouched(&sent.claim, record),
            };
            if sent.acknowledged && !holds {
                faults.push(format!("this was acknowledged and is not there: {:?}", sent.claim));
            }
            if !sent.acknowledged && !holds && !stands {
                faults.push(format!("this is there by halves: {:?}", sent.claim));
            }
        }
        faults
    }

    fn is_true(&self, claim: &Claim, record: &Record) -> bool {
        match claim {
            Claim::Made { title, code } => match record.titles.get(title).map(Vec::as_slice) {
                Some([only]) => code.as_ref().is_none_or(|code| code == only),
                Some(_) | None => false,
            },
            Claim::Notes { task, notes } => record.notes.get(task) == Some(notes),
            Claim::Result { slot, words } => {
                record.results.get(slot).is_some_and(|there| there == std::slice::from_ref(words))
            }
            Claim::Planned { task, state } => self.state_of(task, record) == Ok(*state),
            Claim::Parked { tasks, why } => {
                record.parked.get(why).is_some_and(|there| there.iter().eq(sorted(tasks)))
            }
        }
    }

    /// As it was before anybody sent anything about it.
    fn is_untouched(&self, claim: &Claim, record: &Record) -> bool {
        match claim {
            Claim::Made { title, .. } => !record.titles.contains_key(title),
            Claim::Notes { task, .. } => record.notes.get(task).is_some_and(String::is_empty),
            Claim::Result { slot, .. } => !record.results.contains_key(slot),
            Claim::Planned { task, .. } => self.state_of(task, record) == Ok(None),
            Claim::Parked { why, .. } => !record.parked.contains_key(why),
        }
    }

    /// How a task stands on the writer's excursion; an error where it stands there twice.
    fn state_of(&self, task: &str, record: &Record) -> Result<Option<SlotState>, ()> {
        let at = (task.to_owned(), excursion_of(self.number));
        match record.slots.get(&at).map(Vec::as_slice) {
            None | Some([]) => Ok(None),
            Some([(_, state)]) => Ok(Some(*state)),
            Some(_) => Err(()),
        }
    }
}

/// Where the form of the open cell goes that takes its slot off. The notice of what was done last
/// offers such a form too, for another slot.
fn taking_off(page: &str, cell: &str) -> Option<String> {
    let of_cell = format!("name=\"cell\" value=\"{cell}\"");
    page.split("<form")
        .filter_map(|rest| rest.split("</form>").next())
        .filter(|form| form.contains(&of_cell))
        .filter_map(|form| form.split_once("action=\"")?.1.split('"').next())
        .find(|action| action.ends_with("/withdraw"))
        .map(str::to_owned)
}

fn sorted(tasks: &[String]) -> std::collections::BTreeSet<&String> {
    tasks.iter().collect()
}
