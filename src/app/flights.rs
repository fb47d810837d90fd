//! Flights: kept by leads; their dates give the order of everything.

use crate::app::Failure;
use crate::app::records::Ruled;
use crate::app::work::Work;
use crate::domain::flights::Flight;
use crate::domain::words::{ExcursionState, FlightState};
use crate::store::{excursions, flights, reach};

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
        let cancels = flight.state == FlightState::Cancelled
            && before.is_some_and(|before| before.state != FlightState::Cancelled);
        if cancels {
            let left = excursions::of_flight(work.db(), &flight.code.0).await?;
            if let Some(planned) = left.iter().find(|e| e.state == Some(ExcursionState::Planned)) {
                return Err(Failure::Refused(format!(
                    "{} is still planned; call the excursions of {} off first, so that what was \
                     set on them goes back to the backlog.",
                    planned.code.0, flight.code.0
                )));
            }
        }
        Ok(())
    }

    async fn follow(work: &mut Work, before: Option<&Self>, flight: &Self) -> Result<(), Failure> {
        flights::save_order_day(work.db(), &flight.code.0).await?;
        if before.is_some() {
            for task in reach::tasks_of_flight(work.db(), &flight.code.0).await? {
                work.touch(&task);
            }
        }
        Ok(())
    }
}
