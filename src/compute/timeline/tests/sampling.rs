//! The worked-out chance against plain sampling of the same plan.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::super::sampling::{Draws, sample};
use super::super::{CrewDay, Lanes, Order, Stop, time};
use super::{BOTH, EV1, EV2, at, frame, three_places};
use crate::compute::three_point::Spread;

const DAY: CrewDay = CrewDay { log_sd: 0.12 };

#[test]
fn the_chance_agrees_with_sampling_within_two_points() {
    let (sites, table) = three_places();
    let mut random = ChaCha8Rng::seed_from_u64(4);
    let mut worst = 0.0_f64;
    for seed in 0..24 {
        let count = random.random_range(1..9);
        let plan: Vec<Stop> = (0..count)
            .map(|_| {
                let mean = random.random_range(15.0..90.0);
                let sd = mean * random.random_range(0.05..0.33);
                let lanes: Lanes = [EV1, EV2, EV1, EV2, BOTH][random.random_range(0..5)];
                let work = Spread { mean, variance: sd * sd };
                Stop { work, ..at(random.random_range(0..3), lanes, 0.0) }
            })
            .collect();
        let order = Order { stops: &plan, needs: &[] };
        let frame = frame(2, &sites);
        let timed = time(&frame, order, |_| &table, DAY).unwrap();
        let draws = Draws { count: 10_000, seed };
        let sampled = sample(&frame, order, |_| &table, DAY, draws).unwrap();
        for share in [0.05, 0.2, 0.5, 0.65, 0.8, 0.9, 0.95] {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a rank")]
            let bound = sampled.ends()[(share * 10_000.0) as usize];
            let apart = (timed.ends.chance_by(bound) - share).abs();
            worst = worst.max(apart);
            assert!(apart < 0.02, "{apart} at {share}: {plan:?}");
        }
        assert!((timed.ends.chance_by(timed.ends.end_at(0.8)) - 0.8).abs() < 1e-6);
    }
    println!("furthest apart: {:.2} points", worst * 100.0);
}

#[test]
fn draws_repeat_from_their_seed_and_keep_mean_and_spread() {
    // One task of mean 60 and sd 12 between 41 fixed minutes: the mean of the ends is 101 and
    // their variance that of a product of independent values: (60² + 12²)·e^(0.12²) − 60².
    // Source: moments of products and of the lognormal, common practice.
    let (sites, table) = three_places();
    let frame = frame(2, &sites);
    let plan = [Stop { work: Spread { mean: 60.0, variance: 144.0 }, ..at(0, EV1, 0.0) }];
    let order = Order { stops: &plan, needs: &[] };
    let fixed = time(&frame, order, |_| &table, DAY).unwrap().finish.end() - 60.0;
    let draws = Draws { count: 10_000, seed: 1 };
    let sampled = sample(&frame, order, |_| &table, DAY, draws).unwrap();
    let count = 10_000.0;
    let mean = sampled.ends().iter().sum::<f64>() / count;
    let variance = sampled.ends().iter().map(|end| (end - mean).powi(2)).sum::<f64>() / count;
    let wanted = (3600.0 + 144.0) * (0.12_f64 * 0.12).exp() - 3600.0;
    assert!((mean - fixed - 60.0).abs() < 4.0 * (wanted / count).sqrt(), "{mean}");
    assert!((variance / wanted - 1.0).abs() < 0.08, "{variance} for {wanted}");
    assert_eq!(sampled.share_by(f64::INFINITY), Some(1.0));
    assert_eq!(sampled.share_by(fixed), Some(0.0));
    assert_eq!(sample(&frame, order, |_| &table, DAY, draws).unwrap(), sampled);
    let other = sample(&frame, order, |_| &table, DAY, Draws { seed: 2, ..draws }).unwrap();
    assert_ne!(other, sampled);
}
