//! The day of an excursion: presses on its board, practice runs, and what follows from both.

mod added;
mod aheads;
mod answers;
mod at_launch;
mod calls;
mod card;
mod checks;
mod kept;
mod numbers;
mod prefill;
mod replay;
mod saved;
mod when;
mod windows;

use async_recursion::async_recursion as boxed;
use std::collections::BTreeMap;

use sqlx::SqliteConnection;

pub use aheads::Ahead;
pub use answers::{Answers, DropRow, TurnBack, whole};
pub use at_launch::{AtLaunch, at_launch, at_launch_with, at_launch_with_pencilled};
pub use calls::{Call, Called};
pub use card::{Card, late_card};
pub use compute::fit::FirstOut;
pub use kept::Kept as KeptAnswers;
pub use prefill::{BoardTimes, prefilled};
pub use replay::{MOST_REPLAYED, Replay, Replayed, replay, replayed};
pub use saved::Saved;
use when::When;
pub use windows::{Ask, AskOf, WindowRow};

use crate::excursions::allowed;
use crate::fit;
use crate::records::current;
use crate::work::Work;
use crate::{App, Failure};
use domain::bounds::{MAX_PRACTICES, MAX_PRESSES};
use domain::codes::{ExcursionCode, SlotCode, TaskCode};
use domain::day::added::{name_of, task_of, with_slots};
use domain::day::{Act, Added, Counts, DayState, OfTask, Press};
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::roles::Action;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::time::Moment;
use domain::units::Pet;
use domain::words::{ExcursionState, SlotState};
use store::Kept as _;
use store::day::{self, Run};
use store::{slots, tasks};

/// The longest key of a press.
const MAX_KEY: usize = 200;
/// Paces at which a day can be practised: as in life, and a minute a second.
pub(crate) const PACES: [i64; 2] = [1, 60];

/// One set task as the board shows it.
#[derive(Debug, Clone)]
pub struct OnBoard {
    pub slot: Slot,
    pub title: String,
    pub worksite: String,
    pub now: OfTask,
    /// Of added work: the slot of another excursion on which its task is set.
    pub also_set: Option<(ExcursionCode, SlotCode)>,
}

impl OnBoard {
    /// It was added on the board; no slot of the record stands for it.
    pub fn is_added(&self) -> bool {
        task_of(&self.slot.code.0).is_some()
    }
}

/// The day of an excursion, or a practice run of it.
#[derive(Debug, Clone)]
pub struct Day {
    pub excursion: Excursion,
    pub run: Option<Run>,
    pub state: DayState,
    /// The set slots, in the order of the plan.
    pub tasks: Vec<OnBoard>,
    /// Elapsed time, that of the crew inside once it is; `None` before the clock was started.
    pub pet: Option<Pet>,
    /// The number of the last press.
    pub number: i64,
}

/// A press as a page sends it.
#[derive(Debug, Clone)]
pub struct NewPress {
    pub key: String,
    pub act: Act,
    pub slot: Option<SlotCode>,
    /// Of a fallback, which one of the slot: 1 for the first.
    pub step: Option<i64>,
    /// As typed; left out, the minute of the press.
    pub pet: Option<Pet>,
    pub egress_at: Option<Moment>,
    pub undoes: Option<String>,
    /// Of work that is added, which.
    pub adds: Option<Added>,
    /// When it was pressed, where it waited in the page.
    pub pressed_at: Option<Moment>,
}

