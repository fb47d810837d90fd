//! One task: why it is open, what was tried, from which side it can still be tried, and where.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use crate::addresses;
use crate::drawings::columns::Columns;
use crate::drawings::markup::Drawing;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::linked::{Piece, linked};
use crate::page::{Done, Page, see_other};
use crate::pages::alike::{self as alike_view, AlikeView};
use crate::pages::how::How;
use crate::pages::open::row::{ENTER_OPENED, UNDATED};
use crate::pages::records::history::{self, ChangeRow};
use crate::pages::sisters::{Affected, Apart};
use crate::pages::{carry, worth};
use crate::visitor::Viewer;
use app::alike::{self, ComparedWith};
use app::whole_task::{self, WholeTask};
use app::work::Work;
use app::{App, tasks};
use domain::kinds::Kind;
use domain::roles::{Action, may};
use domain::words::{LinkKind, TaskState};

mod around;
mod candidates;
mod events;
pub(crate) mod happened;
mod lines;
pub(crate) mod links;
mod sides;

use around::{ExemptionView, FindingView, RemedyView, SisterRow};
use candidates::Candidate;
use events::{EventRow, Happened};
use sides::Sides;

/// So many candidates stand with their checks and forms; the matrix has those of the others. Each offers
/// every approach, so that of a task with many of them fewer stand whole.
const WHOLE_CANDIDATES: usize = 4;
const FEWER_CANDIDATES: usize = 2;
const MANY_APPROACHES: usize = 8;
/// So much of what happened stands on the page of a task; all of it has a page of its own.
const EVENTS: usize = 12;

#[derive(Template)]
#[template(path = "tasks/show.html")]
pub(crate) struct TaskPage {
    page: PageFrame,
    whole: WholeTask,
    code: String,
    state: Option<TaskState>,
    lead: Vec<Piece>,
    marks: Vec<&'static str>,
    facts: Facts,
    defs: Drawing,
    narrow: Option<Drawing>,
    large: Option<Drawing>,
    sides: Sides,
    /// The last of what happened.
    events: Vec<EventRow>,
    /// How much happened before those.
    earlier: usize,
    told: String,
    candidates: Vec<Candidate>,
    /// So many of them stand whole.
    whole_candidates: usize,
    how: How,
    /// Its value as a sum.
    value: Vec<Piece>,
    findings: Vec<FindingView>,
    remedies: Vec<RemedyView>,
    exemptions: Vec<ExemptionView>,
    sisters: Vec<SisterRow>,
    /// How many there are, shown or not.
    sister_count: usize,
    alike: AlikeView,
    links: Option<links::Links>,
    turned: Vec<Affected>,
    apart: Vec<Apart>,
    changes: Vec<ChangeRow>,
    acts: Acts,
}

/// The strip of facts, in words.
struct Facts {
    class: String,
    need: Option<String>,
    need_day: Option<domain::time::Day>,
    /// That day is the landing of the flight that it is needed by.
    lands: bool,
    /// What binds before these.
    binding: Option<Vec<Piece>>,
    carried: String,
    unit: String,
    sides: String,
    work: String,
    left: String,
}

