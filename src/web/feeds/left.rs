//! Tasks that left a saved view when one of their own cells was edited, each with the change by which
//! it left.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use app::read::Connection;

use super::atom::listed;
use app::Failure;
use app::read::open_items::{Filter, Sort};
use app::read::{changes, flights, tasks};
use domain::cells::{Cell as _, Cells};
use domain::codes::{FamilyCode, FlightCode, TaskCode, WorksiteCode};
use domain::kinds::Kind;
use domain::records::Record as _;
use domain::tasks::Task;
use domain::time::Day;

/// Newest changes among which edits are looked for.
const MAX_CHANGES: i64 = 50_000;

/// What a view asks of a cell of the task itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Asks {
    Words,
    Flight,
    Worksite,
    Family,
    Class,
    NeededBy,
}

/// A task as it stood before a change.
struct Before {
    cells: Cells,
    /// The cells that this change or a later one edited.
    edited: BTreeSet<String>,
}

/// A view with what its conditions are held against.
struct View<'a> {
    filter: &'a Filter,
    /// As a person typed them.
    words: &'a str,
    launches: HashMap<FlightCode, Day>,
}

/// By task, the number of the newest change by which it left.
pub(super) async fn left(
    db: &mut Connection,
    filter: &Filter,
    words: &str,
) -> Result<HashMap<String, i64>, Failure> {
    let rows = flights::in_order(db).await?;
    let launches = rows.into_iter().filter_map(|row| Some((row.code, row.launch?))).collect();
    let view = View { filter, words, launches };
    let edits = changes::edits(db, Kind::Task, MAX_CHANGES).await?;
    let codes: BTreeSet<TaskCode> = edits.iter().map(|edit| edit.code.as_str().into()).collect();
    let tasks = tasks::these(db, &codes.into_iter().collect::<Vec<_>>()).await?;
    let now = |task: Task| {
        (task.code.0.to_string(), Before { cells: task.cells(), edited: BTreeSet::new() })
    };
    let mut before: HashMap<String, Before> = tasks.into_iter().map(now).collect();
    let mut left = HashMap::new();
    let mut rest: HashMap<Vec<Asks>, HashSet<String>> = HashMap::new();
    for change in edits {
        let Some(task) = before.get_mut(&change.code) else { continue };
        task.undo(change.before.as_deref());
        let then = view.answered_by(task);
        if then.is_empty() || left.contains_key(&change.code) {
            continue;
        }
        if !then.iter().all(|asks| view.held(*asks, &task.cells)) {
            continue;
        }
        // What these cells do not answer has to hold as the record stands.
        if !rest.contains_key(&then) {
            let tasks = listed(db, view.without(&then), Sort::Code).await?;
            rest.insert(then.clone(), tasks.iter().map(ToString::to_string).collect());
        }
        if rest[&then].contains(&change.code) {
            left.insert(change.code, change.seq);
        }
    }
    Ok(left)
}

impl Before {
    fn undo(&mut self, json: Option<&str>) {
        let cells: Option<BTreeMap<String, serde_json::Value>> =
            json.and_then(|json| serde_json::from_str(json).ok());
        for (name, value) in cells.unwrap_or_default() {
            self.cells.set(name.as_str(), value.as_str().unwrap_or_default());
            self.edited.insert(name);
        }
    }
}

impl Asks {
    const ALL: [Self; 6] =
        [Self::Words, Self::Flight, Self::Worksite, Self::Family, Self::Class, Self::NeededBy];

    const fn cells(self) -> &'static [&'static str] {
        match self {
            Self::Words => &["title", "notes"],
            Self::Flight => &["needed_by_flight"],
            Self::Worksite => &["worksite"],
            Self::Family => &["family"],
            Self::Class => &["class"],
            Self::NeededBy => &["needed_by_day", "needed_by_flight"],
        }
    }
}

impl View<'_> {
    /// The conditions that stand in the view and that a change of these cells bears on.
    fn answered_by(&self, before: &Before) -> Vec<Asks> {
        let is_asked = |asks: Asks| match asks {
            Asks::Words => self.filter.words.is_some(),
            Asks::Flight => self.filter.flight.is_some(),
            Asks::Worksite => self.filter.worksite.is_some(),
            Asks::Family => self.filter.family.is_some(),
            Asks::Class => self.filter.class.is_some(),
            Asks::NeededBy => self.filter.needed_by.is_some(),
        };
        let is_there = |asks: Asks| asks.cells().iter().any(|cell| before.edited.contains(*cell));
        Asks::ALL.into_iter().filter(|asks| is_asked(*asks) && is_there(*asks)).collect()
    }

    fn held(&self, asks: Asks, cells: &Cells) -> bool {
        let cell = |name: &str| cells.get(name);
        let is = |name: &str, code: Option<&str>| code == Some(cell(name));
        match asks {
            Asks::Words => {
                let text = folded(&format!("{} {} {}", cell("code"), cell("title"), cell("notes")));
                self.words.split_whitespace().map(folded).all(|word| text.contains(&word))
            }
            Asks::Flight => {
                is("needed_by_flight", self.filter.flight.as_ref().map(FlightCode::as_str))
            }
            Asks::Worksite => {
                is("worksite", self.filter.worksite.as_ref().map(WorksiteCode::as_str))
            }
            Asks::Family => is("family", self.filter.family.as_ref().map(FamilyCode::as_str)),
            Asks::Class => self.filter.class.is_some_and(|class| class.show() == cell("class")),
            Asks::NeededBy => {
                let launch = self.launches.get(&FlightCode::from(cell("needed_by_flight")));
                let own = Day::read(cell("needed_by_day")).ok();
                let first = own.into_iter().chain(launch.copied()).min();
                first.zip(self.filter.needed_by).is_some_and(|(day, until)| day <= until)
            }
        }
    }

    fn without(&self, asks: &[Asks]) -> Filter {
        let mut filter = self.filter.clone();
        for one in asks {
            match one {
                Asks::Words => filter.words = None,
                Asks::Flight => filter.flight = None,
                Asks::Worksite => filter.worksite = None,
                Asks::Family => filter.family = None,
                Asks::Class => filter.class = None,
                Asks::NeededBy => filter.needed_by = None,
            }
        }
        filter
    }
}

/// Words as the index compares them: in small letters, each behind a blank.
fn folded(text: &str) -> String {
    let words = text.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
    words.flat_map(|word| [" ".to_owned(), word.to_lowercase()]).collect()
}
