//! Places that a task has only if it begins on purpose later than it could: when a tool comes free
//! that a later stop holds, or when a later window opens.

use super::complete::Timed;
use super::score::Score;
use super::{Search, Task};
use crate::lighting::Stretch;
use crate::timeline::Light;

/// Starts that are looked at for one seat and position in the order.
const MOST_STARTS: usize = 8;
/// Less than this is rounding, of minutes from draws.
const ROUNDING: f64 = 0.05;

impl Search {
    /// The places begun later on purpose than those that were timed.
    pub(super) fn time_later(&mut self, task: &Task, places: &[Timed]) -> Vec<Timed> {
        let aids = task.base.tied || task.candidate.brings_in;
        let mut later = Vec::new();
        for place in places {
            for begin in starts(task, place) {
                let at = Score { begin, ..Score::untold(place.score.position, place.score.lanes) };
                let timed = if aids { task.settle(&at) } else { self.time_place(task, &at) };
                // What cannot be reached then is no place.
                later.extend(timed);
            }
        }
        later
    }
}

/// The whole minutes worth waiting for in a place.
fn starts(task: &Task, place: &Timed) -> Vec<f64> {
    let Task { ready, plan, base, candidate, frame, .. } = *task;
    let stops = &plan.sequence.stops;
    let behind = plan.sequence.uses.iter().filter(|(tool, at)| {
        *at >= place.score.position
            && candidate.tools.contains(tool)
            && !stops[*at].lanes.meets(place.score.lanes)
    });
    // A tool comes free by then in eight cases of ten.
    let free = behind.map(|(_, at)| base.draws(ready, plan, &base.needs).done(*at, 0.8) - ROUNDING);
    let stop = &candidate.stop;
    let arm: &[Stretch] = if stop.arm { &frame.windows.arm } else { &[] };
    let light: &[Stretch] = match stop.light {
        Light::Any => &[],
        Light::Day => &frame.windows.days,
        Light::Night => &frame.windows.nights,
    };
    let opens = arm.iter().chain(light).map(|window| window.from);
    let mut starts: Vec<f64> = free.chain(opens).map(f64::ceil).collect();
    starts.retain(|&at| at > place.start && at < plan.limit);
    starts.sort_by(f64::total_cmp);
    starts.dedup();
    starts.truncate(MOST_STARTS);
    starts
}
