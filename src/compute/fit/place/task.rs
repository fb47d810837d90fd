//! One search: what is the same for every place that is tried.

use super::moved::Behind;
use super::score::Score;
use super::{Base, Candidate};
use crate::fit::ready::{Plan, Ready};
use crate::fit::reasons::Unknown;
use crate::places::SetAt;
use crate::timeline::{Block, Finish, Frame, Lanes, NoWay, Order, Segment, State, Stop, later};
use crate::travel::Network;

#[derive(Clone, Copy)]
pub(super) struct Task<'a, 's> {
    pub ready: &'a Ready<'s>,
    pub plan: &'a Plan,
    pub base: &'a Base,
    pub candidate: &'a Candidate,
    pub frame: Frame<'a>,
    /// Travel over the aids in place, where none is brought in.
    pub routes: &'a Network,
    /// Stops wait for a tool that is in other hands.
    pub tools: bool,
}

impl Task<'_, '_> {
    /// Does a stop.
    pub fn pass(
        &self,
        state: &mut State,
        stop: &Stop,
        release: f64,
    ) -> Result<(f64, f64, bool), Unknown> {
        let passed = state.pass(&self.frame, stop, self.routes, release);
        passed.map_err(|no_way| self.reason(no_way))
    }

    /// The same with all that is told of it.
    pub fn go(
        &self,
        state: &mut State,
        stop: (usize, &Stop),
        release: f64,
    ) -> Result<Block, Unknown> {
        let gone = state.go(&self.frame, stop, self.routes, release, &mut nothing);
        gone.map_err(|no_way| self.reason(no_way))
    }

    /// The task as a stop in that place.
    pub fn stop(&self, score: &Score) -> Stop {
        Stop { lanes: score.lanes, ..self.candidate.stop }.begun_from(score.begin)
    }

    pub fn reason(&self, no_way: NoWay) -> Unknown {
        reason(self.ready, self.plan.sequence.first, no_way)
    }

    /// Brings the lanes home, and with them the score to its end.
    pub fn scored(&self, score: Score, behind: Behind) -> Result<(Score, Finish), Unknown> {
        let Behind { state, outside } = behind;
        let finish = self.finish(state)?;
        let (end, sum) = (finish.end(), finish.own_ends().iter().sum());
        Ok((Score { outside, end, sum, ..score }, finish))
    }

    /// Brings the lanes home.
    pub fn finish(&self, state: State) -> Result<Finish, Unknown> {
        let finish = state.finish(&self.frame, self.routes, &mut nothing);
        finish.map_err(|no_way| self.reason(no_way))
    }

    /// Stops wait for one another across the lanes: all are timed again.
    pub fn moves_all(&self) -> bool {
        let Self { plan, base, candidate, .. } = self;
        self.tools
            || !base.plain
            || !plan.sequence.needs.is_empty()
            || !candidate.needed_by.is_empty()
    }

    /// When the task may start, for what it needs.
    pub fn own_release(&self) -> f64 {
        let ends = self.candidate.needs.iter().map(|&first| self.base.blocks[first].end);
        ends.fold(0.0, later)
    }

    /// The latest of what a stop waits for, the task itself among it, where `needs` are the stops
    /// of the plan of which the second waits for the first. `behind` gives the ends of the stops
    /// from the task on.
    pub fn release(
        &self,
        (position, own_end): (usize, f64),
        place: usize,
        (needs, needed_by): (&[(usize, usize)], &[usize]),
        behind: impl Fn(usize) -> f64,
    ) -> f64 {
        let Self { plan, base, .. } = self;
        let order = Order { stops: &plan.sequence.stops, needs };
        let release = order.release(place, |first| {
            if first < position { base.blocks[first].end } else { behind(first) }
        });
        if needed_by.contains(&place) { later(release, own_end) } else { release }
    }

    /// Nothing but the lanes and the arm tells one position from the next.
    pub fn slides(&self) -> bool {
        self.candidate.needs.is_empty() && self.candidate.needed_by.is_empty()
    }

    /// In front of a stop of other lanes a task that slides stands just as it does behind it.
    pub fn same_as_later(&self, position: usize, lanes: Lanes) -> bool {
        let Self { plan, candidate, .. } = self;
        if position >= candidate.latest || self.tools && !candidate.tools.is_empty() {
            return false;
        }
        let other = &plan.sequence.stops[position];
        !(lanes.meets(other.lanes) || candidate.stop.arm && other.arm)
    }
}

pub(super) fn nothing(_: Segment) {}

pub(super) fn reason(ready: &Ready, set: SetAt, no_way: NoWay) -> Unknown {
    ready.aids.no_way(set, no_way.from, no_way.to)
}
