//! The day of an excursion as people press it on the board: what the presses come to, in whatever
//! order they arrive.
//!
//! A press says when something happened; it is kept for good and counts once, by its key. What it
//! comes to is worked out from all presses of the day: of each task the last word on its start and
//! the last word on its end count, by the time at which they were pressed. So a press that was held
//! up on its way still takes its place, and a press after the end of a task does not start it again.

use std::collections::{BTreeMap, BTreeSet};

pub mod added;

pub use added::Added;

use crate::codes::SlotCode;
use crate::fallbacks::MAX_FALLBACKS;
use crate::time::Moment;
use crate::units::Pet;
use crate::words::words;

words! {
    /// What a press says.
    Act {
        Egress = "egress",
        Inside = "inside",
        Started = "started",
        Done = "done",
        AtStoppingPoint = "at stopping point",
        NotCompleted = "not completed",
        Dropped = "dropped",
        Fallback = "fallback used",
        Added = "added",
        Undo = "undo"
    }
}

impl Act {
    /// Whether it ends the work of a task.
    pub const fn ends(self) -> bool {
        matches!(self, Self::Done | Self::AtStoppingPoint | Self::NotCompleted)
    }
}

/// The longest elapsed time that a press may name: no suit lasts as long.
pub const MAX_PET: Pet = Pet(24 * 60);

/// One press, as it is kept.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Press {
    /// Counts what was saved.
    pub number: i64,
    /// Made with the press: the same key twice is the same press.
    pub key: String,
    pub act: Act,
    /// Of an egress, of the crew inside and of an undo, none.
    pub slot: Option<SlotCode>,
    /// Which fallback of the slot was taken up, 1 for the first; of other acts, none.
    pub step: Option<i64>,
    pub pet: Option<Pet>,
    /// When the clock of the excursion began.
    pub egress_at: Option<Moment>,
    /// The key of the press that is undone.
    pub undoes: Option<String>,
    /// Of work that is added, which.
    pub adds: Option<Added>,
    pub pressed_at: Moment,
    pub saved_at: Moment,
    pub who: String,
}

impl Press {
    /// Of two such presses the later one counts.
    fn is_of_the_meaning_of(&self, other: &Self) -> bool {
        let same = self.act == other.act || self.act.ends() && other.act.ends();
        same && self.slot == other.slot && self.step.unwrap_or(1) == other.step.unwrap_or(1)
    }
}

/// How far a task is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Progress {
    #[default]
    Planned,
    Running {
        since: Pet,
    },
    /// `outcome` is a word that ends work, or that it was dropped while it went on; `None`: its seat began another task, and nobody pressed
    /// how this one ended.
    Ended {
        start: Pet,
        end: Pet,
        outcome: Option<Act>,
    },
    Dropped,
}

/// One task of the day.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct OfTask {
    pub progress: Progress,
    /// Nobody pressed when it started.
    pub start_unknown: bool,
    /// The press for its end names a minute before its start: when it ended is unknown.
    pub end_unknown: bool,
    /// When each of its fallbacks was taken up, in their order.
    pub fallbacks: [Option<Pet>; MAX_FALLBACKS],
}

impl OfTask {
    /// The fallback by which it is worked, by its place, and since when.
    pub fn fallback(&self) -> Option<(usize, Pet)> {
        let mut taken = self.fallbacks.iter().enumerate().rev();
        taken.find_map(|(at, pet)| Some((at, (*pet)?)))
    }

    /// It was started, whatever has become of it.
    pub const fn has_begun(&self) -> bool {
        matches!(self.progress, Progress::Running { .. } | Progress::Ended { .. })
    }

    /// The place of the fallback that would come next.
    pub fn next_fallback(&self) -> usize {
        self.fallback().map_or(0, |(at, _)| at + 1)
    }
}