/// Reads the day of an excursion at a moment.
#[boxed]
pub async fn read(
    db: &mut SqliteConnection,
    code: &str,
    run: Option<&str>,
    now: Moment,
) -> Result<Day, Failure> {
    let not_there = || Failure::NotFound(Kind::Excursion, code.to_owned());
    let excursion = Excursion::find(db, code).await?.ok_or_else(not_there)?;
    let run = match run {
        Some(run) => Some(practice(db, &excursion.code.0, run).await?),
        None => None,
    };
    let here: Vec<Slot> = slots::of_excursion(db, &excursion.code.0)
        .await?
        .into_iter()
        .filter(|slot| matches!(slot.state, SlotState::Set | SlotState::Flown))
        .collect();
    let which = run.as_ref().map(|run| run.code.as_str());
    let presses = with_slots(day::presses(db, &excursion.code.0, which).await?, &here);
    let number = presses.last().map_or(0, |press| press.number);
    let seats: BTreeMap<SlotCode, Vec<u8>> =
        here.iter().map(|slot| (slot.code.0.clone(), slot.seats.numbers().collect())).collect();
    let mut state = DayState::of(&presses, &seats);
    if let Some(run) = &run {
        state.egress_at = Some(run.started_at);
    }
    let here = added::in_order(here, &state.added, &excursion.code.0);
    let also = also_set(db, &state.added, &excursion.code.0).await?;
    let codes: Vec<TaskCode> = here.iter().map(|slot| slot.task.clone()).collect();
    let known: BTreeMap<TaskCode, Task> =
        tasks::these(db, &codes).await?.into_iter().map(|t| (t.code.0.clone(), t)).collect();
    let tasks = here.into_iter().map(|slot| {
        let task = known.get(&slot.task);
        OnBoard {
            title: task.map_or_else(String::new, |task| task.title.as_str().to_owned()),
            worksite: task
                .and_then(|task| task.worksite.as_ref())
                .map_or_else(String::new, |site| site.as_str().to_owned()),
            now: state.tasks.get(&slot.code.0).copied().unwrap_or_default(),
            also_set: also.get(&slot.code.0).cloned(),
            slot,
        }
    });
    let tasks = tasks.collect();
    let by_clock = state.pet_at(at_pace(now, run.as_ref()));
    let pet = by_clock.map(|pet| state.inside.unwrap_or(pet));
    Ok(Day { excursion, run, state, tasks, pet, number })
}

/// Where else the tasks of added work are set, by their names on the board.
async fn also_set(
    db: &mut SqliteConnection,
    added: &[Added],
    here: &ExcursionCode,
) -> Result<BTreeMap<SlotCode, (ExcursionCode, SlotCode)>, Failure> {
    let tasks: Vec<TaskCode> = added.iter().map(|adds| adds.task.clone()).collect();
    if tasks.is_empty() {
        return Ok(BTreeMap::new());
    }
    let live = slots::live_of_tasks(db, &tasks).await?;
    let elsewhere =
        live.into_iter().filter(|slot| slot.state == SlotState::Set && slot.excursion != *here);
    Ok(elsewhere.map(|slot| (name_of(&slot.task), (slot.excursion, slot.code.0))).collect())
}

/// The moment in the excursion's own time: in a practice run minutes pass as fast as its pace.
fn at_pace(now: Moment, run: Option<&Run>) -> Moment {
    run.map_or(now, |run| {
        let since = now.0.saturating_sub(run.started_at.0);
        Moment(run.started_at.0.saturating_add(since.saturating_mul(run.pace)))
    })
}

impl Day {
    pub fn code(&self) -> &ExcursionCode {
        &self.excursion.code.0
    }

    /// The moment of life at which the excursion's elapsed time is that.
    pub fn utc_of(&self, pet: Pet) -> Option<Moment> {
        Some(self.state.egress_at?.plus_minutes(pet.0))
    }

    /// The slot of added work that has got one by now; every other as it is.
    fn own(&self, slot: SlotCode) -> SlotCode {
        let task = task_of(&slot);
        let set = self.tasks.iter().find(|on| task.as_ref() == Some(&on.slot.task));
        set.map_or(slot, |on| on.slot.code.0.clone())
    }

    /// Whether presses are still taken.
    pub fn is_open(&self) -> bool {
        match self.excursion.state {
            Some(ExcursionState::CalledOff) => false,
            Some(ExcursionState::Flown) => self.run.is_some(),
            Some(ExcursionState::Planned) | None => true,
        }
    }

    /// How many presses count.
    pub fn counted(&self) -> usize {
        self.state.log.iter().filter(|(_, fate)| *fate == Counts::Yes).count()
    }
}

