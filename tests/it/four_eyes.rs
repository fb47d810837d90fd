//! Four eyes are two accounts: who wrote, edited or marked done a record judges it by no road,
//! whatever its owner or author says; and what is imported says so.

use app::import::{self, Options, Report, Request};
use app::{Actor, Failure, checks, kinds};
use domain::cells::Cells;
use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::TestApp;
use crate::under_way::through;

/// A-900 failed by K-1 from nadir on 2030-06-01; an engineer is signed in.
async fn failed(db: SqlitePool) -> TestApp {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-06-01 | landing: 2030-06-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-06-01 | state: flown",
        ),
        (
            Kind::Attempt,
            "code: A-900 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: nadir \
             | outcome: not completed | cause: 3",
        ),
    ] {
        made(&app.app, kind, text).await;
    }
    app
}

async fn sent(app: &TestApp, form: &str, to: &str, fields: &[(&str, &str)]) -> (u16, String) {
    app.get(form).await;
    let reply = app.post(to, fields).await;
    (reply.status.as_u16(), reply.body)
}

#[track_caller]
fn is_done((status, body): (u16, String)) {
    assert_eq!(status, 303, "{body}");
}

#[track_caller]
fn is_refused((status, body): (u16, String), sentence: &str) {
    assert!(status == 409 || status == 422, "{status}: {body}");
    assert!(body.contains(sentence), "{sentence}: {body}");
}

/// The engineer writes N-900 under this author.
async fn written(app: &TestApp, author: &str) {
    let fields = [
        ("code", "N-900"),
        ("attempts", "A-900"),
        ("cause", "3"),
        ("words", "A bracket is in the way."),
        ("author", author),
    ];
    is_done(sent(app, "/findings/new", "/findings/new", &fields).await);
}

/// The engineer writes R-900 for this owner; the lead has reviewed N-900.
async fn proposed(app: &TestApp, owner: &str) -> TestApp {
    written(app, "engineer").await;
    let lead = app.another().signed_in(Role::Lead).await;
    is_done(sent(&lead, "/findings/N-900", "/findings/N-900/review", &[]).await);
    let fields = [
        ("code", "R-900"),
        ("what", "Cut the bracket"),
        ("finding", "N-900"),
        ("attempts", "A-900"),
        ("owner", owner),
        ("reach", "this unit"),
    ];
    is_done(sent(app, "/remedies/new", "/remedies/new", &fields).await);
    lead
}

async fn moved(app: &TestApp, to: &str) -> (u16, String) {
    let fields = [("to", to), ("evidence", "seen in the rig")];
    sent(app, "/findings/N-900", "/remedies/R-900/move", &fields).await
}

async fn cells(app: &TestApp, kind: Kind, code: &str) -> Cells {
    kinds::find(&mut app.app.db.reader().await.unwrap(), kind, code).await.unwrap().unwrap()
}

async fn faults(app: &TestApp) -> Vec<String> {
    let report = checks::run(&app.app.db, |_, _| {}).await.unwrap();
    report.faults.into_iter().map(|fault| fault.words).collect()
}

#[sqlx::test]
async fn who_marked_a_remedy_done_does_not_verify_it_whatever_its_owner_says(db: SqlitePool) {
    let app = failed(db).await;
    let lead = proposed(&app, "tools engineer").await;
    is_done(moved(&app, "done").await);
    let sentence = "You marked R-900 done on 2030-11-21; another person verifies it.";
    let page = app.get("/findings/N-900").await.body;
    assert!(page.contains(sentence) && !page.contains("value=\"verified\""), "{page}");
    is_refused(moved(&app, "verified").await, sentence);
    is_done(moved(&lead, "verified").await);
    assert_eq!(cells(&app, Kind::Remedy, "R-900").await.get("checked"), "here");
    assert_eq!(faults(&app).await, [""; 0]);
}

