//! Why an attempt failed and what must change, in one form on the attempt's own address: what the
//! attempt says is filled in, and the remedy is opened with the finding.

use app::read::Connection;
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Response};

use super::known::Known;
use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::{Choice, ErrorSummary, FieldView, Width};
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page, see_other};
use crate::visitor::Viewer;
use app::read::{Found as _, flights, people};
use app::work::Work;
use app::{App, Failure, findings};
use domain::attempts::Attempt;
use domain::cells::{Cells, FieldError};
use domain::codes::{CauseCode, FindingCode};
use domain::findings::{Cause, Finding, Remedy};
use domain::kinds::Kind;
use domain::records::Record as _;
use domain::roles::{Action, may, refusal};
use domain::tasks::Task;
use domain::words::{Confidence, FlightState, Outcome, Reach};

/// The one name of what leads here.
pub(crate) const WRITE: &str = "Write finding";
/// More kinds of cause than a team tells apart.
const CAUSES: i64 = 500;

#[derive(Template)]
#[template(path = "attempts/finding.html")]
struct FindingPage {
    page: PageFrame,
    summary: ErrorSummary,
    code: String,
    task: String,
    title: String,
    /// What the attempt says, in short.
    attempt: String,
    why: Vec<FieldView>,
    /// Kinds of cause to tick, group by group.
    contributing: Vec<CauseGroup>,
    change: Vec<FieldView>,
    known: Known,
}

/// The kinds of cause of one group.
struct CauseGroup {
    group: String,
    causes: Vec<CauseTick>,
}

struct CauseTick {
    code: String,
    words: String,
    ticked: bool,
}

/// The empty form, or the finding that explains the attempt already.
pub(crate) async fn blank(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    reaches(&viewer)?;
    let mut db = app.reader().await?;
    let attempt = find(&mut db, &code).await?;
    if let Some(finding) = explained_by(&mut db, &attempt).await? {
        return Ok(see_other(&addresses::of(Kind::Finding, finding)));
    }
    let typed = Fields::default();
    Ok(Page(page(&mut db, &viewer, &attempt, &typed, &[]).await?).into_response())
}

/// Writes the finding, and the remedy where one is named.
pub(crate) async fn write(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    reaches(&viewer)?;
    let attempt = find(&mut *app.reader().await?, &code).await?;
    let failure = match keep(&app, &viewer, &attempt, &typed).await {
        Ok(done) => return Ok(done.into_response()),
        Err(failure) => failure,
    };
    let (status, errors) = match failure {
        Failure::Invalid(errors) => (StatusCode::UNPROCESSABLE_ENTITY, errors),
        Failure::Refused(why) => (StatusCode::CONFLICT, vec![FieldError::new("", why)]),
        other => return Err(other.into()),
    };
    let mut db = app.reader().await?;
    let page = page(&mut db, &viewer, &attempt, &typed, &errors).await?;
    Ok((status, Page(page)).into_response())
}

fn reaches(viewer: &Viewer) -> Result<(), Failure> {
    let role = viewer.actor.role;
    if may(role, Action::WriteFinding) {
        return Ok(());
    }
    Err(Failure::Forbidden(refusal(role, Action::WriteFinding)))
}

async fn find(db: &mut Connection, code: &str) -> Result<Attempt, Failure> {
    let missing = || Failure::NotFound(Kind::Attempt, code.to_owned());
    Attempt::find(db, code).await?.ok_or_else(missing)
}

async fn explained_by(
    db: &mut Connection,
    attempt: &Attempt,
) -> Result<Option<FindingCode>, Failure> {
    let found = app::read::findings::explaining(db, &attempt.code.0).await?;
    Ok(found.into_iter().next())
}

