//! Changes of the plan or of the record, and a snapshot with them made.

use super::constants::Constants;
use super::judge::{Ask, one_cell};
use super::snapshot::{
    Approach, Arranged, Guard, Practice, Qualification, Rehearsal, Slot, Snapshot, Tool,
};
use super::verdict::Cell;
use crate::places::{ApproachAt, ExcursionAt, InhibitAt, SlotAt, TaskAt, ToolAt};
use crate::timeline::Lanes;
use domain::codes::AttemptCode;
use domain::words::{ArrangementState, RehearsalKind, RemedyState, SlotVerdict, ToolState};

/// One change of the plan or of the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change {
    /// A slot of less value is taken off an excursion.
    Drop { excursion: ExcursionAt, slot: SlotAt },
    /// The same, and set on another one, where it fits.
    Move { excursion: ExcursionAt, slot: SlotAt, to: ExcursionAt },
    /// The task is worked in other seats, before that slot in the order (the count of slots: after
    /// all of them), and so from that minute; `waits`: not earlier, on purpose.
    Place { lanes: Lanes, before: SlotAt, start: i32, waits: bool },
    /// The task is tried by another of its approaches.
    By { approach: ApproachAt },
    /// So many more of a tool are usable and aboard by the flight before.
    Bring { tool: ToolAt, more: u32 },
    /// The approach is rehearsed.
    Rehearse { approach: ApproachAt },
    /// Whoever sits in the excursion's seats is trained in the approach.
    Train { approach: ApproachAt },
    /// An inhibit is arranged for the whole excursion.
    Arrange { inhibit: InhibitAt },
    /// Every remedy on which the approach rests is verified.
    Verify { approach: ApproachAt },
    /// A task that it needs is set before it, in its best place there.
    First { task: TaskAt, on: ExcursionAt },
    /// The limit of the excursion is so many minutes later.
    Minutes { excursion: ExcursionAt, minutes: u32 },
}

/// The snapshot with these changes made, and the question asked of it; `None` where they cannot
/// be made together.
pub fn changed(
    snapshot: &Snapshot,
    constants: &Constants,
    task: TaskAt,
    excursion: ExcursionAt,
    ask: &Ask,
    changes: &[Change],
) -> Option<(Snapshot, Ask)> {
    let (mut after, mut ask) = (snapshot.clone(), ask.clone());
    let mut off: Vec<(ExcursionAt, SlotAt)> = Vec::new();
    let mut on: Vec<(ExcursionAt, Slot)> = Vec::new();
    let mut first: Vec<(TaskAt, ExcursionAt)> = Vec::new();
    for change in changes {
        match *change {
            Change::Drop { excursion, slot } => off.push((excursion, slot)),
            Change::Move { excursion, slot, to } => {
                off.push((excursion, slot));
                let moved = snapshot.excursions[excursion].slots[slot].clone();
                on.push((to, Slot { begin: None, ..moved }));
            }
            Change::Place { lanes, before, start, waits } => {
                let seats = &snapshot.excursions[excursion].seats;
                ask.seats = lanes.each().filter_map(|lane| seats.get(lane).copied()).collect();
                (ask.before_slot, ask.afresh) = (Some(before), true);
                ask.begin = waits.then(|| start.into());
            }
            Change::By { approach } => {
                ask.approach = Some(approach);
            }
            Change::Bring { tool, more } => {
                let tool = &mut after.tools[tool];
                tool.aboard = Some(usable(tool) + more);
                tool.state = Some(ToolState::Usable);
            }
            Change::Rehearse { approach } => {
                let practice = practice_before(&after, task, approach, excursion);
                let (kind, success) = (RehearsalKind::Tank, true);
                let way = &mut after.tasks[task].approaches[approach];
                way.rehearsals.push(Rehearsal { kind, success, practice });
            }
            Change::Train { approach } => {
                let practice = practice_before(&after, task, approach, excursion);
                let crews = after.excursions[excursion].seat_crew.clone();
                let way = &mut after.tasks[task].approaches[approach];
                way.qualifications.extend(
                    crews
                        .into_iter()
                        .flatten()
                        .map(|crew| Qualification { crew, practice: practice.clone() }),
                );
            }
            Change::Arrange { inhibit } => {
                let arranged = &mut after.excursions[excursion].arranged;
                arranged.retain(|one| one.inhibit != inhibit);
                let state = ArrangementState::Arranged;
                arranged.push(Arranged { inhibit, state, from: None, until: None });
            }
            Change::Verify { approach } => {
                verify(&mut after.tasks[task].approaches[approach]);
            }
            Change::First { task, on: there } => first.push((task, there)),
            Change::Minutes { excursion, minutes } => {
                let limit = after.excursions[excursion].limit.as_mut()?;
                *limit += f64::from(minutes);
            }
        }
    }
    off.sort_unstable();
    let twice = off.windows(2).any(|pair| pair[0] == pair[1]);
    if twice {
        return None;
    }
    // From the last on, so that the places of those before still hold.
    for &(there, slot) in off.iter().rev() {
        after.excursions[there].slots.remove(slot);
        if there == excursion {
            ask.before_slot = None;
        }
    }
    for (to, slot) in on {
        after.excursions[to].slots.push(slot);
    }
    for (needed, there) in first {
        let cell = one_cell(&after, constants, needed, there, &Ask::default()).cell;
        let place = cell.place.filter(|_| opens(&cell))?;
        let begin = place.begin;
        let here = &mut after.excursions[there];
        let seats = place.lanes.each().filter_map(|lane| here.seats.get(lane).copied()).collect();
        let slot = Slot {
            task: needed,
            set: true,
            approach: cell.approach,
            seats,
            begin,
            ..Slot::default()
        };
        here.slots.insert(place.before_slot, slot);
        ask.before_slot = None;
    }
    Some((after, ask))
}

