//! The lanes of the day: what happened above the rule of now, the rest re-timed below it.

use std::fmt::Write as _;

use crate::drawings::markup::{Drawing, escaped, finished, path, short, text};
use app::day::{Answers, Day, whole};
use domain::day::Progress;

const TOP: f64 = 32.0;
/// Pixels a minute.
const SCALE: f64 = 2.0;
const LEFT: f64 = 60.0;
/// Where the numbers of PET end.
const NUMBERS: f64 = 38.0;
const WIDE: f64 = 116.0;
const STEP: f64 = 128.0;

/// The drawing; none where nothing could be worked out.
pub(super) fn lanes(there: &Day, answers: &Answers) -> Option<Drawing> {
    let rest = answers.rest.as_ref()?;
    let seats = there.excursion.seats.0.len();
    let now = minutes(there.pet.map_or(0, |pet| pet.0));
    let last = answers.limit.max(rest.end_p80).max(now) + 12.0;
    let right = LEFT + f64::from(u32::try_from(seats).unwrap_or(1)) * STEP;
    let mut out = format!(
        "<svg class=\"lane-drawing\" viewBox=\"0 0 {} {}\" role=\"img\" aria-labelledby=\"dayt dayd\">\
         <title id=\"dayt\">Lanes of {}, PET downwards, a column per seat</title><desc id=\"dayd\">{}</desc>",
        short(right + 90.0),
        short(y(last) + 8.0),
        escaped(there.code().as_str()),
        escaped(&words(there, answers)),
    );
    for lane in 0..seats {
        let left = left(lane) - 4.0;
        let ground = |from: f64, until: f64| {
            format!("M{} {}h124V{}h-124z", short(left), short(y(from)), short(y(until)))
        };
        path(&mut out, "ground", &ground(0.0, now));
        path(&mut out, "ahead-ground", &ground(now, answers.limit.max(now)));
        path(&mut out, "beyond", &ground(answers.limit, last));
        for (from, until) in nights(answers, last) {
            path(&mut out, "night", &ground(from, until));
        }
        text(&mut out, "tb t13", left + 4.0, 16.0, &there.seat(lane));
    }
    text(&mut out, "t11 t2 end", NUMBERS, 16.0, "PET");
    for (from, until) in nights(answers, last) {
        let strip = format!("M43 {}h9V{}h-9z", short(y(from)), short(y(until)));
        path(&mut out, "night-deep", &strip);
    }
    let mut half = 0.0;
    while half <= last {
        let class = if half % 60.0 == 0.0 { "hour" } else { "half" };
        let rule =
            format!("M{} {}H{}", short(LEFT - 4.0), short(y(half) + 0.5), short(right - 8.0));
        path(&mut out, class, &rule);
        let class = if half % 60.0 == 0.0 { "end" } else { "end t2" };
        text(&mut out, class, NUMBERS, y(half) + 4.0, &whole(half).to_string());
        half += 30.0;
    }
    overheads(&mut out, there, answers, now);
    for (at, task) in there.tasks.iter().enumerate() {
        let left_over = rest.tasks.iter().find(|left| left.task == at);
        let planned = answers.planned.get(at).copied();
        let lanes = task.slot.seats.numbers().filter_map(|seat| there.lane(seat));
        for (place, lane) in lanes.enumerate() {
            if let Some((from, until)) = planned {
                let x = short(left(lane) - 4.0);
                path(
                    &mut out,
                    "planned-bar",
                    &format!("M{x} {}V{}", short(y(from)), short(y(until))),
                );
            }
            let code = task.slot.task.as_str();
            let block = |out: &mut String, class: &str, from: f64, until: f64| {
                let high = (until - from).max(1.0);
                let d = format!(
                    "M{} {}h{WIDE}v{}h-{WIDE}z",
                    short(left(lane)),
                    short(y(from)),
                    short(high * SCALE)
                );
                path(out, class, &d);
            };
            let label = |out: &mut String, class: &str, from: f64, until: f64, more: &str| {
                let x = left(lane) + 8.0;
                if until - from < 9.0 {
                    text(out, class, x, f64::midpoint(y(from), y(until)) + 4.0, code);
                    return;
                }
                text(out, &format!("tb {class}"), x, y(from) + 16.0, code);
                if until - from >= 17.0 && place == 0 {
                    text(out, class, x, y(from) + 32.0, more);
                }
            };
            match task.now.progress {
                Progress::Ended { start, end, outcome } => {
                    let (from, until) = (minutes(start.0), minutes(end.0));
                    block(&mut out, "done-block", from, until);
                    let how = outcome.map_or("ended", domain::day::Act::word);
                    label(&mut out, "on-ink", from, until, &format!("{how} {end}"));
                }
                Progress::Running { since } => {
                    let from = minutes(since.0);
                    let until = left_over.map_or(now, |left| left.end_p50);
                    block(&mut out, "left-block", from, until);
                    block(&mut out, "done-block", from, now.max(from + 1.0));
                    let so_far = format!("{} min so far", whole(now - from).0);
                    // What it has taken is drawn too short for words at first.
                    if now - from < 17.0 {
                        label(&mut out, "", now, until, &so_far);
                    } else {
                        label(&mut out, "on-ink", from, now, &so_far);
                    }
                }
                Progress::Planned => {
                    let Some(rest) = left_over else { continue };
                    let risk = rest.reached < answers.bound;
                    let class = if risk { "risk-block" } else { "left-block" };
                    block(&mut out, class, rest.start_p50, rest.end_p50);
                    let more = format!("{}–{}", whole(rest.start_p50), whole(rest.end_p50));
                    label(&mut out, "", rest.start_p50, rest.end_p50, &more);
                }
                Progress::Dropped => {}
            }
        }
    }
    let mut ends = vec![
        (rest.end_p50, "p50", format!("P50 {}", whole(rest.end_p50))),
        (answers.limit, "limit", format!("limit {}", whole(answers.limit))),
        (rest.end_p80, "p80", format!("P80 {}", whole(rest.end_p80))),
    ];
    if there.pet.is_some() {
        ends.push((now, "now-rule", format!("now {}", whole(now))));
    }
    ends.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut below = f64::NEG_INFINITY;
    for (minute, class, words) in ends {
        path(
            &mut out,
            class,
            &format!("M{} {}H{}", short(LEFT - 4.0), short(y(minute)), short(right - 4.0)),
        );
        below = (y(minute) + 4.0).max(below + 14.0);
        text(&mut out, if class == "now-rule" { "tb" } else { "" }, right, below, &words);
    }
    let _ = write!(out, "</svg>");
    Some(finished(out))
}

