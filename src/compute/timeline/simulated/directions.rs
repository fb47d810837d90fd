//! The draws of a plan turned so that the first coordinates carry what moves its end most.
//!
//! The first coordinates of a Sobol sequence are spread more evenly than any others. What ends a
//! plan late, or makes a stop miss its window, is the work up to there as a whole and no single
//! stop of it. So the first coordinate is laid along the work of all lanes together, the next ones
//! along the work up to each stop that waits. Turning independent normal values leaves them what
//! they are.
// Source: Acworth, Broadie, Glasserman, A comparison of some Monte Carlo and quasi Monte Carlo
// techniques for option pricing, 1998: the directions that matter most come first; from memory.

use super::draws::{BATCH, Drawn, narrow, normals_of_stop};
use crate::timeline::{MOST_LANES, Stop};

/// The mirrors by which the draws of a plan are turned.
#[derive(Debug, Clone)]
pub(super) struct Mirrors(Vec<Vec<f32>>);

impl Mirrors {
    pub fn of(stops: &[Stop]) -> Self {
        Self(mirrors(directions(stops)))
    }

    /// Standard normal values for the work of that many stops.
    #[inline(always)]
    pub fn normals(&self, stops: usize, batch: usize) -> Vec<Drawn> {
        let mut drawn: Vec<Drawn> = (0..stops).map(|at| *normals_of_stop(at, batch)).collect();
        for mirror in self.0.iter().rev() {
            let mut along = [0.0; BATCH];
            for (part, values) in mirror.iter().zip(&drawn) {
                along.iter_mut().zip(values).for_each(|(along, value)| *along += part * value);
            }
            for (part, values) in mirror.iter().zip(&mut drawn) {
                let twice = 2.0 * part;
                values.iter_mut().zip(&along).for_each(|(value, along)| *value -= twice * along);
            }
        }
        drawn
    }
}

/// What matters most first: all work, the work up to each stop that waits for a window or for
/// another lane, then the work of each lane.
fn directions(stops: &[Stop]) -> Vec<Vec<f64>> {
    let spreads = |holds: &dyn Fn(usize) -> bool| {
        let sd =
            |(at, stop): (usize, &Stop)| if holds(at) { stop.work.variance.sqrt() } else { 0.0 };
        stops.iter().enumerate().map(sd).collect::<Vec<f64>>()
    };
    let mut all: Vec<Vec<f64>> = vec![spreads(&|_| true)];
    let before = before_each(stops);
    for (at, stop) in stops.iter().enumerate() {
        if stop.waits() || stop.lanes.count() > 1 {
            all.push(spreads(&|other| before[at] & 1 << other != 0));
        }
    }
    all.extend((1..MOST_LANES).map(|lane| spreads(&|at| stops[at].lanes.has(lane))));
    all
}

/// The stops that each stop comes after in its lanes, itself among them.
fn before_each(stops: &[Stop]) -> Vec<u128> {
    let mut lanes = [0_u128; MOST_LANES];
    let mut before = Vec::new();
    for (at, stop) in stops.iter().enumerate() {
        let mut own = 1 << (at % 128);
        for lane in stop.lanes.each() {
            own |= lanes[lane];
        }
        for lane in stop.lanes.each() {
            lanes[lane] = own;
        }
        before.push(own);
    }
    before
}

/// The mirrors that lay the first coordinate along the first direction, the next along what the
/// second has beside it, and so on.
// Source: Householder, Unitary triangularization of a nonsymmetric matrix, Journal of the ACM 5,
// 1958.
fn mirrors(directions: Vec<Vec<f64>>) -> Vec<Vec<f32>> {
    let mut mirrors: Vec<Vec<f64>> = Vec::new();
    for mut direction in directions {
        let at = mirrors.len();
        for mirror in &mirrors {
            let along: f64 = mirror.iter().zip(&direction).map(|(a, b)| a * b).sum();
            direction.iter_mut().zip(mirror).for_each(|(to, part)| *to -= 2.0 * part * along);
        }
        direction.iter_mut().take(at).for_each(|part| *part = 0.0);
        let long = length(&direction);
        let Some(first) = direction.get_mut(at).filter(|_| long > 1e-6) else { continue };
        // To the side from which nothing cancels.
        *first += if *first < 0.0 { -long } else { long };
        let long = length(&direction);
        mirrors.push(direction.into_iter().map(|part| part / long).collect());
    }
    mirrors.into_iter().map(|mirror| mirror.into_iter().map(narrow).collect()).collect()
}

fn length(of: &[f64]) -> f64 {
    of.iter().map(|part| part * part).sum::<f64>().sqrt()
}
