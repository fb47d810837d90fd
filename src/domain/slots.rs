//! Slots: a task's place on an excursion.

use crate::cells::Line;
use crate::codes::{ExcursionCode, Own, SlotCode, TaskCode, TechniqueCode};
use crate::records::record;
use crate::seats::Seats;
use crate::sides::Side;
use crate::time::Day;
use crate::units::{Minutes, Pet, Share};
use crate::words::SlotState;

record! {
    /// A task's place on an excursion. Estimate and estimator stand as they stood when it was set.
    Slot is Slot {
        code: Own<SlotCode> = "Code" also ["slot"],
        task: TaskCode = "Task",
        excursion: ExcursionCode = "Excursion",
        technique: Option<TechniqueCode> = "Technique",
        side: Option<Side> = "Access side" also ["side"],
        seats: Seats = "Seats" hint "EV1, or EV1, EV2",
        place: Option<i64> = "Order on the excursion" also ["order"],
        state: SlotState = "State" op "moved on",
        share: Option<Share> = "% planned" also ["share planned, %"] hint "Left empty: all that is left.",
        not_before: Option<Pet> = "Begin no earlier than, PET" also ["begin no earlier than"] hint "To wait for a window or for a tool in other hands. Left empty: as soon as it can begin.",
        stopping_point: Option<Line> = "Safe stopping point",
        stopping_share: Option<Share> = "Done at the stopping point, %" hint "1 to 99; left empty, the work is not shortened on the day.",
        if_it_fails: Option<Line> = "If it fails",
        trigger: Option<Minutes> = "Fallback after, min" hint "Minutes of work after which the fallback is used.",
        trigger_words: Option<Line> = "Fallback when" hint "A torque, turns, a look; beside the minutes or instead of them.",
        then_technique: Option<TechniqueCode> = "Fallback technique",
        then_side: Option<Side> = "Fallback side",
        then_chance: Option<Share> = "Fallback needed, %" hint "How likely it is that the fallback is needed; your own judgement.",
        must_do: bool = "Must do",
        set_on: Option<Day> = "Set on" op "moved on",
        optimistic: Option<Minutes> = "Estimate then, optimistic" op "moved on",
        likely: Option<Minutes> = "Estimate then, likely" op "moved on",
        pessimistic: Option<Minutes> = "Estimate then, pessimistic" op "moved on",
        estimator: Option<Line> = "Estimator then" op "moved on",
        waived_gate: Option<Line> = "Waived check" also ["waived gate"] op "moved on",
        waiver: Option<Line> = "Waiver" op "moved on",
    }
}

/// `T-0146 (S-0155), T-0147 (S-0156)`: slots as a message names them.
pub fn named<'a>(slots: impl IntoIterator<Item = &'a Slot>) -> String {
    let name = |slot: &Slot| format!("{} ({})", slot.task, slot.code.0);
    slots.into_iter().map(name).collect::<Vec<_>>().join(", ")
}
