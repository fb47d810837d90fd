//! What the fields of the debrief offer: techniques and sides of each task, causes, coming
//! excursions, tools, open tasks, attempts.

use std::collections::BTreeMap;

use app::read::Connection;

use super::approaches::{Approaches, is_for};
use crate::forms::{Answer, Choice};
use app::Failure;
use app::attempts::form::NOT_PLANNED;
use app::debrief::DebriefRow;
use app::read::{
    Found, excursions, families as store_families, open_items, outside, tasks as store_tasks,
    techniques,
};
use domain::cells::Cells;
use domain::codes::{FamilyCode, SlotCode, TaskCode};
use domain::families::Unit;
use domain::findings::Cause;
use domain::outside::OutsideItem;
use domain::sides::NAMES;
use domain::tasks::Task;
use domain::techniques::Technique;
use domain::tools::Tool;
use domain::words::TechniqueState;

const MAX_READ: i64 = 1_000;
const OFFERED: i64 = 200;

/// Lists for the fields, loaded once for the whole page.
#[derive(Debug, Default)]
pub(crate) struct Choices {
    /// The excursions to choose from, with their slots; empty where the page is about one.
    pub places: Vec<Choice>,
    tasks: BTreeMap<TaskCode, Task>,
    techniques: Vec<Technique>,
    pub causes: Vec<Choice>,
    pub excursions: Vec<Choice>,
    pub tools: Vec<Choice>,
    pub open_tasks: Vec<Choice>,
    pub attempts: Vec<Choice>,
    /// The slots that were set on the excursion.
    slots: Vec<(TaskCode, SlotCode)>,
    /// What is outside.
    outside: Vec<OutsideItem>,
    /// The units of the families whose units are swapped.
    units: Vec<Unit>,
    approaches: Approaches,
}

impl Choices {
    pub async fn load(db: &mut Connection, rows: &[DebriefRow]) -> Result<Self, Failure> {
        let codes: Vec<TaskCode> = rows.iter().map(|row| row.task.clone()).collect();
        let found = store_tasks::these(db, &codes).await?;
        let families: Vec<FamilyCode> = found.iter().filter_map(|t| t.family.clone()).collect();
        let techniques = techniques::for_tasks(db, &codes, &families).await?;
        let tasks: BTreeMap<TaskCode, Task> =
            found.into_iter().map(|task| (task.code.0.clone(), task)).collect();
        let approaches = Approaches::load(db, &tasks, &techniques).await?;
        let mut causes = Cause::after(db, "", MAX_READ).await?;
        causes.sort_by_key(|cause| (cause.code.0.as_str().len(), cause.code.0.clone()));
        let coming = excursions::coming(db).await?;
        let tools = Tool::after(db, "", MAX_READ).await?;
        let outside = outside::in_place(db).await?;
        let filter = open_items::Filter::default();
        let open = open_items::page(db, &filter, open_items::Sort::Code, 0, OFFERED).await?;
        let mut swapped: Vec<&FamilyCode> = tasks
            .values()
            .filter(|task| task.swaps_unit)
            .filter_map(|task| task.family.as_ref())
            .collect();
        swapped.sort_unstable();
        swapped.dedup();
        let mut units = Vec::new();
        for family in swapped {
            units.extend(store_families::of_family(db, family).await?);
        }
        Ok(Self {
            units,
            approaches,
            tasks,
            techniques,
            places: Vec::new(),
            slots: rows
                .iter()
                .filter_map(|row| row.slot.as_ref())
                .map(|slot| (slot.task.clone(), slot.code.0.clone()))
                .collect(),
            outside,
            causes: first_empty(
                "choose",
                causes.iter().map(|c| (c.code.0.as_str(), c.words.as_str())),
            ),
            excursions: first_empty(
                "not known yet",
                coming.iter().map(|e| (e.code.0.as_str(), e.code.0.as_str())),
            ),
            tools: tools
                .iter()
                .map(|tool| Choice::new(tool.code.0.as_str(), tool.name.as_str()))
                .collect(),
            open_tasks: open
                .iter()
                .map(|item| Choice::new(item.task.as_str(), item.title.as_str()))
                .collect(),
            attempts: first_empty(
                "choose",
                rows.iter()
                    .filter_map(|row| row.attempt.as_ref())
                    .map(|attempt| (attempt.code.0.as_str(), attempt.code.0.as_str())),
            )
            .into_iter()
            .map(|choice| with_task(choice, rows))
            .collect(),
        })
    }

    /// The techniques that the task can be done by, and the one that was chosen, whatever it is.
    pub fn techniques(&self, task: &TaskCode, chosen: &str) -> Vec<Choice> {
        let of = self.tasks.get(task);
        let fits = |way: &&Technique| match of {
            Some(of) => is_for(way, task, of),
            None => way.task.as_ref() == Some(task),
        };
        let mut choices = vec![Choice::new("", "not recorded")];
        choices.extend(
            self.techniques
                .iter()
                .filter(fits)
                .filter(|way| {
                    way.state != TechniqueState::Withdrawn || way.code.0.as_str() == chosen
                })
                .map(|way| {
                    Choice::new(way.code.0.as_str(), format!("{} ({})", way.name, way.code.0))
                }),
        );
        with_chosen(choices, chosen)
    }

