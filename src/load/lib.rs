//! A made-up record of any size, for measuring: families from one unit to a thousand, attempts
//! heaped on a few tasks, failures, deferrals over years, flights flown and coming. The same seed
//! gives the same record on every machine.

use rand::{Rng, RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use domain::cells::Cells;
use domain::kinds::Kind;
use domain::time::Day;

mod beside;
mod events;
mod library;
mod words;

/// Excursions of a flight that is ahead, and of a flown one at least.
const EXCURSIONS: usize = 4;
/// Attempts on one excursion, about: what a few seats do in a day.
const ATTEMPTS: usize = 16;
/// More flown flights than that are not made; they have more excursions then.
const MAX_FLOWN: usize = 2_000;
/// Flights that are still ahead.
const COMING: usize = 3;
/// Days from a landing to the next launch, where a record does not reach back too far for it.
const BETWEEN: i64 = 28;
/// Days of a stay without an excursion, likewise.
const MARGIN: i64 = 8;
/// So many days a record reaches back at the most.
const REACH: i64 = 36_500;
const WORKSITES: usize = 48;
const TOOLS: usize = 240;
/// The most units of one family.
const LARGEST_FAMILY: usize = 1_000;
/// One task in so many belongs to no family.
const ALONE: f64 = 0.15;

/// One record as its columns are typed.
pub type Row = (Kind, Cells);

/// How large a record is, and by which seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    pub tasks: usize,
    pub attempts: usize,
    pub seed: u64,
}

/// A record laid out: what is in it, before its rows are written one by one.
#[derive(Debug)]
pub struct Load {
    size: Size,
    today: Day,
    flown: usize,
    /// How many excursions each flown flight had.
    excursions: usize,
    /// The family of each task.
    families: Vec<Option<usize>>,
    family_count: usize,
    /// How often each task was tried.
    tries: Vec<usize>,
}

impl Load {
    pub fn new(size: Size, today: Day) -> Self {
        let mut chance = stream(size.seed, 0);
        let (families, family_count) = families(size.tasks, &mut chance);
        let tries = tries(size, &mut chance);
        let flown = (size.attempts / (2 * EXCURSIONS * ATTEMPTS)).clamp(6, MAX_FLOWN);
        let excursions = size.attempts.div_ceil(flown * ATTEMPTS).max(EXCURSIONS);
        Self { size, today, flown, excursions, families, family_count, tries }
    }

    pub const fn tasks(&self) -> usize {
        self.size.tasks
    }

    /// The code of the first excursion that is ahead.
    pub fn first_ahead(&self) -> String {
        excursion_code(self.flown, 0)
    }

    fn flights(&self) -> usize {
        self.flown + COMING
    }

    /// Whatever tasks stand on: places, flights, families, tools, techniques.
    pub fn ground(&self) -> Vec<Row> {
        let mut rows = library::rows(self);
        rows.extend(beside::before(self));
        rows
    }

    /// The tasks that belong together: their records, then all that happened to them.
    pub fn task(&self, number: usize) -> Vec<Row> {
        let mut chance = stream(self.size.seed, number as u64 + 1);
        events::rows(self, number, &mut chance)
    }

    /// How a task leans on others, and what else names tasks; they must be there already.
    pub fn links(&self) -> Vec<Row> {
        let mut chance = stream(self.size.seed, u64::MAX);
        let tasks = self.size.tasks;
        let some = tasks / 50;
        (0..some)
            .map(|number| {
                // To an earlier task, so that nothing waits for itself.
                let task = chance.random_range(1..tasks.max(2));
                let other = chance.random_range(0..task);
                let kind = if chance.random_bool(0.7) { "needs" } else { "same visit as" };
                row(
                    Kind::Link,
                    [
                        ("code", format!("J-{number:05}")),
                        ("task", task_code(task)),
                        ("kind", kind.to_owned()),
                        ("other", task_code(other)),
                    ],
                )
            })
            .filter(|(_, cells)| cells.get("task") != cells.get("other"))
            .chain(beside::after(self))
            .collect()
    }

    fn launch(&self, flight: usize) -> Day {
        let ahead = i64::try_from(flight).unwrap_or(0) - i64::try_from(self.flown).unwrap_or(0);
        self.today.plus(ahead * self.cycle() + self.of_cycle(BETWEEN) / 2)
    }

