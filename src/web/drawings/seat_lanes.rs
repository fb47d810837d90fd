//! One coming excursion as a lane a seat, from egress to its limit: pointed at both ends what is set,
//! open at the end what is pencilled, dots where a seat waits, hatched after the end at P80 what is free.

use std::fmt::Write as _;

use super::columns::number;
use super::markup::{Drawing, linked, open_group, path, place, short, text};

/// What is drawn, in minutes from egress.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct SeatLanes {
    pub excursion: String,
    /// `EV1`, in the order of the lanes.
    pub seats: Vec<String>,
    pub works: Vec<Work>,
    /// Egress and ingress, travel with setup and cleanup, waiting: lane, from, until.
    pub overheads: Vec<(usize, f64, f64)>,
    pub travels: Vec<(usize, f64, f64)>,
    pub waits: Vec<(usize, f64, f64)>,
    /// The end at P80 with everything that stands here, and with the set tasks alone.
    pub end: Option<f64>,
    pub end_set: Option<f64>,
    pub limit: Option<f64>,
    /// `2:15 free`.
    pub free: String,
    /// The drawing in words.
    pub words: String,
}

/// A task on one lane.
#[derive(Debug, Clone, PartialEq)]
pub struct Work {
    pub lane: usize,
    pub from: f64,
    pub until: f64,
    pub task: String,
    pub address: String,
    /// `30 %` of its task; empty where all that is left is planned.
    pub share: String,
    pub is_pencilled: bool,
    pub need: Option<Need>,
}

/// A task that a flight needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    InTime,
    Late,
}

const LEFT: f64 = 30.0;
const WIDE: f64 = 588.0;
const LANE: f64 = 23.0;
const TOP: f64 = 5.0;
const BLOCK: f64 = 19.0;
const POINT: f64 = 6.0;
/// The width of a letter of a code, and what a mark behind a block takes.
const LETTER: f64 = 6.7;
const MARK: f64 = 12.0;

/// The measure that all drawings of a page share.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scale {
    longest: f64,
}

