//! The day of an excursion: what follows from where the crew stands at a given minute.
//!
//! The law is the timeline's: lognormal work, one crew-day factor for all work, one factor each
//! for egress, ingress, travel, and setup with cleanup. What the day has shown changes it in two
//! places. The crew-day factor is updated by the minutes of ended work and of work under way
//! (`crew_day`), and the minutes of work under way are those of the law that are longer than what
//! it has taken (`minutes`). A seat that is not at work starts its next task no earlier than now.
//! Nothing here reads a clock: the present minute is an argument.

mod batch;
mod crew;
mod crew_day;
mod drops;
mod get_aheads;
mod late_card;
pub mod load;
mod minutes;
mod outlook;
mod reached;
mod steps;
mod turn_back;
mod windows;

use crate::places::SiteAt;
pub use crew_day::{CrewDay, Observation};
pub use drops::{Choice, DropSet};
pub use get_aheads::GetAhead;
pub use late_card::{
    CardCell, KeptAnyway, LATENESSES, Milestone, as_planned, late_card, milestones,
};
pub use minutes::{Minutes, Then};
pub use outlook::{Outlook, Rest, RestOfTask};
pub use windows::Held;

use crate::timeline::{Frame, Stop, Variation};

/// How far a task of the day is; minutes of elapsed time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Progress {
    Planned,
    Running { since: f64 },
    Ended { start: f64, end: f64, outcome: Ended },
    Dropped,
}

/// How a task ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    Done,
    /// Its minutes are those of the share of the work up to the stopping point.
    AtStoppingPoint,
    /// Its minutes say nothing of how fast the crew is: they end with what went wrong.
    NotCompleted,
}

/// One set task of the day.
#[derive(Debug, Clone)]
pub struct Task {
    /// Its place, lanes and windows.
    pub stop: Stop,
    pub minutes: Minutes,
    /// It is neither dropped nor shortened.
    pub must_do: bool,
    pub value: f64,
    /// The share of the work, from 0 to 1, that is done at its stopping point; none where it may
    /// be given up before its start only.
    pub stopping_share: Option<f64>,
    /// When it ends whole, it takes translation aids away that others may need.
    pub brings_in: bool,
    pub progress: Progress,
}

/// Travel between two worksites, after some tasks have brought in their aids.
pub trait Ways {
    /// Minutes of a lane that leaves then and is slowed by that factor; `brought_in` has the
    /// minute and the task of each that has taken aids away. `None` where there is no route.
    fn travel(
        &self,
        from: SiteAt,
        to: SiteAt,
        leaves: f64,
        slow: f64,
        brought_in: &[(f64, usize)],
    ) -> Option<f64>;
}

/// An excursion under way, or one that has not begun.
#[derive(Debug)]
pub struct Day<'a, W> {
    pub frame: Frame<'a>,
    pub variation: Variation,
    /// In the order of the plan.
    pub tasks: &'a [Task],
    /// Pairs of tasks of which the second needs the first done.
    pub needs: &'a [(usize, usize)],
    /// Pairs of which the second waits for the end of the first, for what both use.
    pub waits: &'a [(usize, usize)],
    pub ways: &'a W,
    /// Minutes of elapsed time.
    pub now: f64,
    /// When egress ended, where that is known.
    pub egress_ended: Option<f64>,
    /// Whether the crew-day factor is updated by what the day has shown.
    pub learns: bool,
}

impl<W> Clone for Day<'_, W> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<W> Copy for Day<'_, W> {}

impl<W> Day<'_, W> {
    /// The tasks that are still to be started, in the order of the plan.
    pub fn planned(&self) -> impl Iterator<Item = usize> + '_ {
        self.which(|progress| matches!(progress, Progress::Planned))
    }

    /// The tasks under way.
    pub fn running(&self) -> impl Iterator<Item = usize> + '_ {
        self.which(|progress| matches!(progress, Progress::Running { .. }))
    }

    fn which(&self, is: impl Fn(&Progress) -> bool) -> impl Iterator<Item = usize> {
        (0..self.tasks.len()).filter(move |&at| is(&self.tasks[at].progress))
    }

    /// Whether a task can be done as far as what it needs has ended or been dropped already.
    fn can_go(&self, task: usize) -> bool {
        let mut needs = self.needs.iter().filter(|(_, then)| *then == task);
        needs.all(|&(first, _)| match self.tasks[first].progress {
            Progress::Running { .. } => true,
            Progress::Planned => first != task && self.can_go(first),
            Progress::Ended { outcome, .. } => outcome == Ended::Done,
            Progress::Dropped => false,
        })
    }

    /// The minutes of work that a task took between two moments: pauses in its light left out.
    fn taken(&self, task: usize, start: f64, until: f64) -> f64 {
        let stop = &self.tasks[task].stop;
        if !stop.pauses() {
            return (until - start).max(0.0);
        }
        let lit = self.frame.windows.between(stop.light, start, until);
        lit.map(|(from, until)| until - from).sum()
    }
}

#[cfg(test)]
mod tests;
