//! Three clients press on the board of one day while the service is killed: every press that was
//! acknowledged is there once, in the order in which its client made it, and the day comes to what a
//! plain walk through the presses comes to.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use domain::codes::SlotCode;
use domain::day::{Act, DayState, Press, Progress};
use domain::time::Moment;
use domain::units::Pet;
use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use store::Db;

use crate::browser::Browser;
use crate::record::{self, PASSWORD};
use crate::service::{Service, call};
use crate::{LIVES, asked};

const CLIENTS: usize = 3;
const EXCURSION: &str = "E-38.1";
/// Each slot with its seats.
const SLOTS: [(&str, &[u8]); 6] = [
    ("S-901", &[1]),
    ("S-902", &[2]),
    ("S-903", &[1, 2]),
    ("S-904", &[1]),
    ("S-905", &[2]),
    ("S-906", &[1]),
];

#[test]
fn presses_of_three_clients_outlive_every_kill_and_count_once() {
    let rounds = asked("HOLDOVER_ENDURE_DAY_ROUNDS", 20);
    let seed = asked("HOLDOVER_ENDURE_SEED", 1);
    println!("HOLDOVER_ENDURE_DAY_ROUNDS={rounds} HOLDOVER_ENDURE_SEED={seed}");
    let mut chance = ChaCha8Rng::seed_from_u64(seed);
    let folder = tempfile::tempdir().unwrap();
    let data = folder.path().join("data");
    lay(folder.path(), &data);
    let mut clients: Vec<Client> = (0..CLIENTS).map(|number| Client::new(number, seed)).collect();
    let begun = Instant::now();
    for round in 0..rounds {
        let mut service = Service::start(&data);
        for client in &mut clients {
            client.come_back(&service.address);
        }
        let lives = Duration::from_millis(chance.random_range(LIVES));
        let killed = Arc::new(AtomicBool::new(false));
        std::thread::scope(|scope| {
            for client in &mut clients {
                let killed = Arc::clone(&killed);
                scope.spawn(move || client.press_until_cut_off(&killed));
            }
            std::thread::sleep(lives);
            killed.store(true, Ordering::SeqCst);
            service.kill();
        });
        holds(&data, &clients, round);
    }
    let pressed: usize = clients.iter().map(|client| client.sent.len()).sum();
    let again: usize = clients.iter().map(|client| client.sent_again).sum();
    let refused = clients.iter().flat_map(|client| &client.sent);
    let refused = refused.filter(|press| press.answer == Answer::Refused).count();
    println!(
        "{rounds} kills, {pressed} presses, {refused} refused, {again} sent again, {:?}",
        begun.elapsed()
    );
    assert!((pressed - refused) as u64 > rounds * 3, "hardly anything was pressed");
}

/// An excursion of today whose clock has run for five hours.
fn lay(folder: &Path, data: &Path) {
    record::lay(folder, data, 1);
    let today = now().day();
    let mut tasks = "code,title,family,worksite,sides,class,optimistic,likely,pessimistic,seats,\
        work_rate,lighting\n"
        .to_owned();
    let mut slots = "code,task,excursion,technique,side,seats,state\n".to_owned();
    for (slot, seats) in SLOTS {
        let task = slot.replace('S', "T");
        let names: Vec<String> = seats.iter().map(|seat| format!("EV{seat}")).collect();
        writeln!(tasks, "{task},Swap {task},F-0,W-B,\"nadir, zenith\",3,20,30,45,1,light,any")
            .unwrap();
        writeln!(slots, "{slot},{task},{EXCURSION},K-0,nadir,\"{}\",set", names.join(", "))
            .unwrap();
    }
    let flight = format!("code,launch,landing,state\nG-38,{today},,coming\n");
    let excursion = format!(
        "code,flight,number,day,state,planned,limit,egress,ingress,seats,airlock,oxygen,\
         scrubber,water,battery\n\
         {EXCURSION},G-38,1,{today},planned,6:30,7:00,30,28,\"EV1, EV2\",W-A,0.9,0.9,6,9:00\n"
    );
    record::import(
        folder,
        data,
        &[("flights", &flight), ("excursions", &excursion), ("tasks", &tasks), ("slots", &slots)],
    );
    let mut service = Service::start(data);
    let mut first = Browser::new();
    first.goes_to(&service.address);
    first.sign_in("lead", PASSWORD);
    let at = now().plus_minutes(-300).to_the_minute();
    let answer =
        first.post(&press_path(), &[("key", "e"), ("press", "egress"), ("egress_at", &at)]);
    let answer = answer.unwrap();
    assert_eq!(answer.status, 200, "{}", answer.body);
    service.stop();
}

fn now() -> Moment {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH).unwrap();
    Moment(i64::try_from(since.as_millis()).unwrap())
}

fn press_path() -> String {
    format!("/excursions/{EXCURSION}/day/press")
}

struct Client {
    number: usize,
    browser: Browser,
    chance: ChaCha8Rng,
    /// In their order. Only the last one may be without an answer.
    sent: Vec<Sent>,
    sent_again: usize,
}

