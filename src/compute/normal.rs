//! The normal distribution: the chance to stay under a value, and the value for a chance.

use statrs::function::erf;

/// The chance that a standard normal value stays at or under `z`.
pub fn cdf(z: f64) -> f64 {
    0.5 * erf::erfc(-z / std::f64::consts::SQRT_2)
}

/// The height of the standard normal curve.
pub fn density(z: f64) -> f64 {
    (-z * z / 2.0).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// Nodes and weights of Gauss-Legendre quadrature of 10 points, one half.
/// Source: Abramowitz and Stegun, Handbook of Mathematical Functions, table 25.4.
const GAUSS: [(f64, f64); 5] = [
    (0.148_874_338_981_631, 0.295_524_224_714_753),
    (0.433_395_394_129_247, 0.269_266_719_309_996),
    (0.679_409_568_299_024, 0.219_086_362_515_982),
    (0.865_063_366_688_985, 0.149_451_349_150_581),
    (0.973_906_528_517_172, 0.066_671_344_308_688),
];

/// The chance that two standard normal values of that correlation stay under `a` and `b`:
/// Φ(a) Φ(b) + ∫ exp(−(a² + b² − 2ab sin θ)/(2 cos² θ)) dθ / 2π from 0 to asin ρ.
pub fn both(a: f64, b: f64, correlation: f64) -> f64 {
    if a == f64::NEG_INFINITY || b == f64::NEG_INFINITY {
        return 0.0;
    }
    // Beyond 7.5 the tail holds less than 4e-14: the other binds alone.
    if a.max(b) > 7.5 || correlation > 0.999 {
        return cdf(a.min(b));
    }
    let half = correlation.clamp(-0.999, 0.999).asin() / 2.0;
    let (squares, product) = (a * a + b * b, 2.0 * a * b);
    let at = |sin: f64| (-(squares - product * sin) / (2.0 * (1.0 - sin * sin))).exp();
    let (sin, cos) = half.sin_cos();
    let sum: f64 = GAUSS
        .iter()
        .map(|(node, weight)| {
            // The sines of half (1 − node) and half (1 + node).
            let (sin_node, cos_node) = (half * node).sin_cos();
            let (first, second) = (sin * cos_node, cos * sin_node);
            weight * (at(first - second) + at(first + second))
        })
        .sum();
    (cdf(a) * cdf(b) + half * sum / std::f64::consts::TAU).clamp(0.0, 1.0)
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
    use super::{below, both, cdf, quantile};

    #[test]
    fn two_correlated_values() {
        // In the corner at 0 the chance is known: 1/4 + asin ρ / 2π.
        // Source: Sheppard's theorem on the median dichotomy, 1899.
        for correlation in [-0.9_f64, -0.5, 0.0, 0.3, 0.5, 0.8, 0.95, 0.99] {
            let exact = 0.25 + correlation.asin() / std::f64::consts::TAU;
            assert!((both(0.0, 0.0, correlation) - exact).abs() < 1e-3, "{correlation}");
        }
        assert!((both(1.0, -0.5, 0.0) - cdf(1.0) * cdf(-0.5)).abs() < 1e-12);
        assert!((both(1.0, 0.4, 1.0) - cdf(0.4)).abs() < 1e-12);
        // With a bound that never binds the other decides.
        assert!((both(0.7, 9.0, 0.6) - cdf(0.7)).abs() < 1e-9);
    }

    #[test]
    fn twenty_one_months_with_variance_four() {
        // Source: project-scheduling exercise, problem text published, answers worked out with
        // SciPy: P(≤ 17) 0.0228, ≤ 20 0.3085, ≤ 23 0.8413, ≤ 25 0.9772; 95 % at 24.29.
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
