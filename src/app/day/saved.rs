//! What a press came to, for who pressed: with what follows from it for others.

use super::Day;
use domain::codes::SlotCode;
use domain::day::added::task_of;
use domain::day::{Act, Counts, Press, Progress};

/// A press that was saved, now or before.
#[derive(Debug, Clone)]
pub struct Saved {
    pub is_new: bool,
    /// What was pressed, as in `T-1 started at PET 0:41`.
    pub words: String,
    pub press: Press,
    /// What follows from it, in sentences.
    pub notes: Vec<String>,
}

impl Saved {
    pub(super) fn of(is_new: bool, press: Press, before: &Day, after: &Day) -> Self {
        let notes = if is_new { notes(&press, before, after) } else { Vec::new() };
        Self { is_new, words: after.whole_words_of(&press), notes, press }
    }
}

impl Day {
    /// The task of a press: by its slot here, or by the name of added work; empty of the crew's.
    pub fn task_of(&self, slot: Option<&SlotCode>) -> String {
        let Some(slot) = slot else { return String::new() };
        if let Some(at) = self.place(slot) {
            return self.tasks[at].slot.task.to_string();
        }
        task_of(slot).map_or_else(|| slot.to_string(), |task| task.to_string())
    }

    /// `T-1 started`, `T-1 added for EV2`, `crew inside`.
    pub fn words_of(&self, press: &Press) -> String {
        let task = self.task_of(press.slot.as_ref());
        match (press.act, &press.adds) {
            (Act::Egress, _) => "egress".to_owned(),
            (Act::Inside, _) => "crew inside".to_owned(),
            (Act::Undo, _) => {
                let undone = press.undoes.as_deref().and_then(|key| self.state.press_of(key));
                undone.map_or_else(
                    || "undo".to_owned(),
                    |(undone, _)| format!("undo of {}", self.whole_words_of(undone)),
                )
            }
            (_, Some(adds)) => format!("{task} added for {}", adds.seats.names()),
            (act, None) => format!("{task} {act}"),
        }
    }

    /// The same with its time: `T-1 started at PET 0:41`, `egress at 2031-03-11 12:30 UTC`.
    pub fn whole_words_of(&self, press: &Press) -> String {
        format!("{}{}", self.words_of(press), at_pet(press))
    }
}

/// ` at PET 0:41`, or the time of egress; nothing where a press has neither.
fn at_pet(press: &Press) -> String {
    match (press.pet, press.egress_at) {
        (Some(pet), _) => format!(" at PET {pet}"),
        (None, Some(at)) => format!(" at {} UTC", at.to_the_minute()),
        (None, None) => String::new(),
    }
}

/// A press with its time and who pressed it, to begin a sentence.
fn whole(day: &Day, press: &Press) -> String {
    format!("The press “{}” of {}", day.whole_words_of(press), press.who)
}

fn notes(press: &Press, before: &Day, after: &Day) -> Vec<String> {
    let mut notes = Vec::new();
    if press.act == Act::Undo {
        notes.extend(undone(press, before, after));
    }
    let fate = after.state.press_of(&press.key).map(|(_, fate)| *fate);
    let task = after.task_of(press.slot.as_ref());
    match fate {
        Some(Counts::AfterTheEnd) => {
            notes.push(format!("It does not count: {task} had ended. Undo its end first."));
        }
        Some(Counts::BeforeTheStart) => notes.push(format!(
            "Its time is before the start of {task}: the start stays, and when it ended is \
             unknown. Press the end again with its time."
        )),
        Some(Counts::Replaced) => {
            if let Some(other) = after.state.in_place_of(press) {
                notes.push(format!("{} is later and counts instead.", whole(after, other)));
            }
        }
        Some(Counts::Yes | Counts::Undone | Counts::SetSince | Counts::NotAdded) | None => {}
    }
    let own = press.slot.as_ref().and_then(|slot| after.place(slot)).map(|at| &after.tasks[at]);
    if press.act == Act::Dropped && own.is_some_and(|own| own.slot.must_do) {
        notes.push(format!("{task} is marked must do: tell flight control."));
    }
    if press.act == Act::Started {
        notes.extend(left_for_another(before, after));
    }
    notes
}

/// What an undo brought back, or did not change.
fn undone(press: &Press, before: &Day, after: &Day) -> Option<String> {
    let (undone, fate) = before.state.press_of(press.undoes.as_deref()?)?;
    if *fate == Counts::Replaced {
        let other = before.state.in_place_of(undone)?;
        return Some(format!(
            "It had been replaced: {} still counts. Undo that one too if it is wrong.",
            whole(before, other)
        ));
    }
    let again = after.state.in_place_of(undone).filter(|_| fate.can_be_undone())?;
    Some(format!("{} counts again. Undo that one too if it is wrong.", whole(after, again)))
}

/// The tasks that a start ended: their seats can be at one task alone.
fn left_for_another(before: &Day, after: &Day) -> Vec<String> {
    let was_left = |day: &Day, slot: &SlotCode| {
        day.place(slot).is_some_and(|at| {
            matches!(day.tasks[at].now.progress, Progress::Ended { outcome: None, .. })
        })
    };
    let left = after.tasks.iter().filter(|on| {
        let slot = &on.slot.code.0;
        was_left(after, slot) && !was_left(before, slot)
    });
    left.filter_map(|on| {
        let Progress::Ended { end, .. } = on.now.progress else { return None };
        Some(format!(
            "{} was under way on {}: it has ended at PET {end}. Press how it ended.",
            on.slot.task,
            on.slot.seats.names()
        ))
    })
    .collect()
}
