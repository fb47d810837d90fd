//! One finding: why it failed, what is changed, who has looked at it, and whether it held.

use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse as _, Response};

use super::cause_words;
use super::reopened::{self, Again};
use super::steps::Steps;
use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page};
use crate::pages::alike::{self as alike_view, AlikeView};
use crate::pages::failure_report::{self, ReportLine};
use crate::pages::files::{Evidence, FileView};
use crate::pages::records::remedy_refused;
use crate::pages::sisters::{self, Affected};
use crate::values::{ValueView, values};
use crate::visitor::Viewer;
use app::alike::{self, ComparedWith};
use app::calendar::Calendar;
use app::failures::{self, WholeFinding};
use app::four_eyes::Touches;
use app::read::files;
use app::sisters::turned_by;
use app::work::Work;
use app::{App, Failure, findings};
use domain::attempts::Attempt;
use domain::codes::{AttemptCode, TaskCode};
use domain::findings::Remedy;
use domain::kinds::Kind;
use domain::roles::{Action, may};
use domain::words::{Checked, RemedyState};

#[derive(Template)]
#[template(path = "findings/show.html")]
pub(crate) struct FindingPage {
    page: PageFrame,
    around: WholeFinding,
    code: String,
    main: String,
    contributing: Vec<String>,
    attempts: Vec<AttemptRow>,
    /// The failure report, element by element.
    report: Vec<ReportLine>,
    lacking: usize,
    /// Its own photographs and files.
    evidence: Option<Evidence>,
    remedies: Vec<RemedyRow>,
    /// The open units on which its attempts turned the guard's judgement.
    turned: Vec<Affected>,
    /// Failures after one of its remedies had been verified, the latest first.
    again: Vec<Again>,
    /// Some of them are not answered yet.
    reopened: bool,
    alike: AlikeView,
    may_write: bool,
    /// Why this person cannot review it; nothing where they can.
    review: Review,
}

enum Review {
    Done { by: String, on: Option<domain::time::Day>, imported: bool },
    Mine,
    Not(String),
}

struct AttemptRow {
    attempt: Attempt,
    code: String,
    spent: String,
    measured: Vec<ValueView>,
    files: Vec<FileView>,
}

