//! The fixed draws against plain sampling of the same plan.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::super::sampling::{Draws, sample};
use super::super::{Lanes, Order, Stop, Variation, time};
use super::{BOTH, EV1, EV2, at, frame, three_places};
use crate::three_point::{Spread, ThreePoint};

const DAY: Variation =
    Variation { crew_day: 0.12, egress: 0.0, ingress: 0.0, travel: 0.0, site: 0.0 };
/// Everything varies.
const ALL: Variation =
    Variation { crew_day: 0.12, egress: 0.15, ingress: 0.15, travel: 0.2, site: 0.2 };

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
        let variation = if seed % 2 == 0 { DAY } else { ALL };
        let ends = time(&frame, order, &table).unwrap().ends(&frame, order, variation);
        let draws = Draws { count: 10_000, seed };
        let sampled = sample(&frame, order, &table, variation, None, draws).unwrap();
        for share in [0.05, 0.2, 0.5, 0.65, 0.8, 0.9, 0.95] {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a rank")]
            let bound = sampled.ends()[(share * 10_000.0) as usize];
            let apart = (ends.chance_by(bound) - share).abs();
            worst = worst.max(apart);
            assert!(apart < 0.02, "{apart} at {share}: {plan:?}");
        }
        assert!((ends.chance_by(ends.end_at(0.8)) - 0.8).abs() < 1e-3);
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
    let fixed = time(&frame, order, &table).unwrap().finish.end() - 60.0;
    let draws = Draws { count: 10_000, seed: 1 };
    let sampled = sample(&frame, order, &table, DAY, None, draws).unwrap();
    let count = 10_000.0;
    let mean = sampled.ends().iter().sum::<f64>() / count;
    let variance = sampled.ends().iter().map(|end| (end - mean).powi(2)).sum::<f64>() / count;
    let wanted = (3600.0 + 144.0) * (0.12_f64 * 0.12).exp() - 3600.0;
    assert!((mean - fixed - 60.0).abs() < 4.0 * (wanted / count).sqrt(), "{mean}");
    assert!((variance / wanted - 1.0).abs() < 0.08, "{variance} for {wanted}");
    assert_eq!(sampled.share_by(f64::INFINITY), Some(1.0));
    assert_eq!(sampled.share_by(fixed), Some(0.0));
    assert_eq!(sample(&frame, order, &table, DAY, None, draws).unwrap(), sampled);
    let other = sample(&frame, order, &table, DAY, None, Draws { seed: 2, ..draws }).unwrap();
    assert_ne!(other, sampled);
}

#[test]
fn a_stop_is_reached_as_often_as_it_ends_in_time() {
    // One lane at one place: the first stop is reached where its lognormal minutes stay under what
    // the fixed minutes leave, the second where the sum of both does.
    // Source: statrs 0.19, LogNormal::cdf, a general-purpose library; the sum by plain summation
    // over its density.
    use statrs::distribution::{Continuous as _, ContinuousCDF as _, LogNormal};
    let (sites, table) = three_places();
    let frame = frame(1, &sites);
    let minutes = [(100.0, 30.0), (80.0, 40.0)];
    let work = minutes.map(|(mean, sd): (f64, f64)| Spread { mean, variance: sd * sd });
    let plan = work.map(|work| Stop { work, ..at(1, EV1, 0.0) });
    let order = Order { stops: &plan, needs: &[] };
    let day = Variation { crew_day: 0.0, ..DAY };
    let fixed = time(&frame, order, &table).unwrap().finish.end() - 180.0;
    let draws = Draws { count: 40_000, seed: 11 };
    let law = |(mean, sd): (f64, f64)| {
        let square = (1.0 + (sd / mean).powi(2)).ln();
        LogNormal::new(mean.ln() - square / 2.0, square.sqrt()).unwrap()
    };
    let (first, second) = (law(minutes[0]), law(minutes[1]));
    for left in [90.0, 120.0, 170.0, 210.0, 300.0] {
        let sampled = sample(&frame, order, &table, day, Some(fixed + left), draws).unwrap();
        let both: f64 = (0..3_000)
            .map(|step| (f64::from(step) + 0.5) * 0.1)
            .filter(|minutes| *minutes < left)
            .map(|minutes| first.pdf(minutes) * second.cdf(left - minutes) * 0.1)
            .sum();
        // Three standard errors of a share of 40,000 draws are under 0.75 points.
        for (stop, wanted) in [first.cdf(left), both].into_iter().enumerate() {
            let got = sampled.chance_to_reach(stop).unwrap();
            assert!((got - wanted).abs() < 0.0075, "{left} {stop}: {got} for {wanted}");
        }
        assert_eq!(sampled.chance_to_reach(1), sampled.share_by(fixed + left));
    }
}

