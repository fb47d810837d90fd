//! The outside list.

use std::collections::{BTreeSet, HashMap};

use sqlx::SqliteConnection;

use crate::app::Failure;
use crate::app::records::Ruled;
use crate::app::work::Work;
use crate::domain::codes::{ExcursionCode, OutsideCode, TaskCode, WorksiteCode};
use crate::domain::order_of_work::{LaterSlot, LostWay, Spot, Way, ways_lost};
use crate::domain::outside::OutsideItem;
use crate::domain::slots::Slot;
use crate::domain::words::{OutsideState, SlotState};
use crate::domain::worksites::Route;
use crate::store::{Kept, excursions, slots, tasks};

/// No network of routes is larger; it asks for all of it.
const EVERY: i64 = i64::MAX;

impl Ruled for OutsideItem {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        item: &mut Self,
    ) -> Result<(), Failure> {
        if item.limit_days.is_some_and(|days| days < 0) {
            return Err(Failure::field("limit_days", "An exposure limit is a number of days."));
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

/// The set slots that would lose their way if an item came in now, before all of them.
pub async fn ways_lost_without(
    db: &mut SqliteConnection,
    items: &[OutsideItem],
) -> Result<Vec<LostWay>, Failure> {
    let ways: Vec<Way> = Route::after(db, "", EVERY)
        .await?
        .into_iter()
        .map(|route| Way {
            route: route.code.0,
            from: route.from_site,
            to: route.to_site,
            aid: route.aid,
        })
        .collect();
    let later = later_slots(db).await?;
    let in_place: BTreeSet<OutsideCode> = items
        .iter()
        .filter(|item| item.state == OutsideState::InPlace)
        .map(|item| item.code.0.clone())
        .collect();
    let now = Spot { excursion: ExcursionCode::default(), flight: -1, number: 0, place: None };
    Ok(in_place.iter().flat_map(|aid| ways_lost(aid, &now, &ways, &in_place, &later)).collect())
}

/// The set slots ahead whose airlock and worksite are known, with their places in the order.
async fn later_slots(db: &mut SqliteConnection) -> Result<Vec<LaterSlot>, Failure> {
    let coming = excursions::coming(db).await?;
    let set: Vec<Slot> = slots::coming_slots(db)
        .await?
        .into_iter()
        .filter(|slot| slot.state == SlotState::Set)
        .collect();
    let codes: Vec<TaskCode> = set.iter().map(|slot| slot.task.clone()).collect();
    let sites: HashMap<TaskCode, WorksiteCode> = tasks::these(db, &codes)
        .await?
        .into_iter()
        .filter_map(|task| Some((task.code.0, task.worksite?)))
        .collect();
    let later = |slot: Slot| {
        let rank = coming.iter().position(|excursion| excursion.code.0 == slot.excursion)?;
        Some(LaterSlot {
            airlock: coming[rank].airlock.clone()?,
            worksite: sites.get(&slot.task)?.clone(),
            at: Spot {
                excursion: slot.excursion,
                flight: 0,
                number: i64::try_from(rank).ok()?,
                place: slot.place,
            },
            slot: slot.code.0,
            task: slot.task,
        })
    };
    Ok(set.into_iter().filter_map(later).collect())
}
