//! What a person does with a whole excursion: call it off, mark it as flown, make records of
//! words of its notes.

use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::{address, flown};
use crate::addresses::{self, encoded, folder};
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::page::{Done, Page, see_other};
use crate::visitor::Viewer;
use app::excursions::CalledOff;
use app::read::Found;
use app::work::Work;
use app::{App, Failure, excursions, inhibits};
use domain::codes::{ExcursionCode, InhibitCode};
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::quotes;
use domain::slots::named;
use domain::words::{ArrangementState, DeferralPhase};

pub(crate) async fn call_off(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let taken = excursions::call_off(&mut work, &code, typed.get("why")).await?;
    let there = work.finish(address(&code.as_str().into())).await?;
    Ok(Done::to(there).saying(called_off(&code, &taken)))
}

/// Says what was taken from the excursion, each slot by its code.
fn called_off(code: &str, taken: &CalledOff) -> String {
    let mut words = format!("{code} is called off.");
    if !taken.deferred.is_empty() {
        let slots = named(&taken.deferred);
        words = format!("{words} Deferred and back in the backlog: {slots}.");
    }
    if !taken.pencils.is_empty() {
        words = format!("{words} Pencils withdrawn: {}.", named(&taken.pencils));
    }
    if taken.deferred.is_empty() && taken.pencils.is_empty() {
        words += " It had no slots.";
    }
    words
}

/// One step on with an inhibit.
pub(crate) async fn arrange(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let to = ArrangementState::read(typed.get("to"))
        .ok_or_else(|| Failure::Refused("Choose how far the inhibit is.".to_owned()))?;
    let (inhibit, excursion) = (InhibitCode::from(typed.get("inhibit")), ExcursionCode::from(code));
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    inhibits::step(&mut work, &inhibit, &excursion, to).await?;
    let back = match typed.get("back") {
        "inhibit" => addresses::of(Kind::Inhibit, inhibit.as_str()),
        _ => format!("{}#inhibits", address(&excursion)),
    };
    let there = work.finish(back).await?;
    Ok(Done::to(there).saying(format!("{inhibit} is {to} on {excursion}.")))
}

pub(crate) async fn mark_flown(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    excursions::mark_flown(&mut work, &code).await?;
    let there = format!("{}/debrief", address(&code.as_str().into()));
    let there = work.finish(there).await?;
    Ok(Done::to(there).saying(format!("{code} is marked as flown. Enter its results here.")))
}

/// Leads to the form of a record that keeps these words of the notes. Nothing is guessed from
/// them: outcome, technique and side are the person's to pick.
pub(crate) async fn use_words(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    let query = viewer.address().split_once('?').map_or("", |query| query.1);
    let asked = Fields::read(query.as_bytes());
    let mut db = app.reader().await?;
    let excursion = Excursion::find(&mut db, &code)
        .await?
        .ok_or_else(|| Failure::NotFound(Kind::Excursion, code.clone()))?;
    let (words, notes) = (asked.get("quote"), excursion.notes.as_str());
    let kind = Kind::named(asked.get("make"));
    match (kind, quotes::find(notes, words)) {
        (Some(kind @ (Kind::Task | Kind::Attempt | Kind::Deferral)), Some((from, to))) => {
            Ok(see_other(&form(kind, &excursion, &notes[from..to])))
        }
        (_, found) => {
            let why = match (words.trim().is_empty(), found) {
                (true, _) => "Select some words of the notes, or paste them here.",
                (false, None) => "These words do not stand in the notes; copy them as they are.",
                (false, Some(_)) => "Choose what to make of these words.",
            };
            let wrong = Some((words.to_owned(), why));
            let page = flown::page(&mut db, &viewer, excursion, wrong).await?;
            Ok((StatusCode::UNPROCESSABLE_ENTITY, Page(page)).into_response())
        }
    }
}

fn form(kind: Kind, excursion: &Excursion, words: &str) -> String {
    let code: &ExcursionCode = &excursion.code.0;
    let day = excursion.day.map_or_else(String::new, |day| day.to_string());
    let quote = quotes::quoted(words);
    let fields: Vec<(&str, &str)> = match kind {
        Kind::Task => {
            vec![("from_excursion", code.as_str()), ("opened", &day), ("notes", &quote)]
        }
        Kind::Deferral => vec![
            ("excursion", code.as_str()),
            ("phase", DeferralPhase::During.word()),
            ("day", &day),
            ("words", &quote),
        ],
        // An attempt takes its date from its excursion.
        _ => vec![("excursion", code.as_str()), ("words", &quote)],
    };
    let query: Vec<String> = fields
        .into_iter()
        .filter(|(_, value)| !value.is_empty())
        .map(|(name, value)| format!("{name}={}", encoded(value)))
        .collect();
    format!("/{}/new?{}", folder(kind), query.join("&"))
}
