//! Times a plan backwards: the last minute at which each stop may start.

use super::{Block, Finish, Frame, MOST_LANES, Order};

/// The latest start of each stop so that every lane is inside by `bound`; before everything where
/// no window is left that is early enough.
pub fn latest_starts(
    frame: &Frame,
    order: Order,
    blocks: &[Block],
    finish: &Finish,
    bound: f64,
) -> Vec<f64> {
    // By when each lane has to be done with the stop that is looked at.
    let mut due: [f64; MOST_LANES] = std::array::from_fn(|lane| bound - finish.gap(lane));
    let mut arm_due = f64::INFINITY;
    let mut latest = vec![bound; order.stops.len()];
    for (place, stop) in order.stops.iter().enumerate().rev() {
        let waiting = order.needs.iter().filter(|(first, _)| *first == place);
        let mut end = waiting.map(|(_, then)| latest[*then]).fold(f64::INFINITY, f64::min);
        for lane in stop.lanes.each() {
            end = end.min(due[lane]);
        }
        if stop.arm {
            end = end.min(arm_due);
        }
        let minutes = stop.work.mean;
        latest[place] = frame.latest(stop, end, minutes).unwrap_or(f64::NEG_INFINITY);
        for lane in stop.lanes.each() {
            due[lane] = latest[place] - blocks[place].gap(lane);
        }
        if stop.arm {
            arm_due = latest[place];
        }
    }
    latest
}
