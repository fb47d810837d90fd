//! Times a plan forwards, at the mean of everything.

use super::chance::{CrewDay, Spreads};
use super::ending::Ending;
use super::latest::latest_starts;
use super::lived::{Gaps, Lived, ends_of};
use super::{Activity, Frame, Light, MOST_LANES, NoWay, Order, Segment, Stop};
use crate::compute::travel::Network;

#[derive(Debug, Clone, Copy, PartialEq)]
struct Lane {
    at: f64,
    site: usize,
    /// Set up at its worksite, which it has to clean up before it leaves.
    visiting: bool,
    carries: f64,
}

/// Where every lane stands after some of the stops, and when the arm is free.
#[derive(Debug, Clone, Copy)]
pub struct State {
    lanes: [Lane; MOST_LANES],
    arm_free: f64,
}

/// Start and end of a stop's work, in minutes of elapsed time.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Block {
    pub start: f64,
    pub end: f64,
    /// Travel of the lane that has the longest way there.
    pub travel: f64,
    /// What each lane spends between its last work and this one, waiting left out.
    pub(super) gaps: [f64; MOST_LANES],
    /// It waits until then for a window or the arm, whatever the lanes do.
    pub(super) opens: f64,
    /// No window is left that is long enough: it starts when the lanes are there.
    pub outside_windows: bool,
}

/// When each lane is back inside, at the mean of everything.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finish {
    ends: [f64; MOST_LANES],
    pub(super) gaps: [f64; MOST_LANES],
    lanes: usize,
}

impl Finish {
    /// When the last lane is inside.
    pub fn end(&self) -> f64 {
        self.ends().iter().copied().fold(0.0, later)
    }

    /// What a lane spends from its last work until it is inside.
    pub fn gap(&self, lane: usize) -> f64 {
        self.gaps[lane]
    }

    /// When each lane is inside.
    pub fn ends(&self) -> &[f64] {
        &self.ends[..self.lanes]
    }
}

impl Block {
    /// What a lane spends between its last work and this one, waiting left out.
    pub fn gap(&self, lane: usize) -> f64 {
        self.gaps[lane]
    }

    /// The same for every lane.
    pub fn gaps(&self) -> [f64; MOST_LANES] {
        self.gaps
    }
}

/// What a lane spends between the work of one stop and that of the next, or until it is inside
/// where there is none.
pub fn onward(
    frame: &Frame,
    from: &Stop,
    to: Option<&Stop>,
    routes: &Network,
) -> Result<f64, NoWay> {
    let (site, there, after) = match to {
        Some(stop) if stop.site == from.site => return Ok(0.0),
        Some(stop) => (stop.site, stop.carries_there, frame.sites[stop.site].setup),
        None => (frame.airlock, 1.0, frame.ingress),
    };
    let no_way = NoWay { from: from.site, to: site };
    let minutes = f64::from(routes.minutes(from.site, site).ok_or(no_way)?);
    Ok(frame.sites[from.site].cleanup + minutes * later(there, from.carries_on) + after)
}

/// The later of two moments.
pub fn later(a: f64, b: f64) -> f64 {
    if b > a { b } else { a }
}

impl State {
    /// Every lane at the airlock, egress behind it.
    pub fn outside(frame: &Frame) -> Self {
        let lane = Lane { at: frame.egress, site: frame.airlock, visiting: false, carries: 1.0 };
        Self { lanes: [lane; MOST_LANES], arm_free: 0.0 }
    }

    /// Every lane at that worksite, at the frame's egress minute, with nothing set up there.
    pub fn standing_at(frame: &Frame, site: usize) -> Self {
        Self::outside(&Frame { airlock: site, ..*frame })
    }

    /// Does one stop, over the routes as they stand on the way to it. `place` is its place in the
    /// order; it starts no earlier than `release`.
    pub fn go(
        &mut self,
        frame: &Frame,
        (place, stop): (usize, &Stop),
        routes: &Network,
        release: f64,
        tell: &mut impl FnMut(Segment),
    ) -> Result<Block, NoWay> {
        let mut block = Block { start: release, opens: release, ..Block::default() };
        for lane in stop.lanes.each() {
            let travel = self.approach(frame, lane, stop, routes, &mut block.gaps, tell)?;
            block.travel = later(block.travel, travel);
            block.start = later(block.start, self.lanes[lane].at);
        }
        self.wait_for_windows(frame, stop, &mut block);
        block.end = block.start + stop.work.mean;
        if stop.arm {
            self.arm_free = block.end;
        }
        for lane in stop.lanes.each() {
            let there = self.lanes[lane].at;
            if there < block.start {
                tell(Segment { lane, from: there, until: block.start, activity: Activity::Wait });
            }
            let activity = Activity::Work { stop: place };
            tell(Segment { lane, from: block.start, until: block.end, activity });
            self.lanes[lane].at = block.end;
            self.lanes[lane].carries = stop.carries_on;
        }
        Ok(block)
    }

