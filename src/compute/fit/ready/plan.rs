//! One excursion's slots as stops of a timeline.

use super::suits::Suits;
use super::{Ready, Sequence};
use crate::day::{Minutes, Then};
use crate::fit::reasons::Unknown;
use crate::fit::snapshot::{Fallback, Snapshot, Standing, Task};
use crate::fit::windows;
use crate::places::{ApproachAt, ExcursionAt, SetAt, SiteAt, SlotAt, TaskAt, ToolAt};
use crate::three_point::{Spread, ThreePoint};
use crate::timeline::{Frame, Lanes, Light, MOST_LANES, Order, Stop};
use domain::words::LightNeed;

/// One excursion's set slots, as far as they can be timed.
#[derive(Clone)]
pub(in crate::fit) struct Plan {
    pub excursion: ExcursionAt,
    pub lanes: usize,
    pub airlock: SiteAt,
    pub egress: f64,
    pub ingress: f64,
    pub limit: f64,
    /// The limit; where none is known, the plan, or what windows are laid out for.
    latest: f64,
    pub planned: Option<f64>,
    /// Its stops, and what ties them together.
    pub sequence: Sequence,
    /// The slot behind each stop.
    pub slots: Vec<SlotAt>,
    /// What keeps it from being timed.
    pub unknown: Vec<Unknown>,
    /// What the suits of its lanes use up.
    pub suits: Suits,
}

impl Plan {
    /// Whether some of its work waits for a window, which it may miss.
    pub fn waits(&self) -> bool {
        self.sequence.stops.iter().any(Stop::waits)
    }

    pub fn frame<'a>(&self, ready: &'a Ready) -> Frame<'a> {
        Frame {
            lanes: self.lanes,
            airlock: self.airlock,
            egress: self.egress,
            ingress: self.ingress,
            together: self.together(ready),
            limit: self.latest,
            sites: &ready.sites,
            windows: &ready.windows[self.excursion],
        }
    }

    /// Whether its airlock takes all seats out and in together.
    fn together(&self, ready: &Ready) -> bool {
        let airlock = ready.snapshot.sites.get(self.airlock);
        ready.constants.together && !airlock.is_some_and(|airlock| airlock.one_by_one)
    }

    pub fn order(&self) -> Order<'_> {
        self.sequence.order()
    }

    /// The stop of a task that is set here.
    pub fn stop_of(&self, snapshot: &Snapshot, task: TaskAt) -> Option<usize> {
        let slots = &snapshot.excursions[self.excursion].slots;
        self.slots.iter().position(|&slot| slots[slot].task == task)
    }
}

