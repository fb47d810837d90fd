//! The stored copy of how one task stands, worked out.

use crate::calendar::Calendar;
use crate::dossier::Dossier;
use crate::standing::tries::Tries;
use crate::standing::words::why_words;
use domain::constraints::Bound;
use domain::history::{Standing, Visit, WhyOpen};
use domain::words::SlotState;
use store::history::OpeningRow;
use store::standing::{StandingRow, WhatBlocks};

/// Sorts after every day.
const NEVER: &str = "9999-12-31";

/// The stored copy of how one task stands.
pub(super) fn row(
    dossier: &Dossier,
    opening: &OpeningRow,
    now: &Standing,
    holds: Option<&WhatBlocks>,
    tried: &Tries<'_>,
    bound: Option<&Bound>,
) -> StandingRow {
    let own_need = need_day(&dossier.calendar, opening);
    // What has ended is bound by nothing any more.
    let bound = bound.filter(|bound| now.state.is_open_item() && bound.day.to_string() < own_need);
    let open_item = now.state.is_open_item();
    let kept_out = holds.is_some_and(|holds| holds.is_contingency) && !opening.triggered;
    let questioned = open_item && tried.is_questioned(&dossier.unit_of(&opening.task));
    let twice_same = open_item && tried.twice_same(&opening.task);
    StandingRow {
        task: opening.task.clone(),
        state: now.state,
        is_open: open_item && !kept_out,
        share_left: now.left.most,
        left_unknown: now.left.unknown_after.clone().filter(|_| open_item),
        carry_count: now.carry_count,
        deferred_before: now.deferred_before_launch,
        why: now.why_open.as_ref().map_or(now.state.word(), WhyOpen::kind).to_owned(),
        why_words: why_words(dossier, opening, now),
        why_event: now.last_event.clone(),
        class: opening.class.clone().unwrap_or_else(|| "9".to_owned()),
        need_day: bound.map_or(own_need, |bound| bound.day.to_string()),
        need_from: bound.map(|bound| bound.code.clone()),
        in_danger: open_item && !kept_out && is_at_risk(dossier, opening, bound),
        in_question: questioned,
        twice_same,
        held_tool: open_item
            && holds.is_some_and(|h| h.techniques > 0 && h.lacking == h.techniques),
        held_order: open_item && holds.is_some_and(|holds| holds.needs_open > 0),
        held_remedy: open_item && holds.is_some_and(|holds| holds.remedies_open > 0),
        worksite: opening.worksite.as_deref().map(Into::into),
        family: opening.family.clone(),
        title: opening.title.clone(),
        undated: now.undated,
    }
}

/// The day by which it is needed: the date, else the landing or launch of the flight.
fn need_day(calendar: &Calendar, opening: &OpeningRow) -> String {
    if let Some(day) = opening.needed_by_day {
        return day.to_string();
    }
    let flight = opening.needed_by_flight.as_ref().and_then(|code| calendar.rank(code));
    flight
        .map(|rank| &calendar.flights[rank])
        .and_then(|flight| flight.landing.or(flight.launch))
        .map_or_else(|| NEVER.to_owned(), |day| day.to_string())
}

/// No set slot that fits or is tight on a flight that lands by the needed-by date, and on a day by
/// which a constraint or an outside item ends in time.
fn is_at_risk(dossier: &Dossier, opening: &OpeningRow, bound: Option<&Bound>) -> bool {
    let calendar = &dossier.calendar;
    let by_flight = opening.needed_by_flight.as_ref().and_then(|code| calendar.rank(code));
    if by_flight.is_none() && opening.needed_by_day.is_none() && bound.is_none() {
        return false;
    }
    let in_time = |flight: usize| {
        let landing = calendar.flights[flight].landing.or(calendar.flights[flight].launch);
        by_flight.is_none_or(|by| flight <= by)
            && opening.needed_by_day.is_none_or(|by| landing.is_some_and(|day| day <= by))
    };
    !dossier.events.slots_of(&opening.task).iter().any(|held| {
        held.state == SlotState::Set
            && calendar.visit(&held.excursion) == Visit::Ahead
            && !matches!(held.worst_gate.as_deref(), Some("not met" | "cannot tell"))
            && calendar.excursions.get(&held.excursion).is_some_and(|on| {
                let landing = |flight: usize| calendar.flights[flight].landing;
                let day = on.row.day.or_else(|| on.flight.and_then(landing));
                on.flight.is_some_and(in_time)
                    && bound.is_none_or(|bound| day.is_some_and(|day| day <= bound.day))
            })
    })
}
