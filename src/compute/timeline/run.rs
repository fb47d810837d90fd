//! Times a plan forwards, at the mean of everything.

use super::latest::latest_starts;
use super::simulated::{Gaps, Simulated, ends_of};
use super::{
    Activity, Ends, Frame, Gap, MOST_LANES, NoWay, Order, Routes, Segment, Stop, Variation, Worked,
};
use crate::places::SiteAt;

#[derive(Debug, Clone, Copy, PartialEq)]
struct Lane {
    at: f64,
    site: SiteAt,
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
    pub(super) gaps: [Gap; MOST_LANES],
    /// No window is left that is long enough: it waits past the limit.
    pub outside_windows: bool,
}

/// When the lanes are back inside, at the mean of everything.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Finish {
    /// When each lane would be inside if it waited for no other.
    own: [f64; MOST_LANES],
    pub(super) gaps: [Gap; MOST_LANES],
    ingress: f64,
    lanes: usize,
    together: bool,
}

impl Finish {
    /// When the last lane is inside.
    pub fn end(&self) -> f64 {
        self.own_ends().iter().copied().fold(0.0, later)
    }

    /// What a lane spends from its last work until it is inside, waiting left out.
    pub fn gap(&self, lane: usize) -> f64 {
        self.gaps[lane].minutes() + self.ingress
    }

    /// What a lane spends from its last work until it is back at the airlock.
    pub fn way_home(&self, lane: usize) -> Gap {
        self.gaps[lane]
    }

    /// When each lane would be inside if it waited for no other.
    pub fn own_ends(&self) -> &[f64] {
        &self.own[..self.lanes]
    }

    /// When each lane is inside: all of them at once where the airlock takes them in together.
    pub fn ends(&self) -> impl Iterator<Item = f64> {
        let (own, together, end) = (self.own, self.together, self.end());
        own.into_iter().take(self.lanes).map(move |own| if together { end } else { own })
    }
}

impl Block {
    /// What a lane spends between its last work and this one, waiting left out.
    pub fn gap(&self, lane: usize) -> f64 {
        self.gaps[lane].minutes()
    }

    /// The same for every lane, travel apart from cleanup and setup.
    pub const fn gaps(&self) -> [Gap; MOST_LANES] {
        self.gaps
    }
}

