//! Families and their units. Moving a unit takes its history along.

use crate::Failure;
use crate::create_missing;
use crate::records::Ruled;
use crate::touched;
use crate::work::Work;
use domain::families::{Family, Unit};
use domain::kinds::Kind;
use store::{register, tasks};

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
        if let Some(position) = &unit.position
            && register::find(work.db(), Kind::Position, position.as_str()).await?.is_none()
        {
            let worksite = unit.worksite.as_ref().map_or("", |site| site.as_str()).to_owned();
            let position = position.as_str().to_owned();
            create_missing::position(work, &position, &worksite).await?;
        }
        // The worksite only says where a new position is; the unit keeps the position.
        unit.worksite = None;
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
