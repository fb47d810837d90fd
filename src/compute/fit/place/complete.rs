//! The search that looks at every place: each seat, each position in the order, each timed with all
//! that waits for windows, arrangements, tools and aids. It stops at the first place, best first,
//! at which every check holds.

use super::score::Score;
use super::task::Task;
use super::{Base, Candidate, Found, NoPlace, Search, choices};
use crate::fit::ready::{Insertion, Plan, Ready, Settled};
use crate::fit::reasons::Unknown;
use crate::timeline::{Lanes, Stop};

/// What the checks say of a place, the best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::fit) enum Grade {
    /// No check is against it.
    Passes,
    /// It can be set, and something may fail on the day that may not fail elsewhere.
    Tight,
    Fails,
}

/// Places that are looked at in one search; a plan of a dozen tasks and two seats has some thirty.
const MAX_PLACES: usize = 400;

/// A plan that ends at its mean so many minutes past the limit does not end inside it in five
/// cases of ten, also where at the mean it just misses a window of the arm and waits for the next.
const HOPELESS: f64 = 240.0;

/// Places looked at beyond one that is tight, for one that is not.
const MAX_MORE: usize = 8;

impl Search {
    /// The best place that gets the best grade.
    pub fn complete(
        ready: &Ready,
        plan: &Plan,
        base: &Base,
        candidate: &Candidate,
        mut grade: impl FnMut(&Found) -> Grade,
    ) -> Result<Found, NoPlace> {
        let routes = &*ready.aids.network(plan.sequence.first);
        let task = Task { ready, plan, base, candidate, frame: plan.frame(ready), routes };
        let mut miss = NoPlace::Order;
        let mut places: Vec<(Score, Settled)> = Vec::new();
        'all: for position in (candidate.earliest..=candidate.latest).rev() {
            for lanes in choices(plan.lanes, candidate) {
                if places.len() >= MAX_PLACES {
                    break 'all;
                }
                match task.settle(position, lanes) {
                    Ok(place) => places.push(place),
                    Err(unknown) => miss = NoPlace::Way(unknown),
                }
            }
        }
        places.sort_by(|(a, _), (b, _)| match (a.beats(b), b.beats(a)) {
            (true, false) => std::cmp::Ordering::Less,
            (false, true) => std::cmp::Ordering::Greater,
            _ => std::cmp::Ordering::Equal,
        });
        let mut best: Option<(Grade, Found)> = None;
        let mut first = None;
        let mut more = 0;
        for (score, settled) in places {
            if best.is_none() && first.is_none() {
                first = Some((score, settled.clone()));
            }
            let missed = settled.blocks[score.position].outside_windows;
            if missed || score.end > plan.limit + HOPELESS {
                continue;
            }
            let found = Self::describe_settled(&task, &score, settled);
            let found = found.map_err(NoPlace::Way)?;
            let is = grade(&found);
            if is == Grade::Passes {
                return Ok(found);
            }
            if best.as_ref().is_none_or(|(so_far, _)| is < *so_far) {
                best = Some((is, found));
            } else if best.as_ref().is_some_and(|(grade, _)| *grade == Grade::Tight) {
                more += 1;
                if more >= MAX_MORE {
                    break;
                }
            }
        }
        if let Some((score, settled)) = first
            && best.as_ref().is_none_or(|(grade, _)| *grade == Grade::Fails)
        {
            return Self::describe_settled(&task, &score, settled).map_err(NoPlace::Way);
        }
        best.map(|(_, found)| found).ok_or(miss)
    }
}

impl Task<'_, '_> {
    /// Times the plan with the task in one place, with all that ties its stops together.
    pub fn settle(&self, position: usize, lanes: Lanes) -> Result<(Score, Settled), Unknown> {
        let Self { ready, plan, candidate, .. } = self;
        let sequence = plan.sequence.with(position, &self.insertion(lanes));
        let settled = ready.settle(&self.frame, &sequence).map_err(|(_, unknown)| unknown)?;
        let missed = settled.blocks.iter().filter(|block| block.outside_windows).count();
        let outside = u32::try_from(missed).unwrap_or(u32::MAX);
        let finish = &settled.finish;
        let (end, sum) = (finish.end(), finish.own_ends().iter().sum());
        debug_assert!(candidate.earliest <= position);
        Ok((Score { position, lanes, outside, end, sum }, settled))
    }

    /// The task as it is put into the plan, in those lanes.
    pub fn insertion(&self, lanes: Lanes) -> Insertion<'_> {
        let candidate = self.candidate;
        Insertion {
            stop: Stop { lanes, ..candidate.stop },
            needs: &candidate.needs,
            needed_by: &candidate.needed_by,
            tools: &candidate.tools,
            brings_in: candidate.brings_in.then_some(candidate.task),
        }
    }
}
