//! Help is at hand: a heading that names a term leads to it, and each list has its note beside it.

use std::collections::BTreeSet;

use domain::words::Role;
use sqlx::SqlitePool;

use crate::support::TestApp;
use crate::walk::{attribute, demo_as, main_of, tags, walk};

/// Headings in which a word that is a term as well has its everyday meaning.
const EVERYDAY: [(&str, &str); 1] = [("notes", "note")];

/// The terms of `/words`, a name each, in small letters.
async fn terms(app: &TestApp) -> BTreeSet<String> {
    let page = app.get("/words").await.body;
    let names = page.split("<dt>").skip(1).filter_map(|rest| rest.split("</dt>").next());
    let split = |name: &str| {
        let text: String = words_of(name);
        text.split([',', ';']).map(|part| part.trim().to_lowercase()).collect::<Vec<_>>()
    };
    let found: BTreeSet<String> = names.flat_map(split).filter(|name| !name.is_empty()).collect();
    assert!(found.len() > 150, "{found:?}");
    found
}

/// The text of a piece of markup.
fn words_of(markup: &str) -> String {
    let before = markup.split('<').next().unwrap_or_default().to_owned();
    tags(markup).fold(before, |text, (_, after)| format!("{text} {after}"))
}

/// The headings of a page's own part, as markup; sheets are printed and lead nowhere.
fn headings(page: &str) -> Vec<&str> {
    let main = main_of(page);
    let screen = main.split("<article class=\"sheet").next().unwrap_or_default();
    let levels = ["h1", "h2"].into_iter().flat_map(|level| {
        let end = format!("</{level}>");
        let heads = screen.split(&format!("<{level}")).skip(1).collect::<Vec<_>>();
        heads.into_iter().filter_map(move |rest| Some(rest.split_once('>')?.1.split_once(&end)?.0))
    });
    levels.collect()
}

/// The first term that a heading names, in the singular or the plural.
fn named<'t>(heading: &str, terms: &'t BTreeSet<String>) -> Option<&'t String> {
    let letters = |c: char| if c.is_alphanumeric() || c == '-' { c } else { ' ' };
    let words: String = heading.to_lowercase().chars().map(letters).collect();
    let words = format!(" {} ", words.split_whitespace().collect::<Vec<_>>().join(" "));
    let plural = |term: &str| match term.strip_suffix('y') {
        Some(stem) => format!("{stem}ies"),
        None => format!("{term}s"),
    };
    terms.iter().find(|term| {
        let term = term.as_str();
        let is_named =
            words.contains(&format!(" {term} ")) || words.contains(&format!(" {} ", plural(term)));
        is_named && !EVERYDAY.contains(&(words.trim(), term))
    })
}

/// What a person does begins with a verb, and the page of one record with its code: there the fields
/// and sections have their own marks.
fn is_of_a_list(heading: &str) -> bool {
    const ACTS: [&str; 22] = [
        "record", "add", "edit", "write", "link", "close", "park", "reopen", "correct", "defer",
        "drop", "save", "remove", "withdraw", "lift", "mark", "call", "import", "sign", "set",
        "end", "choose",
    ];
    let first = words_of(heading).trim().split(' ').next().unwrap_or_default().to_lowercase();
    !heading.contains("class=\"code\"") && !ACTS.contains(&first.as_str())
}

#[sqlx::test]
async fn every_heading_that_names_a_term_leads_to_it(db: SqlitePool) {
    let app = demo_as(db, Role::Lead).await;
    let terms = terms(&app).await;
    let (mut wrong, mut led) = (BTreeSet::new(), 0);
    walk(&app, |page| {
        // The terms themselves are where every mark leads.
        if page.path.starts_with("/words") {
            return;
        }
        for heading in headings(&page.reply.body) {
            let marks = tags(heading).filter(|(tag, _)| {
                attribute(tag, "href").is_some_and(|to| to.starts_with("/words#"))
            });
            let mut count = 0;
            for (tag, _) in marks {
                count += 1;
                assert!(attribute(tag, "aria-label").is_some_and(|name| name.len() > 10), "{tag}");
            }
            led += count;
            let said = words_of(heading);
            if count == 0
                && is_of_a_list(heading)
                && let Some(term) = named(&said, &terms)
            {
                let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
                wrong.insert(format!("“{said}” names “{term}” ({})", page.path));
            }
        }
    })
    .await;
    assert!(
        wrong.is_empty(),
        "{} headings lead to no term:\n{}",
        wrong.len(),
        wrong.into_iter().collect::<Vec<_>>().join("\n")
    );
    assert!(led > 300, "{led}");
}

#[sqlx::test]
async fn the_note_of_a_list_has_its_name_and_the_caution_and_no_row_of_the_list_has(
    db: SqlitePool,
) {
    let app = demo_as(db, Role::Lead).await;
    for (page, name) in [
        ("/open", "open"),
        ("/constraints", "constraints"),
        ("/tools", "tools"),
        ("/history", "history"),
    ] {
        let shown = app.get(page).await.body;
        let note = format!("/note.txt?of={name}");
        assert!(shown.contains(&format!("href=\"{note}\"")), "{page} offers no note");
        let reply = app.get(&note).await;
        assert_eq!(
            reply.header("content-disposition"),
            format!("attachment; filename=\"{name}-note.txt\"")
        );
        assert!(
            reply.body.contains(domain::caution::CAUTION)
                && reply.body.contains(&format!("{name}.csv")),
            "{}",
            reply.body
        );
        let list = app.get(&format!("/{name}.csv")).await.body;
        assert!(list.lines().count() > 1 && !list.contains("planning aid"), "{list}");
    }
    // A name from an address is no path and no second header.
    let odd = app.get("/note.txt?of=..%2F%22%0d%0aX").await;
    assert_eq!(odd.header("content-disposition"), "attachment; filename=\"X-note.txt\"");
}

#[sqlx::test]
async fn terms_are_found_by_their_words_and_by_the_alphabet(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    let all = app.get("/words").await.body;
    for term in ["verdict", "free", "drafted", "withdrawn", "called-off"] {
        assert!(all.contains(&format!("<div id=\"{term}\">")), "{term}");
        assert!(all.contains(&format!("href=\"#{term}\"")), "{term} stands in the index");
    }
    let found = app.get("/words?q=repeat+guard").await.body;
    let count = |page: &str| page.matches("<dt>").count();
    assert!(count(&found) > 0 && count(&found) < count(&all), "{found}");
    let none = app.get("/words?q=xylophone").await.body;
    assert!(none.contains("No term matches") && count(&none) == 0, "{none}");
}