/// What became of a press.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counts {
    Yes,
    Undone,
    /// A later press says the same of the task, otherwise.
    Replaced,
    /// It was pressed for a task that had ended: that end is undone first.
    AfterTheEnd,
    /// It says how the task ended, for a minute before its start: the minute does not count.
    BeforeTheStart,
    /// It was added, and has a slot of its own by now.
    SetSince,
    /// It was pressed for work that is not added any more.
    NotAdded,
}

impl Counts {
    /// Whether something is changed by undoing it.
    pub const fn can_be_undone(self) -> bool {
        matches!(self, Self::Yes | Self::BeforeTheStart)
    }
}

/// What the presses of a day come to.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct DayState {
    pub egress_at: Option<Moment>,
    /// The elapsed time at which the crew was inside.
    pub inside: Option<Pet>,
    /// By slot, added work by its name.
    pub tasks: BTreeMap<SlotCode, OfTask>,
    /// Work that was added, in the order in which it was pressed.
    pub added: Vec<Added>,
    /// Every press with what became of it, in the order in which they were pressed.
    pub log: Vec<(Press, Counts)>,
    /// The latest elapsed time that a press which counts names.
    pub last_pet: Option<Pet>,
}

impl DayState {
    /// What the presses come to for the set slots of an excursion, each with its seats.
    pub fn of(presses: &[Press], seats: &BTreeMap<SlotCode, Vec<u8>>) -> Self {
        let ordered = in_order(presses);
        let undone: BTreeSet<&str> =
            ordered.iter().filter_map(|press| press.undoes.as_deref()).collect();
        let mut state = Self::default();
        let mut fates: BTreeMap<&str, Counts> = BTreeMap::new();
        let live = |press: &&&Press| !undone.contains(press.key.as_str());
        let egresses = ordered.iter().filter(live).filter(|press| press.act == Act::Egress);
        if let Some(last) = mark_last(egresses.copied(), &mut fates) {
            state.egress_at = last.egress_at;
        }
        let insides = ordered.iter().filter(live).filter(|press| press.act == Act::Inside);
        state.inside = mark_last(insides.copied(), &mut fates).and_then(|press| press.pet);
        state.added = mark_added(ordered.iter().filter(live).copied(), seats, &mut fates);
        let mut seats = seats.clone();
        seats.extend(
            state
                .added
                .iter()
                .map(|one| (added::name_of(&one.task), one.seats.numbers().collect())),
        );
        for slot in seats.keys() {
            let own: Vec<&Press> = ordered
                .iter()
                .filter(live)
                .filter(|press| press.slot.as_ref() == Some(slot))
                .copied()
                .collect();
            state.tasks.insert(slot.clone(), of_task(&own, &mut fates));
        }
        state.end_what_went_on(&seats);
        state.end_all_inside();
        let is_gone = |slot: &SlotCode| added::task_of(slot).is_some() && !seats.contains_key(slot);
        for press in &ordered {
            let fate = if undone.contains(press.key.as_str()) {
                Counts::Undone
            } else if press.slot.as_ref().is_some_and(is_gone) {
                Counts::NotAdded
            } else {
                fates.get(press.key.as_str()).copied().unwrap_or(Counts::Yes)
            };
            if fate == Counts::Yes {
                state.last_pet = state.last_pet.max(press.pet);
            }
            state.log.push(((*press).clone(), fate));
        }
        state
    }

    /// A seat does one task at a time: one that it has left for another has ended.
    fn end_what_went_on(&mut self, seats: &BTreeMap<SlotCode, Vec<u8>>) {
        let mut running: Vec<(Pet, SlotCode)> = self
            .tasks
            .iter()
            .filter_map(|(slot, task)| match task.progress {
                Progress::Running { since } => Some((since, slot.clone())),
                Progress::Planned | Progress::Ended { .. } | Progress::Dropped => None,
            })
            .collect();
        running.sort();
        for (at, (start, slot)) in running.iter().enumerate() {
            let shares =
                |other: &SlotCode| seats[slot].iter().any(|seat| seats[other].contains(seat));
            let next = running[at + 1..].iter().find(|(_, other)| shares(other));
            if let Some((end, _)) = next {
                let ended = Progress::Ended { start: *start, end: *end, outcome: None };
                self.tasks.entry(slot.clone()).or_default().progress = ended;
            }
        }
    }

