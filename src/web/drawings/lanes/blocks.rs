//! What the lanes do: work in full blocks, everything else between them.

use std::fmt::Write as _;

use super::super::markup::{escaped, identifier, path, place, short, text};
use super::sheet::Sheet;
use super::wording::clock;
use super::{Block, Doing, Stands, Step};

/// Travel, waiting, setup and cleanup keep to the left of their column.
const NARROW: f64 = 36.0;
const INSIDE: f64 = 8.0;
/// The first baseline below the edge of a block, the distance of the next ones, and what hangs
/// below a baseline.
const FIRST: f64 = 17.0;
const LINE: f64 = 15.0;
const DESCENT: f64 = 3.5;
/// Pixels that a letter takes on average.
const LETTER: f64 = 6.0;
/// The handle, and the smallest target.
const HANDLE: f64 = 24.0;

pub(super) fn step(out: &mut String, step: &Step, sheet: &Sheet, id: &str, now: Option<f64>) {
    let Some((top, bottom)) = sheet.stretch((step.from, step.until)) else { return };
    let (left, right) = (Sheet::left(step.lane), Sheet::right(step.lane));
    let middle = left + NARROW / 2.0;
    let high = bottom - top;
    match &step.doing {
        Doing::Egress | Doing::Ingress => {
            let name = if step.doing == Doing::Egress { "egress" } else { "ingress" };
            let is_past = now.is_some_and(|now| now > 0.0 && step.until <= now);
            let (class, ink) = if is_past { ("over-flown", "on-ink") } else { ("over", "") };
            path(out, class, &rectangle(left, top, right, bottom));
            if high >= 13.0 {
                let y = if high >= 26.0 { top + 18.0 } else { f64::midpoint(top, bottom) + 4.0 };
                text(out, ink, left + INSIDE, y, name);
            }
        }
        Doing::Setup | Doing::Cleanup => {
            let _ = write!(
                out,
                "<path class=\"setup\" fill=\"url(#{}h)\" d=\"{}\"/>",
                identifier(id),
                rectangle(left, top, left + NARROW, bottom)
            );
        }
        Doing::Travel(to) => {
            let head = f64::midpoint(top, bottom).floor();
            let x = short(middle);
            let arrow = if high >= 6.0 {
                format!("M{} {}l4 4 4-4", short(middle - 4.0), short(head - 2.0))
            } else {
                String::new()
            };
            path(out, "go", &format!("M{x} {}V{}{arrow}", short(top), short(bottom)));
            if high >= 11.0 {
                let y = f64::midpoint(top, bottom) + 4.0;
                text(out, "t11 t2", left + NARROW + 6.0, y, &format!("to {to}"));
            }
        }
        Doing::Wait => {
            if high >= 5.0 {
                let x = short(middle);
                path(out, "wait", &format!("M{x} {}V{}", short(top + 3.0), short(bottom - 2.0)));
            }
            if high >= 30.0 {
                let words = format!("waits {}", clock(step.until - step.from));
                let y = f64::midpoint(top, bottom) + 4.0;
                text(out, "t11 t2", left + NARROW + 6.0, y, &words);
            }
        }
    }
}

fn rectangle(left: f64, top: f64, right: f64, bottom: f64) -> String {
    let wide = short(right - left);
    format!("M{} {}h{wide}V{}h-{wide}z", short(left), short(top), short(bottom))
}

