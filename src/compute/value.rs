//! What a task is worth, as a sum that a person can follow; and what that is worth on a coming
//! excursion.

use crate::fit::{Cell, Snapshot, Standing};
use crate::places::{ExcursionAt, FlightAt, TaskAt};
use domain::words::{PriorityClass, SlotVerdict};
use typed_index_collections::{TiSlice, TiVec, ti_vec};

/// The weights, each with its default in this one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weights {
    /// By class, from the first.
    pub classes: [f64; 5],
    /// The part of the value of a task that its enabler earns while it is placed nowhere.
    pub of_dependents: f64,
    /// What each flight of waiting leaves.
    pub waiting: f64,
}

impl Default for Weights {
    fn default() -> Self {
        Self { classes: [100.0, 55.0, 30.0, 16.0, 9.0], of_dependents: 0.5, waiting: 0.9 }
    }
}

/// A task's value and what it is made of.
#[derive(Debug, Clone, PartialEq)]
pub struct Value {
    /// `None` where the class is not known: that part counts nothing.
    pub class: Option<PriorityClass>,
    pub own: f64,
    /// The open tasks that need it and are placed nowhere, each with what it adds.
    pub dependents: Vec<(TaskAt, f64)>,
    pub total: f64,
}

/// A value on one excursion: the value less what waiting and chance take.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worth {
    pub value: f64,
    /// Coming flights that fly before.
    pub waiting: u32,
    pub discount: f64,
    /// `None` where the record does not say; it takes nothing then.
    pub flown: Option<f64>,
    /// The chance that the excursion, with the task, ends inside its limit.
    pub reached: f64,
    /// Why it counts nothing there: it is moot once late, and it is late.
    pub moot: Option<Late>,
    pub total: f64,
}

/// Which of its dates a task is late for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Late {
    /// Its own date or flight.
    Own,
    /// The earlier date of what it ends, which the task's bound names.
    Bound,
}

/// The values of all tasks of a snapshot.
#[derive(Debug, Clone, PartialEq)]
pub struct Values {
    weights: Weights,
    needed_by: TiVec<TaskAt, Vec<TaskAt>>,
    totals: TiVec<TaskAt, f64>,
    /// The flights of the coming excursions, in their order, each once.
    coming: Vec<FlightAt>,
}

impl Values {
    pub fn of(snapshot: &Snapshot, weights: &Weights) -> Self {
        let mut needed_by = ti_vec![Vec::new(); snapshot.tasks.len()];
        let mut placed = ti_vec![false; snapshot.tasks.len()];
        for slot in snapshot.excursions.iter().flat_map(|there| &there.slots) {
            placed[slot.task] |= slot.set;
        }
        for (at, task) in snapshot.tasks.iter_enumerated() {
            let waits = matches!(task.standing, Standing::Open | Standing::Resting);
            for &need in task.needs.iter().filter(|_| waits && !placed[at]) {
                needed_by[need].push(at);
            }
        }
        let mut coming: Vec<FlightAt> =
            snapshot.excursions.iter().filter_map(|there| there.flight).collect();
        coming.sort_unstable();
        coming.dedup();
        let totals = ti_vec![f64::NAN; snapshot.tasks.len()];
        let mut values = Self { weights: *weights, needed_by, totals, coming };
        for task in snapshot.tasks.keys() {
            values.settle(snapshot, task);
        }
        values
    }

    /// Works out a total after those that it is made of. A ring of needs, which the record
    /// refuses, counts nothing twice.
    fn settle(&mut self, snapshot: &Snapshot, task: TaskAt) -> f64 {
        if self.totals[task].is_nan() {
            let own = self.own(snapshot, task);
            self.totals[task] = own;
            let dependents = self.needed_by[task].clone();
            let theirs: f64 = dependents.iter().map(|&then| self.settle(snapshot, then)).sum();
            self.totals[task] = own + self.weights.of_dependents * theirs;
        }
        self.totals[task]
    }

    fn own(&self, snapshot: &Snapshot, task: TaskAt) -> f64 {
        snapshot.tasks[task].class.map_or(0.0, |class| self.weights.classes[class as usize])
    }

    pub fn total(&self, task: TaskAt) -> f64 {
        self.totals[task]
    }

