//! The search that looks at every place: each seat, each position in the order, each timed with all
//! that waits for windows, arrangements, tools and aids. It stops at the first place, best first,
//! at which every check holds, and else knows which checks fail everywhere.

use super::score::Score;
use super::task::Task;
use super::{Base, Candidate, Found, NoPlace, Search, choices};
use crate::fit::ready::{Insertion, Plan, Ready, Settled};
use crate::fit::reasons::Unknown;
use crate::fit::verdict::Gates;
use crate::timeline::Lanes;
use domain::words::GateName;

use super::moved::Behind;

/// What the checks say of a place, the best first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(in crate::fit) enum Grade {
    /// No check is against it.
    Passes,
    /// It can be set, and something may fail on the day that may not fail elsewhere.
    Tight,
    Fails,
}

/// The grade of a place, and the checks that fail there.
#[derive(Debug, Clone, Copy)]
pub(in crate::fit) struct Graded {
    pub grade: Grade,
    pub fails: Gates,
}

/// What a search came to.
pub(in crate::fit) struct Searched {
    pub found: Found,
    /// The checks that fail at every place, where none was found.
    pub everywhere: Gates,
    /// A place at which a check holds that fails where the search ended.
    pub elsewhere: Vec<(GateName, Lanes, f64)>,
}

/// What is asked of a search.
pub(in crate::fit) struct Wanted {
    /// The grade at which it ends; `None`: the first place is taken whatever is found.
    pub enough: Option<Grade>,
    /// Nobody reads more than what decides.
    pub brief: bool,
}

/// Places that are looked at in one search; a plan of a dozen tasks and two seats has some thirty.
const MAX_PLACES: usize = 400;

/// Places looked at beyond one that is tight, for one that is not.
const MAX_MORE: usize = 8;

/// A place that was timed, and how the plan was settled there where aids are brought in.
pub(super) struct Timed {
    pub score: Score,
    /// When the task begins.
    pub start: f64,
    settled: Option<Settled>,
}

/// What a search has come to so far.
#[derive(Default)]
struct SoFar {
    /// The best place, and which one it is of those that were timed.
    best: Option<(Grade, usize, Found)>,
    everywhere: Option<Gates>,
    elsewhere: Vec<(GateName, Lanes, f64)>,
    more: usize,
}

impl Search {
    /// The best place that gets the best grade, or the first that is good enough. `grade` is told
    /// which checks fail everywhere so far. Places at which it finds no window count among them
    /// only where there is no other.
    pub fn complete(
        &mut self,
        (ready, plan): (&Ready, &Plan),
        base: &Base,
        candidate: &Candidate,
        Wanted { enough, brief }: Wanted,
        mut grade: impl FnMut(&Found, Gates) -> Graded,
    ) -> Result<Searched, NoPlace> {
        let routes = &*ready.aids.network(plan.sequence.first);
        let frame = plan.frame(ready);
        let task = Task { ready, plan, base, candidate, frame, routes, tools: true };
        let mut places = self.time_places(&task)?;
        sort(&mut places);
        let mut so_far = SoFar::default();
        let mut end = self.look(&task, &places, enough, (&mut so_far, &mut grade))?;
        let none = so_far.best.as_ref().is_none_or(|(grade, ..)| *grade == Grade::Fails);
        if end.is_none() && none && enough == Some(Grade::Passes) && candidate.may_wait {
            // Begun on purpose later than it could be, it may have a place after all.
            let mut later = self.time_later(&task, &places);
            sort(&mut later);
            let mut waiting = SoFar { everywhere: so_far.everywhere, ..SoFar::default() };
            end = self.look(&task, &later, enough, (&mut waiting, &mut grade))?;
            match waiting.best {
                Some((Grade::Passes | Grade::Tight, at, found)) if end.is_none() => {
                    end = Some(self.described(&task, (&later[at], found))?);
                }
                _ => {}
            }
            if so_far.best.is_some() {
                so_far.everywhere = waiting.everywhere;
                so_far.elsewhere.extend(waiting.elsewhere);
            }
        }
        if let Some(found) = end {
            return Ok(Searched { found, everywhere: Gates::default(), elsewhere: Vec::new() });
        }
        let SoFar { best, everywhere, mut elsewhere, .. } = so_far;
        let mut everywhere = everywhere.unwrap_or_default();
        let found = match (best, places.first()) {
            (Some((_, at, found)), _) => self.described(&task, (&places[at], found))?,
            (None, Some(first)) => {
                let found = self.describe_timed(&task, first, false)?;
                everywhere = grade(&found, Gates::all()).fails;
                for place in places.iter().skip(1).filter(|_| !brief) {
                    let other = self.describe_timed(&task, place, true)?;
                    let fails = grade(&other, everywhere).fails;
                    note_fails(&other, fails, &mut everywhere, &mut elsewhere);
                }
                found
            }
            (None, None) => return Err(NoPlace::Order),
        };
        Ok(Searched { found, everywhere, elsewhere })
    }

