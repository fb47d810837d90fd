//! A plan lived through in a fixed set of draws: what the chance rests on where stops wait for
//! windows, for the arm or for each other, and moments do not tell the ends of the lanes.
//!
//! The draws are the first points of a scrambled Sobol sequence: a coordinate for the crew day, one
//! for the work of each stop. Along a lane everything that waits is a maximum, so a plan ends by
//! its limit just when each lane comes to its next stop no later than that stop's latest start.
//! Those bounds are worked out once for every draw; a task put in anywhere is held against them.
//! Draws come in helpings, and the later ones only where the first leaves a doubt.

#![expect(clippy::inline_always, reason = "wide registers are used in what is inlined, see `wide`")]

mod added;
mod directions;
mod draws;
mod forward;
mod given;
mod helping;
mod law;
mod stretches;
mod wide;

pub use added::Added;
pub(super) use given::Gaps;

use std::cell::OnceCell;

use added::{InTime, Inside, Question};
use draws::HELPINGS;
use forward::Ends;
use given::Given;
use helping::{Helping, Live};
use law::Law;
use wide::wide;

use super::{CrewDay, Frame, Order};

/// A chance that is nearer to none or to all is told from the first helping alone.
const DOUBT: f64 = 0.01;

/// A plan in every draw: where each lane stands before each stop, and how late it may.
#[derive(Debug, Clone)]
pub struct Lived {
    given: Given,
    limit: f64,
    helpings: [OnceCell<Helping>; HELPINGS],
}

impl Lived {
    pub(super) fn of(
        frame: &Frame,
        order: Order,
        gaps: Gaps,
        limit: f64,
        crew_day: CrewDay,
    ) -> Self {
        let given = Given::of(frame, order, gaps, crew_day);
        Self { given, limit, helpings: [const { OnceCell::new() }; HELPINGS] }
    }

    fn helping(&self, at: usize) -> &Helping {
        self.helpings[at]
            .get_or_init(|| wide(Live { given: &self.given, limit: self.limit, helping: at }))
    }

    /// The chance that the plan ends by its limit as it stands.
    pub fn chance(&self) -> f64 {
        self.mean(|helping| helping.chance)
    }

    /// The chance that the plan with the task added ends by its limit; and the chances that the added
    /// work, which begins no earlier than `opens`, is done by each of some minutes.
    pub fn chances(
        &self,
        added: &Added,
        (opens, closes): (f64, [Option<f64>; 2]),
    ) -> (f64, [f64; 2]) {
        let question = Question {
            added,
            before: &self.given.before[added.position],
            stretches: self.given.stretches.for_stop(added.stop),
            law: Law::of(added.stop.work),
        };
        let chance = self.mean(|helping| wide(InTime(&question, helping)));
        // A window's gate asks whether it is likely, not how likely to a point.
        let inside = match question.stretches {
            None => [0.0; 2],
            Some(_) => wide(Inside { question: &question, drawn: self.helping(0), opens, closes }),
        };
        (chance, inside)
    }

    /// The mean of a chance over the helpings that it takes.
    fn mean(&self, chance: impl Fn(&Helping) -> f64) -> f64 {
        let first = chance(self.helping(0));
        if !(DOUBT..=1.0 - DOUBT).contains(&first) {
            return first;
        }
        let rest: f64 = (1..HELPINGS).map(|at| chance(self.helping(at))).sum();
        (first + rest) / count(HELPINGS)
    }
}

/// When the last lane is inside, in every draw, the earliest first.
pub(super) fn ends_of(frame: &Frame, order: Order, gaps: Gaps, crew_day: CrewDay) -> Vec<f64> {
    let given = Given::of(frame, order, gaps, crew_day);
    let of = |at: usize| wide(Ends { given: &given, helping: at });
    let mut ends: Vec<f64> = (0..HELPINGS).flat_map(of).map(f64::from).collect();
    ends.sort_by(f64::total_cmp);
    ends
}

fn count(of: usize) -> f64 {
    u32::try_from(of).map_or(f64::from(u32::MAX), f64::from)
}

#[cfg(test)]
mod tests;
