//! What the suits of an excursion carry and what its planned work takes of that, made ready so that
//! a cell only adds its own work.

use super::{Plan, Ready};
use crate::compute::fit::place::up;
use crate::compute::fit::reasons::{Unknown, index};
use crate::compute::fit::snapshot::TaskAt;
use crate::compute::supplies::{Amounts, Lasts, Spent, Supply, Usage};
use crate::compute::timeline::{Block, Finish, MOST_LANES, Stop};
use crate::domain::words::WorkRate;

/// The suits of one plan, a place a lane.
#[derive(Debug, Clone, Default)]
pub(in crate::compute::fit) struct Suits {
    /// What every suit carries, as far as it is known.
    carried: Amounts,
    lanes: [Option<Suit>; MOST_LANES],
    /// What keeps the supplies from being told.
    pub unknown: Vec<Unknown>,
}

/// One suit: whose rates hold, and what the planned work costs above the same minutes of overhead.
#[derive(Debug, Clone, Copy)]
struct Suit {
    rates: usize,
    planned: f64,
    /// The part of each supply that a kilocalorie uses up, and that a minute does.
    of_kcal: [f64; 4],
    of_minute: [f64; 4],
}

/// The rates of one suit, made ready.
#[derive(Debug, Clone, Copy)]
pub(in crate::compute::fit) struct ReadyRates {
    usage: Usage,
    /// Kilocalories a minute.
    overhead: f64,
    light: f64,
    moderate: f64,
    heavy: f64,
}

impl ReadyRates {
    pub fn of(rates: &crate::compute::supplies::Rates) -> Self {
        Self {
            usage: Usage::of(rates),
            overhead: rates.overhead / 60.0,
            light: rates.light / 60.0,
            moderate: rates.moderate / 60.0,
            heavy: rates.heavy / 60.0,
        }
    }

    fn of_work(&self, work: WorkRate) -> f64 {
        match work {
            WorkRate::Light => self.light,
            WorkRate::Moderate => self.moderate,
            WorkRate::Heavy => self.heavy,
        }
    }

    /// What minutes of work cost above the same minutes of overhead, in kcal.
    fn above_overhead(&self, work: WorkRate, minutes: f64) -> f64 {
        (self.of_work(work) - self.overhead) * minutes
    }
}

impl Suits {
    /// The supply that runs out first in a lane, and how long after `end` that is, below 0 where
    /// it is before: from what is used in all, whatever the order. Work takes `pace` times its
    /// mean.
    pub fn first(
        &self,
        ready: &Ready,
        lane: usize,
        (end, pace): (f64, f64),
        own: Option<(WorkRate, f64)>,
    ) -> Option<(Supply, f64)> {
        let suit = self.lanes[lane].as_ref()?;
        let rates = &ready.rates[suit.rates];
        let own = own.map_or(0.0, |(rate, minutes)| rates.above_overhead(rate, minutes));
        let kcal = rates.overhead * end + pace * (suit.planned + own);
        let mut first = (Supply::Oxygen, f64::INFINITY);
        for (at, &supply) in Supply::ALL.iter().enumerate() {
            let used = suit.of_kcal[at] * kcal + suit.of_minute[at] * end;
            let rate = suit.of_kcal[at] * rates.overhead + suit.of_minute[at];
            let left = if rate > 0.0 { (1.0 - used) / rate } else { f64::INFINITY };
            if left < first.1 {
                first = (supply, left);
            }
        }
        Some(first)
    }

    /// How long each supply lasts in a lane that does that work, in its order, and is inside at
    /// `end`; `None` where no rates hold for the lane.
    pub fn lasting(
        &self,
        ready: &Ready,
        lane: usize,
        (end, pace): (f64, f64),
        work: impl Iterator<Item = Worked>,
    ) -> Option<[Lasts; 4]> {
        let rates = &ready.rates[self.lanes[lane]?.rates];
        let mut spent = Vec::new();
        let (mut now, mut longer) = (0.0, 0.0);
        for Worked { task, rate, start, minutes } in work {
            let start = f64::max(start + longer, now);
            let waits = Spent { minutes: start - now, kcal_a_minute: rates.overhead, task: None };
            let minutes = minutes * pace;
            let kcal_a_minute = rates.of_work(rate);
            spent.extend([waits, Spent { minutes, kcal_a_minute, task: Some(task) }]);
            longer += minutes - minutes / pace;
            now = start + minutes;
        }
        let minutes = (end - now).max(0.0);
        spent.push(Spent { minutes, kcal_a_minute: rates.overhead, task: None });
        Some(rates.usage.lasting(&self.carried, &spent, rates.overhead))
    }
}

