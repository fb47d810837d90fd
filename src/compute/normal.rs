//! The normal distribution: the chance to stay under a value, and the value for a chance.

use statrs::function::erf;

/// The chance that a standard normal value stays at or under `z`.
pub fn cdf(z: f64) -> f64 {
    0.5 * erf::erfc(-z / std::f64::consts::SQRT_2)
}

/// The standard normal value that is stayed under with that chance.
pub fn quantile(chance: f64) -> f64 {
    -std::f64::consts::SQRT_2 * erf::erfc_inv(2.0 * chance)
}

/// The chance that a normal value stays at or under `bound`; certain where nothing varies.
pub fn below(bound: f64, mean: f64, variance: f64) -> f64 {
    if variance > 0.0 {
        cdf((bound - mean) / variance.sqrt())
    } else if mean <= bound {
        1.0
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::{below, quantile};

    #[test]
    fn twenty_one_months_with_variance_four() {
        // Source: project-scheduling exercise, problem text published, answers worked out with
        // SciPy (FACTS P4): P(≤ 17) 0.0228, ≤ 20 0.3085, ≤ 23 0.8413, ≤ 25 0.9772; 95 % at 24.29.
        for (bound, chance) in [(17.0, 0.0228), (20.0, 0.3085), (23.0, 0.8413), (25.0, 0.9772)] {
            assert!((below(bound, 21.0, 4.0) - chance).abs() < 5e-5);
        }
        assert!((21.0 + 2.0 * quantile(0.95) - 24.29).abs() < 5e-3);
    }

    #[test]
    fn without_spread_it_is_certain_either_way() {
        assert!((below(10.0, 10.0, 0.0) - 1.0).abs() < f64::EPSILON);
        assert!(below(9.0, 10.0, 0.0).abs() < f64::EPSILON);
    }
}
