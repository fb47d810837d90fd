//! What is told of the best place once it is found: its times, its chance, and what the gates ask.

use super::score::Score;
use super::task::{Task, reason};
use super::{Base, Candidate, Search};
use crate::compute::fit::ready::{Plan, Ready};
use crate::compute::fit::reasons::{TimeFigures, Unknown};
use crate::compute::fit::verdict::Place;
use crate::compute::timeline::{
    Added, Block, Finish, Frame, Lived, MOST_LANES, Order, Stop, live_through, onward,
};

/// A place found, with all that the gates ask of it.
pub(in crate::compute::fit) struct Found {
    pub place: Place,
    pub figures: TimeFigures,
    pub position: usize,
    pub own: Block,
    /// The stop with its lanes.
    pub stop: Stop,
    pub finish: Finish,
    /// The chance that it is done before the window of the arm closes, and that of the light.
    pub inside: Inside,
}

/// Chances to be done before a window closes; 0 where there is none.
#[derive(Debug, Clone, Copy, Default)]
pub(in crate::compute::fit) struct Inside {
    pub arm: f64,
    pub light: f64,
}

/// The chances of a task put into a plan. Windows count that are open when it starts at the mean.
pub(in crate::compute::fit) fn chances(
    lived: &Lived,
    frame: &Frame,
    added: &Added,
    own: &Block,
) -> (f64, Inside) {
    let (arm, light) = (added.stop.arm, added.stop.light);
    let (mut opens, mut closes) = (0.0, [None, None]);
    if added.stop.waits() && !own.outside_windows {
        opens = frame.windows.opened(arm, light, own.start);
        closes = frame.windows.closes(arm, light, own.start).into();
    }
    let (chance, [arm, light]) = lived.chances(added, (opens, closes));
    (chance, Inside { arm, light })
}

impl Search {
    /// Goes through the best place once more, for its chance and for what the gates ask.
    pub(super) fn describe(
        &mut self,
        task: &Task,
        best: &Score,
        home: Option<Finish>,
    ) -> Result<Found, Unknown> {
        let Task { ready, plan, base, candidate, .. } = *task;
        let Score { position, lanes, .. } = *best;
        let stop = Stop { lanes, ..candidate.stop };
        // Where something waits, moments do not tell the chance.
        let waits = plan.order().waits()
            || stop.waits()
            || !candidate.needs.is_empty()
            || !candidate.needed_by.is_empty();
        let (mut state, set) = (base.states[position], plan.sets[position]);
        let own = task.go(&mut state, (plan.stops.len(), &stop), set, task.own_release())?;
        let finish = if let Some(finish) = home {
            finish
        } else {
            let behind = self.behind(task, state, own.end, *best, None)?;
            task.finish(behind.map_or(state, |behind| behind.state))?
        };
        let (chance, inside) = if waits {
            self.lived(task, &stop, (position, &own), &finish)?
        } else {
            let mut spreads = base.spreads[position];
            spreads.go(&stop, &own);
            let behind = self.blocks_behind(task, position, &stop)?;
            let stops = plan.stops[position..].iter().zip(behind);
            stops.for_each(|(stop, block)| spreads.go(stop, block));
            let ends = spreads.finish(&finish, ready.constants.crew_day());
            (ends.chance_by(plan.limit), Inside::default())
        };
        let (place, figures) = found_place(task, best, &own, &finish, chance);
        Ok(Found { place, figures, position, own, stop, finish, inside })
    }

    /// The stops of the plan from the task on, as they are with it in a place that was found.
    pub fn behind_found(
        &mut self,
        ready: &Ready,
        plan: &Plan,
        base: &Base,
        candidate: &Candidate,
        found: &Found,
    ) -> &[Block] {
        let task = Task { ready, plan, base, candidate, frame: plan.frame(ready) };
        // It was timed before, so there is a way.
        self.blocks_behind(&task, found.position, &found.stop).unwrap_or_default()
    }