    /// The sum, part by part.
    pub fn sum(&self, snapshot: &Snapshot, task: TaskAt) -> Value {
        let adds = |&then: &TaskAt| (then, self.weights.of_dependents * self.totals[then]);
        Value {
            class: snapshot.tasks[task].class,
            own: self.own(snapshot, task),
            dependents: self.needed_by[task].iter().map(adds).collect(),
            total: self.totals[task],
        }
    }

    /// What a task is worth where a cell would put it; `None` where there is no place for it.
    /// Nothing where it comes too late to matter.
    pub fn worth(
        &self,
        snapshot: &Snapshot,
        task: TaskAt,
        excursion: ExcursionAt,
        cell: &Cell,
    ) -> Option<Worth> {
        let place = cell.place?;
        Some(self.worth_with(snapshot, task, excursion, place.chance))
    }

    pub fn worth_with(
        &self,
        snapshot: &Snapshot,
        task: TaskAt,
        excursion: ExcursionAt,
        reached: f64,
    ) -> Worth {
        let (here, of) = (&snapshot.excursions[excursion], &snapshot.tasks[task]);
        let own = here.flight.zip(of.needed_by_flight).is_some_and(|(at, by)| at > by)
            || here.day.zip(of.needed_by_day).is_some_and(|(at, by)| at > by);
        let bound = here.day.zip(of.bound.as_ref()).is_some_and(|(at, bound)| at > bound.day);
        let late = if own { Some(Late::Own) } else { bound.then_some(Late::Bound) };
        let moot = late.filter(|_| of.late_is_moot);
        let value = if moot.is_some() { 0.0 } else { self.totals[task] };
        let waiting = here.flight.map_or(0, |flight| self.flights_before(flight));
        let discount = self.weights.waiting.powi(i32::try_from(waiting).unwrap_or(i32::MAX));
        let total = value * discount * here.flown.unwrap_or(1.0) * reached;
        Worth { value, waiting, discount, flown: here.flown, reached, moot, total }
    }

    /// The coming flights that fly before that one.
    fn flights_before(&self, flight: FlightAt) -> u32 {
        let before = self.coming.partition_point(|&at| at < flight);
        u32::try_from(before).unwrap_or(u32::MAX)
    }
}

