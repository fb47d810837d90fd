//! The minutes of one task: a lognormal, or with fallbacks a mixture of one for each approach, as
//! they are before the day and after some minutes of work.

use crate::normal;
use crate::three_point::Spread;

/// The minutes of a task. With an if–then, approach A holds with one chance; with the other, A is
/// given up after its trigger's minutes and approach B follows, which may be given up for C in turn.
#[derive(Debug, Clone, PartialEq)]
pub struct Minutes(Vec<Part>);

/// A fallback of the approach before it: given up after the trigger's minutes of that approach, with
/// that chance once it is under way. Work that is left as it is takes no more minutes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Then {
    pub trigger: f64,
    pub chance: f64,
    pub work: Spread,
}

/// One way in which the work can go.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Part {
    weight: f64,
    /// Minutes that are spent before the work of this part begins, whatever the crew day.
    before: f64,
    log_mean: f64,
    log_sd: f64,
}

/// Work that takes no time at all is a moment of it, work without spread has next to none.
const LEAST_MINUTES: f64 = 1e-6;
const LEAST_LOG_SD: f64 = 1e-4;

impl Part {
    fn of(weight: f64, before: f64, work: Spread) -> Self {
        let mean = work.mean.max(LEAST_MINUTES);
        let square = (1.0 + work.variance / (mean * mean)).ln();
        let log_sd = square.sqrt().max(LEAST_LOG_SD);
        Self { weight, before, log_mean: mean.ln() - square / 2.0, log_sd }
    }

    /// How many standard deviations the logarithm of those minutes lies above its mean.
    fn score(&self, minutes: f64, log_day: f64) -> f64 {
        let work = minutes - self.before;
        if work <= 0.0 {
            return f64::NEG_INFINITY;
        }
        (work.ln() - self.log_mean - log_day) / self.log_sd
    }

    fn minutes(&self, score: f64, log_day: f64) -> f64 {
        self.before + (self.log_mean + self.log_sd * score + log_day).exp()
    }

    /// The chance to take longer.
    fn beyond(&self, minutes: f64, log_day: f64) -> f64 {
        normal::cdf(-self.score(minutes, log_day))
    }

    fn mean(&self) -> f64 {
        self.before + (self.log_mean + self.log_sd * self.log_sd / 2.0).exp()
    }

    fn variance(&self) -> f64 {
        (self.mean() - self.before).powi(2) * (self.log_sd * self.log_sd).exp_m1()
    }
}

impl Minutes {
    pub fn of(work: Spread) -> Self {
        Self(vec![Part::of(1.0, 0.0, work)])
    }

    /// Approach A, and what follows where it is given up, in order.
    pub fn with_fallbacks(a: Spread, then: &[Then]) -> Self {
        Self::after(0.0, a, then)
    }

    /// An approach from now on, after those minutes of others, and what follows it.
    pub fn after(taken: f64, approach: Spread, then: &[Then]) -> Self {
        let (mut before, mut work, mut reached) = (taken, approach, 1.0);
        let mut parts = Vec::with_capacity(then.len() + 1);
        for next in then {
            let chance = next.chance.clamp(0.0, 1.0);
            parts.push(Part::of(reached * (1.0 - chance), before, work));
            (before, work, reached) = (before + next.trigger, next.work, reached * chance);
        }
        parts.push(Part::of(reached, before, work));
        parts.retain(|part| part.weight > 0.0);
        Self(parts)
    }

    pub fn mean(&self) -> f64 {
        self.0.iter().map(|part| part.weight * part.mean()).sum()
    }

    /// The mean and the variance of the mixture, for who takes it for one lognormal.
    // Source: law of total variance, common practice.
    pub fn spread(&self) -> Spread {
        let mean = self.mean();
        let apart = |part: &Part| (part.mean() - mean).powi(2) + part.variance();
        let variance = self.0.iter().map(|part| part.weight * apart(part)).sum();
        Spread { mean, variance }
    }

    /// The chance to take longer than that on such a day.
    pub(super) fn beyond(&self, minutes: f64, log_day: f64) -> f64 {
        self.0.iter().map(|part| part.weight * part.beyond(minutes, log_day)).sum()
    }

    /// How likely those very minutes are on such a day, up to a factor that is the same for every
    /// day.
    pub(super) fn density(&self, minutes: f64, log_day: f64) -> f64 {
        let of = |part: &Part| {
            let score = part.score(minutes, log_day);
            let work = (minutes - part.before).max(LEAST_MINUTES);
            part.weight * normal::density(score) / (part.log_sd * work)
        };
        self.0.iter().map(of).sum()
    }

    /// The minutes that are stayed under with that chance, on a day as planned.
    pub fn quantile(&self, chance: f64) -> f64 {
        let mut low = 0.0;
        let mut high = self.0.iter().map(|part| part.minutes(8.0, 0.0)).fold(0.0, f64::max);
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if 1.0 - self.beyond(middle, 0.0) < chance {
                low = middle;
            } else {
                high = middle;
            }
        }
        high
    }

    /// The minutes of one draw: a standard normal score, and a second draw from 0 to 1 that says
    /// which way the work goes. `taken`: it has not ended after those minutes.
    pub(super) fn draw(&self, score: f64, which: f64, log_day: f64, taken: Option<f64>) -> f64 {
        let Some(taken) = taken.filter(|taken| *taken > 0.0) else {
            let weights = self.0.iter().map(|part| part.weight);
            return self.0[pick(weights, which)].minutes(score, log_day);
        };
        let left = || self.0.iter().map(|part| part.weight * part.beyond(taken, log_day));
        let part = &self.0[pick(left(), which)];
        let beyond = part.beyond(taken, log_day);
        // Of the scores above that of the minutes taken, the one of the same rank.
        let rank = normal::cdf(-score) * beyond;
        let drawn = if rank > f64::MIN_POSITIVE {
            part.minutes(-normal::quantile(rank), log_day)
        } else {
            taken
        };
        drawn.max(taken)
    }
}

/// The place that a value from 0 to 1 falls on, by weights of any sum; the first where all are 0.
fn pick(weights: impl Iterator<Item = f64> + Clone, at: f64) -> usize {
    let total: f64 = weights.clone().sum();
    let mut left = at * total;
    let mut place = 0;
    for (k, weight) in weights.enumerate() {
        if weight > 0.0 {
            place = k;
            if left < weight {
                break;
            }
        }
        left -= weight;
    }
    place
}
