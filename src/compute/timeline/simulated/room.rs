//! The most room that a plan leaves for work at a worksite anywhere in a lane, in the draws of the
//! first batch: a bound that tells at once where a task has no place in time.

use super::batch::Batch;
use super::draws::{BATCH, Drawn, less, mean, more, narrow};
use super::given::Given;
use super::law::Law;
use super::wide::Wide;
use crate::timeline::{Gap, Lanes, MOST_LANES};

/// What each lane spends on the way to a worksite from where it is, and on from there; infinite
/// where there is no way.
#[derive(Debug, Clone, Copy, Default)]
pub struct Detour {
    pub there: [Gap; MOST_LANES],
    pub on: [Gap; MOST_LANES],
}

/// The most room in each lane, in each draw.
#[derive(Debug, Clone)]
pub struct Rooms(Vec<Drawn>);

/// Finds it, with the detour before each stop and at last.
pub(super) struct Find<'a> {
    pub given: &'a Given,
    pub drawn: &'a Batch,
    pub detours: &'a [Detour],
}

impl Wide for Find<'_> {
    type Output = Rooms;

    /// From the end of each stop of the lane, or egress, to the latest start of its next one, or
    /// ingress, the detour left out.
    #[inline(always)]
    fn call(self) -> Rooms {
        let Self { given, drawn, detours } = self;
        let mut rooms = vec![[0.0; BATCH]; given.lanes];
        let shared = &drawn.shared;
        for (lane, room) in rooms.iter_mut().enumerate() {
            for (place, detour) in detours.iter().enumerate() {
                if place > 0 && !given.stops[place - 1].lanes.has(lane) {
                    continue;
                }
                let (there, on) = (detour.there[lane], detour.on[lane]);
                let (travel, site) =
                    (narrow(there.travel + on.travel), narrow(there.site + on.site));
                let done = &drawn.ends[given.before[place].lanes[lane]];
                let latest = &drawn.latest[given.next[place][lane]];
                for draw in 0..BATCH {
                    let way = travel * shared.travel[draw] + site * shared.site[draw];
                    room[draw] = more(room[draw], latest[draw] - done[draw] - way);
                }
            }
        }
        Rooms(rooms)
    }
}

/// The chance that work fits into the room of those lanes.
pub(super) struct Fits<'a> {
    pub rooms: &'a Rooms,
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
            for (room, own) in room.iter_mut().zip(&rooms.0[lane]) {
                *room = less(*room, *own);
            }
        }
        for (room, log_day) in room.iter_mut().zip(log_days) {
            *room = law.within(*room, *log_day);
        }
        mean(&room)
    }
}
