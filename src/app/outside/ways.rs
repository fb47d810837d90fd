//! Rule 8: the set slots that would lose their way when an aid comes in.

use async_recursion::async_recursion as boxed;
use std::collections::HashMap;
use std::sync::Arc;

use sqlx::SqliteConnection;

use crate::fit::board;
use crate::{Failure, Reader};
use compute::fit::{Counting, LeftBy, pet, with_aids_out};
use domain::codes::{ExcursionCode, OutsideCode, TaskCode, WorksiteCode};
use domain::order_of_work::{Aid, Bringing, LaterSlot, LostWay, PlaceInOrder, Plan, Way};
use domain::slots::Slot;
use domain::words::{OutsideState, SlotState};
use domain::worksites::Route;
use store::{Kept, excursions, outside, slots, tasks};

/// No network of routes is larger; it asks for all of it.
const NO_LIMIT: i64 = i64::MAX;

/// Loads what the ways of the set slots hang on; empty where no route needs an aid.
#[boxed]
pub async fn plan(db: &mut SqliteConnection) -> Result<Plan, Failure> {
    let items = outside::that_routes_need(db).await?;
    if items.is_empty() {
        return Ok(Plan::default());
    }
    let ways = Route::after(db, "", NO_LIMIT).await?.into_iter().map(|route| Way {
        route: route.code.0,
        from: route.from_site,
        to: route.to_site,
        aid: route.aid,
    });
    let placed = placed(db).await?;
    let codes: Vec<TaskCode> = placed.iter().map(|(slot, ..)| slot.task.clone()).collect();
    let sites: HashMap<TaskCode, WorksiteCode> = tasks::these(db, &codes)
        .await?
        .into_iter()
        .filter_map(|task| Some((task.code.0, task.worksite?)))
        .collect();
    let bringings = placed.iter().flat_map(|(slot, at, _)| {
        let brings = move |task: &TaskCode| *task == slot.task;
        let aids =
            items.iter().filter(move |item| item.brought_back_by.as_ref().is_some_and(brings));
        aids.map(move |item| Bringing {
            aid: item.code.0.clone(),
            slot: slot.code.0.clone(),
            task: slot.task.clone(),
            at: at.clone(),
            is_set: slot.state == SlotState::Set,
        })
    });
    let set = placed.iter().filter(|(slot, ..)| slot.state == SlotState::Set);
    let later = set.filter_map(|(slot, at, airlock)| {
        Some(LaterSlot {
            slot: slot.code.0.clone(),
            task: slot.task.clone(),
            at: at.clone(),
            airlock: airlock.clone()?,
            worksite: sites.get(&slot.task)?.clone(),
        })
    });
    let mut plan = Plan {
        ways: ways.collect(),
        bringings: bringings.collect(),
        slots: later.collect(),
        aids: items
            .iter()
            .map(|item| Aid {
                item: item.code.0.clone(),
                in_place: item.state == OutsideState::InPlace,
            })
            .collect(),
    };
    by_the_clock(db, &mut plan).await?;
    Ok(plan)
}

/// Where an aid comes in on the excursion of a slot that needs it, the minute of elapsed time decides
/// and not the order of the slots. What cannot be timed keeps its order.
async fn by_the_clock(db: &mut SqliteConnection, plan: &mut Plan) -> Result<(), Failure> {
    let decides = plan.where_the_minute_decides();
    if decides.is_empty() {
        return Ok(());
    }
    let board = board(db, &[]).await?;
    for excursion in decides {
        let Some(at) = board.excursion_at(&excursion) else { continue };
        let pencil = plan.is_brought_in_by_a_pencil(&excursion);
        let counting = if pencil { Counting::SetAndPencilled } else { Counting::Set };
        let timed = with_aids_out(&board.snapshot, at, counting, &board.constants);
        for LeftBy { slot, ended, left } in timed.into_iter().flatten() {
            plan.put_at(&board.slots[at][slot].code.0, pet(ended).0, pet(left).0);
        }
    }
    Ok(())
}

/// The set slots that lose their way as things stand.
#[boxed]
pub async fn lost_paths(db: &mut SqliteConnection) -> Result<Vec<LostWay>, Failure> {
    Ok(plan(db).await?.lost())
}

/// The same for a page, read once for all who read the same state of the record.
#[boxed]
pub async fn lost_paths_seen(db: &mut Reader) -> Result<Arc<Vec<LostWay>>, Failure> {
    let place = db.place("lost ways");
    let lost = place.get_or_try_init(|| async { lost_paths(db).await.map(Arc::new) });
    lost.await.cloned()
}

/// What is to be said when this item was taken off the list.
#[boxed]
pub async fn warnings_without(
    db: &mut SqliteConnection,
    aid: &OutsideCode,
) -> Result<String, Failure> {
    Ok(told(&lost_paths(db).await?, |lost| lost.aid == *aid))
}

fn told(lost: &[LostWay], wanted: impl Fn(&LostWay) -> bool) -> String {
    let mut words = String::new();
    for lost in lost.iter().filter(|lost| wanted(lost)) {
        words.push(' ');
        words.push_str(&lost.to_string());
    }
    words
}

/// The pencilled and set slots ahead, with their places in the order and their airlocks.
async fn placed(
    db: &mut SqliteConnection,
) -> Result<Vec<(Slot, PlaceInOrder, Option<WorksiteCode>)>, Failure> {
    let coming = excursions::coming(db).await?;
    let ranks: HashMap<&ExcursionCode, usize> =
        coming.iter().enumerate().map(|(rank, excursion)| (&excursion.code.0, rank)).collect();
    let spot = |slot: Slot| {
        let rank = *ranks.get(&slot.excursion)?;
        let at = PlaceInOrder {
            excursion: slot.excursion.clone(),
            flight: 0,
            number: i64::try_from(rank).ok()?,
            place: slot.place,
        };
        Some((slot, at, coming[rank].airlock.clone()))
    };
    Ok(slots::coming_slots(db).await?.into_iter().filter_map(spot).collect())
}
