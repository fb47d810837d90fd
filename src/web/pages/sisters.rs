//! What sisters hear of each other, as the pages of a family and of a finding show it.

use crate::app::sisters::{Offered, OpenUnit, Questioned};
use crate::domain::codes::AttemptCode;
use crate::domain::repeat_guard::{Approach, Judgement};
use crate::domain::words::GateVerdict;
use crate::web::addresses::encoded;

/// An approach with the open units that hear of it.
pub(crate) struct Heard {
    pub technique: String,
    pub side: String,
    /// The `done` that is offered; nothing where failures are told.
    pub done: Option<String>,
    pub units: Vec<Unit>,
}

pub(crate) struct Unit {
    pub task: String,
    pub title: String,
    pub word: &'static str,
    pub verdict: GateVerdict,
    pub attempts: Vec<String>,
    pub set_on: Option<String>,
    /// Where “does not apply here” is written; for one failure on a sister.
    pub exempt: Option<String>,
    pub sides: String,
    pub find_slot: String,
}

pub(crate) fn questioned(all: &[Questioned]) -> Vec<Heard> {
    all.iter().map(|one| heard(&one.approach, None, &one.units)).collect()
}

pub(crate) fn offered(all: &[Offered]) -> Vec<Heard> {
    all.iter().map(|one| heard(&one.approach, Some(&one.attempt), &one.units)).collect()
}

fn heard(approach: &Approach, done: Option<&AttemptCode>, units: &[OpenUnit]) -> Heard {
    Heard {
        technique: approach.technique.as_ref().map_or_else(String::new, ToString::to_string),
        side: approach.side.as_ref().map_or_else(String::new, ToString::to_string),
        done: done.map(ToString::to_string),
        units: units.iter().map(unit).collect(),
    }
}

fn unit(open: &OpenUnit) -> Unit {
    let attempts: Vec<String> = open.judgement.attempts().iter().map(ToString::to_string).collect();
    let task = encoded(open.task.as_str());
    let exempt = matches!(open.judgement, Judgement::InQuestion { .. })
        .then(|| format!("/exemptions/new?task={task}&attempts={}", attempts.join("%2C%20")));
    Unit {
        word: open.judgement.word(),
        verdict: open.judgement.gate(),
        attempts,
        set_on: open.set_on.as_ref().map(ToString::to_string),
        exempt,
        sides: format!("/tasks/{task}#sides"),
        find_slot: format!("/tasks/{task}#slots"),
        title: open.title.clone(),
        task: open.task.to_string(),
    }
}
