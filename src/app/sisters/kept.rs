//! Which open units of every family an approach affects, kept for the first page: derived with the tasks, compared
//! by `holdover check`.

use async_recursion::async_recursion as boxed;
use std::collections::BTreeSet;

use sqlx::SqliteConnection;

use super::families::{Families, Laid};
use crate::Failure;
use crate::dossier::Dossier;
use domain::cells::List;
use domain::codes::{AttemptCode, FamilyCode, TaskCode};
use domain::repeat_guard::{Approach, SisterEffect, UnitKey};
use store::affected::{self, Affected};

/// So many of the units are named.
const NAMED: usize = 10;

/// Derives again what is affected in these families, whose tasks are derived and stored by now, and
/// stores what differs. `left` are families that a task left: they may have none any more.
pub(crate) async fn renew(
    db: &mut SqliteConnection,
    dossier: &Dossier,
    left: impl IntoIterator<Item = FamilyCode>,
) -> Result<(), Failure> {
    let families: BTreeSet<FamilyCode> = families_of(dossier).chain(left).collect();
    if families.is_empty() {
        return Ok(());
    }
    let families: Vec<FamilyCode> = families.into_iter().collect();
    let now = anew(db, dossier).await?;
    if affected::of_families(db, &families).await? != now {
        affected::replace(db, &families, &now).await?;
    }
    Ok(())
}

/// The families whose stored rows differ from what is derived.
#[boxed]
pub(crate) async fn differing(
    db: &mut SqliteConnection,
    dossier: &Dossier,
) -> Result<Vec<FamilyCode>, Failure> {
    let families: BTreeSet<FamilyCode> = families_of(dossier).collect();
    let all: Vec<FamilyCode> = families.iter().cloned().collect();
    let (stored, now) = (affected::of_families(db, &all).await?, anew(db, dossier).await?);
    let of = |rows: &[Affected], family: &FamilyCode| -> Vec<Affected> {
        rows.iter().filter(|row| row.family == *family).cloned().collect()
    };
    Ok(families.into_iter().filter(|family| of(&stored, family) != of(&now, family)).collect())
}

fn families_of(dossier: &Dossier) -> impl Iterator<Item = FamilyCode> {
    dossier.events.openings.iter().filter_map(|opening| opening.family.clone())
}

/// What is affected in the families of a dossier, in the stored order.
async fn anew(db: &mut SqliteConnection, dossier: &Dossier) -> Result<Vec<Affected>, Failure> {
    let families = Families::load(db, dossier).await?;
    let mut all = Vec::new();
    for laid in &families.laid {
        let Some(family) = laid.family else { continue };
        for approach in laid.guard.tried() {
            let affected: Vec<&UnitKey> =
                laid.open.iter().filter(|unit| laid.guard.is_in_question(unit, approach)).collect();
            let failed = affected.first().and_then(|unit| failed_on(laid, unit, approach));
            if let Some(failed) = failed {
                all.extend(row(SisterEffect::Questioned, family, approach, failed, &affected));
            }
        }
        for (approach, done) in laid.guard.first_dones() {
            let affected = families.offered_to(laid, approach, done);
            all.extend(row(
                SisterEffect::Offered,
                family,
                approach,
                done.attempt.clone(),
                &affected,
            ));
        }
    }
    all.sort_by(|a, b| a.key().cmp(&b.key()));
    Ok(all)
}

fn failed_on(laid: &Laid<'_>, unit: &UnitKey, approach: &Approach) -> Option<AttemptCode> {
    laid.guard.judge(unit, approach).attempts().first().cloned()
}

fn row(
    what: SisterEffect,
    family: &FamilyCode,
    approach: &Approach,
    attempt: AttemptCode,
    affected: &[&UnitKey],
) -> Option<Affected> {
    let named: List<TaskCode> = affected.iter().take(NAMED).map(|unit| unit.task.clone()).collect();
    (!affected.is_empty()).then_some(())?;
    Some(Affected {
        what,
        family: family.clone(),
        technique: approach.technique.clone()?,
        side: approach.side.clone()?,
        attempt,
        units: i64::try_from(affected.len()).unwrap_or(i64::MAX),
        named,
    })
}
