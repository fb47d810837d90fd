//! What needs people: read together for the first page.

use async_recursion::async_recursion as boxed;
use std::collections::HashMap;
use std::sync::Arc;

use sqlx::SqliteConnection;

use crate::constraints::{self, InForce};
use crate::fit::{self, Board};
use crate::outside as app_outside;
use crate::slots::turned::{self, TurnedCheck};
use crate::work::Work;
use crate::{Failure, Reader};
use compute::fit::{ExcursionAt, Matrix};
use domain::codes::{ExcursionCode, FindingCode, FlightCode, SlotCode, TaskCode};
use domain::constraints::ConstraintState;
use domain::excursions::Excursion;
use domain::findings::Finding;
use domain::order_of_work::{LostWay, Taking};
use domain::outside::{Contradiction, OutsideItem};
use domain::repeat_guard::SisterEffect;
use domain::revisions::Revision;
use domain::slots::Slot;
use domain::time::Day;
use domain::waits::FINDING_DUE_DAYS;
use domain::words::{GateName, GateVerdict, SlotState, SlotVerdict};
use store::affected::{self, Affected};
use store::changes::Change;
use store::excursions::Tally;
use store::findings::Shown;
use store::flights::FlightRow;
use store::open_items::{self, Filter, OpenItem, Sort};
use store::remedies::{Due, NotHeldSeen};
use store::standing::LeftUnknown;
use store::waits::{self, FailureRow};
use store::{
    StoreError, changes, excursions, findings, flights, outside, people, remedies, revisions,
    slot_history, standing,
};

/// Of each list so many are shown; the rest is counted and lies behind a link.
const SHOWN: i64 = 12;
/// So many approaches that affect sister units are shown.
const SISTERS: i64 = 8;
/// An outside item is named when so many days are left of its exposure limit, or a tenth of it.
const NEAR_DAYS: i64 = 60;

/// A slot whose approach is not clear any more.
#[derive(Debug, Clone)]
pub struct Questioned {
    pub slot: Slot,
    pub verdict: GateVerdict,
    pub reason: String,
}

/// An approach that affects open units.
#[derive(Debug, Clone)]
pub struct AffectedOn {
    pub affected: Affected,
    /// The units that are named, and the excursion on which each is set by that approach.
    pub units: Vec<(TaskCode, Option<ExcursionCode>)>,
}

/// Everything that needs somebody.
#[derive(Debug)]
pub struct Attention {
    pub to_debrief: Vec<Excursion>,
    /// Excursions still planned whose date has passed, and flights still ahead that have landed by
    /// theirs.
    pub past_excursions: Vec<Excursion>,
    pub past_flights: Vec<FlightRow>,
    /// Results that are in, and all that are wanted, of those excursions.
    pub results: HashMap<ExcursionCode, (i64, i64)>,
    pub at_risk: Vec<OpenItem>,
    pub at_risk_count: i64,
    /// Open tasks of which an attempt says that nothing is left.
    pub left_unknown: Vec<LeftUnknown>,
    pub left_unknown_count: i64,
    pub questioned: Vec<Questioned>,
    /// Gates that let a slot be set and stand against it since something else changed.
    pub stopped: Vec<TurnedCheck>,
    /// Approaches in question on open units, the first of them; and how many there are.
    pub sisters_questioned: (Vec<AffectedOn>, i64),
    /// Approaches that were new and worked on a sister, the first of them; and how many there are.
    pub sisters_offered: (Vec<AffectedOn>, i64),
    pub without_remedy: Vec<Finding>,
    pub to_review: Vec<Finding>,
    /// Failures of open work that no finding names, the oldest of them; and how many there are.
    pub unexplained: (Vec<FailureRow>, i64),
    /// The tasks of those that are set by a waiver meanwhile, and where.
    pub set_by_waiver: HashMap<FindingCode, (TaskCode, ExcursionCode)>,
    pub due: Vec<Due>,
    /// Failures after a verified remedy that nothing answers yet.
    pub reopened: Vec<NotHeldSeen>,
    pub near_limit: Vec<(OutsideItem, i64)>,
    /// Constraints past their date, and those that nothing ends in time.
    pub pressing: Vec<InForce>,
    /// Set slots that lose their way because an aid comes in before them, or is gone.
    pub lost_paths: Vec<LostWay>,
    /// What the record of an attempt and the outside list say differently.
    pub disagreements: Vec<Contradiction>,
    /// Items outside with a limit that no task brings in, and the days left to it.
    pub without_task: Vec<(OutsideItem, i64)>,
    /// Revisions that change the work and were not cleared.
    pub to_clear: Vec<Revision>,
    /// Where a task at risk may be set in time, the earliest excursion first.
    pub offers: HashMap<TaskCode, Offer>,
    /// Where the tasks at risk have a slot now.
    pub held: HashMap<TaskCode, Held>,
    /// Where the slots that bring an aid in may go, after the work that needs it.
    pub moves: HashMap<SlotCode, ExcursionCode>,
}

