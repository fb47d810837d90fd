//! The form of a record: empty, filled, sent; with everything kept that was typed.

use app::read::Connection;
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::{add_words, capital, conflict, nav, offers, slip};
use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::{ErrorSummary, FieldView};
use crate::frame::PageFrame;
use crate::page::{Done, Page};
use crate::pages::open::together::undo_of;
use crate::visitor::Viewer;
use app::findings::refuses_edit;
use app::read::register;
use app::records::Base;
use app::work::Work;
use app::{App, Failure, excursions, flights, kinds, renames};
use domain::cells::{Cells, FieldError};
use domain::codes;
use domain::kinds::Kind;
use domain::roles::{action_for, may, refusal};

#[derive(Template)]
#[template(path = "records/form.html")]
struct FormPage {
    page: PageFrame,
    summary: ErrorSummary,
    heading: String,
    action: String,
    fields: Vec<FieldView>,
    version: Option<i64>,
    back: String,
    button: String,
}

/// Which record a form is about.
struct FormSubject<'a> {
    kind: Kind,
    /// The code and version of the record that is edited.
    edited: Option<(&'a str, i64)>,
}

pub(super) async fn blank(
    kind: Kind,
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Response, PageError> {
    reaches(kind, &viewer)?;
    let asked = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let mut cells = Fields::read(asked.as_bytes()).cells();
    let mut db = app.reader().await?;
    fill_in_code(&mut db, kind, &mut cells).await?;
    page(&mut db, &viewer, &FormSubject { kind, edited: None }, &cells, &[], None).await
}

/// The next code of a flight or an excursion, to be kept or changed.
async fn fill_in_code(db: &mut Connection, kind: Kind, cells: &mut Cells) -> Result<(), Failure> {
    if !cells.get("code").is_empty() {
        return Ok(());
    }
    match kind {
        Kind::Flight => {
            if let Some(code) = flights::next_code(db).await? {
                cells.set("code", code);
            }
        }
        Kind::Excursion => {
            if cells.get("flight").is_empty()
                && let Some(flight) = flights::next_to_launch(db).await?
            {
                cells.set("flight", flight.as_str());
            }
            if cells.get("flight").is_empty() {
                return Ok(());
            }
            let next = excursions::next_code(db, &cells.get("flight").into()).await?;
            cells.set("code", next.code);
            if cells.get("number").is_empty() {
                cells.set("number", next.number.to_string());
            }
        }
        _ => {}
    }
    Ok(())
}

pub(super) async fn make(
    kind: Kind,
    State(app): State<App>,
    viewer: Viewer,
    typed: Fields,
) -> Result<Response, PageError> {
    reaches(kind, &viewer)?;
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let cells = only_offered(kind, &viewer, &typed, None);
    let saved = kinds::save_typed(&mut work, kind, cells, Base::New).await;
    let about = FormSubject { kind, edited: None };
    answer(&app, &viewer, &about, work, saved, &typed).await
}

pub(super) async fn filled(
    kind: Kind,
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    let reached = reaches(kind, &viewer);
    // A sentence that names a missing field leads here; whoever may not fill it in reads the record.
    if let (Err(Failure::Forbidden(why)), false) = (&reached, kind == Kind::Settings) {
        return Ok(Done::to(addresses::of(kind, &code)).saying(why.as_str()).into_response());
    }
    reached?;
    let mut db = app.reader().await?;
    if let Some(why) = refuses_edit(&mut db, viewer.actor.role, kind, &code).await? {
        return Err(Failure::Refused(why).into());
    }
    let (mut cells, version) = stands(&mut db, kind, &code).await?;
    // A page that says what to change leads here with it filled in.
    let asked = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let asked = Fields::read(asked.as_bytes());
    for column in offers::columns(kind, viewer.actor.role, false) {
        if column.name != "code" && asked.has(column.name) {
            cells.set(column.name, asked.get(column.name));
        }
    }
    let about = FormSubject { kind, edited: Some((&code, version)) };
    page(&mut db, &viewer, &about, &cells, &[], None).await
}

pub(super) async fn edit(
    kind: Kind,
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    reaches(kind, &viewer)?;
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    work.move_excursions = slip::answer(&typed);
    let (before, now) = stands(work.db(), kind, &code).await?;
    let mut cells = only_offered(kind, &viewer, &typed, Some(&before));
    cells.set("code", code.as_str());
    // A form without its version was made by no page of ours: it is held against the first.
    let version = typed.version().unwrap_or(0).min(now);
    let saved = kinds::save_typed(&mut work, kind, cells, Base::Version(version)).await;
    let saved = match saved {
        Ok(done) => renamed(&mut work, kind, &code, &typed, done).await,
        Err(failure) => Err(failure),
    };
    let about = FormSubject { kind, edited: Some((&code, version)) };
    answer(&app, &viewer, &about, work, saved, &typed).await
}

/// Gives an edited record the code that was typed, where it is another one.
async fn renamed(
    work: &mut Work,
    kind: Kind,
    code: &str,
    typed: &Fields,
    done: kinds::SavedRecord,
) -> Result<kinds::SavedRecord, Failure> {
    if !renames::is_possible(kind) || !typed.has("code") || typed.get("code").trim() == code {
        return Ok(done);
    }
    let to = codes::read(typed.get("code")).map_err(|message| Failure::field("code", message))?;
    renames::rename(work, kind, code, &to).await?;
    Ok(kinds::SavedRecord { code: to, changed: true, ..done })
}

async fn answer(
    app: &App,
    viewer: &Viewer,
    about: &FormSubject<'_>,
    work: Work,
    saved: Result<kinds::SavedRecord, Failure>,
    typed: &Fields,
) -> Result<Response, PageError> {
    match saved {
        Ok(done) => {
            let kind = about.kind;
            let to = match about.edited {
                None => after_making(kind, &done.code, typed),
                Some(_) => addresses::of(kind, &done.code),
            };
            let words = match (about.edited, done.changed) {
                (None, _) => {
                    let of = match typed.get("task").trim() {
                        "" => String::new(),
                        _ if kind == Kind::Task => String::new(),
                        task => format!(" for {task}"),
                    };
                    format!("{} {}{of} is added.", capital(kind.word()), done.code)
                }
                (Some(_), true) => format!("{} {} is changed.", capital(kind.word()), done.code),
                (Some(_), false) if work.has_notes() => {
                    format!("{} itself stays as it was.", done.code)
                }
                (Some(_), false) => format!("{} stays as it was; nothing differs.", done.code),
            };
            let words = work.with_notes(words);
            let to = work.finish(to).await?;
            let says = Done::to(to).saying(words);
            let says = match (kind, about.edited) {
                (Kind::Parking, None) => says.undo(undo_of(&[done.code]), "Undo"),
                _ => says,
            };
            Ok(says.into_response())
        }
        Err(failure) => {
            drop(work);
            let mut db = app.reader().await?;
            match failure {
                Failure::Invalid(errors) => {
                    page(&mut db, viewer, about, &typed.cells(), &errors, None).await
                }
                Failure::Refused(why) => {
                    page(&mut db, viewer, about, &typed.cells(), &[], Some(why)).await
                }
                Failure::Conflict(both) => Ok(conflict::page(viewer, &both, Vec::new())),
                Failure::Slip(slip) => Ok(slip::page(viewer, &slip, typed)),
                other => Err(other.into()),
            }
        }
    }
}

/// What happened to a task, or leans on it, is read on the task's page.
fn after_making(kind: Kind, code: &str, typed: &Fields) -> String {
    let task = typed.get("task").trim();
    match kind {
        Kind::Link
        | Kind::Deferral
        | Kind::Closure
        | Kind::Parking
        | Kind::Reopening
        | Kind::Exemption
        | Kind::Decline
            if !task.is_empty() =>
        {
            addresses::of(Kind::Task, task)
        }
        _ => addresses::of(kind, code),
    }
}

/// What the role may not make or edit at all, it is not shown as a form either.
fn reaches(kind: Kind, viewer: &Viewer) -> Result<(), Failure> {
    let action = action_for(kind);
    if may(viewer.actor.role, action) {
        return Ok(());
    }
    Err(Failure::Forbidden(refusal(viewer.actor.role, action)))
}

/// What was typed into fields that were offered; the rest stays as the record has it.
fn only_offered(kind: Kind, viewer: &Viewer, typed: &Fields, before: Option<&Cells>) -> Cells {
    let sent = typed.cells();
    let mut cells = before.cloned().unwrap_or_default();
    for column in offers::columns(kind, viewer.actor.role, before.is_none()) {
        if before.is_none() || sent.has(column.name) {
            cells.set(column.name, sent.get(column.name));
        }
    }
    cells
}

async fn stands(db: &mut Connection, kind: Kind, code: &str) -> Result<(Cells, i64), Failure> {
    let missing = || Failure::NotFound(kind, code.to_owned());
    let cells = kinds::find(db, kind, code).await?.ok_or_else(missing)?;
    let row = register::find(db, kind, code).await?.ok_or_else(missing)?;
    Ok((cells, row.version))
}

async fn page(
    db: &mut Connection,
    viewer: &Viewer,
    about: &FormSubject<'_>,
    cells: &Cells,
    errors: &[FieldError],
    refused: Option<String>,
) -> Result<Response, PageError> {
    let kind = about.kind;
    let columns = offers::columns(kind, viewer.actor.role, about.edited.is_none());
    let mut fields = offers::filled(db, &columns, cells, errors).await?;
    if let Some(code) = fields.iter_mut().find(|field| field.name == "code") {
        offers::about_code(code, kind, about.edited.is_none());
    }
    offers::focus(&mut fields);
    offers::asked_of_people(&mut fields, kind, about.edited.is_none());
    let status = match (&refused, errors.is_empty()) {
        (Some(_), _) => StatusCode::CONFLICT,
        (None, false) => StatusCode::UNPROCESSABLE_ENTITY,
        (None, true) => StatusCode::OK,
    };
    let summary = match refused {
        Some(why) => ErrorSummary::saying(format!("Nothing is saved. {why}")),
        None => ErrorSummary::of(errors, &fields),
    };
    let folder = addresses::folder(kind);
    let (heading, action, back, button) = if let Some((code, _)) = about.edited {
        let here = addresses::of(kind, code);
        let heading = format!("Edit {} {code}", kind.word());
        (heading, format!("{here}/edit"), here, "Save".to_owned())
    } else {
        let back = match kind {
            Kind::Task => "/open".to_owned(),
            Kind::Remedy => "/findings".to_owned(),
            Kind::SuitRates => "/settings#suits".to_owned(),
            _ => format!("/{folder}"),
        };
        (add_words(kind), format!("/{folder}/new"), back, add_words(kind))
    };
    let page = viewer.frame(heading.clone(), nav(kind)).refusing(!summary.is_empty());
    let version = about.edited.map(|(_, version)| version);
    let form = FormPage { page, summary, heading, action, fields, version, back, button };
    Ok((status, Page(form)).into_response())
}
