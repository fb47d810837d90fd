//! The data elements of a failure report: each is kept in a column that is there, and the page of
//! the documents says where.

use std::fmt::Write as _;
use std::path::Path;

use app::kinds;
use domain::failure_report::{Asks, ELEMENTS};
use domain::kinds::Kind;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{lay, made};
use crate::support::TestApp;

// Source: MIL-STD-2155(AS), paragraph 5.1, 1985: failed item, symptoms, test conditions, built-in-test
// indications, item operating time at failure; failure verification; corrective maintenance and times.
const OF_THE_STANDARD: [&str; 7] = [
    "Failed item",
    "Symptoms",
    "Conditions at the failure",
    "Built-in-test indications",
    "Operating time at failure",
    "Verification of the failure",
    "Corrective maintenance and its times",
];

#[test]
fn each_element_is_kept_in_a_column_that_is_there() {
    for element in ELEMENTS {
        assert!(!element.kept.is_empty(), "{} is kept nowhere", element.asked);
        for (kind, column) in element.kept {
            let there = kinds::columns(*kind).iter().any(|known| known.name == *column);
            assert!(there, "{}: a {kind} has no column {column}", element.asked);
        }
    }
    let asked: Vec<&str> =
        ELEMENTS.iter().filter(|e| e.by == Asks::Standard).map(|e| e.asked).collect();
    assert_eq!(asked, OF_THE_STANDARD);
    // Source: MIL-STD-2155(AS), foreword, 1985: reported, analysed, corrective action identified,
    // implemented, verified to prevent recurrence.
    assert_eq!(ELEMENTS.iter().filter(|e| e.by == Asks::ClosedLoop).count(), 4);
}

#[test]
fn every_new_column_of_the_report_can_be_imported() {
    let heads = |kind| kinds::columns(kind).iter().filter(|c| !c.by_operation).map(|c| c.name);
    let attempts: Vec<&str> = heads(Kind::Attempt).collect();
    for column in
        ["symptom", "indications", "tried", "lighting", "temperature", "time_left", "operated"]
    {
        assert!(attempts.contains(&column), "{column}");
    }
    let findings: Vec<&str> = heads(Kind::Finding).collect();
    for column in ["confirmed", "confidence", "disposition"] {
        assert!(findings.contains(&column), "{column}");
    }
}

/// Set `HOLDOVER_WRITE_DOCS` to write the page anew.
#[test]
fn the_page_of_the_documents_says_the_same() {
    let page = written();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/failure-reporting.md");
    if std::env::var_os("HOLDOVER_WRITE_DOCS").is_some() {
        std::fs::write(&path, &page).unwrap();
    }
    assert_eq!(
        std::fs::read_to_string(&path).unwrap(),
        page,
        "write it with HOLDOVER_WRITE_DOCS=1"
    );
}

fn written() -> String {
    let mut page = String::from(
        "# Where a failure report is kept\n\n\
         Closed-loop failure reporting after MIL-STD-2155(AS) (1985) and MIL-HDBK-2155 (1995): a failure is reported, analysed until \
         its cause is understood, resolved by a corrective action, and the action is verified to prevent the next. The attempt is the report of \
         what happened, the finding of why, the remedy of what was changed; whoever wrote or edited a finding does not review it, and whoever wrote, edited or did a remedy does not verify it: \
         accounts are compared, as the change log has them, whatever author and owner say. \
         Names of witnesses are not kept: crew go by seat and code.\n\n\
         This page is made of the table in `src/domain/failure_report.rs`; a test fails when the two differ, or when a column is not there.\n\n\
         | asked for | by | kept in | |\n| --- | --- | --- | --- |\n",
    );
    for element in ELEMENTS {
        let kept: Vec<String> = element
            .kept
            .iter()
            .map(|(kind, column)| format!("`{}.{column}`", kind.word().replace(' ', "_")))
            .collect();
        let (asked, by) = (element.asked, element.by.words());
        writeln!(page, "| {asked} | {by} | {} | {} |", kept.join(", "), element.note).unwrap();
    }
    page
}

#[sqlx::test]
async fn a_finding_shows_its_report_and_what_it_lacks(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Engineer).await;
    lay(&app.app).await;
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-06-01 | landing: 2030-06-20 | state: flown"),
        (
            Kind::Excursion,
            "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-06-02 | state: flown",
        ),
        (
            Kind::Attempt,
            "code: A-0901 | task: T-3 | excursion: E-36.1 | technique: K-1 | side: nadir \
             | outcome: not completed | cause: 3 | minutes: 45 | symptom: bound at 110 mm \
             | lighting: night | temperature: -52 | time_left: 0:35 | operated: 310.5 \
             | tried: straight pull; rocked sideways | measured: torque 41 N·m (limit 35 N·m)",
        ),
        (
            Kind::Finding,
            "code: N-901 | attempts: A-0901 | cause: 3 | words: no room | confidence: likely \
             | confirmed: seen again on the ground unit",
        ),
    ] {
        made(&app.app, kind, text).await;
    }
    let page = app.get("/findings/N-901").await;
    assert_eq!(page.status, 200, "{}", page.body);
    let report =
        page.body.split("id=\"report\"").nth(1).unwrap().split("</section>").next().unwrap();
    for (asked, says) in [
        ("Symptoms", "bound at 110 mm"),
        ("Conditions at the failure", "night"),
        ("Conditions at the failure", "35 "),
        ("Operating time at failure", "310.5"),
        ("What was tried, in order", "straight pull; rocked sideways"),
        ("Confidence in the cause", "likely"),
        ("Verification of the failure", "seen again on the ground unit"),
        ("Forces, torques and turns reached", "past its limit"),
        ("Built-in-test indications", "not recorded"),
        ("Disposition of the item", "not recorded"),
    ] {
        let row = report.split("<dt>").find(|row| row.starts_with(asked)).unwrap();
        assert!(row.contains(says), "{asked}: {row}");
    }
    assert!(page.body.contains("elements are not recorded"), "{report}");
}
