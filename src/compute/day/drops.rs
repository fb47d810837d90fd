//! What to drop and what to shorten: the choice that keeps the most value with a chance to end inside
//! the limit of at least a bound. Every choice is tried, depth first, by branch and bound: a branch
//! is left where no choice below it keeps more value than the best so far, or where too many draws
//! are past the limit already, which nothing done after that mends.

use super::batch::{BATCH, BATCHES};
use super::crew::{Crew, Trail, of};
use super::outlook::{Item, Outlook, percentiles};
use super::{Progress, Ways};
use crate::timeline::NoWay;

/// What is done with one task.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Choice {
    Keep,
    /// Up to its stopping point.
    Shorten,
    Drop,
}

/// A choice for every task that is left.
#[derive(Debug, Clone, PartialEq)]
pub struct DropSet {
    /// Each task that is left, in the order of the plan.
    pub choices: Vec<(usize, Choice)>,
    pub chance: f64,
    pub end_p50: f64,
    pub end_p80: f64,
    /// What it keeps of the value that was left; a shortened task keeps that share of its own.
    pub value: f64,
    pub of_value: f64,
    /// Every choice was tried or shown to be no better.
    pub proven: bool,
}

impl DropSet {
    pub fn dropped(&self) -> impl Iterator<Item = usize> + '_ {
        self.chosen(Choice::Drop)
    }

    pub fn shortened(&self) -> impl Iterator<Item = usize> + '_ {
        self.chosen(Choice::Shorten)
    }

    pub fn keeps_all(&self) -> bool {
        self.choices.iter().all(|(_, choice)| *choice == Choice::Keep)
    }

    fn chosen(&self, which: Choice) -> impl Iterator<Item = usize> + '_ {
        self.choices.iter().filter(move |(_, choice)| *choice == which).map(|(task, _)| *task)
    }
}

/// Steps after which a search that is not proven stops. All choices of 12 tasks with stopping points
/// are 3¹² and 265,721 steps before them; branches that are left make far fewer of them.
const MOST_STEPS: usize = 800_000;
/// Values are sums of a few weights: less than this is rounding.
const ROUNDING: f64 = 1e-9;

/// How far a chance from that many draws may lie from the chance of all: more than three and a half
/// standard errors of plain draws, and these are more even.
fn in_doubt(draws: usize) -> f64 {
    1.4 / of(draws).sqrt()
}

/// The best choice so far.
struct Best {
    value: f64,
    drops: usize,
    choices: Vec<Choice>,
}

struct Search<'o, 'a, W> {
    outlook: &'o Outlook<'a, W>,
    /// The tasks that are left, those under way first.
    left: Vec<usize>,
    /// The most that the tasks from each place on can add.
    to_come: Vec<f64>,
    bound: f64,
    best: Option<Best>,
    steps: usize,
}

/// The choices so far.
#[derive(Clone, Copy)]
struct Sofar {
    value: f64,
    drops: usize,
}

impl<W: Ways> Outlook<'_, W> {
    /// The best choice with that chance or more to end inside the limit; `None` where there is
    /// none, not even with everything dropped that may be.
    pub fn best_drops(&self, bound: f64) -> Option<DropSet> {
        let left: Vec<usize> = self.day.running().chain(self.day.planned()).collect();
        let mut to_come = vec![0.0; left.len() + 1];
        for (place, &task) in left.iter().enumerate().rev() {
            to_come[place] = to_come[place + 1] + self.day.tasks[task].value;
        }
        let mut search = Search { outlook: self, left, to_come, bound, best: None, steps: 0 };
        let mut chosen = Vec::new();
        let crew = Crew::at_now(&self.day, &self.batches[0]);
        let mut trail = Trail::of(&self.day);
        search.go(&mut chosen, Sofar { value: 0.0, drops: 0 }, &crew, &mut trail);
        let proven = search.steps < MOST_STEPS;
        let choices = search.left.iter().copied().zip(search.best?.choices).collect();
        let set = self.with_choices(choices).ok()?;
        Some(DropSet { proven, ..set })
    }

    /// What comes of a choice for every task that is left. It fails where there is no route.
    pub fn with_choices(&self, mut choices: Vec<(usize, Choice)>) -> Result<DropSet, NoWay> {
        choices.sort_by_key(|(task, _)| (self.is_to_come(*task), *task));
        let mut ends = Vec::with_capacity(BATCH * BATCHES);
        let mut inside = 0;
        let items = self.chosen_items(&choices);
        for number in 0..BATCHES {
            let of_batch = self.run(number, &items, &mut |_, _, _, _| ())?;
            inside += self.in_time(&of_batch);
            ends.extend(of_batch);
        }
        let (end_p50, end_p80) = percentiles(&mut ends);
        let value = |&(task, choice): &(usize, Choice)| self.kept(task, choice);
        let whole = |(task, _): &(usize, Choice)| self.day.tasks[*task].value;
        let (value, of_value) = (choices.iter().map(value).sum(), choices.iter().map(whole).sum());
        choices.sort_by_key(|(task, _)| *task);
        let chance = of(inside) / of(BATCH * BATCHES);
        Ok(DropSet { choices, chance, end_p50, end_p80, value, of_value, proven: true })
    }

    /// The choice that keeps everything but some tasks and what needs them.
    pub fn without(&self, dropped: &[usize]) -> Vec<(usize, Choice)> {
        let mut out: Vec<usize> = dropped.to_vec();
        let mut choices = Vec::new();
        for task in self.day.running().chain(self.day.planned()) {
            let needs =
                self.day.needs.iter().any(|(first, then)| *then == task && out.contains(first));
            let drop =
                self.is_to_come(task) && (needs || out.contains(&task) || !self.day.can_go(task));
            if drop {
                out.push(task);
            }
            choices.push((task, if drop { Choice::Drop } else { Choice::Keep }));
        }
        choices.sort_by_key(|(task, _)| *task);
        choices
    }

    fn is_to_come(&self, task: usize) -> bool {
        matches!(self.day.tasks[task].progress, Progress::Planned)
    }

    fn share(&self, task: usize, choice: Choice) -> f64 {
        match choice {
            Choice::Keep => 1.0,
            Choice::Shorten => self.day.tasks[task].stopping_share.unwrap_or(1.0),
            Choice::Drop => 0.0,
        }
    }

    fn kept(&self, task: usize, choice: Choice) -> f64 {
        self.share(task, choice) * self.day.tasks[task].value
    }

    fn chosen_items(&self, choices: &[(usize, Choice)]) -> Vec<Item<'static>> {
        let goes = choices.iter().filter(|(_, choice)| *choice != Choice::Drop);
        goes.map(|&(task, choice)| self.item(task, choice)).collect()
    }

    fn item(&self, task: usize, choice: Choice) -> Item<'static> {
        Item { at: task, share: super::batch::narrow(self.share(task, choice)), added: None }
    }

    /// Whether those tasks end inside the limit with that chance in all draws; it stops where the
    /// draws so far leave no doubt.
    pub(super) fn passes(&self, items: &[Item], bound: f64) -> bool {
        let mut inside = 0;
        for number in 0..BATCHES {
            let Ok(of_batch) = self.inside(number, items) else { return false };
            inside += of_batch;
            let draws = BATCH * (number + 1);
            if number + 1 < BATCHES && of(inside) / of(draws) < bound - in_doubt(draws) {
                return false;
            }
        }
        of(inside) / of(BATCH * BATCHES) >= bound
    }
}

