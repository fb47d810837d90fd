//! Flights, with the day by which they are ordered.

use crate::domain::cells::{Line, Prose};
use crate::domain::codes::{FlightCode, Own};
use crate::domain::flights::Flight;
use crate::domain::time::Day;
use crate::domain::words::FlightState;
use crate::store::kept;

macro_rules! flight_rows {
    ($rest:literal $(, $value:expr)*) => {
        sqlx::query_as!(
            Flight,
            r#"SELECT code AS "code: Own<FlightCode>", name AS "name: Line",
                   launch AS "launch: Day", landing AS "landing: Day", sequence,
                   state AS "state: FlightState", notes AS "notes: Prose"
               FROM flight "# + $rest
            $(, $value)*
        )
    };
}

kept! {
    Flight, flight_rows,
    "INSERT INTO flight (code, name, launch, landing, sequence, state, notes)
     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)
     ON CONFLICT (code) DO UPDATE SET name = excluded.name, launch = excluded.launch,
         landing = excluded.landing, sequence = excluded.sequence, state = excluded.state,
         notes = excluded.notes",
    code, name, launch, landing, sequence, state, notes
}
