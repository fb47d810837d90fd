//! Tools and hardware items, and when they come aboard.

use crate::domain::cells::{Line, Prose};
use crate::domain::codes::{FlightCode, Own, ToolCode};
use crate::domain::records::record;
use crate::domain::units::{Kilograms, Litres};
use crate::domain::words::ToolState;

record! {
    /// A tool or an item of hardware.
    Tool is Tool {
        code: Own<ToolCode> = "Code" also ["tool"],
        name: Line = "Name",
        mass: Option<Kilograms> = "Mass, kg",
        volume: Option<Litres> = "Volume, l",
        on_board: Option<i64> = "Count on board" also ["count", "on board"],
        arrives_with: Option<FlightCode> = "Comes with flight" also ["arrives", "flight"],
        state: ToolState = "State",
        notes: Prose = "Notes",
    }
}
