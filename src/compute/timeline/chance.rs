//! How far the ends of the lanes may lie from where they are at the mean, and so the chance that
//! an excursion ends in time.
//!
//! Along a lane means, variances and third moments of the work add, and one crew-day factor
//! multiplies all work of an excursion. Where two lanes meet, the later one goes on: the moments
//! of the later of two correlated normal values are those of Clark, The greatest of a finite set
//! of random variables, Operations Research 9, 1961. A lane's end is then taken as a shifted
//! lognormal with its three moments, and two lanes are inside together with the chance of two
//! correlated normal values (Drezner and Wesolowsky, Journal of Statistical Computation and
//! Simulation 35, 1990).

use super::{Block, Finish, Frame, MOST_LANES, Stop};
use crate::compute::normal;

/// The factor of mean 1 by which all work of an excursion goes slower or faster together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CrewDay {
    /// Standard deviation of its logarithm.
    pub log_sd: f64,
}

impl CrewDay {
    /// The mean of its square and of its cube.
    fn moments(self) -> (f64, f64) {
        let variance = self.log_sd * self.log_sd;
        (variance.exp(), (3.0 * variance).exp())
    }
}

/// A moment that is `fixed` minutes plus work of that mean, variance and third moment.
#[derive(Debug, Clone, Copy, Default)]
struct Moment {
    fixed: f64,
    work: f64,
    variance: f64,
    third: f64,
}

/// The moments of every lane, with what they share.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Spreads {
    lanes: [Moment; MOST_LANES],
    shared: [[f64; MOST_LANES]; MOST_LANES],
    count: usize,
}

impl Moment {
    const fn mean(&self) -> f64 {
        self.fixed + self.work
    }

    /// The later of two, `shared` being their covariance; and the chance that it is the first.
    fn later(&self, other: &Self, shared: f64) -> (Self, f64) {
        let apart = (self.variance + other.variance - 2.0 * shared).max(0.0).sqrt();
        let lead = self.mean() - other.mean();
        if apart < 1e-9 || lead.abs() > 6.0 * apart {
            return if lead >= 0.0 { (*self, 1.0) } else { (*other, 0.0) };
        }
        let (chance, height) = (normal::cdf(lead / apart), normal::density(lead / apart));
        let rest = 1.0 - chance;
        let (a, b) = (self.mean(), other.mean());
        let mean = a * chance + b * rest + apart * height;
        let square = (a * a + self.variance) * chance
            + (b * b + other.variance) * rest
            + (a + b) * apart * height;
        let fixed = self.fixed * chance + other.fixed * rest;
        let later = Self {
            fixed,
            work: mean - fixed,
            variance: (square - mean * mean).max(0.0),
            third: self.third * chance + other.third * rest,
        };
        (later, chance)
    }
}

impl Spreads {
    pub(crate) fn outside(frame: &Frame) -> Self {
        let lane = Moment { fixed: frame.egress, ..Moment::default() };
        Self {
            lanes: [lane; MOST_LANES],
            shared: [[0.0; MOST_LANES]; MOST_LANES],
            count: frame.lanes,
        }
    }

    /// Goes along with a stop that has been timed.
    pub(crate) fn go(&mut self, stop: &Stop, block: &Block) {
        for lane in stop.lanes.each() {
            self.lanes[lane].fixed += block.gaps[lane];
        }
        let first = stop.lanes.first();
        let mut at = self.lanes[first];
        let mut shared = self.shared[first];
        for lane in stop.lanes.each().skip(1) {
            let (later, chance) = at.later(&self.lanes[lane], shared[lane]);
            for (other, with) in shared.iter_mut().enumerate() {
                *with = *with * chance + self.shared[lane][other] * (1.0 - chance);
            }
            at = later;
        }
        if block.opens > 0.0 {
            let opens = Moment { fixed: block.opens, ..Moment::default() };
            let (later, chance) = at.later(&opens, 0.0);
            shared = shared.map(|with| with * chance);
            at = later;
        }
        at.work += stop.work.mean;
        at.variance += stop.work.variance;
        at.third += third_moment(stop.work.mean, stop.work.variance);
        for lane in stop.lanes.each() {
            self.lanes[lane] = at;
            for (other, &apart) in shared.iter().enumerate().take(self.count) {
                let with = if stop.lanes.has(other) { at.variance } else { apart };
                self.shared[lane][other] = with;
                self.shared[other][lane] = with;
            }
        }
    }

