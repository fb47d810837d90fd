//! When work may go on: inside the arm's windows, by day or by night.

use super::later;
use crate::lighting::Stretch;

/// The light that a piece of work needs.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Light {
    #[default]
    Any,
    Day,
    Night,
}

/// The windows of an excursion, each list in order and without overlaps.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Windows {
    pub arm: Vec<Stretch>,
    pub days: Vec<Stretch>,
    pub nights: Vec<Stretch>,
}

impl Windows {
    fn of(&self, light: Light) -> Option<&[Stretch]> {
        match light {
            Light::Any => None,
            Light::Day => Some(&self.days),
            Light::Night => Some(&self.nights),
        }
    }

    /// The first minute from `ready` on at which that work lies inside its windows whole; `None`
    /// where no window is left that is long enough.
    pub fn earliest(&self, arm: bool, light: Light, ready: f64, minutes: f64) -> Option<f64> {
        let light = self.of(light);
        let (true, Some(light)) = (arm, light) else {
            let alone = if arm { Some(&self.arm[..]) } else { light };
            return alone.map_or(Some(ready), |windows| open(windows, ready, minutes));
        };
        let mut start = ready;
        loop {
            let moved = open(light, open(&self.arm, start, minutes)?, minutes)?;
            if moved <= start {
                return Some(start);
            }
            start = moved;
        }
    }

    /// The last minute at which that work may start so that it ends by `end` and lies inside its
    /// windows whole; `None` where there is none.
    pub fn latest(&self, arm: bool, light: Light, end: f64, minutes: f64) -> Option<f64> {
        let mut start = end - minutes;
        loop {
            let mut moved = start;
            if arm {
                moved = open_before(&self.arm, moved, minutes)?;
            }
            if let Some(windows) = self.of(light) {
                moved = open_before(windows, moved, minutes)?;
            }
            if moved >= start {
                return Some(start);
            }
            start = moved;
        }
    }

    /// Work that stops while the light is not there: its first minute from `ready` on, and its end.
    pub fn with_pauses(&self, light: Light, ready: f64, minutes: f64) -> Option<(f64, f64)> {
        let mut left = minutes;
        let mut first = None;
        for window in self.of(light)? {
            let from = later(window.from, ready);
            if from >= window.until {
                continue;
            }
            let start = *first.get_or_insert(from);
            if from + left <= window.until + ROUNDING {
                return Some((start, from + left));
            }
            left -= window.until - from;
        }
        None
    }

    /// The last minute at which such work may start so that it ends by `end`.
    pub fn latest_with_pauses(&self, light: Light, end: f64, minutes: f64) -> Option<f64> {
        let mut left = minutes;
        for window in self.of(light)?.iter().rev() {
            let until = window.until.min(end);
            if until <= window.from {
                continue;
            }
            if until - left + ROUNDING >= window.from {
                return Some(until - left);
            }
            left -= until - window.from;
        }
        None
    }

    /// The parts of a stretch in which that light is there.
    pub fn between(
        &self,
        light: Light,
        from: f64,
        until: f64,
    ) -> impl Iterator<Item = (f64, f64)> + '_ {
        let windows = self.of(light).unwrap_or_default().iter();
        windows
            .map(move |window| (later(window.from, from), window.until.min(until)))
            .filter(|(from, until)| from < until)
    }

    /// When the last window closes that such work may need; infinite where it needs none.
    pub fn last(&self, arm: bool, light: Light) -> f64 {
        let close = |windows: &[Stretch]| windows.last().map_or(0.0, |window| window.until);
        let arm = if arm { close(&self.arm) } else { f64::INFINITY };
        self.of(light).map_or(arm, |windows| close(windows).min(arm))
    }

    /// Since when the windows have been open in which work lies that starts then.
    pub fn opened(&self, arm: bool, light: Light, start: f64) -> f64 {
        let since = |windows: &[Stretch]| {
            windows.iter().rev().find(|w| w.from <= start).map_or(0.0, |w| w.from)
        };
        let arm = if arm { since(&self.arm) } else { 0.0 };
        self.of(light).map_or(arm, |windows| since(windows).max(arm))
    }

    /// When the window closes in which work lies that starts then, of the arm and of the light.
    pub fn closes(&self, arm: bool, light: Light, start: f64) -> (Option<f64>, Option<f64>) {
        let close = |windows: &[Stretch]| windows.iter().find(|w| w.until > start).map(|w| w.until);
        (if arm { close(&self.arm) } else { None }, self.of(light).and_then(close))
    }
}

/// Bounds of windows are whole minutes or sums of a few figures: less than this is rounding.
pub(super) const ROUNDING: f64 = 1e-9;

fn open(windows: &[Stretch], ready: f64, minutes: f64) -> Option<f64> {
    windows
        .iter()
        .map(|window| (later(window.from, ready), window.until))
        .find(|(start, until)| start + minutes <= until + ROUNDING)
        .map(|(start, _)| start)
}

fn open_before(windows: &[Stretch], start: f64, minutes: f64) -> Option<f64> {
    windows
        .iter()
        .rev()
        .map(|window| (window.from, (window.until - minutes).min(start)))
        .find(|(from, latest)| latest + ROUNDING >= *from)
        .map(|(_, latest)| latest)
}
