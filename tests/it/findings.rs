//! Findings and remedies in pages: nobody reviews or verifies their own.

use app::records::Base;
use app::work::Work;
use app::{Actor, demo, kinds};
use domain::cells::Cell as _;
use domain::kinds::Kind;
use domain::time::Moment;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{cells, lay, made};
use crate::support::{NOW, TestApp};

/// N-900 explains A-900, written by the person who is signed in.
async fn written(db: SqlitePool, role: Role) -> TestApp {
    let app = TestApp::new(db).await.signed_in(role).await;
    lay(&app.app).await;
    made(
        &app.app,
        Kind::Flight,
        "code: G-36 | launch: 2030-06-01 | landing: 2030-06-20 | state: flown",
    )
    .await;
    made(
        &app.app,
        Kind::Excursion,
        "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-06-01 | state: flown",
    )
    .await;
    made(
        &app.app,
        Kind::Attempt,
        "code: A-900 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: nadir | outcome: not completed | cause: 3",
    )
    .await;
    app.get("/findings/new").await;
    let fields = [
        ("code", "N-900"),
        ("attempts", "A-900"),
        ("cause", "3"),
        ("words", "A bracket is in the way."),
    ];
    let made = app.post("/findings/new", &fields).await;
    assert_eq!(made.status, 303, "{}", made.body);
    app
}

#[sqlx::test]
async fn nobody_reviews_their_own_finding(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    let page = app.get("/findings/N-900").await.body;
    assert!(!page.contains("action=\"/findings/N-900/review\""), "{page}");
    assert_eq!(app.post("/findings/N-900/review", &[]).await.status, 409);
    let other = app.another().signed_in(Role::Lead).await;
    other.get("/findings/N-900").await;
    assert_eq!(other.post("/findings/N-900/review", &[]).await.status, 303);
    assert!(other.get("/findings/N-900").await.body.contains("reviewed</span> by lead"));
}

#[sqlx::test]
async fn a_remedy_is_done_by_its_owner_and_verified_by_another(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    app.get("/remedies/new").await;
    let fields = [
        ("code", "R-900"),
        ("what", "Cut the bracket"),
        ("finding", "N-900"),
        ("attempts", "A-900"),
        ("owner", "engineer"),
        ("reach", "this unit"),
    ];
    let made = app.post("/remedies/new", &fields).await;
    assert_eq!(made.status, 303, "{}", made.body);
    app.get("/findings/N-900").await;
    let done = [("to", "done"), ("evidence", "cut in the rig")];
    assert_eq!(app.post("/remedies/R-900/move", &done).await.status, 303);
    app.get("/findings/N-900").await;
    let own = app.post("/remedies/R-900/move", &[("to", "verified"), ("evidence", "seen")]).await;
    assert_eq!(own.status, 409, "{}", own.body);
    let other = app.another().signed_in(Role::Lead).await;
    other.get("/findings/N-900").await;
    assert_eq!(other.post("/findings/N-900/review", &[]).await.status, 303);
    other.get("/findings/N-900").await;
    let verified =
        other.post("/remedies/R-900/move", &[("to", "verified"), ("evidence", "seen")]).await;
    assert_eq!(verified.status, 303, "{}", verified.body);
}

/// The lead reviews N-900.
async fn reviewed(app: &TestApp) {
    let lead = app.another().signed_in(Role::Lead).await;
    lead.get("/findings/N-900").await;
    let reply = lead.post("/findings/N-900/review", &[]).await;
    assert_eq!(reply.status, 303, "{}", reply.body);
}

/// A second flown excursion, later than the one on which A-900 was made.
async fn flown_later(app: &TestApp) {
    made(
        &app.app,
        Kind::Excursion,
        "code: E-36.2 | flight: G-36 | number: 2 | day: 2030-06-15 | state: flown",
    )
    .await;
}

