//! Changes that would open a slot, in words.

use super::changes::{Change, usable};
use super::sentences::{Part, clock, excursion_seats};
use super::snapshot::Snapshot;
use crate::places::{ApproachAt, ExcursionAt, SlotAt, TaskAt};
use domain::kinds::Kind;
use domain::words::RemedyState;

/// What is to be done, as a request: “Move T-0095 from E-37.1 to E-37.2”.
pub fn change_sentence(
    snapshot: &Snapshot,
    task: TaskAt,
    excursion: ExcursionAt,
    change: &Change,
) -> Vec<Part> {
    let text = |words: &str| Part::Text(words.to_owned());
    let there =
        |at: ExcursionAt| Part::Code(Kind::Excursion, snapshot.excursions[at].code.to_string());
    let held = |at: ExcursionAt, slot: SlotAt| {
        let task = snapshot.excursions[at].slots[slot].task;
        Part::Code(Kind::Task, snapshot.tasks[task].code.to_string())
    };
    match *change {
        Change::Drop { excursion, slot } => {
            vec![text("take "), held(excursion, slot), text(" off "), there(excursion)]
        }
        Change::Move { excursion, slot, to } => vec![
            text("move "),
            held(excursion, slot),
            text(" from "),
            there(excursion),
            text(" to "),
            there(to),
        ],
        Change::Place { lanes, before, start, waits } => {
            let here = &snapshot.excursions[excursion];
            let seats = excursion_seats(snapshot, excursion, lanes);
            let mut parts = vec![Part::Text(format!("work it in {seats}"))];
            match here.slots.get(before) {
                Some(slot) => {
                    let code = snapshot.tasks[slot.task].code.to_string();
                    parts.extend([text(" before "), Part::Code(Kind::Task, code)]);
                }
                None => parts.push(text(" after all others")),
            }
            let from = if waits { "begun no earlier than" } else { "from" };
            parts.push(Part::Text(format!(", {from} PET {}", clock(start))));
            parts
        }
        Change::By { approach } => {
            let mut parts = vec![text("try it by ")];
            parts.extend(approach_named(snapshot, task, approach));
            parts
        }
        Change::Bring { tool, more } => {
            let tool = &snapshot.tools[tool];
            let count = match (usable(tool), more) {
                (0, 1) => "have one usable ",
                (0, _) => "have two usable ",
                (_, 1) => "have one more ",
                (_, _) => "have two more ",
            };
            let code = Part::Code(Kind::Tool, tool.code.to_string());
            let mut parts = vec![text(count), code, text(" aboard")];
            if let Some(flight) = snapshot.excursions[excursion].flight {
                let flight = snapshot.flights[flight].code.to_string();
                parts.extend([text(" before "), Part::Code(Kind::Flight, flight)]);
            }
            parts
        }
        Change::Rehearse { approach } => {
            let mut parts = vec![text("rehearse ")];
            parts.extend(approach_named(snapshot, task, approach));
            parts
        }
        Change::Train { approach } => {
            let mut parts = vec![text("train the crew of "), there(excursion), text(" in ")];
            parts.extend(approach_named(snapshot, task, approach));
            parts
        }
        Change::Arrange { inhibit } => {
            let inhibit = snapshot.inhibits[inhibit].code.to_string();
            let inhibit = Part::Code(Kind::Inhibit, inhibit);
            vec![text("arrange "), inhibit, text(" for "), there(excursion)]
        }
        Change::Verify { approach } => {
            let open = |state| matches!(state, RemedyState::Open | RemedyState::Done);
            let remedies = &snapshot.tasks[task].approaches[approach].remedies;
            let mut parts = vec![text("carry out and verify ")];
            for (at, remedy) in remedies.iter().filter(|one| open(one.state)).enumerate() {
                if at > 0 {
                    parts.push(text(" and "));
                }
                parts.push(Part::Code(Kind::Remedy, remedy.code.to_string()));
            }
            parts
        }
        Change::First { task, on } => {
            let needed = Part::Code(Kind::Task, snapshot.tasks[task].code.to_string());
            vec![text("set "), needed, text(" before it, on "), there(on)]
        }
        Change::Minutes { excursion, minutes } => {
            let words = format!("find {minutes} min more before the limit of ");
            vec![Part::Text(words), there(excursion)]
        }
    }
}

fn approach_named(snapshot: &Snapshot, task: TaskAt, approach: ApproachAt) -> Vec<Part> {
    let way = &snapshot.tasks[task].approaches[approach];
    let name = match &way.technique {
        Some(technique) => Part::Code(Kind::Technique, technique.to_string()),
        None => Part::Text("a technique still to be named".to_owned()),
    };
    let side = way.side.as_ref().map(|side| Part::Text(format!(" from {side}")));
    std::iter::once(name).chain(side).collect()
}
