//! What an address asks of the outside list.

use std::collections::BTreeMap;

use crate::addresses::encoded;
use crate::extract::Fields;
use crate::forms::{Choice, FieldView, Width};
use app::attention::near_days;
use domain::codes::{OutsideCode, WorksiteCode};
use domain::outside::{FlightAhead, OutsideItem};
use domain::time::Day;
use domain::words::OutsideState;
use domain::worksites::{Route, Worksite};

const NAMES: &[&str] = &["q", "site", "state", "limit", "back", "use"];

/// An address of `/outside`, read. What does not fit is passed over.
pub(super) struct ListQuery {
    pairs: BTreeMap<&'static str, String>,
    words: String,
    site: Option<WorksiteCode>,
    state: Option<OutsideState>,
    limit: Option<Limit>,
    nobody: bool,
    aids: bool,
    pub page: i64,
}

/// How near the end of a limit has to be.
enum Limit {
    Passed,
    Near,
    /// It ends before that flight has landed.
    Before(String),
    None,
}

impl ListQuery {
    pub fn read(address: &str) -> Self {
        let query = address.split_once('?').map_or("", |(_, query)| query);
        let fields = Fields::read(query.as_bytes());
        let mut pairs = BTreeMap::new();
        for name in NAMES {
            let value = fields.get(name).trim();
            if !value.is_empty() && value != "any" {
                pairs.insert(*name, value.to_owned());
            }
        }
        let get = |name: &str| pairs.get(name).map_or("", String::as_str);
        Self {
            words: get("q").to_lowercase(),
            site: Some(get("site")).filter(|site| !site.is_empty()).map(WorksiteCode::from),
            state: OutsideState::read(get("state")),
            limit: match get("limit") {
                "" => None,
                "passed" => Some(Limit::Passed),
                "near" => Some(Limit::Near),
                "none" => Some(Limit::None),
                flight => Some(Limit::Before(flight.to_owned())),
            },
            nobody: get("back") == "nobody",
            aids: get("use") == "aid",
            page: fields.get("page").parse().unwrap_or(1),
            pairs,
        }
    }

    /// Whether the list shows an item.
    pub fn takes(
        &self,
        item: &OutsideItem,
        routes: &[Route],
        flights: &[FlightAhead],
        today: Day,
    ) -> bool {
        let code = &item.code.0;
        let said = format!(
            "{code} {} {} {}",
            item.what,
            item.purpose.as_ref().map_or("", |purpose| purpose.as_str()),
            item.notes
        );
        let left = item.days_left(today);
        // What is not outside any more has no limit to run out.
        let may_run_out = self.limit.is_none() || item.state == OutsideState::InPlace;
        let in_time = match &self.limit {
            None => true,
            Some(Limit::None) => left.is_none() && !item.limit_is_uncertain(),
            Some(Limit::Passed) => left.is_some_and(|left| left < 0),
            Some(Limit::Near) => left.is_some_and(|left| left <= near_days(item)),
            Some(Limit::Before(flight)) => flights
                .iter()
                .find(|ahead| ahead.flight.as_str() == flight)
                .and_then(|ahead| ahead.landing.or(ahead.launch))
                .is_none_or(|landing| item.runs_out().is_some_and(|end| end < landing)),
        };
        may_run_out
            && in_time
            && said.to_lowercase().contains(&self.words)
            && self.site.as_ref().is_none_or(|site| item.worksite.as_ref() == Some(site))
            && self.state.is_none_or(|state| item.state == state)
            && (!self.nobody || item.brought_back_by.is_none())
            && (!self.aids || is_aid(code, routes))
    }

    pub fn is_narrowed(&self) -> bool {
        !self.pairs.is_empty()
    }

    /// The address of another page of the same list.
    pub fn on_page(&self, page: i64) -> String {
        match self.query() {
            query if query.is_empty() => format!("/outside?page={page}"),
            query => format!("/outside?{query}&page={page}"),
        }
    }

    pub fn query(&self) -> String {
        let pair = |(name, value): (&&str, &String)| format!("{name}={}", encoded(value));
        self.pairs.iter().map(pair).collect::<Vec<_>>().join("&")
    }

