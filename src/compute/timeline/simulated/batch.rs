//! A plan in the draws of one batch: where each lane stands before each stop, and how late it may.

use super::draws::{BATCH, Drawn, ROUNDING, Shared, each, lower, lower_by, mean, narrow, range};
use super::forward::{Forward, forward, inside};
use super::given::Given;
use super::stretches::last_ready;
use super::wide::Wide;

/// Before everything.
const NEVER: f32 = -1e9;

#[derive(Debug, Clone)]
pub(super) struct Batch {
    pub shared: Shared,
    /// When the work of each stop ends, and at last egress.
    pub ends: Vec<Drawn>,
    /// The minutes of each stop's work.
    pub works: Vec<Drawn>,
    /// The latest start of each stop, and at last the latest start of ingress.
    pub latest: Vec<Drawn>,
    pub ranges: Ranges,
    /// The chance that the plan ends by its limit as it stands.
    pub chance: f64,
}

/// The least and the most of what the draws share, and of each of `ends` and `latest`.
#[derive(Debug, Clone)]
pub(super) struct Ranges {
    pub log_days: (f32, f32),
    pub travel: (f32, f32),
    pub site: (f32, f32),
    pub ends: Vec<(f32, f32)>,
    pub latest: Vec<(f32, f32)>,
}

/// Simulates a plan in the draws of one batch, held against its limit.
pub(super) struct Live<'a> {
    pub given: &'a Given,
    pub limit: f64,
    pub batch: usize,
}

impl Wide for Live<'_> {
    type Output = Batch;

    #[inline(always)]
    fn call(self) -> Batch {
        let Self { given, limit, batch } = self;
        let run = forward(given, batch);
        let limit = narrow(limit) + ROUNDING;
        let ends = inside(given, &run.ends, &run.shared);
        let late = each(&ends, |end| if end > limit { NEVER } else { f32::INFINITY });
        let kept = each(&late, |late| if late > 0.0 { 1.0 } else { 0.0 });
        let mut latest = latest_starts(given, &run, limit);
        for bounds in &mut latest {
            // A draw that is late as it stands is late with any task added.
            lower(bounds, &late);
        }
        let Forward { shared, ends, works } = run;
        let of_all = |all: &[Drawn]| all.iter().map(range).collect();
        let ranges = Ranges {
            log_days: range(&shared.log_days),
            travel: range(&shared.travel),
            site: range(&shared.site),
            ends: of_all(&ends),
            latest: of_all(&latest),
        };
        Batch { shared, ends, works, latest, ranges, chance: mean(&kept) }
    }
}

/// The plan backwards: the latest start of each stop, and at last that of ingress.
#[inline(always)]
fn latest_starts(given: &Given, run: &Forward, limit: f32) -> Vec<Drawn> {
    let count = given.stops.len();
    let shared = &run.shared;
    let mut latest = vec![each(&shared.ingress, |ingress| limit - ingress); count + 1];
    for (place, stop) in given.stops.iter().enumerate().rev() {
        let mut end = [f32::INFINITY; BATCH];
        for lane in stop.lanes.each() {
            let next = given.next[place + 1][lane];
            let gap = given.gaps.get(next).map_or(given.home[lane], |gaps| gaps[lane]);
            lower_by(&mut end, &latest[next], gap, shared);
        }
        for (_, then) in given.needs.iter().filter(|(first, _)| *first == place) {
            lower(&mut end, &latest[*then]);
        }
        let arm = given.next_arm[place + 1];
        if stop.arm && arm < count {
            lower(&mut end, &latest[arm]);
        }
        latest[place] = last_ready(given.open[place].as_ref(), &end, &run.works[place]);
    }
    latest
}
