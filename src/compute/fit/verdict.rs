//! From gates to the verdict of a cell: the worst gate decides.

use super::reasons::Reason;
use crate::places::{ApproachAt, SlotAt};
use crate::timeline::Lanes;
use domain::verdicts::{slot_verdict, weight};
use domain::words::{GateName, GateVerdict, SlotVerdict};

/// How many gates there are.
pub const GATES: usize = GateName::ALL.len();

/// The best place for a task on an excursion, in minutes of elapsed time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    pub lanes: Lanes,
    /// Right before this one of the excursion's slots; the count of slots: after all of them.
    pub before_slot: SlotAt,
    pub start: f64,
    pub end: f64,
    /// It is a place only where it begins no earlier than that minute, on purpose.
    pub begin: Option<f64>,
    /// Minutes that the task adds to its lane, travel, setup and cleanup included.
    pub added: f64,
    /// When the last lane is inside, at the mean of everything.
    pub excursion_end: f64,
    /// From there to the limit.
    pub margin: f64,
    /// From there to the planned end, where one is known.
    pub margin_to_plan: Option<f64>,
    /// Chance that the excursion, with the task, ends inside its limit.
    pub chance: f64,
}

/// Some of the checks.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Gates(u32);

impl Gates {
    pub const fn all() -> Self {
        Self((1 << GATES) - 1)
    }

    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    pub const fn has(self, gate: GateName) -> bool {
        self.0 & 1 << gate as usize != 0
    }

    pub const fn add(&mut self, gate: GateName) {
        self.0 |= 1 << gate as usize;
    }

    #[must_use]
    pub const fn or(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// Those that are in both.
    #[must_use]
    pub const fn and(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    #[must_use]
    pub const fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    pub fn each(self) -> impl Iterator<Item = GateName> {
        GateName::ALL.iter().copied().filter(move |&gate| self.has(gate))
    }
}

/// Only which checks fail and which are tight.
#[derive(Debug, Default)]
pub(super) struct Marks {
    pub not_met: Gates,
    pub tight: Gates,
}

impl Judgement for Marks {
    fn wants_verdicts_alone(&self) -> bool {
        true
    }

    fn not_met(&self) -> Gates {
        self.not_met
    }

    fn say(&mut self, gate: GateName, verdict: GateVerdict, _: Reason) {
        match verdict {
            GateVerdict::NotMet => self.not_met.add(gate),
            GateVerdict::Tight => self.tight.add(gate),
            _ => {}
        }
    }
}

/// A task held against an excursion. Small, since a matrix holds one per open item and excursion:
/// of the reasons it keeps the one that decided.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cell {
    pub verdict: SlotVerdict,
    gates: [GateVerdict; GATES],
    deciding: Option<(GateName, Reason)>,
    /// Where it would go; `None` where that cannot be told.
    pub place: Option<Place>,
    /// The approach that was considered: a place in the task's list.
    pub approach: Option<ApproachAt>,
}

/// Hears what each gate says; a gate may give several reasons.
pub(super) trait Judgement {
    fn say(&mut self, gate: GateName, verdict: GateVerdict, reason: Reason);

    /// The checks that are not met so far.
    fn not_met(&self) -> Gates;

    /// Whether the figures of a check that is met are read by anybody.
    fn wants_figures(&self) -> bool {
        false
    }

    /// Whether no figures are read at all.
    fn wants_verdicts_alone(&self) -> bool {
        false
    }
}

impl Default for Cell {
    fn default() -> Self {
        Self {
            verdict: SlotVerdict::Fits,
            gates: [GateVerdict::NotChecked; GATES],
            deciding: None,
            place: None,
            approach: None,
        }
    }
}

impl Cell {
    pub fn gate(&self, name: GateName) -> GateVerdict {
        self.gates[name as usize]
    }

    /// Every gate in the order in which they are read.
    pub fn gates(&self) -> impl Iterator<Item = (GateName, GateVerdict)> {
        GateName::ALL.iter().map(|&name| (name, self.gate(name)))
    }

    /// The first of the worst gates and its first reason; `None` where all are met or notes.
    pub fn deciding(&self) -> Option<(GateName, Reason)> {
        self.deciding
    }

    pub(super) fn conclude(&mut self) {
        self.verdict = slot_verdict(self.gates.iter().copied());
    }
}

impl Judgement for Cell {
    fn not_met(&self) -> Gates {
        let not_met = self.gates().filter(|(_, verdict)| *verdict == GateVerdict::NotMet);
        not_met.fold(Gates::default(), |mut all, (gate, _)| {
            all.add(gate);
            all
        })
    }

    fn say(&mut self, gate: GateName, verdict: GateVerdict, reason: Reason) {
        let heavier = weight(verdict);
        let standing = &mut self.gates[gate as usize];
        if heavier <= weight(*standing) {
            return;
        }
        *standing = verdict;
        if heavier <= weight(GateVerdict::Note) {
            return;
        }
        let decides = self.deciding.is_none_or(|(decided, _)| {
            let so_far = if decided == gate { 0 } else { weight(self.gates[decided as usize]) };
            heavier > so_far || (heavier == so_far && gate < decided)
        });
        if decides {
            self.deciding = Some((gate, reason));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::places::ToolAt;
    use domain::words::GateVerdict::{CannotTell, Met, NotChecked, NotMet, Note, Tight};

    #[test]
    fn the_worst_gate_decides() {
        let of = |gates: &[GateVerdict]| slot_verdict(gates.iter().copied());
        assert_eq!(of(&[Met, Tight, CannotTell, NotMet]), SlotVerdict::DoesNotFit);
        assert_eq!(of(&[Met, Tight, CannotTell]), SlotVerdict::CannotTell);
        assert_eq!(of(&[NotChecked, Tight, Met]), SlotVerdict::Tight);
        assert_eq!(of(&[NotChecked, Met, Note]), SlotVerdict::Fits);
    }

    #[test]
    fn a_cell_names_its_worst_gate_with_the_first_reason_for_it() {
        let mut cell = Cell::default();
        cell.say(GateName::Tools, Met, Reason::NoToolsNamed);
        cell.say(GateName::Rehearsal, Note, Reason::ToolLast { tool: ToolAt(1) });
        assert_eq!(cell.deciding(), None, "a note decides nothing");
        cell.say(GateName::Tools, Tight, Reason::ToolOutside { tool: ToolAt(3) });
        cell.say(GateName::Tools, Tight, Reason::ToolOutside { tool: ToolAt(5) });
        cell.say(GateName::Seats, Met, Reason::SeatsEnough { takes: 1, there: 2 });
        cell.conclude();
        assert_eq!(cell.verdict, SlotVerdict::Tight);
        assert_eq!(
            cell.deciding(),
            Some((GateName::Tools, Reason::ToolOutside { tool: ToolAt(3) }))
        );
        cell.say(GateName::Approach, Tight, Reason::ApproachQuestioned { approach: ApproachAt(0) });
        assert_eq!(cell.deciding().map(|(gate, _)| gate), Some(GateName::Approach));
        cell.say(GateName::Order, Tight, Reason::NeedsMet);
        assert_eq!(cell.deciding().map(|(gate, _)| gate), Some(GateName::Approach));
        cell.say(GateName::Remedies, CannotTell, Reason::NoRemedies);
        assert_eq!(cell.deciding().map(|(gate, _)| gate), Some(GateName::Remedies));
        assert_eq!(Cell::default().deciding(), None);
    }
}
