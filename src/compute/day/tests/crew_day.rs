//! The crew-day factor on made-up days whose factor is known.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::super::{CrewDay, Minutes, Observation};
use crate::normal;
use crate::three_point::{Spread, ThreePoint};

#[test]
fn ended_work_alone_gives_the_posterior_of_two_normals() {
    // Source: conjugate normal with known variance, e.g. Gelman et al., Bayesian Data Analysis,
    // section 2.5, from memory: precisions add, means are weighted by them.
    let works = [(40.0_f64, 60.0_f64, 52.0_f64), (25.0, 30.0, 20.0), (90.0, 200.0, 130.0)];
    let minutes: Vec<Minutes> =
        works.iter().map(|&(mean, variance, _)| Minutes::of(Spread { mean, variance })).collect();
    let told = works.iter().zip(&minutes).map(|(&(_, _, taken), minutes)| Observation {
        minutes,
        share: 1.0,
        taken,
        goes_on: false,
    });
    let (mean, sd) = CrewDay::of(0.15, told).log();
    let before = (0.15_f64 * 0.15, -0.15_f64 * 0.15 / 2.0);
    let (mut precision, mut sum) = (1.0 / before.0, before.1 / before.0);
    for (work, variance, taken) in works {
        let square = (1.0 + variance / (work * work)).ln();
        precision += 1.0 / square;
        sum += (taken.ln() - (work.ln() - square / 2.0)) / square;
    }
    assert!((mean - sum / precision).abs() < 1e-6, "{mean} for {}", sum / precision);
    assert!((sd - precision.sqrt().recip()).abs() < 1e-6, "{sd}");
}

#[test]
fn the_known_factor_of_a_made_up_day_is_held_as_often_as_said() {
    // 2,000 days, each with a factor of the law; three tasks ended and one has gone on for a while.
    // Eight in ten factors lie between P10 and P90, and they are nearer than before.
    let mut random = ChaCha8Rng::seed_from_u64(14);
    let mut score = || {
        let at: f64 = random.random();
        normal::quantile(at.clamp(1e-9, 1.0 - 1e-9))
    };
    let log_sd = 0.2;
    let (mut held, mut before, mut after) = (0, 0.0, 0.0);
    let days = 2_000;
    for _ in 0..days {
        let log_day = -log_sd * log_sd / 2.0 + log_sd * score();
        let estimates =
            [(20.0, 30.0, 45.0), (30.0, 40.0, 80.0), (10.0, 15.0, 24.0), (40.0, 60.0, 99.0)];
        let minutes =
            estimates.map(|(a, m, b)| Minutes::of(ThreePoint::new(a, m, b).unwrap().part(1.0)));
        let drawn = minutes.each_ref().map(|minutes| minutes.draw(score(), 0.5, log_day, None));
        let told = minutes.iter().enumerate().map(|(at, minutes)| {
            // The last one is looked at when half of what it will take has passed.
            let (goes_on, part) = if at == 3 { (true, 0.5) } else { (false, 1.0) };
            Observation { minutes, share: 1.0, taken: drawn[at] * part, goes_on }
        });
        let crew_day = CrewDay::of(log_sd, told);
        let inside = crew_day.factor(0.1).ln() <= log_day && log_day <= crew_day.factor(0.9).ln();
        held += i32::from(inside);
        before += (log_day + log_sd * log_sd / 2.0).powi(2);
        after += (log_day - crew_day.log().0).powi(2);
    }
    let share = f64::from(held) / f64::from(days);
    println!(
        "P10 to P90 held {:.1} %, error {:.3} of that before",
        share * 100.0,
        f64::sqrt(after / before)
    );
    // Looking at half of what the last one will take tells a little about it: 0.8 within 3 points.
    assert!((share - 0.8).abs() < 0.03, "{share}");
    assert!(after < 0.6 * before, "{after} of {before}");
}

#[test]
fn a_day_that_told_nothing_is_the_day_before() {
    let crew_day = CrewDay::of(0.12, []);
    assert!((crew_day.factor(0.5).ln() + 0.0072).abs() < 1e-9);
    assert!((crew_day.log().1 - 0.12).abs() < 1e-12);
}
