//! A snapshot made ready: which aids are in place at every moment, the travel that leaves, and
//! every excursion's set slots as stops of a timeline.

mod aids;
mod plan;
mod practice;
mod suits;

use std::collections::BTreeMap;

pub(super) use aids::SetAt;
pub(super) use plan::Plan;
pub(super) use practice::Practised;

use aids::Aids;
use practice::Practices;
use suits::ReadyRates;

use super::constants::Constants;
use super::snapshot::{ExcursionAt, Site, SlotAt, Snapshot, TaskAt};
use super::windows;
use crate::compute::timeline::{SiteMinutes, Windows};

pub(super) struct Ready<'s> {
    pub snapshot: &'s Snapshot,
    pub constants: Constants,
    /// Each excursion's windows, as far as they are known.
    pub windows: Vec<Windows>,
    pub sites: Vec<SiteMinutes>,
    rates: Vec<ReadyRates>,
    practices: Practices,
    pub aids: Aids,
    pub plans: Vec<Plan>,
    /// The last set slot of every task.
    pub placed: Vec<Option<(ExcursionAt, SlotAt)>>,
    /// The tasks that need each task.
    pub needed_by: Vec<Vec<TaskAt>>,
    /// For each task that brings in an aid: what is in place on every way of every excursion
    /// once it has.
    pub sets_after: Vec<Vec<Vec<SetAt>>>,
    /// The aids in place on each way of an excursion without a set slot that brings one in.
    sets_without: BTreeMap<(ExcursionAt, SlotAt), Vec<SetAt>>,
}

impl<'s> Ready<'s> {
    pub fn new(snapshot: &'s Snapshot, constants: &Constants) -> Self {
        let minutes = |site: &Site| SiteMinutes {
            setup: site.setup.unwrap_or(0.0),
            cleanup: site.cleanup.unwrap_or(0.0),
        };
        let windows = snapshot.excursions.iter().map(|there| windows::of(there, constants));
        let mut ready = Self {
            snapshot,
            constants: *constants,
            windows: windows.collect(),
            sites: snapshot.sites.iter().map(minutes).collect(),
            rates: snapshot.rates.iter().map(ReadyRates::of).collect(),
            practices: Practices::new(snapshot),
            aids: Aids::new(snapshot),
            plans: Vec::with_capacity(snapshot.excursions.len()),
            placed: vec![None; snapshot.tasks.len()],
            needed_by: vec![Vec::new(); snapshot.tasks.len()],
            sets_after: vec![Vec::new(); snapshot.tasks.len()],
            sets_without: BTreeMap::new(),
        };
        for (at, task) in snapshot.tasks.iter().enumerate() {
            for &need in &task.needs {
                ready.needed_by[need].push(at);
            }
        }
        ready.plan_each();
        ready.bring_in_each();
        ready
    }

    fn plan_each(&mut self) {
        let mut now = self.aids.at_first(self.snapshot);
        for (excursion, here) in self.snapshot.excursions.iter().enumerate() {
            let slots: Vec<SlotAt> = (0..here.slots.len()).filter(|&s| here.slots[s].set).collect();
            let sets = self.aids.along(now, slots.iter().map(|&slot| here.slots[slot].task));
            for &out in &slots {
                let task = here.slots[out].task;
                self.placed[task] = Some((excursion, out));
                if !self.aids.brings_in[task].is_empty() {
                    let left = slots.iter().filter(|&&slot| slot != out);
                    let sets = self.aids.along(now, left.map(|&slot| here.slots[slot].task));
                    self.sets_without.insert((excursion, out), sets);
                }
            }
            now = sets.last().copied().unwrap_or(now);
            let plan = self.lay_out(excursion, slots, sets);
            self.plans.push(plan);
        }
    }

    fn bring_in_each(&mut self) {
        for task in 0..self.snapshot.tasks.len() {
            if self.aids.brings_in[task].is_empty() {
                continue;
            }
            self.sets_after[task] = (0..self.plans.len())
                .map(|excursion| {
                    let sets = self.plans[excursion].sets.clone();
                    sets.into_iter().map(|set| self.aids.without(set, task)).collect()
                })
                .collect();
        }
    }
}
