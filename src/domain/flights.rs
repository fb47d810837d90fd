//! Flights: the missions of the vehicle.

use crate::domain::cells::{Line, Prose};
use crate::domain::codes::{FlightCode, Own};
use crate::domain::records::record;
use crate::domain::time::Day;
use crate::domain::words::FlightState;

record! {
    /// One mission of the vehicle. Flights are ordered by launch, then by `sequence`.
    Flight is Flight {
        code: Own<FlightCode> = "Code" also ["flight"],
        name: Option<Line> = "Name",
        launch: Option<Day> = "Launch date" also ["launched"],
        landing: Option<Day> = "Landing date" also ["landed", "undocking", "undocking date"],
        sequence: Option<i64> = "Order" also ["order"] hint "A number; decides only where the dates do not.",
        state: FlightState = "State",
        notes: Prose = "Notes",
    }
}
