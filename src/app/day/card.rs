//! The late card of an excursion, worked out before its flight.

use async_recursion::async_recursion as boxed;
use std::sync::Arc;

use super::answers::{Laid, TurnBack};
use super::{Day, numbers};
use crate::fit::{self, Board};
use crate::{Failure, Reader};
use compute::day::{CardCell, LATENESSES, Milestone, Outlook, late_card as card_cell, milestones};
use compute::fit::Part;
use domain::day::{DayState, OfTask};
use store::StoreError;

/// The late card: rows of cells, and until when to turn back.
#[derive(Debug, Clone, Default)]
pub struct Card {
    pub unknown: Vec<Vec<Part>>,
    /// The number of each task on the excursion's page and its brief.
    pub numbers: Vec<usize>,
    pub rows: Vec<(Milestone, f64, Vec<CardCell>)>,
    pub turn_back: Vec<TurnBack>,
    pub bound: f64,
    pub limit: f64,
}

/// The late card of a day that has not begun.
#[boxed]
pub async fn late_card(db: &mut Reader, there: &Day) -> Result<Arc<Card>, Failure> {
    let place = db.place(there.code().to_string());
    let made = place.get_or_try_init(|| async {
        let board = fit::board_seen(db, &[]).await?;
        let day = fresh(there);
        let all = move || Arc::new(card(&board, &day));
        let stopped =
            |cause| StoreError::Unusable(format!("working the card out stopped: {cause}"));
        Ok::<_, Failure>(tokio::task::spawn_blocking(all).await.map_err(stopped)?)
    });
    made.await.cloned()
}

/// The same day before anything was pressed.
fn fresh(there: &Day) -> Day {
    let mut day = there.clone();
    day.pet = None;
    day.state = DayState::default();
    day.tasks.retain(|task| !task.is_added());
    for task in &mut day.tasks {
        task.now = OfTask::default();
    }
    day
}

fn card(board: &Board, there: &Day) -> Card {
    let laid = match Laid::of(board, there) {
        Ok(laid) => laid,
        Err(unknown) => return Card { unknown, ..Card::default() },
    };
    let bound = board.constants.met_from;
    let ways = laid.on_the_day.ways();
    let day = laid.on_the_day.day(&ways, 0.0, None);
    let limit = day.frame.limit;
    let rows = milestones(&day).unwrap_or_default().into_iter().map(|(milestone, planned)| {
        let cells =
            LATENESSES.iter().filter_map(|late| card_cell(&day, milestone, *late, bound).ok());
        (milestone, planned, cells.collect())
    });
    let rows = rows.collect();
    let turn_back = laid.turn_back(&Outlook::of(day));
    let numbers = numbers::of(board, there);
    Card { unknown: Vec::new(), numbers, rows, turn_back, bound, limit }
}
