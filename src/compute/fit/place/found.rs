//! What is told of a place once it is found: its times, its chance, and what the checks ask.

use crate::places::{TaskAt, ToolAt};
use std::cell::OnceCell;
use std::rc::Rc;

use super::course::Ties;
use super::moved::time_moved;
use super::score::Score;
use super::task::Task;
use super::{Base, Candidate, Search, down, up};
use crate::fit::ready::{Plan, Ready, Settled};
use crate::fit::reasons::{TimeFigures, Unknown};
use crate::fit::verdict::Place;
use crate::timeline::{
    Added, AtEnd, Block, Finish, Frame, Gap, InWindows, MOST_LANES, Order, Simulated, Stop,
    UNBOUNDED, WhichEnd, later, onward, simulate,
};

/// The chance of the end at which supplies are judged.
const P80: f64 = 0.8;

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
    /// The chance to end in time is so small that the first draws tell it, and only roughly.
    pub rough: bool,
    /// The plan with the task in it, stop by stop, once somebody asks.
    pub blocks: OnceCell<Vec<Block>>,
    /// A tool of which there are too few, and the task that uses it as well: one waits for the
    /// other.
    pub waits_for: Option<(ToolAt, TaskAt)>,
    /// The plan at its end in eight cases of ten, once somebody asks.
    p80: OnceCell<AtEnd>,
    draws: InDraws,
    /// What ties it to the plan beyond what it needs, and the plan's stops otherwise than without.
    ties: Option<Ties>,
}

/// The draws that tell of a place.
enum InDraws {
    /// Those of the plan without the task, which spends that long on its ways on.
    Added(Rc<Simulated>, [Gap; MOST_LANES]),
    /// Those of the plan with the task in it; where work may miss its windows, the same unbounded.
    Within(Box<Simulated>, Option<Box<Simulated>>),
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
/// Where the first draws give less than `hopeless` they are enough.
pub(in crate::fit) fn chances(
    simulated: &Simulated,
    frame: &Frame,
    added: &Added,
    own: &Block,
    hopeless: f64,
) -> (f64, Inside) {
    let closing = closing(frame, added.stop, own);
    let (chance, inside) = simulated.chances(added, closing, hopeless);
    (chance, inside_of(added.stop, own, inside))
}

/// Work that may pause keeps its light where it finds enough of it.
fn inside_of(stop: &Stop, own: &Block, [arm, light]: [f64; 2]) -> Inside {
    let kept = stop.pauses() && !own.outside_windows;
    Inside { arm, light: if kept { 1.0 } else { light } }
}

/// How far below the bound a chance has to be in the first draws to be below it in all.
pub(super) const DOUBT: f64 = 0.05;

impl Found {
    /// What is told of a task that is worked next, from now on.
    pub fn of_get_ahead(
        (place, figures): (Place, TimeFigures),
        own: Block,
        stop: Stop,
        finish: Finish,
        (inside, simulated): (Inside, Simulated),
    ) -> Self {
        Self {
            place,
            figures,
            position: 0,
            own,
            stop,
            finish,
            inside,
            rough: false,
            blocks: OnceCell::new(),
            waits_for: None,
            p80: OnceCell::new(),
            draws: InDraws::Within(Box::new(simulated), None),
            ties: None,
        }
    }

    /// The plan with the task on an excursion that ends when it does in eight cases of ten, from all
    /// draws; where work may miss its windows, of the days on which it finds them: nobody waits past
    /// the limit for a window that does not come.
    pub fn at_p80_in_full(
        &self,
        ready: &Ready,
        plan: &Plan,
        (base, candidate): (&Base, &Candidate),
    ) -> &AtEnd {
        self.p80.get_or_init(|| {
            let at_p80 = self.in_windows(ready, plan, (base, candidate), false);
            at_p80.unwrap_or_else(|| self.at_p80_of_all(base, candidate, false))
        })
    }

    /// The same from the first draws; `None` where they are too few to tell.
    pub fn at_p80_roughly(
        &self,
        ready: &Ready,
        plan: &Plan,
        (base, candidate): (&Base, &Candidate),
    ) -> Option<AtEnd> {
        self.in_windows(ready, plan, (base, candidate), true)
    }

    /// `None` where it finds its windows on too few of those days.
    fn in_windows(
        &self,
        ready: &Ready,
        plan: &Plan,
        (base, candidate): (&Base, &Candidate),
        rough: bool,
    ) -> Option<AtEnd> {
        let in_windows = match &self.draws {
            _ if !self.may_miss(plan) => InWindows::Always,
            InDraws::Within(_, None) => InWindows::Always,
            InDraws::Within(_, Some(unbounded)) => unbounded.at_end_in_windows(None, P80, rough),
            InDraws::Added(_, ways_on) => {
                let needs = self.ties.as_ref().map_or(&base.needs, |ties| &ties.plan);
                let added = self.added(base, candidate, *ways_on);
                let unbounded = base.draws_unbounded(ready, plan, needs);
                unbounded.at_end_in_windows(Some(&added), P80, rough)
            }
        };
        match in_windows {
            InWindows::At(at_end) => Some(at_end),
            InWindows::Always => Some(self.at_p80_of_all(base, candidate, rough)),
            InWindows::Seldom => None,
        }
    }

