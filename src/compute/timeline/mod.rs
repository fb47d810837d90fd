//! The timeline of one excursion: each seat is a lane in slot order, a two-seat task starts when
//! the later of its lanes is there, and every lane goes out of the airlock and back into it, all
//! of them together where the airlock takes them so. Work waits for its windows, for the arm, and
//! for what it needs.

mod ends;
mod latest;
mod order;
mod run;
mod sampling;
mod schedule;
mod simulated;
mod variation;
mod windows;

use crate::places::SiteAt;
pub use ends::Ends;
pub use latest::latest_starts;
pub use order::Order;
pub use run::{Block, Finish, State, Timed, ends, later, onward, simulate, time};
pub use sampling::{Draws, Sampled, sample};
pub use schedule::Worked;
pub use simulated::{Added, AtEnd, Detour, InWindows, Rooms, Simulated, UNBOUNDED, WhichEnd};
use typed_index_collections::TiSlice;
pub use variation::Variation;
pub use windows::{Light, Windows};

use crate::three_point::Spread;
use crate::travel::Network;

/// More seats than any airlock lets out at once.
pub const MOST_LANES: usize = 4;

/// The lanes that a stop holds; lane 0 is the excursion's first seat.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash)]
pub struct Lanes(u8);

impl Lanes {
    pub const fn one(lane: usize) -> Self {
        Self(1 << lane)
    }

    #[must_use]
    pub const fn and(self, lane: usize) -> Self {
        Self(self.0 | 1 << lane)
    }

    #[must_use]
    pub const fn without(self, lane: usize) -> Self {
        Self(self.0 & !(1 << lane))
    }

    pub const fn has(self, lane: usize) -> bool {
        self.0 & (1 << lane) != 0
    }

    pub const fn is_empty(self) -> bool {
        self.0 == 0
    }

    pub const fn count(self) -> usize {
        self.0.count_ones() as usize
    }

    pub const fn meets(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    /// Every choice of at least one of that many lanes.
    pub fn all(lanes: usize) -> impl Iterator<Item = Self> {
        (1..1_u8 << lanes.min(MOST_LANES)).map(Self)
    }

    pub fn each(self) -> impl Iterator<Item = usize> {
        let mut left = u32::from(self.0);
        std::iter::from_fn(move || {
            if left == 0 {
                return None;
            }
            let lane = left.trailing_zeros() as usize;
            left &= left - 1;
            // No lane is past the last; the compiler learns it here.
            Some(lane % MOST_LANES)
        })
    }

    /// The lanes from the first on, that many.
    pub fn up_to(lanes: usize) -> Self {
        (0..lanes).fold(Self::default(), Self::and)
    }

    /// The first of them; 0 where there is none.
    pub fn first(self) -> usize {
        self.each().next().unwrap_or(0)
    }
}

/// Minutes to get ready at a worksite and to leave it, once per uninterrupted visit and lane.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct SiteMinutes {
    pub setup: f64,
    pub cleanup: f64,
}

/// What holds for the whole excursion.
#[derive(Debug, Clone, Copy)]
pub struct Frame<'a> {
    pub lanes: usize,
    pub airlock: SiteAt,
    pub egress: f64,
    pub ingress: f64,
    /// The airlock takes all lanes in together: ingress begins when the last lane is back at it.
    pub together: bool,
    /// The limit: work that finds no window any more waits past it.
    pub limit: f64,
    pub sites: &'a TiSlice<SiteAt, SiteMinutes>,
    pub windows: &'a Windows,
}

/// Travel between two worksites.
pub trait Routes {
    /// Minutes of a lane that leaves at that minute of elapsed time and takes `slow` times as long
    /// as one that carries nothing; `None` where there is no route.
    fn travel(&self, from: SiteAt, to: SiteAt, leaves: f64, slow: f64) -> Option<f64>;
}

impl Routes for Network {
    fn travel(&self, from: SiteAt, to: SiteAt, _: f64, slow: f64) -> Option<f64> {
        self.minutes(from, to).map(|minutes| f64::from(minutes) * slow)
    }
}

/// What a lane spends between two pieces of work, waiting left out: travel, and cleanup and setup
/// at the worksites.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Gap {
    pub travel: f64,
    pub site: f64,
}

impl Gap {
    pub const fn minutes(self) -> f64 {
        self.travel + self.site
    }
}

/// One piece of work in the order of the plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stop {
    pub site: SiteAt,
    pub lanes: Lanes,
    pub work: Spread,
    /// The work needs the arm, which serves one stop at a time and only inside its windows.
    pub arm: bool,
    pub light: Light,
    /// Work in a light stops when the light goes and continues in the next one.
    pub pauses: bool,
    /// The work lies between these minutes whole.
    pub from: f64,
    pub until: f64,
    /// By how much the way there and the way on take longer, for what is carried.
    pub carries_there: f64,
    pub carries_on: f64,
}

impl Stop {
    /// Whether it waits for a window, or for the arm.
    pub fn waits(&self) -> bool {
        self.arm || self.light != Light::Any || self.from > 0.0 || self.until < f64::INFINITY
    }

    /// Whether its work stops at the end of a window and continues in the next one.
    pub fn pauses(&self) -> bool {
        self.pauses && !self.arm && self.light != Light::Any
    }

    /// The same begun no earlier than that minute.
    #[must_use]
    pub fn begun_from(self, minute: f64) -> Self {
        Self { from: later(self.from, minute), ..self }
    }

    /// Plain work: no arm, any light, at any time, nothing carried.
    pub const fn plain(site: SiteAt, lanes: Lanes, work: Spread) -> Self {
        Self {
            site,
            lanes,
            work,
            arm: false,
            light: Light::Any,
            pauses: false,
            from: 0.0,
            until: f64::INFINITY,
            carries_there: 1.0,
            carries_on: 1.0,
        }
    }
}

/// There is no way between two worksites at that moment of the plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NoWay {
    pub from: SiteAt,
    pub to: SiteAt,
}

/// What a lane does during a segment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Activity {
    Egress,
    Travel { from: SiteAt, to: SiteAt },
    Setup { site: SiteAt },
    Wait,
    Work { stop: usize },
    Cleanup { site: SiteAt },
    Ingress,
}

/// A stretch of a lane, in minutes of elapsed time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Segment {
    pub lane: usize,
    pub from: f64,
    pub until: f64,
    pub activity: Activity,
}

#[cfg(test)]
mod tests;