/// Where a task has its slot, a set one before a pencilled one.
#[derive(Debug, Clone)]
pub struct Held {
    pub excursion: ExcursionCode,
    pub state: SlotState,
    pub day: Option<Day>,
}

/// An excursion on which a task at risk has a place in time.
#[derive(Debug, Clone)]
pub struct Offer {
    pub excursion: ExcursionCode,
    pub verdict: SlotVerdict,
}

/// Read once for all who read the same state of the record.
#[boxed]
pub async fn seen(db: &mut Reader, today: Day) -> Result<Arc<Attention>, Failure> {
    let place = db.place(today.to_string());
    let attention = place.get_or_try_init(|| async { read(db, today).await.map(Arc::new) });
    attention.await.cloned()
}

#[boxed]
async fn read(db: &mut Reader, today: Day) -> Result<Attention, Failure> {
    let filter = Filter { in_danger: true, ..Filter::default() };
    let at_risk = open_items::page(db, &filter, Sort::Rank, 0, SHOWN).await?;
    let at_risk_count = open_items::count(db, &filter).await?;
    let tasks_at_risk: Vec<TaskCode> = at_risk.iter().map(|item| item.task.clone()).collect();
    let lost_paths = app_outside::lost_paths(db).await?;
    let bringing = lost_paths.iter().filter_map(|lost| match &lost.taking {
        Taking::By(by) => Some(by.task.clone()),
        Taking::Now | Taking::Gone => None,
    });
    let asked: Vec<TaskCode> = tasks_at_risk.iter().cloned().chain(bringing).collect();
    let board = fit::board_seen(db, &asked).await?;
    // Today draws them too, and this board is as good as another.
    fit::rooms_with(db, &asked).await?;
    let whole = board.all_at(&asked);
    let timed = move || {
        let judged = board.own_cells_and(&whole, |slot| slot.state == SlotState::Set);
        (board, judged)
    };
    let stopped = |cause| StoreError::Unusable(format!("judging the slots stopped: {cause}"));
    let (board, judged) = tokio::task::spawn_blocking(timed).await.map_err(stopped)?;
    let questioned = questioned(&board, &judged);
    let then = slot_history::gates_of_coming(db).await?;
    let mut stopped = turned::since_set(&board, &judged, &then, |_| true);
    stopped.retain(|turned| turned.stops() && turned.was.gate != GateName::Approach);
    let (without_remedy, _) = findings::page(db, Shown::WithoutRemedy, today, 0, SHOWN).await?;
    let (to_review, _) = findings::page(db, Shown::Open, today, 0, SHOWN).await?;
    let mut limited: Vec<(OutsideItem, i64)> = outside::in_place(db)
        .await?
        .into_iter()
        .filter_map(|item| item.days_left(today).map(|left| (item, left)))
        .collect();
    limited.sort_by_key(|(_, left)| *left);
    let to_debrief = excursions::to_debrief(db).await?;
    let (near_limit, mut without_task): (Vec<_>, Vec<_>) =
        limited.into_iter().partition(|(item, left)| *left <= near_days(item));
    without_task.retain(|(item, _)| item.brought_back_by.is_none());
    Ok(Attention {
        offers: offers(&board, &judged, &tasks_at_risk),
        held: held(&board, &tasks_at_risk),
        moves: moves(&board, &judged, &lost_paths),
        without_task,
        to_clear: revisions::to_clear(db, SHOWN).await?,
        past_excursions: excursions::past_date(db, today).await?,
        past_flights: flights::past_landing(db, today).await?,
        results: results(db, &to_debrief).await?,
        to_debrief,
        set_by_waiver: set_by_waiver(db, &board, &to_review).await?,
        at_risk,
        at_risk_count,
        left_unknown: standing::left_unknown(db, SHOWN).await?,
        left_unknown_count: standing::left_unknown_count(db).await?,
        questioned,
        stopped,
        sisters_questioned: affected(db, &board, SisterEffect::Questioned).await?,
        sisters_offered: affected(db, &board, SisterEffect::Offered).await?,
        without_remedy: without_remedy
            .into_iter()
            .filter(|finding| finding.reviewed_by.is_some())
            .filter(|finding| {
                finding.written_on.is_none_or(|day| today.since(day) > FINDING_DUE_DAYS)
            })
            .collect(),
        to_review,
        unexplained: (waits::failures(db, SHOWN).await?, waits::count_failures(db, today).await?.0),
        due: remedies::due(db).await?,
        reopened: remedies::not_held(db, None, true, SHOWN).await?,
        near_limit,
        pressing: pressing(db, today).await?,
        lost_paths,
        disagreements: app_outside::disagreements(db).await?,
    })
}

