//! A snapshot made ready: which aids are in place at every moment, the travel that leaves, and
//! every excursion's set slots as stops of a timeline.

use std::cell::OnceCell;
use std::collections::{BTreeMap, BTreeSet};

use super::constants::Constants;
use super::reasons::{Unknown, index};
use super::snapshot::{ExcursionAt, OutsideAt, SlotAt, Snapshot, Standing, TaskAt};
use super::windows;
use crate::compute::three_point::{Spread, ThreePoint};
use crate::compute::timeline::{
    Frame, Lanes, Light, MOST_LANES, Order, SiteMinutes, Stop, Windows,
};
use crate::compute::travel::{Leg, Network};
use crate::domain::words::LightNeed;

/// A set of aids in place, by its place in `Ready::sets`.
pub(super) type SetAt = usize;

pub(super) struct Ready<'s> {
    pub snapshot: &'s Snapshot,
    pub constants: Constants,
    /// Each excursion's windows, as far as they are known.
    pub windows: Vec<Windows>,
    pub sites: Vec<SiteMinutes>,
    sets: Vec<(BTreeSet<OutsideAt>, OnceCell<Network>)>,
    /// The set in which every aid that exists is in place.
    everything: SetAt,
    pub plans: Vec<Plan>,
    /// The last set slot of every task.
    pub placed: Vec<Option<(ExcursionAt, SlotAt)>>,
    /// The tasks that need each task.
    pub needed_by: Vec<Vec<TaskAt>>,
    /// The aids that each task brings in and some route needs; mostly none.
    pub brings_in: Vec<Vec<OutsideAt>>,
    /// For each task that brings in an aid: what is in place on every way of every excursion
    /// once it has.
    pub sets_after: Vec<Vec<Vec<SetAt>>>,
    /// The plan of an excursion without one of its set slots, for the task that is asked about.
    pub plans_without: BTreeMap<(ExcursionAt, SlotAt), Plan>,
}

/// One excursion's set slots, as far as they can be timed.
#[derive(Clone)]
pub(super) struct Plan {
    pub excursion: ExcursionAt,
    pub lanes: usize,
    pub airlock: usize,
    pub egress: f64,
    pub ingress: f64,
    pub limit: f64,
    pub planned: Option<f64>,
    pub stops: Vec<Stop>,
    /// The slot behind each stop.
    pub slots: Vec<SlotAt>,
    /// The aids in place on the way to each stop, and at last on the way home.
    pub sets: Vec<SetAt>,
    /// Stops of which the second has to wait for the first.
    pub needs: Vec<(usize, usize)>,
    /// What keeps it from being timed.
    pub unknown: Vec<Unknown>,
}

impl Plan {
    pub fn frame<'a>(&self, ready: &'a Ready) -> Frame<'a> {
        Frame {
            lanes: self.lanes,
            airlock: self.airlock,
            egress: self.egress,
            ingress: self.ingress,
            sites: &ready.sites,
            windows: &ready.windows[self.excursion],
        }
    }

    pub fn order(&self) -> Order<'_> {
        Order { stops: &self.stops, needs: &self.needs }
    }

    /// The stop of a task that is set here.
    pub fn stop_of(&self, snapshot: &Snapshot, task: TaskAt) -> Option<usize> {
        let slots = &snapshot.excursions[self.excursion].slots;
        self.slots.iter().position(|&slot| slots[slot].task == task)
    }
}

