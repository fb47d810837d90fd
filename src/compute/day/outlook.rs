//! The rest of a day in every draw: its end, and for each task that is left when it goes on, whether
//! it is reached, and whether it meets its windows.

use super::batch::{BATCH, BATCHES, Batch, Drawn, crew_day, narrow};
use super::crew::{Crew, Done, Trail, of};
use super::reached::Reached;
use super::{CrewDay, Day, Task, Ways};
use crate::timeline::NoWay;

/// A day with all its draws: every question about it is asked here.
#[derive(Debug)]
pub struct Outlook<'a, W> {
    pub(super) day: Day<'a, W>,
    pub(super) batches: Vec<Batch>,
    crew_day: CrewDay,
}

/// A task that goes, and the share of its work, of a plan that is tried.
#[derive(Debug, Clone, Copy)]
pub(super) struct Item<'t> {
    pub at: usize,
    pub share: f32,
    /// A task that is no part of the day, with its minutes in every batch.
    pub added: Option<(&'t Task, &'t [Drawn])>,
}

/// The rest of the day with nothing dropped; minutes of elapsed time.
#[derive(Debug, Clone, PartialEq)]
pub struct Rest {
    /// The chance to end inside the limit.
    pub chance: f64,
    pub end_p50: f64,
    pub end_p80: f64,
    /// Of the tasks under way and those still planned, in the order of the plan.
    pub tasks: Vec<RestOfTask>,
    /// How many of all tasks are expected to be reached, those that were begun among them.
    pub expected: f64,
}

/// What is left of one task.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RestOfTask {
    pub task: usize,
    pub start_p50: f64,
    pub start_p80: f64,
    pub end_p50: f64,
    pub end_p80: f64,
    /// Minutes from its start, or of work under way from now, to its end.
    pub minutes_p50: f64,
    pub minutes_p80: f64,
    /// The chance that it is begun in time to end by the limit if nothing is dropped.
    pub in_time: f64,
    /// The chance that it is reached at all by a crew that ends in time: a seat for whose next task
    /// no time is left drops that one and all after it, and what needs a dropped task is dropped.
    pub reached: f64,
    /// The chance that no window is left that is long enough.
    pub missed: f64,
    /// Minutes of work and their end, on days that end about when eight in ten have ended.
    pub at_p80: (f64, f64),
}

/// What is gathered about a task over all batches.
#[derive(Default)]
struct Gathered {
    starts: Vec<f32>,
    ends: Vec<f32>,
    in_time: usize,
    missed: usize,
}

impl<'a, W: Ways> Outlook<'a, W> {
    pub fn of(day: Day<'a, W>) -> Self {
        let crew_day = crew_day(&day);
        let batches = (0..BATCHES).map(|number| Batch::of(&day, &crew_day, number)).collect();
        Self { day, batches, crew_day }
    }

    /// How many draws everything rests on.
    pub const DRAWS: usize = BATCH * BATCHES;

