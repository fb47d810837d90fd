//! A plan lived through many times: work minutes and crew day are drawn, and every draw is timed
//! by the timeline itself. It stands beside the worked-out chance, which it must agree with.

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::{CrewDay, Frame, NoWay, Order, State, Stop};
use crate::compute::three_point::Spread;
use crate::compute::travel::Network;

/// How often, and from which seed: the same two give the same ends on every machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Draws {
    pub count: usize,
    pub seed: u64,
}

/// The ends of a plan in many draws, the earliest first.
#[derive(Debug, Clone, PartialEq)]
pub struct Sampled(Vec<f64>);

impl Sampled {
    /// The share of the draws that ended by then; `None` where nothing was drawn.
    pub fn share_by(&self, bound: f64) -> Option<f64> {
        let count = |n: usize| u32::try_from(n).map_or(f64::from(u32::MAX), f64::from);
        let by = self.0.partition_point(|end| *end <= bound);
        (!self.0.is_empty()).then(|| count(by) / count(self.0.len()))
    }

    /// The ends in their order.
    pub fn ends(&self) -> &[f64] {
        &self.0
    }
}

/// Draws the ends of a plan. `routes` gives the travel on the way to each stop, and at last on the
/// way home.
pub fn sample<'n>(
    frame: &Frame,
    order: Order,
    routes: impl Fn(usize) -> &'n Network,
    crew_day: CrewDay,
    draws: Draws,
) -> Result<Sampled, NoWay> {
    let mut random = ChaCha8Rng::seed_from_u64(draws.seed);
    let laws: Vec<Law> = order.stops.iter().map(|stop| Law::of(stop.work)).collect();
    let mut work_ends = vec![0.0; order.stops.len()];
    let mut ends = Vec::with_capacity(draws.count);
    for _ in 0..draws.count {
        let day = crew_day.log_sd * normal(&mut random) - crew_day.log_sd.powi(2) / 2.0;
        let mut state = State::outside(frame);
        for (place, stop) in order.stops.iter().enumerate() {
            let mean = laws[place].draw(&mut random) * day.exp();
            let lived = Stop { work: Spread { mean, variance: 0.0 }, ..*stop };
            let release = order.release(place, |first| work_ends[first]);
            work_ends[place] = state.pass(frame, &lived, routes(place), release)?.1;
        }
        ends.push(state.finish(frame, routes(order.stops.len()), &mut |_| ())?.end());
    }
    ends.sort_by(f64::total_cmp);
    Ok(Sampled(ends))
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
