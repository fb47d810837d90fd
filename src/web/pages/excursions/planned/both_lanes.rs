//! A flown excursion beside its plan: both lanes, and the minutes of each task in both.

use std::collections::BTreeMap;

use app::read::Connection;

use super::drawn::{self, DrawnSlot, TimedPlan};
use crate::drawings::markup::Drawing;
use app::Failure;
use app::fit;
use app::read::StoreError;
use compute::fit::ExcursionAt;
use domain::attempts::Attempt;
use domain::codes::TaskCode;
use domain::excursions::Excursion;

/// A flown excursion's lanes as they were planned and as they were flown, and the minutes of each
/// task in both.
pub(crate) struct BothLanes {
    pub planned: Option<Drawing>,
    pub flown: Option<Drawing>,
    pub rows: Vec<TaskMinutes>,
}

/// Minutes of work of one task.
pub(crate) struct TaskMinutes {
    pub task: TaskCode,
    pub planned: Option<f64>,
    pub flown: Option<f64>,
}

impl TaskMinutes {
    /// Flown less planned, with its sign.
    pub fn apart(&self) -> Option<String> {
        let apart = self.flown? - self.planned?;
        let whole = format!("{:.0}", apart.abs());
        Some(match apart {
            m if m >= 0.5 => format!("+{whole}"),
            m if m <= -0.5 => format!("−{whole}"),
            _ => "0".to_owned(),
        })
    }
}

pub(crate) async fn both_lanes(
    db: &mut Connection,
    excursion: &Excursion,
    attempts: &[Attempt],
    titles: &BTreeMap<TaskCode, String>,
) -> Result<BothLanes, Failure> {
    let board = fit::board_then(db, excursion.clone()).await?;
    let stopped = |cause| StoreError::Unusable(format!("timing the lanes stopped: {cause}"));
    let timed = move || {
        let plan = TimedPlan::of(&board, ExcursionAt::default());
        (board, plan)
    };
    let (board, plan) = tokio::task::spawn_blocking(timed).await.map_err(stopped)?;
    let at = ExcursionAt::default();
    let slots = &board.slots[at];
    let shown: Vec<DrawnSlot> = slots
        .iter()
        .zip(1..)
        .map(|(slot, number)| DrawnSlot {
            code: slot.code.0.to_string(),
            version: 0,
            number,
            pencilled: false,
            movable: false,
        })
        .collect();
    let planned = drawn::draw(&board, at, &plan, &shown, titles, true);
    let number = |task: &TaskCode| slots.iter().position(|slot| slot.task == *task);
    let mut rows: Vec<TaskMinutes> = slots
        .iter_enumerated()
        .map(|(place, slot)| TaskMinutes {
            task: slot.task.clone(),
            planned: plan.slot(place).map(|placed| placed.end - placed.start),
            flown: None,
        })
        .collect();
    for attempt in attempts {
        let Some(minutes) = attempt.minutes.map(|minutes| minutes.0) else { continue };
        let minutes = f64::from(i32::try_from(minutes).unwrap_or(i32::MAX));
        match rows.iter_mut().find(|row| row.task == attempt.task) {
            Some(row) => row.flown = Some(row.flown.unwrap_or(0.0) + minutes),
            None => rows.push(TaskMinutes {
                task: attempt.task.clone(),
                planned: None,
                flown: Some(minutes),
            }),
        }
    }
    Ok(BothLanes { planned, flown: drawn::flown(excursion, attempts, titles, number), rows })
}
