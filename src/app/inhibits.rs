//! Inhibits and how far they are on each excursion.

use async_recursion::async_recursion as boxed;
use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use crate::Failure;
use crate::library::{Shelf, TaskStanding, open_of};
use crate::records::{Base, Ruled, Saved, save};
use crate::work::Work;
use domain::cells::Prose;
use domain::codes::{ExcursionCode, InhibitCode, Own, TaskCode};
use domain::inhibits::{Arrangement, Inhibit};
use domain::kinds::Kind;
use domain::words::ArrangementState;
use store::library::PAGE;
use store::{Kept, excursions, inhibits, reach, slots, tasks};

impl Ruled for Inhibit {}

impl Ruled for Arrangement {
    async fn prepare(
        work: &mut Work,
        _before: Option<&Self>,
        arrangement: &mut Self,
    ) -> Result<(), Failure> {
        let wrong = arrangement.wrong();
        if !wrong.is_empty() {
            return Err(Failure::Invalid(wrong));
        }
        let (inhibit, excursion) = (&arrangement.inhibit, &arrangement.excursion);
        let same = inhibits::of_both(work.db(), inhibit, excursion).await?;
        if let Some(same) = same.filter(|same| same.code != arrangement.code) {
            let message = format!(
                "{} says how far {inhibit} is on {excursion} already; change that one.",
                same.code.0
            );
            return Err(Failure::field("inhibit", message));
        }
        Ok(())
    }
}

/// Takes an inhibit one step on for an excursion: asks for it, says that it is arranged or in
/// place.
#[boxed]
pub async fn step(
    work: &mut Work,
    inhibit: &InhibitCode,
    excursion: &ExcursionCode,
    to: ArrangementState,
) -> Result<Saved<Arrangement>, Failure> {
    if let Some(mut arrangement) = inhibits::of_both(work.db(), inhibit, excursion).await? {
        arrangement.state = to;
        return save(work, arrangement, Base::Current).await;
    }
    let arrangement = Arrangement {
        code: Own("".into()),
        inhibit: inhibit.clone(),
        excursion: excursion.clone(),
        state: to,
        from_pet: None,
        until_pet: None,
        notes: Prose::default(),
    };
    save(work, arrangement, Base::New).await
}

/// An inhibit on one excursion, with the tasks there that need it.
#[derive(Debug)]
pub struct InhibitThere {
    pub inhibit: Inhibit,
    pub arrangement: Option<Arrangement>,
    pub needed_by: Vec<TaskCode>,
}

/// What the tasks with a slot there need, and whatever else is arranged.
#[boxed]
pub async fn on_excursion(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    slotted: &[TaskCode],
) -> Result<Vec<InhibitThere>, Failure> {
    let mut there: BTreeMap<InhibitCode, (Option<Arrangement>, Vec<TaskCode>)> = BTreeMap::new();
    for arrangement in inhibits::arranged_on(db, std::slice::from_ref(excursion)).await? {
        let inhibit = arrangement.inhibit.clone();
        there.entry(inhibit).or_default().0 = Some(arrangement);
    }
    for task in tasks::these(db, slotted).await? {
        for inhibit in task.needs_inhibits.iter() {
            there.entry(inhibit.clone()).or_default().1.push(task.code.0.clone());
        }
    }
    let codes: Vec<InhibitCode> = there.keys().cloned().collect();
    let found = inhibits::these(db, &codes).await?;
    let with = |inhibit: Inhibit| {
        let (arrangement, needed_by) = there.remove(&inhibit.code.0).unwrap_or_default();
        InhibitThere { inhibit, arrangement, needed_by }
    };
    Ok(found.into_iter().map(with).collect())
}

/// One page of the inhibits, each with the number of open items that need it.
#[boxed]
pub async fn shelf(
    db: &mut SqliteConnection,
    typed: &str,
    page: i64,
) -> Result<Shelf<(Inhibit, i64)>, Failure> {
    let found = inhibits::matching(db, typed, (page - 1) * PAGE, PAGE).await?;
    let total = inhibits::count_matching(db, typed).await?;
    let codes: Vec<InhibitCode> = found.iter().map(|one| one.code.0.clone()).collect();
    let open = inhibits::open_that_need(db, &codes).await?;
    let count = |inhibit: &Inhibit| {
        open.iter().find(|(code, _)| *code == inhibit.code.0).map_or(0, |(_, count)| *count)
    };
    let entries = found.into_iter().map(|one| (count(&one), one)).map(|(n, one)| (one, n));
    Ok(Shelf { entries: entries.collect(), total })
}

/// One inhibit whole.
#[derive(Debug)]
pub struct InhibitRead {
    pub inhibit: Inhibit,
    pub open: Shelf<TaskStanding>,
    /// Every coming excursion in its order, and whatever was arranged on others.
    pub on: Vec<OnExcursion>,
}

#[derive(Debug)]
pub struct OnExcursion {
    pub excursion: ExcursionCode,
    pub coming: bool,
    pub arrangement: Option<Arrangement>,
    /// The tasks with a slot there that need it.
    pub needed_by: Vec<TaskCode>,
}

#[boxed]
pub async fn whole(
    db: &mut SqliteConnection,
    code: &str,
    page: i64,
) -> Result<InhibitRead, Failure> {
    let missing = || Failure::NotFound(Kind::Inhibit, code.to_owned());
    let inhibit = Inhibit::find(db, code).await?.ok_or_else(missing)?;
    let meant = reach::tasks_that_need_inhibit(db, &inhibit.code.0).await?;
    let mut arranged = inhibits::arranged_of(db, &inhibit.code.0).await?;
    let live = slots::coming_slots(db).await?;
    let mut on = Vec::new();
    for excursion in excursions::coming(db).await? {
        let code = excursion.code.0;
        let of = arranged.iter().position(|one| one.excursion == code);
        let here = live.iter().filter(|slot| slot.excursion == code && meant.contains(&slot.task));
        on.push(OnExcursion {
            coming: true,
            arrangement: of.map(|at| arranged.remove(at)),
            needed_by: here.map(|slot| slot.task.clone()).collect(),
            excursion: code,
        });
    }
    on.extend(arranged.into_iter().map(|one| OnExcursion {
        excursion: one.excursion.clone(),
        coming: false,
        arrangement: Some(one),
        needed_by: Vec::new(),
    }));
    Ok(InhibitRead { open: open_of(db, &meant, page).await?, on, inhibit })
}
