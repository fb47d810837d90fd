//! The timeline of one excursion: each seat is a lane in slot order, a two-seat task starts when
//! the later of its lanes is there, and every lane goes out of the airlock and back into it.

use crate::compute::normal;
use crate::compute::three_point::Spread;
use crate::compute::travel::Network;

/// Seats are written EV1 to EV9.
pub const MOST_LANES: usize = 9;

/// The lanes that a stop holds; lane 0 is the excursion's first seat.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash)]
pub struct Lanes(u16);

impl Lanes {
    pub const fn one(lane: usize) -> Self {
        Self(1 << lane)
    }

    #[must_use]
    pub const fn and(self, lane: usize) -> Self {
        Self(self.0 | 1 << lane)
    }

    pub const fn has(self, lane: usize) -> bool {
        self.0 & (1 << lane) != 0
    }

    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    pub const fn count(self) -> usize {
        self.0.count_ones() as usize
    }

    pub const fn meets(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// Every choice of at least one of that many lanes.
    pub fn all(lanes: usize) -> impl Iterator<Item = Self> {
        (1..1_u16 << lanes.min(MOST_LANES)).map(Self)
    }

    pub fn each(self) -> impl Iterator<Item = usize> {
        (0..MOST_LANES).filter(move |&lane| self.has(lane))
    }
}

/// Minutes to get ready at a worksite and to leave it, once per uninterrupted visit and lane.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct SiteMinutes {
    pub setup: f64,
    pub cleanup: f64,
}

/// What holds for the whole excursion.
#[derive(Debug, Clone, Copy)]
pub struct Frame<'a> {
    pub lanes: usize,
    pub airlock: usize,
    pub egress: f64,
    pub ingress: f64,
    pub sites: &'a [SiteMinutes],
}

/// One piece of work in the order of the plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stop {
    pub site: usize,
    pub lanes: Lanes,
    pub work: Spread,
}

/// There is no way between two worksites at that moment of the plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NoWay {
    pub from: usize,
    pub to: usize,
}

/// What a lane does during a segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Activity {
    Egress,
    Travel { from: usize, to: usize },
    Setup { site: usize },
    Wait,
    Work { stop: usize },
    Cleanup { site: usize },
    Ingress,
}

/// A stretch of a lane, in minutes of elapsed time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    pub lane: usize,
    pub from: f64,
    pub until: f64,
    pub activity: Activity,
}

#[derive(Debug, Clone, Copy, Default)]
struct Lane {
    at: Spread,
    site: usize,
    /// Set up at its worksite, which it has to clean up before it leaves.
    visiting: bool,
}

/// Where every lane stands after some of the stops.
#[derive(Debug, Clone, Copy)]
pub struct State {
    lanes: [Lane; MOST_LANES],
}

/// Start and end of a stop's work, in minutes of elapsed time.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Block {
    pub start: f64,
    pub end: Spread,
    /// Travel of the lane that was there last.
    pub travel: f64,
}

/// When each lane is back inside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finish {
    ends: [Spread; MOST_LANES],
    lanes: usize,
}

impl Finish {
    /// When the last lane is inside, at the mean of everything.
    pub fn end(&self) -> f64 {
        self.ends().iter().map(|end| end.mean).fold(0.0, f64::max)
    }

    /// When each lane is inside.
    pub fn ends(&self) -> &[Spread] {
        &self.ends[..self.lanes]
    }

    /// The chance that the lane least likely to be inside by then is.
    pub fn chance_by(&self, bound: f64) -> f64 {
        self.ends().iter().map(|e| normal::below(bound, e.mean, e.variance)).fold(1.0, f64::min)
    }
}

impl State {
    /// Every lane at the airlock, egress behind it.
    pub fn outside(frame: &Frame) -> Self {
        let at = Spread { mean: frame.egress, variance: 0.0 };
        Self { lanes: [Lane { at, site: frame.airlock, visiting: false }; MOST_LANES] }
    }

    /// Does one stop, over the routes as they stand on the way to it. `place` is its place in the
    /// order; it starts no earlier than `release`.
    pub fn go(
        &mut self,
        frame: &Frame,
        (place, stop): (usize, &Stop),
        routes: &Network,
        release: Spread,
        tell: &mut impl FnMut(Segment),
    ) -> Result<Block, NoWay> {
        let mut start = release;
        let mut travel = 0.0_f64;
        for lane in stop.lanes.each() {
            let leg = self.approach(frame, lane, stop.site, routes, tell)?;
            travel = travel.max(leg);
            start = later(start, self.lanes[lane].at);
        }
        let end = Spread {
            mean: start.mean + stop.work.mean,
            variance: start.variance + stop.work.variance,
        };
        for lane in stop.lanes.each() {
            let there = self.lanes[lane].at.mean;
            if there < start.mean {
                tell(Segment { lane, from: there, until: start.mean, activity: Activity::Wait });
            }
            let activity = Activity::Work { stop: place };
            tell(Segment { lane, from: start.mean, until: end.mean, activity });
            self.lanes[lane].at = end;
        }
        Ok(Block { start: start.mean, end, travel })
    }

    /// Brings every lane home.
    pub fn finish(
        mut self,
        frame: &Frame,
        routes: &Network,
        tell: &mut impl FnMut(Segment),
    ) -> Result<Finish, NoWay> {
        let mut ends = [Spread::default(); MOST_LANES];
        for (lane, end) in ends.iter_mut().enumerate().take(frame.lanes) {
            self.leave(frame, lane, frame.airlock, routes, tell)?;
            self.spend(lane, frame.ingress, Activity::Ingress, tell);
            *end = self.lanes[lane].at;
        }
        Ok(Finish { ends, lanes: frame.lanes })
    }

