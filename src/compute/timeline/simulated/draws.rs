//! The fixed draws, and what is done with one quantity in all draws of a batch at once.

use std::sync::OnceLock;

use super::law::fast_exp;
use crate::normal;
use crate::timeline::{Gap, Variation};

/// Draws that are simulated together. A chance near none or all rests on the first batch
/// alone, any other on all of them.
pub(super) const BATCH: usize = 256;
pub(super) const BATCHES: usize = 8;
/// Batches behind the end of a plan that is shown with all its figures.
pub(super) const BATCHES_OF_ENDS: usize = 16;

/// Coordinates: six of the whole excursion and those of 62 stops; beyond them they are used again.
const COORDINATES: usize = 68;

/// The coordinates of what an excursion shares. The first of the stops' follows the crew day: it
/// carries the work as a whole, see `directions`.
const CREW_DAY: usize = 0;
const FIRST_STOP: usize = 1;
const TRAVEL: usize = 2;
const SITE: usize = 3;
const EGRESS: usize = 4;
const INGRESS: usize = 5;

/// Standard normal values for the stop of that number.
pub(super) fn normals_of_stop(stop: usize, batch: usize) -> &'static Drawn {
    normals(if stop == 0 { FIRST_STOP } else { INGRESS + stop }, batch)
}

/// One quantity in every draw of a batch.
pub(super) type Drawn = [f32; BATCH];

/// Standard normal values of a coordinate.
pub(super) fn normals(coordinate: usize, batch: usize) -> &'static Drawn {
    static TABLE: OnceLock<Vec<Drawn>> = OnceLock::new();
    let table = TABLE.get_or_init(|| {
        let value = |coordinate: usize, draw: usize| {
            let at = f64::from(sobol_burley::sample(small(draw), small(coordinate), 3));
            narrow(normal::quantile(at.clamp(1e-6, 1.0 - 1e-6)))
        };
        let drawn = |at: usize| {
            let (coordinate, batch) = (at / BATCHES_OF_ENDS, at % BATCHES_OF_ENDS);
            std::array::from_fn(|draw| value(coordinate, batch * BATCH + draw))
        };
        (0..COORDINATES * BATCHES_OF_ENDS).map(drawn).collect()
    });
    &table[coordinate % COORDINATES * BATCHES_OF_ENDS + batch % BATCHES_OF_ENDS]
}

fn small(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}

#[expect(clippy::cast_possible_truncation, reason = "minutes and scores need no more digits")]
pub(super) const fn narrow(value: f64) -> f32 {
    value as f32
}

/// Standard normal values for a task put into a plan.
pub(super) fn normals_of_added(batch: usize) -> &'static Drawn {
    normals(COORDINATES - 1, batch)
}

/// What an excursion shares in every draw.
#[derive(Debug, Clone)]
pub(super) struct Shared {
    /// How much slower or faster the crew works, as a logarithm.
    pub log_days: Drawn,
    pub egress: Drawn,
    pub ingress: Drawn,
    /// How much longer travel takes, and cleanup and setup.
    pub travel: Drawn,
    pub site: Drawn,
}

impl Shared {
    #[inline(always)]
    pub fn of(frame: (f64, f64), variation: Variation, batch: usize) -> Self {
        let logs = |coordinate: usize, log_sd: f64| {
            let (sd, mean) = (narrow(log_sd), narrow(-log_sd.powi(2) / 2.0));
            each(normals(coordinate, batch), |normal| mean + sd * normal)
        };
        let times = |coordinate: usize, log_sd: f64, minutes: f64| {
            let minutes = narrow(minutes);
            each(&logs(coordinate, log_sd), |log| minutes * fast_exp(log))
        };
        Self {
            log_days: logs(CREW_DAY, variation.crew_day),
            egress: times(EGRESS, variation.egress, frame.0),
            ingress: times(INGRESS, variation.ingress, frame.1),
            travel: times(TRAVEL, variation.travel, 1.0),
            site: times(SITE, variation.site, 1.0),
        }
    }
}

/// The same done to a quantity in every draw.
#[inline(always)]
pub(super) fn each(drawn: &Drawn, change: impl Fn(f32) -> f32) -> Drawn {
    let mut changed = *drawn;
    for one in &mut changed {
        *one = change(*one);
    }
    changed
}

/// The larger of two; without the care for what is no number, so that many are done at once.
#[inline(always)]
pub(super) const fn more(a: f32, b: f32) -> f32 {
    if b > a { b } else { a }
}

#[inline(always)]
pub(super) const fn less(a: f32, b: f32) -> f32 {
    if b < a { b } else { a }
}

const ABREAST: usize = 32;

/// Does the same with 32 draws side by side, and then joins what came of them.
#[inline(always)]
fn abreast(drawn: &Drawn, start: f32, join: impl Fn(f32, f32) -> f32) -> f32 {
    let mut joined = [start; ABREAST];
    for some in drawn.as_chunks::<ABREAST>().0 {
        for (joined, one) in joined.iter_mut().zip(some) {
            *joined = join(*joined, *one);
        }
    }
    joined.into_iter().fold(start, join)
}

/// The least and the most of all draws.
#[inline(always)]
pub(super) fn range(drawn: &Drawn) -> (f32, f32) {
    (abreast(drawn, f32::INFINITY, less), abreast(drawn, f32::NEG_INFINITY, more))
}

/// The mean over all draws.
#[inline(always)]
pub(super) fn mean(drawn: &Drawn) -> f64 {
    f64::from(abreast(drawn, 0.0, |a, b| a + b)) / f64::from(small(BATCH))
}

/// The mean of a product over all draws.
#[inline(always)]
pub(super) fn mean_product(a: &Drawn, b: &Drawn) -> f64 {
    let mut sums = [0.0_f32; ABREAST];
    for (a, b) in a.as_chunks::<ABREAST>().0.iter().zip(b.as_chunks::<ABREAST>().0) {
        for (sum, (a, b)) in sums.iter_mut().zip(a.iter().zip(b)) {
            *sum += a * b;
        }
    }
    f64::from(sums.into_iter().sum::<f32>()) / f64::from(small(BATCH))
}

#[inline(always)]
pub(super) fn raise(to: &mut Drawn, from: &Drawn) {
    to.iter_mut().zip(from).for_each(|(to, from)| *to = more(*to, *from));
}

#[inline(always)]
pub(super) fn lower(to: &mut Drawn, from: &Drawn) {
    to.iter_mut().zip(from).for_each(|(to, from)| *to = less(*to, *from));
}

/// Raises to what comes a gap after.
#[inline(always)]
pub(super) fn raise_by(to: &mut Drawn, from: &Drawn, gap: Gap, shared: &Shared) {
    let (travel, site) = (narrow(gap.travel), narrow(gap.site));
    for draw in 0..BATCH {
        let gap = travel * shared.travel[draw] + site * shared.site[draw];
        to[draw] = more(to[draw], from[draw] + gap);
    }
}

/// Lowers to what comes a gap before.
#[inline(always)]
pub(super) fn lower_by(to: &mut Drawn, from: &Drawn, gap: Gap, shared: &Shared) {
    let (travel, site) = (narrow(gap.travel), narrow(gap.site));
    for draw in 0..BATCH {
        let gap = travel * shared.travel[draw] + site * shared.site[draw];
        to[draw] = less(to[draw], from[draw] - gap);
    }
}

/// What a minute more or less of rounding must not decide.
pub(super) const ROUNDING: f32 = 0.01;
