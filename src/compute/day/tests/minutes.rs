//! Minutes with fallbacks, and minutes that are left of work under way.

use serde::Deserialize;

use super::super::{Minutes, Then};
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

fn fallback(of: &Fallback) -> Then {
    Then { trigger: of.trigger, chance: of.chance, work: spread(of.work) }
}

fn spread([mean, sd]: [f64; 2]) -> Spread {
    Spread { mean, variance: sd * sd }
}

#[derive(Deserialize)]
struct Fallback {
    trigger: f64,
    chance: f64,
    work: [f64; 2],
}

#[derive(Deserialize)]
struct Case {
    a: [f64; 2],
    then: Vec<Fallback>,
    mean: f64,
    sd: f64,
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
    // Source: NumPy 2.4, 10⁶ samples; tests/reference/if_then.py, one to four fallbacks. With one,
    // the mean is (1 − q) A + q (trigger + B): law of total expectation, common practice.
    let all: Vec<Case> = cases(include_str!("../../../../tests/reference/if_then.json"));
    assert_eq!(all.len(), 60);
    let mut most = 0.0_f64;
    let mut longest = 0;
    for (at, case) in all.iter().enumerate() {
        let then: Vec<Then> = case.then.iter().map(fallback).collect();
        longest = longest.max(then.len());
        let leaves = then.iter().any(|then| then.work.mean <= 0.0);
        let minutes = Minutes::with_fallbacks(spread(case.a), &then);
        let whole = draws(&minutes, None);
        let left = draws(&minutes, Some(case.taken));
        let beyond = minutes.beyond(case.taken, 0.0);
        let below = |value: f64| 1.0 - minutes.beyond(value, 0.0);
        let below_left = |value: f64| 1.0 - minutes.beyond(value, 0.0) / beyond;

        let mean = whole.iter().sum::<f64>() / f64::from(COUNT);
        let central = |power| {
            let each = whole.iter().map(|minutes| (minutes - mean).powi(power));
            each.sum::<f64>() / f64::from(COUNT)
        };
        let sd = central(2).sqrt();
        // Source: standard error of a sample's standard deviation, √((μ₄ − σ⁴)/n)/2σ; common
        // practice.
        let error_of_sd = ((central(4) - sd.powi(4)) / SAMPLES).sqrt() / (2.0 * sd);
        let missed = |ours: f64, theirs: f64| ((ours - theirs).abs() - ROUNDED).max(0.0);
        let Spread { mean: whole_mean, variance } = minutes.spread();
        assert!((whole_mean - minutes.mean()).abs() < 1e-9);
        for (what, errors) in [
            ("mean", missed(minutes.mean(), case.mean) / (sd / SAMPLES.sqrt())),
            ("standard deviation", missed(variance.sqrt(), case.sd) / error_of_sd),
            ("P80", missed_by(below, case.p80, 0.8, SAMPLES)),
            ("P50 of what is left", missed_by(below_left, case.left[0], 0.5, SAMPLES * beyond)),
            ("P80 of what is left", missed_by(below_left, case.left[1], 0.8, SAMPLES * beyond)),
        ] {
            most = most.max(errors);
            assert!(errors < ERRORS, "case {at}: {what} missed by {errors:.1} standard errors");
        }

        let rank = |of: &[f64], tenths: usize| of[of.len() * tenths / 10];
        let below_left: &dyn Fn(f64) -> f64 = &below_left;
        for (what, law, value, wanted, uneven) in [
            ("P80", &below as &dyn Fn(f64) -> f64, minutes.quantile(0.8), 0.8, 1e-9),
            ("P80 of draws", &below, rank(&whole, 8), 0.8, UNEVEN),
            ("P50 of draws left", below_left, rank(&left, 5), 0.5, UNEVEN),
            ("P80 of draws left", below_left, rank(&left, 8), 0.8, UNEVEN),
        ] {
            // Work that is left as it is ends at one minute, and the law jumps there.
            let near = if leaves { ROUNDED } else { 0.0 };
            let (least, most) = (law(value - near), law(value + near));
            let apart = (least - wanted).max(wanted - most);
            assert!(apart < uneven, "case {at}: {what} at a chance of {least} to {most}");
        }
        assert!(left.iter().all(|minutes| *minutes >= case.taken));
    }
    assert!(longest > 2, "the list is never longer than {longest}");
    println!("missed by at most {most:.1} standard errors of the samples");
}

#[test]
fn a_fallback_that_is_never_or_always_needed_is_one_approach() {
    let (a, b) = (spread([40.0, 10.0]), spread([30.0, 8.0]));
    let with = |chance| Minutes::with_fallbacks(a, &[Then { trigger: 35.0, chance, work: b }]);
    assert!((with(0.0).quantile(0.8) - a.quantile(0.8)).abs() < 1e-6);
    assert!((with(1.0).quantile(0.8) - 35.0 - b.quantile(0.8)).abs() < 1e-6);
    let Spread { mean, variance } = with(1.0).spread();
    assert!((mean - 65.0).abs() < 1e-6 && (variance - 64.0).abs() < 1e-6);
}

#[test]
fn work_far_beyond_its_law_still_ends_after_now() {
    let minutes = Minutes::of(spread([40.0, 10.0]));
    for taken in [0.0, 10.0, 60.0, 200.0, 2_000.0] {
        let left = draws(&minutes, Some(taken));
        assert!(left.iter().all(|minutes| minutes.is_finite() && *minutes >= taken), "{taken}");
    }
}
