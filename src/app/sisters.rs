//! What a family's open units hear of what was tried on one of them: the approaches that came
//! into question for them, and the new approach that worked on a sister.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use sqlx::SqliteConnection;

use crate::app::Failure;
use crate::app::dossier::{Dossier, FamilyRecord};
use crate::domain::codes::{AttemptCode, ExcursionCode, TaskCode};
use crate::domain::repeat_guard::{
    Approach, Guard, Judgement, Try, UnitKey, newly_in_question, offered_to_sisters,
};
use crate::domain::slots::Slot;
use crate::domain::words::{Outcome, SlotState};
use crate::store::{slots, standing};

/// So many open units of a family are told of; a page shows no more.
const UNITS: usize = 60;

/// What the open units hear.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Told {
    pub questioned: Vec<Questioned>,
    pub offered: Vec<Offered>,
}

/// An approach that failed on some units and is not clear on others.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Questioned {
    pub approach: Approach,
    pub units: Vec<OpenUnit>,
}

/// An open unit with what the guard says of an approach there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenUnit {
    pub task: TaskCode,
    pub title: String,
    pub judgement: Judgement,
    /// The coming excursion on which it is set by that very approach.
    pub set_on: Option<ExcursionCode>,
}

/// A `done` by an approach that was new to the family, and the units that wait.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offered {
    pub attempt: AttemptCode,
    pub approach: Approach,
    pub units: Vec<OpenUnit>,
}

/// What the open units of a family hear of each other; any of its tasks names it.
pub async fn of_family(db: &mut SqliteConnection, task: &TaskCode) -> Result<Told, Failure> {
    let family = Family::load(db, std::slice::from_ref(task)).await?;
    Ok(Told { questioned: family.questioned(), offered: family.offered() })
}

/// The open units on which these failures turned the guard's judgement, by approach; `tried_on` are
/// the tasks of the attempts.
pub async fn turned_by(
    db: &mut SqliteConnection,
    failed: &[AttemptCode],
    tried_on: &[TaskCode],
) -> Result<Vec<Questioned>, Failure> {
    let family = Family::load(db, tried_on).await?;
    let mut by_approach: BTreeMap<Approach, BTreeMap<TaskCode, OpenUnit>> = BTreeMap::new();
    for record in family.records() {
        let open = family.open_units(record);
        for attempt in failed {
            for turned in newly_in_question(attempt, &open, record.record()) {
                let unit = family.unit(&turned.unit, &turned.approach, turned.after);
                let units = by_approach.entry(turned.approach).or_default();
                units.insert(unit.task.clone(), unit);
            }
        }
    }
    let questioned = by_approach
        .into_iter()
        .map(|(approach, units)| Questioned { approach, units: units.into_values().collect() });
    Ok(questioned.collect())
}

struct Family {
    dossier: Dossier,
    titles: HashMap<TaskCode, String>,
    set: Vec<Slot>,
}

impl Family {
    async fn load(db: &mut SqliteConnection, tasks: &[TaskCode]) -> Result<Self, Failure> {
        let dossier = Dossier::load(db, tasks).await?;
        let mut set = slots::coming_slots(db).await?;
        set.retain(|slot| slot.state == SlotState::Set);
        let mut family = Self { dossier, titles: HashMap::new(), set };
        let units = family.records().into_iter().flat_map(|record| &record.units);
        let sisters: Vec<TaskCode> = units.map(|unit| unit.task.clone()).collect();
        let standings = standing::these(db, &sisters).await?.into_iter();
        let open = standings.filter(|row| row.state.is_open_item());
        family.titles = open.map(|row| (row.task, row.title)).collect();
        Ok(family)
    }

    /// The records of the families, each once.
    fn records(&self) -> Vec<&FamilyRecord> {
        let mut seen = BTreeSet::new();
        let openings = self.dossier.events.openings.iter();
        openings
            .filter(|opening| {
                let own = opening.family.is_none().then_some(&opening.task);
                seen.insert((opening.family.as_ref(), own))
            })
            .filter_map(|opening| self.dossier.family_of(opening))
            .collect()
    }

    fn open_units(&self, record: &FamilyRecord) -> Vec<UnitKey> {
        let open = record.units.iter().filter(|unit| self.titles.contains_key(&unit.task));
        open.take(UNITS).cloned().collect()
    }

    fn unit(&self, unit: &UnitKey, approach: &Approach, judgement: Judgement) -> OpenUnit {
        let is_by_it = |slot: &&Slot| {
            let by = Approach { technique: slot.technique.clone(), side: slot.side.clone() };
            slot.task == unit.task && by.is(approach)
        };
        OpenUnit {
            task: unit.task.clone(),
            title: self.titles.get(&unit.task).cloned().unwrap_or_default(),
            judgement,
            set_on: self.set.iter().find(is_by_it).map(|slot| slot.excursion.clone()),
        }
    }

    fn questioned(&self) -> Vec<Questioned> {
        let mut all = Vec::new();
        for record in self.records() {
            let guard = Guard::new(record.record());
            let open = self.open_units(record);
            let tried: BTreeSet<&Approach> = record
                .tries
                .iter()
                .map(|tried| &tried.approach)
                .filter(|approach| approach.is_whole())
                .collect();
            for approach in tried {
                let units: Vec<OpenUnit> = open
                    .iter()
                    .map(|unit| (unit, guard.judge(unit, approach)))
                    .filter(|(_, judgement)| *judgement != Judgement::Clear)
                    .map(|(unit, judgement)| self.unit(unit, approach, judgement))
                    .collect();
                if !units.is_empty() {
                    all.push(Questioned { approach: approach.clone(), units });
                }
            }
        }
        all
    }

    fn offered(&self) -> Vec<Offered> {
        let mut all = Vec::new();
        for record in self.records() {
            let guard = Guard::new(record.record());
            let open = self.open_units(record);
            let mut first: BTreeMap<&Approach, Vec<&Try>> = BTreeMap::new();
            for tried in record.tries.iter().filter(|t| t.account.outcome == Outcome::Done) {
                first.entry(&tried.approach).or_default().push(tried);
            }
            for (approach, done) in first {
                let told = done.iter().find_map(|tried| {
                    let units = offered_to_sisters(&tried.attempt, &open, record.record());
                    (!units.is_empty()).then_some((&tried.attempt, units))
                });
                let Some((attempt, units)) = told else { continue };
                let units: Vec<OpenUnit> = units
                    .iter()
                    .map(|unit| self.unit(unit, approach, guard.judge(unit, approach)))
                    .filter(|unit| unit.set_on.is_none())
                    .filter(|unit| !matches!(unit.judgement, Judgement::Shut { .. }))
                    .collect();
                if !units.is_empty() {
                    let approach = approach.clone();
                    all.push(Offered { attempt: attempt.clone(), approach, units });
                }
            }
        }
        all
    }
}
