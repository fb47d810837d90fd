//! The verdicts of the demo's matrix tell cells apart: most fit or say why not, and a cell is
//! tight only for what can fail on the day.

use std::collections::BTreeMap;

use app::{demo, matrix};
use domain::cells::Cell as _;
use domain::time::Moment;
use domain::words::{GateName, GateVerdict, SlotVerdict};
use sqlx::SqlitePool;

use crate::support::{NOW, TestApp};

/// Every cell of the demo's matrix.
async fn cells(app: &TestApp) -> Vec<compute::fit::Cell> {
    let mut db = app.app.reader().await.unwrap();
    let mut cells = Vec::new();
    for page in 1.. {
        let asked = matrix::MatrixQuery { page, ..matrix::MatrixQuery::default() };
        let sheet = matrix::page(&mut db, &asked).await.unwrap();
        if sheet.rows.is_empty() {
            break;
        }
        cells.extend(sheet.rows.iter().flat_map(|row| &row.cells).map(|seen| seen.cell));
    }
    cells
}

/// Cells by verdict and by the check that decides; printed with `--nocapture`.
#[sqlx::test]
async fn most_cells_fit_or_say_why_not_and_tight_is_for_what_can_fail_on_the_day(db: SqlitePool) {
    let app = TestApp::new(db).await;
    demo::fill(&app.app, Moment::read(NOW).unwrap().day()).await.unwrap();

    let all = cells(&app).await;

    let mut counts: BTreeMap<(SlotVerdict, Option<GateName>), usize> = BTreeMap::new();
    for cell in &all {
        *counts.entry((cell.verdict, cell.deciding().map(|(gate, _)| gate))).or_default() += 1;
    }
    for ((verdict, gate), count) in &counts {
        println!("{count:4} {verdict}: {}", gate.map_or("all met", GateName::word));
    }
    let of = |wanted: SlotVerdict| {
        counts.iter().filter(|((verdict, _), _)| *verdict == wanted).map(|(_, n)| n).sum::<usize>()
    };
    let noted =
        |cell: &&compute::fit::Cell| cell.gates().any(|(_, verdict)| verdict == GateVerdict::Note);
    println!("{} cells, {} with a note", all.len(), all.iter().filter(noted).count());
    assert!(all.len() > 250, "{}", all.len());
    let (fits, tight) = (of(SlotVerdict::Fits), of(SlotVerdict::Tight));
    assert!(fits > tight && tight * 3 < all.len(), "{fits} fit, {tight} are tight");
    for (verdict, gate) in counts.keys() {
        let gate = gate.as_ref();
        let notes = gate.is_some_and(|gate| matches!(gate, GateName::Tools));
        assert!(!(*verdict == SlotVerdict::Tight && notes), "tight because of {gate:?}");
        assert_eq!(gate.is_none(), *verdict == SlotVerdict::Fits);
    }
}
