//! A made-up day of any size, for benchmarks and for tests of growth.

use crate::places::SiteAt;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use typed_index_collections::{TiVec, ti_vec};

use super::{Day, Ended, Minutes, Outlook, Progress, Task, Ways};
use crate::lighting::Stretch;
use crate::three_point::ThreePoint;
use crate::timeline::{Frame, Lanes, Light, SiteMinutes, Stop, Variation, Windows};

/// What a made-up day consists of.
#[derive(Debug)]
pub struct MadeUp {
    tasks: Vec<Task>,
    lanes: usize,
    sites: TiVec<SiteAt, SiteMinutes>,
    windows: Windows,
    ways: Line,
}

/// Worksites along one line, four minutes apart.
#[derive(Debug)]
pub struct Line;

impl Ways for Line {
    fn travel(
        &self,
        from: SiteAt,
        to: SiteAt,
        _: f64,
        slow: f64,
        _: &[(f64, usize)],
    ) -> Option<f64> {
        Some(f64::from(from.0.abs_diff(to.0)) * 4.0 * slow)
    }
}

/// So many tasks in so many seats: the first of each seat done, the second under way; two need two
/// seats, one the arm, one daylight; a third can be left at a stopping point. The plan is too long
/// for its limit, so that there is something to drop.
pub fn day(tasks: usize, lanes: usize, seed: u64) -> MadeUp {
    let mut random = ChaCha8Rng::seed_from_u64(seed);
    let task = |at: usize| {
        let likely = f64::from(random.random_range(25..70));
        let work = ThreePoint::new(likely * 0.7, likely, likely * 2.0)
            .map(|points| points.part(1.0))
            .unwrap_or_default();
        let own = Lanes::one(at % lanes);
        let both = at == tasks / 2 || at + 2 == tasks;
        let seats = if both && lanes > 1 { own.and((at + 1) % lanes) } else { own };
        let progress = match at / lanes {
            0 => Progress::Ended { start: 50.0, end: 50.0 + likely, outcome: Ended::Done },
            1 => Progress::Running { since: 140.0 },
            _ => Progress::Planned,
        };
        Task {
            stop: Stop {
                arm: at + 1 == tasks,
                light: if at + 4 == tasks { Light::Day } else { Light::Any },
                ..Stop::plain((1 + at % 6).into(), seats, work)
            },
            minutes: Minutes::of(work),
            must_do: at.is_multiple_of(5),
            value: [100.0, 55.0, 30.0, 16.0, 9.0][at % 5],
            stopping_share: at.is_multiple_of(3).then_some(0.6),
            brings_in: false,
            progress,
        }
    };
    let stretch = |at: u32| {
        let from = f64::from(at) * 92.0;
        Stretch { from, until: from + 57.0 }
    };
    MadeUp {
        tasks: (0..tasks).map(task).collect(),
        lanes,
        sites: ti_vec![SiteMinutes { setup: 4.0, cleanup: 3.0 }; 7],
        windows: Windows {
            arm: vec![Stretch { from: 60.0, until: 420.0 }],
            days: (0..12).map(stretch).collect(),
            nights: Vec::new(),
        },
        ways: Line,
    }
}

impl MadeUp {
    /// The day before egress.
    pub fn before(&self) -> Vec<Task> {
        let planned = |task: &Task| Task { progress: Progress::Planned, ..task.clone() };
        self.tasks.iter().map(planned).collect()
    }

    /// The day with those tasks at that minute.
    pub fn day<'a>(&'a self, tasks: &'a [Task], now: f64) -> Day<'a, Line> {
        Day {
            frame: Frame {
                lanes: self.lanes,
                airlock: SiteAt(0),
                egress: 30.0,
                ingress: 20.0,
                together: true,
                limit: 390.0,
                sites: &self.sites,
                windows: &self.windows,
            },
            variation: Variation {
                crew_day: 0.12,
                egress: 0.15,
                ingress: 0.15,
                travel: 0.2,
                site: 0.2,
            },
            tasks,
            needs: &[],
            waits: &[],
            ways: &self.ways,
            now,
            egress_ended: None,
            learns: true,
        }
    }

    /// Everything that follows from where the crew stands at that minute.
    pub fn outlook(&self, now: f64) -> Outlook<'_, Line> {
        Outlook::of(self.day(&self.tasks, now))
    }
}
