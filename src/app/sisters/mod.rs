//! How what was tried on one unit of a family affects its open units: the approaches that came
//! into question for them, the new approach that worked on a sister, and what a swap or a move set
//! apart.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeMap, BTreeSet};

use sqlx::SqliteConnection;

use crate::Failure;
use crate::dossier::Dossier;
use domain::codes::{AttemptCode, ExcursionCode, FamilyCode, SlotCode, TaskCode};
use domain::declines::Decline;
use domain::excursions::Excursion;
use domain::repeat_guard::{
    Approach, Judgement, SetApart, SisterEffect, UnitKey, newly_in_question, set_apart,
};

mod families;
mod kept;

pub(crate) use kept::{differing, renew};

use families::{Families, Laid};

/// How many affected units are shown: each is a row with forms, and a family may have hundreds.
#[derive(Debug, Clone)]
pub struct Share {
    /// One thing alone, of one approach; all of them where nothing is said.
    pub of: Option<(SisterEffect, Approach)>,
    /// So many units of an approach are passed over.
    pub skip: usize,
    /// So many units of each approach are told.
    pub each: usize,
    /// So many units are told of all approaches together.
    pub together: usize,
}

impl Share {
    /// What stands on a page beside other matter.
    pub const PART: Self = Self { of: None, skip: 0, each: 10, together: 30 };

    /// What stands on the page of one task, finding or excursion.
    pub const FEW: Self = Self { of: None, skip: 0, each: 6, together: 6 };

    fn is_of(&self, effect: SisterEffect, approach: &Approach) -> bool {
        self.of.as_ref().is_none_or(|(of, by)| *of == effect && by == approach)
    }
}

/// The open units affected, as many as were asked for.
#[derive(Debug, Clone, Default)]
pub struct SistersAffected {
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
    /// Those that are told.
    pub units: Vec<OpenUnit>,
    /// How many there are.
    pub count: usize,
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
    /// Those that are told.
    pub units: Vec<OpenUnit>,
    /// How many there are.
    pub count: usize,
}

/// How the open units of a family affect each other; any of its tasks names it.
#[boxed]
pub async fn of_family(
    db: &mut SqliteConnection,
    task: &TaskCode,
    share: Share,
) -> Result<SistersAffected, Failure> {
    let dossier = Dossier::load(db, std::slice::from_ref(task)).await?;
    let families = Families::load(db, &dossier).await?;
    let mut telling = Telling::new(&families, share);
    let (mut questioned, mut offered, mut apart) = (Vec::new(), Vec::new(), Vec::new());
    for laid in &families.laid {
        questioned.extend(telling.questioned(laid));
        offered.extend(telling.offered(laid));
        apart.extend(set_apart_in(laid));
    }
    Ok(SistersAffected {
        questioned,
        offered,
        set_apart: apart,
        declined: families.declined,
        coming: families.coming,
    })
}

/// The open units on which these failures turned the guard's judgement, by approach; `tried_on` are
/// the tasks of the attempts.
#[boxed]
pub async fn turned_by(
    db: &mut SqliteConnection,
    failed: &[AttemptCode],
    tried_on: &[TaskCode],
) -> Result<SistersAffected, Failure> {
    let dossier = Dossier::load(db, tried_on).await?;
    turned_in(db, &dossier, failed, None).await
}

/// The same out of a dossier that knows the attempts, without one of the tasks.
#[boxed]
pub(crate) async fn turned_in(
    db: &mut SqliteConnection,
    dossier: &Dossier,
    failed: &[AttemptCode],
    but: Option<&TaskCode>,
) -> Result<SistersAffected, Failure> {
    if failed.is_empty() {
        return Ok(SistersAffected::default());
    }
    let families = Families::load(db, dossier).await?;
    let mut telling = Telling::new(&families, Share::FEW);
    let mut questioned = Vec::new();
    for laid in &families.laid {
        let mut by_approach: BTreeMap<Approach, BTreeSet<UnitKey>> = BTreeMap::new();
        for attempt in failed {
            let record = laid.record.record();
            for turned in newly_in_question(attempt, &laid.open, record, &laid.guard) {
                by_approach.entry(turned.approach).or_default().insert(turned.unit);
            }
        }
        for (approach, units) in by_approach {
            let affected: Vec<&UnitKey> = units.iter().filter(|u| Some(&u.task) != but).collect();
            questioned.extend(telling.question(laid, &approach, &affected));
        }
    }
    Ok(SistersAffected { questioned, coming: families.coming, ..SistersAffected::default() })
}

/// Tells of one approach after the other, as long as there is room.
struct Telling<'a> {
    families: &'a Families<'a>,
    share: Share,
    room: usize,
}

impl<'a> Telling<'a> {
    fn new(families: &'a Families<'a>, share: Share) -> Self {
        Self { families, room: share.together, share }
    }

    /// Those of the units that are told.
    fn some<'u>(&mut self, units: &[&'u UnitKey]) -> Vec<&'u UnitKey> {
        let most = self.share.each.min(self.room);
        let some: Vec<&UnitKey> = units.iter().skip(self.share.skip).take(most).copied().collect();
        self.room -= some.len();
        some
    }

    fn questioned(&mut self, laid: &Laid<'_>) -> Vec<Questioned> {
        let mut all = Vec::new();
        for approach in laid.guard.tried() {
            if self.share.is_of(SisterEffect::Questioned, approach) {
                let not_clear = |unit: &&UnitKey| !laid.guard.is_clear(unit, approach);
                let affected: Vec<&UnitKey> = laid.open.iter().filter(not_clear).collect();
                all.extend(self.question(laid, approach, &affected));
            }
        }
        all
    }

    fn question(
        &mut self,
        laid: &Laid<'_>,
        approach: &Approach,
        affected: &[&UnitKey],
    ) -> Option<Questioned> {
        let told = self.some(affected);
        let unit = |unit: &UnitKey| {
            let judgement = laid.guard.judge(unit, approach);
            self.families.unit(laid, unit, approach, judgement)
        };
        (!affected.is_empty()).then(|| Questioned {
            family: laid.family.cloned(),
            approach: approach.clone(),
            units: told.into_iter().map(unit).collect(),
            count: affected.len(),
        })
    }

    fn offered(&mut self, laid: &Laid<'_>) -> Vec<Offered> {
        let mut all = Vec::new();
        for (approach, done) in laid.guard.first_dones() {
            if !self.share.is_of(SisterEffect::Offered, approach) {
                continue;
            }
            let affected = self.families.offered_to(laid, approach, done);
            let told = self.some(&affected);
            let unit = |unit: &UnitKey| self.families.unit(laid, unit, approach, Judgement::Clear);
            if !affected.is_empty() {
                all.push(Offered {
                    family: laid.family.cloned(),
                    attempt: done.attempt.clone(),
                    approach: approach.clone(),
                    units: told.into_iter().map(unit).collect(),
                    count: affected.len(),
                });
            }
        }
        all
    }
}

fn set_apart_in(laid: &Laid<'_>) -> Vec<(TaskCode, SetApart)> {
    let of = |unit: &UnitKey| {
        let apart = set_apart(unit, &laid.guard);
        apart.into_iter().map(|one| (unit.task.clone(), one)).collect::<Vec<_>>()
    };
    laid.open.iter().flat_map(of).collect()
}