async fn keep(
    app: &App,
    viewer: &Viewer,
    attempt: &Attempt,
    typed: &Fields,
) -> Result<Done, Failure> {
    let mut work = Work::begin(app, &viewer.actor, typed.key().as_ref()).await?;
    let (finding, remedy) = read(attempt, typed)?;
    let explained = findings::explain(&mut work, finding, remedy).await?;
    let code = explained.finding.to_string();
    let remedy = match &explained.remedy {
        Some(remedy) => format!("{remedy} is open."),
        None => "It has no remedy yet.".to_owned(),
    };
    let words = format!("{code} is written and needs a review by a second person. {remedy}");
    let to = work.finish(addresses::of(Kind::Finding, &code)).await?;
    Ok(Done::to(to).saying(words))
}

/// The two records, everything that is wrong with them at once.
fn read(attempt: &Attempt, typed: &Fields) -> Result<(Finding, Option<Remedy>), Failure> {
    let mut wrong = Vec::new();
    let mut finding = Cells::default();
    let mut remedy = Cells::default();
    for name in ["words", "cause", "confidence"] {
        finding.set(name, typed.get(name).trim().replace("\r\n", "\n"));
    }
    let contributing: Vec<&str> = typed.all("contributing").collect();
    finding.set("contributing", contributing.join(", "));
    for name in ["what", "owner", "needed_by", "reach"] {
        remedy.set(name, typed.get(name).trim());
    }
    for cells in [&mut finding, &mut remedy] {
        cells.set("attempts", attempt.code.0.as_str());
    }
    if finding.get("words").is_empty() {
        wrong.push(FieldError::new("words", "Say what failed."));
    }
    if finding.get("cause").is_empty() {
        let message = "Choose the main cause; “Cause unknown” is one.";
        wrong.push(FieldError::new("cause", message));
    }
    let finding = Finding::parse(&finding).map_err(|more| wrong.extend(more)).ok();
    let remedy = if remedy.get("what").is_empty() {
        None
    } else {
        Remedy::parse(&remedy).map_err(|more| wrong.extend(more)).ok()
    };
    match finding {
        Some(finding) if wrong.is_empty() => Ok((finding, remedy)),
        Some(_) | None => Err(Failure::Invalid(wrong)),
    }
}

async fn page(
    db: &mut Connection,
    viewer: &Viewer,
    attempt: &Attempt,
    typed: &Fields,
    errors: &[FieldError],
) -> Result<FindingPage, Failure> {
    let task = Task::find(db, attempt.task.as_str()).await?;
    let mut causes = Cause::after(db, "", CAUSES).await?;
    causes.sort_by_key(|cause| (cause.code.0.as_str().len(), cause.code.0.clone()));
    let is_new = !typed.has("words");
    let prefilled = |name: &str, text: &str| {
        if is_new { text.to_owned() } else { typed.get(name).to_owned() }
    };
    let mut main = vec![Choice::new("", "choose")];
    main.extend(
        causes.iter().map(|cause| Choice::new(cause.code.0.as_str(), cause.words.as_str())),
    );
    let mut sure = vec![Choice::new("", "not recorded")];
    sure.extend(Confidence::WORDS.iter().map(|word| Choice::new(*word, *word)));
    let cause = attempt.cause.as_ref().map_or("", CauseCode::as_str);
    let why = vec![
        FieldView::new("words", "What failed")
            .prose()
            .holding(prefilled("words", attempt.words.as_str()))
            .hinting("From the attempt; edit it as you know better.")
            .wide(Width::Whole)
            .must()
            .judged(errors),
        FieldView::new("cause", "Main cause")
            .choosing(main)
            .holding(prefilled("cause", cause))
            .must()
            .judged(errors),
        FieldView::new("confidence", "How sure of the main cause")
            .choosing(sure)
            .holding(typed.get("confidence"))
            .wide(Width::Medium)
            .judged(errors),
    ];
    let change = change(db, viewer, task.as_ref(), typed, errors).await?;
    let known = Known::of(db, task.as_ref()).await?;
    let ticked: Vec<&str> = typed.all("contributing").collect();
    let mut contributing: Vec<CauseGroup> = Vec::new();
    for cause in &causes {
        let code = cause.code.0.to_string();
        let ticked = ticked.contains(&code.as_str());
        let tick = CauseTick { code, words: cause.words.to_string(), ticked };
        let group = cause.cause_group.to_string();
        match contributing.iter_mut().find(|known| known.group == group) {
            Some(known) => known.causes.push(tick),
            None => contributing.push(CauseGroup { group, causes: vec![tick] }),
        }
    }
    let all: Vec<FieldView> = why.iter().chain(&change).cloned().collect();
    let summary = ErrorSummary::of(errors, &all);
    let code = attempt.code.0.to_string();
    let by = match (&attempt.technique, &attempt.side) {
        (Some(technique), Some(side)) => format!(", {technique} from {side}"),
        (Some(technique), None) => format!(", {technique}"),
        (None, Some(side)) => format!(", from {side}"),
        (None, None) => String::new(),
    };
    Ok(FindingPage {
        page: viewer
            .frame(format!("Finding on {code}"), Nav::Findings)
            .refusing(!summary.is_empty()),
        summary,
        attempt: format!("{} on {}{by}", attempt.outcome, attempt.excursion),
        task: attempt.task.to_string(),
        title: task.as_ref().map_or_else(String::new, |task| task.title.to_string()),
        why,
        contributing,
        change,
        known,
        code,
    })
}

