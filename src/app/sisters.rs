//! What a family's open units hear of what was tried on one of them: the approaches that came
//! into question for them, the new approach that worked on a sister, and what a swap or a move set
//! apart.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use sqlx::SqliteConnection;

use crate::Failure;
use crate::dossier::{Dossier, FamilyRecord};
use domain::codes::{AttemptCode, ExcursionCode, FamilyCode, SlotCode, TaskCode, TechniqueCode};
use domain::declines::Decline;
use domain::excursions::Excursion;
use domain::repeat_guard::{
    Approach, Guard, Judgement, SetApart, Try, UnitKey, approaches_left, approaches_to_offer,
    newly_in_question, offered_to_sisters, set_apart,
};
use domain::sides::Side;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::techniques::Technique;
use domain::words::{Outcome, SlotState, TechniqueState};
use store::{declines, excursions, reach, slots, standing, tasks, techniques};

/// So many open units of a family are told of; a page shows no more.
const UNITS: usize = 60;
/// So many approaches are offered in place of one that failed.
const OTHERS: usize = 6;

/// What the open units hear.
#[derive(Debug, Clone, Default)]
pub struct Told {
    pub questioned: Vec<Questioned>,
    pub offered: Vec<Offered>,
    /// What was offered and let go.
    pub declined: Vec<Decline>,
    /// Failures that a swap or a move set apart, by the task of the unit.
    pub set_apart: Vec<(TaskCode, SetApart)>,
    /// Where a unit could be pencilled.
    pub coming: Vec<Excursion>,
}

/// An approach that failed on some units and is not clear on others.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Questioned {
    pub family: Option<FamilyCode>,
    pub approach: Approach,
    pub units: Vec<OpenUnit>,
}

/// An open unit with what the guard says of an approach there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenUnit {
    pub task: TaskCode,
    pub title: String,
    /// Of the seats outside the work takes so many.
    pub seats: i64,
    pub judgement: Judgement,
    /// Those of the attempts against it that were made on its sisters.
    pub of_sisters: Vec<AttemptCode>,
    /// The slot on a coming excursion in which it is set by that very approach.
    pub set_in: Option<SetIn>,
    /// Other approaches that are open to it, best first.
    pub others: Vec<Approach>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SetIn {
    pub slot: SlotCode,
    pub excursion: ExcursionCode,
}

/// A `done` by an approach that was new to the family, and the units that wait.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offered {
    pub family: Option<FamilyCode>,
    pub attempt: AttemptCode,
    pub approach: Approach,
    pub units: Vec<OpenUnit>,
}

/// What the open units of a family hear of each other; any of its tasks names it.
pub async fn of_family(db: &mut SqliteConnection, task: &TaskCode) -> Result<Told, Failure> {
    let dossier = Dossier::load(db, std::slice::from_ref(task)).await?;
    of_dossier(db, &dossier).await
}

/// The same for the families of a dossier.
pub async fn of_dossier(db: &mut SqliteConnection, dossier: &Dossier) -> Result<Told, Failure> {
    let families = Families::load(db, dossier).await?;
    Ok(Told {
        questioned: families.questioned(),
        offered: families.offered(),
        set_apart: families.set_apart(),
        declined: families.declined,
        coming: families.coming,
    })
}

/// What every family hears in which something is open and something was tried before.
pub async fn of_all(db: &mut SqliteConnection) -> Result<Told, Failure> {
    let tasks = reach::one_of_each_family_with_tries(db).await?;
    let dossier = Dossier::load(db, &tasks).await?;
    of_dossier(db, &dossier).await
}

/// The open units on which these failures turned the guard's judgement, by approach; `tried_on` are
/// the tasks of the attempts.
pub async fn turned_by(
    db: &mut SqliteConnection,
    failed: &[AttemptCode],
    tried_on: &[TaskCode],
) -> Result<Told, Failure> {
    let dossier = Dossier::load(db, tried_on).await?;
    turned_in(db, &dossier, failed).await
}

