//! The flights at a glance: a column an excursion, one mark for every planned task as it ended,
//! and how many items were open after each flight.

use super::carry_line::MarkKind;
use super::columns::number;
use super::markup::{Drawing, linked, open, open_group, path, place, short, text};
use crate::addresses;

/// One flight.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StripFlight {
    pub code: String,
    pub coming: bool,
    pub excursions: Vec<StripExcursion>,
    /// Open items after it; nothing where that is not worked out.
    pub open_after: Option<i64>,
}

/// One excursion with a mark for each planned task.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StripExcursion {
    pub code: String,
    pub marks: Vec<MarkKind>,
    /// Flown, and still waiting for its results.
    pub to_debrief: bool,
}

/// Between two excursions, two flights, two marks.
const STEP: f64 = 42.0;
const GAP: f64 = 14.0;
const RISE: f64 = 18.0;
/// The first excursion, the lowest mark, the marks that fit without making the drawing taller.
const FIRST: f64 = 112.0;
const LOWEST: f64 = 156.0;
const FIT: usize = 7;
/// So many marks are drawn of one excursion; of more tasks a part is shown, and their number.
const MARKS: usize = 10;

/// The drawing, 1280 wide or more. The flights come in order, flown ones first.
pub fn draw(flights: &[StripFlight], id: &str) -> Drawing {
    // The number of all takes the place above the marks.
    let height = |e: &StripExcursion| e.marks.len().min(MARKS + 1);
    let tallest = flights.iter().flat_map(|f| &f.excursions).map(height).max().unwrap_or(0);
    let down = RISE * number(tallest.saturating_sub(FIT));
    let mut body = String::new();
    let (mut x, mut now) = (FIRST, None);
    for flight in flights {
        if flight.coming && now.is_none() {
            // Now stands in a wider gutter between flown and coming.
            now = Some(x - STEP - GAP + 39.0);
            x += 20.0;
        }
        x = one_flight(&mut body, flight, x, down);
    }
    let end = (x - STEP - GAP + 27.0).max(1280.0);

    let view_box = format!("0 0 {} {}", short(end), short(224.0 + down));
    let title = "The flights and what each excursion did with its tasks";
    // A link could not be reached by keyboard within an image.
    let holds_links = tallest > MARKS;
    let begin = if holds_links { open_group } else { open };
    let mut out = begin("wide-drawing", &view_box, id, title, &words(flights));
    if let Some(now) = now {
        let foot = 190.0 + down;
        path(
            &mut out,
            "future",
            &format!("M{0} 0H{1}V{2}H{0}z", short(now + 8.0), short(end), short(foot)),
        );
        path(&mut out, "now", &format!("M{} 0V{}", short(now), short(foot)));
        text(&mut out, "t11 t2 end", now - 6.0, 10.0, "flown");
        text(&mut out, "t11 t2", now + 14.0, 10.0, "coming");
    }
    for (y, words) in [
        (108.0, "each planned"),
        (122.0, "task, as it"),
        (136.0, "ended"),
        (182.0, "excursion"),
        (212.0, "open after"),
    ] {
        text(&mut out, "t2", 0.0, y + down, words);
    }
    out.push_str(&body);
    out.push_str("</svg>");
    Drawing::new(out)
}

/// Draws a flight from its first excursion's middle on; returns where the next one begins.
fn one_flight(out: &mut String, flight: &StripFlight, first: f64, down: f64) -> f64 {
    let mut x = first;
    for excursion in &flight.excursions {
        path(out, "exc", &format!("M{} {}h26", short(x - 13.0), short(168.0 + down)));
        text(out, "tc t11 mid t2", x, 182.0 + down, short_code(&excursion.code));
        let mut marks = excursion.marks.clone();
        marks.sort_by_key(|kind| rank(*kind));
        let y = |index: usize| LOWEST + down - RISE * number(index);
        for (index, kind) in a_part(&marks).enumerate() {
            place(out, shape(kind), x, y(index), 1.0);
        }
        if marks.len() > MARKS {
            let all = format!("all {}", marks.len());
            let to = addresses::within("excursions", &excursion.code);
            linked(out, &to, &format!("{all} tasks of {}", excursion.code), |out| {
                text(out, "t11 mid ta", x, y(MARKS) + 4.0, &all);
            });
        }
        if excursion.to_debrief {
            text(out, "t11 ta end", x + 18.0, 196.0 + down, "to debrief");
        }
        x += STEP;
    }
    // A flight without excursions still has its place and its name.
    let last = if flight.excursions.is_empty() { first } else { x - STEP };
    let left = first - 20.0;
    text(out, "tc t13 tb", left, 24.0, &flight.code);
    path(out, "axis", &format!("M{} 31H{}", short(left), short(last + 14.0)));
    if let Some(open_after) = flight.open_after {
        text(out, "tb t13", left, 212.0 + down, &open_after.to_string());
    }
    last + STEP + GAP
}

