//! A plan timed as it stands, with what is needed to put a task in anywhere.

use crate::places::{SiteAt, TaskAt};
use std::cell::{OnceCell, RefCell};
use std::rc::Rc;
use typed_index_collections::{TiVec, ti_vec};

use super::task::reason;
use crate::fit::ready::{Plan, Ready, Settled};
use crate::fit::reasons::Unknown;
use crate::three_point::Spread;
use crate::timeline::{
    Block, Detour, Finish, Frame, Gap, Lanes, MOST_LANES, Order, Rooms, Simulated, State, Stop,
    UNBOUNDED, onward, simulate,
};

/// A plan timed as it stands, kept stop by stop so that a task can be put in anywhere.
pub(in crate::fit) struct Base {
    /// Aids are brought in, so that a way hangs on the minute at which it is gone: only timing all
    /// stops tells. Nothing but the blocks and the end is kept of it then.
    pub tied: bool,
    /// When the aids of each task are brought in.
    pub brought_in: Vec<(f64, TaskAt)>,
    /// Stops of which the second waits for the first: for what it needs, and then for a tool.
    pub needs: Vec<(usize, usize)>,
    /// How many of them are for a tool.
    pub passed_on: usize,
    /// Before each stop, and after the last.
    pub states: Vec<State>,
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
    /// Nothing is carried and nothing waits for another lane's stop: what a task adds can be told
    /// from the stops next to it.
    pub plain: bool,
    /// The ways to and from every worksite, once somebody looks for a place there.
    ways: TiVec<SiteAt, OnceCell<Vec<Ways>>>,
    /// The detours to every worksite, and the most room for work there, once somebody asks.
    rooms: TiVec<SiteAt, OnceCell<(Vec<Detour>, Rooms)>>,
    /// The plan in many draws, once somebody asks for them: as it stands, and with stops that pass
    /// a tool on otherwise because of a task put in.
    draws: RefCell<Vec<Drawn>>,
}

/// A plan in many draws, which stops wait for which in it, and whether it has no limit.
type Drawn = (Vec<(usize, usize)>, bool, Rc<Simulated>);

/// When each lane would be ready to work at a worksite, and what it spends between the end of that
/// work and its next stop, or until it is inside; infinite where there is no way.
#[derive(Debug, Clone, Copy)]
pub(in crate::fit) struct Ways {
    pub there: [f64; MOST_LANES],
    pub on: [f64; MOST_LANES],
}

/// A stop that waits for a window, and the minutes of work and ways from the start of an earlier
/// one to it.
#[derive(Clone, Copy)]
pub(in crate::fit) struct Ahead {
    pub stop: usize,
    pub minutes: f64,
}

impl Base {
    /// Times a plan; it fails at a stop or on the way home.
    pub fn of(ready: &Ready, plan: &Plan) -> Result<Self, (usize, Unknown)> {
        let frame = plan.frame(ready);
        let (order, first) = (plan.order(), plan.sequence.first);
        let stops = order.stops;
        if !plan.sequence.brings_in.is_empty() {
            return Ok(Self::tied(ready.settle(&frame, &plan.sequence)?));
        }
        let routes = &*ready.aids.network(first);
        let mut states = vec![State::outside(&frame)];
        let timed = ready.run(&frame, &plan.sequence, routes, &mut |state| states.push(*state));
        let (blocks, finish, needs) =
            timed.map_err(|(place, no_way)| (place, reason(ready, first, no_way)))?;
        let missed = blocks.iter().scan(0, |missed, block| {
            *missed += u32::from(block.outside_windows);
            Some(*missed)
        });
        let tails = tails(stops, &blocks, &finish);
        let carries = stops.iter().any(|s| s.carries_there > 1.0 || s.carries_on > 1.0);
        let windowed = windowed(stops);
        let (next, next_arm) = (order.next(), order.next_arm());
        let ahead = ahead(stops, &blocks, &next);
        let longest = tails.iter().map(|tails| tails.iter().copied().fold(0.0, f64::max)).collect();
        Ok(Self {
            tied: false,
            brought_in: Vec::new(),
            passed_on: needs.len() - order.needs.len(),
            states,
            outside: std::iter::once(0).chain(missed).collect(),
            blocks,
            finish,
            tails,
            longest,
            next,
            next_arm,
            windowed,
            ahead,
            plain: !carries && needs.is_empty(),
            needs,
            ways: ti_vec![OnceCell::new(); ready.sites.len()],
            rooms: ti_vec![OnceCell::new(); ready.sites.len()],
            draws: RefCell::default(),
        })
    }

    fn tied(settled: Settled) -> Self {
        Self {
            tied: true,
            brought_in: settled.brought_in,
            needs: settled.needs,
            passed_on: 0,
            states: Vec::new(),
            outside: Vec::new(),
            blocks: settled.blocks,
            finish: settled.finish,
            tails: Vec::new(),
            longest: Vec::new(),
            next: Vec::new(),
            next_arm: Vec::new(),
            windowed: Vec::new(),
            ahead: Vec::new(),
            plain: false,
            ways: TiVec::new(),
            rooms: TiVec::new(),
            draws: RefCell::default(),
        }
    }

    /// The pairs of stops of which the second waits for a tool of the first.
    pub fn passed_on(&self) -> &[(usize, usize)] {
        &self.needs[self.needs.len() - self.passed_on..]
    }

