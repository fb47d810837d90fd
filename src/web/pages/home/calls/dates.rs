//! Flights and excursions whose date has passed while the record still takes them for coming.

use super::{Call, Group, Looks};
use crate::addresses;
use crate::linked::linked;
use crate::pages::home::{whole, words};
use app::read::flights::FlightRow;
use domain::excursions::Excursion;
use domain::roles::Action;

impl Looks<'_> {
    pub fn past_dates(&self) -> Group {
        let excursions = self.attention.past_excursions.iter().map(|one| self.past_excursion(one));
        let flights = self.attention.past_flights.iter().map(|one| self.past_flight(one));
        let calls: Vec<Call> = excursions.chain(flights).collect();
        Group {
            id: "past-dates",
            count: whole(calls.len()),
            heading: "Dates that have passed",
            nouns: ("date that has passed", "dates that have passed"),
            under: "Still coming in the record. Mark as flown, or enter the new date.",
            calls,
            all: None,
        }
    }

    fn past_flight(&self, flight: &FlightRow) -> Call {
        let code = flight.code.to_string();
        let address = addresses::within("flights", &code);
        let past = flight.landing.map_or(0, |day| self.today.since(day));
        let may = self.may(Action::KeepFlights);
        Call {
            words: linked(&format!(
                "Its landing date has passed, and its state is “{}”.",
                flight.state.word()
            )),
            when: format!("landed {}", words::ago(past)),
            is_late: false,
            act: format!("Mark {code} as flown"),
            act_address: format!("{address}/edit"),
            may,
            is_yours: may,
            pressing: (1, -past),
            address,
            code,
        }
    }

    fn past_excursion(&self, excursion: &Excursion) -> Call {
        let code = excursion.code.0.to_string();
        let address = addresses::within("excursions", &code);
        let past = excursion.day.map_or(0, |day| self.today.since(day));
        let may = self.may(Action::KeepExcursions);
        Call {
            words: linked("Its date has passed, and it is still planned."),
            when: format!("due {}", words::ago(past)),
            is_late: false,
            act: format!("Mark {code} as flown"),
            act_address: format!("{address}#flown"),
            may,
            is_yours: may,
            pressing: (1, -past),
            address,
            code,
        }
    }
}
