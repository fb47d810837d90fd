//! One item of the outside list with everything that hangs on it.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use super::{ahead, disagreements, plan};
use crate::Failure;
use crate::library::{self, Ground, TaskStanding};
use domain::kinds::Kind;
use domain::order_of_work::LostWay;
use domain::outside::{Contradiction, FlightAhead, OutsideItem};
use domain::slots::Slot;
use domain::words::OutsideState;
use store::{Kept, register, slots};

/// An item whole.
#[derive(Debug)]
pub struct ItemRead {
    pub item: OutsideItem,
    pub version: i64,
    pub flights: Vec<FlightAhead>,
    pub ground: Ground,
    /// The task that brings it back, and the slots that it holds.
    pub back: Option<(TaskStanding, Vec<Slot>)>,
    /// The set slots that lose their way as things stand.
    pub lost: Vec<LostWay>,
    /// Those that would, if it came in now.
    pub lost_now: Vec<LostWay>,
    /// What attempts say of it that the list does not.
    pub disagreements: Vec<Contradiction>,
}

#[boxed]
pub async fn read(db: &mut SqliteConnection, code: &str) -> Result<ItemRead, Failure> {
    let missing = || Failure::NotFound(Kind::OutsideItem, code.to_owned());
    let item = OutsideItem::find(db, code).await?.ok_or_else(missing)?;
    let version = register::find(db, Kind::OutsideItem, code).await?.ok_or_else(missing)?.version;
    let plan = plan(db).await?;
    let own = &item.code.0;
    let lost = plan.lost().into_iter().filter(|lost| lost.aid == *own).collect();
    let in_place = item.state == OutsideState::InPlace;
    let lost_now = if in_place { plan.lost_now(own) } else { Vec::new() };
    let back = match &item.brought_back_by {
        Some(task) => {
            let live = slots::live_of_task(db, task).await?;
            library::standing_of(db, task).await?.map(|task| (task, live))
        }
        None => None,
    };
    let mut disagreements = disagreements(db).await?;
    disagreements.retain(|found| found.item().is_some_and(|other| other.code == item.code));
    Ok(ItemRead {
        version,
        flights: ahead(db).await?,
        ground: library::ground(db).await?,
        back,
        lost,
        lost_now,
        disagreements,
        item,
    })
}
