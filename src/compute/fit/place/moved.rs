//! What a task put into a plan moves behind it, and what goes as it does without the task.

use super::{Score, Task};
use crate::fit::reasons::Unknown;
use crate::timeline::{Lanes, State};

/// Where the lanes stand after the last stop, and how many stops of the plan find no window.
#[derive(Clone, Copy)]
pub(super) struct Behind {
    pub state: State,
    pub outside: u32,
}

/// Times the stops behind the task that it moves: those in its lanes, those that share a stop
/// with a moved lane, and those of the arm once it comes free at another time. All others go as
/// they do without the task.
pub(super) fn time_moved(
    task: &Task,
    mut state: State,
    mut score: Score,
    best: Option<&Score>,
) -> Result<Option<Behind>, Unknown> {
    let Task { plan, base, candidate, .. } = *task;
    let count = plan.sequence.stops.len();
    let mut moved = score.lanes;
    let mut place = score.position;
    let mut arm_moved = candidate.stop.arm && !state.same_arm(&base.states[place]);
    score.outside += base.outside[place];
    loop {
        let mut next = if arm_moved { base.next_arm[place] } else { count };
        for lane in moved.each() {
            next = next.min(base.next[place][lane]);
        }
        score.outside += base.outside[next] - base.outside[place];
        let as_before = &base.states[next];
        let Some(stop) = plan.sequence.stops.get(next) else {
            for lane in Lanes::up_to(plan.lanes).each().filter(|&lane| !moved.has(lane)) {
                state.follow(lane, as_before);
            }
            return Ok(Some(Behind { state, outside: score.outside }));
        };
        for lane in stop.lanes.each().filter(|&lane| !moved.has(lane)) {
            state.follow(lane, as_before);
        }
        if stop.arm && !arm_moved {
            state.follow_arm(as_before);
        }
        let (start, _, missed) = task.pass(&mut state, stop, 0.0)?;
        score.outside += u32::from(missed);
        let hopeless = Score { end: start + base.longest[next], sum: 0.0, ..score };
        if best.is_some_and(|best| !hopeless.beats(best)) {
            return Ok(None);
        }
        place = next + 1;
        let without = &base.states[place];
        for lane in stop.lanes.each() {
            let same = state.same_lane(lane, without);
            moved = if same { moved.without(lane) } else { moved.and(lane) };
        }
        if stop.arm {
            arm_moved = !state.same_arm(without);
        }
    }
}