    pub fn day(&self) -> &Day<'a, W> {
        &self.day
    }

    /// The crew-day factor after what the day has shown.
    pub fn crew_day(&self) -> &CrewDay {
        &self.crew_day
    }

    /// Every task that is left, whole: those under way first, as they have to end first.
    pub(super) fn items(&self) -> Vec<Item<'static>> {
        let left = self.day.running().chain(self.day.planned().filter(|&at| self.day.can_go(at)));
        left.map(|at| Item { at, share: 1.0, added: None }).collect()
    }

    /// Does some tasks in one batch and says when every lane is inside.
    pub(super) fn run(
        &self,
        number: usize,
        items: &[Item],
        tell: &mut impl FnMut(usize, &Crew, &Trail, &Done),
    ) -> Result<Drawn, NoWay> {
        let batch = &self.batches[number];
        let mut crew = Crew::at_now(&self.day, batch);
        let mut trail = Trail::of(&self.day);
        for (place, item) in items.iter().enumerate() {
            let done = self.go(number, &mut crew, &mut trail, item)?;
            tell(place, &crew, &trail, &done);
        }
        crew.inside(&self.day, batch, &trail)
    }

    /// Does one task.
    pub(super) fn go(
        &self,
        number: usize,
        crew: &mut Crew,
        trail: &mut Trail,
        item: &Item,
    ) -> Result<Done, NoWay> {
        let batch = &self.batches[number];
        let (task, work) = match item.added {
            Some((task, works)) => (task, &works[number]),
            None => (&self.day.tasks[item.at], &batch.works[item.at]),
        };
        if matches!(task.progress, super::Progress::Running { .. }) {
            return Ok(crew.go_on(&self.day, (item.at, work, item.share), trail));
        }
        crew.step(&self.day, batch, (item.at, task), (work, item.share), trail)
    }

    /// The draws of a batch that end inside the limit.
    pub(super) fn inside(&self, number: usize, items: &[Item]) -> Result<usize, NoWay> {
        let inside = self.run(number, items, &mut |_, _, _, _| ())?;
        Ok(self.in_time(&inside))
    }

    pub(super) fn in_time(&self, ends: &Drawn) -> usize {
        let limit = narrow(self.day.frame.limit);
        ends.iter().filter(|end| **end <= limit).count()
    }

    /// The rest of the day with nothing dropped. It fails where there is no route.
    pub fn rest(&self) -> Result<Rest, NoWay> {
        let items = self.items();
        let mut gathered: Vec<Gathered> = items.iter().map(|_| Gathered::default()).collect();
        let mut ends: Vec<f32> = Vec::with_capacity(BATCH * BATCHES);
        let mut reached = Reached::of(self, &items)?;
        for number in 0..BATCHES {
            let inside = self.run(number, &items, &mut |place, crew, trail, done| {
                let gathered = &mut gathered[place];
                gathered.starts.extend(done.start);
                gathered.ends.extend(done.end);
                gathered.missed += done.missed;
                gathered.in_time += self.own_in_time(number, crew, trail, items[place].at);
            })?;
            reached.add(self, number, &items, &inside);
            ends.extend(inside);
        }
        let begun = self.day.tasks.iter().filter(|task| {
            let (running, ended) = (
                matches!(task.progress, super::Progress::Running { .. }),
                matches!(task.progress, super::Progress::Ended { .. }),
            );
            running || ended
        });
        let begun = of(begun.count());
        let near_p80 = near_p80(&ends);
        let tasks: Vec<RestOfTask> = items
            .iter()
            .zip(gathered)
            .enumerate()
            .map(|(place, (item, gathered))| {
                self.rest_of(item.at, gathered, reached.chance(place), &near_p80)
            })
            .collect();
        let to_come = tasks.iter().filter(|rest| self.is_planned(rest.task));
        let expected = begun + to_come.map(|rest| rest.reached).sum::<f64>();
        let limit = narrow(self.day.frame.limit);
        let chance = of(ends.iter().filter(|end| **end <= limit).count()) / of(ends.len());
        let (end_p50, end_p80) = percentiles(&mut ends);
        let mut rest = Rest { chance, end_p50, end_p80, tasks, expected };
        rest.tasks.sort_by_key(|rest| rest.task);
        Ok(rest)
    }

    fn is_planned(&self, task: usize) -> bool {
        matches!(self.day.tasks[task].progress, super::Progress::Planned)
    }

    /// The draws in which the lanes of a task that has just ended could be inside by the limit.
    fn own_in_time(&self, number: usize, crew: &Crew, trail: &Trail, task: usize) -> usize {
        let lanes = self.day.tasks[task].stop.lanes;
        let mut alone = crew.clone();
        for lane in (0..self.day.frame.lanes).filter(|&lane| !lanes.has(lane)) {
            alone.lanes[lane] = alone.lanes[lanes.first()];
        }
        match alone.inside(&self.day, &self.batches[number], trail) {
            Ok(inside) => self.in_time(&inside),
            Err(_) => 0,
        }
    }

    fn rest_of(
        &self,
        task: usize,
        gathered: Gathered,
        reached: f64,
        near_p80: &[usize],
    ) -> RestOfTask {
        let Gathered { mut starts, mut ends, in_time, missed } = gathered;
        let count = of(ends.len());
        let from = |start: f32| {
            if self.is_planned(task) { start } else { narrow(self.day.now) }
        };
        let minutes = starts.iter().zip(&ends).map(|(start, end)| end - from(*start));
        let mut minutes: Vec<f32> = minutes.collect();
        let mean = |value: &dyn Fn(usize) -> f32| {
            near_p80.iter().map(|&draw| f64::from(value(draw))).sum::<f64>() / of(near_p80.len())
        };
        let at_p80 = (mean(&|draw| ends[draw] - starts[draw]), mean(&|draw| ends[draw]));
        let (start_p50, start_p80) = percentiles(&mut starts);
        let (end_p50, end_p80) = percentiles(&mut ends);
        let (minutes_p50, minutes_p80) = percentiles(&mut minutes);
        RestOfTask {
            task,
            start_p50,
            start_p80,
            end_p50,
            end_p80,
            minutes_p50,
            minutes_p80,
            in_time: of(in_time) / count,
            reached,
            missed: of(missed) / count,
            at_p80,
        }
    }
}

/// The draws whose end lies about where eight in ten have ended.
fn near_p80(ends: &[f32]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..ends.len()).collect();
    order.sort_unstable_by(|&a, &b| ends[a].total_cmp(&ends[b]));
    let rank = |hundredths: usize| order.len() * hundredths / 100;
    order[rank(75)..rank(85)].to_vec()
}

/// The values that half and eight in ten stay under.
pub(super) fn percentiles(values: &mut [f32]) -> (f64, f64) {
    (percentile(values, 5), percentile(values, 8))
}

/// The value that so many in ten stay under.
pub(super) fn percentile(values: &mut [f32], tenths: usize) -> f64 {
    if values.is_empty() {
        return 0.0;
    }
    let rank = (values.len() * tenths / 10).min(values.len() - 1);
    let (_, at, _) = values.select_nth_unstable_by(rank, f32::total_cmp);
    f64::from(*at)
}
