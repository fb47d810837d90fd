//! In which slots' hands each tool is on the excursions ahead, and which are short of it.

use async_recursion::async_recursion as boxed;
use std::collections::BTreeMap;
use std::sync::Arc;

use crate::fit::{self, Board};
use crate::{Failure, Reader};
use compute::fit::{Counting, ExcursionAt, excursion_as_planned};
use domain::codes::{ExcursionCode, FlightCode, SlotCode, ToolCode};
use domain::time::Day;
use domain::tools::{Hand, Ledger, at_once, balance, clashes};
use domain::words::SlotState;
use store::StoreError;

/// What one coming excursion wants of every tool.
#[derive(Debug, Clone)]
pub struct Demand {
    pub excursion: ExcursionCode,
    pub flight: Option<FlightCode>,
    pub day: Option<Day>,
    /// The tools to take, where anybody wrote them down.
    pub to_take: Vec<ToolCode>,
    hands: BTreeMap<ToolCode, Vec<ToolInHand>>,
}

/// A slot that takes the tool in hand.
#[derive(Debug, Clone, PartialEq)]
pub struct ToolInHand {
    pub hand: Hand,
    pub state: SlotState,
    /// `EV1 and EV2`.
    pub seats: String,
}

/// What one coming excursion wants of one tool.
#[derive(Debug, Clone)]
pub struct ToolDemand {
    pub excursion: ExcursionCode,
    pub flight: Option<FlightCode>,
    pub day: Option<Day>,
    pub taken: Vec<ToolInHand>,
    /// In hand at once, at the most.
    pub at_once: i64,
    /// Usable aboard by then; `None` where nobody counted.
    pub usable: Option<i64>,
    /// So many are missing.
    pub short: i64,
    /// Slots of two lanes that want it at the same time, where there are too few.
    pub clashes: Vec<(SlotCode, SlotCode)>,
    /// It stands among the tools to take.
    pub to_take: bool,
    /// Slots want it, the list of tools to take is not empty, and it is not on it.
    pub left_behind: bool,
}

/// What every coming excursion wants, with set and pencilled slots in their times.
#[boxed]
pub async fn demands(db: &mut Reader) -> Result<Arc<Vec<Demand>>, Failure> {
    let place = db.place("tools wanted");
    let demands = place.get_or_try_init(|| async {
        let board = fit::board_seen(db, &[]).await?;
        let stopped = |cause| StoreError::Unusable(format!("timing the slots stopped: {cause}"));
        let all = move || board.excursions.keys().map(|at| demand(&board, at)).collect();
        let demands: Vec<Demand> = tokio::task::spawn_blocking(all).await.map_err(stopped)?;
        Ok::<_, Failure>(Arc::new(demands))
    });
    demands.await.cloned()
}

fn demand(board: &Board, at: ExcursionAt) -> Demand {
    // As if there were enough of every tool: who would want the same one at the same time.
    let mut plenty = board.snapshot.clone();
    plenty.tools.iter_mut().for_each(|tool| tool.aboard = Some(u32::MAX));
    let snapshot = &board.snapshot;
    let counting = Counting::SetAndPencilled;
    let planned = excursion_as_planned(&plenty, at, counting, &board.constants);
    let timed = planned.timing.map(|timing| timing.slots).unwrap_or_default();
    let mut hands: BTreeMap<ToolCode, Vec<ToolInHand>> = BTreeMap::new();
    for (place, slot) in board.slots[at].iter_enumerated() {
        let there = &snapshot.excursions[at].slots[place];
        let approach =
            there.approach.and_then(|approach| snapshot.tasks[there.task].approaches.get(approach));
        let span = timed.iter().find(|timed| timed.slot == place).map(|t| (t.start, t.end));
        for &tool in approach.map_or(&[][..], |approach| &approach.tools) {
            let hand = Hand {
                slot: slot.code.0.clone(),
                task: slot.task.clone(),
                seats: slot.seats.numbers().collect(),
                span,
            };
            let taken = ToolInHand { hand, state: slot.state, seats: slot.seats.names() };
            hands.entry(snapshot.tools[tool].code.clone()).or_default().push(taken);
        }
    }
    let excursion = &board.excursions[at];
    Demand {
        excursion: excursion.code.0.clone(),
        flight: excursion.flight.clone(),
        day: excursion.day,
        to_take: excursion.tools.0.clone(),
        hands,
    }
}

/// The coming excursions that want this tool, or take it along.
pub fn wanted(tool: &ToolCode, ledger: &Ledger, demands: &[Demand], today: Day) -> Vec<ToolDemand> {
    let here = demands.iter().filter_map(|demand| {
        let taken = demand.hands.get(tool).cloned().unwrap_or_default();
        let to_take = demand.to_take.contains(tool);
        if taken.is_empty() && !to_take {
            return None;
        }
        let hands: Vec<Hand> = taken.iter().map(|taken| taken.hand.clone()).collect();
        let at_once = i64::try_from(at_once(&hands)).unwrap_or(i64::MAX);
        let told = balance(ledger, demand.day.unwrap_or(today).max(today));
        let usable = told.map(|told| told.usable()).or(ledger.counted);
        let short = usable.map_or(0, |usable| (at_once - usable).max(0));
        let pairs = clashes(&hands);
        let pair = |(one, other): &(&Hand, &Hand)| (one.slot.clone(), other.slot.clone());
        Some(ToolDemand {
            excursion: demand.excursion.clone(),
            flight: demand.flight.clone(),
            day: demand.day,
            at_once,
            usable,
            short,
            clashes: if short > 0 { pairs.iter().map(pair).collect() } else { Vec::new() },
            left_behind: !taken.is_empty() && !to_take && !demand.to_take.is_empty(),
            to_take,
            taken,
        })
    });
    here.collect()
}
