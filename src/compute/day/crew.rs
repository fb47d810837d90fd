//! Where the crew stands in every draw of a batch, and its next steps.

use super::batch::{BATCH, Batch, Drawn, narrow};
use super::{Day, Progress, Task, Ways};
use crate::places::SiteAt;
use crate::timeline::{MOST_LANES, NoWay, Stop};

/// One lane in every draw.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lane {
    pub at: Drawn,
    /// The same at the mean of everything: which aids are in place hangs on it.
    pub mean: f64,
    pub site: SiteAt,
    /// Set up at its worksite, which it has to clean up before it leaves.
    pub visiting: bool,
    pub carries: f64,
}

/// All lanes, and when the arm is free.
#[derive(Debug, Clone)]
pub(super) struct Crew {
    pub lanes: [Lane; MOST_LANES],
    pub arm: Drawn,
}

/// What the tasks so far leave behind for those after them.
#[derive(Debug, Clone)]
pub(super) struct Trail {
    /// When each task ended that others wait for.
    pub ends: Vec<Drawn>,
    /// The tasks that go, or went, in this run.
    pub goes: Vec<bool>,
    pub brought_in: Vec<(f64, usize)>,
}

/// What a lane spends before its next work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Gap {
    pub travel: f32,
    pub site: f32,
}

impl Gap {
    const NONE: Self = Self { travel: 0.0, site: 0.0 };
}

/// One task in every draw of a batch.
#[derive(Debug, Clone, Copy)]
pub(super) struct Done {
    pub start: Drawn,
    pub end: Drawn,
    /// The draws in which no window is left that is long enough.
    pub missed: usize,
}

impl Trail {
    pub fn of<W>(day: &Day<W>) -> Self {
        let count = day.tasks.len() + 1;
        let mut trail = Self {
            ends: vec![[0.0; BATCH]; count],
            goes: vec![false; count],
            brought_in: Vec::new(),
        };
        for (at, task) in day.tasks.iter().enumerate() {
            if let Progress::Ended { end, outcome, .. } = task.progress {
                trail.ends[at] = [narrow(end); BATCH];
                trail.goes[at] = true;
                if task.brings_in && outcome == super::Ended::Done {
                    trail.brought_in.push((end, at));
                }
            }
        }
        trail
    }
}

impl Crew {
    /// The crew before anything of the day has happened, or where what has ended left it.
    pub fn at_now<W>(day: &Day<W>, batch: &Batch) -> Self {
        let frame = &day.frame;
        let known = day.egress_ended;
        let lane = Lane {
            at: known.map_or(batch.egress, |minute| [narrow(minute); BATCH]),
            mean: known.unwrap_or(frame.egress),
            site: frame.airlock,
            visiting: false,
            carries: 1.0,
        };
        let mut crew = Self { lanes: [lane; MOST_LANES], arm: [0.0; BATCH] };
        let mut ended: Vec<(f64, &Task)> = day
            .tasks
            .iter()
            .filter_map(|task| match task.progress {
                Progress::Ended { end, .. } => Some((end, task)),
                Progress::Planned | Progress::Running { .. } | Progress::Dropped => None,
            })
            .collect();
        ended.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (end, task) in ended {
            crew.put(&task.stop, &[narrow(end); BATCH], end);
        }
        crew
    }

    fn put(&mut self, stop: &Stop, end: &Drawn, mean: f64) {
        for lane in stop.lanes.each() {
            let carries = stop.carries_on;
            self.lanes[lane] = Lane { at: *end, mean, site: stop.site, visiting: true, carries };
        }
        if stop.arm {
            self.arm = *end;
        }
    }

    /// Work under way goes on to its end, or to its stopping point; where that has passed, to its end:
    /// between the two it may not be left.
    pub fn go_on<W>(
        &mut self,
        day: &Day<W>,
        (at, work, share): (usize, &Drawn, f32),
        trail: &mut Trail,
    ) -> Done {
        let task = &day.tasks[at];
        let Progress::Running { since } = task.progress else {
            return Done { start: [0.0; BATCH], end: [0.0; BATCH], missed: 0 };
        };
        let taken = narrow(day.taken(at, since, day.now));
        let (start, now) = (narrow(since), narrow(day.now));
        let minutes =
            |work: f32| if work * share >= taken { work * share } else { work.max(taken) };
        let mut end = work.map(|work| start + minutes(work));
        if task.stop.pauses() {
            for (end, work) in end.iter_mut().zip(work) {
                let minutes = f64::from(minutes(*work));
                *end = narrow(day.frame.schedule(&task.stop, since, minutes).end).max(now);
            }
        }
        let mean = end.iter().map(|end| f64::from(*end)).sum::<f64>() / of(BATCH);
        self.put(&task.stop, &end, mean);
        trail.note(at, task, &end, mean, share);
        Done { start: [start; BATCH], end, missed: 0 }
    }

