//! Papers of one excursion around its debrief: what is asked before it, what happened, and the
//! message that leaves within the hour.

use app::read::Connection;

use super::handover::missing;
use super::hands::{self, Outing, ended, tasks_by_code, titled};
use super::{Bit, Line, Paper, Part, Table, blank, bold, known, number, text};
use crate::pages::excursions::planned::both_lanes;
use crate::visitor::Viewer;
use app::Failure;
use app::calendar::Calendar;
use app::constraints::{self, InForce, Read};
use app::read::{Found, outside};
use domain::attempts::Attempt;
use domain::codes::TaskCode;
use domain::constraints::ConstraintState;
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::repeat_guard::Approach;
use domain::slots::Slot;
use domain::tools::Tool;
use domain::units::Minutes;
use domain::words::{Outcome, OutsideState, SlotState};

async fn flown(db: &mut Connection, code: &str) -> Result<Outing, Failure> {
    let missing = || Failure::NotFound(Kind::Excursion, code.to_owned());
    let excursion = Excursion::find(db, code).await?.ok_or_else(missing)?;
    hands::outing(db, excursion).await
}

pub(super) fn above(outing: &Outing) -> String {
    let excursion = &outing.excursion;
    let flight = excursion.flight.as_ref().map_or("flight unknown", |flight| flight.as_str());
    let day = excursion
        .day
        .map_or_else(|| "date unknown".to_owned(), |day| format!("{day} ({})", day.of_year()));
    let closed = if outing.is_closed { "" } else { " · debrief not closed" };
    format!("flight {flight} · {day}{closed}")
}

pub(super) fn back(code: &str) -> (String, String) {
    (crate::addresses::within("excursions", code), code.to_owned())
}

pub(super) fn all_tasks(outing: &Outing) -> Vec<TaskCode> {
    let mut all: Vec<TaskCode> = outing.slots.iter().map(|slot| slot.task.clone()).collect();
    all.extend(outing.attempts.iter().map(|attempt| attempt.task.clone()));
    all.extend(outing.deferrals.iter().map(|deferral| deferral.task.clone()));
    all.sort_unstable();
    all.dedup();
    all
}

pub(super) fn pets(attempt: &Attempt) -> Line {
    match (attempt.pet_start, attempt.pet_end) {
        (Some(from), Some(to)) => text(&format!("{from}–{to}")),
        _ => attempt.minutes.map_or_else(blank, |minutes| text(&format!("{} min", minutes.0))),
    }
}

/// What is not known before the debrief is closed: a line to fill in after what leads to it.
fn not_yet(lead: &str) -> Line {
    let mut line = text(lead);
    line.push(Bit::Blank);
    line.push(Bit::Text(", not known until the debrief is closed.".to_owned()));
    line
}

/// A list of what is told so far. While the debrief is open it may lack something, so that it never
/// says that there is nothing.
fn so_far(table: Table, outing: &Outing) -> Vec<Part> {
    match (outing.is_closed, table.rows.is_empty()) {
        (true, _) => vec![Part::Table(table)],
        (false, true) => vec![Part::Words(not_yet(""))],
        (false, false) => vec![Part::Table(table), Part::Words(not_yet("Anything else: "))],
    }
}

