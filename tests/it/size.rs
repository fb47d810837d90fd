//! Pages of a large record: nothing is drawn that nobody reads, and nothing is left out silently.

use std::collections::BTreeSet;

use app::{checks, fill};
use domain::kinds::Kind;
use domain::repeat_guard::SisterEffect;
use domain::words::Role;
use load::{Load, Size};
use sqlx::SqlitePool;

use crate::small_record::made;
use crate::support::TestApp;

/// A record whose largest family has thirty units.
async fn filled(db: SqlitePool) -> TestApp {
    filled_to(db, Size { tasks: 240, attempts: 3_000, seed: 1 }).await
}

/// Signed in afterwards, since a person is a record already.
async fn filled_to(db: SqlitePool, size: Size) -> TestApp {
    let app = TestApp::new(db).await;
    let load = Load::new(size, app.app.clock.now().day());
    fill::fill(&app.app, &load, |_| {}).await.unwrap();
    app.signed_in(Role::Lead).await
}

/// The address of a link by its first words.
fn link_to<'a>(page: &'a str, starts: &str) -> Option<&'a str> {
    let mut links = page.split("<a href=\"").skip(1).filter_map(|rest| rest.split_once("\">"));
    links.find(|(address, _)| address.starts_with(starts)).map(|(address, _)| address)
}

/// The codes of the rows of a page.
fn rows(page: &str) -> Vec<String> {
    let all = page.split("<tr data-code=\"").skip(1);
    all.filter_map(|rest| Some(rest.split_once('"')?.0.to_owned())).collect()
}

fn unescaped(address: &str) -> String {
    address.replace("&#38;", "&").replace("&amp;", "&")
}

async fn what_a_large_family_hears_is_shown_in_part_and_stands_whole_behind_a_link(app: &TestApp) {
    let page = app.get("/families/F-00000").await.body;
    let forms = page.matches("<details class=\"fold no-print\">").count();
    assert!(forms <= 60, "{forms} units with forms");
    let link = unescaped(link_to(&page, "/families/F-00000/affected?").expect("more is affected"));
    let (_, rest) = page.split_once("/families/F-00000/affected?").unwrap();
    let all: usize =
        rest.split_once("All ").unwrap().1.split('<').next().unwrap().trim().parse().unwrap();
    let mut told = BTreeSet::new();
    for number in 1.. {
        let part = app.get(&format!("{link}&page={number}")).await.body;
        let of_it = rows(&part);
        assert!(of_it.len() <= 20, "{number}: {}", of_it.len());
        told.extend(of_it);
        if !part.contains("rel=\"next\"") {
            break;
        }
    }
    assert_eq!(told.len(), all, "{link}");
}

async fn every_approach_that_is_heard_of_is_listed_and_compared(app: &TestApp) {
    let mut all = 0;
    for number in 1.. {
        let part = app.get(&format!("/affected?what=in%20question&page={number}")).await.body;
        all += part.matches("<td class=\"num\">").count();
        if !part.contains("rel=\"next\"") {
            break;
        }
    }
    let mut db = app.app.db.reader().await.unwrap();
    let kept = store::affected::count(&mut db, SisterEffect::Questioned).await.unwrap();
    assert_eq!(i64::try_from(all).unwrap(), kept);
    let file = app.get("/affected.csv?what=questioned").await.body;
    assert_eq!(file.lines().count(), all + 1, "the file has all of them");
    assert!(all > 3, "{all}");
    // What is kept is what the families tell.
    let report = checks::run(&app.app.db, |_, _| {}).await.unwrap();
    assert_eq!(report.faults, []);
}

async fn a_task_that_was_tried_often_shows_the_last_and_leads_to_all(app: &TestApp) {
    let task = {
        let mut db = app.app.db.reader().await.unwrap();
        store::measured::busiest_task(&mut db).await.unwrap().unwrap().to_string()
    };
    let page = app.get(&format!("/tasks/{task}")).await.body;
    let shown = page.matches("href=\"/attempts/").count();
    assert!(page.len() < 150_000, "{} bytes", page.len());
    let link =
        link_to(&page, &format!("/tasks/{task}/events")).expect("it was tried often").to_owned();
    let mut told = BTreeSet::new();
    for number in 1.. {
        let part = app.get(&format!("{link}?page={number}")).await.body;
        told.extend(rows(&part));
        if !part.contains("rel=\"next\"") {
            break;
        }
    }
    let mut db = app.app.db.reader().await.unwrap();
    let all = store::attempts::of_task(&mut db, &task.as_str().into()).await.unwrap();
    assert!(all.len() > 12 && shown > 0);
    for attempt in &all {
        assert!(told.contains(attempt.code.0.as_str()), "{} is left out", attempt.code.0);
    }
}

