//! The debrief: all results of one flown excursion on one page, saved row by row.

use axum::Json;
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::page::{Done, Page};
use crate::pages::attempts::photos;
use crate::pages::constraints::forbidden_line;
use crate::received::{Received, held, not_taken};
use crate::visitor::Viewer;
use app::constraints::InForce;
use app::debrief::{self, Closed, RowSaved};
use app::work::Work;
use app::{App, Failure};
use domain::codes::ExcursionCode;
use domain::slots::named;

mod approaches;
mod beside;
mod choices;
mod fields;
mod saving;
mod typed;
mod view;

pub(crate) use choices::Choices;
use saving::Outcome;
use typed::Typed;
use view::DebriefQuery;
pub(crate) use view::{RowView, row_view};

fn address(code: &str) -> String {
    format!("{}/debrief", addresses::within("excursions", code))
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    let mut db = app.reader().await?;
    let debrief = debrief::read(&mut db, &code).await?;
    let extra = Fields::read(viewer.address().split_once('?').map_or("", |q| q.1).as_bytes());
    let asked =
        DebriefQuery { another: extra.get("another").to_owned(), page: page_of(extra.get("rows")) };
    let page = view::page(&mut db, &viewer, debrief, Outcome::default(), &asked).await?;
    Ok(Page(page).into_response())
}

/// Saves the whole form; closes the excursion where that is asked and nothing is missing.
pub(crate) async fn save(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    request: Request,
) -> Result<Response, PageError> {
    let excursion = ExcursionCode::from(code.as_str());
    let open = debrief::open_for_results(&mut *app.reader().await?, &excursion).await;
    if let Err(why) = open {
        return not_taken(&app, &viewer, request, why.into()).await;
    }
    let received = Received::read(&app, request).await?;
    let fields = received.fields.clone();
    let saved = Box::pin(save_all(&app, &viewer, &code, received)).await;
    Ok(held(&viewer, &fields, saved))
}

async fn save_all(
    app: &App,
    viewer: &Viewer,
    code: &str,
    received: Received,
) -> Result<Response, PageError> {
    let mut received = received;
    let photos = photos::look(app, viewer, &mut received).await?;
    let fields = received.fields;
    let mut typed = Typed::read(&fields);
    if fields.get("do") == "all-came-in" {
        typed.all_came_in();
    }
    let mut work = Work::begin(app, &viewer.actor, fields.key().as_ref()).await?;
    let excursion = ExcursionCode::from(code);
    let mut outcome = Box::pin(saving::save(&mut work, &excursion, &typed)).await?;
    saving::keep_photos(&mut work, &excursion, &typed, photos, &mut outcome).await?;
    let asked = fields.get("do");
    let complete = debrief::read(work.db(), code).await?.missing.is_empty();
    let may_close = asked == "close" && outcome.is_clean() && complete;
    let goes_on = may_close || (outcome.is_clean() && asked != "close");
    if !goes_on {
        saving::wait(app, viewer, &mut outcome).await?;
        outcome.asks_to_close = asked == "close";
        let status = outcome.status();
        // Drawn before the commit, so that nobody's change in between gets its version into a
        // form that shows what was typed before it.
        work.settle().await?;
        let debrief = debrief::read(work.db(), code).await?;
        let again = DebriefQuery { page: page_of(fields.get("rows")), ..DebriefQuery::default() };
        let page = Box::pin(view::page(work.db(), viewer, debrief, outcome, &again)).await?;
        work.finish(address(code)).await?;
        return Ok((status, Page(page)).into_response());
    }
    let closed = if may_close { Some(debrief::close(&mut work, &excursion).await?) } else { None };
    let there = work.finish(address(code)).await?;
    if let Some(closed) = closed {
        let words = closed_words(code, &closed);
        return Ok(Done::to(addresses::within("excursions", code)).saying(words).into_response());
    }
    let next = asked.strip_prefix("rows ").unwrap_or(fields.get("rows"));
    let mut query = Vec::new();
    if page_of(next) > 1 {
        query.push(format!("rows={}", page_of(next)));
    }
    if let Some(row) = asked.strip_prefix("another ") {
        query.push(format!("another={}#another", addresses::encoded(row)));
    }
    let there = if query.is_empty() { there } else { format!("{there}?{}", query.join("&")) };
    Ok(Done::to(there).saying(outcome.words(viewer.now())).into_response())
}

