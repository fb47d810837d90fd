//! A plan timed as it stands, with what is needed to put a task in anywhere.

use std::cell::OnceCell;

use super::task::{nothing, reason};
use crate::compute::fit::ready::{Plan, Ready, SetAt};
use crate::compute::fit::reasons::Unknown;
use crate::compute::three_point::Spread;
use crate::compute::timeline::{
    Block, Finish, Lanes, Light, Lived, MOST_LANES, Spreads, State, Stop, live_through, onward,
};

/// A plan timed as it stands, kept stop by stop so that a task can be put in anywhere.
pub(in crate::compute::fit) struct Base {
    /// Before each stop, and after the last.
    pub states: Vec<State>,
    pub spreads: Vec<Spreads>,
    /// How many stops so far found no window.
    pub outside: Vec<u32>,
    pub blocks: Vec<Block>,
    pub finish: Finish,
    /// From the start of each stop to the end of each lane, by the longest path without waiting.
    pub tails: Vec<[f64; MOST_LANES]>,
    /// The longest of them, for each stop.
    pub longest: Vec<f64>,
    /// The next stop of each lane, from each stop on; the count of stops where there is none.
    pub next: Vec<[usize; MOST_LANES]>,
    /// The next stop that takes the arm, likewise.
    pub next_arm: Vec<usize>,
    /// Whether a stop from each on waits for a window.
    pub windowed: Vec<bool>,
    /// The next stop after each that waits for a window, on the way of one of its lanes.
    pub ahead: Vec<Option<Ahead>>,
    /// Nothing is carried, no aid comes in and nothing waits for another lane's stop: what a task
    /// adds can be told from the stops next to it.
    pub plain: bool,
    /// The ways to and from every worksite, once somebody looks for a place there.
    ways: Vec<OnceCell<Vec<Ways>>>,
    /// The plan in many draws, once somebody asks for them.
    lived: OnceCell<Lived>,
}

/// When each lane would be ready to work at a worksite, and what it spends between the end of that
/// work and its next stop, or until it is inside; infinite where there is no way.
#[derive(Debug, Clone, Copy)]
pub(in crate::compute::fit) struct Ways {
    pub there: [f64; MOST_LANES],
    pub on: [f64; MOST_LANES],
}

/// A stop that waits for a window, and the minutes of work and ways from the start of an earlier
/// one to it.
#[derive(Clone, Copy)]
pub(in crate::compute::fit) struct Ahead {
    pub stop: usize,
    pub minutes: f64,
}

impl Base {
    /// Times a plan while those aids are in place; it fails at a stop or on the way home.
    pub fn of(ready: &Ready, plan: &Plan, sets: &[SetAt]) -> Result<Self, (usize, Unknown)> {
        let frame = plan.frame(ready);
        let order = plan.order();
        let (mut state, mut spread) = (State::outside(&frame), Spreads::outside(&frame));
        let (mut states, mut spreads, mut outside) = (vec![state], vec![spread], vec![0]);
        let mut blocks: Vec<Block> = Vec::with_capacity(plan.stops.len());
        let mut missed = 0;
        for (place, stop) in plan.stops.iter().enumerate() {
            let release = order.release(place, |first| blocks[first].end);
            let set = sets[place];
            let block = state
                .go(&frame, (place, stop), ready.aids.network(set), release, &mut nothing)
                .map_err(|no_way| (place, reason(ready, set, no_way)))?;
            spread.go(stop, &block);
            missed += u32::from(block.outside_windows);
            blocks.push(block);
            states.push(state);
            spreads.push(spread);
            outside.push(missed);
        }
        let home = plan.stops.len();
        let finish = state
            .finish(&frame, ready.aids.network(sets[home]), &mut nothing)
            .map_err(|no_way| (home, reason(ready, sets[home], no_way)))?;
        let tails = tails(plan, &blocks, &finish);
        let carries = plan.stops.iter().any(|s| s.carries_there > 1.0 || s.carries_on > 1.0);
        let simple = !carries && plan.needs.is_empty() && sets.iter().all(|set| *set == sets[0]);
        let windowed = windowed(plan);
        let (next, next_arm) = (order.next(), order.next_arm());
        let ahead = ahead(plan, &blocks, &next);
        let longest = tails.iter().map(|tails| tails.iter().copied().fold(0.0, f64::max)).collect();
        Ok(Self {
            states,
            spreads,
            outside,
            blocks,
            finish,
            tails,
            longest,
            next,
            next_arm,
            windowed,
            ahead,
            plain: simple,
            ways: vec![OnceCell::new(); ready.sites.len()],
            lived: OnceCell::new(),
        })
    }

