//! Half of the excursions flown: what became of each task, and the papers that say so.

use std::fmt::Write as _;

use app::Actor;
use app::work::Work;
use domain::kinds::Kind;
use domain::words::Role;

use super::made_up::{MadeUp, Planned};
use super::{Kept, Says};
use crate::small_record::made;
use crate::support::TestApp;

/// What became of a task on its excursion, and the words that its results say.
#[derive(Default)]
pub struct Became {
    /// In words, where anybody worked on it.
    pub words: Vec<String>,
    pub as_left: Vec<String>,
    pub begun: Vec<String>,
    pub forbids: Vec<String>,
    pub deferred: Vec<String>,
    pub left_outside: Vec<String>,
    pub tools: Vec<String>,
    pub waived: Vec<String>,
    /// Tasks that the debrief asks about: all but those that were put off.
    pub asked: Vec<String>,
    /// Tasks that were not begun and left.
    pub others: Vec<String>,
}

/// Flies an excursion: done, part done with something forbidden and something left outside, not
/// completed, not reached, put off, and one that nobody has asked about yet, by turns.
pub async fn fly(app: &TestApp, here: &MadeUp) -> Became {
    let actor = Actor { name: "keeper".into(), role: Role::Lead };
    let mut work = Work::begin(&app.app, &actor, None).await.unwrap();
    app::excursions::mark_flown(&mut work, &here.excursion).await.unwrap();
    work.finish("").await.unwrap();
    let mut became = Became::default();
    for (at, planned) in here.tasks.iter().enumerate() {
        let number = planned.number;
        let common = format!(
            "task: {} | excursion: {} | slot: S-{}",
            planned.task(),
            here.excursion,
            3_000 + number
        );
        let pet = |minutes: usize| format!("{}:{:02}", minutes / 60, minutes % 60);
        let (begin, end) = (pet(45 + 30 * at), pet(57 + 30 * at));
        let turn = if here.tasks.len() == 6 { at } else { usize::try_from(number).unwrap() % 6 };
        // A waiver holds for its slot alone, so one that is put off takes its waiver along.
        if turn != 4 {
            became.waived.extend(planned.waiver.clone());
            became.asked.push(planned.task());
        }
        if !(1..=2).contains(&turn) {
            became.others.push(planned.task());
        }
        let outcome = ["done", "part done | left_after: 40", "not completed | left_after: 100"];
        match turn {
            0..=2 => {
                let mut text = format!(
                    "code: A-{number}z | {common} | seats: {} | technique: {} | side: nadir \
                     | pet_start: {begin} | pet_end: {end} | minutes: 12 | recorded_by: keeper \
                     | words: flown{number}x of its own | as_left: after{number}x of its own \
                     | outcome: {}",
                    planned.seat, planned.technique, outcome[turn]
                );
                became.words.push(format!("flown{number}x"));
                became.as_left.push(format!("after{number}x"));
                if turn > 0 {
                    became.begun.push(format!("after{number}x"));
                }
                if turn == 2 {
                    text.push_str(" | cause: 3");
                }
                if turn == 1 {
                    let forbids = format!("forbids: barred{number}x of its own");
                    write!(text, " | {forbids} | safe_until: 2044-05-01").unwrap();
                    became.forbids.push(format!("barred{number}x"));
                }
                made(&app.app, Kind::Attempt, &text).await;
                if turn == 1 {
                    let item = format!(
                        "code: O-{number} | what: item{number}x of its own | worksite: W-B \
                         | left_by: A-{number}z | state: in place | limit_until: 2044-05-01"
                    );
                    made(&app.app, Kind::OutsideItem, &item).await;
                    became.left_outside.push(format!("item{number}x"));
                    let tool = format!("L-{}", 6_000 + number);
                    let text = format!("code: {tool} | name: key | on_board: 4 | state: usable");
                    made(&app.app, Kind::Tool, &text).await;
                    let counted = format!(
                        "excursion: {} | tool: {tool} | taken_out: 2 | brought_in: 1 | lost: 1",
                        here.excursion
                    );
                    made(&app.app, Kind::ExcursionTool, &counted).await;
                    became.tools.push(tool);
                }
            }
            3 => {
                let text = format!("code: A-{number}z | {common} | outcome: not reached");
                made(&app.app, Kind::Attempt, &text).await;
            }
            4 => {
                let text = format!(
                    "{common} | phase: during | reason: priority | words: putoff{number}x of its own \
                     | decided_by: lead"
                );
                made(&app.app, Kind::Deferral, &text).await;
                became.deferred.push(format!("putoff{number}x"));
            }
            _ => {}
        }
    }
    became
}

/// The papers of a flown excursion: question list, report, message.
pub async fn after(app: &TestApp, here: &MadeUp, became: &Became, kept: &mut Kept) {
    let at = |paper: &str| format!("/excursions/{}/{paper}", here.excursion);
    let tasks: Vec<String> = here.tasks.iter().map(Planned::task).collect();
    let results = [became.words.clone(), became.as_left.clone()].concat();
    kept.paper(
        app,
        &at("report"),
        Some(2),
        &[
            Says::of("Results", "What changed, and why", results),
            Says::of("What changed, and why", "Tools", became.deferred.clone()),
            Says::of("Tools", "What the vehicle may not do", became.tools.clone()),
            Says::of("What the vehicle may not do", "", became.forbids.clone()),
        ],
    )
    .await;
    kept.paper(
        app,
        &at("message"),
        Some(2),
        &[
            Says::of("Done", "What the vehicle may not do", tasks),
            Says::of("Done", "What the vehicle may not do", became.as_left.clone()),
            Says::of("What the vehicle may not do", "Left outside", became.forbids.clone()),
            Says::of("Left outside", "Tools unaccounted for", became.left_outside.clone()),
            Says::of("Tools unaccounted for", "", became.tools.clone()),
        ],
    )
    .await;
    // Where every task was put off, there is nothing to ask about.
    if became.asked.is_empty() {
        return;
    }
    kept.paper(
        app,
        &at("questions"),
        None,
        &[
            Says::of("As left, and what it forbids", "Seat, task", became.asked.clone()),
            Says::of("As left, and what it forbids", "Seat, task", became.as_left.clone()),
            Says::of("As left, and what it forbids", "Seat, task", became.forbids.clone()),
            Says::of(
                "Seat, task",
                "Tools to count",
                [became.asked.clone(), became.words.clone()].concat(),
            ),
            Says::of("Tools to count", "Outside items to confirm", became.tools.clone()),
            Says::of(
                "Outside items to confirm",
                "Constraints that these tasks end",
                became.left_outside.clone(),
            ),
        ],
    )
    .await;
}
