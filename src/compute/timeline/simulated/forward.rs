//! A plan forwards in every draw of a batch.

use super::draws::{BATCH, Drawn, Shared, raise, raise_by};
use super::given::Given;
use super::law::Law;
use super::stretches::work_ends;
use super::wide::Wide;
use crate::timeline::MOST_LANES;

/// What was done last, as places in the list of ends: the count of stops stands for egress.
#[derive(Debug, Clone, Copy)]
pub(super) struct Before {
    pub lanes: [usize; MOST_LANES],
    pub arm: usize,
}

/// One run through a plan, forwards.
pub(super) struct Forward {
    pub shared: Shared,
    /// When the work of each stop ends, and at last egress.
    pub ends: Vec<Drawn>,
    /// The minutes of each stop's work.
    pub works: Vec<Drawn>,
}

#[inline(always)]
pub(super) fn forward(given: &Given, batch: usize) -> Forward {
    let count = given.stops.len();
    let shared = Shared::of((given.egress, given.ingress), given.variation, batch);
    let mut ends = vec![shared.egress; count + 1];
    let mut works = given.mirrors.normals(count, batch);
    for (place, stop) in given.stops.iter().enumerate() {
        let before = &given.before[place];
        let mut ready = [0.0; BATCH];
        for lane in stop.lanes.each() {
            raise_by(&mut ready, &ends[before.lanes[lane]], given.gaps[place][lane], &shared);
        }
        for (first, _) in given.needs.iter().filter(|(_, then)| *then == place) {
            raise(&mut ready, &ends[*first]);
        }
        if stop.arm {
            raise(&mut ready, &ends[before.arm]);
        }
        let law = Law::of(stop.work);
        let work = &mut works[place];
        let days = &shared.log_days;
        work.iter_mut().zip(days).for_each(|(work, day)| *work = law.minutes(*work, *day));
        ends[place] = work_ends(given.open[place].as_ref(), &ready, work);
    }
    Forward { shared, ends, works }
}

/// When the last lane is inside.
pub(super) struct Ends<'a> {
    pub given: &'a Given,
    pub batch: usize,
}

impl Wide for Ends<'_> {
    type Output = Drawn;

    #[inline(always)]
    fn call(self) -> Drawn {
        let run = forward(self.given, self.batch);
        inside(self.given, &run.ends, &run.shared)
    }
}

/// The same of a run that was made.
pub(super) struct Home<'a> {
    pub given: &'a Given,
    pub ends: &'a [Drawn],
    pub shared: &'a Shared,
}

impl Wide for Home<'_> {
    type Output = Drawn;

    #[inline(always)]
    fn call(self) -> Drawn {
        inside(self.given, self.ends, self.shared)
    }
}

#[inline(always)]
pub(super) fn inside(given: &Given, ends: &[Drawn], shared: &Shared) -> Drawn {
    let last = &given.before[given.stops.len()];
    let mut inside = [0.0; BATCH];
    for lane in 0..given.lanes {
        raise_by(&mut inside, &ends[last.lanes[lane]], given.home[lane], shared);
    }
    for (inside, ingress) in inside.iter_mut().zip(&shared.ingress) {
        *inside += ingress;
    }
    inside
}