#[sqlx::test]
async fn a_new_owner_makes_nobody_another_person(db: SqlitePool) {
    let app = failed(db).await;
    let lead = proposed(&app, "engineer").await;
    is_done(moved(&lead, "done").await);
    let owner = [("owner", "rigger")];
    is_done(sent(&app, "/remedies/R-900/edit", "/remedies/R-900/edit", &owner).await);
    is_refused(moved(&app, "verified").await, "You wrote R-900 on 2030-11-21");
    is_refused(moved(&lead, "verified").await, "You marked R-900 done on 2030-11-21");
    // Whoever only edited it is out as well.
    app.person("second", Role::Engineer).await;
    let second = app.another();
    second.sign_in("second").await;
    let owner = [("owner", "tools engineer")];
    is_done(sent(&second, "/remedies/R-900/edit", "/remedies/R-900/edit", &owner).await);
    is_refused(moved(&second, "verified").await, "You edited R-900 on 2030-11-21");
    app.person("third", Role::Engineer).await;
    let third = app.another();
    third.sign_in("third").await;
    is_done(moved(&third, "verified").await);
}

#[sqlx::test]
async fn taking_a_remedy_back_to_open_makes_nobody_another_person(db: SqlitePool) {
    let app = failed(db).await;
    let lead = proposed(&app, "tools engineer").await;
    is_done(moved(&app, "done").await);
    is_done(moved(&lead, "open").await);
    is_done(moved(&lead, "done").await);
    is_refused(moved(&app, "verified").await, "You marked R-900 done");
    is_refused(moved(&lead, "verified").await, "You marked R-900 done");
}

#[sqlx::test]
async fn who_wrote_or_edited_a_finding_does_not_review_it_whatever_its_author_says(db: SqlitePool) {
    let app = failed(db).await;
    written(&app, "the day shift").await;
    let own = sent(&app, "/findings/N-900", "/findings/N-900/review", &[]).await;
    is_refused(own, "You wrote N-900 on 2030-11-21; another person reviews it.");
    let lead = app.another().signed_in(Role::Lead).await;
    let words = [("words", "The bracket is 60 mm wide.")];
    is_done(sent(&lead, "/findings/N-900/edit", "/findings/N-900/edit", &words).await);
    let edited = sent(&lead, "/findings/N-900", "/findings/N-900/review", &[]).await;
    is_refused(edited, "You edited N-900 on 2030-11-21; another person reviews it.");
    let waits = app.get("/findings?who=me").await.body;
    assert!(!waits.contains("<tr data-code=\"N-900\""), "{waits}");
}

#[sqlx::test]
async fn the_finding_is_reviewed_before_the_remedy_that_rests_on_it_is_verified(db: SqlitePool) {
    let app = failed(db).await;
    written(&app, "engineer").await;
    let remedy = "code: R-900 | what: Cut it | finding: N-900 | attempts: A-900 | owner: tools \
                  | reach: this unit | state: done | done_on: 2030-11-01";
    made(&app.app, Kind::Remedy, remedy).await;
    let lead = app.another().signed_in(Role::Lead).await;
    is_refused(moved(&lead, "verified").await, "Review N-900 first");
    is_done(sent(&lead, "/findings/N-900", "/findings/N-900/review", &[]).await);
    is_done(moved(&lead, "verified").await);
}

#[sqlx::test]
async fn an_edit_of_what_was_verified_takes_the_verification_back(db: SqlitePool) {
    let app = failed(db).await;
    let lead = proposed(&app, "tools engineer").await;
    is_done(moved(&app, "done").await);
    is_done(moved(&lead, "verified").await);
    // By when it is needed is no part of what was verified.
    let later = [("needed_by", "G-37")];
    is_done(sent(&lead, "/remedies/R-900/edit", "/remedies/R-900/edit", &later).await);
    assert_eq!(cells(&app, Kind::Remedy, "R-900").await.get("state"), "verified");
    let wider = [("reach", "every unit")];
    is_done(sent(&app, "/remedies/R-900/edit", "/remedies/R-900/edit", &wider).await);
    let page = app.get("/remedies/R-900").await.unlinked();
    assert!(page.contains("The verification of R-900 by lead is undone"), "{page}");
    let now = cells(&app, Kind::Remedy, "R-900").await;
    assert_eq!((now.get("state"), now.get("verified_by"), now.get("checked")), ("done", "", ""));
    is_refused(moved(&app, "verified").await, "You marked R-900 done");
    assert_eq!(faults(&app).await, [""; 0]);
}

