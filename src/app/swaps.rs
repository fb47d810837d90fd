//! A swap: an attempt that took a unit out of the task's position and put another in. It asks for
//! both serials and moves the stays of both units; a correction puts them back first.

use crate::work::Work;
use crate::{Failure, touched};
use async_recursion::async_recursion as boxed;
use domain::attempts::Attempt;
use domain::cells::{FieldError, Line};
use domain::codes::{AttemptCode, PositionCode, UnitCode};
use domain::excursions::Excursion;
use domain::families::{Stay, Unit};
use domain::kinds::Kind;
use domain::swaps::{Contradiction, comes_out, goes_in};
use domain::tasks::Task;
use domain::time::Day;
use domain::words::Outcome;
use store::families::SwappedStay;
use store::{Kept as _, families, register};

/// What stands in place of a serial that nobody read.
const NOT_RECORDED: &str = "not recorded";

const OUT: &str = "came_out";
const IN: &str = "went_in";

/// A swap with the units as the record knows them; `None`: not recorded.
struct Swap {
    position: PositionCode,
    day: Day,
    out: Option<Unit>,
    into: Option<Unit>,
}

/// The serials that the result of a swap does not name.
pub(crate) fn lacks(attempt: &Attempt, task: &Task) -> Vec<FieldError> {
    if !asks(attempt, task) {
        return Vec::new();
    }
    let serials =
        [(OUT, &attempt.came_out, "came out"), (IN, &attempt.went_in, "went in")].into_iter();
    let missing = serials.filter(|(_, serial, _)| serial.is_none());
    let error = |(name, _, which): (&str, &Option<Line>, &str)| {
        let message = format!(
            "{} swaps the unit at its position: give the serial that {which}, its unit code, or \
             “{NOT_RECORDED}”.",
            task.code.0
        );
        FieldError::new(name, message)
    };
    missing.map(error).collect()
}

/// Refuses a swap that contradicts the stays of its units.
#[boxed]
pub(crate) async fn check(
    work: &mut Work,
    attempt: &Attempt,
    task: &Task,
    excursion: &Excursion,
) -> Result<(), Failure> {
    let Some(swap) = read(work, attempt, task, excursion).await? else { return Ok(()) };
    let own = families::swapped(work.db(), &attempt.code.0).await?;
    planned(work, &swap, &own).await?;
    Ok(())
}

/// Whether the result of a swap has to name its serials.
fn asks(attempt: &Attempt, task: &Task) -> bool {
    attempt.outcome == Outcome::Done && task.swaps_unit && task.position.is_some()
}

/// Moves the stays of both units; called once the attempt is written.
#[boxed]
pub(crate) async fn follow(work: &mut Work, attempt: &Attempt) -> Result<(), Failure> {
    put_back(work, &attempt.code.0).await?;
    let task = Task::find(work.db(), attempt.task.as_str()).await?;
    let excursion = Excursion::find(work.db(), attempt.excursion.as_str()).await?;
    let (Some(task), Some(excursion)) = (task, excursion) else { return Ok(()) };
    let Some(swap) = read(work, attempt, &task, &excursion).await? else { return Ok(()) };
    for swapped in planned(work, &swap, &[]).await? {
        families::keep_swapped(work.db(), &attempt.code.0, &swapped).await?;
        put(work, &swapped.unit, &swapped.before, &swapped.after).await?;
    }
    touched::family(work, &task.code.0).await
}

/// Puts the stays back that an attempt moved, where they stand as it left them.
#[boxed]
pub(crate) async fn put_back(work: &mut Work, attempt: &AttemptCode) -> Result<(), Failure> {
    let own = families::swapped(work.db(), attempt).await?;
    families::forget_swapped(work.db(), attempt).await?;
    for swapped in own {
        let now = families::stays(work.db(), &swapped.unit).await?;
        if now == swapped.after {
            put(work, &swapped.unit, &swapped.after, &swapped.before).await?;
        }
    }
    Ok(())
}

