//! From the excursion as planned to its lanes.

use std::collections::BTreeMap;

use crate::addresses;
use crate::drawings::lanes::{self, Block, Doing, End, EndKind, Lanes, Step};
use crate::drawings::markup::Drawing;
use app::fit::Board;
use compute::fit::{
    Counting, ExcursionAt, PlannedExcursion, Room, SiteAt, SlotAt, TaskAt, Timing, Unknown,
    excursion_as_planned, excursion_sampled, room, seated,
};
use compute::timeline::{Draws, Sampled};
use domain::attempts::Attempt;
use domain::codes::TaskCode;
use domain::excursions::Excursion;

/// The id of the drawing and of its hatches.
pub(super) const ID: &str = "lanes";
pub(super) const SEED: u64 = 37;
const DRAWS: Draws = Draws { count: 10_000, seed: SEED };

/// An excursion timed with the slots that can be.
pub(super) struct TimedPlan {
    pub planned: PlannedExcursion,
    /// The places of the timed slots among all that stand here.
    places: Vec<SlotAt>,
    /// Those that the record does not know enough of.
    pub left_out: Vec<SlotAt>,
    pub sampled: Option<Sampled>,
    /// The same with the set tasks alone.
    pub set_only: PlannedExcursion,
    pub set_sampled: Option<Sampled>,
    pub room: Room,
}

impl TimedPlan {
    /// Times what can be timed. What is unknown of a slot leaves that slot out; what is unknown of
    /// the excursion leaves nothing to draw.
    pub fn of(board: &Board, at: ExcursionAt) -> Self {
        let counting = Counting::SetAndPencilled;
        let constants = &board.constants;
        let mut snapshot = seated(&board.snapshot, at, constants).into_owned();
        let whole = excursion_as_planned(&snapshot, at, counting, constants);
        let before = Self {
            places: snapshot.excursions[at].slots.keys().collect(),
            left_out: Vec::new(),
            sampled: whole
                .timing
                .as_ref()
                .and_then(|_| excursion_sampled(&snapshot, at, counting, constants, DRAWS)),
            planned: whole,
            set_only: excursion_as_planned(&snapshot, at, Counting::Set, constants),
            set_sampled: excursion_sampled(&snapshot, at, Counting::Set, constants, DRAWS),
            room: room(&snapshot, at, constants),
        };
        if before.planned.timing.is_some() {
            return before;
        }
        let (whole, mut places) = (before.planned.clone(), before.places.clone());
        let mut left_out = Vec::new();
        let mut timed = whole.clone();
        while timed.timing.is_none() {
            let here = &mut snapshot.excursions[at].slots;
            let stuck = |slot: SlotAt| {
                timed.unknown.iter().any(|what| concerns(what, here[slot].task, &board.snapshot))
            };
            let out: Vec<SlotAt> = here.keys().filter(|slot| stuck(*slot)).collect();
            if out.is_empty() {
                break;
            }
            for slot in out.into_iter().rev() {
                here.remove(slot);
                left_out.push(places.remove(slot.into()));
            }
            timed = excursion_as_planned(&snapshot, at, counting, &board.constants);
        }
        left_out.sort_unstable();
        let planned = PlannedExcursion { unknown: whole.unknown, ..timed };
        Self { planned, places, left_out, ..before }
    }

    /// How it ends, where every slot is timed.
    pub fn ending(&self) -> Option<&Timing> {
        self.planned.timing.as_ref().filter(|_| self.left_out.is_empty())
    }

    /// The place of a slot among those that are timed.
    pub fn stop(&self, place: SlotAt) -> Option<usize> {
        self.places.iter().position(|at| *at == place)
    }

    /// When a slot is worked; the place is that among all slots that stand here.
    pub fn slot(&self, place: SlotAt) -> Option<compute::fit::PlannedSlot> {
        let timed = SlotAt::from(self.stop(place)?);
        self.planned.timing.as_ref()?.slots.iter().find(|slot| slot.slot == timed).copied()
    }
}

/// Whether something unknown concerns the slot of a task.
fn concerns(what: &Unknown, task: TaskAt, snapshot: &compute::fit::Snapshot) -> bool {
    match what {
        Unknown::SlotSeats { task: of, .. }
        | Unknown::SlotOrder { task: of, .. }
        | Unknown::Site { task: of }
        | Unknown::Work { task: of }
        | Unknown::TaskSeats { task: of } => *of == task,
        Unknown::Setup { site } | Unknown::Cleanup { site } => {
            snapshot.tasks[task].site == Some(*site)
        }
        _ => false,
    }
}

/// What the drawing has to know of a slot beside its minutes.
pub(super) struct DrawnSlot {
    pub code: String,
    pub version: i64,
    pub number: usize,
    pub pencilled: bool,
    pub movable: bool,
}

