//! The handover of a flight: what it left, what the vehicle may not do, what is owed and by whom.

mod left;
mod owed;

use app::read::Connection;

use self::left::Left;
pub(super) use self::owed::who;
use super::hands::{self, Outing, constraint_rows, ended, next_of, titled};
use super::{Bit, Line, Paper, Part, Table, blank, known, number, text, warn};
use crate::visitor::Viewer;
use app::read::findings::{self, ExemptionNamed};
use app::read::{Found, campaign, excursions, flights, outside, slots};
use app::{Failure, Reader, constraints};
use domain::codes::TaskCode;
use domain::excursions::{Excursion, ExcursionTool};
use domain::flights::Flight;
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::slots::Slot;
use domain::time::Day;
use domain::words::{ExcursionState, Outcome, SlotState};

pub(super) async fn paper(db: &mut Reader, viewer: &Viewer, code: &str) -> Result<Paper, Failure> {
    let today = viewer.now().day();
    let flight = Flight::find(db, code)
        .await?
        .ok_or_else(|| Failure::NotFound(Kind::Flight, code.to_owned()))?;
    let own = flight.code.0.clone();
    let mut outings = Vec::new();
    for excursion in excursions::of_flight(db, &own).await? {
        outings.push(hands::outing(db, excursion).await?);
    }
    let planned: Vec<TaskCode> = planned_tasks(&outings);
    let mut named: Vec<TaskCode> = planned.clone();
    named.extend(outings.iter().flat_map(|o| o.attempts.iter().map(|a| a.task.clone())));
    named.extend(outings.iter().flat_map(|o| o.deferrals.iter().map(|d| d.task.clone())));
    named.sort_unstable();
    named.dedup();
    let next = next_flight(db, &flight).await?;
    let next_slots = match &next {
        Some(next) => slots_of(db, next).await?,
        None => Vec::new(),
    };
    let read = constraints::read_all(db, today).await?;
    let live = hands::live(db, &read.calendar).await?;
    let mut codes = named.clone();
    codes.extend(live.iter().map(|slot| slot.task.clone()));
    let tasks = hands::tasks_by_code(db, &codes).await?;

    let left = Left::of(&outings, &planned);
    let mut parts = vec![Part::Words(lead(&outings, &left, planned.len()))];
    parts.push(Part::Heading("1 · What the vehicle may not do".to_owned()));
    let heads = [
        ("Forbidden", 28),
        ("Because of", 12),
        ("Safe until", 21),
        ("Ended by", 26),
        ("Before its date?", 13),
    ];
    let mut table = Table::of(&heads).or("No constraint is in force.");
    table.rows = constraint_rows(&read);
    parts.push(Part::Table(table));
    parts.push(Part::Heading("2 · What we left, as left".to_owned()));
    let heads = [("Task", 28), ("Last on", 7), ("Result", 20), ("As left", 0), ("Next", 14)];
    let mut table = Table::of(&heads).or("No task was begun and left.");
    table.rows = left
        .begun
        .iter()
        .map(|attempt| {
            vec![
                titled(&attempt.task, &tasks),
                text(attempt.excursion.as_str()),
                ended(attempt),
                known(Some(attempt.as_left.as_str())),
                next_of(&attempt.task, &live),
            ]
        })
        .collect();
    parts.push(Part::Table(table));
    parts.push(Part::Heading("3 · Owed, by whom and when".to_owned()));
    parts.extend(owed::owed(db, &outings, &left, today).await?);
    let outside = vec![
        Part::Heading("4 · Outside, and until when".to_owned()),
        Part::Table(outside_table(&outside::in_place(db).await?, &live, today)),
    ];
    let mut right = vec![
        Part::Heading("5 · Tools unaccounted for".to_owned()),
        Part::Table(tools_table(db, &outings).await?),
        Part::Heading("6 · Waivers and exemptions".to_owned()),
        Part::Words(waivers(&outings, &live)),
        Part::Words(exemptions(&findings::exemptions_named(db).await?)),
        Part::Heading("7 · Open tasks by class".to_owned()),
        Part::Words(by_class(db).await?),
    ];
    let heading = match &next {
        Some(next) => format!("8 · What {} gets", next.code.0),
        None => "8 · What the next flight gets".to_owned(),
    };
    right.push(Part::Heading(heading));
    right.push(Part::Table(next_table(&next_slots)));
    parts.push(Part::Pair(outside, right));
    parts.push(Part::Heading("9 · The other planned tasks".to_owned()));
    parts.push(Part::Table(left.table(&tasks, &live)));
    parts.push(Part::Heading("10 · Remedies not verified".to_owned()));
    parts.push(Part::Table(owed::remedies(db).await?));
    let days = match (flight.launch, flight.landing) {
        (_, Some(landing)) if landing <= today => {
            format!(", landed {landing} ({})", landing.of_year())
        }
        (Some(launch), _) => format!(", launch {launch} ({})", launch.of_year()),
        _ => ", dates unknown".to_owned(),
    };
    Ok(Paper {
        heading: format!("Handover after {code}"),
        above: format!("flight {code}{days}"),
        file: format!("handover-{code}"),
        back: (crate::addresses::within("flights", code), code.to_owned()),
        parts,
        ..Paper::default()
    })
}

