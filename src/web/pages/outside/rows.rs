//! One item as the list shows it, and the words for its limit.

use crate::linked::{Piece, linked};
use domain::order_of_work::{LostWay, Plan};
use domain::outside::{FlightAhead, OutsideItem, RunsOut, runs_out_among};
use domain::time::Day;
use domain::words::OutsideState;
use domain::worksites::Route;

pub(super) struct ItemRow {
    pub item: OutsideItem,
    pub code: String,
    pub days_out: Option<i64>,
    /// Where the limit ends, in words.
    pub ends: Vec<Piece>,
    pub end: Option<Day>,
    /// Days left now, then at the launch of each flight ahead.
    pub left: Vec<DaysLeft>,
    /// Routes that need it, in words.
    pub routes: Vec<Vec<Piece>>,
    /// Set slots that lose their way as things stand, or would if it came in now.
    pub warnings: Vec<Vec<Piece>>,
}

/// Days left of a limit on some day.
pub(super) struct DaysLeft {
    pub days: Option<i64>,
}

impl DaysLeft {
    pub fn is_past(&self) -> bool {
        self.days.is_some_and(|days| days < 0)
    }

    /// With the minus sign that stands in figures.
    pub fn words(&self) -> String {
        match self.days {
            Some(days) if days < 0 => format!("−{}", -days),
            Some(days) => days.to_string(),
            None => "–".to_owned(),
        }
    }
}

pub(super) struct RowContext<'a> {
    pub routes: &'a [Route],
    pub flights: &'a [FlightAhead],
    pub plan: &'a Plan,
    pub lost: &'a [LostWay],
    pub today: Day,
}

pub(super) fn row(item: &OutsideItem, around: &RowContext<'_>) -> ItemRow {
    let RowContext { routes, flights, plan, lost, today } = around;
    let own = &item.code.0;
    let in_place = item.state == OutsideState::InPlace;
    let mut warned: Vec<String> =
        lost.iter().filter(|lost| lost.aid == *own).map(LostWay::to_string).collect();
    if warned.is_empty() && in_place {
        warned = plan.lost_now(own).iter().map(LostWay::to_string).collect();
    }
    let days: Vec<Option<Day>> =
        std::iter::once(Some(*today)).chain(dated(flights).map(|ahead| ahead.launch)).collect();
    ItemRow {
        code: own.to_string(),
        days_out: item.since.map(|since| item.ended_on.unwrap_or(*today).since(since)),
        ends: if in_place { linked(&ends(item, flights, *today)) } else { Vec::new() },
        end: item.runs_out(),
        left: days
            .into_iter()
            .map(|day| DaysLeft {
                days: day.filter(|_| in_place).and_then(|day| item.days_left(day)),
            })
            .collect(),
        routes: routes
            .iter()
            .filter(|route| route.aid.as_ref() == Some(own))
            .map(|route| linked(&format!("{} – {}", route.from_site, route.to_site)))
            .collect(),
        warnings: warned.iter().map(|words| linked(words)).collect(),
        item: item.clone(),
    }
}

/// The flights ahead that the list has a column for.
pub(super) fn dated(flights: &[FlightAhead]) -> impl Iterator<Item = &FlightAhead> {
    flights.iter().filter(|ahead| ahead.launch.is_some()).take(3)
}

/// `runs out between G-37 and G-38`.
pub(super) fn ends(item: &OutsideItem, flights: &[FlightAhead], today: Day) -> String {
    match item.runs_out() {
        Some(end) => match runs_out_among(end, today, flights) {
            RunsOut::Passed => "has run out".to_owned(),
            told => format!("runs out {told}"),
        },
        None if item.limit_is_uncertain() => {
            "unknown: the day it went out is not recorded".to_owned()
        }
        None => "no limit".to_owned(),
    }
}
