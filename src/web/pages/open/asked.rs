//! What an address asks of the backlog: words, filters, order, page.

use std::collections::BTreeMap;

use crate::extract::Fields;
use crate::forms::{Choice, FieldView, Shape, Width};
use app::backlog::{Blocker, Choices};
use app::read::open_items::{Filter, Sort};
use app::read::words;
use domain::cells::Cell as _;
use domain::codes::{FamilyCode, FlightCode, WorksiteCode};
use domain::history::WhyOpen;
use domain::time::Day;
use domain::words::{PriorityClass, TaskState};

/// Names that stand in the address.
const NAMES: &[&str] = &[
    "q",
    "flight",
    "site",
    "family",
    "class",
    "why",
    "carried",
    "need",
    "waiting_for",
    "questioned",
    "at_risk",
    "twice",
    "state",
    "sort",
];

/// Names that addresses had until their words were replaced, and what they are now.
const FORMER: &[(&str, &str)] =
    &[("held", "waiting_for"), ("in_question", "questioned"), ("in_danger", "at_risk")];

/// Filters that are only on or off, and what they ask.
const SWITCHES: &[(&str, &str)] = &[
    ("questioned", "Approach questioned"),
    ("at_risk", "At risk"),
    ("twice", "Same approach tried twice"),
];

/// An address of `/open`, read.
pub(crate) struct BacklogQuery {
    pairs: BTreeMap<String, String>,
    pub words: String,
    pub filter: Filter,
    pub sort: Sort,
    pub page: i64,
    pub on_paper: bool,
}

impl BacklogQuery {
    /// Reads path and query; what does not fit is passed over, as if it had not been asked.
    pub fn read(address: &str) -> Self {
        let query = address.split_once('?').map_or("", |(_, query)| query);
        let fields = Fields::read(query.as_bytes());
        let mut pairs = BTreeMap::new();
        let as_now = NAMES.iter().map(|name| (*name, *name));
        for (asked, name) in FORMER.iter().copied().chain(as_now) {
            let value = fields.get(asked).trim();
            if !value.is_empty() && value != "any" {
                pairs.insert(name.to_owned(), value.to_owned());
            }
        }
        let get = |name: &str| pairs.get(name).map_or("", String::as_str);
        let some = |name: &str| pairs.get(name).map(String::as_str);
        let filter = Filter {
            words: words::asked(get("q")),
            flight: some("flight").map(FlightCode::from),
            worksite: some("site").map(WorksiteCode::from),
            family: some("family").map(FamilyCode::from),
            class: some("class").and_then(PriorityClass::read),
            why: some("why").filter(|why| WhyOpen::WORDS.contains(why)).map(str::to_owned),
            carried_at_least: some("carried").and_then(|n| n.parse().ok()).filter(|n| *n > 0),
            needed_by: some("need").and_then(|day| Day::read(day).ok()),
            in_question: get("questioned") == "yes",
            in_danger: get("at_risk") == "yes",
            twice_same: get("twice") == "yes",
            held: match get("waiting_for") {
                "tool" => Some(Blocker::Tool),
                "order" => Some(Blocker::Order),
                "remedy" => Some(Blocker::Remedy),
                "free" => Some(Blocker::Free),
                _ => None,
            },
            state: some("state").and_then(TaskState::read),
        };
        let sort = match get("sort") {
            "code" => Sort::Code,
            "need" => Sort::Need,
            "carry" => Sort::Carry,
            "title" => Sort::Title,
            _ => Sort::Rank,
        };
        Self {
            words: get("q").to_owned(),
            filter,
            sort,
            page: fields.get("page").parse().unwrap_or(1).clamp(1, 100_000),
            on_paper: fields.has("paper"),
            pairs,
        }
    }

    /// One word with a figure in it may be a code that somebody typed to go there.
    pub fn could_be_a_code(&self) -> bool {
        let typed = self.words.trim();
        typed.contains('-') && typed.bytes().any(|b| b.is_ascii_digit() || b.is_ascii_uppercase())
    }

    pub fn ended(&self) -> bool {
        self.filter.state.is_some_and(|state| !state.is_open_item())
    }