/// The tasks that were set when their excursion came, each once.
fn planned_tasks(outings: &[Outing]) -> Vec<TaskCode> {
    let mut all: Vec<TaskCode> = outings
        .iter()
        .flat_map(|outing| &outing.slots)
        .filter(|slot| matches!(slot.state, SlotState::Set | SlotState::Flown))
        .map(|slot| slot.task.clone())
        .collect();
    // What was put off on the day was planned too, and holds no slot any more.
    all.extend(outings.iter().flat_map(|outing| &outing.deferrals).map(|d| d.task.clone()));
    all.sort_unstable();
    all.dedup();
    all
}

fn lead(outings: &[Outing], left: &Left<'_>, planned: usize) -> Line {
    let flown = outings.iter().filter(|o| o.excursion.state != Some(ExcursionState::CalledOff));
    let part = left.begun.iter().filter(|a| a.outcome == Outcome::PartDone).count();
    let not_completed = left.begun.len() - part;
    let counts = [
        (left.done.len(), "done"),
        (part, "part done"),
        (not_completed, "not completed"),
        (left.not_reached.len(), "not reached"),
        (left.deferred.len(), "deferred"),
        (left.owing.len(), "without a result"),
    ];
    let mut told: Vec<String> = counts
        .into_iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, word)| format!("{count} {word}"))
        .collect();
    if left.owing_beside > 0 {
        told.push(format!("{} of these with a result of another excursion", left.owing_beside));
    }
    let open: Vec<&str> = outings
        .iter()
        .filter(|o| o.excursion.state == Some(ExcursionState::Flown) && !o.is_closed)
        .map(|o| o.excursion.code.0.as_str())
        .collect();
    let mut line = vec![
        Bit::Bold(format!(
            "{} planned on {}: ",
            number(planned, "task", "tasks"),
            number(flown.count(), "excursion", "excursions")
        )),
        Bit::Text(if told.is_empty() { "nothing yet.".to_owned() } else { told.join(", ") + "." }),
    ];
    if !left.unplanned.is_empty() {
        line.push(Bit::Text(format!(
            " Worked on without a slot: {} of these.",
            left.unplanned.len()
        )));
    }
    if !open.is_empty() {
        line.extend(text(&format!(" The debrief of {} is not closed.", open.join(", "))));
    }
    line
}

fn outside_table(items: &[OutsideItem], live: &[Slot], today: Day) -> Table {
    let mut table = Table::of(&[("Item", 44), ("Limit", 26), ("Comes in by", 30)])
        .or("No outside item is recorded.");
    let mut items: Vec<&OutsideItem> = items.iter().collect();
    items.sort_by_key(|item| (item.runs_out().is_none(), item.runs_out()));
    for item in items {
        let mut what = vec![Bit::Code(item.code.0.to_string())];
        what.push(Bit::Text(format!(" {}", item.what)));
        let limit = match item.runs_out() {
            Some(day) if day < today => warn(&format!("{day} passed")),
            Some(day) => text(&day.to_string()),
            None if item.limit_is_uncertain() => blank(),
            None => text("none"),
        };
        let back = match &item.brought_back_by {
            Some(task) => {
                let mut said = vec![Bit::Code(task.to_string()), Bit::Text(", ".to_owned())];
                said.extend(next_of(task, live));
                said
            }
            None => text("nobody"),
        };
        table.rows.push(vec![what, limit, back]);
    }
    table
}

async fn tools_table(db: &mut Connection, outings: &[Outing]) -> Result<Table, Failure> {
    let mut table =
        Table::of(&[("Tool", 46), ("What is missing", 54)]).or("Every tool is accounted for.");
    for outing in outings {
        for row in &outing.tools {
            let Some(missing) = missing(row, &outing.excursion, outing.is_closed) else { continue };
            let tool = domain::tools::Tool::find(db, row.tool.as_str()).await?;
            let mut what = vec![Bit::Code(row.tool.to_string())];
            if let Some(tool) = tool {
                what.push(Bit::Text(format!(" {}", tool.name)));
            }
            table.rows.push(vec![what, missing]);
        }
        for code in &outing.uncounted {
            let tool = domain::tools::Tool::find(db, code.as_str()).await?;
            let mut what = vec![Bit::Code(code.to_string())];
            what.extend(tool.map(|tool| Bit::Text(format!(" {}", tool.name))));
            let words = format!("not counted on {}", outing.excursion.code.0);
            table.rows.push(vec![what, text(&words)]);
        }
    }
    Ok(table)
}