struct Sent {
    key: String,
    fields: Vec<(&'static str, String)>,
    answer: Answer,
}

/// What no board offers, but a client that knows nothing of the others can ask for.
const REFUSALS: [&str; 4] = [
    " is before that. Correct the start first",
    "The press to undo is not on this board",
    "An undo is not undone",
    " has undone “",
];

#[derive(Clone, Copy, PartialEq, Eq)]
enum Answer {
    /// Cut off by a kill: the press may be there or not.
    None,
    Saved,
    /// For one of `REFUSALS`: nothing is there.
    Refused,
}

impl Client {
    fn new(number: usize, seed: u64) -> Self {
        let mut chance = ChaCha8Rng::seed_from_u64(seed);
        chance.set_stream(100 + number as u64);
        Self { number, browser: Browser::new(), chance, sent: Vec::new(), sent_again: 0 }
    }

    /// Goes on after a start; the press without an answer is sent again.
    fn come_back(&mut self, address: &str) {
        self.browser.goes_to(address);
        if !self.browser.is_signed_in() {
            self.browser.sign_in("lead", PASSWORD);
        }
        if let Some(mut last) = self.sent.pop_if(|last| last.answer == Answer::None) {
            assert!(self.send(&mut last), "client {} gets no answer", self.number);
            self.sent_again += 1;
            self.sent.push(last);
        }
    }

    fn press_until_cut_off(&mut self, killed: &AtomicBool) {
        while !killed.load(Ordering::SeqCst) {
            // One in eight is an old press sent again, whose answer had been lost on its way.
            if self.chance.random_range(0..8) == 0 && !self.sent.is_empty() {
                let at = self.chance.random_range(0..self.sent.len());
                if self.sent[at].answer == Answer::Refused {
                    continue;
                }
                let mut old = self.sent.swap_remove(at);
                let answered = self.send(&mut old);
                assert!(old.answer != Answer::Refused, "{} was saved and is refused now", old.key);
                self.sent.push(old);
                let last = self.sent.len() - 1;
                self.sent.swap(at, last);
                if !answered {
                    break;
                }
                self.sent_again += 1;
                continue;
            }
            let mut press = self.next();
            let answered = self.send(&mut press);
            self.sent.push(press);
            if !answered {
                break;
            }
        }
        assert!(killed.load(Ordering::SeqCst), "the service went away by itself");
    }

    fn send(&mut self, press: &mut Sent) -> bool {
        let fields: Vec<(&str, &str)> =
            press.fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
        let Some(answer) = self.browser.post(&press_path(), &fields) else { return false };
        press.answer = match answer.status {
            200 => Answer::Saved,
            409 | 422 if REFUSALS.iter().any(|words| answer.body.contains(words)) => {
                Answer::Refused
            }
            _ => panic!("{} to {:?}: {}", answer.status, press.fields, answer.body),
        };
        true
    }

    fn next(&mut self) -> Sent {
        let key = format!("c{}-{}", self.number, self.sent.len());
        let act =
            [Act::Started, Act::Started, Act::Done, Act::NotCompleted, Act::Dropped, Act::Undo]
                [self.chance.random_range(0..6)];
        let mut fields = vec![("key", key.clone())];
        if act == Act::Undo {
            fields.push(("press", act.word().to_owned()));
            fields.push(("undoes", self.press_to_undo()));
        } else {
            let (slot, _) = SLOTS[self.chance.random_range(0..SLOTS.len())];
            fields.push(("press", format!("{act} {slot}")));
            // Half of them at the minute of the clock that runs.
            if self.chance.random_bool(0.5) {
                fields.push(("pet", Pet(self.chance.random_range(30..300)).to_string()));
            }
        }
        Sent { key, fields, answer: Answer::None }
    }

