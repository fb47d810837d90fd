//! What holds the words that somebody typed, wherever it stands.

use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Response};

use crate::addresses::{self, encoded};
use crate::extract::Fields;
use crate::failure::PageError;
use crate::forms::Pager;
use crate::frame::{Nav, PageFrame};
use crate::page::{Page, see_other};
use crate::visitor::Viewer;
use app::read::search::{FoundIn, FoundRecord, RANKED};
use app::search::{self, PAGE, SearchScope};
use app::{App, backlog};
use domain::excerpt::{AFTER, BEFORE};
use domain::kinds::Kind;
use domain::spelling::codes_meant;

#[derive(Template)]
#[template(path = "search/list.html")]
pub(crate) struct SearchPage {
    page: PageFrame,
    typed: String,
    among: &'static str,
    views: Vec<(String, &'static str, bool)>,
    status: String,
    /// A typed word that nothing holds, and what was looked for instead.
    spelled: Vec<(String, String)>,
    rows: Vec<FoundRow>,
    pager: Pager,
    backlog: String,
}

struct FoundRow {
    kind: Kind,
    code: String,
    address: String,
    title: Vec<Fragment>,
    words: Vec<Fragment>,
    belongs: Option<FoundIn>,
}

/// A fragment of a text without links; those that match are marked.
#[derive(Debug, PartialEq, Eq)]
struct Fragment {
    text: String,
    is_match: bool,
}

pub(crate) async fn show(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query).to_owned();
    let asked = Fields::read(query.as_bytes());
    let typed = asked.get("q").trim().to_owned();
    let among = SearchScope::named(asked.get("among"));
    let mut db = app.reader().await?;
    for meant in codes_meant(&typed) {
        if let Some((kind, code)) = backlog::by_code(&mut db, &meant).await? {
            return Ok(see_other(&addresses::of(kind, code)));
        }
    }
    let number = asked.get("page").parse().unwrap_or(1).clamp(1, 100_000);
    let found = search::search(&mut db, &typed, among, number).await?;
    let address = |among: SearchScope, page: i64| {
        let among = match among {
            SearchScope::Everything => String::new(),
            among => format!("&among={}", among.word()),
        };
        let page = if page > 1 { format!("&page={page}") } else { String::new() };
        format!("/search?q={}{among}{page}", encoded(&typed))
    };
    let status = match (typed.is_empty(), found.total) {
        (true, _) => String::new(),
        (_, 0) => "No record has all of these words".to_owned(),
        (_, 1) => "1 record has them".to_owned(),
        (_, total) if found.is_newest_first() => {
            format!(
                "More than {RANKED} records have them; newest first. Add a word.",
                RANKED = total - 1
            )
        }
        (_, total) => format!("{total} records have them, best match first"),
    };
    let views = SearchScope::ALL
        .into_iter()
        .map(|one| (address(one, 1), named(one), one == among))
        .collect();
    let shown = found.total.min(RANKED);
    Ok(Page(SearchPage {
        page: viewer.frame(
            if typed.is_empty() { "Search".to_owned() } else { format!("Search: {typed}") },
            Nav::Elsewhere,
        ),
        among: among.word(),
        views,
        status,
        spelled: found
            .spelled
            .iter()
            .map(|(word, held)| (word.clone(), held.join(" or ")))
            .collect(),
        rows: found.finds.into_iter().map(row).collect(),
        pager: Pager::new(number, PAGE, shown, |page| address(among, page)),
        backlog: format!("/open?q={}", encoded(&typed)),
        typed,
    })
    .into_response())
}

const fn named(among: SearchScope) -> &'static str {
    match among {
        SearchScope::Everything => "Everything",
        SearchScope::Tasks => "Tasks",
        SearchScope::Tries => "Attempts and deferrals",
        SearchScope::Findings => "Findings and remedies",
        SearchScope::Library => "Library",
        SearchScope::Excursions => "Flights and excursions",
    }
}

fn row((find, belongs): (FoundRecord, Option<FoundIn>)) -> FoundRow {
    FoundRow {
        address: addresses::of(find.kind, &find.code),
        title: pieces(&find.title),
        words: pieces(&find.words),
        kind: find.kind,
        code: find.code,
        belongs,
    }
}

fn pieces(marked: &str) -> Vec<Fragment> {
    let mut pieces = Vec::new();
    let mut add = |text: &str, is_match| {
        if !text.is_empty() {
            pieces.push(Fragment { text: text.to_owned(), is_match });
        }
    };
    let mut rest = marked;
    while let Some((plain, from)) = rest.split_once(BEFORE) {
        add(plain, false);
        let (matched, after) = from.split_once(AFTER).unwrap_or((from, ""));
        add(matched, true);
        rest = after;
    }
    add(rest, false);
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn matching_words_are_told_from_the_rest() {
        let told: Vec<(String, bool)> = pieces("a \u{2}stuck\u{3} bolt \u{2}b\u{3}")
            .into_iter()
            .map(|piece| (piece.text, piece.is_match))
            .collect();
        let said = |text: &str, is_match| (text.to_owned(), is_match);
        assert_eq!(
            told,
            [said("a ", false), said("stuck", true), said(" bolt ", false), said("b", true)]
        );
        assert_eq!(pieces(""), []);
    }
}
