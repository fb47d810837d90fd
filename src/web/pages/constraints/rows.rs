//! One constraint as the list shows it: its bar, its days left, what ends it.

use crate::drawings::constraint_bars::{Axis, Bar, Ending, Source};
use crate::drawings::markup::Drawing;
use app::calendar::Calendar;
use app::constraints::InForce;
use domain::constraints::Ends;
use domain::time::Day;
use domain::words::{OutsideState, SlotState};

pub(super) struct ConstraintRow {
    pub one: InForce,
    pub code: String,
    pub drawing: Drawing,
    pub until: String,
    /// Days left today, then at the launch of each coming flight.
    pub left: Vec<(String, Left)>,
    pub ended_by: String,
    pub is_late: bool,
    pub group: Group,
}

/// Days left of a date on some day, or that the constraint has ended by then.
pub(super) enum Left {
    None,
    Days(i64),
    Past(i64),
    Ended,
    EndedIfPencilled,
}

#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Group {
    Past,
    NotInTime,
    InTime,
}

pub(super) struct RowContext<'a> {
    pub calendar: &'a Calendar,
    pub axis: Axis,
    pub today: Day,
}

/// The flights ahead with their launch days.
pub(super) fn launches(calendar: &Calendar) -> Vec<(String, Day)> {
    calendar
        .flights
        .iter()
        .filter(|flight| flight.state.is_ahead())
        .filter_map(|flight| Some((flight.code.to_string(), flight.launch?)))
        .collect()
}

pub(super) fn row(one: &InForce, around: &RowContext<'_>) -> ConstraintRow {
    let constraint = &one.constraint;
    let code = constraint.code.0.to_string();
    let group = if one.until.is_some_and(|until| until < around.today) {
        Group::Past
    } else if one.is_pressing() {
        Group::NotInTime
    } else {
        Group::InTime
    };
    let mut left = vec![("today".to_owned(), left_on(one, around.today))];
    left.extend(
        launches(around.calendar).into_iter().map(|(flight, day)| (flight, left_on(one, day))),
    );
    ConstraintRow {
        drawing: around.axis.draw(&bar(one), &format!("bar-{code}")),
        until: safe_until(one),
        left,
        ended_by: ended_by(one),
        is_late: !matches!(one.ends, Ends::InTime(_)) || one.is_pencilled_only(),
        group,
        code,
        one: one.clone(),
    }
}

/// The bar of a constraint.
pub(crate) fn bar(one: &InForce) -> Bar {
    let constraint = &one.constraint;
    Bar {
        title: constraint.forbidden.to_string(),
        sources: one
            .since
            .iter()
            .map(|from| Source {
                excursion: from.excursion.to_string(),
                mark: crate::marks::of(&from.outcome),
            })
            .collect(),
        until: one.until,
        until_flight: until_flight(one),
        slot: one.slot.as_ref().and_then(|slot| {
            Some(Ending {
                day: slot.day?,
                excursion: slot.excursion.to_string(),
                is_set: slot.state == SlotState::Set,
            })
        }),
    }
}

fn left_on(one: &InForce, day: Day) -> Left {
    if let Some(slot) = &one.slot
        && slot.day.is_some_and(|ends| ends < day)
    {
        return if slot.state == SlotState::Set { Left::Ended } else { Left::EndedIfPencilled };
    }
    match one.until.map(|until| until.since(day)) {
        None => Left::None,
        Some(days) if days < 0 => Left::Past(-days),
        Some(days) => Left::Days(days),
    }
}

/// The flight whose landing is the date.
/// The flight whose landing is its date.
pub(crate) fn until_flight(one: &InForce) -> Option<String> {
    let constraint = &one.constraint;
    let is_its_landing = constraint.safe_until.is_none_or(|date| one.until != Some(date));
    constraint.safe_until_flight.as_ref().filter(|_| is_its_landing).map(ToString::to_string)
}

/// `G-37, lands 2031-04-03`.
pub(crate) fn safe_until(one: &InForce) -> String {
    let date = match (until_flight(one), one.until) {
        (Some(flight), Some(day)) => format!("{flight}, lands {day}"),
        (Some(flight), None) => format!("{flight}, landing unknown"),
        (None, Some(day)) => day.to_string(),
        (None, None) => String::new(),
    };
    match (&one.constraint.safe_until_words, date.is_empty()) {
        (Some(words), true) => format!("{words}, no date"),
        (Some(words), false) => format!("{words}, due {date}"),
        (None, true) => "no date".to_owned(),
        (None, false) => date,
    }
}

fn no_task(one: &InForce) -> String {
    let named = |state| {
        let items = one.items.iter().filter(|item| item.state == state);
        items.map(|item| item.code.0.to_string()).collect::<Vec<_>>().join(", ")
    };
    let (lost, out) = (named(OutsideState::Lost), named(OutsideState::InPlace));
    match (lost.as_str(), out.as_str()) {
        ("", "") => "Nothing ends it: it names no task.".to_owned(),
        ("", out) => format!("Nothing ends it before {out} is inside; it names no task."),
        (lost, _) => format!("Nothing ends it: {lost} is lost. Name what ends it, or lift it."),
    }
}

/// `T-0167 set on E-38.1, 2031-07-25: 113 days after its date`.
pub(crate) fn ended_by(one: &InForce) -> String {
    let Some(slot) = &one.slot else {
        return match &one.constraint.task {
            Some(task) => match one.done_before {
                Some(day) => format!(
                    "Nothing ends it: {task} was done on {day}, before this was left. Name what \
                     ends it, or lift it."
                ),
                None => format!("Nothing ends it: {task} has no slot."),
            },
            None => no_task(one),
        };
    };
    let held = format!("{} {} on {}", slot.task, slot.state, slot.excursion);
    let days = |days: i64| if days == 1 { "1 day".to_owned() } else { format!("{days} days") };
    let day = slot.day.map_or_else(String::new, |day| format!(", {day}"));
    match one.ends {
        Ends::InTime(_) if one.is_pencilled_only() => {
            format!("{held}{day}: pencilled only, no set slot.")
        }
        Ends::InTime(None) | Ends::Nothing => format!("{held}{day}."),
        Ends::InTime(Some(0)) => format!("{held}{day}: on its date."),
        Ends::InTime(Some(before)) => format!("{held}{day}: {} before its date.", days(before)),
        Ends::TooLate(after) => format!("{held}{day}: {} after its date.", days(after)),
        Ends::Undated => format!("{held}, whose date is unknown."),
    }
}

/// `Tank row at 3 bar or less, safe until G-37, lands 2031-04-03 (CN-001)`.
pub(crate) fn forbidden_line(one: &InForce) -> String {
    let constraint = &one.constraint;
    let until = safe_until(one);
    let until = match until.as_str() {
        "no date" => "without a date".to_owned(),
        until => format!("safe until {until}"),
    };
    format!("{}, {until} ({})", constraint.forbidden, constraint.code.0)
}
