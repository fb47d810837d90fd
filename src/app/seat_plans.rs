//! The coming excursions as their seats work them: who works where and when, and how many tasks are
//! expected to be reached if the excursion is flown.

use async_recursion::async_recursion as boxed;
use std::collections::HashMap;
use std::sync::Arc;

use crate::day::{AtLaunch, at_launch, at_launch_with_pencilled};
use crate::fit::{self, Board};
use crate::{Failure, Reader};
use compute::fit::{
    Counting, ExcursionAt, PlannedExcursion, SlotAt, comes_late, excursion_as_planned, seated,
};
use domain::codes::{ExcursionCode, FlightCode};
use domain::slots::Slot;
use store::StoreError;
use typed_index_collections::TiVec;

/// So many are laid out, the first of all; the others have their time left alone.
pub const LAID_OUT: usize = 12;

/// One coming excursion.
#[derive(Debug)]
pub struct SeatPlan {
    /// The numbers of the seats, in the order of the lanes.
    pub seats: Vec<u8>,
    /// Set and pencilled tasks timed together; its slots are those of `slots` by their place.
    pub planned: PlannedExcursion,
    pub slots: TiVec<SlotAt, OnSeat>,
    /// The set tasks before the day, as the page of the excursion has them.
    pub set: Option<AtLaunch>,
    pub with_pencilled: Option<AtLaunch>,
}

/// A slot, and by which flight its task is needed.
#[derive(Debug)]
pub struct OnSeat {
    pub slot: Slot,
    pub needed_by: Option<FlightCode>,
    pub is_late: bool,
}

impl SeatPlan {
    pub fn of(board: &Board, at: ExcursionAt) -> Self {
        let (snapshot, constants) = (&board.snapshot, &board.constants);
        let with_seats = seated(snapshot, at, constants);
        let has_pencilled = snapshot.excursions[at].slots.iter().any(|slot| !slot.set);
        let on_seat = |(place, slot): (SlotAt, &Slot)| {
            let task = snapshot.excursions[at].slots[place].task;
            let needed_by = snapshot.tasks[task].needed_by_flight;
            OnSeat {
                slot: slot.clone(),
                needed_by: needed_by.map(|flight| snapshot.flights[flight].code.clone()),
                is_late: comes_late(snapshot, task, at),
            }
        };
        Self {
            seats: snapshot.excursions[at].seats.clone(),
            planned: excursion_as_planned(&with_seats, at, Counting::SetAndPencilled, constants),
            slots: board.slots[at].iter_enumerated().map(on_seat).collect(),
            set: at_launch(board, at),
            with_pencilled: has_pencilled.then(|| at_launch_with_pencilled(board, at)).flatten(),
        }
    }
}

pub type SeatPlans = HashMap<ExcursionCode, SeatPlan>;

/// Calculated once for all who read the same state of the record, beside the other requests.
#[boxed]
pub async fn seen(db: &mut Reader) -> Result<Arc<SeatPlans>, Failure> {
    let place = db.place("seat plans");
    let plans = place.get_or_try_init(|| async {
        let board = fit::board_seen(db, &[]).await?;
        let all = move || {
            let first = board.excursions.iter_enumerated().take(LAID_OUT);
            let laid = first.map(|(at, one)| (one.code.0.clone(), SeatPlan::of(&board, at)));
            Arc::new(laid.collect::<SeatPlans>())
        };
        let stopped = |cause| StoreError::Unusable(format!("timing the seats stopped: {cause}"));
        Ok::<_, Failure>(tokio::task::spawn_blocking(all).await.map_err(stopped)?)
    });
    plans.await.cloned()
}
