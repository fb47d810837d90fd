//! Pages that are held against the queries that they cannot do without.

use app::alike::{self, ComparedWith};
use app::calendar::Calendar;
use app::search::{self, SearchScope};
use app::{App, backlog, whole_task};
use domain::words::TaskState;
use store::open_items::{Filter, PAGE, Sort};
use store::{history, measured, open_items, words};

use crate::Failed;

/// A page and the queries that stand behind it.
pub struct Case {
    pub path: String,
    pub bare: Bare,
}

pub enum Bare {
    /// A page of the list alone.
    List(Filter, Sort, i64),
    /// All that one task's page reads, the attempts like its last failure among it.
    Task(String),
    /// What a search shows: its words as they are spelled, the records that hold them, what those belong
    /// to.
    Search(&'static str, SearchScope),
    /// No query of its own to hold the page against.
    Nothing,
}

/// The list in its orders and filters, searches, and the pages of the largest tasks.
pub async fn cases(app: &App) -> Result<Vec<Case>, Failed> {
    let mut db = app.db.reader().await?;
    let largest = measured::largest_family(&mut db).await?;
    let busiest = measured::busiest_task(&mut db).await?;
    let of_largest = match &largest {
        Some(family) => measured::open_task_of(&mut db, family).await?,
        None => None,
    };
    let flight = measured::last_flown(&mut db).await?;
    let worksite = measured::some_worksite(&mut db).await?;
    let total = open_items::count(&mut db, &Filter::default()).await?;
    let middle = total / PAGE / 2 + 1;
    let open = Filter::default;
    let list = |query: String, filter, sort, page| Case {
        path: if query.is_empty() { "/open".to_owned() } else { format!("/open?{query}") },
        bare: Bare::List(filter, sort, page),
    };
    let mut cases = vec![
        list(String::new(), open(), Sort::Rank, 1),
        list(format!("page={middle}"), open(), Sort::Rank, middle),
        list("sort=code".to_owned(), open(), Sort::Code, 1),
        list("sort=need".to_owned(), open(), Sort::Need, 1),
        list("sort=carry".to_owned(), open(), Sort::Carry, 1),
        list("sort=title".to_owned(), open(), Sort::Title, 1),
        list("at_risk=yes".to_owned(), Filter { in_danger: true, ..open() }, Sort::Rank, 1),
        list("questioned=yes".to_owned(), Filter { in_question: true, ..open() }, Sort::Rank, 1),
        list("twice=yes".to_owned(), Filter { twice_same: true, ..open() }, Sort::Carry, 1),
        list(
            "state=done".to_owned(),
            Filter { state: Some(TaskState::Done), ..open() },
            Sort::Rank,
            1,
        ),
    ];
    if let Some(family) = largest {
        let filter = Filter { family: Some(family.clone()), ..open() };
        cases.push(list(format!("family={family}"), filter.clone(), Sort::Rank, 1));
        cases.push(list(format!("family={family}&sort=title"), filter, Sort::Title, 1));
    }
    if let Some(flight) = flight {
        let filter = Filter { flight: Some(flight.clone()), ..open() };
        cases.push(list(format!("flight={flight}"), filter, Sort::Rank, 1));
    }
    if let Some(site) = worksite {
        let filter = Filter { worksite: Some(site.clone()), ..open() };
        cases.push(list(format!("site={site}&sort=need"), filter, Sort::Need, 1));
    }
    // As it is typed, letter by letter.
    for typed in ["st", "str", "strap", "strap la", "strap latch seized", "connector 417 dust"] {
        let query = format!("q={}", typed.replace(' ', "+"));
        cases.push(list(query, Filter { words: words::asked(typed), ..open() }, Sort::Rank, 1));
    }
    // Common words, rare ones, several, one letter wrong, and narrowed to a kind.
    for (typed, among) in [
        ("strap", SearchScope::Everything),
        ("strap 417", SearchScope::Everything),
        ("strap 417 handrail dust", SearchScope::Everything),
        ("connectr 417", SearchScope::Everything),
        ("half seated 998", SearchScope::Everything),
        ("swap the hinge 4711", SearchScope::Everything),
        ("hinge 512 dust", SearchScope::Tries),
    ] {
        let narrowed = match among.word() {
            "" => String::new(),
            word => format!("&among={word}"),
        };
        let path = format!("/search?q={}{narrowed}", typed.replace(' ', "+"));
        cases.push(Case { path, bare: Bare::Search(typed, among) });
    }
    for task in [busiest, of_largest].into_iter().flatten() {
        cases.push(Case { path: format!("/tasks/{task}"), bare: Bare::Task(task.to_string()) });
    }
    Ok(cases)
}

/// Does the queries of a page alone.
pub async fn bare_queries(app: &App, bare: &Bare) -> Result<(), Failed> {
    let mut db = app.reader().await?;
    match bare {
        Bare::List(filter, sort, page) => {
            backlog::list(&mut db, "nobody", filter, *sort, (page - 1) * PAGE, PAGE).await?;
        }
        Bare::Task(code) => {
            whole_task::read(&mut db, code).await?;
            let calendar = Calendar::load(&mut db).await?;
            let tries = history::tries_of(&mut db, &[code.as_str().into()]).await?;
            if let Some(attempt) = alike::last_failure(&calendar, &tries) {
                alike::read(&mut db, &calendar, &ComparedWith::Attempts(vec![attempt])).await?;
            }
        }
        Bare::Search(typed, among) => {
            search::search(&mut db, typed, *among, 1).await?;
        }
        Bare::Nothing => {}
    }
    Ok(())
}