    pub fn sort_word(&self) -> &'static str {
        match self.sort {
            Sort::Rank => "rank",
            Sort::Code => "code",
            Sort::Need => "need",
            Sort::Carry => "carry",
            Sort::Title => "title",
        }
    }

    pub fn sorted_by(&self) -> &'static str {
        match self.sort {
            Sort::Rank => "class, needed by, times carried, code",
            Sort::Code => "code",
            Sort::Need => "needed by, then class",
            Sort::Carry => "times carried, then class",
            Sort::Title => "title",
        }
    }

    /// What is asked, without the page.
    pub fn query_alone(&self) -> String {
        super::joined(&self.pairs)
    }

    pub fn on_page(&self, page: i64) -> String {
        self.with("page", &page.to_string())
    }

    pub fn sorted(&self, word: &str) -> String {
        self.with("sort", if word == "rank" { "" } else { word })
    }

    pub fn paper(&self) -> String {
        self.with("paper", "yes")
    }

    pub fn file(&self) -> String {
        format!("/open.csv?{}", self.query_alone())
    }

    fn with(&self, name: &str, value: &str) -> String {
        let mut pairs = self.pairs.clone();
        pairs.insert(name.to_owned(), value.to_owned());
        format!("/open?{}", super::joined(&pairs))
    }

    /// The filters as fields, holding what is asked.
    pub fn fields(&self, choices: &Choices) -> Vec<FieldView> {
        let held = |name: &str| self.pairs.get(name).cloned().unwrap_or_default();
        let choose = |name: &str, label: &str, any: &str, list: Vec<Choice>| {
            let mut all = vec![Choice::new("", any)];
            all.extend(list);
            let known = all.iter().any(|choice| choice.value == held(name));
            if !known {
                all.push(Choice::new(held(name), held(name)));
            }
            FieldView::new(name, label).choosing(all).holding(held(name)).wide(Width::Medium)
        };
        let same = |word: &str| Choice::new(word, word);
        let flights = choices.flights.iter().rev().take(40).map(|f| same(f.as_str())).collect();
        let sites = choices.worksites.iter().map(|site| same(site.as_str())).collect();
        let families =
            choices.families.iter().map(|(code, name)| Choice::new(code.as_str(), name)).collect();
        let classes = PriorityClass::ALL
            .iter()
            .map(|class| Choice::new(class.word(), format!("{class} · {}", class.means())))
            .collect();
        let whys = WhyOpen::WORDS.iter().map(|word| same(word)).collect();
        let carried =
            ["1", "2", "3", "4"].iter().map(|n| Choice::new(*n, format!("{n} ×"))).collect();
        let holds = vec![
            Choice::new("tool", "a tool"),
            Choice::new("order", "an order of work"),
            Choice::new("remedy", "a remedy"),
            Choice::new("free", "nothing"),
        ];
        let states = [TaskState::Open, TaskState::PartDone, TaskState::Set, TaskState::Parked]
            .into_iter()
            .chain([TaskState::Done, TaskState::Dropped])
            .map(|state| same(state.word()))
            .collect();
        let mut day = FieldView::new("need", "Needed by date").holding(held("need"));
        day.width = Width::Small;
        vec![
            FieldView::new("q", "Words in codes, titles, notes, findings")
                .holding(held("q"))
                .first(),
            choose("flight", "Flight", "any", flights),
            choose("site", "Worksite", "any", sites),
            choose("family", "Family", "any", families),
            choose("class", "Class", "any", classes).wide(Width::Small),
            choose("why", "Open because", "any reason", whys),
            choose("state", "State", "open tasks", states),
            choose("carried", "Carried at least", "0 ×", carried).wide(Width::Small),
            day,
            choose("waiting_for", "Waiting for", "anything", holds),
        ]
    }

    /// The filters that are on, each in words with the address without it.
    pub fn active(&self, fields: &[FieldView]) -> Vec<(String, String)> {
        let in_words = |name: &str, value: &str| {
            if let Some((_, words)) = SWITCHES.iter().find(|(switch, _)| *switch == name) {
                return (*words).to_owned();
            }
            let Some(field) = fields.iter().find(|field| field.name == name) else {
                return format!("{name} {value}");
            };
            let label = if name == "q" { "Words" } else { field.label.as_str() };
            let chosen = match &field.shape {
                Shape::Choice(choices) => choices.iter().find(|choice| choice.value == value),
                _ => None,
            };
            format!("{label}: {}", chosen.map_or(value, |choice| choice.words.as_str()))
        };
        let on = |name: &&str| {
            let value = self.pairs.get(*name)?;
            Some((in_words(name, value), self.with(name, "")))
        };
        NAMES.iter().filter(|name| **name != "sort").filter_map(on).collect()
    }

    /// Pairs that the filter form carries along without showing them.
    pub fn hidden(&self) -> Vec<(&'static str, String)> {
        ["sort", "questioned", "at_risk", "twice"]
            .into_iter()
            .filter_map(|name| self.pairs.get(name).map(|value| (name, value.clone())))
            .collect()
    }
}