/// The best that a row of the matrix offers: where a task may be set, and what it is worth there.
pub fn best_worth(
    snapshot: &Snapshot,
    values: &Values,
    task: TaskAt,
    row: &TiSlice<ExcursionAt, Cell>,
) -> Option<(ExcursionAt, Worth)> {
    let may = |cell: &Cell| matches!(cell.verdict, SlotVerdict::Fits | SlotVerdict::Tight);
    row.iter_enumerated()
        .filter(|(_, cell)| may(cell))
        .filter_map(|(at, cell)| Some((at, values.worth(snapshot, task, at, cell)?)))
        .reduce(|best, next| if next.1.total > best.1.total { next } else { best })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fit::{Excursion, Slot, Task};
    use crate::places::SlotAt;
    use domain::cells::Cell as _;
    use domain::constraints::Bound;
    use domain::kinds::Kind;
    use domain::time::Day;

    fn task(class: PriorityClass, needs: &[TaskAt]) -> Task {
        Task { class: Some(class), needs: needs.to_vec(), share_left: 1.0, ..Task::default() }
    }

    fn on(flight: usize) -> Excursion {
        Excursion { flight: Some(flight.into()), ..Excursion::default() }
    }

    /// T0 opens the way for T1 (class 2), which opens it for T2 (class 1).
    fn chain() -> Snapshot {
        Snapshot {
            tasks: ti_vec![
                task(PriorityClass::Housekeeping, &[]).into(),
                task(PriorityClass::HoldsUp, &[TaskAt(0)]).into(),
                task(PriorityClass::Safety, &[TaskAt(1)]).into(),
            ],
            excursions: ti_vec![on(4), on(4), on(6), on(7)],
            ..Snapshot::default()
        }
    }

    #[test]
    fn an_enabler_earns_half_of_what_it_opens() {
        let snapshot = chain();
        let values = Values::of(&snapshot, &Weights::default());
        // 55 + 100/2 = 105; 9 + 105/2 = 61.5.
        assert!((values.total(TaskAt(1)) - 105.0).abs() < 1e-12);
        let sum = values.sum(&snapshot, TaskAt(0));
        assert!((sum.own - 9.0).abs() < 1e-12 && (sum.total - 61.5).abs() < 1e-12);
        assert_eq!(sum.dependents, [(TaskAt(1), 52.5)]);
    }

    #[test]
    fn nothing_is_earned_for_what_is_placed_or_ended() {
        let mut snapshot = chain();
        snapshot.excursions[ExcursionAt(2)].slots.push(Slot {
            task: TaskAt(1),
            set: true,
            ..Slot::default()
        });
        let total =
            |snapshot: &Snapshot| Values::of(snapshot, &Weights::default()).total(TaskAt(0));
        assert!((total(&snapshot) - 9.0).abs() < 1e-12);
        snapshot.excursions[ExcursionAt(2)].slots[SlotAt(0)].set = false;
        assert!((total(&snapshot) - 61.5).abs() < 1e-12);
        snapshot.tasks[TaskAt(1)].standing = Standing::Done;
        assert!((total(&snapshot) - 9.0).abs() < 1e-12);
    }

    #[test]
    fn each_flight_of_waiting_takes_a_tenth() {
        let mut snapshot = chain();
        snapshot.excursions[ExcursionAt(3)].flown = Some(0.5);
        let values = Values::of(&snapshot, &Weights::default());
        let worth = |at| values.worth_with(&snapshot, TaskAt(2), at, 0.8);
        assert!((worth(ExcursionAt(1)).total - 80.0).abs() < 1e-12);
        assert!((worth(ExcursionAt(2)).total - 72.0).abs() < 1e-12);
        assert_eq!((worth(ExcursionAt(3)).waiting, worth(ExcursionAt(3)).flown), (2, Some(0.5)));
        assert!((worth(ExcursionAt(3)).total - 100.0 * 0.81 * 0.5 * 0.8).abs() < 1e-12);
    }

    #[test]
    fn late_and_moot_is_worth_nothing_and_late_alone_keeps_its_value() {
        let mut snapshot = chain();
        snapshot.tasks[TaskAt(2)].needed_by_flight = Some(FlightAt(4));
        let worth = |snapshot: &Snapshot| {
            Values::of(snapshot, &Weights::default())
                .worth_with(snapshot, TaskAt(2), ExcursionAt(2), 1.0)
                .total
        };
        assert!((worth(&snapshot) - 90.0).abs() < 1e-12);
        snapshot.tasks[TaskAt(2)].late_is_moot = true;
        assert!(worth(&snapshot).abs() < 1e-12);
    }

    #[test]
    fn the_earlier_date_of_what_it_ends_makes_it_late_too() {
        let day = |text: &str| Day::read(text).ok();
        let mut snapshot = chain();
        snapshot.excursions[ExcursionAt(2)].day = day("2031-03-02");
        snapshot.tasks[TaskAt(2)].late_is_moot = true;
        snapshot.tasks[TaskAt(2)].bound = day("2031-03-01").map(|day| Bound {
            day,
            kind: Kind::Constraint,
            code: "CN-001".to_owned(),
        });
        let worth = |snapshot: &Snapshot| {
            Values::of(snapshot, &Weights::default()).worth_with(
                snapshot,
                TaskAt(2),
                ExcursionAt(2),
                1.0,
            )
        };
        assert_eq!((worth(&snapshot).total, worth(&snapshot).moot), (0.0, Some(Late::Bound)));
        snapshot.excursions[ExcursionAt(2)].day = day("2031-03-01");
        assert_eq!(worth(&snapshot).moot, None);
        assert!((worth(&snapshot).total - 90.0).abs() < 1e-12);
        // Its own date is named first.
        snapshot.excursions[ExcursionAt(2)].day = day("2031-03-02");
        snapshot.tasks[TaskAt(2)].needed_by_day = day("2031-02-01");
        assert_eq!(worth(&snapshot).moot, Some(Late::Own));
    }

    #[test]
    fn an_unknown_class_counts_nothing_and_a_ring_comes_to_an_end() {
        let mut snapshot = chain();
        snapshot.tasks[TaskAt(0)].class = None;
        snapshot.tasks[TaskAt(0)].needs = vec![TaskAt(2)];
        let values = Values::of(&snapshot, &Weights::default());
        assert!(values.sum(&snapshot, TaskAt(0)).own.abs() < 1e-12);
        assert!((0..3).all(|task| values.total(TaskAt(task)).is_finite()));
    }
}