/// What this person can do from here; an address where there is one.
struct Acts {
    edit: Option<String>,
    record: Option<String>,
    finding: Option<String>,
    more: Vec<(String, &'static str)>,
    /// What these come to, in words.
    more_head: String,
    trigger: bool,
}

/// The list of tasks is the backlog.
pub(crate) async fn all(_: Viewer) -> Response {
    see_other("/open")
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<TaskPage>, PageError> {
    let mut db = app.reader().await?;
    let whole = whole_task::read(&mut db, &code).await?;
    let changes = history::of_record(&mut db, Kind::Task, &code).await?;
    let of = compared(&whole);
    let like = alike::read(&mut db, &whole.dossier.calendar, &of).await?;
    drop(db);
    let alike = alike_view::view(&of, like);
    Ok(Page(view(&viewer, whole, alike, changes)))
}

pub(crate) async fn condition_met(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    tasks::trigger(&mut work, &code, typed.get("why")).await?;
    let to = work.finish(addresses::of(Kind::Task, &code)).await?;
    Ok(Done::to(to).saying(format!("{code} is in the backlog: its condition is met.")))
}

/// With what others are compared: the last failure, else the task's own words.
fn compared(whole: &WholeTask) -> ComparedWith {
    let task = &whole.task;
    let own = &task.code.0;
    let tries = whole.dossier.events.attempts_of(own);
    match alike::last_failure(&whole.dossier.calendar, tries) {
        Some(attempt) => ComparedWith::Attempts(vec![attempt]),
        None => ComparedWith::Words {
            text: format!("{}\n{}\n{}", task.title, task.notes, task.hazards),
            family: task.family.clone(),
            unit: whole.dossier.unit_of(own),
        },
    }
}

fn view(viewer: &Viewer, whole: WholeTask, alike: AlikeView, changes: Vec<ChangeRow>) -> TaskPage {
    let code = whole.task.code.0.to_string();
    let columns: Columns = carry::columns(&whole.dossier.calendar);
    let opening = carry::opening(&whole.dossier, &whole.task.code.0);
    let at_risk = whole.standing.as_ref().is_some_and(|stand| stand.in_danger);
    let traced = opening.map(|o| carry::trace(&whole.dossier, &columns, o, at_risk));
    let tried = traced.as_ref().map_or_else(Vec::new, |traced| traced.approaches.clone());
    let sides = sides::compare(&whole, &tried);
    let (narrow, large) = match &traced {
        Some(traced) => {
            let (narrow, large) = lines::draw(traced, &sides, &code);
            (Some(narrow), Some(large))
        }
        None => (None, None),
    };
    let happened = Happened::of(&whole);
    let mut events = opening.map_or_else(Vec::new, |o| events::rows(&happened, o));
    let earlier = events.len().saturating_sub(EVENTS);
    events.drain(..earlier);
    let state = whole.standing.as_ref().map(|stand| stand.state);
    let title = format!("{code} {}", whole.task.title);
    let page = viewer.frame(title, Nav::Backlog).with_verdicts().of_version(whole.version);
    TaskPage {
        lead: linked(&lead(&whole, &sides)),
        marks: marks(&whole),
        facts: facts(&whole),
        defs: columns.defs(),
        told: events::count(&whole.told, whole.dossier.events.moves_of(&whole.task.code.0).len()),
        candidates: candidates::of(&whole, viewer),
        whole_candidates: whole_candidates(&whole),
        how: How::of(&whole.fit.board.constants),
        value: whole
            .fit
            .board
            .task_at(&whole.task.code.0)
            .map_or_else(Vec::new, |task| worth::sum(&whole.fit.board, task)),
        findings: around::findings(&whole),
        remedies: around::remedies(&whole),
        sisters: around::sister_rows(&whole),
        sister_count: usize::try_from(whole.sister_count).unwrap_or(usize::MAX),
        earlier,
        links: links::view(&whole, viewer),
        turned: around::turned(&whole, viewer),
        apart: around::apart(&whole),
        exemptions: around::exemptions(&whole, viewer),
        acts: acts(&whole, viewer, &code),
        page,
        code,
        state,
        narrow,
        large,
        sides,
        events,
        alike,
        changes,
        whole,
    }
}

fn whole_candidates(whole: &WholeTask) -> usize {
    let board = &whole.fit.board;
    let at = board.task_at(&whole.task.code.0);
    let ways = at.map_or(0, |at| board.snapshot.tasks[at].approaches.len());
    if ways > MANY_APPROACHES { FEWER_CANDIDATES } else { WHOLE_CANDIDATES }
}

/// Why it is open, and from where it was never tried.
fn lead(whole: &WholeTask, sides: &Sides) -> String {
    let Some(stand) = &whole.standing else { return String::new() };
    let mut words = capital(&stand.why_words);
    if words.is_empty() {
        words = format!("It is {}.", stand.state);
    }
    if stand.state.is_open_item() && !whole.told.attempts.is_empty() {
        let never = sides.never_tried();
        if !never.is_empty() {
            let said = words.trim_end_matches('.');
            words = format!("{said}. Never tried here: {}.", never.join("; "));
        }
    }
    words
}

/// The words of the backlog follow on a head; here they begin a sentence.
fn capital(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(char::to_uppercase);
    first.into_iter().flatten().chain(letters).collect()
}

/// Names those of the further actions that this person can take.
fn more_head(more: &[(String, &'static str)]) -> String {
    let named =
        [("Park task", "park"), ("Drop or close task", "drop"), ("Link to another task", "link")];
    let words: Vec<&str> = named
        .into_iter()
        .filter(|(button, _)| more.iter().any(|(_, words)| words == button))
        .map(|(_, word)| word)
        .collect();
    if words.is_empty() { "More actions".to_owned() } else { capital(&words.join(", ")) }
}

fn marks(whole: &WholeTask) -> Vec<&'static str> {
    let Some(stand) = &whole.standing else { return Vec::new() };
    let lacks_opened = stand.undated && whole.task.opened.is_none();
    [
        (stand.in_danger, "at risk of being late"),
        (stand.in_question, "approach questioned"),
        (stand.twice_same, "same approach tried twice"),
        (stand.held_tool, "waits for a tool"),
        (stand.held_order, "waits for other work"),
        (stand.held_remedy, "waits for a remedy"),
        (stand.undated && !lacks_opened, UNDATED),
        (lacks_opened, ENTER_OPENED),
    ]
    .into_iter()
    .filter_map(|(holds, words)| holds.then_some(words))
    .collect()
}

fn facts(whole: &WholeTask) -> Facts {
    let task = &whole.task;
    let unknown = || "unknown".to_owned();
    let class = task.class.map_or_else(unknown, |class| format!("{class} · {}", class.means()));
    let need = task.needed_by_flight.as_ref().map(ToString::to_string);
    let landing = task.needed_by_flight.as_ref().and_then(|code| {
        let calendar = &whole.dossier.calendar;
        calendar.rank(code).and_then(|rank| calendar.flights[rank].landing)
    });
    let carried = match whole.standing.as_ref().map_or(0, |stand| stand.carry_count) {
        1 => "1 flight".to_owned(),
        count => format!("{count} flights"),
    };
    let family = whole.family.as_ref().map(|family| {
        family.name.as_ref().map_or_else(|| family.code.0.to_string(), ToString::to_string)
    });
    let unit: Vec<String> =
        family.into_iter().chain(task.position.as_ref().map(ToString::to_string)).collect();
    let listed: Vec<String> = task.sides.iter().map(ToString::to_string).collect();
    let minutes = [task.optimistic, task.likely, task.pessimistic];
    let work = match minutes {
        [Some(low), Some(likely), Some(high)] => {
            format!("{} · {} · {} min", low.0, likely.0, high.0)
        }
        [_, Some(likely), _] => format!("{} min, one figure alone", likely.0),
        _ => unknown(),
    };
    let left = whole.standing.as_ref().map_or_else(unknown, |stand| stand.left().to_string());
    Facts {
        class,
        need,
        lands: landing.is_some() && task.needed_by_day.is_none(),
        need_day: task.needed_by_day.or(landing),
        binding: binding(whole),
        carried,
        unit: if unit.is_empty() { unknown() } else { unit.join(" · ") },
        sides: if listed.is_empty() { unknown() } else { listed.join(", ") },
        work,
        left,
    }
}

/// The constraint or the outside item whose date comes before the task's own and so binds it:
/// `CN-001, 2031-02-01`.
fn binding(whole: &WholeTask) -> Option<Vec<Piece>> {
    let standing = whole.standing.as_ref()?;
    let from = standing.need_from.as_ref()?;
    Some(crate::linked::linked(&format!("{from}, {}", standing.need_day)))
}

fn acts(whole: &WholeTask, viewer: &Viewer, code: &str) -> Acts {
    let role = viewer.actor.role;
    let open = whole.is_open_item();
    let at = addresses::encoded(code);
    let unexplained: Vec<&str> = whole
        .told
        .attempts
        .iter()
        .filter(|attempt| attempt.outcome != domain::words::Outcome::Done)
        .map(|attempt| attempt.code.0.as_str())
        .filter(|code| {
            !whole.findings.iter().any(|f| f.attempts.iter().any(|named| named.as_str() == *code))
        })
        .collect();
    let finding = match unexplained.last() {
        Some(attempt) if may(role, Action::WriteFinding) => {
            Some(format!("{}/finding", addresses::within("attempts", attempt)))
        }
        _ => None,
    };
    let left = whole.standing.as_ref().map_or(100, |stand| stand.share_left.0);
    let parked = whole.standing.as_ref().is_some_and(|s| s.state == TaskState::Parked);
    let mut more = Vec::new();
    let mut offer = |action: Action, holds: bool, address: String, words: &'static str| {
        if holds && may(role, action) {
            more.push((address, words));
        }
    };
    offer(Action::DeferInFlight, open, format!("/deferrals/new?task={at}"), "Defer task");
    offer(Action::Park, open && !parked, format!("/parkings/new?task={at}"), "Park task");
    let again = format!("/reopenings/new?task={at}&share_left={left}");
    offer(Action::ReopenTask, parked, again, "Open task again");
    offer(Action::CloseTask, open, format!("/closures/new?task={at}"), "Drop or close task");
    let reopen = format!("/reopenings/new?task={at}&share_left=100");
    offer(Action::ReopenTask, !open, reopen, "Reopen task");
    offer(Action::SetLinks, true, format!("/links/new?task={at}"), "Link to another task");
    offer(Action::KeepTechniques, open, format!("/techniques/new?task={at}"), "Draft a technique");
    let contingency = whole.links.iter().any(|l| l.kind == LinkKind::OnlyIf && l.from_here);
    Acts {
        edit: may(role, Action::EditTask)
            .then(|| format!("{}/edit", addresses::of(Kind::Task, code))),
        record: may(role, Action::RecordAttempt).then(|| format!("/attempts/new?task={at}")),
        finding,
        more_head: more_head(&more),
        more,
        trigger: contingency && !whole.task.triggered && may(role, Action::TriggerTask),
    }
}