/// Writes the stays of a unit with a version and an entry in the log.
async fn put(
    work: &mut Work,
    unit: &UnitCode,
    before: &[Stay],
    after: &[Stay],
) -> Result<(), Failure> {
    if before == after {
        return Ok(());
    }
    families::write_stays(work.db(), unit, after).await?;
    let (who, now) = (work.actor.name.clone(), work.now);
    register::enter(work.db(), Kind::Unit, unit.as_str(), &who, now).await?;
    let said = |stays: &[Stay]| Some(serde_json::json!({ "stays": words(stays) }).to_string());
    work.log(Kind::Unit, unit.as_str(), "changed", said(before), said(after)).await
}

/// `pump A from 2026-03-02 until 2030-11-01; rack 2 from 2030-11-01`
fn words(stays: &[Stay]) -> String {
    let one = |stay: &Stay| {
        let from = stay.from_day.map_or_else(String::new, |day| format!(" from {day}"));
        let until = stay.until_day.map_or_else(String::new, |day| format!(" until {day}"));
        format!("{}{from}{until}", stay.position)
    };
    stays.iter().map(one).collect::<Vec<_>>().join("; ")
}

/// The swap that an attempt tells of; none where it names no serial.
async fn read(
    work: &mut Work,
    attempt: &Attempt,
    task: &Task,
    excursion: &Excursion,
) -> Result<Option<Swap>, Failure> {
    let named =
        |serial: &Option<Line>| serial.as_ref().is_some_and(|line| !line.as_str().is_empty());
    if !named(&attempt.came_out) && !named(&attempt.went_in) {
        return Ok(None);
    }
    let field = if named(&attempt.came_out) { OUT } else { IN };
    if !matches!(attempt.outcome, Outcome::Done | Outcome::PartDone) {
        let message = "No unit was swapped by an attempt that ended so. Leave both serials empty, or \
                       correct the outcome.";
        return Err(Failure::field(field, message));
    }
    let Some(position) = task.position.clone() else {
        let message = format!(
            "{} names no position, so no unit can be swapped there. Enter its position first.",
            task.code.0
        );
        return Err(Failure::field(field, message));
    };
    let Some(day) = excursion.day else {
        let message = format!(
            "{} has no date, so the stays of the units cannot be moved. Enter its date first.",
            excursion.code.0
        );
        return Err(Failure::field(field, message));
    };
    let out = unit_of(work, task, OUT, attempt.came_out.as_ref()).await?;
    let into = unit_of(work, task, IN, attempt.went_in.as_ref()).await?;
    if let (Some(out), Some(into)) = (&out, &into)
        && out.code == into.code
    {
        let message = "The unit that came out cannot be the one that went in. Correct one of them.";
        return Err(Failure::field(IN, message));
    }
    Ok(Some(Swap { position, day, out, into }))
}

/// The unit that a serial or a code names among those of the task's family.
async fn unit_of(
    work: &mut Work,
    task: &Task,
    field: &str,
    named: Option<&Line>,
) -> Result<Option<Unit>, Failure> {
    let Some(name) = named.map(|line| line.as_str().trim()) else { return Ok(None) };
    if name.is_empty() || name.eq_ignore_ascii_case(NOT_RECORDED) {
        return Ok(None);
    }
    let of_family = match &task.family {
        Some(family) => families::of_family(work.db(), family).await?,
        None => Vec::new(),
    };
    let is_named = |unit: &&Unit| {
        let serial = unit.serial.as_ref().map_or("", |serial| serial.as_str());
        serial.eq_ignore_ascii_case(name)
    };
    let mut found: Vec<Unit> = of_family.iter().filter(is_named).cloned().collect();
    if found.is_empty() {
        let by_code = Unit::find(work.db(), name).await?;
        found.extend(by_code.filter(|unit| task.family.as_ref().is_none_or(|f| *f == unit.family)));
    }
    match found.len() {
        1 => Ok(found.pop()),
        0 => {
            let family =
                task.family.as_ref().map_or_else(String::new, |family| format!(" of {family}"));
            let message = format!(
                "No unit{family} has the serial or code “{name}”. Correct it, or add the unit under \
                 Library first."
            );
            Err(Failure::field(field, message))
        }
        _ => {
            let codes: Vec<String> = found.iter().map(|unit| unit.code.0.to_string()).collect();
            let message = format!(
                "Several units have the serial “{name}”: give the code, {}.",
                codes.join(" or ")
            );
            Err(Failure::field(field, message))
        }
    }
}

