//! Which of two places is better, and how good a place can be at most, told from the stops next
//! to it without timing all that follows.

use super::base::{Ahead, waits};
use super::{Task, reason};
use crate::compute::fit::reasons::Unknown;
use crate::compute::timeline::{Lanes, MOST_LANES, Stop, later, onward};

/// How good a place is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Score {
    pub position: usize,
    pub lanes: Lanes,
    /// Stops that find no window, the task itself among them.
    pub outside: u32,
    /// When the last lane is inside, and the ends of all lanes together.
    pub end: f64,
    pub sum: f64,
}

/// A place with the best that it can be.
#[derive(Debug, Clone, Copy)]
pub(super) struct AtBest {
    pub score: Score,
    /// It is just as good as that.
    pub exact: bool,
}

const EQUAL: f64 = 1e-9;

impl Score {
    /// The place where windows are kept with the most margin; of equals the one that costs the
    /// lanes least together, then the later one, then the first seats.
    pub fn beats(&self, other: &Self) -> bool {
        if self.outside != other.outside {
            return self.outside < other.outside;
        }
        if (self.end - other.end).abs() > EQUAL {
            return self.end < other.end;
        }
        if (self.sum - other.sum).abs() > EQUAL {
            return self.sum < other.sum;
        }
        if self.position != other.position {
            return self.position > other.position;
        }
        self.lanes.first() < other.lanes.first()
    }
}

/// How good a place can be at most. A task delays the stops behind it, and a path through it is
/// never shorter than the way past it, so every lane ends no earlier than it does now, and no
/// earlier than the longest path through the task; where nothing behind it waits for a window, it
/// ends just then.
pub(super) fn at_best(task: &Task, position: usize, lanes: Lanes) -> Result<AtBest, Unknown> {
    let Task { ready, plan, base, candidate, frame } = *task;
    let mut score = Score { position, lanes, outside: 0, end: 0.0, sum: 0.0 };
    let own = candidate.stop;
    let carries = own.carries_there > 1.0 || own.carries_on > 1.0;
    let waits = !candidate.needs.is_empty() || !candidate.needed_by.is_empty();
    if !base.plain || carries || waits || candidate.sets_after.is_some() {
        return Ok(AtBest { score, exact: false });
    }
    let set = plan.sets[position];
    let routes = ready.aids.network(set);
    let no_way = |no_way| reason(ready, set, no_way);
    let stop = Stop { lanes, ..own };
    let state = &base.states[position];
    let (_, done, outside) = state.look(&frame, &stop, routes, 0.0).map_err(no_way)?;
    score.outside = base.outside[position] + u32::from(outside);
    let mut ends = [0.0; MOST_LANES];
    ends[..plan.lanes].copy_from_slice(base.finish.ends());
    let mut behind = 0;
    for lane in lanes.each() {
        let next = base.next[position][lane];
        let to = plan.stops.get(next);
        let there = done + onward(&frame, &stop, to, routes).map_err(no_way)?;
        match base.tails.get(next) {
            Some(tails) => {
                raise(&mut ends, there, tails);
                if base.windowed[position] {
                    // Two lanes may come to the same stop: it counts once.
                    behind = behind.max(waiting(task, next, there, &mut ends));
                }
            }
            None => ends[lane] = there,
        }
    }
    score.outside += behind;
    score.end = ends.iter().copied().fold(0.0, later);
    score.sum = ends.iter().sum();
    Ok(AtBest { score, exact: !base.windowed[position] })
}

fn raise(ends: &mut [f64; MOST_LANES], start: f64, tails: &[f64; MOST_LANES]) {
    for (end, tail) in ends.iter_mut().zip(tails) {
        *end = later(*end, start + tail);
    }
}

/// Follows one way of the plan from a stop that starts no earlier than `start`: the stops on it
/// that wait for a window start no earlier than the window that is then open. How many of them
/// find none any more.
fn waiting(task: &Task, from: usize, start: f64, ends: &mut [f64; MOST_LANES]) -> u32 {
    let Task { plan, base, frame, .. } = *task;
    let first = Ahead { stop: from, minutes: 0.0 };
    let mut then = if waits(&plan.stops[from]) { Some(first) } else { base.ahead[from] };
    let (mut now, mut outside) = (start, 0);
    while let Some(Ahead { stop: at, minutes }) = then {
        let (stop, block) = (&plan.stops[at], &base.blocks[at]);
        now += minutes;
        // No later than without the task: from here on it moves nothing on this way.
        if now <= block.start {
            break;
        }
        match frame.windows.earliest(stop.arm, stop.light, now, stop.work.mean) {
            Some(open) => {
                now = open;
                raise(ends, now, &base.tails[at]);
            }
            None => outside += 1,
        }
        then = base.ahead[at];
    }
    outside
}
