//! Families laid out once: their guard, their open units, and what can be offered to these. Read with
//! a fixed number of queries.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeSet, HashMap};

use sqlx::SqliteConnection;

use super::{OpenUnit, SetIn};
use crate::Failure;
use crate::dossier::{Dossier, FamilyRecord};
use domain::codes::{AttemptCode, FamilyCode, TaskCode, TechniqueCode};
use domain::declines::Decline;
use domain::excursions::Excursion;
use domain::repeat_guard::{
    Approach, Guard, Judgement, Try, UnitKey, approaches_left, approaches_to_offer, is_offered_to,
};
use domain::sides::Side;
use domain::slots::Slot;
use domain::techniques::Technique;
use domain::words::{SlotState, TechniqueState};
use store::tasks::Sided;
use store::{declines, excursions, slots, standing, tasks, techniques};

/// So many approaches are offered in place of one that failed.
const OTHERS: usize = 6;

/// One family with its guard.
pub(super) struct Laid<'a> {
    pub family: Option<&'a FamilyCode>,
    pub record: &'a FamilyRecord,
    pub guard: Guard<'a>,
    pub open: Vec<UnitKey>,
}

/// The families of a dossier in which anything was tried, with what their open units can be offered.
pub(super) struct Families<'a> {
    pub laid: Vec<Laid<'a>>,
    pub declined: Vec<Decline>,
    pub coming: Vec<Excursion>,
    titles: HashMap<TaskCode, String>,
    seats: HashMap<TaskCode, i64>,
    /// The approaches of each open task whose technique can be set, from the sides that it has.
    to_offer: HashMap<TaskCode, Vec<Approach>>,
    set: Vec<Slot>,
}

impl<'a> Families<'a> {
    #[boxed]
    pub async fn load(db: &mut SqliteConnection, dossier: &'a Dossier) -> Result<Self, Failure> {
        let mut records = records(dossier);
        records.retain(|(_, record)| !record.tries.is_empty());
        let units = records.iter().flat_map(|(_, record)| &record.units);
        let sisters: Vec<TaskCode> = units.map(|unit| unit.task.clone()).collect();
        let standings = standing::open_titles(db, &sisters).await?;
        let titles: HashMap<TaskCode, String> = standings.into_iter().collect();
        let waiting: Vec<TaskCode> = titles.keys().cloned().collect();
        let known: Vec<FamilyCode> =
            records.iter().filter_map(|(family, _)| family.cloned()).collect();
        let ways = techniques::for_tasks(db, &waiting, &known).await?;
        let declined = declines::of_tasks(db, &waiting).await?;
        let sided = tasks::sided(db, &waiting).await?;
        let mut set = slots::coming_slots(db).await?;
        set.retain(|slot| slot.state == SlotState::Set && titles.contains_key(&slot.task));
        let coming = excursions::coming(db).await?;
        let laid = records.into_iter().map(|(family, record)| {
            let open = record.units.iter().filter(|unit| titles.contains_key(&unit.task));
            let open = open.cloned().collect();
            Laid { family, record, guard: Guard::new(record.record()), open }
        });
        Ok(Self {
            laid: laid.collect(),
            declined,
            coming,
            titles,
            seats: sided.iter().filter_map(|one| Some((one.task.clone(), one.seats?))).collect(),
            to_offer: sided.iter().map(|one| (one.task.clone(), to_offer(one, &ways))).collect(),
            set,
        })
    }

    /// One open unit, as it is told.
    pub fn unit(
        &self,
        laid: &Laid<'_>,
        unit: &UnitKey,
        approach: &Approach,
        judgement: Judgement,
    ) -> OpenUnit {
        OpenUnit {
            task: unit.task.clone(),
            title: self.titles.get(&unit.task).cloned().unwrap_or_default(),
            seats: self.seats.get(&unit.task).copied().unwrap_or(1),
            of_sisters: of_sisters(laid.record, unit, &judgement),
            judgement,
            set_in: self
                .set_in(&unit.task, approach)
                .map(|slot| SetIn { slot: slot.code.0.clone(), excursion: slot.excursion.clone() }),
            others: self.others(laid, unit, approach),
        }
    }

    /// The open units to which a `done` by an approach that was new then is offered: it can be set
    /// there and is clear, and nobody set it or let it go.
    pub(crate) fn offered_to<'l>(
        &self,
        laid: &'l Laid<'_>,
        approach: &Approach,
        done: &Try,
    ) -> Vec<&'l UnitKey> {
        let open = laid.open.iter();
        open.filter(|unit| is_offered_to(done, unit))
            .filter(|unit| laid.guard.is_clear(unit, approach))
            .filter(|unit| self.set_in(&unit.task, approach).is_none())
            .filter(|unit| !self.is_dismissed(&done.attempt, &unit.task))
            .filter(|unit| self.to_offer(&unit.task).contains(approach))
            .collect()
    }

    fn set_in(&self, task: &TaskCode, approach: &Approach) -> Option<&Slot> {
        let is_by_it = |slot: &&Slot| {
            let by = Approach { technique: slot.technique.clone(), side: slot.side.clone() };
            slot.task == *task && by.is(approach)
        };
        self.set.iter().find(is_by_it)
    }

    /// What else can be offered to a unit: approaches that are clear there, without the one that is
    /// spoken of.
    fn others(&self, laid: &Laid<'_>, unit: &UnitKey, but: &Approach) -> Vec<Approach> {
        approaches_left(unit, self.to_offer(&unit.task), &laid.guard)
            .into_iter()
            .filter(|left| left.judgement == Judgement::Clear && left.approach != *but)
            .map(|left| left.approach)
            .take(OTHERS)
            .collect()
    }

    fn to_offer(&self, task: &TaskCode) -> &[Approach] {
        self.to_offer.get(task).map_or(&[], Vec::as_slice)
    }

    fn is_dismissed(&self, attempt: &AttemptCode, task: &TaskCode) -> bool {
        self.declined.iter().any(|one| one.attempt == *attempt && one.task == *task)
    }
}

/// What can be offered to one task.
fn to_offer(task: &Sided, ways: &[Technique]) -> Vec<Approach> {
    let is_for = |way: &&Technique| {
        way.task.as_ref() == Some(&task.task) || (way.family.is_some() && way.family == task.family)
    };
    let listed: Vec<(TechniqueCode, Vec<Side>, TechniqueState)> = ways
        .iter()
        .filter(is_for)
        .map(|way| (way.code.0.clone(), way.sides.0.clone(), way.state))
        .collect();
    approaches_to_offer(&task.sides.0, &listed)
}

/// The records of the families of a dossier, each once.
fn records(dossier: &Dossier) -> Vec<(Option<&FamilyCode>, &FamilyRecord)> {
    let mut seen = BTreeSet::new();
    let openings = dossier.events.openings.iter();
    openings
        .filter(|opening| {
            let own = opening.family.is_none().then_some(&opening.task);
            seen.insert((opening.family.as_ref(), own))
        })
        .filter_map(|opening| Some((opening.family.as_ref(), dossier.family_of(opening)?)))
        .collect()
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
