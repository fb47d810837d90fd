//! Findings worked to closure: why it failed, what is changed, who has looked at it.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use crate::app::failures::{self, Around};
use crate::app::sisters::turned_by;
use crate::app::work::Work;
use crate::app::{App, Failure, findings};
use crate::domain::attempts::Attempt;
use crate::domain::cells::Prose;
use crate::domain::codes::{AttemptCode, CauseCode, TaskCode};
use crate::domain::findings::{Cause, Finding, Remedy};
use crate::domain::roles::{Action, may, may_review, may_verify};
use crate::domain::words::RemedyState;
use crate::store::findings::{Shown, page as page_of};
use crate::web::addresses;
use crate::web::extract::{Fields, Path};
use crate::web::failure::PageError;
use crate::web::forms::Pager;
use crate::web::frame::{Nav, PageFrame};
use crate::web::page::{Done, Page};
use crate::web::pages::sisters::{self, Heard};
use crate::web::tables;
use crate::web::visitor::Viewer;

const PAGE: i64 = 50;

#[derive(Template)]
#[template(path = "findings/list.html")]
pub(crate) struct FindingsPage {
    page: PageFrame,
    views: Vec<(String, &'static str, bool)>,
    rows: Vec<Row>,
    total: i64,
    csv: String,
    pager: Pager,
    may_write: bool,
}

struct Row {
    code: String,
    words: String,
    cause: String,
    attempts: Vec<String>,
    author: String,
    written_on: Option<crate::domain::time::Day>,
    reviewed: Option<String>,
}

/// What the address asks, and the word for which of them it wants.
fn asked(viewer: &Viewer) -> (Fields, &'static str, Shown) {
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let asked = Fields::read(query.as_bytes());
    let (word, shown) = match asked.get("show") {
        "open" => ("open", Shown::Open),
        "without-remedy" => ("without-remedy", Shown::WithoutRemedy),
        "overdue" => ("overdue", Shown::Overdue),
        _ => ("", Shown::All),
    };
    (asked, word, shown)
}

/// The findings that the list shows, whole, as a file.
pub(crate) async fn file(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    let (_, _, shown) = asked(&viewer);
    let mut db = app.db.reader().await?;
    let (found, _) = page_of(&mut db, shown, viewer.now().day(), 0, tables::MOST).await?;
    tables::records(&found)
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<FindingsPage>, PageError> {
    let (asked, word, shown) = asked(&viewer);
    let number: i64 = asked.get("page").parse().unwrap_or(1).max(1);
    let mut db = app.db.reader().await?;
    let (found, total) =
        page_of(&mut db, shown, viewer.now().day(), (number - 1) * PAGE, PAGE).await?;
    let causes = <Cause as crate::store::Kept>::after(&mut db, "", 20_000).await?;
    let views = [
        ("", "All findings"),
        ("open", "Wait for review"),
        ("without-remedy", "Without a remedy"),
        ("overdue", "Overdue"),
    ]
    .into_iter()
    .map(|(of, name)| (format!("/findings?show={of}"), name, of == word))
    .collect();
    Ok(Page(FindingsPage {
        page: viewer.frame("Findings", Nav::Findings),
        views,
        rows: found.iter().map(|finding| row(finding, &causes)).collect(),
        total,
        csv: tables::address_of("findings", &format!("show={word}")),
        pager: Pager::new(number, PAGE, total, |page| format!("/findings?show={word}&page={page}")),
        may_write: may(viewer.actor.role, Action::WriteFinding),
    }))
}

fn row(finding: &Finding, causes: &[Cause]) -> Row {
    let shown = |line: &Option<crate::domain::cells::Line>| {
        line.as_ref().map_or_else(String::new, |line| line.0.clone())
    };
    Row {
        code: finding.code.0.to_string(),
        words: finding.words.as_str().to_owned(),
        cause: finding
            .cause
            .as_ref()
            .map_or_else(|| "not known yet".to_owned(), |code| cause_words(code, causes)),
        attempts: finding.attempts.iter().map(ToString::to_string).collect(),
        author: shown(&finding.author),
        written_on: finding.written_on,
        reviewed: finding.reviewed_by.as_ref().map(|name| name.0.clone()),
    }
}

fn cause_words(code: &CauseCode, causes: &[Cause]) -> String {
    causes
        .iter()
        .find(|cause| cause.code.0 == *code)
        .map_or_else(|| code.to_string(), |cause| cause.words.0.clone())
}

#[derive(Template)]
#[template(path = "findings/show.html")]
pub(crate) struct FindingPage {
    page: PageFrame,
    around: Around,
    code: String,
    main: String,
    contributing: Vec<String>,
    attempts: Vec<AttemptRow>,
    remedies: Vec<RemedyRow>,
    /// The open units on which its attempts turned the guard's judgement.
    turned: Vec<Heard>,
    may_write: bool,
    /// Why this person cannot review it; nothing where they can.
    review: Review,
}

enum Review {
    Done { by: String, on: Option<crate::domain::time::Day> },
    Mine,
    Not(String),
}

struct AttemptRow {
    attempt: Attempt,
    code: String,
    spent: String,
}

struct RemedyRow {
    remedy: Remedy,
    code: String,
    answers: Vec<String>,
    /// The next steps that this person may take: the state and the words on its button.
    steps: Vec<(RemedyState, &'static str)>,
    /// Why it cannot be verified by this person.
    barred: Option<String>,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<FindingPage>, PageError> {
    let mut db = app.db.reader().await?;
    let around = failures::read(&mut db, &code).await?;
    let role = viewer.actor.role;
    let name = &viewer.actor.name;
    let author = around.finding.author.as_ref().map(crate::domain::cells::Line::as_str);
    let review = match &around.finding.reviewed_by {
        Some(by) => Review::Done { by: by.0.clone(), on: around.finding.reviewed_on },
        None if !may(role, Action::ReviewFinding) => {
            Review::Not("An engineer or a lead reviews it.".to_owned())
        }
        None => match may_review(author, name) {
            Ok(()) => Review::Mine,
            Err(why) => Review::Not(why),
        },
    };
    let failed: Vec<AttemptCode> = around.attempts.iter().map(|a| a.code.0.clone()).collect();
    let tried_on: Vec<TaskCode> = around.attempts.iter().map(|a| a.task.clone()).collect();
    let turned = turned_by(&mut db, &failed, &tried_on).await?;
    let attempts = around
        .attempts
        .iter()
        .map(|attempt| AttemptRow {
            code: attempt.code.0.to_string(),
            spent: attempt.minutes.map_or_else(String::new, crate::domain::units::Minutes::clock),
            attempt: attempt.clone(),
        })
        .collect();
    let remedies = around.remedies.iter().map(|remedy| remedy_row(remedy, &viewer)).collect();
    let main = around
        .finding
        .cause
        .as_ref()
        .map_or_else(|| "not known yet".to_owned(), |cause| cause_words(cause, &around.causes));
    let contributing =
        around.finding.contributing.iter().map(|c| cause_words(c, &around.causes)).collect();
    Ok(Page(FindingPage {
        page: viewer
            .frame(format!("Finding {code}"), Nav::Findings)
            .of_version(around.registered.version),
        may_write: may(role, Action::WriteFinding),
        around,
        code,
        main,
        contributing,
        attempts,
        remedies,
        turned: sisters::questioned(&turned),
        review,
    }))
}

fn remedy_row(remedy: &Remedy, viewer: &Viewer) -> RemedyRow {
    let role = viewer.actor.role;
    let owner = remedy.owner.as_ref().map(crate::domain::cells::Line::as_str);
    let mut steps = Vec::new();
    let mut barred = None;
    if may(role, Action::WriteRemedy) {
        match remedy.state {
            RemedyState::Open => {
                steps.push((RemedyState::Done, "It is done"));
                steps.push((RemedyState::Withdrawn, "Withdraw it"));
            }
            RemedyState::Done => {
                match may_verify(owner, &viewer.actor.name) {
                    Ok(()) => steps.push((RemedyState::Verified, "Verify it")),
                    Err(why) => barred = Some(why),
                }
                steps.push((RemedyState::Open, "Open it again"));
            }
            RemedyState::Verified | RemedyState::Withdrawn => {
                steps.push((RemedyState::Open, "Open it again"));
            }
        }
    }
    RemedyRow {
        code: remedy.code.0.to_string(),
        answers: remedy.attempts.iter().map(ToString::to_string).collect(),
        remedy: remedy.clone(),
        steps,
        barred,
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
    Ok(Done::to(to).saying("Reviewed. From now on its main cause decides what the attempts tell."))
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
    Ok(Done::to(to).saying("Reviewed. Those attempts do not count here any more."))
}

pub(crate) async fn move_remedy(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let to = RemedyState::read(typed.get("to"))
        .ok_or_else(|| Failure::Refused("Choose the next step of the remedy.".to_owned()))?;
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let evidence = Prose(typed.get("evidence").trim().to_owned());
    let saved = findings::move_remedy(&mut work, &code, to, Some(evidence)).await?;
    let answer = match &saved.record.finding {
        Some(finding) => addresses::within("findings", finding),
        None => addresses::within("remedies", &code),
    };
    let answer = work.finish(answer).await?;
    Ok(Done::to(answer).saying(format!("{code} is {to} now.")))
}
