//! Another code for a record that nothing else names.

use crate::Failure;
use crate::records::{Ruled, code_refused, current, index_words, refusal};
use crate::work::Work;
use async_recursion::async_recursion as boxed;
use domain::cells::FieldError;
use domain::excursions::Excursion;
use domain::families::Family;
use domain::flights::Flight;
use domain::kinds::Kind;
use domain::tools::Tool;
use domain::worksites::{Position, Worksite};
use store::{named_by, register};

/// So many of the records that name it are listed.
const MAX_NAMED: usize = 5;

/// Whether the code of such a record can be changed.
pub const fn is_possible(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::Flight
            | Kind::Excursion
            | Kind::Worksite
            | Kind::Position
            | Kind::Family
            | Kind::Tool
    )
}

/// Gives a record another code, in the same transaction as the rest of the edit.
#[boxed]
pub async fn rename(work: &mut Work, kind: Kind, code: &str, to: &str) -> Result<(), Failure> {
    match kind {
        Kind::Flight => of_kind::<Flight>(work, code, to).await,
        Kind::Excursion => of_kind::<Excursion>(work, code, to).await,
        Kind::Worksite => of_kind::<Worksite>(work, code, to).await,
        Kind::Position => of_kind::<Position>(work, code, to).await,
        Kind::Family => of_kind::<Family>(work, code, to).await,
        Kind::Tool => of_kind::<Tool>(work, code, to).await,
        _ => Err(Failure::field("code", format!("A {kind} keeps its code."))),
    }
}

async fn of_kind<R: Ruled>(work: &mut Work, code: &str, to: &str) -> Result<(), Failure> {
    let wrong = |message: String| Failure::Invalid(vec![FieldError::new("code", message)]);
    let mut record = current::<R>(work, code).await?;
    if to.is_empty() {
        return Err(wrong("Type a code; it cannot stay empty.".to_owned()));
    }
    if let Some(why) = code_refused(work.db(), R::KIND, to, Some(code)).await? {
        return Err(wrong(why));
    }
    let names = named_by::all(work.db(), R::KIND, code).await?;
    if !names.is_empty() {
        let more = names.len().saturating_sub(MAX_NAMED);
        let listed: Vec<String> = names
            .iter()
            .take(MAX_NAMED)
            .map(|one| format!("{} {}", one.kind, one.code))
            .chain((more > 0).then(|| "others".to_owned()))
            .collect();
        return Err(wrong(format!(
            "{code} keeps its code while other records name it: {}.",
            listed.join(", ")
        )));
    }
    let renamed = named_by::rename(work.db(), R::KIND, code, to).await;
    renamed.map_err(|cause| match refusal(cause) {
        Failure::Refused(_) => wrong(format!("{code} keeps its code while records name it.")),
        other => other,
    })?;
    record.set_code(to.to_owned());
    let (who, now) = (work.actor.name.clone(), work.now);
    register::rename(work.db(), R::KIND, (code, to), &who, now).await?;
    let said = |code: &str| Some(serde_json::json!({ "code": code }).to_string());
    work.log(R::KIND, code, "given another code", said(code), said(to)).await?;
    work.log(R::KIND, to, "renamed", said(code), said(to)).await?;
    index_words(work, &record).await?;
    R::follow(work, Some(&record), &record).await
}
