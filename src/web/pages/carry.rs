//! Carry lines from the record: what happened to tasks, placed on the columns of a page.

use crate::drawings::carry_line::{CarryLine, Height, Mark, MarkKind, NeededBy, fold_earlier};
use crate::drawings::columns::{self, Columns, Flight, Where};
use app::calendar::Calendar;
use app::dossier::Dossier;
use app::read::flights::FlightRow;
use app::read::history::OpeningRow;
use domain::codes::{ExcursionCode, FlightCode, TaskCode};
use domain::history::{EventKind, Phase, Visit, When, standing};
use domain::repeat_guard::Approach;
use domain::words::{ClosureKind, FlightState, SlotState};

/// The columns of a page: all flights but those that were cancelled.
pub(crate) fn columns(calendar: &Calendar) -> Columns {
    let kept = || {
        let flights = calendar.flights.iter().enumerate();
        flights.filter(|(_, row)| row.state != FlightState::Cancelled)
    };
    let is_coming = |row: &FlightRow| row.state == FlightState::Coming;
    let places = |coming| {
        let of = kept().filter(move |(_, row)| is_coming(row) == coming);
        of.map(|(place, _)| place).collect::<Vec<usize>>()
    };
    let (flown, coming) = (places(false), places(true));
    let shown = [
        &flown[flown.len().saturating_sub(columns::FLOWN)..],
        &coming[..coming.len().min(columns::COMING)],
    ]
    .concat();
    // A long record has tens of thousands of excursions: those of flights not shown are not named.
    let excursions = |place: usize| -> Vec<String> {
        if !shown.contains(&place) {
            return Vec::new();
        }
        calendar.of_flight(place).iter().map(ToString::to_string).collect()
    };
    let flight = |(place, row): (usize, &FlightRow)| Flight {
        code: row.code.to_string(),
        excursions: excursions(place),
        coming: is_coming(row),
    };
    Columns::of(kept().map(flight).collect())
}

/// A task's line, with the approaches in the order in which they were first tried.
pub(crate) struct Traced<'a> {
    pub line: CarryLine<'a>,
    pub approaches: Vec<Approach>,
}

/// The opening of a task in its dossier.
pub(crate) fn opening<'d>(dossier: &'d Dossier, task: &TaskCode) -> Option<&'d OpeningRow> {
    dossier.events.openings.iter().find(|opening| opening.task == *task)
}

/// Traces one task over the columns.
pub(crate) fn trace<'c>(
    dossier: &Dossier,
    columns: &'c Columns,
    opening: &OpeningRow,
    at_risk: bool,
) -> Traced<'c> {
    let events = dossier.events_of(opening);
    let order = standing(&events).ordered;
    let mut tracer = Tracer { dossier, columns, opening, approaches: Vec::new(), opened: None };
    let mut marks: Vec<Mark> = Vec::new();
    let mut ahead: Vec<Mark> = Vec::new();
    for index in order {
        let event = &events[index];
        match tracer.mark(&event.code, &event.when, &event.what) {
            Some((mark, true)) => ahead.push(mark),
            Some((mark, false)) => marks.push(mark),
            None => {}
        }
    }
    fold_earlier(&mut marks);
    ahead.sort_by_key(|mark| mark.at);
    marks.extend(ahead);
    let line = CarryLine {
        columns,
        task: opening.task.as_str().to_owned(),
        opened: tracer.opened.unwrap_or(Where::Earlier),
        marks,
        needed_by: needed_by(&dossier.calendar, columns, opening, at_risk),
    };
    Traced { line, approaches: tracer.approaches }
}

struct Tracer<'d, 'c> {
    dossier: &'d Dossier,
    columns: &'c Columns,
    opening: &'d OpeningRow,
    approaches: Vec<Approach>,
    opened: Option<Where>,
}