/// One record for all, since laying it out takes longest.
#[sqlx::test]
async fn a_large_record_shows_what_a_person_reads_and_leads_to_the_whole(db: SqlitePool) {
    let app = filled(db).await;
    what_a_large_family_hears_is_shown_in_part_and_stands_whole_behind_a_link(&app).await;
    every_approach_that_is_heard_of_is_listed_and_compared(&app).await;
    a_task_that_was_tried_often_shows_the_last_and_leads_to_all(&app).await;
    the_pages_of_the_largest_stay_small(&app).await;
}

#[sqlx::test]
async fn the_links_of_a_record_are_listed_a_page_at_a_time(db: SqlitePool) {
    let size = Size { tasks: 1_600, attempts: 10, seed: 1 };
    let app = filled_to(db, size).await;
    let load = Load::new(size, app.app.clock.now().day());
    let mut told = BTreeSet::new();
    for number in 1.. {
        let part = app.get(&format!("/links?page={number}")).await.body;
        let listed = part.split_once("id=\"all\"").unwrap().1;
        told.extend(rows(listed));
        if !listed.contains("rel=\"next\"") {
            break;
        }
    }
    let links = load.links();
    assert_eq!(told.len(), links.iter().filter(|(kind, _)| *kind == Kind::Link).count());
}

async fn the_pages_of_the_largest_stay_small(app: &TestApp) {
    let task = {
        let mut db = app.app.db.reader().await.unwrap();
        let task = store::measured::busiest_task(&mut db).await.unwrap().unwrap();
        format!("/tasks/{task}")
    };
    let pages = [
        "/",
        "/open",
        "/slots",
        "/tools",
        "/families/F-00000",
        "/links",
        "/findings/causes",
        "/affected",
    ];
    let mut too_long = Vec::new();
    for address in pages.into_iter().chain([task.as_str()]) {
        let body = app.get(address).await.body;
        let opens = |pair: &&[u8]| pair[0] == b'<' && pair[1].is_ascii_alphabetic();
        let elements = body.as_bytes().windows(2).filter(opens).count();
        if body.len() > 150_000 || (address == task && elements > 2_500) {
            too_long.push(format!("{address}: {} bytes, {elements} elements", body.len()));
        }
    }
    assert_eq!(too_long, [""; 0]);
}

/// The codes of the rows of all pages of a list, and how many pages it has.
async fn of_all_pages(app: &TestApp, address: &str) -> (Vec<String>, usize) {
    let mut told = Vec::new();
    for number in 1.. {
        let page = app.get(&format!("{address}page={number}")).await;
        assert!(page.body.len() < 150_000, "{address}: {} bytes", page.body.len());
        told.extend(rows(&page.body));
        if !page.body.contains("rel=\"next\"") {
            return (told, number);
        }
    }
    unreachable!()
}

#[sqlx::test]
async fn a_long_list_comes_in_pages_that_hold_each_row_once(db: SqlitePool) {
    let app = TestApp::new(db).await;
    for number in 0..130 {
        let (state, ended) = if number < 20 { ("lost", "2030-11-01") } else { ("in place", "") };
        let item = format!(
            "code: O-{number:03} | what: strap {number} | state: {state} | ended_on: {ended}"
        );
        made(&app.app, Kind::OutsideItem, &item).await;
    }
    for number in 0..70 {
        let one = format!("code: CN-{number:03} | forbidden: turn wheel {number}");
        made(&app.app, Kind::Constraint, &one).await;
    }
    let app = app.signed_in(Role::Lead).await;

    for (address, all, big) in [("/outside?", 130, "110"), ("/constraints?", 70, "70")] {
        let (mut told, pages) = of_all_pages(&app, address).await;
        assert_eq!((told.len(), pages), (all, 2), "{address}");
        told.sort();
        told.dedup();
        assert_eq!(told.len(), all, "{address}");
        for number in [1, 2] {
            let page = app.get(&format!("{address}page={number}")).await.body;
            let head = format!("<span class=\"big\">{big}</span>");
            assert!(page.replace("\n  ", "").contains(&head), "{address} {number}: {page}");
        }
    }
    // A filter goes along, and nonsense is the first page.
    let (told, pages) = of_all_pages(&app, "/outside?state=lost&").await;
    assert_eq!((told.len(), pages), (20, 1));
    assert_eq!(rows(&app.get("/outside?page=x").await.body).len(), 100);
    assert_eq!(rows(&app.get("/outside?page=99").await.body).len(), 30);
}
