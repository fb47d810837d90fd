//! The flights in their order, and one flight with the tasks of its excursions.

mod strip;

use askama::Template;
use axum::extract::State;

use crate::addresses;
use crate::drawings::markup::Drawing;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::Pager;
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::visitor::Viewer;
use app::fit::{self, Rooms};
use app::read::excursions::Tally;
use app::read::flights::FlightRow;
use app::read::{Found, excursions, flights, reach, register, standing, tools};
use app::{App, Failure, slips};
use compute::fit::room_words;
use domain::codes::{FlightCode, TaskCode};
use domain::flights::Flight;
use domain::kinds::Kind;
use domain::roles::{Action, may};
use domain::time::Day;
use domain::words::{ExcursionState, FlightState};

/// So many flown flights stand on the first page beside the coming ones; older ones fold away.
const LATEST: usize = 6;
const OLDER: i64 = 20;

#[derive(Template)]
#[template(path = "flights/list.html")]
pub(crate) struct FlightsPage {
    page: PageFrame,
    /// The flights at a glance; nothing on the pages of older ones.
    strip: Option<Drawing>,
    flights: Vec<FlightView>,
    older: usize,
    pager: Option<Pager>,
    may_keep: bool,
}

struct FlightView {
    row: FlightRow,
    excursions: Vec<ExcursionView>,
}