/// One block across the lanes that stand side by side; one each where they do not.
pub(super) fn block(out: &mut String, block: &Block, sheet: &Sheet, now: Option<f64>) {
    let Some((top, bottom)) = sheet.stretch((block.from, block.until)) else { return };
    let lanes: Vec<String> = block.lanes.iter().map(ToString::to_string).collect();
    let _ = write!(
        out,
        "<g class=\"block\" data-slot=\"{}\" data-version=\"{}\" data-task=\"{}\" data-lanes=\"{}\" \
         data-state=\"{}\">",
        escaped(&block.slot),
        block.version,
        escaped(&block.task),
        lanes.join(" "),
        if block.pencilled { "pencilled" } else { "set" },
    );
    if let Some((from, until)) = block.planned.and_then(|planned| sheet.stretch(planned)) {
        for lane in &block.lanes {
            let left = short(Sheet::left(*lane) - Sheet::GROUND);
            path(out, "planned-bar", &format!("M{left} {}V{}", short(from), short(until)));
        }
    }
    let now = now.map_or(top, |now| sheet.y(now)).clamp(top + 1.0, bottom.max(top + 1.0));
    for (place, (first, last)) in spans(&block.lanes).into_iter().enumerate() {
        let (left, right) = (Sheet::left(first), Sheet::right(last));
        let mut shape = |class: &str, until: f64| {
            path(out, class, &rectangle(left, top, right, until));
        };
        let (class, is_black) = match block.stands {
            Stands::Plan if block.pencilled => ("work pencil", false),
            Stands::Plan => ("work", false),
            Stands::ToCome | Stands::UnderWay => ("left-block", false),
            Stands::AtRisk => ("risk-block", false),
            Stands::Worked => ("done-block", true),
        };
        shape(class, bottom);
        // Where its words stand, and whether on black.
        let (mut ends, mut on_ink) = ((top, bottom), is_black);
        if block.stands == Stands::UnderWay {
            shape("done-block", now);
            // What it has taken is too short for words at first.
            on_ink = now - top >= FIRST + LINE + DESCENT;
            ends = if on_ink { (top, now) } else { (now, bottom) };
        }
        if block.stands == Stands::Worked {
            // Work that follows at once is told from it by a line.
            path(out, "cutline", &format!("M{} {}H{}", short(left), short(top), short(right)));
        }
        if place == 0 {
            label(out, block, (left, right), ends, on_ink);
        } else {
            let (class, y) = (ink("tc tb", on_ink), f64::midpoint(ends.0, ends.1) + 4.0);
            text(out, &class, left + INSIDE, y, &block.task);
        }
    }
    out.push_str("</g>");
}

/// The class of words on a block.
fn ink(class: &str, on_ink: bool) -> String {
    if on_ink { format!("{class} on-ink").trim_start().to_owned() } else { class.to_owned() }
}

/// Lanes side by side, as first and last of each run.
fn spans(lanes: &[usize]) -> Vec<(usize, usize)> {
    let mut spans: Vec<(usize, usize)> = Vec::new();
    for &lane in lanes {
        match spans.last_mut() {
            Some((_, last)) if *last + 1 == lane => *last = lane,
            _ => spans.push((lane, lane)),
        }
    }
    spans
}

fn label(out: &mut String, block: &Block, edges: (f64, f64), ends: (f64, f64), on_ink: bool) {
    let ((left, right), (top, bottom)) = (edges, ends);
    let high = bottom - top;
    // What is too short for its words has them in its middle, beyond its edges if need be.
    let first = if high >= HANDLE { top + FIRST } else { f64::midpoint(top, bottom) + 4.0 };
    let target = high.clamp(1.0, HANDLE);
    if block.address.is_empty() {
        text(out, &ink("tc tb", on_ink), left + INSIDE, first, &block.task);
    } else {
        linked_code(out, block, (left, top), (target, first));
    }
    if block.movable {
        let _ = write!(
            out,
            "<g class=\"handle\"><rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>\
             <text class=\"tb mid\" x=\"{}\" y=\"{}\">{}</text></g>",
            short(right - HANDLE),
            short(top),
            short(HANDLE),
            short(target),
            short(right - HANDLE / 2.0),
            short(first),
            block.number
        );
    } else {
        text(out, &ink("tb end", on_ink), right - INSIDE, first, &block.number.to_string());
    }
    let (class, by) = start_by(block);
    let mut room = lines_that_fit(high);
    if room == 0 {
        if right - left > 200.0 {
            let beside = block.notes.first().unwrap_or(&by);
            text(out, &ink(&class, on_ink), left + 64.0, first, beside);
        } else if !by.is_empty() {
            // Beside the code and the handle there is room for the figure alone.
            let figure = by.replace("start by ", "≤").replace("no start in time", "late");
            text(out, &class, left + 57.0, first, &figure);
        }
        return;
    }
    if block.pencilled {
        place(out, "k-pen", right - HANDLE - 8.0, first - 4.0, 1.0);
    }
    // A line each for the title, as far as there is room, and the last for the latest start.
    let mut lines: Vec<(String, String)> = Vec::new();
    let mut foot = Vec::new();
    if !by.is_empty() {
        foot.push((class, by));
        room -= 1;
    }
    if block.outside_windows && room > 0 {
        foot.insert(0, ("tno".to_owned(), "no window left".to_owned()));
        room -= 1;
    }
    for (at, note) in block.notes.iter().enumerate().take(room) {
        let warns = block.stands == Stands::AtRisk && at + 1 == block.notes.len();
        let class = if warns { "tno" } else { "" };
        foot.push((ink(class, on_ink), note.clone()));
        room -= 1;
    }
    let wide = (right - left - 2.0 * INSIDE) / LETTER;
    let title = wrapped(&block.title, wide, room.min(3));
    lines.extend(title.into_iter().map(|line| (ink("", on_ink), line)));
    lines.extend(foot);
    let mut y = first;
    for (class, words) in lines {
        y += LINE;
        text(out, &class, left + INSIDE, y, &words);
    }
}

