//! When work may go on that needs the arm or a light: forwards and backwards, in many draws.

use super::draws::{Drawn, HELPING, less, more, narrow};
use crate::compute::lighting::Stretch;
use crate::compute::timeline::{Light, Stop, Windows};

/// A stretch of time in minutes, from and until.
pub(super) type Span = (f32, f32);

/// The stretches of an excursion in which work lies, for the arm and for each light.
#[derive(Debug, Clone)]
pub(super) struct Stretches {
    by_light: [Vec<Span>; 2],
    arm: Vec<Span>,
    arm_by_light: [Vec<Span>; 2],
}

impl Stretches {
    pub fn of(windows: &Windows) -> Self {
        let spans = |of: &[Stretch]| -> Vec<Span> {
            of.iter().map(|s| (narrow(s.from), narrow(s.until))).collect()
        };
        let by_light = [spans(&windows.days), spans(&windows.nights)];
        let arm = spans(&windows.arm);
        let arm_by_light = [both(&arm, &by_light[0]), both(&arm, &by_light[1])];
        Self { by_light, arm, arm_by_light }
    }

    /// Those for the work of a stop; `None`: any time will do.
    pub fn for_stop(&self, stop: &Stop) -> Option<&[Span]> {
        let with_light = if stop.arm { &self.arm_by_light } else { &self.by_light };
        match stop.light {
            Light::Any => stop.arm.then_some(&self.arm),
            Light::Day => Some(&with_light[0]),
            Light::Night => Some(&with_light[1]),
        }
    }
}

/// Where two lists of stretches meet.
fn both(some: &[Span], others: &[Span]) -> Vec<Span> {
    let meet = |&(from, until): &Span| {
        others.iter().map(move |other| (more(from, other.0), less(until, other.1)))
    };
    let mut both: Vec<Span> =
        some.iter().flat_map(meet).filter(|(from, until)| from < until).collect();
    both.sort_by(|a, b| a.0.total_cmp(&b.0));
    both
}

/// Turns when lanes are ready into the first start with the work inside a stretch; as it was where
/// none is left, as the timeline has it.
#[inline(always)]
pub(super) fn first_starts(stretches: &[Span], ready: &mut Drawn, minutes: &Drawn) {
    let mut starts = *ready;
    for &(from, until) in stretches.iter().rev() {
        for draw in 0..HELPING {
            let start = more(from, ready[draw]);
            let fits = start + minutes[draw] <= until;
            starts[draw] = if fits { start } else { starts[draw] };
        }
    }
    *ready = starts;
}

/// Turns by when work has to end into the last moment at which a lane may be ready for it.
#[inline(always)]
pub(super) fn last_ready(stretches: &[Span], end: &mut Drawn, minutes: &Drawn) {
    const NEVER: f32 = f32::NEG_INFINITY;
    // The latest start in a stretch, and the latest that any stretch has.
    let (mut latest, mut most) = ([NEVER; HELPING], [NEVER; HELPING]);
    for &(from, until) in stretches {
        for draw in 0..HELPING {
            let (start, last) = (end[draw] - minutes[draw], until - minutes[draw]);
            let last = if last < from { NEVER } else { last };
            most[draw] = more(most[draw], last);
            let last = if from <= start { less(last, start) } else { NEVER };
            latest[draw] = more(latest[draw], last);
        }
    }
    for draw in 0..HELPING {
        let start = end[draw] - minutes[draw];
        // Who is ready after the last stretch begins at once, as the timeline has it.
        end[draw] = if most[draw] < start { start } else { latest[draw] };
    }
}
