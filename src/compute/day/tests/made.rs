//! Made-up excursions, as `tests/reference/day_model.py` writes them.

use crate::places::SiteAt;
use serde::Deserialize;
use typed_index_collections::TiVec;

use super::super::{Day, Ended, Minutes, Outlook, Progress, Task, Then, Ways};
use crate::lighting::Stretch;
use crate::three_point::ThreePoint;
use crate::timeline::{Frame, Lanes, Light, SiteMinutes, Stop, Variation, Windows};

/// One excursion; worksite 0 is the airlock.
#[derive(Debug, Deserialize)]
pub struct Given {
    lanes: usize,
    pub travel: Vec<Vec<f64>>,
    pub sites: Vec<(f64, f64)>,
    egress: f64,
    ingress: f64,
    log_sd: LogSd,
    pub stops: Vec<GivenTask>,
    needs: Vec<(usize, usize)>,
    waits: Vec<(usize, usize)>,
    nights: Vec<(f64, f64)>,
    pub egress_ended: Option<f64>,
    days: Vec<(f64, f64)>,
    arm: Vec<(f64, f64)>,
    pub limit: f64,
    /// Of a state of a day.
    #[serde(default)]
    pub now: f64,
    #[serde(default)]
    pub progress: Vec<GivenProgress>,
}

#[derive(Debug, Deserialize)]
struct LogSd {
    crew_day: f64,
    egress: f64,
    ingress: f64,
    travel: f64,
    site: f64,
}

#[derive(Debug, Deserialize)]
pub struct GivenTask {
    pub site: usize,
    lanes: Vec<usize>,
    work: [f64; 3],
    must: bool,
    value: f64,
    light: String,
    arm: bool,
    pauses: bool,
    until: Option<f64>,
    short: Option<f64>,
    then: Option<GivenThen>,
}

/// A fallback: given up after the trigger's minutes with that chance.
#[derive(Debug, Deserialize)]
struct GivenThen {
    trigger: f64,
    chance: f64,
    work: [f64; 3],
}

/// A word, and the minutes that belong to it.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
pub enum GivenProgress {
    Planned([String; 1]),
    Running((String, f64)),
    Ended((String, f64, f64, String)),
}

/// What `Day` borrows.
pub struct Made {
    pub tasks: Vec<Task>,
    sites: TiVec<SiteAt, SiteMinutes>,
    windows: Windows,
    ways: Matrix,
}

pub struct Matrix(Vec<Vec<f64>>);

impl Ways for Matrix {
    fn travel(
        &self,
        from: SiteAt,
        to: SiteAt,
        _: f64,
        slow: f64,
        _: &[(f64, usize)],
    ) -> Option<f64> {
        Some(self.0[usize::from(from)][usize::from(to)] * slow)
    }
}

impl GivenProgress {
    fn of(&self) -> Progress {
        match self {
            Self::Planned([word]) if word == "dropped" => Progress::Dropped,
            Self::Planned([word]) => {
                assert_eq!(word, "planned");
                Progress::Planned
            }
            Self::Running((_, since)) => Progress::Running { since: *since },
            Self::Ended((_, start, end, how)) => {
                let outcome = match how.as_str() {
                    "done" => Ended::Done,
                    "part" => Ended::AtStoppingPoint,
                    "not" => Ended::NotCompleted,
                    other => panic!("no such end: {other}"),
                };
                Progress::Ended { start: *start, end: *end, outcome }
            }
        }
    }
}

impl Given {
    pub fn made(&self, progress: &[GivenProgress]) -> Made {
        let stretch = |&(from, until): &(f64, f64)| Stretch { from, until };
        let tasks = self.stops.iter().enumerate().map(|(at, stop)| {
            let spread = |[a, m, b]: [f64; 3]| ThreePoint::new(a, m, b).unwrap().part(1.0);
            let work = spread(stop.work);
            let then = stop.then.iter().map(|then| Then {
                trigger: then.trigger,
                chance: then.chance,
                work: spread(then.work),
            });
            let then: Vec<Then> = then.collect();
            let lanes = stop.lanes.iter().fold(Lanes::default(), |lanes, lane| lanes.and(*lane));
            Task {
                stop: Stop {
                    arm: stop.arm,
                    light: match stop.light.as_str() {
                        "day" => Light::Day,
                        "night" => Light::Night,
                        _ => Light::Any,
                    },
                    pauses: stop.pauses,
                    until: stop.until.unwrap_or(f64::INFINITY),
                    ..Stop::plain(stop.site.into(), lanes, work)
                },
                minutes: Minutes::with_fallbacks(work, &then),
                must_do: stop.must,
                value: stop.value,
                stopping_share: stop.short,
                brings_in: false,
                progress: progress.get(at).map_or(Progress::Planned, GivenProgress::of),
            }
        });
        Made {
            tasks: tasks.collect(),
            sites: self
                .sites
                .iter()
                .map(|&(setup, cleanup)| SiteMinutes { setup, cleanup })
                .collect(),
            windows: Windows {
                arm: self.arm.iter().map(stretch).collect(),
                days: self.days.iter().map(stretch).collect(),
                nights: self.nights.iter().map(stretch).collect(),
            },
            ways: Matrix(self.travel.clone()),
        }
    }

    pub fn day<'a>(
        &'a self,
        made: &'a Made,
        now: f64,
        egress_ended: Option<f64>,
    ) -> Day<'a, Matrix> {
        Day {
            frame: Frame {
                lanes: self.lanes,
                airlock: SiteAt(0),
                egress: self.egress,
                ingress: self.ingress,
                together: true,
                limit: self.limit,
                sites: &made.sites,
                windows: &made.windows,
            },
            variation: Variation {
                crew_day: self.log_sd.crew_day,
                egress: self.log_sd.egress,
                ingress: self.log_sd.ingress,
                travel: self.log_sd.travel,
                site: self.log_sd.site,
            },
            tasks: &made.tasks,
            needs: &self.needs,
            waits: &self.waits,
            ways: &made.ways,
            now,
            egress_ended,
            learns: true,
        }
    }
}

/// Everything of an excursion that the reference file has an answer for.
pub fn outlook<'a>(
    given: &'a Given,
    made: &'a Made,
    (now, egress_ended): (f64, Option<f64>),
) -> Outlook<'a, Matrix> {
    Outlook::of(given.day(made, now, egress_ended))
}

#[derive(Deserialize)]
struct File<C> {
    cases: Vec<C>,
}

pub fn cases<C: serde::de::DeserializeOwned>(text: &str) -> Vec<C> {
    serde_json::from_str::<File<C>>(text).unwrap().cases
}

/// The middle, nine in ten, and the most of some differences.
pub fn spread(mut apart: Vec<f64>) -> String {
    apart.sort_by(f64::total_cmp);
    let at = |part: usize| apart[(apart.len() * part / 10).min(apart.len() - 1)];
    let most = apart.last().copied().unwrap_or_default();
    format!("median {:.3}, P90 {:.3}, most {most:.3} of {}", at(5), at(9), apart.len())
}
