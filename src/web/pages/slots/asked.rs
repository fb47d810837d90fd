//! What an address asks of the matrix: filters, page, the cell that is open.

use std::collections::BTreeMap;

use crate::addresses::encoded;
use crate::extract::Fields;
use crate::forms::{Choice, FieldView, Width};
use app::matrix::{self, Somewhere};
use app::read::open_items::Filter;
use app::read::words;
use domain::cells::Cell as _;
use domain::codes::{ExcursionCode, FamilyCode, FlightCode, TaskCode, TechniqueCode, WorksiteCode};
use domain::repeat_guard::Approach;
use domain::sides::Side;
use domain::words::{GateName, PriorityClass};

/// Filters that stand in the address.
const NAMES: &[(&str, &str)] = &[
    ("q", "words"),
    ("flight", "flight"),
    ("verdict", "verdict"),
    ("site", "worksite"),
    ("family", "family"),
    ("class", "class"),
    ("check", "check"),
];

/// The task and the excursion of one cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct CellAt {
    pub task: TaskCode,
    pub excursion: ExcursionCode,
}

impl CellAt {
    /// Reads `T-0142:E-37.2`.
    pub fn read(text: &str) -> Option<Self> {
        let (task, excursion) = text.split_once(':')?;
        let task = TaskCode::read(task.trim()).ok().filter(|code| !code.is_blank())?;
        let excursion = ExcursionCode::read(excursion.trim()).ok().filter(|c| !c.is_blank())?;
        Some(Self { task, excursion })
    }

    pub fn show(&self) -> String {
        format!("{}:{}", self.task, self.excursion)
    }
}

/// The page on which the matrix stands: its own, or Plan with its first rows.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) enum MatrixOn {
    #[default]
    Itself,
    Plan,
}

impl MatrixOn {
    /// The page to which an address leads; nothing where no matrix stands on it.
    pub fn of(address: &str) -> Option<Self> {
        let path = address.split(['?', '#']).next().unwrap_or_default();
        [Self::Itself, Self::Plan].into_iter().find(|page| page.path() == path)
    }

    pub fn path(self) -> &'static str {
        match self {
            Self::Itself => "/slots",
            Self::Plan => "/plan",
        }
    }
}

/// An address of a page with the matrix, read.
#[derive(Debug, Clone, Default)]
pub(crate) struct SlotsQuery {
    pub matrix_on: MatrixOn,
    pairs: BTreeMap<&'static str, String>,
    pub page: i64,
    pub cell: Option<CellAt>,
    /// The approach with which the open cell is looked at, where one was chosen.
    pub by: Option<Approach>,
}

impl SlotsQuery {
    /// Reads path and query; what does not fit is passed over, as if it had not been asked.
    pub fn read(address: &str) -> Self {
        let matrix_on = MatrixOn::of(address).unwrap_or_default();
        let before_place = address.split('#').next().unwrap_or_default();
        let query = before_place.split_once('?').map_or("", |(_, query)| query);
        let fields = Fields::read(query.as_bytes());
        // Plan shows the first rows of all: it has neither filters nor pages.
        let narrowed =
            if matrix_on == MatrixOn::Itself { fields.clone() } else { Fields::default() };
        let mut pairs = BTreeMap::new();
        // A check was called a gate once.
        let same = NAMES.iter().map(|(name, _)| (*name, *name));
        for (asked, name) in std::iter::once(("gate", "check")).chain(same) {
            let value = narrowed.get(asked).trim();
            if !value.is_empty() {
                pairs.insert(name, value.to_owned());
            }
        }
        Self {
            matrix_on,
            pairs,
            page: narrowed.get("page").parse().unwrap_or(1).clamp(1, 100_000),
            cell: CellAt::read(fields.get("cell")),
            by: read_approach(fields.get("by")),
        }
    }

    fn get(&self, name: &str) -> &str {
        self.pairs.get(name).map_or("", String::as_str)
    }

    pub fn narrows(&self) -> bool {
        !self.pairs.is_empty()
    }

    /// The same as the operation takes it.
    pub fn of_matrix(&self) -> matrix::MatrixQuery {
        let some = |name: &str| Some(self.get(name)).filter(|value| !value.is_empty());
        matrix::MatrixQuery {
            filter: Filter {
                words: words::asked(self.get("q")),
                worksite: some("site").map(WorksiteCode::from),
                family: some("family").map(FamilyCode::from),
                class: some("class").and_then(PriorityClass::read),
                ..Filter::default()
            },
            gate: some("check").and_then(GateName::read),
            verdict: some("verdict").and_then(Somewhere::read),
            flight: some("flight").map(FlightCode::from),
            page: self.page,
            opened: self.cell.as_ref().map(|cell| cell.task.clone()),
        }
    }

    /// The address of this page with nothing open.
    pub fn closed(&self) -> String {
        self.address(self.page, None)
    }

    pub fn on_page(&self, page: i64) -> String {
        self.address(page, None)
    }

    /// The address that opens a cell on this page.
    pub fn opening(&self, cell: &CellAt) -> String {
        self.address(self.page, Some(cell)) + "#cell"
    }

    /// The same, from its top: what was just done is told there.
    pub fn told_above(&self, cell: &CellAt) -> String {
        self.address(self.page, Some(cell))
    }

    fn address(&self, page: i64, cell: Option<&CellAt>) -> String {
        let mut pairs: Vec<String> =
            self.pairs.iter().map(|(name, value)| format!("{name}={}", encoded(value))).collect();
        if page > 1 {
            pairs.push(format!("page={page}"));
        }
        if let Some(cell) = cell {
            let (task, excursion) = (encoded(cell.task.as_str()), encoded(cell.excursion.as_str()));
            pairs.push(format!("cell={task}:{excursion}"));
        }
        let path = self.matrix_on.path();
        if pairs.is_empty() { path.to_owned() } else { format!("{path}?{}", pairs.join("&")) }
    }