fn linked_code(
    out: &mut String,
    block: &Block,
    (left, top): (f64, f64),
    (target, first): (f64, f64),
) {
    let _ = write!(
        out,
        "<a class=\"code\" href=\"{}\"><rect class=\"hit\" x=\"{}\" y=\"{}\" width=\"60\" height=\"{}\"/>\
         <text class=\"tc tb\" x=\"{}\" y=\"{}\">{}</text></a>",
        escaped(&block.address),
        short(left),
        short(top),
        short(target),
        short(left + INSIDE),
        short(first),
        escaped(&block.task)
    );
}

/// Lines below the first one, the last with room for its descenders.
fn lines_that_fit(high: f64) -> usize {
    let mut bottom = FIRST + LINE + DESCENT;
    let mut count = 0;
    while bottom <= high {
        count += 1;
        bottom += LINE;
    }
    count
}

/// `start by 1:20`; what begins later than that breaks the limit.
fn start_by(block: &Block) -> (String, String) {
    match block.latest {
        None => (String::new(), String::new()),
        Some(latest) if latest < 0.0 => ("t11 tno".to_owned(), "no start in time".to_owned()),
        Some(latest) if latest + 0.5 < block.from => {
            ("t11 tno".to_owned(), format!("start by {}", clock(latest)))
        }
        Some(latest) => ("t11 t2".to_owned(), format!("start by {}", clock(latest))),
    }
}

/// Words in at most so many lines; what does not fit is cut.
fn wrapped(words: &str, wide: f64, most: usize) -> Vec<String> {
    let fits = |line: &str| super::super::columns::number(line.chars().count()) <= wide;
    let mut lines: Vec<String> = Vec::new();
    for word in words.split_whitespace() {
        match lines.last_mut() {
            Some(line) if fits(&format!("{line} {word}")) => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    let cut = lines.len() > most;
    lines.truncate(most);
    let last = lines.len();
    for (at, line) in lines.iter_mut().enumerate() {
        let mut shorter = cut && at + 1 == last;
        while !fits(&format!("{line}{}", if shorter { "…" } else { "" })) && line.pop().is_some()
        {
            shorter = true;
        }
        if shorter {
            let kept = line.trim_end().len();
            line.truncate(kept);
            line.push('…');
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lanes_side_by_side_make_one_block() {
        assert_eq!(spans(&[0, 1]), [(0, 1)]);
        assert_eq!(spans(&[0, 2]), [(0, 0), (2, 2)]);
        assert_eq!(spans(&[1, 2, 3]), [(1, 3)]);
    }

    #[test]
    fn a_title_takes_the_lines_that_there_are_and_is_cut_there() {
        assert_eq!(wrapped("Swap pump filter pack", 16.0, 3), ["Swap pump filter", "pack"]);
        assert_eq!(wrapped("Swap pump filter pack", 16.0, 1), ["Swap pump filte…"]);
        assert_eq!(wrapped("Unbreakablebutmuchtoolong", 10.0, 2), ["Unbreakab…"]);
        assert!(wrapped("Anything", 16.0, 0).is_empty());
    }
}
