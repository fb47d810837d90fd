//! What is asked at a debrief: task by task and seat by seat; what is known already is filled in.

use app::read::Connection;

use super::flown::{above, all_tasks, back, pets};
use super::hands::{self, Outing, ended, tasks_by_code, titled};
use super::{Bit, Line, Paper, Part, Table, blank, bold, known, number, text};
use crate::visitor::Viewer;
use app::Failure;
use app::constraints;
use app::read::{Found, outside};
use domain::attempts::Attempt;
use domain::codes::{TaskCode, ToolCode};
use domain::constraints::ConstraintState;
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::slots::Slot;
use domain::techniques::Technique;
use domain::words::{Outcome, SlotState};

/// What the debrief asks, task by task and seat by seat; what is known already is filled in.
pub(super) async fn questions(
    db: &mut Connection,
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
    let techniques = techniques_of(db, &set).await?;
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
            left_and_forbidden(result),
        ]);
    }
    parts.push(Part::Table(table));
    parts.push(Part::Table(by_seat(&set, &outing)));
    for seat in outing.excursion.seats.numbers() {
        parts.push(Part::Words(vec![
            Bit::Bold(format!("EV{seat}: ")),
            Bit::Text("suit remarks: ".to_owned()),
            Bit::Blank,
        ]));
    }
    parts.push(Part::Heading("Tools to count".to_owned()));
    let heads =
        [("Tool", 40), ("Out", 12), ("In", 12), ("Left outside", 12), ("Lost", 12), ("Broken", 12)];
    let mut table =
        Table::of(&heads).or("No tool is recorded as taken out, and no technique names one.");
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
    let mut planned: Vec<&ToolCode> = outing.excursion.tools.iter().collect();
    planned.extend(techniques.iter().flat_map(|technique| technique.tools.iter()));
    planned.sort_unstable();
    planned.dedup();
    planned.retain(|tool| !outing.tools.iter().any(|row| row.tool == **tool));
    for code in planned {
        let tool = domain::tools::Tool::find(db, code.as_str()).await?;
        let mut what = vec![Bit::Code(code.to_string())];
        what.extend(tool.map(|tool| Bit::Text(format!(" {}", tool.name))));
        table.rows.push(vec![what, blank(), blank(), blank(), blank(), blank()]);
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
        ..Paper::default()
    })
}

async fn techniques_of(db: &mut Connection, slots: &[&Slot]) -> Result<Vec<Technique>, Failure> {
    let mut codes: Vec<_> = slots.iter().filter_map(|slot| slot.technique.as_ref()).collect();
    codes.sort_unstable();
    codes.dedup();
    let mut found = Vec::new();
    for code in codes {
        found.extend(Technique::find(db, code.as_str()).await?);
    }
    Ok(found)
}

/// How it was left, then what that forbids; each a line to fill in where it is unknown.
fn left_and_forbidden(result: Option<&Attempt>) -> Line {
    let mut line = known(result.map(|attempt| attempt.as_left.as_str()));
    match result.map(|attempt| attempt.forbids.as_ref()) {
        Some(Some(forbids)) => {
            line.push(Bit::Text(" Forbids: ".to_owned()));
            line.push(Bit::Bold(forbids.to_string()));
        }
        Some(None) => line.push(Bit::Text(" Forbids nothing.".to_owned())),
        None => {
            line.push(Bit::Text(" Forbids: ".to_owned()));
            line.push(Bit::Blank);
        }
    }
    line
}

/// What each seat is asked about each of its tasks.
fn by_seat(set: &[&Slot], outing: &Outing) -> Table {
    let heads = [
        ("Seat, task", 15),
        ("What stopped it", 22),
        ("Tried, in order", 22),
        ("Torque, turns, force", 20),
        ("Seen", 0),
    ];
    let mut table = Table::of(&heads).or("No seat is planned.");
    for seat in outing.excursion.seats.numbers() {
        for slot in set.iter().filter(|slot| slot.seats.numbers().any(|number| number == seat)) {
            let result = outing.result(&slot.task);
            let done = result.is_some_and(|attempt| attempt.outcome == Outcome::Done);
            let stopped = match result {
                Some(_) if done => text("done"),
                Some(attempt) => known(attempt.symptom.as_ref().map(domain::cells::Line::as_str)),
                None => blank(),
            };
            table.rows.push(vec![
                vec![Bit::Bold(format!("EV{seat} ")), Bit::Code(slot.task.to_string())],
                stopped,
                known(result.map(tried).as_deref()),
                known(result.map(measured).as_deref()),
                known(result.map(|attempt| attempt.words.as_str())),
            ]);
        }
    }
    table
}

fn tried(attempt: &Attempt) -> String {
    attempt.tried.iter().map(domain::cells::Prose::as_str).collect::<Vec<_>>().join("; ")
}

fn measured(attempt: &Attempt) -> String {
    use domain::cells::Cell as _;
    attempt.measured.show()
}