impl<'s> Ready<'s> {
    pub fn new(snapshot: &'s Snapshot, constants: &Constants) -> Self {
        let aids: BTreeSet<OutsideAt> = snapshot.routes.iter().filter_map(|r| r.aid).collect();
        let minutes = |site: &super::snapshot::Site| SiteMinutes {
            setup: site.setup.unwrap_or(0.0),
            cleanup: site.cleanup.unwrap_or(0.0),
        };
        let mut ready = Self {
            snapshot,
            constants: *constants,
            windows: snapshot
                .excursions
                .iter()
                .map(|there| windows::of(there, constants))
                .collect(),
            sites: snapshot.sites.iter().map(minutes).collect(),
            sets: Vec::new(),
            everything: 0,
            plans: Vec::with_capacity(snapshot.excursions.len()),
            placed: vec![None; snapshot.tasks.len()],
            needed_by: vec![Vec::new(); snapshot.tasks.len()],
            brings_in: vec![Vec::new(); snapshot.tasks.len()],
            sets_after: vec![Vec::new(); snapshot.tasks.len()],
            plans_without: BTreeMap::new(),
        };
        for (at, item) in snapshot.outside.iter().enumerate().filter(|(at, _)| aids.contains(at)) {
            if let Some(task) = item.brought_back_by {
                ready.brings_in[task].push(at);
            }
        }
        for (at, task) in snapshot.tasks.iter().enumerate() {
            for &need in &task.needs {
                ready.needed_by[need].push(at);
            }
        }
        ready.everything = ready.set(aids.clone());
        let mut set = aids;
        set.retain(|&aid| snapshot.outside[aid].in_place);
        for excursion in 0..snapshot.excursions.len() {
            let plan = ready.plan(excursion, &mut set);
            for &slot in &plan.slots {
                let task = snapshot.excursions[excursion].slots[slot].task;
                ready.placed[task] = Some((excursion, slot));
            }
            ready.plans.push(plan);
        }
        ready.take_out_each();
        ready.bring_in_each();
        ready
    }

    fn take_out_each(&mut self) {
        for excursion in 0..self.plans.len() {
            let slots = self.plans[excursion].slots.clone();
            for &out in &slots {
                let left: Vec<SlotAt> = slots.iter().copied().filter(|&slot| slot != out).collect();
                let plan = self.plan_of(excursion, &left, &mut self.aids_before(excursion));
                self.plans_without.insert((excursion, out), plan);
            }
        }
    }

    fn bring_in_each(&mut self) {
        for task in 0..self.brings_in.len() {
            if self.brings_in[task].is_empty() {
                continue;
            }
            self.sets_after[task] = (0..self.plans.len())
                .map(|excursion| {
                    let sets = self.plans[excursion].sets.clone();
                    sets.into_iter().map(|set| self.without(set, task)).collect()
                })
                .collect();
        }
    }

    /// The place of a set of aids; new ones are added.
    fn set(&mut self, aids: BTreeSet<OutsideAt>) -> SetAt {
        if let Some(at) = self.sets.iter().position(|(known, _)| *known == aids) {
            return at;
        }
        self.sets.push((aids, OnceCell::new()));
        self.sets.len() - 1
    }

    /// The set that is left when a task has brought in its aids.
    fn without(&mut self, set: SetAt, task: TaskAt) -> SetAt {
        let mut aids = self.sets[set].0.clone();
        aids.retain(|aid| !self.brings_in[task].contains(aid));
        self.set(aids)
    }

    /// Travel while those aids are in place.
    pub fn network(&self, set: SetAt) -> &Network {
        let (aids, network) = &self.sets[set];
        network.get_or_init(|| {
            let usable = |aid: Option<OutsideAt>| aid.is_none_or(|aid| aids.contains(&aid));
            let legs: Vec<Leg> = self
                .snapshot
                .routes
                .iter()
                .filter(|route| usable(route.aid))
                .map(|route| Leg { from: route.from, to: route.to, minutes: route.minutes })
                .collect();
            Network::new(self.snapshot.sites.len(), &legs)
        })
    }

    /// The aid that stands in the way: on the shortest way over all aids, the first one that is
    /// not in place and that nothing goes round. `None` where no aid would help.
    fn missing_aid(&self, set: SetAt, from: usize, to: usize) -> Option<OutsideAt> {
        let path = self.network(self.everything).path(from, to)?;
        let shut = |pair: &&[usize]| self.network(set).minutes(pair[0], pair[1]).is_none();
        let pair = path.windows(2).find(shut)?;
        let routes = self.snapshot.routes.iter();
        let between = routes.filter(|route| route.from == pair[0] && route.to == pair[1]);
        between.min_by_key(|route| route.minutes)?.aid
    }

