//! What the open units of every family hear, kept for the first page: derived with the tasks, compared
//! by `holdover check`.

use async_recursion::async_recursion as boxed;
use std::collections::BTreeSet;

use sqlx::SqliteConnection;

use super::families::{Families, Laid};
use crate::Failure;
use crate::dossier::Dossier;
use domain::cells::List;
use domain::codes::{AttemptCode, FamilyCode, TaskCode};
use domain::repeat_guard::{Approach, Hears, UnitKey};
use store::heard::{self, Heard};

/// So many of the units are named.
const NAMED: usize = 10;

/// Works out anew what is heard in these families, whose tasks are derived and stored by now, and
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
    if heard::of_families(db, &families).await? != now {
        heard::replace(db, &families, &now).await?;
    }
    Ok(())
}

/// The families of which something else is stored than is heard there.
#[boxed]
pub(crate) async fn differing(
    db: &mut SqliteConnection,
    dossier: &Dossier,
) -> Result<Vec<FamilyCode>, Failure> {
    let families: BTreeSet<FamilyCode> = families_of(dossier).collect();
    let all: Vec<FamilyCode> = families.iter().cloned().collect();
    let (stored, now) = (heard::of_families(db, &all).await?, anew(db, dossier).await?);
    let of = |rows: &[Heard], family: &FamilyCode| -> Vec<Heard> {
        rows.iter().filter(|row| row.family == *family).cloned().collect()
    };
    Ok(families.into_iter().filter(|family| of(&stored, family) != of(&now, family)).collect())
}

fn families_of(dossier: &Dossier) -> impl Iterator<Item = FamilyCode> {
    dossier.events.openings.iter().filter_map(|opening| opening.family.clone())
}

/// What is heard in the families of a dossier, in the order in which it is stored.
async fn anew(db: &mut SqliteConnection, dossier: &Dossier) -> Result<Vec<Heard>, Failure> {
    let families = Families::load(db, dossier).await?;
    let mut all = Vec::new();
    for laid in &families.laid {
        let Some(family) = laid.family else { continue };
        for approach in laid.guard.tried() {
            let hear: Vec<&UnitKey> =
                laid.open.iter().filter(|unit| laid.guard.is_in_question(unit, approach)).collect();
            let failed = hear.first().and_then(|unit| failed_on(laid, unit, approach));
            if let Some(failed) = failed {
                all.extend(row(Hears::InQuestion, family, approach, failed, &hear));
            }
        }
        for (approach, done) in laid.guard.first_dones() {
            let hear = families.offered_to(laid, approach, done);
            all.extend(row(Hears::Offered, family, approach, done.attempt.clone(), &hear));
        }
    }
    all.sort_by(|a, b| a.key().cmp(&b.key()));
    Ok(all)
}

fn failed_on(laid: &Laid<'_>, unit: &UnitKey, approach: &Approach) -> Option<AttemptCode> {
    laid.guard.judge(unit, approach).attempts().first().cloned()
}

fn row(
    what: Hears,
    family: &FamilyCode,
    approach: &Approach,
    attempt: AttemptCode,
    hear: &[&UnitKey],
) -> Option<Heard> {
    let named: List<TaskCode> = hear.iter().take(NAMED).map(|unit| unit.task.clone()).collect();
    (!hear.is_empty()).then_some(())?;
    Some(Heard {
        what,
        family: family.clone(),
        technique: approach.technique.clone()?,
        side: approach.side.clone()?,
        attempt,
        units: i64::try_from(hear.len()).unwrap_or(i64::MAX),
        named,
    })
}