    /// Nobody works once the crew is inside.
    fn end_all_inside(&mut self) {
        let Some(inside) = self.inside else { return };
        for task in self.tasks.values_mut() {
            if let Progress::Running { since } = task.progress {
                task.progress =
                    Progress::Ended { start: since, end: inside.max(since), outcome: None };
            }
        }
    }

    /// The latest press that counts and names a minute at which somebody was still outside. A task
    /// that is only added has not been worked on.
    pub fn last_outside(&self) -> Option<&Press> {
        let counts = |(press, fate): &&(Press, Counts)| {
            *fate == Counts::Yes
                && press.act != Act::Inside
                && press.adds.is_none()
                && press.pet.is_some()
        };
        self.log.iter().filter(counts).map(|(press, _)| press).max_by_key(|press| press.pet)
    }

    /// The press that a key names, with what became of it.
    pub fn press_of(&self, key: &str) -> Option<&(Press, Counts)> {
        self.log.iter().find(|(press, _)| press.key == key)
    }

    /// The press that undid the one of a key.
    pub fn undo_of(&self, key: &str) -> Option<&Press> {
        let undoes = |(press, _): &&(Press, Counts)| press.undoes.as_deref() == Some(key);
        self.log.iter().find(undoes).map(|(press, _)| press)
    }

    /// The press that counts in the place of another: it says the same of the task, otherwise.
    pub fn in_place_of(&self, other: &Press) -> Option<&Press> {
        let counts = |(press, fate): &&(Press, Counts)| {
            matches!(fate, Counts::Yes | Counts::BeforeTheStart)
                && press.key != other.key
                && press.is_of_the_meaning_of(other)
        };
        self.log.iter().rev().find(counts).map(|(press, _)| press)
    }

    /// The elapsed minutes that the board shows: by the clock, and never before a press that
    /// counts; once the crew is inside, those at which it was.
    pub fn pet_at(&self, now: Moment) -> Option<Pet> {
        let egress = self.egress_at?;
        let by_clock = Pet((now.0 - egress.0).div_euclid(60_000).max(0));
        Some(self.last_pet.map_or(by_clock, |last| last.max(by_clock)))
    }

    /// The last press for one of these tasks that counts.
    pub fn last_press(&self, slots: &[SlotCode]) -> Option<&Press> {
        let counts = |(press, fate): &&(Press, Counts)| {
            fate.can_be_undone() && press.slot.as_ref().is_some_and(|slot| slots.contains(slot))
        };
        self.log.iter().rev().find(counts).map(|(press, _)| press)
    }
}

/// Each press once, in the order in which they were pressed.
fn in_order(presses: &[Press]) -> Vec<&Press> {
    let mut ordered: Vec<&Press> = presses.iter().collect();
    ordered.sort_by(|a, b| (a.pressed_at, &a.key, a.number).cmp(&(b.pressed_at, &b.key, b.number)));
    let mut seen = BTreeSet::new();
    ordered.retain(|press| seen.insert(press.key.as_str()));
    ordered
}

/// The last of some presses of one meaning; those before it are replaced.
fn mark_last<'a>(
    presses: impl Iterator<Item = &'a Press>,
    fates: &mut BTreeMap<&'a str, Counts>,
) -> Option<&'a Press> {
    let mut last: Option<&Press> = None;
    for press in presses {
        if let Some(before) = last.replace(press) {
            fates.insert(before.key.as_str(), Counts::Replaced);
        }
    }
    last
}