    /// Whether a stop goes just as it does in another run of the plan, as far as the arm decides.
    pub fn same_arm(&self, other: &Self) -> bool {
        self.arm_free.to_bits() == other.arm_free.to_bits()
    }

    pub fn same_lane(&self, lane: usize, other: &Self) -> bool {
        self.lanes[lane] == other.lanes[lane]
    }

    /// Takes over where a lane stands in another run of the plan.
    pub fn follow(&mut self, lane: usize, other: &Self) {
        self.lanes[lane] = other.lanes[lane];
    }

    /// Takes over when the arm is free in another run of the plan.
    pub fn follow_arm(&mut self, other: &Self) {
        self.arm_free = other.arm_free;
    }

    /// When the work of a stop would start and end, with nothing done, as `go` says it; and
    /// whether it finds no window.
    pub fn look(
        &self,
        frame: &Frame,
        stop: &Stop,
        routes: &Network,
        release: f64,
    ) -> Result<(f64, f64, bool), NoWay> {
        let mut there = release;
        for lane in stop.lanes.each() {
            there = later(there, self.ready(frame, lane, stop, routes)?);
        }
        Ok(self.look_from(frame, stop, there))
    }

    /// When a lane is set up at the worksite of a stop.
    pub fn ready(
        &self,
        frame: &Frame,
        lane: usize,
        stop: &Stop,
        routes: &Network,
    ) -> Result<f64, NoWay> {
        let lane = &self.lanes[lane];
        let mut there = lane.at;
        if !(lane.visiting && lane.site == stop.site) {
            if lane.visiting {
                there += frame.sites[lane.site].cleanup;
            }
            if lane.site != stop.site {
                let no_way = NoWay { from: lane.site, to: stop.site };
                let minutes = routes.minutes(lane.site, stop.site).ok_or(no_way)?;
                there += f64::from(minutes) * later(stop.carries_there, lane.carries);
            }
            there += frame.sites[stop.site].setup;
        }
        Ok(there)
    }

    /// What `look` says of lanes that are ready by then.
    pub fn look_from(&self, frame: &Frame, stop: &Stop, ready: f64) -> (f64, f64, bool) {
        let mut block = Block { start: ready, ..Block::default() };
        self.wait_for_windows(frame, stop, &mut block);
        (block.start, block.start + stop.work.mean, block.outside_windows)
    }

    /// Does a stop as `go` does, and tells nothing of it but start, end and whether it finds no
    /// window: for a search that tries many places.
    pub fn pass(
        &mut self,
        frame: &Frame,
        stop: &Stop,
        routes: &Network,
        release: f64,
    ) -> Result<(f64, f64, bool), NoWay> {
        let (start, end, outside) = self.look(frame, stop, routes, release)?;
        for lane in stop.lanes.each() {
            let carries = stop.carries_on;
            self.lanes[lane] = Lane { at: end, site: stop.site, visiting: true, carries };
        }
        if stop.arm {
            self.arm_free = end;
        }
        Ok((start, end, outside))
    }

    fn wait_for_windows(&self, frame: &Frame, stop: &Stop, block: &mut Block) {
        if !stop.arm && stop.light == Light::Any {
            return;
        }
        if stop.arm {
            block.start = later(block.start, self.arm_free);
            block.opens = later(block.opens, self.arm_free);
        }
        let open = frame.windows.earliest(stop.arm, stop.light, block.start, stop.work.mean);
        match open {
            Some(open) => {
                block.start = open;
                let opened = frame.windows.opened(stop.arm, stop.light, open);
                block.opens = later(block.opens, opened);
            }
            None => block.outside_windows = true,
        }
    }

    /// Brings every lane home.
    pub fn finish(
        mut self,
        frame: &Frame,
        routes: &Network,
        tell: &mut impl FnMut(Segment),
    ) -> Result<Finish, NoWay> {
        let mut ends = [0.0; MOST_LANES];
        let mut gaps = [0.0; MOST_LANES];
        for (lane, end) in ends.iter_mut().enumerate().take(frame.lanes) {
            let before = self.lanes[lane].at;
            self.leave(frame, lane, frame.airlock, 1.0, routes, tell)?;
            self.spend(lane, frame.ingress, Activity::Ingress, tell);
            *end = self.lanes[lane].at;
            gaps[lane] = *end - before;
        }
        Ok(Finish { ends, gaps, lanes: frame.lanes })
    }

