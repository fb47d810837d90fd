//! The plan timed with a task in one place, tools passed on: who needs one that is in other hands
//! waits for it.

use super::Task;
use crate::fit::ready::{Held, in_the_way};
use crate::fit::reasons::Unknown;
use crate::places::ToolAt;
use crate::timeline::{State, Stop, later};

/// Stands for the task itself among the stops of the plan.
const OWN: usize = usize::MAX;

/// One way through a plan with a task in it, stop by stop. It keeps its working space.
#[derive(Default)]
pub(super) struct Course {
    /// When the work of each stop from the task on begins and ends.
    stops: Vec<(f64, f64)>,
    pub own: (f64, f64),
    /// The task finds no window.
    pub missed: bool,
    /// From when on the task may begin, for what it waits for.
    pub release: f64,
    /// Of which the second waits for a tool of the first.
    pairs: Vec<(usize, usize)>,
}

/// What ties a task to the stops of a plan and these to one another.
#[derive(Debug, Clone)]
pub(in crate::fit) struct Ties {
    /// Stops of the plan of which the second waits for the first.
    pub plan: Vec<(usize, usize)>,
    /// Stops that the task waits for, and stops that wait for it.
    pub needs: Vec<usize>,
    pub needed_by: Vec<usize>,
}

impl Course {
    /// Times the task and every stop behind it: where the lanes stand then, and how many stops
    /// find no window.
    pub fn run(
        &mut self,
        task: &Task,
        position: usize,
        stop: &Stop,
    ) -> Result<(State, u32), Unknown> {
        let Task { plan, base, candidate, .. } = *task;
        let mut state = base.states[position];
        self.pairs.clear();
        self.stops.resize(plan.sequence.stops.len(), (0.0, 0.0));
        let mut release = task.own_release();
        let mut outside = base.outside[position];
        loop {
            let mut after = state;
            let (start, end, missed) = task.pass(&mut after, stop, release)?;
            let tools = candidate.tools.iter().copied().filter(|_| task.tools);
            if let Some(first) = self.in_the_way(task, position, (OWN, tools), (start, end)) {
                self.pairs.push((first.place, OWN));
                release = later(release, first.until);
                continue;
            }
            (state, self.own, self.release) = (after, (start, end), release);
            self.missed = missed;
            outside += u32::from(missed);
            break;
        }
        for (place, next) in plan.sequence.stops.iter().enumerate().skip(position) {
            let ties = (&plan.sequence.needs[..], &candidate.needed_by[..]);
            let behind = |first: usize| self.stops[first].1;
            let mut release = task.release((position, self.own.1), place, ties, behind);
            loop {
                let mut after = state;
                let (start, end, missed) = task.pass(&mut after, next, release)?;
                let uses = plan.sequence.uses.iter().filter(|(_, at)| *at == place && task.tools);
                let tools = uses.map(|(tool, _)| *tool);
                let way = self.in_the_way(task, position, (place, tools), (start, end));
                if let Some(first) = way {
                    self.pairs.push((first.place, place));
                    release = later(release, first.until);
                    continue;
                }
                (state, self.stops[place]) = (after, (start, end));
                outside += u32::from(missed);
                break;
            }
        }
        Ok((state, outside))
    }

    /// A stop that was timed and holds one of those tools meanwhile.
    fn in_the_way(
        &self,
        task: &Task,
        position: usize,
        (place, mut tools): (usize, impl Iterator<Item = ToolAt>),
        (from, until): (f64, f64),
    ) -> Option<Held> {
        let Task { ready, plan, base, candidate, .. } = *task;
        tools.find_map(|tool| {
            let before = if place == OWN { position } else { place };
            let of = |&(other, at): &(ToolAt, usize)| {
                if other != tool || at >= before {
                    return None;
                }
                let (from, until) = if at < position {
                    (base.blocks[at].start, base.blocks[at].end)
                } else {
                    self.stops[at]
                };
                Some(Held { place: at, from, until })
            };
            let held = plan.sequence.uses.iter().filter_map(of);
            let holds = place != OWN && candidate.tools.contains(&tool);
            let own = Held { place: OWN, from: self.own.0, until: self.own.1 };
            let held = held.chain(holds.then_some(own));
            in_the_way(ready.count_of(tool), &held, from, until)
        })
    }

    /// What ties the task and the plan where tools are passed on otherwise than without it; `None`
    /// where nothing does.
    pub fn ties(&self, task: &Task, position: usize) -> Option<Ties> {
        let Task { plan, base, candidate, .. } = *task;
        let before = base.passed_on().iter().filter(|(_, then)| *then < position);
        let behind = self.pairs.iter().filter(|(first, then)| *first != OWN && *then != OWN);
        let among = before.chain(behind);
        let own = self.pairs.iter().any(|(first, then)| *first == OWN || *then == OWN);
        if !own && among.clone().eq(base.passed_on()) {
            return None;
        }
        let first = self.pairs.iter().filter(|(_, then)| *then == OWN).map(|(first, _)| *first);
        let then = self.pairs.iter().filter(|(first, _)| *first == OWN).map(|(_, then)| *then);
        Some(Ties {
            plan: plan.sequence.needs.iter().chain(among).copied().collect(),
            needs: candidate.needs.iter().copied().chain(first).collect(),
            needed_by: candidate.needed_by.iter().copied().chain(then).collect(),
        })
    }

    /// The stop that hands a tool on to the task, or else gets one from it.
    pub fn rival(&self) -> Option<usize> {
        let first = self.pairs.iter().find(|(_, then)| *then == OWN).map(|(first, _)| *first);
        let then = self.pairs.iter().find(|(first, _)| *first == OWN).map(|(_, then)| *then);
        first.or(then)
    }
}