    /// Days from one launch to the next where there is room for them.
    fn full_cycle(&self) -> i64 {
        i64::try_from(self.excursions).unwrap_or(0) + MARGIN + BETWEEN
    }

    /// Days from one launch to the next.
    fn cycle(&self) -> i64 {
        self.full_cycle().min(REACH / i64::try_from(self.flown).unwrap_or(1))
    }

    /// What becomes of so many days of a full cycle.
    fn of_cycle(&self, days: i64) -> i64 {
        days * self.cycle() / self.full_cycle()
    }

    /// Days from a launch to its landing: an excursion a day, with days before and after. Several
    /// a day where the record would reach back too far.
    fn stay(&self) -> i64 {
        self.cycle() - self.of_cycle(BETWEEN)
    }

    /// The day of an excursion of a flight.
    fn day(&self, flight: usize, number: usize) -> Day {
        let each = usize::try_from(self.stay() - self.of_cycle(MARGIN)).unwrap_or(1);
        let at = number * each / self.excursions.max(each);
        self.launch(flight).plus(2 + i64::try_from(at).unwrap_or(0))
    }

    /// How many excursions a flight has.
    fn excursions_of(&self, flight: usize) -> usize {
        if self.is_flown(flight) { self.excursions } else { EXCURSIONS }
    }

    fn is_flown(&self, flight: usize) -> bool {
        flight < self.flown
    }
}

fn stream(seed: u64, number: u64) -> ChaCha8Rng {
    let mut chance = ChaCha8Rng::seed_from_u64(seed);
    chance.set_stream(number);
    chance
}

fn row<const N: usize>(kind: Kind, cells: [(&str, String); N]) -> Row {
    let cells = cells.into_iter().map(|(name, text)| (name.to_owned(), text)).collect();
    (kind, cells)
}

fn task_code(number: usize) -> String {
    format!("T-{:06}", number + 1)
}

fn excursion_code(flight: usize, number: usize) -> String {
    format!("E-{}.{}", flight + 1, number + 1)
}

/// Sizes fall off as one over the rank, from the largest family down to single units.
fn families(tasks: usize, chance: &mut impl Rng) -> (Vec<Option<usize>>, usize) {
    let largest = LARGEST_FAMILY.min(tasks / 8).max(1);
    let mut all = Vec::with_capacity(tasks);
    let mut family = 0;
    let mut left = 0;
    for _ in 0..tasks {
        if chance.random_bool(ALONE) {
            all.push(None);
            continue;
        }
        if left == 0 {
            family += 1;
            // Some middling ones too, or the tail would be all of one unit.
            left = (largest / family).max(1).max(chance.random_range(1..12));
        }
        left -= 1;
        all.push(Some(family - 1));
    }
    (all, family)
}

/// Most tasks are tried a few times or never, a few a hundred times.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "counts stay far below what a float holds exactly, and none is negative"
)]
fn tries(size: Size, chance: &mut impl Rng) -> Vec<usize> {
    let mean = size.attempts as f64 / size.tasks.max(1) as f64;
    // Source: common practice; the heavy tail of a Pareto law, cut off.
    let weights: Vec<f64> = (0..size.tasks)
        .map(|_| {
            let even: f64 = chance.random_range(0.001..1.0);
            if chance.random_bool(0.1) { 0.0 } else { even.powf(-0.7).min(40.0) }
        })
        .collect();
    let scale = mean * size.tasks as f64 / weights.iter().sum::<f64>().max(1.0);
    let mut all: Vec<usize> = weights.iter().map(|weight| (weight * scale) as usize).collect();
    let mut given: usize = all.iter().sum();
    while given < size.attempts && size.tasks > 0 {
        all[chance.random_range(0..size.tasks)] += 1;
        given += 1;
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::cells::Cell as _;

    #[test]
    fn the_largest_record_stays_within_the_years_that_a_date_may_have() {
        let today = Day::read("2031-03-18").unwrap();
        for (tasks, attempts) in [(2_000, 20_000), (100_000, 1_000_000)] {
            let load = Load::new(Size { tasks, attempts, seed: 1 }, today);
            let first = load.launch(0).plus(-30).to_string();
            assert!(Day::read(&first).is_ok(), "{first}");
            let last = load.flown - 1;
            let landing = load.launch(last).plus(load.stay());
            assert!(load.day(last, load.excursions - 1).since(landing) < 0, "within its flight");
            assert!(landing.since(load.launch(load.flown)) < 0, "one flight after the other");
        }
    }
}
