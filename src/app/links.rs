//! Links between tasks as they hang together: the chain around one task, what holds up most, and
//! what a done task leaves to close.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeMap, BTreeSet};

use sqlx::SqliteConnection;

use crate::Failure;
use crate::settings::CalculationInputs;
use domain::codes::{ExcursionCode, TaskCode};
use domain::history;
use domain::order_of_work::{
    Chain, KnownTask, Other, Tie, Ties, leaves_to_bring_in, leaves_to_close,
};
use domain::outside::OutsideItem;
use domain::tasks::Link;
use domain::words::{LinkKind, SlotState, TaskState};
use store::{outside, slots, standing, tasks};

/// A task of a chain, as it stands.
#[derive(Debug, Clone)]
pub struct LinkedTask {
    pub title: String,
    pub state: TaskState,
    pub left: history::Left,
    pub triggered: bool,
    /// `9` where unknown.
    pub class: String,
    pub at_risk: bool,
    /// Where it is pencilled or set.
    pub slots: Vec<(SlotState, ExcursionCode)>,
}

/// Tasks that links name, each as it stands.
#[derive(Debug, Clone, Default)]
pub struct Standing(BTreeMap<TaskCode, LinkedTask>);

impl Standing {
    async fn load(db: &mut SqliteConnection, codes: &[TaskCode]) -> Result<Self, Failure> {
        let mut all = BTreeMap::new();
        let triggered: BTreeSet<TaskCode> =
            tasks::triggered(db, codes).await?.into_iter().collect();
        for row in standing::these(db, codes).await? {
            let linked = LinkedTask {
                left: row.left(),
                title: row.title,
                state: row.state,
                triggered: triggered.contains(&row.task),
                class: row.class,
                at_risk: row.in_danger,
                slots: Vec::new(),
            };
            all.insert(row.task, linked);
        }
        for slot in slots::live_of_tasks(db, codes).await? {
            if let Some(linked) = all.get_mut(&slot.task) {
                linked.slots.push((slot.state, slot.excursion));
            }
        }
        Ok(Self(all))
    }

    pub fn of(&self, task: &TaskCode) -> Option<&LinkedTask> {
        self.0.get(task)
    }

    pub fn other<'a>(&self, task: &'a TaskCode) -> Other<'a> {
        let linked = self.of(task);
        Other {
            task,
            state: linked.map_or(TaskState::Open, |linked| linked.state),
            left: linked.map_or(history::Left::WHOLE, |linked| linked.left.clone()),
            triggered: linked.is_some_and(|linked| linked.triggered),
        }
    }

    fn known(&self) -> BTreeMap<TaskCode, KnownTask> {
        let known = |(task, linked): (&TaskCode, &LinkedTask)| {
            let known = KnownTask::as_it_stands(task.clone(), linked.state);
            (task.clone(), KnownTask { triggered: linked.triggered, ..known })
        };
        self.0.iter().map(known).collect()
    }
}

/// Everything that hangs together with one task.
#[derive(Debug, Default)]
pub struct LinkedTasks {
    pub chain: Chain,
    /// The links among the tasks of the chain.
    pub ties: Vec<Tie>,
    pub standing: Standing,
    /// The first unfinished causes.
    pub held_up_by: Vec<TaskCode>,
    pub waiting: Vec<TaskCode>,
    /// What is left to do about what this task superseded, or what superseded it.
    pub left: Vec<Left>,
}

/// What a done task leaves behind at the other end of a link.
#[derive(Debug, Clone)]
pub struct Left {
    pub tie: Tie,
    /// The superseded task is still open.
    pub to_close: bool,
    /// Temporary hardware of the superseded task that still stands outside.
    pub to_bring_in: Vec<OutsideItem>,
}

