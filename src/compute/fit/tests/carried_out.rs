//! Each change that is offered is carried out on the record by hand, one after the other, and the
//! slot judged again by the ordinary checks. What carries it out is written from the words that
//! people read, apart from what `openings` tries its changes with.

use crate::places::{ApproachAt, ExcursionAt, TaskAt};
use std::collections::HashSet;
use std::mem::discriminant;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::super::load::{self, Size};
use super::super::{
    Arranged, Ask, Change, Constants, Guard, Practice, Qualification, Rehearsal, Remedy, Slot,
    Snapshot, one_cell, openings,
};
use crate::value::{Values, Weights};
use domain::codes::AttemptCode;
use domain::repeat_guard::Against;
use domain::words::{
    ArrangementState, PriorityClass, RehearsalKind, RemedyState, SlotVerdict, ToolState,
};

const CASES: usize = 100;

/// A made-up record in which many things stand against a slot.
fn record(seed: u64) -> Snapshot {
    let size = Size { open_tasks: 10, excursions: 4, slots_each: 7, sites: 12 };
    let mut record = load::snapshot(&size, seed);
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    for (at, task) in record.tasks.iter_mut().enumerate() {
        task.class = Some(PriorityClass::ALL[random.random_range(0..PriorityClass::ALL.len())]);
        for approach in &mut task.approaches {
            approach.rehearsal_demanded = random.random_range(0..4) == 0;
            if at < size.open_tasks && random.random_range(0..2) == 0 {
                approach.against = Against {
                    here: (0..random.random_range(0..2)).map(|n| code(at, n)).collect(),
                    sisters: (2..2 + random.random_range(0..3)).map(|n| code(at, n)).collect(),
                    ..Against::default()
                };
                approach.guard = judged(&approach.against);
                approach.remedies =
                    (0..random.random_range(0..3)).map(|n| remedy(at, n, &mut random)).collect();
            }
        }
    }
    record
}

fn code(task: usize, number: usize) -> AttemptCode {
    format!("A-{task}{number}").into()
}

fn remedy(task: usize, number: usize, random: &mut ChaCha8Rng) -> Remedy {
    let answers: Vec<AttemptCode> =
        (0..4).filter(|_| random.random_range(0..3) > 0).map(|n| code(task, n)).collect();
    let state = [RemedyState::Open, RemedyState::Done][random.random_range(0..2)];
    Remedy { code: format!("R-{task}{number}").into(), state, answers }
}

/// The rule on trying again: one failure here or two on sisters block, one on a sister questions.
fn judged(against: &Against) -> Guard {
    if !against.here.is_empty() || against.sisters.len() > 1 {
        Guard::Blocked
    } else if !against.unclear.is_empty() {
        Guard::NotRecorded
    } else if against.sisters.is_empty() {
        Guard::Free
    } else {
        Guard::Questioned
    }
}

fn verdict(record: &Snapshot, task: TaskAt, excursion: ExcursionAt, ask: &Ask) -> SlotVerdict {
    one_cell(record, &Constants::default(), task, excursion, ask).cell.verdict
}

fn opens(verdict: SlotVerdict) -> bool {
    match verdict {
        SlotVerdict::Fits | SlotVerdict::Tight => true,
        SlotVerdict::DoesNotFit | SlotVerdict::CannotTell => false,
    }
}

struct Case {
    record: Snapshot,
    task: TaskAt,
    excursion: ExcursionAt,
    ask: Ask,
    /// Tasks that were moved, and where to.
    moved: Vec<(TaskAt, ExcursionAt)>,
}

impl Case {
    fn carry_out(&mut self, change: Change) {
        let Self { task, excursion, .. } = *self;
        match change {
            Change::Drop { excursion, slot } => {
                self.record.excursions[excursion].slots.remove(slot);
            }
            Change::Move { excursion, slot, to } => {
                let moved = self.record.excursions[excursion].slots.remove(slot);
                self.moved.push((moved.task, to));
                self.record.excursions[to].slots.push(moved);
            }
            Change::Place { lanes, before, .. } => {
                let seats = &self.record.excursions[excursion].seats;
                self.ask.seats = lanes.each().map(|lane| seats[lane]).collect();
                (self.ask.before_slot, self.ask.afresh) = (Some(before), true);
            }
            Change::By { approach } => self.ask.approach = Some(approach),
            Change::Bring { tool, more } => {
                let tool = &mut self.record.tools[tool];
                let lost = matches!(tool.state, Some(ToolState::Lost | ToolState::Broken));
                let aboard = if lost { 0 } else { tool.aboard.unwrap_or(0) };
                tool.aboard = Some(aboard + more);
                tool.state = Some(ToolState::Usable);
            }
            Change::Rehearse { approach } => {
                let practice = self.practice(approach);
                let run = Rehearsal { kind: RehearsalKind::OneG, success: true, practice };
                self.record.tasks[task].approaches[approach].rehearsals.push(run);
            }
            Change::Train { approach } => {
                let practice = self.practice(approach);
                let crews = self.record.excursions[excursion].seat_crew.clone();
                for crew in crews.into_iter().flatten() {
                    let trained = Qualification { crew, practice: practice.clone() };
                    self.record.tasks[task].approaches[approach].qualifications.push(trained);
                }
            }
            Change::Arrange { inhibit } => {
                let arranged = &mut self.record.excursions[excursion].arranged;
                arranged.retain(|one| one.inhibit != inhibit);
                let state = ArrangementState::InPlace;
                arranged.push(Arranged { inhibit, state, from: None, until: None });
            }
            Change::Verify { approach } => self.verify(approach),
            Change::First { task, on } => self.set_first(task, on),
            Change::Minutes { excursion, minutes } => {
                let limit = &mut self.record.excursions[excursion].limit;
                *limit = limit.map(|limit| limit + f64::from(minutes));
            }
        }
    }

