//! The three-point estimate of work minutes: optimistic, likely, pessimistic.

use crate::normal;

/// Minutes as a person estimates them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ThreePoint {
    pub optimistic: f64,
    pub likely: f64,
    pub pessimistic: f64,
}

/// A duration known by its mean and its variance, in minutes and minutes squared.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Spread {
    pub mean: f64,
    pub variance: f64,
}

impl ThreePoint {
    /// An estimate in which the three stand in order; `None` where they do not.
    pub fn new(optimistic: f64, likely: f64, pessimistic: f64) -> Option<Self> {
        let ordered = 0.0 <= optimistic && optimistic <= likely && likely <= pessimistic;
        (ordered && pessimistic.is_finite()).then_some(Self { optimistic, likely, pessimistic })
    }

    /// M = (a + 4m + b)/6.
    pub fn mean(self) -> f64 {
        (self.optimistic + 4.0 * self.likely + self.pessimistic) / 6.0
    }

    /// D = (b − a)/6.
    pub fn sd(self) -> f64 {
        (self.pessimistic - self.optimistic) / 6.0
    }

    /// The part of the work that is planned, as a share of the whole from 0 to 1.
    pub fn part(self, share: f64) -> Spread {
        Spread { mean: self.mean() * share, variance: (self.sd() * share).powi(2) }
    }
}

impl Spread {
    /// The minutes that are stayed under with that chance, as a lognormal of this mean and
    /// variance: σ² = ln(1 + D²/M²), μ = ln M − σ²/2.
    pub fn quantile(self, chance: f64) -> f64 {
        if self.mean <= 0.0 || self.variance <= 0.0 {
            return self.mean;
        }
        let square = (1.0 + self.variance / (self.mean * self.mean)).ln();
        (self.mean.ln() - square / 2.0 + square.sqrt() * normal::quantile(chance)).exp()
    }
}

#[cfg(test)]
mod tests {
    use super::{Spread, ThreePoint};
    use crate::normal;

    fn estimate(optimistic: f64, likely: f64, pessimistic: f64) -> ThreePoint {
        ThreePoint::new(optimistic, likely, pessimistic).unwrap()
    }

    #[test]
    fn eight_ten_twenty_four_gives_twelve() {
        // Source: Malcolm, Roseboom, Clark, Fazar, Operations Research 7, 1959, as described in
        // published course pages: te = (a + 4m + b)/6, variance = ((b − a)/6)².
        let spread = estimate(8.0, 10.0, 24.0).part(1.0);
        assert!((spread.mean - 12.0).abs() < 1e-12);
        assert!((spread.variance - 7.1111).abs() < 5e-5);
    }

    #[test]
    fn the_foundry_project_takes_fifteen_weeks() {
        // Source: Heizer, Render, Operations Management, the foundry example, from memory,
        // worked out again with SciPy: te 2, 3, 2, 4, 4, 3, 5, 2; path A-C-E-G-H 15 weeks,
        // variance 3.1111, P(≤ 16) 0.71462.
        let work = [
            estimate(1.0, 2.0, 3.0),
            estimate(2.0, 3.0, 4.0),
            estimate(1.0, 2.0, 3.0),
            estimate(2.0, 4.0, 6.0),
            estimate(1.0, 4.0, 7.0),
            estimate(1.0, 2.0, 9.0),
            estimate(3.0, 4.0, 11.0),
            estimate(1.0, 2.0, 3.0),
        ];
        let means: Vec<f64> = work.iter().map(|w| w.mean()).collect();
        assert_eq!(means, [2.0, 3.0, 2.0, 4.0, 4.0, 3.0, 5.0, 2.0]);
        let (mut mean, mut variance) = (0.0, 0.0);
        for at in [0, 2, 4, 6, 7] {
            mean += work[at].part(1.0).mean;
            variance += work[at].part(1.0).variance;
        }
        assert!((mean - 15.0).abs() < 1e-12);
        assert!((variance - 3.1111).abs() < 5e-5);
        assert!((normal::cdf((16.0 - mean) / f64::sqrt(variance)) - 0.71462).abs() < 5e-6);
        let date = mean + normal::quantile(0.99) * f64::sqrt(variance);
        assert!((date - 19.103).abs() < 5e-4);
    }

    #[test]
    fn the_course_network_ends_on_its_printed_date() {
        // Source: OPMA 5364 course sheet, inputs; answers worked out with SciPy:
        // critical c-f-h 44.8333, variance 1.91667, P(> 48) 0.011088, P(< 43) 0.092711.
        let path =
            [estimate(12.0, 14.0, 16.0), estimate(17.0, 21.0, 24.0), estimate(9.0, 10.0, 11.0)];
        let mean: f64 = path.iter().map(|w| w.mean()).sum();
        let variance: f64 = path.iter().map(|w| w.part(1.0).variance).sum();
        assert!((mean - 44.8333).abs() < 5e-5);
        assert!((variance - 1.91667).abs() < 5e-6);
        let sd = variance.sqrt();
        assert!((1.0 - normal::cdf((48.0 - mean) / sd) - 0.011_088).abs() < 5e-7);
        assert!((normal::cdf((43.0 - mean) / sd) - 0.092_711).abs() < 5e-7);
        assert!((mean + normal::quantile(0.8) * sd - 45.9985).abs() < 5e-5);
    }

    #[test]
    fn half_the_work_is_half_the_mean_and_half_the_spread() {
        let half = estimate(8.0, 10.0, 24.0).part(0.5);
        assert!((half.mean - 6.0).abs() < 1e-12);
        assert!((half.variance - 7.1111 / 4.0).abs() < 5e-5);
    }

    #[test]
    fn quantiles_of_the_lognormal() {
        // A mean of exp(1/2) with variance (e − 1) e is the standard lognormal: median 1, and
        // e^0.8416 = 2.3201 at 80 %. Source: lognormal moments, common practice.
        let e = std::f64::consts::E;
        let spread = Spread { mean: 0.5_f64.exp(), variance: (e - 1.0) * e };
        assert!((spread.quantile(0.5) - 1.0).abs() < 1e-9);
        assert!((spread.quantile(0.8) - 2.3201).abs() < 5e-5);
        assert!((Spread { mean: 7.0, variance: 0.0 }.quantile(0.8) - 7.0).abs() < 1e-12);
    }

    #[test]
    fn an_estimate_out_of_order_is_none() {
        assert_eq!(ThreePoint::new(10.0, 8.0, 24.0), None);
        assert_eq!(ThreePoint::new(-1.0, 8.0, 24.0), None);
        assert_eq!(ThreePoint::new(1.0, 8.0, f64::INFINITY), None);
    }
}