impl Ready<'_> {
    /// The plan of some of an excursion's slots, in their order; those aids are in place when it
    /// begins.
    pub fn lay_out(&self, excursion: ExcursionAt, slots: Vec<SlotAt>, first: SetAt) -> Plan {
        let here = &self.snapshot.excursions[excursion];
        let at = excursion;
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
        let stops = slots
            .iter()
            .map(|&slot| self.stop(excursion, slot, &mut |what| unknown.push(what)))
            .collect();
        let lanes = here.seats.len().min(MOST_LANES);
        let mut sequence = Sequence { stops, first, ..Sequence::default() };
        for (place, &slot) in slots.iter().enumerate() {
            let slot = &here.slots[slot];
            if !self.aids.brings_in[slot.task].is_empty() {
                sequence.brings_in.push((place, slot.task));
            }
            let tools = self.tools_of_all(slot.task, slot.approach, &slot.fallbacks, lanes);
            sequence.uses.extend(tools.into_iter().map(|tool| (tool, place)));
        }
        let mut plan = Plan {
            excursion,
            lanes,
            airlock: here.airlock.unwrap_or_default(),
            egress: here.egress.unwrap_or(0.0),
            ingress: here.ingress.unwrap_or(0.0),
            limit: here.limit.unwrap_or(0.0),
            latest: windows::latest(here),
            planned: here.planned,
            sequence,
            slots,
            unknown,
            suits: Suits::default(),
        };
        self.note_needs(&mut plan);
        plan.suits = self.suits(&plan);
        plan
    }

    /// The plan of an excursion without one of its set slots, for the task that is asked about.
    pub fn plan_without(&self, excursion: ExcursionAt, out: SlotAt) -> Option<Plan> {
        let plan = &self.plans[excursion];
        let place = plan.slots.iter().position(|&slot| slot == out)?;
        let mut slots = plan.slots.clone();
        slots.remove(place);
        Some(self.lay_out(excursion, slots, plan.sequence.first))
    }

    fn stop(&self, excursion: ExcursionAt, slot: SlotAt, lacks: &mut impl FnMut(Unknown)) -> Stop {
        let slot = &self.snapshot.excursions[excursion].slots[slot];
        let share = slot.share.unwrap_or(self.snapshot.tasks[slot.task].share_left);
        let lanes = self.lanes(excursion, &slot.seats);
        if lanes.is_none() {
            let (excursion, task) = (excursion, slot.task);
            lacks(Unknown::SlotSeats { excursion, task });
        }
        let site = self.site(slot.task, lacks);
        let work = self.work(slot.task, slot.approach, share, lacks);
        let work = self.with_fallbacks(slot.task, work, &slot.fallbacks, share);
        let stop = (excursion, slot.task, slot.approach);
        let stop = self.stop_at(stop, site, lanes.unwrap_or_default(), work);
        stop.begun_from(slot.begin.unwrap_or(0.0))
    }

    /// The work of a task as a stop of an excursion. Windows that are not known are not waited
    /// for: their gates say so.
    pub fn stop_at(
        &self,
        (excursion, task, approach): (ExcursionAt, TaskAt, Option<ApproachAt>),
        site: SiteAt,
        lanes: Lanes,
        work: Spread,
    ) -> Stop {
        let task = &self.snapshot.tasks[task];
        let by = approach.and_then(|at| task.approaches.get(at));
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
        let (from, until) = self.arranged_between(excursion, task);
        Stop {
            arm: task.arm && !windows.arm.is_empty(),
            light,
            pauses: light == Light::Day && by.is_some_and(|by| by.may_pause),
            from,
            until,
            carries_there: slowed(task.takes_out),
            carries_on: slowed(task.brings_in),
            ..Stop::plain(site, lanes, work)
        }
    }

    /// The minutes between which every inhibit that the task needs is in place, as far as they
    /// are arranged.
    fn arranged_between(&self, excursion: ExcursionAt, task: &Task) -> (f64, f64) {
        let arranged = self.snapshot.excursions[excursion].arranged.iter();
        let needed = arranged.filter(|one| task.inhibits.contains(&one.inhibit));
        needed.fold((0.0, f64::INFINITY), |(from, until), one| {
            (one.from.map_or(from, |at| at.max(from)), one.until.map_or(until, |at| at.min(until)))
        })
    }

    /// The tools of an approach of which there are fewer than lanes.
    pub fn scarce_tools(
        &self,
        task: TaskAt,
        approach: Option<ApproachAt>,
        lanes: usize,
    ) -> impl Iterator<Item = ToolAt> {
        let approaches = &self.snapshot.tasks[task].approaches;
        let tools = approach.and_then(|at| approaches.get(at)).map_or(&[][..], |by| &by.tools);
        tools.iter().copied().filter(move |&tool| self.count_of(tool) < lanes)
    }

    /// The same of an approach and of all that may follow it, each tool once.
    pub fn tools_of_all(
        &self,
        task: TaskAt,
        approach: Option<ApproachAt>,
        fallbacks: &[Fallback],
        lanes: usize,
    ) -> Vec<ToolAt> {
        let mut tools: Vec<ToolAt> = self.scarce_tools(task, approach, lanes).collect();
        for then in fallbacks.iter().filter(|then| then.approach.is_some()) {
            for tool in self.scarce_tools(task, then.approach, lanes) {
                if !tools.contains(&tool) {
                    tools.push(tool);
                }
            }
        }
        tools
    }

    /// How many of a tool can be in use at once; where the record counts none, the one that is
    /// still to come.
    pub fn count_of(&self, tool: ToolAt) -> usize {
        let aboard = self.snapshot.tools[tool].aboard.unwrap_or(1);
        usize::try_from(aboard).unwrap_or(usize::MAX).max(1)
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
    pub fn site(&self, task: TaskAt, lacks: &mut impl FnMut(Unknown)) -> SiteAt {
        let Some(site) = self.snapshot.tasks[task].site else {
            lacks(Unknown::Site { task });
            return SiteAt::default();
        };
        if self.snapshot.sites[site].setup.is_none() {
            lacks(Unknown::Setup { site });
        }
        if self.snapshot.sites[site].cleanup.is_none() {
            lacks(Unknown::Cleanup { site });
        }
        site
    }

    /// The work minutes of a share of a task by one of its approaches.
    pub fn work(
        &self,
        task: TaskAt,
        approach: Option<ApproachAt>,
        share: f64,
        lacks: &mut impl FnMut(Unknown),
    ) -> Spread {
        let estimate = self.estimate(task, approach);
        if estimate.is_none() {
            lacks(Unknown::Work { task });
        }
        estimate.map(|work| work.part(share)).unwrap_or_default()
    }

    /// The work minutes of a share of a task with what may follow its approach: the mean and the
    /// variance of the mixture, which the timeline takes for one lognormal.
    pub fn with_fallbacks(
        &self,
        task: TaskAt,
        work: Spread,
        fallbacks: &[Fallback],
        share: f64,
    ) -> Spread {
        let then = self.then(task, fallbacks, share);
        if then.is_empty() { work } else { Minutes::with_fallbacks(work, &then).spread() }
    }

    /// The fallbacks with all that is known of them, up to the first that names no minutes, no
    /// chance or no work.
    pub fn then(&self, task: TaskAt, fallbacks: &[Fallback], share: f64) -> Vec<Then> {
        let known = |then: &Fallback| {
            let work = match then.approach {
                Some(approach) => self.estimate(task, Some(approach))?.part(share),
                None => Spread::default(),
            };
            Some(Then { trigger: then.after?, chance: then.chance?, work })
        };
        fallbacks.iter().map_while(known).collect()
    }

    fn estimate(&self, task: TaskAt, approach: Option<ApproachAt>) -> Option<ThreePoint> {
        let task = &self.snapshot.tasks[task];
        approach.and_then(|at| task.approaches.get(at)?.work).or(task.work)
    }

    /// Which stop has to wait for which, and which stand the wrong way round.
    fn note_needs(&self, plan: &mut Plan) {
        for later in 0..plan.slots.len() {
            let task = self.task_of(plan, later);
            for &need in &self.snapshot.tasks[task].needs {
                let Some(first) = plan.stop_of(self.snapshot, need) else { continue };
                if first < later {
                    plan.sequence.needs.push((first, later));
                } else if self.snapshot.tasks[need].standing != Standing::Done {
                    let (excursion, task) = (plan.excursion, task);
                    plan.unknown.push(Unknown::SlotOrder { excursion, task, needs: need });
                }
            }
        }
    }

    pub fn task_of(&self, plan: &Plan, stop: usize) -> TaskAt {
        self.snapshot.excursions[plan.excursion].slots[plan.slots[stop]].task
    }
}
