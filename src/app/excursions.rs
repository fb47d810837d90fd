//! Excursions: planned by leads, called off, closed after the debrief, reopened.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::records::{Base, Ruled, code_refused, current, write};
use crate::work::Work;
use crate::{Failure, create_missing, slots, touched};
use domain::cells::{Cell as _, FieldError, Prose};
use domain::codes::{ExcursionCode, FlightCode, Own};
use domain::excursions::Excursion;
use domain::flights::Flight;
use domain::kinds::Kind;
use domain::new_codes;
use domain::records::Record;
use domain::roles::{self, Action};
use domain::slots::{Slot, named};
use domain::words::{ExcursionState, FlightState, SlotState};
use store::{Kept as _, attempts, calendar, excursions, flights, reach, register};

/// So many codes after the first are tried where one cannot be had.
const MAX_TRIES: usize = 100;

/// So many results are named in a refusal.
const NAMED: usize = 8;

impl Ruled for Excursion {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        excursion: &mut Self,
    ) -> Result<(), Failure> {
        if let (Some(planned), Some(limit)) = (excursion.planned, excursion.limit)
            && limit < planned
        {
            return Err(Failure::field("limit", "The limit is shorter than the plan."));
        }
        if excursion.flight.is_none() {
            excursion.flight = Some(FlightCode::from(create_missing::FLIGHT_UNKNOWN));
            if register::find(work.db(), Kind::Flight, create_missing::FLIGHT_UNKNOWN)
                .await?
                .is_none()
            {
                create_missing::flight(work, create_missing::FLIGHT_UNKNOWN, FlightState::Flown)
                    .await?;
            }
        }
        if excursion.state == Some(ExcursionState::CalledOff) && !work.creates_missing {
            holds_no_slots(work, excursion).await?;
        }
        excursion.state = Some(match (excursion.state, before) {
            (Some(state), _) => state,
            (None, Some(before)) => before.state.unwrap_or(ExcursionState::Planned),
            (None, None) => told_by_the_dates(work, excursion),
        });
        let mut wrong = wrong_dates(work, before, excursion).await?;
        wrong.extend(has_results(work, before, excursion).await?);
        if !wrong.is_empty() {
            return Err(Failure::Invalid(wrong));
        }
        if before.is_none() && excursion.code.0.is_blank() {
            if !work.creates_missing {
                return Err(Failure::field("code", code_wanted(work, excursion).await?));
            }
            excursion.code = Own(own_code(work, excursion).await?);
        }
        Ok(())
    }

    async fn follow(
        work: &mut Work,
        before: Option<&Self>,
        excursion: &Self,
    ) -> Result<(), Failure> {
        let was_of = before.and_then(|before| before.flight.as_ref());
        for flight in was_of.into_iter().chain(&excursion.flight) {
            flights::save_order_day(work.db(), flight).await?;
        }
        let code = &excursion.code.0;
        let here = slots::of_excursion(work, code).await?;
        let state = excursion.state;
        let was = before.and_then(|before| before.state);
        if state == Some(ExcursionState::CalledOff) && was != state {
            slots::give_up_all(work, excursion, here.clone()).await?;
        }
        let waits = here.iter().any(|slot| slot.state == SlotState::Set);
        let is_history = work.creates_missing && before.is_none();
        if state == Some(ExcursionState::Flown) && is_history && !waits {
            // A table of past excursions waits for no debrief. Whoever enters one enters its results.
            let now = work.now;
            excursions::set_closed(work.db(), code, Some(now)).await?;
        }
        Ok(())
    }

    async fn reach(work: &mut Work, excursion: &Self) -> Result<(), Failure> {
        let tasks = reach::tasks_on_excursion(work.db(), &excursion.code.0).await?;
        touched::all(work, tasks);
        Ok(())
    }
}

/// Calling off takes slots, which an edit of the state could not name.
async fn holds_no_slots(work: &mut Work, excursion: &Excursion) -> Result<(), Failure> {
    let mut here = slots::of_excursion(work, &excursion.code.0).await?;
    here.retain(|slot| matches!(slot.state, SlotState::Set | SlotState::Pencilled));
    if here.is_empty() {
        return Ok(());
    }
    let message = format!(
        "Slots on {}: {}. Call the excursion off on its page: that defers or withdraws each of them.",
        excursion.code.0,
        named(&here)
    );
    Err(Failure::field("state", message))
}

