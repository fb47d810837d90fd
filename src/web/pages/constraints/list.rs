//! Every constraint in force, the most pressing first; below them those that ended.

use askama::Template;
use axum::extract::State;

use super::rows::{ConstraintRow, Group, Left, RowContext, launches, row};
use crate::drawings::constraint_bars::{Ahead, Axis};
use crate::drawings::markup::Drawing;
use crate::extract::Fields;
use crate::failure::PageError;
use crate::forms::Pager;
use crate::frame::{Nav, PageFrame};
use crate::linked::{Piece, linked};
use crate::page::Page;
use crate::pages::carry;
use crate::tables;
use crate::visitor::Viewer;
use app::App;
use app::calendar::Calendar;
use app::constraints::{self, InForce};
use domain::constraints::ConstraintState;
use domain::kinds::Kind;
use domain::roles::{Action, action_for, may};
use domain::time::Day;

/// Constraints on one page.
const PAGE: i64 = 60;

#[derive(Template)]
#[template(path = "constraints/list.html")]
pub(crate) struct ConstraintsPage {
    page: PageFrame,
    csv: String,
    lead: String,
    head: Drawing,
    flights: Vec<String>,
    groups: Vec<Section>,
    over: Vec<Over>,
    /// How many hold no more, on all pages.
    gone: usize,
    pager: Pager,
    may_write: bool,
    may_lift: bool,
    /// Stands at the head of every sheet.
    stamp: String,
}

struct Section {
    heading: &'static str,
    under: &'static str,
    mark: &'static str,
    word: &'static str,
    /// How many all pages hold together.
    total: usize,
    rows: Vec<ConstraintRow>,
}

