//! The sheet of the content meeting: what each excursion of a flight holds and why, and what is left
//! out. The decision and its reason are written in by hand.

use std::collections::HashMap;
use std::sync::Arc;

use super::flight::ahead;
use super::hands::{tasks_by_code, titled};
use super::{Bit, Line, Paper, Part, Table, blank, text};
use crate::visitor::Viewer;
use app::fit::{self, Board};
use app::read::open_items::{self, Filter, OpenItem, Sort};
use app::read::{StoreError, slots};
use app::{Failure, Reader};
use compute::fit::{
    Ask, Constants, ExcursionAt, Matrix, Room, Snapshot, TaskAt, matrix, matrix_where, room,
    room_words, rooms,
};
use domain::codes::{ExcursionCode, TaskCode};
use domain::slots::Slot;
use domain::verdicts::is_against;
use domain::words::SlotVerdict;
use typed_index_collections::TiVec;

/// Candidates that are left out are told for so many of the most pressing.
const CANDIDATES: usize = 12;
/// Open items that are looked through for candidates.
const LOOKED_AT: i64 = 60;

/// An excursion without one of its tasks.
struct Without {
    /// Minutes left at P80, set tasks only.
    left: Option<f64>,
    /// Tasks that have a place then and none with it.
    fit_then: Vec<TaskAt>,
}

/// What the sheet takes from the fit, calculated once for all who read it.
struct Calculation {
    board: Arc<Board>,
    judged: Matrix,
    rooms: TiVec<ExcursionAt, Room>,
    displaced: HashMap<(ExcursionAt, TaskAt), Without>,
}

impl Calculation {
    /// For the excursions of a flight, with these tasks as candidates.
    async fn seen(
        db: &mut Reader,
        flight: &str,
        wanted: &[TaskCode],
        excursions: &[&ExcursionCode],
    ) -> Result<Arc<Self>, Failure> {
        let place = db.place(flight);
        let calculation = place.get_or_try_init(|| async {
            let board = fit::board_seen(db, wanted).await?;
            let here: Vec<ExcursionAt> =
                excursions.iter().filter_map(|code| board.excursion_at(code)).collect();
            let all = move || {
                let (snapshot, constants) = (&board.snapshot, &board.constants);
                let judged = matrix(snapshot, constants);
                let rooms = rooms(snapshot, constants);
                let displaced = displaced(snapshot, constants, &judged, &here);
                Arc::new(Self { board, judged, rooms, displaced })
            };
            let stopped =
                |cause| StoreError::Unusable(format!("judging the cells stopped: {cause}"));
            Ok::<_, Failure>(tokio::task::spawn_blocking(all).await.map_err(stopped)?)
        });
        calculation.await.cloned()
    }
}

/// For each task of these excursions, what the excursion would hold without it.
fn displaced(
    snapshot: &Snapshot,
    constants: &Constants,
    judged: &Matrix,
    excursions: &[ExcursionAt],
) -> HashMap<(ExcursionAt, TaskAt), Without> {
    let mut all = HashMap::new();
    let barred = |row: usize, at: ExcursionAt| is_barred(judged.cell(row, at).verdict);
    for &at in excursions {
        for (place, slot) in snapshot.excursions[at].slots.iter_enumerated() {
            let mut other = snapshot.clone();
            other.excursions[at].slots.remove(place);
            let kept_out: Vec<TaskAt> = judged
                .tasks
                .iter()
                .enumerate()
                .filter(|(row, task)| **task != slot.task && barred(*row, at))
                .map(|(_, task)| *task)
                .collect();
            let then = matrix_where(&other, constants, |task, there| {
                there == at && kept_out.contains(&task)
            });
            let fit_then = then
                .tasks
                .iter()
                .enumerate()
                .filter(|(row, task)| {
                    kept_out.contains(task) && !is_barred(then.cell(*row, at).verdict)
                })
                .map(|(_, task)| *task)
                .collect();
            let left = room(&other, at, constants).set_only;
            all.insert((at, slot.task), Without { left, fit_then });
        }
    }
    all
}