/// How many results of each of these excursions are in, and how many there are to be.
async fn results(
    db: &mut SqliteConnection,
    flown: &[Excursion],
) -> Result<HashMap<ExcursionCode, (i64, i64)>, Failure> {
    let flights: Vec<FlightCode> =
        flown.iter().filter_map(|excursion| excursion.flight.clone()).collect();
    let tallies = excursions::tallies_of(db, &flights).await?;
    let of = |tally: Tally| {
        let results = tally.done + tally.part_done + tally.not_completed + tally.not_reached;
        (tally.code, (results, results + tally.set))
    };
    Ok(tallies.into_iter().map(of).collect())
}

/// Which of these findings are about a task that is set with a waiver.
async fn set_by_waiver(
    db: &mut SqliteConnection,
    board: &Board,
    findings: &[Finding],
) -> Result<HashMap<FindingCode, (TaskCode, ExcursionCode)>, Failure> {
    let codes: Vec<FindingCode> = findings.iter().map(|finding| finding.code.0.clone()).collect();
    let tasks = findings::tasks_of(db, &codes).await?;
    let waived = |task: &TaskCode| {
        let by_waiver = |slot: &&Slot| {
            slot.task == *task && slot.state == SlotState::Set && slot.waived_gate.is_some()
        };
        board.slots.iter().flatten().find(by_waiver).map(|slot| slot.excursion.clone())
    };
    let found = tasks.into_iter().filter_map(|(finding, task)| {
        let on = waived(&task)?;
        Some((finding, (task, on)))
    });
    Ok(found.collect())
}

/// Those past their date first, then by date.
async fn pressing(db: &mut SqliteConnection, today: Day) -> Result<Vec<InForce>, Failure> {
    let read = constraints::read_all(db, today).await?;
    let mut pressing: Vec<InForce> =
        read.all.into_iter().filter(|one| one.state.holds() && one.is_pressing()).collect();
    pressing.sort_by_key(|one| (one.until.is_none(), one.until));
    // What a task at risk ends is counted with that task.
    let ending: Vec<TaskCode> =
        pressing.iter().filter_map(|one| one.constraint.task.clone()).collect();
    let ending = standing::these(db, &ending).await?;
    let at_risk = |task: &TaskCode| ending.iter().any(|row| row.task == *task && row.in_danger);
    pressing.retain(|one| {
        one.state == ConstraintState::PastDate || !one.constraint.task.as_ref().is_some_and(at_risk)
    });
    Ok(pressing)
}

/// The first approaches with this effect, and how many have it.
async fn affected(
    db: &mut SqliteConnection,
    board: &Board,
    what: SisterEffect,
) -> Result<(Vec<AffectedOn>, i64), Failure> {
    let first = affected::page(db, what, 0, SISTERS).await?;
    let set_in = |affected: &Affected, task: &TaskCode| {
        let by_it = |slot: &&Slot| {
            slot.task == *task
                && slot.state == SlotState::Set
                && slot.technique.as_ref() == Some(&affected.technique)
                && slot.side.as_ref() == Some(&affected.side)
        };
        board.slots.iter().flatten().find(by_it).map(|slot| slot.excursion.clone())
    };
    let on = |affected: Affected| AffectedOn {
        units: affected.named.iter().map(|task| (task.clone(), set_in(&affected, task))).collect(),
        affected,
    };
    Ok((first.into_iter().map(on).collect(), affected::count(db, what).await?))
}

/// So many days before its limit an item is named.
pub fn near_days(item: &OutsideItem) -> i64 {
    NEAR_DAYS.max(item.days_allowed().unwrap_or(0) / 10)
}

/// What was changed since a person last looked: the newest entries, and how many there are.
#[boxed]
pub async fn changed(db: &mut SqliteConnection, seen: i64) -> Result<(Vec<Change>, i64), Failure> {
    let last = changes::last(db).await?;
    let mut newest = changes::newest(db, i64::MAX, None, SHOWN).await?;
    newest.retain(|change| change.seq > seen);
    Ok((newest, (last - seen).max(0)))
}

