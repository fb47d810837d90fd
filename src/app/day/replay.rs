//! Flown excursions replayed: what was the chance of each set task to be reached, by the estimates and
//! the plan as they stood, and was it reached?
//!
//! Setup, routes and the overheads of the law are those of today, as the record keeps no others;
//! windows of light and arm are left out.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use super::answers::real;
use crate::settings::CalculationInputs;
use crate::{Failure, Reader};
use compute::day::{Day as Outside, Minutes, Outlook, Progress, Task, Ways};
use compute::fit::{Constants, SiteAt};
use compute::three_point::ThreePoint;
use compute::timeline::{Frame, Lanes, SiteMinutes, Stop, Variation, Windows};
use compute::travel::{Leg, Network};
use domain::codes::{ExcursionCode, SlotCode, TaskCode, WorksiteCode};
use domain::excursions::Excursion;
use domain::slots::Slot;
use domain::time::Day;
use domain::words::{Outcome, SlotState};
use domain::worksites::{Route, Worksite};
use store::{Kept as _, StoreError, attempts, endings, excursions, slots, tasks};
use typed_index_collections::{TiSlice, TiVec};

/// So many flown excursions are replayed, the last ones.
pub const MOST_REPLAYED: i64 = 24;
/// No library is larger than this; it asks for all of one.
const NO_LIMIT: i64 = i64::MAX;

/// One set task of a flown excursion.
#[derive(Debug, Clone, PartialEq)]
pub struct Replayed {
    pub excursion: ExcursionCode,
    pub task: TaskCode,
    /// The chance to be reached, as it would have been shown before egress.
    pub chance: f64,
    pub reached: bool,
}

/// What the replay rests on.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Replay {
    pub tasks: Vec<Replayed>,
    /// Excursions whose record says too little.
    pub left_out: Vec<ExcursionCode>,
}

/// One flown excursion as it is replayed.
struct Flown {
    excursion: Excursion,
    slots: Vec<(Slot, Option<WorksiteCode>, bool)>,
}

/// Replayed once for all who read the same state of the record.
#[boxed]
pub async fn replayed(db: &mut Reader) -> Result<Arc<Replay>, Failure> {
    let place = db.place("");
    let replay = place.get_or_try_init(|| async { replay(db).await.map(Arc::new) });
    replay.await.cloned()
}

/// Replays the last flown excursions in their order of time, with a fixed number of queries.
#[boxed]
pub async fn replay(db: &mut SqliteConnection) -> Result<Replay, Failure> {
    let mut all = excursions::flown_last(db, MOST_REPLAYED).await?;
    all.sort_by(|a, b| (a.day, &a.code.0).cmp(&(b.day, &b.code.0)));
    let flown = answered(db, all).await?;
    let places = Worksite::after(db, "", NO_LIMIT).await?;
    let routes = Route::after(db, "", NO_LIMIT).await?;
    let constants = CalculationInputs::load(db).await?.constants;
    let stopped = |cause| StoreError::Unusable(format!("the replay stopped: {cause}"));
    let all = move || of(&flown, &places, &routes, &constants);
    Ok(tokio::task::spawn_blocking(all).await.map_err(stopped)?)
}

/// The excursions with their slots that have an answer, each with its worksite and whether it was
/// reached: those that were set at launch, and then tried, not reached, or given up on the day. What was
/// taken off before launch has none; what was set in flight had no chance at launch.
async fn answered(
    db: &mut SqliteConnection,
    excursions: Vec<Excursion>,
) -> Result<Vec<Flown>, Failure> {
    let codes: Vec<ExcursionCode> = excursions.iter().map(|one| one.code.0.clone()).collect();
    let launches: BTreeMap<ExcursionCode, Day> =
        excursions::launches_of(db, &codes).await?.into_iter().collect();
    let given_up: BTreeSet<SlotCode> =
        endings::given_up_on(db, &codes).await?.into_iter().collect();
    let mut reached: BTreeMap<SlotCode, bool> = BTreeMap::new();
    for (slot, outcome) in attempts::outcomes_of_slots(db, &codes).await? {
        *reached.entry(slot).or_default() |= outcome != Outcome::NotReached;
    }
    let slots = slots::of_excursions(db, &codes).await?;
    let named: Vec<TaskCode> = slots.iter().map(|slot| slot.task.clone()).collect();
    let sites: BTreeMap<TaskCode, Option<WorksiteCode>> = tasks::these(db, &named)
        .await?
        .into_iter()
        .map(|task| (task.code.0, task.worksite))
        .collect();
    let mut by_excursion: BTreeMap<ExcursionCode, Vec<Slot>> = BTreeMap::new();
    for slot in slots {
        by_excursion.entry(slot.excursion.clone()).or_default().push(slot);
    }
    let flown = excursions.into_iter().map(|excursion| {
        let code = &excursion.code.0;
        let launch = launches.get(code).copied().or(excursion.day);
        let mut here = by_excursion.remove(code).unwrap_or_default();
        here.retain(|slot| was_set_by(slot, launch));
        let answer = |slot: Slot| {
            let given_up = given_up.contains(&slot.code.0).then_some(false);
            let reached = reached.get(&slot.code.0).copied().or(given_up)?;
            let site = sites.get(&slot.task).cloned().flatten();
            Some((slot, site, reached))
        };
        let slots = here.into_iter().filter_map(answer).collect();
        Flown { excursion, slots }
    });
    Ok(flown.collect())
}

