//! Minutes with a fallback, and minutes that are left of work under way.

use serde::Deserialize;

use super::super::Minutes;
use super::made::cases;
use crate::normal;
use crate::three_point::Spread;

const COUNT: u32 = 60_000;

/// Samples of the reference.
const SAMPLES: f64 = 1e6;

/// So many standard errors the samples may miss a figure by: of 300 figures one does by chance once
/// in 500 sets of samples.
const ERRORS: f64 = 4.5;

/// Half of the last digit to which the samples' figures are rounded.
const ROUNDED: f64 = 0.005;

/// So far the share of the even draws below a value may lie from its chance. Of N points with even
/// ranks and a golden-ratio sequence beside them, a box holds its area to within
/// (4 + ln N / ln φ + ln N / ln 2) / N = 0.0007; the draws below a value are made of three boxes.
// Source: Kuipers and Niederreiter, Uniform Distribution of Sequences, ch. 2, theorem 3.4, 1974,
// from memory
const UNEVEN: f64 = 0.0021;

/// Even draws of the minutes, in order.
fn draws(minutes: &Minutes, taken: Option<f64>) -> Vec<f64> {
    // A rank for each score, and beside it a Kronecker sequence for which way the work goes.
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

/// By how many standard errors a percentile of samples misses the law: the share of the law below
/// it is known to √(q (1 − q)/n), wherever few samples lie and wherever many.
fn missed_by(below: impl Fn(f64) -> f64, percentile: f64, chance: f64, samples: f64) -> f64 {
    let (least, most) = (below(percentile - ROUNDED), below(percentile + ROUNDED));
    let apart = (least - chance).max(chance - most).max(0.0);
    apart / (chance * (1.0 - chance) / samples).sqrt()
}

#[test]
fn the_mixture_has_the_mean_and_the_p80_of_a_million_samples() {
    // Source: NumPy 2.4, 10⁶ samples; tests/reference/if_then.py. Mean (1 − q) A + q (trigger + B):
    // law of total expectation, common practice.
    let all: Vec<Case> = cases(include_str!("../../../../tests/reference/if_then.json"));
    assert_eq!(all.len(), 60);
    let mut most = 0.0_f64;
    for (at, case) in all.iter().enumerate() {
        let (a, b) = (spread(case.a), spread(case.b));
        let minutes = Minutes::with_fallback(a, case.trigger, case.chance, b);
        let whole = draws(&minutes, None);
        let left = draws(&minutes, Some(case.taken));
        let beyond = minutes.beyond(case.taken, 0.0);
        let below = |value: f64| 1.0 - minutes.beyond(value, 0.0);
        let below_left = |value: f64| 1.0 - minutes.beyond(value, 0.0) / beyond;

        let mean = whole.iter().sum::<f64>() / f64::from(COUNT);
        let square = whole.iter().map(|minutes| (minutes - mean).powi(2)).sum::<f64>();
        let sd = (square / f64::from(COUNT)).sqrt();
        let apart = ((minutes.mean() - case.mean).abs() - ROUNDED).max(0.0);
        for (what, errors) in [
            ("mean", apart / (sd / SAMPLES.sqrt())),
            ("P80", missed_by(below, case.p80, 0.8, SAMPLES)),
            ("P50 of what is left", missed_by(below_left, case.left[0], 0.5, SAMPLES * beyond)),
            ("P80 of what is left", missed_by(below_left, case.left[1], 0.8, SAMPLES * beyond)),
        ] {
            most = most.max(errors);
            assert!(errors < ERRORS, "case {at}: {what} missed by {errors:.1} standard errors");
        }

        let rank = |of: &[f64], tenths: usize| of[of.len() * tenths / 10];
        for (what, chance, wanted, uneven) in [
            ("P80", below(minutes.quantile(0.8)), 0.8, 1e-9),
            ("P80 of draws", below(rank(&whole, 8)), 0.8, UNEVEN),
            ("P50 of draws left", below_left(rank(&left, 5)), 0.5, UNEVEN),
            ("P80 of draws left", below_left(rank(&left, 8)), 0.8, UNEVEN),
        ] {
            assert!((chance - wanted).abs() < uneven, "case {at}: {what} at a chance of {chance}");
        }
        assert!(left.iter().all(|minutes| *minutes >= case.taken));
    }
    println!("missed by at most {most:.1} standard errors of the samples");
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