/// What happened: both lanes, the minutes apart, results, what changed and why, constraints.
pub(super) async fn report(
    db: &mut Connection,
    viewer: &Viewer,
    code: &str,
) -> Result<Paper, Failure> {
    let outing = flown(db, code).await?;
    let today = viewer.now().day();
    let tasks = tasks_by_code(db, &all_tasks(&outing)).await?;
    let titles = tasks.iter().map(|(code, task)| (code.clone(), task.title.to_string())).collect();
    let lanes = both_lanes(db, &outing.excursion, &outing.attempts, &titles).await?;
    let (from_now, ended_here) =
        constraints::for_excursion(db, &outing.excursion.code.0, today).await?;
    let mut parts = vec![Part::Words(report_lead(&outing))];
    parts.push(Part::Heading("Planned against flown".to_owned()));
    if let (Some(planned), Some(flown)) = (lanes.planned, lanes.flown) {
        parts.push(Part::Pair(
            vec![Part::Words(bold("Planned, at mean minutes")), Part::Drawing(planned)],
            vec![Part::Words(bold("Flown, as recorded")), Part::Drawing(flown)],
        ));
    } else {
        let why = "The lanes are not drawn: PET or estimates are not recorded.";
        parts.push(Part::Words(text(why)));
    }
    let mut table = Table::of(&[
        ("Task", 40),
        ("Planned, h:mm", 13),
        ("Flown, h:mm", 13),
        ("Apart, min", 11),
        ("Outcome", 23),
    ])
    .figures(&[1, 2, 3])
    .or("No task has both planned and actual minutes.");
    for row in &lanes.rows {
        let clock = |m: Option<f64>| {
            m.map_or_else(blank, |m| text(&crate::drawings::lanes::clock_words(m)))
        };
        table.rows.push(vec![
            titled(&row.task, &tasks),
            clock(row.planned),
            clock(row.flown),
            row.apart().map_or_else(blank, |apart| text(&apart)),
            outing.result(&row.task).map_or_else(blank, ended),
        ]);
    }
    parts.push(Part::Table(table));
    parts.extend(results(&outing, &tasks));
    parts.push(Part::Heading("What changed, and why".to_owned()));
    let mut table =
        Table::of(&[("Task", 34), ("What", 22), ("Why", 44)]).or("Everything was done as planned.");
    for deferral in &outing.deferrals {
        let mut why = text(deferral.words.as_str());
        if let Some(by) = &deferral.decided_by {
            why.push(Bit::Text(format!(" Decided by {by}.")));
        }
        table.rows.push(vec![
            titled(&deferral.task, &tasks),
            text(&format!("deferred {}: {}", deferral.phase, deferral.reason)),
            if why.is_empty() { blank() } else { why },
        ]);
    }
    for attempt in &outing.attempts {
        let slot = outing.slots.iter().find(|slot| Some(&slot.code.0) == attempt.slot.as_ref());
        let what = match slot {
            Some(slot) => changes(slot, attempt),
            None => vec!["worked on without a slot".to_owned()],
        };
        if !what.is_empty() {
            table.rows.push(vec![
                titled(&attempt.task, &tasks),
                text(&what.join("; ")),
                known(Some(attempt.words.as_str())),
            ]);
        }
    }
    parts.extend(so_far(table, &outing));
    parts.push(Part::Heading("Tools".to_owned()));
    parts.push(Part::Words(tools_words(db, &outing).await?));
    parts.push(Part::Heading("What the vehicle may not do".to_owned()));
    let in_force = constraints::read_all(db, today).await?.in_force().count();
    parts.push(Part::Words(text(&new_and_ended(code, in_force))));
    parts.extend(so_far(constraint_table(&from_now, &ended_here), &outing));
    Ok(Paper {
        heading: format!("Report of {code}"),
        above: above(&outing),
        file: format!("report-{code}"),
        back: back(code),
        parts,
        ..Paper::default()
    })
}

/// How what was flown differs from its slot: another approach, one of its fallbacks, other seats.
fn changes(slot: &Slot, attempt: &Attempt) -> Vec<String> {
    if attempt.outcome == Outcome::NotReached {
        return Vec::new();
    }
    let approach = |technique: &Option<_>, side: &Option<_>| Approach {
        technique: Clone::clone(technique),
        side: Clone::clone(side),
    };
    let planned = approach(&slot.technique, &slot.side);
    let flown = approach(&attempt.technique, &attempt.side);
    let mut all = Vec::new();
    if flown != planned && flown != Approach::default() {
        let is_fallback = slot.fallbacks.0.iter().any(|then| then.what() == flown.to_string());
        let word = if is_fallback { "fallback used" } else { "another approach" };
        all.push(format!("{word}: {flown}, planned {planned}"));
    }
    let seats = attempt.seats.names();
    if !attempt.seats.is_empty() && seats != slot.seats.names() {
        all.push(format!("by {seats}, planned {}", slot.seats.names()));
    }
    all
}

fn report_lead(outing: &Outing) -> Line {
    let excursion = &outing.excursion;
    let clock = |m: Option<Minutes>| m.map_or_else(blank, |m| text(&m.clock()));
    let early = excursion.ended_early.as_ref().map_or_else(String::new, |why| {
        format!(" Ended early: {}.", why.as_str().trim_end_matches('.'))
    });
    let mut line = text(&format!("{} Planned ", counts(outing)));
    line.extend(clock(excursion.planned));
    line.push(Bit::Text(", flown ".to_owned()));
    line.extend(clock(excursion.actual));
    line.extend(text(&format!(".{early}")));
    line
}

/// The tasks that were planned here and have no result yet, each once.
fn owing(outing: &Outing) -> Vec<TaskCode> {
    let mut tasks: Vec<TaskCode> = outing
        .slots
        .iter()
        .filter(|slot| matches!(slot.state, SlotState::Set | SlotState::Flown))
        .map(|slot| slot.task.clone())
        .filter(|task| outing.result(task).is_none() && outing.deferral(task).is_none())
        .collect();
    tasks.sort_unstable();
    tasks.dedup();
    tasks
}