#[sqlx::test]
async fn an_edit_of_a_reviewed_finding_takes_the_verification_back_that_rests_on_it(
    db: SqlitePool,
) {
    let app = failed(db).await;
    let lead = proposed(&app, "tools engineer").await;
    is_done(moved(&app, "done").await);
    is_done(moved(&lead, "verified").await);
    let evidence = [("evidence", "A photograph that nobody has seen.")];
    is_done(sent(&app, "/findings/N-900/edit", "/findings/N-900/edit", &evidence).await);
    let page = app.get("/findings/N-900").await.unlinked();
    assert!(page.contains("The review of N-900 by lead is undone"), "{page}");
    assert!(page.contains("R-900 is done and waits for another person"), "{page}");
    assert_eq!(cells(&app, Kind::Finding, "N-900").await.get("reviewed_by"), "");
    assert_eq!(cells(&app, Kind::Remedy, "R-900").await.get("state"), "done");
    assert_eq!(faults(&app).await, [""; 0]);
}

#[sqlx::test]
async fn an_exemption_is_reviewed_by_another_account_and_again_after_an_edit(db: SqlitePool) {
    let app = failed(db).await;
    let fields = [
        ("code", "X-900"),
        ("task", "T-2"),
        ("attempts", "A-900"),
        ("words", "no bracket stands there"),
        ("author", "the day shift"),
    ];
    is_done(sent(&app, "/exemptions/new", "/exemptions/new", &fields).await);
    let page = app.get("/tasks/T-2").await.body;
    assert!(page.contains("You wrote X-900 on 2030-11-21; another person reviews it."), "{page}");
    assert!(!page.contains("/exemptions/X-900/review"), "{page}");
    let own = sent(&app, "/tasks/T-2", "/exemptions/X-900/review", &[]).await;
    is_refused(own, "You wrote X-900");
    let lead = app.another().signed_in(Role::Lead).await;
    is_done(sent(&lead, "/tasks/T-2", "/exemptions/X-900/review", &[]).await);
    let more = [("words", "no bracket, no strut")];
    is_done(sent(&app, "/exemptions/X-900/edit", "/exemptions/X-900/edit", &more).await);
    assert_eq!(cells(&app, Kind::Exemption, "X-900").await.get("reviewed_by"), "");
}

#[sqlx::test]
async fn who_made_a_revision_does_not_clear_it_under_another_authors_name(db: SqlitePool) {
    let app = failed(db).await;
    let fields = [
        ("steps", "Turn the screw."),
        ("changed", "So that the wrist stays clear."),
        ("changes_work", "yes"),
        ("answers", "A-900"),
    ];
    is_done(sent(&app, "/techniques/K-1/revise", "/techniques/K-1/revise", &fields).await);
    let author = [("author", "the day shift")];
    is_done(sent(&app, "/revisions/K-1.2/edit", "/revisions/K-1.2/edit", &author).await);
    let evidence = [("evidence", "seen")];
    let own = sent(&app, "/techniques/K-1", "/revisions/K-1.2/clear", &evidence).await;
    is_refused(own, "You wrote K-1.2 on 2030-11-21; another person clears it.");
    let lead = app.another().signed_in(Role::Lead).await;
    is_done(sent(&lead, "/techniques/K-1", "/revisions/K-1.2/clear", &evidence).await);
    let remedy = cells(&app, Kind::Remedy, "R-001").await;
    assert_eq!(remedy.get("checked"), "by clearing the revision");
    assert_eq!(faults(&app).await, [""; 0]);
}

