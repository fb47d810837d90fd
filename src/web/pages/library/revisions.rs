//! Revisions of a technique: how each reads, the next one made from the last, and the clearing by a
//! second person.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::{self, ErrorSummary, FieldView};
use crate::frame::{Nav, PageFrame, Shelf};
use crate::linked::{Piece as Words, linked};
use crate::page::{Done, Page};
use crate::pages::records::offers;
use crate::visitor::Viewer;
use app::four_eyes::Touches;
use app::read::attempts::TriedBy;
use app::read::register;
use app::revisions::{self, RevisionNotes};
use app::work::Work;
use app::{App, Failure, library};
use domain::cells::{Cells, FieldError};
use domain::kinds::Kind;
use domain::records::{Column, Record as _};
use domain::revisions::Revision;
use domain::roles::{Action, may, refusal};
use domain::techniques::Technique;
use domain::words::{Checked, Outcome, TechniqueState};

use super::outcomes;

/// What a new revision says anew of the work, and what is said about the revision itself.
const OF_THE_WORK: [&str; 7] =
    ["steps", "sides", "tools", "seats", "optimistic", "likely", "pessimistic"];
const OF_THE_REVISION: [&str; 3] = ["changed", "changes_work", "answers"];

/// The revisions that are kept; where the newest is not among them, the technique itself is it.
pub(super) fn known(technique: &Technique, kept: &[Revision]) -> Vec<Revision> {
    let now = Revision::of(technique);
    let mut all = kept.to_vec();
    if all.iter().all(|one| one.number != now.number) {
        all.push(now);
    }
    all
}

/// `engineer, 2030-09-12`, as far as it is known.
pub(super) fn by(revision: &Revision) -> String {
    let parts = [
        revision.author.as_ref().map(ToString::to_string),
        revision.made_on.map(|day| day.to_string()),
    ];
    let known: Vec<String> = parts.into_iter().flatten().collect();
    if known.is_empty() { "not recorded".to_owned() } else { known.join(", ") }
}

pub(super) fn cleared(revision: &Revision) -> String {
    let Some(by) = &revision.cleared_by else { return "not cleared".to_owned() };
    let on = revision.cleared_on.map_or_else(String::new, |day| format!(", {day}"));
    let imported = match revision.checked {
        Some(Checked::Imported) => " (imported, not checked here)",
        Some(Checked::Here | Checked::Clearing) | None => "",
    };
    format!("cleared by {by}{on}{imported}")
}

/// What became of the tries by this revision.
pub(super) fn record(revision: &Revision, attempts: &[TriedBy]) -> String {
    let used: Vec<(Outcome, i64)> = attempts
        .iter()
        .filter(|attempt| attempt.revision == Some(revision.number))
        .map(|attempt| (attempt.outcome, 1))
        .collect();
    outcomes(&used)
}

#[derive(Template)]
#[template(path = "library/revise.html")]
struct RevisePage {
    page: PageFrame,
    summary: ErrorSummary,
    code: String,
    name: String,
    next: i64,
    version: i64,
    of_work: Vec<FieldView>,
    of_revision: Vec<FieldView>,
    /// The latest failures of this technique, each with a line of words; and how many there are.
    failed: Vec<(String, Vec<Words>)>,
    failed_count: usize,
}

/// So many failures stand beside the form; the rest are one press away.
const FAILURES: usize = 12;

/// The form of the next revision, filled with what the last one says.
pub(crate) async fn ask(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    revise_page(&app, &viewer, code, None, &[], None).await
}

pub(crate) async fn make(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    match revise(&mut work, &code, &typed).await {
        Ok(revision) => {
            let to = format!("{}#revisions", addresses::within("techniques", &code));
            let to = work.finish(to).await?;
            let words = if revision.changes_work {
                format!(
                    "Revision {} is added. It resolves nothing until another person clears it.",
                    revision.number
                )
            } else {
                format!("Revision {} is added; earlier attempts keep theirs.", revision.number)
            };
            Ok(Done::to(to).saying(words).into_response())
        }
        Err(Failure::Invalid(errors)) => {
            drop(work);
            // What was typed keeps the version that it was typed on.
            let sent = (typed.cells(), typed.version().unwrap_or(0));
            revise_page(&app, &viewer, code, Some(sent), &errors, None).await
        }
        Err(Failure::Conflict(both)) => {
            drop(work);
            let why = format!(
                "{} was changed by {} while you wrote. What you typed is below; compare it \
                 with the technique, then send it again.",
                both.code, both.changed_by
            );
            let sent = (typed.cells(), both.version);
            revise_page(&app, &viewer, code, Some(sent), &[], Some(why)).await
        }
        Err(other) => Err(other.into()),
    }
}

