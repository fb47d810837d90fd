//! A plan as far as its draws ask for it.

use super::directions::Mirrors;
use super::forward::Before;
use super::stretches::{Open, Stretches};
use crate::timeline::{Frame, Gap, MOST_LANES, Order, Stop, Variation};

/// The gaps of each stop's lanes, and those on the way back to the airlock, as the timeline found
/// them.
#[derive(Debug, Clone, Copy)]
pub(in crate::timeline) struct Gaps<'a> {
    pub stops: &'a [[Gap; MOST_LANES]],
    pub home: &'a [Gap; MOST_LANES],
}

#[derive(Debug, Clone)]
pub(super) struct Given {
    pub lanes: usize,
    pub egress: f64,
    pub ingress: f64,
    pub stops: Vec<Stop>,
    pub needs: Vec<(usize, usize)>,
    pub gaps: Vec<[Gap; MOST_LANES]>,
    pub home: [Gap; MOST_LANES],
    /// Before each stop, and at last: what each lane and the arm did last.
    pub before: Vec<Before>,
    /// From each stop on, and at last: the next stop of each lane, and of the arm.
    pub next: Vec<[usize; MOST_LANES]>,
    pub next_arm: Vec<usize>,
    pub stretches: Stretches,
    /// When the work of each stop may go on; `None`: at any time.
    pub open: Vec<Option<Open>>,
    pub mirrors: Mirrors,
    pub variation: Variation,
}

impl Given {
    pub fn of(frame: &Frame, order: Order, gaps: Gaps, variation: Variation) -> Self {
        let stretches = Stretches::of(frame.windows, frame.limit);
        Self {
            lanes: frame.lanes,
            egress: frame.egress,
            ingress: frame.ingress,
            stops: order.stops.to_vec(),
            needs: order.needs.to_vec(),
            gaps: gaps.stops.to_vec(),
            home: *gaps.home,
            before: before(order.stops),
            next: order.next(),
            next_arm: order.next_arm(),
            open: order.stops.iter().map(|stop| stretches.for_stop(stop)).collect(),
            stretches,
            mirrors: Mirrors::of(order.stops),
            variation,
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
