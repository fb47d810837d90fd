//! What is told of a place once it is found: its times, its chance, and what the checks ask.

use std::cell::OnceCell;

use super::score::Score;
use super::task::Task;
use super::{Base, Candidate, Search, down, up};
use crate::fit::ready::{Plan, Ready, Settled};
use crate::fit::reasons::{TimeFigures, Unknown};
use crate::fit::snapshot::{TaskAt, ToolAt};
use crate::fit::verdict::Place;
use crate::timeline::{
    Added, AtEnd, Block, Finish, Frame, Gap, MOST_LANES, Order, Simulated, Stop, WhichEnd, onward,
    simulate,
};

/// A place found, with all that the checks ask of it.
pub(in crate::fit) struct Found {
    pub place: Place,
    pub figures: TimeFigures,
    pub position: usize,
    pub own: Block,
    /// The stop with its lanes.
    pub stop: Stop,
    pub finish: Finish,
    /// The chance that it is done before the window of the arm closes, and that of the light.
    pub inside: Inside,
    /// The plan with the task in it, stop by stop, once somebody asks.
    pub blocks: OnceCell<Vec<Block>>,
    /// The plan with the task in every draw, where the draws without it do not tell.
    pub simulated: Option<Box<Simulated>>,
    /// A tool of which there are too few, and the task that uses it as well: one waits for the
    /// other.
    pub waits_for: Option<(ToolAt, TaskAt)>,
    /// What a lane spends from the task on, where those without it tell.
    ways_on: [Gap; MOST_LANES],
}

/// Chances to be done before a window closes; 0 where there is none.
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::fit) struct Inside {
    pub arm: f64,
    pub light: f64,
}

/// The minutes at which the windows close that are open when a task starts at the mean.
fn closing(frame: &Frame, stop: &Stop, own: &Block) -> (f64, [Option<f64>; 2]) {
    if !stop.waits() || own.outside_windows {
        return (0.0, [None, None]);
    }
    let opens = frame.windows.opened(stop.arm, stop.light, own.start).max(stop.from);
    (opens, frame.windows.closes(stop.arm, stop.light, own.start).into())
}

/// The chances of a task put into a plan. Windows count that are open when it starts at the mean.
pub(in crate::fit) fn chances(
    simulated: &Simulated,
    frame: &Frame,
    added: &Added,
    own: &Block,
) -> (f64, Inside) {
    let (chance, inside) = simulated.chances(added, closing(frame, added.stop, own));
    (chance, inside_of(added.stop, own, inside))
}

/// Work that may pause keeps its light where it finds enough of it.
fn inside_of(stop: &Stop, own: &Block, [arm, light]: [f64; 2]) -> Inside {
    let kept = stop.pauses() && !own.outside_windows;
    Inside { arm, light: if kept { 1.0 } else { light } }
}

impl Found {
    pub fn of_get_ahead(
        (place, figures): (Place, TimeFigures),
        own: Block,
        stop: Stop,
        finish: Finish,
        inside: Inside,
    ) -> Self {
        let ways_on = [Gap::default(); MOST_LANES];
        let (blocks, simulated, waits_for) = (OnceCell::new(), None, None);
        Self {
            place,
            figures,
            position: 0,
            own,
            stop,
            finish,
            inside,
            blocks,
            simulated,
            waits_for,
            ways_on,
        }
    }

    /// The plan with the task on an excursion that ends when it does in eight cases of ten.
    pub fn at_p80(
        &self,
        ready: &Ready,
        plan: &Plan,
        base: &Base,
        candidate: &Candidate,
        rough: bool,
    ) -> AtEnd {
        const P80: WhichEnd = WhichEnd::OfChance(0.8);
        if let Some(simulated) = &self.simulated {
            simulated.at_end(None, P80, rough)
        } else {
            let own = (self.position, &self.own);
            let added = added(base, candidate, &self.stop, own, self.ways_on);
            base.simulated(ready, plan).at_end(Some(&added), P80, rough)
        }
    }
}

fn added<'a>(
    base: &Base,
    candidate: &'a Candidate,
    stop: &'a Stop,
    (position, own): (usize, &Block),
    ways_on: [Gap; MOST_LANES],
) -> Added<'a> {
    Added {
        position,
        stop,
        ways_there: own.gaps(),
        next: base.next[position],
        ways_on,
        next_arm: base.next_arm[position],
        needs: &candidate.needs,
        needed_by: &candidate.needed_by,
    }
}

impl Search {
    /// Goes through the best place once more, for its chance and for what the checks ask.
    pub(super) fn describe(
        &mut self,
        task: &Task,
        best: &Score,
        home: Option<Finish>,
    ) -> Result<Found, Unknown> {
        let Task { base, candidate, .. } = *task;
        let Score { position, lanes, .. } = *best;
        let stop = Stop { lanes, ..candidate.stop };
        let mut state = base.states[position];
        let count = task.plan.sequence.stops.len();
        let own = task.go(&mut state, (count, &stop), task.own_release())?;
        let finish = if let Some(finish) = home {
            finish
        } else {
            let behind = self.behind(task, state, own.end, *best, None)?;
            task.finish(behind.map_or(state, |behind| behind.state))?
        };
        task.found(best, own, finish)
    }