    /// As it is to be done, on the day itself.
    fn practice(&self, approach: ApproachAt) -> Practice {
        let way = &self.record.tasks[self.task].approaches[approach];
        let day = self.record.excursions[self.excursion].day;
        Practice { revision: way.revision, side: way.side.clone(), day }
    }

    fn verify(&mut self, approach: ApproachAt) {
        let way = &mut self.record.tasks[self.task].approaches[approach];
        for remedy in &mut way.remedies {
            remedy.state = RemedyState::Verified;
        }
        for failures in [&mut way.against.here, &mut way.against.sisters] {
            failures.retain(|failed| !way.remedies.iter().any(|r| r.answers.contains(failed)));
        }
        way.guard = judged(&way.against);
    }

    fn set_first(&mut self, task: TaskAt, on: ExcursionAt) {
        let constants = Constants::default();
        let cell = one_cell(&self.record, &constants, task, on, &Ask::default()).cell;
        self.moved.push((task, on));
        let Some(place) = cell.place else { return };
        let here = &mut self.record.excursions[on];
        let seats = place.lanes.each().map(|lane| here.seats[lane]).collect();
        let slot = Slot { task, set: true, approach: cell.approach, seats, ..Slot::default() };
        here.slots.insert(place.before_slot, slot);
    }
}

/// The verdict once the changes are carried out; `None` where a task that they move or set first
/// does not fit where it goes. A slot is taken out before one that stands earlier, so that the
/// places that the changes name still hold.
fn carried_out(
    record: &Snapshot,
    at: (TaskAt, ExcursionAt),
    changes: &[Change],
) -> Option<SlotVerdict> {
    let mut changes = changes.to_vec();
    let slot = |change: &Change| match *change {
        Change::Drop { slot, .. } | Change::Move { slot, .. } => Some(slot),
        _ => None,
    };
    let last = |change: &Change| matches!(change, Change::First { .. });
    changes.sort_by_key(|change| (last(change), std::cmp::Reverse(slot(change))));
    let (record, (task, excursion)) = (record.clone(), at);
    let mut case = Case { record, task, excursion, ask: Ask::default(), moved: Vec::new() };
    for change in changes {
        case.carry_out(change);
    }
    let fits = |&(task, on): &(TaskAt, ExcursionAt)| {
        opens(verdict(&case.record, task, on, &Ask::default()))
    };
    case.moved.iter().all(fits).then(|| verdict(&case.record, task, excursion, &case.ask))
}

#[test]
fn a_hundred_ways_out_carried_out_by_hand_open_the_slot() {
    // Source: the rules of MIL-STD-2155, foreword, 1985 (a failure is closed by a verified
    // corrective action), common practice for the rest: what is offered is what has to be done.
    let (mut single, mut paired, mut kinds) = (0, 0, HashSet::new());
    for seed in 0.. {
        if single + paired >= CASES && paired >= CASES / 5 {
            break;
        }
        let record = record(seed);
        let values = Values::of(&record, &Weights::default());
        let constants = Constants::default();
        for task in record.tasks.keys().take(10) {
            for excursion in record.excursions.keys() {
                let ask = Ask::default();
                for opening in openings(&record, &constants, &values, task, excursion, &ask) {
                    let after = carried_out(&record, (task, excursion), &opening.changes);
                    let said = format!("seed {seed}, {task:?} on {excursion:?}: {opening:?}");
                    assert!(after.is_some_and(opens), "{said}: {after:?}");
                    assert_eq!(after, Some(opening.verdict), "{said}");
                    kinds.extend(opening.changes.iter().map(discriminant));
                    if opening.changes.len() == 1 {
                        single += 1;
                        continue;
                    }
                    paired += 1;
                    for change in &opening.changes {
                        let alone = carried_out(&record, (task, excursion), &[*change]);
                        assert!(!alone.is_some_and(opens), "one is enough: {said}");
                    }
                }
            }
        }
        assert!(seed < 60, "{single} and {paired} pairs offered");
    }
    println!("{single} single changes and {paired} pairs, {} kinds of change", kinds.len());
    assert!(kinds.len() >= 6, "{}", kinds.len());
}