    /// The next task of its lanes. It fails where there is no route.
    pub fn step<W: Ways>(
        &mut self,
        day: &Day<W>,
        batch: &Batch,
        (at, task): (usize, &Task),
        (work, share): (&Drawn, f32),
        trail: &mut Trail,
    ) -> Result<Done, NoWay> {
        let stop = &task.stop;
        let now = narrow(day.now);
        let mut start = [now; BATCH];
        let mut mean = day.now;
        for lane in stop.lanes.each() {
            let gap = self.gap(day, lane, stop, &trail.brought_in)?;
            let lane = &self.lanes[lane];
            raise_by(&mut start, &lane.at, batch, gap);
            mean = mean.max(lane.mean + f64::from(gap.travel + gap.site));
        }
        for &(first, then) in day.needs.iter().chain(day.waits) {
            if then == at && trail.goes[first] {
                raise(&mut start, &trail.ends[first]);
            }
        }
        if stop.arm {
            raise(&mut start, &self.arm);
        }
        let mut end = start;
        let mut missed = 0;
        if stop.waits() {
            for ((start, end), work) in start.iter_mut().zip(&mut end).zip(work) {
                let minutes = f64::from(work * share);
                let worked = day.frame.schedule(stop, f64::from(*start), minutes);
                (*start, *end) = (narrow(worked.start), narrow(worked.end));
                missed += usize::from(worked.outside);
            }
        } else {
            end.iter_mut().zip(work).for_each(|(end, work)| *end += work * share);
        }
        let minutes = task.minutes.mean() * f64::from(share);
        let mean = day.frame.schedule(stop, mean, minutes).end;
        self.put(stop, &end, mean);
        trail.note(at, task, &end, mean, share);
        Ok(Done { start, end, missed })
    }

    /// When every lane is inside, in every draw.
    pub fn inside<W: Ways>(
        &self,
        day: &Day<W>,
        batch: &Batch,
        trail: &Trail,
    ) -> Result<Drawn, NoWay> {
        let mut home = [narrow(day.now); BATCH];
        for lane in 0..day.frame.lanes {
            let gap = self.home(day, lane, &trail.brought_in)?;
            raise_by(&mut home, &self.lanes[lane].at, batch, gap);
        }
        home.iter_mut().zip(&batch.ingress).for_each(|(home, ingress)| *home += ingress);
        Ok(home)
    }

    /// The draws in which the limit is not passed yet, travel home left out.
    pub fn not_late<W>(&self, day: &Day<W>, batch: &Batch) -> usize {
        let limit = narrow(day.frame.limit);
        let mut last = [0.0; BATCH];
        for lane in &self.lanes[..day.frame.lanes] {
            raise(&mut last, &lane.at);
        }
        last.iter().zip(&batch.ingress).filter(|(last, ingress)| *last + *ingress <= limit).count()
    }

    fn gap<W: Ways>(
        &self,
        day: &Day<W>,
        lane: usize,
        to: &Stop,
        brought_in: &[(f64, usize)],
    ) -> Result<Gap, NoWay> {
        between(day, &self.lanes[lane], Some(to), brought_in)
    }

    fn home<W: Ways>(
        &self,
        day: &Day<W>,
        lane: usize,
        brought_in: &[(f64, usize)],
    ) -> Result<Gap, NoWay> {
        between(day, &self.lanes[lane], None, brought_in)
    }
}

/// What a lane spends from where it stands until it is set up at a stop, or back at the airlock.
pub(super) fn between<W: Ways>(
    day: &Day<W>,
    lane: &Lane,
    to: Option<&Stop>,
    brought_in: &[(f64, usize)],
) -> Result<Gap, NoWay> {
    let sites = day.frame.sites;
    let (site, there, setup) = match to {
        Some(stop) if lane.visiting && stop.site == lane.site => return Ok(Gap::NONE),
        Some(stop) => (stop.site, stop.carries_there, sites[stop.site].setup),
        None => (day.frame.airlock, 1.0, 0.0),
    };
    let cleanup = if lane.visiting { sites[lane.site].cleanup } else { 0.0 };
    let travel = if lane.site == site {
        0.0
    } else {
        let (leaves, slow) = (lane.mean.max(day.now) + cleanup, there.max(lane.carries));
        let minutes = day.ways.travel(lane.site, site, leaves, slow, brought_in);
        minutes.ok_or(NoWay { from: lane.site, to: site })?
    };
    Ok(Gap { travel: narrow(travel), site: narrow(cleanup + setup) })
}

impl Trail {
    fn note(&mut self, at: usize, task: &Task, end: &Drawn, mean: f64, share: f32) {
        self.ends[at] = *end;
        self.goes[at] = true;
        if task.brings_in && share >= 1.0 {
            self.brought_in.push((mean, at));
        }
    }
}

fn raise_by(to: &mut Drawn, from: &Drawn, batch: &Batch, gap: Gap) {
    let factors = batch.pace.iter().zip(&batch.site);
    for ((to, from), (pace, site)) in to.iter_mut().zip(from).zip(factors) {
        let there = from + gap.travel * pace + gap.site * site;
        *to = if there > *to { there } else { *to };
    }
}

fn raise(to: &mut Drawn, from: &Drawn) {
    to.iter_mut().zip(from).for_each(|(to, from)| *to = if *from > *to { *from } else { *to });
}

pub(super) fn of(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::from(u32::MAX), f64::from)
}
