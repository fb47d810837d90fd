//! A snapshot made ready: which aids are in place at every moment, the travel that leaves, and
//! every excursion's set slots as stops of a timeline.

mod aids;
mod plan;
mod practice;
mod sequence;
mod suits;

use crate::places::{ExcursionAt, RatesAt, SiteAt, SlotAt, TaskAt};
pub(super) use aids::Passable;
pub(super) use plan::Plan;
pub(super) use practice::Practised;
pub(super) use sequence::{Held, Insertion, Sequence, Settled, in_the_way};
use typed_index_collections::{TiVec, ti_vec};

use aids::Aids;
use practice::Practices;
pub(super) use suits::Worked;

use suits::ReadyRates;

use super::constants::Constants;
use super::snapshot::{Site, Snapshot};
use super::windows;
use crate::timeline::{SiteMinutes, Windows};

pub(super) struct Ready<'s> {
    pub snapshot: &'s Snapshot,
    pub constants: Constants,
    /// Each excursion's windows, as far as they are known.
    pub windows: TiVec<ExcursionAt, Windows>,
    pub sites: TiVec<SiteAt, SiteMinutes>,
    rates: TiVec<RatesAt, ReadyRates>,
    practices: Practices,
    pub aids: Aids,
    pub plans: TiVec<ExcursionAt, Plan>,
    /// The last set slot of every task.
    pub placed: TiVec<TaskAt, Option<(ExcursionAt, SlotAt)>>,
    /// The tasks that need each task.
    pub needed_by: TiVec<TaskAt, Vec<TaskAt>>,
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
            plans: TiVec::with_capacity(snapshot.excursions.len()),
            placed: ti_vec![None; snapshot.tasks.len()],
            needed_by: ti_vec![Vec::new(); snapshot.tasks.len()],
        };
        for (at, task) in snapshot.tasks.iter_enumerated() {
            for &need in &task.needs {
                ready.needed_by[need].push(at);
            }
        }
        ready.plan_each();
        ready
    }

    fn plan_each(&mut self) {
        let mut now = self.aids.at_first(self.snapshot);
        for (excursion, here) in self.snapshot.excursions.iter_enumerated() {
            let slots: Vec<SlotAt> = here.slots.keys().filter(|&s| here.slots[s].set).collect();
            let first = now;
            for &slot in &slots {
                let task = here.slots[slot].task;
                self.placed[task] = Some((excursion, slot));
                now = self.aids.without(now, task);
            }
            let plan = self.lay_out(excursion, slots, first);
            self.plans.push(plan);
        }
    }
}