    /// The approaches of the task as answers; none where it has no technique.
    pub fn approaches(&self, task: &TaskCode, cells: &Cells) -> Vec<Answer> {
        self.approaches.answers(task, cells)
    }

    /// `Estimate 20, 30, 55.`, where the task has one.
    pub fn estimate(&self, task: &TaskCode) -> String {
        let Some(task) = self.tasks.get(task) else { return String::new() };
        let three = [task.optimistic, task.likely, task.pessimistic];
        let words: Vec<String> =
            three.iter().flatten().map(|minutes| minutes.0.to_string()).collect();
        if words.is_empty() { words.concat() } else { format!("Estimate {}.", words.join(", ")) }
    }

    /// Which slot an attempt fills: those of its task, or all while the task is not known.
    pub fn slots(&self, task: &TaskCode) -> Vec<Choice> {
        let mut choices = vec![Choice::new("", "no slot was set"), not_planned()];
        let of_task = self.slots.iter().filter(|(of, _)| task.as_str().is_empty() || of == task);
        choices.extend(
            of_task
                .map(|(of, slot)| Choice::new(slot.as_str(), format!("planned as {slot} ({of})"))),
        );
        choices
    }

    /// Whether a result of the task names the serials of a swap.
    pub fn swaps(&self, task: &TaskCode) -> bool {
        self.tasks.get(task).is_some_and(|task| task.swaps_unit && task.position.is_some())
    }

    /// The serials, else the codes, of the units that the task can swap.
    pub fn units(&self, task: &TaskCode) -> Vec<Choice> {
        let family = self.tasks.get(task).and_then(|task| task.family.as_ref());
        let offer = |unit: &Unit| {
            let code = unit.code.0.to_string();
            let serial = unit.serial.as_ref().map_or(code.clone(), ToString::to_string);
            let place = unit.position.as_ref().map_or_else(String::new, |at| format!(", {at}"));
            Choice::new(serial, format!("{code}{place}"))
        };
        self.units.iter().filter(|unit| family == Some(&unit.family)).map(offer).collect()
    }

    /// Which unit stands at the position of the task by the record.
    pub fn stands_there(&self, task: &TaskCode) -> String {
        let position = self.tasks.get(task).and_then(|task| task.position.as_ref());
        let stands = |unit: &&Unit| {
            position.is_some() && unit.position.as_ref() == position && unit.until_day.is_none()
        };
        let unit = self.units.iter().find(stands);
        unit.map_or_else(String::new, |unit| {
            let code = unit.code.0.to_string();
            let serial = unit.serial.as_ref().map_or(code, ToString::to_string);
            format!("By the record {serial} stands there.")
        })
    }

    pub fn outside_offers(&self) -> Vec<Choice> {
        let offer = |item: &OutsideItem| Choice::new(item.code.0.as_str(), item.what.as_str());
        self.outside.iter().map(offer).collect()
    }

    /// What the task is there to bring back in.
    pub fn brought_back_by(&self, task: &TaskCode) -> String {
        let by = |item: &&OutsideItem| item.brought_back_by.as_ref() == Some(task);
        let codes: Vec<&str> =
            self.outside.iter().filter(by).map(|item| item.code.0.as_str()).collect();
        if codes.is_empty() {
            return String::new();
        }
        format!("This task brings {} back in.", codes.join(", "))
    }

    /// The sides from which the task can be reached; every side where nobody wrote them down.
    pub fn sides(&self, task: &TaskCode, chosen: &str) -> Vec<Choice> {
        let mut choices = vec![Choice::new("", "not recorded")];
        let known = self.tasks.get(task).map(|task| &task.sides.0);
        match known.filter(|sides| !sides.is_empty()) {
            Some(sides) => {
                choices.extend(sides.iter().map(|s| Choice::new(s.as_str(), s.as_str())));
            }
            None => choices.extend(NAMES.iter().map(|name| Choice::new(*name, *name))),
        }
        with_chosen(choices, chosen)
    }
}

fn not_planned() -> Choice {
    Choice::new(NOT_PLANNED, NOT_PLANNED)
}

/// Adds what is chosen to a list that lacks it, so that nothing recorded gets lost on a form.
pub(super) fn with_chosen(mut choices: Vec<Choice>, chosen: &str) -> Vec<Choice> {
    if choices.iter().all(|choice| choice.value != chosen) {
        choices.push(Choice::new(chosen, chosen));
    }
    choices
}

fn first_empty<'a>(word: &str, rest: impl IntoIterator<Item = (&'a str, &'a str)>) -> Vec<Choice> {
    let mut choices = vec![Choice::new("", word)];
    choices.extend(rest.into_iter().map(|(value, words)| Choice::new(value, words)));
    choices
}

fn with_task(choice: Choice, rows: &[DebriefRow]) -> Choice {
    let task = rows
        .iter()
        .find(|row| row.attempt.as_ref().is_some_and(|a| a.code.0.as_str() == choice.value))
        .map(|row| format!("{}, {}", row.task, choice.value));
    Choice { words: task.unwrap_or(choice.words), ..choice }
}