/// What a count leaves open, in words.
pub(super) fn missing(row: &ExcursionTool, excursion: &Excursion, is_closed: bool) -> Option<Line> {
    let on = &excursion.code.0;
    let of = |count: i64, words: &str| format!("{count} of {} {words} on {on}", row.taken_out);
    let lost = row.lost.filter(|lost| *lost > 0);
    let broken = row.broken.filter(|broken| *broken > 0);
    match (lost, broken, &row.not_counted) {
        (Some(lost), _, _) => Some(text(&of(lost, "lost"))),
        (None, Some(broken), _) => Some(text(&of(broken, "came in broken"))),
        (None, None, Some(why)) => Some(text(&format!("not counted on {on}: {why}"))),
        (None, None, None) if excursion.state == Some(ExcursionState::Flown) && !row.adds_up() => {
            let mut line = text(&format!("{} out on {on}, counted in: ", row.taken_out));
            line.push(Bit::Blank);
            (!is_closed || row.brought_in.is_none()).then_some(line)
        }
        (None, None, None) => None,
    }
}

/// Those given for the flight that is handed over, then those of coming slots.
fn waivers(outings: &[Outing], live: &[Slot]) -> Line {
    let mut said = Line::new();
    let own: Vec<&Slot> = outings.iter().flat_map(|outing| &outing.slots).collect();
    let later = live.iter().filter(|slot| !own.iter().any(|other| other.code == slot.code));
    for slot in own.iter().copied().chain(later) {
        let (Some(gate), Some(why)) = (&slot.waived_gate, &slot.waiver) else { continue };
        if !said.is_empty() {
            said.push(Bit::Text(" ".to_owned()));
        }
        said.extend(text(&format!("{} on {}: check “{gate}” waived: ", slot.task, slot.excursion)));
        said.push(Bit::Text(why.to_string()));
    }
    if said.is_empty() {
        return text("None.");
    }
    said.push(Bit::Text(format!(" {}", crate::pages::slots::fields::WAIVER_SCOPE)));
    said
}

/// `X-001 reviewed, on T-0148; X-003 not reviewed, on T-0149.`
fn exemptions(all: &[ExemptionNamed]) -> Line {
    let told: Vec<String> = all
        .iter()
        .map(|one| {
            let state = if one.is_reviewed { "reviewed" } else { "not reviewed" };
            format!("{} {state}, for {}", one.code, one.task)
        })
        .collect();
    let told = if told.is_empty() { "none".to_owned() } else { told.join("; ") };
    text(&format!("Exemptions: {told}."))
}

async fn by_class(db: &mut Connection) -> Result<Line, Failure> {
    let classes = campaign::by_class(db).await?;
    let all: i64 = classes.iter().map(|of| of.open).sum();
    let told: Vec<String> = classes
        .iter()
        .map(|of| match of.class {
            Some(class) => format!("class {class}: {}", of.open),
            None => format!("class unknown: {}", of.open),
        })
        .collect();
    Ok(text(&format!("{all} open: {}.", told.join(", "))))
}

/// The flight that comes after this one.
async fn next_flight(db: &mut Connection, flight: &Flight) -> Result<Option<Flight>, Failure> {
    let all = flights::in_order(db).await?;
    let at = all.iter().position(|row| row.code == flight.code.0);
    let Some(next) = at.and_then(|at| all.get(at + 1)) else { return Ok(None) };
    Ok(Flight::find(db, next.code.as_str()).await?)
}

async fn slots_of(
    db: &mut Connection,
    flight: &Flight,
) -> Result<Vec<(Excursion, Vec<Slot>)>, Failure> {
    let mut all = Vec::new();
    for excursion in excursions::of_flight(db, &flight.code.0).await? {
        let mut here = slots::of_excursion(db, &excursion.code.0).await?;
        here.retain(|slot| matches!(slot.state, SlotState::Set | SlotState::Pencilled));
        all.push((excursion, here));
    }
    Ok(all)
}

fn next_table(excursions: &[(Excursion, Vec<Slot>)]) -> Table {
    let mut table = Table::of(&[("Excursion", 20), ("Tasks", 80)]).or("No excursion is planned.");
    for (excursion, slots) in excursions {
        let mut line = Line::new();
        for state in [SlotState::Set, SlotState::Pencilled] {
            let here: Vec<&Slot> = slots.iter().filter(|slot| slot.state == state).collect();
            if here.is_empty() {
                continue;
            }
            if !line.is_empty() {
                line.push(Bit::Text("; ".to_owned()));
            }
            line.push(Bit::Text(format!("{state} ")));
            for (at, slot) in here.into_iter().enumerate() {
                if at > 0 {
                    line.push(Bit::Text(", ".to_owned()));
                }
                line.push(Bit::Code(slot.task.to_string()));
                if slot.must_do {
                    line.push(Bit::Text(" ".to_owned()));
                    line.push(Bit::Box("must do".to_owned()));
                }
            }
        }
        if line.is_empty() {
            line = text("nothing yet");
        }
        table.rows.push(vec![text(excursion.code.0.as_str()), line]);
    }
    table
}