/// Which rows are asked for; the first where that is no number.
fn page_of(typed: &str) -> i64 {
    typed.trim().parse().unwrap_or(1)
}

/// Says what closing returned to the backlog and which pencils it withdrew.
fn closed_words(code: &str, closed: &Closed) -> String {
    let mut words = format!("The debrief of {code} is closed.");
    if !closed.returned.is_empty() {
        let tasks: Vec<String> = closed.returned.iter().map(ToString::to_string).collect();
        words = format!("{words} Back in the backlog: {}.", tasks.join(", "));
    }
    if !closed.withdrawn.is_empty() {
        words = format!("{words} Pencils withdrawn: {}.", named(&closed.withdrawn));
    }
    let lines = |all: &[InForce]| all.iter().map(forbidden_line).collect::<Vec<_>>().join("; ");
    if !closed.from_now.is_empty() {
        words = format!("{words} From now on: {}.", lines(&closed.from_now));
    }
    if !closed.ended.is_empty() {
        let ended: Vec<&str> =
            closed.ended.iter().map(|one| one.constraint.forbidden.as_str()).collect();
        words = format!("{words} Ended: {}.", ended.join("; "));
    }
    words
}

/// Saves one row while it is typed, for a script.
pub(crate) async fn save_quietly(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    fields: Fields,
) -> Result<Response, PageError> {
    let typed = Typed::read(&fields);
    let excursion = ExcursionCode::from(code.as_str());
    let Some((prefix, mut row)) = typed.rows.into_iter().next() else {
        return Err(Failure::Refused("There is no row in this form.".to_owned()).into());
    };
    row.quiet = true;
    let (saved, stamp) = Box::pin(keep_one(&app, &viewer, &excursion, row)).await?;
    if matches!(saved, RowSaved::MovedOn(_)) {
        let words = "Not saved: somebody else changed this row. Send the form to see both.";
        let body = serde_json::json!({ "words": words });
        return Ok((StatusCode::CONFLICT, Json(body)).into_response());
    }
    let wrong = match &saved {
        RowSaved::Draft(wrong) => wrong.as_slice(),
        RowSaved::Recorded(_) | RowSaved::Unchanged | RowSaved::MovedOn(_) => &[],
    };
    let at = viewer.now().clock();
    let words = match wrong.len() {
        0 => format!("saved {at} UTC"),
        1 => format!("kept {at} UTC, 1 field to complete"),
        more => format!("kept {at} UTC, {more} fields to complete"),
    };
    let errors: Vec<_> = wrong
        .iter()
        .map(|wrong| {
            let field = format!("{prefix}-{}", wrong.field);
            serde_json::json!({ "field": field, "message": wrong.message })
        })
        .collect();
    let body = serde_json::json!({ "words": words, "version": stamp, "errors": errors });
    Ok(Json(body).into_response())
}

/// Saves one row; beside it its stamp as this save left it.
async fn keep_one(
    app: &App,
    viewer: &Viewer,
    excursion: &ExcursionCode,
    row: debrief::TypedRow,
) -> Result<(RowSaved, String), Failure> {
    let (key, sent) = (row.key.clone(), debrief::stamp(&row.cells));
    let mut work = Work::begin(app, &viewer.actor, None).await?;
    let mut saved = debrief::save_rows(&mut work, excursion, vec![row]).await?;
    let saved = saved.pop().unwrap_or(RowSaved::Unchanged);
    let now = debrief::read(work.db(), excursion.as_str()).await?;
    let stamp = now.rows.iter().find(|row| row.key == key).map_or(sent, debrief::DebriefRow::stamp);
    work.finish("").await?;
    Ok((saved, stamp))
}

/// Takes one row back: what was typed into it, else its result.
pub(crate) async fn undo(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    fields: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, fields.key().as_ref()).await?;
    let excursion = ExcursionCode::from(code.as_str());
    debrief::take_back(&mut work, &excursion, fields.get("row")).await?;
    let there = work.finish(address(&code)).await?;
    Ok(Done::to(there).saying("The result is undone; the log keeps what it said."))
}

pub(crate) async fn reopen(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    fields: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, fields.key().as_ref()).await?;
    let excursion = ExcursionCode::from(code.as_str());
    debrief::reopen(&mut work, &excursion, fields.get("why")).await?;
    let there = work.finish(address(&code)).await?;
    Ok(Done::to(there).saying(format!("The debrief of {code} is open again.")))
}