async fn practice(
    db: &mut SqliteConnection,
    excursion: &ExcursionCode,
    run: &str,
) -> Result<Run, Failure> {
    let found = day::run(db, run).await?.filter(|run| run.excursion == *excursion);
    found.ok_or_else(|| {
        Failure::Refused(format!(
            "That practice of {excursion} is over: it was discarded. Begin another one on the \
             excursion's page."
        ))
    })
}

/// Keeps a press. The same press sent again changes nothing and is no error.
#[boxed]
pub async fn press(
    work: &mut Work,
    code: &str,
    run: Option<&str>,
    new: NewPress,
) -> Result<Saved, Failure> {
    allowed(work, Action::PressOnTheDay)?;
    let now = work.now;
    let there = read(work.db(), code, run, now).await?;
    let key = new.key.trim();
    if key.is_empty() || key.len() > MAX_KEY {
        return Err(Failure::field("key", "The press has no key; load the page again."));
    }
    // A press that was saved before is no new one, whatever has become of the day since.
    if let Some((known, _)) = there.state.press_of(key) {
        return Ok(Saved::of(false, known.clone(), &there, &there));
    }
    let when = When::of(&there, new.pressed_at, now)?;
    checks::open(work.db(), &there, &when).await?;
    if there.state.log.len() >= MAX_PRESSES {
        return Err(Failure::Refused(format!(
            "This board has {MAX_PRESSES} presses, the most that are kept of one day. Enter what \
             else happened in the debrief."
        )));
    }
    let mut press = Press {
        number: 0,
        key: key.to_owned(),
        act: new.act,
        slot: None,
        step: None,
        pet: None,
        egress_at: None,
        undoes: None,
        adds: None,
        pressed_at: when.pressed_at,
        saved_at: when.saved_at,
        who: work.actor.name.clone(),
    };
    match new.act {
        Act::Egress => {
            let at = when.egress(new.egress_at)?;
            // What a press began is corrected whatever has become of the excursion since.
            let begins = run.is_none() && there.state.egress_at.is_none();
            if let Some(why) = there.excursion.clock_refused(at.day(), true).filter(|_| begins) {
                return Err(Failure::Refused(why));
            }
            press.egress_at = Some(at);
        }
        Act::Inside => {
            let pet = when.pet(&there, new.pet)?;
            checks::after_all(&there, pet)?;
            press.pet = Some(pet);
        }
        Act::Undo => {
            let of = new.undoes.filter(|of| !of.is_empty() && of.len() <= MAX_KEY);
            let unsaid = || Failure::field("undoes", "Choose the press that is undone.");
            let of = of.ok_or_else(unsaid)?;
            checks::undo(&there, &of)?;
            press.undoes = Some(of);
        }
        Act::Added => {
            let adds = new.adds.ok_or_else(|| Failure::field("task", "Choose what is added."))?;
            added::allow(work.db(), &there, &adds).await?;
            press.slot = Some(name_of(&adds.task));
            press.adds = Some(adds);
            press.pet = Some(outside(&there, &when, new.pet)?);
        }
        Act::Started
        | Act::Done
        | Act::AtStoppingPoint
        | Act::NotCompleted
        | Act::Dropped
        | Act::Fallback => {
            let slot = new.slot.map(|slot| there.own(slot));
            let slot = slot.filter(|slot| there.state.tasks.contains_key(slot));
            let unset = || {
                let words =
                    format!("That task is not set on {code} any more; load the page again.");
                Failure::field("slot", words)
            };
            let slot = slot.ok_or_else(unset)?;
            if new.act == Act::Fallback {
                press.step = Some(step(&there, &slot, new.step)?);
            }
            let pet = outside(&there, &when, new.pet)?;
            checks::not_before_the_start(&there, new.act, &slot, pet, &when)?;
            press.slot = Some(slot);
            press.pet = Some(pet);
        }
    }
    let is_new = day::keep(work.db(), there.code(), run, &press).await?;
    let after = read(work.db(), code, run, now).await?;
    Ok(Saved::of(is_new, press, &there, &after))
}

/// The elapsed time of a press for what happens outside.
fn outside(there: &Day, when: &When, typed: Option<Pet>) -> Result<Pet, Failure> {
    let pet = when.pet(there, typed)?;
    checks::before_inside(there, pet)?;
    Ok(pet)
}

