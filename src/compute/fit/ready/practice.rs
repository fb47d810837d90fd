//! How far each approach was practised, on the ground and by each crew code, made ready so that a
//! cell only counts days.

use crate::places::{ApproachAt, CrewAt, ExcursionAt, TaskAt};
use std::cell::OnceCell;
use typed_index_collections::{TiSlice, TiVec, ti_vec};

use super::Ready;
use crate::fit::snapshot::{Approach, Excursion, Practice, Snapshot};
use domain::time::Day;
use domain::words::RehearsalKind;

/// How near the practice comes to what is to be done, the farthest first.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::fit) enum Practised {
    Never,
    OtherSide,
    OlderRevision,
    Undated,
    /// As it is to be done, on these days in their order.
    On(Vec<Day>),
}

/// The practice of every approach of every task.
pub(in crate::fit) struct Practices {
    /// Filled once somebody asks about the task: a plan that is only timed does not.
    of: TiVec<TaskAt, OnceCell<TiVec<ApproachAt, OfApproach>>>,
    /// The day of each excursion; where it is not set, its flight's launch.
    days: TiVec<ExcursionAt, Option<Day>>,
}

#[derive(Clone)]
struct OfApproach {
    rehearsed: Practised,
    /// A place a crew code; empty where nobody is trained in it.
    trained: TiVec<CrewAt, Practised>,
}

impl Practices {
    pub fn new(snapshot: &Snapshot) -> Self {
        let day = |here: &Excursion| here.day.or_else(|| snapshot.flights[here.flight?].launch);
        Self {
            of: ti_vec![OnceCell::new(); snapshot.tasks.len()],
            days: snapshot.excursions.iter().map(day).collect(),
        }
    }
}

impl Ready<'_> {
    pub fn rehearsed(&self, task: TaskAt, approach: ApproachAt) -> &Practised {
        &self.practice(task)[approach].rehearsed
    }

    pub fn trained(&self, task: TaskAt, approach: ApproachAt, crew: CrewAt) -> &Practised {
        let trained = &self.practice(task)[approach].trained;
        trained.get(crew).unwrap_or(&Practised::Never)
    }

    fn practice(&self, task: TaskAt) -> &TiSlice<ApproachAt, OfApproach> {
        self.practices.of[task].get_or_init(|| {
            let approaches = self.snapshot.tasks[task].approaches.iter();
            approaches.map(|approach| of_approach(approach, self.snapshot)).collect()
        })
    }

    pub fn day_of(&self, excursion: ExcursionAt) -> Option<Day> {
        self.practices.days[excursion]
    }
}

fn of_approach(approach: &Approach, snapshot: &Snapshot) -> OfApproach {
    // An analysis is no rehearsal, and a failed run is none either.
    let runs = approach.rehearsals.iter();
    let counted = runs.filter(|run| run.success && run.kind != RehearsalKind::Analysis);
    let by = |crew: CrewAt| {
        let own = approach.qualifications.iter().filter(move |one| one.crew == crew);
        practised(approach, own.map(|one| &one.practice))
    };
    OfApproach {
        rehearsed: practised(approach, counted.map(|run| &run.practice)),
        trained: if approach.qualifications.is_empty() {
            TiVec::new()
        } else {
            snapshot.crews.keys().map(by).collect()
        },
    }
}

/// The nearest of several practices. One without a side was from all of them, one without a
/// revision in the newest.
fn practised<'a>(approach: &Approach, all: impl Iterator<Item = &'a Practice>) -> Practised {
    let of_one = |one: &Practice| {
        let older = approach.revision.zip(one.revision).is_some_and(|(newest, then)| then < newest);
        if one.side.is_some() && one.side != approach.side {
            Practised::OtherSide
        } else if older {
            Practised::OlderRevision
        } else {
            one.day.map_or(Practised::Undated, |day| Practised::On(vec![day]))
        }
    };
    let nearer = |nearest: Practised, one: Practised| match (nearest, one) {
        (Practised::On(mut days), Practised::On(more)) => {
            days.extend(more);
            days.sort_unstable();
            Practised::On(days)
        }
        (nearest, one) => nearest.max(one),
    };
    all.map(of_one).fold(Practised::Never, nearer)
}
