//! The quick approximations against the exact functions, and the bounds against what they bound.

use crate::places::SiteAt;
use proptest::prelude::*;

use super::directions::Mirrors;
use super::draws::{BATCH, BATCHES, narrow, normals, normals_of_stop};
use super::law::{fast_cdf, fast_exp, fast_ln};
use super::stretches::{Stretches, last_ready, work_ends};
use crate::lighting::Stretch;
use crate::normal;
use crate::three_point::Spread;
use crate::timeline::{Lanes, Light, Stop, Windows};

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

/// All draws of a coordinate.
fn drawn(coordinate: usize) -> Vec<f64> {
    (0..BATCHES).flat_map(|at| normals(coordinate, at)).map(|z| f64::from(*z)).collect()
}

fn drawn_of_stop(stop: usize) -> Vec<f64> {
    let batches = (0..BATCHES).flat_map(|at| normals_of_stop(stop, at));
    batches.map(|z| f64::from(*z)).collect()
}

/// Means and covariance of two quantities in all draws.
fn moments(a: &[f64], b: &[f64]) -> (f64, f64, f64) {
    let count = f64::from(u32::try_from(a.len()).unwrap());
    let mean = |of: &[f64]| of.iter().sum::<f64>() / count;
    let (at, to) = (mean(a), mean(b));
    let shared = a.iter().zip(b).map(|(a, b)| (a - at) * (b - to)).sum::<f64>() / count;
    (at, to, shared)
}

#[test]
fn the_draws_of_a_coordinate_are_spread_as_a_normal_value_is() {
    for coordinate in [0, 1, 5, 12, 63] {
        let draws = drawn(coordinate);
        let (mean, _, variance) = moments(&draws, &draws);
        assert!(
            mean.abs() < 0.01 && (variance - 1.0).abs() < 0.02,
            "{coordinate}: {mean} {variance}"
        );
        let first: f64 = draws[..BATCH].iter().map(|z| f64::from(u8::from(*z < 0.5))).sum();
        assert!((first / 256.0 - normal::cdf(0.5)).abs() < 0.01, "the first batch alone too");
    }
}

#[test]
fn turned_draws_are_independent_normal_values_still() {
    let lanes = [Lanes::one(0), Lanes::one(1), Lanes::one(0).and(1)];
    let stops: Vec<Stop> = [12.0, 30.0, 7.0, 19.0, 25.0, 3.0]
        .into_iter()
        .enumerate()
        .map(|(at, mean)| {
            let work = Spread { mean, variance: mean * mean / 20.0 };
            Stop { arm: at % 2 == 1, ..Stop::plain(SiteAt(0), lanes[at % 3], work) }
        })
        .collect();
    let mirrors = Mirrors::of(&stops);
    let all: Vec<Vec<f64>> = (0..stops.len())
        .map(|stop| {
            let batches = (0..BATCHES).map(|at| mirrors.normals(stops.len(), at)[stop]);
            batches.flatten().map(f64::from).collect()
        })
        .collect();
    for (one, a) in all.iter().enumerate() {
        for (other, b) in all.iter().enumerate() {
            let (mean, _, shared) = moments(a, b);
            let wanted = f64::from(u8::from(one == other));
            assert!(mean.abs() < 0.02, "{one}: {mean}");
            assert!((shared - wanted).abs() < 0.06, "{one} and {other}: {shared}");
        }
    }
    // Turning keeps the length of every draw.
    let long = |of: &[Vec<f64>], draw: usize| of.iter().map(|z| z[draw].powi(2)).sum::<f64>();
    let plain: Vec<Vec<f64>> = (0..stops.len()).map(drawn_of_stop).collect();
    for draw in 0..BATCHES * BATCH {
        assert!((long(&all, draw) - long(&plain, draw)).abs() < 1e-3, "{draw}");
    }
    // The first coordinate tells the sum of all work, as far as its spread decides it.
    let sds: Vec<f64> = stops.iter().map(|stop| stop.work.variance.sqrt()).collect();
    let sum: Vec<f64> = (0..BATCHES * BATCH)
        .map(|draw| all.iter().zip(&sds).map(|(z, sd)| z[draw] * sd).sum())
        .collect();
    let whole = sds.iter().map(|sd| sd * sd).sum::<f64>().sqrt();
    for (sum, first) in sum.iter().zip(&plain[0]) {
        assert!((sum.abs() - whole * first.abs()).abs() < 1e-3, "{sum} for {first}");
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
    let all = Stretches::of(&windows, 420.0);
    let plain = Stop::plain(SiteAt(0), Lanes::one(0), Spread::default());
    // To a minute: a stretch ends a hundredth later, so that rounding decides nothing.
    let spans = |stop: Stop| {
        let whole = |(from, until): (f32, f32)| (from.round(), until.round());
        all.for_stop(&stop).map(|open| open.spans.into_iter().map(whole).collect::<Vec<_>>())
    };
    let of = |arm: bool, light: Light| spans(Stop { arm, light, ..plain });
    assert_eq!(of(false, Light::Any), None);
    assert_eq!(of(true, Light::Any).unwrap(), [(60.0, 200.0), (230.0, 380.0)]);
    assert_eq!(of(true, Light::Day).unwrap(), [(60.0, 100.0), (140.0, 200.0), (230.0, 240.0)]);
    assert_eq!(of(false, Light::Night).unwrap(), [(100.0, 140.0), (240.0, 400.0)]);
    // An arrangement bounds them all.
    let bounded = Stop { from: 90.0, until: 190.0, ..plain };
    assert_eq!(spans(bounded).unwrap(), [(90.0, 190.0)]);
    let by_day = Stop { light: Light::Day, ..bounded };
    assert_eq!(spans(by_day).unwrap(), [(90.0, 100.0), (140.0, 190.0)]);
}

proptest! {
    #[test]
    fn who_is_ready_by_the_last_moment_ends_in_time_and_nobody_else(
        gaps in prop::collection::vec((1..60_u16, 5..80_u16), 1..5), pauses in any::<bool>(),
        ready in 0..400_u16, work in 1..70_u16, end in 0..500_u16,
    ) {
        let mut from = 0.0;
        let days: Vec<Stretch> = gaps
            .iter()
            .map(|(gap, long)| {
                let opens = from + f64::from(*gap);
                from = opens + f64::from(*long);
                Stretch { from: opens, until: from }
            })
            .collect();
        let windows = Windows { days, ..Windows::default() };
        let plain = Stop::plain(SiteAt(0), Lanes::one(0), Spread::default());
        let open = Stretches::of(&windows, 501.0).for_stop(&Stop { light: Light::Day, pauses, ..plain });
        // Quarters keep the bounds away from one another, so that rounding decides nothing.
        let (ready, work, end) = (f32::from(ready), f32::from(work) + 0.25, f32::from(end) + 0.5);
        let ends = work_ends(open.as_ref(), &[ready; BATCH], &[work; BATCH]);
        let latest = last_ready(open.as_ref(), &[end; BATCH], &[work; BATCH]);
        prop_assert_eq!(ends[7] <= end, ready <= latest[7], "{} {}", ends[7], latest[7]);
    }
}
