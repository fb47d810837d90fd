//! Papers of a flight before it: what is requested for it, and the sheet of the content meeting.

use std::collections::HashMap;

use sqlx::SqliteConnection;

use super::hands::{tasks_by_code, titled};
use super::{Bit, Line, Paper, Part, Table, blank, bold, known, number, text};
use crate::visitor::Viewer;
use app::fit;
use app::{Failure, Reader, inhibits};
use compute::fit::{Ask, matrix, room_words};
use domain::codes::TaskCode;
use domain::excursions::Excursion;
use domain::flights::Flight;
use domain::kinds::Kind;
use domain::slots::Slot;
use domain::time::Day;
use domain::verdicts::is_against;
use domain::words::{ExcursionState, SlotState, SlotVerdict};
use store::open_items::{self, Filter, OpenItem, Sort};
use store::{Kept, StoreError, excursions, slots, techniques, tools};

/// Candidates that are left out are told for so many of the most pressing.
const CANDIDATES: usize = 12;
/// Open items that are looked through for candidates.
const LOOKED_AT: i64 = 60;

struct Ahead {
    flight: Flight,
    excursions: Vec<(Excursion, Vec<Slot>)>,
}

async fn ahead(db: &mut SqliteConnection, code: &str) -> Result<Ahead, Failure> {
    let missing = || Failure::NotFound(Kind::Flight, code.to_owned());
    let flight = Flight::find(db, code).await?.ok_or_else(missing)?;
    let mut all = Vec::new();
    for excursion in excursions::of_flight(db, &flight.code.0).await? {
        if excursion.state != Some(ExcursionState::Planned) {
            continue;
        }
        let mut here = slots::of_excursion(db, &excursion.code.0).await?;
        here.retain(|slot| matches!(slot.state, SlotState::Set | SlotState::Pencilled));
        all.push((excursion, here));
    }
    Ok(Ahead { flight, excursions: all })
}

impl Ahead {
    fn tasks(&self) -> Vec<TaskCode> {
        self.slots().map(|slot| slot.task.clone()).collect()
    }

    fn slots(&self) -> impl Iterator<Item = &Slot> {
        self.excursions.iter().flat_map(|(_, slots)| slots)
    }

    fn above(&self, today: Day) -> String {
        let launch = self.flight.launch.map_or_else(
            || "launch unknown".to_owned(),
            |day| format!("launch {day} ({}), in {} days", day.of_year(), day.since(today)),
        );
        format!("flight {}, {launch}", self.flight.code.0)
    }

    /// The day so many days before the launch, and how many days are left until then.
    fn before_launch(&self, today: Day, days: i64) -> Line {
        match self.flight.launch {
            Some(launch) => {
                let by = launch.plus(-days);
                text(&format!("{by} (L−{days}, {} days from now)", by.since(today)))
            }
            None => blank(),
        }
    }
}

