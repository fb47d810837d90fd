#![expect(clippy::float_cmp, reason = "what stands at one place is written with the same digits")]

use super::super::columns::tests::skerry;
use super::super::seen::{Point, Seen};
use super::*;

fn on(columns: &Columns, excursion: &str, kind: MarkKind, approach: usize) -> Mark {
    placed(columns, excursion, kind, Height::Approach(approach))
}

/// The flight of E-33.1 is G-33.
fn placed(columns: &Columns, excursion: &str, kind: MarkKind, height: Height) -> Mark {
    let (flight, _) = excursion.split_once('.').unwrap();
    let at = columns.excursion(excursion, &flight.replace("E-", "G-")).unwrap();
    Mark::on(at, excursion, kind, height)
}

fn line(columns: &Columns, opened: Where, marks: Vec<Mark>) -> CarryLine<'_> {
    CarryLine { columns, task: "T-0142".into(), opened, marks, needed_by: None }
}

fn after(columns: &Columns, flight: &str) -> Where {
    columns.after(flight).unwrap()
}

fn row(line: &CarryLine<'_>) -> String {
    small(line, "T-0142", Style::Row).as_str().to_owned()
}

fn seen(line: &CarryLine<'_>) -> Seen {
    Seen::of(&row(line))
}

/// Where an excursion, or what follows a flight, stands in a row.
fn x(columns: &Columns, at: Where) -> f64 {
    match at {
        Where::At(spot) => Grid::SMALL.x(columns, spot),
        other => panic!("{other:?} is not shown"),
    }
}

fn x_of(columns: &Columns, excursion: &str) -> f64 {
    x(columns, columns.excursion(excursion, "").unwrap())
}

/// Drawn numbers have two digits behind the point.
fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 0.02
}

/// Where the line of a class runs, from its first point to its last, with the height of each.
fn run(seen: &Seen, class: &str) -> (Point, Point) {
    let strokes = seen.strokes(class);
    // An upright stands for the opening; the line is what goes on to the right.
    let mut flat = strokes.iter().filter(|(from, to)| to.0 > from.0);
    let first = flat.next().unwrap_or_else(|| panic!("no {class} in {seen:?}"));
    (first.0, flat.next_back().unwrap_or(first).1)
}

/// Whether the line stops before a mark and goes on behind it.
fn keeps_clear(seen: &Seen, (x, y): Point) -> bool {
    let over = |&((from, a), (to, b)): &(Point, Point)| {
        near(a, y) && near(b, y) && from < x - 1.0 && to > x + 1.0
    };
    !seen.strokes("ln").iter().chain(&seen.strokes("la")).any(over)
}

#[test]
fn a_line_that_changed_its_approach_changes_its_height() {
    let columns = skerry();
    let mut line = line(
        &columns,
        after(&columns, "G-33"),
        vec![
            on(&columns, "E-34.1", MarkKind::PartDone(None), 0),
            on(&columns, "E-35.2", MarkKind::PartDone(None), 0),
            on(&columns, "E-36.2", MarkKind::NotCompleted, 1),
        ],
    );
    line.needed_by =
        Some(NeededBy { by: "G-37".into(), at: after(&columns, "G-37"), at_risk: true });
    let seen = seen(&line);
    let (parts, failed) = (seen.marks("k-part"), seen.marks("k-not")[0]);
    assert!(
        near(parts[0].0, x_of(&columns, "E-34.1")) && near(parts[1].0, x_of(&columns, "E-35.2"))
    );
    assert!(near(failed.0, x_of(&columns, "E-36.2")));
    assert!(parts[0].1 == parts[1].1 && failed.1 < parts[1].1, "another approach is higher");
    let (from, to) = run(&seen, "ln");
    assert!(near(from.0, x(&columns, after(&columns, "G-33"))), "it begins where it was opened");
    assert_eq!((from.1, to), (parts[0].1, (Grid::SMALL.now(), failed.1)), "and stops at now");
    assert!(parts.iter().chain([&failed]).all(|mark| keeps_clear(&seen, *mark)));
    let late = seen.marks("k-late")[0].0;
    assert!(late > x_of(&columns, "E-37.3") && late < x_of(&columns, "E-38.1"));
    assert!(seen.strokes("la").is_empty(), "nothing holds it, so nothing runs on from now");
    assert_eq!(
        words(&line),
        "Opened after G-33. E-34.1 part done. E-35.2 part done. E-36.2 not completed, another \
         approach. Needed by G-37, at risk."
    );
}

