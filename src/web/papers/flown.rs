//! Papers of one excursion around its debrief: what is asked before it, what happened, and the
//! message that leaves within the hour.

use sqlx::SqliteConnection;

use super::handover::missing;
use super::hands::{self, Outing, ended, tasks_by_code, titled};
use super::{Bit, Line, Paper, Part, Table, blank, bold, known, number, text};
use crate::pages::excursions::planned::both_lanes;
use crate::visitor::Viewer;
use app::Failure;
use app::constraints::{self, InForce};
use domain::attempts::Attempt;
use domain::codes::TaskCode;
use domain::constraints::ConstraintState;
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::slots::Slot;
use domain::units::Minutes;
use domain::words::{Outcome, OutsideState, SlotState};
use store::{Kept, outside, slots};

async fn flown(db: &mut SqliteConnection, code: &str) -> Result<Outing, Failure> {
    let missing = || Failure::NotFound(Kind::Excursion, code.to_owned());
    let excursion = Excursion::find(db, code).await?.ok_or_else(missing)?;
    hands::outing(db, excursion).await
}

fn above(outing: &Outing) -> String {
    let excursion = &outing.excursion;
    let flight = excursion.flight.as_ref().map_or("flight unknown", |flight| flight.as_str());
    let day = excursion
        .day
        .map_or_else(|| "date unknown".to_owned(), |day| format!("{day} ({})", day.of_year()));
    let closed = if outing.is_closed { "" } else { " · debrief not closed" };
    format!("flight {flight} · {day}{closed}")
}

fn back(code: &str) -> (String, String) {
    (crate::addresses::within("excursions", code), code.to_owned())
}

fn all_tasks(outing: &Outing) -> Vec<TaskCode> {
    let mut all: Vec<TaskCode> = outing.slots.iter().map(|slot| slot.task.clone()).collect();
    all.extend(outing.attempts.iter().map(|attempt| attempt.task.clone()));
    all.extend(outing.deferrals.iter().map(|deferral| deferral.task.clone()));
    all.sort_unstable();
    all.dedup();
    all
}