fn y(minute: f64) -> f64 {
    TOP + minute * SCALE
}

/// The nights before the drawing ends.
fn nights(answers: &Answers, last: f64) -> impl Iterator<Item = (f64, f64)> {
    let ahead = answers.nights.iter().filter(move |night| night.0 < last && night.1 > 0.0);
    ahead.map(move |night| (night.0.max(0.0), night.1.min(last)))
}

/// Egress, as far as no work has begun before its end, and ingress before the end at P50.
fn overheads(out: &mut String, there: &Day, answers: &Answers, now: f64) {
    let Some(rest) = &answers.rest else { return };
    for (lane, seat) in there.excursion.seats.0.iter().enumerate() {
        let own = there.tasks.iter().filter(|on| on.slot.seats.numbers().any(|n| n == seat.number));
        let begun = own.filter_map(|on| match on.now.progress {
            Progress::Ended { start, .. } | Progress::Running { since: start } => Some(start.0),
            Progress::Planned | Progress::Dropped => None,
        });
        let egress = begun.min().map_or(answers.egress, |start| answers.egress.min(minutes(start)));
        let ingress = rest.end_p50 - answers.ingress;
        for (from, until, words) in [(0.0, egress, "egress"), (ingress, rest.end_p50, "ingress")] {
            let flown = there.pet.is_some() && until <= now;
            let d = format!(
                "M{} {}h{WIDE}V{}h-{WIDE}z",
                short(left(lane)),
                short(y(from)),
                short(y(until))
            );
            path(out, if flown { "over-flown" } else { "over" }, &d);
            let class = if flown { "on-ink" } else { "" };
            if until - from >= 9.0 {
                text(out, class, left(lane) + 8.0, y(from) + 16.0, words);
            }
        }
    }
}

fn left(lane: usize) -> f64 {
    LEFT + f64::from(u32::try_from(lane).unwrap_or(0)) * STEP
}

/// The same in words.
fn words(there: &Day, answers: &Answers) -> String {
    let Some(rest) = &answers.rest else { return String::new() };
    let of = |(at, task): (usize, &app::day::OnBoard)| {
        let code = task.slot.task.as_str();
        let seats = task.slot.seats.names();
        match task.now.progress {
            Progress::Ended { start, end, outcome } => {
                let how = outcome.map_or("ended", domain::day::Act::word);
                format!("{seats} {code} {how}, {start} to {end}")
            }
            Progress::Running { since } => format!("{seats} {code} under way since {since}"),
            Progress::Dropped => format!("{code} dropped"),
            Progress::Planned => match rest.tasks.iter().find(|left| left.task == at) {
                Some(left) => {
                    let risk = if left.reached < answers.bound { ", at risk" } else { "" };
                    let (from, until) = (whole(left.start_p50), whole(left.end_p50));
                    format!("{seats} {code} {from} to {until}{risk}")
                }
                None => format!("{code} cannot go"),
            },
        }
    };
    let all: Vec<String> = there.tasks.iter().enumerate().map(of).collect();
    format!(
        "{}. P50 end {}, P80 end {}, limit {}.",
        all.join("; "),
        whole(rest.end_p50),
        whole(rest.end_p80),
        whole(answers.limit)
    )
}

#[expect(clippy::cast_precision_loss, reason = "minutes of an excursion are few")]
fn minutes(whole: i64) -> f64 {
    whole as f64
}
