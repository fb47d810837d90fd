//! The worked-out chance against plain sampling of the same plan.

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::super::{CrewDay, Lanes, Order, Stop, time};
use super::{BOTH, EV1, EV2, at, frame, three_places};
use crate::compute::three_point::Spread;
use crate::compute::travel::Network;

const DAY: CrewDay = CrewDay { log_sd: 0.12 };

/// A standard normal draw, by Box and Muller.
fn draw(random: &mut impl Rng) -> f64 {
    let (a, b): (f64, f64) = (random.random(), random.random());
    (-2.0 * (1.0 - a).ln()).sqrt() * (std::f64::consts::TAU * b).cos()
}

/// Lognormal minutes of that mean and variance.
fn minutes(work: Spread, random: &mut impl Rng) -> f64 {
    let square = (1.0 + work.variance / (work.mean * work.mean)).ln();
    (work.mean.ln() - square / 2.0 + square.sqrt() * draw(random)).exp()
}

/// The ends of a plan in many draws, in order: every draw is timed by the timeline itself.
fn sampled(plan: &[Stop], table: &Network, draws: usize, random: &mut impl Rng) -> Vec<f64> {
    let (sites, _) = three_places();
    let frame = frame(2, &sites);
    let mut ends: Vec<f64> = (0..draws)
        .map(|_| {
            let factor = (DAY.log_sd * draw(random) - DAY.log_sd * DAY.log_sd / 2.0).exp();
            let lived: Vec<Stop> = plan
                .iter()
                .map(|stop| {
                    let mean = minutes(stop.work, random) * factor;
                    Stop { work: Spread { mean, variance: 0.0 }, ..*stop }
                })
                .collect();
            let order = Order { stops: &lived, needs: &[] };
            time(&frame, order, |_| table, DAY).unwrap().finish.end()
        })
        .collect();
    ends.sort_by(f64::total_cmp);
    ends
}

#[test]
fn the_chance_agrees_with_sampling_within_two_points() {
    let (sites, table) = three_places();
    let mut random = ChaCha8Rng::seed_from_u64(4);
    let mut worst = 0.0_f64;
    for _ in 0..24 {
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
        let timed = time(&frame(2, &sites), order, |_| &table, DAY).unwrap();
        let ends = sampled(&plan, &table, 10_000, &mut random);
        for share in [0.05, 0.2, 0.5, 0.65, 0.8, 0.9, 0.95] {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a rank")]
            let bound = ends[(share * 10_000.0) as usize];
            let apart = (timed.ends.chance_by(bound) - share).abs();
            worst = worst.max(apart);
            assert!(apart < 0.02, "{apart} at {share}: {plan:?}");
        }
        assert!((timed.ends.chance_by(timed.ends.end_at(0.8)) - 0.8).abs() < 1e-6);
    }
    println!("furthest apart: {:.2} points", worst * 100.0);
}
