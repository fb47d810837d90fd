//! An excursion as it is planned: when each of its slots begins and ends, the way of every lane,
//! and what is left before its plan and its limit.

use super::constants::Constants;
use super::ready::{Plan, Ready};
use super::reasons::Unknown;
use super::snapshot::{Excursion, ExcursionAt, SiteAt, SlotAt, Snapshot};
use crate::compute::supplies::Lasts;
use crate::compute::three_point::Spread;
use crate::compute::timeline::{
    Activity, Draws, Lanes, Sampled, Segment, Timed, Windows, sample, time,
};
use crate::domain::units::Pet;

/// Which slots an excursion is timed with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counting {
    Set,
    SetAndPencilled,
}

/// One excursion, timed.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedExcursion {
    /// What the record would have to say; without a limit alone the slots are timed all the same.
    pub unknown: Vec<Unknown>,
    /// The slots that were counted, in their order.
    pub slots: Vec<SlotAt>,
    /// `None` where something that is not known keeps it from being timed.
    pub timing: Option<Timing>,
    /// What the record would have to say for the suits' supplies to be told.
    pub suits_unknown: Vec<Unknown>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Timing {
    /// One per counted slot.
    pub slots: Vec<PlannedSlot>,
    /// What every lane does; `Work` names the place among the counted slots.
    pub segments: Vec<Segment>,
    pub legs: Vec<PlannedLeg>,
    /// When each seat is inside again, in the order of the excursion's seats.
    pub seat_ends: Vec<f64>,
    /// How long the supplies of each seat last; none where something about the suits is not known.
    pub seat_supplies: Vec<[Lasts; 4]>,
    /// When the last one is, at the mean of everything.
    pub end: f64,
    pub margin: Option<f64>,
    pub margin_to_plan: Option<f64>,
    /// Chance to end inside the limit, and inside the plan.
    pub chance: Option<f64>,
    pub chance_of_plan: Option<f64>,
    /// The minute by which every lane is inside with a chance of 50 and of 80 per cent.
    pub end_p50: f64,
    pub end_p80: f64,
    /// The arm's windows, day and night, as far as they are known.
    pub windows: Windows,
}

/// Minutes of elapsed time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlannedSlot {
    pub slot: SlotAt,
    pub lanes: Lanes,
    /// Travel of the lane that has the longest way there.
    pub travel: f64,
    pub start: f64,
    pub end: f64,
    pub work: Spread,
    /// No window of the arm or the light is left that is long enough for it.
    pub outside_windows: bool,
    /// The last minute at which the work may begin so that the rest still ends by the limit.
    pub latest_start: Option<f64>,
    pub latest_start_for_plan: Option<f64>,
}

/// A lane's way to the next worksite, by which worksites it goes.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedLeg {
    pub lane: usize,
    /// The place among the counted slots; `None`: the way home.
    pub to: Option<usize>,
    pub minutes: f64,
    pub by: Vec<SiteAt>,
}

/// Elapsed time to the nearest minute, never before the excursion began.
pub fn pet(minutes: f64) -> Pet {
    Pet(i64::from(super::place::whole(minutes)).max(0))
}

/// Times an excursion's present slots.
pub fn excursion_as_planned(
    snapshot: &Snapshot,
    excursion: ExcursionAt,
    counting: Counting,
    constants: &Constants,
) -> PlannedExcursion {
    let slots = counted(&snapshot.excursions[excursion], counting);
    timed(&mut Ready::new(snapshot, constants), excursion, slots)
}

/// Times some of an excursion's slots, in that order.
pub(super) fn timed(
    ready: &mut Ready,
    excursion: ExcursionAt,
    slots: Vec<SlotAt>,
) -> PlannedExcursion {
    let plan = laid_out(ready, excursion, slots);
    let slots = plan.slots.clone();
    let mut unknown = plan.unknown.clone();
    let stuck = unknown.iter().any(|what| !matches!(what, Unknown::Limit { .. }));
    let timing = if stuck {
        None
    } else {
        let routes = |place: usize| ready.aids.network(plan.sets[place]);
        match time(&plan.frame(ready), plan.order(), routes, ready.constants.crew_day()) {
            Ok(timed) => Some(timing(ready, &plan, timed)),
            Err((place, no_way)) => {
                unknown.push(ready.aids.no_way(plan.sets[place], no_way.from, no_way.to));
                None
            }
        }
    };
    PlannedExcursion { unknown, slots, timing, suits_unknown: plan.suits.unknown }
}