/// Marks in their order, evenly chosen where there are more than are drawn.
fn a_part(marks: &[MarkKind]) -> impl Iterator<Item = MarkKind> {
    let drawn = marks.len().min(MARKS);
    (0..drawn).map(move |index| marks[index * marks.len() / drawn])
}

/// `31.1` of `E-31.1`: the prefix is the same everywhere.
fn short_code(code: &str) -> &str {
    code.strip_prefix("E-").unwrap_or(code)
}

/// From the bottom up: what ended well, what did not, what is to come.
const fn rank(kind: MarkKind) -> u8 {
    match kind {
        MarkKind::Done => 0,
        MarkKind::PartDone(_) => 1,
        MarkKind::NotCompleted => 2,
        MarkKind::NotReached => 3,
        MarkKind::Deferral => 4,
        MarkKind::Dropped | MarkKind::Parked | MarkKind::Reopened => 5,
        MarkKind::Set => 6,
        MarkKind::Pencilled => 7,
    }
}

const fn shape(kind: MarkKind) -> &'static str {
    match kind {
        MarkKind::Done => "k-done",
        MarkKind::PartDone(_) => "k-part",
        MarkKind::NotCompleted => "k-not",
        MarkKind::NotReached => "k-nr",
        MarkKind::Deferral => "k-def",
        MarkKind::Dropped => "k-drop",
        MarkKind::Parked => "k-park",
        MarkKind::Reopened => "k-open",
        MarkKind::Set => "k-set",
        MarkKind::Pencilled => "k-pen",
    }
}