#[test]
fn a_deferral_hops_and_a_pencilled_slot_holds_the_line_by_its_tip() {
    let columns = skerry();
    let mut line = line(
        &columns,
        after(&columns, "G-32"),
        vec![
            on(&columns, "E-33.1", MarkKind::NotCompleted, 0),
            on(&columns, "E-34.2", MarkKind::NotCompleted, 0),
            placed(&columns, "E-35.3", MarkKind::Deferral, Height::Kept),
            on(&columns, "E-37.2", MarkKind::Pencilled, 1),
        ],
    );
    line.needed_by =
        Some(NeededBy { by: "G-38".into(), at: after(&columns, "G-38"), at_risk: false });
    let seen = seen(&line);
    let solid = seen.shapes.iter().find(|shape| shape.class == "ln").unwrap();
    let [(from, to)] = solid.arcs[..] else { panic!("{solid:?}") };
    assert!(near(f64::midpoint(from.0, to.0), x_of(&columns, "E-35.3")) && from.1 == to.1);
    let (slot, failed) = (seen.marks("k-pen")[0], seen.marks("k-not")[0]);
    assert!(near(slot.0, x_of(&columns, "E-37.2")) && slot.1 < failed.1);
    let (from, to) = run(&seen, "la");
    assert_eq!(from, (Grid::SMALL.now(), failed.1));
    assert!(near(to.0, slot.0 - 6.0) && to.1 == slot.1, "it ends at the tip: {to:?}");
    let need = seen.marks("k-need")[0].0;
    assert!(need > x_of(&columns, "E-38.2") && need < x_of(&columns, "E-39.1"));
}

#[test]
fn a_set_slot_close_to_now_still_steps_between_now_and_its_edge() {
    let columns = skerry();
    let first = line(
        &columns,
        Where::Earlier,
        vec![
            on(&columns, "E-32.1", MarkKind::NotReached, 0),
            on(&columns, "E-33.2", MarkKind::NotCompleted, 0),
            on(&columns, "E-36.1", MarkKind::PartDone(None), 1),
            on(&columns, "E-37.1", MarkKind::Set, 1),
        ],
    );
    let first = seen(&first);
    let slot = first.marks("k-set")[0];
    let solid = run(&first, "ln");
    assert_eq!((solid.0.0, solid.1.0), (Grid::SMALL.left, Grid::SMALL.now()));
    let (from, to) = run(&first, "la");
    assert_eq!((from, to.1), ((Grid::SMALL.now(), slot.1), slot.1), "no step: the same approach");
    assert!(near(to.0, slot.0 - 6.0));
    let second = line(
        &columns,
        Where::Earlier,
        vec![
            on(&columns, "E-33.2", MarkKind::NotReached, 0),
            on(&columns, "E-37.1", MarkKind::Set, 1),
        ],
    );
    let second = seen(&second);
    let (slot, before) = (second.marks("k-set")[0], second.marks("k-nr")[0]);
    let (from, to) = run(&second, "la");
    assert_eq!((from.1, to.1), (before.1, slot.1));
    assert!(before.1 > slot.1 && near(to.0, slot.0 - 6.0));
    let slant = second.strokes("la").into_iter().find(|(a, b)| a.1 != b.1).unwrap();
    assert!(slant.0.0 > Grid::SMALL.now() && slant.1.0 < to.0, "between now and its edge");
}

#[test]
fn a_done_task_ends_at_its_square() {
    let columns = skerry();
    let seen = seen(&line(
        &columns,
        after(&columns, "G-31"),
        vec![on(&columns, "E-32.2", MarkKind::Done, 0)],
    ));
    let done = seen.marks("k-done")[0];
    assert!(near(done.0, x_of(&columns, "E-32.2")));
    let (_, to) = run(&seen, "ln");
    assert!(to.0 < done.0 && done.0 - to.0 < 6.0 && to.1 == done.1, "{to:?}");
}

