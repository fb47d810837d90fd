//! One search: what is the same for every place that is tried.

use super::moved::Behind;
use super::score::Score;
use super::{Base, Candidate};
use crate::compute::fit::ready::{Plan, Ready, SetAt};
use crate::compute::fit::reasons::Unknown;
use crate::compute::timeline::{Block, Finish, Frame, Lanes, NoWay, Segment, State, Stop, later};

#[derive(Clone, Copy)]
pub(super) struct Task<'a, 's> {
    pub ready: &'a Ready<'s>,
    pub plan: &'a Plan,
    pub base: &'a Base,
    pub candidate: &'a Candidate<'a>,
    pub frame: Frame<'a>,
}

impl Task<'_, '_> {
    /// Does a stop while those aids are in place.
    pub fn pass(
        &self,
        state: &mut State,
        stop: &Stop,
        set: SetAt,
        release: f64,
    ) -> Result<(f64, f64, bool), Unknown> {
        let passed = state.pass(&self.frame, stop, self.ready.aids.network(set), release);
        passed.map_err(|no_way| reason(self.ready, set, no_way))
    }

    /// The same with all that is told of it.
    pub fn go(
        &self,
        state: &mut State,
        stop: (usize, &Stop),
        set: SetAt,
        release: f64,
    ) -> Result<Block, Unknown> {
        let gone = state.go(&self.frame, stop, self.ready.aids.network(set), release, &mut nothing);
        gone.map_err(|no_way| reason(self.ready, set, no_way))
    }

    /// Brings the lanes home, and with them the score to its end.
    pub fn scored(&self, score: Score, behind: Behind) -> Result<(Score, Finish), Unknown> {
        let Behind { state, outside } = behind;
        let finish = self.finish(state)?;
        let (end, sum) = (finish.end(), finish.ends().iter().sum());
        Ok((Score { outside, end, sum, ..score }, finish))
    }

    /// Brings the lanes home.
    pub fn finish(&self, state: State) -> Result<Finish, Unknown> {
        let home = self.plan.stops.len();
        let set = self.candidate.sets_after.unwrap_or(&self.plan.sets)[home];
        state
            .finish(&self.frame, self.ready.aids.network(set), &mut nothing)
            .map_err(|no_way| reason(self.ready, set, no_way))
    }

    /// Stops wait for one another across the lanes, or the ways change: all are timed anew.
    pub fn moves_all(&self) -> bool {
        let Self { plan, base, candidate, .. } = self;
        !base.plain
            || !plan.needs.is_empty()
            || !candidate.needed_by.is_empty()
            || candidate.sets_after.is_some()
    }

    /// When the task may start, for what it needs.
    pub fn own_release(&self) -> f64 {
        let ends = self.candidate.needs.iter().map(|&first| self.base.blocks[first].end);
        ends.fold(0.0, later)
    }

    /// The latest of what a stop waits for, the task itself among it. `behind` gives the ends of
    /// the stops from the task on.
    pub fn release(
        &self,
        position: usize,
        place: usize,
        own_end: f64,
        behind: impl Fn(usize) -> f64,
    ) -> f64 {
        let Self { plan, base, candidate, .. } = self;
        let release = plan.order().release(place, |first| {
            if first < position { base.blocks[first].end } else { behind(first) }
        });
        if candidate.needed_by.contains(&place) { later(release, own_end) } else { release }
    }

    /// Nothing but the lanes, the arm and the aids in place tells one position from the next.
    pub fn slides(&self) -> bool {
        let Self { plan, candidate, .. } = self;
        candidate.sets_after.is_none()
            && plan.needs.is_empty()
            && candidate.needs.is_empty()
            && candidate.needed_by.is_empty()
    }

    /// In front of a stop of other lanes a task that slides stands just as it does behind it.
    pub fn same_as_later(&self, position: usize, lanes: Lanes) -> bool {
        let Self { plan, candidate, .. } = self;
        position < candidate.latest
            && !lanes.meets(plan.stops[position].lanes)
            && !(candidate.stop.arm && plan.stops[position].arm)
            && plan.sets[position] == plan.sets[position + 1]
    }
}

pub(super) fn nothing(_: Segment) {}

pub(super) fn reason(ready: &Ready, set: SetAt, no_way: NoWay) -> Unknown {
    ready.aids.no_way(set, no_way.from, no_way.to)
}