fn words(flights: &[StripFlight]) -> String {
    let excursions: Vec<&StripExcursion> = flights.iter().flat_map(|f| &f.excursions).collect();
    let mut sentences = vec![format!(
        "{} excursions, one column each, one mark per planned task",
        excursions.len()
    )];
    let flown: Vec<&StripFlight> = flights.iter().filter(|flight| !flight.coming).collect();
    match flown.as_slice() {
        [] => {}
        [one] => sentences.push(format!("{} is flown", one.code)),
        [first, .., last] => sentences.push(format!("{} to {} are flown", first.code, last.code)),
    }
    for excursion in excursions.iter().filter(|excursion| excursion.marks.len() > MARKS) {
        let (code, count) = (&excursion.code, excursion.marks.len());
        sentences.push(format!("{code} has {count} tasks, and {MARKS} marks stand for them"));
    }
    for excursion in excursions.iter().filter(|excursion| excursion.to_debrief) {
        sentences.push(format!("{} waits for its debrief", excursion.code));
    }
    if let Some((last, count)) = flown.iter().rev().find_map(|f| Some((f, f.open_after?))) {
        sentences.push(format!("{count} tasks open after {}", last.code));
    }
    sentences.iter().map(|sentence| format!("{sentence}.")).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
#[expect(clippy::float_cmp, reason = "what stands at one place is written with the same digits")]
mod tests {
    use super::super::seen::Seen;
    use super::*;

    fn flight(number: usize, count: usize, coming: bool) -> StripFlight {
        let excursions = (1..=count)
            .map(|e| StripExcursion {
                code: format!("E-{number}.{e}"),
                marks: vec![if coming { MarkKind::Set } else { MarkKind::Done }],
                to_debrief: false,
            })
            .collect();
        StripFlight { code: format!("G-{number}"), coming, excursions, open_after: Some(41) }
    }

    fn skerry() -> Vec<StripFlight> {
        [2, 3, 2, 3, 4, 3, 3, 2, 3]
            .into_iter()
            .enumerate()
            .map(|(index, count)| flight(31 + index, count, index >= 6))
            .collect()
    }

    fn seen(flights: &[StripFlight]) -> Seen {
        Seen::of(draw(flights, "s").as_str())
    }

    #[test]
    fn every_excursion_has_a_column_with_its_marks() {
        let flights = skerry();
        let seen = seen(&flights);
        assert_eq!(seen.unreadable(), Vec::<String>::new());
        let now = seen.pieces("now")[0].left;
        let ahead = seen.pieces("future")[0];
        let mut before = 0.0;
        for (flight, axis) in flights.iter().zip(seen.pieces("axis")) {
            let name = seen.label(&flight.code).bounds;
            assert!(
                name.bottom < axis.top && name.left >= axis.left,
                "{} over its axis",
                flight.code
            );
            for excursion in &flight.excursions {
                let label = seen.label(short_code(&excursion.code));
                let x = label.at.0;
                assert!(x > before && axis.left < x && x < axis.right, "{}", excursion.code);
                let marks: Vec<_> = seen.marks.iter().filter(|mark| mark.at.0 == x).collect();
                assert_eq!(marks.len(), excursion.marks.len(), "{}", excursion.code);
                assert!(
                    marks.iter().all(|mark| mark.at.1 < label.bounds.top),
                    "{}",
                    excursion.code
                );
                assert_eq!(x > now, flight.coming, "{}", excursion.code);
                assert!(!flight.coming || ahead.left < x && x < ahead.right);
                before = x;
            }
        }
    }

    #[test]
    fn more_tasks_than_fit_make_the_drawing_taller_and_none_leaves_it() {
        let usual = seen(&skerry());
        let mut flights = skerry();
        flights[0].excursions[0].marks = vec![MarkKind::NotReached; 10];
        let seen = seen(&flights);
        assert!(seen.high > usual.high);
        let mut heights: Vec<f64> = seen.marks("k-nr").iter().map(|mark| mark.1).collect();
        heights.sort_by(f64::total_cmp);
        assert_eq!(heights.len(), 10);
        // A mark is some ten high.
        assert!(heights.windows(2).all(|pair| pair[1] - pair[0] > 11.0), "{heights:?}");
        assert!(heights[0] > seen.pieces("axis")[0].bottom + 5.0, "the highest is under the axis");
        assert!(heights[9] < seen.label("31.1").bounds.top, "the lowest is over its code");
    }

    #[test]
    fn of_many_tasks_ten_marks_stand_and_their_number_leads_to_them() {
        let mut flights = skerry();
        let mut marks = vec![MarkKind::Done; 30];
        marks.extend([MarkKind::NotCompleted; 20]);
        flights[0].excursions[0].marks = marks;
        let drawing = draw(&flights, "s");
        let markup = drawing.as_str();
        // Above it stand the marks of the first excursion alone: 6 of 10 are done, as 30 of 50 are.
        let first = markup.split("x=\"112\"").count() - 1;
        assert_eq!(first, 10 + 2, "ten marks, the code and the number: {markup}");
        assert_eq!(markup.matches("<use href=\"#k-not\" x=\"112\"").count(), 4);
        assert!(
            markup
                .contains("<a href=\"/excursions/E-31.1\" aria-label=\"all 50 tasks of E-31.1\">")
        );
        assert!(markup.contains(">all 50</text>") && markup.contains("role=\"group\""));
        assert!(words(&flights).contains("E-31.1 has 50 tasks, and 10 marks stand for them."));
    }

    #[test]
    fn the_drawing_says_what_waits() {
        let mut flights = skerry();
        flights[5].excursions[2].to_debrief = true;
        let words = words(&flights);
        assert_eq!(
            words,
            "25 excursions, one column each, one mark per planned task. G-31 to G-36 are flown. \
             E-36.3 waits for its debrief. 41 tasks open after G-36."
        );
        assert!(draw(&flights, "s").as_str().contains(">to debrief</text>"));
    }

    #[test]
    fn nothing_flown_nothing_planned_still_draws() {
        assert!(!draw(&[], "s").as_str().contains("class=\"now\""));
        let empty = StripFlight {
            code: "G-<1>".into(),
            coming: true,
            excursions: Vec::new(),
            open_after: None,
        };
        let drawing = draw(&[empty], "s");
        assert!(drawing.as_str().contains("G-&lt;1&gt;") && !drawing.as_str().contains("style="));
    }
}
