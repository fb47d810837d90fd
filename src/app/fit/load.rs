//! Loads what the fit looks at, once, with a fixed number of queries.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeSet, HashMap};
use std::hash::Hash;
use std::sync::Arc;

use sqlx::SqliteConnection;

use super::Board;
use super::approaches::Approaches;
use super::crews::Crews;
use crate::constraints;
use crate::dossier::Dossier;
use crate::settings::{self, CalculationInputs};
use crate::tools;
use crate::{Failure, Reader};
use compute::fit::{
    self, FlightAt, InhibitAt, OutsideAt, SiteAt, SlotAt, Snapshot, TaskAt, ToolAt,
};
use compute::three_point::ThreePoint;
use compute::value::Values;
use domain::codes::{
    ExcursionCode, FamilyCode, FlightCode, InhibitCode, OutsideCode, TaskCode, TechniqueCode,
    ToolCode, WorksiteCode,
};
use domain::excursions::Excursion;
use domain::fallbacks::Fallback;
use domain::inhibits::Inhibit;
use domain::outside::OutsideItem;
use domain::repeat_guard::Approach;
use domain::sides::Side;
use domain::slots::Slot;
use domain::tools::Tool;
use domain::units::Minutes;
use domain::words::{DeferralPhase, LinkKind, OutsideState, SlotState, TaskState};
use domain::worksites::{Route, Worksite};
use store::standing::StandingRow;
use store::{Kept, endings, excursions, inhibits, slots, standing, tasks, techniques};
use typed_index_collections::TiVec;

/// No library is larger than this; it asks for all of one.
const NO_LIMIT: i64 = i64::MAX;

/// Loads the coming excursions with everything that these tasks, and the slots there, lean on.
#[boxed]
pub async fn board(db: &mut SqliteConnection, wanted: &[TaskCode]) -> Result<Board, Failure> {
    let coming = excursions::coming(db).await?;
    let live = slots::coming_slots(db).await?;
    board_of(db, wanted, coming, live).await
}

/// The same for a page; it is loaded once for all who read the same state of the record.
#[boxed]
pub async fn board_seen(db: &mut Reader, wanted: &[TaskCode]) -> Result<Arc<Board>, Failure> {
    let tasks: BTreeSet<&str> = wanted.iter().map(TaskCode::as_str).collect();
    let name = tasks.into_iter().collect::<Vec<_>>().join(" ");
    let place = db.place(name);
    let board = place.get_or_try_init(|| async { board(db, wanted).await.map(Arc::new) });
    board.await.cloned()
}

/// A flown excursion as it was planned: its slots as if they were still set, each with the estimate
/// that stood when it was set and the whole of its task ahead. What was put off before egress was no
/// part of the plan any more.
#[boxed]
pub async fn board_then(db: &mut SqliteConnection, excursion: Excursion) -> Result<Board, Failure> {
    let mut live = slots::of_excursion(db, &excursion.code.0).await?;
    live.retain(|slot| matches!(slot.state, SlotState::Set | SlotState::Flown));
    let put_off = endings::deferrals_of_excursion(db, &excursion.code.0).await?;
    live.retain(|slot| {
        let own = put_off.iter().filter(|one| one.task == slot.task);
        own.into_iter().all(|one| one.phase == DeferralPhase::During)
    });
    for slot in &mut live {
        slot.state = SlotState::Set;
    }
    let mut board = board_of(db, &[], vec![excursion], live.clone()).await?;
    for slot in &live {
        let Some(&task) = board.rows.get(&slot.task) else { continue };
        let then = three_point(slot.optimistic, slot.likely, slot.pessimistic);
        let task = &mut board.snapshot.tasks[task];
        task.work = then.or_else(|| task.work.take());
        task.share_left = 1.0;
        task.standing = fit::Standing::Open;
    }
    Ok(board)
}