/// R-900 answers A-900 for every unit and is verified between the two excursions.
async fn verified(app: &TestApp) {
    reviewed(app).await;
    made(
        &app.app,
        Kind::Remedy,
        "code: R-900 | what: Cut the bracket | finding: N-900 | attempts: A-900 | owner: tools \
         | reach: every unit | state: verified | verified_by: lead | verified_on: 2030-06-10",
    )
    .await;
}

async fn failed_again(app: &TestApp) {
    made(
        &app.app,
        Kind::Attempt,
        "code: A-901 | task: T-3 | excursion: E-36.2 | technique: K-1 | side: nadir \
         | outcome: not completed | cause: 3 | words: The bracket again.",
    )
    .await;
}

#[sqlx::test]
async fn a_failure_after_a_verified_remedy_reopens_the_question_everywhere(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    flown_later(&app).await;
    verified(&app).await;
    let page = app.get("/findings/N-900").await.body;
    assert!(!page.contains("did not hold"), "nothing failed since: {page}");

    failed_again(&app).await;
    let said = "R-900</a> was verified on 2030-06-10 and did not hold: \
                <a class=\"code\" href=\"/attempts/A-901\">A-901</a> failed on 2030-06-15";
    for address in ["/findings/N-900", "/findings", "/"] {
        let page = app.get(address).await.body;
        assert!(page.contains(said), "{address}: {page}");
        assert!(page.contains("The same kind of cause again: reach too tight."), "{address}");
    }
    assert!(
        app.get("/findings/N-900").await.body.contains("It failed again after a verified remedy")
    );
    let listed = app.get("/findings?show=reopened").await.body;
    assert!(listed.contains("data-code=\"N-900\"") && listed.contains("not resolved</span>"));
    assert!(app.get("/remedies/R-900").await.body.contains("<dt>Did not hold</dt>"));
    let task = app.get("/tasks/T-3").await.body;
    assert!(task.contains("<b>did not hold:</b> <a class=\"code\" href=\"/attempts/A-901\">"));
    // The guard needs no rule of its own: no remedy that came before it names that failure.
    assert!(task.contains("data-verdict=\"not-met\""), "{task}");
}

#[sqlx::test]
async fn a_remedy_that_names_the_new_failure_closes_the_question(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    flown_later(&app).await;
    verified(&app).await;
    failed_again(&app).await;
    made(
        &app.app,
        Kind::Remedy,
        "code: R-901 | what: Another way in | finding: N-900 | attempts: A-901 | owner: tools \
         | reach: every unit | state: verified | verified_by: lead | verified_on: 2030-06-18",
    )
    .await;
    let page = app.get("/findings/N-900").await.body;
    assert!(page.contains("It failed again, and that is resolved"), "{page}");
    assert!(page.contains("did not hold, resolved since:"), "{page}");
    assert!(!app.get("/findings?show=reopened").await.body.contains("data-code=\"N-900\""));
    assert!(!app.get("/today/all").await.body.contains("Failures after a verified remedy"));
}