    /// The ways to a worksite from where each lane stands before each stop, and at last, and on
    /// from there; for a plan that is plain and a task that carries nothing.
    pub fn ways(&self, ready: &Ready, plan: &Plan, site: SiteAt) -> &[Ways] {
        self.ways[site].get_or_init(|| {
            let (frame, stop) =
                (plan.frame(ready), Stop::plain(site, Lanes::default(), Spread::default()));
            let routes = &*ready.aids.network(plan.sequence.first);
            let place = |(position, state): (usize, &State)| {
                let mut ways = Ways { there: [0.0; MOST_LANES], on: [0.0; MOST_LANES] };
                for lane in 0..plan.lanes {
                    let to = plan.sequence.stops.get(self.next[position][lane]);
                    let there = state.ready(&frame, lane, &stop, routes);
                    ways.there[lane] = there.unwrap_or(f64::INFINITY);
                    let inside = if to.is_none() { frame.ingress } else { 0.0 };
                    let on = onward(&frame, &stop, to, routes);
                    ways.on[lane] = on.map_or(f64::INFINITY, |on| on.minutes() + inside);
                }
                ways
            };
            self.states.iter().enumerate().map(place).collect()
        })
    }

    /// The detours to a worksite before each stop and at last, and the most room that the plan as
    /// it stands leaves for work there.
    pub fn rooms(&self, ready: &Ready, plan: &Plan, site: SiteAt) -> &(Vec<Detour>, Rooms) {
        const NO_WAY: Gap = Gap { travel: f64::INFINITY, site: 0.0 };
        self.rooms[site].get_or_init(|| {
            let frame = plan.frame(ready);
            let stop = Stop::plain(site, Lanes::default(), Spread::default());
            let routes = &*ready.aids.network(plan.sequence.first);
            let detour = |(position, state): (usize, &State)| {
                let mut detour = Detour::default();
                for lane in 0..plan.lanes {
                    let to = plan.sequence.stops.get(self.next[position][lane]);
                    let there = state.gap(&frame, lane, &stop, routes);
                    detour.there[lane] = there.unwrap_or(NO_WAY);
                    detour.on[lane] = onward(&frame, &stop, to, routes).unwrap_or(NO_WAY);
                }
                detour
            };
            let detours: Vec<Detour> = self.states.iter().enumerate().map(detour).collect();
            let rooms = self.draws(ready, plan, &self.needs).rooms(&detours);
            (detours, rooms)
        })
    }

    /// The plan in every draw, held against its limit, where these stops wait for one another.
    pub fn draws(&self, ready: &Ready, plan: &Plan, needs: &[(usize, usize)]) -> Rc<Simulated> {
        self.drawn(ready, plan, needs, false)
    }

    /// The same without a limit: all that ends late are the days on which work misses its windows.
    pub fn draws_unbounded(
        &self,
        ready: &Ready,
        plan: &Plan,
        needs: &[(usize, usize)],
    ) -> Rc<Simulated> {
        self.drawn(ready, plan, needs, true)
    }

    fn drawn(
        &self,
        ready: &Ready,
        plan: &Plan,
        needs: &[(usize, usize)],
        unbounded: bool,
    ) -> Rc<Simulated> {
        let mut known = self.draws.borrow_mut();
        let same = |(pairs, free, _): &&Drawn| pairs == needs && *free == unbounded;
        if let Some((.., simulated)) = known.iter().find(same) {
            return Rc::clone(simulated);
        }
        let frame = plan.frame(ready);
        let limit = if unbounded { UNBOUNDED } else { plan.limit };
        let frame = if unbounded { Frame { limit, ..frame } } else { frame };
        let order = Order { stops: &plan.sequence.stops, needs };
        let variation = ready.constants.variation();
        let simulated = simulate(&frame, order, &self.blocks, &self.finish, limit, variation);
        let simulated = Rc::new(simulated);
        known.push((needs.to_vec(), unbounded, Rc::clone(&simulated)));
        simulated
    }
}

fn tails(stops: &[Stop], blocks: &[Block], finish: &Finish) -> Vec<[f64; MOST_LANES]> {
    const NO_PATH: f64 = f64::NEG_INFINITY;
    // From the end of each lane's work, as far as it is looked at, to the end of each lane.
    let mut after = [[NO_PATH; MOST_LANES]; MOST_LANES];
    for (lane, to) in after.iter_mut().enumerate() {
        to[lane] = finish.gap(lane);
    }
    let mut tails = vec![[NO_PATH; MOST_LANES]; stops.len()];
    for (place, stop) in stops.iter().enumerate().rev() {
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

fn ahead(stops: &[Stop], blocks: &[Block], next: &[[usize; MOST_LANES]]) -> Vec<Option<Ahead>> {
    let mut ahead: Vec<Option<Ahead>> = vec![None; stops.len()];
    for (place, stop) in stops.iter().enumerate().rev() {
        ahead[place] = stop.lanes.each().find_map(|lane| {
            let then = next[place + 1][lane];
            let way = stop.work.mean + blocks.get(then)?.gap(lane);
            if stops[then].waits() {
                return Some(Ahead { stop: then, minutes: way });
            }
            ahead[then].map(|far| Ahead { minutes: way + far.minutes, ..far })
        });
    }
    ahead
}

fn windowed(stops: &[Stop]) -> Vec<bool> {
    let mut windowed = vec![false; stops.len() + 1];
    for (place, stop) in stops.iter().enumerate().rev() {
        windowed[place] = windowed[place + 1] || stop.waits();
    }
    windowed
}