impl Tracer<'_, '_> {
    /// The mark of an event, and whether it lies ahead.
    fn mark(&mut self, code: &str, when: &When, what: &EventKind) -> Option<(Mark, bool)> {
        match what {
            EventKind::Move { .. } => None,
            EventKind::Opened => {
                self.opened = Some(self.between(when));
                None
            }
            EventKind::Attempt(tried) => {
                let own = self.dossier.events.attempts_of(&self.opening.task);
                let row = own.iter().find(|a| a.code.as_str() == code)?;
                let approach =
                    Approach { technique: row.technique.clone(), side: row.side.clone() };
                let height = self.height(&approach);
                let left = self.dossier.left_around(&row.code);
                let left = left.and_then(|around| around.after.known());
                let kind = MarkKind::of(tried.outcome, left);
                let spent = row.minutes.map_or_else(String::new, |m| format!(", {}", m.clock()));
                let mark = self.on(&tried.excursion, kind, height)?;
                Some((mark.noting(format!("{}{spent}", tried.outcome)), false))
            }
            EventKind::Deferral(put_off) => {
                let mark = self.on(&put_off.excursion, MarkKind::Deferral, Height::Kept)?;
                Some((mark.noting(format!("deferred {}", put_off.phase)), false))
            }
            EventKind::Closure { kind } => {
                let mark = if kind.ends_done() { MarkKind::Done } else { MarkKind::Dropped };
                let note = if *kind == ClosureKind::NotWanted { "dropped" } else { kind.word() };
                Some((Mark::between(self.between(when), mark).noting(note), false))
            }
            EventKind::Parking => {
                Some((Mark::between(self.between(when), MarkKind::Parked), false))
            }
            EventKind::Reopening { .. } => {
                Some((Mark::between(self.between(when), MarkKind::Reopened), false))
            }
            EventKind::Slot(held) => {
                let kind = match (held.state, held.visit) {
                    (SlotState::Set, Visit::Ahead | Visit::InDebrief) => MarkKind::Set,
                    (SlotState::Pencilled, Visit::Ahead) => MarkKind::Pencilled,
                    _ => return None,
                };
                let own = self.dossier.events.slots_of(&self.opening.task);
                let row = own.iter().find(|slot| slot.code.as_str() == code)?;
                let approach =
                    Approach { technique: row.technique.clone(), side: row.side.clone() };
                let height = if approach == Approach::default() {
                    Height::Kept
                } else {
                    self.height(&approach)
                };
                let mark = self.on(&held.excursion, kind, height)?;
                Some((mark.noting(held.state.word()), true))
            }
        }
    }

    fn on(&self, excursion: &ExcursionCode, kind: MarkKind, height: Height) -> Option<Mark> {
        let flight = self.dossier.calendar.flight_named(excursion);
        let flight = flight.map_or("", FlightCode::as_str);
        let at = self.columns.excursion(excursion.as_str(), flight)?;
        Some(Mark::on(at, excursion.as_str(), kind, height))
    }

    fn height(&mut self, approach: &Approach) -> Height {
        if !approach.is_whole() {
            return Height::Unrecorded;
        }
        let known = self.approaches.iter().position(|other| other == approach);
        Height::Approach(known.unwrap_or_else(|| {
            self.approaches.push(approach.clone());
            self.approaches.len() - 1
        }))
    }

    /// Where something between excursions stands: behind the flight that it follows.
    fn between(&self, when: &When) -> Where {
        let Some(rank) = when.flight.and_then(|rank| usize::try_from(rank).ok()) else {
            return match self.opening.opened {
                None => Where::Earlier,
                Some(_) => self.columns.before_now(),
            };
        };
        let calendar = &self.dossier.calendar;
        let flight =
            if when.phase == Phase::BeforeLaunch { rank.checked_sub(1) } else { Some(rank) };
        let ahead = |code: &FlightCode| {
            calendar.rank(code).is_some_and(|r| calendar.flights[r].state == FlightState::Coming)
        };
        flight
            .and_then(|rank| calendar.flights.get(rank))
            .filter(|row| !ahead(&row.code))
            .and_then(|row| self.columns.after(row.code.as_str()))
            .unwrap_or(if flight.is_none() { Where::Earlier } else { self.columns.before_now() })
    }
}

/// The bracket closes the column of the needed-by flight, or of the last one that lands by the day.
fn needed_by(
    calendar: &Calendar,
    columns: &Columns,
    opening: &OpeningRow,
    at_risk: bool,
) -> Option<NeededBy> {
    if let Some(flight) = &opening.needed_by_flight {
        let at = columns.after(flight.as_str())?;
        return Some(NeededBy { by: flight.as_str().to_owned(), at, at_risk });
    }
    let day = opening.needed_by_day?;
    let last = calendar
        .flights
        .iter()
        .filter(|flight| flight.state != FlightState::Cancelled)
        .rfind(|flight| flight.launch.is_some_and(|launch| launch <= day))?;
    let at = columns.after(last.code.as_str())?;
    Some(NeededBy { by: day.to_string(), at, at_risk })
}
