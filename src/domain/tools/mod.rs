//! Tools and hardware items, when they come aboard, and how many there are.

mod balance;
mod hands;

pub use balance::{Arrival, Balance, Change, Ledger, Outing, OutsideTool, Window, balance};
pub use hands::{Hand, at_once, clashes};

use crate::cells::{Line, Prose};
use crate::codes::{FlightCode, Own, ToolCode};
use crate::records::record;
use crate::time::Day;
use crate::units::{Kilograms, Litres};
use crate::words::ToolState;

record! {
    /// A tool or an item of hardware.
    Tool is Tool {
        code: Own<ToolCode> = "Code" also ["tool"],
        name: Line = "Name",
        mass: Option<Kilograms> = "Mass, kg",
        volume: Option<Litres> = "Volume, l",
        on_board: Option<i64> = "Count on board" also ["count", "on board"],
        counted_on: Option<Day> = "Counted on" also ["counted"] hint "What was lost, broken or left outside since is subtracted. Left empty: today.",
        arrives_with: Option<FlightCode> = "Comes with flight" also ["arrives", "flight"],
        arriving: Option<i64> = "How many come with it" hint "Left empty: one.",
        state: ToolState = "State",
        notes: Prose = "Notes",
    }
}
