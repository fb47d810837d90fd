//! The crew-day factor, updated by what the day has shown: Bayes' rule on a grid of its logarithm.
//!
//! Before the day the logarithm is normal, with the mean that makes the factor's mean 1. Work that
//! ended says how likely its minutes are under each factor; work under way says that it takes
//! longer than it has taken. Work that was not completed says nothing.

use super::Minutes;
use crate::normal;

/// What one piece of work tells of the day.
#[derive(Debug, Clone, Copy)]
pub struct Observation<'a> {
    pub minutes: &'a Minutes,
    /// The share of the work that those minutes are for.
    pub share: f64,
    pub taken: f64,
    /// It goes on after those minutes.
    pub goes_on: bool,
}

/// The logarithm of the factor by which all work of the day is longer: its distribution.
#[derive(Debug, Clone, PartialEq)]
pub struct CrewDay {
    mean: f64,
    sd: f64,
    /// Where work told something: points of the grid, and the chance to stay under each.
    grid: Vec<(f64, f64)>,
}

/// The grid spans this many standard deviations either way.
const SPAN: f64 = 7.0;
const POINTS: u32 = 560;

impl CrewDay {
    pub fn of<'a>(log_sd: f64, told: impl IntoIterator<Item = Observation<'a>>) -> Self {
        let before = Self { mean: -log_sd * log_sd / 2.0, sd: log_sd, grid: Vec::new() };
        let told: Vec<Observation> = told.into_iter().filter(|one| one.taken > 0.0).collect();
        if told.is_empty() || log_sd <= 0.0 {
            return before;
        }
        let step = 2.0 * SPAN * log_sd / f64::from(POINTS);
        let points: Vec<f64> =
            (0..=POINTS).map(|at| before.mean - SPAN * log_sd + f64::from(at) * step).collect();
        let logs: Vec<f64> = points
            .iter()
            .map(|&log_day| {
                let score = (log_day - before.mean) / log_sd;
                told.iter().map(|one| one.log_likelihood(log_day)).sum::<f64>()
                    - score * score / 2.0
            })
            .collect();
        let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if !most.is_finite() {
            return before;
        }
        let heights: Vec<f64> = logs.iter().map(|log| (log - most).exp()).collect();
        let total: f64 = heights.iter().sum();
        let mean = points.iter().zip(&heights).map(|(at, height)| at * height).sum::<f64>() / total;
        let square = |(at, height): (&f64, &f64)| (at - mean).powi(2) * height;
        let sd = (points.iter().zip(&heights).map(square).sum::<f64>() / total).sqrt();
        // The sum up to the middle of each point's own part.
        let mut sum = 0.0;
        let grid = points.iter().zip(&heights).map(|(&at, height)| {
            let under = (sum + height / 2.0) / total;
            sum += height;
            (at, under)
        });
        let grid = grid.collect();
        Self { mean, sd, grid }
    }

    /// Mean and standard deviation of the logarithm.
    pub fn log(&self) -> (f64, f64) {
        (self.mean, self.sd)
    }

    /// The factor that is stayed under with that chance: 1.2 is work that takes a fifth longer.
    pub fn factor(&self, chance: f64) -> f64 {
        self.at(normal::quantile(chance)).exp()
    }

    /// The logarithm of the rank of a standard normal score.
    pub(super) fn at(&self, score: f64) -> f64 {
        if self.grid.is_empty() {
            return self.mean + self.sd * score;
        }
        let chance = normal::cdf(score);
        let next = self.grid.partition_point(|(_, under)| *under < chance);
        let Some(&(high, under_high)) = self.grid.get(next) else {
            return self.grid.last().map_or(self.mean, |(at, _)| *at);
        };
        let Some(&(low, under_low)) = next.checked_sub(1).and_then(|at| self.grid.get(at)) else {
            return high;
        };
        low + (high - low) * (chance - under_low) / (under_high - under_low).max(f64::MIN_POSITIVE)
    }
}

impl Observation<'_> {
    fn log_likelihood(&self, log_day: f64) -> f64 {
        // A share of the work takes that share of its minutes.
        let whole = self.taken / self.share.max(f64::MIN_POSITIVE);
        let likely = if self.goes_on {
            self.minutes.beyond(whole, log_day)
        } else {
            self.minutes.density(whole, log_day)
        };
        likely.max(f64::MIN_POSITIVE).ln()
    }
}
