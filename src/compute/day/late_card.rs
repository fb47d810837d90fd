//! The late card: what to keep, shorten or drop if a milestone ends late, worked out beforehand.
//!
//! A cell is the state of the day at the end of its milestone: that ends so much later than planned,
//! everything else goes as planned, at the mean of everything, and what waits for the late seats waits.
//! The card does not read a slow crew out of a lateness: why it is late is not known beforehand.

use super::{Day, DropSet, Ended, Outlook, Progress, Task, Ways};
use crate::places::SiteAt;
use crate::timeline::NoWay;

/// Minutes of lateness, a column each.
pub const LATENESSES: [f64; 6] = [0.0, 15.0, 30.0, 45.0, 60.0, 90.0];

/// What the card has a row for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Milestone {
    Egress,
    /// The end of a task.
    Task(usize),
}

/// What to do where a milestone ends late.
#[derive(Debug, Clone, PartialEq)]
pub struct CardCell {
    /// Elapsed minutes at which the milestone ends.
    pub at: f64,
    /// The choice that keeps the most value; `None` where none ends inside the limit with the
    /// chance that is asked for.
    pub drops: Option<DropSet>,
    /// The chance to end inside the limit with everything dropped that may be.
    pub least: f64,
    /// By when work of the milestone's seats has to end where they are; of egress, nothing.
    pub turn_back: Option<f64>,
    /// Nothing is left to do for the seats of the milestone.
    pub last: bool,
    /// What is left once everything is dropped that may be.
    pub kept_anyway: KeptAnyway,
}

/// What no choice drops.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum KeptAnyway {
    Nothing,
    /// Work under way, none of it must-do.
    UnderWay,
    MustDo,
}

/// The rows of the card with their planned minutes, in order of time.
pub fn milestones<W: Ways>(day: &Day<W>) -> Result<Vec<(Milestone, f64)>, NoWay> {
    let planned = planned_with(day, None)?;
    let ends = planned.iter().enumerate().map(|(at, (_, end))| (Milestone::Task(at), *end));
    let mut rows: Vec<(Milestone, f64)> = ends.collect();
    rows.sort_by(|a, b| a.1.total_cmp(&b.1));
    rows.insert(0, (Milestone::Egress, day.frame.egress));
    Ok(rows)
}

/// One cell of the card of a day that has not begun.
pub fn late_card<W: Ways>(
    day: &Day<W>,
    milestone: Milestone,
    late: f64,
    bound: f64,
) -> Result<CardCell, NoWay> {
    let planned = planned_with(day, Some((milestone, late)))?;
    let at = match milestone {
        Milestone::Egress => day.frame.egress + late,
        Milestone::Task(task) => planned[task].1,
    };
    let mut tasks: Vec<Task> = day.tasks.to_vec();
    for (task, (start, end)) in tasks.iter_mut().zip(&planned) {
        if *end <= at + ROUNDING {
            task.progress = Progress::Ended { start: *start, end: *end, outcome: Ended::Done };
        } else if *start < at - ROUNDING {
            task.progress = Progress::Running { since: *start };
        }
    }
    let egress_ended =
        Some(day.frame.egress + if milestone == Milestone::Egress { late } else { 0.0 });
    let outlook = Outlook::of(Day { tasks: &tasks, now: at, egress_ended, learns: false, ..*day });
    let drops = outlook.best_drops(bound);
    let optional: Vec<usize> = outlook.day.planned().filter(|&at| !tasks[at].must_do).collect();
    let least = match &drops {
        Some(drops) => drops.chance,
        None => outlook.with_choices(outlook.without(&optional))?.chance,
    };
    let (turn_back, is_last) = match milestone {
        Milestone::Egress => (None, false),
        Milestone::Task(task) => {
            let own = &tasks[task].stop;
            let after = |at: usize| tasks[at].stop.lanes.meets(own.lanes);
            let is_last = !outlook.day.planned().any(after);
            (outlook.turn_back(own.site, own.carries_on), is_last)
        }
    };
    let kept_anyway = kept_anyway(&outlook.day);
    Ok(CardCell { at, drops, least, turn_back, last: is_last, kept_anyway })
}

fn kept_anyway<W>(day: &Day<W>) -> KeptAnyway {
    if day.running().chain(day.planned()).any(|at| day.tasks[at].must_do) {
        KeptAnyway::MustDo
    } else if day.running().next().is_some() {
        KeptAnyway::UnderWay
    } else {
        KeptAnyway::Nothing
    }
}

/// Start and end of every task at the mean of everything.
pub fn as_planned<W: Ways>(day: &Day<W>) -> Result<Vec<(f64, f64)>, NoWay> {
    planned_with(day, None)
}

/// Minutes are sums of a few figures: less than this is rounding.
const ROUNDING: f64 = 1e-6;

/// Start and end of every task at the mean of everything, one milestone late.
fn planned_with<W: Ways>(
    day: &Day<W>,
    late: Option<(Milestone, f64)>,
) -> Result<Vec<(f64, f64)>, NoWay> {
    let mut lanes = [Standing::at_airlock(day, late); crate::timeline::MOST_LANES];
    let mut planned: Vec<(f64, f64)> = Vec::with_capacity(day.tasks.len());
    let mut arm = 0.0_f64;
    let mut brought_in: Vec<(f64, usize)> = Vec::new();
    for (at, task) in day.tasks.iter().enumerate() {
        let stop = &task.stop;
        let mut ready = 0.0_f64;
        for lane in stop.lanes.each() {
            ready = ready.max(lanes[lane].ready(day, task, &brought_in)?);
        }
        for (first, _) in day.needs.iter().chain(day.waits).filter(|(_, then)| *then == at) {
            ready = ready.max(planned[*first].1);
        }
        if stop.arm {
            ready = ready.max(arm);
        }
        let mut worked = day.frame.schedule(stop, ready, stop.work.mean);
        if let Some((Milestone::Task(of), minutes)) = late
            && of == at
        {
            worked.end += minutes;
        }
        if stop.arm {
            arm = worked.end;
        }
        if task.brings_in {
            brought_in.push((worked.end, at));
        }
        let carries = stop.carries_on;
        for lane in stop.lanes.each() {
            lanes[lane] = Standing { at: worked.end, site: stop.site, visiting: true, carries };
        }
        planned.push((worked.start, worked.end));
    }
    Ok(planned)
}

/// Where a lane stands at the mean of everything.
#[derive(Clone, Copy)]
struct Standing {
    at: f64,
    site: SiteAt,
    visiting: bool,
    carries: f64,
}

impl Standing {
    fn at_airlock<W>(day: &Day<W>, late: Option<(Milestone, f64)>) -> Self {
        let late = match late {
            Some((Milestone::Egress, minutes)) => minutes,
            Some((Milestone::Task(_), _)) | None => 0.0,
        };
        let site = day.frame.airlock;
        Self { at: day.frame.egress + late, site, visiting: false, carries: 1.0 }
    }

    fn ready<W: Ways>(
        &self,
        day: &Day<W>,
        task: &Task,
        brought_in: &[(f64, usize)],
    ) -> Result<f64, NoWay> {
        let lane = super::crew::Lane {
            at: [0.0; super::batch::BATCH],
            mean: self.at,
            site: self.site,
            visiting: self.visiting,
            carries: self.carries,
        };
        let gap = super::crew::between(day, &lane, Some(&task.stop), brought_in)?;
        Ok(self.at + f64::from(gap.travel + gap.site))
    }
}
