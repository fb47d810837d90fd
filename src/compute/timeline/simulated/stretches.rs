//! When work may go on that needs the arm, a light or an arrangement: forwards and backwards, in
//! many draws.

use super::draws::{BATCH, Drawn, ROUNDING, less, more, narrow};
use crate::lighting::Stretch;
use crate::timeline::{Light, Stop, Windows};

/// A stretch of time in minutes, from and until.
pub(super) type Span = (f32, f32);

/// The stretches of an excursion in which work lies, for the arm and for each light.
#[derive(Debug, Clone)]
pub(super) struct Stretches {
    by_light: [Vec<Span>; 2],
    arm: Vec<Span>,
    arm_by_light: [Vec<Span>; 2],
    limit: f32,
}

/// When the work of one stop may go on.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Open {
    pub spans: Vec<Span>,
    /// It may stop at the end of one and continue in the next.
    pub pauses: bool,
    /// Work that finds none waits past the limit.
    limit: f32,
}

impl Stretches {
    pub fn of(windows: &Windows, limit: f64) -> Self {
        let spans = |of: &[Stretch]| -> Vec<Span> {
            of.iter().map(|s| (narrow(s.from), narrow(s.until) + ROUNDING)).collect()
        };
        let by_light = [spans(&windows.days), spans(&windows.nights)];
        let arm = spans(&windows.arm);
        let arm_by_light = [both(&arm, &by_light[0]), both(&arm, &by_light[1])];
        Self { by_light, arm, arm_by_light, limit: narrow(limit) }
    }

    /// Those for the work of a stop; `None`: any time will do.
    pub fn for_stop(&self, stop: &Stop) -> Option<Open> {
        if !stop.waits() {
            return None;
        }
        let bounds = [(narrow(stop.from), narrow(stop.until) + ROUNDING)];
        let with_light = if stop.arm { &self.arm_by_light } else { &self.by_light };
        let spans = match stop.light {
            Light::Any if !stop.arm => return Some(self.open(bounds.to_vec(), stop)),
            Light::Any => &self.arm,
            Light::Day => &with_light[0],
            Light::Night => &with_light[1],
        };
        let bounded = stop.from > 0.0 || stop.until < f64::INFINITY;
        let spans = if bounded { both(spans, &bounds) } else { spans.clone() };
        Some(self.open(spans, stop))
    }

    fn open(&self, spans: Vec<Span>, stop: &Stop) -> Open {
        Open { spans, pauses: stop.pauses(), limit: self.limit }
    }
}

impl Open {
    /// The start of work that finds no stretch: past the limit, and past the last stretch that
    /// could have held it.
    #[inline(always)]
    fn past_limit(&self) -> (f32, f32, f32) {
        let long = |(from, until): &Span| until - from;
        let longest = if self.pauses {
            self.spans.iter().map(long).sum()
        } else {
            self.spans.iter().map(long).fold(0.0, more)
        };
        let last = self.spans.last().map_or(0.0, |(_, until)| *until);
        (longest, self.limit, more(self.limit, last))
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

/// When work ends in lanes that are ready by then.
#[inline(always)]
pub(super) fn work_ends(open: Option<&Open>, ready: &Drawn, minutes: &Drawn) -> Drawn {
    let mut ends = [0.0; BATCH];
    let Some(open) = open else {
        for draw in 0..BATCH {
            ends[draw] = ready[draw] + minutes[draw];
        }
        return ends;
    };
    let (longest, limit, last) = open.past_limit();
    for draw in 0..BATCH {
        let past = if minutes[draw] > longest { limit } else { last };
        ends[draw] = more(ready[draw], past) + minutes[draw];
    }
    if open.pauses {
        let mut done = [0.0_f32; BATCH];
        for &(from, until) in &open.spans {
            for draw in 0..BATCH {
                let start = more(from, ready[draw]);
                let left = minutes[draw] - done[draw];
                let here = more(until - start, 0.0);
                let ends_here = left > 0.0 && left <= here;
                ends[draw] = if ends_here { start + left } else { ends[draw] };
                done[draw] += here;
            }
        }
        return ends;
    }
    for &(from, until) in open.spans.iter().rev() {
        for draw in 0..BATCH {
            let end = more(from, ready[draw]) + minutes[draw];
            ends[draw] = if end <= until { end } else { ends[draw] };
        }
    }
    ends
}

/// The last moment at which lanes may be ready for work that has to end by then.
#[inline(always)]
pub(super) fn last_ready(open: Option<&Open>, end: &Drawn, minutes: &Drawn) -> Drawn {
    const NEVER: f32 = f32::NEG_INFINITY;
    let mut latest = [NEVER; BATCH];
    match open {
        None => {
            for draw in 0..BATCH {
                latest[draw] = end[draw] - minutes[draw];
            }
        }
        Some(open) if open.pauses => {
            let mut done = [0.0_f32; BATCH];
            for &(from, until) in open.spans.iter().rev() {
                for draw in 0..BATCH {
                    let stop = less(until, end[draw]);
                    let left = minutes[draw] - done[draw];
                    let here = more(stop - from, 0.0);
                    let starts_here = left > 0.0 && left <= here;
                    latest[draw] = if starts_here { stop - left } else { latest[draw] };
                    done[draw] += here;
                }
            }
        }
        Some(open) => {
            for &(from, until) in &open.spans {
                for draw in 0..BATCH {
                    let start = end[draw] - minutes[draw];
                    let last = less(until - minutes[draw], start);
                    let last = if last < from { NEVER } else { last };
                    latest[draw] = more(latest[draw], last);
                }
            }
        }
    }
    latest
}