/// The same out of a dossier that knows the attempts.
pub async fn turned_in(
    db: &mut SqliteConnection,
    dossier: &Dossier,
    failed: &[AttemptCode],
) -> Result<Told, Failure> {
    let families = Families::load(db, dossier).await?;
    let mut by_approach: BTreeMap<Approach, (Option<FamilyCode>, BTreeMap<TaskCode, OpenUnit>)> =
        BTreeMap::new();
    for (family, record) in families.records() {
        let open = families.open_units(record);
        for attempt in failed {
            for turned in newly_in_question(attempt, &open, record.record()) {
                let unit = families.unit(record, &turned.unit, &turned.approach, turned.after);
                let units = by_approach.entry(turned.approach).or_default();
                units.0 = family.cloned();
                units.1.insert(unit.task.clone(), unit);
            }
        }
    }
    let questioned = by_approach.into_iter().map(|(approach, (family, units))| Questioned {
        family,
        approach,
        units: units.into_values().collect(),
    });
    Ok(Told { questioned: questioned.collect(), coming: families.coming, ..Told::default() })
}

/// The families of a dossier with what their open units can be offered. Read with a fixed number
/// of queries.
struct Families<'a> {
    dossier: &'a Dossier,
    titles: HashMap<TaskCode, String>,
    tasks: HashMap<TaskCode, Task>,
    ways: Vec<Technique>,
    set: Vec<Slot>,
    declined: Vec<Decline>,
    coming: Vec<Excursion>,
}

impl<'a> Families<'a> {
    async fn load(db: &mut SqliteConnection, dossier: &'a Dossier) -> Result<Self, Failure> {
        let mut set = slots::coming_slots(db).await?;
        set.retain(|slot| slot.state == SlotState::Set);
        let mut families = Self {
            dossier,
            titles: HashMap::new(),
            tasks: HashMap::new(),
            ways: Vec::new(),
            set,
            declined: Vec::new(),
            coming: excursions::coming(db).await?,
        };
        let units = families.records().into_iter().flat_map(|(_, record)| &record.units);
        let sisters: Vec<TaskCode> = units.map(|unit| unit.task.clone()).collect();
        let standings = standing::these(db, &sisters).await?.into_iter();
        let open = standings.filter(|row| row.state.is_open_item());
        families.titles = open.map(|row| (row.task, row.title)).collect();
        let waiting: Vec<TaskCode> = families.titles.keys().cloned().collect();
        let known: Vec<FamilyCode> =
            families.records().into_iter().filter_map(|(family, _)| family.cloned()).collect();
        families.ways = techniques::for_tasks(db, &waiting, &known).await?;
        families.declined = declines::of_tasks(db, &waiting).await?;
        let found = tasks::these(db, &waiting).await?;
        families.tasks = found.into_iter().map(|task| (task.code.0.clone(), task)).collect();
        Ok(families)
    }

    /// The records of the families, each once.
    fn records(&self) -> Vec<(Option<&'a FamilyCode>, &'a FamilyRecord)> {
        let mut seen = BTreeSet::new();
        let openings = self.dossier.events.openings.iter();
        openings
            .filter(|opening| {
                let own = opening.family.is_none().then_some(&opening.task);
                seen.insert((opening.family.as_ref(), own))
            })
            .filter_map(|opening| Some((opening.family.as_ref(), self.dossier.family_of(opening)?)))
            .collect()
    }

    fn open_units(&self, record: &FamilyRecord) -> Vec<UnitKey> {
        let open = record.units.iter().filter(|unit| self.titles.contains_key(&unit.task));
        open.take(UNITS).cloned().collect()
    }