/// What the debrief asks, task by task and seat by seat; what is known already is filled in.
pub(super) async fn questions(
    db: &mut SqliteConnection,
    viewer: &Viewer,
    code: &str,
) -> Result<Paper, Failure> {
    let missing = || Failure::NotFound(Kind::Excursion, code.to_owned());
    let excursion = Excursion::find(db, code).await?.ok_or_else(missing)?;
    let outing = hands::outing(db, excursion).await?;
    let tasks = tasks_by_code(db, &all_tasks(&outing)).await?;
    let set: Vec<&Slot> = outing
        .slots
        .iter()
        .filter(|slot| matches!(slot.state, SlotState::Set | SlotState::Flown))
        .collect();
    let owing = set.iter().filter(|slot| outing.result(&slot.task).is_none()).count();
    let mut parts = vec![Part::Words(vec![
        Bit::Bold(format!("{} planned, ", number(set.len(), "task", "tasks"))),
        Bit::Text(format!("{owing} without a result. What is recorded stands filled in.")),
    ])];
    parts.push(Part::Heading("Tasks".to_owned()));
    let heads = [
        ("Task, approach", 26),
        ("Seats", 8),
        ("Outcome", 13),
        ("PET from, to", 12),
        ("% left", 8),
        ("Values reached", 14),
        ("As left, and what it forbids", 19),
    ];
    let mut table = Table::of(&heads).or("No task was planned.");
    for slot in &set {
        let result = outing.result(&slot.task);
        let mut what = titled(&slot.task, &tasks);
        if let Some(technique) = &slot.technique {
            what.push(Bit::Text(" ".to_owned()));
            what.push(Bit::Code(technique.to_string()));
        }
        table.rows.push(vec![
            what,
            text(&slot.seats.names()),
            result.map_or_else(blank, ended),
            result.map_or_else(blank, pets),
            result
                .filter(|a| matches!(a.outcome, Outcome::PartDone | Outcome::NotCompleted))
                .and_then(|a| a.left_after)
                .map_or_else(blank, |left| text(&left.0.to_string())),
            known(result.map(measured).as_deref()),
            known(result.map(|a| a.as_left.as_str())),
        ]);
    }
    parts.push(Part::Table(table));
    for seat in outing.excursion.seats.numbers() {
        parts.push(Part::Words(vec![
            Bit::Bold(format!("EV{seat}: ")),
            Bit::Text("what stopped the work, suit remarks, what was seen: ".to_owned()),
            Bit::Blank,
            Bit::Blank,
            Bit::Blank,
        ]));
    }
    parts.push(Part::Heading("Tools to count".to_owned()));
    let heads =
        [("Tool", 40), ("Out", 12), ("In", 12), ("Left outside", 12), ("Lost", 12), ("Broken", 12)];
    let mut table = Table::of(&heads).or("No tool is recorded as taken out.");
    for row in &outing.tools {
        let count = |count: Option<i64>| count.map_or_else(blank, |count| text(&count.to_string()));
        let tool = domain::tools::Tool::find(db, row.tool.as_str()).await?;
        let mut what = vec![Bit::Code(row.tool.to_string())];
        what.extend(tool.map(|tool| Bit::Text(format!(" {}", tool.name))));
        table.rows.push(vec![
            what,
            text(&row.taken_out.to_string()),
            count(row.brought_in),
            count(row.left_outside),
            count(row.lost),
            count(row.broken),
        ]);
    }
    parts.push(Part::Table(table));
    parts.push(Part::Heading("Outside items to confirm".to_owned()));
    let mut table =
        Table::of(&[("Item", 44), ("Where", 16), ("There still?", 20), ("Remarks", 20)])
            .or("No item is recorded at the worksites of these tasks.");
    let sites: Vec<_> = tasks.values().filter_map(|task| task.worksite.clone()).collect();
    for item in outside::in_place(db).await? {
        if item.worksite.as_ref().is_some_and(|site| sites.contains(site)) {
            let mut what = vec![Bit::Code(item.code.0.to_string())];
            what.push(Bit::Text(format!(" {}", item.what)));
            let site = item.worksite.as_ref().map_or("", |site| site.as_str());
            table.rows.push(vec![what, text(site), blank(), blank()]);
        }
    }
    parts.push(Part::Table(table));
    parts.push(Part::Heading("Constraints that these tasks end".to_owned()));
    let today = viewer.now().day();
    let mut table =
        Table::of(&[("The vehicle may not", 50), ("Ends with", 20), ("Ended?", 30)]).or("None.");
    let planned: Vec<TaskCode> = set.iter().map(|slot| slot.task.clone()).collect();
    let mut all = constraints::for_tasks(db, &planned, today).await?;
    all.retain(|one| one.state != ConstraintState::Lifted);
    for slot in &set {
        for one in all.iter().filter(|one| one.constraint.task.as_ref() == Some(&slot.task)) {
            let ended = if one.state == ConstraintState::Ended { text("ended") } else { blank() };
            let mut what = bold(one.constraint.forbidden.as_str());
            what.push(Bit::Text(" ".to_owned()));
            what.push(Bit::Code(one.constraint.code.0.to_string()));
            table.rows.push(vec![what, text(slot.task.as_str()), ended]);
        }
    }
    parts.push(Part::Table(table));
    Ok(Paper {
        heading: format!("Questions for the debrief of {code}"),
        above: above(&outing),
        file: format!("questions-{code}"),
        back: back(code),
        parts,
    })
}

fn pets(attempt: &Attempt) -> Line {
    match (attempt.pet_start, attempt.pet_end) {
        (Some(from), Some(to)) => text(&format!("{from}–{to}")),
        _ => attempt.minutes.map_or_else(blank, |minutes| text(&format!("{} min", minutes.0))),
    }
}

fn measured(attempt: &Attempt) -> String {
    use domain::cells::Cell as _;
    attempt.measured.show()
}

/// What happened: both lanes, the minutes apart, results, what changed and why, constraints.
pub(super) async fn report(
    db: &mut SqliteConnection,
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
        let apart = row.planned.zip(row.flown).map(|(planned, flown)| flown - planned);
        table.rows.push(vec![
            titled(&row.task, &tasks),
            clock(row.planned),
            clock(row.flown),
            apart.map_or_else(blank, |apart| text(&signed(apart))),
            outing.result(&row.task).map_or_else(blank, ended),
        ]);
    }
    parts.push(Part::Table(table));
    parts.extend(results(&outing, &tasks));
    parts.push(Part::Heading("What changed, and why".to_owned()));
    let mut table = Table::of(&[("Task", 34), ("What", 22), ("Why", 44)])
        .or("No planned task was deferred, and no other work was done.");
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
    for attempt in outing.attempts.iter().filter(|attempt| attempt.slot.is_none()) {
        table.rows.push(vec![
            titled(&attempt.task, &tasks),
            text("worked on without a slot"),
            known(Some(attempt.words.as_str())),
        ]);
    }
    parts.push(Part::Table(table));
    parts.push(Part::Heading("Tools".to_owned()));
    parts.push(Part::Words(tools_words(&outing)));
    parts.push(Part::Heading("What the vehicle may not do".to_owned()));
    parts.push(Part::Table(constraint_table(&from_now, &ended_here)));
    Ok(Paper {
        heading: format!("Report of {code}"),
        above: above(&outing),
        file: format!("report-{code}"),
        back: back(code),
        parts,
    })
}