#[test]
fn a_reopened_task_is_carried_again() {
    let columns = skerry();
    let line = line(
        &columns,
        after(&columns, "G-31"),
        vec![
            on(&columns, "E-32.2", MarkKind::Done, 0),
            Mark::between(after(&columns, "G-33"), MarkKind::Reopened),
        ],
    );
    let seen = seen(&line);
    let again = x(&columns, after(&columns, "G-33"));
    let is_upright = |&((from, _), (to, _)): &(Point, Point)| near(from, again) && near(to, again);
    assert!(seen.strokes("ln").iter().any(is_upright), "an upright where it was reopened");
    let on = |&((from, _), (to, _)): &(Point, Point)| near(from, again) && to == Grid::SMALL.now();
    assert!(seen.strokes("ln").iter().any(on), "and from there on to now");
    assert!(words(&line).contains("Reopened after G-33."));
}

#[test]
fn a_share_fills_the_square_from_the_bottom() {
    let columns = skerry();
    let seen = seen(&line(
        &columns,
        Where::Earlier,
        vec![on(&columns, "E-33.1", MarkKind::PartDone(Some(Share(40))), 0)],
    ));
    let (square, full) = (seen.pieces("k")[0], seen.pieces("kf")[0]);
    assert_eq!((full.left, full.right, full.bottom), (square.left, square.right, square.bottom));
    // 40 % is left, so three fifths of the square are full.
    assert!(near((full.bottom - full.top) / (square.bottom - square.top), 0.6));
}

#[test]
fn parked_and_dropped_end_the_line_each_in_its_way() {
    let columns = skerry();
    let at = after(&columns, "G-35");
    let ends_at = x(&columns, at);
    let parked = seen(&line(&columns, Where::Earlier, vec![Mark::between(at, MarkKind::Parked)]));
    let (_, to) = run(&parked, "ln");
    let bar = parked.pieces("kf")[0];
    assert!(near(to.0, ends_at) && near(f64::midpoint(bar.left, bar.right), ends_at));
    assert!(bar.top > to.1, "a bar below its end");
    let dropped = seen(&line(&columns, Where::Earlier, vec![Mark::between(at, MarkKind::Dropped)]));
    let (_, to) = run(&dropped, "ln");
    assert!(near(to.0, ends_at));
    let across = |&((a, top), (b, foot)): &(Point, Point)| a == b && top < to.1 && foot > to.1;
    assert!(dropped.strokes("ln").iter().any(across), "an upright across its end");
}

#[test]
fn a_fourth_approach_is_numbered_and_an_unrecorded_one_is_labelled() {
    let columns = skerry();
    let all: Vec<Mark> = ["E-31.1", "E-32.1", "E-33.1", "E-34.1"]
        .into_iter()
        .enumerate()
        .map(|(index, code)| on(&columns, code, MarkKind::NotCompleted, index))
        .collect();
    let seen_all = seen(&line(&columns, Where::Earlier, all));
    let fourth = seen_all.label("4");
    let heights: Vec<f64> = seen_all.marks("k-not").iter().map(|mark| mark.1).collect();
    assert!(heights[0] > heights[1] && heights[1] > heights[2], "{heights:?}");
    assert_eq!(heights[2], heights[3], "the third and fourth share a height");
    assert!(near(fourth.at.0, x_of(&columns, "E-34.1")), "the number stands at the fourth");

    let unknown = placed(&columns, "E-33.1", MarkKind::NotCompleted, Height::Unrecorded);
    let known = on(&columns, "E-34.1", MarkKind::NotCompleted, 0);
    let mixed = line(&columns, Where::Earlier, vec![unknown, known]);
    let seen = seen(&mixed);
    let [first, second] = seen.marks("k-not")[..] else { panic!("{seen:?}") };
    assert!(first.1 != second.1, "what is not recorded has a height of its own");
    assert!(near(seen.label("?").at.0, first.0));
    assert!(words(&mixed).contains("E-33.1 not completed, approach not recorded."));
}

