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
        code: Own<ToolCode> = "Code" also ["tool", "tool no", "tool number", "tool id", "part no", "part number", "p n", "item no", "item number"],
        name: Line = "Name" also ["item", "tool name", "nomenclature", "description", "title"],
        mass: Option<Kilograms> = "Mass, kg" also ["mass", "weight kg"],
        volume: Option<Litres> = "Volume, l" also ["volume"],
        on_board: Option<i64> = "Count aboard" also ["count", "count on board", "on board", "qty", "quantity", "qty on board", "stock", "number on board"],
        counted_on: Option<Day> = "Counted on" also ["counted", "last counted", "inventory date"] hint "What was lost, broken or left outside since is subtracted. Left empty: today.",
        arrives_with: Option<FlightCode> = "Comes with flight" also ["arrives", "flight", "arrives on", "arriving on", "delivered by", "comes with"],
        arriving: Option<i64> = "How many come with it" also ["qty arriving", "quantity arriving"] hint "Left empty: one.",
        returns_with: Option<FlightCode> = "Returns with flight" also ["returns", "returns with", "return flight", "comes down with"] hint "The flight that takes it down.",
        going_down: Option<i64> = "How many return with it" also ["qty returning", "quantity returning"] hint "Left empty: one.",
        state: ToolState = "State" also ["status", "condition"],
        notes: Prose = "Notes" also ["remarks", "comments", "comment"],
    }
}
