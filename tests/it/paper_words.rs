//! What each paper holds, held against the tables that the service gives out: nothing that belongs
//! on it is left out.

use std::collections::{BTreeMap, BTreeSet};

use domain::failure_report::ELEMENTS;
use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::constraints::{attempt, with_flown};
use crate::papers::{demo_as, sheet};
use crate::small_record::made;
use crate::support::TestApp;

pub type Row = BTreeMap<String, String>;

/// The rows of one of the service's own tables.
pub async fn rows(app: &TestApp, table: &str) -> Vec<Row> {
    let csv = app.get(&format!("/{table}.csv")).await.body;
    let mut reader = csv::Reader::from_reader(csv.trim_start_matches('\u{feff}').as_bytes());
    let heads = reader.headers().unwrap().clone();
    reader
        .records()
        .map(|row| {
            heads.iter().map(str::to_owned).zip(row.unwrap().iter().map(str::to_owned)).collect()
        })
        .collect()
}

pub async fn words_of(app: &TestApp, address: &str) -> String {
    sheet(&app.get(address).await.body)
}

/// What stands between one heading and the next.
pub fn part<'a>(words: &'a str, from: &str, to: &str) -> &'a str {
    let (_, rest) = words.split_once(from).unwrap_or_else(|| panic!("{from}: {words}"));
    if to.is_empty() {
        rest
    } else {
        rest.split_once(to).unwrap_or_else(|| panic!("{to}: {rest}")).0
    }
}

fn codes(list: &str) -> impl Iterator<Item = &str> {
    list.split(", ").filter(|code| !code.is_empty())
}

