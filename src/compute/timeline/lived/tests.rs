//! The quick approximations against the exact functions, and the bounds against what they bound.

use proptest::prelude::*;

use super::draws::{narrow, normals};
use super::law::{fast_cdf, fast_exp, fast_ln};
use super::stretches::{first_start, last_ready, stretches};
use crate::compute::lighting::Stretch;
use crate::compute::normal;
use crate::compute::timeline::{Light, Windows};

#[test]
fn the_quick_functions_are_near_the_exact_ones() {
    // Source: the Rust standard library, and statrs for the normal distribution.
    for step in 0..4_000_u16 {
        let at = f64::from(step) / 100.0 - 20.0;
        let power = f64::from(fast_exp(narrow(at)));
        assert!((power / at.exp() - 1.0).abs() < 1e-4, "e^{at}");
        let value = (f64::from(step) + 1.0) / 7.0;
        assert!((f64::from(fast_ln(narrow(value))) - value.ln()).abs() < 2e-5, "ln {value}");
        let score = f64::from(step) / 400.0 - 5.0;
        assert!((f64::from(fast_cdf(narrow(score))) - normal::cdf(score)).abs() < 4e-4, "{score}");
    }
}

#[test]
fn the_draws_of_a_coordinate_are_spread_as_a_normal_value_is() {
    for coordinate in [0, 1, 5, 12, 63] {
        let draws: Vec<f64> = normals(coordinate).iter().map(|z| f64::from(*z)).collect();
        let count = 2_048.0;
        let mean = draws.iter().sum::<f64>() / count;
        let variance = draws.iter().map(|z| (z - mean).powi(2)).sum::<f64>() / count;
        assert!(
            mean.abs() < 0.01 && (variance - 1.0).abs() < 0.02,
            "{coordinate}: {mean} {variance}"
        );
        let first: f64 = draws[..512].iter().map(|z| f64::from(u8::from(*z < 0.5))).sum();
        assert!((first / 512.0 - normal::cdf(0.5)).abs() < 0.005, "the first 512 alone too");
    }
}

#[test]
fn work_with_the_arm_by_day_lies_where_both_windows_meet() {
    let of = |from: f64, until: f64| Stretch { from, until };
    let windows = Windows {
        arm: vec![of(60.0, 200.0), of(230.0, 380.0)],
        days: vec![of(0.0, 100.0), of(140.0, 240.0)],
        nights: vec![of(100.0, 140.0), of(240.0, 400.0)],
    };
    assert_eq!(stretches(&windows, false, Light::Any), None);
    let day = stretches(&windows, true, Light::Day).unwrap();
    assert_eq!(day, [(60.0, 100.0), (140.0, 200.0), (230.0, 240.0)]);
    let night = stretches(&windows, false, Light::Night).unwrap();
    assert_eq!(night, [(100.0, 140.0), (240.0, 400.0)]);
}

proptest! {
    #[test]
    fn who_is_ready_by_the_last_moment_ends_in_time_and_nobody_else(
        gaps in prop::collection::vec((1..60_u16, 5..80_u16), 0..5),
        ready in 0..400_u16, work in 1..70_u16, end in 0..500_u16,
    ) {
        let mut from = 0.0;
        let stretches: Vec<(f32, f32)> = gaps
            .iter()
            .map(|(gap, long)| {
                let opens = from + f32::from(*gap);
                from = opens + f32::from(*long);
                (opens, from)
            })
            .collect();
        // Halves keep the bounds away from one another, so that rounding decides nothing.
        let (ready, work, end) = (f32::from(ready), f32::from(work) + 0.25, f32::from(end) + 0.5);
        let in_time = first_start(&stretches, ready, work) + work <= end;
        prop_assert_eq!(in_time, ready <= last_ready(&stretches, end, work));
    }
}