async fn board_of(
    db: &mut SqliteConnection,
    wanted: &[TaskCode],
    coming: Vec<Excursion>,
    live: Vec<Slot>,
) -> Result<Board, Failure> {
    let given = CalculationInputs::load(db).await?;
    let places = Worksite::after(db, "", NO_LIMIT).await?;
    let routes = Route::after(db, "", NO_LIMIT).await?;
    let aids = OutsideItem::after(db, "", NO_LIMIT).await?;
    let kit = Tool::after(db, "", NO_LIMIT).await?;
    let counts = tools::as_they_stand(db, &kit).await?;
    let codes = with_what_they_lean_on(db, wanted, &live, &aids).await?;
    let records = tasks::these(db, &codes).await?;
    let stands = standing::these(db, &codes).await?;
    let links = tasks::links_among(db, &codes).await?;
    let dossier = Dossier::load(db, &codes).await?;
    let bounds = constraints::bounds(db, &dossier.calendar, &codes).await?;
    let families: Vec<FamilyCode> = records.iter().filter_map(|task| task.family.clone()).collect();
    let ways = techniques::for_tasks(db, &codes, &families).await?;
    let named: Vec<TechniqueCode> = ways.iter().map(|way| way.code.0.clone()).collect();
    let rehearsals = techniques::rehearsals_of_these(db, &named).await?;
    let qualifications = techniques::qualifications_for_these(db, &named).await?;
    let switched = Inhibit::after(db, "", NO_LIMIT).await?;
    let ahead: Vec<ExcursionCode> = coming.iter().map(|there| there.code.0.clone()).collect();
    let arranged = inhibits::arranged_on(db, &ahead).await?;
    let crews = Crews::of(&coming);

    let flights: HashMap<FlightCode, FlightAt> =
        places_of(dossier.calendar.flights.iter().map(|f| f.code.clone()));
    let sites: HashMap<WorksiteCode, SiteAt> = places_of(places.iter().map(|w| w.code.0.clone()));
    let items: HashMap<OutsideCode, OutsideAt> = places_of(aids.iter().map(|o| o.code.0.clone()));
    let tool_at: HashMap<ToolCode, ToolAt> = places_of(kit.iter().map(|t| t.code.0.clone()));
    let inhibit_at: HashMap<InhibitCode, InhibitAt> =
        places_of(switched.iter().map(|i| i.code.0.clone()));
    let rows: HashMap<TaskCode, TaskAt> = places_of(records.iter().map(|t| t.code.0.clone()));
    let stands: HashMap<TaskCode, StandingRow> =
        stands.into_iter().map(|row| (row.task.clone(), row)).collect();
    let flight = |code: &Option<FlightCode>| code.as_ref().and_then(|c| flights.get(c).copied());
    let minutes = |m: Option<Minutes>| m.map(|m| real(m.0));

    let mut approaches = Approaches {
        dossier: &dossier,
        ways: &ways,
        tools: &tool_at,
        rehearsals: &rehearsals,
        qualifications: &qualifications,
        crews: &crews,
    };
    let guards = approaches.guards();
    let mut columns = HashMap::new();
    let mut snapshot = Snapshot {
        flights: dossier
            .calendar
            .flights
            .iter()
            .map(|f| fit::Flight { code: f.code.clone(), launch: f.launch, landing: f.landing })
            .collect(),
        sites: places
            .iter()
            .map(|w| fit::Site {
                code: w.code.0.clone(),
                setup: minutes(w.setup),
                cleanup: minutes(w.cleanup),
                one_by_one: w.one_by_one,
            })
            .collect(),
        outside: aids
            .iter()
            .map(|o| fit::OutsideItem {
                code: o.code.0.clone(),
                in_place: o.state == OutsideState::InPlace,
                brought_back_by: o.brought_back_by.as_ref().and_then(|t| rows.get(t).copied()),
            })
            .collect(),
        tools: kit
            .iter()
            .map(|t| {
                let stands = counts.get(&t.code.0).cloned().unwrap_or_default();
                fit::Tool {
                    code: t.code.0.clone(),
                    state: Some(t.state),
                    aboard: stands.aboard.and_then(|n| u32::try_from(n).ok()),
                    outside: u32::try_from(stands.outside).unwrap_or(u32::MAX),
                    arrives_with: flight(&stands.to_come),
                }
            })
            .collect(),
        rates: given.suits.iter().map(settings::rates).collect(),
        inhibits: switched
            .iter()
            .map(|inhibit| fit::Inhibit {
                code: inhibit.code.0.clone(),
                owner: inhibit.owner.as_ref().map(|owner| owner.as_str().to_owned()),
                lead: minutes(inhibit.lead),
            })
            .collect(),
        crews: crews.codes.clone(),
        ..Snapshot::default()
    };
    for route in &routes {
        let (Some(&from), Some(&to)) = (sites.get(&route.from_site), sites.get(&route.to_site))
        else {
            continue;
        };
        let aid = route.aid.as_ref().and_then(|aid| items.get(aid).copied());
        let there = u32::try_from(route.minutes.0).unwrap_or(u32::MAX);
        let back = route.minutes_back.map_or(there, |m| u32::try_from(m.0).unwrap_or(u32::MAX));
        snapshot.routes.push(fit::Route { from, to, minutes: there, aid });
        snapshot.routes.push(fit::Route { from: to, to: from, minutes: back, aid });
    }
    for record in &records {
        let code = &record.code.0;
        let stand = stands.get(code);
        let slotted: Vec<Approach> = live
            .iter()
            .filter(|slot| slot.task == *code)
            .flat_map(|slot| {
                let own = Approach { technique: slot.technique.clone(), side: slot.side.clone() };
                let then = slot.fallbacks.0.iter().filter_map(Fallback::approach);
                std::iter::once(own).chain(then)
            })
            .collect();
        let linked = |kind: LinkKind, both: bool| -> Vec<TaskAt> {
            links
                .iter()
                .filter(|link| link.kind == kind)
                .filter_map(|link| match (link.task == *code, link.other == *code) {
                    (true, _) => rows.get(&link.other).copied(),
                    (_, true) if both => rows.get(&link.task).copied(),
                    _ => None,
                })
                .collect()
        };
        let waits = links.iter().any(|l| l.kind == LinkKind::OnlyIf && l.task == *code);
        let task = fit::Task {
            code: code.clone(),
            standing: stands_as(stand),
            class: record.class,
            site: record.worksite.as_ref().and_then(|site| sites.get(site).copied()),
            share_left: stand.map_or(1.0, |stand| real(stand.share_left.0) / 100.0),
            work: three_point(record.optimistic, record.likely, record.pessimistic),
            seats: record.seats.and_then(|seats| usize::try_from(seats).ok()),
            approaches: approaches.of(record, &guards, &slotted),
            // What is undone has to be there first.
            needs: [LinkKind::Needs, LinkKind::Undoes].map(|kind| linked(kind, false)).concat(),
            same_visit: linked(LinkKind::SameVisit, true),
            instead_of: linked(LinkKind::InsteadOf, true),
            waits_for_trigger: waits && !record.triggered,
            needed_by_flight: flight(&record.needed_by_flight),
            needed_by_day: record.needed_by_day,
            late_means: record.late_means.as_ref().map(|words| words.as_str().to_owned()),
            late_is_moot: record.late_is_moot,
            bound: bounds.get(code).cloned(),
            back_inside_by: flight(&record.back_inside_by),
            work_rate: record.work_rate,
            lighting: Some(record.lighting),
            arm: record.arm,
            takes_out: record.takes_out.map(|l| l.0),
            brings_in: record.brings_in.map(|l| l.0),
            inhibits: record
                .needs_inhibits
                .iter()
                .filter_map(|inhibit| inhibit_at.get(inhibit).copied())
                .collect(),
            inhibits_in_words: record.inhibits.is_some(),
        };
        snapshot.tasks.push(task.into());
    }
    let mut slots_there = TiVec::new();
    for excursion in &coming {
        columns.insert(excursion.code.0.clone(), snapshot.excursions.next_key());
        let here: TiVec<SlotAt, Slot> = live
            .iter()
            .filter(|slot| slot.excursion == excursion.code.0 && rows.contains_key(&slot.task))
            .cloned()
            .collect();
        let on_it = here.iter().map(|slot| slot_of(slot, &rows, &snapshot)).collect();
        snapshot.excursions.push(fit::Excursion {
            code: excursion.code.0.clone(),
            flight: flight(&excursion.flight),
            day: excursion.day,
            planned: minutes(excursion.planned),
            limit: minutes(excursion.limit),
            egress: minutes(excursion.egress),
            ingress: minutes(excursion.ingress),
            seats: excursion.seats.numbers().collect(),
            airlock: excursion.airlock.as_ref().and_then(|site| sites.get(site).copied()),
            arm_windows: excursion.arm_windows.0.clone(),
            orbit: fit::Orbit {
                period: excursion.orbit_period.map(|p| p.0),
                altitude: excursion.orbit_altitude.map(|a| a.0),
                beta: excursion.beta.map(|b| b.0),
                first_sunrise: excursion.first_sunrise.map(|s| real(s.0)),
            },
            supplies: fit::Supplies {
                oxygen: excursion.oxygen.map(|k| k.0),
                scrubber: excursion.scrubber.map(|k| k.0),
                water: excursion.water.map(|k| k.0),
                battery: minutes(excursion.battery),
            },
            seat_rates: excursion
                .seats
                .0
                .iter()
                .map(|seat| given.rates_of(seat.crew.as_deref()))
                .collect(),
            seat_crew: excursion
                .seats
                .0
                .iter()
                .map(|seat| crews.at(seat.crew.as_deref()))
                .collect(),
            arranged: arranged
                .iter()
                .filter(|one| one.excursion == excursion.code.0)
                .filter_map(|one| {
                    Some(fit::Arranged {
                        inhibit: inhibit_at.get(&one.inhibit).copied()?,
                        state: one.state,
                        from: one.from_pet.map(|pet| real(pet.0)),
                        until: one.until_pet.map(|pet| real(pet.0)),
                    })
                })
                .collect(),
            bag_out: excursion.bag_out.map(|l| l.0),
            bag_in: excursion.bag_in.map(|l| l.0),
            flown: excursion.flown_chance.map(|chance| real(chance.0) / 100.0),
            slots: on_it,
        });
        slots_there.push(here);
    }
    Ok(Board {
        values: Values::of(&snapshot, &given.weights),
        snapshot,
        constants: given.constants,
        rows,
        columns,
        excursions: coming.into(),
        slots: slots_there,
    })
}

