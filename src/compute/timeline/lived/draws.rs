//! The fixed draws, and what is done with one quantity in all of them at once.

use std::sync::OnceLock;

use crate::compute::normal;
use crate::compute::timeline::CrewDay;

/// Draws behind the chance of one place.
pub const DRAWS: usize = 512;
/// Draws behind the ends of one excursion.
pub const MANY: usize = 2048;

/// Coordinates: the crew day and 63 stops; beyond them they are used again.
pub(super) const COORDINATES: usize = 64;

/// Standard normal values, a coordinate after the other.
pub(super) fn normals(coordinate: usize) -> &'static [f32] {
    static TABLE: OnceLock<Vec<f32>> = OnceLock::new();
    let table = TABLE.get_or_init(|| {
        let value = |coordinate: u32, draw: u32| {
            let at = f64::from(sobol_burley::sample(draw, coordinate, 3));
            narrow(normal::quantile(at.clamp(1e-6, 1.0 - 1e-6)))
        };
        let (coordinates, draws) = (small(COORDINATES), small(MANY));
        (0..coordinates).flat_map(|c| (0..draws).map(move |draw| value(c, draw))).collect()
    });
    let from = (coordinate % COORDINATES) * MANY;
    &table[from..from + MANY]
}

pub(super) fn small(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}

#[expect(clippy::cast_possible_truncation, reason = "minutes and scores need no more digits")]
pub(super) const fn narrow(value: f64) -> f32 {
    value as f32
}

/// One quantity in every draw.
pub(super) type Drawn<const N: usize = DRAWS> = [f32; N];

pub(super) fn log_days<const N: usize>(crew_day: CrewDay) -> Drawn<N> {
    let (sd, mean) = (narrow(crew_day.log_sd), narrow(-crew_day.log_sd.powi(2) / 2.0));
    let mut days = [0.0; N];
    days.iter_mut().zip(normals(0)).for_each(|(day, normal)| *day = mean + sd * normal);
    days
}

/// The larger of two; without the care for what is no number, so that many are done at once.
pub(super) const fn more(a: f32, b: f32) -> f32 {
    if b > a { b } else { a }
}

pub(super) const fn less(a: f32, b: f32) -> f32 {
    if b < a { b } else { a }
}

/// The least and the most of all draws.
pub(super) fn range(drawn: &Drawn) -> (f32, f32) {
    const ABREAST: usize = 32;
    let (mut least, mut most) = ([f32::INFINITY; ABREAST], [f32::NEG_INFINITY; ABREAST]);
    for some in drawn.chunks_exact(ABREAST) {
        least.iter_mut().zip(some).for_each(|(least, one)| *least = less(*least, *one));
        most.iter_mut().zip(some).for_each(|(most, one)| *most = more(*most, *one));
    }
    (least.into_iter().fold(f32::INFINITY, less), most.into_iter().fold(f32::NEG_INFINITY, more))
}

/// The sum over all draws, eight sums side by side.
pub(super) fn sum<const N: usize>(drawn: &Drawn<N>) -> f64 {
    let mut sums = [0.0_f32; 8];
    for eight in drawn.chunks_exact(8) {
        sums.iter_mut().zip(eight).for_each(|(sum, one)| *sum += one);
    }
    f64::from(sums.iter().sum::<f32>())
}

pub(super) fn raise<const N: usize>(to: &mut Drawn<N>, from: &Drawn<N>, by: f64) {
    let by = narrow(by);
    to.iter_mut().zip(from).for_each(|(to, from)| *to = more(*to, from + by));
}

pub(super) fn lower<const N: usize>(to: &mut Drawn<N>, from: &Drawn<N>, by: f64) {
    let by = narrow(by);
    to.iter_mut().zip(from).for_each(|(to, from)| *to = less(*to, from - by));
}

/// What a minute more or less of rounding must not decide.
pub(super) const ROUNDING: f32 = 0.01;