fn counts(outing: &Outing) -> String {
    let of = |outcome: Outcome| outing.attempts.iter().filter(|a| a.outcome == outcome).count();
    let parts = [
        (of(Outcome::Done), "done"),
        (of(Outcome::PartDone), "part done"),
        (of(Outcome::NotCompleted), "not completed"),
        (of(Outcome::NotReached), "not reached"),
        (outing.deferrals.len(), "deferred"),
        (owing(outing).len(), "without a result"),
    ];
    let told: Vec<String> = parts
        .into_iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, word)| format!("{count} {word}"))
        .collect();
    if told.is_empty() { "No result yet.".to_owned() } else { format!("{}.", told.join(", ")) }
}

fn results(
    outing: &Outing,
    tasks: &std::collections::HashMap<TaskCode, domain::tasks::Task>,
) -> Vec<Part> {
    let mut table =
        Table::of(&[("Task", 24), ("Result", 14), ("PET", 11), ("In words", 30), ("As left", 21)])
            .or("No result is recorded.");
    for attempt in &outing.attempts {
        table.rows.push(vec![
            titled(&attempt.task, tasks),
            ended(attempt),
            pets(attempt),
            known(Some(attempt.words.as_str())),
            known(Some(attempt.as_left.as_str())),
        ]);
    }
    vec![Part::Heading("Results".to_owned()), Part::Table(table)]
}

async fn tools_words(db: &mut Connection, outing: &Outing) -> Result<Line, Failure> {
    let mut line = Line::new();
    for row in &outing.tools {
        let Some(gone) = missing(row, &outing.excursion, outing.is_closed) else { continue };
        if !line.is_empty() {
            line.push(Bit::Text("; ".to_owned()));
        }
        line.push(Bit::Code(row.tool.to_string()));
        let tool = Tool::find(db, row.tool.as_str()).await?;
        let name = tool.map_or_else(String::new, |tool| format!(" {}", tool.name));
        line.push(Bit::Text(format!("{name}: ")));
        line.extend(gone);
    }
    let counted = number(outing.tools.len(), "tool", "tools");
    Ok(match (outing.is_closed, outing.tools.is_empty(), line.is_empty()) {
        (true, true, _) => text("No tool is recorded as taken out."),
        (true, false, true) => text(&format!("{counted} taken out, every one accounted for.")),
        (true, false, false) => line,
        (false, true, _) => not_yet(""),
        (false, false, true) => {
            not_yet(&format!("{counted} counted so far, none missing; others: "))
        }
        (false, false, false) => {
            line.push(Bit::Text("; ".to_owned()));
            line.extend(not_yet("others: "));
            line
        }
    })
}

/// Says that what follows is new or ended, and how many hold in all.
fn new_and_ended(code: &str, in_force: usize) -> String {
    let in_all = number(in_force, "constraint is", "constraints are");
    format!("New from {code} and ended on it. {in_all} in force in all.")
}

/// The others that hold, the first to run out first, so that the message alone says what the
/// vehicle may not do.
fn others_in_force(all: &Read, told: &[&[InForce]]) -> Option<Line> {
    /// Others that are named; a message stays on its sheets.
    const NAMED: usize = 12;
    let is_told = |one: &InForce| {
        told.iter().flat_map(|some| some.iter()).any(|o| o.constraint.code == one.constraint.code)
    };
    let mut others: Vec<&InForce> = all.in_force().filter(|one| !is_told(one)).collect();
    others.sort_by_key(|one| (one.until.is_none(), one.until, one.constraint.code.0.clone()));
    if others.is_empty() {
        return None;
    }
    let more = others.len().saturating_sub(NAMED);
    let mut line = vec![Bit::Text("In force as before: ".to_owned())];
    for (at, one) in others.into_iter().take(NAMED).enumerate() {
        if at > 0 {
            line.push(Bit::Text("; ".to_owned()));
        }
        line.push(Bit::Bold(one.constraint.forbidden.to_string()));
        line.push(Bit::Text(" ".to_owned()));
        line.push(Bit::Code(one.constraint.code.0.to_string()));
        let until = crate::pages::constraints::safe_until(one);
        line.extend(text(&match (one.state, until.as_str()) {
            (ConstraintState::PastDate, _) => format!(", past its date, {until}"),
            (_, "no date") => ", without a date".to_owned(),
            _ => format!(", safe until {until}"),
        }));
    }
    line.push(Bit::Text(if more > 0 { format!("; and {more} more.") } else { ".".to_owned() }));
    Some(line)
}

