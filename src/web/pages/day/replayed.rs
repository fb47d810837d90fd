//! Chances to be reached, held against what was reached on the flown excursions.

use askama::Template;
use axum::extract::State;

use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::visitor::Viewer;
use app::App;
use app::day::{self, Replay, Replayed};
use app::statistics::FEW;
use compute::fit::per_cent;

#[derive(Template)]
#[template(path = "day/replayed.html")]
pub(crate) struct ReplayPage {
    page: PageFrame,
    replayed: ReplayView,
    rows: Vec<(String, String, String, bool)>,
    left_out: Vec<String>,
}

/// The replay as a drawing with its counts.
pub(crate) struct ReplayView {
    pub lead: String,
    pub bands: Vec<Band>,
}

/// Tasks whose chances lie between two bounds.
pub(crate) struct Band {
    pub name: &'static str,
    pub count: i64,
    pub expected: String,
    pub reached: String,
    /// Of a drawing 144 wide.
    pub bar: i64,
    pub mark: i64,
}

impl Band {
    pub const fn says_little(&self) -> bool {
        self.count < FEW
    }
}

/// The bounds of the bands, in shares.
const BANDS: [(f64, f64, &str); 5] = [
    (0.0, 0.5, "under 50 %"),
    (0.5, 0.8, "50 to 80 %"),
    (0.8, 0.95, "80 to 95 %"),
    (0.95, 0.99, "95 to 99 %"),
    (0.99, 1.01, "over 99 %"),
];

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<ReplayPage>, PageError> {
    let mut db = app.reader().await?;
    let replay = day::replayed(&mut db).await?;
    let row = |task: &Replayed| {
        let (excursion, code) = (task.excursion.to_string(), task.task.to_string());
        (excursion, code, per_cent(task.chance), task.reached)
    };
    Ok(Page(ReplayPage {
        replayed: ReplayView::of(&replay),
        rows: replay.tasks.iter().map(row).collect(),
        left_out: replay.left_out.iter().map(ToString::to_string).collect(),
        page: viewer.frame("Chances and what was reached", Nav::History),
    }))
}

impl ReplayView {
    pub fn of(replay: &Replay) -> Self {
        let all = &replay.tasks;
        let bands = BANDS.iter().filter_map(|&(low, high, name)| band(all, low, high, name));
        let lead = if all.is_empty() {
            "No flown excursion says enough to be replayed: its slots need estimates, seats and \
             worksites."
                .to_owned()
        } else {
            let reached = all.iter().filter(|task| task.reached).count();
            format!(
                "{} set tasks of flown excursions: {:.1} were expected to be reached, {reached} {}.",
                all.len(),
                all.iter().map(|task| task.chance).sum::<f64>(),
                if reached == 1 { "was" } else { "were" }
            )
        };
        Self { lead, bands: bands.collect() }
    }
}

fn band(all: &[Replayed], low: f64, high: f64, name: &'static str) -> Option<Band> {
    let own: Vec<&Replayed> =
        all.iter().filter(|task| low <= task.chance && task.chance < high).collect();
    if own.is_empty() {
        return None;
    }
    let count = f64::from(u32::try_from(own.len()).unwrap_or(u32::MAX));
    let reached = own.iter().filter(|task| task.reached).count();
    let share = f64::from(u32::try_from(reached).unwrap_or(0)) / count;
    let expected = own.iter().map(|task| task.chance).sum::<f64>() / count;
    let wide = |share: f64| day::whole(share * 144.0).0;
    Some(Band {
        name,
        count: i64::try_from(own.len()).unwrap_or(i64::MAX),
        expected: per_cent(expected),
        reached: format!("{reached} of {}", own.len()),
        bar: wide(share),
        mark: wide(expected),
    })
}