    fn unit(
        &self,
        record: &FamilyRecord,
        unit: &UnitKey,
        approach: &Approach,
        judgement: Judgement,
    ) -> OpenUnit {
        let is_by_it = |slot: &&Slot| {
            let by = Approach { technique: slot.technique.clone(), side: slot.side.clone() };
            slot.task == unit.task && by.is(approach)
        };
        let set_in = self.set.iter().find(is_by_it);
        OpenUnit {
            task: unit.task.clone(),
            title: self.titles.get(&unit.task).cloned().unwrap_or_default(),
            seats: self.tasks.get(&unit.task).and_then(|task| task.seats).unwrap_or(1),
            of_sisters: of_sisters(record, unit, &judgement),
            judgement,
            set_in: set_in
                .map(|slot| SetIn { slot: slot.code.0.clone(), excursion: slot.excursion.clone() }),
            others: self.others(record, unit, approach),
        }
    }

    /// What else can be offered to a unit: approaches that are clear there, without the one that is
    /// spoken of.
    fn others(&self, record: &FamilyRecord, unit: &UnitKey, but: &Approach) -> Vec<Approach> {
        let candidates = self.to_offer(&unit.task);
        approaches_left(unit, &candidates, record.record())
            .into_iter()
            .filter(|left| left.judgement == Judgement::Clear && left.approach != *but)
            .map(|left| left.approach)
            .take(OTHERS)
            .collect()
    }

    /// The approaches of an open task whose technique can be set, from the sides that it has.
    fn to_offer(&self, task: &TaskCode) -> Vec<Approach> {
        let Some(task) = self.tasks.get(task) else { return Vec::new() };
        let is_for = |way: &&Technique| {
            way.task.as_ref() == Some(&task.code.0)
                || (way.family.is_some() && way.family == task.family)
        };
        let listed: Vec<(TechniqueCode, Vec<Side>, TechniqueState)> = self
            .ways
            .iter()
            .filter(is_for)
            .map(|way| (way.code.0.clone(), way.sides.0.clone(), way.state))
            .collect();
        approaches_to_offer(&task.sides.0, &listed)
    }

    fn questioned(&self) -> Vec<Questioned> {
        let mut all = Vec::new();
        for (family, record) in self.records() {
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
                    .map(|(unit, judgement)| self.unit(record, unit, approach, judgement))
                    .collect();
                if !units.is_empty() {
                    let (family, approach) = (family.cloned(), approach.clone());
                    all.push(Questioned { family, approach, units });
                }
            }
        }
        all
    }

    fn offered(&self) -> Vec<Offered> {
        let mut all = Vec::new();
        for (family, record) in self.records() {
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
                    .filter(|unit| !self.let_go(attempt, &unit.task))
                    .filter(|unit| self.to_offer(&unit.task).contains(approach))
                    .map(|unit| (unit, guard.judge(unit, approach)))
                    .filter(|(_, judgement)| *judgement == Judgement::Clear)
                    .map(|(unit, judgement)| self.unit(record, unit, approach, judgement))
                    .filter(|unit| unit.set_in.is_none())
                    .collect();
                if !units.is_empty() {
                    let (family, approach) = (family.cloned(), approach.clone());
                    all.push(Offered { family, attempt: attempt.clone(), approach, units });
                }
            }
        }
        all
    }

    fn let_go(&self, attempt: &AttemptCode, task: &TaskCode) -> bool {
        self.declined.iter().any(|one| one.attempt == *attempt && one.task == *task)
    }

    fn set_apart(&self) -> Vec<(TaskCode, SetApart)> {
        let mut all = Vec::new();
        for (_, record) in self.records() {
            let guard = Guard::new(record.record());
            for unit in self.open_units(record) {
                let apart = set_apart(&unit, record.record(), &guard);
                all.extend(apart.into_iter().map(|one| (unit.task.clone(), one)));
            }
        }
        all
    }
}

/// What stands against an approach on a unit and was not tried on that unit: an exemption can take it
/// away.
fn of_sisters(record: &FamilyRecord, unit: &UnitKey, judgement: &Judgement) -> Vec<AttemptCode> {
    let on_a_sister = |code: &&AttemptCode| {
        let tried = record.tries.iter().find(|tried| tried.attempt == **code);
        tried.is_some_and(|tried| !unit.is_the_unit_of(&tried.unit, tried.account.scope))
    };
    judgement.attempts().iter().filter(on_a_sister).cloned().collect()
}
