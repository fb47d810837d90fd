//! The same done with several rows: one page asks for the reason or the value, then all of it is
//! done or none.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::{Choice, ErrorSummary, FieldView, Typed, Width, fields};
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page};
use crate::visitor::Viewer;
use app::backlog::{self, BulkAction};
use app::endings::{self, UNDONE_AT_ONCE};
use app::work::Work;
use app::{App, Failure};
use domain::cells::FieldError;
use domain::endings::Parking;
use domain::records::Record as _;
use domain::words::PriorityClass;

#[derive(Template)]
#[template(path = "open/together.html")]
pub(crate) struct TogetherPage {
    page: PageFrame,
    summary: ErrorSummary,
    heading: &'static str,
    button: &'static str,
    what: &'static str,
    tasks: Vec<String>,
    fields: Vec<FieldView>,
    back: String,
}

/// The picked rows and what to do: asks for the rest.
pub(crate) async fn ask(viewer: Viewer, typed: Fields) -> Result<Response, PageError> {
    let Some(what) = BulkAction::read(typed.get("do")) else {
        return Err(Failure::Refused("Choose what to do with the picked rows.".to_owned()).into());
    };
    if typed.all("pick").next().is_none() {
        let words = "No row was picked; tick the tasks first.";
        return Ok(Done::to(back(&typed)).saying(words).into_response());
    }
    Ok(Page(view(&viewer, what, &typed, &[], String::new())).into_response())
}

/// Does it.
pub(crate) async fn run(
    State(app): State<App>,
    viewer: Viewer,
    typed: Fields,
) -> Result<Response, PageError> {
    let Some(what) = BulkAction::read(typed.get("do")) else {
        return Err(Failure::Refused("Choose what to do with the picked rows.".to_owned()).into());
    };
    let tasks: Vec<String> = typed.all("pick").map(str::to_owned).collect();
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    match backlog::together(&mut work, what, &tasks, &typed.cells()).await {
        Ok(made) => {
            let to = work.finish(back(&typed)).await?;
            let count = tasks.len();
            let noun = if count == 1 { "task" } else { "tasks" };
            let mut words = format!("{} {count} {noun}: {}", did(what), few(&tasks));
            if matches!(what, BulkAction::Park) {
                words.push_str(
                    ". A task comes back when it is set, opened again or its time is over",
                );
            }
            let done = Done::to(to).saying(format!("{words}."));
            let undo = matches!(what, BulkAction::Park) && made.len() <= UNDONE_AT_ONCE;
            let done = if undo { done.undo(undo_of(&made), "Undo") } else { done };
            Ok(done.into_response())
        }
        Err(Failure::Invalid(errors)) => {
            let page = view(&viewer, what, &typed, &errors, String::new());
            Ok((StatusCode::UNPROCESSABLE_ENTITY, Page(page)).into_response())
        }
        Err(Failure::Refused(why)) => {
            let why = format!("Nothing was changed. {why}");
            let page = view(&viewer, what, &typed, &[], why);
            Ok((StatusCode::CONFLICT, Page(page)).into_response())
        }
        Err(other) => Err(other.into()),
    }
}

/// Where parkings are undone.
pub(crate) fn undo_of(parkings: &[String]) -> String {
    format!("/parkings/{}/undo", parkings.join(","))
}

/// Undoes parkings that were just made.
pub(crate) async fn undo_parkings(
    State(app): State<App>,
    viewer: Viewer,
    Path(codes): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let codes: Vec<&str> = codes.split(',').collect();
    let tasks = endings::undo_parkings(&mut work, &codes).await?;
    let tasks: Vec<String> = tasks.iter().map(ToString::to_string).collect();
    let to = match tasks.as_slice() {
        [one] => addresses::within("tasks", one),
        _ => "/open".to_owned(),
    };
    let to = work.finish(to).await?;
    let be = if tasks.len() == 1 { "is" } else { "are" };
    Ok(Done::to(to).saying(format!("Undone: {} {be} not parked.", few(&tasks))))
}

/// The first tasks by their codes, and how many more.
fn few(tasks: &[String]) -> String {
    const NAMED: usize = 8;
    let named = tasks.iter().take(NAMED).cloned().collect::<Vec<_>>().join(", ");
    match tasks.len().checked_sub(NAMED) {
        Some(more) if more > 0 => format!("{named} and {more} more"),
        _ => named,
    }
}

fn back(typed: &Fields) -> String {
    addresses::back(typed.get("back"), &["/open"], "/open")
}

const fn did(what: BulkAction) -> &'static str {
    match what {
        BulkAction::Park => "Parked",
        BulkAction::Drop => "Dropped",
        BulkAction::Class => "Set the class of",
        BulkAction::NeededBy => "Set when it is needed for",
    }
}

fn view(
    viewer: &Viewer,
    what: BulkAction,
    typed: &Fields,
    errors: &[FieldError],
    refused: String,
) -> TogetherPage {
    let cells = typed.cells();
    let fields: Vec<FieldView> = match what {
        BulkAction::Park => {
            let columns: Vec<_> = Parking::COLUMNS
                .iter()
                .filter(|column| ["why", "until_day", "until_flight"].contains(&column.name))
                .copied()
                .collect();
            fields(&columns, &cells, errors)
        }
        BulkAction::Drop => vec![
            FieldView::new("words", "Why they are no longer wanted")
                .prose()
                .holding(cells.get("words"))
                .must()
                .first()
                .wide(Width::Whole)
                .judged(errors),
        ],
        BulkAction::Class => {
            let choices = PriorityClass::ALL
                .iter()
                .map(|class| Choice::new(class.word(), format!("{class} · {}", class.means())))
                .collect();
            vec![
                FieldView::new("class", "Class")
                    .choosing(choices)
                    .holding(cells.get("class"))
                    .first()
                    .judged(errors),
            ]
        }
        BulkAction::NeededBy => vec![
            FieldView::new("needed_by_flight", "Needed by flight")
                .typed(Typed::TEXT)
                .holding(cells.get("needed_by_flight"))
                .first()
                .judged(errors),
            FieldView::new("needed_by_day", "Needed by date")
                .typed(Typed::TEXT)
                .holding(cells.get("needed_by_day"))
                .judged(errors),
        ],
    };
    let summary = if refused.is_empty() {
        ErrorSummary::of(errors, &fields)
    } else {
        ErrorSummary::saying(refused)
    };
    let (heading, button) = match what {
        BulkAction::Park => ("Park the picked tasks", "Park tasks"),
        BulkAction::Drop => ("Drop the picked tasks", "Drop tasks"),
        BulkAction::Class => ("Set the class of the picked tasks", "Set the class"),
        BulkAction::NeededBy => ("Set by when the picked tasks are needed", "Set needed by"),
    };
    TogetherPage {
        page: viewer.frame(heading, Nav::Backlog).refusing(!summary.is_empty()),
        summary,
        heading,
        button,
        what: what.word(),
        tasks: typed.all("pick").map(str::to_owned).collect(),
        fields,
        back: back(typed),
    }
}