    /// Goes home with every lane.
    pub(crate) fn finish(mut self, finish: &Finish, crew_day: CrewDay) -> Ends {
        let (square, _) = crew_day.moments();
        let mut ends = Ends { count: self.count, ..Ends::default() };
        for lane in 0..self.count {
            self.lanes[lane].fixed += finish.gaps[lane];
            ends.lanes[lane] = End::new(&self.lanes[lane], crew_day);
        }
        for lane in 1..self.count {
            let (a, b) = (&self.lanes[lane - 1], &self.lanes[lane]);
            let shared = square * self.shared[lane - 1][lane] + (square - 1.0) * a.work * b.work;
            let both = ends.lanes[lane - 1].variance * ends.lanes[lane].variance;
            ends.together[lane - 1] = if both > 0.0 { shared / both.sqrt() } else { 0.0 };
        }
        ends
    }
}

/// Third central moment of a lognormal of that mean and variance.
fn third_moment(mean: f64, variance: f64) -> f64 {
    if mean <= 0.0 {
        return 0.0;
    }
    let square = variance / (mean * mean);
    variance * mean * square * (3.0 + square)
}

/// When a lane is inside: a lognormal above a shift.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
struct End {
    mean: f64,
    variance: f64,
    shift: f64,
    log_mean: f64,
    /// 0 where the skew is too small to matter: the end is normal then.
    log_sd: f64,
}

impl End {
    fn new(at: &Moment, crew_day: CrewDay) -> Self {
        let (f2, f3) = crew_day.moments();
        let Moment { work, variance, third, .. } = *at;
        let second = variance + work * work;
        let spread = f2 * second - work * work;
        let cube = third + 3.0 * work * variance + work.powi(3);
        let skewed = f3 * cube - 3.0 * work * f2 * second + 2.0 * work.powi(3);
        let mut end = Self { mean: at.mean(), variance: spread.max(0.0), ..Self::default() };
        let skew = if spread > 1e-12 { skewed / (spread * spread.sqrt()) } else { 0.0 };
        if skew > 1e-3 {
            // Skew = (w + 2) √(w − 1) with w = exp σ²: by Cardano, for the cubic in w.
            let half = 1.0 + skew * skew / 2.0;
            let root = (half + (half * half - 1.0).sqrt()).cbrt();
            let w = root + 1.0 / root - 1.0;
            end.log_sd = w.ln().sqrt();
            let above = (spread / (w - 1.0)).sqrt();
            end.log_mean = above.ln() - w.ln() / 2.0;
            end.shift = end.mean - above;
        }
        end
    }

    /// The standard normal value that stands for `bound`.
    fn score(&self, bound: f64) -> f64 {
        if self.log_sd > 0.0 {
            let above = bound - self.shift;
            if above <= 0.0 {
                return f64::NEG_INFINITY;
            }
            (above.ln() - self.log_mean) / self.log_sd
        } else if self.variance > 0.0 {
            (bound - self.mean) / self.variance.sqrt()
        } else if self.mean <= bound + 1e-9 {
            f64::INFINITY
        } else {
            f64::NEG_INFINITY
        }
    }
}

/// When the lanes are inside, with their spread.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Ends {
    lanes: [End; MOST_LANES],
    /// Correlation of each lane with the next.
    together: [f64; MOST_LANES],
    count: usize,
}

impl Ends {
    /// The chance that every lane is inside by then.
    pub fn chance_by(&self, bound: f64) -> f64 {
        let score = |lane: usize| self.lanes[lane].score(bound);
        match self.count {
            0 => 1.0,
            1 => normal::cdf(score(0)),
            // With three lanes or more, each depends on the one before it alone.
            count => {
                let pair = |lane: usize| {
                    normal::both(score(lane - 1), score(lane), self.together[lane - 1])
                };
                (2..count).fold(pair(1), |chance, lane| {
                    let before = normal::cdf(score(lane - 1));
                    if before > 0.0 { chance * pair(lane) / before } else { 0.0 }
                })
            }
        }
    }

    /// The minute by which every lane is inside with that chance.
    pub fn end_at(&self, chance: f64) -> f64 {
        let lanes = &self.lanes[..self.count];
        let reach = |sds: f64| {
            lanes.iter().map(|end| end.mean + sds * end.variance.sqrt()).fold(0.0, f64::max)
        };
        let (mut low, mut high) = (reach(-8.0), reach(12.0));
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if self.chance_by(middle) < chance { low = middle } else { high = middle }
        }
        f64::midpoint(low, high)
    }
}
