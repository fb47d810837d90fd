//! When the work of a stop goes on: inside its windows and between the minutes that bound it.

use super::windows::ROUNDING;
use super::{Frame, Stop};

/// Start and end of a stop's work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worked {
    pub start: f64,
    pub end: f64,
    /// No window is left that is long enough: it waits past the limit.
    pub outside: bool,
}

impl Frame<'_> {
    /// When that work goes on in lanes that are ready by then.
    pub fn schedule(&self, stop: &Stop, ready: f64, minutes: f64) -> Worked {
        if !stop.waits() {
            return Worked { start: ready, end: ready + minutes, outside: false };
        }
        if let Some((start, end)) = self.open(stop, ready, minutes) {
            Worked { start, end, outside: false }
        } else {
            let start = self.past_limit(stop, ready, minutes);
            Worked { start, end: start + minutes, outside: true }
        }
    }

    /// The last minute at which that work may start so that it ends by then, windows kept; `None`
    /// where there is none.
    pub fn latest(&self, stop: &Stop, end: f64, minutes: f64) -> Option<f64> {
        let end = end.min(stop.until);
        let start = if stop.pauses() {
            self.windows.latest_with_pauses(stop.light, end, minutes)?
        } else {
            self.windows.latest(stop.arm, stop.light, end, minutes)?
        };
        (start + ROUNDING >= stop.from).then_some(start)
    }

    fn open(&self, stop: &Stop, ready: f64, minutes: f64) -> Option<(f64, f64)> {
        let ready = ready.max(stop.from);
        let (start, end) = if stop.pauses() {
            self.windows.with_pauses(stop.light, ready, minutes)?
        } else {
            let start = self.windows.earliest(stop.arm, stop.light, ready, minutes)?;
            (start, start + minutes)
        };
        (end <= stop.until + ROUNDING).then_some((start, end))
    }

    /// The start of work that finds no window. It is after the last window that could have held
    /// it, so that being ready later never means starting earlier.
    fn past_limit(&self, stop: &Stop, ready: f64, minutes: f64) -> f64 {
        let last = match self.open(stop, 0.0, minutes) {
            Some(_) => self.windows.last(stop.arm, stop.light).min(stop.until),
            None => 0.0,
        };
        ready.max(self.limit).max(last)
    }
}