/// The wanted tasks, those in slots, those that wait for them, those they are linked to, those
/// that bring aids in.
async fn with_what_they_lean_on(
    db: &mut SqliteConnection,
    wanted: &[TaskCode],
    live: &[Slot],
    aids: &[OutsideItem],
) -> Result<Vec<TaskCode>, Failure> {
    let mut codes: BTreeSet<TaskCode> = wanted.iter().cloned().collect();
    codes.extend(live.iter().map(|slot| slot.task.clone()));
    codes.extend(aids.iter().filter_map(|item| item.brought_back_by.clone()));
    let mut first: Vec<TaskCode> = codes.iter().cloned().collect();
    // What waits for a task is part of its value.
    first.extend(tasks::that_need(db, &first).await?);
    codes.extend(first.iter().cloned());
    for link in tasks::links_among(db, &first).await? {
        codes.insert(link.task);
        codes.insert(link.other);
    }
    Ok(codes.into_iter().collect())
}

/// The place of each code in its list.
fn places_of<C: Eq + Hash, P: From<usize>>(codes: impl Iterator<Item = C>) -> HashMap<C, P> {
    codes.enumerate().map(|(at, code)| (code, at.into())).collect()
}

fn stands_as(stand: Option<&StandingRow>) -> fit::Standing {
    match stand {
        Some(row) if row.state == TaskState::Done => fit::Standing::Done,
        Some(row) if row.state == TaskState::Dropped => fit::Standing::Dropped,
        Some(row) if row.state == TaskState::Parked || !row.is_open => fit::Standing::Resting,
        Some(_) | None => fit::Standing::Open,
    }
}