    /// The filters that are on, each in words with the address without it.
    pub fn active(&self) -> Vec<(String, String)> {
        let on = |(name, label): &(&'static str, &str)| {
            let value = self.pairs.get(name)?;
            let mut without = Self { page: 1, cell: None, by: None, ..self.clone() };
            without.pairs.remove(name);
            Some((format!("{label} {value}"), without.closed()))
        };
        NAMES.iter().filter_map(on).collect()
    }

    /// Pairs that the form of the open cell carries along.
    pub fn hidden(&self) -> Vec<(&'static str, String)> {
        let mut all: Vec<_> =
            self.pairs.iter().map(|(name, value)| (*name, value.clone())).collect();
        all.push(("page", self.page.to_string()));
        all
    }

    /// The filters as fields, holding what is asked.
    pub fn fields(
        &self,
        flights: &[FlightCode],
        sites: &[WorksiteCode],
        families: &[(FamilyCode, String)],
    ) -> Vec<FieldView> {
        let choose = |name: &str, label: &str, list: Vec<Choice>| {
            let mut all = vec![Choice::new("", "any")];
            all.extend(list);
            if !all.iter().any(|choice| choice.value == self.get(name)) {
                all.push(Choice::new(self.get(name), self.get(name)));
            }
            FieldView::new(name, label).choosing(all).holding(self.get(name)).wide(Width::Medium)
        };
        let sites = sites.iter().map(|site| Choice::new(site.as_str(), site.as_str())).collect();
        let families =
            families.iter().map(|(code, name)| Choice::new(code.as_str(), name)).collect();
        let class = |class: &PriorityClass| {
            Choice::new(class.word(), format!("{class} · {}", class.means()))
        };
        let gates = GateName::WORDS.iter().map(|word| Choice::new(*word, *word)).collect();
        let flights = flights.iter().map(|flight| Choice::new(flight.as_str(), flight.as_str()));
        let verdicts = Somewhere::ALL.iter().map(|word| Choice::new(word.word(), word.word()));
        vec![
            FieldView::new("q", "Words in codes, titles, notes, findings").holding(self.get("q")),
            choose("flight", "Flight", flights.collect()),
            choose("verdict", "Verdict", verdicts.collect()),
            choose("site", "Worksite", sites),
            choose("family", "Family", families),
            choose("class", "Class", PriorityClass::ALL.iter().map(class).collect()),
            choose("check", "Check that decides somewhere", gates),
        ]
    }
}

/// Reads an approach as forms send it: technique and side with a comma between, which no code
/// holds.
pub(crate) fn read_approach(text: &str) -> Option<Approach> {
    let (technique, side) = text.split_once(',')?;
    let technique = Some(technique.trim()).filter(|code| !code.is_empty());
    let side = Some(side.trim()).filter(|side| !side.is_empty());
    Some(Approach {
        technique: technique.map(TechniqueCode::from),
        side: side.and_then(|side| Side::read(side).ok()),
    })
}

/// The same, written.
pub(crate) fn show_approach(technique: Option<&TechniqueCode>, side: Option<&Side>) -> String {
    let technique = technique.map_or("", TechniqueCode::as_str);
    format!("{technique},{}", side.map_or("", Side::as_str))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_keeps_its_filters_when_a_cell_is_opened() {
        let asked = SlotsQuery::read("/slots?site=W-KEEL4&gate=order+of+work&page=2");
        let cell = CellAt::read("T-0142:E-37.2").unwrap();
        let address = asked.opening(&cell);
        assert_eq!(
            address,
            "/slots?check=order%20of%20work&site=W-KEEL4&page=2&cell=T-0142:E-37.2#cell"
        );
        let again = SlotsQuery::read(&address);
        assert_eq!(again.cell, Some(cell));
        assert_eq!(again.of_matrix().gate, Some(GateName::Order));
        assert_eq!(again.closed(), asked.closed());
    }

    #[test]
    fn a_cell_opens_on_the_page_on_which_its_matrix_stands() {
        let cell = CellAt::read("T-0142:E-37.2").unwrap();
        for path in ["/slots", "/plan"] {
            let asked = SlotsQuery::read(path);
            let opened = asked.opening(&cell);
            assert_eq!(opened, format!("{path}?cell=T-0142:E-37.2#cell"));
            assert_eq!(SlotsQuery::read(&opened).closed(), path);
        }
        assert_eq!(MatrixOn::of("/slots/get-ahead"), None);
        let on_plan = SlotsQuery::read("/plan?site=W-KEEL4&page=3");
        assert_eq!((on_plan.narrows(), on_plan.page), (false, 1));
    }

    #[test]
    fn what_makes_no_sense_is_passed_over() {
        let asked = SlotsQuery::read("/slots?cell=nonsense&page=minus&class=9&by=x");
        assert_eq!((asked.cell, asked.page, asked.by), (None, 1, None));
        assert_eq!(SlotsQuery::read("/slots?class=9").of_matrix().filter.class, None);
    }

    #[test]
    fn an_approach_is_read_as_it_is_written() {
        let approach = read_approach("K-7,starboard").unwrap();
        let written = show_approach(approach.technique.as_ref(), approach.side.as_ref());
        assert_eq!(written, "K-7,starboard");
        assert_eq!(read_approach(","), Some(Approach::default()));
    }
}