fn bare(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[track_caller]
pub fn holds(words: &str, wanted: &str) {
    // A code in a sentence stands in markup of its own; without blanks they are compared.
    let close = |text: &str| text.split_whitespace().collect::<String>();
    assert!(close(words).contains(&close(wanted)), "{wanted}: {words}");
}

#[sqlx::test]
async fn what_a_paper_was_asked_for_is_what_its_files_say(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let page = app.get("/actions?owner=tools+engineer").await.body;
    assert!(page.contains("href=\"/actions.html?owner=tools+engineer\""), "{page}");
    assert!(page.contains("href=\"/actions.txt?owner=tools+engineer\""), "{page}");
    for address in ["/actions.html?owner=tools+engineer", "/actions.txt?owner=tools+engineer"] {
        let file = app.get(address).await.body;
        let file = file.to_lowercase();
        assert!(file.contains("tools engineer ·"), "{address}");
        assert!(!file.contains("thermal engineer ·"), "{address}");
    }
    let statistics = app.get("/statistics?from=2030-11-13&until=2030-11-13").await.body;
    assert!(statistics.contains("/statistics.html?from=2030-11-13&#38;until=2030-11-13"));
    let registers = app.get("/registers?unit=U-CAS1").await.body;
    assert!(registers.contains("/registers.html?unit=U-CAS1"), "{registers}");
}

#[sqlx::test]
async fn owner_period_and_unit_are_asked_for_on_their_papers(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    for (address, fields) in [
        ("/actions", &["owner"][..]),
        ("/statistics", &["from", "until"]),
        ("/registers", &["unit"]),
    ] {
        let page = app.get(address).await.body;
        let form = format!("<form class=\"short no-print\" action=\"{address}\" method=\"get\">");
        let (_, form) = page.split_once(&form).unwrap_or_else(|| panic!("{address}: {page}"));
        let form = form.split("</form>").next().unwrap();
        for field in fields {
            assert!(form.contains(&format!("name=\"{field}\"")), "{address}: {form}");
        }
    }
    let page = app.get("/registers").await.body;
    assert!(!sheet(&page).contains("/registers?unit="), "{page}");
    // One sheet per owner.
    let page = app.get("/actions").await.body;
    let owners = page.matches("<h2 class=\"own-sheet\">").count();
    let options = page.split("name=\"owner\"").nth(1).unwrap().split("</select>").next().unwrap();
    assert!(owners >= 3 && options.matches("<option").count() == owners + 1, "{owners}: {options}");
}

#[sqlx::test]
async fn the_questions_name_every_task_seat_tool_and_item(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let words = words_of(&app, "/excursions/E-36.3/questions").await;
    let tasks = part(&words, "Tasks", "Tools to count");
    let tools = part(&words, "Tools to count", "Outside items to confirm");
    let techniques = rows(&app, "techniques").await;
    let excursions = rows(&app, "excursions").await;
    let flown = excursions.iter().find(|one| one["code"] == "E-36.3").unwrap();
    let mut taken: BTreeSet<&str> = codes(&flown["tools"]).collect();
    let slots = rows(&app, "slots").await;
    for slot in slots.iter().filter(|s| s["excursion"] == "E-36.3" && s["state"] != "withdrawn") {
        // Once in the table and once for each of its seats.
        let seats = codes(&slot["seats"]).count();
        assert!(tasks.matches(&*slot["task"]).count() > seats, "{}: {tasks}", slot["task"]);
        let technique = techniques.iter().find(|one| one["code"] == slot["technique"]);
        taken.extend(technique.iter().flat_map(|one| codes(&one["tools"])));
    }
    for tool in taken {
        holds(tools, tool);
    }
    for attempt in rows(&app, "attempts").await.iter().filter(|a| a["excursion"] == "E-36.3") {
        holds(tasks, &attempt["forbids"]);
        holds(tasks, &attempt["as_left"]);
    }
}

#[sqlx::test]
async fn the_message_says_done_not_done_as_left_constraints_and_tools(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let mut seen = BTreeSet::new();
    for excursion in ["E-36.1", "E-36.2", "E-36.3"] {
        let words = words_of(&app, &format!("/excursions/{excursion}/message")).await;
        let done = part(&words, "Done", "Not done");
        let not_done = part(&words, "Not done", "What the vehicle may not do");
        let forbidden = part(&words, "What the vehicle may not do", "Left outside");
        let tools = part(&words, "Tools unaccounted for", "");
        let constraints = rows(&app, "constraints").await;
        for attempt in rows(&app, "attempts").await.iter().filter(|a| a["excursion"] == excursion) {
            let section = if attempt["outcome"] == "done" { done } else { not_done };
            holds(section, &attempt["task"]);
            holds(section, &attempt["as_left"]);
            seen.insert(attempt["outcome"].clone());
            for one in
                constraints.iter().filter(|c| codes(&c["attempts"]).any(|a| a == attempt["code"]))
            {
                holds(forbidden, &one["forbidden"]);
                seen.insert("constraint".to_owned());
            }
        }
        for row in
            rows(&app, "excursion-tools").await.iter().filter(|r| r["excursion"] == excursion)
        {
            if row["lost"].parse::<i64>().unwrap_or(0) > 0 {
                let all = rows(&app, "tools").await;
                let tool = all.iter().find(|tool| tool["code"] == row["tool"]).unwrap();
                holds(tools, &format!("{} {}", row["tool"], tool["name"]));
                seen.insert("lost".to_owned());
            }
        }
    }
    assert!(seen.len() >= 5, "{seen:?}");
    // Whatever holds is named, not only what is new.
    let words = words_of(&app, "/excursions/E-36.1/message").await;
    let told = part(&words, "What the vehicle may not do", "Left outside");
    holds(told, "7 constraints are in force in all.");
    for code in 1..=7 {
        assert_eq!(told.matches(&format!("CN-00{code}")).count(), 1, "{told}");
    }
}

#[sqlx::test]
async fn a_report_keeps_the_constraints_that_ended_since(db: SqlitePool) {
    let app = with_flown(db, Role::Viewer).await;
    let left =
        "left_after: 50 | forbids: Fan at half speed | safe_until: 2031-03-01 | side: zenith";
    made(&app.app, Kind::Attempt, &attempt("A-1", "T-3", "E-36.1", "part done", left)).await;
    made(&app.app, Kind::Attempt, &attempt("A-2", "T-3", "E-36.2", "done", "words: closed")).await;
    for paper in ["report", "message"] {
        let words = words_of(&app, &format!("/excursions/E-36.1/{paper}")).await;
        let told = part(&words, "What the vehicle may not do", "");
        holds(told, "Fan at half speed");
        holds(told, "ended since");
    }
}

#[sqlx::test]
async fn a_report_says_where_what_was_flown_differs_from_its_slot(db: SqlitePool) {
    let app = with_flown(db, Role::Viewer).await;
    let slot = "code: S-9 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: zenith \
        | seats: EV2 | state: flown";
    made(&app.app, Kind::Slot, slot).await;
    let other = attempt("A-1", "T-3", "E-36.1", "done", "slot: S-9 | words: went in from below");
    made(&app.app, Kind::Attempt, &other).await;
    let words = words_of(&app, "/excursions/E-36.1/report").await;
    let changed = part(&words, "What changed, and why", "Tools");
    for wanted in [
        "another approach: K-1 from nadir, planned K-1 from zenith",
        "by EV1, planned EV2",
        "went in from below",
    ] {
        holds(changed, wanted);
    }
}

#[sqlx::test]
async fn the_failure_report_has_every_element_that_the_record_knows(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let page = app.get("/findings/N-007/report").await.body;
    let words = sheet(&page);
    for element in ELEMENTS {
        holds(&words, element.asked);
    }
    let findings = rows(&app, "findings").await;
    let finding = findings.iter().find(|one| one["code"] == "N-007").unwrap();
    let attempts = rows(&app, "attempts").await;
    let tried: Vec<&Row> = attempts
        .iter()
        .filter(|a| codes(&finding["attempts"]).any(|code| code == a["code"]))
        .collect();
    let (tasks, excursions) = (rows(&app, "tasks").await, rows(&app, "excursions").await);
    let causes = rows(&app, "causes").await;
    assert!(!tried.is_empty());
    for attempt in tried {
        let task = tasks.iter().find(|one| one["code"] == attempt["task"]).unwrap();
        let excursion = excursions.iter().find(|one| one["code"] == attempt["excursion"]).unwrap();
        for wanted in [&task["family"], &task["position"], &excursion["day"], &attempt["as_left"]] {
            holds(&words, wanted);
        }
        // Causes in words, and figures with one sign for minus.
        if !attempt["cause"].is_empty() {
            let cause = causes.iter().find(|one| one["code"] == attempt["cause"]).unwrap();
            holds(&words, &format!("What stopped it: {} ({})", cause["words"], cause["code"]));
        }
        if let Some(below) = attempt["temperature"].strip_prefix('-') {
            holds(&words, &format!("Temperature there: −{below} °C"));
        }
    }
    // The number of the report is known.
    let number = part(&words, "Number of the report", "Task and excursion");
    assert!(number.contains("N-007") && !number.contains("blank"), "{number}");
}

#[sqlx::test]
async fn the_handover_says_what_is_waived_exempt_and_changed(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let words = words_of(&app, "/flights/G-36/handover").await;
    let waived = part(&words, "6 ·", "7 ·");
    for slot in rows(&app, "slots").await.iter().filter(|s| !s["waiver"].is_empty()) {
        let is_here = slot["excursion"].starts_with("E-36.");
        if is_here || ["set", "pencilled"].contains(&&*slot["state"]) {
            holds(waived, &slot["task"]);
            holds(waived, &slot["waiver"]);
        }
    }
    for one in rows(&app, "exemptions").await {
        let state = if one["reviewed_by"].is_empty() { "not reviewed" } else { "reviewed" };
        holds(waived, &format!("{} {state}", one["code"]));
    }
    let remedies = part(&words, "10 · Remedies not verified", "");
    let open: Vec<Row> = rows(&app, "remedies")
        .await
        .into_iter()
        .filter(|one| ["open", "done"].contains(&&*one["state"]))
        .collect();
    assert!(open.len() >= 4, "{open:?}");
    for one in open {
        for wanted in [&one["code"], &one["what"], &one["owner"], &one["needed_by"]] {
            holds(remedies, wanted);
        }
    }
}

#[sqlx::test]
async fn a_waiver_given_for_the_flight_that_is_handed_over_is_on_its_handover(db: SqlitePool) {
    let app = with_flown(db, Role::Viewer).await;
    let slot = "code: S-9 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: zenith \
        | seats: EV2 | state: set | waived_gate: approach | waiver: bolt three is cut";
    made(&app.app, Kind::Slot, slot).await;
    let words = words_of(&app, "/flights/G-36/handover").await;
    holds(part(&words, "6 ·", "7 ·"), "bolt three is cut");
}

#[sqlx::test]
async fn the_requests_count_back_from_the_launch(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let words = words_of(&app, "/flights/G-37/requests").await;
    let flights = rows(&app, "flights").await;
    let launch = &flights.iter().find(|one| one["code"] == "G-37").unwrap()["launch"];
    for tool in rows(&app, "tools").await.iter().filter(|tool| tool["arrives_with"] == "G-37") {
        holds(part(&words, "Manifest, up", "Manifest, down"), &tool["code"]);
    }
    let down = part(&words, "Manifest, down", "Bag volume");
    let slots = rows(&app, "slots").await;
    let here: BTreeSet<&str> = slots
        .iter()
        .filter(|s| {
            s["excursion"].starts_with("E-37.") && ["set", "pencilled"].contains(&&*s["state"])
        })
        .map(|s| s["task"].as_str())
        .collect();
    let mut count = 0;
    for item in rows(&app, "outside").await {
        let comes_in = item["state"] == "in place" && here.contains(&*item["brought_back_by"]);
        let returns = &*item["returns_with"];
        let is_here = returns == "G-37" || (returns.is_empty() && comes_in);
        assert_eq!(down.contains(&*item["code"]), is_here, "{} {returns}: {down}", item["code"]);
        count += usize::from(is_here);
    }
    assert!(count > 0, "{down}");
    // Dates for inhibits and arm windows: so many days before the launch.
    let inhibits = part(&words, "Inhibits, by owner", "Arm windows");
    assert!(inhibits.contains("(L−"), "{launch}: {words}");
    let arm = part(&words, "Arm windows", "");
    let none = arm.contains("No planned task needs the arm.");
    assert_ne!(none, arm.contains("(L−"), "{launch}: {words}");
}

#[sqlx::test]
async fn the_content_sheet_says_what_is_displaced_and_counts_what_it_leaves_out(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let page = app.get("/flights/G-37/content").await.body;
    let words = sheet(&page);
    holds(&words, "Displaces");
    let of = regex_lite(&words);
    assert!(of, "{words}");
    // The decision is taken at the meeting: its cell is a line to fill in.
    for slot in rows(&app, "slots").await.iter().filter(|s| s["excursion"].starts_with("E-37.")) {
        if !slot["waiver"].is_empty() {
            assert!(!words.contains(&bare(&slot["waiver"])), "{words}");
        }
    }
}

/// Whether it says `The first 12 of 31 candidates`.
fn regex_lite(words: &str) -> bool {
    words.split("The first 12 of ").skip(1).any(|rest| {
        rest.split_once(" candidates").is_some_and(|(count, _)| count.parse::<u32>().is_ok())
    })
}

#[sqlx::test]
async fn the_action_list_has_every_remedy_and_every_arrangement(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let words = words_of(&app, "/actions?paper=yes").await;
    for one in rows(&app, "remedies").await {
        if ["open", "done"].contains(&&*one["state"]) {
            holds(&words, &one["code"]);
        }
    }
    let asked: Vec<Row> = rows(&app, "arrangements")
        .await
        .into_iter()
        .filter(|one| one["state"] == "asked")
        .collect();
    assert!(!asked.is_empty());
    for one in asked {
        holds(&words, &format!("Arrange inhibit on {}", one["excursion"]));
    }
    assert!(!words.contains("due later"), "{words}");
}

#[sqlx::test]
async fn a_long_action_list_is_shown_in_part_and_printed_whole(db: SqlitePool) {
    let app = with_flown(db, Role::Viewer).await;
    let failed = attempt("A-1", "T-3", "E-36.1", "not completed", "left_after: 100 | cause: 3");
    made(&app.app, Kind::Attempt, &failed).await;
    for at in 0..130 {
        let text = format!(
            "code: R-{at} | what: change number {at} | attempts: A-1 | reach: this unit \
             | owner: tools engineer | state: open | opened_on: 2030-11-01"
        );
        made(&app.app, Kind::Remedy, &text).await;
    }
    let count = |body: &str| body.matches("change number").count();
    let all = app.get("/actions").await.body;
    assert_eq!(count(&all), 20, "{all}");
    assert!(all.len() < 150_000, "{} bytes", all.len());
    assert!(all.contains("20 of 130 shown.") && all.contains("Tools engineer · 130"), "{all}");
    assert!(all.contains("href=\"/actions?owner=tools%20engineer\""), "{all}");
    assert!(all.contains("href=\"/actions?paper=yes\"") && !all.contains("data-print"), "{all}");
    let one = app.get("/actions?owner=tools%20engineer").await.body;
    assert_eq!(count(&one), 100, "{one}");
    assert!(one.len() < 150_000, "{} bytes", one.len());
    let whole = "/actions?owner=tools%20engineer&#38;paper=yes";
    assert!(one.contains("100 of 130 shown.") && one.contains(whole), "{one}");
    for address in [
        "/actions?paper=yes",
        "/actions?owner=tools%20engineer&paper=yes",
        "/actions.html",
        "/actions.txt",
        "/actions.html?owner=tools%20engineer",
    ] {
        let body = app.get(address).await.body;
        assert_eq!(count(&body), 130, "{address}");
        assert!(!body.contains("of 130 shown"), "{address}");
    }
    assert!(app.get("/actions?paper=yes").await.body.contains("data-print"));
}

#[sqlx::test]
async fn the_registers_have_every_waiver_and_judgement(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let words = words_of(&app, "/registers").await;
    for slot in rows(&app, "slots").await.iter().filter(|s| !s["waiver"].is_empty()) {
        holds(&words, &slot["waiver"]);
    }
    for (table, by) in
        [("findings", "reviewed_by"), ("remedies", "verified_by"), ("exemptions", "reviewed_by")]
    {
        for one in rows(&app, table).await.iter().filter(|one| !one[by].is_empty()) {
            let is_verified = table != "remedies" || one["state"] == "verified";
            if is_verified {
                holds(&words, &one["code"]);
            }
        }
    }
}

#[sqlx::test]
async fn the_story_of_a_unit_is_whole(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let attempts = rows(&app, "attempts").await;
    let findings = rows(&app, "findings").await;
    let remedies = rows(&app, "remedies").await;
    let constraints = rows(&app, "constraints").await;
    let slots = rows(&app, "slots").await;
    let mut count = 0;
    for unit in
        attempts.iter().map(|a| &a["unit"]).filter(|u| !u.is_empty()).collect::<BTreeSet<_>>()
    {
        let words = words_of(&app, &format!("/registers?unit={unit}")).await;
        let story = part(&words, &format!("Unit {unit}"), "Waivers");
        for attempt in attempts.iter().filter(|a| a["unit"] == *unit) {
            holds(story, &attempt["code"]);
            let names = |one: &&Row| codes(&one["attempts"]).any(|code| code == attempt["code"]);
            for one in [&findings, &remedies, &constraints].into_iter().flatten().filter(names) {
                holds(story, &one["code"]);
                count += 1;
            }
            for slot in slots.iter().filter(|s| s["task"] == attempt["task"] && s["state"] == "set")
            {
                holds(story, &slot["code"]);
                count += 1;
            }
        }
    }
    assert!(count > 20, "{count}");
}

#[sqlx::test]
async fn statistics_are_those_of_the_tables(db: SqlitePool) {
    let app = demo_as(db, Role::Viewer).await;
    let page = app.get("/statistics").await.body;
    let words = sheet(&page);
    let attempts = rows(&app, "attempts").await;
    let stopped = part(&words, "What stopped attempts", "stopped attempts.");
    let told: usize = stopped.trim().parse().unwrap_or_else(|_| panic!("{stopped}"));
    // The first cause of those that were begun; a finding may say another, and none says fewer.
    let with_cause = attempts.iter().filter(|a| !a["cause"].is_empty() && a["outcome"] != "done");
    assert_eq!(told, with_cause.count(), "{words}");
    let kinds: BTreeSet<&str> =
        attempts.iter().filter(|a| !a["cause"].is_empty()).map(|a| a["cause"].as_str()).collect();
    assert!(kinds.len() > 12 && words.contains("more kinds"), "{words}");
    let deferrals = rows(&app, "deferrals").await;
    for reason in deferrals.iter().map(|d| d["reason"].as_str()).collect::<BTreeSet<_>>() {
        let count = deferrals.iter().filter(|d| d["reason"] == reason).count();
        let told = format!("{}: {count}", reason.replace('\'', "&#39;"));
        assert!(page.contains(&told), "{told}: {words}");
    }
    // Minutes of a task: all its attempts until it was done, over the likely ones of its last slot.
    let slots = rows(&app, "slots").await;
    let minutes = |row: &Row, column: &str| row[column].parse::<i64>().ok();
    let mut shares: Vec<i64> = Vec::new();
    for done in attempts.iter().filter(|a| a["outcome"] == "done") {
        let slot = slots.iter().find(|s| s["code"] == done["slot"]);
        let (Some(likely), Some(_)) =
            (slot.and_then(|s| minutes(s, "likely")), minutes(done, "minutes"))
        else {
            continue;
        };
        shares.push(likely);
    }
    holds(&words, &format!("{} tasks that ended done", shares.len()));
}
