//! What needs people: the first page.

mod calls;
mod first_steps;

use askama::Template;
use axum::extract::State;

use crate::drawings::carry_line::MarkKind;
use crate::drawings::columns::Columns;
use crate::drawings::flights_strip::{self, StripExcursion, StripFlight};
use crate::drawings::markup::Drawing;
use crate::extract::Fields;
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page};
use crate::pages::carry;
use crate::pages::changes::ChangeRow;
use crate::visitor::Viewer;
use app::attention::{self, Attention};
use app::work::Work;
use app::{self, App};
use domain::units::Share;
use domain::words::SlotState;
use store::events::Ended;

use calls::{Group, groups};
use first_steps::FirstStepsView;

#[derive(Template)]
#[template(path = "home/show.html")]
pub(crate) struct HomePage {
    page: PageFrame,
    heading: String,
    first_steps: Option<FirstStepsView>,
    next: Option<(String, String)>,
    strip: Drawing,
    columns: Columns,
    groups: Vec<Group>,
    changes: Vec<ChangeRow>,
    change_count: i64,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<HomePage>, PageError> {
    let mut db = app.db.reader().await?;
    let today = viewer.now().day();
    let attention = attention::read(&mut db, viewer.seen_change, today).await?;
    let columns = carry::columns(&attention.dossier.calendar);
    let strip = flights_strip::draw(&flights(&attention, &columns), "flights");
    let groups = groups(&attention, &columns);
    let things: i64 = groups.iter().map(|group| group.count).sum();
    let role = viewer.actor.role;
    let first_steps = app::first_steps::read(&mut db, role).await?;
    let first_steps = first_steps.map(|steps| first_steps::view(steps, role));
    let heading = match things {
        0 if first_steps.is_some() => "This record is new".to_owned(),
        0 => "Nothing needs you now".to_owned(),
        1 => "1 thing needs you".to_owned(),
        things => format!("{things} things need you"),
    };
    let next = attention.next.as_ref().map(|excursion| {
        let when = match excursion.day {
            Some(day) if day.since(today) >= 0 => {
                format!("in {} days, {day} {}", day.since(today), day.of_year())
            }
            Some(day) => format!("{day} {}", day.of_year()),
            None => "date unknown".to_owned(),
        };
        (excursion.code.0.to_string(), when)
    });
    Ok(Page(HomePage {
        page: viewer.frame("Attention", Nav::Attention),
        heading,
        first_steps,
        next,
        strip,
        groups,
        changes: attention.changes.iter().map(ChangeRow::of).collect(),
        change_count: attention.change_count,
        columns,
    }))
}

/// Notes that the person has looked at every change.
pub(crate) async fn looked(
    State(app): State<App>,
    viewer: Viewer,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    attention::looked(&mut work).await?;
    Ok(Done::to(work.finish("/").await?).saying("Marked as read."))
}

fn flights(attention: &Attention, columns: &Columns) -> Vec<StripFlight> {
    let last_flown = columns.flights().iter().rposition(|flight| !flight.coming);
    let excursion = |code: &String| StripExcursion {
        code: code.clone(),
        marks: attention
            .slots
            .iter()
            .filter(|ended| ended.excursion.as_str() == code)
            .filter_map(mark)
            .collect(),
        to_debrief: attention.to_debrief.iter().any(|e| e.code.0.as_str() == code),
    };
    columns
        .flights()
        .iter()
        .enumerate()
        .map(|(index, flight)| StripFlight {
            code: flight.code.clone(),
            coming: flight.coming,
            excursions: flight.excursions.iter().map(excursion).collect(),
            open_after: (Some(index) == last_flown).then_some(attention.open_count),
        })
        .collect()
}

fn mark(ended: &Ended) -> Option<MarkKind> {
    match (ended.outcome, ended.deferred, ended.state) {
        (Some(outcome), _, _) => Some(MarkKind::of(outcome, ended.left.map(Share))),
        (None, true, _) => Some(MarkKind::Deferral),
        (None, false, SlotState::Set) => Some(MarkKind::Set),
        (None, false, SlotState::Pencilled) => Some(MarkKind::Pencilled),
        (None, false, SlotState::Flown | SlotState::Withdrawn) => None,
    }
}
