//! The replay against the record: chances and counts worked out by hand.

use app::records::Base;
use app::work::Work;
use app::{Actor, kinds};
use domain::kinds::Kind;
use domain::roles::keeper;
use domain::words::Role;
use sqlx::SqlitePool;

use crate::small_record::{cells, lay, made, task};
use crate::support::TestApp;

/// Nothing varies but each task's own work, so that a chance follows from one normal score.
const STILL: &str = "code: TEAM | tight_from: 50 | met_from: 80 | supply_reserve: 30 \
    | why: flight rules, 2030 | crew_day: 0 | egress_spread: 0 | ingress_spread: 0 | travel_spread: 0 \
    | site_spread: 0";

const EXCURSION: &str = "code: E-36.1 | flight: G-36 | number: 1 | day: 2030-10-05 | state: flown \
    | planned: 1:45 | limit: 1:53 | egress: 30 | ingress: 28 | seats: EV1 C-1, EV2 C-2 | airlock: W-A";

fn slot(code: &str, task: &str, seat: &str, set_on: &str, minutes: &str) -> String {
    format!(
        "code: {code} | task: {task} | excursion: E-36.1 | technique: K-1 | side: nadir | seats: {seat} \
         | state: flown | set_on: {set_on} | {minutes}"
    )
}

fn attempt(code: &str, slot: &str, task: &str, ended: &str) -> String {
    format!(
        "code: {code} | task: {task} | excursion: E-36.1 | slot: {slot} | seats: EV1 C-1 \
         | technique: K-1 | side: nadir | recorded_by: keeper | {ended}"
    )
}

#[sqlx::test]
async fn chances_and_counts_are_those_worked_out_by_hand(db: SqlitePool) {
    let app = TestApp::new(db).await.signed_in(Role::Viewer).await;
    lay(&app.app).await;
    let actor = Actor { name: "keeper".into(), role: keeper(Kind::Settings) };
    let mut work = Work::begin(&app.app, &actor, None).await.unwrap();
    kinds::save_whole(&mut work, Kind::Settings, &cells(STILL), Base::Current).await.unwrap();
    work.finish("").await.unwrap();
    let (slow, quick) = ("20 | likely: 30 | pessimistic: 40", "10 | likely: 12 | pessimistic: 14");
    let (slow, quick) = (format!("optimistic: {slow}"), format!("optimistic: {quick}"));
    for (kind, text) in [
        (Kind::Flight, "code: G-36 | launch: 2030-10-01 | state: flown".to_owned()),
        (Kind::Excursion, EXCURSION.to_owned()),
        (Kind::Task, task("T-61")),
        (Kind::Task, task("T-62")),
        (Kind::Task, task("T-63")),
        (Kind::Slot, slot("S-61", "T-61", "EV1", "2030-09-20", &slow)),
        (Kind::Slot, slot("S-62", "T-62", "EV2", "2030-09-20", &quick)),
        // Set in flight: it had no chance at launch.
        (Kind::Slot, slot("S-63", "T-63", "EV2", "2030-10-04", &quick)),
        (Kind::Attempt, attempt("A-61", "S-61", "T-61", "outcome: not reached | cause: 17")),
        (Kind::Attempt, attempt("A-62", "S-62", "T-62", "minutes: 12 | outcome: done")),
        (Kind::Attempt, attempt("A-63", "S-63", "T-63", "minutes: 12 | outcome: done")),
    ] {
        made(&app.app, kind, &text).await;
    }
    let mut reader = app.app.db.reader().await.unwrap();
    let replay = app::day::replay(&mut reader).await.unwrap();
    let told: Vec<_> =
        replay.tasks.iter().map(|one| (one.task.as_str(), one.chance, one.reached)).collect();
    let [("T-61", slow, false), ("T-62", quick, true)] = told[..] else { panic!("{told:?}") };
    // By hand: 30 of egress, 6 of travel, 5 of setup, 5 of cleanup, 6 of travel and 28 of ingress are 80
    // of 1:53, which leaves 33 for work of mean 30 and deviation 20/6. Its logarithm has the variance
    // ln(1 + (3.333/30)²) = 0.01227 and the mean ln 30 − 0.00614 = 3.39506; ln 33 = 3.49651 lies 0.9159
    // deviations above that: 82.0 %.
    // Source: moments and quantiles of the lognormal law, common practice; Φ(0.916) = 0.820 from memory.
    assert!((slow - 0.820).abs() < 0.003, "{slow}");
    // 12 minutes fit 33 by far more than eight deviations.
    assert!(quick > 0.9999, "{quick}");

    let page = app.get("/history/reached").await.body;
    assert!(
        page.contains("2 set tasks of flown excursions: 1.8 were expected to be reached, 1 was."),
        "{page}"
    );
    assert!(page.contains("80 to 95 %") && page.contains("over 99 %"), "{page}");
    // The history draws the same: the bar of a band ends at the share that was reached, its mark stands
    // at the mean chance, 0.82 of 144.
    let page = app.get("/history").await.body;
    let (_, drawn) = page.split_once("id=\"reached\"").unwrap();
    let drawn = drawn.split("</section>").next().unwrap();
    assert!(drawn.contains("2 set tasks of flown excursions: 1.8 were expected"), "{drawn}");
    for (name, bar, counts) in
        [("80 to 95 %", "M0 4h0v7H0z", "0 of 1"), ("over 99 %", "M0 4h144v7H0z", "1 of 1")]
    {
        let (_, row) = drawn.split_once(name).unwrap_or_else(|| panic!("{name}: {drawn}"));
        let row = row.split("</tr>").next().unwrap();
        assert!(row.contains(bar) && row.contains(counts), "{name}: {row}");
        assert!(row.contains("few, says little"), "{name}: {row}");
    }
    assert!(
        ["M118", "M119"].iter().any(|mark| drawn.contains(&format!("d=\"{mark} 0v14\""))),
        "{drawn}"
    );
    for from in ["/history", "/excursions/E-37.1", "/excursions/E-37.1/late-card"] {
        let page = app.get(from).await.body;
        assert!(page.contains("href=\"/history/reached\""), "{from} leads there: {page}");
    }
}