#[sqlx::test]
async fn what_waits_is_told_by_person_and_step_and_its_counts_agree_with_its_rows(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    // A remedy that no flight waits for has no day by which it is due.
    made(
        &app.app,
        Kind::Remedy,
        "code: R-899 | what: Ask the maker | finding: N-900 | attempts: A-900 | owner: rigger \
         | reach: this unit | state: open",
    )
    .await;
    made(
        &app.app,
        Kind::Remedy,
        "code: R-900 | what: Cut the bracket | finding: N-900 | attempts: A-900 | owner: tools \
         | reach: this unit | needed_by: G-36 | state: open",
    )
    .await;
    // Failed half a year ago, and no finding names it.
    made(
        &app.app,
        Kind::Attempt,
        "code: A-905 | task: T-2 | excursion: E-36.1 | technique: K-1 | side: zenith \
         | outcome: not completed | cause: 3",
    )
    .await;
    let page = app.get("/findings").await.body;
    assert!(page.contains("4 steps wait; 2 of them are overdue."), "{page}");
    let row = |page: &str, code: &str| page.contains(&format!("<tr data-code=\"{code}\""));
    assert!(row(&page, "N-900") && row(&page, "R-900") && row(&page, "A-905"), "{page}");

    for (address, rows) in [
        ("/findings?step=carry+out+a+remedy&who=tools&overdue=yes", vec!["R-900"]),
        ("/findings?step=review+a+finding&who=anyone+but+engineer", vec!["N-900"]),
        ("/findings?step=write+a+finding&who=any+engineer&overdue=yes", vec!["A-905"]),
        ("/findings?overdue=yes", vec!["A-905", "R-900"]),
        // The author is not asked to review their own finding.
        ("/findings?who=me", vec!["A-905"]),
    ] {
        let page = app.get(address).await.body;
        for code in ["N-900", "R-900", "A-905"] {
            assert_eq!(row(&page, code), rows.contains(&code), "{address} {code}: {page}");
        }
    }
    let file = app.get("/findings.csv?show=waits&overdue=yes").await.body;
    assert_eq!(file.lines().count(), 3, "{file}");
    assert!(app.get("/findings?who=me").await.body.contains("/attempts/A-905/finding"));
}

#[sqlx::test]
async fn work_that_was_done_in_the_end_waits_for_no_finding(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    flown_later(&app).await;
    failed_again(&app).await;
    assert!(app.get("/findings").await.body.contains("<tr data-code=\"A-901\""));
    made(
        &app.app,
        Kind::Attempt,
        "code: A-902 | task: T-3 | excursion: E-36.2 | technique: K-1 | side: zenith \
         | pet_start: 3:00 | outcome: done",
    )
    .await;
    assert!(!app.get("/findings").await.body.contains("<tr data-code=\"A-901\""));
}

/// How many attempts the history says that it lists.
fn counted(page: &str) -> i64 {
    let told = page.split("class=\"under\" role=\"status\">").nth(1).unwrap();
    told.split(' ').next().unwrap().parse().unwrap()
}

#[sqlx::test]
async fn every_bar_counts_the_rows_to_which_it_leads(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();
    let app = app.signed_in(Role::Viewer).await;
    for by in ["cause", "group", "technique", "side", "worksite", "flight"] {
        let page = app.get(&format!("/findings/causes?by={by}")).await.body;
        assert!(page.contains("role=\"group\""), "{by}: {page}");
        let links: Vec<(String, i64)> = page
            .split("<a href=\"/history?")
            .skip(1)
            .filter_map(|rest| {
                let (address, rest) = rest.split_once('"')?;
                let drawn = rest.split("</a>").next()?;
                let figure = drawn.strip_suffix("</text>")?.rsplit('>').next()?;
                let count = figure.split(' ').next()?.parse().ok()?;
                Some((address.replace("&amp;", "&"), count))
            })
            .collect();
        assert!(links.len() > 5, "{by}: {} links", links.len());
        // The ranked bars, and some of those flight by flight.
        for (address, count) in links.iter().take(4).chain(links.iter().rev().take(3)) {
            let rows = app.get(&format!("/history?{address}")).await.body;
            assert_eq!(counted(&rows), *count, "{by} {address}");
        }
    }
}

#[sqlx::test]
async fn the_cause_of_a_reviewed_finding_takes_the_place_of_the_debriefs(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    made(
        &app.app,
        Kind::Cause,
        "code: 4 | words: bolt binds | cause_group: fasteners | scope: hardware",
    )
    .await;
    app.get("/findings/N-900/edit").await;
    let fields = [("attempts", "A-900"), ("cause", "4"), ("words", "It was the bolt.")];
    assert_eq!(app.post("/findings/N-900/edit", &fields).await.status, 303);
    let count =
        async |cause: &str| counted(&app.get(&format!("/history?cause={cause}")).await.body);
    assert_eq!((count("3").await, count("4").await), (1, 0), "nobody has reviewed it");
    let other = app.another().signed_in(Role::Lead).await;
    other.get("/findings/N-900").await;
    assert_eq!(other.post("/findings/N-900/review", &[]).await.status, 303);
    assert_eq!((count("3").await, count("4").await), (0, 1));
    let causes = app.get("/findings/causes").await.body;
    assert!(
        causes.contains("bolt binds (4)") && !causes.contains("reach too tight (3)"),
        "{causes}"
    );
}