async fn revise(work: &mut Work, code: &str, typed: &Fields) -> Result<Revision, Failure> {
    let now = app::records::current::<Technique>(work, code).await?;
    let (mut of_work, sent) = (now.cells(), typed.cells());
    for name in OF_THE_WORK.into_iter().filter(|name| sent.has(name)) {
        of_work.set(name, sent.get(name));
    }
    let mut of_revision = Revision::of(&now).cells();
    for name in OF_THE_REVISION {
        of_revision.set(name, sent.get(name));
    }
    let (technique, about) = match (Technique::parse(&of_work), Revision::parse(&of_revision)) {
        (Ok(technique), Ok(about)) => (technique, about),
        (technique, about) => {
            let wrong = technique.err().into_iter().chain(about.err()).flatten().collect();
            return Err(Failure::Invalid(wrong));
        }
    };
    let said = RevisionNotes {
        changed: about.changed,
        changes_work: about.changes_work,
        answers: about.answers,
    };
    let seen = typed.version().unwrap_or(0);
    Ok(revisions::revise(work, technique, said, seen).await?.record)
}

async fn revise_page(
    app: &App,
    viewer: &Viewer,
    code: String,
    typed: Option<(Cells, i64)>,
    errors: &[FieldError],
    refused: Option<String>,
) -> Result<Response, PageError> {
    let role = viewer.actor.role;
    if !may(role, Action::KeepTechniques) {
        return Err(Failure::Forbidden(refusal(role, Action::KeepTechniques)).into());
    }
    let mut db = app.reader().await?;
    let read = library::technique(&mut db, &code, 1).await?;
    let technique = &read.technique;
    let (cells, version) = if let Some(sent) = typed {
        sent
    } else {
        let row = register::find(&mut db, Kind::Technique, &code).await?;
        (technique.cells(), row.map_or(0, |row| row.version))
    };
    let columns = |all: &[Column], names: &[&str]| -> Vec<Column> {
        let column = |name: &&str| all.iter().find(|column| column.name == *name).copied();
        let shown = names.iter().filter_map(column);
        shown.map(|column| Column { by_operation: false, ..column }).collect()
    };
    let work_columns = columns(Technique::COLUMNS, &OF_THE_WORK);
    let of_work = offers::filled(&mut db, &work_columns, &cells, errors).await?;
    let about_columns = columns(Revision::COLUMNS, &OF_THE_REVISION);
    let mut of_revision = forms::fields(&about_columns, &cells, errors);
    for field in &mut of_revision {
        field.autofocus = false;
        let hint = match field.name.as_str() {
            "changed" => "One sentence first; it is read beside the revision.",
            "changes_work" => "Yes, where the changed work prevents an earlier failure.",
            _ => {
                "Codes, separated by commas. They no longer count once another person clears the revision."
            }
        };
        hint.clone_into(&mut field.hint);
    }
    let both: Vec<FieldView> = of_work.iter().chain(&of_revision).cloned().collect();
    let (status, summary) = match refused {
        Some(why) => (StatusCode::CONFLICT, ErrorSummary::saying(why)),
        None if errors.is_empty() => (StatusCode::OK, ErrorSummary::default()),
        None => (StatusCode::UNPROCESSABLE_ENTITY, ErrorSummary::of(errors, &both)),
    };
    let next = domain::revisions::number(technique) + 1;
    let failed = |attempt: &&TriedBy| {
        matches!(attempt.outcome, Outcome::NotCompleted | Outcome::PartDone)
            && attempt.revision.is_none_or(|used| used < next)
    };
    let page = PageFrame::refusing(
        viewer.frame(format!("Revision {next} of {code}"), Nav::Library(Shelf::Techniques)),
        !summary.is_empty(),
    );
    let failures: Vec<&TriedBy> = read.attempts.iter().filter(failed).collect();
    let latest = failures.iter().rev().take(FAILURES);
    let page = RevisePage {
        page,
        summary,
        name: technique.name.as_str().to_owned(),
        next,
        version,
        failed: latest.map(|attempt| failure_line(attempt)).collect(),
        failed_count: failures.len(),
        of_work,
        of_revision,
        code,
    };
    Ok((status, Page(page)).into_response())
}