/// Training, manifest, inhibits and arm windows, counted back from the launch.
pub(super) async fn requests(
    db: &mut SqliteConnection,
    viewer: &Viewer,
    code: &str,
) -> Result<Paper, Failure> {
    let today = viewer.now().day();
    let ahead = ahead(db, code).await?;
    let tasks = tasks_by_code(db, &ahead.tasks()).await?;
    let mut parts = vec![Part::Words(text(&format!(
        "{} with {} set or pencilled.",
        number(ahead.excursions.len(), "planned excursion", "planned excursions"),
        number(ahead.slots().count(), "task", "tasks")
    )))];
    parts.push(Part::Heading("Training runs".to_owned()));
    parts.push(Part::Table(training(db, &ahead, today).await?));
    parts.push(Part::Heading("Manifest, up".to_owned()));
    let heads = [("Item", 46), ("Count", 12), ("Mass, kg", 14), ("Volume, l", 14), ("By", 14)];
    let mut table = Table::of(&heads).figures(&[1, 2, 3]).or("No tool comes with this flight.");
    let (mut mass, mut volume) = (0.0, 0.0);
    for tool in tools::arriving_with(db, &ahead.flight.code.0).await? {
        let count = tool.arriving.unwrap_or(1);
        let times = f64::from(i32::try_from(count).unwrap_or(1));
        mass += tool.mass.map_or(0.0, |mass| mass.0 * times);
        volume += tool.volume.map_or(0.0, |volume| volume.0 * times);
        table.rows.push(vec![
            vec![Bit::Code(tool.code.0.to_string()), Bit::Text(format!(" {}", tool.name))],
            text(&count.to_string()),
            tool.mass.map_or_else(blank, |mass| text(&format!("{:.1}", mass.0 * times))),
            tool.volume.map_or_else(blank, |volume| text(&format!("{:.1}", volume.0 * times))),
            ahead.flight.launch.map_or_else(blank, |day| text(&day.to_string())),
        ]);
    }
    parts.push(Part::Table(table));
    parts.push(Part::Words(text(&format!(
        "Together {mass:.1} kg, {volume:.1} l, as far as known."
    ))));
    parts.push(Part::Heading("Bag volume, out and in".to_owned()));
    let heads =
        [("Excursion", 16), ("Task", 44), ("Out, l", 14), ("In, l", 14), ("Bag out, in", 12)];
    let mut table = Table::of(&heads).figures(&[2, 3]).or("No task says what it takes out or in.");
    for (excursion, here) in &ahead.excursions {
        for slot in here {
            let Some(task) = tasks.get(&slot.task) else { continue };
            if task.takes_out.is_none() && task.brings_in.is_none() {
                continue;
            }
            let litres = |l: Option<domain::units::Litres>| {
                l.map_or_else(|| text("–"), |l| text(&format!("{}", l.0)))
            };
            let bag = |l: Option<domain::units::Litres>| {
                l.map_or_else(|| "unknown".to_owned(), |l| l.0.to_string())
            };
            table.rows.push(vec![
                text(excursion.code.0.as_str()),
                titled(&slot.task, &tasks),
                litres(task.takes_out),
                litres(task.brings_in),
                text(&format!("{}, {}", bag(excursion.bag_out), bag(excursion.bag_in))),
            ]);
        }
    }
    parts.push(Part::Table(table));
    parts.push(Part::Heading("Inhibits, by owner".to_owned()));
    let heads = [
        ("Owner", 20),
        ("Inhibit", 30),
        ("Excursion", 14),
        ("For", 18),
        ("Lead, min", 8),
        ("State", 10),
    ];
    let mut table = Table::of(&heads).figures(&[4]).or("No inhibit is needed.");
    for (excursion, here) in &ahead.excursions {
        let slotted: Vec<TaskCode> = here.iter().map(|slot| slot.task.clone()).collect();
        for one in inhibits::on_excursion(db, &excursion.code.0, &slotted).await? {
            let needed: Vec<&str> = one.needed_by.iter().map(TaskCode::as_str).collect();
            let mut what = vec![Bit::Code(one.inhibit.code.0.to_string())];
            what.push(Bit::Text(format!(" {}", one.inhibit.what)));
            table.rows.push(vec![
                known(one.inhibit.owner.as_ref().map(domain::cells::Line::as_str)),
                what,
                text(excursion.code.0.as_str()),
                text(&needed.join(", ")),
                one.inhibit.lead.map_or_else(blank, |lead| text(&lead.0.to_string())),
                text(one.arrangement.as_ref().map_or("not asked", |there| there.state.word())),
            ]);
        }
    }
    table.rows.sort_by_key(|row| super::plain::said(&row[0]));
    parts.push(Part::Table(table));
    parts.push(Part::Heading("Arm windows".to_owned()));
    let heads = [("Excursion", 16), ("Tasks that need the arm", 50), ("Windows, PET", 34)];
    let mut table = Table::of(&heads).or("No planned task needs the arm.");
    for (excursion, here) in &ahead.excursions {
        let needing: Vec<&str> = here
            .iter()
            .filter(|slot| tasks.get(&slot.task).is_some_and(|task| task.arm))
            .map(|slot| slot.task.as_str())
            .collect();
        if !needing.is_empty() {
            let windows = domain::cells::Cell::show(&excursion.arm_windows);
            table.rows.push(vec![
                text(excursion.code.0.as_str()),
                text(&needing.join(", ")),
                known(Some(&windows)),
            ]);
        }
    }
    parts.push(Part::Table(table));
    Ok(Paper {
        heading: format!("Requests for {code}"),
        above: ahead.above(today),
        file: format!("requests-{code}"),
        back: (crate::addresses::within("flights", code), code.to_owned()),
        parts,
    })
}

