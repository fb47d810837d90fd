//! The inhibits of an excursion: who does each, how far it is, which tasks need it.

use app::read::Connection;

use crate::addresses;
use crate::marks::slug;
use app::Failure;
use app::inhibits::{InhibitThere, on_excursion};
use domain::codes::{ExcursionCode, TaskCode};
use domain::inhibits::Arrangement;
use domain::kinds::Kind;
use domain::words::ArrangementState;

pub(super) struct InhibitLine {
    pub code: String,
    pub what: String,
    pub owner: String,
    pub state: &'static str,
    pub slug: String,
    pub pets: Option<String>,
    pub needed_by: Vec<String>,
    /// The next state and the words on its button.
    pub step: Option<(&'static str, &'static str)>,
    pub edit: Option<String>,
}

pub(super) async fn lines(
    db: &mut Connection,
    excursion: &ExcursionCode,
    slotted: &[TaskCode],
    may_arrange: bool,
) -> Result<Vec<InhibitLine>, Failure> {
    let there = on_excursion(db, excursion, slotted).await?;
    Ok(there.into_iter().map(|one| line(one, may_arrange)).collect())
}

fn line(one: InhibitThere, may_arrange: bool) -> InhibitLine {
    let InhibitThere { inhibit, arrangement, needed_by } = one;
    let owner =
        inhibit.owner.map_or_else(|| "owner unknown".to_owned(), domain::cells::Line::into_string);
    let lead = inhibit.lead.map(|lead| format!(", {} min ahead", lead.0)).unwrap_or_default();
    let state = arrangement.as_ref().map(|one| one.state);
    let word = state.map_or("not asked", ArrangementState::word);
    let edit = arrangement.as_ref().filter(|_| may_arrange);
    InhibitLine {
        owner: format!("{owner}{lead}"),
        state: word,
        slug: slug(word),
        pets: arrangement.as_ref().and_then(pets),
        needed_by: needed_by.iter().map(ToString::to_string).collect(),
        step: step(state).filter(|_| may_arrange),
        edit: edit.map(|one| {
            format!("{}/edit#f-from_pet", addresses::of(Kind::Arrangement, one.code.0.as_str()))
        }),
        code: inhibit.code.0.to_string(),
        what: inhibit.what.into_string(),
    }
}

/// What a button does next. A release needs its PET, so it is entered on the form.
pub(crate) fn step(state: Option<ArrangementState>) -> Option<(&'static str, &'static str)> {
    let words = |to: ArrangementState| match to {
        ArrangementState::Asked => Some("Mark as asked"),
        ArrangementState::Arranged => Some("Mark as arranged"),
        ArrangementState::InPlace => Some("Mark as in place"),
        ArrangementState::Released => None,
    };
    let to = match state {
        None => ArrangementState::Asked,
        Some(state) => state.next()?,
    };
    words(to).map(|words| (to.word(), words))
}

/// “PET 1:00 to 3:30”, where either is known.
pub(crate) fn pets(arrangement: &Arrangement) -> Option<String> {
    match (arrangement.from_pet, arrangement.until_pet) {
        (None, None) => None,
        (Some(from), None) => Some(format!("from PET {from}")),
        (None, Some(until)) => Some(format!("until PET {until}")),
        (Some(from), Some(until)) => Some(format!("PET {from} to {until}")),
    }
}