/// The work that is added, each task by the last press for it, and nothing that has a slot.
fn mark_added<'a>(
    live: impl Iterator<Item = &'a Press>,
    slots: &BTreeMap<SlotCode, Vec<u8>>,
    fates: &mut BTreeMap<&'a str, Counts>,
) -> Vec<Added> {
    let mut last: Vec<(&Press, &Added)> = Vec::new();
    for press in live {
        let Some(adds) = &press.adds else { continue };
        if press.slot.as_ref().is_some_and(|slot| slots.contains_key(slot)) {
            fates.insert(press.key.as_str(), Counts::SetSince);
            continue;
        }
        if let Some(at) = last.iter().position(|(_, known)| known.task == adds.task) {
            fates.insert(last.remove(at).0.key.as_str(), Counts::Replaced);
        }
        last.push((press, adds));
    }
    last.into_iter().map(|(_, adds)| adds.clone()).collect()
}

fn of_task<'a>(own: &[&'a Press], fates: &mut BTreeMap<&'a str, Counts>) -> OfTask {
    let of = |is: &dyn Fn(Act) -> bool| {
        own.iter().filter(|press| is(press.act)).copied().collect::<Vec<&'a Press>>()
    };
    let ended = mark_last(of(&Act::ends).into_iter(), fates);
    let mut starts = of(&|act| act == Act::Started);
    if let Some(end) = ended {
        // Pressed after the end, and for a later minute: that is another start, unless it is the only
        // one that is known.
        let again = |start: &&Press| {
            (start.pressed_at, &start.key) > (end.pressed_at, &end.key) && start.pet > end.pet
        };
        if !starts.iter().copied().all(|start| again(&start)) {
            for start in starts.iter().copied().filter(again) {
                fates.insert(start.key.as_str(), Counts::AfterTheEnd);
            }
            starts.retain(|start| !again(start));
        }
    }
    let started = mark_last(starts.into_iter(), fates);
    let dropped = mark_last(of(&|act| act == Act::Dropped).into_iter(), fates);
    let pet = |press: &Press| press.pet.unwrap_or(Pet(0));
    let mut task = OfTask::default();
    let fallbacks = of(&|act| act == Act::Fallback);
    for (taken, step) in task.fallbacks.iter_mut().zip(1..) {
        let own = fallbacks.iter().filter(|press| press.step.unwrap_or(1) == step);
        *taken = mark_last(own.copied(), fates).map(pet);
    }
    let order = |press: &'a Press| (press.pressed_at, press.key.as_str());
    task.progress = match (started, ended, dropped) {
        (started, Some(end), dropped) => {
            if let Some(dropped) = dropped {
                fates.insert(dropped.key.as_str(), Counts::AfterTheEnd);
            }
            task.start_unknown = started.is_none();
            let start = started.map_or(pet(end), pet);
            task.end_unknown = start > pet(end);
            if task.end_unknown {
                fates.insert(end.key.as_str(), Counts::BeforeTheStart);
            }
            Progress::Ended { start, end: pet(end).max(start), outcome: Some(end.act) }
        }
        (Some(start), None, Some(drop)) if order(drop) > order(start) => {
            // Dropped while it went on: it was begun, and given up for what comes after.
            let end = pet(drop).max(pet(start));
            task.end_unknown = pet(start) > pet(drop);
            if task.end_unknown {
                fates.insert(drop.key.as_str(), Counts::BeforeTheStart);
            }
            Progress::Ended { start: pet(start), end, outcome: Some(Act::Dropped) }
        }
        (Some(start), None, dropped) => {
            if let Some(dropped) = dropped {
                fates.insert(dropped.key.as_str(), Counts::Replaced);
            }
            Progress::Running { since: pet(start) }
        }
        (None, None, Some(_)) => Progress::Dropped,
        (None, None, None) => Progress::Planned,
    };
    task
}

#[cfg(test)]
mod tests;