    /// Half of them a press of its own that is there, half a late one of any client, whether it has come
    /// to that yet or not.
    fn press_to_undo(&mut self) -> String {
        let own = self.sent.iter().filter(|sent| sent.answer == Answer::Saved);
        let own: Vec<&str> = own.map(|sent| sent.key.as_str()).collect();
        if !own.is_empty() && self.chance.random_bool(0.5) {
            return own[self.chance.random_range(0..own.len())].to_owned();
        }
        let (client, press) = (self.chance.random_range(0..CLIENTS), self.sent.len());
        let back = self.chance.random_range(0..6).min(press);
        format!("c{client}-{}", press - back)
    }
}

fn holds(data: &Path, clients: &[Client], round: u64) {
    let presses = kept(data);
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for press in &presses {
        *counts.entry(press.key.as_str()).or_default() += 1;
    }
    let sent = clients.iter().flat_map(|client| &client.sent);
    for press in sent.clone() {
        let count = counts.get(press.key.as_str()).copied().unwrap_or(0);
        let most = match press.answer {
            Answer::Saved => 1..=1,
            Answer::Refused => 0..=0,
            Answer::None => 0..=1,
        };
        assert!(most.contains(&count), "after round {round}: {} is there {count} times", press.key);
    }
    let known: BTreeMap<&str, &Sent> = sent.map(|press| (press.key.as_str(), press)).collect();
    for press in presses.iter().filter(|press| press.act != Act::Egress) {
        let Some(sent) = known.get(press.key.as_str()) else {
            panic!("after round {round}: nobody pressed {}", press.key)
        };
        let said =
            |name: &str| sent.fields.iter().find(|(n, _)| *n == name).map(|(_, v)| v.clone());
        let slot = press.slot.as_ref().map_or_else(String::new, |slot| format!(" {slot}"));
        assert_eq!(said("press"), Some(format!("{}{slot}", press.act)), "after round {round}");
        assert_eq!(said("undoes"), press.undoes, "after round {round}");
        if let Some(typed) = said("pet") {
            assert_eq!(Some(typed), press.pet.map(|pet| pet.to_string()), "after round {round}");
        }
    }
    for client in clients {
        let prefix = format!("c{}-", client.number);
        let own: Vec<usize> = presses
            .iter()
            .filter_map(|press| press.key.strip_prefix(&prefix)?.parse().ok())
            .collect();
        assert!(own.is_sorted(), "after round {round}: out of order {own:?}");
    }
    let seats: BTreeMap<SlotCode, Vec<u8>> =
        SLOTS.iter().map(|(slot, seats)| (SlotCode::from(*slot), seats.to_vec())).collect();
    let state = DayState::of(&presses, &seats);
    for (slot, progress) in walked(&presses) {
        assert_eq!(state.tasks[&SlotCode::from(slot)].progress, progress, "round {round}: {slot}");
    }
    assert_eq!(state.log.len(), presses.len(), "after round {round}");
    let (status, said) = call(&["check"], data);
    assert!(status == Some(0) && said.contains("nothing wrong"), "after round {round}: {said}");
}

fn kept(data: &Path) -> Vec<Press> {
    let machine = tokio::runtime::Builder::new_multi_thread().enable_all().build().unwrap();
    machine.block_on(async {
        let db = Db::open(&data.join("holdover.db")).await.unwrap();
        let mut reader = db.reader().await.unwrap();
        let presses = store::day::presses(&mut reader, &EXCURSION.into(), None).await.unwrap();
        drop(reader);
        db.close().await;
        presses
    })
}

/// What the presses come to: one after the other as they were saved, each taking the place of the one
/// before it that said the same.
fn walked(presses: &[Press]) -> BTreeMap<&'static str, Progress> {
    let undone: BTreeSet<&str> = presses.iter().filter_map(|p| p.undoes.as_deref()).collect();
    let mut all = BTreeMap::new();
    for (slot, _) in SLOTS {
        let own: Vec<(usize, &Press)> = presses
            .iter()
            .enumerate()
            .filter(|(_, press)| press.slot.as_ref().is_some_and(|own| own.as_str() == slot))
            .filter(|(_, press)| !undone.contains(press.key.as_str()))
            .collect();
        let last = |is: &dyn Fn(&(usize, &Press)) -> bool| own.iter().rev().find(|one| is(one));
        let end = last(&|(_, press)| press.act.ends());
        let started = |(_, press): &(usize, &Press)| press.act == Act::Started;
        let again = |(at, press): &(usize, &Press)| {
            end.is_some_and(|(end_at, end)| at > end_at && press.pet > end.pet)
        };
        // The only start that is known stands, even where it was saved after the end.
        let start = last(&|one| started(one) && !again(one)).or_else(|| last(&|one| started(one)));
        let drop = last(&|(_, press)| press.act == Act::Dropped);
        let progress = match (start, end, drop) {
            (start, Some((_, end)), _) => {
                let (end, outcome) = (end.pet.unwrap(), Some(end.act));
                let start = start.map_or(end, |(_, start)| start.pet.unwrap());
                Progress::Ended { start, end: end.max(start), outcome }
            }
            (Some((at, start)), None, Some((dropped_at, dropped))) if dropped_at > at => {
                let start = start.pet.unwrap();
                let end = dropped.pet.unwrap().max(start);
                Progress::Ended { start, end, outcome: Some(Act::Dropped) }
            }
            (Some((_, start)), None, _) => Progress::Running { since: start.pet.unwrap() },
            (None, None, Some(_)) => Progress::Dropped,
            (None, None, None) => Progress::Planned,
        };
        all.insert(slot, progress);
    }
    // A seat that has begun another task has left the one before.
    let mut running: Vec<(Pet, &str, &[u8])> = SLOTS
        .iter()
        .filter_map(|(slot, seats)| match all[slot] {
            Progress::Running { since } => Some((since, *slot, *seats)),
            _ => None,
        })
        .collect();
    running.sort();
    for (at, (start, slot, seats)) in running.iter().enumerate() {
        let next = running[at + 1..].iter().find(|(.., own)| own.iter().any(|s| seats.contains(s)));
        if let Some((end, ..)) = next {
            all.insert(slot, Progress::Ended { start: *start, end: *end, outcome: None });
        }
    }
    all
}