impl<W: Ways> Search<'_, '_, W> {
    /// Tries every choice for the tasks from `chosen` on.
    fn go(&mut self, chosen: &mut Vec<Choice>, sofar: Sofar, crew: &Crew, trail: &mut Trail) {
        self.steps += 1;
        let place = chosen.len();
        if self.steps >= MOST_STEPS || !self.may_be_better(sofar, place) {
            return;
        }
        let day = &self.outlook.day;
        let bound = self.bound - in_doubt(BATCH);
        if of(crew.not_late(day, &self.outlook.batches[0])) / of(BATCH) < bound {
            return;
        }
        let Some(&task) = self.left.get(place) else {
            self.take(chosen, sofar, crew, trail);
            return;
        };
        for choice in [Choice::Keep, Choice::Shorten, Choice::Drop] {
            if !self.may(task, choice, chosen) {
                continue;
            }
            let after = Sofar {
                value: sofar.value + self.outlook.kept(task, choice),
                drops: sofar.drops + usize::from(choice == Choice::Drop),
            };
            chosen.push(choice);
            if choice == Choice::Drop {
                self.go(chosen, after, crew, trail);
            } else {
                let aids = trail.brought_in.len();
                let mut next = crew.clone();
                let item = self.outlook.item(task, choice);
                if self.outlook.go(0, &mut next, trail, &item).is_ok() {
                    self.go(chosen, after, &next, trail);
                }
                trail.goes[task] = false;
                trail.brought_in.truncate(aids);
            }
            chosen.pop();
        }
    }

    /// Must-do work is neither dropped nor shortened, work under way is not dropped, and what
    /// needs work that is not done whole does not go.
    fn may(&self, task: usize, choice: Choice, chosen: &[Choice]) -> bool {
        let day = &self.outlook.day;
        let it = &day.tasks[task];
        let running = matches!(it.progress, Progress::Running { .. });
        if choice == Choice::Drop {
            return !running && !it.must_do;
        }
        if choice == Choice::Shorten && (it.must_do || it.stopping_share.is_none()) {
            return false;
        }
        let whole = |first: usize| {
            let place = self.left.iter().position(|&at| at == first);
            place.is_none_or(|place| chosen.get(place).is_none_or(|made| *made == Choice::Keep))
        };
        running
            || day.can_go(task)
                && day.needs.iter().all(|&(first, then)| then != task || whole(first))
    }

    /// Ties go to fewer drops.
    fn may_be_better(&self, sofar: Sofar, place: usize) -> bool {
        let most = sofar.value + self.to_come[place];
        self.best.as_ref().is_none_or(|best| {
            most > best.value + ROUNDING || most > best.value - ROUNDING && sofar.drops < best.drops
        })
    }

    fn take(&mut self, chosen: &[Choice], sofar: Sofar, crew: &Crew, trail: &Trail) {
        let outlook = self.outlook;
        let Ok(inside) = crew.inside(&outlook.day, &outlook.batches[0], trail) else { return };
        if of(outlook.in_time(&inside)) / of(BATCH) < self.bound - in_doubt(BATCH) {
            return;
        }
        let choices: Vec<(usize, Choice)> =
            self.left.iter().copied().zip(chosen.iter().copied()).collect();
        if outlook.passes(&outlook.chosen_items(&choices), self.bound) {
            let Sofar { value, drops } = sofar;
            self.best = Some(Best { value, drops, choices: chosen.to_vec() });
        }
    }
}
