//! The best place for a task in the lanes of an excursion as planned: every position, every
//! choice of seats, and of these the one with the most margin.

mod base;
mod score;

pub(super) use base::Base;

use score::{AtBest, Score, at_best};

use super::ready::{Plan, Ready, SetAt};
use super::reasons::{TimeFigures, Unknown};
use super::verdict::Place;
use crate::compute::timeline::{
    Block, Ends, Finish, Frame, Lanes, NoWay, Segment, Spreads, State, Stop, later,
};

/// A task looking for its place.
pub(super) struct Candidate<'a> {
    /// The task as a stop, its lanes still to be chosen.
    pub stop: Stop,
    pub seats: usize,
    /// The seats it must take, where they are given.
    pub lanes: Option<Lanes>,
    /// The positions allowed: before the stop of this number, the count of stops for the end.
    pub earliest: usize,
    pub latest: usize,
    /// Stops that it waits for, and stops that wait for it.
    pub needs: Vec<usize>,
    pub needed_by: Vec<usize>,
    /// The aids that are left on the way to each later stop, where it brings one in.
    pub sets_after: Option<&'a [SetAt]>,
}

/// Why there is no place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum NoPlace {
    Order,
    Way(Unknown),
}

fn nothing(_: Segment) {}

/// A search for places in one plan after the other; it keeps its working space.
#[derive(Default)]
pub(super) struct Search {
    /// The stops of the plan from the task on, as they are once it is put in its best place.
    pub behind: Vec<Block>,
    blocks: Vec<Block>,
    places: Vec<AtBest>,
}

/// A task put in one place, timed.
#[derive(Clone, Copy)]
struct Tried {
    score: Score,
    own: Block,
    finish: Finish,
}

/// A place found, with all that the gates ask of it.
pub(super) struct Found {
    pub place: Place,
    pub figures: TimeFigures,
    pub position: usize,
    pub own: Block,
    /// The stop with its lanes.
    pub stop: Stop,
    pub finish: Finish,
    /// The lanes right after the task, for the chance that it ends inside its windows.
    pub spreads: Spreads,
}

/// One search: what is the same for every place that is tried.
#[derive(Clone, Copy)]
struct Task<'a, 's> {
    ready: &'a Ready<'s>,
    plan: &'a Plan,
    base: &'a Base,
    candidate: &'a Candidate<'a>,
    frame: Frame<'a>,
}

impl Search {
    /// The best place. Places are tried that can still beat the best one so far, the most
    /// promising first.
    pub fn best(
        &mut self,
        ready: &Ready,
        plan: &Plan,
        base: &Base,
        candidate: &Candidate,
    ) -> Result<Found, NoPlace> {
        self.blocks.resize(plan.stops.len(), Block::default());
        let task = Task { ready, plan, base, candidate, frame: plan.frame(ready) };
        let mut miss = self.list_places(&task);
        let mut best: Option<Score> = None;
        let promising = |a: &usize, b: &usize| {
            let beats = self.places[*a].score.beats(&self.places[*b].score);
            if beats { std::cmp::Ordering::Less } else { std::cmp::Ordering::Greater }
        };
        let first = (0..self.places.len()).min_by(promising);
        for at in first.into_iter().chain(0..self.places.len()) {
            let place = self.places[at];
            if best.as_ref().is_some_and(|best| !place.score.beats(best)) {
                continue;
            }
            let score = if place.exact {
                Ok(place.score)
            } else {
                let Score { position, lanes, .. } = place.score;
                let tried = self.attempt(&task, position, lanes, best.as_ref(), &mut |_, _| {});
                match tried {
                    Ok(Some(tried)) => Ok(tried.score),
                    Ok(None) => continue,
                    Err(unknown) => Err(unknown),
                }
            };
            match score {
                Ok(score) if best.as_ref().is_none_or(|best| score.beats(best)) => {
                    best = Some(score);
                }
                Ok(_) => {}
                Err(unknown) => miss = NoPlace::Way(unknown),
            }
        }
        let best = best.ok_or(miss)?;
        self.describe(&task, &best).map_err(NoPlace::Way)?.ok_or(miss)
    }

