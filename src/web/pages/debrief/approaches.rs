//! The approaches that a task has, as answers of one choice: what the repeat guard says of each, and
//! where it is set or pencilled.

use std::collections::BTreeMap;

use app::read::Connection;

use crate::forms::Answer;
use crate::pages::carry;
use crate::pages::slots::asked::show_approach;
use app::Failure;
use app::attempts::form::OTHER_APPROACH;
use app::dossier::Dossier;
use app::read::slots;
use domain::cells::Cells;
use domain::codes::{AttemptCode, TaskCode};
use domain::repeat_guard::{Approach, Guard, Judgement, approaches_of};
use domain::slots::Slot;
use domain::tasks::Task;
use domain::techniques::Technique;
use domain::words::{SlotState, TechniqueState};

/// So many approaches are in view; a further one is named by its technique and side.
const IN_VIEW: usize = 5;

#[derive(Debug, Default)]
pub(super) struct Approaches(BTreeMap<TaskCode, Vec<Answer>>);

impl Approaches {
    pub async fn load(
        db: &mut Connection,
        tasks: &BTreeMap<TaskCode, Task>,
        techniques: &[Technique],
    ) -> Result<Self, Failure> {
        let codes: Vec<TaskCode> = tasks.keys().cloned().collect();
        let dossier = Dossier::load(db, &codes).await?;
        let live = slots::live_of_tasks(db, &codes).await?;
        let answers = tasks.iter().map(|(code, task)| {
            let own: Vec<&Technique> =
                techniques.iter().filter(|technique| is_for(technique, code, task)).collect();
            let slots = live.iter().filter(|slot| slot.task == *code).collect::<Vec<_>>();
            (code.clone(), of_task(task, &own, &slots, &dossier))
        });
        Ok(Self(answers.collect()))
    }

    /// The answers for what the cells say: those in view, the chosen one, and any other.
    pub fn answers(&self, task: &TaskCode, cells: &Cells) -> Vec<Answer> {
        let Some(all) = self.0.get(task).filter(|all| !all.is_empty()) else { return Vec::new() };
        let chosen = chosen(cells);
        let mut answers: Vec<Answer> = all.iter().take(IN_VIEW).cloned().collect();
        answers.extend(all.iter().skip(IN_VIEW).filter(|more| more.value == chosen).cloned());
        answers.push(Answer {
            value: OTHER_APPROACH.to_owned(),
            words: "Another approach, or none".to_owned(),
            beside: "choose technique and side".to_owned(),
        });
        answers
    }
}

/// Whether a task can be done by a technique.
pub(super) fn is_for(technique: &Technique, code: &TaskCode, task: &Task) -> bool {
    technique.task.as_ref() == Some(code)
        || (task.family.is_some() && technique.family == task.family)
}

fn chosen(cells: &Cells) -> String {
    format!("{},{}", cells.get("technique").trim(), cells.get("side").trim())
}

/// Which answer the cells give; nothing where nobody chose.
pub(super) fn answered(answers: &[Answer], cells: &Cells) -> String {
    let chosen = chosen(cells);
    if answers.iter().any(|answer| answer.value == chosen) {
        return chosen;
    }
    let other = chosen != "," || cells.get("approach") == OTHER_APPROACH;
    if other { OTHER_APPROACH.to_owned() } else { String::new() }
}

fn of_task(
    task: &Task,
    techniques: &[&Technique],
    live: &[&Slot],
    dossier: &Dossier,
) -> Vec<Answer> {
    let code = &task.code.0;
    let parts: Vec<_> = techniques
        .iter()
        .map(|technique| (technique.code.0.clone(), technique.sides.0.clone(), technique.state))
        .collect();
    let record = carry::opening(dossier, code).and_then(|opening| dossier.family_of(opening));
    let record = record.unwrap_or_else(|| dossier.no_family());
    let (unit, guard) = (dossier.unit_of(code), Guard::new(record.record()));
    let mut found: Vec<(usize, Answer)> = approaches_of(&task.sides.0, &parts)
        .into_iter()
        .map(|approach| {
            let technique = techniques
                .iter()
                .find(|technique| Some(&technique.code.0) == approach.technique.as_ref());
            let judgement = guard.judge(&unit, &approach);
            let holds =
                |slot: &&&Slot| slot.technique == approach.technique && slot.side == approach.side;
            let slots: Vec<&Slot> = live.iter().filter(holds).copied().collect();
            let drafted = technique.is_some_and(|t| t.state == TechniqueState::Drafted);
            let rank = match judgement {
                _ if !slots.is_empty() => 0,
                _ if drafted => 3,
                Judgement::Clear => 1,
                Judgement::Questioned { .. }
                | Judgement::Blocked { .. }
                | Judgement::CannotTell { .. } => 2,
            };
            let answer = Answer {
                value: show_approach(approach.technique.as_ref(), approach.side.as_ref()),
                words: named(technique.copied(), &approach),
                beside: beside(&approach, &judgement, &slots, drafted),
            };
            (rank, answer)
        })
        .collect();
    found.sort_by_key(|(rank, _)| *rank);
    found.into_iter().map(|(_, answer)| answer).collect()
}

/// `Lever grip from starboard`.
fn named(technique: Option<&Technique>, approach: &Approach) -> String {
    let name = technique.map_or_else(String::new, |technique| technique.name.to_string());
    match &approach.side {
        Some(side) => format!("{name} from {side}"),
        None => name,
    }
}

/// `K-LEVER · questioned: A-0047, A-0067 · pencilled on E-37.2`.
fn beside(approach: &Approach, judgement: &Judgement, slots: &[&Slot], drafted: bool) -> String {
    let mut parts: Vec<String> = approach.technique.iter().map(ToString::to_string).collect();
    let against: Vec<&str> = judgement.attempts().iter().map(AttemptCode::as_str).collect();
    parts.push(if against.is_empty() {
        judgement.word().to_owned()
    } else {
        format!("{}: {}", judgement.word(), against.join(", "))
    });
    if drafted {
        parts.push("drafted".to_owned());
    }
    parts.extend(slots.iter().map(|slot| {
        let state = if slot.state == SlotState::Set { "set" } else { "pencilled" };
        format!("{state} on {}", slot.excursion)
    }));
    parts.join(" · ")
}