struct RemedyRow {
    remedy: Remedy,
    code: String,
    answers: Vec<String>,
    /// Its verification came with an import of history.
    is_imported: bool,
    steps: Steps,
    /// The failures that it did not prevent, and whether something answers each by now.
    not_held: Vec<(String, bool)>,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<FindingPage>, PageError> {
    let mut db = app.reader().await?;
    let around = failures::read(&mut db, &code).await?;
    let role = viewer.actor.role;
    let name = &viewer.actor.name;
    let touches = Touches::of(&mut db, Kind::Finding, std::slice::from_ref(&code)).await?;
    let review = match &around.finding.reviewed_by {
        Some(by) => Review::Done {
            by: by.to_string(),
            on: around.finding.reviewed_on,
            imported: around.finding.checked == Some(Checked::Imported),
        },
        None if !may(role, Action::ReviewFinding) => {
            Review::Not("An engineer or a lead reviews it.".to_owned())
        }
        None => match touches.let_judge(&around.finding, name) {
            Ok(()) => Review::Mine,
            Err(why) => Review::Not(why),
        },
    };
    let failed: Vec<AttemptCode> = around.attempts.iter().map(|a| a.code.0.clone()).collect();
    let tried_on: Vec<TaskCode> = around.attempts.iter().map(|a| a.task.clone()).collect();
    let of = ComparedWith::Attempts(failed.clone());
    let calendar = Calendar::load(&mut db).await?;
    let alike = alike_view::view(&of, alike::read(&mut db, &calendar, &of).await?);
    let turned = turned_by(&mut db, &failed, &tried_on).await?;
    let evidence = Evidence::of(&mut db, &viewer, Kind::Finding, &code).await?;
    let of_attempts = files::of_attempts_of(&mut db, &around.finding.code.0).await?;
    let attempts = around
        .attempts
        .iter()
        .map(|attempt| AttemptRow {
            code: attempt.code.0.to_string(),
            spent: attempt.minutes.map_or_else(String::new, domain::units::Minutes::clock),
            measured: values(&attempt.measured),
            files: of_attempts
                .iter()
                .filter(|file| file.attempt.as_ref() == Some(&attempt.code.0))
                .map(FileView::of)
                .collect(),
            attempt: attempt.clone(),
        })
        .collect();
    let codes: Vec<String> = around.remedies.iter().map(|one| one.code.0.to_string()).collect();
    let touches = Touches::of(&mut db, Kind::Remedy, &codes).await?;
    let remedies = around
        .remedies
        .iter()
        .map(|remedy| {
            let code = remedy.code.0.as_str();
            let not_held = reopened::of_remedy(&around.not_held, code);
            RemedyRow { not_held, ..remedy_row(remedy, &around, &touches, &viewer) }
        })
        .collect();
    let main = around
        .finding
        .cause
        .as_ref()
        .map_or_else(|| "not known yet".to_owned(), |cause| cause_words(cause, &around.causes));
    let contributing =
        around.finding.contributing.iter().map(|c| cause_words(c, &around.causes)).collect();
    let mut report = failure_report::lines(&around);
    report.retain(|line| line.asked != "Number of the report");
    let lacking = report.iter().filter(|line| line.told.is_empty()).count();
    Ok(Page(FindingPage {
        page: viewer
            .frame(format!("Finding {code}"), Nav::Findings)
            .of_version(around.registered.version),
        may_write: may(role, Action::WriteFinding),
        code,
        main,
        contributing,
        attempts,
        report,
        lacking,
        evidence,
        remedies,
        alike,
        reopened: around.not_held.iter().any(|one| !one.is_answered),
        again: reopened::all(&around.not_held),
        around,
        turned: sisters::questioned(&turned, &viewer),
        review,
    }))
}

fn remedy_row(
    remedy: &Remedy,
    around: &WholeFinding,
    touches: &Touches,
    viewer: &Viewer,
) -> RemedyRow {
    RemedyRow {
        code: remedy.code.0.to_string(),
        answers: remedy.attempts.iter().map(ToString::to_string).collect(),
        is_imported: remedy.checked == Some(Checked::Imported),
        remedy: remedy.clone(),
        steps: Steps::of(remedy, Some(&around.finding), touches, viewer),
        not_held: Vec::new(),
    }
}

pub(crate) async fn review(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    findings::review(&mut work, &code).await?;
    let to = work.finish(addresses::within("findings", &code)).await?;
    Ok(Done::to(to)
        .saying(format!("{code} is reviewed. From now on its main cause counts for its attempts.")))
}

pub(crate) async fn review_exemption(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let saved = findings::review_exemption(&mut work, &code).await?;
    let to = work.finish(addresses::within("tasks", &saved.record.task)).await?;
    Ok(Done::to(to).saying("Reviewed. Those attempts no longer count here."))
}

pub(crate) async fn move_remedy(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let to = RemedyState::read(typed.get("to"))
        .ok_or_else(|| Failure::Refused("Choose the next step of the remedy.".to_owned()))?;
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let evidence = typed.value("evidence")?;
    let saved = match findings::move_remedy(&mut work, &code, to, Some(evidence)).await {
        Ok(saved) => saved,
        // Asked for on the remedy's own page, where a document can be added too.
        Err(Failure::Invalid(wrong)) => {
            drop(work);
            let words = wrong.into_iter().map(|wrong| wrong.message).collect::<Vec<_>>().join(" ");
            return remedy_refused(app, viewer, code, words).await;
        }
        Err(other) => return Err(other.into()),
    };
    let finding = saved.record.finding.as_ref().map(|code| addresses::within("findings", code));
    let own = addresses::within("remedies", &code);
    let answer = if typed.get("back") == own { own } else { finding.unwrap_or(own) };
    let next = match to {
        RemedyState::Done => " Another person verifies it next.",
        RemedyState::Open | RemedyState::Verified | RemedyState::Withdrawn => "",
    };
    let words = work.with_notes(format!("{code} is {to} now.{next}"));
    let answer = work.finish(answer).await?;
    Ok(Done::to(answer).saying(words).into_response())
}