/// What a lane spends between the work of one stop and that of the next, or until it is back at
/// the airlock where there is none.
pub fn onward(
    frame: &Frame,
    from: &Stop,
    to: Option<&Stop>,
    routes: &impl Routes,
) -> Result<Gap, NoWay> {
    let (site, there, setup) = match to {
        Some(stop) if stop.site == from.site => return Ok(Gap::default()),
        Some(stop) => (stop.site, stop.carries_there, frame.sites[stop.site].setup),
        None => (frame.airlock, 1.0, 0.0),
    };
    let slow = later(there, from.carries_on);
    let travel = if site == from.site {
        0.0
    } else {
        let no_way = NoWay { from: from.site, to: site };
        routes.travel(from.site, site, 0.0, slow).ok_or(no_way)?
    };
    Ok(Gap { travel, site: frame.sites[from.site].cleanup + setup })
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
    pub fn standing_at(frame: &Frame, site: SiteAt) -> Self {
        Self::outside(&Frame { airlock: site, ..*frame })
    }

    /// Does one stop, over the routes as they stand on the way to it. `place` is its place in the
    /// order; it starts no earlier than `release`.
    pub fn go(
        &mut self,
        frame: &Frame,
        (place, stop): (usize, &Stop),
        routes: &impl Routes,
        release: f64,
        tell: &mut impl FnMut(Segment),
    ) -> Result<Block, NoWay> {
        let mut block = Block { start: release, ..Block::default() };
        for lane in stop.lanes.each() {
            let travel = self.approach(frame, lane, stop, routes, &mut block.gaps, tell)?;
            block.travel = later(block.travel, travel);
            block.start = later(block.start, self.lanes[lane].at);
        }
        let Worked { start, end, outside } = self.worked(frame, stop, block.start);
        (block.start, block.end, block.outside_windows) = (start, end, outside);
        if stop.arm {
            self.arm_free = block.end;
        }
        for lane in stop.lanes.each() {
            let there = self.lanes[lane].at;
            if there < block.start {
                tell(Segment { lane, from: there, until: block.start, activity: Activity::Wait });
            }
            tell_work(frame, (place, stop), lane, &block, tell);
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
        routes: &impl Routes,
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
        routes: &impl Routes,
    ) -> Result<f64, NoWay> {
        let lane = &self.lanes[lane];
        let mut there = lane.at;
        if !(lane.visiting && lane.site == stop.site) {
            if lane.visiting {
                there += frame.sites[lane.site].cleanup;
            }
            if lane.site != stop.site {
                let no_way = NoWay { from: lane.site, to: stop.site };
                let slow = later(stop.carries_there, lane.carries);
                there += routes.travel(lane.site, stop.site, there, slow).ok_or(no_way)?;
            }
            there += frame.sites[stop.site].setup;
        }
        Ok(there)
    }

    /// What a lane spends until it is set up at the worksite of a stop, over ways that are there
    /// whenever it leaves.
    pub fn gap(
        &self,
        frame: &Frame,
        lane: usize,
        stop: &Stop,
        routes: &impl Routes,
    ) -> Result<Gap, NoWay> {
        let Lane { at, site, visiting, carries } = self.lanes[lane];
        if visiting && site == stop.site {
            return Ok(Gap::default());
        }
        let cleanup = if visiting { frame.sites[site].cleanup } else { 0.0 };
        let slow = later(stop.carries_there, carries);
        let travel = if site == stop.site {
            0.0
        } else {
            let no_way = NoWay { from: site, to: stop.site };
            routes.travel(site, stop.site, at, slow).ok_or(no_way)?
        };
        Ok(Gap { travel, site: cleanup + frame.sites[stop.site].setup })
    }

    /// What `look` says of lanes that are ready by then.
    pub fn look_from(&self, frame: &Frame, stop: &Stop, ready: f64) -> (f64, f64, bool) {
        let Worked { start, end, outside } = self.worked(frame, stop, ready);
        (start, end, outside)
    }

    /// Does a stop as `go` does, and tells nothing of it but start, end and whether it finds no
    /// window: for a search that tries many places.
    pub fn pass(
        &mut self,
        frame: &Frame,
        stop: &Stop,
        routes: &impl Routes,
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

    /// When the work of a stop goes on in lanes that are ready by then.
    fn worked(&self, frame: &Frame, stop: &Stop, ready: f64) -> Worked {
        let ready = if stop.arm { later(ready, self.arm_free) } else { ready };
        frame.schedule(stop, ready, stop.work.mean)
    }

    /// Brings every lane home. Where the airlock takes all in together, a lane that is back before
    /// the last one waits.
    pub fn finish(
        mut self,
        frame: &Frame,
        routes: &impl Routes,
        tell: &mut impl FnMut(Segment),
    ) -> Result<Finish, NoWay> {
        let mut own = [0.0; MOST_LANES];
        let mut gaps = [Gap::default(); MOST_LANES];
        let mut last = 0.0;
        for lane in 0..frame.lanes {
            gaps[lane] = self.leave(frame, lane, frame.airlock, 1.0, routes, tell)?;
            own[lane] = self.lanes[lane].at + frame.ingress;
            last = later(last, self.lanes[lane].at);
        }
        for lane in 0..frame.lanes {
            if frame.together {
                self.spend(lane, last - self.lanes[lane].at, Activity::Wait, tell);
            }
            self.spend(lane, frame.ingress, Activity::Ingress, tell);
        }
        let Frame { lanes, ingress, together, .. } = *frame;
        Ok(Finish { own, gaps, ingress, lanes, together })
    }

    /// Goes to a worksite and sets up there, unless the lane is still on its visit to it; says
    /// how long the travel is.
    fn approach(
        &mut self,
        frame: &Frame,
        lane: usize,
        stop: &Stop,
        routes: &impl Routes,
        gaps: &mut [Gap; MOST_LANES],
        tell: &mut impl FnMut(Segment),
    ) -> Result<f64, NoWay> {
        if self.lanes[lane].visiting && self.lanes[lane].site == stop.site {
            return Ok(0.0);
        }
        gaps[lane] = self.leave(frame, lane, stop.site, stop.carries_there, routes, tell)?;
        let setup = frame.sites[stop.site].setup;
        self.spend(lane, setup, Activity::Setup { site: stop.site }, tell);
        self.lanes[lane].visiting = true;
        gaps[lane].site += setup;
        Ok(gaps[lane].travel)
    }

    /// Cleans up and travels to another worksite.
    fn leave(
        &mut self,
        frame: &Frame,
        lane: usize,
        to: SiteAt,
        carries: f64,
        routes: &impl Routes,
        tell: &mut impl FnMut(Segment),
    ) -> Result<Gap, NoWay> {
        let Lane { site: from, visiting, carries: carries_on, .. } = self.lanes[lane];
        let mut gap = Gap::default();
        if visiting {
            gap.site = frame.sites[from].cleanup;
            self.spend(lane, gap.site, Activity::Cleanup { site: from }, tell);
            self.lanes[lane].visiting = false;
        }
        if from != to {
            let (leaves, slow) = (self.lanes[lane].at, later(carries, carries_on));
            gap.travel = routes.travel(from, to, leaves, slow).ok_or(NoWay { from, to })?;
            self.spend(lane, gap.travel, Activity::Travel { from, to }, tell);
            self.lanes[lane].site = to;
        }
        Ok(gap)
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

/// Tells the work of a stop in one lane, with the pauses in it.
fn tell_work(
    frame: &Frame,
    (place, stop): (usize, &Stop),
    lane: usize,
    block: &Block,
    tell: &mut impl FnMut(Segment),
) {
    let work = Activity::Work { stop: place };
    if !stop.pauses() || block.outside_windows {
        tell(Segment { lane, from: block.start, until: block.end, activity: work });
        return;
    }
    let mut now = block.start;
    for (from, until) in frame.windows.between(stop.light, block.start, block.end) {
        if now < from {
            tell(Segment { lane, from: now, until: from, activity: Activity::Wait });
        }
        tell(Segment { lane, from, until, activity: work });
        now = until;
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
}

impl Timed {
    /// The last minute at which the work of each stop may begin so that everything after it still
    /// ends by `bound`, windows kept.
    pub fn latest_starts(&self, frame: &Frame, order: Order, bound: f64) -> Vec<f64> {
        latest_starts(frame, order, &self.blocks, &self.finish, bound)
    }

    /// When the plan ends, in many draws.
    pub fn ends(&self, frame: &Frame, order: Order, variation: Variation) -> Ends {
        ends(frame, order, &self.blocks, &self.finish, variation)
    }
}

/// When a plan that was timed ends, in many draws.
pub fn ends(
    frame: &Frame,
    order: Order,
    blocks: &[Block],
    finish: &Finish,
    variation: Variation,
) -> Ends {
    let stops: Vec<[Gap; MOST_LANES]> = blocks.iter().map(|block| block.gaps).collect();
    ends_of(frame, order, Gaps { stops: &stops, home: &finish.gaps }, variation)
}

/// A plan that was timed, in every draw: held against a limit, so that a task can be put in.
pub fn simulate(
    frame: &Frame,
    order: Order,
    blocks: &[Block],
    finish: &Finish,
    limit: f64,
    variation: Variation,
) -> Simulated {
    let stops: Vec<[Gap; MOST_LANES]> = blocks.iter().map(|block| block.gaps).collect();
    Simulated::of(frame, order, Gaps { stops: &stops, home: &finish.gaps }, limit, variation)
}

/// Times a plan. It fails at the stop (or, past the last, on the way home) that cannot be reached.
pub fn time(frame: &Frame, order: Order, routes: &impl Routes) -> Result<Timed, (usize, NoWay)> {
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
            .go(frame, (place, stop), routes, release, &mut tell)
            .map_err(|no_way| (place, no_way))?;
        blocks.push(block);
    }
    let home = order.stops.len();
    let finish = state.finish(frame, routes, &mut tell).map_err(|no_way| (home, no_way))?;
    Ok(Timed { blocks, segments, finish })
}
