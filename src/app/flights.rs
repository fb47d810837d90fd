//! Flights: kept by leads; their dates give the order of everything.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::records::{Ruled, code_refused};
use crate::work::Work;
use crate::{Failure, slips, touched};
use domain::codes::FlightCode;
use domain::flights::Flight;
use domain::kinds::Kind;
use domain::new_codes;
use domain::time::Day;
use domain::words::{ExcursionState, FlightState};
use store::{excursions, flights, reach};

impl Ruled for Flight {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        flight: &mut Self,
    ) -> Result<(), Failure> {
        if let (Some(launch), Some(landing)) = (flight.launch, flight.landing)
            && landing < launch
        {
            return Err(Failure::field("landing", "The landing lies before the launch."));
        }
        if before.is_none() && flight.code.0.is_blank() && !work.creates_missing {
            let next = next_code(work.db()).await?;
            let next = next.map_or_else(String::new, |next| format!(" The next one is {next}."));
            return Err(Failure::field("code", format!("Type the code of the flight.{next}")));
        }
        if before.is_none() {
            by_its_dates(work, flight);
        }
        if let Some(before) = before.filter(|_| !work.creates_missing) {
            ask_for_excursions(work, before, flight).await?;
        }
        let cancels = flight.state == FlightState::Cancelled
            && before.is_some_and(|before| before.state != FlightState::Cancelled);
        if cancels {
            let left = excursions::of_flight(work.db(), &flight.code.0).await?;
            if let Some(planned) = left.iter().find(|e| e.state == Some(ExcursionState::Planned)) {
                return Err(Failure::Refused(format!(
                    "{} is still planned; call the excursions of {} off first, so that what was \
                     set on them returns to the backlog.",
                    planned.code.0, flight.code.0
                )));
            }
        }
        Ok(())
    }

    async fn follow(work: &mut Work, before: Option<&Self>, flight: &Self) -> Result<(), Failure> {
        flights::save_order_day(work.db(), &flight.code.0).await?;
        if let Some(before) = before
            && work.move_excursions == Some(true)
            && let Some(days) = slips::days(before, flight)
        {
            slips::move_along(work, flight, days).await?;
        }
        Ok(())
    }

    async fn reach(work: &mut Work, flight: &Self) -> Result<(), Failure> {
        let tasks = reach::tasks_of_flight(work.db(), &flight.code.0).await?;
        touched::all(work, tasks);
        Ok(())
    }
}

/// A new flight that nobody says anything of is coming; its dates may say that it has begun or landed.
fn by_its_dates(work: &mut Work, flight: &mut Flight) {
    let is_past = |day: Option<Day>| day.is_some_and(|day| day < work.today);
    let (state, words) = match flight.state {
        FlightState::Coming if is_past(flight.landing) => (FlightState::Flown, "has landed"),
        FlightState::Coming if flight.landing.is_some() && is_past(flight.launch) => {
            (FlightState::UnderWay, "has been launched")
        }
        _ => return,
    };
    flight.state = state;
    work.note(format!("By its dates {} {words}: its state is “{state}”.", flight.code.0));
}

/// Asks what becomes of the planned excursions of a flight that launches on another day.
async fn ask_for_excursions(
    work: &mut Work,
    before: &Flight,
    flight: &Flight,
) -> Result<(), Failure> {
    match work.move_excursions {
        None => {
            if let Some(slip) = slips::ask(work, before, flight).await? {
                return Err(Failure::Slip(Box::new(slip)));
            }
            for breaks in slips::elsewhere(work, before, flight).await? {
                work.note(breaks);
            }
            Ok(())
        }
        Some(true) => match slips::past_landing(work, before, flight).await? {
            Some(why) => Err(Failure::field("landing", why)),
            None => Ok(()),
        },
        Some(false) => Ok(()),
    }
}

/// The flight for which the team plans next: the first in order that has not landed.
#[boxed]
pub async fn next_to_launch(db: &mut SqliteConnection) -> Result<Option<FlightCode>, Failure> {
    let all = flights::in_order(db).await?;
    Ok(all.into_iter().find(|flight| flight.state.is_ahead()).map(|flight| flight.code))
}

/// The next code of a flight in the team's own pattern; `None` where the codes show none.
#[boxed]
pub async fn next_code(db: &mut SqliteConnection) -> Result<Option<String>, Failure> {
    let all = flights::in_order(db).await?;
    let Some(code) = new_codes::following(all.iter().map(|flight| flight.code.as_str())) else {
        return Ok(None);
    };
    Ok(code_refused(db, Kind::Flight, &code, None).await?.is_none().then_some(code))
}