/// Who is to be trained in what, by when.
async fn training(db: &mut SqliteConnection, ahead: &Ahead, today: Day) -> Result<Table, Failure> {
    /// A training run ends so many days before launch.
    // common practice: the last runs of a flight end about a month before it.
    const BEFORE: i64 = 30;
    let named: Vec<_> = ahead.slots().filter_map(|slot| slot.technique.clone()).collect();
    let trained = techniques::qualifications_for_these(db, &named).await?;
    let heads =
        [("Technique, side", 25), ("Crew", 8), ("For", 19), ("Trained", 12), ("Run by", 36)];
    let mut table = Table::of(&heads).or("No technique is planned.");
    for (excursion, here) in &ahead.excursions {
        for slot in here {
            let Some(technique) = &slot.technique else { continue };
            for seat in slot.seats.numbers() {
                let crew = excursion
                    .seats
                    .numbers()
                    .zip(&excursion.seats.0)
                    .find(|(number, _)| *number == seat)
                    .and_then(|(_, seat)| seat.crew.clone());
                let last = crew.as_ref().and_then(|crew| {
                    trained
                        .iter()
                        .filter(|one| {
                            one.technique == *technique && one.crew.as_str() == crew.as_str()
                        })
                        .filter(|one| one.side.is_none() || one.side == slot.side)
                        .filter_map(|one| one.day)
                        .max()
                });
                let side = slot.side.as_ref().map_or_else(String::new, |side| format!(", {side}"));
                let mut what = vec![Bit::Code(technique.to_string())];
                what.push(Bit::Text(side));
                table.rows.push(vec![
                    what,
                    crew.as_ref().map_or_else(
                        || {
                            let mut line = text(&format!("EV{seat} "));
                            line.push(Bit::Blank);
                            line
                        },
                        |crew| text(crew),
                    ),
                    text(&format!("{} on {}", slot.task, excursion.code.0)),
                    last.map_or_else(|| bold("never"), |day| text(&day.to_string())),
                    ahead.before_launch(today, BEFORE),
                ]);
            }
        }
    }
    table.rows.dedup();
    Ok(table)
}

