//! An excursion's windows from its record: the arm's as entered, day and night from its orbit.

use super::constants::Constants;
use super::snapshot::Excursion;
use crate::lighting::{self, Stretch};
use crate::timeline::Windows;

/// How far beyond the limit windows are laid out: work that is late still meets night and day.
const BEYOND: f64 = 2.0;

/// What is not known leaves its list empty.
pub(super) fn of(excursion: &Excursion, constants: &Constants) -> Windows {
    let arm = &excursion.arm_windows;
    let mut windows = Windows {
        arm: arm
            .iter()
            .map(|w| Stretch { from: minutes(w.from.0), until: minutes(w.until.0) })
            .collect(),
        ..Windows::default()
    };
    windows.arm.sort_by(|a, b| a.from.total_cmp(&b.from));
    if let Some(orbit) = orbit(excursion).filter(|o| !o.near_critical(constants.near_critical_beta))
    {
        let until = latest(excursion) * BEYOND;
        windows.days = orbit.days(until);
        windows.nights = orbit.nights(until);
    }
    windows
}

/// The limit of an excursion; where none is known, its plan, or eight hours.
pub(super) fn latest(excursion: &Excursion) -> f64 {
    excursion.limit.or(excursion.planned).unwrap_or(480.0)
}

/// The orbit, where altitude, beta angle and first sunrise are known; a period that is not given
/// follows from the altitude.
pub(super) fn orbit(excursion: &Excursion) -> Option<lighting::Orbit> {
    let altitude = excursion.orbit.altitude?;
    Some(lighting::Orbit {
        period: excursion.orbit.period.unwrap_or_else(|| lighting::period(altitude)),
        altitude,
        beta: excursion.orbit.beta?,
        first_sunrise: excursion.orbit.first_sunrise?,
    })
}

#[expect(clippy::cast_precision_loss, reason = "whole minutes of an excursion")]
fn minutes(whole: i64) -> f64 {
    whole as f64
}
