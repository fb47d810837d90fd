//! The scale on the left, what lies behind the columns, and the rules across them.

use std::fmt::Write as _;

use super::super::markup::{identifier, path, short, text};
use super::sheet::Sheet;
use super::wording::clock;
use super::{EndKind, Lanes};

/// Labels at the right edge keep so far apart.
const APART: f64 = 13.0;

/// Grounds of the columns, night across them, and what is left or passed of the limit.
pub(super) fn grounds(out: &mut String, lanes: &Lanes, sheet: &Sheet, id: &str) {
    let across = |from: f64, until: f64| {
        (0..lanes.seats.len()).fold(String::new(), |mut d, lane| {
            let left = Sheet::left(lane) - Sheet::GROUND;
            let wide = short(Sheet::right(lane) + Sheet::GROUND - left);
            let _ = write!(d, "M{} {}h{wide}V{}h-{wide}z", short(left), short(from), short(until));
            d
        })
    };
    let limit = lanes.end(EndKind::Limit);
    if let Some(now) = lanes.day {
        let limit = limit.unwrap_or(sheet.last).max(now);
        for (class, from, until) in
            [("ground", 0.0, now), ("ahead-ground", now, limit), ("beyond", limit, sheet.last)]
        {
            if let Some((from, until)) = sheet.stretch((from, until)) {
                path(out, class, &across(from, until));
            }
        }
    } else {
        path(out, "ground", &across(Sheet::TOP, sheet.y(sheet.last)));
    }
    for (from, until) in lanes.nights.iter().filter_map(|night| sheet.stretch(*night)) {
        path(out, "night", &across(from, until));
    }
    if let (Some(limit), Some(p80)) = (limit, lanes.end(EndKind::P80)) {
        let name = if p80 <= limit { "m" } else { "p" };
        let (from, until) = (sheet.y(limit.min(p80)), sheet.y(limit.max(p80)));
        let _ = write!(
            out,
            "<path fill=\"url(#{}{name})\" d=\"{}\"/>",
            identifier(id),
            across(from, until)
        );
    }
}

/// Elapsed time with its half hours, and what every column is for.
pub(super) fn axis(out: &mut String, lanes: &Lanes, sheet: &Sheet) {
    text(out, "t11 t2 end", 32.0, 16.0, "PET");
    for (lane, seat) in lanes.seats.iter().enumerate() {
        text(out, "tb t13", Sheet::left(lane), 16.0, seat);
    }
    let (left, right) = sheet.columns();
    let halves = || (0_u16..).map(f64::from).take_while(|half| half * 30.0 <= sheet.last);
    let (mut hours, mut between) = (String::new(), String::new());
    let mut ticks = format!("M36.5 {}V{}", short(Sheet::TOP), short(sheet.y(sheet.last) + 0.5));
    for half in halves() {
        let full = half % 2.0 == 0.0;
        let y = short(sheet.y(half * 30.0) + 0.5);
        let rule = if full { &mut hours } else { &mut between };
        let _ = write!(rule, "M{} {y}H{}", short(left), short(right));
        let _ = write!(ticks, "M36 {y}h{}", if full { 6 } else { 3 });
    }
    path(out, "hour", &hours);
    path(out, "half", &between);
    path(out, "axis", &ticks);
    for half in halves() {
        let class = if half % 2.0 == 0.0 { "end" } else { "end t2" };
        text(out, class, 32.0, sheet.y(half * 30.0) + 4.0, &clock(half * 30.0));
    }
}

/// The strips of night and of the arm, each under its word.
pub(super) fn windows(out: &mut String, lanes: &Lanes, sheet: &Sheet) {
    if !lanes.nights.is_empty() {
        text(out, "t11 t2 mid", 52.0, 16.0, "night");
    }
    if !lanes.arm.is_empty() {
        text(out, "t11 t2 mid", 80.0, 16.0, "arm");
    }
    for (from, until) in lanes.nights.iter().filter_map(|night| sheet.stretch(*night)) {
        path(out, "night-deep", &format!("M46 {}h12V{}h-12z", short(from), short(until)));
    }
    for window in &lanes.arm {
        let Some((from, until)) = sheet.stretch(*window) else { continue };
        path(out, "arm", &format!("M73 {}h14V{}h-14z", short(from), short(until)));
        if until - from >= 66.0 {
            let words = format!("{}–{}", clock(window.0), clock(window.1));
            let _ = write!(
                out,
                "<text class=\"t11 mid\" transform=\"translate(84 {}) rotate(-90)\">{words}</text>",
                short(f64::midpoint(from, until))
            );
        }
    }
}

/// The rules of the ends with their names, which keep apart from each other.
pub(super) fn ends(out: &mut String, lanes: &Lanes, sheet: &Sheet) {
    let (left, right) = sheet.columns();
    let mut labels: Vec<(f64, &str, String)> = lanes
        .ends
        .iter()
        .map(|end| {
            let (class, name) = match end.kind {
                EndKind::P50 => ("", "P50 end"),
                EndKind::Plan => ("", "plan end"),
                EndKind::P80 => ("", "P80 end"),
                EndKind::Limit => ("tb", "limit"),
                EndKind::Now => ("tb", "now"),
            };
            (sheet.y(end.at), class, format!("{name} {}", clock(end.at)))
        })
        .collect();
    labels.sort_by(|a, b| a.0.total_cmp(&b.0));
    for end in &lanes.ends {
        let class = match end.kind {
            EndKind::P50 => "p50",
            EndKind::Plan => "plan",
            EndKind::P80 => "p80",
            EndKind::Limit => "limit",
            EndKind::Now => "now-rule",
        };
        let y = short(sheet.y(end.at));
        path(out, class, &format!("M{} {y}H{}", short(left), short(right + 4.0)));
    }
    if let (Some(limit), Some(p80)) = (lanes.end(EndKind::Limit), lanes.end(EndKind::P80)) {
        let (name, class) = if p80 <= limit { ("margin", "t11 t2") } else { ("past it", "tno") };
        let words = format!("{name} {}", clock((limit - p80).abs()));
        let y = f64::midpoint(sheet.y(limit), sheet.y(p80));
        let place = labels.partition_point(|label| label.0 <= y);
        labels.insert(place, (y, class, words));
    }
    for (wanted, y, (class, words)) in placed(labels, sheet.high() - 4.0) {
        if (wanted - y).abs() > 1.0 {
            let from = format!(
                "M{} {}L{} {}",
                short(right + 4.0),
                short(wanted),
                short(right + 8.0),
                short(y)
            );
            path(out, "lead-line", &from);
        }
        text(out, class, right + Sheet::LABELS, y + 4.0, &words);
    }
}

/// Moves labels apart, downwards first and up again where the drawing ends.
fn placed<T>(
    labels: Vec<(f64, &'static str, T)>,
    bottom: f64,
) -> Vec<(f64, f64, (&'static str, T))> {
    let mut at: Vec<f64> = Vec::with_capacity(labels.len());
    for (y, _, _) in &labels {
        let above = at.last().map_or(f64::NEG_INFINITY, |above| above + APART);
        at.push(y.max(above));
    }
    let mut below = bottom;
    for y in at.iter_mut().rev() {
        *y = y.min(below);
        below = *y - APART;
    }
    labels
        .into_iter()
        .zip(at)
        .map(|((wanted, class, words), y)| (wanted, y, (class, words)))
        .collect()
}