    fn blocks_behind(
        &mut self,
        task: &Task,
        position: usize,
        stop: &Stop,
    ) -> Result<&[Block], Unknown> {
        let Task { plan, base, candidate, .. } = *task;
        let mut state = base.states[position];
        let (set, release) = (plan.sets[position], task.own_release());
        let own = task.go(&mut state, (plan.stops.len(), stop), set, release)?;
        let sets = candidate.sets_after.unwrap_or(&plan.sets);
        self.behind.clear();
        for (place, next) in plan.stops.iter().enumerate().skip(position) {
            let behind = |first: usize| self.behind[first - position].end;
            let release = task.release(position, place, own.end, behind);
            let block = task.go(&mut state, (place, next), sets[place], release)?;
            self.behind.push(block);
        }
        Ok(&self.behind)
    }

    /// The chances of a place from the plan in many draws.
    fn lived(
        &mut self,
        task: &Task,
        stop: &Stop,
        (position, own): (usize, &Block),
        finish: &Finish,
    ) -> Result<(f64, Inside), Unknown> {
        let Task { ready, plan, base, candidate, frame } = *task;
        let lived = base.lived(ready, plan);
        let set = plan.sets[position];
        let mut ways_on = [0.0; MOST_LANES];
        for lane in stop.lanes.each() {
            let to = plan.stops.get(base.next[position][lane]);
            let on = onward(&frame, stop, to, ready.aids.network(set));
            ways_on[lane] = on.map_err(|no_way| reason(ready, set, no_way))?;
        }
        let added = Added {
            position,
            stop,
            ways_there: own.gaps(),
            next: base.next[position],
            ways_on,
            next_arm: base.next_arm[position],
            needs: &candidate.needs,
            needed_by: &candidate.needed_by,
        };
        let (chance, inside) = chances(lived, &frame, &added, own);
        let chance = if candidate.sets_after.is_some() {
            self.lived_anew(task, stop, (position, own), finish)?
        } else {
            chance
        };
        Ok((chance, inside))
    }

    /// The same where the task changes the ways behind it: the whole plan with it is lived through.
    fn lived_anew(
        &mut self,
        task: &Task,
        stop: &Stop,
        (position, own): (usize, &Block),
        finish: &Finish,
    ) -> Result<f64, Unknown> {
        let Task { ready, plan, base, candidate, frame } = *task;
        let mut stops = plan.stops.clone();
        stops.insert(position, *stop);
        let mut blocks = base.blocks[..position].to_vec();
        blocks.push(*own);
        blocks.extend_from_slice(self.blocks_behind(task, position, stop)?);
        let moved = |place: usize| place + usize::from(place >= position);
        let own_needs = candidate.needs.iter().map(|&first| (moved(first), position));
        let needed = candidate.needed_by.iter().map(|&then| (position, moved(then)));
        let before = plan.needs.iter().map(|&(first, then)| (moved(first), moved(then)));
        let needs: Vec<(usize, usize)> = before.chain(own_needs).chain(needed).collect();
        let order = Order { stops: &stops, needs: &needs };
        let crew_day = ready.constants.crew_day();
        Ok(live_through(&frame, order, &blocks, finish, plan.limit, crew_day).chance())
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
    let after = |lane: usize| finish.ends()[lane];
    let lane = score.lanes.each().max_by(|&a, &b| after(a).total_cmp(&after(b))).unwrap_or(0);
    let before = base.finish.ends()[lane];
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
        needs: whole(place.added),
        left: whole(plan.limit - before),
        margin: whole(place.margin),
        past_plan: whole(past_plan),
        chance: narrow(chance),
        lanes: score.lanes,
    };
    (place, figures)
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "minutes of an excursion, rounded; `as` saturates"
)]
pub(in crate::compute::fit) fn whole(minutes: f64) -> i32 {
    minutes.round() as i32
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a chance shown in per cent needs no more digits"
)]
pub(in crate::compute::fit) fn narrow(chance: f64) -> f32 {
    chance as f32
}
