//! The order of flights and excursions, for placing what happened.
//!
//! A long record has tens of thousands of excursions, and most pages place something among them: the
//! calendar of the state that was read last is kept for the next page.

use async_recursion::async_recursion as boxed;
use std::collections::HashMap;
use std::ops::Deref;
use std::sync::{Arc, Mutex, PoisonError};

use sqlx::SqliteConnection;

use crate::Failure;
use domain::codes::{ExcursionCode, FlightCode};
use domain::history::{FlightDays, OnFlight, Phase, Visit, When};
use domain::time::{Day, Moment};
use domain::units::Pet;
use domain::words::{ExcursionState, FlightState};
use store::calendar::ExcursionRow;
use store::flights::FlightRow;
use store::forms::{self, State};
use store::history::DeferralRow;
use store::{calendar, flights};

/// One for the whole process, which serves one file.
static KEPT: Mutex<Option<(State, Calendar)>> = Mutex::new(None);

/// The calendar of one state of the record, shared by all who read it.
#[derive(Debug, Clone, Default)]
pub struct Calendar(Arc<Order>);

impl Deref for Calendar {
    type Target = Order;
    fn deref(&self) -> &Order {
        &self.0
    }
}

/// All flights in order, and where each excursion stands in its flight.
#[derive(Debug, Default)]
pub struct Order {
    pub flights: Vec<FlightRow>,
    pub excursions: HashMap<ExcursionCode, OnCalendar>,
    /// The excursions of each flight, by the place of the flight, in their order.
    of_flights: Vec<Vec<ExcursionCode>>,
    ranks: HashMap<FlightCode, usize>,
    days: Vec<FlightDays>,
}

/// An excursion with its places in the order, each from 0.
#[derive(Debug, Clone)]
pub struct OnCalendar {
    pub row: ExcursionRow,
    pub flight: Option<usize>,
    pub rank: usize,
}

impl Calendar {
    #[boxed]
    pub async fn load(db: &mut SqliteConnection) -> Result<Self, Failure> {
        let Some(state) = forms::state_read(db).await? else {
            return Ok(Self(Arc::new(Order::read(db).await?)));
        };
        if let Some(known) = kept(&state) {
            return Ok(known);
        }
        let read = Self(Arc::new(Order::read(db).await?));
        keep(state, &read);
        Ok(read)
    }
}

fn kept(state: &State) -> Option<Calendar> {
    let kept = KEPT.lock().unwrap_or_else(PoisonError::into_inner);
    kept.as_ref().filter(|(known, _)| known == state).map(|(_, calendar)| calendar.clone())
}

/// Keeps the calendar of a state, unless a newer one of that file is known.
fn keep(state: State, calendar: &Calendar) {
    let mut kept = KEPT.lock().unwrap_or_else(PoisonError::into_inner);
    if kept.as_ref().is_none_or(|(known, _)| !known.is_after(&state)) {
        *kept = Some((state, calendar.clone()));
    }
}

impl Order {
    async fn read(db: &mut SqliteConnection) -> Result<Self, Failure> {
        let flights = flights::in_order(db).await?;
        let rows = calendar::excursions(db).await?;
        let ranks: HashMap<FlightCode, usize> =
            flights.iter().enumerate().map(|(rank, flight)| (flight.code.clone(), rank)).collect();
        let mut days: Vec<FlightDays> = flights
            .iter()
            .zip(0..)
            .map(|(flight, rank)| FlightDays {
                rank,
                launch: flight.launch,
                landing: flight.landing,
                excursions: Vec::new(),
            })
            .collect();
        // Behind the flights stand the excursions of which the flight is unknown.
        let mut of_flights = vec![Vec::new(); flights.len() + 1];
        let mut excursions = HashMap::new();
        for row in rows {
            let flight = row.flight.as_ref().and_then(|code| ranks.get(code).copied());
            let here = &mut of_flights[flight.unwrap_or(flights.len())];
            let rank = here.len();
            if let (Some(flight), Some(day)) = (flight, row.day) {
                days[flight].excursions.push((whole(rank), day));
            }
            here.push(row.code.clone());
            excursions.insert(row.code.clone(), OnCalendar { row, flight, rank });
        }
        Ok(Self { flights, excursions, of_flights, ranks, days })
    }

    /// The excursions of the flight at that place, in their order.
    pub fn of_flight(&self, place: usize) -> &[ExcursionCode] {
        self.of_flights.get(place).map_or(&[], Vec::as_slice)
    }

