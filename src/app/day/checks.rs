//! What a press may say, held against the presses that are there: nothing ends before it started, nobody
//! works once the crew is inside, and what is undone is there.

use sqlx::SqliteConnection;

use super::when::When;
use super::{Day, added};
use crate::Failure;
use domain::codes::SlotCode;
use domain::day::{Act, Counts, Press, Progress};
use domain::units::Pet;
use domain::words::ExcursionState;
use store::changes;

/// Refuses presses of an excursion that is called off, and those that were pressed after it was
/// marked as flown; one that waited in a page since before is still taken.
pub(super) async fn open(
    db: &mut SqliteConnection,
    there: &Day,
    when: &When,
) -> Result<(), Failure> {
    let code = there.code();
    match there.excursion.state {
        Some(ExcursionState::CalledOff) => {
            Err(Failure::Refused(format!("{code} is called off; its board takes no press.")))
        }
        Some(ExcursionState::Flown) if there.run.is_none() => {
            let flown_at = changes::flown_at(db, code).await?;
            if flown_at.is_some_and(|at| when.pressed_at <= at) {
                return Ok(());
            }
            Err(Failure::Refused(format!(
                "{code} is marked as flown; its board takes no press any more. Enter what else \
                 happened in its debrief."
            )))
        }
        Some(ExcursionState::Flown | ExcursionState::Planned) | None => Ok(()),
    }
}

/// Refuses to undo what is not there, what somebody has undone before, and an undo.
pub(super) fn undo(there: &Day, of: &str) -> Result<(), Failure> {
    let Some((press, _)) = there.state.press_of(of) else {
        let words = "The press to undo is not on this board; load the page again.";
        return Err(Failure::Refused(words.to_owned()));
    };
    if press.act == Act::Undo {
        let words = "An undo is not undone: press again what was undone.";
        return Err(Failure::Refused(words.to_owned()));
    }
    if let Some(undo) = there.state.undo_of(of) {
        let words = format!("{} has undone “{}” already.", undo.who, there.whole_words_of(press));
        return Err(Failure::Refused(words));
    }
    added::may_undo(there, of)
}

/// Refuses the minute of an end that lies before the start of its task, unless the start was saved only
/// after the end had been pressed: who pressed could not see it.
pub(super) fn not_before_the_start(
    there: &Day,
    act: Act,
    slot: &SlotCode,
    pet: Pet,
    when: &When,
) -> Result<(), Failure> {
    let Some(at) = there.place(slot) else { return Ok(()) };
    let on = &there.tasks[at];
    let since = match on.now.progress {
        Progress::Running { since } => since,
        Progress::Ended { start, .. } if !on.now.start_unknown => start,
        Progress::Planned | Progress::Ended { .. } | Progress::Dropped => return Ok(()),
    };
    let is_start = |(press, fate): &&(Press, Counts)| {
        *fate == Counts::Yes && press.act == Act::Started && press.slot.as_ref() == Some(slot)
    };
    let start = there.state.log.iter().find(is_start).map(|(press, _)| press);
    let unseen = start.is_some_and(|start| start.saved_at > when.pressed_at);
    if act == Act::Started || pet >= since || unseen {
        return Ok(());
    }
    Err(Failure::field(
        "pet",
        format!(
            "{} was started at PET {since}, and {pet} is before that. Correct the start first, or \
             enter a later time.",
            on.slot.task
        ),
    ))
}

/// Refuses a minute at which nobody was outside any more.
pub(super) fn before_inside(there: &Day, pet: Pet) -> Result<(), Failure> {
    match there.state.inside {
        Some(inside) if pet > inside => Err(Failure::field(
            "pet",
            format!(
                "The crew was inside at PET {inside}. Enter a time before that, or correct or undo \
                 “crew inside” first."
            ),
        )),
        Some(_) | None => Ok(()),
    }
}

/// Refuses that the crew was inside before something that happened outside.
pub(super) fn after_all(there: &Day, inside: Pet) -> Result<(), Failure> {
    let last = there.state.last_outside();
    let Some((press, pet)) = last.and_then(|press| Some((press, press.pet?))) else {
        return Ok(());
    };
    if inside >= pet {
        return Ok(());
    }
    Err(Failure::field(
        "pet",
        format!(
            "The crew cannot be inside at PET {inside}: the press “{}” is later. Enter a later time, \
             or correct or undo that press first.",
            there.whole_words_of(press)
        ),
    ))
}