    fn at_p80_of_all(&self, base: &Base, candidate: &Candidate, rough: bool) -> AtEnd {
        let p80 = WhichEnd::OfChance(P80);
        match &self.draws {
            InDraws::Within(simulated, _) => simulated.at_end(None, p80, rough),
            InDraws::Added(simulated, ways_on) => {
                simulated.at_end(Some(&self.added(base, candidate, *ways_on)), p80, rough)
            }
        }
    }

    /// Whether its work, or some of the plan, waits for a window.
    pub fn may_miss(&self, plan: &Plan) -> bool {
        self.stop.waits() || plan.waits()
    }

    /// That end alone, roughly.
    pub fn p80(&self, base: &Base, candidate: &Candidate) -> f64 {
        match &self.draws {
            InDraws::Within(simulated, _) => simulated.rough_end(None, P80),
            InDraws::Added(simulated, ways_on) => {
                simulated.rough_end(Some(&self.added(base, candidate, *ways_on)), P80)
            }
        }
    }

    fn added<'a>(
        &'a self,
        base: &Base,
        candidate: &'a Candidate,
        ways_on: [Gap; MOST_LANES],
    ) -> Added<'a> {
        added(
            (base, candidate),
            self.ties.as_ref(),
            &self.stop,
            (self.position, &self.own),
            ways_on,
        )
    }
}

fn added<'a>(
    (base, candidate): (&Base, &'a Candidate),
    ties: Option<&'a Ties>,
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
        needs: ties.map_or(&candidate.needs, |ties| &ties.needs),
        needed_by: ties.map_or(&candidate.needed_by, |ties| &ties.needed_by),
    }
}

impl Search {
    /// Goes through a place once more, for its chance and for what the checks ask. `home` is how
    /// the lanes come home from it where that is known; `rough` leaves a small chance rough.
    pub(super) fn describe(
        &mut self,
        task: &Task,
        score: &Score,
        home: Option<Finish>,
        rough: bool,
    ) -> Result<Found, Unknown> {
        let Task { base, plan, .. } = *task;
        let (position, stop) = (score.position, task.stop(score));
        let count = plan.sequence.stops.len();
        let mut state = base.states[position];
        let mut release = task.own_release();
        let (mut ties, mut rival) = (None, None);
        let finish = if let Some(finish) = home {
            finish
        } else if task.moves_all() {
            let (behind, _) = self.course.run(task, position, &stop)?;
            if task.tools {
                (ties, rival) = (self.course.ties(task, position), self.course.rival());
            }
            release = self.course.release;
            task.finish(behind)?
        } else {
            let mut after = state;
            task.pass(&mut after, &stop, release)?;
            let behind = time_moved(task, after, *score, None)?;
            task.finish(behind.map_or(after, |behind| behind.state))?
        };
        let own = task.go(&mut state, (count, &stop), release)?;
        let found = task.found(score, own, finish, ties, rough)?;
        Ok(Found { waits_for: rival.and_then(|other| task.shared_with(other)), ..found })
    }
}

impl Task<'_, '_> {
    /// What is told of a place that was timed whole, with aids brought in.
    pub(super) fn found_settled(&self, score: &Score, settled: &Settled, rough: bool) -> Found {
        let Self { ready, plan, frame, .. } = *self;
        let (position, stop) = (score.position, self.stop(score));
        let (own, finish) = (settled.blocks[position], settled.finish);
        let sequence = plan.sequence.with(position, &self.insertion(score));
        let order = Order { stops: &sequence.stops, needs: &settled.needs };
        let variation = ready.constants.variation();
        let simulated = simulate(&frame, order, &settled.blocks, &finish, plan.limit, variation);
        let (_, closes) = closing(&frame, &stop, &own);
        let inside = closes.map(|at| at.map_or(0.0, |at| simulated.done_by(position, at)));
        let chance = simulated.chance(self.hopeless(rough));
        let chances = (chance, inside_of(&stop, &own, inside));
        let unbounded = sequence.stops.iter().any(Stop::waits).then(|| {
            let frame = Frame { limit: UNBOUNDED, ..frame };
            Box::new(simulate(&frame, order, &settled.blocks, &finish, UNBOUNDED, variation))
        });
        let draws = InDraws::Within(Box::new(simulated), unbounded);
        let found = self.made(score, (own, stop, finish), chances, (draws, None), rough);
        let passed_on = &settled.needs[sequence.needs.len()..];
        let rival = passed_on.iter().find_map(|&(first, then)| {
            (then == position).then_some(first).or((first == position).then_some(then))
        });
        let rival = rival.map(|other| if other > position { other - 1 } else { other });
        Found {
            blocks: OnceCell::from(settled.blocks.clone()),
            waits_for: rival.and_then(|other| self.shared_with(other)),
            ..found
        }
    }

