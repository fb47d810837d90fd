//! The best place for a task in the lanes of an excursion as planned: every position, every
//! choice of seats, and of these the one with the most margin.

mod base;
mod moved;
mod score;

pub(super) use base::Base;

use moved::time_moved;
use score::{AtBest, Bounds, Score};

use super::ready::{Plan, Ready, SetAt};
use super::reasons::{TimeFigures, Unknown};
use super::verdict::Place;
use crate::compute::timeline::{
    Added, Block, Finish, Frame, Lanes, Lived, MOST_LANES, NoWay, Order, Segment, State, Stop,
    later, live_through, onward,
};

/// A task looking for its place.
pub(super) struct Candidate<'a> {
    /// The task as a stop, its lanes still to be chosen.
    pub stop: Stop,
    pub seats: usize,
    /// The seats it must take, where they are given.
    pub lanes: Option<Lanes>,
    /// The lanes of those who are trained in it; others are looked at only where these do not do.
    pub apt: Lanes,
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
    ends: Vec<f64>,
    choices: Vec<Lanes>,
    places: Vec<AtBest>,
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
    /// The chance that it is done before the window of the arm closes, and that of the light.
    pub inside: Inside,
}

/// Chances to be done before a window closes; 0 where there is none.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Inside {
    pub arm: f64,
    pub light: f64,
}

/// The chances of a task put into a plan. Windows count that are open when it starts at the mean.
pub(super) fn chances(lived: &Lived, frame: &Frame, added: &Added, own: &Block) -> (f64, Inside) {
    let (arm, light) = (added.stop.arm, added.stop.light);
    let (mut opens, mut closes) = (0.0, [None, None]);
    if added.stop.waits() && !own.outside_windows {
        opens = frame.windows.opened(arm, light, own.start);
        closes = frame.windows.closes(arm, light, own.start).into();
    }
    let (chance, [arm, light]) = lived.chances(frame.windows, added, (opens, closes));
    (chance, Inside { arm, light })
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
        self.ends.resize(plan.stops.len(), 0.0);
        let task = Task { ready, plan, base, candidate, frame: plan.frame(ready) };
        let mut miss = NoPlace::Order;
        self.list_places(&task);
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
                match self.attempt(&task, (position, lanes), best.as_ref()) {
                    Ok(Some(score)) => Ok(score),
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
        self.describe(&task, &best).map_err(NoPlace::Way)
    }

    /// Every place there is, with the best that each can be.
    fn list_places(&mut self, task: &Task) {
        let Task { plan, candidate, .. } = *task;
        self.places.clear();
        self.choices.clear();
        self.choices.extend(choices(plan.lanes, candidate));
        let apt = |lanes: &Lanes| lanes.each().all(|lane| candidate.apt.has(lane));
        if self.choices.iter().any(apt) {
            self.choices.retain(apt);
        }
        let bounds = Bounds::of(task);
        let slides = task.slides();
        for position in (candidate.earliest..=candidate.latest).rev() {
            for &lanes in &self.choices {
                if slides && task.same_as_later(position, lanes) {
                    continue;
                }
                self.places.push(match &bounds {
                    Some(bounds) => bounds.at_best(position, lanes),
                    None => AtBest::untold(position, lanes),
                });
            }
        }
    }

    /// How good a place is: the task is put there and what follows is timed. `None` once the
    /// place cannot beat `best`.
    fn attempt(
        &mut self,
        task: &Task,
        (position, lanes): (usize, Lanes),
        best: Option<&Score>,
    ) -> Result<Option<Score>, Unknown> {
        let Task { plan, base, candidate, .. } = *task;
        let mut state = base.states[position];
        let stop = Stop { lanes, ..candidate.stop };
        let (_, own_end, missed) =
            task.pass(&mut state, &stop, plan.sets[position], task.own_release())?;
        let outside = u32::from(missed);
        let score = Score { position, lanes, outside, end: 0.0, sum: 0.0 };
        if task.moves_all() {
            self.time_all(task, state, own_end, score).map(Some)
        } else {
            time_moved(task, state, score, best)
        }
    }

    /// Times every stop behind the task.
    fn time_all(
        &mut self,
        task: &Task,
        mut state: State,
        own_end: f64,
        mut score: Score,
    ) -> Result<Score, Unknown> {
        let Task { plan, base, candidate, .. } = *task;
        let sets = candidate.sets_after.unwrap_or(&plan.sets);
        score.outside += base.outside[score.position];
        for (place, next) in plan.stops.iter().enumerate().skip(score.position) {
            let behind = |first: usize| self.ends[first];
            let release = task.release(score.position, place, own_end, behind);
            let (_, end, missed) = task.pass(&mut state, next, sets[place], release)?;
            score.outside += u32::from(missed);
            self.ends[place] = end;
        }
        task.home(state, sets[plan.stops.len()], score)
    }

    /// Goes through the best place once more, for its chance and for what the gates ask.
    fn describe(&mut self, task: &Task, best: &Score) -> Result<Found, Unknown> {
        let Task { ready, plan, base, candidate, frame } = *task;
        let Score { position, lanes, .. } = *best;
        let stop = Stop { lanes, ..candidate.stop };
        // Where something waits, moments do not tell the chance.
        let waits = plan.order().waits()
            || stop.waits()
            || !candidate.needs.is_empty()
            || !candidate.needed_by.is_empty();
        let (mut state, mut spreads) = (base.states[position], base.spreads[position]);
        let go = |state: &mut State, place: usize, stop: &Stop, set: SetAt, release: f64| {
            state
                .go(&frame, (place, stop), ready.aids.network(set), release, &mut nothing)
                .map_err(|no_way| reason(ready, set, no_way))
        };
        let release = task.own_release();
        let own = go(&mut state, plan.stops.len(), &stop, plan.sets[position], release)?;
        if !waits {
            spreads.go(&stop, &own);
        }
        let sets = candidate.sets_after.unwrap_or(&plan.sets);
        self.behind.clear();
        for (place, next) in plan.stops.iter().enumerate().skip(position) {
            let behind = |first: usize| self.behind[first - position].end;
            let release = task.release(position, place, own.end, behind);
            let block = go(&mut state, place, next, sets[place], release)?;
            if !waits {
                spreads.go(next, &block);
            }
            self.behind.push(block);
        }
        let home = sets[plan.stops.len()];
        let finish = state
            .finish(&frame, ready.aids.network(home), &mut nothing)
            .map_err(|no_way| reason(ready, home, no_way))?;
        let (chance, inside) = if waits {
            self.lived(task, &stop, (position, &own), &finish)?
        } else {
            let ends = spreads.finish(&finish, ready.constants.crew_day());
            (ends.chance_by(plan.limit), Inside::default())
        };
        let (place, figures) = found_place(task, best, &own, &finish, chance);
        Ok(Found { place, figures, position, own, stop, finish, inside })
    }

    /// The chances of a place from the plan in many draws.
    fn lived(
        &self,
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
            self.lived_anew(task, stop, (position, own), finish)
        } else {
            chance
        };
        Ok((chance, inside))
    }

    /// The same where the task changes the ways behind it: the whole plan with it is lived through.
    fn lived_anew(
        &self,
        task: &Task,
        stop: &Stop,
        (position, own): (usize, &Block),
        finish: &Finish,
    ) -> f64 {
        let Task { ready, plan, base, candidate, frame } = *task;
        let mut stops = plan.stops.clone();
        stops.insert(position, *stop);
        let mut blocks = base.blocks[..position].to_vec();
        blocks.push(*own);
        blocks.extend_from_slice(&self.behind);
        let moved = |place: usize| place + usize::from(place >= position);
        let own_needs = candidate.needs.iter().map(|&first| (moved(first), position));
        let needed = candidate.needed_by.iter().map(|&then| (position, moved(then)));
        let before = plan.needs.iter().map(|&(first, then)| (moved(first), moved(then)));
        let needs: Vec<(usize, usize)> = before.chain(own_needs).chain(needed).collect();
        let order = Order { stops: &stops, needs: &needs };
        let crew_day = ready.constants.crew_day();
        live_through(&frame, order, &blocks, finish, plan.limit, crew_day).chance()
    }
}

