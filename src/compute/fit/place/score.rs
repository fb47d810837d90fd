//! Which of two places is better, and how good a place can be at most, told from the stops next
//! to it without timing all that follows.

use super::Task;
use super::base::{Ahead, Ways};
use crate::timeline::{Lanes, MOST_LANES, later};

/// How good a place is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Score {
    pub position: usize,
    pub lanes: Lanes,
    /// The minute before which it is not begun on purpose; 0: as soon as it can be.
    pub begin: f64,
    /// Stops that find no window, the task itself among them.
    pub outside: u32,
    /// The task itself finds no window.
    pub missed: bool,
    /// When the last lane is inside, and the ends of all lanes together.
    pub end: f64,
    pub sum: f64,
}

const EQUAL: f64 = 1e-9;

impl Score {
    /// The best that there can be, of a place of which nothing is known before it is timed.
    pub fn untold(position: usize, lanes: Lanes) -> Self {
        Self { position, lanes, begin: 0.0, outside: 0, missed: false, end: 0.0, sum: 0.0 }
    }

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

/// How good the places of a task can be at most. A task delays the stops behind it, and a path
/// through it is never shorter than the way past it, so every lane ends no earlier than it does
/// now, and no earlier than the longest path through the task; where nothing behind it waits for a
/// window, it ends just then.
pub(super) struct Bounds<'a, 's> {
    task: &'a Task<'a, 's>,
    ways: &'a [Ways],
    ends: [f64; MOST_LANES],
}

impl<'a, 's> Bounds<'a, 's> {
    /// `None` where nothing is told without timing all of it.
    pub fn of(task: &'a Task<'a, 's>) -> Option<Self> {
        let Task { ready, plan, base, candidate, .. } = *task;
        let own = &candidate.stop;
        let carries = own.carries_there > 1.0 || own.carries_on > 1.0;
        let waits = !candidate.needs.is_empty() || !candidate.needed_by.is_empty();
        if !base.plain || carries || waits {
            return None;
        }
        let mut ends = [0.0; MOST_LANES];
        ends[..plan.lanes].copy_from_slice(base.finish.own_ends());
        Some(Self { task, ways: base.ways(ready, plan, own.site), ends })
    }

    /// How good a place can be at most, and whether it is just as good as that.
    pub fn at_best(&self, position: usize, lanes: Lanes) -> (Score, bool) {
        let Task { base, candidate, ref frame, .. } = *self.task;
        let ways = &self.ways[position];
        let there = lanes.each().map(|lane| ways.there[lane]).fold(0.0, later);
        let state = &base.states[position];
        let (_, done, missed) = state.look_from(frame, &candidate.stop, there);
        let mut ends = self.ends;
        let mut behind = 0;
        for lane in lanes.each() {
            let next = base.next[position][lane];
            let there = done + ways.on[lane];
            match base.tails.get(next) {
                Some(tails) => {
                    raise(&mut ends, there, tails);
                    if base.windowed[position] {
                        // Two lanes may come to the same stop: it counts once.
                        behind = behind.max(waiting(self.task, next, there, &mut ends));
                    }
                }
                None => ends[lane] = there,
            }
        }
        let (end, sum) =
            ends.iter().fold((0.0, 0.0), |(end, sum), &one| (later(end, one), sum + one));
        if end == f64::INFINITY {
            // There is no way: timing it says between which worksites.
            return (Score::untold(position, lanes), false);
        }
        let outside = base.outside[position] + u32::from(missed) + behind;
        let score = Score { outside, missed, end, sum, ..Score::untold(position, lanes) };
        (score, !base.windowed[position])
    }
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
    let stops = &plan.sequence.stops;
    let mut then = if stops[from].waits() { Some(first) } else { base.ahead[from] };
    let (mut now, mut outside) = (start, 0);
    while let Some(Ahead { stop: at, minutes }) = then {
        let (stop, block) = (&stops[at], &base.blocks[at]);
        now += minutes;
        // No later than without the task: from here on it moves nothing on this way.
        if now <= block.start {
            break;
        }
        let worked = frame.schedule(stop, now, stop.work.mean);
        now = worked.start;
        outside += u32::from(worked.outside);
        raise(ends, now, &base.tails[at]);
        then = base.ahead[at];
    }
    outside
}
