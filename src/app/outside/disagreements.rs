//! Where the record of an attempt and the outside list disagree: asked, and settled in one step.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::Failure;
use crate::records::{Base, current, save};
use crate::work::Work;
use domain::attempts::Attempt;
use domain::cells::{FieldError, Line, Prose};
use domain::codes::{OutsideCode, Own};
use domain::outside::{Contradiction, Listed, OutsideItem, Statement, contradictions};
use domain::words::{OutsideAfter, OutsideState};
use store::outside;

/// Which of the two is right.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Right {
    Record,
    List,
}

/// Everything on which record and list disagree now.
#[boxed]
pub async fn disagreements(db: &mut SqliteConnection) -> Result<Vec<Contradiction>, Failure> {
    let statements = outside::statements(db).await?;
    if statements.is_empty() {
        return Ok(Vec::new());
    }
    let list: Vec<Listed> = outside::listed(db).await?;
    Ok(contradictions(&list, &statements))
}

/// Corrects the one that is wrong; the log says which was found right. Gives back what was done.
#[boxed]
pub async fn settle(
    work: &mut Work,
    attempt: &str,
    item: &str,
    right: Right,
) -> Result<String, Failure> {
    let open = disagreements(work.db()).await?;
    let Some(found) = open.into_iter().find(|found| found.is_about(attempt, item)) else {
        return Err(Failure::Refused(
            "This is settled already; the outside list shows how it stands.".to_owned(),
        ));
    };
    work.because(match right {
        Right::Record => format!("the record of {attempt} is right, the outside list was not"),
        Right::List => format!("the outside list is right, the record of {attempt} was not"),
    });
    match (found, right) {
        (Contradiction::StillListed { mut item, said }, Right::Record) => {
            item.state = OutsideState::BroughtIn;
            item.ended_on = said.day;
            Ok(told(&save(work, item, Base::Current).await?.record))
        }
        (Contradiction::StillListed { item, said }, Right::List) => {
            still_there(work, item, &said).await
        }
        (Contradiction::NotListed { said }, Right::Record) => {
            let item = save(work, left_by(&said), Base::New).await?.record;
            Ok(format!("{}, {}, is on the list now.", item.code.0, item.what))
        }
        (Contradiction::NotListed { .. }, Right::List) => {
            correct(work, attempt, |attempt| {
                attempt.outside_after = Some(OutsideAfter::Nothing);
                attempt.temporary = None;
            })
            .await?;
            Ok(format!("{attempt} says “{}” now.", OutsideAfter::Nothing))
        }
        (Contradiction::SeenLater { mut item, .. }, Right::Record) => {
            item.state = OutsideState::InPlace;
            item.ended_on = None;
            Ok(told(&save(work, item, Base::Current).await?.record))
        }
        (Contradiction::SeenLater { item, .. }, Right::List) => {
            let own = item.code.0;
            correct(work, attempt, |attempt| {
                attempt.outside_items.0.retain(|code| *code != own);
                if attempt.outside_items.0.is_empty() {
                    attempt.outside_after = None;
                }
            })
            .await?;
            Ok(format!("{attempt} says nothing of {own} any more."))
        }
    }
}

fn told(item: &OutsideItem) -> String {
    format!("{}, {}, is {} now.", item.code.0, item.what, item.state)
}

/// The item stayed outside. A task that ended done does not bring it back any more.
async fn still_there(
    work: &mut Work,
    mut item: OutsideItem,
    said: &Statement,
) -> Result<String, Failure> {
    let own = item.code.0.clone();
    correct(work, said.attempt.as_str(), |attempt| {
        attempt.outside_after = Some(OutsideAfter::Left);
        if !attempt.outside_items.0.contains(&own) {
            attempt.outside_items.0.push(own.clone());
        }
    })
    .await?;
    let attempt = &said.attempt;
    if item.brought_back_by.as_ref() == Some(&said.task) && said.after.is_none() {
        item.brought_back_by = None;
        save(work, item, Base::Current).await?;
        return Ok(format!("{attempt} left {own} in place; nobody brings it back yet."));
    }
    Ok(format!("{attempt} says now that {own} stayed in place."))
}

/// The item that the list lacks, as far as the attempt tells what it is.
fn left_by(said: &Statement) -> OutsideItem {
    let what = said
        .temporary
        .clone()
        .unwrap_or_else(|| Line::known(format!("Temporary hardware of {}", said.task)));
    OutsideItem {
        code: Own(OutsideCode::default()),
        what,
        worksite: said.worksite.clone(),
        purpose: None,
        left_by: Some(said.attempt.clone()),
        since: said.day,
        limit_days: None,
        limit_until: None,
        tool: None,
        brought_back_by: None,
        returns_with: None,
        state: OutsideState::InPlace,
        ended_on: None,
        notes: Prose::default(),
    }
}

/// Changes an attempt. What else is wrong with an old record is named, as its fields are not here.
async fn correct(
    work: &mut Work,
    code: &str,
    change: impl FnOnce(&mut Attempt),
) -> Result<(), Failure> {
    let mut attempt = current::<Attempt>(work, code).await?;
    change(&mut attempt);
    match save(work, attempt, Base::Current).await {
        Ok(_) => Ok(()),
        Err(Failure::Invalid(wrong)) => {
            let wrong: Vec<String> =
                wrong.into_iter().map(|FieldError { message, .. }| message).collect();
            let wrong = wrong.join(" ");
            Err(Failure::Refused(format!("{code} cannot be saved until it is corrected: {wrong}")))
        }
        Err(other) => Err(other),
    }
}