#[test]
fn along_a_lane_a_later_stop_is_never_reached_more_often() {
    let (sites, table) = three_places();
    let mut random = ChaCha8Rng::seed_from_u64(9);
    for seed in 0..20 {
        let plan: Vec<Stop> = (0..6)
            .map(|_| {
                let mean = random.random_range(20.0..80.0);
                let work = Spread { mean, variance: mean * mean / 9.0 };
                let lanes: Lanes = [EV1, EV2, BOTH][random.random_range(0..3)];
                Stop { work, ..at(random.random_range(0..3), lanes, 0.0) }
            })
            .collect();
        let needs = [(0, 4)];
        let order = Order { stops: &plan, needs: &needs };
        let frame = frame(2, &sites);
        let draws = Draws { count: 2_000, seed };
        let limit = 260.0;
        let sampled = sample(&frame, order, &table, DAY, Some(limit), draws).unwrap();
        let reached = |stop: usize| sampled.chance_to_reach(stop).unwrap();
        assert!(reached(4) <= reached(0));
        for lanes in [EV1, EV2] {
            let mut so_far = 1.0;
            for stop in (0..6).filter(|stop| plan[*stop].lanes == lanes) {
                assert!(reached(stop) <= so_far, "{stop} of {plan:?}");
                so_far = reached(stop);
            }
        }
        for stop in 0..6 {
            assert!(reached(stop) >= sampled.share_by(limit).unwrap());
        }
        assert_eq!(sampled.chance_to_reach(6), None);
    }
}

#[test]
fn pessimistic_minutes_far_beyond_the_likely_are_told_right() {
    // Two-seat work whose pessimistic minutes are 4 to 12 times the likely ones: moments of the
    // later lane tell the end of such a plan wrong. Source: plain sampling, 40,000 draws.
    let (sites, table) = three_places();
    let frame = frame(2, &sites);
    let mut random = ChaCha8Rng::seed_from_u64(9);
    for seed in 0..12 {
        let plan: Vec<Stop> = (0..6)
            .map(|place| {
                let likely: f64 = random.random_range(10.0..40.0);
                let far = likely * random.random_range(4.0..12.0);
                let work = ThreePoint::new(likely * 0.8, likely, far).unwrap().part(1.0);
                let lanes = [EV1, EV2, BOTH][place % 3];
                Stop { work, ..at(random.random_range(0..3), lanes, 0.0) }
            })
            .collect();
        let order = Order { stops: &plan, needs: &[] };
        let ends = time(&frame, order, &table).unwrap().ends(&frame, order, ALL);
        let draws = Draws { count: 40_000, seed };
        let sampled = sample(&frame, order, &table, ALL, None, draws).unwrap();
        for share in [0.3, 0.5, 0.69, 0.8, 0.9] {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a rank")]
            let bound = sampled.ends()[(share * 40_000.0) as usize];
            let apart = (ends.chance_by(bound) - share).abs();
            assert!(apart < 0.02, "{apart} at {share}, seed {seed}");
        }
        let p80 = sampled.share_by(ends.end_at(0.8)).unwrap();
        assert!((p80 - 0.8).abs() < 0.02, "{p80}");
    }
}

#[test]
fn without_any_work_the_overheads_alone_spread_the_end() {
    // Egress 30 and ingress 20 of mean 1 lognormal factors: the variance of their sum is
    // 900 (e^0.0225 − 1) + 400 (e^0.0225 − 1) = 29.58. Source: lognormal moments, common practice.
    let (sites, table) = three_places();
    let frame = frame(2, &sites);
    let order = Order { stops: &[], needs: &[] };
    let ends = time(&frame, order, &table).unwrap().ends(&frame, order, ALL);
    // 50 + 0.8416 · √29.58 = 54.6, a little less for the skew.
    assert!((ends.end_at(0.8) - 54.5).abs() < 0.3, "{}", ends.end_at(0.8));
    let even = time(&frame, order, &table).unwrap().ends(&frame, order, DAY);
    assert!((even.end_at(0.8) - 50.0).abs() < 1e-3);
}
