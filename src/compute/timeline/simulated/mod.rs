//! A plan simulated in a fixed set of draws: what every chance and percentile rests on.
//!
//! The draws are the first points of a scrambled Sobol sequence: a coordinate for each factor that
//! the excursion shares, one for the work of each stop. Along a lane everything that waits is a maximum, so a plan ends by
//! its limit just when each lane comes to its next stop no later than that stop's latest start.
//! Those bounds are worked out once for every draw; a task put in anywhere is held against them.
//! Draws come in batches, and the later ones only where the first leaves a doubt.

#![expect(clippy::inline_always, reason = "wide registers are used in what is inlined, see `wide`")]

mod added;
mod at_end;
mod batch;
mod directions;
mod draws;
mod forward;
mod given;
mod law;
mod room;
mod stretches;
mod wide;
mod with_added;

pub use added::Added;
pub use at_end::{AtEnd, InWindows, WhichEnd};
pub(super) use given::Gaps;
pub use room::{Detour, Rooms};

use std::cell::OnceCell;

use added::{InTime, Inside, Question};
use at_end::{Add, All, Means};
use batch::{Batch, Live};
use draws::{BATCHES, BATCHES_OF_ENDS, Drawn};
use forward::{Ends as EndsOf, Home};
use given::Given;
use law::Law;
use room::{Find, Fits};
use wide::wide;
use with_added::WithAdded;

use super::{Ends, Frame, Lanes, Order, Variation};
use crate::three_point::Spread;

/// A chance that is nearer to none or to all is told from the first batch alone.
const DOUBT: f64 = 0.01;

/// The limit of a plan that has none, in minutes: only work that finds no window ends past it.
pub const UNBOUNDED: f64 = 1e6;

/// Draws of the first batch that tell roughly when a plan ends.
const ENOUGH: usize = 64;

/// A plan in every draw: where each lane stands before each stop, and how late it may.
#[derive(Debug, Clone)]
pub struct Simulated {
    given: Given,
    limit: f64,
    batches: Box<[OnceCell<Batch>]>,
}

impl Simulated {
    pub(super) fn of(
        frame: &Frame,
        order: Order,
        gaps: Gaps,
        limit: f64,
        variation: Variation,
    ) -> Self {
        let given = Given::of(frame, order, gaps, variation);
        let batches = std::iter::repeat_with(OnceCell::new).take(BATCHES).collect();
        Self { given, limit, batches }
    }

    fn batch(&self, at: usize) -> &Batch {
        self.batches[at]
            .get_or_init(|| wide(Live { given: &self.given, limit: self.limit, batch: at }))
    }

    /// The chance that the plan ends by its limit as it stands. Where the first draws give less
    /// than `hopeless` they are enough.
    pub fn chance(&self, hopeless: f64) -> f64 {
        self.mean(hopeless, |batch| batch.chance)
    }

    /// The chance that the plan with the task added ends by its limit; and the chances that the added
    /// work, which begins no earlier than `opens`, is done by each of some minutes. Where the first
    /// draws give less than `hopeless` they are enough.
    pub fn chances(
        &self,
        added: &Added,
        (opens, closes): (f64, [Option<f64>; 2]),
        hopeless: f64,
    ) -> (f64, [f64; 2]) {
        let question = self.question(added);
        let chance = self.mean(hopeless, |batch| wide(InTime(&question, batch)));
        // A window's check asks whether it is likely, not how likely to a point.
        let inside = match question.open {
            None => [0.0; 2],
            Some(_) => wide(Inside { question: &question, drawn: self.batch(0), opens, closes }),
        };
        (chance, inside)
    }

    /// The most room that the plan leaves for other work, with the detour that it takes before each
    /// stop and at last.
    pub fn rooms(&self, detours: &[Detour]) -> Rooms {
        wide(Find { given: &self.given, drawn: self.batch(0), detours })
    }

    /// A chance to end inside the limit that is not surpassed in the first batch wherever such work
    /// is put into one of those choices of lanes.
    pub fn most_in_time(
        &self,
        rooms: &Rooms,
        choices: impl Iterator<Item = Lanes>,
        work: Spread,
    ) -> f64 {
        let (law, log_days) = (Law::of(work), &self.batch(0).shared.log_days);
        let chances = choices.map(|lanes| wide(Fits { rooms, lanes, law, log_days }));
        chances.fold(0.0, f64::max)
    }

    fn home(&self, drawn: &Batch) -> Drawn {
        wide(Home { given: &self.given, ends: &drawn.ends, shared: &drawn.shared })
    }

    /// The same chance in the first batch alone.
    pub fn first_chance(&self, added: &Added) -> f64 {
        wide(InTime(&self.question(added), self.batch(0)))
    }