/// What was left here with how it stands today, then what ended here.
fn constraint_table(left: &[InForce], ended: &[InForce]) -> Table {
    let mut table =
        Table::of(&[("Constraint", 16), ("The vehicle may not", 50), ("Safe until", 34)])
            .or("This excursion left no constraint and ended none.");
    let mut row = |word: &str, one: &InForce| {
        let mut what = bold(one.constraint.forbidden.as_str());
        what.push(Bit::Text(" ".to_owned()));
        what.push(Bit::Code(one.constraint.code.0.to_string()));
        let until = if one.state.holds() {
            crate::pages::constraints::safe_until(one)
        } else {
            String::new()
        };
        table.rows.push(vec![text(word), what, text(&until)]);
    };
    for one in left {
        let is_ended_here = ended.iter().any(|other| other.constraint.code == one.constraint.code);
        match one.state {
            ConstraintState::InForce => row("new, from now on", one),
            ConstraintState::PastDate => row("new, past its date", one),
            ConstraintState::Lifted => row("lifted since", one),
            ConstraintState::Ended if !is_ended_here => row("ended since", one),
            ConstraintState::Ended => {}
        }
    }
    for one in ended {
        row("ended", one);
    }
    table
}

/// The message within the hour: done, not done, as left, constraints, tools.
pub(super) async fn message(
    db: &mut Connection,
    viewer: &Viewer,
    code: &str,
) -> Result<Paper, Failure> {
    let outing = flown(db, code).await?;
    let today = viewer.now().day();
    let tasks = tasks_by_code(db, &all_tasks(&outing)).await?;
    let calendar = Calendar::load(db).await?;
    let live = hands::live(db, &calendar).await?;
    let (from_now, ended_here) =
        constraints::for_excursion(db, &outing.excursion.code.0, today).await?;
    let mut parts = vec![Part::Words(report_lead(&outing))];
    let list = |heading: &str, rows: Vec<Vec<Line>>| {
        let mut table = Table::of(&[("Task", 34), ("Result", 20), ("As left", 46)]).or("None.");
        table.rows = rows;
        let mut parts = vec![Part::Heading(heading.to_owned())];
        if table.rows.is_empty() {
            parts.extend(so_far(table, &outing));
        } else {
            parts.push(Part::Table(table));
        }
        parts
    };
    let done = outing.attempts.iter().filter(|a| a.outcome == Outcome::Done);
    parts.extend(list(
        "Done",
        done.map(|a| vec![titled(&a.task, &tasks), ended(a), known(Some(a.as_left.as_str()))])
            .collect(),
    ));
    let other = outing.attempts.iter().filter(|a| a.outcome != Outcome::Done);
    let mut rows: Vec<Vec<Line>> = other
        .map(|a| vec![titled(&a.task, &tasks), ended(a), known(Some(a.as_left.as_str()))])
        .collect();
    rows.extend(outing.deferrals.iter().map(|d| {
        vec![
            titled(&d.task, &tasks),
            text(&format!("deferred, {}", d.reason)),
            hands::next_of(&d.task, &live),
        ]
    }));
    let owing = owing(&outing);
    rows.extend(
        owing.iter().map(|task| vec![titled(task, &tasks), text("no result yet"), blank()]),
    );
    parts.extend(list("Not done", rows));
    parts.push(Part::Heading("What the vehicle may not do".to_owned()));
    let in_force = constraints::read_all(db, today).await?;
    parts.push(Part::Words(text(&new_and_ended(code, in_force.in_force().count()))));
    parts.extend(so_far(constraint_table(&from_now, &ended_here), &outing));
    parts.extend(others_in_force(&in_force, &[&from_now, &ended_here]).map(Part::Words));
    let left: Vec<_> = outside::left_by_excursion(db, &outing.excursion.code.0)
        .await?
        .into_iter()
        .filter(|item| item.state == OutsideState::InPlace)
        .collect();
    parts.push(Part::Heading("Left outside".to_owned()));
    let mut table = Table::of(&[("Item", 50), ("Stays until", 50)]).or("Nothing.");
    for item in left {
        let mut what = vec![Bit::Code(item.code.0.to_string())];
        what.push(Bit::Text(format!(" {}", item.what)));
        let limit = item.runs_out().map_or_else(blank, |day| text(&day.to_string()));
        table.rows.push(vec![what, limit]);
    }
    parts.extend(so_far(table, &outing));
    parts.push(Part::Heading("Tools unaccounted for".to_owned()));
    parts.push(Part::Words(tools_words(db, &outing).await?));
    Ok(Paper {
        heading: format!("Closing message of {code}"),
        above: above(&outing),
        file: format!("message-{code}"),
        back: back(code),
        parts,
        ..Paper::default()
    })
}
