//! Flights: the missions of the vehicle.

use crate::cells::{Line, Prose};
use crate::codes::{FlightCode, Own};
use crate::records::record;
use crate::time::Day;
use crate::words::FlightState;

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