#[sqlx::test]
async fn a_finding_that_names_ten_thousand_causes_is_told_what_to_do_and_loses_nothing(
    db: SqlitePool,
) {
    let app = written(db, Role::Engineer).await;
    let many: Vec<String> = (1..=10_000).map(|number| number.to_string()).collect();
    let many = many.join(", ");
    app.get("/findings/new").await;
    let fields = [
        ("attempts", "A-900"),
        ("cause", "3"),
        ("contributing", many.as_str()),
        ("words", "Everything at once."),
    ];
    let reply = app.post("/findings/new", &fields).await;
    assert_eq!(reply.status, 422, "{}", reply.body);
    assert!(reply.body.contains("This list has 10000 entries; at most 500 are kept."));
    assert!(reply.body.contains("id=\"f-contributing-error\""));
    assert!(reply.body.contains("9999, 10000") && reply.body.contains("Everything at once."));
}

#[sqlx::test]
async fn ten_thousand_kinds_of_cause_leave_the_pages_readable(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    let actor = Actor { name: "keeper".into(), role: Role::Administrator };
    let mut work = Work::begin(&app.app, &actor, None).await.unwrap();
    for number in 1_000..11_000 {
        let text =
            format!("code: {number} | words: kind {number} | cause_group: many | scope: approach");
        kinds::save_whole(&mut work, Kind::Cause, &cells(&text), Base::New).await.unwrap();
    }
    work.finish("").await.unwrap();
    for number in 1_000..1_300 {
        let attempt = format!(
            "code: A-{number} | task: T-2 | excursion: E-36.1 | outcome: not completed | cause: {number}"
        );
        made(&app.app, Kind::Attempt, &attempt).await;
    }
    for page in [
        "/findings",
        "/findings/N-900",
        "/findings/causes",
        "/history",
        "/tasks/T-3",
        "/findings/new",
    ] {
        let reply = app.get(page).await;
        assert_eq!(reply.status, 200, "{page}");
        assert!(reply.body.len() < 600_000, "{page}: {} bytes", reply.body.len());
    }
    let causes = app.get("/findings/causes").await.body;
    assert!(causes.contains("286 more rows with 286 attempts"), "{causes}");
    assert!(app.get("/history").await.body.contains("201 rarer causes are not shown"));
}

#[sqlx::test]
async fn two_people_who_edit_a_finding_are_shown_both_versions(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    let other = app.another().signed_in(Role::Lead).await;
    app.get("/findings/N-900/edit").await;
    other.get("/findings/N-900/edit").await;
    let words = |words| [("attempts", "A-900"), ("cause", "3"), ("words", words)];
    let first = other.post("/findings/N-900/edit", &words("The bracket is 60 mm wide.")).await;
    assert_eq!(first.status, 303, "{}", first.body);
    let second = app.post("/findings/N-900/edit", &words("The bracket is bent.")).await;
    assert_eq!(second.status, 409);
    assert!(
        second.body.contains("The bracket is 60 mm wide.")
            && second.body.contains("The bracket is bent.")
    );
    assert!(second.body.contains("Nothing was overwritten"), "{}", second.body);
    assert!(app.get("/findings/N-900").await.body.contains("The bracket is 60 mm wide."));
}