/// Whether a slot was set by that day. One that does not say when it was set is taken to have been, if
/// it was flown.
fn was_set_by(slot: &Slot, launch: Option<Day>) -> bool {
    match (slot.set_on, launch) {
        (Some(on), Some(launch)) => on <= launch,
        (Some(_), None) => true,
        (None, _) => slot.state == SlotState::Flown,
    }
}

fn of(flown: &[Flown], places: &[Worksite], routes: &[Route], constants: &Constants) -> Replay {
    let at = |code: &WorksiteCode| {
        places.iter().position(|place| place.code.0 == *code).map(SiteAt::from)
    };
    let legs: Vec<Leg> = routes
        .iter()
        .filter_map(|route| Some((at(&route.from_site)?, at(&route.to_site)?, route)))
        .flat_map(|(from, to, route)| {
            let whole = |minutes: i64| u32::try_from(minutes).unwrap_or(u32::MAX);
            let back = route.minutes_back.unwrap_or(route.minutes);
            [
                Leg { from, to, minutes: whole(route.minutes.0) },
                Leg { from: to, to: from, minutes: whole(back.0) },
            ]
        })
        .collect();
    let ways = Plain(Network::new(places.len(), &legs));
    let minutes = |m: Option<domain::units::Minutes>| m.map_or(0.0, |m| real(m.0));
    let sites: TiVec<SiteAt, SiteMinutes> = places
        .iter()
        .map(|place| SiteMinutes { setup: minutes(place.setup), cleanup: minutes(place.cleanup) })
        .collect();
    let windows = Windows::default();
    let mut replay = Replay::default();
    for flown in flown {
        let code = flown.excursion.code.0.clone();
        let Some((frame, tasks)) = laid_out(flown, &at, &sites, &windows, constants) else {
            replay.left_out.push(code);
            continue;
        };
        let day = Outside {
            frame,
            variation: variation(constants),
            tasks: &tasks,
            needs: &[],
            waits: &[],
            ways: &ways,
            now: 0.0,
            egress_ended: None,
            learns: false,
        };
        let Ok(rest) = Outlook::of(day).rest() else {
            replay.left_out.push(code);
            continue;
        };
        replay.tasks.extend(rest.tasks.iter().map(|left| {
            let (slot, _, reached) = &flown.slots[left.task];
            Replayed {
                excursion: code.clone(),
                task: slot.task.clone(),
                chance: left.reached,
                reached: *reached,
            }
        }));
    }
    replay
}

/// `None` where the record says too little.
fn laid_out<'a>(
    flown: &Flown,
    at: &impl Fn(&WorksiteCode) -> Option<SiteAt>,
    sites: &'a TiSlice<SiteAt, SiteMinutes>,
    windows: &'a Windows,
    constants: &Constants,
) -> Option<(Frame<'a>, Vec<Task>)> {
    let here = &flown.excursion;
    let seats: Vec<u8> = here.seats.numbers().collect();
    let mut tasks = Vec::with_capacity(flown.slots.len());
    for (slot, site, _) in &flown.slots {
        let work = ThreePoint::new(
            real(slot.optimistic?.0),
            real(slot.likely?.0),
            real(slot.pessimistic?.0),
        )?;
        let share = slot.share.map_or(1.0, |share| real(share.0) / 100.0);
        let work = work.part(share);
        let mut lanes = Lanes::default();
        for number in slot.seats.numbers() {
            lanes = lanes.and(seats.iter().position(|seat| *seat == number)?);
        }
        if lanes.is_empty() {
            return None;
        }
        tasks.push(Task {
            stop: Stop::plain(at(site.as_ref()?)?, lanes, work),
            minutes: Minutes::of(work),
            must_do: slot.must_do,
            value: 1.0,
            stopping_share: None,
            brings_in: false,
            progress: Progress::Planned,
        });
    }
    let frame = Frame {
        lanes: seats.len().min(compute::timeline::MOST_LANES),
        airlock: at(here.airlock.as_ref()?)?,
        egress: real(here.egress?.0),
        ingress: real(here.ingress?.0),
        together: constants.together,
        limit: real(here.limit?.0),
        sites,
        windows,
    };
    (!tasks.is_empty()).then_some((frame, tasks))
}

fn variation(constants: &Constants) -> Variation {
    Variation {
        crew_day: constants.crew_day_log_sd,
        egress: constants.egress_log_sd,
        ingress: constants.ingress_log_sd,
        travel: constants.travel_log_sd,
        site: constants.site_log_sd,
    }
}

/// All routes, at any time.
struct Plain(Network);

impl Ways for Plain {
    fn travel(
        &self,
        from: SiteAt,
        to: SiteAt,
        _: f64,
        slow: f64,
        _: &[(f64, usize)],
    ) -> Option<f64> {
        self.0.minutes(from, to).map(|minutes| f64::from(minutes) * slow)
    }
}
