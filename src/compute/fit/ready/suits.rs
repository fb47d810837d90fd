//! What the suits of an excursion carry and what its planned work takes of that, made ready so that
//! a cell only adds its own work.

use super::{Plan, Ready};
use crate::compute::fit::place::whole;
use crate::compute::fit::reasons::{Unknown, index};
use crate::compute::fit::snapshot::TaskAt;
use crate::compute::supplies::{Amounts, Lasts, Supply, Usage, lasting};
use crate::compute::timeline::MOST_LANES;
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

    /// What minutes of work cost above the same minutes of overhead, in kcal.
    fn above_overhead(&self, work: WorkRate, minutes: f64) -> f64 {
        let rate = match work {
            WorkRate::Light => self.light,
            WorkRate::Moderate => self.moderate,
            WorkRate::Heavy => self.heavy,
        };
        (rate - self.overhead) * minutes
    }
}

impl Suits {
    /// The supply that runs out first in a lane, and when; as `lasting` has it.
    pub fn first(
        &self,
        ready: &Ready,
        lane: usize,
        end: f64,
        own: Option<(WorkRate, f64)>,
    ) -> Option<(Supply, f64)> {
        let suit = self.lanes[lane].as_ref()?;
        let kcal = suit.kcal(&ready.rates[suit.rates], end, own);
        let mut first = (Supply::Oxygen, 0.0);
        for (at, &supply) in Supply::ALL.iter().enumerate() {
            let used = suit.of_kcal[at] * kcal + suit.of_minute[at] * end;
            if used > first.1 {
                first = (supply, used);
            }
        }
        Some((first.0, if first.1 > 0.0 { end / first.1 } else { f64::INFINITY }))
    }

    /// How long each supply lasts in a lane that is inside at `end`, with work of its own beside
    /// what is planned; `None` where no rates hold for the lane.
    pub fn lasting(
        &self,
        ready: &Ready,
        lane: usize,
        end: f64,
        own: Option<(WorkRate, f64)>,
    ) -> Option<[Lasts; 4]> {
        let suit = self.lanes[lane]?;
        let rates = &ready.rates[suit.rates];
        let used = rates.usage.used(suit.kcal(rates, end, own), end);
        Some(lasting(&self.carried, &used, end))
    }
}

impl Suit {
    /// What the one who wears it spends until `end`.
    fn kcal(&self, rates: &ReadyRates, end: f64, own: Option<(WorkRate, f64)>) -> f64 {
        let own = own.map_or(0.0, |(rate, minutes)| rates.above_overhead(rate, minutes));
        rates.overhead * end + self.planned + own
    }
}

impl Ready<'_> {
    /// What is known of the suits of a plan.
    pub(super) fn suits(&self, plan: &Plan) -> Suits {
        let here = &self.snapshot.excursions[plan.excursion];
        let mut suits = Suits::default();
        let excursion = index(plan.excursion);
        if !self.constants.accepted.reserve {
            let minutes = u16::try_from(whole(self.constants.supply_reserve)).unwrap_or_default();
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
        for (place, stop) in plan.stops.iter().enumerate() {
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

    pub fn work_rate(&self, task: TaskAt) -> Result<WorkRate, Unknown> {
        self.snapshot.tasks[task].work_rate.ok_or(Unknown::WorkRate { task: index(task) })
    }
}
