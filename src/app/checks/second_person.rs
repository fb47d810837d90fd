//! Whether every review, verification and clearance was made by a second account, as the change
//! log has it, and rests on what it needs.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use super::rules::capped;
use crate::Failure;
use crate::four_eyes::{JUDGED, entries_of, judging, resting_on};
use domain::four_eyes::{Judgement, Judging, faults as broken, same_account};
use domain::kinds::Kind;
use store::invariants::{self, JudgedRow, MAX_NAMED};

/// Records whose entries are read at once.
const AT_ONCE: i64 = 500;

#[boxed]
pub(super) async fn faults(db: &mut SqliteConnection) -> Result<Vec<String>, Failure> {
    let enough = usize::try_from(MAX_NAMED).unwrap_or(usize::MAX);
    let mut found = Vec::new();
    for kind in JUDGED {
        let Some(judging) = judging(kind) else { continue };
        let mut after = String::new();
        while found.len() < enough {
            let rows = page(db, kind, &after).await?;
            let Some(last) = rows.last() else { break };
            after.clone_from(&last.code);
            found.extend(of_page(db, kind, &judging, &rows).await?);
        }
    }
    let unfounded = invariants::verified_in_vain(db).await?;
    found.extend(
        unfounded
            .into_iter()
            .map(|one| format!("remedy {} is verified, and {}", one.code, one.why)),
    );
    found.truncate(enough);
    Ok(capped(found))
}

async fn page(
    db: &mut SqliteConnection,
    kind: Kind,
    after: &str,
) -> Result<Vec<JudgedRow>, Failure> {
    Ok(match kind {
        Kind::Finding => invariants::judged_findings(db, after, AT_ONCE).await?,
        Kind::Exemption => invariants::judged_exemptions(db, after, AT_ONCE).await?,
        Kind::Constraint => invariants::judged_constraints(db, after, AT_ONCE).await?,
        Kind::Remedy => invariants::judged_remedies(db, after, AT_ONCE).await?,
        Kind::Revision => invariants::judged_revisions(db, after, AT_ONCE).await?,
        _ => Vec::new(),
    })
}

async fn of_page(
    db: &mut SqliteConnection,
    kind: Kind,
    judging: &Judging,
    rows: &[JudgedRow],
) -> Result<Vec<String>, Failure> {
    let codes: Vec<String> = rows.iter().map(|row| row.code.clone()).collect();
    let entries = entries_of(db, kind, &codes).await?;
    let rests_on = match kind {
        Kind::Remedy => resting_on(db, &codes).await?,
        _ => std::collections::BTreeMap::new(),
    };
    let mut found = Vec::new();
    for row in rows {
        let code = &row.code;
        if row.named.as_ref().is_some_and(|named| same_account(named.as_str(), row.by.as_str())) {
            found.push(format!(
                "{kind} {code} was {} by {}, its {}",
                judging.done, row.by, judging.names
            ));
        }
        let judgement = Judgement { by: row.by.clone(), on: row.on };
        let entries = entries.get(code).map_or(&[][..], Vec::as_slice);
        let rests_on = rests_on.get(code).map_or(&[][..], Vec::as_slice);
        let why = broken(judging, &judgement, row.checked, entries, rests_on, code);
        found.extend(why.into_iter().map(|why| format!("{kind} {code} {why}")));
    }
    Ok(found)
}
