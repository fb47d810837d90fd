//! What the suits of an excursion carry and what its planned work takes of that, made ready so that
//! a cell only adds its own work.

use super::{Plan, Ready};
use crate::fit::place::up;
use crate::fit::reasons::Unknown;
use crate::places::{RatesAt, TaskAt};
use crate::supplies::{Amounts, Lasts, Spent, Supply, Usage};
use crate::timeline::MOST_LANES;
use domain::words::WorkRate;

/// The suits of one plan, a place a lane.
#[derive(Debug, Clone, Default)]
pub(in crate::fit) struct Suits {
    /// What every suit carries, as far as it is known.
    carried: Amounts,
    lanes: [Option<Suit>; MOST_LANES],
    /// What keeps the supplies from being told.
    pub unknown: Vec<Unknown>,
}

/// One suit: whose rates hold, and what of its supplies they use up.
#[derive(Debug, Clone, Copy)]
struct Suit {
    rates: RatesAt,
    /// The part of each supply that a kilocalorie uses up, and that a minute does.
    of_kcal: [f64; 4],
    of_minute: [f64; 4],
}

/// The rates of one suit, made ready.
#[derive(Debug, Clone, Copy)]
pub(in crate::fit) struct ReadyRates {
    usage: Usage,
    /// Kilocalories a minute.
    overhead: f64,
    light: f64,
    moderate: f64,
    heavy: f64,
}

impl ReadyRates {
    pub fn of(rates: &crate::supplies::Rates) -> Self {
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
    /// it is before: from what that work uses in all, whatever the order.
    pub fn first(
        &self,
        ready: &Ready,
        lane: usize,
        end: f64,
        work: impl Iterator<Item = (WorkRate, f64)>,
    ) -> Option<(Supply, f64)> {
        let suit = self.lanes[lane].as_ref()?;
        let rates = &ready.rates[suit.rates];
        let above = work.map(|(rate, minutes)| rates.above_overhead(rate, minutes));
        let kcal = rates.overhead * end + above.sum::<f64>();
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
        end: f64,
        work: impl Iterator<Item = Worked>,
    ) -> Option<[Lasts; 4]> {
        let rates = &ready.rates[self.lanes[lane]?.rates];
        let mut spent = Vec::new();
        let mut now = 0.0;
        for Worked { task, rate, minutes, done } in work {
            let start = f64::max(done - minutes, now);
            let waits = Spent { minutes: start - now, kcal_a_minute: rates.overhead, task: None };
            let kcal_a_minute = rates.of_work(rate);
            spent.extend([waits, Spent { minutes, kcal_a_minute, task: Some(task) }]);
            now = start + minutes;
        }
        let minutes = (end - now).max(0.0);
        spent.push(Spent { minutes, kcal_a_minute: rates.overhead, task: None });
        Some(rates.usage.lasting(&self.carried, &spent, rates.overhead))
    }
}

/// Work of a seat: which task, how hard, its minutes and when it is done.
pub(in crate::fit) struct Worked {
    pub task: TaskAt,
    pub rate: WorkRate,
    pub minutes: f64,
    pub done: f64,
}

impl Ready<'_> {
    /// What is known of the suits of a plan.
    pub(super) fn suits(&self, plan: &Plan) -> Suits {
        let here = &self.snapshot.excursions[plan.excursion];
        let mut suits = Suits::default();
        let excursion = plan.excursion;
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
                    let suit = Suit { rates, of_kcal, of_minute };
                    suits.lanes[lane] = Some(suit);
                }
                None => suits.unknown.push(Unknown::SuitRates { seat }),
            }
        }
        let tasks = (0..plan.sequence.stops.len()).map(|place| self.task_of(plan, place));
        suits.unknown.extend(tasks.filter_map(|task| self.work_rate(task).err()));
        suits
    }

    /// The work of a lane of a plan, with the minutes and the end of each stop.
    pub fn worked<'a>(
        &'a self,
        plan: &'a Plan,
        works: &'a [(f64, f64)],
        lane: usize,
    ) -> impl Iterator<Item = Worked> + 'a {
        let stops = plan.sequence.stops.iter().zip(works).enumerate();
        let own = stops.filter(move |(_, (stop, _))| stop.lanes.has(lane));
        own.filter_map(|(place, (_, &(minutes, done)))| {
            let task = self.task_of(plan, place);
            let rate = self.work_rate(task).ok()?;
            Some(Worked { task, rate, minutes, done })
        })
    }

    pub fn work_rate(&self, task: TaskAt) -> Result<WorkRate, Unknown> {
        self.snapshot.tasks[task].work_rate.ok_or(Unknown::WorkRate { task })
    }
}
