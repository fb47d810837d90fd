//! What happened to a task, in the order in which it happened.

use std::collections::HashMap;

use crate::addresses;
use crate::marks;
use crate::pages::files::FileView;
use crate::values::{ValueView, values};
use app::dossier::Dossier;
use app::read::history::OpeningRow;
use app::whole_task::{TaskRecords, WholeTask};
use domain::attempts::Attempt;
use domain::cells::Prose;
use domain::codes::{CauseCode, ExcursionCode};
use domain::files::File;
use domain::findings::Finding;
use domain::history::{Event, EventKind, standing};
use domain::kinds::Kind;
use domain::time::Day;
use domain::words::Outcome;

/// One row of the table.
#[derive(Default)]
pub(crate) struct EventRow {
    pub code: String,
    pub address: String,
    pub excursion: Option<String>,
    pub after_flight: Option<String>,
    pub day: Option<Day>,
    pub undated: bool,
    pub mark: &'static str,
    pub word: String,
    pub approach: String,
    pub pet: String,
    pub spent: String,
    pub cause: String,
    pub words: String,
    pub measured: Vec<ValueView>,
    pub as_left: String,
    /// What else was recorded: function afterwards, safe until, temporary hardware.
    pub beside: Vec<String>,
    pub findings: Vec<String>,
    pub files: Vec<FileView>,
    pub by: String,
}

/// `Two attempts, one deferral.`
pub(super) fn count(told: &TaskRecords, moves: usize) -> String {
    let of = |count: usize, one: &str| match count {
        0 => format!("no {one}"),
        1 => format!("1 {one}"),
        more => format!("{more} {one}s"),
    };
    let (attempts, deferrals) =
        (of(told.attempts.len(), "attempt"), of(told.deferrals.len(), "deferral"));
    let moves = match moves {
        0 => String::new(),
        _ => format!(", {} to an earlier excursion", of(moves, "move")),
    };
    format!("In the order of events: {attempts}, {deferrals}{moves}.")
}

/// All that happened, in its order. Slots are left out: what is planned stands among the candidates.
pub(super) fn rows(whole: &Happened<'_>, opening: &OpeningRow) -> Vec<EventRow> {
    let events = whole.dossier.events_of(opening);
    let order = standing(&events).ordered;
    order.into_iter().filter_map(|at| row(whole, opening, &events[at])).collect()
}

/// What the rows are made of.
#[derive(Clone, Copy)]
pub(super) struct Happened<'a> {
    pub dossier: &'a Dossier,
    pub told: &'a TaskRecords,
    pub findings: &'a [Finding],
    pub files: &'a [File],
    pub causes: &'a HashMap<CauseCode, String>,
}

impl<'a> Happened<'a> {
    pub fn of(whole: &'a WholeTask) -> Self {
        Self {
            dossier: &whole.dossier,
            told: &whole.told,
            findings: &whole.findings,
            files: &whole.files,
            causes: &whole.causes,
        }
    }
}

fn row(whole: &Happened<'_>, opening: &OpeningRow, event: &Event) -> Option<EventRow> {
    let code = event.code.as_str();
    let told = whole.told;
    let undated = !event.when.is_placed();
    let base = |kind: Kind| EventRow {
        code: code.to_owned(),
        address: addresses::of(kind, code),
        undated,
        day: event.when.day,
        ..EventRow::default()
    };
    Some(match &event.what {
        EventKind::Opened => EventRow {
            mark: "k-open",
            word: "opened".to_owned(),
            after_flight: opening.opened_after.as_ref().map(ToString::to_string),
            excursion: opening.from_excursion.as_ref().map(ToString::to_string),
            day: opening.opened,
            words: opening.notes.clone(),
            ..base(Kind::Task)
        },
        EventKind::Attempt(tried) => {
            let attempt = told.attempts.iter().find(|a| a.code.0.as_str() == code)?;
            EventRow {
                mark: marks::of(&tried.outcome),
                word: match whole.dossier.left_around(&attempt.code.0) {
                    Some(left) if tried.outcome == Outcome::PartDone => {
                        format!("{}, {} left", tried.outcome, left.after)
                    }
                    Some(_) | None => tried.outcome.to_string(),
                },
                excursion: Some(attempt.excursion.to_string()),
                day: day_of(whole, &attempt.excursion),
                ..attempted(whole, attempt, base(Kind::Attempt))
            }
        }
        EventKind::Deferral(put_off) => {
            let deferral = told.deferrals.iter().find(|d| d.code.0.as_str() == code)?;
            EventRow {
                mark: "k-def",
                word: format!("deferred {}", put_off.phase),
                excursion: Some(deferral.excursion.to_string()),
                day: deferral.day.or_else(|| day_of(whole, &deferral.excursion)),
                cause: deferral.reason.to_string(),
                words: text(&deferral.words),
                beside: deferral.to_excursion.iter().map(|to| format!("to {to}")).collect(),
                by: line(deferral.decided_by.as_ref()),
                ..base(Kind::Deferral)
            }
        }
        EventKind::Closure { kind } => {
            let closure = told.closures.iter().find(|c| c.code.0.as_str() == code)?;
            let other = closure.duplicate_of.as_ref();
            EventRow {
                mark: if kind.ends_done() { "k-done" } else { "k-drop" },
                word: other.map_or_else(|| kind.to_string(), |other| format!("{kind} {other}")),
                words: text(&closure.words),
                beside: evidence(&closure.evidence),
                ..base(Kind::Closure)
            }
        }
        EventKind::Parking => {
            let parking = told.parkings.iter().find(|p| p.code.0.as_str() == code)?;
            let until = parking
                .until_flight
                .as_ref()
                .map(ToString::to_string)
                .or_else(|| parking.until_day.map(|day| day.to_string()));
            EventRow {
                mark: "k-park",
                word: "parked".to_owned(),
                words: parking.why.to_string(),
                beside: until.into_iter().map(|until| format!("until {until}")).collect(),
                ..base(Kind::Parking)
            }
        }
        EventKind::Reopening { share_left } => {
            let reopening = told.reopenings.iter().find(|r| r.code.0.as_str() == code)?;
            EventRow {
                mark: "k-open",
                word: format!("reopened, {share_left} left"),
                words: reopening.words.to_string(),
                ..base(Kind::Reopening)
            }
        }
        EventKind::Move { from, to } => {
            let all = whole.dossier.events.moves_of(&opening.task);
            let moved = all.iter().find(|moved| moved.slot.as_str() == code)?;
            EventRow {
                mark: "k-set",
                word: format!("moved earlier, to {to}"),
                excursion: Some(from.to_string()),
                day: Some(moved.at.day()),
                words: moved.why.clone().unwrap_or_default(),
                by: moved.who.clone(),
                ..base(Kind::Slot)
            }
        }
        EventKind::Slot(_) => return None,
    })
}

