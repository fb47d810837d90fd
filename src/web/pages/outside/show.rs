//! One item of the outside list: how long it may stay, the ways that need it, who brings it back.

use app::read::Connection;
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::disagreements::{Question, question};
use super::rows::{DaysLeft, ends};
use super::{map_sites, map_ways};
use crate::addresses;
use crate::drawings::lanes::LegendEntry;
use crate::drawings::markup::Drawing;
use crate::drawings::worksite_map;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::{Choice, ErrorSummary, FieldView, Width};
use crate::frame::{Nav, PageFrame};
use crate::linked::{Piece, linked};
use crate::page::{Done, Page};
use crate::pages::files::Evidence;
use crate::pages::library::TaskLine;
use crate::pages::records::history::{self, ChangeRow};
use crate::visitor::Viewer;
use app::outside::{self, BringBack, ItemRead};
use app::work::Work;
use app::{App, Failure};
use domain::cells::{Cells, FieldError};
use domain::kinds::Kind;
use domain::order_of_work::LostWay;
use domain::outside::OutsideItem;
use domain::records::Record as _;
use domain::roles::{action_for, may};
use domain::slots::Slot;
use domain::time::Day;
use domain::words::OutsideState;
use domain::worksites::Route;

#[derive(Template)]
#[template(path = "outside/show.html")]
pub(crate) struct ItemPage {
    page: PageFrame,
    summary: ErrorSummary,
    code: String,
    address: String,
    item: OutsideItem,
    lead: Vec<Piece>,
    days_out: Option<i64>,
    /// Set slots that lose their way as things stand.
    lost: Vec<Vec<Piece>>,
    /// Those that would, if it came in now.
    lost_now: Vec<Vec<Piece>>,
    questions: Vec<Question>,
    moments: Vec<AtMoment>,
    ways: Vec<WayLine>,
    map: Drawing,
    legend: Vec<LegendEntry>,
    task: Option<TaskLine>,
    slots: Vec<Slot>,
    /// Nobody brings it back, and this person may make the task that does.
    may_make: bool,
    may_write: bool,
    end: Vec<FieldView>,
    /// Its photographs and files.
    evidence: Option<Evidence>,
    changes: Vec<ChangeRow>,
}

/// Days left of the limit at one moment.
struct AtMoment {
    what: Vec<Piece>,
    day: Day,
    left: DaysLeft,
}

