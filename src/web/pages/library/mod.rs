//! The library: worksites, techniques, tools and families, each as a list and one by one.

use axum::extract::State;
use axum::response::Response;

use crate::addresses::{self, encoded};
use crate::extract::Fields;
use crate::failure::PageError;
use crate::forms::Pager;
use crate::linked::{Piece, linked};
use crate::pages::{records, words};
use crate::tables;
use crate::visitor::Viewer;
use app::App;
use app::library::{Shelf, TaskStanding};
use app::read::library::PAGE;
use app::read::open_items::OpenItem;
use domain::kinds::Kind;
use domain::roles::{action_for, may};
use domain::units::Minutes;
use domain::words::{Outcome, TaskState};

pub(crate) mod compare;
pub(crate) mod families;
pub(crate) mod inhibits;
pub(crate) mod revisions;
mod technique_record;
pub(crate) mod techniques;
pub(crate) mod tools;
pub(crate) mod worksites;

/// What an address asks of a shelf: words in codes and names, and the page.
pub(crate) struct ShelfQuery {
    pub typed: String,
    pub page: i64,
}

impl ShelfQuery {
    pub fn read(address: &str) -> Self {
        let query = address.split_once('?').map_or("", |(_, query)| query);
        let fields = Fields::read(query.as_bytes());
        Self {
            typed: fields.get("q").trim().to_owned(),
            page: fields.get("page").parse().unwrap_or(1).clamp(1, 100_000),
        }
    }
}

/// What every list of the library has around its table.
pub(crate) struct ListHead {
    pub heading: &'static str,
    /// The entry of `/words` that explains the heading.
    pub term: &'static str,
    pub address: String,
    pub typed: String,
    pub status: String,
    /// The same entries as a file.
    pub csv: String,
    /// Where a new entry is made, and the words for it; for those who may.
    pub new: Option<(String, String)>,
    pub pager: Pager,
    /// What to do where the shelf is empty.
    pub empty: &'static str,
}

impl ListHead {
    fn new<T>(
        kind: Kind,
        heading: &'static str,
        empty: &'static str,
        viewer: &Viewer,
        asked: &ShelfQuery,
        shelf: &Shelf<T>,
    ) -> Self {
        let address = format!("/{}", addresses::folder(kind));
        let on_page = |page: i64| match asked.typed.as_str() {
            "" => format!("{address}?page={page}"),
            typed => format!("{address}?q={}&page={page}", encoded(typed)),
        };
        let query = match asked.typed.as_str() {
            "" => String::new(),
            typed => format!("q={}", encoded(typed)),
        };
        let pager = Pager::new(asked.page, PAGE, shelf.total, on_page);
        let total = shelf.total;
        let noun = if total == 1 { kind.word() } else { kind.plural() };
        let status = match asked.typed.as_str() {
            "" => format!("{total} {noun}"),
            typed => format!("{total} {noun} with “{typed}” in code or name"),
        };
        Self {
            heading,
            term: words::term_of(kind),
            typed: asked.typed.clone(),
            status,
            new: may(viewer.actor.role, action_for(kind))
                .then(|| (format!("{address}/new"), records::add_words(kind))),
            csv: tables::address_of(addresses::folder(kind), &query),
            address,
            pager,
            empty,
        }
    }
}

/// The entries that a list shows, whole, as a file.
macro_rules! files {
    ($($name:ident of $shelf:ident),+) => {$(
        pub(crate) async fn $name(
            State(app): State<App>,
            viewer: Viewer,
        ) -> Result<Response, PageError> {
            let asked = ShelfQuery::read(viewer.address());
            let mut db = app.reader().await?;
            let found = app::read::$shelf::matching(&mut db, &asked.typed, 0, tables::MAX_ROWS).await?;
            tables::records(&found)
        }
    )+};
}
files!(
    worksites_file of worksites,
    techniques_file of techniques,
    tools_file of tools,
    families_file of families,
    inhibits_file of inhibits
);

/// Where a page of open items stands among those of one entry.
fn open_pager(viewer: &Viewer, code: &str, kind: Kind, total: i64) -> Pager {
    let page = ShelfQuery::read(viewer.address()).page;
    let at = addresses::of(kind, code);
    Pager::new(page, app::library::OPEN, total, |page| format!("{at}?page={page}"))
}