/// One excursion with its tasks and those back in the backlog, in words.
pub(super) struct ExcursionView {
    pub code: String,
    pub day: Option<Day>,
    pub state: ExcursionState,
    pub tasks: String,
    pub returned: String,
    pub to_debrief: bool,
    pub is_deferrable: bool,
    /// What it has left before its limit; empty unless it is planned.
    pub room: String,
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<FlightsPage>, PageError> {
    let query = viewer.address().split_once('?').map_or("", |query| query.1);
    let older_page = Fields::read(query.as_bytes()).get("older").parse::<i64>().ok();
    let mut db = app.reader().await?;
    let all = flights::in_order(&mut db).await?;
    let over =
        |flight: &&FlightRow| matches!(flight.state, FlightState::Flown | FlightState::Cancelled);
    let flown: Vec<&FlightRow> = all.iter().filter(over).collect();
    let older = flown.len().saturating_sub(LATEST);
    let pager = older_page
        .map(|page| Pager::new(page, OLDER, whole(older), |page| format!("/flights?older={page}")));
    let shown: Vec<FlightRow> = if let Some(pager) = &pager {
        // The older ones, the latest of them first.
        let before = usize::try_from((pager.page - 1) * OLDER).unwrap_or(0);
        let most = usize::try_from(OLDER).unwrap_or(0);
        flown[..older].iter().rev().skip(before).take(most).map(|row| (*row).clone()).collect()
    } else {
        let folded: Vec<&FlightCode> = flown[..older].iter().map(|f| &f.code).collect();
        all.iter().filter(|f| !folded.contains(&&f.code)).cloned().collect()
    };
    let codes: Vec<FlightCode> = shown.iter().map(|flight| flight.code.clone()).collect();
    let tallies = excursions::tallies_of(&mut db, &codes).await?;
    let rooms = fit::rooms(&mut db).await?;
    let strip = match pager {
        None if !all.is_empty() => Some(strip::draw(&mut db).await?),
        _ => None,
    };
    let flights = shown
        .into_iter()
        .map(|row| FlightView {
            excursions: tallies
                .iter()
                .filter(|tally| tally.flight.as_ref() == Some(&row.code))
                .map(|tally| excursion_view(tally, &rooms))
                .collect(),
            row,
        })
        .collect();
    let title = if pager.is_some() { "Older flights" } else { "Flights" };
    Ok(Page(FlightsPage {
        page: viewer.frame(title, Nav::Flights),
        strip,
        flights,
        older,
        pager,
        may_keep: may(viewer.actor.role, Action::KeepFlights),
    }))
}

fn whole(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

pub(super) fn excursion_view(tally: &Tally, rooms: &Rooms) -> ExcursionView {
    let count = |n: i64, word: &str| (n > 0).then(|| format!("{n} {word}"));
    let joined = |parts: Vec<Option<String>>, none: &str| {
        let said: Vec<String> = parts.into_iter().flatten().collect();
        if said.is_empty() { none.to_owned() } else { said.join(", ") }
    };
    let flown = tally.state == ExcursionState::Flown;
    let tasks = if flown {
        let ended = [
            count(tally.done, "done"),
            count(tally.part_done, "part done"),
            count(tally.not_completed, "not completed"),
            count(tally.not_reached, "not reached"),
            count(tally.set, "without result"),
        ];
        joined(ended.into(), "nothing recorded")
    } else {
        let held = [count(tally.set, "set"), count(tally.pencilled, "pencilled")];
        let none = if tally.state == ExcursionState::Planned { "nothing yet" } else { "nothing" };
        joined(held.into(), none)
    };
    let back = tally.part_done + tally.not_completed + tally.not_reached;
    let returned = [count(back, "back in the backlog"), count(tally.deferred, "deferred")];
    ExcursionView {
        code: tally.code.as_str().to_owned(),
        day: tally.day,
        state: tally.state,
        tasks,
        returned: joined(returned.into(), if flown { "nothing" } else { "" }),
        to_debrief: flown && tally.closed_at.is_none(),
        is_deferrable: tally.is_deferrable,
        room: rooms.get(&tally.code).map_or_else(String::new, room_words),
    }
}

/// Tasks that need the flight, on one page.
const NEEDED: i64 = 50;

#[derive(Template)]
#[template(path = "flights/show.html")]
pub(crate) struct FlightPage {
    page: PageFrame,
    flight: Flight,
    code: String,
    edit: String,
    new_excursion: String,
    excursions: Vec<ExcursionView>,
    tools: Vec<(String, String)>,
    needed: Vec<(String, String, &'static str)>,
    /// Where these stand among all that it is needed by.
    pager: Pager,
    may_keep: bool,
    /// Its excursions whose dates are none of its own.
    outside: Vec<String>,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<FlightPage>, PageError> {
    let mut db = app.reader().await?;
    let flight = Flight::find(&mut db, &code)
        .await?
        .ok_or_else(|| Failure::NotFound(Kind::Flight, code.clone()))?;
    let own = flight.code.0.clone();
    let tallies = excursions::tallies_of(&mut db, std::slice::from_ref(&own)).await?;
    let rooms = fit::rooms(&mut db).await?;
    let mut here = excursions::of_flight(&mut db, &own).await?;
    here.retain(|excursion| excursion.state != Some(ExcursionState::CalledOff));
    let outside = slips::outside(&here, &flight);
    let arriving = tools::arriving_with(&mut db, &own).await?;
    let query = viewer.address().split_once('?').map_or("", |query| query.1);
    let page = Fields::read(query.as_bytes()).get("page").parse().unwrap_or(1);
    let needed = reach::tasks_needed_by(&mut db, &own).await?;
    let at = addresses::within("flights", &code);
    let pager = Pager::new(page, NEEDED, whole(needed.len()), |page| format!("{at}?page={page}"));
    let skip = usize::try_from((pager.page - 1) * NEEDED).unwrap_or(0);
    let most = usize::try_from(NEEDED).unwrap_or(0);
    let shown: Vec<TaskCode> = needed.into_iter().skip(skip).take(most).collect();
    let standings = standing::these(&mut db, &shown).await?;
    let version = register::find(&mut db, Kind::Flight, &code).await?.map_or(0, |row| row.version);
    Ok(Page(FlightPage {
        page: viewer.frame(format!("Flight {code}"), Nav::Flights).of_version(version),
        edit: format!("{}/edit", addresses::within("flights", &code)),
        new_excursion: format!("/excursions/new?flight={}", addresses::encoded(&code)),
        excursions: tallies.iter().map(|tally| excursion_view(tally, &rooms)).collect(),
        tools: arriving
            .into_iter()
            .map(|tool| (tool.code.0.as_str().to_owned(), tool.name.into_string()))
            .collect(),
        needed: standings
            .into_iter()
            .map(|row| (row.task.as_str().to_owned(), row.title, row.state.word()))
            .collect(),
        pager,
        may_keep: may(viewer.actor.role, Action::KeepFlights),
        outside,
        flight,
        code,
    }))
}