    /// Why there is no way: nothing is recorded, or an aid is not in place.
    pub fn no_way(&self, set: SetAt, from: usize, to: usize) -> Unknown {
        let (start, end) = (index(from), index(to));
        match self.missing_aid(set, from, to) {
            Some(aid) => Unknown::WayWithoutAid { from: start, to: end, aid: index(aid) },
            None => Unknown::Way { from: start, to: end },
        }
    }

    fn plan(&mut self, excursion: ExcursionAt, aids: &mut BTreeSet<OutsideAt>) -> Plan {
        let snapshot = self.snapshot;
        let set: Vec<SlotAt> = (0..snapshot.excursions[excursion].slots.len())
            .filter(|&slot| snapshot.excursions[excursion].slots[slot].set)
            .collect();
        self.plan_of(excursion, &set, aids)
    }

    /// The plan of some of an excursion's slots, in their order. `aids` go in as they are before
    /// the excursion and come out as it leaves them.
    pub fn plan_of(
        &mut self,
        excursion: ExcursionAt,
        slots: &[SlotAt],
        aids: &mut BTreeSet<OutsideAt>,
    ) -> Plan {
        let here = &self.snapshot.excursions[excursion];
        let at = index(excursion);
        let mut unknown = Vec::new();
        let mut lacks = |missing: bool, what: Unknown| {
            if missing {
                unknown.push(what);
            }
        };
        lacks(here.limit.is_none(), Unknown::Limit { excursion: at });
        lacks(here.egress.is_none(), Unknown::Egress { excursion: at });
        lacks(here.ingress.is_none(), Unknown::Ingress { excursion: at });
        lacks(here.airlock.is_none(), Unknown::Airlock { excursion: at });
        lacks(here.seats.is_empty(), Unknown::Seats { excursion: at });
        let mut plan = Plan {
            excursion,
            lanes: here.seats.len().min(MOST_LANES),
            airlock: here.airlock.unwrap_or(0),
            egress: here.egress.unwrap_or(0.0),
            ingress: here.ingress.unwrap_or(0.0),
            limit: here.limit.unwrap_or(0.0),
            planned: here.planned,
            stops: Vec::with_capacity(slots.len()),
            slots: slots.to_vec(),
            sets: Vec::with_capacity(slots.len() + 1),
            needs: Vec::new(),
            unknown,
        };
        for &slot in slots {
            plan.sets.push(self.set(aids.clone()));
            let stop = self.stop(excursion, slot, &mut |what| plan.unknown.push(what));
            plan.stops.push(stop);
            let task = here.slots[slot].task;
            aids.retain(|aid| !self.brings_in[task].contains(aid));
        }
        plan.sets.push(self.set(aids.clone()));
        self.note_needs(&mut plan);
        plan
    }

    /// The aids in place before an excursion.
    pub fn aids_before(&self, excursion: ExcursionAt) -> BTreeSet<OutsideAt> {
        self.sets[self.plans[excursion].sets[0]].0.clone()
    }

    fn stop(&self, excursion: ExcursionAt, slot: SlotAt, lacks: &mut impl FnMut(Unknown)) -> Stop {
        let slot = &self.snapshot.excursions[excursion].slots[slot];
        let share = slot.share.unwrap_or(self.snapshot.tasks[slot.task].share_left);
        let lanes = self.lanes(excursion, &slot.seats);
        if lanes.is_none() {
            let (excursion, task) = (index(excursion), index(slot.task));
            lacks(Unknown::SlotSeats { excursion, task });
        }
        let site = self.site(slot.task, lacks);
        let work = self.work(slot.task, slot.approach, share, lacks);
        self.stop_at(excursion, slot.task, site, lanes.unwrap_or_default(), work)
    }

