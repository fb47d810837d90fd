//! Whether a task has a place at all.

use crate::places::{ExcursionAt, InhibitAt, OutsideAt, TaskAt};
use serde::Deserialize;
use typed_index_collections::ti_vec;

use super::super::super::{Arranged, Ask, Explained, Inhibit, Snapshot, matrix, one_cell};
use super::{Given, GivenTask, cases, fixed_overheads, made_task, snapshot};
use domain::words::{ArrangementState, GateVerdict, SlotVerdict};

#[derive(Deserialize)]
pub(super) struct Case {
    #[serde(flatten)]
    given: Given,
    task: Looking,
    /// The set task that brings the aid in; -1: the one that looks for a place.
    brings_aid: Option<i64>,
    place: Kind,
    /// Whether nothing speaks against the best place.
    #[serde(default)]
    fits: bool,
    /// Bounds of the common end there.
    end: Option<(f64, f64)>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
enum Kind {
    /// There is no place.
    None,
    /// The place that ends first, inhibits, tool, limit and supplies left aside.
    First,
    Another,
}

/// The task that looks for a place.
#[derive(Deserialize)]
struct Looking {
    #[serde(flatten)]
    task: GivenTask,
    count: usize,
    /// Set tasks that wait for it.
    needed_by: Vec<usize>,
    inhibits: Vec<(Option<f64>, Option<f64>)>,
}

pub(super) fn record(case: &Case) -> Snapshot {
    let mut made = snapshot(&case.given);
    let looking = &case.task;
    let mut own = made_task(&looking.task, "T-1");
    own.seats = Some(looking.count);
    own.needs = looking.task.needs.iter().map(|need| TaskAt::from(need + 1)).collect();
    own.inhibits = (0..looking.inhibits.len()).map(InhibitAt::from).collect();
    made.tasks[TaskAt(0)] = own.into();
    for then in &looking.needed_by {
        made.tasks[TaskAt::from(then + 1)].needs.push(TaskAt(0));
    }
    made.inhibits = ti_vec![Inhibit { code: "I-1".into(), ..Inhibit::default() }];
    let arranged = |(inhibit, &(from, until)): (usize, &(Option<f64>, Option<f64>))| Arranged {
        inhibit: inhibit.into(),
        state: ArrangementState::Arranged,
        from,
        until,
    };
    made.excursions[ExcursionAt(0)].arranged =
        looking.inhibits.iter().enumerate().map(arranged).collect();
    made.outside[OutsideAt(0)].brought_back_by =
        case.brings_aid.map(|at| usize::try_from(at + 1).unwrap().into());
    made
}

fn against(explained: &Explained) -> String {
    let good = |verdict| matches!(verdict, GateVerdict::Met | GateVerdict::NotChecked);
    let gates = explained.reasons.iter().filter(|(_, verdict, _)| !good(*verdict));
    gates
        .map(|(gate, verdict, reason)| format!("{gate:?} {verdict:?} {reason:?}"))
        .collect::<Vec<_>>()
        .join(", ")
}

#[test]
fn three_hundred_excursions_have_a_place_where_the_solver_finds_one() {
    // Source: OR-Tools 9.15 CP-SAT, proven; tests/reference/places.py
    let all: Vec<Case> = cases(include_str!("../../../../../tests/reference/places.json"));
    let count = |kind| all.iter().filter(|case| case.place == kind).count();
    assert_eq!([Kind::None, Kind::First, Kind::Another].map(count), [150, 75, 75]);
    let constants = fixed_overheads(0.0);
    let mut wrong = Vec::new();
    for (at, case) in all.iter().enumerate() {
        let made = record(case);
        let explained = one_cell(&made, &constants, TaskAt(0), ExcursionAt(0), &Ask::default());
        let (verdict, of_matrix) = (explained.cell.verdict, matrix(&made, &constants));
        let (of_matrix, place) = (of_matrix.cell(0, ExcursionAt(0)), explained.cell.place);
        assert_eq!((of_matrix.verdict, of_matrix.place), (verdict, place), "case {at}");
        let as_it_is = match verdict {
            SlotVerdict::Fits => case.place != Kind::None,
            SlotVerdict::Tight => case.place != Kind::None && !case.fits,
            SlotVerdict::DoesNotFit => case.place == Kind::None,
            SlotVerdict::CannotTell => false,
        };
        let ends = place.map(|place| place.excursion_end);
        let in_bounds = case
            .end
            .zip(ends)
            .is_none_or(|((least, most), end)| (least - 0.5..=most + 0.5).contains(&end));
        if !as_it_is || !in_bounds {
            let said = against(&explained);
            wrong.push(format!(
                "case {at}: {:?}, fits {}, ends {:?}; {verdict:?}, ends {ends:?}, {said}",
                case.place, case.fits, case.end
            ));
        }
    }
    assert!(wrong.is_empty(), "{} of 300\n{}", wrong.len(), wrong.join("\n"));
}