    pub fn fields(&self, sites: &[Worksite], flights: &[FlightAhead]) -> Vec<FieldView> {
        let get = |name: &str| self.pairs.get(name).map_or("", String::as_str);
        let any = || Choice::new("", "any");
        let choice = |name: &str, label: &str, choices: Vec<Choice>| {
            FieldView::new(name, label)
                .choosing(std::iter::once(any()).chain(choices).collect())
                .holding(get(name))
                .wide(Width::Medium)
        };
        let places =
            sites.iter().map(|site| Choice::new(site.code.0.as_str(), site.code.0.as_str()));
        let states = OutsideState::WORDS.iter().map(|word| Choice::new(*word, *word));
        let limits = [("passed", "passed"), ("near", "near its end"), ("none", "no limit")];
        let limits = limits.map(|(value, words)| Choice::new(value, words)).into_iter();
        let before = flights.iter().map(|ahead| {
            let flight = ahead.flight.as_str();
            Choice::new(flight, format!("ends before {flight} lands"))
        });
        vec![
            FieldView::new("q", "Words").holding(get("q")),
            choice("site", "Worksite", places.collect()),
            choice("state", "State", states.collect()),
            choice("limit", "Limit", limits.chain(before).collect()),
            choice("back", "Brought back by", vec![Choice::new("nobody", "nobody yet")]),
            choice("use", "Use", vec![Choice::new("aid", "aid of a route")]),
        ]
    }
}

pub(super) fn is_aid(code: &OutsideCode, routes: &[Route]) -> bool {
    routes.iter().any(|route| route.aid.as_ref() == Some(code))
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::cells::{Cell as _, Cells};
    use domain::records::Record as _;

    fn item(text: &[(&str, &str)]) -> OutsideItem {
        let cells: Cells =
            text.iter().map(|(name, text)| ((*name).to_owned(), (*text).to_owned())).collect();
        OutsideItem::parse(&cells).unwrap()
    }

    #[test]
    fn an_address_narrows_the_list_and_nonsense_is_passed_over() {
        let today = Day::read("2030-11-21").unwrap();
        let flights = [FlightAhead {
            flight: "G-37".into(),
            launch: Day::read("2031-03-18").ok(),
            landing: Day::read("2031-04-03").ok(),
        }];
        let route = [("from_site", "W-A"), ("to_site", "W-B"), ("minutes", "4"), ("aid", "O-1")];
        let route: Cells =
            route.map(|(name, text)| (name.to_owned(), text.to_owned())).into_iter().collect();
        let routes = [Route::parse(&route).unwrap()];
        let items = [
            item(&[
                ("code", "O-1"),
                ("what", "Line"),
                ("worksite", "W-A"),
                ("limit_until", "2031-04-02"),
                ("brought_back_by", "T-1"),
            ]),
            item(&[
                ("code", "O-2"),
                ("what", "Cap"),
                ("purpose", "keeps the line dry"),
                ("limit_until", "2030-11-20"),
            ]),
            item(&[("code", "O-3"), ("what", "Strap"), ("state", "lost")]),
            item(&[("code", "O-4"), ("what", "Hook")]),
        ];
        let shown = |query: &str| {
            let asked = ListQuery::read(&format!("/outside?{query}"));
            let taken = items.iter().filter(|item| asked.takes(item, &routes, &flights, today));
            taken.map(|item| item.code.0.as_str().to_owned()).collect::<Vec<_>>().join(" ")
        };
        assert_eq!(shown(""), "O-1 O-2 O-3 O-4");
        assert_eq!(shown("state=nonsense&page=x"), "O-1 O-2 O-3 O-4");
        assert_eq!(shown("limit=G-99"), "O-1 O-2 O-4", "what is outside; no such flight");
        assert_eq!(shown("q=LINE"), "O-1 O-2");
        assert_eq!(shown("site=W-A"), "O-1");
        assert_eq!(shown("state=lost"), "O-3");
        assert_eq!(shown("limit=passed"), "O-2");
        assert_eq!(shown("limit=G-37"), "O-1 O-2");
        assert_eq!(shown("limit=near"), "O-2");
        assert_eq!(shown("limit=none"), "O-4");
        assert_eq!(shown("back=nobody"), "O-2 O-3 O-4");
        assert_eq!(shown("use=aid"), "O-1");
        assert_eq!(ListQuery::read("/outside?q=a+b&state=lost").query(), "q=a%20b&state=lost");
    }
}