#[test]
fn going_back_to_an_approach_goes_back_to_its_height() {
    let columns = skerry();
    let back = line(
        &columns,
        Where::Earlier,
        vec![
            on(&columns, "E-31.1", MarkKind::NotCompleted, 0),
            on(&columns, "E-33.1", MarkKind::NotCompleted, 1),
            on(&columns, "E-35.1", MarkKind::NotCompleted, 0),
        ],
    );
    let heights: Vec<f64> = seen(&back).marks("k-not").iter().map(|mark| mark.1).collect();
    assert!(heights[0] == heights[2] && heights[1] < heights[0], "{heights:?}");
    assert!(words(&back).contains("E-35.1 not completed, an earlier approach again."));
}

#[test]
fn several_attempts_on_one_excursion_stand_side_by_side() {
    let columns = skerry();
    let seen = seen(&line(
        &columns,
        Where::Earlier,
        vec![
            on(&columns, "E-33.1", MarkKind::NotCompleted, 0),
            on(&columns, "E-33.1", MarkKind::Done, 0),
        ],
    ));
    let (failed, done) = (seen.marks("k-not")[0], seen.marks("k-done")[0]);
    assert!(near(f64::midpoint(failed.0, done.0), x_of(&columns, "E-33.1")));
    // A square is 9.5 or 10.5 wide, so that they do not touch.
    assert!(done.0 - failed.0 > 10.0 && done.1 == failed.1);
}

/// The height of the second approach that a task tried.
fn seen_of_second(columns: &Columns) -> f64 {
    let code = columns.flights()[0].excursions[0].clone();
    let marks = [0, 1].map(|approach| on(columns, &code, MarkKind::NotCompleted, approach));
    seen(&line(columns, Where::Earlier, marks.to_vec())).marks("k-not")[1].1
}

#[test]
fn what_lies_before_the_first_column_is_counted_and_told() {
    let flights = (1..=9)
        .map(|n| super::super::columns::Flight {
            code: format!("G-{n}"),
            excursions: vec![format!("E-{n}.1")],
            coming: false,
        })
        .collect();
    let columns = Columns::of(flights);
    let old = line(
        &columns,
        Where::Earlier,
        vec![
            on(&columns, "E-1.1", MarkKind::NotCompleted, 0),
            on(&columns, "E-2.1", MarkKind::NotCompleted, 1),
            placed(&columns, "E-8.1", MarkKind::Deferral, Height::Kept),
        ],
    );
    let seen = seen(&old);
    seen.label("+2");
    let second = seen_of_second(&columns);
    assert_eq!(run(&seen, "ln").0, (0.0, second), "it keeps the height of the last approach");
    assert!(words(&old).starts_with("Opened before G-4. E-1.1 not completed."));
}

#[test]
fn a_slot_beyond_the_drawn_flights_is_told_and_the_line_runs_out_to_it() {
    let columns = Columns::of(
        (1..=6)
            .map(|n| super::super::columns::Flight {
                code: format!("G-{n}"),
                excursions: vec![format!("E-{n}.1")],
                coming: n > 1,
            })
            .collect(),
    );
    let set = line(&columns, after(&columns, "G-1"), vec![on(&columns, "E-6.1", MarkKind::Set, 0)]);
    let (from, to) = run(&seen(&set), "la");
    assert_eq!((from.0, to.0), (Grid::SMALL.now(), Grid::SMALL.end()));
    assert!(words(&set).contains("E-6.1 set."));
}

