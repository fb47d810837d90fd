//! Whether a set task would start so much later that it misses its window or passes its latest
//! start.

use crate::fit::place::{Base, Candidate, Found, up};
use crate::fit::ready::{Plan, Ready};
use crate::fit::reasons::Reason;
use crate::fit::verdict::Judgement;
use crate::timeline::{Block, Frame, Stop, latest_starts};
use domain::words::GateName;
use domain::words::GateVerdict::Tight;

/// Less than this is rounding.
const ROUNDING: f64 = 1e-6;

pub(in crate::fit) fn pushes(
    ready: &Ready,
    plan: &Plan,
    base: &Base,
    candidate: &Candidate,
    found: &Found,
    judge: &mut impl Judgement,
) {
    let stops = &plan.sequence.stops;
    // Only work behind it in the order moves, unless tools or aids tie it to what is before.
    let moves = if base.tied { stops } else { &stops[found.position..] };
    let late = found.place.margin < 0.0 && base.finish.end() <= plan.limit;
    if !late && !moves.iter().any(Stop::waits) {
        return;
    }
    let frame = plan.frame(ready);
    let latest =
        late.then(|| latest_starts(&frame, plan.order(), &base.blocks, &base.finish, plan.limit));
    let with = found.blocks(ready, plan, base, candidate);
    for (place, stop) in stops.iter().enumerate() {
        let (was, is) = (&base.blocks[place], &with[place + usize::from(place >= found.position)]);
        if is.start <= was.start + ROUNDING {
            continue;
        }
        let window = misses_window(&frame, stop, was, is);
        let passes = latest.as_ref().is_some_and(|latest| is.start > latest[place] + ROUNDING);
        if window || passes {
            let task = ready.task_of(plan, place);
            let (from, to) = (up(was.start), up(is.start));
            judge.say(GateName::Time, Tight, Reason::Pushes { task, from, to, window });
            return;
        }
    }
}

/// Whether the window in which work was has closed before its new start.
fn misses_window(frame: &Frame, stop: &Stop, was: &Block, is: &Block) -> bool {
    if !stop.waits() || was.outside_windows {
        return false;
    }
    let (arm, light) = frame.windows.closes(stop.arm, stop.light, was.start);
    let closed = |close: Option<f64>| close.is_some_and(|close| is.start + ROUNDING >= close);
    is.outside_windows || closed(arm) || (closed(light) && !stop.pauses())
}