    /// The work of a task as a stop of an excursion. Windows that are not known are not waited
    /// for: their gates say so.
    pub fn stop_at(
        &self,
        excursion: ExcursionAt,
        task: TaskAt,
        site: usize,
        lanes: Lanes,
        work: Spread,
    ) -> Stop {
        let task = &self.snapshot.tasks[task];
        let windows = &self.windows[excursion];
        let slowed = |litres: Option<f64>| {
            let slow = litres.is_some_and(|litres| litres >= self.constants.slow_from_litres);
            if slow { self.constants.slow_by } else { 1.0 }
        };
        let light = match task.lighting {
            Some(LightNeed::DaylightOnly) if !windows.days.is_empty() => Light::Day,
            Some(LightNeed::NightOnly) if !windows.nights.is_empty() => Light::Night,
            Some(LightNeed::DaylightOnly | LightNeed::NightOnly | LightNeed::Any) | None => {
                Light::Any
            }
        };
        Stop {
            arm: task.arm && !windows.arm.is_empty(),
            light,
            carries_there: slowed(task.takes_out),
            carries_on: slowed(task.brings_in),
            ..Stop::plain(site, lanes, work)
        }
    }

    /// Seats as lanes of an excursion; `None` where there are none or one is not among them.
    pub fn lanes(&self, excursion: ExcursionAt, seats: &[u8]) -> Option<Lanes> {
        let here = &self.snapshot.excursions[excursion].seats;
        let add = |lanes: Lanes, seat: &u8| {
            here.iter().take(MOST_LANES).position(|s| s == seat).map(|lane| lanes.and(lane))
        };
        seats.iter().try_fold(Lanes::default(), add).filter(|lanes| !lanes.is_empty())
    }

    /// The worksite of a task, with what is not known about it.
    pub fn site(&self, task: TaskAt, lacks: &mut impl FnMut(Unknown)) -> usize {
        let Some(site) = self.snapshot.tasks[task].site else {
            lacks(Unknown::Site { task: index(task) });
            return 0;
        };
        if self.snapshot.sites[site].setup.is_none() {
            lacks(Unknown::Setup { site: index(site) });
        }
        if self.snapshot.sites[site].cleanup.is_none() {
            lacks(Unknown::Cleanup { site: index(site) });
        }
        site
    }

    /// The work minutes of a share of a task by one of its approaches.
    pub fn work(
        &self,
        task: TaskAt,
        approach: Option<usize>,
        share: f64,
        lacks: &mut impl FnMut(Unknown),
    ) -> Spread {
        let estimate = self.estimate(task, approach);
        if estimate.is_none() {
            lacks(Unknown::Work { task: index(task) });
        }
        estimate.map(|work| work.part(share)).unwrap_or_default()
    }

    fn estimate(&self, task: TaskAt, approach: Option<usize>) -> Option<ThreePoint> {
        let task = &self.snapshot.tasks[task];
        approach.and_then(|at| task.approaches.get(at)?.work).or(task.work)
    }

    /// Which stop has to wait for which, and which stand the wrong way round.
    fn note_needs(&self, plan: &mut Plan) {
        for later in 0..plan.stops.len() {
            let task = self.task_of(plan, later);
            for &need in &self.snapshot.tasks[task].needs {
                let Some(first) = plan.stop_of(self.snapshot, need) else { continue };
                if first < later {
                    plan.needs.push((first, later));
                } else if self.snapshot.tasks[need].standing != Standing::Done {
                    let (excursion, task) = (index(plan.excursion), index(task));
                    plan.unknown.push(Unknown::SlotOrder { excursion, task, needs: index(need) });
                }
            }
        }
    }

    pub fn task_of(&self, plan: &Plan, stop: usize) -> TaskAt {
        self.snapshot.excursions[plan.excursion].slots[plan.slots[stop]].task
    }
}
