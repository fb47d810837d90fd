//! The fit: every open item judged against every coming excursion, check by check. One pure function
//! over a snapshot; reasons come out as data and are put into words by `sentences`.

mod change_words;
mod changes;
mod constants;
mod gates;
mod get_ahead;
mod judge;
pub mod load;
mod on_the_day;
mod openings;
mod place;
mod planned;
mod ready;
mod reasons;
mod room;
mod sentences;
mod shared;
mod snapshot;
mod verdict;
mod windows;

pub use crate::places::{
    ApproachAt, CrewAt, ExcursionAt, FlightAt, InhibitAt, OutsideAt, RatesAt, RemedyAt, SiteAt,
    SlotAt, TaskAt, ToolAt,
};
pub use change_words::change_sentence;
pub use changes::{Change, changed};
pub use constants::{Accepted, Constants};
pub use gates::comes_late;
pub use get_ahead::{Now, get_ahead};
pub use judge::{Ask, Explained, Matrix, matrix, matrix_where, one_cell, some_cells};
pub use on_the_day::{Aided, DaySlot, FirstOut, OnTheDay, work_minutes};
pub use openings::{Opening, openings};
pub use planned::{
    Counting, LeftBy, PlannedExcursion, PlannedLeg, PlannedSlot, Timing, excursion_as_planned,
    excursion_sampled, pet, with_aids_out,
};
pub use reasons::{OfFallback, PracticeFigures, Reason, TimeFigures, Unknown, WindowFigures};
pub use room::{Added, Room, left, left_with, place_beside_pencilled, room, rooms, seated};
pub use sentences::{
    Part, margin, minutes_added, per_cent, room_words, sentence, unknown_sentence,
};
pub use snapshot::{
    Approach, Arranged, Excursion, Fallback, Flight, Guard, Inhibit, Orbit, OutsideItem, Practice,
    Qualification, Rehearsal, Remedy, Route, Site, Slot, Snapshot, Standing, Supplies, Task, Tool,
};
pub use verdict::{Cell, GATES, Place};

#[cfg(test)]
mod tests;
