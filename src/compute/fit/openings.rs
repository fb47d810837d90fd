//! What would make it fit: the smallest sets of changes that open a slot, from what each gate
//! that is against it would take, and pairs of those. Each is tried by the fit itself on a
//! changed snapshot, so that none is offered that does not open it.

use super::changes::{Change, changed, opens};
use super::constants::Constants;
use super::judge::{Ask, Explained, one_cell};
use super::place::up;
use super::reasons::Reason;
use super::snapshot::Snapshot;
use super::verdict::Cell;
use crate::places::{ExcursionAt, TaskAt, ToolAt};
use crate::value::Values;
use domain::words::{GateName, GateVerdict, PriorityClass, RemedyState, SlotVerdict};

/// A set of changes that opens a slot.
#[derive(Debug, Clone, PartialEq)]
pub struct Opening {
    pub changes: Vec<Change>,
    pub verdict: SlotVerdict,
    /// The value that is given up by it.
    pub cost: f64,
}

/// More minutes than these are not asked for; they are looked for in steps.
const MOST_MINUTES: u32 = 120;
const STEP: u32 = 5;
/// More of one tool than these are not asked for.
const MOST_TOOLS: u32 = 2;
/// Pairs tried, the cheapest first; and sets told.
const MOST_PAIRS: usize = 48;
const MOST_TOLD: usize = 5;

/// The sets of one change, and of two where one is not enough; those that cost least first. Empty
/// where the slot may be set as it is.
pub fn openings(
    snapshot: &Snapshot,
    constants: &Constants,
    values: &Values,
    task: TaskAt,
    excursion: ExcursionAt,
    ask: &Ask,
) -> Vec<Opening> {
    let explained = one_cell(snapshot, constants, task, excursion, ask);
    if opens(&explained.cell) {
        return Vec::new();
    }
    let look = Look { snapshot, constants, values, task, excursion, ask };
    let singles = look.singles(&explained.cell, &explained.reasons);
    let mut found = Vec::new();
    let mut halves: Vec<(Change, f64, Vec<GateName>)> = Vec::new();
    for change in singles {
        let cost = look.cost(&[change]);
        match look.after(&[change]) {
            Some(cell) if opens(&cell) => {
                found.push(Opening { changes: vec![change], verdict: cell.verdict, cost });
            }
            Some(cell) => halves.push((change, cost, against(&cell))),
            None => {}
        }
    }
    let mut pairs: Vec<([Change; 2], f64)> = Vec::new();
    for (at, (first, cost, left)) in halves.iter().enumerate() {
        for (second, more, still) in &halves[at + 1..] {
            // What neither mends alone, both together mend only where they add up.
            let both = left.iter().filter(|gate| still.contains(gate));
            if both.clone().all(|gate| add_up(*gate)) && !first.same_thing(second) {
                pairs.push(([*first, *second], cost + more));
            }
        }
    }
    pairs.sort_by(|a, b| a.1.total_cmp(&b.1));
    for (changes, cost) in pairs.into_iter().take(MOST_PAIRS) {
        if let Some(cell) = look.after(&changes).filter(opens) {
            found.push(Opening { changes: changes.to_vec(), verdict: cell.verdict, cost });
        }
    }
    found.sort_by(|a, b| {
        let size = a.changes.len().cmp(&b.changes.len());
        size.then(a.cost.total_cmp(&b.cost)).then(minutes(a).cmp(&minutes(b)))
    });
    found.truncate(MOST_TOLD);
    found
}

fn against(cell: &Cell) -> Vec<GateName> {
    let bad = |verdict| matches!(verdict, GateVerdict::NotMet | GateVerdict::CannotTell);
    cell.gates().filter(|(_, verdict)| bad(*verdict)).map(|(gate, _)| gate).collect()
}

/// Gates on which two changes may do together what neither does alone.
fn add_up(gate: GateName) -> bool {
    use GateName::{Arm, Bag, Inhibits, Lighting, Routes, Supplies, Time, Tools};
    matches!(gate, Time | Arm | Lighting | Supplies | Bag | Routes | Tools | Inhibits)
}

fn minutes(opening: &Opening) -> u32 {
    let asked = opening.changes.iter().map(|change| match change {
        Change::Minutes { minutes, .. } => *minutes,
        Change::Drop { .. }
        | Change::Move { .. }
        | Change::Place { .. }
        | Change::By { .. }
        | Change::Bring { .. }
        | Change::Rehearse { .. }
        | Change::Train { .. }
        | Change::Arrange { .. }
        | Change::Verify { .. }
        | Change::First { .. } => 0,
    });
    asked.sum()
}

struct Look<'a> {
    snapshot: &'a Snapshot,
    constants: &'a Constants,
    values: &'a Values,
    task: TaskAt,
    excursion: ExcursionAt,
    ask: &'a Ask,
}