/// One that holds no more.
struct Over {
    code: String,
    forbidden: String,
    words: Vec<Piece>,
    state: ConstraintState,
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<ConstraintsPage>, PageError> {
    let today = viewer.now().day();
    let mut db = app.reader().await?;
    let read = constraints::read_all(&mut db, today).await?;
    let around = RowContext { calendar: &read.calendar, axis: axis(&read.calendar, today), today };
    let mut rows: Vec<ConstraintRow> = read.in_force().map(|one| row(one, &around)).collect();
    rows.sort_by_key(|row| (row.group, row.one.until.is_none(), row.one.until, row.code.clone()));
    let lead = lead(&rows);
    let mut groups = [
        (
            "past their date",
            "Still in force. Renew, end or lift them today.",
            "v-no",
            "past its date",
            Group::Past,
        ),
        (
            "not ended in time",
            "No set slot, or one after the date.",
            "v-tight",
            "at risk",
            Group::NotInTime,
        ),
        ("ended in time", "By a set slot.", "v-fits", "in time", Group::InTime),
    ]
    .map(|(heading, under, mark, word, group)| {
        (group, Section { heading, under, mark, word, total: 0, rows: Vec::new() })
    });
    let over: Vec<&InForce> = read.all.iter().filter(|one| !one.state.holds()).collect();
    let (in_force, gone) = (rows.len(), over.len());
    let page = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let page = Fields::read(page.as_bytes()).get("page").parse().unwrap_or(1);
    let total = i64::try_from(in_force + gone).unwrap_or(i64::MAX);
    let pager = Pager::new(page, PAGE, total, |page| format!("/constraints?page={page}"));
    let on_page = pager.rows();
    for (at, row) in rows.into_iter().enumerate() {
        if let Some((_, section)) = groups.iter_mut().find(|(group, _)| *group == row.group) {
            section.total += 1;
            if on_page.contains(&at) {
                section.rows.push(row);
            }
        }
    }
    let over = over.into_iter().enumerate().filter(|(at, _)| on_page.contains(&(in_force + at)));
    let over = over.map(|(_, one)| self::over(one)).collect();
    if let [(Group::Past, past), ..] = &mut groups
        && past.total == 1
    {
        past.heading = "past its date";
        past.under = "Still in force. Renew, end or lift it today.";
    }
    let frame = viewer.frame("What the vehicle may not do", Nav::Constraints);
    Ok(Page(ConstraintsPage {
        stamp: crate::papers::stamp(&frame),
        page: frame,
        csv: tables::address_of("constraints", ""),
        lead,
        head: around.axis.head(),
        flights: launches(&read.calendar).into_iter().map(|(flight, _)| flight).collect(),
        groups: groups
            .into_iter()
            .map(|(_, section)| section)
            .filter(|section| !section.rows.is_empty())
            .collect(),
        over,
        gone,
        pager,
        may_write: may(viewer.actor.role, action_for(Kind::Constraint)),
        may_lift: may(viewer.actor.role, Action::LiftConstraint),
    }))
}

/// The axis of the flights: those flown with their excursions, those ahead to scale.
pub(crate) fn axis(calendar: &Calendar, today: Day) -> Axis {
    let columns = carry::columns(calendar);
    let flown = columns
        .flights()
        .iter()
        .filter(|flight| !flight.coming)
        .map(|flight| (flight.code.clone(), flight.excursions.clone()))
        .collect();
    let ahead = calendar
        .flights
        .iter()
        .filter(|flight| flight.state.is_ahead())
        .filter_map(|flight| {
            let launch = flight.launch?;
            let landing = flight.landing.unwrap_or(launch);
            Some(Ahead { code: flight.code.to_string(), launch, landing })
        })
        .filter(|flight| flight.landing >= today)
        .collect();
    Axis::of(flown, ahead, today)
}

/// How many are in force, and how they end, in one sentence.
fn lead(rows: &[ConstraintRow]) -> String {
    let are = |count: usize| match count {
        0 => "No constraint is".to_owned(),
        1 => "1 constraint is".to_owned(),
        count => format!("{count} constraints are"),
    };
    let mut words = format!("{} in force.", are(rows.len()));
    let past = rows.iter().filter(|row| row.group == Group::Past).count();
    let nothing = rows.iter().filter(|row| row.group != Group::Past && row.one.slot.is_none());
    let nothing = nothing.count();
    let pencilled = |row: &&ConstraintRow| row.one.is_pencilled_only();
    let at_risk = rows.iter().filter(|row| row.group == Group::NotInTime && row.one.slot.is_some());
    let (pencilled, late): (Vec<_>, Vec<_>) = at_risk.partition(pencilled);
    let parts = [
        (past, "past its date", "past their date"),
        (late.len(), "ended only after its date", "ended only after their date"),
        (nothing, "ended by nothing", "ended by nothing"),
        (pencilled.len(), "ended by a pencilled slot only", "ended by pencilled slots only"),
        (
            rows.iter().filter(|row| row.group == Group::InTime).count(),
            "ended in time",
            "ended in time",
        ),
    ];
    let said: Vec<String> = parts
        .into_iter()
        .filter(|(count, ..)| *count > 0)
        .map(
            |(count, one, several)| {
                if count == 1 { format!("1 is {one}") } else { format!("{count} are {several}") }
            },
        )
        .collect();
    if !said.is_empty() {
        words.push(' ');
        words.push_str(&said.join(", "));
        words.push('.');
    }
    words
}

fn over(one: &InForce) -> Over {
    let constraint = &one.constraint;
    let on = |day: Option<Day>| day.map_or_else(String::new, |day| format!(" on {day}"));
    let words = match (one.state, &constraint.lifted_by, &constraint.task) {
        (ConstraintState::Lifted, Some(by), _) => format!(
            "Lifted by {by}{}: {}",
            on(constraint.lifted_on),
            constraint.lift_reason.as_str()
        ),
        (_, _, Some(task)) => {
            format!("Ended{} when {task} was done.", on(one.task_done.flatten()))
        }
        _ => "Ended when its outside items came in.".to_owned(),
    };
    Over {
        code: constraint.code.0.to_string(),
        forbidden: constraint.forbidden.to_string(),
        words: linked(&words),
        state: one.state,
    }
}