fn signed(minutes: f64) -> String {
    let whole = format!("{:.0}", minutes.abs());
    match minutes {
        m if m >= 0.5 => format!("+{whole}"),
        m if m <= -0.5 => format!("−{whole}"),
        _ => "0".to_owned(),
    }
}

fn report_lead(outing: &Outing) -> Line {
    let excursion = &outing.excursion;
    let clock =
        |m: Option<Minutes>| m.map_or_else(|| "unknown".to_owned(), domain::units::Minutes::clock);
    let early = excursion.ended_early.as_ref().map_or_else(String::new, |why| {
        format!(" Ended early: {}.", why.as_str().trim_end_matches('.'))
    });
    text(&format!(
        "{} Planned {}, flown {}.{early}",
        counts(outing),
        clock(excursion.planned),
        clock(excursion.actual)
    ))
}

fn counts(outing: &Outing) -> String {
    let of = |outcome: Outcome| outing.attempts.iter().filter(|a| a.outcome == outcome).count();
    let parts = [
        (of(Outcome::Done), "done"),
        (of(Outcome::PartDone), "part done"),
        (of(Outcome::NotCompleted), "not completed"),
        (of(Outcome::NotReached), "not reached"),
        (outing.deferrals.len(), "deferred"),
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

fn tools_words(outing: &Outing) -> Line {
    let mut line = Line::new();
    for row in &outing.tools {
        let Some(gone) = missing(row, &outing.excursion, outing.is_closed) else { continue };
        if !line.is_empty() {
            line.push(Bit::Text("; ".to_owned()));
        }
        line.push(Bit::Code(row.tool.to_string()));
        line.push(Bit::Text(": ".to_owned()));
        line.extend(gone);
    }
    if line.is_empty() {
        return text(&format!(
            "{} taken out, every one accounted for.",
            number(outing.tools.len(), "tool", "tools")
        ));
    }
    line
}

fn constraint_table(from_now: &[InForce], ended: &[InForce]) -> Table {
    let mut table =
        Table::of(&[("Constraint", 16), ("The vehicle may not", 50), ("Safe until", 34)])
            .or("This excursion left no constraint and ended none.");
    for (word, all) in [("from now on", from_now), ("ended", ended)] {
        for one in all {
            let mut what = bold(one.constraint.forbidden.as_str());
            what.push(Bit::Text(" ".to_owned()));
            what.push(Bit::Code(one.constraint.code.0.to_string()));
            let until = if word == "ended" {
                String::new()
            } else {
                crate::pages::constraints::safe_until(one)
            };
            table.rows.push(vec![text(word), what, text(&until)]);
        }
    }
    table
}

/// The message within the hour: done, not done, as left, constraints, tools.
pub(super) async fn message(
    db: &mut SqliteConnection,
    viewer: &Viewer,
    code: &str,
) -> Result<Paper, Failure> {
    let outing = flown(db, code).await?;
    let today = viewer.now().day();
    let tasks = tasks_by_code(db, &all_tasks(&outing)).await?;
    let live = slots::coming_slots(db).await?;
    let (from_now, ended_here) =
        constraints::for_excursion(db, &outing.excursion.code.0, today).await?;
    let mut parts = vec![Part::Words(report_lead(&outing))];
    let list = |heading: &str, rows: Vec<Vec<Line>>| {
        let mut table = Table::of(&[("Task", 34), ("Result", 20), ("As left", 46)]).or("None.");
        table.rows = rows;
        [Part::Heading(heading.to_owned()), Part::Table(table)]
    };
    let done = outing.attempts.iter().filter(|a| a.outcome == Outcome::Done);
    parts.extend(list(
        "Done",
        done.map(|a| vec![titled(&a.task, &tasks), ended(a), text(a.as_left.as_str())]).collect(),
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
    let owing = outing
        .slots
        .iter()
        .filter(|slot| slot.state == SlotState::Set && outing.result(&slot.task).is_none());
    rows.extend(owing.map(|s| vec![titled(&s.task, &tasks), text("no result yet"), blank()]));
    parts.extend(list("Not done", rows));
    parts.push(Part::Heading("What the vehicle may not do".to_owned()));
    parts.push(Part::Table(constraint_table(&from_now, &ended_here)));
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
    parts.push(Part::Table(table));
    parts.push(Part::Heading("Tools unaccounted for".to_owned()));
    parts.push(Part::Words(tools_words(&outing)));
    Ok(Paper {
        heading: format!("Closing message of {code}"),
        above: above(&outing),
        file: format!("message-{code}"),
        back: back(code),
        parts,
    })
}
