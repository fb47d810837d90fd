//! The way back from the last change of an excursion's slots. It is a change itself: what was
//! added is taken off, what was taken off is planned again, and the log tells both.

use async_recursion::async_recursion as boxed;
use serde::{Deserialize, Serialize};
use sqlx::SqliteConnection;

use super::effect::read;
use super::leaving::{is_earlier, pull_forward};
use super::{Reason, Waiver, pencil, settle, step, withdraw};
use crate::Failure;
use crate::excursions::allowed;
use crate::records::{Base, write};
use crate::work::Work;
use domain::cells::Cells;
use domain::codes::{ExcursionCode, Own, SlotCode, TaskCode};
use domain::kinds::Kind;
use domain::records::Record as _;
use domain::roles::Action;
use domain::slots::Slot;
use domain::time::Moment;
use domain::words::{GateName, SlotState};
use store::{StoreError, lane_changes, register, slot_history, slots};

/// What stood before a change, and what it left.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct WayBack {
    /// The slots before it, as cells.
    slots: Vec<Vec<(String, String)>>,
    /// The slots after it, with their versions.
    left: Vec<(SlotCode, i64)>,
    /// What it made on other excursions, with their versions.
    made: Vec<(SlotCode, i64)>,
    subject: Option<SlotCode>,
}

/// How long ago a change was made.
#[derive(Debug, Clone, Copy)]
pub(super) struct Age {
    pub made: Moment,
    pub now: Moment,
}

impl Age {
    /// So long after it a change is taken back as if it had not been made.
    const MAX_FRESH_MINUTES: i64 = 60;

    fn is_fresh(self) -> bool {
        (0..=Self::MAX_FRESH_MINUTES * 60_000).contains(&(self.now.0 - self.made.0))
    }
}

impl WayBack {
    #[boxed]
    pub async fn to(
        db: &mut SqliteConnection,
        before: Vec<Slot>,
        after: &[Slot],
        made: Vec<SlotCode>,
        subject: Option<&SlotCode>,
    ) -> Result<Self, Failure> {
        let codes = after.iter().map(Slot::code).chain(made.iter().map(SlotCode::as_str));
        let versions = register::versions(db, Kind::Slot, codes).await?;
        let version = |code: &SlotCode| versions.get(code.as_str()).copied().unwrap_or(0);
        let cells = |slot: Slot| {
            let cells = slot.cells();
            cells.iter().map(|(name, text)| (name.to_owned(), text.to_owned())).collect()
        };
        Ok(Self {
            slots: before.into_iter().map(cells).collect(),
            left: after.iter().map(|slot| (slot.code.0.clone(), version(&slot.code.0))).collect(),
            made: made.into_iter().map(|code| (code.clone(), version(&code))).collect(),
            subject: subject.cloned(),
        })
    }

    /// Whether everything is as the change left it, and whether going back writes a deferral: not so
    /// soon after it, when nobody has planned by it.
    pub async fn stands(
        &self,
        db: &mut SqliteConnection,
        excursion: &ExcursionCode,
        age: Age,
    ) -> Result<(bool, bool), Failure> {
        let now = live(db, excursion).await?;
        let elsewhere = self.elsewhere(db).await?;
        let all = self.left.iter().chain(&self.made);
        let codes = all.clone().map(|(code, _)| code.as_str());
        let versions = register::versions(db, Kind::Slot, codes).await?;
        let same = |(code, version): &(SlotCode, i64)| versions.get(code.as_str()) == Some(version);
        let stands = now.len() == self.left.len()
            && elsewhere.len() == self.made.len()
            && all.clone().all(same);
        let then = self.then()?;
        let mut asks = now.iter().any(|slot| slot.state == SlotState::Set && leaves(slot, &then));
        for slot in elsewhere.iter().filter(|slot| slot.state == SlotState::Set) {
            asks = asks || !comes_forward(db, slot, excursion, &then).await?;
        }
        Ok((stands, asks && !age.is_fresh()))
    }

    fn then(&self) -> Result<Vec<Slot>, Failure> {
        let slot = |cells: &Vec<(String, String)>| {
            let cells: Cells = cells.iter().cloned().collect();
            Slot::parse(&cells).map_err(|wrong| {
                let why = wrong.into_iter().map(|wrong| wrong.message).collect();
                Failure::Internal(StoreError::Corrupt { table: "lane_change", why })
            })
        };
        self.slots.iter().map(slot).collect()
    }

    async fn elsewhere(&self, db: &mut SqliteConnection) -> Result<Vec<Slot>, Failure> {
        if self.made.is_empty() {
            return Ok(Vec::new());
        }
        let mut coming = slots::coming_slots(db).await?;
        coming.retain(|slot| self.made.iter().any(|(code, _)| *code == slot.code.0));
        Ok(coming)
    }
}