/// Work of a seat: which task, how hard, from when, and its minutes at the mean.
pub(in crate::compute::fit) struct Worked {
    pub task: TaskAt,
    pub rate: WorkRate,
    pub start: f64,
    pub minutes: f64,
}

/// How much longer than at the mean all work takes on a day that ends then: the lane that comes
/// back last has no other time to lose.
pub(in crate::compute::fit) fn pace<'s>(
    stops: impl Iterator<Item = &'s Stop>,
    finish: &Finish,
    end: f64,
) -> f64 {
    let ends = finish.own_ends();
    let Some(last) = (0..ends.len()).max_by(|&a, &b| ends[a].total_cmp(&ends[b])) else {
        return 1.0;
    };
    let work: f64 = stops.filter(|stop| stop.lanes.has(last)).map(|stop| stop.work.mean).sum();
    if work > 0.0 { (1.0 + (end - finish.end()) / work).max(0.1) } else { 1.0 }
}

impl Ready<'_> {
    /// What is known of the suits of a plan.
    pub(super) fn suits(&self, plan: &Plan) -> Suits {
        let here = &self.snapshot.excursions[plan.excursion];
        let mut suits = Suits::default();
        let excursion = index(plan.excursion);
        if !self.constants.accepted.reserve {
            let minutes = u16::try_from(up(self.constants.supply_reserve)).unwrap_or_default();
            suits.unknown.push(Unknown::SupplyReserve { minutes });
        }
        let mut get = |amount: Option<f64>, supply: Supply| {
            if amount.is_none() {
                suits.unknown.push(Unknown::Supply { excursion, supply });
            }
            amount.unwrap_or_default()
        };
        suits.carried = Amounts {
            oxygen: get(here.supplies.oxygen, Supply::Oxygen),
            scrubber: get(here.supplies.scrubber, Supply::Scrubber),
            water: get(here.supplies.water, Supply::Water),
            battery: get(here.supplies.battery, Supply::Battery),
        };
        for (lane, &seat) in here.seats.iter().enumerate().take(plan.lanes) {
            match here.seat_rates.get(lane).copied().flatten() {
                Some(rates) => {
                    let usage = &self.rates[rates].usage;
                    let [of_kcal, of_minute] = [(1.0, 0.0), (0.0, 1.0)].map(|(kcal, minutes)| {
                        let used = usage.used(kcal, minutes);
                        Supply::ALL.map(|supply| supply.of(&used) / supply.of(&suits.carried))
                    });
                    let suit = Suit { rates, planned: 0.0, of_kcal, of_minute };
                    suits.lanes[lane] = Some(suit);
                }
                None => suits.unknown.push(Unknown::SuitRates { seat }),
            }
        }
        for (place, stop) in plan.sequence.stops.iter().enumerate() {
            let task = self.task_of(plan, place);
            match self.work_rate(task) {
                Ok(rate) => {
                    for lane in stop.lanes.each() {
                        if let Some(suit) = &mut suits.lanes[lane] {
                            let rates = &self.rates[suit.rates];
                            suit.planned += rates.above_overhead(rate, stop.work.mean);
                        }
                    }
                }
                Err(unknown) => suits.unknown.push(unknown),
            }
        }
        suits
    }

    /// The work of a lane in a plan that was timed.
    pub fn worked<'a>(
        &'a self,
        plan: &'a Plan,
        blocks: &'a [Block],
        lane: usize,
    ) -> impl Iterator<Item = Worked> + 'a {
        let stops = plan.sequence.stops.iter().zip(blocks).enumerate();
        let own = stops.filter(move |(_, (stop, _))| stop.lanes.has(lane));
        own.filter_map(|(place, (stop, block))| {
            let task = self.task_of(plan, place);
            let rate = self.work_rate(task).ok()?;
            Some(Worked { task, rate, start: block.start, minutes: stop.work.mean })
        })
    }

    pub fn work_rate(&self, task: TaskAt) -> Result<WorkRate, Unknown> {
        self.snapshot.tasks[task].work_rate.ok_or(Unknown::WorkRate { task: index(task) })
    }
}
