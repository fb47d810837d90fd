//! Laws that hold for every record: seeds of a small random one.

use crate::places::{
    ApproachAt, ExcursionAt, InhibitAt, OutsideAt, SiteAt, SlotAt, TaskAt, ToolAt,
};
use proptest::prelude::*;

use super::super::load::{self, Size};
use super::super::place::up;
use super::super::{
    Arranged, Ask, Cell, Constants, Counting, Snapshot, excursion_as_planned, matrix, matrix_where,
    one_cell, some_cells,
};
use super::{Route, Site, add, record, set, task};
use crate::three_point::ThreePoint;
use domain::units::{Pet, Window};
use domain::words::{ArrangementState, GateName, GateVerdict, SlotVerdict};

#[derive(Debug, Clone)]
struct Drawn {
    site: SiteAt,
    minutes: f64,
    seats: usize,
    /// Excursion and seat where it is set; none: it stays open without a slot.
    slot: Option<(ExcursionAt, u8)>,
    needs: Option<TaskAt>,
    arm: bool,
}

fn drawn() -> impl Strategy<Value = Drawn> {
    let slot = prop::option::weighted(0.6, ((0..3_u32).prop_map(ExcursionAt), 1..3_u8));
    let needs = prop::option::weighted(0.2, (0..6_u32).prop_map(TaskAt));
    let arm = prop::bool::weighted(0.3);
    ((1..3_u32).prop_map(SiteAt), 10..150_u32, 1..3_usize, slot, needs, arm).prop_map(
        |(site, minutes, seats, slot, needs, arm)| Drawn {
            site,
            minutes: minutes.into(),
            seats,
            slot,
            needs,
            arm,
        },
    )
}

fn fill(record: &mut Snapshot, drawn: &[Drawn]) {
    for (at, one) in drawn.iter().enumerate() {
        let mut new = task(&format!("T-{}", at + 2), one.site, one.minutes);
        new.work = ThreePoint::new(one.minutes * 0.7, one.minutes, one.minutes * 1.8);
        new.seats = Some(one.seats);
        new.arm = one.arm;
        new.needs = one.needs.filter(|&need| need < record.tasks.next_key()).into_iter().collect();
        let at = add(record, new);
        if let Some((excursion, seat)) = one.slot {
            let seats = if one.seats == 2 { vec![1, 2] } else { vec![seat] };
            set(record, at, excursion, &seats);
        }
    }
}

/// Verdict, margin and chance of every cell of the first rows.
fn figures(record: &Snapshot, rows: usize) -> Vec<(SlotVerdict, Option<(f64, f64)>)> {
    let all = matrix(record, &Constants::default());
    (0..rows)
        .flat_map(|row| all.row(row).to_vec())
        .map(|cell| (cell.verdict, cell.place.map(|place| (place.margin, place.chance))))
        .collect()
}

/// Arm windows with a last one that never closes, so that everything finds its window.
fn with_arm(record: &mut Snapshot) {
    let window = |from, until| Window { from: Pet(from), until: Pet(until) };
    for excursion in &mut record.excursions {
        excursion.arm_windows = vec![window(60, 130), window(170, 260), window(300, 9_000)];
    }
}