/// The earliest excursion on which each of these tasks fits in time; one where it is tight, where it
/// fits on none.
fn offers(board: &Board, judged: &Matrix, tasks: &[TaskCode]) -> HashMap<TaskCode, Offer> {
    let mut offers = HashMap::new();
    for task in tasks {
        let Some(at) = board.task_at(task) else { continue };
        let Some(row) = judged.tasks.iter().position(|judged| *judged == at) else { continue };
        let in_time = |verdict: SlotVerdict| {
            judged.row(row).position(|cell| {
                cell.verdict == verdict && cell.gate(GateName::NeededBy) == GateVerdict::Met
            })
        };
        let found = [SlotVerdict::Fits, SlotVerdict::Tight]
            .into_iter()
            .find_map(|verdict| Some((in_time(verdict)?, verdict)));
        let Some((column, verdict)) = found else { continue };
        let excursion = board.excursions[column].code.0.clone();
        offers.insert(task.clone(), Offer { excursion, verdict });
    }
    offers
}

fn held(board: &Board, tasks: &[TaskCode]) -> HashMap<TaskCode, Held> {
    let mut held: HashMap<TaskCode, Held> = HashMap::new();
    for (excursion, slots) in board.excursions.iter().zip(&board.slots) {
        for slot in slots.iter().filter(|slot| tasks.contains(&slot.task)) {
            if held.get(&slot.task).is_none_or(|known| known.state < slot.state) {
                let (excursion, day) = (excursion.code.0.clone(), excursion.day);
                held.insert(slot.task.clone(), Held { excursion, state: slot.state, day });
            }
        }
    }
    held
}

/// The first excursion after that of the work that needs an aid, on which the slot that brings the aid
/// in fits; the first on which it is tight, where it fits on none.
fn moves(board: &Board, judged: &Matrix, lost: &[LostWay]) -> HashMap<SlotCode, ExcursionCode> {
    let mut moves: HashMap<SlotCode, ExcursionAt> = HashMap::new();
    for lost in lost {
        let Taking::By(by) = &lost.taking else { continue };
        let column =
            |code: &ExcursionCode| board.excursions.position(|excursion| excursion.code.0 == *code);
        let (Some(at), Some(needs)) = (board.task_at(&by.task), column(&lost.slot.at.excursion))
        else {
            continue;
        };
        let Some(row) = judged.tasks.iter().position(|judged| *judged == at) else { continue };
        let cells = judged.row(row);
        let after = |verdict| {
            let mut later = cells.iter_enumerated().filter(|(column, _)| *column > needs);
            later.find(|(_, cell)| cell.verdict == verdict).map(|(column, _)| column)
        };
        let found = [SlotVerdict::Fits, SlotVerdict::Tight].into_iter().find_map(after);
        if let Some(column) = found {
            let after_all = moves.entry(by.slot.clone()).or_insert(column);
            *after_all = column.max(*after_all);
        }
    }
    let named =
        |(slot, column): (SlotCode, ExcursionAt)| (slot, board.excursions[column].code.0.clone());
    moves.into_iter().map(named).collect()
}

/// Set slots whose approach came into question or was shut since.
fn questioned(board: &Board, judged: &Matrix) -> Vec<Questioned> {
    let mut found = Vec::new();
    for (column, slots) in board.slots.iter_enumerated() {
        for slot in slots.iter().filter(|slot| slot.state == SlotState::Set) {
            let Some(task) = board.task_at(&slot.task) else { continue };
            let Some(row) = judged.tasks.iter().position(|at| *at == task) else { continue };
            let verdict = judged.cell(row, column).gate(GateName::Approach);
            if matches!(verdict, GateVerdict::Tight | GateVerdict::NotMet) {
                let ask = compute::fit::Ask::default();
                let reason = board
                    .judge(&slot.task, &slot.excursion, &ask)
                    .and_then(|judged| {
                        judged.gates.into_iter().find(|gate| gate.gate == GateName::Approach)
                    })
                    .map_or_else(String::new, |gate| gate.words());
                found.push(Questioned { slot: slot.clone(), verdict, reason });
            }
        }
    }
    found
}

/// Notes that a person has looked at every change up to now.
#[boxed]
pub async fn looked(work: &mut Work) -> Result<(), Failure> {
    let last = changes::last(work.db()).await?;
    let name = work.actor.name.clone();
    Ok(people::set_seen_change(work.db(), &name, last).await?)
}