/// A date outside the flight, and “flown” ahead of its day. What was saved before is not asked
/// again until its date, flight or state changes.
async fn wrong_dates(
    work: &mut Work,
    before: Option<&Excursion>,
    excursion: &Excursion,
) -> Result<Vec<FieldError>, Failure> {
    let is_flown = |one: &Excursion| one.state == Some(ExcursionState::Flown);
    let placed = |one: &Excursion| (one.day, one.flight.clone());
    let moved = before.is_none_or(|before| placed(before) != placed(excursion));
    let ends = is_flown(excursion) && !before.is_some_and(is_flown);
    let mut wrong = Vec::new();
    if !moved && !ends {
        return Ok(wrong);
    }
    if let Some(code) = &excursion.flight
        && let Some(flight) = Flight::find(work.db(), code.as_str()).await?
        && let Some(why) = excursion.outside_of(&flight)
    {
        let message = format!("{why}. Correct this date, or the dates of {code}.");
        wrong.push(FieldError::new("day", message));
    }
    let ahead = excursion.still_ahead(work.today).filter(|_| is_flown(excursion));
    wrong.extend(ahead.map(|why| FieldError::new("state", why)));
    Ok(wrong)
}

/// An excursion with results was flown, whatever is typed as its state.
async fn has_results(
    work: &mut Work,
    before: Option<&Excursion>,
    excursion: &Excursion,
) -> Result<Option<FieldError>, Failure> {
    let flown = Some(ExcursionState::Flown);
    let Some(before) = before.filter(|before| before.state == flown) else { return Ok(None) };
    if excursion.state == flown {
        return Ok(None);
    }
    let code = &before.code.0;
    let results = attempts::of_excursion(work.db(), code).await?;
    let named: Vec<&str> = results.iter().take(NAMED).map(Record::code).collect();
    let more = match results.len().saturating_sub(NAMED) {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    let message = match named.as_slice() {
        [] => return Ok(None),
        [one] => {
            format!("{code} has the result {one}; it stays flown. Undo it in the debrief first.")
        }
        _ => format!(
            "{code} has the results {}{more}; it stays flown. Undo them in the debrief first.",
            named.join(", ")
        ),
    };
    Ok(Some(FieldError::new("state", message)))
}

async fn code_wanted(work: &mut Work, excursion: &Excursion) -> Result<String, Failure> {
    let known =
        excursion.flight.as_ref().filter(|code| code.as_str() != create_missing::FLIGHT_UNKNOWN);
    let Some(flight) = known else {
        return Ok("Choose the flight, and type the code of the excursion.".to_owned());
    };
    let next = next_code(work.db(), flight).await?.code;
    Ok(format!("Type the code of the excursion. The next one of {flight} is {next}."))
}

/// What a new excursion of a flight is called where nobody says otherwise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Next {
    pub code: String,
    pub number: i64,
}

/// The next code in the team's own pattern: after the highest of the flight, or as other flights
/// call their first.
#[boxed]
pub async fn next_code(db: &mut SqliteConnection, flight: &FlightCode) -> Result<Next, Failure> {
    let here = excursions::of_flight(db, flight).await?;
    let mut code = if let Some(next) = new_codes::following(here.iter().map(Record::code)) {
        next
    } else {
        let all = calendar::excursions(db).await?;
        let others = all.iter().rev();
        let others =
            others.filter_map(|one| Some((one.flight.as_ref()?.as_str(), one.code.as_str())));
        new_codes::first_of_flight(flight.as_str(), others)
    };
    for _ in 0..MAX_TRIES {
        if code_refused(db, Kind::Excursion, &code, None).await?.is_none() {
            break;
        }
        let Some(next) = new_codes::following([code.as_str()]) else { break };
        code = next;
    }
    let highest = here.iter().filter_map(|one| one.number).max();
    let number = highest.map_or_else(|| new_codes::last_number(&code).unwrap_or(1), |n| n + 1);
    Ok(Next { code, number })
}

/// What the dates tell of an excursion whose state nobody wrote.
fn told_by_the_dates(work: &Work, excursion: &Excursion) -> ExcursionState {
    let flown = match excursion.day {
        Some(day) => day < work.today || excursion.actual.is_some(),
        None => work.creates_missing || excursion.actual.is_some(),
    };
    if flown { ExcursionState::Flown } else { ExcursionState::Planned }
}