    fn question<'a>(&'a self, added: &'a Added<'a>) -> Question<'a> {
        Question {
            added,
            before: &self.given.before[added.position],
            open: self.given.stretches.for_stop(added.stop),
            law: Law::of(added.stop.work),
        }
    }

    /// The plan on an excursion that ends then, stop by stop, an added task in its position; from
    /// the first batch alone where `rough`.
    pub fn at_end(&self, added: Option<&Added>, end: WhichEnd, rough: bool) -> AtEnd {
        let mut means = Means::default();
        self.runs(added, if rough { 1 } else { BATCHES }, |ends, stops| {
            wide(Add { means: &mut means, ends, stops: stops.iter().copied() });
        });
        in_place(means.at_end(end), added)
    }

    /// The same at the end that holds with that chance of the days on which all work finds its
    /// windows. Asked of a plan that is `UNBOUNDED`.
    pub fn at_end_in_windows(&self, added: Option<&Added>, chance: f64, rough: bool) -> InWindows {
        let mut all = All::default();
        let (batches, least) = if rough { (1, ENOUGH) } else { (BATCHES, 1) };
        self.runs(added, batches, |ends, stops| all.add(ends, stops));
        match all.at_end_before(self.limit, chance, least) {
            InWindows::At(at_end) => InWindows::At(in_place(at_end, added)),
            other => other,
        }
    }

    /// Takes the plan in each of so many batches: its ends, and of each stop the minutes of its work
    /// and its end, those of the added task at last.
    fn runs(
        &self,
        added: Option<&Added>,
        batches: usize,
        mut take: impl FnMut(&Drawn, &[[&Drawn; 2]]),
    ) {
        let given = &self.given;
        let question = added.map(|added| self.question(added));
        let count = given.stops.len();
        for at in 0..batches {
            let drawn = self.batch(at);
            let works = drawn.works.iter();
            let Some(question) = &question else {
                let stops: Vec<_> = works.zip(&drawn.ends).map(|(work, end)| [work, end]).collect();
                take(&self.home(drawn), &stops);
                continue;
            };
            let run = wide(WithAdded { question, given, drawn, batch: at });
            let mut stops: Vec<_> = works.zip(&run.ends).map(|(work, end)| [work, end]).collect();
            stops.push([&run.own_work, &run.ends[count + 1]]);
            take(&run.inside, &stops);
        }
    }

    /// The end that holds with that chance, an added task in its position; from the first batch
    /// alone.
    pub fn rough_end(&self, added: Option<&Added>, chance: f64) -> f64 {
        let (given, drawn) = (&self.given, self.batch(0));
        let ends = match added.map(|added| self.question(added)) {
            None => self.home(drawn),
            Some(question) => {
                wide(WithAdded { question: &question, given, drawn, batch: 0 }).inside
            }
        };
        percentile(ends.into_iter(), chance)
    }

    /// The minute by which a stop's work is done with that chance.
    pub fn done(&self, stop: usize, chance: f64) -> f64 {
        let of = |at: usize| self.batch(at).ends[stop];
        percentile((0..BATCHES).flat_map(of), chance)
    }

    /// The chance that a stop's work is done by then.
    pub fn done_by(&self, stop: usize, bound: f64) -> f64 {
        let of = |at: usize| self.batch(at).ends[stop];
        let ends = (0..BATCHES).flat_map(of).map(f64::from);
        Ends::of(ends.collect()).chance_by(bound)
    }

    /// The mean of a chance over the batches that it takes.
    fn mean(&self, hopeless: f64, chance: impl Fn(&Batch) -> f64) -> f64 {
        let first = chance(self.batch(0));
        if first < hopeless || !(DOUBT..=1.0 - DOUBT).contains(&first) {
            return first;
        }
        let rest: f64 = (1..BATCHES).map(|at| chance(self.batch(at))).sum();
        (first + rest) / count(BATCHES)
    }
}

/// When the last lane is inside, in every draw.
pub(super) fn ends_of(frame: &Frame, order: Order, gaps: Gaps, variation: Variation) -> Ends {
    let given = Given::of(frame, order, gaps, variation);
    let of = |at: usize| wide(EndsOf { given: &given, batch: at });
    Ends::of((0..BATCHES_OF_ENDS).flat_map(of).map(f64::from).collect())
}

/// The value that is stayed under with that chance.
fn percentile(values: impl Iterator<Item = f32>, chance: f64) -> f64 {
    let mut values: Vec<f32> = values.collect();
    let rank = rank(chance, values.len());
    if values.is_empty() {
        return 0.0;
    }
    let (_, at, _) = values.select_nth_unstable_by(rank, f32::total_cmp);
    f64::from(*at)
}

/// The place of that value among so many in order.
fn rank(chance: f64, of: usize) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a rank")]
    let rank = (chance * count(of)) as usize;
    rank.min(of.saturating_sub(1))
}

/// The added task, which is told last, at its position.
fn in_place(mut at_end: AtEnd, added: Option<&Added>) -> AtEnd {
    if let Some(added) = added
        && let Some(own) = at_end.works.pop()
    {
        at_end.works.insert(added.position, own);
    }
    at_end
}

fn count(of: usize) -> f64 {
    u32::try_from(of).map_or(f64::from(u32::MAX), f64::from)
}

#[cfg(test)]
mod tests;
