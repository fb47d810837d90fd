//! The stops of a plan in their order.

use super::{MOST_LANES, Stop};

/// A plan's stops in their order, and pairs of them of which the second waits for the first.
#[derive(Debug, Clone, Copy)]
pub struct Order<'a> {
    pub stops: &'a [Stop],
    pub needs: &'a [(usize, usize)],
}

impl Order<'_> {
    /// The latest of what a stop waits for; `end` gives the end of an earlier stop.
    pub fn release(&self, place: usize, end: impl Fn(usize) -> f64) -> f64 {
        let waits = self.needs.iter().filter(|(_, then)| *then == place);
        waits.map(|(first, _)| end(*first)).fold(0.0, f64::max)
    }

    /// From each stop on, and at last: the next stop of each lane; the count of stops where there
    /// is none.
    pub fn next(&self) -> Vec<[usize; MOST_LANES]> {
        let count = self.stops.len();
        let mut next = vec![[count; MOST_LANES]; count + 1];
        for (place, stop) in self.stops.iter().enumerate().rev() {
            next[place] = next[place + 1];
            for lane in stop.lanes.each() {
                next[place][lane] = place;
            }
        }
        next
    }

    /// The next stop that takes the arm, likewise.
    pub fn next_arm(&self) -> Vec<usize> {
        let count = self.stops.len();
        let mut next = vec![count; count + 1];
        for (place, stop) in self.stops.iter().enumerate().rev() {
            next[place] = if stop.arm { place } else { next[place + 1] };
        }
        next
    }
}