    /// Every place there is, with the best that each can be; and why there may be none.
    fn list_places(&mut self, task: &Task) -> NoPlace {
        let Task { plan, candidate, .. } = *task;
        let mut miss = NoPlace::Order;
        self.places.clear();
        for position in (candidate.earliest..=candidate.latest).rev() {
            for lanes in choices(plan.lanes, candidate) {
                if task.same_as_later(position, lanes) {
                    continue;
                }
                match at_best(task, position, lanes) {
                    Ok(place) => self.places.push(place),
                    Err(unknown) => miss = NoPlace::Way(unknown),
                }
            }
        }
        miss
    }

    /// Puts the task in one place and times what follows; stops that it does not move go as they
    /// do without it. It gives up, with `None`, once the place cannot beat `best`. `watch` sees
    /// every stop from the task on.
    fn attempt(
        &mut self,
        task: &Task,
        position: usize,
        lanes: Lanes,
        best: Option<&Score>,
        watch: &mut impl FnMut(&Stop, &Block),
    ) -> Result<Option<Tried>, Unknown> {
        let Task { ready, plan, base, candidate, frame } = *task;
        let mut state = base.states[position];
        let stop = Stop { lanes, ..candidate.stop };
        let release = candidate.needs.iter().map(|&first| base.blocks[first].end);
        let release = release.fold(0.0, later);
        let go = |state: &mut State, place: usize, stop: &Stop, set: SetAt, release: f64| {
            state
                .go(&frame, (place, stop), ready.aids.network(set), release, &mut nothing)
                .map_err(|no_way| reason(ready, set, no_way))
        };
        let own = go(&mut state, plan.stops.len(), &stop, plan.sets[position], release)?;
        watch(&stop, &own);
        let mut score =
            Score { position, lanes, outside: base.outside[position], end: 0.0, sum: 0.0 };
        score.outside += u32::from(own.outside_windows);
        let sets = candidate.sets_after.unwrap_or(&plan.sets);
        let all = task.moves_all();
        let mut moved = if all { Lanes::up_to(plan.lanes) } else { lanes };
        for (place, next) in plan.stops.iter().enumerate().skip(position) {
            let same_arm = !next.arm || state.same_arm(&base.states[place]);
            if !all && same_arm && !next.lanes.meets(moved) {
                let block = &base.blocks[place];
                state.follow(next, &base.states[place + 1]);
                score.outside += u32::from(block.outside_windows);
                watch(next, block);
                continue;
            }
            let release = if all { self.release(task, position, place, own.end) } else { 0.0 };
            let block = go(&mut state, place, next, sets[place], release)?;
            watch(next, &block);
            score.outside += u32::from(block.outside_windows);
            if all {
                self.blocks[place] = block;
                continue;
            }
            let behind = base.tails[place].iter().copied().fold(0.0, f64::max);
            let hopeless = Score { end: block.start + behind, sum: 0.0, ..score };
            if best.is_some_and(|best| !hopeless.beats(best)) {
                return Ok(None);
            }
            for lane in next.lanes.each() {
                let same = state.same_lane(lane, &base.states[place + 1]);
                moved = if same { moved.without(lane) } else { moved.and(lane) };
            }
        }
        let home = sets[plan.stops.len()];
        let finish = state
            .finish(&frame, ready.aids.network(home), &mut nothing)
            .map_err(|no_way| reason(ready, home, no_way))?;
        score.end = finish.end();
        score.sum = finish.ends().iter().sum();
        Ok(Some(Tried { score, own, finish }))
    }

    /// The latest of what a stop waits for, the task itself among it.
    fn release(&self, task: &Task, position: usize, place: usize, own_end: f64) -> f64 {
        let Task { plan, base, candidate, .. } = *task;
        let release = plan.order().release(place, |first| {
            if first < position { base.blocks[first].end } else { self.blocks[first].end }
        });
        if candidate.needed_by.contains(&place) { later(release, own_end) } else { release }
    }