#[test]
fn the_large_drawing_names_every_approach_and_mark() {
    let columns = skerry();
    let approach = |name: &str, way: &str| Approach { name: name.into(), way: way.into() };
    let mut line = line(
        &columns,
        after(&columns, "G-32"),
        vec![
            on(&columns, "E-33.1", MarkKind::NotCompleted, 0).noting("not completed, 0:47"),
            on(&columns, "E-34.2", MarkKind::NotCompleted, 0).noting("not completed, 0:41"),
            placed(&columns, "E-35.3", MarkKind::Deferral, Height::Kept),
            on(&columns, "E-37.2", MarkKind::Pencilled, 1),
        ],
    );
    line.needed_by =
        Some(NeededBy { by: "G-38".into(), at: after(&columns, "G-38"), at_risk: false });
    let rows = [
        approach("from nadir", "lever grip, K-LEVER rev 2"),
        approach("from starboard", "lever grip, K-LEVER rev 3"),
        approach("from forward", "no technique cleared"),
    ];
    let seen = Seen::of(large(&line, &rows, "big").as_str());
    assert_eq!(seen.unreadable(), Vec::<String>::new());
    // A mark lies on the height that is named on the left; the name stands on its rule.
    let height = |name: &str| seen.label(name).bounds.bottom + 1.0;
    let (failed, slot) = (seen.marks("k-not"), seen.marks("k-pen")[0]);
    assert!(failed.iter().all(|mark| mark.1 == height("from nadir")));
    assert_eq!(slot.1, height("from starboard"));
    assert!(height("from forward") < slot.1, "what was never tried stands on top");
    for (mark, code, note) in [
        (failed[0], "E-33.1", "not completed, 0:47"),
        (failed[1], "E-34.2", "not completed, 0:41"),
        (slot, "E-37.2", "pencilled"),
    ] {
        assert!(
            near(seen.label(code).at.0, mark.0) && near(seen.label(note).at.0, mark.0),
            "{code}"
        );
        assert!(seen.label(code).bounds.top > mark.1, "{code} stands under its mark");
        assert!(keeps_clear(&seen, mark), "{code}");
    }
    let opened = seen.label("opened").bounds;
    assert!(opened.right < failed[0].0 && opened.bottom < failed[0].1);
    let needed = seen.marks("k-need")[0];
    let label = seen.label("needed by").bounds;
    assert!(needed.0 > slot.0 && label.right < needed.0 && label.left > slot.0);
}

#[test]
fn labels_that_would_meet_stand_on_separate_lines() {
    let columns = skerry();
    let line = line(
        &columns,
        Where::Earlier,
        ["E-35.1", "E-35.2", "E-35.3"]
            .into_iter()
            .map(|code| on(&columns, code, MarkKind::NotCompleted, 0))
            .collect(),
    );
    let seen = Seen::of(large(&line, &[], "big").as_str());
    assert_eq!(seen.unreadable(), Vec::<String>::new());
    let heights = ["E-35.1", "E-35.2", "E-35.3"].map(|code| seen.label(code).at.1);
    assert!(heights[0] != heights[1] && heights[1] != heights[2], "{heights:?}");
}

#[test]
fn no_drawing_carries_a_style_or_the_text_of_a_person_as_markup() {
    let columns = skerry();
    let mut line = line(
        &columns,
        Where::Earlier,
        vec![on(&columns, "E-33.1", MarkKind::Done, 0).noting("<b>\"now\"</b>")],
    );
    line.task = "T<script>".into();
    let rows = [Approach { name: "<i>".into(), way: "&".into() }];
    for markup in [row(&line), large(&line, &rows, "a b").as_str().to_owned()] {
        assert!(!markup.contains("style="));
        assert!(!markup.contains("<script>") && !markup.contains("<b>") && !markup.contains("<i>"));
        assert!(!markup.contains("NaN"));
    }
    assert!(columns.defs().as_str().contains("id=\"cols\""));
}

#[test]
fn of_many_attempts_the_last_twelve_are_drawn_and_the_others_counted() {
    let columns = skerry();
    let mut marks: Vec<Mark> =
        (0..18).map(|_| on(&columns, "E-33.1", MarkKind::NotCompleted, 0)).collect();
    fold_earlier(&mut marks);
    let folded = line(&columns, Where::Earlier, marks);
    let markup = row(&folded);
    assert_eq!(markup.matches("#k-not").count(), 12);
    assert!(markup.contains(">+6</text>"), "{markup}");
    let markup = large(&folded, &[], "x");
    assert!(markup.as_str().contains(">6 earlier</text>"), "{}", markup.as_str());
    assert_eq!(words(&folded).matches("E-33.1 not completed").count(), 15);

    let mut marks: Vec<Mark> =
        (0..130).map(|_| on(&columns, "E-33.1", MarkKind::NotCompleted, 0)).collect();
    fold_earlier(&mut marks);
    let told = words(&line(&columns, Where::Earlier, marks));
    assert!(told.contains("115 earlier events.") && told.len() < 1_000, "{told}");

    let mut few = vec![on(&columns, "E-33.1", MarkKind::Done, 0); 12];
    fold_earlier(&mut few);
    assert!(few.iter().all(|mark| mark.at != Where::Earlier));
}