/// `E-37.3` for the third excursion of `G-37`; `E-` and the number for a flight whose code has no
/// number; where that is taken, the flight's code stands in it too.
async fn own_code(work: &mut Work, excursion: &Excursion) -> Result<ExcursionCode, Failure> {
    let flight = excursion.flight.as_ref().map_or("", |flight| flight.as_str()).to_owned();
    let of_flight = flight
        .strip_prefix(Kind::Flight.prefix())
        .filter(|rest| !rest.is_empty() && rest.bytes().all(|b| b.is_ascii_digit()));
    if let Some(flight_number) = of_flight {
        let number = if let Some(number) = excursion.number {
            number
        } else {
            let there =
                excursions::of_flight(work.db(), &FlightCode::from(flight.as_str())).await?;
            let mut number = there.iter().filter_map(|e| e.number).max().unwrap_or(0) + 1;
            while register::find(work.db(), Kind::Excursion, &format!("E-{flight_number}.{number}"))
                .await?
                .is_some()
            {
                number += 1;
            }
            number
        };
        return free_code(work, &format!("E-{flight_number}.{number}"), &flight).await;
    }
    match (excursion.number, work.row) {
        (Some(number), _) => free_code(work, &format!("E-{number}"), &flight).await,
        (None, Some(row)) => free_code(work, &format!("E-r{row}"), &flight).await,
        (None, None) => free_code(work, &format!("E-{flight}"), &flight).await,
    }
}

async fn free_code(work: &mut Work, wanted: &str, flight: &str) -> Result<ExcursionCode, Failure> {
    let number = wanted.trim_start_matches("E-");
    let with_flight = format!("E-{flight} {number}");
    let short: String = with_flight.chars().take(56).collect();
    let numbered = (2..1_000).map(|n| format!("{short} ({n})"));
    for code in [wanted.to_owned(), short.clone()].into_iter().chain(numbered) {
        if register::find(work.db(), Kind::Excursion, &code).await?.is_none() {
            return Ok(ExcursionCode::from(code));
        }
    }
    Err(Failure::field("code", "No code is free for this excursion; give it one."))
}

/// What calling an excursion off took from it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct CalledOff {
    /// Set slots, each with a deferral now.
    pub deferred: Vec<Slot>,
    pub pencils: Vec<Slot>,
}

/// Calls a planned excursion off: what was set on it goes back to the backlog, each with a
/// deferral “excursion given up”; its pencils are withdrawn.
#[boxed]
pub async fn call_off(work: &mut Work, code: &str, why: &str) -> Result<CalledOff, Failure> {
    allowed(work, Action::CallOff)?;
    let mut excursion = current::<Excursion>(work, code).await?;
    if excursion.state != Some(ExcursionState::Planned) {
        return Err(Failure::Refused(format!(
            "{code} is not planned any more; it cannot be called off."
        )));
    }
    if why.trim().is_empty() {
        return Err(Failure::field("why", "Say why it is called off."));
    }
    let why = Prose::read(why).map_err(|message| Failure::field("why", message))?;
    work.because(why.as_str());
    let here = slots::of_excursion(work, &excursion.code.0).await?;
    slots::give_up_all(work, &excursion, here.clone()).await?;
    excursion.state = Some(ExcursionState::CalledOff);
    write(work, excursion, Base::Current).await?;
    let of = |state: SlotState| here.iter().filter(|slot| slot.state == state).cloned().collect();
    Ok(CalledOff { deferred: of(SlotState::Set), pencils: of(SlotState::Pencilled) })
}

/// Marks a planned excursion as flown, so that its debrief can begin.
#[boxed]
pub async fn mark_flown(work: &mut Work, code: &str) -> Result<(), Failure> {
    allowed(work, Action::KeepExcursions)?;
    let mut excursion = current::<Excursion>(work, code).await?;
    if excursion.state != Some(ExcursionState::Planned) {
        return Err(Failure::Refused(format!("{code} is not planned any more.")));
    }
    if let Some(why) = excursion.still_ahead(work.today) {
        return Err(Failure::Refused(why));
    }
    excursion.state = Some(ExcursionState::Flown);
    write(work, excursion, Base::Current).await?;
    Ok(())
}

pub(crate) fn allowed(work: &Work, action: Action) -> Result<(), Failure> {
    if roles::may(work.actor.role, action) {
        Ok(())
    } else {
        Err(Failure::Forbidden(roles::refusal(work.actor.role, action)))
    }
}