    /// Goes through the best place once more, for its chance and for what the gates ask.
    fn describe(&mut self, task: &Task, best: &Score) -> Result<Option<Found>, Unknown> {
        let Score { position, lanes, .. } = *best;
        let mut spreads = task.base.spreads[position];
        let mut after_own = None;
        let mut behind = std::mem::take(&mut self.behind);
        behind.clear();
        let tried = self.attempt(task, position, lanes, None, &mut |stop, block| {
            spreads.go(stop, block);
            if after_own.is_some() {
                behind.push(*block);
            }
            after_own.get_or_insert(spreads);
        });
        self.behind = behind;
        let Some(tried) = tried? else { return Ok(None) };
        let ends = spreads.finish(&tried.finish, &task.ready.constants.crew_day());
        let (place, figures) = tried.place(task, &ends);
        Ok(Some(Found {
            place,
            figures,
            position,
            own: tried.own,
            stop: Stop { lanes, ..task.candidate.stop },
            finish: tried.finish,
            spreads: after_own.unwrap_or(spreads),
        }))
    }
}

impl Task<'_, '_> {
    /// Stops wait for one another across the lanes, or the ways change: all are timed anew.
    fn moves_all(&self) -> bool {
        let Self { plan, base, candidate, .. } = self;
        !base.plain
            || !plan.needs.is_empty()
            || !candidate.needed_by.is_empty()
            || candidate.sets_after.is_some()
    }

    /// In front of a stop of other lanes a task stands just as it does behind it.
    fn same_as_later(&self, position: usize, lanes: Lanes) -> bool {
        let Self { plan, candidate, .. } = self;
        position < candidate.latest
            && !lanes.meets(plan.stops[position].lanes)
            && !(candidate.stop.arm && plan.stops[position].arm)
            && candidate.sets_after.is_none()
            && plan.sets[position] == plan.sets[position + 1]
            && plan.needs.is_empty()
            && candidate.needs.is_empty()
            && candidate.needed_by.is_empty()
    }
}

impl Tried {
    fn place(&self, task: &Task, ends: &Ends) -> (Place, TimeFigures) {
        let Task { ready, plan, base, .. } = *task;
        let slots = ready.snapshot.excursions[plan.excursion].slots.len();
        let after = |lane: usize| self.finish.ends()[lane];
        let lane =
            self.score.lanes.each().max_by(|&a, &b| after(a).total_cmp(&after(b))).unwrap_or(0);
        let before = base.finish.ends()[lane];
        let chance = ends.chance_by(plan.limit);
        let past_plan = plan.planned.map_or(0.0, |planned| (self.score.end - planned).max(0.0));
        let place = Place {
            lanes: self.score.lanes,
            before_slot: plan.slots.get(self.score.position).copied().unwrap_or(slots),
            start: self.own.start,
            end: self.own.end,
            added: after(lane) - before,
            excursion_end: self.score.end,
            margin: plan.limit - self.score.end,
            margin_to_plan: plan.planned.map(|planned| planned - self.score.end),
            chance,
        };
        let figures = TimeFigures {
            needs: whole(place.added),
            left: whole(plan.limit - before),
            margin: whole(place.margin),
            past_plan: whole(past_plan),
            chance: narrow(chance),
            lanes: self.score.lanes,
        };
        (place, figures)
    }
}

fn reason(ready: &Ready, set: SetAt, no_way: NoWay) -> Unknown {
    ready.aids.no_way(set, no_way.from, no_way.to)
}

/// The seats that could take it.
fn choices(lanes: usize, candidate: &Candidate) -> impl Iterator<Item = Lanes> {
    let given = candidate.lanes;
    let seats = candidate.seats;
    Lanes::all(lanes).filter(move |choice| match given {
        Some(given) => *choice == given,
        None => choice.count() == seats,
    })
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "minutes of an excursion, rounded; `as` saturates"
)]
pub(super) fn whole(minutes: f64) -> i32 {
    minutes.round() as i32
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a chance shown in per cent needs no more digits"
)]
pub(super) fn narrow(chance: f64) -> f32 {
    chance as f32
}