/// One direction of a way.
struct WayLine {
    route: String,
    from: String,
    to: String,
    minutes: i64,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<ItemPage>, PageError> {
    let mut db = app.reader().await?;
    Ok(Page(page(&mut db, &viewer, &code, &Cells::default(), &[]).await?))
}

async fn page(
    db: &mut Connection,
    viewer: &Viewer,
    code: &str,
    typed: &Cells,
    errors: &[FieldError],
) -> Result<ItemPage, Failure> {
    let read = outside::read(db, code).await?;
    let changes = history::of_record(db, Kind::OutsideItem, code).await?;
    let evidence = Evidence::of(db, viewer, Kind::OutsideItem, code).await?;
    let today = viewer.now().day();
    let may_write = may(viewer.actor.role, action_for(Kind::OutsideItem));
    let end = end_fields(typed, errors, today);
    let summary = ErrorSummary::of(errors, &end);
    let item = &read.item;
    let in_place = item.state == OutsideState::InPlace;
    let task = read.back.as_ref().map(|(task, _)| TaskLine::from(task));
    let nobody =
        task.as_ref().is_none_or(|task| task.state.is_some_and(|state| !state.is_open_item()));
    let told = |lost: &[LostWay]| lost.iter().map(|lost| linked(&lost.to_string())).collect();
    Ok(ItemPage {
        page: viewer
            .frame(format!("{code}, {}", item.what), Nav::OutsideList)
            .of_version(read.version)
            .refusing(!summary.is_empty()),
        summary,
        address: addresses::of(Kind::OutsideItem, code),
        lead: linked(&lead(&read, today)),
        days_out: item.since.map(|since| item.ended_on.unwrap_or(today).since(since)),
        lost: told(&read.lost),
        lost_now: told(&read.lost_now),
        questions: read.disagreements.iter().map(question).collect(),
        moments: moments(&read, today),
        ways: ways(&read),
        map: map(&read),
        legend: worksite_map::legend(true),
        may_make: may_write && nobody && in_place,
        may_write,
        task,
        slots: read.back.as_ref().map(|(_, slots)| slots.clone()).unwrap_or_default(),
        end: if in_place { end } else { Vec::new() },
        code: code.to_owned(),
        evidence,
        changes,
        item: read.item,
    })
}

/// How it stands, in a sentence or two.
fn lead(read: &ItemRead, today: Day) -> String {
    let item = &read.item;
    if item.state != OutsideState::InPlace {
        let on = item.ended_on.map_or_else(String::new, |day| format!(" on {day}"));
        return match item.state {
            OutsideState::Lost => format!("It was found to be gone{on}."),
            OutsideState::BroughtIn | OutsideState::InPlace => format!("It was brought in{on}."),
        };
    }
    let limit = match item.days_left(today) {
        Some(left) if left < 0 => format!("Its exposure limit passed {} days ago.", -left),
        Some(left) => {
            format!(
                "{left} days are left of its exposure limit; it {}.",
                ends(item, &read.flights, today)
            )
        }
        None if item.limit_is_uncertain() => {
            "What is left of its exposure limit is unknown: the day it went out is not recorded."
                .to_owned()
        }
        None => "It has no exposure limit.".to_owned(),
    };
    let back = match &read.back {
        None => "Nobody brings it back yet.".to_owned(),
        Some((task, slots)) => {
            let code = &task.task.code.0;
            let held: Vec<String> =
                slots.iter().map(|slot| format!("{} on {}", slot.state, slot.excursion)).collect();
            match &task.standing {
                Some(row) if !row.state.is_open_item() => {
                    format!("{code}, which was to bring it back, is {}.", row.state)
                }
                _ if held.is_empty() => format!("{code} brings it in and has no slot yet."),
                _ => format!("{code} brings it back, {}.", held.join(", ")),
            }
        }
    };
    format!("{limit} {back}")
}

fn moments(read: &ItemRead, today: Day) -> Vec<AtMoment> {
    let item = &read.item;
    if item.state != OutsideState::InPlace || item.runs_out().is_none() {
        return Vec::new();
    }
    let at = |what: String, day: Day| AtMoment {
        what: linked(&what),
        day,
        left: DaysLeft { days: item.days_left(day) },
    };
    let mut all = vec![at("Today".to_owned(), today)];
    for ahead in &read.flights {
        let flight = &ahead.flight;
        all.extend(ahead.launch.map(|day| at(format!("{flight} launches"), day)));
        all.extend(ahead.landing.map(|day| at(format!("{flight} lands"), day)));
    }
    all.extend(item.runs_out().map(|end| at("The limit ends".to_owned(), end)));
    all.sort_by_key(|moment| moment.day);
    all
}

fn ways(read: &ItemRead) -> Vec<WayLine> {
    let needs = |route: &&Route| route.aid.as_ref() == Some(&read.item.code.0);
    let both = |route: &Route| {
        let way = |from: &str, to: &str, minutes: i64| WayLine {
            route: route.code.0.to_string(),
            from: from.to_owned(),
            to: to.to_owned(),
            minutes,
        };
        let (from, to) = (route.from_site.as_str(), route.to_site.as_str());
        let back = route.minutes_back.unwrap_or(route.minutes);
        [way(from, to, route.minutes.0), way(to, from, back.0)]
    };
    read.ground.routes.iter().filter(needs).flat_map(both).collect()
}

fn map(read: &ItemRead) -> Drawing {
    let here: Vec<&OutsideItem> = read.ground.outside.iter().collect();
    let mut sites = map_sites(&read.ground.sites, &here);
    let mut ways = map_ways(&read.ground.routes, &here);
    let own = read.item.code.0.as_str();
    for site in &mut sites {
        site.marked = site.outside.iter().any(|code| code == own);
    }
    for way in &mut ways {
        way.marked = way.aid.as_ref().is_some_and(|aid| aid.code == own);
    }
    worksite_map::draw(&sites, &ways, "map")
}

fn end_fields(typed: &Cells, errors: &[FieldError], today: Day) -> Vec<FieldView> {
    let day = OutsideItem::COLUMNS.iter().find(|column| column.name == "ended_on");
    let on = typed.get("ended_on");
    let on = if on.is_empty() { today.to_string() } else { on.to_owned() };
    let states = [OutsideState::BroughtIn, OutsideState::Lost];
    let states = states.map(|state| Choice::new(state.word(), state.word()));
    let state = FieldView::new("state", "It is")
        .choosing(states.to_vec())
        .holding(typed.get("state"))
        .wide(Width::Medium)
        .judged(errors);
    let day = day.map(|column| FieldView::of(column).holding(on).judged(errors));
    std::iter::once(state).chain(day).collect()
}

/// Makes the task that brings it back; a second press leads to the first one's task.
pub(crate) async fn make_task(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let (task, words) = match outside::make_task(&mut work, &code).await? {
        BringBack::Made(task) => {
            let words =
                format!("{task} brings {code} back in. Add its minutes, seats and technique.");
            (task, words)
        }
        BringBack::There(task) => {
            let words = format!("{task} brings {code} back in already.");
            (task, words)
        }
    };
    let to = work.finish(addresses::of(Kind::Task, task.as_str())).await?;
    Ok(Done::to(to).saying(words))
}

/// Ends an item: it was brought in, or it is lost.
pub(crate) async fn end(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let failure = match ended(&app, &viewer, &code, &typed).await {
        Ok(done) => return Ok(done.into_response()),
        Err(failure) => failure,
    };
    let Failure::Invalid(errors) = failure else { return Err(failure.into()) };
    let mut db = app.reader().await?;
    let page = page(&mut db, &viewer, &code, &typed.cells(), &errors).await?;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, Page(page)).into_response())
}

async fn ended(app: &App, viewer: &Viewer, code: &str, typed: &Fields) -> Result<Done, Failure> {
    let mut wrong = Vec::new();
    let cells = typed.cells();
    let state = cells.take::<OutsideState>("state", &mut wrong);
    let on = cells.take::<Option<Day>>("ended_on", &mut wrong);
    let (Some(state), Some(on), true) = (state, on, wrong.is_empty()) else {
        return Err(Failure::Invalid(wrong));
    };
    let mut work = Work::begin(app, &viewer.actor, typed.key().as_ref()).await?;
    let item = outside::end(&mut work, code, state, on).await?;
    let warnings = outside::warnings_without(work.db(), &item.code.0).await?;
    let to = work.finish(addresses::of(Kind::OutsideItem, code)).await?;
    Ok(Done::to(to).saying(format!("{code} is {}.{warnings}", item.state)))
}

impl ItemPage {
    fn is_aid(&self) -> bool {
        !self.ways.is_empty()
    }
}
