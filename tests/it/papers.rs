//! Papers over HTTP: each is drawn from the record alone, stands in one file without a reference
//! outside it, and says what must never be left out.

use std::collections::BTreeSet;

use app::demo;
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::{NOW, TestApp};

/// Every paper of the demo, whether it can be had as text.
const PAPERS: &[(&str, bool)] = &[
    ("/excursions/E-36.3/questions", true),
    ("/excursions/E-36.2/report", false),
    ("/excursions/E-36.2/message", true),
    ("/findings/N-007/report", false),
    ("/actions", true),
    ("/flights/G-37/requests", true),
    ("/flights/G-37/content", false),
    ("/excursions/E-37.1/brief", false),
    ("/flights/G-36/handover", true),
    ("/statistics", false),
    ("/registers", false),
];

pub async fn demo_as(db: SqlitePool, role: Role) -> TestApp {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    app.signed_in(role).await
}

/// The text of the sheet of a page, without markup.
pub fn sheet(page: &str) -> String {
    let (_, sheet) = page.split_once("data-paper>").unwrap_or_else(|| panic!("no paper: {page}"));
    let sheet = sheet.split("</article>").next().unwrap();
    let mut words = String::new();
    for piece in sheet.split('<') {
        let (_, text) = piece.split_once('>').unwrap_or(("", piece));
        words.push_str(text);
        words.push(' ');
    }
    let words = words.replace("&#39;", "'").replace("&quot;", "\"").replace("&amp;", "&");
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[sqlx::test]
async fn every_paper_is_a_page_and_a_file_that_points_nowhere(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    for (address, has_text) in PAPERS {
        let page = app.get(address).await;
        assert_eq!(page.status, 200, "{address}: {}", page.body);
        let words = sheet(&page.body);
        assert!(words.contains("Caution. A planning aid"), "{address}: {words}");
        assert!(words.contains("as of 2030-325 14:20 UTC"), "{address}: {words}");

        let file = app.get(&format!("{address}.html")).await;
        assert_eq!(file.status, 200, "{address}");
        assert!(file.header("content-disposition").starts_with("attachment; filename=\""));
        assert!(file.body.starts_with("<!doctype html>"), "{address}");
        // Nothing points outside the file: no link, script, style sheet, picture or font elsewhere.
        for outside in ["<script", "<link", "@import", "<a ", "src=\"/", "src=\"http", "url(\"/"] {
            assert!(!file.body.contains(outside), "{address} holds {outside}");
        }
        for part in file.body.split("href=\"").skip(1) {
            assert!(part.starts_with('#'), "{address}: {}", &part[..part.len().min(40)]);
        }
        for part in file.body.split("url(").skip(1) {
            let inside = part.starts_with("\"data:") || part.starts_with('#');
            assert!(inside, "{address}: {}", &part[..part.len().min(40)]);
        }
        let whole = sheet(&app.get(&format!("{address}?paper=yes")).await.body);
        assert_eq!(sheet(&file.body), whole, "{address}: file and page say the same");

        let text = app.get(&format!("{address}.txt")).await;
        if *has_text {
            assert_eq!(text.status, 200, "{address}");
            assert_eq!(text.header("content-type"), "text/plain; charset=utf-8");
            assert!(text.body.contains("Caution. A planning aid"), "{address}");
            let longest = text.body.lines().map(|line| line.chars().count()).max().unwrap();
            assert!(longest <= 76, "{address}: {longest} columns");
        } else {
            assert_eq!(text.status, 404, "{address}");
        }
    }
    assert_eq!(app.get("/flights/G-99/handover").await.status, 404);
    // Before an excursion there is a brief, after it a report.
    assert_eq!(app.get("/excursions/E-36.2/brief").await.location, "/excursions/E-36.2/report");
    assert_eq!(app.get("/excursions/E-37.1/report").await.location, "/excursions/E-37.1/brief");
}

#[sqlx::test]
async fn the_handover_says_what_was_left_what_is_forbidden_and_what_is_owed(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let words = sheet(&app.get("/flights/G-36/handover").await.body);
    for part in [
        "1 · What the vehicle may not do",
        "Tank row at 3 bar or less CN-001",
        "▲ past its date",
        "▲ nothing ends it",
        "▲ 113 days after",
        "2 · What we left, as left",
        "Five turns closed, row told to stay at 3 bar.",
        "3 · Owed, by whom and when",
        "4 · Outside, and until when",
        "O-08",
        "5 · Tools unaccounted for",
        "6 · Waivers and exemptions",
        "Bolt 3 of pump B will be cut on this attempt",
        "8 · What G-37 gets",
    ] {
        assert!(words.contains(part), "{part}: {words}");
    }
    // Every constraint in force stands there once.
    for code in ["CN-001", "CN-002", "CN-003", "CN-004", "CN-005", "CN-006", "CN-007"] {
        assert_eq!(words.matches(code).count(), 1, "{code}: {words}");
    }
}

#[sqlx::test]
async fn the_brief_leaves_out_nothing_that_must_not_be_left_out(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    let (mut wanted, mut count) = (Vec::new(), 0_u32);
    // Made-up tasks whose every word is one of a kind, set on two excursions.
    for excursion in ["E-37.1", "E-37.2"] {
        for seat in ["EV1", "EV2"] {
            for _ in 0..2 {
                count += 1;
                let task = format!("T-9{count:02}");
                made(
                    &app.app,
                    Kind::Task,
                    &format!(
                        "code: {task} | title: Swap cassette {count} | family: F-1 | worksite: W-B \
                         | sides: nadir, zenith | class: 3 | optimistic: 8 | likely: 10 \
                         | pessimistic: 14 | seats: 1 | work_rate: moderate | lighting: any \
                         | hazards: hazard{count} sharp edge"
                    ),
                )
                .await;
                made(
                    &app.app,
                    Kind::Constraint,
                    &format!(
                        "forbidden: forbidden{count} fan | task: {task} | safe_until: 2031-05-01"
                    ),
                )
                .await;
                made(
                    &app.app,
                    Kind::Slot,
                    &format!(
                        "task: {task} | excursion: {excursion} | technique: K-1 | side: nadir \
                         | seats: {seat} | state: set | must_do: yes \
                         | stopping_point: stopping{count} point | if_it_fails: fallback{count} plan"
                    ),
                )
                .await;
                wanted.push((excursion, count));
            }
        }
    }
    let app = app.signed_in(Role::Viewer).await;
    for excursion in ["E-37.1", "E-37.2"] {
        let words = sheet(&app.get(&format!("/excursions/{excursion}/brief")).await.body);
        let (first, second) = words.split_once("Tasks in order").unwrap();
        for (of, count) in &wanted {
            let here = *of == excursion;
            for part in ["hazard", "stopping", "fallback"] {
                let word = format!("{part}{count} ");
                assert_eq!(second.matches(&word).count(), usize::from(here), "{word}: {second}");
            }
            // Every constraint in force on the first sheet, and beside the task that ends it.
            let forbidden = format!("forbidden{count} ");
            assert_eq!(first.matches(&forbidden).count(), 1, "{forbidden}: {first}");
            assert_eq!(second.matches(&forbidden).count(), usize::from(here), "{second}");
        }
        let must = second.matches("must do").count();
        assert_eq!(must, wanted.iter().filter(|(of, _)| *of == excursion).count());
    }
}

#[sqlx::test]
async fn the_brief_says_what_is_different_this_time(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let page = app.get("/excursions/E-37.1/brief").await.body;
    let words = sheet(&page);
    assert!(words.contains("Different this time"), "{words}");
    // Each task of the excursion has its entry, in bold what is different.
    let jobs = page.matches("<section class=\"job\">").count();
    let different = page.matches("<dt>Different this time</dt><dd><b>").count()
        + page.matches("<dt>Different this time</dt><dd> <b>").count();
    assert!(jobs >= 4, "{jobs}");
    assert_eq!(jobs, different, "{words}");
}

/// E-36.9 and E-36.10, which text would put in the wrong order, with an attempt at T-1 on each.
async fn tried_twice(app: &TestApp) {
    let flown = "planned: 6:30 | limit: 7:00 | egress: 30 | ingress: 28 | seats: EV1 C-1, EV2 C-2 \
        | airlock: W-A | state: flown";
    for (kind, text) in [
        (
            Kind::Flight,
            "code: G-36 | launch: 2030-10-01 | landing: 2030-10-20 | state: flown".into(),
        ),
        (
            Kind::Excursion,
            format!("code: E-36.9 | flight: G-36 | number: 9 | day: 2030-10-09 | {flown}"),
        ),
        (
            Kind::Excursion,
            format!("code: E-36.10 | flight: G-36 | number: 10 | day: 2030-10-12 | {flown}"),
        ),
    ] {
        made(&app.app, kind, &text).await;
    }
    for (code, excursion, side, left) in
        [("A-1", "E-36.9", "zenith", "Early state."), ("A-2", "E-36.10", "nadir", "Late state.")]
    {
        let text = format!(
            "code: {code} | task: T-1 | excursion: {excursion} | seats: EV1 C-1 | technique: K-1 \
             | side: {side} | minutes: 30 | outcome: not completed | left_after: 100 | cause: 3 \
             | as_left: {left} | words: tried as {code} | recorded_by: keeper"
        );
        made(&app.app, Kind::Attempt, &text).await;
    }
}

#[sqlx::test]
async fn the_brief_takes_excursions_in_the_order_of_their_days(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    tried_twice(&app).await;
    let app = app.signed_in(Role::Viewer).await;
    let words = sheet(&app.get("/excursions/E-37.1/brief").await.body);
    assert!(words.contains("Late state.") && !words.contains("Early state."), "{words}");
    let (late, early) = (words.find("tried as A-2").unwrap(), words.find("tried as A-1").unwrap());
    assert!(late < early, "{words}");
}

#[sqlx::test]
async fn only_what_came_after_the_last_try_is_different_this_time(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    tried_twice(&app).await;
    for (code, verified, attempt) in
        [("R-001", "2030-10-10", "A-1"), ("R-002", "2030-10-20", "A-2"), ("R-003", "", "A-2")]
    {
        let state = if verified.is_empty() { "open" } else { "verified" };
        let by = if verified.is_empty() { "" } else { " | verified_by: second" };
        let text = format!(
            "code: {code} | what: change of {code} | attempts: {attempt} | reach: this unit \
             | opened_on: 2030-10-09 | state: {state}{by} | verified_on: {verified}"
        );
        made(&app.app, Kind::Remedy, &text).await;
    }
    let app = app.signed_in(Role::Viewer).await;
    let page = app.get("/excursions/E-37.1/brief").await.body;
    let (_, rest) = page.split_once("<dt>Different this time</dt>").unwrap();
    let told = rest.split("</dd>").next().unwrap();
    let bold: String = told.split("<b>").skip(1).filter_map(|b| b.split("</b>").next()).collect();
    assert!(bold.contains("R-002") && !bold.contains("R-001") && !bold.contains("R-003"), "{told}");
    assert!(told.contains("R-003") && told.contains("(still open)"), "{told}");
}

#[sqlx::test]
async fn a_flown_excursion_draws_both_lanes_with_the_minutes_apart(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let page = app.get("/excursions/E-36.2/report").await.body;
    let drawings = page.matches("class=\"lane-drawing").count();
    assert_eq!(drawings, 2, "{page}");
    // In columns as wide as each other, both at one scale.
    assert!(page.contains("<div class=\"two even\">"), "{page}");
    let wide: BTreeSet<&str> = page
        .split("class=\"lane-drawing")
        .skip(1)
        .filter_map(|svg| svg.split_once("viewBox=\"0 0 ")?.1.split(' ').next())
        .collect();
    assert_eq!(wide.len(), 1, "{wide:?}");
    let words = sheet(&page);
    assert!(words.contains("Planned, at mean minutes") && words.contains("Flown, as recorded"));
    // A-0123 worked on T-0165 from 1:53 to 3:04: 71 minutes.
    assert!(words.contains("1:11"), "{words}");
    // Apart is flown less planned, to the minute.
    let (_, rows) = page.split_once("Apart, min").unwrap();
    let rows = rows.split("</table>").next().unwrap();
    let mut both = 0;
    for row in rows.split("<tr>").skip(1) {
        let cell = |label: &str| {
            let (_, rest) = row.split_once(&format!("data-label=\"{label}\">")).unwrap();
            let text: String = rest.split("</td>").next().unwrap().to_owned();
            text.split('<').map(|p| p.split_once('>').map_or(p, |(_, t)| t)).collect::<String>()
        };
        let minutes = |clock: &str| {
            let (hours, minutes) = clock.split_once(':')?;
            Some(hours.parse::<i64>().ok()? * 60 + minutes.parse::<i64>().ok()?)
        };
        let (planned, flown) = (minutes(&cell("Planned, h:mm")), minutes(&cell("Flown, h:mm")));
        if let Some((planned, flown)) = planned.zip(flown) {
            let apart: i64 = cell("Apart, min").replace('−', "-").parse().unwrap();
            assert!((flown - planned - apart).abs() <= 1, "{row}");
            both += 1;
        }
    }
    assert!(both >= 3, "{rows}");
    // The page of the excursion draws the same, each task with the same minutes apart.
    let own = app.get("/excursions/E-36.2").await.body;
    let (_, own) = own.split_once("id=\"lanes\"").unwrap();
    let own = own.split("</section>").next().unwrap();
    assert_eq!(own.matches("class=\"lane-drawing").count(), 2, "{own}");
    let apart = |part: &str, from: &str| -> Vec<String> {
        let cells = part.split(from).skip(1).map(|cell| cell.split('<').next().unwrap().to_owned());
        cells.filter(|cell| !cell.is_empty()).collect()
    };
    let here = apart(own, "data-apart>");
    assert!(here.len() >= 3, "{own}");
    assert_eq!(here, apart(rows, "data-label=\"Apart, min\">"), "{own}");
}

#[sqlx::test]
async fn statistics_give_each_figure_with_its_count(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let csv = app.get("/attempts.csv").await.body;
    let mut reader = csv::Reader::from_reader(csv.trim_start_matches('\u{feff}').as_bytes());
    let heads = reader.headers().unwrap().clone();
    let outcome = heads.iter().position(|head| head == "outcome").unwrap();
    let outcomes: Vec<String> =
        reader.records().map(|row| row.unwrap()[outcome].to_owned()).collect();
    let page = app.get("/statistics").await.body;
    let words = sheet(&page);
    assert!(words.contains(&format!("{} attempts.", outcomes.len())), "{words}");
    for word in outcomes.iter().collect::<BTreeSet<_>>() {
        let count = outcomes.iter().filter(|other| *other == word).count();
        assert!(page.contains(&format!("{word}: {count}")), "{word} {count}: {words}");
    }
    // One excursion alone says little.
    let few = sheet(&app.get("/statistics?from=2030-11-13&until=2030-11-13").await.body);
    assert!(few.contains("Too few to conclude from."), "{few}");
}

#[sqlx::test]
async fn while_a_debrief_is_open_its_papers_print_lines_and_never_nothing(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    let app = app.signed_in(Role::Lead).await;
    crate::debrief::fly(&app).await;
    for paper in ["report", "message"] {
        let words = sheet(&app.get(&format!("/excursions/E-37.1/{paper}")).await.body);
        for fact in
            ["as planned.", "every one accounted", "Nothing.", "left no constraint", "None."]
        {
            assert!(!words.contains(fact), "{paper} says {fact}: {words}");
        }
        assert!(words.contains("2 without a result. Planned 6:30 , flown blank"), "{words}");
        assert!(words.matches("blank , not known until the debrief is closed.").count() >= 3);
    }
    let text = app.get("/excursions/E-37.1/message.txt").await.body;
    let (_, outside) = text.split_once("LEFT OUTSIDE\n").unwrap();
    assert!(outside.contains("______, not known until the debrief is closed."), "{text}");
    // Once it is closed, what was not told did not happen.
    for task in ["T-1", "T-2"] {
        let (number, seat) = (&task[2..], if task == "T-1" { "EV1 C-1" } else { "EV2 C-2" });
        let done = format!(
            "code: A-{number} | task: {task} | excursion: E-37.1 | slot: S-{number} \
             | seats: {seat} | technique: K-1 | side: nadir | minutes: 30 | outcome: done \
             | recorded_by: keeper | words: went as planned"
        );
        made(&app.app, Kind::Attempt, &done).await;
    }
    let actor = app::Actor { name: "lead".into(), role: Role::Lead };
    let mut work = app::work::Work::begin(&app.app, &actor, None).await.unwrap();
    app::debrief::close(&mut work, &"E-37.1".into()).await.unwrap();
    work.finish("").await.unwrap();
    let words = sheet(&app.get("/excursions/E-37.1/report").await.body);
    for fact in ["2 done.", "Everything was done as planned.", "left no constraint"] {
        assert!(words.contains(fact), "{fact}: {words}");
    }
    assert!(!words.contains("not known until"), "{words}");
}

#[sqlx::test]
async fn the_handover_keeps_a_missing_result_beside_one_of_another_excursion(db: SqlitePool) {
    let app = crate::constraints::with_flown(db, Role::Viewer).await;
    for (slot, excursion, state) in [("S-8", "E-36.1", "flown"), ("S-9", "E-36.2", "set")] {
        let text = format!(
            "code: {slot} | task: T-3 | excursion: {excursion} | technique: K-1 | side: nadir \
             | seats: EV1 | state: {state}"
        );
        made(&app.app, Kind::Slot, &text).await;
    }
    let text = crate::constraints::attempt("A-1", "T-3", "E-36.1", "part done", "left_after: 40");
    made(&app.app, Kind::Attempt, &text).await;
    let words = sheet(&app.get("/flights/G-36/handover").await.body);
    assert!(words.contains("1 without a result, 1 of these with a result of another"), "{words}");
    let (_, others) = words.split_once("9 · The other planned tasks").unwrap();
    assert!(others.contains("no result yet E-36.2 : blank"), "{others}");
}

#[sqlx::test]
async fn the_brief_names_get_aheads_behind_many_that_are_set_elsewhere(db: SqlitePool) {
    let app = TestApp::new(db).await;
    lay(&app.app).await;
    for number in 1..10 {
        let class = "class: 1 | optimistic: 8 | likely: 10 | pessimistic: 14";
        let task = format!(
            "code: T-9{number} | title: Swap tray {number} | family: F-1 | worksite: W-B \
             | sides: nadir, zenith | {class} | seats: 1 | work_rate: moderate | lighting: any"
        );
        made(&app.app, Kind::Task, &task).await;
        let slot = format!(
            "code: S-9{number} | task: T-9{number} | excursion: E-37.1 | technique: K-1 \
             | side: nadir | seats: EV{} | state: set",
            1 + number % 2
        );
        made(&app.app, Kind::Slot, &slot).await;
    }
    let app = app.signed_in(Role::Viewer).await;
    let words = sheet(&app.get("/excursions/E-37.2/brief").await.body);
    let (_, ahead) = words.split_once("If ahead").unwrap();
    let ahead = ahead.split("Tasks in order").next().unwrap();
    assert!(ahead.contains("T-3 Swap cassette T-3"), "{ahead}");
    assert!(!ahead.contains("T-9") && !ahead.contains("None of"), "{ahead}");
}

#[sqlx::test]
async fn a_period_that_was_not_read_gives_no_figures(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let page = app.get("/statistics?from=x&until=2030-11-13").await;
    let words = sheet(&page.body);
    assert!(words.contains("No figures: the period was not read. From:"), "{words}");
    assert!(!words.contains("attempts.") && !words.contains("from the beginning"), "{words}");
    assert!(page.body.contains("value=\"x\""), "{}", page.body);
}