impl Scale {
    pub fn of<'l>(all: impl Iterator<Item = &'l SeatLanes>) -> Self {
        let longest = all.flat_map(|one| [one.limit, one.end]).flatten();
        Self { longest: longest.fold(60.0, f64::max) }
    }

    fn x(self, minutes: f64) -> f64 {
        LEFT + WIDE * minutes.max(0.0) / self.longest
    }

    fn hours(self) -> impl Iterator<Item = f64> {
        (0..=99_u16).map(|hour| f64::from(hour) * 60.0).take_while(move |at| *at <= self.longest)
    }

    /// The head of the column: the hours.
    pub fn head(self) -> Drawing {
        let mut out =
            String::from("<svg class=\"seat-bar\" viewBox=\"0 0 640 16\" aria-hidden=\"true\">");
        let apart = WIDE * 60.0 / self.longest;
        let every = (1..=24).find(|every| apart * number(*every) >= 36.0).unwrap_or(24);
        for (hour, at) in self.hours().enumerate().step_by(every) {
            text(&mut out, "t11 t2 mid", self.x(at), 12.0, &format!("{hour}:00"));
        }
        out.push_str("</svg>");
        Drawing::new(out)
    }

    /// The drawing, and the tasks whose blocks have no room for their code.
    pub fn draw(self, lanes: &SeatLanes, id: &str) -> (Drawing, Vec<String>) {
        let high = TOP + LANE * number(lanes.seats.len().max(1)) + 1.0;
        let view_box = format!("0 0 640 {}", short(high));
        let title = format!("{} by seat", lanes.excursion);
        let mut out = open_group("seat-bar", &view_box, id, &title, &lanes.words);
        let bottom = high - 3.0;
        if let Some(limit) = lanes.limit {
            let (from, to, foot) = (short(LEFT), short(self.x(limit)), short(bottom));
            path(&mut out, "future", &format!("M{from} 3H{to}V{foot}H{from}z"));
        }
        self.ground(&mut out, lanes, bottom);
        for (lane, seat) in lanes.seats.iter().enumerate() {
            text(&mut out, "t11 t2", 0.0, middle(lane) + 3.5, seat);
        }
        let line = |all: &[(usize, f64, f64)]| {
            all.iter().fold(String::new(), |mut d, (lane, from, until)| {
                let (y, from, until) = (short(middle(*lane)), self.x(*from), self.x(*until));
                let _ = write!(d, "M{} {y}H{}", short(from), short(until));
                d
            })
        };
        path(&mut out, "go", &line(&lanes.travels));
        path(&mut out, "wait", &line(&lanes.waits));
        let boxes = lanes.overheads.iter().fold(String::new(), |mut d, (lane, from, until)| {
            let (top, from, until) = (TOP + LANE * number(*lane), self.x(*from), self.x(*until));
            let (from, until) = (short(from), short(until));
            let _ = write!(d, "M{from} {}H{until}V{}H{from}z", short(top), short(top + BLOCK));
            d
        });
        path(&mut out, "over", &boxes);
        if !boxes.is_empty() {
            let _ = write!(out, "<path class=\"bar-hatch\" fill=\"url(#hatch)\" d=\"{boxes}\"/>");
        }
        let mut unnamed = Vec::new();
        for work in &lanes.works {
            let next = lanes.works.iter().filter(|other| other.lane == work.lane);
            let next = next.map(|other| other.from).filter(|from| *from >= work.until);
            let is_named = self.work(&mut out, work, next.fold(f64::INFINITY, f64::min));
            if !is_named && !unnamed.contains(&work.task) {
                unnamed.push(work.task.clone());
            }
        }
        self.ends(&mut out, lanes, bottom);
        out.push_str("</svg>");
        (Drawing::new(out), unnamed)
    }

    /// The hours.
    fn ground(self, out: &mut String, lanes: &SeatLanes, bottom: f64) {
        let limit = lanes.limit.unwrap_or(self.longest);
        let hours =
            self.hours().skip(1).filter(|at| *at < limit).fold(String::new(), |mut d, at| {
                let _ = write!(d, "M{} 3V{}", short(self.x(at)), short(bottom));
                d
            });
        path(out, "hour", &hours);
    }

    /// One block with its code where it has room for it; whether it has.
    fn work(self, out: &mut String, work: &Work, next: f64) -> bool {
        let (from, to) = (self.x(work.from), self.x(work.until));
        let top = TOP + LANE * number(work.lane);
        let (y, foot) = (short(middle(work.lane)), short(top + BLOCK));
        let point = POINT.min((to - from) / 2.0);
        let inner = (short(from + point), short(to - point));
        let (class, d) = if work.is_pencilled {
            let d = format!(
                "M{0} {1}H{2}L{3} {y}L{2} {foot}H{0}",
                short(to - 2.0),
                short(top),
                inner.0,
                short(from)
            );
            ("pencil", d)
        } else {
            let d = format!(
                "M{} {}H{}L{} {y}L{} {foot}H{}L{} {y}z",
                inner.0,
                short(top),
                inner.1,
                short(to),
                inner.1,
                inner.0,
                short(from)
            );
            ("work", d)
        };
        let code = match work.share.as_str() {
            "" => work.task.clone(),
            share => format!("{} {share}", work.task),
        };
        let room = to - from - 2.0 * point + 2.0;
        let bare = work.task.rsplit('-').next().unwrap_or(&work.task);
        let label = [code.as_str(), work.task.as_str(), bare]
            .into_iter()
            .find(|label| LETTER * number(label.chars().count()) <= room);
        let state = if work.is_pencilled { "pencilled" } else { "set" };
        linked(out, &work.address, &format!("{code}, {state}"), |out| {
            path(out, class, &d);
            if let Some(label) = label {
                let at = f64::midpoint(from, to);
                text(out, "tc t11 mid", at, middle(work.lane) + 3.5, label);
            }
        });
        if let Some(need) = work.need.filter(|_| next.is_infinite() || self.x(next) - to >= MARK) {
            let mark = if need == Need::Late { "k-late" } else { "k-need" };
            place(
                out,
                mark,
                to + if need == Need::Late { 8.0 } else { 6.0 },
                middle(work.lane),
                1.0,
            );
        }
        label.is_some()
    }

    fn ends(self, out: &mut String, lanes: &SeatLanes, bottom: f64) {
        let foot = bottom + 2.0;
        if let (Some(end), Some(limit)) = (lanes.end, lanes.limit) {
            let (from, to) = (self.x(end), self.x(limit));
            if from < to {
                let d =
                    format!("M{0} {TOP}H{1}V{2}H{0}z", short(from), short(to), short(bottom - 2.0));
                path(out, "open-area", &d);
                let _ = write!(out, "<path class=\"bar-hatch\" fill=\"url(#free)\" d=\"{d}\"/>");
            }
            let label = LETTER * number(lanes.free.chars().count()) + 10.0;
            if !lanes.free.is_empty() && to - from > label {
                let (at, y) = (f64::midpoint(from, to), f64::midpoint(TOP, bottom - 2.0));
                let (a, b) = (short(at - label / 2.0), short(at + label / 2.0));
                let (top, low) = (short(y - 9.0), short(y + 9.0));
                path(out, "free-label", &format!("M{a} {top}H{b}V{low}H{a}z"));
                // On a phone the words are drawn larger and need more room.
                let class =
                    if to - from > 2.0 * label { "mid tb free-t" } else { "mid tb free-t small" };
                text(out, class, at, y + 4.0, &lanes.free);
            }
        }
        if let Some(end) = lanes.end {
            path(out, "p80", &format!("M{} 1V{}", short(self.x(end)), short(foot)));
        }
        if let Some(set) = lanes.end_set.filter(|set| lanes.end.is_some_and(|end| set + 0.5 < end))
        {
            let (x, limit) = (self.x(set), self.x(lanes.limit.unwrap_or(set)));
            path(
                out,
                "p80s",
                &format!("M{0} 0V4M{0} {1}V{2}", short(x), short(bottom - 1.0), short(foot)),
            );
            path(out, "p80d", &format!("M{} 2H{}", short(x), short(limit)));
        }
        if let Some(limit) = lanes.limit {
            path(out, "limit", &format!("M{} 0V{}", short(self.x(limit)), short(foot)));
        }
    }
}

