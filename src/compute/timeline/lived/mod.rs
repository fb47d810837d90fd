//! A plan lived through in a fixed set of draws: what the chance rests on where stops wait for
//! windows, for the arm or for each other, and moments do not tell the ends of the lanes.
//!
//! The draws are the first points of a scrambled Sobol sequence: a coordinate for the crew day, one
//! for the work of each stop. Along a lane everything that waits is a maximum, so a plan ends by
//! its limit just when each lane comes to its next stop no later than that stop's latest start.
//! Those bounds are worked out once for every draw; a task put in anywhere is held against them.

mod added;
mod draws;
mod forward;
mod law;
mod stretches;

pub use added::Added;
pub(super) use forward::{Gaps, ends_of};

use draws::{DRAWS, Drawn, ROUNDING, log_days, lower, narrow, range, small, sum};
use forward::{Before, Forward, forward};
use stretches::{last_ready, stretches as windows_of};

use super::{CrewDay, Frame, Order};

/// Before everything.
const NEVER: f32 = -1e9;

/// A plan in every draw: where each lane stands before each stop, and how late it may.
#[derive(Debug, Clone)]
pub struct Lived {
    log_days: Drawn,
    /// When the work of each stop ends, and at last egress.
    ends: Vec<Drawn>,
    /// Before each stop, and at last: what each lane and the arm did last, as a place in `ends`.
    before: Vec<Before>,
    /// The latest start of each stop, and at last the limit.
    latest: Vec<Drawn>,
    /// The least and the most of `log_days`, and of each of `ends` and `latest`.
    ranges: Ranges,
    /// 1 in the draws that end by the limit as the plan stands, else 0.
    kept: Drawn,
}

#[derive(Debug, Clone)]
struct Ranges {
    log_days: (f32, f32),
    ends: Vec<(f32, f32)>,
    latest: Vec<(f32, f32)>,
}

impl Lived {
    pub(super) fn of(
        frame: &Frame,
        order: Order,
        gaps: Gaps,
        limit: f64,
        crew_day: CrewDay,
    ) -> Self {
        let log_days = log_days(crew_day);
        let Forward { ends, before, works } = forward(frame, order, gaps, &log_days);
        let count = order.stops.len();
        let limit = narrow(limit) + ROUNDING;
        let mut latest = vec![[limit; DRAWS]; count + 1];
        let mut due: Vec<Drawn> =
            (0..frame.lanes).map(|lane| [limit - narrow(gaps.home[lane]); DRAWS]).collect();
        let mut arm_due = [f32::INFINITY; DRAWS];
        let mut kept = [1.0; DRAWS];
        for (lane, due) in due.iter().enumerate() {
            let done = &ends[before[count].lanes[lane]];
            kept.iter_mut().zip(done).zip(due).for_each(|((kept, done), due)| {
                if done > due {
                    *kept = 0.0;
                }
            });
        }
        for (place, stop) in order.stops.iter().enumerate().rev() {
            let mut end = [f32::INFINITY; DRAWS];
            for lane in stop.lanes.each() {
                lower(&mut end, &due[lane], 0.0);
            }
            for (_, then) in order.needs.iter().filter(|(first, _)| *first == place) {
                lower(&mut end, &latest[*then], 0.0);
            }
            if stop.arm {
                lower(&mut end, &arm_due, 0.0);
            }
            let work = &works[place];
            match windows_of(frame.windows, stop.arm, stop.light) {
                Some(stretches) => end
                    .iter_mut()
                    .zip(work)
                    .for_each(|(end, work)| *end = last_ready(&stretches, *end, *work)),
                None => end.iter_mut().zip(work).for_each(|(end, work)| *end -= work),
            }
            for lane in stop.lanes.each() {
                let gap = narrow(gaps.stops[place][lane]);
                due[lane].iter_mut().zip(&end).for_each(|(due, start)| *due = start - gap);
            }
            if stop.arm {
                arm_due = end;
            }
            latest[place] = end;
        }
        for bounds in &mut latest {
            // A draw that is late as it stands is late with any task added.
            bounds.iter_mut().zip(&kept).for_each(|(bound, kept)| {
                if *kept == 0.0 {
                    *bound = NEVER;
                }
            });
        }
        let of_all = |all: &[Drawn]| all.iter().map(range).collect();
        let ranges =
            Ranges { log_days: range(&log_days), ends: of_all(&ends), latest: of_all(&latest) };
        Self { log_days, ends, before, latest, ranges, kept }
    }

    /// The chance that the plan ends by its limit as it stands.
    pub fn chance(&self) -> f64 {
        sum(&self.kept) / f64::from(small(DRAWS))
    }
}

#[cfg(test)]
mod tests;
