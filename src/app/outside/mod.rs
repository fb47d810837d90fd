//! The outside list: what ends an item, how long it may stay, and what hangs on it.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::Failure;
use crate::records::{Base, Ruled, current, save};
use crate::work::Work;
use domain::outside::{FlightAhead, OutsideItem};
use domain::time::Day;
use domain::words::OutsideState;
use store::flights;

mod bring_back;
mod disagreements;
mod read;
mod ways;

pub use bring_back::{BringBack, make_task};
pub use disagreements::{Right, disagreements, settle};
pub use read::{ItemRead, read};
pub use ways::{lost_paths, lost_paths_seen, plan, warnings_without};

impl Ruled for OutsideItem {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        item: &mut Self,
    ) -> Result<(), Failure> {
        if item.limit_days.is_some_and(|days| days < 0) {
            return Err(Failure::field("limit_days", "An exposure limit is a number of days."));
        }
        if let (Some(since), Some(until)) = (item.since, item.limit_until)
            && until < since
        {
            return Err(Failure::field(
                "limit_until",
                "The limit ends before it went out; check both days.",
            ));
        }
        let ends = item.state != OutsideState::InPlace
            && before.is_some_and(|before| before.state == OutsideState::InPlace);
        if ends && item.ended_on.is_none() {
            item.ended_on = Some(work.today);
        }
        if let (Some(since), Some(ended)) = (item.since, item.ended_on)
            && ended < since
        {
            return Err(Failure::field(
                "ended_on",
                "It came in before it went out; check both days.",
            ));
        }
        Ok(())
    }
}

/// Ends an item: it was brought in, or it is lost.
#[boxed]
pub async fn end(
    work: &mut Work,
    code: &str,
    state: OutsideState,
    on: Option<Day>,
) -> Result<OutsideItem, Failure> {
    let mut item = current::<OutsideItem>(work, code).await?;
    if item.state != OutsideState::InPlace {
        return Err(Failure::Refused(format!("{code} is {} already.", item.state)));
    }
    if state == OutsideState::InPlace {
        return Err(Failure::field("state", "Choose whether it was brought in or is lost."));
    }
    if on.is_some_and(|on| on > work.today) {
        return Err(Failure::field("ended_on", "That day is still to come."));
    }
    item.state = state;
    item.ended_on = on;
    Ok(save(work, item, Base::Current).await?.record)
}

/// The flights that are still to come or under way, in their order.
#[boxed]
pub async fn ahead(db: &mut SqliteConnection) -> Result<Vec<FlightAhead>, Failure> {
    let rows = flights::in_order(db).await?.into_iter();
    Ok(rows
        .filter(|row| row.state.is_ahead())
        .map(|row| FlightAhead { flight: row.code, launch: row.launch, landing: row.landing })
        .collect())
}
