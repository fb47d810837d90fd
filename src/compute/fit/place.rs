//! The best place for a task in the lanes of an excursion as planned: every position, every
//! choice of seats, and of these the one with the most margin.

use super::ready::{Plan, Ready, SetAt};
use super::reasons::{TimeFigures, Unknown};
use super::verdict::Place;
use crate::compute::three_point::Spread;
use crate::compute::timeline::{Finish, Lanes, NoWay, Order, State, Stop, later};

/// A plan timed as it stands, kept stop by stop so that a task can be put in anywhere.
pub(super) struct Base {
    /// Before each stop, and after the last.
    states: Vec<State>,
    ends: Vec<Spread>,
    pub finish: Finish,
}

/// A task looking for its place.
pub(super) struct Candidate<'a> {
    pub site: usize,
    pub seats: usize,
    pub work: Spread,
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

fn nothing(_: crate::compute::timeline::Segment) {}

impl Base {
    /// Times a plan while those aids are in place; it fails at a stop or on the way home.
    pub fn of(ready: &Ready, plan: &Plan, sets: &[SetAt]) -> Result<Self, (usize, Unknown)> {
        let frame = plan.frame(&ready.sites);
        let order = Order { stops: &plan.stops, needs: &plan.needs };
        let mut state = State::outside(&frame);
        let mut states = vec![state];
        let mut ends: Vec<Spread> = Vec::with_capacity(plan.stops.len());
        for (place, stop) in plan.stops.iter().enumerate() {
            let release = order.release(place, |first| ends[first]);
            let set = sets[place];
            let block = state
                .go(&frame, (place, stop), ready.network(set), release, &mut nothing)
                .map_err(|no_way| (place, reason(ready, set, no_way)))?;
            ends.push(block.end);
            states.push(state);
        }
        let home = plan.stops.len();
        let finish = state
            .finish(&frame, ready.network(sets[home]), &mut nothing)
            .map_err(|no_way| (home, reason(ready, sets[home], no_way)))?;
        Ok(Self { states, ends, finish })
    }
}

/// A search for places in one plan after the other; it keeps its working space.
#[derive(Default)]
pub(super) struct Search {
    ends: Vec<Spread>,
}

/// One place tried.
struct Tried {
    position: usize,
    lanes: Lanes,
    start: f64,
    end: f64,
    finish: Finish,
}

impl Search {
    /// The place with the most margin; of equals the one that costs its own lanes least, then
    /// the later one.
    pub fn best(
        &mut self,
        ready: &Ready,
        plan: &Plan,
        base: &Base,
        candidate: &Candidate,
    ) -> Result<(Place, TimeFigures), NoPlace> {
        self.ends.clear();
        self.ends.resize(plan.stops.len(), Spread::default());
        let mut best: Option<Tried> = None;
        let mut miss = NoPlace::Order;
        for position in (candidate.earliest..=candidate.latest).rev() {
            for lanes in choices(plan.lanes, candidate) {
                if same_as_later(plan, candidate, position, lanes) {
                    continue;
                }
                match self.attempt(ready, plan, base, candidate, position, lanes) {
                    Ok(tried) => {
                        if best.as_ref().is_none_or(|best| better(&tried, best)) {
                            best = Some(tried);
                        }
                    }
                    Err(unknown) => miss = NoPlace::Way(unknown),
                }
            }
        }
        best.map(|tried| describe(ready, plan, base, &tried)).ok_or(miss)
    }

    fn attempt(
        &mut self,
        ready: &Ready,
        plan: &Plan,
        base: &Base,
        candidate: &Candidate,
        position: usize,
        lanes: Lanes,
    ) -> Result<Tried, Unknown> {
        let frame = plan.frame(&ready.sites);
        let order = Order { stops: &plan.stops, needs: &plan.needs };
        let mut state = base.states[position];
        let stop = Stop { site: candidate.site, lanes, work: candidate.work };
        let release = candidate.needs.iter().map(|&first| base.ends[first]);
        let release = release.fold(Spread::default(), later);
        let go = |state: &mut State, place: usize, stop: &Stop, set: SetAt, release: Spread| {
            state
                .go(&frame, (place, stop), ready.network(set), release, &mut nothing)
                .map_err(|no_way| reason(ready, set, no_way))
        };
        let own = go(&mut state, plan.stops.len(), &stop, plan.sets[position], release)?;
        let sets = candidate.sets_after.unwrap_or(&plan.sets);
        for (place, next) in plan.stops.iter().enumerate().skip(position) {
            let ends = &self.ends;
            let end = |first: usize| if first < position { base.ends[first] } else { ends[first] };
            let mut release = order.release(place, end);
            if candidate.needed_by.contains(&place) {
                release = later(release, own.end);
            }
            self.ends[place] = go(&mut state, place, next, sets[place], release)?.end;
        }
        let home = sets[plan.stops.len()];
        let finish = state
            .finish(&frame, ready.network(home), &mut nothing)
            .map_err(|no_way| reason(ready, home, no_way))?;
        Ok(Tried { position, lanes, start: own.start, end: own.end.mean, finish })
    }
}

/// In front of a stop of other lanes a task stands just as it does behind it.
fn same_as_later(plan: &Plan, candidate: &Candidate, position: usize, lanes: Lanes) -> bool {
    position < candidate.latest
        && !lanes.meets(plan.stops[position].lanes)
        && candidate.sets_after.is_none()
        && plan.sets[position] == plan.sets[position + 1]
        && plan.needs.is_empty()
        && candidate.needs.is_empty()
        && candidate.needed_by.is_empty()
}

fn reason(ready: &Ready, set: SetAt, no_way: NoWay) -> Unknown {
    ready.no_way(set, no_way.from, no_way.to)
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

fn better(one: &Tried, other: &Tried) -> bool {
    let (end, best) = (one.finish.end(), other.finish.end());
    if (end - best).abs() > 1e-9 {
        return end < best;
    }
    let sum = |tried: &Tried| tried.finish.ends().iter().map(|end| end.mean).sum::<f64>();
    sum(one) < sum(other) - 1e-9
}

fn describe(ready: &Ready, plan: &Plan, base: &Base, tried: &Tried) -> (Place, TimeFigures) {
    let slots = ready.snapshot.excursions[plan.excursion].slots.len();
    let end = tried.finish.end();
    let after = |lane: usize| tried.finish.ends()[lane].mean;
    let lane = tried.lanes.each().max_by(|&a, &b| after(a).total_cmp(&after(b))).unwrap_or(0);
    let before = base.finish.ends()[lane].mean;
    let chance = tried.finish.chance_by(plan.limit);
    let past_plan = plan.planned.map_or(0.0, |planned| (end - planned).max(0.0));
    let place = Place {
        lanes: tried.lanes,
        before_slot: plan.slots.get(tried.position).copied().unwrap_or(slots),
        start: tried.start,
        end: tried.end,
        added: after(lane) - before,
        excursion_end: end,
        margin: plan.limit - end,
        margin_to_plan: plan.planned.map(|planned| planned - end),
        chance,
    };
    let figures = TimeFigures {
        needs: whole(place.added),
        left: whole(plan.limit - before),
        margin: whole(place.margin),
        past_plan: whole(past_plan),
        chance: narrow(chance),
        lanes: tried.lanes,
    };
    (place, figures)
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
fn narrow(chance: f64) -> f32 {
    chance as f32
}
