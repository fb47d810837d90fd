//! What each seat does beside work, laid out between its tasks: as it was planned for what has passed,
//! and for the rest between the median times of its tasks.

use super::batch::BATCH;
use super::crew::{Lane, between};
use super::outlook::{Outlook, Rest};
use super::{Ended, Progress, Task, Ways};
use crate::timeline::{Activity, Segment};

/// A task at its minutes.
struct Placed<'t> {
    start: f64,
    end: f64,
    task: &'t Task,
}

impl<W: Ways> Outlook<'_, W> {
    /// Egress, travel, setup, waiting, cleanup and ingress of every lane. Nobody pressed for these:
    /// their minutes are those of the plan, cut where the next task began earlier.
    pub fn steps(&self, rest: &Rest) -> Vec<Segment> {
        let brought_in = self.brought_in(rest);
        let mut steps = Vec::new();
        for lane in 0..self.day.frame.lanes {
            let own = |at: &usize| self.day.tasks[*at].stop.lanes.has(lane);
            let mut placed: Vec<Placed> = (0..self.day.tasks.len())
                .filter(own)
                .filter_map(|at| self.placed(rest, at))
                .collect();
            placed.sort_by(|a, b| a.start.total_cmp(&b.start));
            self.lane_steps(lane, &placed, rest.end_p50, &brought_in, &mut steps);
        }
        steps
    }

    /// When a task was worked or will be; `None` of one that is dropped or cannot go.
    fn placed(&self, rest: &Rest, at: usize) -> Option<Placed<'_>> {
        let task = &self.day.tasks[at];
        let left = || rest.tasks.iter().find(|left| left.task == at);
        let (start, end) = match task.progress {
            Progress::Ended { start, end, .. } => (start, end),
            Progress::Running { since } => (since, left()?.end_p50.max(since)),
            Progress::Planned => left().map(|left| (left.start_p50, left.end_p50))?,
            Progress::Dropped => return None,
        };
        Some(Placed { start, end, task })
    }

    /// When each task that brings aids in ends whole.
    fn brought_in(&self, rest: &Rest) -> Vec<(f64, usize)> {
        let whole = |task: &Task| match task.progress {
            Progress::Ended { outcome, .. } => outcome == Ended::Done,
            Progress::Planned | Progress::Running { .. } => true,
            Progress::Dropped => false,
        };
        let tasks = self.day.tasks.iter().enumerate();
        tasks
            .filter(|(_, task)| task.brings_in && whole(task))
            .filter_map(|(at, _)| Some((self.placed(rest, at)?.end, at)))
            .collect()
    }

    fn lane_steps(
        &self,
        lane: usize,
        placed: &[Placed],
        end: f64,
        brought_in: &[(f64, usize)],
        steps: &mut Vec<Segment>,
    ) {
        let frame = &self.day.frame;
        let first = placed.first().map_or(f64::INFINITY, |first| first.start);
        let out = self.day.egress_ended.unwrap_or(frame.egress).min(first);
        let back = (end - frame.ingress).max(0.0);
        let mut add = |activity: Activity, from: f64, until: f64| {
            if until - from > SHORTEST {
                steps.push(Segment { lane, from, until, activity });
            }
        };
        add(Activity::Egress, 0.0, out);
        let mut stands = Lane {
            at: [0.0; BATCH],
            mean: out,
            site: frame.airlock,
            visiting: false,
            carries: 1.0,
        };
        for next in placed.iter().map(Some).chain([None]) {
            let (by, site) =
                next.map_or((back, frame.airlock), |next| (next.start, next.task.stop.site));
            let cleanup = if stands.visiting { frame.sites[stands.site].cleanup } else { 0.0 };
            let stop = next.map(|next| &next.task.stop);
            // Where there is no way any more, the time until then is waiting.
            let parts = between(&self.day, &stands, stop, brought_in).map_or([0.0; 3], |gap| {
                let at_sites = f64::from(gap.site);
                let cleanup = cleanup.min(at_sites);
                [cleanup, f64::from(gap.travel), at_sites - cleanup]
            });
            let activities = [
                Activity::Cleanup { site: stands.site },
                Activity::Travel { from: stands.site, to: site },
                Activity::Setup { site },
            ];
            let mut at = stands.mean;
            for (activity, minutes) in activities.into_iter().zip(parts) {
                let until = (at + minutes).min(by);
                add(activity, at, until);
                at = until.max(at);
            }
            add(Activity::Wait, at, by);
            if let Some(Placed { end, task, .. }) = next {
                let carries = task.stop.carries_on;
                stands = Lane { mean: *end, site, visiting: true, carries, ..stands };
            }
        }
        let back = back.max(stands.mean);
        add(Activity::Ingress, back, end);
    }
}

/// Medians of a chain do not add up to the second: what is shorter is no step.
const SHORTEST: f64 = 0.5;
