//! A plan as far as its draws ask for it.

use super::directions::Mirrors;
use super::forward::Before;
use super::stretches::Stretches;
use crate::compute::timeline::{CrewDay, Frame, MOST_LANES, Order, Stop};

/// The gaps of each stop's lanes, and those on the way home, as the timeline found them.
#[derive(Debug, Clone, Copy)]
pub(in crate::compute::timeline) struct Gaps<'a> {
    pub stops: &'a [[f64; MOST_LANES]],
    pub home: &'a [f64; MOST_LANES],
}

#[derive(Debug, Clone)]
pub(super) struct Given {
    pub lanes: usize,
    pub egress: f64,
    pub stops: Vec<Stop>,
    pub needs: Vec<(usize, usize)>,
    pub gaps: Vec<[f64; MOST_LANES]>,
    pub home: [f64; MOST_LANES],
    /// Before each stop, and at last: what each lane and the arm did last.
    pub before: Vec<Before>,
    /// From each stop on, and at last: the next stop of each lane, and of the arm.
    pub next: Vec<[usize; MOST_LANES]>,
    pub next_arm: Vec<usize>,
    pub stretches: Stretches,
    pub mirrors: Mirrors,
    pub crew_day: CrewDay,
}

impl Given {
    pub fn of(frame: &Frame, order: Order, gaps: Gaps, crew_day: CrewDay) -> Self {
        Self {
            lanes: frame.lanes,
            egress: frame.egress,
            stops: order.stops.to_vec(),
            needs: order.needs.to_vec(),
            gaps: gaps.stops.to_vec(),
            home: *gaps.home,
            before: before(order.stops),
            next: order.next(),
            next_arm: order.next_arm(),
            stretches: Stretches::of(frame.windows),
            mirrors: Mirrors::of(order.stops),
            crew_day,
        }
    }
}

fn before(stops: &[Stop]) -> Vec<Before> {
    let mut now = Before { lanes: [stops.len(); MOST_LANES], arm: stops.len() };
    let mut before = vec![now];
    for (place, stop) in stops.iter().enumerate() {
        for lane in stop.lanes.each() {
            now.lanes[lane] = place;
        }
        if stop.arm {
            now.arm = place;
        }
        before.push(now);
    }
    before
}