    /// Goes to a worksite and sets up there, unless the lane is still on its visit to it.
    fn approach(
        &mut self,
        frame: &Frame,
        lane: usize,
        site: usize,
        routes: &Network,
        tell: &mut impl FnMut(Segment),
    ) -> Result<f64, NoWay> {
        if self.lanes[lane].visiting && self.lanes[lane].site == site {
            return Ok(0.0);
        }
        let travel = self.leave(frame, lane, site, routes, tell)?;
        self.spend(lane, frame.sites[site].setup, Activity::Setup { site }, tell);
        self.lanes[lane].visiting = true;
        Ok(travel)
    }

    /// Cleans up and travels to another worksite.
    fn leave(
        &mut self,
        frame: &Frame,
        lane: usize,
        to: usize,
        routes: &Network,
        tell: &mut impl FnMut(Segment),
    ) -> Result<f64, NoWay> {
        let from = self.lanes[lane].site;
        if self.lanes[lane].visiting {
            let cleanup = frame.sites[from].cleanup;
            self.spend(lane, cleanup, Activity::Cleanup { site: from }, tell);
            self.lanes[lane].visiting = false;
        }
        if from == to {
            return Ok(0.0);
        }
        let travel = f64::from(routes.minutes(from, to).ok_or(NoWay { from, to })?);
        self.spend(lane, travel, Activity::Travel { from, to }, tell);
        self.lanes[lane].site = to;
        Ok(travel)
    }

    fn spend(
        &mut self,
        lane: usize,
        minutes: f64,
        activity: Activity,
        tell: &mut impl FnMut(Segment),
    ) {
        if minutes > 0.0 {
            let from = self.lanes[lane].at.mean;
            tell(Segment { lane, from, until: from + minutes, activity });
            self.lanes[lane].at.mean += minutes;
        }
    }
}

/// The later of two moments, at the mean.
pub fn later(a: Spread, b: Spread) -> Spread {
    if b.mean > a.mean { b } else { a }
}

/// A whole plan, timed.
#[derive(Debug, Clone, PartialEq)]
pub struct Timed {
    /// One per stop, in the order of the plan.
    pub blocks: Vec<Block>,
    /// What every lane does, minute by minute.
    pub segments: Vec<Segment>,
    /// From the start of each stop's work until the last lane that it holds up is inside: the
    /// plan's end or the limit, less this, is the latest start.
    pub work_left: Vec<f64>,
    pub finish: Finish,
}

/// A plan's stops in their order, and pairs of them of which the second waits for the first.
#[derive(Debug, Clone, Copy)]
pub struct Order<'a> {
    pub stops: &'a [Stop],
    pub needs: &'a [(usize, usize)],
}

impl Order<'_> {
    /// The latest end of what a stop waits for; `end` gives the end of an earlier stop.
    pub fn release(&self, place: usize, end: impl Fn(usize) -> Spread) -> Spread {
        let waits = self.needs.iter().filter(|(_, then)| *then == place);
        waits.map(|(first, _)| end(*first)).fold(Spread::default(), later)
    }
}

/// Times a plan. `routes` gives the travel on the way to each stop, and at last on the way home.
/// It fails at the stop (or, past the last, on the way home) that cannot be reached.
pub fn time<'n>(
    frame: &Frame,
    order: Order,
    routes: impl Fn(usize) -> &'n Network,
) -> Result<Timed, (usize, NoWay)> {
    let mut segments: Vec<Segment> = (0..frame.lanes)
        .filter(|_| frame.egress > 0.0)
        .map(|lane| Segment { lane, from: 0.0, until: frame.egress, activity: Activity::Egress })
        .collect();
    let mut tell = |segment: Segment| segments.push(segment);
    let mut state = State::outside(frame);
    let mut blocks: Vec<Block> = Vec::with_capacity(order.stops.len());
    for (place, stop) in order.stops.iter().enumerate() {
        let release = order.release(place, |first| blocks[first].end);
        let block = state
            .go(frame, (place, stop), routes(place), release, &mut tell)
            .map_err(|no_way| (place, no_way))?;
        blocks.push(block);
    }
    let home = order.stops.len();
    let finish = state.finish(frame, routes(home), &mut tell).map_err(|no_way| (home, no_way))?;
    let work_left = work_left(frame.lanes, order, &segments);
    Ok(Timed { blocks, segments, work_left, finish })
}

/// The longest path from the start of each stop to the end, waiting left out: a lane that waits
/// for another may start that much later.
fn work_left(lanes: usize, order: Order, segments: &[Segment]) -> Vec<f64> {
    // What the lane still has to do after the stop that is looked at.
    let mut behind = [0.0_f64; MOST_LANES];
    let mut left = vec![0.0_f64; order.stops.len()];
    let mut per_lane: Vec<Vec<&Segment>> = vec![Vec::new(); lanes];
    for segment in segments.iter().filter(|segment| segment.activity != Activity::Wait) {
        per_lane[segment.lane].push(segment);
    }
    for (place, stop) in order.stops.iter().enumerate().rev() {
        let waiting = order.needs.iter().filter(|(first, _)| *first == place);
        let mut longest = waiting.map(|(_, then)| left[*then]).fold(0.0_f64, f64::max);
        for lane in stop.lanes.each() {
            while let Some(segment) = per_lane[lane].pop() {
                if segment.activity == (Activity::Work { stop: place }) {
                    break;
                }
                behind[lane] += segment.until - segment.from;
            }
            longest = longest.max(behind[lane]);
        }
        left[place] = stop.work.mean + longest;
        for lane in stop.lanes.each() {
            behind[lane] = left[place];
        }
    }
    left
}

#[cfg(test)]
mod tests;