    /// Goes to a worksite and sets up there, unless the lane is still on its visit to it.
    fn approach(
        &mut self,
        frame: &Frame,
        lane: usize,
        stop: &Stop,
        routes: &Network,
        gaps: &mut [f64; MOST_LANES],
        tell: &mut impl FnMut(Segment),
    ) -> Result<f64, NoWay> {
        if self.lanes[lane].visiting && self.lanes[lane].site == stop.site {
            return Ok(0.0);
        }
        let before = self.lanes[lane].at;
        let travel = self.leave(frame, lane, stop.site, stop.carries_there, routes, tell)?;
        let activity = Activity::Setup { site: stop.site };
        self.spend(lane, frame.sites[stop.site].setup, activity, tell);
        self.lanes[lane].visiting = true;
        gaps[lane] = self.lanes[lane].at - before;
        Ok(travel)
    }

    /// Cleans up and travels to another worksite.
    fn leave(
        &mut self,
        frame: &Frame,
        lane: usize,
        to: usize,
        carries: f64,
        routes: &Network,
        tell: &mut impl FnMut(Segment),
    ) -> Result<f64, NoWay> {
        let Lane { site: from, visiting, carries: carries_on, .. } = self.lanes[lane];
        if visiting {
            let cleanup = frame.sites[from].cleanup;
            self.spend(lane, cleanup, Activity::Cleanup { site: from }, tell);
            self.lanes[lane].visiting = false;
        }
        if from == to {
            return Ok(0.0);
        }
        let minutes = routes.minutes(from, to).ok_or(NoWay { from, to })?;
        let travel = f64::from(minutes) * later(carries, carries_on);
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
            let from = self.lanes[lane].at;
            tell(Segment { lane, from, until: from + minutes, activity });
            self.lanes[lane].at += minutes;
        }
    }
}

/// A whole plan, timed.
#[derive(Debug, Clone, PartialEq)]
pub struct Timed {
    /// One per stop, in the order of the plan.
    pub blocks: Vec<Block>,
    /// What every lane does, minute by minute.
    pub segments: Vec<Segment>,
    pub finish: Finish,
    /// How far the ends may lie from where they are at the mean.
    pub ends: Ending,
    home: [f64; MOST_LANES],
}

impl Timed {
    /// The last minute at which the work of each stop may begin so that everything after it still
    /// ends by `bound`, windows kept.
    pub fn latest_starts(&self, frame: &Frame, order: Order, bound: f64) -> Vec<f64> {
        latest_starts(frame, order, &self.blocks, &self.home, bound)
    }
}

/// A plan that was timed, in every draw: held against a limit, so that a task can be put in.
pub fn live_through(
    frame: &Frame,
    order: Order,
    blocks: &[Block],
    finish: &Finish,
    limit: f64,
    crew_day: CrewDay,
) -> Lived {
    let stops: Vec<[f64; MOST_LANES]> = blocks.iter().map(|block| block.gaps).collect();
    Lived::of(frame, order, Gaps { stops: &stops, home: &finish.gaps }, limit, crew_day)
}

/// Times a plan. `routes` gives the travel on the way to each stop, and at last on the way home.
/// It fails at the stop (or, past the last, on the way home) that cannot be reached.
pub fn time<'n>(
    frame: &Frame,
    order: Order,
    routes: impl Fn(usize) -> &'n Network,
    crew_day: CrewDay,
) -> Result<Timed, (usize, NoWay)> {
    let mut segments: Vec<Segment> = (0..frame.lanes)
        .filter(|_| frame.egress > 0.0)
        .map(|lane| Segment { lane, from: 0.0, until: frame.egress, activity: Activity::Egress })
        .collect();
    let mut tell = |segment: Segment| segments.push(segment);
    let mut state = State::outside(frame);
    let mut spreads = Spreads::outside(frame);
    let mut blocks: Vec<Block> = Vec::with_capacity(order.stops.len());
    for (place, stop) in order.stops.iter().enumerate() {
        let release = order.release(place, |first| blocks[first].end);
        let block = state
            .go(frame, (place, stop), routes(place), release, &mut tell)
            .map_err(|no_way| (place, no_way))?;
        spreads.go(stop, &block);
        blocks.push(block);
    }
    let home = order.stops.len();
    let finish = state.finish(frame, routes(home), &mut tell).map_err(|no_way| (home, no_way))?;
    let ends = if order.waits() {
        let stops: Vec<[f64; MOST_LANES]> = blocks.iter().map(|block| block.gaps).collect();
        let gaps = Gaps { stops: &stops, home: &finish.gaps };
        Ending::Lived(ends_of(frame, order, gaps, crew_day))
    } else {
        Ending::WorkedOut(spreads.finish(&finish, crew_day))
    };
    Ok(Timed { blocks, segments, home: finish.gaps, finish, ends })
}