proptest! {
    #[test]
    fn no_place_that_fits_has_more_margin_than_the_best(
        drawn in prop::collection::vec(drawn(), 0..8), own in drawn(), arm in any::<bool>(),
    ) {
        let mut record = record();
        if arm {
            with_arm(&mut record);
        }
        record.tasks[TaskAt(0)].seats = Some(own.seats);
        record.tasks[TaskAt(0)].arm = own.arm;
        fill(&mut record, &drawn);
        let constants = Constants::default();
        for excursion in record.excursions.keys() {
            let best = one_cell(&record, &constants, TaskAt(0), excursion, &Ask::default()).cell;
            let choices = if own.seats == 2 { vec![vec![1, 2]] } else { vec![vec![1], vec![2]] };
            for seats in choices {
                let slots = &record.excursions[excursion].slots;
                for before in slots.keys().chain([slots.next_key()]) {
                    let ask = Ask { seats: seats.clone(), before_slot: Some(before), ..Ask::default() };
                    let there = one_cell(&record, &constants, TaskAt(0), excursion, &ask).cell;
                    match there.verdict {
                        SlotVerdict::Fits => {
                            // A chance that is tight by more than ten points is not searched on.
                            let chance = best.place.unwrap().chance;
                            if best.verdict == SlotVerdict::Tight && chance < 0.7 {
                                continue;
                            }
                            prop_assert_eq!(best.verdict, SlotVerdict::Fits);
                            let (best, there) = (best.place.unwrap(), there.place.unwrap());
                            prop_assert!(best.margin >= there.margin - 1e-9, "{best:?} {there:?}");
                        }
                        SlotVerdict::Tight => prop_assert_ne!(best.verdict, SlotVerdict::DoesNotFit),
                        SlotVerdict::DoesNotFit | SlotVerdict::CannotTell => {}
                    }
                }
            }
        }
    }

    #[test]
    fn one_more_set_task_never_adds_margin(drawn in prop::collection::vec(drawn(), 0..7), one in drawn()) {
        let mut record = record();
        fill(&mut record, &drawn);
        let rows = record.tasks.len();
        let before = matrix(&record, &Constants::default());
        fill(&mut record, &[Drawn { slot: Some((ExcursionAt(1), 2)), needs: None, ..one }]);
        let after = matrix(&record, &Constants::default());
        for row in 0..rows {
            for excursion in record.excursions.keys() {
                let (was, is) = (before.cell(row, excursion), after.cell(row, excursion));
                if was.verdict == SlotVerdict::Fits && is.verdict == SlotVerdict::Fits {
                    prop_assert!(is.place.unwrap().margin <= was.place.unwrap().margin + 1e-9);
                }
            }
        }
    }

    #[test]
    fn a_worksite_that_nobody_uses_changes_nothing(drawn in prop::collection::vec(drawn(), 0..7)) {
        let mut record = record();
        fill(&mut record, &drawn);
        let rows = record.tasks.len();
        let without = figures(&record, rows);
        record.sites.push(Site { code: "W-BOOM".into(), ..Site::default() });
        for (from, to) in [(0, 3), (3, 0), (1, 3), (3, 2)] {
            record.routes.push(Route { from: SiteAt(from), to: SiteAt(to), minutes: 40, aid: None });
        }
        prop_assert_eq!(without, figures(&record, rows));
    }

    #[test]
    fn names_change_nothing(drawn in prop::collection::vec(drawn(), 0..7)) {
        let mut record = record();
        fill(&mut record, &drawn);
        let rows = record.tasks.len();
        let before = figures(&record, rows);
        for (at, task) in record.tasks.iter_mut().enumerate() {
            task.code = format!("Ω-{}", 90 - at).into();
        }
        for (at, excursion) in record.excursions.iter_mut().enumerate() {
            excursion.code = format!("Z-{}", 9 - at).into();
        }
        for (at, site) in record.sites.iter_mut().enumerate() {
            site.code = format!("Ж-{}", 9 - at).into();
        }
        prop_assert_eq!(before, figures(&record, rows));
    }

    #[test]
    fn what_fits_survives_being_set_and_timed_again(
        drawn in prop::collection::vec(drawn(), 0..7), ties in ties(), own in drawn(),
    ) {
        let mut record = record();
        record.tasks[TaskAt(0)].arm = own.arm;
        record.tasks[TaskAt(0)].work = ThreePoint::new(own.minutes * 0.7, own.minutes, own.minutes * 1.8);
        fill(&mut record, &drawn);
        tie(&mut record, &ties);
        let all = matrix(&record, &Constants::default());
        for excursion in record.excursions.keys() {
            let cell = *all.cell(0, excursion);
            let Some(place) = cell.place else { continue };
            let mut after = record.clone();
            let seats: Vec<u8> = place.lanes.each().map(|lane| [1, 2][lane]).collect();
            let (approach, begin) = (cell.approach, place.begin);
            let slot = super::Slot { task: TaskAt(0), set: true, seats, approach, begin, ..super::Slot::default() };
            after.excursions[excursion].slots.insert(place.before_slot, slot);
            let set = super::cell(&after, 0, excursion).cell;
            prop_assert_eq!(set.verdict, cell.verdict);
            let again = set.place.unwrap();
            prop_assert!((again.margin - place.margin).abs() < 1e-9);
            prop_assert!((again.chance - place.chance).abs() < 1e-9);
            // The plan that is drawn has it there too.
            let planned = excursion_as_planned(&after, excursion, Counting::Set, &Constants::default());
            let timing = planned.timing.unwrap();
            let own = timing.slots.iter().find(|slot| slot.slot == place.before_slot).unwrap();
            prop_assert!((own.start - f64::from(up(place.start))).abs() < 1e-9);
            prop_assert!((timing.end - f64::from(up(place.excursion_end))).abs() < 1e-9);
        }
    }

    #[test]
    fn the_parts_of_a_plan_add_up(
        drawn in prop::collection::vec(drawn(), 0..8), ties in ties(), odd in 0.0..1.0_f64,
    ) {
        let mut record = record();
        fill(&mut record, &drawn);
        tie(&mut record, &ties);
        record.excursions[ExcursionAt(0)].egress = Some(30.0 + odd);
        for excursion in record.excursions.keys() {
            let planned = excursion_as_planned(&record, excursion, Counting::Set, &Constants::default());
            let Some(timing) = planned.timing else { continue };
            for (lane, end) in timing.seat_ends.iter().enumerate() {
                let own = timing.segments.iter().filter(|segment| segment.lane == lane);
                let mut now = 0.0;
                for segment in own {
                    prop_assert!(segment.from.to_bits() == f64::to_bits(now) && segment.until.fract() == 0.0);
                    now = segment.until;
                }
                prop_assert!(now.to_bits() == end.to_bits());
            }
            for slot in &timing.slots {
                prop_assert!(slot.start.fract() == 0.0 && (slot.end - slot.start - slot.minutes).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn a_later_limit_makes_no_verdict_worse(drawn in prop::collection::vec(drawn(), 0..7), ties in ties()) {
        let rank = |verdict: SlotVerdict| match verdict {
            SlotVerdict::Fits => 0,
            SlotVerdict::Tight => 1,
            SlotVerdict::CannotTell => 2,
            SlotVerdict::DoesNotFit => 3,
        };
        let mut record = record();
        fill(&mut record, &drawn);
        tie(&mut record, &ties);
        let mut last = None;
        for limit in [240.0, 300.0, 360.0, 420.0, 480.0, 600.0] {
            record.excursions[ExcursionAt(1)].limit = Some(limit);
            let is = rank(super::cell(&record, 0, 1).cell.verdict);
            prop_assert!(last.is_none_or(|last| is <= last), "{limit}");
            last = Some(is);
        }
    }
}

/// What ties the tasks of a record together: an inhibit in place for a while, a tool of which
/// there is one, a line that one of them brings in.
#[derive(Debug, Clone)]
struct Ties {
    inhibit: Option<(u32, u32)>,
    own_inhibit: bool,
    tools: Vec<bool>,
    line: Option<TaskAt>,
}

fn ties() -> impl Strategy<Value = Ties> {
    let inhibit = prop::option::of((0..200_u32, 60..300_u32));
    let tools = prop::collection::vec(prop::bool::weighted(0.4), 8);
    let line = prop::option::weighted(0.4, (1..8_u32).prop_map(TaskAt));
    (inhibit, any::<bool>(), tools, line).prop_map(|(inhibit, own_inhibit, tools, line)| Ties {
        inhibit,
        own_inhibit,
        tools,
        line,
    })
}

fn tie(record: &mut Snapshot, ties: &Ties) {
    if let Some((from, minutes)) = ties.inhibit {
        for excursion in &mut record.excursions {
            let (from, until) = (Some(from.into()), Some((from + minutes).into()));
            let state = ArrangementState::Arranged;
            excursion.arranged = vec![Arranged { inhibit: InhibitAt(0), state, from, until }];
        }
        if ties.own_inhibit {
            record.tasks[TaskAt(0)].inhibits = vec![InhibitAt(0)];
        }
    }
    record.tools[ToolAt(0)].aboard = Some(1);
    for (task, uses) in record.tasks.iter_mut().zip(&ties.tools) {
        if *uses {
            task.approaches[ApproachAt(0)].tools = vec![ToolAt(0)];
        }
    }
    for excursion in &mut record.excursions {
        for slot in &mut excursion.slots {
            slot.approach = Some(ApproachAt(0));
        }
    }
    if let Some(fetch) = ties.line.filter(|fetch| *fetch < record.tasks.next_key()) {
        for route in record.routes.iter_mut().filter(|route| route.to == super::KEEL) {
            route.aid = Some(OutsideAt(0));
        }
        record.outside.push(super::aid("O-1", Some(fetch)));
    }
}

#[test]
fn the_matrix_and_single_cells_agree_on_a_made_up_load() {
    for seed in 0..3 {
        let size = Size { open_tasks: 25, excursions: 4, slots_each: 8, sites: 15 };
        let record = load::snapshot(&size, seed);
        let all = matrix(&record, &Constants::default());
        for (row, &task) in all.tasks.iter().enumerate() {
            for excursion in record.excursions.keys() {
                let (cell, alone) =
                    (all.cell(row, excursion), super::cell(&record, task, excursion).cell);
                let said = |cell: &Cell| (cell.verdict, cell.deciding(), cell.place, cell.approach);
                // Checks that decide nothing may be left out where time is hopeless.
                assert_eq!(said(cell), said(&alone), "seed {seed}");
            }
        }
        // A part of it, and cells beside each other, say the same as the whole.
        let wanted =
            |task: TaskAt, excursion: ExcursionAt| task.0 % 3 == 1 && excursion != ExcursionAt(2);
        let part = matrix_where(&record, &Constants::default(), wanted);
        assert!(part.tasks.iter().all(|task| task.0 % 3 == 1) && !part.tasks.is_empty());
        let mut asked = Vec::new();
        for (row, &task) in part.tasks.iter().enumerate() {
            let whole = all.tasks.iter().position(|other| *other == task).unwrap();
            for excursion in record.excursions.keys().filter(|excursion| wanted(task, *excursion)) {
                assert_eq!(part.cell(row, excursion), all.cell(whole, excursion), "seed {seed}");
                asked.push((task, excursion));
            }
        }
        let several = some_cells(&record, &Constants::default(), &asked, &Ask::default());
        for (explained, (task, excursion)) in several.iter().zip(asked) {
            let alone = super::cell(&record, task, excursion);
            assert_eq!(*explained, alone, "{task:?} on {excursion:?}, seed {seed}");
        }
    }
}

#[test]
fn nobody_waits_past_the_limit_for_a_window_that_was_missed() {
    // Found by the law above: half of the days T-1 is not ready while its inhibit is in place, and
    // was taken to wait past the limit; past one of 10 hours the batteries did not last.
    let mut record = record();
    let work = |site, minutes| Drawn {
        site,
        minutes,
        seats: 1,
        slot: Some((ExcursionAt(1), 1)),
        needs: None,
        arm: false,
    };
    fill(&mut record, &[work(SiteAt(1), 56.0), work(SiteAt(1), 128.0)]);
    let tools = vec![true, true, false];
    tie(&mut record, &Ties { inhibit: Some((40, 65)), own_inhibit: true, tools, line: None });
    for limit in [480.0, 600.0, 800.0] {
        record.excursions[ExcursionAt(1)].limit = Some(limit);
        let explained = super::cell(&record, 0, 1);
        assert_eq!(explained.cell.verdict, SlotVerdict::Tight, "{limit}");
        assert_eq!(explained.cell.gate(GateName::Supplies), GateVerdict::Met, "{limit}");
        let place = explained.cell.place.unwrap();
        assert!((0.4..0.6).contains(&place.chance), "{place:?}");
    }
    // The same stands on the excursion once it is set.
    set(&mut record, 0, 1, &[1]);
    record.excursions[ExcursionAt(1)].slots.rotate_right(SlotAt(1));
    let planned =
        excursion_as_planned(&record, ExcursionAt(1), Counting::Set, &Constants::default())
            .timing
            .unwrap();
    assert!(planned.end_p80 > 800.0, "it does not end in time in eight cases of ten");
    assert!(planned.seat_ends_p80.iter().all(|end| *end < 480.0), "{:?}", planned.seat_ends_p80);
}
