//! Practice runs: begun from the excursion's page or from its board, discarded at the end.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::{address, board, how_far, keep, pressed, quietly};
use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page};
use crate::visitor::Viewer;
use app::read::findings;
use app::work::Work;
use app::{App, day};
use domain::cells::Cells;
use domain::roles::{Action, may};

/// Begins a practice run and leads to its board.
pub(crate) async fn begin(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    fields: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, fields.key().as_ref()).await?;
    let pace = fields.get("pace").parse().unwrap_or(0);
    let typed = fields.get("day_number").trim();
    // What is no number is the number of no day.
    let again = (!typed.is_empty()).then(|| typed.parse().unwrap_or(day::DAYS));
    let run = day::begin_practice(&mut work, &code, pace, again).await?;
    let there = work.finish(address(&code, Some(&run.code))).await?;
    Ok(Done::to(there))
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path((code, run)): Path<(String, String)>,
) -> Result<Response, PageError> {
    board(&app, &viewer, &code, Some(&run)).await
}

pub(crate) async fn press(
    State(app): State<App>,
    viewer: Viewer,
    Path((code, run)): Path<(String, String)>,
    fields: Fields,
) -> Result<Done, PageError> {
    pressed(&app, &viewer, &code, Some(&run), &fields).await
}

pub(crate) async fn press_quietly(
    State(app): State<App>,
    viewer: Viewer,
    Path((code, run)): Path<(String, String)>,
    fields: Fields,
) -> Result<Response, PageError> {
    Ok(quietly(&keep(&app, &viewer, &code, Some(&run), &fields).await?))
}

pub(crate) async fn state(
    State(app): State<App>,
    viewer: Viewer,
    Path((code, run)): Path<(String, String)>,
) -> Result<Response, PageError> {
    how_far(&app, &viewer, &code, Some(&run)).await
}

pub(crate) async fn discard(
    State(app): State<App>,
    viewer: Viewer,
    Path((code, run)): Path<(String, String)>,
    fields: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, fields.key().as_ref()).await?;
    day::discard_practice(&mut work, &code, &run).await?;
    let there = work.finish(addresses::within("excursions", &code)).await?;
    Ok(Done::to(there).saying("The practice run is discarded. Nothing of it is left."))
}

/// The rows that the debrief of this practice day would begin with.
#[derive(Template)]
#[template(path = "day/practice.html")]
pub(crate) struct PracticePage {
    page: PageFrame,
    code: String,
    board: String,
    may_press: bool,
    rows: Vec<PracticeRow>,
}

struct PracticeRow {
    task: String,
    title: String,
    pet: String,
    outcome: String,
    why: String,
}

pub(crate) async fn debrief(
    State(app): State<App>,
    viewer: Viewer,
    Path((code, run)): Path<(String, String)>,
) -> Result<Page<PracticePage>, PageError> {
    let mut db = app.reader().await?;
    let there = day::read(&mut db, &code, Some(&run), viewer.now()).await?;
    let presses: Vec<_> = there.state.log.iter().map(|(press, _)| press.clone()).collect();
    let set = there.tasks.iter().filter(|task| !task.is_added());
    let slots: Vec<_> = set.map(|task| task.slot.clone()).collect();
    let causes = findings::time_ran_out(&mut db).await?;
    let filled =
        day::prefilled(&presses, &slots, causes.first().map(domain::codes::CauseCode::as_str));
    let empty = Cells::default();
    // Added work that was not begun has no row.
    let shown = |task: &&day::OnBoard| !task.is_added() || filled.contains_key(&task.slot.code.0);
    let rows = there.tasks.iter().filter(shown).map(|task| {
        let cells = filled.get(&task.slot.code.0).unwrap_or(&empty);
        let or = |text: &str, other: &str| {
            if text.is_empty() { other.to_owned() } else { text.to_owned() }
        };
        let (from, to) = (cells.get("pet_start"), cells.get("pet_end"));
        PracticeRow {
            task: task.slot.task.as_str().to_owned(),
            title: task.title.clone(),
            pet: if from.is_empty() { "–".to_owned() } else { format!("{from}–{to}") },
            outcome: or(cells.get("outcome"), "to be entered"),
            why: if cells.get("cause").is_empty() {
                String::new()
            } else {
                "time ran out".to_owned()
            },
        }
    });
    Ok(Page(PracticePage {
        rows: rows.collect(),
        board: address(&code, Some(&run)),
        may_press: may(viewer.actor.role, Action::PressOnTheDay),
        page: viewer.frame(format!("Practice debrief of {code}"), Nav::Flights),
        code,
    }))
}
