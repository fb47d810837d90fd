//! A plan forwards in every draw.

use super::draws::{Drawn, MANY, log_days, narrow, normals, raise};
use super::law::Law;
use super::stretches::{first_start, stretches};
use crate::compute::timeline::{CrewDay, Frame, MOST_LANES, Order};

/// What was done last, as places in the list of ends: the count of stops stands for egress.
#[derive(Debug, Clone, Copy)]
pub(super) struct Before {
    pub lanes: [usize; MOST_LANES],
    pub arm: usize,
}

/// The gaps of each stop's lanes, and those on the way home, as the timeline found them.
#[derive(Debug, Clone, Copy)]
pub(in crate::compute::timeline) struct Gaps<'a> {
    pub stops: &'a [[f64; MOST_LANES]],
    pub home: &'a [f64; MOST_LANES],
}

/// One way through a plan, forwards.
pub(super) struct Forward<const N: usize> {
    pub ends: Vec<Drawn<N>>,
    pub before: Vec<Before>,
    pub works: Vec<Drawn<N>>,
}

pub(super) fn forward<const N: usize>(
    frame: &Frame,
    order: Order,
    gaps: Gaps,
    log_days: &Drawn<N>,
) -> Forward<N> {
    let count = order.stops.len();
    let mut run = Forward {
        ends: vec![[narrow(frame.egress); N]; count + 1],
        before: Vec::with_capacity(count + 1),
        works: vec![[0.0; N]; count],
    };
    let mut before = Before { lanes: [count; MOST_LANES], arm: count };
    for (place, stop) in order.stops.iter().enumerate() {
        run.before.push(before);
        let mut end = [0.0; N];
        for lane in stop.lanes.each() {
            raise(&mut end, &run.ends[before.lanes[lane]], gaps.stops[place][lane]);
        }
        for (first, _) in order.needs.iter().filter(|(_, then)| *then == place) {
            raise(&mut end, &run.ends[*first], 0.0);
        }
        if stop.arm {
            raise(&mut end, &run.ends[before.arm], 0.0);
        }
        let law = Law::of(stop.work);
        let work = &mut run.works[place];
        let drawn = normals(place + 1).iter().zip(log_days);
        work.iter_mut().zip(drawn).for_each(|(work, (z, day))| *work = law.minutes(*z, *day));
        if let Some(stretches) = stretches(frame.windows, stop.arm, stop.light) {
            let start = |ready: f32, work: f32| first_start(&stretches, ready, work);
            end.iter_mut().zip(&*work).for_each(|(ready, work)| *ready = start(*ready, *work));
        }
        run.ends[place].iter_mut().zip(&end).zip(&*work).for_each(|((end, start), work)| {
            *end = start + work;
        });
        for lane in stop.lanes.each() {
            before.lanes[lane] = place;
        }
        if stop.arm {
            before.arm = place;
        }
    }
    run.before.push(before);
    run
}

/// When the last lane is inside, in many draws, the earliest first.
pub(in crate::compute::timeline) fn ends_of(
    frame: &Frame,
    order: Order,
    gaps: Gaps,
    crew_day: CrewDay,
) -> Vec<f64> {
    let run = forward::<MANY>(frame, order, gaps, &log_days(crew_day));
    let last = run.before[order.stops.len()];
    let mut inside = [0.0; MANY];
    for lane in 0..frame.lanes {
        raise(&mut inside, &run.ends[last.lanes[lane]], gaps.home[lane]);
    }
    inside.sort_by(f32::total_cmp);
    inside.into_iter().map(f64::from).collect()
}
