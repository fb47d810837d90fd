//! The backlog: listed, kept as views, and worked on several rows at once.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::Failure;
use crate::calendar::Calendar;
use crate::dossier::Dossier;
use crate::excursions::allowed;
use crate::kinds::save_whole;
use crate::records::{Base, next_code};
use crate::work::Work;
use domain::bounds::{MAX_QUERY_BYTES, MAX_VIEW_NAME, MAX_VIEWS};
use domain::cells::{Cells, Line};
use domain::codes::{FamilyCode, FlightCode, TaskCode, ViewCode, WorksiteCode};
use domain::families::Family;
use domain::kinds::Kind;
use domain::roles::Action;
use domain::worksites::Worksite;
use store::history::Texts;
use store::open_items::{self, Filter, OpenItem, Sort};
use store::views::{self, View};
use store::{Kept, register};

pub use store::open_items::Blocker;

/// So many worksites and families are offered to choose from.
const OFFERED: i64 = 200;
/// At most so many rows are worked on together.
const TOGETHER: usize = 200;

/// A page of the backlog with what draws its rows.
#[derive(Debug)]
pub struct BacklogPage {
    pub items: Vec<OpenItem>,
    pub total: i64,
    pub dossier: Dossier,
    pub choices: Choices,
    pub views: Vec<View>,
}

/// What the filters offer.
#[derive(Debug, Default)]
pub struct Choices {
    pub flights: Vec<FlightCode>,
    pub worksites: Vec<WorksiteCode>,
    pub families: Vec<(FamilyCode, String)>,
}

/// Reads rows `offset` to `offset + most` of the list, with a fixed number of queries.
#[boxed]
pub async fn list(
    db: &mut SqliteConnection,
    person: &str,
    filter: &Filter,
    sort: Sort,
    offset: i64,
    most: i64,
) -> Result<BacklogPage, Failure> {
    let items = open_items::page(db, filter, sort, offset, most).await?;
    let total = open_items::count(db, filter).await?;
    let codes: Vec<TaskCode> = items.iter().map(|item| item.task.clone()).collect();
    let calendar = Calendar::load(db).await?;
    let flights = calendar.flights.iter().map(|flight| flight.code.clone()).collect();
    let dossier = Dossier::events_alone(db, calendar, &codes, Texts::LeftOut).await?;
    Ok(BacklogPage {
        items,
        total,
        dossier,
        choices: Choices { flights, ..choices(db).await? },
        views: views::of_person(db, person).await?,
    })
}

/// The worksites and families that a filter offers.
#[boxed]
pub async fn choices(db: &mut SqliteConnection) -> Result<Choices, Failure> {
    let worksites = Worksite::after(db, "", OFFERED).await?;
    let families = Family::after(db, "", OFFERED).await?;
    let named = |family: Family| {
        let name = family.name.map_or_else(|| family.code.0.to_string(), Line::into_string);
        (family.code.0, name)
    };
    Ok(Choices {
        flights: Vec::new(),
        worksites: worksites.into_iter().map(|site| site.code.0).collect(),
        families: families.into_iter().map(named).collect(),
    })
}

/// The record that goes by exactly these letters, whatever its case: a search for a code jumps
/// there.
#[boxed]
pub async fn by_code(
    db: &mut SqliteConnection,
    typed: &str,
) -> Result<Option<(Kind, String)>, Failure> {
    Ok(register::by_code(db, typed.trim()).await?.into_iter().next())
}

/// Keeps the filters of a list under a name.
#[boxed]
pub async fn keep_view(work: &mut Work, name: &str, query: &str) -> Result<(), Failure> {
    allowed(work, Action::KeepOwnViews)?;
    let name = name.trim();
    if name.is_empty() || name.chars().count() > MAX_VIEW_NAME {
        let words = format!("Give the view a name of 1 to {MAX_VIEW_NAME} characters.");
        return Err(Failure::field("name", words));
    }
    if query.len() > MAX_QUERY_BYTES {
        let words = format!(
            "These filters are {} bytes long as an address; a view keeps at most {MAX_QUERY_BYTES}. \
             Remove some.",
            query.len()
        );
        return Err(Failure::field("query", words));
    }
    let (who, now) = (work.actor.name.clone(), work.now);
    let own = views::of_person(work.db(), &who).await?;
    if let Some(known) = own.iter().find(|view| view.name == name) {
        let view = View { query: query.to_owned(), ..known.clone() };
        return Ok(views::put(work.db(), &who, &view).await?);
    }
    if own.len() >= MAX_VIEWS {
        return Err(Failure::Refused(format!(
            "You have {MAX_VIEWS} saved views, the most that one person keeps; remove one first."
        )));
    }
    let code = next_code(work, Kind::View, Kind::View.prefix()).await?;
    register::enter(work.db(), Kind::View, &code, &who, now).await?;
    let view = View { code: ViewCode::from(code), name: name.to_owned(), query: query.to_owned() };
    Ok(views::put(work.db(), &who, &view).await?)
}

