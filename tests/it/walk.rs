//! A walk over every sort of page of the demo, by the links that a person of a role is shown.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use app::demo;
use domain::cells::Cell as _;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::support::{NOW, Reply, TestApp};

/// Pages of one sort that are read: records of a kind differ, but not without end.
const EACH: usize = 3;

/// What no link of another page leads to.
const APART: [&str; 4] = ["/", "/words", "/excursions/E-36.3/debrief", "/slots?cell=T-0142:E-37.2"];

/// The demo with a person of this role.
pub async fn demo_as(db: SqlitePool, role: Role) -> TestApp {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    app.signed_in(role).await
}

/// One page that was read, and the page on which its link stood.
pub struct Read {
    pub path: String,
    pub from: String,
    pub reply: Reply,
}

/// Reads pages by their links, breadth first, a few of each sort.
pub async fn walk(app: &TestApp, mut each: impl FnMut(&Read)) {
    let mut waiting: VecDeque<(String, String)> =
        APART.iter().map(|path| ((*path).to_owned(), "the test".to_owned())).collect();
    let mut known: BTreeSet<String> = waiting.iter().map(|(path, _)| path.clone()).collect();
    let mut sorts: BTreeMap<String, usize> = BTreeMap::new();
    while let Some((path, from)) = waiting.pop_front() {
        let count = sorts.entry(sort(&path)).or_default();
        *count += 1;
        if *count > EACH {
            continue;
        }
        let reply = app.get(&path).await;
        for link in links(&reply.body) {
            if known.insert(link.clone()) {
                waiting.push_back((link, path.clone()));
            }
        }
        each(&Read { path, from, reply });
    }
    assert!(sorts.len() > 60, "only {} sorts of page: {sorts:?}", sorts.len());
}

/// The addresses of this service to which a page leads; a list as a file is no page.
fn links(page: &str) -> Vec<String> {
    let all = page.split("href=\"").skip(1).filter_map(|rest| rest.split('"').next());
    all.map(|link| plain(link.split('#').next().unwrap_or_default()))
        .filter(|link| link.starts_with('/') && !link.starts_with("/static/"))
        .filter(|link| !link.contains(".csv") && !link.contains(".xlsx"))
        .filter(|link| !link.contains("/preview") && !link.contains("/content"))
        .collect()
}

/// `/tasks/{}/edit` for `/tasks/T-0142/edit`; of a query the names alone.
fn sort(path: &str) -> String {
    let (path, query) = path.split_once('?').unwrap_or((path, ""));
    let is_code = |part: &&str| {
        part.contains(|letter: char| letter.is_ascii_digit() || letter.is_ascii_uppercase())
    };
    let parts: Vec<&str> =
        path.split('/').map(|part| if is_code(&part) { "{}" } else { part }).collect();
    let names: BTreeSet<&str> =
        query.split('&').filter_map(|pair| pair.split('=').next()).collect();
    format!("{}?{}", parts.join("/"), names.into_iter().collect::<Vec<_>>().join("&"))
}

/// Text of an attribute as it was before it was escaped.
pub fn plain(text: &str) -> String {
    text.replace("&#38;", "&").replace("&amp;", "&").replace("&#34;", "\"").replace("&#39;", "'")
}

/// What stands between the tags of the page's own part.
pub fn main_of(page: &str) -> &str {
    page.split_once("<main").and_then(|(_, rest)| rest.split("</main>").next()).unwrap_or_default()
}

/// The tags of a piece of markup in their order, without their brackets, each with the text after it.
pub fn tags(markup: &str) -> impl Iterator<Item = (&str, &str)> {
    markup.split('<').skip(1).map(|rest| rest.split_once('>').unwrap_or((rest, "")))
}

/// An attribute of a tag.
pub fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    let (_, rest) = tag.split_once(&format!(" {name}=\""))?;
    rest.split('"').next()
}
