//! Flights: the missions of the vehicle.

use crate::cells::{Line, Prose};
use crate::codes::{FlightCode, Own};
use crate::records::record;
use crate::time::Day;
use crate::words::FlightState;

record! {
    /// One mission of the vehicle. Flights are ordered by launch, then by `sequence`.
    Flight is Flight {
        code: Own<FlightCode> = "Code" also ["flight", "flight no", "flight number", "flight id", "mission", "mission no"],
        name: Option<Line> = "Name" also ["flight name", "mission name", "title"],
        launch: Option<Day> = "Launch date" also ["launched", "launch", "launch day", "lift off", "departure", "departs"],
        landing: Option<Day> = "Landing date" also ["landed", "undocking", "undocking date", "landing", "return", "return date", "returns"],
        sequence: Option<i64> = "Order" also ["order"] hint "A number; decides only where the dates do not.",
        state: FlightState = "State" also ["status"],
        notes: Prose = "Notes" also ["remarks", "comments", "comment", "description", "purpose"],
    }
}