#[boxed]
pub async fn drop_view(work: &mut Work, code: &str) -> Result<(), Failure> {
    let who = work.actor.name.clone();
    if views::remove(work.db(), &who, &ViewCode::from(code)).await? {
        Ok(register::strike_out_view(work.db(), code).await?)
    } else {
        Err(Failure::NotFound(Kind::View, code.to_owned()))
    }
}

/// What is done with several rows at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BulkAction {
    Park,
    Drop,
    Class,
    NeededBy,
}

impl BulkAction {
    pub fn read(word: &str) -> Option<Self> {
        match word {
            "park" => Some(Self::Park),
            "drop" => Some(Self::Drop),
            "class" => Some(Self::Class),
            "need" => Some(Self::NeededBy),
            _ => None,
        }
    }

    pub const fn word(self) -> &'static str {
        match self {
            Self::Park => "park",
            Self::Drop => "drop",
            Self::Class => "class",
            Self::NeededBy => "need",
        }
    }

    pub const fn action(self) -> Action {
        match self {
            Self::Park => Action::Park,
            Self::Drop => Action::Drop,
            Self::Class => Action::SetClass,
            Self::NeededBy => Action::SetNeededBy,
        }
    }
}

/// Does the same with every task named, or with none: what is refused is named task by task. The
/// records that it made are the answer.
#[boxed]
pub async fn together(
    work: &mut Work,
    what: BulkAction,
    tasks: &[String],
    typed: &Cells,
) -> Result<Vec<String>, Failure> {
    allowed(work, what.action())?;
    if tasks.is_empty() {
        return Err(Failure::Refused("No row was picked; tick the tasks first.".to_owned()));
    }
    if tasks.len() > TOGETHER {
        return Err(Failure::Refused(format!("Pick at most {TOGETHER} tasks at once.")));
    }
    let empty = |name: &str| typed.get(name).trim().is_empty();
    if what == BulkAction::NeededBy && empty("needed_by_flight") && empty("needed_by_day") {
        let words = "Enter a flight or a date. Nothing is set while both are empty.";
        return Err(Failure::field("needed_by_flight", words));
    }
    let (mut made, mut refused) = (Vec::new(), Vec::new());
    for task in tasks {
        match one(work, what, task, typed).await {
            Ok(code) => made.push(code),
            // What was typed is wrong for all of them alike.
            Err(Failure::Invalid(fields)) => return Err(Failure::Invalid(fields)),
            Err(Failure::Internal(cause)) => return Err(Failure::Internal(cause)),
            Err(other) => refused.push(format!("{task}: {other}")),
        }
    }
    if refused.is_empty() { Ok(made) } else { Err(Failure::Refused(refused.join(" "))) }
}

async fn one(
    work: &mut Work,
    what: BulkAction,
    task: &str,
    typed: &Cells,
) -> Result<String, Failure> {
    let there = store::standing::find(work.db(), &TaskCode::from(task)).await?;
    let Some(there) = there else { return Err(Failure::NotFound(Kind::Task, task.to_owned())) };
    if !there.state.is_open_item() {
        return Err(Failure::Refused(format!("it is {} already.", there.state)));
    }
    let mut cells = Cells::default();
    cells.set("task", task);
    let saved = match what {
        BulkAction::Park => {
            cells.set("why", typed.get("why"));
            cells.set("until_day", typed.get("until_day"));
            cells.set("until_flight", typed.get("until_flight"));
            save_whole(work, Kind::Parking, &cells, Base::New).await?
        }
        BulkAction::Drop => {
            cells.set("kind", "no longer wanted");
            cells.set("words", typed.get("words"));
            save_whole(work, Kind::Closure, &cells, Base::New).await?
        }
        BulkAction::Class | BulkAction::NeededBy => {
            let before = crate::kinds::find(work.db(), Kind::Task, task).await?;
            let mut cells = before.unwrap_or_default();
            let columns: &[&str] = match what {
                BulkAction::Class => &["class"],
                _ => &["needed_by_flight", "needed_by_day"],
            };
            for column in columns {
                cells.set(*column, typed.get(column));
            }
            save_whole(work, Kind::Task, &cells, Base::Current).await?
        }
    };
    Ok(saved.code)
}
