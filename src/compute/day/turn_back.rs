//! The last minutes: until when work may go on at a worksite, and when a task may still start, so
//! that the seats at it are inside by the limit with a chance.

use super::batch::{BATCH, BATCHES, narrow};
use super::crew::{Gap, Lane, between, of};
use super::outlook::{Outlook, percentile};
use super::{Progress, Ways};
use crate::places::SiteAt;
use crate::timeline::Stop;

impl<W: Ways> Outlook<'_, W> {
    /// The last whole minute at which work at a worksite may end so that a seat that leaves it then
    /// is inside by the limit with 80 %; `None` where there is no route to the airlock.
    pub fn turn_back(&self, site: SiteAt, carries: f64) -> Option<f64> {
        let home = self.way_home(site, carries)?;
        let mut minutes: Vec<f32> = (0..BATCHES).flat_map(|at| self.home(at, home)).collect();
        Some((self.day.frame.limit - percentile(&mut minutes, 8)).floor())
    }

    /// Cleanup and travel from a worksite to the airlock, as planned.
    pub fn planned_way_home(&self, site: SiteAt, carries: f64) -> Option<(f64, f64)> {
        let gap = self.way_home(site, carries)?;
        Some((f64::from(gap.site), f64::from(gap.travel)))
    }

    fn way_home(&self, site: SiteAt, carries: f64) -> Option<Gap> {
        let mean = self.day.frame.limit;
        let lane = Lane { at: [0.0; BATCH], mean, site, visiting: true, carries };
        between(&self.day, &lane, None, &self.aids_in()).ok()
    }

    /// Aids that the tasks before the way home bring in, where they all go.
    fn aids_in(&self) -> Vec<(f64, usize)> {
        let mut brought_in = Vec::new();
        let all = self.run(0, &self.items(), &mut |_, _, trail, _| {
            brought_in.clone_from(&trail.brought_in);
        });
        if all.is_ok() { brought_in } else { Vec::new() }
    }

    /// Minutes home and inside, in each draw of a batch.
    fn home(&self, number: usize, gap: Gap) -> impl Iterator<Item = f32> + '_ {
        let batch = &self.batches[number];
        let factors = batch.pace.iter().zip(&batch.site).zip(&batch.ingress);
        factors.map(move |((pace, site), ingress)| gap.travel * pace + gap.site * site + ingress)
    }

    /// The last whole minute at which a task may start so that its own seats are inside by the
    /// limit with 80 %, windows kept, even with every task after it dropped; `None` where it is
    /// not to come, or no such minute is left.
    pub fn latest_start(&self, task: usize) -> Option<f64> {
        let Progress::Planned = self.day.tasks[task].progress else { return None };
        let stop = &self.day.tasks[task].stop;
        let home = self.way_home(stop.site, stop.carries_on)?;
        let homes: Vec<Vec<f32>> = (0..BATCHES).map(|at| self.home(at, home).collect()).collect();
        if !stop.waits() {
            let mut spent: Vec<f32> = homes
                .iter()
                .zip(&self.batches)
                .flat_map(|(home, batch)| home.iter().zip(&batch.works[task]).map(|(a, b)| a + b))
                .collect();
            let latest = (self.day.frame.limit - percentile(&mut spent, 8)).floor();
            return (latest >= self.day.now).then_some(latest);
        }
        let (first, last) = (self.day.now.ceil(), self.day.frame.limit);
        let minutes = std::iter::successors(Some(last.floor()), |at| Some(at - 1.0));
        // Windows close for good as minutes pass, yet between two of them a later start may do
        // better than an earlier one: every minute is tried, the last first.
        let mut minutes = minutes.take_while(|at| *at >= first);
        minutes.find(|&at| self.start_does(task, stop, at, &homes))
    }

    fn start_does(&self, task: usize, stop: &Stop, start: f64, homes: &[Vec<f32>]) -> bool {
        let limit = narrow(self.day.frame.limit);
        let allowed = BATCH * BATCHES / 5;
        let mut late = 0;
        for (batch, home) in self.batches.iter().zip(homes) {
            for (work, home) in batch.works[task].iter().zip(home) {
                let worked = self.day.frame.schedule(stop, start, f64::from(*work));
                late += usize::from(worked.outside || narrow(worked.end) + home > limit);
            }
            if late > allowed {
                return false;
            }
        }
        of(late) <= of(allowed)
    }

    /// The chance that the seats of a task that starts then are inside by the limit, its windows
    /// kept.
    #[cfg(test)]
    pub(super) fn chance_begun_at(&self, task: usize, start: f64) -> f64 {
        let stop = &self.day.tasks[task].stop;
        let limit = narrow(self.day.frame.limit);
        let Some(home) = self.way_home(stop.site, stop.carries_on) else { return 0.0 };
        let late = |number: usize| {
            let works = self.batches[number].works[task].iter().zip(self.home(number, home));
            let late = works.filter(|(work, home)| {
                let worked = self.day.frame.schedule(stop, start, f64::from(**work));
                worked.outside || narrow(worked.end) + home > limit
            });
            late.count()
        };
        1.0 - of((0..BATCHES).map(late).sum()) / of(BATCH * BATCHES)
    }

    /// The chance that a seat that leaves a worksite then is inside by the limit.
    #[cfg(test)]
    pub(super) fn chance_home_from(&self, site: SiteAt, carries: f64, from: f64) -> f64 {
        let Some(home) = self.way_home(site, carries) else { return 0.0 };
        let most = narrow(self.day.frame.limit - from);
        let homes = (0..BATCHES).flat_map(|number| self.home(number, home));
        of(homes.filter(|minutes| *minutes <= most).count()) / of(BATCH * BATCHES)
    }
}
