//! Which tasks a crew reaches that ends in time: draw by draw, as each draw may drop others.

use super::batch::{BATCH, BATCHES, Drawn, narrow};
use super::crew::{Crew, Gap, Lane, Trail, between, of};
use super::outlook::{Item, Outlook};
use super::{Progress, Ways};
use crate::timeline::{MOST_LANES, NoWay};

/// How often each of some tasks is reached.
pub(super) struct Reached {
    counts: Vec<usize>,
    ways: Table,
}

/// What a lane spends between any two of its tasks, and from each to the airlock. A place past the
/// last task stands for where a lane is now.
struct Table {
    gaps: Vec<Vec<Gap>>,
    home: Vec<Gap>,
}

impl Table {
    /// Travel in a draw that drops tasks is over the aids that stay out in the whole plan.
    fn of<W: Ways>(outlook: &Outlook<W>, items: &[Item]) -> Result<Self, NoWay> {
        let day = &outlook.day;
        let start = Crew::at_now(day, &outlook.batches[0]);
        let mut lanes: Vec<Lane> = Vec::new();
        let mut brought_in = Vec::new();
        outlook.run(0, items, &mut |place, crew, trail, _| {
            let own = day.tasks[items[place].at].stop.lanes.first();
            lanes.push(crew.lanes[own]);
            brought_in.clone_from(&trail.brought_in);
        })?;
        lanes.extend(start.lanes);
        let never = Gap { travel: f32::INFINITY, site: 0.0 };
        let gap = |lane: &Lane, to: Option<usize>| {
            let to = to.map(|at| &day.tasks[at].stop);
            between(day, lane, to, &brought_in).unwrap_or(never)
        };
        let gaps = items.iter().map(|item| lanes.iter().map(|l| gap(l, Some(item.at))).collect());
        Ok(Self { gaps: gaps.collect(), home: lanes.iter().map(|l| gap(l, None)).collect() })
    }
}

impl Reached {
    pub fn of<W: Ways>(outlook: &Outlook<W>, items: &[Item]) -> Result<Self, NoWay> {
        Ok(Self { counts: vec![0; items.len()], ways: Table::of(outlook, items)? })
    }

    pub fn chance(&self, place: usize) -> f64 {
        of(self.counts[place]) / of(BATCH * BATCHES)
    }

    /// Counts a batch whose whole plan is inside at those minutes.
    pub fn add<W: Ways>(
        &mut self,
        outlook: &Outlook<W>,
        number: usize,
        items: &[Item],
        inside: &Drawn,
    ) {
        let limit = narrow(outlook.day.frame.limit);
        let batch = &outlook.batches[number];
        let begin = Crew::at_now(&outlook.day, batch);
        let trail = Trail::of(&outlook.day);
        let mut ends = vec![0.0_f32; outlook.day.tasks.len()];
        let mut goes = vec![false; outlook.day.tasks.len()];
        for (draw, end) in inside.iter().enumerate() {
            if *end <= limit {
                self.counts.iter_mut().for_each(|count| *count += 1);
                continue;
            }
            for at in 0..ends.len() {
                (ends[at], goes[at]) = (trail.ends[at][draw], trail.goes[at]);
            }
            self.draw(outlook, (number, draw), items, &begin, (&mut ends, &mut goes));
        }
    }

    /// One draw whose whole plan would end late.
    fn draw<W: Ways>(
        &mut self,
        outlook: &Outlook<W>,
        (number, draw): (usize, usize),
        items: &[Item],
        begin: &Crew,
        (ends, goes): (&mut [f32], &mut [bool]),
    ) {
        let day = &outlook.day;
        let batch = &outlook.batches[number];
        let (pace, site, now) = (batch.pace[draw], batch.site[draw], narrow(day.now));
        let latest = narrow(day.frame.limit) - batch.ingress[draw];
        let mut at: [f32; MOST_LANES] = std::array::from_fn(|lane| begin.lanes[lane].at[draw]);
        // The task after which each lane stands.
        let mut last: [usize; MOST_LANES] = std::array::from_fn(|lane| items.len() + lane);
        let mut working = [true; MOST_LANES];
        let mut arm = begin.arm[draw];
        let spent = |gap: &Gap| gap.travel * pace + gap.site * site;
        let bounded = |task: usize| day.needs.iter().filter(move |(_, then)| *then == task);
        for (place, item) in items.iter().enumerate() {
            let task = &day.tasks[item.at];
            let stop = &task.stop;
            let work = batch.works[item.at][draw];
            let end = if let Progress::Running { since } = task.progress {
                // Work under way ends, come what may.
                if stop.pauses() {
                    narrow(day.frame.schedule(stop, since, f64::from(work)).end).max(now)
                } else {
                    narrow(since) + work
                }
            } else {
                let dropped = bounded(item.at).any(|&(first, _)| !goes[first]);
                if dropped || stop.lanes.each().any(|lane| !working[lane]) {
                    continue;
                }
                let mut ready = now;
                for lane in stop.lanes.each() {
                    ready = ready.max(at[lane] + spent(&self.ways.gaps[place][last[lane]]));
                }
                for &(first, _) in bounded(item.at).chain(
                    day.waits.iter().filter(|(first, then)| *then == item.at && goes[*first]),
                ) {
                    ready = ready.max(ends[first]);
                }
                if stop.arm {
                    ready = ready.max(arm);
                }
                let end = if stop.waits() {
                    narrow(day.frame.schedule(stop, f64::from(ready), f64::from(work)).end)
                } else {
                    ready + work
                };
                let home = (0..day.frame.lanes).map(|lane| {
                    let (at, from) =
                        if stop.lanes.has(lane) { (end, place) } else { (at[lane], last[lane]) };
                    at + spent(&self.ways.home[from])
                });
                if home.fold(now, f32::max) > latest {
                    stop.lanes.each().for_each(|lane| working[lane] = false);
                    continue;
                }
                end
            };
            for lane in stop.lanes.each() {
                (at[lane], last[lane]) = (end, place);
            }
            if stop.arm {
                arm = end;
            }
            (ends[item.at], goes[item.at]) = (end, true);
            self.counts[place] += 1;
        }
    }
}