#[sqlx::test]
async fn a_remedy_that_is_a_revision_is_not_verified_by_who_made_the_revision(db: SqlitePool) {
    let app = failed(db).await;
    let fields = [("steps", "Turn the screw."), ("changed", "So that the wrist stays clear.")];
    is_done(sent(&app, "/techniques/K-1/revise", "/techniques/K-1/revise", &fields).await);
    made(
        &app.app,
        Kind::Remedy,
        "code: R-900 | what: Turn it | attempts: A-900 | owner: tools | reach: this unit \
         | technique: K-1 | revision: 2 | state: done | done_on: 2030-11-01",
    )
    .await;
    app.get("/findings").await;
    let own = app.post("/remedies/R-900/move", &[("to", "verified"), ("evidence", "seen")]).await;
    is_refused(
        (own.status.as_u16(), own.body),
        "You wrote K-1.2 on 2030-11-21; another person verifies R-900.",
    );
}

/// A table of one row, imported by somebody of that role.
async fn imported(
    app: &TestApp,
    (name, role): (&str, Role),
    (kind, table): (Kind, &str),
    history: bool,
) -> Result<Report, Failure> {
    let actor = Actor { name: name.to_owned(), role };
    let options = Options { history, ..Options::default() };
    let request = Request { kind, table: app::import::Given::Bytes(table.as_bytes()), options };
    import::run(&app.app, &actor, &request, None, |_| {}).await
}

fn reasons(report: &Report) -> String {
    assert!(!report.committed, "it was taken: {report:?}");
    let lines: Vec<String> =
        report.bad.iter().map(|bad| format!("{}: {}", bad.column, bad.reason)).collect();
    lines.join("\n")
}

const VERIFIED: &str = "code,what,attempts,owner,reach,state,done_on,verified_by,verified_on,evidence\n\
    R-901,Cut it,A-900,tools,every unit,verified,2030-06-10,lead,2030-06-12,seen in the rig\n";

#[sqlx::test]
async fn a_table_brings_no_verification_review_or_clearance_of_its_own(db: SqlitePool) {
    let app = failed(db).await;
    let finding = "code,attempts,cause,words,author,reviewed_by,reviewed_on\n\
                   N-901,A-900,3,so,engineer,lead,2030-06-12\n";
    let exemption = "code,task,attempts,words,author,reviewed_by,reviewed_on\n\
                     X-901,T-2,A-900,so,engineer,lead,2030-06-12\n";
    let revision = "code,technique,number,changed,author,cleared_by,cleared_on,evidence\n\
                    K-1.1,K-1,1,so,engineer,lead,2030-06-12,seen\n";
    for (column, kind, table) in [
        ("verified_by", Kind::Remedy, VERIFIED),
        ("reviewed_by", Kind::Finding, finding),
        ("reviewed_by", Kind::Exemption, exemption),
        ("cleared_by", Kind::Revision, revision),
    ] {
        // Not even where the lead who imports it is the person that it names.
        for actor in [("engineer", Role::Engineer), ("lead", Role::Lead)] {
            let report = imported(&app, actor, (kind, table), false).await.unwrap();
            let why = reasons(&report);
            assert!(why.contains(column) && why.contains("only by an administrator"), "{why}");
            let history = imported(&app, actor, (kind, table), true).await;
            assert!(matches!(history, Err(Failure::Forbidden(_))), "{history:?}");
        }
    }
}

#[sqlx::test]
async fn an_administrators_history_is_kept_and_shown_as_imported(db: SqlitePool) {
    let app = failed(db).await;
    let keeper = ("keeper", Role::Administrator);
    let report = imported(&app, keeper, (Kind::Remedy, VERIFIED), true).await.unwrap();
    assert!(report.committed, "{report:?}");
    assert_eq!(
        cells(&app, Kind::Remedy, "R-901").await.get("checked"),
        "imported, not checked here"
    );
    let page = app.get("/remedies/R-901").await.body;
    assert!(page.contains("imported, not checked here"), "{page}");
    assert_eq!(faults(&app).await, [""; 0]);

    // The same table again says nothing new, and one that calls it checked here does not make it so.
    let again = imported(&app, ("lead", Role::Lead), (Kind::Remedy, VERIFIED), false).await;
    assert_eq!(again.unwrap().known, 1);
    let here =
        VERIFIED.replace(",evidence\n", ",evidence,checked\n").replace("rig\n", "rig,here\n");
    imported(&app, ("lead", Role::Lead), (Kind::Remedy, &here), false).await.unwrap();
    assert_eq!(
        cells(&app, Kind::Remedy, "R-901").await.get("checked"),
        "imported, not checked here"
    );
    // Without “as history” an administrator brings no remedies at all.
    let other = VERIFIED.replace("901", "902");
    let plain = imported(&app, keeper, (Kind::Remedy, &other), false).await.unwrap();
    assert!(reasons(&plain).contains("may not write remedies"));
}

