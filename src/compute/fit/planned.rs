//! An excursion as it is planned: when each of its slots begins and ends, the way of every lane,
//! and what is left before its plan and its limit.

use super::constants::Constants;
use super::place::up;
use super::ready::{Passable, Plan, Ready, Settled};
use super::reasons::Unknown;
use super::snapshot::{Excursion, Snapshot};
use crate::places::{ExcursionAt, SiteAt, SlotAt};
use crate::supplies::Lasts;
use crate::three_point::Spread;
use crate::timeline::{
    Activity, Draws, Frame, InWindows, Lanes, Order, Sampled, Segment, Timed, UNBOUNDED, WhichEnd,
    Windows, ends, sample, simulate, time,
};
use domain::units::Pet;

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

/// Minutes of elapsed time. Every block is cut at whole minutes and lasts from one cut to the
/// next, so that the parts add up; what is the latest moment for something is rounded down.
#[derive(Debug, Clone, PartialEq)]
pub struct Timing {
    /// One per counted slot.
    pub slots: Vec<PlannedSlot>,
    /// What every lane does; `Work` names the place among the counted slots.
    pub segments: Vec<Segment>,
    pub legs: Vec<PlannedLeg>,
    /// When each seat is inside again, in the order of the excursion's seats.
    pub seat_ends: Vec<f64>,
    /// The same in eight cases of ten on which all work finds its windows: the end at which supplies
    /// are judged.
    pub seat_ends_p80: Vec<f64>,
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
    /// Minutes of work between them, pauses left out.
    pub minutes: f64,
    /// No window of the arm or the light is left that is long enough for it.
    pub outside_windows: bool,
    /// The last minute at which the work may begin so that the rest still ends by the limit; below
    /// 0 where none is left.
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

/// Elapsed time in whole minutes, a minute that has begun counting as gone; never before the
/// excursion began.
pub fn pet(minutes: f64) -> Pet {
    Pet(i64::from(up(minutes)).max(0))
}

/// Times an excursion's present slots.
pub fn excursion_as_planned(
    snapshot: &Snapshot,
    excursion: ExcursionAt,
    counting: Counting,
    constants: &Constants,
) -> PlannedExcursion {
    let slots = counted(&snapshot.excursions[excursion], counting);
    timed(&Ready::new(snapshot, constants), excursion, slots)
}

/// When a slot's work has ended, and when its seats have left its worksite: minutes of elapsed time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeftBy {
    pub slot: SlotAt,
    pub ended: f64,
    pub left: f64,
}

/// The same of an excursion's present slots if every aid that is in place stayed out, so that those
/// too are timed whose route is gone by then. `None` where they cannot be timed.
pub fn with_aids_out(
    snapshot: &Snapshot,
    excursion: ExcursionAt,
    counting: Counting,
    constants: &Constants,
) -> Option<Vec<LeftBy>> {
    let mut out = snapshot.clone();
    for route in &mut out.routes {
        route.aid = route.aid.filter(|aid| !snapshot.outside[*aid].in_place);
    }
    let timing = excursion_as_planned(&out, excursion, counting, constants).timing?;
    let left = |slot: &PlannedSlot| {
        let leaves = slot.lanes.each().filter_map(|lane| {
            let own = timing.segments.iter().filter(|segment| segment.lane == lane);
            let mut later = own.filter(|segment| segment.from >= slot.end);
            let leg = later.find(|one| matches!(one.activity, Activity::Travel { .. }))?;
            Some(leg.until)
        });
        let left = leaves.fold(slot.end, f64::max);
        LeftBy { slot: slot.slot, ended: slot.end, left }
    };
    Some(timing.slots.iter().map(left).collect())
}

/// Times some of an excursion's slots, in that order.
fn timed(ready: &Ready, excursion: ExcursionAt, slots: Vec<SlotAt>) -> PlannedExcursion {
    let plan = laid_out(ready, excursion, slots);
    let slots = plan.slots.clone();
    let mut unknown = plan.unknown.clone();
    let timing = if stuck(&plan) {
        None
    } else {
        match ready.settle(&plan.frame(ready), &plan.sequence) {
            Ok(settled) => timing(ready, &plan, &settled),
            Err((_, what)) => {
                unknown.push(what);
                None
            }
        }
    };
    PlannedExcursion { unknown, slots, timing, suits_unknown: plan.suits.unknown }
}