/// Per excursion: its tasks with value, why now and what is left; the candidates left out.
pub(super) async fn content(
    db: &mut Reader,
    viewer: &Viewer,
    code: &str,
) -> Result<Paper, Failure> {
    let today = viewer.now().day();
    let ahead = ahead(db, code).await?;
    let items = open_items::page(db, &Filter::default(), Sort::Rank, 0, LOOKED_AT).await?;
    let mut wanted: Vec<TaskCode> = items.iter().map(|item| item.task.clone()).collect();
    wanted.extend(ahead.tasks());
    let board = fit::board_seen(db, &wanted).await?;
    let stopped = |cause| StoreError::Unusable(format!("judging the cells stopped: {cause}"));
    let judge = move || {
        let judged = matrix(&board.snapshot, &board.constants);
        let rooms = compute::fit::rooms(&board.snapshot, &board.constants);
        (board, judged, rooms)
    };
    let (board, judged, rooms) = tokio::task::spawn_blocking(judge).await.map_err(stopped)?;
    let tasks = tasks_by_code(db, &wanted).await?;
    let by_code: HashMap<&TaskCode, &OpenItem> =
        items.iter().map(|item| (&item.task, item)).collect();
    let live = slots::coming_slots(db).await?;
    let mut parts = Vec::new();
    for (excursion, here) in &ahead.excursions {
        let own = &excursion.code.0;
        let Some(at) = board.excursion_at(own) else { continue };
        let day = excursion.day.map_or_else(|| "date unknown".to_owned(), |day| day.to_string());
        parts.push(Part::Heading(format!("{own}, {day}")));
        if let Some(room) = rooms.get(at) {
            parts.push(Part::Words(text(&format!("At P80: {}.", room_words(room)))));
        }
        let heads = [
            ("Task", 30),
            ("Value", 6),
            ("Why now", 22),
            ("Verdict", 11),
            ("Slot", 9),
            ("Decision, reason", 22),
        ];
        let mut table = Table::of(&heads).figures(&[1]).or("No task is set or pencilled here.");
        for slot in here {
            let task = board.task_at(&slot.task);
            let verdict = task
                .and_then(|task| judged.tasks.iter().position(|other| *other == task))
                .map(|row| judged.cell(row, at).verdict);
            table.rows.push(vec![
                titled(&slot.task, &tasks),
                task.map_or_else(blank, |task| text(&format!("{:.0}", board.values.total(task)))),
                why_now(by_code.get(&slot.task).copied(), slot),
                verdict.map_or_else(blank, |verdict| text(verdict.word())),
                text(slot.state.word()),
                slot.waiver.as_ref().map_or_else(blank, |why| text(why.as_str())),
            ]);
        }
        parts.push(Part::Table(table));
        let heads =
            [("Candidate left out", 30), ("Value", 6), ("Barred by", 42), ("Decision, reason", 22)];
        let mut table =
            Table::of(&heads).figures(&[1]).or("Every open task considered has a slot.");
        for item in &items {
            if table.rows.len() >= CANDIDATES {
                break;
            }
            if live.iter().any(|slot| slot.task == item.task) {
                continue;
            }
            let Some(task) = board.task_at(&item.task) else { continue };
            table.rows.push(vec![
                titled(&item.task, &tasks),
                text(&format!("{:.0}", board.values.total(task))),
                barred(&board, item, own),
                blank(),
            ]);
        }
        parts.push(Part::Table(table));
    }
    if parts.is_empty() {
        parts.push(Part::Words(text("No excursion of this flight is planned.")));
    }
    Ok(Paper {
        heading: format!("Content of {code}"),
        above: ahead.above(today),
        file: format!("content-{code}"),
        back: (crate::addresses::within("flights", code), code.to_owned()),
        parts,
    })
}

fn why_now(item: Option<&OpenItem>, slot: &Slot) -> Line {
    let mut line = Line::new();
    if slot.must_do {
        line.extend([Bit::Box("must do".to_owned()), Bit::Text(" ".to_owned())]);
    }
    let Some(item) = item else { return line };
    let by = match (&item.need_from, item.need_day, &item.needed_by_flight) {
        (Some(from), Some(day), _) => format!("needed by {day} ({from})"),
        (None, _, Some(flight)) => format!("needed by {flight}"),
        (None, Some(day), None) => format!("needed by {day}"),
        _ => "no date".to_owned(),
    };
    line.extend(text(&by));
    if item.carry_count > 0 {
        line.push(Bit::Text(format!(", carried {}", item.carry_count)));
    }
    line
}

/// The first check that stands against a candidate, or that it fits.
fn barred(board: &fit::Board, item: &OpenItem, excursion: &domain::codes::ExcursionCode) -> Line {
    let Some(judged) = board.judge(&item.task, excursion, &Ask::default()) else { return blank() };
    if matches!(judged.verdict, SlotVerdict::Fits | SlotVerdict::Tight) {
        return text(&format!(
            "nothing: it {}",
            if judged.verdict == SlotVerdict::Fits { "fits" } else { "is tight" }
        ));
    }
    let against = judged.gates.iter().find(|gate| is_against(gate.verdict));
    match against {
        Some(gate) => {
            let words = crate::shortened::shortened(&gate.words(), 110);
            text(&format!("{}: {words}", gate.gate))
        }
        None => text(judged.verdict.word()),
    }
}
