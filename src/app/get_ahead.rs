//! What can still be done from where the crew stands: the open items, judged for that moment.

use async_recursion::async_recursion as boxed;

use crate::fit::{self, Judged};
use crate::{Failure, Reader, fit::Board};
use compute::fit::{ExcursionAt, Now, get_ahead};
use domain::cells::FieldError;
use domain::codes::{ExcursionCode, TaskCode, ToolCode, WorksiteCode};
use domain::units::Minutes;
use domain::verdicts::badness;
use store::StoreError;
use store::open_items::{self, Filter, OpenItem, Sort};

/// More open items than these are not looked through.
const SEARCHED: i64 = 2_000;

/// Where the crew stands.
#[derive(Debug, Clone)]
pub struct CrewPosition {
    pub excursion: ExcursionCode,
    pub worksite: WorksiteCode,
    pub left: Minutes,
    pub seats: usize,
    pub tools: Vec<ToolCode>,
}

/// One open item as a get-ahead.
#[derive(Debug)]
pub struct GetAhead {
    pub item: OpenItem,
    pub judged: Judged,
    /// Its value, less what the chance to be inside in time takes.
    pub worth: f64,
    /// The coming excursion on which it is set, where it is.
    pub set_on: Option<ExcursionCode>,
}

/// What can be begun comes first, and of that what is worth most.
#[boxed]
pub async fn look(db: &mut Reader, asked: &CrewPosition) -> Result<Vec<GetAhead>, Failure> {
    let items = open_items::page(db, &Filter::default(), Sort::Rank, 0, SEARCHED).await?;
    let wanted: Vec<TaskCode> = items.iter().map(|item| item.task.clone()).collect();
    let board = fit::board_seen(db, &wanted).await?;
    let now = now(&board, asked)?;
    let all = move || judged(&board, &now, items);
    let stopped = |cause| StoreError::Unusable(format!("looking for get-aheads stopped: {cause}"));
    tokio::task::spawn_blocking(all).await.map_err(stopped)?
}

/// The question in the snapshot's places; a code that it does not know is an error beside its
/// field.
fn now(board: &Board, asked: &CrewPosition) -> Result<Now, Failure> {
    let mut wrong = Vec::new();
    let excursion = board.excursion_at(&asked.excursion);
    if excursion.is_none() {
        let words = format!("{} is not a coming excursion.", asked.excursion);
        wrong.push(FieldError::new("at", words));
    }
    let sites = &board.snapshot.sites;
    let site = sites.position(|site| site.code == asked.worksite);
    if site.is_none() {
        let words = format!("{} is not a worksite of the record.", asked.worksite);
        wrong.push(FieldError::new("site", words));
    }
    let tool = |code: &ToolCode| board.snapshot.tools.position(|tool| tool.code == *code);
    let unknown: Vec<&str> =
        asked.tools.iter().filter(|code| tool(code).is_none()).map(ToolCode::as_str).collect();
    if !unknown.is_empty() {
        let words = format!("Not a tool of the record: {}.", unknown.join(", "));
        wrong.push(FieldError::new("tools", words));
    }
    match (excursion, site) {
        (Some(excursion), Some(site)) if wrong.is_empty() => Ok(Now {
            excursion,
            site,
            left: minutes(asked.left),
            seats: asked.seats,
            tools: asked.tools.iter().filter_map(tool).collect(),
        }),
        _ => Err(Failure::Invalid(wrong)),
    }
}

fn judged(board: &Board, now: &Now, items: Vec<OpenItem>) -> Result<Vec<GetAhead>, Failure> {
    let snapshot = &board.snapshot;
    let found = get_ahead(snapshot, &board.constants, now).map_err(|unknown| {
        let words = compute::fit::unknown_sentence(snapshot, &unknown);
        Failure::field("at", compute::fit::Part::plain(&words))
    })?;
    let mut explained: std::collections::HashMap<_, _> = found.into_iter().collect();
    let mut all: Vec<GetAhead> = items
        .into_iter()
        .filter_map(|item| {
            let task = board.task_at(&item.task)?;
            let judged = board.judged(task, &explained.remove(&task)?);
            let chance = judged.place.map_or(0.0, |place| place.chance);
            let set = |at: &ExcursionAt| {
                board.snapshot.excursions[*at].slots.iter().any(|s| s.set && s.task == task)
            };
            let set_on = snapshot.excursions.keys().find(set);
            Some(GetAhead {
                item,
                judged,
                worth: board.values.total(task) * chance,
                set_on: set_on.map(|at| snapshot.excursions[at].code.clone()),
            })
        })
        .collect();
    all.sort_by(|a, b| {
        let verdict = badness(a.judged.verdict).cmp(&badness(b.judged.verdict));
        verdict.then(b.worth.total_cmp(&a.worth))
    });
    Ok(all)
}

/// Minutes of an excursion stay far below the 2⁵³ that a float holds exactly.
#[expect(clippy::cast_precision_loss, reason = "minutes of an excursion are few")]
fn minutes(whole: Minutes) -> f64 {
    whole.0 as f64
}