fn middle(lane: usize) -> f64 {
    TOP + LANE * number(lane) + BLOCK / 2.0
}

#[cfg(test)]
mod tests {
    use super::super::seen::Seen;
    use super::*;

    fn work(lane: usize, task: &str, from: f64, until: f64) -> Work {
        Work {
            lane,
            from,
            until,
            task: task.to_owned(),
            address: format!("/tasks/{task}"),
            share: String::new(),
            is_pencilled: false,
            need: None,
        }
    }

    fn two_seats() -> SeatLanes {
        SeatLanes {
            excursion: "E-37.1".to_owned(),
            seats: vec!["EV1".to_owned(), "EV2".to_owned()],
            works: vec![
                Work { need: Some(Need::InTime), ..work(0, "T-0153", 50.0, 92.0) },
                Work { is_pencilled: true, ..work(1, "T-0146", 150.0, 220.0) },
            ],
            overheads: vec![(0, 0.0, 25.0), (1, 0.0, 25.0)],
            travels: vec![(0, 25.0, 50.0)],
            waits: vec![(0, 92.0, 200.0)],
            end: Some(285.0),
            end_set: Some(241.0),
            limit: Some(420.0),
            free: "2:15 free".to_owned(),
            words: "Words.".to_owned(),
        }
    }

    #[test]
    fn a_lane_is_as_long_as_its_minutes() {
        // By hand: 420 minutes take 588 units from 30 on, so a minute takes 1.4.
        let lanes = two_seats();
        let (drawn, unnamed) = Scale::of([&lanes].into_iter()).draw(&lanes, "by-seat");
        for part in ["M65 14.5H100", "M106 5H152.8L158.8 14.5", "M429 1V", "M618 0V"] {
            assert!(drawn.as_str().contains(part), "{part}: {}", drawn.as_str());
        }
        assert!(unnamed.is_empty() && drawn.as_str().contains(">2:15 free<"));
        assert_eq!(Seen::of(drawn.as_str()).unreadable(), Vec::<String>::new());
        assert!(drawn.as_str().contains("aria-label=\"T-0146, pencilled\""));
    }

    #[test]
    fn a_block_without_room_keeps_its_link_and_says_that_its_code_is_left_out() {
        let mut lanes = two_seats();
        lanes.works[0].until = 52.0;
        let (drawn, unnamed) = Scale::of([&lanes].into_iter()).draw(&lanes, "by-seat");
        assert_eq!(unnamed, ["T-0153"]);
        assert!(drawn.as_str().contains("aria-label=\"T-0153, set\""));
        assert!(!drawn.as_str().contains(">T-0153<"));
    }

    #[test]
    fn what_runs_past_its_limit_leaves_nothing_free() {
        let mut lanes = two_seats();
        (lanes.end, lanes.end_set) = (Some(460.0), Some(430.0));
        let (drawn, _) = Scale::of([&lanes].into_iter()).draw(&lanes, "by-seat");
        assert!(!drawn.as_str().contains("open-area") && !drawn.as_str().contains("NaN"));
        let empty = SeatLanes { seats: vec!["EV1".to_owned()], ..SeatLanes::default() };
        let (drawn, _) = Scale::of([&empty].into_iter()).draw(&empty, "empty");
        assert!(!drawn.as_str().contains("class=\"limit\""));
    }
}