    /// The ways to a worksite from where each lane stands before each stop, and at last, and on
    /// from there; for a plan that is plain and a task that carries nothing.
    pub fn ways(&self, ready: &Ready, plan: &Plan, site: usize) -> &[Ways] {
        self.ways[site].get_or_init(|| {
            let (frame, stop) =
                (plan.frame(ready), Stop::plain(site, Lanes::default(), Spread::default()));
            let routes = ready.aids.network(plan.sets[0]);
            let place = |(position, state): (usize, &State)| {
                let mut ways = Ways { there: [0.0; MOST_LANES], on: [0.0; MOST_LANES] };
                for lane in 0..plan.lanes {
                    let to = plan.stops.get(self.next[position][lane]);
                    let there = state.ready(&frame, lane, &stop, routes);
                    ways.there[lane] = there.unwrap_or(f64::INFINITY);
                    let on = onward(&frame, &stop, to, routes);
                    ways.on[lane] = on.unwrap_or(f64::INFINITY);
                }
                ways
            };
            self.states.iter().enumerate().map(place).collect()
        })
    }

    /// The plan in every draw, held against its limit.
    pub fn lived(&self, ready: &Ready, plan: &Plan) -> &Lived {
        self.lived.get_or_init(|| {
            let (frame, crew_day) = (plan.frame(ready), ready.constants.crew_day());
            live_through(&frame, plan.order(), &self.blocks, &self.finish, plan.limit, crew_day)
        })
    }
}

fn tails(plan: &Plan, blocks: &[Block], finish: &Finish) -> Vec<[f64; MOST_LANES]> {
    const NO_PATH: f64 = f64::NEG_INFINITY;
    // From the end of each lane's work, as far as it is looked at, to the end of each lane.
    let mut after = [[NO_PATH; MOST_LANES]; MOST_LANES];
    for (lane, to) in after.iter_mut().enumerate() {
        to[lane] = finish.gap(lane);
    }
    let mut tails = vec![[NO_PATH; MOST_LANES]; plan.stops.len()];
    for (place, stop) in plan.stops.iter().enumerate().rev() {
        for lane in stop.lanes.each() {
            for (end, tail) in tails[place].iter_mut().enumerate() {
                *tail = tail.max(stop.work.mean + after[lane][end]);
            }
        }
        for lane in stop.lanes.each() {
            after[lane] = tails[place].map(|tail| tail + blocks[place].gap(lane));
        }
    }
    tails
}

fn ahead(plan: &Plan, blocks: &[Block], next: &[[usize; MOST_LANES]]) -> Vec<Option<Ahead>> {
    let mut ahead: Vec<Option<Ahead>> = vec![None; plan.stops.len()];
    for (place, stop) in plan.stops.iter().enumerate().rev() {
        ahead[place] = stop.lanes.each().find_map(|lane| {
            let then = next[place + 1][lane];
            let way = stop.work.mean + blocks.get(then)?.gap(lane);
            if waits(&plan.stops[then]) {
                return Some(Ahead { stop: then, minutes: way });
            }
            ahead[then].map(|far| Ahead { minutes: way + far.minutes, ..far })
        });
    }
    ahead
}

pub(super) fn waits(stop: &Stop) -> bool {
    stop.arm || stop.light != Light::Any
}

fn windowed(plan: &Plan) -> Vec<bool> {
    let mut windowed = vec![false; plan.stops.len() + 1];
    for (place, stop) in plan.stops.iter().enumerate().rev() {
        windowed[place] = windowed[place + 1] || waits(stop);
    }
    windowed
}