/// How many of a tool are aboard that can be used: none of one that is lost or broken.
pub(super) fn usable(tool: &Tool) -> u32 {
    match tool.state {
        Some(ToolState::Lost | ToolState::Broken) => 0,
        Some(ToolState::Usable) | None => tool.aboard.unwrap_or(0),
    }
}

/// Every remedy verified: the failures that they resolve no longer count, and the repeat guard
/// judges by those that are left, sisters' too.
fn verify(way: &mut Approach) {
    for remedy in way.remedies.iter_mut().filter(|r| r.state != RemedyState::Withdrawn) {
        remedy.state = RemedyState::Verified;
    }
    let answered = |attempt: &AttemptCode| {
        let verified = way.remedies.iter().filter(|r| r.state == RemedyState::Verified);
        verified.into_iter().any(|remedy| remedy.answers.contains(attempt))
    };
    way.against = way.against.without(answered);
    if way.guard != Guard::Withdrawn {
        way.guard = Guard::of(&way.against.judgement(), way.drafted);
    }
}

/// The approach, practised as it is to be done, on the very day.
fn practice_before(
    snapshot: &Snapshot,
    task: TaskAt,
    approach: ApproachAt,
    excursion: ExcursionAt,
) -> Practice {
    let here = &snapshot.excursions[excursion];
    let way = &snapshot.tasks[task].approaches[approach];
    let launch = || snapshot.flights[here.flight?].launch;
    Practice { revision: way.revision, side: way.side.clone(), day: here.day.or_else(launch) }
}

pub(super) fn opens(cell: &Cell) -> bool {
    matches!(cell.verdict, SlotVerdict::Fits | SlotVerdict::Tight)
}

impl Change {
    /// Two changes that take hold of one thing, of which one would undo the other.
    pub(super) fn same_thing(&self, other: &Self) -> bool {
        let slot = |change: &Self| match *change {
            Self::Drop { excursion, slot } | Self::Move { excursion, slot, .. } => {
                Some((excursion, slot))
            }
            Self::Place { .. }
            | Self::By { .. }
            | Self::Bring { .. }
            | Self::Rehearse { .. }
            | Self::Train { .. }
            | Self::Arrange { .. }
            | Self::Verify { .. }
            | Self::First { .. }
            | Self::Minutes { .. } => None,
        };
        match (self, other) {
            (Self::By { .. }, Self::By { .. }) | (Self::Minutes { .. }, Self::Minutes { .. }) => {
                true
            }
            _ => slot(self).is_some() && slot(self) == slot(other),
        }
    }
}