#[sqlx::test]
async fn a_lesson_of_another_family_stands_on_the_task_and_on_the_finding(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    flown_later(&app).await;
    made(&app.app, Kind::Family, "code: F-2 | name: valve").await;
    made(&app.app, Kind::Technique, "code: K-2 | name: long crank | family: F-2 | state: cleared")
        .await;
    for text in [
        "code: T-20 | title: Close the valve | family: F-2 | worksite: W-B | opened: 2030-01-01",
        "code: T-21 | title: Lace the blanket | worksite: W-B | opened: 2030-01-01",
    ] {
        made(&app.app, Kind::Task, text).await;
    }
    for text in [
        // The same words, another kind of cause, another family; and what worked after.
        "code: A-920 | task: T-20 | excursion: E-36.1 | technique: K-2 | side: aft | cause: 17 \
         | minutes: 20 | outcome: not completed | words: The wrist met a bracket that no drawing shows.",
        "code: A-921 | task: T-20 | excursion: E-36.2 | technique: K-2 | side: port | outcome: done",
        // Nothing in common but the worksite.
        "code: A-930 | task: T-21 | excursion: E-36.1 | cause: 17 | minutes: 20 | outcome: not completed \
         | words: Cord was too short.",
        // The same unit's own tries are left out.
        "code: A-940 | task: T-3 | excursion: E-36.2 | technique: K-1 | side: nadir | cause: 3 \
         | outcome: not completed | words: The wrist met the bracket that no drawing shows once more.",
    ] {
        made(&app.app, Kind::Attempt, text).await;
    }
    for address in ["/tasks/T-3", "/findings/N-900"] {
        let page = app.get(address).await.body;
        let alike = page.split("id=\"alike\"").nth(1).unwrap().split("</section>").next().unwrap();
        assert!(alike.contains("data-code=\"A-920\""), "{address}: {alike}");
        assert!(!alike.contains("data-code=\"A-930\""), "{address}: {alike}");
        assert!(!alike.contains("data-code=\"A-940\""), "{address}: {alike}");
        assert!(alike.contains("another family,</span> <a class=\"code\" href=\"/families/F-2\">"));
        let words = alike.split("words: ").nth(1).unwrap().split('.').next().unwrap();
        assert!(words.contains("bracket"), "{address}: {words}");
        assert!(alike.contains("What worked:</b> Done after it by"), "{address}: {alike}");
        assert!(alike.contains("href=\"/attempts/A-921\""), "{address}: {alike}");
    }
}

#[sqlx::test]
async fn a_remedy_is_marked_as_done_with_what_was_done_asked_on_its_own_page(db: SqlitePool) {
    let app = written(db, Role::Engineer).await;
    app.get("/remedies/new").await;
    let fields = [
        ("code", "R-900"),
        ("what", "Cut the bracket"),
        ("finding", "N-900"),
        ("attempts", "A-900"),
        ("owner", "engineer"),
        ("reach", "this unit"),
    ];
    assert_eq!(app.post("/remedies/new", &fields).await.status, 303);
    let page = app.get("/remedies/R-900").await.body;
    assert!(page.contains("What was done, and what shows it"), "{page}");
    assert!(page.contains("href=\"/files/new?finding=N-900\""), "{page}");
    let asked = app.post("/remedies/R-900/move", &[("to", "done"), ("evidence", " ")]).await;
    assert_eq!(asked.status, 422, "{}", asked.body);
    assert!(asked.body.contains("Remedy <span class=\"code\">R-900"), "its own page");
    assert!(asked.body.contains("Say what was done and what shows it"), "{}", asked.body);
    let done = app.post("/remedies/R-900/move", &[("to", "done"), ("evidence", "Cut")]).await;
    assert_eq!(done.status, 303, "{}", done.body);
    let page = app.get(&done.location).await.body;
    let notice = page.split("class=\"notice\"").nth(1).unwrap();
    let notice = notice.split("</div>").next().unwrap();
    assert!(notice.contains("href=\"/remedies/R-900\""), "it leads to the remedy: {notice}");
    assert!(notice.contains("Another person verifies it next"), "{notice}");
}