fn failure_line(attempt: &TriedBy) -> (String, Vec<Words>) {
    let side = attempt.side.as_ref().map_or_else(String::new, |side| format!(" from {side}"));
    let rev = attempt.revision.map_or_else(String::new, |number| format!(", revision {number}"));
    let words = &attempt.words;
    let told = format!(
        "{} on {}, {}{side}{rev}. {words}",
        attempt.task, attempt.excursion, attempt.outcome
    );
    (attempt.code.to_string(), linked(&told))
}

pub(crate) async fn clear(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let evidence = typed.value("evidence")?;
    let cleared = revisions::clear(&mut work, &code, evidence).await?;
    let to = format!("{}#revisions", addresses::within("techniques", &cleared.technique));
    let to = work.finish(to).await?;
    let words = if cleared.resolves() {
        let named: Vec<String> = cleared.answers.iter().map(ToString::to_string).collect();
        format!("{code} is cleared. It resolves {}; they no longer count.", named.join(", "))
    } else {
        format!("{code} is cleared.")
    };
    Ok(Done::to(to).saying(words))
}

pub(crate) async fn undo(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let open = revisions::take_clearance_back(&mut work, &code, typed.get("why")).await?;
    let to = format!("{}#revisions", addresses::within("techniques", &open.technique));
    let to = work.finish(to).await?;
    Ok(Done::to(to).saying(format!("The clearance of {code} is undone.")))
}

/// One revision in the list on the page of its technique.
#[expect(clippy::struct_excessive_bools, reason = "each shows a word or a form of its own")]
pub(super) struct RevisionRow {
    pub code: Option<String>,
    pub number: i64,
    pub is_now: bool,
    pub by: String,
    pub changed: String,
    pub changes_work: bool,
    pub answers: Vec<String>,
    pub cleared: String,
    pub is_cleared: bool,
    pub evidence: String,
    pub record: String,
    /// Where it stands beside the one before it.
    pub compare: Option<String>,
    /// It can be cleared by this person.
    pub may_clear: bool,
    pub may_take_back: bool,
    /// Why it cannot be cleared by this person.
    pub barred: Option<String>,
}

/// The newest first.
pub(super) fn list(
    technique: &Technique,
    kept: &[Revision],
    attempts: &[TriedBy],
    touches: &Touches,
    viewer: &Viewer,
) -> Vec<RevisionRow> {
    let all = known(technique, kept);
    let may_judge = may(viewer.actor.role, Action::ClearRevision);
    let now = domain::revisions::number(technique);
    let withdrawn = technique.state == TechniqueState::Withdrawn;
    let mut rows: Vec<RevisionRow> = all
        .iter()
        .enumerate()
        .map(|(at, one)| {
            let is_cleared = one.cleared_by.is_some();
            let is_kept = !one.code.0.is_blank();
            // What is behind is history; only the revision that stands can be cleared.
            let waits = may_judge && is_kept && !is_cleared && one.number == now && !withdrawn;
            let second = touches.let_judge(one, &viewer.actor.name);
            RevisionRow {
                code: is_kept.then(|| one.code.0.to_string()),
                number: one.number,
                is_now: one.number == now,
                by: by(one),
                changed: one.changed.as_str().to_owned(),
                changes_work: one.changes_work,
                answers: one.answers.iter().map(ToString::to_string).collect(),
                cleared: cleared(one),
                is_cleared,
                evidence: one.evidence.as_str().to_owned(),
                record: record(one, attempts),
                compare: at.checked_sub(1).and_then(|before| all.get(before)).map(|before| {
                    let technique = addresses::within("techniques", &one.technique);
                    format!("{technique}/compare?a={}&b={}", before.number, one.number)
                }),
                may_clear: waits && second.is_ok(),
                may_take_back: may_judge && is_cleared && one.number == now,
                barred: second.err().filter(|_| waits),
            }
        })
        .collect();
    rows.reverse();
    rows
}