/// The ends of an excursion as planned in many draws; `None` where it cannot be timed.
pub fn excursion_sampled(
    snapshot: &Snapshot,
    excursion: ExcursionAt,
    counting: Counting,
    constants: &Constants,
    draws: Draws,
) -> Option<Sampled> {
    let mut ready = Ready::new(snapshot, constants);
    let slots = counted(&snapshot.excursions[excursion], counting);
    let plan = laid_out(&mut ready, excursion, slots);
    if plan.unknown.iter().any(|what| !matches!(what, Unknown::Limit { .. })) {
        return None;
    }
    let routes = |place: usize| ready.aids.network(plan.sets[place]);
    let limit = snapshot.excursions[excursion].limit;
    sample(&plan.frame(&ready), plan.order(), routes, constants.crew_day(), limit, draws).ok()
}

/// The slots that count, in their order.
pub(super) fn counted(excursion: &Excursion, counting: Counting) -> Vec<SlotAt> {
    let counts =
        |slot: &SlotAt| counting == Counting::SetAndPencilled || excursion.slots[*slot].set;
    (0..excursion.slots.len()).filter(counts).collect()
}

/// Slots as stops of a timeline.
fn laid_out(ready: &mut Ready, excursion: ExcursionAt, slots: Vec<SlotAt>) -> Plan {
    let here = &ready.snapshot.excursions[excursion].slots;
    let first = ready.plans[excursion].sets[0];
    let sets = ready.aids.along(first, slots.iter().map(|&slot| here[slot].task));
    ready.lay_out(excursion, slots, sets)
}

fn timing(ready: &Ready, plan: &Plan, timed: Timed) -> Timing {
    let here = &ready.snapshot.excursions[plan.excursion];
    let frame = plan.frame(ready);
    let latest =
        |bound: Option<f64>| bound.map(|bound| timed.latest_starts(&frame, plan.order(), bound));
    let (for_limit, for_plan) = (latest(here.limit), latest(here.planned));
    let slots = timed.blocks.iter().enumerate().map(|(place, block)| PlannedSlot {
        slot: plan.slots[place],
        lanes: plan.stops[place].lanes,
        travel: block.travel,
        start: block.start,
        end: block.end,
        outside_windows: block.outside_windows,
        work: plan.stops[place].work,
        latest_start: for_limit.as_ref().map(|latest| latest[place]),
        latest_start_for_plan: for_plan.as_ref().map(|latest| latest[place]),
    });
    let end = timed.finish.end();
    let ends = timed.finish.ends();
    let known = plan.suits.unknown.is_empty();
    let supplies = |(lane, &end)| plan.suits.lasting(ready, lane, end, None);
    Timing {
        slots: slots.collect(),
        legs: legs(ready, plan, &timed.segments),
        seat_ends: ends.to_vec(),
        seat_supplies: ends.iter().enumerate().filter(|_| known).filter_map(supplies).collect(),
        end,
        margin: here.limit.map(|limit| limit - end),
        margin_to_plan: here.planned.map(|planned| planned - end),
        chance: here.limit.map(|limit| timed.ends.chance_by(limit)),
        chance_of_plan: here.planned.map(|planned| timed.ends.chance_by(planned)),
        end_p50: timed.ends.end_at(0.5),
        end_p80: timed.ends.end_at(0.8),
        windows: frame.windows.clone(),
        segments: timed.segments,
    }
}

fn legs(ready: &Ready, plan: &Plan, segments: &[Segment]) -> Vec<PlannedLeg> {
    let mut legs: Vec<PlannedLeg> = Vec::new();
    for lane in 0..plan.lanes {
        let mut next = None;
        for segment in segments.iter().rev().filter(|segment| segment.lane == lane) {
            match segment.activity {
                Activity::Work { stop } => next = Some(stop),
                Activity::Travel { from, to } => {
                    let set = plan.sets[next.unwrap_or(plan.stops.len())];
                    let by = ready.aids.network(set).path(from, to).unwrap_or_default();
                    let minutes = segment.until - segment.from;
                    legs.push(PlannedLeg { lane, to: next, minutes, by });
                }
                Activity::Egress
                | Activity::Setup { .. }
                | Activity::Wait
                | Activity::Cleanup { .. }
                | Activity::Ingress => {}
            }
        }
    }
    legs.reverse();
    legs
}
