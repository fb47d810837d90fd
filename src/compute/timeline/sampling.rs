//! A plan simulated many times the plain way: work minutes and the factors of the excursion are
//! drawn, and every draw is timed by the timeline itself. It is what the fixed draws of
//! `simulated` are held against.

use crate::places::SiteAt;
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use typed_index_collections::TiVec;

use super::{Frame, Lanes, NoWay, Order, Routes, SiteMinutes, State, Stop, Variation};
use crate::three_point::Spread;

/// How often, and from which seed: the same two give the same ends on every machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Draws {
    pub count: usize,
    pub seed: u64,
}

/// A plan in many draws.
#[derive(Debug, Clone, PartialEq)]
pub struct Sampled {
    /// When it ended in each, the earliest first.
    ends: Vec<f64>,
    /// How often each stop was reached, from 0 to 1; empty without a limit.
    reached: Vec<f64>,
}

impl Sampled {
    /// The share of the draws that ended by then; `None` where nothing was drawn.
    pub fn share_by(&self, bound: f64) -> Option<f64> {
        let by = self.ends.partition_point(|end| *end <= bound);
        (!self.ends.is_empty()).then(|| share(by, self.ends.len()))
    }

    /// The ends in their order.
    pub fn ends(&self) -> &[f64] {
        &self.ends
    }

    /// The chance that a stop is reached: begun in time to end it and be inside by the limit. Crews
    /// end in time: a seat for whose next stop no time is left drops that one and all after it, and
    /// what needs a dropped stop is dropped too.
    pub fn chance_to_reach(&self, stop: usize) -> Option<f64> {
        self.reached.get(stop).copied()
    }
}

fn share(part: usize, whole: usize) -> f64 {
    let count = |n: usize| u32::try_from(n).map_or(f64::from(u32::MAX), f64::from);
    count(part) / count(whole)
}

/// Travel that takes longer by a factor.
struct Paced<'r, R> {
    routes: &'r R,
    pace: f64,
}

impl<R: Routes> Routes for Paced<'_, R> {
    fn travel(&self, from: SiteAt, to: SiteAt, leaves: f64, slow: f64) -> Option<f64> {
        self.routes.travel(from, to, leaves, slow * self.pace)
    }
}

/// Draws the ends of a plan, and which stops are reached before a limit.
pub fn sample(
    frame: &Frame,
    order: Order,
    routes: &impl Routes,
    variation: Variation,
    limit: Option<f64>,
    draws: Draws,
) -> Result<Sampled, NoWay> {
    let mut random = ChaCha8Rng::seed_from_u64(draws.seed);
    let laws: Vec<Law> = order.stops.iter().map(|stop| Law::of(stop.work)).collect();
    let count = order.stops.len();
    let mut work_ends = vec![0.0; count];
    let mut stops: Vec<Stop> = order.stops.to_vec();
    let mut reached = vec![0_usize; count];
    let mut ends = Vec::with_capacity(draws.count);
    for _ in 0..draws.count {
        let mut factor = |log_sd: f64| (log_sd * normal(&mut random) - log_sd.powi(2) / 2.0).exp();
        let day = factor(variation.crew_day);
        let (egress, ingress) = (factor(variation.egress), factor(variation.ingress));
        let (pace, site) = (factor(variation.travel), factor(variation.site));
        let slower =
            |at: &SiteMinutes| SiteMinutes { setup: at.setup * site, cleanup: at.cleanup * site };
        let sites: TiVec<SiteAt, SiteMinutes> = frame.sites.iter().map(slower).collect();
        let (egress, ingress) = (frame.egress * egress, frame.ingress * ingress);
        let frame = Frame { egress, ingress, sites: &sites, ..*frame };
        let routes = Paced { routes, pace };
        let mut state = State::outside(&frame);
        for (place, stop) in stops.iter_mut().enumerate() {
            let mean = laws[place].draw(&mut random) * day;
            stop.work = Spread { mean, variance: 0.0 };
            let release = order.release(place, |first| work_ends[first]);
            work_ends[place] = state.pass(&frame, stop, &routes, release)?.1;
        }
        let end = state.finish(&frame, &routes, &mut |_| ())?.end();
        ends.push(end);
        match limit {
            Some(limit) if end <= limit => reached.iter_mut().for_each(|count| *count += 1),
            Some(limit) => {
                let order = Order { stops: &stops, needs: order.needs };
                note_reached(&mut reached, &frame, order, &routes, limit);
            }
            None => {}
        }
    }
    ends.sort_by(f64::total_cmp);
    let reached = match limit {
        Some(_) => reached.into_iter().map(|count| share(count, draws.count)).collect(),
        None => Vec::new(),
    };
    Ok(Sampled { ends, reached })
}

/// Counts the stops that are reached in one draw of a plan that does not end in time.
fn note_reached(
    reached: &mut [usize],
    frame: &Frame,
    order: Order,
    routes: &impl Routes,
    limit: f64,
) {
    let mut state = State::outside(frame);
    let mut working = Lanes::up_to(frame.lanes);
    // When the work of each stop that was reached ended.
    let mut work_ends: Vec<Option<f64>> = vec![None; order.stops.len()];
    for (place, stop) in order.stops.iter().enumerate() {
        let needs = order.needs.iter().filter(|(_, then)| *then == place);
        let dropped = needs.clone().any(|(first, _)| work_ends[*first].is_none());
        if dropped || stop.lanes.each().any(|lane| !working.has(lane)) {
            continue;
        }
        let release = order.release(place, |first| work_ends[first].unwrap_or_default());
        let mut after = state;
        let end = after.pass(frame, stop, routes, release).map(|(_, end, _)| end);
        let home = after.finish(frame, routes, &mut |_| ()).map(|finish| finish.end());
        match (end, home) {
            (Ok(end), Ok(home)) if home <= limit => {
                (state, work_ends[place]) = (after, Some(end));
                reached[place] += 1;
            }
            _ => working = stop.lanes.each().fold(working, Lanes::without),
        }
    }
}

/// Lognormal minutes of a mean and a variance.
#[derive(Debug, Clone, Copy)]
struct Law {
    log_mean: f64,
    log_sd: f64,
}

impl Law {
    fn of(work: Spread) -> Self {
        let square = if work.mean > 0.0 {
            (1.0 + work.variance / (work.mean * work.mean)).ln()
        } else {
            0.0
        };
        Self { log_mean: work.mean.ln() - square / 2.0, log_sd: square.sqrt() }
    }

    fn draw(self, random: &mut impl Rng) -> f64 {
        (self.log_mean + self.log_sd * normal(random)).exp()
    }
}

/// A standard normal draw.
// Source: Box, Muller, A note on the generation of random normal deviates, Annals of Mathematical
// Statistics 29, 1958.
fn normal(random: &mut impl Rng) -> f64 {
    let (a, b): (f64, f64) = (random.random(), random.random());
    (-2.0 * (1.0 - a).ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}