fn is_barred(verdict: SlotVerdict) -> bool {
    !matches!(verdict, SlotVerdict::Fits | SlotVerdict::Tight)
}

fn margin_words(left: Option<f64>) -> Line {
    left.map_or_else(blank, |left| {
        let sign = if left < 0.0 { "−" } else { "" };
        text(&format!("{sign}{}", crate::drawings::lanes::clock_words(left.abs())))
    })
}

/// The tasks that it keeps out, those worth most first.
fn displaced_words(board: &Board, out: &Without) -> Line {
    const NAMED: usize = 2;
    let mut all = out.fit_then.clone();
    all.sort_by(|a, b| board.values.total(*b).total_cmp(&board.values.total(*a)));
    let mut words: Vec<String> =
        all.iter().take(NAMED).map(|task| board.snapshot.tasks[*task].code.to_string()).collect();
    if words.is_empty() {
        return text("nothing");
    }
    if all.len() > NAMED {
        words.push(format!("{} more", all.len() - NAMED));
    }
    text(&words.join(", "))
}

/// Per excursion: its tasks with value, why now and what is left; the candidates left out.
pub(super) async fn content(
    db: &mut Reader,
    viewer: &Viewer,
    code: &str,
) -> Result<Paper, Failure> {
    let today = viewer.now().day();
    let ahead = ahead(db, code).await?;
    let open = open_items::count(db, &Filter::default()).await?;
    let items = open_items::page(db, &Filter::default(), Sort::Rank, 0, LOOKED_AT).await?;
    let mut wanted: Vec<TaskCode> = items.iter().map(|item| item.task.clone()).collect();
    wanted.extend(ahead.tasks());
    let own: Vec<&ExcursionCode> = ahead.excursions.iter().map(|(own, _)| &own.code.0).collect();
    let calculation = Calculation::seen(db, code, &wanted, &own).await?;
    let Calculation { board, judged, rooms, displaced } = &*calculation;
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
            ("Task", 22),
            ("Value", 6),
            ("Why now", 18),
            ("Verdict", 8),
            ("Slot", 9),
            ("Margin without it", 10),
            ("Displaces", 12),
            ("Decision, reason", 15),
        ];
        let mut table = Table::of(&heads).figures(&[1]).or("No task is set or pencilled here.");
        for slot in here {
            let task = board.task_at(&slot.task);
            let out = task.and_then(|task| displaced.get(&(at, task)));
            let verdict = task
                .and_then(|task| judged.tasks.iter().position(|other| *other == task))
                .map(|row| judged.cell(row, at).verdict);
            table.rows.push(vec![
                titled(&slot.task, &tasks),
                task.map_or_else(blank, |task| text(&format!("{:.0}", board.values.total(task)))),
                why_now(by_code.get(&slot.task).copied(), slot),
                verdict.map_or_else(blank, |verdict| text(verdict.word())),
                text(slot.state.word()),
                out.map_or_else(blank, |out| margin_words(out.left)),
                out.map_or_else(blank, |out| displaced_words(board, out)),
                blank(),
            ]);
        }
        parts.push(Part::Table(table));
        let heads =
            [("Candidate left out", 30), ("Value", 6), ("Barred by", 42), ("Decision, reason", 22)];
        let mut table =
            Table::of(&heads).figures(&[1]).or("Every open task considered has a slot.");
        let all: Vec<&OpenItem> =
            items.iter().filter(|item| !live.iter().any(|slot| slot.task == item.task)).collect();
        for item in all.iter().take(CANDIDATES) {
            let Some(task) = board.task_at(&item.task) else { continue };
            table.rows.push(vec![
                titled(&item.task, &tasks),
                text(&format!("{:.0}", board.values.total(task))),
                barred(board, item, own),
                blank(),
            ]);
        }
        parts.push(Part::Table(table));
        let open = usize::try_from(open).unwrap_or(usize::MAX);
        let count = all.len() + open.saturating_sub(items.len());
        if count > CANDIDATES {
            parts.push(Part::Words(text(&format!(
                "The first {CANDIDATES} of {count} candidates, by class and date."
            ))));
        }
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
        ..Paper::default()
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