/// The minute by which every lane is inside with a chance of 80 per cent, of some of an excursion's
/// slots in that order; `None` where they cannot be timed.
pub(super) fn end_p80(ready: &Ready, excursion: ExcursionAt, slots: Vec<SlotAt>) -> Option<f64> {
    let plan = laid_out(ready, excursion, slots);
    if stuck(&plan) {
        return None;
    }
    let frame = plan.frame(ready);
    let Settled { blocks, finish, needs, .. } = ready.settle(&frame, &plan.sequence).ok()?;
    let order = Order { stops: &plan.sequence.stops, needs: &needs };
    let variation = ready.constants.variation();
    Some(ends(&frame, order, &blocks, &finish, variation).end_at(0.8))
}

/// Whether something is not known without which it cannot be timed.
fn stuck(plan: &Plan) -> bool {
    plan.unknown.iter().any(|what| !matches!(what, Unknown::Limit { .. }))
}

/// The ends of an excursion as planned in many draws; `None` where it cannot be timed.
pub fn excursion_sampled(
    snapshot: &Snapshot,
    excursion: ExcursionAt,
    counting: Counting,
    constants: &Constants,
    draws: Draws,
) -> Option<Sampled> {
    let ready = Ready::new(snapshot, constants);
    let slots = counted(&snapshot.excursions[excursion], counting);
    let plan = laid_out(&ready, excursion, slots);
    if stuck(&plan) {
        return None;
    }
    let frame = plan.frame(&ready);
    let settled = ready.settle(&frame, &plan.sequence).ok()?;
    let routes = Passable::new(&ready.aids, plan.sequence.first, &settled.brought_in);
    let order = Order { stops: &plan.sequence.stops, needs: &settled.needs };
    let limit = snapshot.excursions[excursion].limit;
    sample(&frame, order, &routes, constants.variation(), limit, draws).ok()
}

/// The slots that count, in their order.
pub(super) fn counted(excursion: &Excursion, counting: Counting) -> Vec<SlotAt> {
    let counts =
        |slot: &SlotAt| counting == Counting::SetAndPencilled || excursion.slots[*slot].set;
    excursion.slots.keys().filter(counts).collect()
}

/// Slots as stops of a timeline.
fn laid_out(ready: &Ready, excursion: ExcursionAt, slots: Vec<SlotAt>) -> Plan {
    ready.lay_out(excursion, slots, ready.plans[excursion].sequence.first)
}