/// What stands around one entry.
pub(crate) struct EntryHead {
    pub code: String,
    pub name: String,
    pub list: String,
    pub kind: &'static str,
    /// Where it is edited, for those who may.
    pub edit: Option<String>,
}

impl EntryHead {
    fn new(kind: Kind, code: &str, name: Option<&str>, viewer: &Viewer) -> Self {
        Self {
            code: code.to_owned(),
            name: name.unwrap_or_default().to_owned(),
            list: format!("/{}", addresses::folder(kind)),
            kind: kind.plural(),
            edit: may(viewer.actor.role, action_for(kind))
                .then(|| format!("{}/edit", addresses::of(kind, code))),
        }
    }

    fn title(&self) -> String {
        if self.name.is_empty() {
            self.code.clone()
        } else {
            format!("{}, {}", self.code, self.name)
        }
    }
}

/// One task in a list beside an entry.
pub(crate) struct TaskLine {
    pub code: String,
    pub title: String,
    pub state: Option<TaskState>,
    pub class: String,
    pub need: Vec<Piece>,
    pub carried: i64,
    pub why: Vec<Piece>,
}

impl From<&OpenItem> for TaskLine {
    fn from(item: &OpenItem) -> Self {
        let flight = item.needed_by_flight.as_ref().map(ToString::to_string);
        let day = item.needed_by_day.map(|day| day.to_string());
        Self {
            code: item.task.to_string(),
            title: item.title.as_str().to_owned(),
            state: Some(item.state),
            class: item.class.map_or_else(String::new, |class| class.word().to_owned()),
            need: linked(&flight.or(day).unwrap_or_default()),
            carried: item.carry_count,
            why: linked(&item.why_words),
        }
    }
}

impl From<&TaskStanding> for TaskLine {
    fn from(one: &TaskStanding) -> Self {
        let task = &one.task;
        let flight = task.needed_by_flight.as_ref().map(ToString::to_string);
        let day = task.needed_by_day.map(|day| day.to_string());
        Self {
            code: task.code.0.to_string(),
            title: task.title.as_str().to_owned(),
            state: one.standing.as_ref().map(|row| row.state),
            class: task.class.map_or_else(String::new, |class| class.word().to_owned()),
            need: linked(&flight.or(day).unwrap_or_default()),
            carried: one.standing.as_ref().map_or(0, |row| row.carry_count),
            why: one.standing.as_ref().map_or_else(Vec::new, |row| linked(&row.why_words)),
        }
    }
}

/// `4 done, 2 not completed`, in the order in which outcomes are told.
fn outcomes(tries: &[(Outcome, i64)]) -> String {
    let told: Vec<String> = Outcome::ALL
        .iter()
        .filter_map(|outcome| {
            let count: i64 = tries.iter().filter(|(o, _)| o == outcome).map(|(_, n)| n).sum();
            (count > 0).then(|| format!("{count} {outcome}"))
        })
        .collect();
    if told.is_empty() { "never tried".to_owned() } else { told.join(", ") }
}

/// `22 · 36 · 62`, as far as they are known.
fn minutes(
    optimistic: Option<Minutes>,
    likely: Option<Minutes>,
    pessimistic: Option<Minutes>,
) -> String {
    let points = [optimistic, likely, pessimistic];
    if points.iter().all(Option::is_none) {
        return "unknown".to_owned();
    }
    let shown = |m: &Option<Minutes>| m.map_or_else(|| "?".to_owned(), |m| m.0.to_string());
    points.iter().map(shown).collect::<Vec<_>>().join(" · ")
}

/// Lines of prose that say something.
fn lines(prose: &str) -> Vec<String> {
    prose.lines().map(str::trim).filter(|line| !line.is_empty()).map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn outcomes_are_told_in_one_order_and_none_is_said_so() {
        let tries = [(Outcome::NotReached, 1), (Outcome::Done, 2), (Outcome::NotReached, 2)];
        assert_eq!(outcomes(&tries), "2 done, 3 not reached");
        assert_eq!(outcomes(&[]), "never tried");
    }

    #[test]
    fn an_address_is_read_and_nonsense_is_the_first_page() {
        let asked = ShelfQuery::read("/tools?q=+pry+bar&page=0");
        assert_eq!((asked.typed.as_str(), asked.page), ("pry bar", 1));
        assert_eq!(ShelfQuery::read("/tools").page, 1);
    }
}
