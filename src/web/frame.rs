//! What every page has around its matter: title, running head, notice, foot. A page struct holds
//! it as `page: PageFrame`, its template starts with `{% extends "base.html" %}`.

use domain::time::Moment;
use domain::words::{Role, Theme};

/// The entries of the running head.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Nav {
    Attention,
    OpenItems,
    Flights,
    Slots,
    Findings,
    OutsideList,
    History,
    Library(Shelf),
    Import,
    Changes,
    People,
    /// A page that no entry leads to: account, search, errors.
    Elsewhere,
}

/// The second row under Library.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shelf {
    Techniques,
    Tools,
    Worksites,
    Families,
    Inhibits,
    Causes,
    Settings,
}

/// A link of the running head.
#[derive(Debug, Clone, Copy)]
pub struct Entry {
    pub address: &'static str,
    pub label: &'static str,
    /// The page that is shown belongs to this entry.
    pub here: bool,
}

/// The person signed in.
#[derive(Debug, Clone)]
pub struct Who {
    pub name: String,
    pub role: Role,
}

/// One sentence about what was just done, with the way back where there is one.
#[derive(Debug, Clone)]
pub struct Notice {
    pub words: String,
    /// An address that takes a POST, and the words on its button.
    pub undo: Option<(String, String)>,
    /// An address that is looked at, and the words of its link.
    pub link: Option<(String, String)>,
}

/// What every page has around its matter.
#[derive(Debug, Clone)]
pub struct PageFrame {
    /// The page's own part of the title, without the name of the service.
    pub title: String,
    pub here: Nav,
    pub who: Option<Who>,
    pub theme: Theme,
    /// Goes into every form: `{{ p::csrf(page) }}`.
    pub csrf: String,
    /// Differs with every rendering; a form that writes sends it, so that it counts once:
    /// `{{ p::once(page, "park") }}` (the word tells the forms of one page apart).
    pub form_key: String,
    pub as_of: Moment,
    /// Path and query, as it can be shared.
    pub address: String,
    pub outpost: String,
    pub notice: Option<Notice>,
    pub verdict_legend: bool,
    /// The version of the record that the page shows.
    pub version: Option<i64>,
    /// Something was refused; the title says so first.
    pub refused: bool,
}

impl PageFrame {
    /// A frame for a page shown to nobody in particular: sign-in, errors before sign-in. The
    /// caller fills in what it knows with the methods below or by field.
    pub fn new(title: impl Into<String>, here: Nav, as_of: Moment) -> Self {
        Self {
            title: title.into(),
            here,
            who: None,
            theme: Theme::System,
            csrf: String::new(),
            form_key: String::new(),
            as_of,
            address: String::new(),
            outpost: String::new(),
            notice: None,
            verdict_legend: false,
            version: None,
            refused: false,
        }
    }

    #[must_use]
    pub fn at(mut self, address: impl Into<String>) -> Self {
        self.address = address.into();
        self
    }

    #[must_use]
    pub fn noticing(mut self, words: impl Into<String>) -> Self {
        self.notice = Some(Notice { words: words.into(), undo: None, link: None });
        self
    }

    #[must_use]
    pub fn with_verdicts(mut self) -> Self {
        self.verdict_legend = true;
        self
    }

    #[must_use]
    pub fn of_version(mut self, version: i64) -> Self {
        self.version = Some(version);
        self
    }

    /// Marks the page as a refusal, where `refused` holds.
    #[must_use]
    pub fn refusing(mut self, refused: bool) -> Self {
        self.refused = refused;
        self
    }

    /// `Error: Open items · Holdover`.
    pub fn full_title(&self) -> String {
        let mark = if self.refused { "Error: " } else { "" };
        format!("{mark}{} · Holdover", self.title)
    }