fn slot_of(slot: &Slot, rows: &HashMap<TaskCode, TaskAt>, snapshot: &Snapshot) -> fit::Slot {
    let task = rows.get(&slot.task).copied().unwrap_or_default();
    let place = |technique: Option<&TechniqueCode>, side: Option<&Side>| {
        let approaches = &snapshot.tasks[task].approaches;
        approaches.position(|a| a.technique.as_ref() == technique && a.side.as_ref() == side)
    };
    let fallbacks = slot.fallbacks.0.iter().map(|then| fit::Fallback {
        approach: (!then.leaves())
            .then(|| place(then.technique.as_ref(), then.side.as_ref()))
            .flatten(),
        after: then.after.map(|minutes| real(minutes.0)),
        chance: then.needed.map(|share| real(share.0) / 100.0),
    });
    fit::Slot {
        task,
        set: slot.state == SlotState::Set,
        approach: place(slot.technique.as_ref(), slot.side.as_ref()),
        fallbacks: fallbacks.collect(),
        seats: slot.seats.numbers().collect(),
        share: slot.share.map(|share| real(share.0) / 100.0),
        begin: slot.not_before.map(|pet| real(pet.0)),
        must_do: slot.must_do,
    }
}

pub(super) fn three_point(
    optimistic: Option<Minutes>,
    likely: Option<Minutes>,
    pessimistic: Option<Minutes>,
) -> Option<ThreePoint> {
    ThreePoint::new(real(optimistic?.0), real(likely?.0), real(pessimistic?.0))
}

/// Minutes and shares stay far below the 2⁵³ that a float holds exactly.
#[expect(clippy::cast_precision_loss, reason = "minutes and shares are small")]
fn real(whole: i64) -> f64 {
    whole as f64
}
