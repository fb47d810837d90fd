//! The draws of a day: the first points of a scrambled Sobol sequence, in batches.

use std::sync::OnceLock;

use super::crew_day::{CrewDay, Observation};
use super::{Day, Ended, Progress, Task};
use crate::normal;

/// Draws that are simulated together.
pub(super) const BATCH: usize = 512;
/// 10,240 draws in all.
pub(super) const BATCHES: usize = 20;

/// One quantity in every draw of a batch.
pub(super) type Drawn = [f32; BATCH];

/// Coordinates: what an excursion shares first, then two for each task, its minutes and which way
/// its work goes; past the last they are used again.
const CREW_DAY: usize = 0;
const TRAVEL: usize = 1;
const SITE: usize = 2;
const EGRESS: usize = 3;
const INGRESS: usize = 4;
const FIRST_TASK: usize = 5;
const TASKS: usize = 24;
/// A sequence of its own: the timeline's draws use another seed.
const SEED: u32 = 11;

/// The standard normal scores of a coordinate.
fn scores(coordinate: usize, batch: usize) -> &'static Drawn {
    static TABLE: OnceLock<Vec<Drawn>> = OnceLock::new();
    let table = TABLE.get_or_init(|| {
        (0..(FIRST_TASK + 2 * TASKS) * BATCHES)
            .map(|at| {
                let (coordinate, batch) = (at / BATCHES, at % BATCHES);
                std::array::from_fn(|draw| {
                    let point = (small(batch * BATCH + draw), small(coordinate));
                    let value = f64::from(sobol_burley::sample(point.0, point.1, SEED));
                    narrow(normal::quantile(value.clamp(1e-6, 1.0 - 1e-6)))
                })
            })
            .collect()
    });
    &table[coordinate * BATCHES + batch]
}

fn small(count: usize) -> u32 {
    u32::try_from(count).unwrap_or(u32::MAX)
}

#[expect(clippy::cast_possible_truncation, reason = "minutes need no more digits")]
pub(super) const fn narrow(value: f64) -> f32 {
    value as f32
}

/// Factors and work of one batch.
#[derive(Debug, Clone)]
pub(super) struct Batch {
    pub egress: Drawn,
    pub ingress: Drawn,
    /// How much longer travel takes, and setup and cleanup.
    pub pace: Drawn,
    pub site: Drawn,
    log_days: Drawn,
    /// One per task: its minutes; of work under way those in all.
    pub works: Vec<Drawn>,
    number: usize,
}

impl Batch {
    pub fn of<W>(day: &Day<W>, crew_day: &CrewDay, number: usize) -> Self {
        let factor = |coordinate: usize, log_sd: f64| {
            let (sd, mean) = (narrow(log_sd), narrow(-log_sd * log_sd / 2.0));
            scores(coordinate, number).map(|score| (mean + sd * score).exp())
        };
        let minutes = |coordinate: usize, log_sd: f64, minutes: f64| {
            let minutes = narrow(minutes);
            factor(coordinate, log_sd).map(|factor| minutes * factor)
        };
        let (frame, varies) = (&day.frame, &day.variation);
        let mut batch = Self {
            egress: minutes(EGRESS, varies.egress, frame.egress),
            ingress: minutes(INGRESS, varies.ingress, frame.ingress),
            pace: factor(TRAVEL, varies.travel),
            site: factor(SITE, varies.site),
            log_days: scores(CREW_DAY, number).map(|s| narrow(crew_day.at(f64::from(s)))),
            works: Vec::new(),
            number,
        };
        for (at, task) in day.tasks.iter().enumerate() {
            let taken = match task.progress {
                Progress::Running { since } => Some(day.taken(at, since, day.now)),
                Progress::Planned => None,
                Progress::Ended { .. } | Progress::Dropped => {
                    batch.works.push([0.0; BATCH]);
                    continue;
                }
            };
            let drawn = batch.draw(at, task, taken);
            batch.works.push(drawn);
        }
        batch
    }

    /// The minutes of a task in every draw; `at` chooses the coordinates.
    pub fn draw(&self, at: usize, task: &Task, taken: Option<f64>) -> Drawn {
        let coordinate = FIRST_TASK + 2 * (at % TASKS);
        let scores = [coordinate, coordinate + 1].map(|of| scores(of, self.number));
        std::array::from_fn(|draw| {
            let [score, which] = scores.map(|of| f64::from(of[draw]));
            let log_day = f64::from(self.log_days[draw]);
            narrow(task.minutes.draw(score, normal::cdf(which), log_day, taken))
        })
    }
}

/// The crew-day factor after what the day has shown.
pub(super) fn crew_day<W>(day: &Day<W>) -> CrewDay {
    let told = day.tasks.iter().enumerate().filter_map(|(at, task)| {
        let (share, taken, goes_on) = match task.progress {
            Progress::Running { since } => (1.0, day.taken(at, since, day.now), true),
            Progress::Ended { start, end, outcome } => {
                let share = match outcome {
                    Ended::Done => 1.0,
                    Ended::AtStoppingPoint => task.stopping_share?,
                    Ended::NotCompleted => return None,
                };
                (share, day.taken(at, start, end), false)
            }
            Progress::Planned | Progress::Dropped => return None,
        };
        Some(Observation { minutes: &task.minutes, share, taken, goes_on })
    });
    let told: Vec<Observation> = if day.learns { told.collect() } else { Vec::new() };
    CrewDay::of(day.variation.crew_day, told)
}