impl Task<'_, '_> {
    /// Does a stop while those aids are in place.
    fn pass(
        &self,
        state: &mut State,
        stop: &Stop,
        set: SetAt,
        release: f64,
    ) -> Result<(f64, f64, bool), Unknown> {
        let passed = state.pass(&self.frame, stop, self.ready.aids.network(set), release);
        passed.map_err(|no_way| reason(self.ready, set, no_way))
    }

    /// Brings the lanes home, and with them the score to its end.
    fn home(&self, state: State, set: SetAt, mut score: Score) -> Result<Score, Unknown> {
        let finish = state
            .finish(&self.frame, self.ready.aids.network(set), &mut nothing)
            .map_err(|no_way| reason(self.ready, set, no_way))?;
        score.end = finish.end();
        score.sum = finish.ends().iter().sum();
        Ok(score)
    }

    /// Stops wait for one another across the lanes, or the ways change: all are timed anew.
    fn moves_all(&self) -> bool {
        let Self { plan, base, candidate, .. } = self;
        !base.plain
            || !plan.needs.is_empty()
            || !candidate.needed_by.is_empty()
            || candidate.sets_after.is_some()
    }

    /// When the task may start, for what it needs.
    fn own_release(&self) -> f64 {
        let ends = self.candidate.needs.iter().map(|&first| self.base.blocks[first].end);
        ends.fold(0.0, later)
    }

    /// The latest of what a stop waits for, the task itself among it. `behind` gives the ends of
    /// the stops from the task on.
    fn release(
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
    fn slides(&self) -> bool {
        let Self { plan, candidate, .. } = self;
        candidate.sets_after.is_none()
            && plan.needs.is_empty()
            && candidate.needs.is_empty()
            && candidate.needed_by.is_empty()
    }

    /// In front of a stop of other lanes a task that slides stands just as it does behind it.
    fn same_as_later(&self, position: usize, lanes: Lanes) -> bool {
        let Self { plan, candidate, .. } = self;
        position < candidate.latest
            && !lanes.meets(plan.stops[position].lanes)
            && !(candidate.stop.arm && plan.stops[position].arm)
            && plan.sets[position] == plan.sets[position + 1]
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

#[cfg(test)]
mod tests;
