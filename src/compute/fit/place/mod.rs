//! The best place for a task in the lanes of an excursion as planned: every position, every
//! choice of seats, and of these the one with the most margin. `best` finds it fast; where a check
//! fails there, `complete` goes through all of them until one passes.

mod base;
mod complete;
mod course;
mod found;
mod minutes;
mod moved;
mod score;
mod task;
mod waiting;

use crate::places::{TaskAt, ToolAt};
pub(super) use base::Base;
pub(super) use complete::{Grade, Graded, Searched, Wanted};
pub(super) use found::{Found, Inside, chances, narrow};
pub(super) use minutes::{down, nearest, up};

use course::Course;
use found::DOUBT;
use moved::{Behind, time_moved};
use score::{Bounds, Score};
use task::Task;

use super::ready::{Plan, Ready};
use super::reasons::Unknown;
use crate::timeline::{Added, Detour, Finish, Lanes, Stop};

/// A task looking for its place.
pub(super) struct Candidate {
    pub task: TaskAt,
    /// The task as a stop, its lanes still to be chosen.
    pub stop: Stop,
    /// The minute before which it is not begun on purpose, where one was asked for.
    pub begin: Option<f64>,
    /// Such a minute may be looked for.
    pub may_wait: bool,
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
    /// It brings in aids that routes need.
    pub brings_in: bool,
    /// The tools it uses of which there are fewer than lanes.
    pub tools: Vec<ToolAt>,
}

impl Candidate {
    /// Whether it has too small a chance to end inside the limit wherever it goes: the plan as it
    /// stands leaves no room for its work in any lane, or not enough of it in any place. Nothing
    /// waits for a tool there.
    pub fn is_late_everywhere(&self, ready: &Ready, plan: &Plan, base: &Base) -> bool {
        let enough = ready.constants.tight_from - DOUBT;
        let draws = base.draws(ready, plan, &base.needs);
        let (detours, rooms) = base.rooms(ready, plan, self.stop.site);
        if draws.most_in_time(rooms, choices(plan.lanes, self), self.stop.work) < enough {
            return true;
        }
        let slides = !self.stop.arm && self.needs.is_empty() && self.needed_by.is_empty();
        (self.earliest..=self.latest).all(|position| {
            choices(plan.lanes, self).all(|lanes| {
                let behind = plan.sequence.stops.get(position).filter(|_| position < self.latest);
                if slides && behind.is_some_and(|stop| !lanes.meets(stop.lanes)) {
                    // It stands behind that stop just as it does before it.
                    return true;
                }
                let stop = Stop { lanes, ..self.stop };
                let Detour { there, on } = detours[position];
                let added = Added {
                    position,
                    stop: &stop,
                    ways_there: there,
                    next: base.next[position],
                    ways_on: on,
                    next_arm: base.next_arm[position],
                    needs: &self.needs,
                    needed_by: &self.needed_by,
                };
                draws.first_chance(&added) < enough
            })
        })
    }
}

/// Why there is no place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum NoPlace {
    Order,
    Way(Unknown),
}

/// A search for places in one plan after the other; it keeps its working space.
#[derive(Default)]
pub(super) struct Search {
    course: Course,
    choices: Vec<Lanes>,
    places: Vec<Score>,
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
        let routes = &*ready.aids.network(plan.sequence.first);
        let frame = plan.frame(ready);
        let task = Task { ready, plan, base, candidate, frame, routes, tools: false };
        let mut miss = NoPlace::Order;
        let mut best = self.list_places(&task);
        // How the lanes come home from the best place, where that was timed.
        let mut home: Option<Finish> = None;
        let promising = |a: &usize, b: &usize| {
            let beats = self.places[*a].beats(&self.places[*b]);
            if beats { std::cmp::Ordering::Less } else { std::cmp::Ordering::Greater }
        };
        let first = (0..self.places.len()).min_by(promising);
        for at in first.into_iter().chain(0..self.places.len()) {
            let place = self.places[at];
            if best.as_ref().is_some_and(|best| !place.beats(best)) {
                continue;
            }
            let Score { position, lanes, .. } = place;
            match self.attempt(&task, (position, lanes), best.as_ref()) {
                Ok(Some((score, finish))) if best.as_ref().is_none_or(|best| score.beats(best)) => {
                    (best, home) = (Some(score), Some(finish));
                }
                Ok(_) => {}
                Err(unknown) => miss = NoPlace::Way(unknown),
            }
        }
        let best = best.ok_or(miss)?;
        self.describe(&task, &best, home, false).map_err(NoPlace::Way)
    }

    /// Finds the best of the places that need no timing, and lists the others that may beat it
    /// with the best that each can be.
    fn list_places(&mut self, task: &Task) -> Option<Score> {
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
        let mut best: Option<Score> = None;
        for position in (candidate.earliest..=candidate.latest).rev() {
            for &lanes in &self.choices {
                if slides && task.same_as_later(position, lanes) {
                    continue;
                }
                let (score, exact) = match &bounds {
                    Some(bounds) => bounds.at_best(position, lanes),
                    None => (Score::untold(position, lanes), false),
                };
                if best.as_ref().is_some_and(|best| !score.beats(best)) {
                    continue;
                }
                if exact {
                    best = Some(score);
                } else {
                    self.places.push(score);
                }
            }
        }
        best
    }

    /// How good a place is: the task is put there and what follows is timed. `None` once the
    /// place cannot beat `best`.
    fn attempt(
        &mut self,
        task: &Task,
        (position, lanes): (usize, Lanes),
        best: Option<&Score>,
    ) -> Result<Option<(Score, Finish)>, Unknown> {
        let base = task.base;
        let score = Score::untold(position, lanes);
        let stop = task.stop(&score);
        if task.moves_all() {
            let (state, outside) = self.course.run(task, position, &stop)?;
            return task.scored(score, Behind { state, outside }).map(Some);
        }
        let mut state = base.states[position];
        let (_, _, missed) = task.pass(&mut state, &stop, task.own_release())?;
        let score = Score { outside: u32::from(missed), missed, ..score };
        let Some(behind) = time_moved(task, state, score, best)? else { return Ok(None) };
        task.scored(score, behind).map(Some)
    }
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

#[cfg(test)]
mod tests;
