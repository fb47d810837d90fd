//! What an attempt cannot be, and what about it is so unlikely that a person is asked once. One
//! rule for forms, debrief rows and tables. What flew can always be recorded: no refusal here asks
//! whether the approach should have been tried.

use crate::attempts::Attempt;
use crate::cells::FieldError;
use crate::confirmations::Doubt;
use crate::debrief::minutes_spent;
use crate::excursions::Excursion;
use crate::flights::Flight;
use crate::tasks::Task;
use crate::techniques::Technique;
use crate::units::Minutes;
use crate::words::Outcome;

#[cfg(test)]
mod tests;

/// No excursion lasts longer, where neither its duration nor its limit is recorded.
// Source: the longest spacewalk so far took 9 h 6 min (2024), from memory.
const MAX_LENGTH: Minutes = Minutes(12 * 60);

/// So many times the estimate are unlikely.
const UNLIKELY_FACTOR: i64 = 3;

/// The records around one attempt.
#[derive(Debug, Clone)]
pub struct AttemptContext {
    pub task: Task,
    pub excursion: Excursion,
    /// The flight of the excursion.
    pub flight: Option<Flight>,
    /// The flight after which the task was opened.
    pub opened_after: Option<Flight>,
    pub technique: Option<Technique>,
    /// The likely minutes: of the slot when it was set, of the technique, or of the task.
    pub estimate: Option<Minutes>,
}

/// Everything that this attempt cannot be.
pub fn impossible(attempt: &Attempt, known: &AttemptContext) -> Vec<FieldError> {
    let found = [
        before_opening(known),
        outside_flight(known),
        other_technique(known),
        no_such_side(attempt, known),
        too_long(attempt, &known.excursion),
    ];
    found.into_iter().flatten().collect()
}

/// An attempt is dated by its excursion, and its task must have been there by then. A task that
/// was found on that excursion was opened by it, whenever it was written down.
fn before_opening(known: &AttemptContext) -> Option<FieldError> {
    let AttemptContext { task, excursion, .. } = known;
    let (code, there, day) = (&task.code.0, &excursion.code.0, excursion.day?);
    if task.from_excursion.as_ref() == Some(there) {
        return None;
    }
    if let Some(opened) = task.opened {
        return (day < opened).then(|| {
            FieldError::new(
                "excursion",
                format!(
                    "{there} was on {day}, before {code} was opened on {opened}. Choose a later \
                     excursion, or correct the opening date of {code}."
                ),
            )
        });
    }
    let after = known.opened_after.as_ref()?;
    let is_before = excursion.flight.as_ref() == Some(&after.code.0)
        || after.landing.or(after.launch).is_some_and(|landed| day <= landed);
    is_before.then(|| {
        FieldError::new(
            "excursion",
            format!(
                "{there} was on {day}, and {code} was opened after {}. Choose a later excursion, or \
                 correct after which flight {code} was opened.",
                after.code.0
            ),
        )
    })
}

fn outside_flight(known: &AttemptContext) -> Option<FieldError> {
    let (excursion, flight) = (&known.excursion, known.flight.as_ref()?);
    let (there, day, code) = (&excursion.code.0, excursion.day?, &flight.code.0);
    let bound = match (flight.launch, flight.landing) {
        (Some(launch), _) if day < launch => format!("before {code} launched on {launch}"),
        (_, Some(landing)) if day > landing => format!("after {code} landed on {landing}"),
        _ => return None,
    };
    Some(FieldError::new(
        "excursion",
        format!(
            "{there} is dated {day}, {bound}. Correct the date of {there} or of {code}, then \
             record the attempt."
        ),
    ))
}

/// A technique is for a family or for one task. What it does not say is not held against it.
fn other_technique(known: &AttemptContext) -> Option<FieldError> {
    let (task, technique) = (&known.task, known.technique.as_ref()?);
    let (code, name) = (&technique.code.0, &task.code.0);
    if technique.task.as_ref() == Some(name) {
        return None;
    }
    let is_for = match (&technique.family, &technique.task, &task.family) {
        (Some(family), _, Some(own)) if family != own => {
            format!("{code} is for the family {family}, and {name} belongs to {own}.")
        }
        (None, Some(other), _) => format!("{code} is for {other} alone."),
        _ => return None,
    };
    Some(FieldError::new(
        "technique",
        format!("{is_for} Choose a technique of {name}, or leave it as not recorded."),
    ))
}

fn no_such_side(attempt: &Attempt, known: &AttemptContext) -> Option<FieldError> {
    let (task, side) = (&known.task, attempt.side.as_ref()?);
    let sides = &task.sides;
    if sides.is_empty() || sides.contains(side) {
        return None;
    }
    let there: Vec<&str> = sides.iter().map(crate::sides::Side::as_str).collect();
    Some(FieldError::new(
        "side",
        format!(
            "{} has the access sides {}, not {side}. Choose one of them, or add {side} to the task \
             first.",
            task.code.0,
            there.join(", ")
        ),
    ))
}

fn too_long(attempt: &Attempt, excursion: &Excursion) -> Option<FieldError> {
    let minutes = minutes_spent(attempt)?;
    let there = &excursion.code.0;
    let planned = excursion.limit.max(excursion.planned);
    let (length, so_long) = match (excursion.actual, planned) {
        (Some(actual), _) => (actual, format!("{there}, which lasted {}", actual.clock())),
        (None, Some(limit)) => (limit, format!("the limit of {there}, {}", limit.clock())),
        (None, None) => (MAX_LENGTH, "any excursion".to_owned()),
    };
    if minutes <= length {
        return None;
    }
    let but = if excursion.actual.is_none() && planned.is_some() {
        format!(" If {there} lasted longer, enter its actual duration first.")
    } else {
        String::new()
    };
    Some(FieldError::new(
        "minutes",
        format!("{} minutes is longer than {so_long}. Enter 1 to {}.{but}", minutes.0, length.0),
    ))
}

/// What a person has to confirm about an attempt, if anything.
pub fn unlikely(attempt: &Attempt, estimate: Option<Minutes>) -> Option<Doubt> {
    if attempt.outcome == Outcome::NotReached {
        return None;
    }
    match (minutes_spent(attempt), estimate) {
        (None, _) => Some(Doubt::NoMinutes),
        (Some(minutes), Some(Minutes(likely))) => {
            (minutes.0 > likely.saturating_mul(UNLIKELY_FACTOR)).then_some(Doubt::Minutes(minutes))
        }
        (Some(_), None) => None,
    }
}

/// The question in words, without what to do about it.
pub fn question(asked: Doubt, known: &AttemptContext) -> String {
    match (asked, known.estimate) {
        (Doubt::Minutes(minutes), Some(Minutes(likely))) => format!(
            "{} minutes is more than three times the estimate of {} ({likely} min).",
            minutes.0, known.task.code.0
        ),
        (Doubt::NoMinutes, _) => "No minutes of work are recorded.".to_owned(),
        (Doubt::Minutes(_) | Doubt::Anything, _) => "These minutes are unlikely.".to_owned(),
    }
}
