//! How tasks stand, worked out from their events and not looked up: for the operation that stores
//! it, and for the check that compares.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeSet, HashMap};

use sqlx::SqliteConnection;

use crate::Failure;
use crate::calendar::Calendar;
use crate::constraints;
use crate::dossier::Dossier;
use crate::standing::row::row;
use crate::standing::shares::{self, SlotCut};
use crate::standing::told;
use crate::standing::tries::Tries;
use domain::codes::{FamilyCode, FlightCode, SlotCode, TaskCode};
use domain::constraints::Bound;
use domain::history::{slots_after_the_end, standing};
use domain::words::SlotState;
use store::history::OpeningRow;
use store::standing::{self as rows, StandingRow, TaskWords, WhatBlocks};
use store::told::{AttemptTells, NotHeldRow};

/// One task, derived from everything that happened to it.
pub(crate) struct Recomputed {
    pub row: StandingRow,
    /// The flights that it touches, in the order of their codes.
    pub flights: Vec<FlightCode>,
    pub words: TaskWords,
    /// The slots that its ending withdraws.
    pub ended: Vec<SlotCode>,
    /// The set slots that plan more than is left.
    pub too_much: Vec<SlotCut>,
    /// The attempts of which something else is stored than what they tell.
    pub told: Vec<AttemptTells>,
    /// Its failures after a verified remedy, in the order of the codes.
    pub not_held: Vec<NotHeldRow>,
}

/// Derives these tasks with a fixed number of queries; gives the dossier too, out of which it is told
/// what their families hear.
#[boxed]
pub(crate) async fn recompute(
    db: &mut SqliteConnection,
    calendar: Calendar,
    batch: &[TaskCode],
) -> Result<(Vec<Recomputed>, Dossier), Failure> {
    let bounds = constraints::bounds(db, &calendar, batch).await?;
    let dossier = Dossier::load_with(db, calendar, batch).await?;
    let held: HashMap<TaskCode, WhatBlocks> =
        rows::holds(db, batch).await?.into_iter().map(|h| (h.task.clone(), h)).collect();
    let mut about: HashMap<TaskCode, String> = HashMap::new();
    for (task, words) in rows::words_about(db, batch).await? {
        about.entry(task).or_default().extend(["\n", &words]);
    }
    Ok((work_out(&dossier, &held, &about, &bounds), dossier))
}

fn work_out(
    dossier: &Dossier,
    held: &HashMap<TaskCode, WhatBlocks>,
    about: &HashMap<TaskCode, String>,
    bounds: &HashMap<TaskCode, Bound>,
) -> Vec<Recomputed> {
    let none = Tries::of(dossier.no_family());
    let mut families: HashMap<(Option<&str>, &str), Tries<'_>> = HashMap::new();
    let mut all = Vec::with_capacity(dossier.events.openings.len());
    for opening in &dossier.events.openings {
        let tries = match dossier.family_of(opening) {
            Some(record) => {
                let family = opening.family.as_ref().map(FamilyCode::as_str);
                let alone = if family.is_none() { opening.task.as_str() } else { "" };
                &*families.entry((family, alone)).or_insert_with(|| Tries::of(record))
            }
            None => &none,
        };
        let events = dossier.events_of(opening);
        let now = standing(&events);
        let row =
            row(dossier, opening, &now, held.get(&opening.task), tries, bounds.get(&opening.task));
        all.push(Recomputed {
            flights: flights_of(dossier, &opening.task),
            words: words_of(dossier, opening, about.get(&opening.task).map_or("", String::as_str)),
            ended: slots_after_the_end(&events),
            told: told::told(dossier, &opening.task, row.state.is_open_item()),
            not_held: told::not_held(tries, &opening.task),
            too_much: shares::too_much(dossier, &opening.task, row.state, row.share_left),
            row,
        });
    }
    all
}

fn flights_of(dossier: &Dossier, task: &TaskCode) -> Vec<FlightCode> {
    let events = &dossier.events;
    let stands = events.slots_of(task).iter().filter(|held| held.state != SlotState::Withdrawn);
    let excursions = events
        .attempts_of(task)
        .iter()
        .map(|tried| &tried.excursion)
        .chain(events.deferrals_of(task).iter().map(|put_off| &put_off.excursion))
        .chain(stands.map(|held| &held.excursion));
    let flights: BTreeSet<FlightCode> =
        excursions.filter_map(|code| dossier.calendar.flight_of(code)).map(|f| f.code).collect();
    flights.into_iter().collect()
}

fn words_of(dossier: &Dossier, opening: &OpeningRow, about: &str) -> TaskWords {
    let mut record = String::new();
    for tried in dossier.events.attempts_of(&opening.task) {
        record.extend([&*tried.words, "\n", &*tried.as_left, "\n"]);
    }
    for put_off in dossier.events.deferrals_of(&opening.task) {
        record.extend([&*put_off.words, "\n"]);
    }
    record.push_str(about);
    TaskWords {
        entry: opening.entry,
        task: opening.task.clone(),
        title: opening.title.clone(),
        notes: opening.notes.clone(),
        record,
    }
}
