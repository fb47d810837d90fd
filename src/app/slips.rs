//! A flight that launches on another day: which excursions move along with it, and what breaks
//! then.

use crate::Failure;
use crate::records::{Base, write};
use crate::slots::effect::{self, CheckChange, Gates};
use crate::work::Work;
use async_recursion::async_recursion as boxed;
use domain::codes::{ExcursionCode, FlightCode};
use domain::excursions::Excursion;
use domain::flights::Flight;
use domain::time::Day;
use domain::verdicts::weight;
use domain::words::ExcursionState;
use store::{Kept as _, excursions, flights, imports};

/// So many turned checks are named; the pages of the excursions show the rest.
const MAX_NAMED: usize = 12;

/// What a new launch date means for the planned excursions of the flight.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slip {
    pub flight: FlightCode,
    /// By so many days it launches later; earlier where they are negative.
    pub days: i64,
    pub excursions: Vec<Dated>,
    /// What breaks where the excursions move along, each in a sentence.
    pub if_moved: Vec<String>,
    /// What breaks where they keep their dates.
    pub if_left: Vec<String>,
}

/// A planned excursion with its date.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dated {
    pub code: ExcursionCode,
    pub day: Day,
    pub moved: Day,
}

/// By how many days a launch moves; `None` where it stays or either date is unknown.
pub(crate) fn days(before: &Flight, flight: &Flight) -> Option<i64> {
    let days = flight.launch?.since(before.launch?);
    (days != 0).then_some(days)
}

/// The planned excursions of a flight that have a date.
async fn dated(work: &mut Work, flight: &FlightCode) -> Result<Vec<Excursion>, Failure> {
    let mut all = excursions::of_flight(work.db(), flight).await?;
    all.retain(|one| one.state == Some(ExcursionState::Planned) && one.day.is_some());
    Ok(all)
}

/// What the new dates of a flight do, either way; `None` where no planned excursion has a date.
#[boxed]
pub(crate) async fn ask(
    work: &mut Work,
    before: &Flight,
    flight: &Flight,
) -> Result<Option<Slip>, Failure> {
    let Some(days) = days(before, flight) else { return Ok(None) };
    let left = dated(work, &flight.code.0).await?;
    if left.is_empty() {
        return Ok(None);
    }
    let moved: Vec<Excursion> = left.iter().map(|one| by(one, days)).collect();
    let now = effect::gates(work.db()).await?;
    let gates_if_left = tried(work, flight, &[]).await?;
    let gates_if_moved = tried(work, flight, &moved).await?;
    let mut if_left = outside(&left, flight);
    if_left.extend(worse(&now, &gates_if_left));
    let mut if_moved = outside(&moved, flight);
    if_moved.extend(worse(&now, &gates_if_moved));
    if_moved.extend(left.iter().filter_map(lighting));
    let excursions = left
        .iter()
        .filter_map(|one| {
            let day = one.day?;
            Some(Dated { code: one.code.0.clone(), day, moved: day.plus(days) })
        })
        .collect();
    Ok(Some(Slip { flight: flight.code.0.clone(), days, excursions, if_moved, if_left }))
}

/// What breaks on other flights where this one, which has no excursion to move along, launches on
/// another day: it may bring what they need.
pub(crate) async fn elsewhere(
    work: &mut Work,
    before: &Flight,
    flight: &Flight,
) -> Result<Vec<String>, Failure> {
    if days(before, flight).is_none() {
        return Ok(Vec::new());
    }
    let now = effect::gates(work.db()).await?;
    let then = tried(work, flight, &[]).await?;
    Ok(worse(&now, &then))
}

/// Moves the planned excursions of a flight, which is saved already, by these days.
#[boxed]
pub(crate) async fn move_along(
    work: &mut Work,
    flight: &Flight,
    days: i64,
) -> Result<usize, Failure> {
    let here = dated(work, &flight.code.0).await?;
    let count = here.len();
    for one in here {
        write(work, by(&one, days), Base::Current).await?;
    }
    Ok(count)
}

/// Why the excursions cannot move along: they would lie after the landing.
#[boxed]
pub(crate) async fn past_landing(
    work: &mut Work,
    before: &Flight,
    flight: &Flight,
) -> Result<Option<String>, Failure> {
    let Some(days) = days(before, flight) else { return Ok(None) };
    let moved: Vec<Excursion> =
        dated(work, &flight.code.0).await?.iter().map(|one| by(one, days)).collect();
    let wrong = outside(&moved, flight);
    Ok((!wrong.is_empty())
        .then(|| format!("{} Change the landing too, or leave the excursions.", wrong.join(" "))))
}

fn by(excursion: &Excursion, days: i64) -> Excursion {
    Excursion { day: excursion.day.map(|day| day.plus(days)), ..excursion.clone() }
}

/// The checks of every slot as they would be with the flight and these excursions saved.
async fn tried(work: &mut Work, flight: &Flight, moved: &[Excursion]) -> Result<Gates, Failure> {
    imports::mark(work.db()).await?;
    flight.save(work.db()).await?;
    flights::save_order_day(work.db(), &flight.code.0).await?;
    for one in moved {
        one.save(work.db()).await?;
    }
    let gates = effect::gates(work.db()).await?;
    imports::back(work.db()).await?;
    Ok(gates)
}

/// The excursions whose dates lie outside those of the flight.
pub fn outside(excursions: &[Excursion], flight: &Flight) -> Vec<String> {
    let wrong = excursions.iter().filter_map(|one| one.outside_of(flight));
    wrong.map(|wrong| format!("{wrong}.")).collect()
}

/// The checks that turn for the worse, the heaviest first.
fn worse(before: &Gates, after: &Gates) -> Vec<String> {
    let mut turned: Vec<CheckChange> = after.worse_than(before);
    turned.sort_by_key(|turn| std::cmp::Reverse(weight(turn.now)));
    let more = turned.len().saturating_sub(MAX_NAMED);
    let mut named: Vec<String> = turned
        .iter()
        .take(MAX_NAMED)
        .map(|turn| {
            let (task, excursion, gate) = (&turn.task, &turn.excursion, turn.gate);
            format!("{task} on {excursion}: {gate} turns from {} to {}.", turn.was, turn.now)
        })
        .collect();
    if more > 0 {
        named.push(format!("{more} more checks turn; each excursion shows its own."));
    }
    named
}

/// The angles of the sun were entered for the old date.
fn lighting(excursion: &Excursion) -> Option<String> {
    let (code, day) = (&excursion.code.0, excursion.day?);
    (excursion.beta.is_some() || excursion.first_sunrise.is_some()).then(|| {
        format!(
            "{code}: beta angle and first sunrise were entered for {day}. Enter those of the new \
             date."
        )
    })
}
