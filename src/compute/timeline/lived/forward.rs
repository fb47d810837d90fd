//! A plan forwards in every draw of a helping.

use super::draws::{Drawn, HELPING, log_days, narrow, raise};
use super::given::Given;
use super::law::Law;
use super::stretches::first_starts;
use super::wide::Wide;
use crate::compute::timeline::MOST_LANES;

/// What was done last, as places in the list of ends: the count of stops stands for egress.
#[derive(Debug, Clone, Copy)]
pub(super) struct Before {
    pub lanes: [usize; MOST_LANES],
    pub arm: usize,
}

/// One way through a plan, forwards.
pub(super) struct Forward {
    pub log_days: Drawn,
    /// When the work of each stop ends, and at last egress.
    pub ends: Vec<Drawn>,
    /// The minutes of each stop's work.
    pub works: Vec<Drawn>,
}

#[inline(always)]
pub(super) fn forward(given: &Given, helping: usize) -> Forward {
    let count = given.stops.len();
    let log_days = log_days(given.crew_day, helping);
    let mut ends = vec![[narrow(given.egress); HELPING]; count + 1];
    let mut works = given.mirrors.normals(count, helping);
    for (place, stop) in given.stops.iter().enumerate() {
        let before = &given.before[place];
        let mut end = [0.0; HELPING];
        for lane in stop.lanes.each() {
            raise(&mut end, &ends[before.lanes[lane]], given.gaps[place][lane]);
        }
        for (first, _) in given.needs.iter().filter(|(_, then)| *then == place) {
            raise(&mut end, &ends[*first], 0.0);
        }
        if stop.arm {
            raise(&mut end, &ends[before.arm], 0.0);
        }
        let law = Law::of(stop.work);
        let work = &mut works[place];
        work.iter_mut().zip(&log_days).for_each(|(work, day)| *work = law.minutes(*work, *day));
        if let Some(stretches) = given.stretches.for_stop(stop) {
            first_starts(stretches, &mut end, work);
        }
        ends[place].iter_mut().zip(&end).zip(&*work).for_each(|((end, start), work)| {
            *end = start + work;
        });
    }
    Forward { log_days, ends, works }
}

/// When the last lane is inside.
pub(super) struct Ends<'a> {
    pub given: &'a Given,
    pub helping: usize,
}

impl Wide for Ends<'_> {
    type Output = Drawn;

    #[inline(always)]
    fn call(self) -> Drawn {
        inside(self.given, &forward(self.given, self.helping))
    }
}

/// The same of a run that was made.
#[inline(always)]
pub(super) fn inside(given: &Given, run: &Forward) -> Drawn {
    let last = &given.before[given.stops.len()];
    let mut inside = [0.0; HELPING];
    for lane in 0..given.lanes {
        raise(&mut inside, &run.ends[last.lanes[lane]], given.home[lane]);
    }
    inside
}
