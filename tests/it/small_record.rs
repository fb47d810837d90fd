//! A record small enough to be read whole: one airlock, one worksite, one family, one technique,
//! one coming flight with two excursions, three tasks.

use app::four_eyes::judging;
use app::records::Base;
use app::work::Work;
use app::{Actor, App, kinds};
use domain::cells::Cells;
use domain::kinds::Kind;
use domain::roles::keeper;
use domain::words::{Role, TaskState};
use store::standing;

use crate::support::NOW;

/// `code: T-1 | title: Swap it` as cells.
pub fn cells(text: &str) -> Cells {
    text.split(" | ")
        .filter_map(|part| part.split_once(": "))
        .map(|(name, text)| (name.trim().to_owned(), text.to_owned()))
        .collect()
}

/// Makes a record as its own operation would. What says that a second person judged it comes as
/// an administrator's history.
pub async fn made(app: &App, kind: Kind, text: &str) -> String {
    let mut cells = completed(kind, text);
    let is_history = judged_before(kind, &mut cells);
    let role = if is_history || kind == Kind::Cause { Role::Administrator } else { keeper(kind) };
    let actor = Actor { name: "keeper".into(), role };
    let mut work = Work::begin(app, &actor, None).await.unwrap();
    // A technique that a table of history says was cleared.
    let was_cleared = kind == Kind::Technique && cells.get("state") == "cleared";
    work.is_history = is_history || was_cleared;
    // A kind of cause that every record begins with is edited.
    let there = kind == Kind::Cause
        && kinds::find(work.db(), kind, cells.get("code")).await.unwrap().is_some();
    let base = if there { Base::Current } else { Base::New };
    let done = kinds::save_whole(&mut work, kind, &cells, base).await;
    let done = done.unwrap_or_else(|wrong| panic!("{text}: {wrong} {wrong:?}"));
    work.finish("").await.unwrap();
    done.code
}

/// Tasks are as old as the record, and unlikely minutes are confirmed, unless a test says otherwise.
fn completed(kind: Kind, text: &str) -> Cells {
    let mut cells = cells(text);
    let default = match kind {
        Kind::Task => ("opened", "2028-01-01"),
        Kind::Attempt => ("confirmed", "yes"),
        _ => return cells,
    };
    if !cells.has(default.0) {
        cells.set(default.0, default.1);
    }
    cells
}

/// Whether the cells say that somebody judged the record; what such a row needs is filled in.
fn judged_before(kind: Kind, cells: &mut Cells) -> bool {
    let Some(judging) = judging(kind) else { return false };
    let is_verified = kind != Kind::Remedy || cells.get("state") == "verified";
    if cells.get(judging.by).is_empty() || !is_verified {
        return false;
    }
    let day = cells.get(judging.on);
    let day = if day.is_empty() { NOW[..10].to_owned() } else { day.to_owned() };
    let evidence = ("evidence", "seen in the stand");
    let mut needed = match kind {
        Kind::Remedy => vec![("opened_on", &*day), ("done_on", &*day), evidence],
        Kind::Revision => vec![("made_on", &*day), evidence],
        _ => vec![("written_on", &*day)],
    };
    needed.push((judging.on, &*day));
    for (column, text) in needed {
        if cells.get(column).is_empty() {
            cells.set(column, text);
        }
    }
    true
}

/// Lays the small record out, its figures accepted by the team. Slots `S-1` (T-1) and `S-2` (T-2)
/// are set on E-37.1.
pub async fn lay(app: &App) {
    let figures =
        "code: TEAM | tight_from: 50 | met_from: 80 | supply_reserve: 30 | why: flight rules, 2030";
    made(app, Kind::Settings, figures).await;
    for (kind, text) in [
        (Kind::Cause, "code: 3 | words: reach too tight | cause_group: access | scope: approach"),
        (
            Kind::Cause,
            "code: 17 | words: time ran out | cause_group: outside | scope: outside \
             | time_ran_out: yes",
        ),
        (Kind::Worksite, "code: W-A | name: airlock | setup: 0 | cleanup: 0"),
        (Kind::Worksite, "code: W-B | name: bay | setup: 5 | cleanup: 5"),
        (Kind::Route, "from_site: W-A | to_site: W-B | minutes: 6"),
        (Kind::Family, "code: F-1 | name: cassette"),
        (Kind::Tool, "code: L-1 | name: pry bar | on_board: 3 | state: usable"),
        (
            Kind::Technique,
            "code: K-1 | name: straight pull | family: F-1 | state: cleared | sides: nadir, zenith \
             | optimistic: 20 | likely: 30 | pessimistic: 45 | seats: 1",
        ),
        (Kind::Rehearsal, "technique: K-1 | kind: tank | day: 2031-01-10 | success: yes"),
        (Kind::Qualification, "crew: C-1 | technique: K-1 | day: 2031-01-10 | place: tank"),
        (Kind::Qualification, "crew: C-2 | technique: K-1 | day: 2031-01-10 | place: tank"),
        (
            Kind::SuitRates,
            "light: 170 | moderate: 235 | heavy: 345 | overhead: 225 | quotient: 0.85 | leakage: 8 \
             | external_work: 0 | electrics: 69 | environment: 0 | water_heat: 2.45 | source: logs",
        ),
        (Kind::Flight, "code: G-37 | launch: 2031-03-10 | state: coming"),
        (Kind::Excursion, &excursion("E-37.1", 1)),
        (Kind::Excursion, &excursion("E-37.2", 2)),
        (Kind::Task, &task("T-1")),
        (Kind::Task, &task("T-2")),
        (Kind::Task, &task("T-3")),
        (Kind::Slot, &slot("S-1", "T-1", "EV1")),
        (Kind::Slot, &slot("S-2", "T-2", "EV2")),
    ] {
        made(app, kind, text).await;
    }
}

fn excursion(code: &str, number: u8) -> String {
    format!(
        "code: {code} | flight: G-37 | number: {number} | day: 2031-03-1{number} | state: planned \
         | planned: 6:30 | limit: 7:00 | egress: 30 | ingress: 28 | seats: EV1 C-1, EV2 C-2 \
         | airlock: W-A | deferrable: yes | oxygen: 0.9 | scrubber: 0.9 | water: 6 | battery: 9:00"
    )
}

pub fn task(code: &str) -> String {
    format!(
        "code: {code} | title: Swap cassette {code} | family: F-1 | worksite: W-B \
         | sides: nadir, zenith | class: 3 | optimistic: 20 | likely: 30 | pessimistic: 45 \
         | seats: 1 | work_rate: moderate | lighting: any | opened: 2028-01-01"
    )
}

pub fn slot(code: &str, task: &str, seat: &str) -> String {
    format!(
        "code: {code} | task: {task} | excursion: E-37.1 | technique: K-1 | side: nadir \
         | seats: {seat} | state: set"
    )
}

/// The hour of the tests on the day on which E-37.1 is planned.
pub const FLOWN: &str = "2031-03-11T14:20:00Z";

/// How a task stands, its carry count and whether it is in the backlog.
pub async fn standing_of(app: &App, task: &str) -> (TaskState, i64, bool) {
    let mut db = app.db.reader().await.unwrap();
    let row = standing::find(&mut db, &task.into()).await.unwrap().unwrap();
    (row.state, row.carry_count, row.is_open)
}