impl Look<'_> {
    /// What each gate that is against it would take, each change once.
    fn singles(&self, cell: &Cell, reasons: &[(GateName, GateVerdict, Reason)]) -> Vec<Change> {
        let against = against(cell);
        let mut all: Vec<Change> = self.other_place(cell).into_iter().collect();
        for &gate in &against {
            match gate {
                GateName::Time
                | GateName::Supplies
                | GateName::Bag
                | GateName::Arm
                | GateName::Lighting => self.make_room(&mut all, self.excursion),
                GateName::Remedies
                | GateName::Rehearsal
                | GateName::Approach
                | GateName::Seats
                | GateName::Tools
                | GateName::Routes
                | GateName::Order
                | GateName::Inhibits
                | GateName::Trained
                | GateName::Return
                | GateName::NeededBy => {}
            }
        }
        for (gate, _, reason) in reasons.iter().filter(|(gate, ..)| against.contains(gate)) {
            match *reason {
                Reason::ToolArrivesAfter { tool, .. }
                | Reason::ToolNotAboard { tool }
                | Reason::ToolOutside { tool }
                | Reason::ToolLost { tool }
                | Reason::ToolBroken { tool } => all.extend(self.fewest_tools(tool)),
                Reason::ToolInOtherHands { tool, task } => {
                    all.extend(self.fewest_tools(tool));
                    self.give_way(&mut all, task, self.excursion);
                }
                Reason::TakesWayFrom { task, excursion, .. } => {
                    self.give_way(&mut all, task, excursion);
                }
                Reason::NeedsOpen { task } => {
                    // On the excursion itself, else on the last one before on which it fits.
                    let fits = |on: &ExcursionAt| self.fits_alone(self.snapshot, task, *on);
                    let so_far = |on: &ExcursionAt| *on <= self.excursion;
                    let on = self.snapshot.excursions.keys().rev().filter(so_far).find(fits);
                    all.extend(on.map(|on| Change::First { task, on }));
                }
                Reason::ApproachBlocked { approach } => {
                    let way = &self.snapshot.tasks[self.task].approaches[approach];
                    if !way.remedies.is_empty() {
                        all.push(Change::Verify { approach });
                    }
                }
                _ if *gate == GateName::Remedies => {
                    all.extend(cell.approach.map(|approach| Change::Verify { approach }));
                }
                _ if *gate == GateName::Rehearsal => {
                    all.extend(cell.approach.map(|approach| Change::Rehearse { approach }));
                }
                Reason::Trained { .. } => {
                    all.extend(cell.approach.map(|approach| Change::Train { approach }));
                }
                Reason::InhibitNotAsked { inhibit }
                | Reason::InhibitAsked { inhibit }
                | Reason::InhibitOff { inhibit, .. } => {
                    all.push(Change::Arrange { inhibit });
                }
                _ => {}
            }
        }
        self.other_approaches(&mut all, cell);
        let mut once: Vec<Change> = Vec::new();
        for change in all {
            if !once.contains(&change) {
                once.push(change);
            }
        }
        once
    }

    /// The best of all places, where others were asked for: seats, order and the start they give.
    fn other_place(&self, cell: &Cell) -> Option<Change> {
        let slots = &self.snapshot.excursions[self.excursion].slots;
        let held = slots.iter().find(|slot| slot.task == self.task && !self.ask.afresh);
        let share = self.ask.share.or(held.and_then(|slot| slot.share));
        let free = Ask { approach: cell.approach, share, afresh: true, ..Ask::default() };
        let best = one_cell(self.snapshot, self.constants, self.task, self.excursion, &free).cell;
        let place = best.place?;
        let (lanes, before) = (place.lanes, place.before_slot);
        let same = cell
            .place
            .is_some_and(|is| (is.lanes, is.before_slot, is.begin) == (lanes, before, place.begin));
        let (start, waits) = (up(place.begin.unwrap_or(place.start)), place.begin.is_some());
        (!same).then_some(Change::Place { lanes, before, start, waits })
    }

    /// Slots of less value that may go, and more minutes.
    fn make_room(&self, all: &mut Vec<Change>, excursion: ExcursionAt) {
        let slots = &self.snapshot.excursions[excursion].slots;
        for slot in slots.iter().filter(|slot| slot.set) {
            self.give_way(all, slot.task, excursion);
        }
        if self.snapshot.excursions[excursion].limit.is_some() {
            all.extend(self.fewest_minutes());
        }
    }

    /// The fewest minutes with which time alone is no longer against it; where more than time
    /// stands against it that half may still be of use.
    fn fewest_minutes(&self) -> Option<Change> {
        let excursion = self.excursion;
        let of = |minutes| Change::Minutes { excursion, minutes };
        let enough = |steps: u32| {
            self.after(&[of(steps * STEP)]).is_some_and(|cell| {
                !matches!(cell.gate(GateName::Time), GateVerdict::NotMet | GateVerdict::CannotTell)
            })
        };
        let (mut too_few, mut most) = (0, MOST_MINUTES / STEP);
        if enough(too_few) || !enough(most) {
            return None;
        }
        while most - too_few > 1 {
            let middle = u32::midpoint(too_few, most);
            if enough(middle) { most = middle } else { too_few = middle }
        }
        Some(of(most * STEP))
    }

    /// The fewest more of a tool with which nothing is said against that tool any more.
    fn fewest_tools(&self, tool: ToolAt) -> Option<Change> {
        let lacks = |reason: &Reason| match *reason {
            Reason::ToolArrivesAfter { tool, .. }
            | Reason::ToolNotAboard { tool }
            | Reason::ToolOutside { tool }
            | Reason::ToolLost { tool }
            | Reason::ToolBroken { tool }
            | Reason::ToolInOtherHands { tool, .. } => Some(tool),
            _ => None,
        };
        (1..=MOST_TOOLS).map(|more| Change::Bring { tool, more }).find(|change| {
            self.explained(&[*change]).is_some_and(|explained| {
                explained.reasons.iter().all(|(_, _, reason)| lacks(reason) != Some(tool))
            })
        })
    }

    /// A slot that may go for this task: of less value, not one that must be done, and none of
    /// class 1 unless this is of class 1 too.
    fn give_way(&self, all: &mut Vec<Change>, other: TaskAt, excursion: ExcursionAt) {
        let slots = &self.snapshot.excursions[excursion].slots;
        let Some(slot) = slots.position(|slot| slot.set && slot.task == other) else {
            return;
        };
        let first = |task: TaskAt| self.snapshot.tasks[task].class == Some(PriorityClass::Safety);
        let less = self.values.total(other) < self.values.total(self.task);
        if slots[slot].must_do || other == self.task || !less || (first(other) && !first(self.task))
        {
            return;
        }
        all.push(Change::Drop { excursion, slot });
        // The first excursion on which it fits as well.
        let elsewhere = self.snapshot.excursions.keys().filter(|&to| to != excursion);
        let fits = |to: &ExcursionAt| self.fits_alone(self.snapshot, other, *to);
        all.extend(elsewhere.filter(fits).map(|to| Change::Move { excursion, slot, to }).next());
    }

    fn other_approaches(&self, all: &mut Vec<Change>, cell: &Cell) {
        let slots = &self.snapshot.excursions[self.excursion].slots;
        let held = slots.iter().any(|slot| slot.task == self.task) && !self.ask.afresh;
        let all_of_it = self.snapshot.tasks[self.task].approaches.iter_enumerated();
        for (approach, way) in all_of_it.filter(|(at, _)| Some(*at) != cell.approach && !held) {
            all.push(Change::By { approach });
            if way
                .remedies
                .iter()
                .any(|one| matches!(one.state, RemedyState::Open | RemedyState::Done))
            {
                all.push(Change::Verify { approach });
            }
        }
    }

    /// The cell with these changes made; `None` where a slot that moves does not fit where it
    /// goes.
    fn after(&self, changes: &[Change]) -> Option<Cell> {
        self.explained(changes).map(|explained| explained.cell)
    }

    /// The same with its reasons.
    fn explained(&self, changes: &[Change]) -> Option<Explained> {
        let (after, ask) =
            changed(self.snapshot, self.constants, self.task, self.excursion, self.ask, changes)?;
        for change in changes {
            if let Change::Move { excursion, slot, to } = *change {
                let moved = self.snapshot.excursions[excursion].slots[slot].task;
                if !self.fits_alone(&after, moved, to) {
                    return None;
                }
            }
        }
        Some(one_cell(&after, self.constants, self.task, self.excursion, &ask))
    }

    /// Whether another task may be set on its own, in its best place or as it stands; a place
    /// that has to be waited for on purpose is too much to ask beside.
    fn fits_alone(&self, snapshot: &Snapshot, task: TaskAt, excursion: ExcursionAt) -> bool {
        let cell = one_cell(snapshot, self.constants, task, excursion, &Ask::default()).cell;
        opens(&cell) && cell.place.is_none_or(|place| place.begin.is_none())
    }

    /// The value given up: of a slot that goes all of it, of one that moves what it loses.
    fn cost(&self, changes: &[Change]) -> f64 {
        let worth = |task, at| self.values.worth_with(self.snapshot, task, at, 1.0).total;
        let of = |change: &Change| match *change {
            Change::Drop { excursion, slot } => {
                worth(self.snapshot.excursions[excursion].slots[slot].task, excursion)
            }
            Change::Move { excursion, slot, to } => {
                let task = self.snapshot.excursions[excursion].slots[slot].task;
                (worth(task, excursion) - worth(task, to)).max(0.0)
            }
            Change::Place { .. }
            | Change::By { .. }
            | Change::Bring { .. }
            | Change::Rehearse { .. }
            | Change::Train { .. }
            | Change::Arrange { .. }
            | Change::Verify { .. }
            | Change::First { .. }
            | Change::Minutes { .. } => 0.0,
        };
        changes.iter().map(of).sum()
    }
}
