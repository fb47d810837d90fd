//! The most room that a plan leaves for another piece of work anywhere in a lane, in the draws of the
//! first batch: a bound that tells at once where a task has no place in time.

use super::batch::Batch;
use super::draws::{BATCH, Drawn, less, mean, more, narrow};
use super::given::Given;
use super::law::Law;
use super::wide::Wide;
use crate::timeline::{Gap, Lanes};

/// The room of each lane.
pub(super) struct Rooms<'a> {
    pub given: &'a Given,
    pub drawn: &'a Batch,
}

impl Wide for Rooms<'_> {
    type Output = Vec<Drawn>;

    /// From the end of each stop of the lane, or egress, to the latest start of its next one, or
    /// ingress. By another worksite the way is no shorter than the one between the two, unless
    /// something is carried.
    #[inline(always)]
    fn call(self) -> Vec<Drawn> {
        let Self { given, drawn } = self;
        let carries = given.stops.iter().any(|s| s.carries_there > 1.0 || s.carries_on > 1.0);
        let mut rooms = vec![[0.0; BATCH]; given.lanes];
        for (lane, room) in rooms.iter_mut().enumerate() {
            for place in 0..=given.stops.len() {
                if place > 0 && !given.stops[place - 1].lanes.has(lane) {
                    continue;
                }
                let next = given.next[place][lane];
                let way = given.gaps.get(next).map_or(given.home[lane], |gaps| gaps[lane]);
                let way = if carries { Gap::default() } else { way };
                let (travel, site) = (narrow(way.travel), narrow(way.site));
                let done = &drawn.ends[given.before[place].lanes[lane]];
                let latest = &drawn.latest[next];
                let shared = &drawn.shared;
                for draw in 0..BATCH {
                    let way = travel * shared.travel[draw] + site * shared.site[draw];
                    room[draw] = more(room[draw], latest[draw] - done[draw] - way);
                }
            }
        }
        rooms
    }
}

/// The chance that work fits into the room of those lanes.
pub(super) struct Fits<'a> {
    pub rooms: &'a [Drawn],
    pub lanes: Lanes,
    pub law: Law,
    pub log_days: &'a Drawn,
}

impl Wide for Fits<'_> {
    type Output = f64;

    #[inline(always)]
    fn call(self) -> f64 {
        let Self { rooms, lanes, law, log_days } = self;
        let mut room = [f32::INFINITY; BATCH];
        for lane in lanes.each() {
            for draw in 0..BATCH {
                room[draw] = less(room[draw], rooms[lane][draw]);
            }
        }
        for draw in 0..BATCH {
            room[draw] = law.within(room[draw], log_days[draw]);
        }
        mean(&room)
    }
}
