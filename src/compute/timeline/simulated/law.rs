//! The minutes of one piece of work: a lognormal, by approximations without a branch, so that many
//! draws are done at once.

use super::draws::{less, more, narrow};
use crate::three_point::Spread;

/// A lognormal of a mean and a spread, and what a draw and a crew day make of it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Law {
    log_mean: f32,
    log_sd: f32,
    by_log_sd: f32,
}

impl Law {
    pub fn of(work: Spread) -> Self {
        // No work at all is a moment of it, and work without spread has next to none.
        let mean = work.mean.max(1e-6);
        let square = (1.0 + work.variance / (mean * mean)).ln();
        let log_sd = narrow(square.sqrt()).max(1e-4);
        Self { log_mean: narrow(mean.ln() - square / 2.0), log_sd, by_log_sd: 1.0 / log_sd }
    }

    /// Work is no shorter and no longer than that, but for 3 draws in 100,000 each.
    pub fn range(self, (least, most): (f32, f32)) -> (f32, f32) {
        let far = 4.0 * self.log_sd;
        (fast_exp(self.log_mean - far + least), fast_exp(self.log_mean + far + most))
    }

    #[inline(always)]
    pub fn minutes(self, normal: f32, log_day: f32) -> f32 {
        fast_exp(self.log_mean + self.log_sd * normal + log_day)
    }

    /// The chance that the work takes no longer than that many minutes on such a day.
    #[inline(always)]
    pub fn within(self, minutes: f32, log_day: f32) -> f32 {
        // No time at all is a logarithm far below any work's.
        fast_cdf((fast_ln(minutes) - self.log_mean - log_day) * self.by_log_sd)
    }
}

/// ln(1 + x)/x from 0 to 1.
/// Source: Abramowitz and Stegun, Handbook of Mathematical Functions, 4.1.43, from memory.
pub(super) const LN_TERMS: [f32; 5] =
    [0.999_495_57, -0.491_908_97, 0.289_474_8, -0.136_062_76, 0.032_158_45];

/// (2^x − 1)/x up to a half: ln 2 to the powers by their factorials.
pub(super) const TWO_TERMS: [f32; 4] =
    [std::f32::consts::LN_2, 0.240_226_5, 0.055_504_1, 0.009_618_1];

/// (Φ(z) − ½)/z as a polynomial in z², fitted up to 3.6.
pub(super) const NORMAL_TERMS: [f32; 6] =
    [0.398_177_3, -0.064_602_41, 0.008_611_047, -7.419_727e-4, 3.603_508e-5, -7.383_21e-7];

#[inline(always)]
pub(super) fn polynomial<const N: usize>(terms: &[f32; N], at: f32) -> f32 {
    terms.iter().rev().fold(0.0, |sum, term| sum * at + term)
}

/// e to a power, within 4 parts in 100,000; without a branch, so that many are done at once.
#[inline(always)]
pub(super) fn fast_exp(power: f32) -> f32 {
    // Adding and taking away 1.5 · 2²³ rounds to the nearest whole number.
    const ROUND: f32 = 12_582_912.0;
    let twos = more(less(power * std::f32::consts::LOG2_E, 126.0), -126.0);
    let rounded = twos + ROUND;
    let rest = twos - (rounded - ROUND);
    let scale = f32::from_bits((rounded.to_bits() << 23).wrapping_add(0x3f80_0000));
    scale * (1.0 + rest * polynomial(&TWO_TERMS, rest))
}

/// The natural logarithm of a value above 0, within 0.00002.
#[inline(always)]
pub(super) fn fast_ln(value: f32) -> f32 {
    let bits = more(value, 1e-30).to_bits();
    #[expect(clippy::cast_precision_loss, clippy::cast_possible_wrap, reason = "an exponent")]
    let twos = ((bits >> 23) as i32).wrapping_sub(127) as f32;
    let part = f32::from_bits((bits & 0x007f_ffff) | 0x3f80_0000) - 1.0;
    let ln = part * polynomial(&LN_TERMS, part);
    twos * std::f32::consts::LN_2 + ln
}

/// The chance that a standard normal value stays under `score`, within 0.0004: a polynomial fitted
/// to the distribution up to 3.6, the same beyond.
#[inline(always)]
pub(super) fn fast_cdf(score: f32) -> f32 {
    let score = more(less(score, 3.6), -3.6);
    0.5 + score * polynomial(&NORMAL_TERMS, score * score)
}
