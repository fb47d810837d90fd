//! Families and their units. Moving a unit takes its history along.

use crate::Failure;
use crate::create_missing;
use crate::records::{Base, Ruled, not_there, write};
use crate::touched;
use crate::work::Work;
use domain::codes::{PositionCode, WorksiteCode};
use domain::families::{Family, Unit};
use domain::kinds::Kind;
use domain::worksites::Position;
use store::{Kept as _, register, tasks};

impl Ruled for Family {}

impl Ruled for Unit {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        unit: &mut Self,
    ) -> Result<(), Failure> {
        if let (Some(from), Some(until)) = (unit.from_day, unit.until_day)
            && until < from
        {
            return Err(Failure::field("until_day", "The stay ends before it begins."));
        }
        place(work, unit).await?;
        let moved = before
            .is_some_and(|before| before.position.is_some() && before.position != unit.position);
        if moved && unit.from_day.is_none() {
            unit.from_day = Some(work.today);
        }
        Ok(())
    }

    async fn reach(work: &mut Work, unit: &Self) -> Result<(), Failure> {
        let of_family = tasks::of_family(work.db(), &unit.family).await?;
        touched::all(work, of_family.into_iter().map(|task| task.code.0));
        if let Some(position) = &unit.position {
            let there = tasks::by_position(work.db(), position).await?;
            touched::all(work, there.into_iter().map(|task| task.code.0));
        }
        Ok(())
    }
}

/// Puts the unit at its position. The worksite beside it says where that position is; the unit keeps
/// the position alone. A position of that name elsewhere is refused; in a table, where nobody can be
/// asked, the worksite is put in front of its name.
async fn place(work: &mut Work, unit: &mut Unit) -> Result<(), Failure> {
    let worksite = unit.worksite.take();
    let Some(code) = &unit.position else {
        let Some(named) = worksite else { return Ok(()) };
        let words = format!("Enter the position of the unit at {named}.");
        return Err(Failure::field("position", words));
    };
    let Some(position) = Position::find(work.db(), code.as_str()).await? else {
        let site = worksite.as_ref().map_or("", |site| site.as_str());
        return create_missing::position(work, code.as_str(), site).await;
    };
    let Some(named) = worksite else { return Ok(()) };
    match &position.worksite {
        Some(there) if *there == named => Ok(()),
        Some(_) if work.creates_missing => {
            unit.position = Some(create_missing::position_at(work, code, &named).await?);
            Ok(())
        }
        Some(there) => Err(Failure::field("worksite", elsewhere(code, there, &named))),
        None => {
            if register::find(work.db(), Kind::Worksite, named.as_str()).await?.is_none() {
                if !work.creates_missing {
                    let wrong = not_there("worksite", Kind::Worksite, named.as_str());
                    return Err(Failure::Invalid(vec![wrong]));
                }
                create_missing::worksite(work, named.as_str()).await?;
            }
            if !work.creates_missing {
                work.note(format!("Position {code} is at {named} now."));
            }
            write(work, Position { worksite: Some(named), ..position }, Base::Current).await?;
            Ok(())
        }
    }
}

/// Why a position cannot be at the worksite that was typed beside it.
pub(crate) fn elsewhere(
    position: &PositionCode,
    there: &WorksiteCode,
    typed: &WorksiteCode,
) -> String {
    format!(
        "Position {position} is at {there}, and {typed} is entered. Enter {there}, or a position at \
         {typed}; the worksite of {position} is changed on its own page."
    )
}