/// Which fallback is taken up; it is one of the slot's and names an approach.
fn step(there: &Day, slot: &SlotCode, step: Option<i64>) -> Result<i64, Failure> {
    let step = step.unwrap_or(1);
    let own = there.place(slot).map(|at| &there.tasks[at].slot.fallbacks.0);
    let at = usize::try_from(step - 1).ok();
    match own.zip(at).and_then(|(own, at)| own.get(at)) {
        Some(fallback) if !fallback.leaves() => Ok(step),
        Some(_) => Err(Failure::Refused(
            "That fallback leaves the work as it is: press how the task ended.".to_owned(),
        )),
        None => Err(Failure::field(
            "step",
            format!("{slot} has no fallback {step} any more; load the page again."),
        )),
    }
}

/// Practice days have numbers below this; the same number is the same day.
pub const DAYS: i64 = 1_000_000;

/// Begins a practice run of a planned excursion, of the day with that number or of any.
#[boxed]
pub async fn begin_practice(
    work: &mut Work,
    code: &str,
    pace: i64,
    day: Option<i64>,
) -> Result<Run, Failure> {
    allowed(work, Action::PressOnTheDay)?;
    if !PACES.contains(&pace) {
        return Err(Failure::field("pace", "Choose real pace or 60 times faster."));
    }
    if day.is_some_and(|day| !(0..DAYS).contains(&day)) {
        let words = "Enter the number of a day that was rehearsed, or leave it empty.";
        return Err(Failure::field("day_number", words));
    }
    let excursion = current::<Excursion>(work, code).await?;
    if excursion.state != Some(ExcursionState::Planned) {
        return Err(Failure::Refused(format!(
            "{code} is not planned any more. A day can be rehearsed before it is flown."
        )));
    }
    if day::runs_of(work.db(), &excursion.code.0).await?.len() >= MAX_PRACTICES {
        return Err(Failure::Refused(format!(
            "{MAX_PRACTICES} practices of {code} are under way, the most at the same time. Discard \
             one of them first."
        )));
    }
    let mut bytes = [0; 8];
    let unready =
        |cause| Failure::Internal(store::StoreError::Unusable(format!("no random bytes: {cause}")));
    getrandom::fill(&mut bytes).map_err(unready)?;
    let run = Run {
        code: crate::tokens::hex(&bytes),
        excursion: excursion.code.0.clone(),
        seed: day.unwrap_or_else(|| i64::from_be_bytes(bytes).rem_euclid(DAYS)),
        pace,
        started_at: work.now,
        who: work.actor.name.clone(),
    };
    day::begin_run(work.db(), &run).await?;
    Ok(run)
}

/// Ends a practice run: nothing of it is left.
#[boxed]
pub async fn discard_practice(work: &mut Work, code: &str, run: &str) -> Result<(), Failure> {
    allowed(work, Action::PressOnTheDay)?;
    let run = practice(work.db(), &ExcursionCode::from(code), run).await?;
    Ok(day::discard_run(work.db(), &run.code).await?)
}

/// Everything that follows from where the crew stands; worked out once a press and a minute,
/// however many people watch.
#[boxed]
pub async fn answers(
    app: &App,
    db: &mut SqliteConnection,
    there: &Day,
) -> Result<Answers, Failure> {
    let version = store::forms::data_version(db).await?;
    let run = there.run.as_ref().map(|run| run.code.clone());
    let key = kept::Key {
        excursion: there.code().clone(),
        run,
        number: there.number,
        pet: there.pet,
        version,
    };
    if let Some(found) = app.days.find(&key) {
        return Ok(found);
    }
    let mut wanted = aheads::wanted(db).await?;
    wanted.extend(there.state.added.iter().map(|adds| adds.task.clone()));
    let board = fit::board(db, &wanted).await?;
    let day = there.clone();
    let all = move || answers::of(&board, &day);
    let stopped =
        |cause| store::StoreError::Unusable(format!("working the day out stopped: {cause}"));
    let answers = tokio::task::spawn_blocking(all).await.map_err(stopped)?;
    app.days.keep(key, answers.clone());
    Ok(answers)
}
