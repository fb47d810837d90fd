//! Get-aheads: open work that still fits into what is left of the day.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use super::answers::Laid;
use crate::Failure;
use compute::day::{DropSet, Outlook, Task};
use compute::fit::{Aided, ApproachAt, Now, TaskAt, ToolAt, get_ahead};
use compute::timeline::Lanes;
use domain::codes::{ExcursionCode, TaskCode, TechniqueCode};
use domain::sides::Side;
use domain::words::{GateName, GateVerdict, SlotState};
use store::open_items::{self, Filter, Sort};

/// Open items that are looked through for get-aheads.
const SEARCHED: i64 = 200;
/// Get-aheads that are held against the draws, and shown.
const TRIED: usize = 24;
const SHOWN: usize = 5;

/// Open work that fits into what is left.
#[derive(Debug, Clone)]
pub struct Ahead {
    pub task: TaskCode,
    pub technique: Option<TechniqueCode>,
    pub side: Option<Side>,
    /// The excursion on which it is set already.
    pub set_on: Option<ExcursionCode>,
    /// The lanes of the seats that would do it.
    pub lanes: Lanes,
    /// The task that it goes before, by its place; `None`: after all others.
    pub before: Option<usize>,
    pub start: f64,
    pub minutes: f64,
    pub chance: f64,
}

/// The open items that may be get-aheads.
#[boxed]
pub async fn wanted(db: &mut SqliteConnection) -> Result<Vec<TaskCode>, Failure> {
    let items = open_items::page(db, &Filter::default(), Sort::Rank, 0, SEARCHED).await?;
    Ok(items.into_iter().map(|item| item.task).collect())
}

impl Laid<'_> {
    /// Open items whose checks are met from here, in the place that leaves the excursion the best
    /// chance; what is worth most first.
    pub fn aheads(
        &self,
        outlook: &Outlook<Aided>,
        best: Option<&DropSet>,
        bound: f64,
    ) -> Vec<Ahead> {
        let snapshot = &self.board.snapshot;
        let here = &snapshot.excursions[self.excursion];
        let day = outlook.day();
        if day.now >= day.frame.limit {
            return Vec::new();
        }
        let now = Now {
            excursion: self.excursion,
            site: here.airlock.unwrap_or_default(),
            left: day.frame.limit - day.now,
            seats: here.seats.len(),
            tools: self.tools_taken(),
        };
        let Ok(found) = get_ahead(snapshot, &self.board.constants, &now) else { return Vec::new() };
        // Time and windows are asked of the draws, below.
        let asked = |gate: GateName| {
            !matches!(gate, GateName::Time | GateName::Seats | GateName::Arm | GateName::Lighting)
        };
        let mut fit: Vec<(TaskAt, Option<ApproachAt>)> = found
            .into_iter()
            .filter(|(_, explained)| {
                let mut gates = GateName::ALL.iter().filter(|gate| asked(**gate));
                gates.all(|gate| {
                    !matches!(
                        explained.cell.gate(*gate),
                        GateVerdict::NotMet | GateVerdict::CannotTell
                    )
                })
            })
            .map(|(task, explained)| (task, explained.cell.approach))
            .collect();
        fit.sort_by(|a, b| self.board.values.total(b.0).total_cmp(&self.board.values.total(a.0)));
        let dropped: Vec<usize> = best.iter().flat_map(|set| set.dropped()).collect();
        let mut aheads = Vec::new();
        for (task, approach) in fit.into_iter().take(TRIED) {
            let takes = snapshot.tasks[task].seats.unwrap_or(1).max(1);
            let choices = Lanes::all(here.seats.len()).filter(|lanes| lanes.count() == takes);
            let places = choices.filter_map(|lanes| {
                let seats: Vec<u8> = lanes.each().map(|lane| here.seats[lane]).collect();
                let made: Task = self.on_the_day.other_task(task, approach, &seats)?;
                Some((lanes, outlook.get_ahead(&made, &dropped, bound)?))
            });
            let best = places.max_by(|a, b| a.1.chance.total_cmp(&b.1.chance));
            if let Some((lanes, place)) = best {
                let task = &snapshot.tasks[task];
                let way = approach.and_then(|at| task.approaches.get(at));
                aheads.push(Ahead {
                    task: task.code.clone(),
                    technique: way.and_then(|way| way.technique.clone()),
                    side: way.and_then(|way| way.side.clone()),
                    set_on: self.set_elsewhere(&task.code),
                    lanes,
                    before: place.before,
                    start: place.start,
                    minutes: place.minutes,
                    chance: place.chance,
                });
            }
            if aheads.len() >= SHOWN {
                break;
            }
        }
        aheads
    }

    /// Another coming excursion on which a task is set.
    fn set_elsewhere(&self, task: &TaskCode) -> Option<ExcursionCode> {
        let slots = self.board.slots.iter().flatten();
        let mut set = slots.filter(|slot| slot.state == SlotState::Set && slot.task == *task);
        set.next().map(|slot| slot.excursion.clone())
    }

    /// The tools that the excursion takes along.
    fn tools_taken(&self) -> Vec<ToolAt> {
        let taken = &self.there.excursion.tools.0;
        let tools = self.board.snapshot.tools.iter_enumerated();
        // A list that nobody kept says nothing: then what is aboard counts.
        let of = |(at, tool): (ToolAt, &compute::fit::Tool)| {
            let along = taken.contains(&tool.code);
            let aboard = tool.aboard.is_some_and(|count| count > 0);
            (along || taken.is_empty() && aboard).then_some(at)
        };
        tools.filter_map(of).collect()
    }
}
