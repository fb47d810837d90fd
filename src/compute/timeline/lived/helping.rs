//! A plan in the draws of one helping: where each lane stands before each stop, and how late it may.

use super::draws::{Drawn, HELPING, ROUNDING, lower, mean, narrow, range};
use super::forward::{Forward, forward, inside};
use super::given::Given;
use super::stretches::last_ready;
use super::wide::Wide;

/// Before everything.
const NEVER: f32 = -1e9;

#[derive(Debug, Clone)]
pub(super) struct Helping {
    pub log_days: Drawn,
    /// When the work of each stop ends, and at last egress.
    pub ends: Vec<Drawn>,
    /// The latest start of each stop, and at last the limit.
    pub latest: Vec<Drawn>,
    pub ranges: Ranges,
    /// The chance that the plan ends by its limit as it stands.
    pub chance: f64,
}

/// The least and the most of `log_days`, and of each of `ends` and `latest`.
#[derive(Debug, Clone)]
pub(super) struct Ranges {
    pub log_days: (f32, f32),
    pub ends: Vec<(f32, f32)>,
    pub latest: Vec<(f32, f32)>,
}

/// Lives through a plan in the draws of one helping, held against its limit.
pub(super) struct Live<'a> {
    pub given: &'a Given,
    pub limit: f64,
    pub helping: usize,
}

impl Wide for Live<'_> {
    type Output = Helping;

    #[inline(always)]
    fn call(self) -> Helping {
        let Self { given, limit, helping } = self;
        let run = forward(given, helping);
        let limit = narrow(limit) + ROUNDING;
        let late = inside(given, &run).map(|end| if end > limit { NEVER } else { f32::INFINITY });
        let kept = late.map(|late| if late > 0.0 { 1.0 } else { 0.0 });
        let mut latest = latest_starts(given, &run, limit);
        for bounds in &mut latest {
            // A draw that is late as it stands is late with any task added.
            lower(bounds, &late, 0.0);
        }
        let Forward { log_days, ends, .. } = run;
        let of_all = |all: &[Drawn]| all.iter().map(range).collect();
        let ranges =
            Ranges { log_days: range(&log_days), ends: of_all(&ends), latest: of_all(&latest) };
        Helping { log_days, ends, latest, ranges, chance: mean(&kept) }
    }
}

/// The plan backwards: the latest start of each stop, and at last the limit.
#[inline(always)]
fn latest_starts(given: &Given, run: &Forward, limit: f32) -> Vec<Drawn> {
    let count = given.stops.len();
    let mut latest = vec![[limit; HELPING]; count + 1];
    for (place, stop) in given.stops.iter().enumerate().rev() {
        let mut end = [f32::INFINITY; HELPING];
        for lane in stop.lanes.each() {
            match given.next[place + 1][lane] {
                next if next < count => lower(&mut end, &latest[next], given.gaps[next][lane]),
                home => lower(&mut end, &latest[home], given.home[lane]),
            }
        }
        for (_, then) in given.needs.iter().filter(|(first, _)| *first == place) {
            lower(&mut end, &latest[*then], 0.0);
        }
        let arm = given.next_arm[place + 1];
        if stop.arm && arm < count {
            lower(&mut end, &latest[arm], 0.0);
        }
        let work = &run.works[place];
        match given.stretches.for_stop(stop) {
            Some(stretches) => last_ready(stretches, &mut end, work),
            None => end.iter_mut().zip(work).for_each(|(end, work)| *end -= work),
        }
        latest[place] = end;
    }
    latest
}