fn attempted(whole: &Happened<'_>, attempt: &Attempt, base: EventRow) -> EventRow {
    let approach = domain::repeat_guard::Approach {
        technique: attempt.technique.clone(),
        side: attempt.side.clone(),
    };
    let rev = attempt.revision.map_or_else(String::new, |rev| format!(", rev {rev}"));
    let pet = match (attempt.pet_start, attempt.pet_end) {
        (Some(from), Some(until)) => format!("{from}–{until}"),
        (Some(from), None) => format!("{from}–"),
        (None, Some(until)) => format!("–{until}"),
        (None, None) => String::new(),
    };
    let cause = attempt
        .cause
        .as_ref()
        .map(|code| whole.causes.get(code).cloned().unwrap_or_else(|| code.to_string()));
    let mut beside = Vec::new();
    if let Some(symptom) = &attempt.symptom {
        beside.push(format!("symptom: {symptom}"));
    }
    if let Some(lighting) = attempt.lighting {
        beside.push(format!("lit by {lighting}"));
    }
    if let Some(left) = attempt.time_left {
        beside.push(format!("{} left when it stopped", left.clock()));
    }
    if let Some(step) = &attempt.last_step {
        beside.push(format!("last step ended: {step}"));
    }
    if let Some(function) = attempt.function_after {
        beside.push(format!("function {function}"));
    }
    if let Some(day) = attempt.safe_until {
        beside.push(format!("safe until {day}"));
    }
    if let Some(flight) = &attempt.safe_until_flight {
        beside.push(format!("safe until {flight}"));
    }
    if let Some(hardware) = &attempt.temporary {
        beside.push(format!("temporary: {hardware}"));
    }
    if let Some(forbids) = &attempt.forbids {
        beside.push(format!("forbids meanwhile: {forbids}"));
    }
    let named = |finding: &&domain::findings::Finding| finding.attempts.contains(&attempt.code.0);
    let mut by = vec![attempt.seats.names()];
    by.push(line(attempt.recorded_by.as_ref()));
    by.retain(|part| !part.is_empty());
    EventRow {
        approach: format!("{approach}{rev}"),
        pet,
        spent: attempt.minutes.map_or_else(String::new, domain::units::Minutes::clock),
        cause: cause.unwrap_or_default(),
        words: text(&attempt.words),
        measured: values(&attempt.measured),
        as_left: text(&attempt.as_left),
        beside,
        findings: whole.findings.iter().filter(named).map(|f| f.code.0.to_string()).collect(),
        files: whole
            .files
            .iter()
            .filter(|file| file.attempt.as_ref() == Some(&attempt.code.0))
            .map(FileView::of)
            .collect(),
        by: by.join(", "),
        ..base
    }
}

fn day_of(whole: &Happened<'_>, excursion: &ExcursionCode) -> Option<Day> {
    whole.dossier.calendar.excursions.get(excursion).and_then(|on| on.row.day)
}

fn text(prose: &Prose) -> String {
    prose.as_str().to_owned()
}

fn evidence(prose: &Prose) -> Vec<String> {
    if prose.is_empty() { Vec::new() } else { vec![format!("evidence: {prose}")] }
}

fn line(line: Option<&domain::cells::Line>) -> String {
    line.map_or_else(String::new, ToString::to_string)
}