/// The stays of a unit as they are without what this attempt did to them.
async fn stays_without(
    work: &mut Work,
    unit: &UnitCode,
    own: &[SwappedStay],
) -> Result<Vec<Stay>, Failure> {
    let now = families::stays(work.db(), unit).await?;
    let moved = own.iter().find(|swapped| swapped.unit == *unit && swapped.after == now);
    Ok(moved.map_or(now, |swapped| swapped.before.clone()))
}

/// The stays that the swap changes, or what contradicts it. `own` is what this attempt did before.
async fn planned(
    work: &mut Work,
    swap: &Swap,
    own: &[SwappedStay],
) -> Result<Vec<SwappedStay>, Failure> {
    let (position, day) = (&swap.position, swap.day);
    let mut wrong = Vec::new();
    let mut all = Vec::new();
    let refuse = |field: &str, unit: &Unit, why: &Contradiction, did: &str| {
        let message = format!(
            "By the record {} {why}, so it cannot have {did} {position} on {day}. Correct the serial \
             or the stays of the unit.",
            name_of(unit)
        );
        FieldError::new(field, message)
    };
    if let Some(unit) = &swap.out {
        let before = stays_without(work, &unit.code.0, own).await?;
        match comes_out(&before, position, day) {
            Ok(after) => all.push(SwappedStay { unit: unit.code.0.clone(), before, after }),
            Err(why) => wrong.push(refuse(OUT, unit, &why, "come out of")),
        }
    }
    if let Some(unit) = &swap.into {
        let before = stays_without(work, &unit.code.0, own).await?;
        match goes_in(&before, position, day) {
            Ok(after) => all.push(SwappedStay { unit: unit.code.0.clone(), before, after }),
            Err(why) => wrong.push(refuse(IN, unit, &why, "gone into")),
        }
    }
    for unit in families::units_with_stays_at(work.db(), position).await? {
        let of_swap = [&swap.out, &swap.into].into_iter().flatten();
        if of_swap.into_iter().any(|part| part.code.0 == unit) {
            continue;
        }
        let before = stays_without(work, &unit, own).await?;
        let stood = before.iter().find(|stay| {
            stay.position == *position
                && stay.from_day.is_none_or(|from| from < day)
                && stay.until_day.is_none_or(|until| until > day)
        });
        let Some(stay) = stood else { continue };
        if swap.out.is_none() && stay.until_day.is_none() {
            // Nobody read the serial that came out; it is that of the unit that stood there.
            if let Ok(after) = comes_out(&before, position, day) {
                all.push(SwappedStay { unit, before, after });
                continue;
            }
        }
        let message = format!(
            "By the record {unit} stood at {position} on {day} and after it. Correct the serial that \
             came out, or the stays of {unit}."
        );
        wrong.push(FieldError::new(OUT, message));
    }
    if wrong.is_empty() { Ok(all) } else { Err(Failure::Invalid(wrong)) }
}

/// `PP 003 (U-PMP1)`
fn name_of(unit: &Unit) -> String {
    match &unit.serial {
        Some(serial) => format!("{serial} ({})", unit.code.0),
        None => unit.code.0.to_string(),
    }
}
