//! The outside list: what is outside, where, how long it may stay, and who brings it back.

mod asked;
mod disagreements;
mod list;
mod map;
mod rows;
mod show;

use domain::outside::OutsideItem;
use domain::words::OutsideState;

pub(crate) use disagreements::settle;
pub(crate) use list::{file, list};
pub(crate) use map::{map_sites, map_ways};
pub(crate) use show::{end, make_task, show};

/// What the day on which an item ended is called.
pub(crate) fn ended_label(item: &OutsideItem) -> &'static str {
    match item.state {
        OutsideState::BroughtIn => "Brought in",
        OutsideState::Lost => "Found lost",
        OutsideState::InPlace => "Ended",
    }
}