/// Draws the lanes; `shown` has a row for each slot that stands here, in its order.
pub(super) fn draw(
    board: &Board,
    at: ExcursionAt,
    plan: &TimedPlan,
    shown: &[DrawnSlot],
    titles: &BTreeMap<TaskCode, String>,
    on_paper: bool,
) -> Option<Drawing> {
    let timing = plan.planned.timing.as_ref()?;
    let excursion = &board.snapshot.excursions[at];
    let site = |site: SiteAt| board.snapshot.sites[site].code.as_str().to_owned();
    let step = |segment: &compute::timeline::Segment| {
        let doing = Doing::of(segment.activity, site)?;
        Some(Step { lane: segment.lane, from: segment.from, until: segment.until, doing })
    };
    let block = |place: SlotAt, shown: &DrawnSlot| {
        let slot = plan.slot(place)?;
        let task = &board.slots[at].get(place)?.task;
        Some(Block {
            number: shown.number,
            slot: shown.code.clone(),
            version: shown.version,
            task: task.as_str().to_owned(),
            address: addresses::within("tasks", task),
            title: titles.get(task).cloned().unwrap_or_default(),
            lanes: slot.lanes.each().collect(),
            from: slot.start,
            until: slot.end,
            latest: slot.latest_start.filter(|at| *at >= 0.0 && plan.left_out.is_empty()),
            pencilled: shown.pencilled,
            outside_windows: slot.outside_windows,
            movable: shown.movable && !on_paper,
            ..Block::default()
        })
    };
    let stretches = |all: &[compute::lighting::Stretch]| {
        all.iter().map(|stretch| (stretch.from, stretch.until)).collect()
    };
    let ending = plan.ending();
    let ends = [
        (EndKind::P50, ending.map(|timing| timing.end_p50)),
        (EndKind::P80, ending.map(|timing| timing.end_p80.ceil())),
        (EndKind::Plan, excursion.planned),
        (EndKind::Limit, excursion.limit),
    ];
    let lanes = Lanes {
        excursion: excursion.code.as_str().to_owned(),
        seats: excursion.seats.iter().map(|seat| format!("EV{seat}")).collect(),
        steps: timing.segments.iter().filter_map(step).collect(),
        blocks: board.slots[at]
            .keys()
            .zip(shown)
            .filter_map(|(place, shown)| block(place, shown))
            .collect(),
        nights: stretches(&timing.windows.nights),
        arm: stretches(&timing.windows.arm),
        ends: ends.into_iter().filter_map(|(kind, at)| Some(End { kind, at: at? })).collect(),
        day: None,
        on_paper,
    };
    Some(lanes::draw(&lanes, ID))
}

/// The lanes as they were flown: the attempts whose PET is recorded, between egress and ingress.
pub(super) fn flown(
    excursion: &Excursion,
    attempts: &[Attempt],
    titles: &BTreeMap<TaskCode, String>,
    number: impl Fn(&TaskCode) -> Option<usize>,
) -> Option<Drawing> {
    let real = |minutes: i64| f64::from(i32::try_from(minutes).unwrap_or(i32::MAX));
    let seats: Vec<u8> = excursion.seats.numbers().collect();
    let blocks: Vec<Block> = attempts
        .iter()
        .filter_map(|attempt| {
            let (from, until) = (attempt.pet_start?, attempt.pet_end?);
            let mut lanes: Vec<usize> = attempt
                .seats
                .numbers()
                .filter_map(|seat| seats.iter().position(|other| *other == seat))
                .collect();
            lanes.sort_unstable();
            Some(Block {
                number: number(&attempt.task).map_or(0, |at| at + 1),
                slot: attempt.code.0.to_string(),
                task: attempt.task.to_string(),
                address: addresses::within("tasks", &attempt.task),
                title: format!(
                    "{}: {}",
                    attempt.outcome,
                    titles.get(&attempt.task).map_or("", String::as_str)
                ),
                from: real(from.0),
                until: real(until.0),
                lanes,
                ..Block::default()
            })
        })
        .filter(|block| !block.lanes.is_empty())
        .collect();
    if blocks.is_empty() || seats.is_empty() {
        return None;
    }
    let egress = excursion.egress.map(|minutes| real(minutes.0));
    let actual = excursion.actual.map(|minutes| real(minutes.0));
    let step = |lane: usize, from: f64, until: f64, doing: Doing| Step { lane, from, until, doing };
    let mut steps = Vec::new();
    for lane in 0..seats.len() {
        steps.extend(egress.map(|until| step(lane, 0.0, until, Doing::Egress)));
        if let (Some(end), Some(ingress)) = (actual, excursion.ingress) {
            steps.push(step(lane, (end - real(ingress.0)).max(0.0), end, Doing::Ingress));
        }
    }
    let ends = [
        (EndKind::Plan, excursion.planned.map(|minutes| real(minutes.0))),
        (EndKind::Limit, excursion.limit.map(|minutes| real(minutes.0))),
    ];
    let lanes = Lanes {
        excursion: excursion.code.0.to_string(),
        seats: seats.iter().map(|seat| format!("EV{seat}")).collect(),
        steps,
        blocks,
        arm: excursion
            .arm_windows
            .iter()
            .map(|window| (real(window.from.0), real(window.until.0)))
            .collect(),
        ends: ends.into_iter().filter_map(|(kind, at)| Some(End { kind, at: at? })).collect(),
        on_paper: true,
        ..Lanes::default()
    };
    Some(lanes::draw(&lanes, "flown"))
}