    /// The value of `data-theme`, or nothing where the system decides.
    pub const fn theme_mark(&self) -> Option<&'static str> {
        match self.theme {
            Theme::System => None,
            Theme::Paper => Some("paper"),
            Theme::Night => Some("night"),
        }
    }

    /// `2030-325 14:20 UTC`.
    pub fn as_of_words(&self) -> String {
        let day = self.as_of.day();
        format!("{}-{} {} UTC", day.0.year(), day.of_year(), self.as_of.clock())
    }

    /// What stands for the person in the head: the name, and the role where it says more.
    pub fn who_words(&self) -> String {
        match &self.who {
            Some(who) if who.name == who.role.word() => who.name.clone(),
            Some(who) => format!("{}, {}", who.name, who.role.word()),
            None => String::new(),
        }
    }

    /// The entries of the running head that this person has a use for.
    pub fn entries(&self) -> Vec<Entry> {
        let administrator = self.who.as_ref().is_some_and(|who| who.role == Role::Administrator);
        [
            ("/", "Attention", self.here == Nav::Attention),
            ("/open", "Open items", self.here == Nav::OpenItems),
            ("/flights", "Flights", self.here == Nav::Flights),
            ("/slots", "Slots", self.here == Nav::Slots),
            ("/findings", "Findings", self.here == Nav::Findings),
            ("/outside", "Outside list", self.here == Nav::OutsideList),
            ("/history", "History", self.here == Nav::History),
            ("/techniques", "Library", matches!(self.here, Nav::Library(_))),
            ("/import", "Import", self.here == Nav::Import),
            ("/changes", "Changes", self.here == Nav::Changes),
            ("/people", "People", self.here == Nav::People),
        ]
        .into_iter()
        .filter(|(address, ..)| *address != "/people" || administrator)
        .map(|(address, label, here)| Entry { address, label, here })
        .collect()
    }

    /// The second row, on pages of the library.
    pub fn shelves(&self) -> Vec<Entry> {
        let Nav::Library(open) = self.here else { return Vec::new() };
        [
            ("/techniques", "Techniques", Shelf::Techniques),
            ("/tools", "Tools", Shelf::Tools),
            ("/worksites", "Worksites", Shelf::Worksites),
            ("/families", "Families", Shelf::Families),
            ("/inhibits", "Inhibits", Shelf::Inhibits),
            ("/causes", "Cause kinds", Shelf::Causes),
            ("/settings", "Settings", Shelf::Settings),
        ]
        .into_iter()
        .map(|(address, label, shelf)| Entry { address, label, here: shelf == open })
        .collect()
    }
}

#[cfg(test)]
mod tests {
    use askama::Template;

    use super::*;
    use domain::cells::Cell;

    #[derive(Template)]
    #[template(
        ext = "html",
        source = "{% extends \"base.html\" %}{% block body %}<h1>{{ page.title }}</h1>{% endblock %}"
    )]
    struct Bare {
        page: PageFrame,
    }

    fn frame(role: Option<Role>) -> PageFrame {
        let mut page = PageFrame::new("Open items", Nav::OpenItems, moment()).at("/open?q=<b>");
        page.who = role.map(|role| Who { name: "A. <i>".into(), role });
        page.outpost = "Skerry".into();
        page.csrf = "token".into();
        page
    }

    fn moment() -> Moment {
        Moment::read("2030-11-21T14:20:00Z").unwrap()
    }

    #[test]
    fn a_page_names_itself_its_place_and_its_time() {
        let html = Bare { page: frame(Some(Role::Lead)) }.render().unwrap();
        assert!(html.contains("<title>Open items · Holdover</title>"));
        assert!(html.contains("aria-current=\"page\">Open items</a>"));
        // Source: day 325 of 2030 is 21 November, ISO 8601 ordinal date, worked out by hand.
        assert!(html.contains("2030-325 14:20 UTC"));
        assert!(html.contains("planning aid"));
    }

    #[test]
    fn what_people_typed_cannot_become_markup() {
        let html = Bare { page: frame(Some(Role::Lead)) }.render().unwrap();
        assert!(html.contains("/open?q=&#60;b&#62;"));
        assert!(!html.contains("<i>"));
    }

    #[test]
    fn nothing_stands_inline_that_the_policy_forbids() {
        let html = Bare { page: frame(Some(Role::Administrator)) }.render().unwrap();
        assert!(!html.contains("style="));
        assert!(!html.contains("<style"));
        let event = |rest: &str| {
            rest.split_once('=')
                .is_some_and(|(name, _)| name.bytes().all(|b| b.is_ascii_lowercase()))
        };
        assert!(!html.split(" on").skip(1).any(event), "an event attribute");
        assert!(!html.contains("<script>"));
    }

    #[test]
    fn only_an_administrator_sees_people_and_only_a_person_sees_pages() {
        let people = |role| Bare { page: frame(role) }.render().unwrap().contains("/people");
        assert!(people(Some(Role::Administrator)));
        assert!(!people(Some(Role::Lead)));
        let outside = Bare { page: frame(None) }.render().unwrap();
        assert!(!outside.contains("/slots") && !outside.contains("/sign-out"));
    }

    #[test]
    fn the_theme_of_a_person_stands_on_the_page_before_it_is_drawn() {
        let mut page = frame(None);
        assert!(Bare { page: page.clone() }.render().unwrap().contains("<html lang=\"en\">"));
        page.theme = Theme::Night;
        assert!(Bare { page }.render().unwrap().contains("data-theme=\"night\""));
    }

    #[test]
    fn a_refusal_says_so_in_the_title_first() {
        let page = frame(None).refusing(true);
        assert_eq!(page.full_title(), "Error: Open items · Holdover");
    }

    #[test]
    fn the_shelves_stand_under_the_library_only() {
        let mut page = frame(Some(Role::Viewer));
        assert!(page.shelves().is_empty());
        page.here = Nav::Library(Shelf::Tools);
        let here: Vec<_> = page
            .shelves()
            .into_iter()
            .filter(|entry| entry.here)
            .map(|entry| entry.label)
            .collect();
        assert_eq!(here, ["Tools"]);
    }
}
