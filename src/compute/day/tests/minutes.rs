//! Minutes with a fallback, and minutes that are left of work under way.

use serde::Deserialize;

use super::super::Minutes;
use super::made::cases;
use crate::normal;
use crate::three_point::Spread;

/// Even draws of the minutes, in order.
fn draws(minutes: &Minutes, taken: Option<f64>) -> Vec<f64> {
    // A rank for each score, and beside it a Kronecker sequence for which way the work goes.
    const COUNT: u32 = 60_000;
    let rank = |at: u32| (f64::from(at) + 0.5) / f64::from(COUNT);
    let which = |at: u32| (f64::from(at) * 0.618_033_988_749_895).fract();
    let draw = |at| minutes.draw(normal::quantile(rank(at)), which(at), 0.0, taken);
    let mut all: Vec<f64> = (0..COUNT).map(draw).collect();
    all.sort_by(f64::total_cmp);
    all
}

fn spread([mean, sd]: [f64; 2]) -> Spread {
    Spread { mean, variance: sd * sd }
}

#[derive(Deserialize)]
struct Case {
    a: [f64; 2],
    b: [f64; 2],
    trigger: f64,
    chance: f64,
    mean: f64,
    p80: f64,
    taken: f64,
    left: [f64; 2],
}

#[test]
fn the_mixture_has_the_mean_and_the_p80_of_a_million_samples() {
    // Source: NumPy 2.4, 10⁶ samples; tests/reference/if_then.py. Mean (1 − q) A + q (trigger + B):
    // law of total expectation, common practice.
    let all: Vec<Case> = cases(include_str!("../../../../tests/reference/if_then.json"));
    assert_eq!(all.len(), 60);
    for (at, case) in all.iter().enumerate() {
        let (a, b) = (spread(case.a), spread(case.b));
        let minutes = Minutes::with_fallback(a, case.trigger, case.chance, b);
        let left = draws(&minutes, Some(case.taken));
        let whole = draws(&minutes, None);
        let rank = |of: &[f64], tenths: usize| of[of.len() * tenths / 10];
        for (what, ours, theirs) in [
            ("mean", minutes.mean(), case.mean),
            ("P80", minutes.quantile(0.8), case.p80),
            ("P80 of draws", rank(&whole, 8), case.p80),
            ("P50 of what is left", rank(&left, 5), case.left[0]),
            ("P80 of what is left", rank(&left, 8), case.left[1]),
        ] {
            // Between the two ways in which the work can go few samples lie: there their own error is
            // up to 1 %.
            assert!(
                (ours - theirs).abs() < 0.012 * theirs,
                "case {at}: {what} {ours} for {theirs}"
            );
        }
        assert!(left.iter().all(|minutes| *minutes >= case.taken));
    }
}

#[test]
fn a_fallback_that_is_never_or_always_needed_is_one_approach() {
    let (a, b) = (spread([40.0, 10.0]), spread([30.0, 8.0]));
    let never = Minutes::with_fallback(a, 35.0, 0.0, b);
    assert!((never.quantile(0.8) - a.quantile(0.8)).abs() < 1e-6);
    let always = Minutes::with_fallback(a, 35.0, 1.0, b);
    assert!((always.quantile(0.8) - 35.0 - b.quantile(0.8)).abs() < 1e-6);
}

#[test]
fn work_far_beyond_its_law_still_ends_after_now() {
    let minutes = Minutes::of(spread([40.0, 10.0]));
    for taken in [0.0, 10.0, 60.0, 200.0, 2_000.0] {
        let left = draws(&minutes, Some(taken));
        assert!(left.iter().all(|minutes| minutes.is_finite() && *minutes >= taken), "{taken}");
    }
}
