//! The fixed draws, and what is done with one quantity in all draws of a helping at once.

use std::sync::OnceLock;

use crate::compute::normal;
use crate::compute::timeline::CrewDay;

/// Draws that are lived through together. A chance near none or all rests on the first helping
/// alone, any other on all of them.
pub(super) const HELPING: usize = 256;
pub(super) const HELPINGS: usize = 8;

/// Coordinates: the crew day and 63 stops; beyond them they are used again.
const COORDINATES: usize = 64;

/// One quantity in every draw of a helping.
pub(super) type Drawn = [f32; HELPING];

/// Standard normal values of a coordinate.
pub(super) fn normals(coordinate: usize, helping: usize) -> &'static Drawn {
    static TABLE: OnceLock<Vec<Drawn>> = OnceLock::new();
    let table = TABLE.get_or_init(|| {
        let value = |coordinate: usize, draw: usize| {
            let at = f64::from(sobol_burley::sample(small(draw), small(coordinate), 3));
            narrow(normal::quantile(at.clamp(1e-6, 1.0 - 1e-6)))
        };
        let drawn = |at: usize| {
            let (coordinate, helping) = (at / HELPINGS, at % HELPINGS);
            std::array::from_fn(|draw| value(coordinate, helping * HELPING + draw))
        };
        (0..COORDINATES * HELPINGS).map(drawn).collect()
    });
    &table[coordinate % COORDINATES * HELPINGS + helping % HELPINGS]
}

fn small(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}

#[expect(clippy::cast_possible_truncation, reason = "minutes and scores need no more digits")]
pub(super) const fn narrow(value: f64) -> f32 {
    value as f32
}

/// How much slower or faster the crew is, as a logarithm.
pub(super) fn log_days(crew_day: CrewDay, helping: usize) -> Drawn {
    let (sd, mean) = (narrow(crew_day.log_sd), narrow(-crew_day.log_sd.powi(2) / 2.0));
    normals(0, helping).map(|normal| mean + sd * normal)
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

/// Does the same with 32 draws side by side, and then joins what came of them.
#[inline(always)]
fn abreast(drawn: &Drawn, start: f32, join: impl Fn(f32, f32) -> f32) -> f32 {
    const ABREAST: usize = 32;
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
    f64::from(abreast(drawn, 0.0, |a, b| a + b)) / f64::from(small(HELPING))
}

#[inline(always)]
pub(super) fn raise(to: &mut Drawn, from: &Drawn, by: f64) {
    let by = narrow(by);
    to.iter_mut().zip(from).for_each(|(to, from)| *to = more(*to, from + by));
}

#[inline(always)]
pub(super) fn lower(to: &mut Drawn, from: &Drawn, by: f64) {
    let by = narrow(by);
    to.iter_mut().zip(from).for_each(|(to, from)| *to = less(*to, from - by));
}

/// What a minute more or less of rounding must not decide.
pub(super) const ROUNDING: f32 = 0.01;