/// The chain around a task.
#[boxed]
pub async fn around(db: &mut SqliteConnection, task: &TaskCode) -> Result<LinkedTasks, Failure> {
    let all: Vec<Tie> = tasks::every_link(db).await?.iter().map(Tie::from).collect();
    let laid = Ties::of(&all);
    let chain = laid.chain(task);
    if chain.is_empty() {
        return Ok(LinkedTasks::default());
    }
    let mut members: BTreeSet<&TaskCode> = chain.tasks();
    members.insert(task);
    let ties: Vec<Tie> = all
        .iter()
        .filter(|tie| members.contains(&tie.task) && members.contains(&tie.other))
        .cloned()
        .collect();
    let codes: Vec<TaskCode> = members.into_iter().cloned().collect();
    let standing = Standing::load(db, &codes).await?;
    let known = standing.known();
    let own = ties.iter().filter(|tie| tie.task == *task || tie.other == *task);
    let left = left_behind(db, own, &standing).await?;
    Ok(LinkedTasks {
        held_up_by: laid.held_up_by(task, &known),
        waiting: laid.waiting_for(task, &known),
        left,
        chain,
        ties,
        standing,
    })
}

async fn left_behind(
    db: &mut SqliteConnection,
    ties: impl Iterator<Item = &Tie>,
    standing: &Standing,
) -> Result<Vec<Left>, Failure> {
    let mut found: Vec<Left> = ties
        .filter_map(|tie| {
            let (first, other) = (standing.of(&tie.task)?, standing.of(&tie.other)?);
            let to_close = leaves_to_close(tie.kind, first.state, other.state);
            let brings = leaves_to_bring_in(tie.kind, first.state);
            (to_close || brings).then(|| Left {
                tie: tie.clone(),
                to_close,
                to_bring_in: Vec::new(),
            })
        })
        .collect();
    let superseded: Vec<TaskCode> = found
        .iter()
        .filter(|left| left.tie.kind != LinkKind::Continues)
        .map(|left| left.tie.other.clone())
        .collect();
    if !superseded.is_empty() {
        for (task, item) in outside::left_by_tasks(db, &superseded).await? {
            let by = found.iter_mut().find(|left| left.tie.other == task);
            if let Some(left) = by.filter(|left| left.tie.kind != LinkKind::Continues) {
                left.to_bring_in.push(item);
            }
        }
    }
    found.retain(|left| left.to_close || !left.to_bring_in.is_empty());
    Ok(found)
}

/// An unfinished task that holds others up and is held up by nothing itself.
#[derive(Debug, Clone)]
pub struct HoldsUp {
    pub task: TaskCode,
    pub waiting: Vec<TaskCode>,
    /// The weights of the classes of what waits, summed.
    pub worth: f64,
}

/// What the links of the whole record come to.
#[derive(Debug, Default)]
pub struct Overview {
    pub links: Vec<Link>,
    pub standing: Standing,
    /// What most waits for, first.
    pub holds_up: Vec<HoldsUp>,
    pub left: Vec<Left>,
}

#[boxed]
pub async fn overview(db: &mut SqliteConnection) -> Result<Overview, Failure> {
    let links = tasks::every_link(db).await?;
    let ties: Vec<Tie> = links.iter().map(Tie::from).collect();
    let ends: BTreeSet<TaskCode> =
        ties.iter().flat_map(|tie| [tie.task.clone(), tie.other.clone()]).collect();
    let codes: Vec<TaskCode> = ends.into_iter().collect();
    let standing = Standing::load(db, &codes).await?;
    let weights = CalculationInputs::load(db).await?.weights.classes;
    let weight = |task: &TaskCode| {
        let class = standing.of(task).and_then(|linked| linked.class.parse::<usize>().ok());
        class.and_then(|class| weights.get(class.checked_sub(1)?).copied()).unwrap_or(0.0)
    };
    let (laid, known) = (Ties::of(&ties), standing.known());
    let mut holds_up: Vec<HoldsUp> = codes
        .iter()
        .filter(|task| standing.of(task).is_some_and(|linked| linked.state != TaskState::Done))
        .filter(|task| laid.held_up_by(task, &known).is_empty())
        .map(|task| {
            let waiting = laid.waiting_for(task, &known);
            let worth = waiting.iter().map(weight).sum();
            HoldsUp { task: task.clone(), waiting, worth }
        })
        .filter(|holds| !holds.waiting.is_empty())
        .collect();
    holds_up.sort_by(|a, b| {
        b.worth
            .total_cmp(&a.worth)
            .then(b.waiting.len().cmp(&a.waiting.len()))
            .then(a.task.cmp(&b.task))
    });
    let left = left_behind(db, ties.iter(), &standing).await?;
    Ok(Overview { links, standing, holds_up, left })
}