/// The plan that was settled, with all that is told of it.
fn timing(ready: &Ready, plan: &Plan, settled: &Settled) -> Option<Timing> {
    let here = &ready.snapshot.excursions[plan.excursion];
    let frame = plan.frame(ready);
    let order = Order { stops: &plan.sequence.stops, needs: &settled.needs };
    let routes = Passable::new(&ready.aids, plan.sequence.first, &settled.brought_in);
    let timed = time(&frame, order, &routes).ok()?;
    let ends = timed.ends(&frame, order, ready.constants.variation());
    let latest = |bound: Option<f64>| {
        let all = bound.map(|bound| timed.latest_starts(&frame, order, bound));
        all.map(|all| all.into_iter().map(|at| (at + 1e-6).floor()).collect::<Vec<f64>>())
    };
    let (for_limit, for_plan) = (latest(here.limit), latest(here.planned));
    let segments: Vec<Segment> = timed.segments.iter().filter_map(cut).collect();
    let legs = legs(ready, plan, &timed, &routes);
    let slots = timed.blocks.iter().enumerate().map(|(place, block)| {
        let stop = &plan.sequence.stops[place];
        let (start, end) = (whole(block.start), whole(block.end));
        let there = legs.iter().filter(|leg| leg.to == Some(place)).map(|leg| leg.minutes);
        PlannedSlot {
            slot: plan.slots[place],
            lanes: stop.lanes,
            travel: there.fold(0.0, f64::max),
            start,
            end,
            minutes: minutes_of_work(&segments, place, stop.lanes.first()),
            outside_windows: block.outside_windows,
            work: stop.work,
            latest_start: for_limit.as_ref().map(|latest| latest[place]),
            latest_start_for_plan: for_plan.as_ref().map(|latest| latest[place]),
        }
    });
    let slots = slots.collect();
    let end = whole(timed.finish.end());
    let end_p80 = ends.end_at(0.8);
    let simulated = |frame: &Frame, limit: f64| {
        let variation = ready.constants.variation();
        simulate(frame, order, &timed.blocks, &timed.finish, limit, variation)
    };
    // Supplies are judged on days on which all work finds its windows: nobody waits past the limit.
    let unbounded = Frame { limit: UNBOUNDED, ..frame };
    let in_windows =
        plan.waits().then(|| simulated(&unbounded, UNBOUNDED).at_end_in_windows(None, 0.8, false));
    let at_p80 = if let Some(InWindows::At(at_end)) = in_windows {
        at_end
    } else {
        let limit = here.limit.unwrap_or(f64::INFINITY);
        simulated(&frame, limit).at_end(None, WhichEnd::Minute(end_p80), false)
    };
    let longer = at_p80.end - timed.finish.end();
    let seat_ends_p80: Vec<f64> = timed.finish.ends().map(|end| end + longer).collect();
    let supplies = |(lane, &end): (usize, &f64)| {
        let work = ready.worked(plan, &at_p80.works, lane);
        let lasting = plan.suits.lasting(ready, lane, end, work)?;
        Some(lasting.map(|lasts| Lasts { runs_out: (lasts.runs_out + 1e-6).floor(), ..lasts }))
    };
    let known = plan.suits.unknown.is_empty();
    let seats = seat_ends_p80.iter().enumerate().filter(|_| known);
    let seat_supplies = seats.filter_map(supplies).collect();
    Some(Timing {
        slots,
        legs,
        seat_ends: timed.finish.ends().map(whole).collect(),
        seat_ends_p80: seat_ends_p80.into_iter().map(whole).collect(),
        seat_supplies,
        end,
        margin: here.limit.map(|limit| limit - end),
        margin_to_plan: here.planned.map(|planned| planned - end),
        chance: here.limit.map(|limit| ends.chance_by(limit)),
        chance_of_plan: here.planned.map(|planned| ends.chance_by(planned)),
        end_p50: ends.end_at(0.5),
        end_p80,
        windows: frame.windows.clone(),
        segments,
    })
}

/// The whole minute at which a block is cut.
fn whole(minutes: f64) -> f64 {
    f64::from(up(minutes))
}

/// A segment between whole minutes; none where nothing is left of it.
fn cut(segment: &Segment) -> Option<Segment> {
    let (from, until) = (whole(segment.from), whole(segment.until));
    (from < until).then_some(Segment { from, until, ..*segment })
}

fn minutes_of_work(segments: &[Segment], place: usize, lane: usize) -> f64 {
    let own = |segment: &&Segment| {
        segment.lane == lane && segment.activity == Activity::Work { stop: place }
    };
    segments.iter().filter(own).map(|segment| segment.until - segment.from).sum()
}

fn legs(ready: &Ready, plan: &Plan, timed: &Timed, routes: &Passable) -> Vec<PlannedLeg> {
    let mut legs: Vec<PlannedLeg> = Vec::new();
    for lane in 0..plan.lanes {
        let mut next = None;
        for segment in timed.segments.iter().rev().filter(|segment| segment.lane == lane) {
            match segment.activity {
                Activity::Work { stop } => next = Some(stop),
                Activity::Travel { from, to } => {
                    let network = ready.aids.network(routes.until(segment.until));
                    let by = network.path(from, to).unwrap_or_default();
                    let minutes = whole(segment.until) - whole(segment.from);
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