/// Takes the last change back, if it is the one of that number and nothing was changed since.
#[boxed]
pub async fn undo(
    work: &mut Work,
    excursion: &ExcursionCode,
    number: i64,
    reason: Option<Reason>,
) -> Result<String, Failure> {
    allowed(work, Action::Pencil)?;
    let last = lane_changes::last(work.db(), excursion).await?;
    let Some(last) = last.filter(|last| last.number == number) else {
        return Err(changed_since(excursion));
    };
    let way_back: WayBack = read(&last.way_back)?;
    let age = Age { made: last.at, now: work.now };
    if !way_back.stands(work.db(), excursion, age).await?.0 {
        return Err(changed_since(excursion));
    }
    let then = way_back.then()?;
    let now = live(work.db(), excursion).await?;
    let elsewhere = way_back.elsewhere(work.db()).await?;
    for slot in now.iter().filter(|slot| leaves(slot, &then)) {
        take_off(work, slot, (reason.clone(), None), age).await?;
    }
    let mut forward: Vec<(TaskCode, SlotCode)> = Vec::new();
    for slot in elsewhere {
        if comes_forward(work.db(), &slot, excursion, &then).await? {
            let left = pull_forward(work, slot.clone(), reason.clone()).await?;
            forward.push((slot.task, left));
        } else {
            let back = then.iter().any(|old| old.task == slot.task).then(|| excursion.clone());
            take_off(work, &slot, (reason.clone(), back), age).await?;
        }
    }
    let mut to_set = Vec::new();
    for old in then {
        let is_set = old.state == SlotState::Set;
        let waiver = waiver_of(&old);
        match now.iter().find(|slot| slot.code == old.code && slot.state == old.state) {
            Some(slot) if plans_the_same(slot, &old) && slot.place == old.place => {}
            Some(slot) => {
                allowed(work, if is_set { Action::SetSlot } else { Action::Pencil })?;
                let meant = way_back.subject.as_ref() == Some(&old.code.0);
                let anew = is_set && (meant || !plans_the_same(slot, &old));
                let back = write(work, old, Base::Current).await?.record;
                if anew {
                    to_set.push((back, waiver));
                }
            }
            None => {
                let again = pencil(work, Slot { code: Own(SlotCode::default()), ..old }).await?;
                if is_set {
                    allowed(work, Action::SetSlot)?;
                    to_set.push((again, waiver));
                }
            }
        }
    }
    // Gates are asked when all stand where they stood.
    for (slot, waiver) in to_set {
        let slot = settle(work, slot, &waiver).await?;
        if let Some((_, left)) = forward.iter().find(|(task, _)| *task == slot.task) {
            slot_history::note_move(work.db(), left, &slot.code.0).await?;
        }
    }
    let undone = last.words.strip_prefix(UNDONE).and_then(|words| words.strip_suffix(NO_LONGER));
    Ok(match undone {
        Some(words) => words.to_owned(),
        None => format!("{UNDONE}{}{NO_LONGER}", last.words),
    })
}

/// Takes a slot off again: a set one leaves a deferral, unless it was set just now.
async fn take_off(
    work: &mut Work,
    slot: &Slot,
    (reason, to): (Option<Reason>, Option<ExcursionCode>),
    age: Age,
) -> Result<(), Failure> {
    if slot.state == SlotState::Set && age.is_fresh() {
        allowed(work, Action::DeferBeforeLaunch)?;
        step(work, slot.clone(), SlotState::Withdrawn, Some("Undone.")).await?;
        return Ok(());
    }
    withdraw(work, slot.code(), reason, to).await
}

/// Whether going back brings a set slot from a later excursion to this one, where it was set.
async fn comes_forward(
    db: &mut SqliteConnection,
    slot: &Slot,
    excursion: &ExcursionCode,
    then: &[Slot],
) -> Result<bool, Failure> {
    let set = |slot: &Slot| slot.state == SlotState::Set;
    let returns = then.iter().any(|old| set(old) && old.task == slot.task);
    Ok(set(slot) && returns && is_earlier(db, excursion, &slot.excursion).await?)
}

const UNDONE: &str = "Undone. It was: “";
const NO_LONGER: &str = "”";

fn changed_since(excursion: &ExcursionCode) -> Failure {
    Failure::Refused(format!(
        "The slots of {excursion} were changed since then; nothing was undone."
    ))
}

/// Whether going back takes a slot off: it was not there, or only pencilled.
fn leaves(slot: &Slot, then: &[Slot]) -> bool {
    !then.iter().any(|old| old.code == slot.code && old.state == slot.state)
}

fn plans_the_same(a: &Slot, b: &Slot) -> bool {
    (&a.technique, &a.side, &a.seats, a.share, a.not_before, a.must_do)
        == (&b.technique, &b.side, &b.seats, b.share, b.not_before, b.must_do)
        && (&a.stopping_point, a.stopping_share) == (&b.stopping_point, b.stopping_share)
        && (&a.if_it_fails, &a.fallbacks) == (&b.if_it_fails, &b.fallbacks)
}

/// The waiver under which a slot was set.
fn waiver_of(slot: &Slot) -> Waiver {
    let gates = slot.waived_gate.as_ref().map_or("", |gates| gates.as_str());
    Waiver {
        gates: gates.split(',').filter_map(GateName::read).collect(),
        reason: slot.waiver.as_ref().map_or_else(String::new, |reason| reason.as_str().to_owned()),
    }
}

async fn live(db: &mut SqliteConnection, excursion: &ExcursionCode) -> Result<Vec<Slot>, Failure> {
    let mut all = slots::of_excursion(db, excursion).await?;
    all.retain(|slot| matches!(slot.state, SlotState::Pencilled | SlotState::Set));
    Ok(all)
}