/// What must change, whose it is, and by when.
async fn change(
    db: &mut Connection,
    viewer: &Viewer,
    task: Option<&Task>,
    typed: &Fields,
    errors: &[FieldError],
) -> Result<Vec<FieldView>, Failure> {
    let is_new = !typed.has("words");
    let coming: Vec<String> = flights::in_order(db)
        .await?
        .into_iter()
        .filter(|flight| flight.state == FlightState::Coming)
        .map(|flight| flight.code.to_string())
        .collect();
    let needed = task.and_then(|task| task.needed_by_flight.as_ref()).map(ToString::to_string);
    let due = needed.filter(|code| coming.contains(code)).or_else(|| coming.first().cloned());
    let mut flights = vec![Choice::new("", "no flight")];
    flights.extend(coming.iter().map(|code| Choice::new(code, code)));
    let due = if is_new { due.unwrap_or_default() } else { typed.get("needed_by").to_owned() };
    let names = people::list(db).await?;
    let owners = names
        .into_iter()
        .filter(|person| person.active && may(person.role, Action::WriteRemedy))
        .map(|person| Choice::new(person.name.as_str(), person.role.word()))
        .collect();
    let owner = if is_new { viewer.actor.name.clone() } else { typed.get("owner").to_owned() };
    let reaches = Reach::WORDS.iter().map(|word| Choice::new(*word, *word)).collect();
    let reach =
        if is_new { Reach::ThisUnit.word().to_owned() } else { typed.get("reach").to_owned() };
    Ok(vec![
        FieldView::new("what", "What must change before the next try")
            .holding(typed.get("what"))
            .hinting("Another tool, side, technique or rehearsal. Left empty: not decided yet.")
            .wide(Width::Whole)
            .judged(errors),
        FieldView::new("owner", "Owner")
            .holding(owner)
            .offering(owners)
            .wide(Width::Medium)
            .judged(errors),
        FieldView::new("needed_by", "Due before flight")
            .choosing(flights)
            .holding(due)
            .wide(Width::Small)
            .judged(errors),
        FieldView::new("reach", "Applies to")
            .choosing(reaches)
            .holding(reach)
            .wide(Width::Medium)
            .judged(errors),
    ])
}

/// Whether a finding is asked for after an attempt ended so.
pub(crate) fn is_asked_for(outcome: Outcome) -> bool {
    matches!(outcome, Outcome::NotCompleted | Outcome::PartDone)
}