    /// The flight of an excursion.
    pub fn flight_named(&self, excursion: &ExcursionCode) -> Option<&FlightCode> {
        Some(&self.flights.get(self.excursions.get(excursion)?.flight?)?.code)
    }

    pub fn rank(&self, flight: &FlightCode) -> Option<usize> {
        self.ranks.get(flight).copied()
    }

    /// The flight of an excursion, as events carry it.
    pub(crate) fn flight_of(&self, excursion: &ExcursionCode) -> Option<OnFlight> {
        let rank = self.excursions.get(excursion)?.flight?;
        let flight = &self.flights[rank];
        Some(OnFlight {
            code: flight.code.clone(),
            rank: whole(rank),
            landed: flight.state == FlightState::Flown,
        })
    }

    pub fn visit(&self, excursion: &ExcursionCode) -> Visit {
        match self.excursions.get(excursion).map(|on| &on.row) {
            Some(row) if row.state == ExcursionState::Planned => Visit::Ahead,
            Some(row) if row.state == ExcursionState::Flown && !row.is_closed => Visit::InDebrief,
            Some(_) | None => Visit::Over,
        }
    }

    /// The launch of the flight of an excursion.
    pub fn launch_of(&self, excursion: &ExcursionCode) -> Option<Day> {
        self.flights[self.excursions.get(excursion)?.flight?].launch
    }

    /// The place of an excursion in the order in which excursions are flown; those of which that is
    /// unknown come last.
    pub fn place(&self, excursion: &ExcursionCode) -> (usize, usize) {
        let on = self.excursions.get(excursion);
        on.map_or((usize::MAX, usize::MAX), |on| (on.flight.unwrap_or(usize::MAX), on.rank))
    }

    /// Whether the first excursion comes before the second; `None` where a flight is unknown.
    pub fn is_before(&self, first: &ExcursionCode, second: &ExcursionCode) -> Option<bool> {
        let place = |code: &ExcursionCode| {
            let on = self.excursions.get(code)?;
            Some((on.flight?, on.rank))
        };
        Some(place(first)? < place(second)?)
    }

    /// A place on an excursion.
    pub fn on(
        &self,
        excursion: &ExcursionCode,
        phase: Phase,
        pet: Option<Pet>,
        entry: i64,
    ) -> When {
        let Some(on) = self.excursions.get(excursion) else { return When::undated(entry) };
        let Some(flight) = on.flight else { return When::undated(entry) };
        let within = (phase != Phase::BeforeLaunch).then(|| whole(on.rank));
        When { pet, day: on.row.day, ..When::on(whole(flight), within, phase, entry) }
    }

    /// Where a deferral was decided: before launch, its own date tells when.
    pub fn put_off(&self, put_off: &DeferralRow, phase: Phase) -> When {
        let when = self.on(&put_off.excursion, phase, None, put_off.entry);
        if phase == Phase::BeforeLaunch {
            return When { day: put_off.day, ..when }.written_at(put_off.made_at);
        }
        when
    }

    /// After a flight had landed.
    pub fn after_flight(&self, flight: &FlightCode, entry: i64) -> When {
        match self.rank(flight) {
            Some(rank) => When::on(whole(rank), None, Phase::After, entry),
            None => When::undated(entry),
        }
    }

    /// A place by date alone; where it was written on that very day, by the hour.
    pub fn on_day(&self, day: Option<Day>, written: Option<Moment>, entry: i64) -> When {
        match day {
            Some(day) => {
                let when = When::on_day(day, &self.days, entry);
                written.map_or(when, |moment| when.written_at(moment))
            }
            None => When::undated(entry),
        }
    }
}

fn whole(rank: usize) -> i64 {
    i64::try_from(rank).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_calendar_of_a_state_is_kept_until_a_later_one_is_read() {
        let state = |file: &str, version| State { file: file.to_owned(), version };
        let (old, new) = (Calendar::default(), Calendar::default());
        keep(state("kept", 4), &old);
        assert!(kept(&state("kept", 4)).is_some_and(|known| Arc::ptr_eq(&known.0, &old.0)));
        assert!(kept(&state("kept", 5)).is_none(), "a save moved the version");
        assert!(kept(&state("other", 4)).is_none(), "another file");
        keep(state("kept", 5), &new);
        keep(state("kept", 4), &old);
        assert!(
            kept(&state("kept", 5)).is_some_and(|known| Arc::ptr_eq(&known.0, &new.0)),
            "a page that began before the save does not turn it back"
        );
    }
}