    /// Goes through places, best first, until one is good enough.
    fn look(
        &mut self,
        task: &Task,
        places: &[Timed],
        enough: Option<Grade>,
        (so_far, grade): (&mut SoFar, &mut impl FnMut(&Found, Gates) -> Graded),
    ) -> Result<Option<Found>, NoPlace> {
        for (at, place) in places.iter().enumerate() {
            if place.score.missed {
                continue;
            }
            let found = self.describe_timed(task, place, true)?;
            let Graded { grade: is, fails } =
                grade(&found, so_far.everywhere.unwrap_or(Gates::all()));
            if enough.is_some_and(|enough| is <= enough) {
                return self.described(task, (place, found)).map(Some);
            }
            let SoFar { best, everywhere, elsewhere, more } = so_far;
            note_fails(&found, fails, everywhere.get_or_insert(fails), elsewhere);
            match best {
                Some((so_far, ..)) if is >= *so_far || enough.is_none() => {
                    *more += usize::from(*so_far == Grade::Tight);
                }
                _ => *best = Some((is, at, found)),
            }
            if *more >= MAX_MORE {
                break;
            }
        }
        Ok(None)
    }

    /// Times every place; it fails where there is none.
    fn time_places(&mut self, task: &Task) -> Result<Vec<Timed>, NoPlace> {
        let Task { plan, base, candidate, .. } = *task;
        let aids = base.tied || candidate.brings_in;
        let mut miss = NoPlace::Order;
        let mut places = Vec::new();
        for position in (candidate.earliest..=candidate.latest).rev() {
            for lanes in choices(plan.lanes, candidate) {
                if places.len() >= MAX_PLACES {
                    return Ok(places);
                }
                if !aids && task.slides() && task.same_as_later(position, lanes) {
                    continue;
                }
                let timed = if aids {
                    task.settle(&Score::untold(position, lanes))
                } else {
                    self.time_place(task, &Score::untold(position, lanes))
                };
                match timed {
                    Ok(place) => places.push(place),
                    Err(unknown) => miss = NoPlace::Way(unknown),
                }
            }
        }
        if places.is_empty() { Err(miss) } else { Ok(places) }
    }

    pub(super) fn time_place(&mut self, task: &Task, at: &Score) -> Result<Timed, Unknown> {
        let (state, outside) = self.course.run(task, at.position, &task.stop(at))?;
        let score = Score { missed: self.course.missed, ..*at };
        let (score, _) = task.scored(score, Behind { state, outside })?;
        Ok(Timed { score, start: self.course.own.0, settled: None })
    }

    /// What is told of a place; its chance roughly, where that leaves no doubt that it fails.
    fn describe_timed(
        &mut self,
        task: &Task,
        place: &Timed,
        rough: bool,
    ) -> Result<Found, NoPlace> {
        let found = match &place.settled {
            Some(settled) => Ok(task.found_settled(&place.score, settled, rough)),
            None => self.describe(task, &place.score, None, rough),
        };
        found.map_err(NoPlace::Way)
    }

    /// The same with its chance told in full.
    fn described(
        &mut self,
        task: &Task,
        (place, found): (&Timed, Found),
    ) -> Result<Found, NoPlace> {
        if found.rough { self.describe_timed(task, place, false) } else { Ok(found) }
    }
}

/// Takes out of the checks that fail everywhere those that hold at a place, and notes it.
fn note_fails(
    found: &Found,
    fails: Gates,
    everywhere: &mut Gates,
    elsewhere: &mut Vec<(GateName, Lanes, f64)>,
) {
    let holds = everywhere.without(fails).each();
    elsewhere.extend(holds.map(|gate| (gate, found.stop.lanes, found.place.start)));
    *everywhere = everywhere.and(fails);
}

impl Task<'_, '_> {
    /// Times the plan with the task in one place, with all that ties its stops together.
    pub(super) fn settle(&self, at: &Score) -> Result<Timed, Unknown> {
        let Self { ready, plan, candidate, .. } = self;
        let position = at.position;
        let sequence = plan.sequence.with(position, &self.insertion(at));
        let settled = ready.settle(&self.frame, &sequence).map_err(|(_, unknown)| unknown)?;
        let missed = settled.blocks.iter().filter(|block| block.outside_windows).count();
        let outside = u32::try_from(missed).unwrap_or(u32::MAX);
        let finish = &settled.finish;
        let (end, sum) = (finish.end(), finish.own_ends().iter().sum());
        debug_assert!(candidate.earliest <= position);
        let own = &settled.blocks[position];
        let (missed, start) = (own.outside_windows, own.start);
        let score = Score { outside, missed, end, sum, ..*at };
        Ok(Timed { score, start, settled: Some(settled) })
    }

    /// The task as it is put into the plan, in that place.
    pub fn insertion(&self, at: &Score) -> Insertion<'_> {
        let candidate = self.candidate;
        Insertion {
            stop: self.stop(at),
            needs: &candidate.needs,
            needed_by: &candidate.needed_by,
            tools: &candidate.tools,
            brings_in: candidate.brings_in.then_some(candidate.task),
        }
    }
}

fn sort(places: &mut [Timed]) {
    places.sort_by(|Timed { score: a, .. }, Timed { score: b, .. }| {
        match (a.beats(b), b.beats(a)) {
            (true, false) => std::cmp::Ordering::Less,
            (false, true) => std::cmp::Ordering::Greater,
            _ => std::cmp::Ordering::Equal,
        }
    });
}
