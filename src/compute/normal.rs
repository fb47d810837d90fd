//! The normal distribution: the chance to stay under a value, and the value for a chance.

use statrs::function::erf;

/// The standard normal value that is stayed under with that chance.
pub fn quantile(chance: f64) -> f64 {
    -std::f64::consts::SQRT_2 * erf::erfc_inv(2.0 * chance)
}

/// The chance that a standard normal value stays at or under `z`.
pub fn cdf(z: f64) -> f64 {
    0.5 * erf::erfc(-z / std::f64::consts::SQRT_2)
}

/// The height of the standard normal curve.
pub fn density(z: f64) -> f64 {
    (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

#[cfg(test)]
mod tests {
    use super::{cdf, quantile};

    #[test]
    fn twenty_one_months_with_variance_four() {
        // Source: project-scheduling exercise, problem text published, answers worked out with
        // SciPy: P(≤ 17) 0.0228, ≤ 20 0.3085, ≤ 23 0.8413, ≤ 25 0.9772; 95 % at 24.29.
        for (bound, chance) in [(17.0, 0.0228), (20.0, 0.3085), (23.0, 0.8413), (25.0, 0.9772)] {
            let score = (bound - 21.0) / 2.0;
            assert!((cdf(score) - chance).abs() < 5e-5);
            assert!((quantile(cdf(score)) - score).abs() < 1e-9);
        }
        assert!((21.0 + 2.0 * quantile(0.95) - 24.29).abs() < 5e-3);
    }
}