    /// The chance below which the first draws are enough.
    fn hopeless(&self, rough: bool) -> f64 {
        if rough { self.ready.constants.tight_from - DOUBT } else { 0.0 }
    }

    /// What is told of a place from the draws of the plan without the task.
    fn found(
        &self,
        score: &Score,
        own: Block,
        finish: Finish,
        ties: Option<Ties>,
        rough: bool,
    ) -> Result<Found, Unknown> {
        let Self { ready, plan, base, candidate, frame, routes, .. } = *self;
        let (position, stop) = (score.position, self.stop(score));
        let mut ways_on = [Gap::default(); MOST_LANES];
        for lane in stop.lanes.each() {
            let to = plan.sequence.stops.get(base.next[position][lane]);
            let on = onward(&frame, &stop, to, routes);
            ways_on[lane] = on.map_err(|no_way| self.reason(no_way))?;
        }
        let needs = ties.as_ref().map_or(&base.needs, |ties| &ties.plan);
        let draws = base.draws(ready, plan, needs);
        let at = (position, &own);
        let added = added((base, candidate), ties.as_ref(), &stop, at, ways_on);
        let chances = chances(&draws, &frame, &added, &own, self.hopeless(rough));
        let draws = InDraws::Added(draws, ways_on);
        Ok(self.made(score, (own, stop, finish), chances, (draws, ties), rough))
    }

    fn made(
        &self,
        score: &Score,
        (own, stop, finish): (Block, Stop, Finish),
        (chance, inside): (f64, Inside),
        (draws, ties): (InDraws, Option<Ties>),
        rough: bool,
    ) -> Found {
        let (place, figures) = found_place(self, score, &own, &finish, chance);
        Found {
            place,
            figures,
            position: score.position,
            own,
            stop,
            finish,
            inside,
            rough: chance < self.hopeless(rough),
            blocks: OnceCell::new(),
            waits_for: None,
            p80: OnceCell::new(),
            draws,
            ties,
        }
    }

    /// The tool that the task has in common with a stop of the plan.
    fn shared_with(&self, other: usize) -> Option<(ToolAt, TaskAt)> {
        let held = self.plan.sequence.uses.iter().filter(|(_, place)| *place == other);
        let tool = held.map(|(tool, _)| *tool).find(|tool| self.candidate.tools.contains(tool))?;
        Some((tool, self.ready.task_of(self.plan, other)))
    }

    /// The stops of the plan with the task in a place that was found.
    fn blocks_with(&self, found: &Found) -> Vec<Block> {
        let Self { plan, base, candidate, .. } = *self;
        let position = found.position;
        let mut blocks = base.blocks[..position].to_vec();
        blocks.push(found.own);
        let ties = found.ties.as_ref();
        let needs = ties.map_or(&base.needs[..], |ties| &ties.plan);
        let needed_by = ties.map_or(&candidate.needed_by[..], |ties| &ties.needed_by);
        let own_needs = ties.map_or(&candidate.needs[..], |ties| &ties.needs);
        let release = own_needs.iter().map(|&first| base.blocks[first].end).fold(0.0, later);
        let mut state = base.states[position];
        let stops = &plan.sequence.stops;
        // It was timed before, so there is a route everywhere.
        let Ok(own) = self.go(&mut state, (stops.len(), &found.stop), release) else {
            return blocks;
        };
        for (place, next) in stops.iter().enumerate().skip(position) {
            let behind = |first: usize| blocks[first + 1].end;
            let at = (position, own.end);
            let release = self.release(at, place, (needs, needed_by), behind);
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
            let task = Task { ready, plan, base, candidate, frame, routes, tools: true };
            task.blocks_with(self)
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
    let at_last = ready.snapshot.excursions[plan.excursion].slots.next_key();
    let after = |lane: usize| finish.own_ends()[lane];
    let lane = score.lanes.each().max_by(|&a, &b| after(a).total_cmp(&after(b))).unwrap_or(0);
    let before = base.finish.own_ends()[lane];
    let past_plan = plan.planned.map_or(0.0, |planned| (score.end - planned).max(0.0));
    let place = Place {
        lanes: score.lanes,
        before_slot: plan.slots.get(score.position).copied().unwrap_or(at_last),
        start: own.start,
        end: own.end,
        begin: Some(score.begin).filter(|begin| *begin > 0.0).or(task.candidate.begin),
        added: after(lane) - before,
        excursion_end: score.end,
        margin: plan.limit - score.end,
        margin_to_plan: plan.planned.map(|planned| planned - score.end),
        chance,
    };
    let figures = TimeFigures {
        needs: up(place.added),
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
