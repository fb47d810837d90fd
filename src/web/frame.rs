//! What every page has around its matter: title, running head, notice, foot. A page struct holds
//! it as `page: PageFrame`, its template starts with `{% extends "base.html" %}`.

use domain::roles::{Action, may};
use domain::time::Moment;
use domain::words::{Role, Theme};

/// The page that is shown, as far as the running head and the row under it know it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Nav {
    Today,
    Backlog,
    Plan,
    Slots,
    Flights,
    OutsideList,
    Constraints,
    Findings,
    Causes,
    History,
    Library(Shelf),
    Import,
    Changes,
    People,
    Settings,
    /// A page that no entry leads to: account, search, errors.
    Elsewhere,
}

/// The five entries of the running head.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Door {
    Today,
    Backlog,
    Plan,
    Learn,
    Library,
}

impl Door {
    const fn label(self) -> &'static str {
        match self {
            Self::Today => "Today",
            Self::Backlog => "Backlog",
            Self::Plan => "Plan",
            Self::Learn => "Learn",
            Self::Library => "Library",
        }
    }
}

impl Nav {
    const fn door(self) -> Option<Door> {
        match self {
            Self::Today => Some(Door::Today),
            Self::Backlog => Some(Door::Backlog),
            Self::Plan | Self::Slots | Self::Flights | Self::OutsideList | Self::Constraints => {
                Some(Door::Plan)
            }
            Self::Findings | Self::Causes | Self::History => Some(Door::Learn),
            Self::Library(_) => Some(Door::Library),
            Self::Import | Self::Changes | Self::People | Self::Settings | Self::Elsewhere => None,
        }
    }
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

    /// `Error: Backlog · Holdover`.
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

    /// Whether this person may enter results; others read a debrief.
    pub fn may_record(&self) -> bool {
        self.may(Action::RecordAttempt)
    }

    /// Whether this person may plan; others read how each excursion is judged.
    pub fn may_plan(&self) -> bool {
        self.may(Action::Pencil)
    }

    fn may(&self, action: Action) -> bool {
        self.who.as_ref().is_some_and(|who| may(who.role, action))
    }

    /// The five entries of the running head.
    pub fn entries(&self) -> [Entry; 5] {
        let entry = |address, door: Door| Entry {
            address,
            label: door.label(),
            here: self.here.door() == Some(door),
        };
        [
            entry("/", Door::Today),
            entry("/open", Door::Backlog),
            entry("/plan", Door::Plan),
            entry("/findings", Door::Learn),
            entry("/techniques", Door::Library),
        ]
    }

    /// What stands under the account: what this person has a use for.
    pub fn account_entries(&self) -> Vec<Entry> {
        let administrator = self.who.as_ref().is_some_and(|who| who.role == Role::Administrator);
        let entry = |address, label, here| Entry { address, label, here };
        let mut all = vec![
            entry("/import", "Import", self.here == Nav::Import),
            entry("/changes", "Changes", self.here == Nav::Changes),
        ];
        if administrator {
            all.push(entry("/people", "People", self.here == Nav::People));
        }
        all.push(entry("/settings", "Settings", self.here == Nav::Settings));
        all.push(entry("/account", "Account", false));
        all
    }

    /// The name of the second row.
    pub fn shelves_label(&self) -> &'static str {
        self.here.door().map_or("", Door::label)
    }

    /// The second row, under the entries that have several pages.
    pub fn shelves(&self) -> Vec<Entry> {
        let entry = |address, label, nav| Entry { address, label, here: self.here == nav };
        match self.here.door() {
            Some(Door::Plan) => vec![
                entry("/plan", "Campaign", Nav::Plan),
                entry("/slots", "Matrix", Nav::Slots),
                entry("/flights", "Flights", Nav::Flights),
                entry("/outside", "Outside list", Nav::OutsideList),
                entry("/constraints", "Constraints", Nav::Constraints),
            ],
            Some(Door::Learn) => vec![
                entry("/findings", "Findings", Nav::Findings),
                entry("/findings/causes", "Causes", Nav::Causes),
                entry("/history", "History", Nav::History),
            ],
            Some(Door::Library) => vec![
                entry("/techniques", "Techniques", Nav::Library(Shelf::Techniques)),
                entry("/tools", "Tools", Nav::Library(Shelf::Tools)),
                entry("/worksites", "Worksites", Nav::Library(Shelf::Worksites)),
                entry("/families", "Families", Nav::Library(Shelf::Families)),
                entry("/inhibits", "Inhibits", Nav::Library(Shelf::Inhibits)),
                entry("/causes", "Cause kinds", Nav::Library(Shelf::Causes)),
            ],
            Some(Door::Today | Door::Backlog) | None => Vec::new(),
        }
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
        let mut page = PageFrame::new("Backlog", Nav::Backlog, moment()).at("/open?q=<b>");
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
        assert!(html.contains("<title>Backlog · Holdover</title>"));
        assert!(html.contains("aria-current=\"page\">Backlog</a>"));
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
        assert!(!outside.contains("/plan") && !outside.contains("/sign-out"));
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
        assert_eq!(page.full_title(), "Error: Backlog · Holdover");
    }

    #[test]
    fn five_entries_lead_everywhere_and_the_rest_stands_under_the_account() {
        let mut page = frame(Some(Role::Lead));
        let labels: Vec<_> = page.entries().iter().map(|entry| entry.label).collect();
        assert_eq!(labels, ["Today", "Backlog", "Plan", "Learn", "Library"]);
        for (nav, label) in [
            (Nav::Today, "Today"),
            (Nav::Slots, "Plan"),
            (Nav::OutsideList, "Plan"),
            (Nav::Causes, "Learn"),
            (Nav::Library(Shelf::Tools), "Library"),
        ] {
            page.here = nav;
            let here: Vec<_> = page.entries().iter().filter(|e| e.here).map(|e| e.label).collect();
            assert_eq!(here, [label]);
        }
        let html = Bare { page }.render().unwrap();
        for address in ["/import", "/changes", "/settings", "/account"] {
            assert!(html.contains(&format!("href=\"{address}\"")), "{address}");
        }
    }

    #[test]
    fn the_second_row_stands_under_entries_with_several_pages() {
        let mut page = frame(Some(Role::Viewer));
        assert!(page.shelves().is_empty(), "the backlog is one page");
        let here = |page: &PageFrame| -> Vec<_> {
            page.shelves().into_iter().filter(|e| e.here).map(|e| e.label).collect()
        };
        page.here = Nav::Library(Shelf::Tools);
        assert_eq!(here(&page), ["Tools"]);
        page.here = Nav::Slots;
        assert_eq!((page.shelves_label(), here(&page)), ("Plan", vec!["Matrix"]));
    }
}