    /// The same of a place that was timed whole.
    pub(super) fn describe_settled(
        task: &Task,
        score: &Score,
        settled: Settled,
    ) -> Result<Found, Unknown> {
        let Task { ready, plan, base, candidate, frame, .. } = *task;
        let Score { position, lanes, .. } = *score;
        let (own, finish) = (settled.blocks[position], settled.finish);
        let sequence = plan.sequence.with(position, &task.insertion(lanes));
        let alone = !base.tied
            && sequence.brings_in.is_empty()
            && settled.needs.len() == sequence.needs.len();
        if alone {
            let found = task.found(score, own, finish)?;
            return Ok(Found { blocks: OnceCell::from(settled.blocks), ..found });
        }
        let stop = Stop { lanes, ..candidate.stop };
        let order = Order { stops: &sequence.stops, needs: &settled.needs };
        let variation = ready.constants.variation();
        let simulated = simulate(&frame, order, &settled.blocks, &finish, plan.limit, variation);
        let (_, closes) = closing(&frame, &stop, &own);
        let inside = closes.map(|at| at.map_or(0.0, |at| simulated.done_by(position, at)));
        let inside = inside_of(&stop, &own, inside);
        let (place, figures) = found_place(task, score, &own, &finish, simulated.chance());
        let waits_for = task.waits_for(position, &settled.needs[sequence.needs.len()..]);
        Ok(Found {
            place,
            figures,
            position,
            own,
            stop,
            finish,
            inside,
            blocks: OnceCell::from(settled.blocks),
            simulated: Some(Box::new(simulated)),
            waits_for,
            ways_on: [Gap::default(); MOST_LANES],
        })
    }
}

impl Task<'_, '_> {
    /// What is told of a place from the draws of the plan without the task.
    fn found(&self, score: &Score, own: Block, finish: Finish) -> Result<Found, Unknown> {
        let Self { ready, plan, base, candidate, frame, routes } = *self;
        let Score { position, lanes, .. } = *score;
        let stop = Stop { lanes, ..candidate.stop };
        let mut ways_on = [Gap::default(); MOST_LANES];
        for lane in lanes.each() {
            let to = plan.sequence.stops.get(base.next[position][lane]);
            let on = onward(&frame, &stop, to, routes);
            ways_on[lane] = on.map_err(|no_way| self.reason(no_way))?;
        }
        let added = added(base, candidate, &stop, (position, &own), ways_on);
        let (chance, inside) = chances(base.simulated(ready, plan), &frame, &added, &own);
        let (place, figures) = found_place(self, score, &own, &finish, chance);
        let (blocks, simulated, waits_for) = (OnceCell::new(), None, None);
        Ok(Found {
            place,
            figures,
            position,
            own,
            stop,
            finish,
            inside,
            blocks,
            simulated,
            waits_for,
            ways_on,
        })
    }

    /// The tool that this task hands on to another one, or gets from it.
    fn waits_for(&self, position: usize, passed_on: &[(usize, usize)]) -> Option<(ToolAt, TaskAt)> {
        let other = passed_on.iter().find_map(|&(first, then)| {
            (then == position).then_some(first).or((first == position).then_some(then))
        })?;
        let other = if other > position { other - 1 } else { other };
        let held = self.plan.sequence.uses.iter().filter(|(_, place)| *place == other);
        let tool = held.map(|(tool, _)| *tool).find(|tool| self.candidate.tools.contains(tool))?;
        Some((tool, self.ready.task_of(self.plan, other)))
    }

    /// The stops of the plan with the task in a place that was found.
    pub fn blocks_with(&self, found: &Found) -> Vec<Block> {
        let Self { plan, base, .. } = *self;
        let mut blocks = base.blocks[..found.position].to_vec();
        blocks.push(found.own);
        let mut state = base.states[found.position];
        let stops = &plan.sequence.stops;
        // It was timed before, so there is a route everywhere.
        let Ok(own) = self.go(&mut state, (stops.len(), &found.stop), self.own_release()) else {
            return blocks;
        };
        for (place, next) in stops.iter().enumerate().skip(found.position) {
            let behind = |first: usize| blocks[first + 1].end;
            let release = self.release(found.position, place, own.end, behind);
            let Ok(block) = self.go(&mut state, (place, next), release) else { return blocks };
            blocks.push(block);
        }
        blocks
    }
}

impl Found {
    /// The stops of the plan with the task, the task itself at its position.
    pub fn blocks<'f>(
        &'f self,
        ready: &Ready,
        plan: &Plan,
        base: &Base,
        candidate: &Candidate,
    ) -> &'f [Block] {
        self.blocks.get_or_init(|| {
            let routes = &*ready.aids.network(plan.sequence.first);
            let frame = plan.frame(ready);
            Task { ready, plan, base, candidate, frame, routes }.blocks_with(self)
        })
    }
}

fn found_place(
    task: &Task,
    score: &Score,
    own: &Block,
    finish: &Finish,
    chance: f64,
) -> (Place, TimeFigures) {
    let Task { ready, plan, base, .. } = *task;
    let slots = ready.snapshot.excursions[plan.excursion].slots.len();
    let after = |lane: usize| finish.own_ends()[lane];
    let lane = score.lanes.each().max_by(|&a, &b| after(a).total_cmp(&after(b))).unwrap_or(0);
    let before = base.finish.own_ends()[lane];
    let past_plan = plan.planned.map_or(0.0, |planned| (score.end - planned).max(0.0));
    let place = Place {
        lanes: score.lanes,
        before_slot: plan.slots.get(score.position).copied().unwrap_or(slots),
        start: own.start,
        end: own.end,
        added: after(lane) - before,
        excursion_end: score.end,
        margin: plan.limit - score.end,
        margin_to_plan: plan.planned.map(|planned| planned - score.end),
        chance,
    };
    let figures = TimeFigures {
        needs: up(after(lane)) - up(before),
        left: down(plan.limit - before),
        margin: down(place.margin),
        past_plan: up(past_plan),
        chance: narrow(chance),
        lanes: score.lanes,
    };
    (place, figures)
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a chance shown in per cent needs no more digits"
)]
pub(in crate::fit) fn narrow(chance: f64) -> f32 {
    chance as f32
}