#[sqlx::test]
async fn history_needs_its_evidence_and_its_order_in_time(db: SqlitePool) {
    let app = failed(db).await;
    let keeper = ("keeper", Role::Administrator);
    for (from, to, said) in [
        ("seen in the rig", "", "Say what shows that the remedy works."),
        ("2030-06-12", "", "Give the day on which it was verified."),
        ("2030-06-12", "2030-06-09", "It was done on 2030-06-10, after it was verified"),
        ("2030-06-10,lead,2030-06-12", ",lead,2030-05-31", "A-900 was made on 2030-06-01, after"),
        ("2030-06-12", "2031-06-12", "is still to come"),
        (",lead,", ",Tools,", "its owner; another person verifies it."),
    ] {
        let table = VERIFIED.replace(from, to);
        let report = imported(&app, keeper, (Kind::Remedy, &table), true).await.unwrap();
        let why = reasons(&report);
        assert!(why.contains(said), "{said}: {why}");
    }
    let finding = "code,attempts,cause,words,author,written_on,reviewed_by,reviewed_on\n\
                   N-901,A-900,3,so,engineer,2030-06-10,lead,2030-06-12\n";
    for (from, to, said) in [
        ("2030-06-12", "2030-06-09", "It was written on 2030-06-10, after it was reviewed"),
        (",3,so", ",,so", "Choose the main cause before it is reviewed"),
    ] {
        let table = finding.replace(from, to);
        let report = imported(&app, keeper, (Kind::Finding, &table), true).await.unwrap();
        let why = reasons(&report);
        assert!(why.contains(said), "{said}: {why}");
    }
}

#[sqlx::test]
async fn history_does_not_verify_what_was_written_here(db: SqlitePool) {
    let app = failed(db).await;
    let _lead = proposed(&app, "tools engineer").await;
    let table = VERIFIED.replace("R-901", "R-900");
    let keeper = ("keeper", Role::Administrator);
    let report = imported(&app, keeper, (Kind::Remedy, &table), true).await.unwrap();
    assert!(reasons(&report).contains("R-900 is in the record already"));
}

#[sqlx::test]
async fn the_administrator_chooses_on_the_page_that_a_table_is_history(db: SqlitePool) {
    let app = failed(db).await;
    let keeper = app.another().signed_in(Role::Administrator).await;
    let mut file = app.app.db.contents().incoming().unwrap();
    std::io::Write::write_all(&mut file, VERIFIED.as_bytes()).unwrap();
    let actor = Actor { name: "administrator".into(), role: Role::Administrator };
    let table = (Kind::Remedy, "remedies.csv");
    let code = import::keep(&app.app, &actor, table, file).await.unwrap();
    let page = through(&keeper, &format!("/import/{code}")).await.body;
    assert!(page.contains("name=\"history\"") && page.contains("may not write remedies"), "{page}");
    let page = through(&keeper, &format!("/import/{code}?history=yes")).await.body;
    assert!(!page.contains("Rows refused"), "{page}");
    let taken = keeper.post(&format!("/import/{code}"), &[]).await;
    assert_eq!(taken.status, 303, "{}", taken.body);
    through(&keeper, &taken.location).await;
    assert!(keeper.get("/remedies/R-901").await.body.contains("imported, not checked here"));
}
