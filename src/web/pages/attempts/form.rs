//! The one form of an attempt, on a page of its own: the row of the debrief, with the excursion to
//! choose and the photographs.

use app::read::Connection;
use askama::Template;
use axum::extract::{Request, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::finding;
use super::known::Known;
use super::photos::{self, Apart};
use super::places::{places, planned};
use super::what_changed::WhatChanged;
use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::{Choice, ErrorSummary, FieldView, Width};
use crate::frame::{Nav, PageFrame};
use crate::linked::Piece;
use crate::page::{Done, Page};
use crate::pages::debrief::{Choices, RowView, row_view};
use crate::pages::files::Evidence;
use crate::pages::records::conflict_page;
use crate::received::{Received, held, not_taken};
use crate::visitor::Viewer;
use app::attempts::form::{self, place_of};
use app::debrief::{DebriefRow, look_at_what_is_left};
use app::files::Looked;
use app::read::{Found as _, open_items, register};
use app::records::Base;
use app::work::Work;
use app::{App, Failure};
use domain::attempts::Attempt;
use domain::cells::{Cells, FieldError};
use domain::kinds::Kind;
use domain::records::Record as _;
use domain::roles::{Action, may, refusal};
use domain::tasks::Task;

/// So many open tasks are offered while typing.
const OFFERED: i64 = 200;

#[derive(Template)]
#[template(path = "attempts/form.html")]
struct FormPage {
    page: PageFrame,
    summary: ErrorSummary,
    heading: &'static str,
    task: Option<Task>,
    action: String,
    back: String,
    version: Option<i64>,
    button: &'static str,
    row: RowView,
    /// Why no excursion can be chosen; empty where one can.
    no_place: Vec<Piece>,
    /// The photographs that the attempt has.
    evidence: Option<Evidence>,
    known: Known,
}

/// Asks for the task first: the choices of the form are those of the task.
#[derive(Template)]
#[template(path = "attempts/task.html")]
struct TaskPage {
    page: PageFrame,
    summary: ErrorSummary,
    task: FieldView,
    /// What the address said beside the task.
    kept: Vec<(String, String)>,
}

/// An attempt that is recorded, or corrected.
enum About {
    New,
    Edit { code: String, version: i64, before: Box<Attempt> },
}

fn reaches(viewer: &Viewer) -> Result<(), Failure> {
    let role = viewer.actor.role;
    if may(role, Action::RecordAttempt) {
        return Ok(());
    }
    Err(Failure::Forbidden(refusal(role, Action::RecordAttempt)))
}

/// The empty form, filled from its address.
pub(crate) async fn blank(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    reaches(&viewer)?;
    let asked = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let cells = Fields::read(asked.as_bytes()).cells();
    let mut db = app.reader().await?;
    if Task::find(&mut db, cells.get("task").trim()).await?.is_none() {
        return Ok(Page(ask_task(&mut db, &viewer, &cells).await?).into_response());
    }
    let cells = planned(&mut db, cells).await?;
    let page = page(&mut db, &viewer, &About::New, &cells, &[]).await?;
    Ok(Page(page).into_response())
}

async fn ask_task(
    db: &mut Connection,
    viewer: &Viewer,
    cells: &Cells,
) -> Result<TaskPage, Failure> {
    let filter = open_items::Filter::default();
    let open = open_items::page(db, &filter, open_items::Sort::Code, 0, OFFERED).await?;
    let offers =
        open.iter().map(|item| Choice::new(item.task.as_str(), item.title.as_str())).collect();
    let typed = cells.get("task").trim();
    let wrong = if typed.is_empty() {
        Vec::new()
    } else {
        vec![FieldError::new("task", format!("There is no task {typed}. Enter another code."))]
    };
    let task = FieldView::new("task", "Task")
        .holding(typed)
        .offering(offers)
        .hinting("Its code, as in T-0142.")
        .wide(Width::Medium)
        .must()
        .first()
        .judged(&wrong);
    let summary = ErrorSummary::of(&wrong, std::slice::from_ref(&task));
    let kept = cells
        .iter()
        .filter(|(name, text)| *name != "task" && !text.is_empty())
        .map(|(name, text)| (name.to_owned(), text.to_owned()))
        .collect();
    let page = viewer.frame("Record attempt", Nav::Backlog).refusing(!summary.is_empty());
    Ok(TaskPage { page, summary, task, kept })
}

/// The form of a recorded attempt.
pub(crate) async fn filled(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    reaches(&viewer)?;
    let mut db = app.reader().await?;
    let about = edit_of(&mut db, &code).await?;
    let cells = about.cells();
    let page = page(&mut db, &viewer, &about, &cells, &[]).await?;
    Ok(Page(page).into_response())
}

async fn edit_of(db: &mut Connection, code: &str) -> Result<About, Failure> {
    let missing = || Failure::NotFound(Kind::Attempt, code.to_owned());
    let before = Attempt::find(db, code).await?.ok_or_else(missing)?;
    let row = register::find(db, Kind::Attempt, code).await?.ok_or_else(missing)?;
    Ok(About::Edit { code: code.to_owned(), version: row.version, before: Box::new(before) })
}

/// Records an attempt.
pub(crate) async fn record(
    State(app): State<App>,
    viewer: Viewer,
    request: Request,
) -> Result<Response, PageError> {
    let received = Received::read(&app, request).await?;
    let fields = received.fields.clone();
    let saved = save(&app, &viewer, About::New, received).await;
    Ok(held(&viewer, &fields, saved))
}

/// Corrects one.
pub(crate) async fn correct(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    request: Request,
) -> Result<Response, PageError> {
    let there = edit_of(&mut *app.reader().await?, &code).await;
    let about = match there {
        Ok(about) => about,
        Err(why) => return not_taken(&app, &viewer, request, why.into()).await,
    };
    let received = Received::read(&app, request).await?;
    let fields = received.fields.clone();
    let about = about.made_on(fields.version());
    let saved = save(&app, &viewer, about, received).await;
    Ok(held(&viewer, &fields, saved))
}

async fn save(
    app: &App,
    viewer: &Viewer,
    about: About,
    mut received: Received,
) -> Result<Response, PageError> {
    let typed = about.over(&received.fields.cells());
    let Apart { looked, sent, wrong } = photos::look(app, viewer, &mut received).await?.apart();
    let told = WhatChanged::before(app, &typed).await?;
    let kept = keep(app, viewer, (&about, typed.clone()), &received.fields, (looked, wrong), told);
    let failure = match kept.await {
        Ok(done) => return Ok(done.into_response()),
        Err(failure) => failure,
    };
    let (status, mut errors) = match failure {
        Failure::Invalid(errors) => (StatusCode::UNPROCESSABLE_ENTITY, errors),
        Failure::Refused(why) => (StatusCode::CONFLICT, vec![FieldError::new("", why)]),
        Failure::Conflict(both) => {
            // What cannot wait is chosen again once the versions are settled.
            let (waiting, _) = photos::wait(app, viewer, sent).await?;
            return Ok(conflict_page(viewer, &both, waiting));
        }
        other => return Err(other.into()),
    };
    let (waiting, wrong) = photos::wait(app, viewer, sent).await?;
    errors.extend(wrong);
    let mut db = app.reader().await?;
    let mut page = page(&mut db, viewer, &about, &typed, &errors).await?;
    page.row.waiting = waiting;
    Ok((status, Page(page)).into_response())
}

/// Records what was typed, then lets the attempt name the photographs, in one transaction. What is
/// wrong with a photograph is said together with the rest.
async fn keep(
    app: &App,
    viewer: &Viewer,
    (about, mut typed): (&About, Cells),
    fields: &Fields,
    (looked, mut wrong): (Vec<Looked>, Vec<FieldError>),
    told: WhatChanged,
) -> Result<Done, Failure> {
    let mut work = Work::begin(app, &viewer.actor, fields.key().as_ref()).await?;
    let base = match about {
        About::New => Base::New,
        About::Edit { version, .. } => Base::Version(*version),
    };
    form::settle_left(&mut typed, &about.cells(), fields.get("left_shown"));
    let attempt = match form::save(&mut work, typed, base).await {
        Ok(attempt) if wrong.is_empty() => attempt,
        Ok(_) => return Err(Failure::Invalid(wrong)),
        Err(Failure::Invalid(mut errors)) => {
            errors.append(&mut wrong);
            return Err(Failure::Invalid(errors));
        }
        Err(other) => return Err(other),
    };
    let code = attempt.code.0.to_string();
    photos::keep(&mut work, &code, looked).await?;
    let (to, words) = match about {
        About::New => (
            addresses::of(Kind::Task, attempt.task.as_str()),
            format!("Attempt {code} is recorded."),
        ),
        About::Edit { .. } => {
            (addresses::of(Kind::Attempt, &code), format!("Attempt {code} is saved."))
        }
    };
    let to = work.finish(to).await?;
    let changed = told.after(app, &attempt).await?;
    let done = Done::to(to).saying(format!("{words}{changed}"));
    let asks = matches!(about, About::New)
        && finding::is_asked_for(attempt.outcome)
        && may(viewer.actor.role, Action::WriteFinding);
    if !asks {
        return Ok(done);
    }
    let there = format!("{}/finding", addresses::of(Kind::Attempt, &code));
    Ok(done.link(there, finding::WRITE))
}

impl About {
    /// Takes the version that the form was made on, which it keeps while it comes back with something
    /// wrong. A form without one was made by no page of ours: it is held against the first.
    fn made_on(mut self, sent: Option<i64>) -> Self {
        if let Self::Edit { version, .. } = &mut self {
            *version = sent.unwrap_or(0).min(*version);
        }
        self
    }

    fn before(&self) -> Option<&Attempt> {
        match self {
            Self::New => None,
            Self::Edit { before, .. } => Some(before),
        }
    }

    /// What the record says, as the form shows it.
    fn cells(&self) -> Cells {
        match self {
            Self::New => Cells::default(),
            Self::Edit { before, .. } => before.cells(),
        }
    }

    /// What was typed; what a form did not send stays as the record has it.
    fn over(&self, typed: &Cells) -> Cells {
        let mut typed = typed.clone();
        form::settle_approach(&mut typed);
        let mut cells = self.cells();
        for (name, text) in typed.iter() {
            if is_typed(name) {
                cells.set(name, text.replace("\r\n", "\n"));
            }
        }
        if let Self::Edit { code, .. } = self {
            cells.set("code", code.as_str());
        }
        cells
    }
}

async fn page(
    db: &mut Connection,
    viewer: &Viewer,
    about: &About,
    typed: &Cells,
    errors: &[FieldError],
) -> Result<FormPage, Failure> {
    let task = Task::find(db, typed.get("task").trim()).await?;
    let mut cells = typed.clone();
    let offered = places(db, task.as_ref(), typed.get("excursion")).await?;
    cells.set("excursion", place_of(typed, &offered.with_slots));
    let excursion = typed.get("excursion").split(' ').next().unwrap_or_default();
    let row = DebriefRow {
        key: String::new(),
        slot: None,
        task: typed.get("task").trim().into(),
        title: task.as_ref().map_or_else(String::new, |task| task.title.to_string()),
        attempt: about.before().cloned(),
        deferral: None,
        draft: None,
        left: None,
        board: None,
    };
    let mut rows = [row];
    look_at_what_is_left(db, &excursion.into(), &mut rows).await?;
    let [mut row] = rows;
    // What the field shows before anything is typed; sent back unchanged, it says nothing new.
    let left_shown = row.left_shown();
    if cells.get("left_after").is_empty() {
        cells.set("left_after", left_shown.as_str());
    }
    let is_chosen = !typed.get("excursion").trim().is_empty();
    let why_none = offered.none.as_deref().filter(|_| !is_chosen);
    let errors: Vec<FieldError> = errors.iter().map(|error| told(error, why_none)).collect();
    row.draft = Some((cells, errors.clone()));
    let mut choices = Choices::load(db, std::slice::from_ref(&row)).await?;
    choices.places = offered.choices;
    let mut row = row_view("", &row, None, &choices, true);
    row.left_shown = left_shown;
    if task.is_some() {
        row.task_field = None;
    }
    let summary = ErrorSummary::of(&errors, &row.all_fields());
    let (heading, action, back, version, button) = match about {
        About::New => {
            let back = task.as_ref().map_or_else(
                || "/open".to_owned(),
                |task| addresses::of(Kind::Task, task.code.0.as_str()),
            );
            ("Record attempt", "/attempts/new".to_owned(), back, None, "Record attempt")
        }
        About::Edit { code, version, .. } => {
            let here = addresses::of(Kind::Attempt, code);
            ("Correct attempt", format!("{here}/edit"), here, Some(*version), "Save attempt")
        }
    };
    let evidence = match about {
        About::New => None,
        About::Edit { code, .. } => Evidence::of(db, viewer, Kind::Attempt, code).await?,
    };
    let known = Known::of(db, task.as_ref()).await?;
    let known = match (about, &task) {
        (About::New, Some(task)) => known.and_after(db, task).await?,
        _ => known,
    };
    let page = viewer.frame(heading, Nav::Backlog).refusing(!summary.is_empty());
    Ok(FormPage {
        page,
        summary,
        heading,
        task,
        action,
        back,
        version,
        button,
        row,
        no_place: offered.none.unwrap_or_default(),
        evidence,
        known,
    })
}

/// Whether a person may type what is called so: a column that no operation keeps, a side that the
/// task does not have yet, or that the approach is another than those offered.
fn is_typed(name: &str) -> bool {
    name == "add_side"
        || name == "approach"
        || Attempt::COLUMNS.iter().any(|column| column.name == name && !column.by_operation)
}

/// Which slot an attempt fills is chosen together with its excursion; where none can be chosen, the
/// field says why.
fn told(error: &FieldError, none: Option<&[Piece]>) -> FieldError {
    let field = if error.field == "slot" { "excursion" } else { error.field.as_str() };
    match none.filter(|_| field == "excursion") {
        Some(why) => FieldError::new(field, why.iter().map(Piece::words).collect::<String>()),
        None => FieldError::new(field, error.message.clone()),
    }
}
