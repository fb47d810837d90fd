#![expect(clippy::float_cmp, reason = "what stands at one place is written with the same digits")]

use super::super::seen::{Bounds, Seen};
use super::*;

fn step(lane: usize, from: f64, until: f64, doing: Doing) -> Step {
    Step { lane, from, until, doing }
}

fn block(number: usize, task: &str, lanes: &[usize], from: f64, until: f64) -> Block {
    Block {
        number,
        slot: format!("S-{number}"),
        version: 1,
        task: task.into(),
        address: format!("/tasks/{task}"),
        title: "Swap pump filter pack".into(),
        lanes: lanes.to_vec(),
        from,
        until,
        latest: Some(from + 23.0),
        ..Block::default()
    }
}

fn ends(all: &[(EndKind, f64)]) -> Vec<End> {
    all.iter().map(|&(kind, at)| End { kind, at }).collect()
}

/// An excursion that has every shape.
fn reference() -> Lanes {
    Lanes {
        excursion: "E-37.1".into(),
        seats: vec!["EV1".into(), "EV2".into()],
        steps: vec![
            step(0, 0.0, 35.0, Doing::Egress),
            step(1, 0.0, 35.0, Doing::Egress),
            step(0, 35.0, 42.0, Doing::Travel("W-KEEL4".into())),
            step(0, 42.0, 54.0, Doing::Setup),
            step(0, 134.0, 140.0, Doing::Cleanup),
            step(0, 140.0, 151.0, Doing::Travel("W-BAY5".into())),
            step(0, 151.0, 160.0, Doing::Wait),
            step(0, 350.0, 378.0, Doing::Ingress),
        ],
        blocks: vec![
            block(1, "T-0117", &[0], 54.0, 96.0),
            block(2, "T-0102", &[1], 56.0, 122.0),
            block(3, "T-0118", &[0], 96.0, 134.0),
            block(4, "T-0171", &[0, 1], 170.0, 262.0),
        ],
        nights: vec![(0.0, 22.0), (80.0, 115.0)],
        arm: vec![(160.0, 285.0), (310.0, 355.0)],
        ends: ends(&[
            (EndKind::P50, 378.0),
            (EndKind::Plan, 390.0),
            (EndKind::P80, 398.0),
            (EndKind::Limit, 420.0),
        ]),
        day: None,
        on_paper: false,
    }
}

fn drawn(lanes: &Lanes) -> String {
    draw(lanes, "lanes").as_str().to_owned()
}

fn seen(lanes: &Lanes) -> Seen {
    Seen::of(&drawn(lanes))
}

/// The minute at a height, as a reader takes it off the hours on the left.
fn minute(seen: &Seen, y: f64) -> f64 {
    let middle = |clock| {
        let Bounds { top, bottom, .. } = seen.label(clock).bounds;
        f64::midpoint(top, bottom)
    };
    let (first, second) = (middle("0:00"), middle("1:00"));
    ((y - first) / (second - first) * 60.0).round()
}

/// From and to, in minutes, of every piece of a class of shapes.
fn minutes(seen: &Seen, class: &str) -> Vec<(f64, f64)> {
    let pieces = seen.pieces(class);
    pieces.iter().map(|piece| (minute(seen, piece.top), minute(seen, piece.bottom))).collect()
}

#[test]
fn every_shape_stands_at_its_minutes() {
    let seen = seen(&reference());
    assert_eq!(
        minutes(&seen, "work"),
        [(54.0, 96.0), (56.0, 122.0), (96.0, 134.0), (170.0, 262.0)]
    );
    assert_eq!(minutes(&seen, "over"), [(0.0, 35.0), (0.0, 35.0), (350.0, 378.0)]);
    assert_eq!(minutes(&seen, "setup"), [(42.0, 54.0), (134.0, 140.0)]);
    assert_eq!(minutes(&seen, "go").first(), Some(&(35.0, 42.0)));
    assert_eq!(minutes(&seen, "night-deep"), [(0.0, 22.0), (80.0, 115.0)]);
    assert_eq!(minutes(&seen, "arm"), [(160.0, 285.0), (310.0, 355.0)]);
    // Night lies across both lanes.
    assert_eq!(minutes(&seen, "night").len(), 4);
    for (class, at) in [("p50", 378.0), ("plan", 390.0), ("p80", 398.0), ("limit", 420.0)] {
        assert_eq!(minutes(&seen, class), [(at, at)], "{class}");
    }
    let margin: Vec<_> = seen.shapes.iter().filter(|one| one.fill == "url(#lanesm)").collect();
    let margin = margin[0].pieces[0];
    assert_eq!((minute(&seen, margin.top), minute(&seen, margin.bottom)), (398.0, 420.0));
}

#[test]
fn work_of_two_seats_lies_across_both_lanes() {
    let seen = seen(&reference());
    let work = seen.pieces("work");
    let [first, second, also_first, both] = work[..] else { panic!("{work:?}") };
    assert!(first.right < second.left && first.left == also_first.left);
    assert_eq!((both.left, both.right), (first.left, second.right));
    for (lane, seat) in [(first, "EV1"), (second, "EV2")] {
        assert_eq!(seen.label(seat).at.0, lane.left, "the seat stands over its lane");
    }
}

#[test]
fn labels_stand_in_their_blocks_and_none_lies_over_another() {
    let mut lanes = reference();
    for movable in [false, true] {
        for block in &mut lanes.blocks {
            block.movable = movable;
        }
        let seen = seen(&lanes);
        assert_eq!(seen.unreadable(), Vec::<String>::new());
        for (block, work) in lanes.blocks.iter().zip(seen.pieces("work")) {
            assert!(work.holds(&seen.label(&block.task).bounds), "{}", block.task);
        }
        let latest = seen.label("start by 1:17").bounds;
        assert!(seen.pieces("work")[0].holds(&latest), "the latest start stands in its block");
    }
}

#[test]
fn ends_are_named_beside_their_rules_in_their_order() {
    let seen = seen(&reference());
    let names = ["P50 end 6:18", "plan end 6:30", "P80 end 6:38", "margin 0:22", "limit 7:00"];
    let heights: Vec<f64> = names.iter().map(|name| seen.label(name).at.1).collect();
    assert!(heights.is_sorted(), "{heights:?}");
    let right = seen.pieces("limit")[0].right;
    assert!(names.iter().all(|name| seen.label(name).bounds.left > right));
}

#[test]
fn nothing_is_told_by_colour_or_style_alone() {
    let mut lanes = reference();
    lanes.blocks[1].pencilled = true;
    lanes.blocks[2].outside_windows = true;
    let markup = drawn(&lanes);
    assert!(!markup.contains("style=") && !markup.contains("fill=\"#"), "{markup}");
    assert!(markup.contains("<path class=\"work pencil\""), "dashes round what is pencilled");
    assert!(markup.contains("href=\"#k-pen\""), "and the mark of a pencil");
    assert!(markup.contains(">no window left<"));
}

#[test]
fn past_the_limit_is_hatched_otherwise_and_said() {
    let mut lanes = reference();
    lanes.ends = ends(&[(EndKind::P80, 432.0), (EndKind::Limit, 420.0)]);
    lanes.blocks[0].latest = Some(41.0);
    lanes.blocks[3].latest = Some(-4.0);
    let seen = seen(&lanes);
    let past: Vec<_> = seen.shapes.iter().filter(|one| one.fill == "url(#lanesp)").collect();
    let past = past[0].pieces[0];
    assert_eq!((minute(&seen, past.top), minute(&seen, past.bottom)), (420.0, 432.0));
    for words in ["past it 0:12", "start by 0:41", "no start in time"] {
        assert!(seen.label(words).class.contains("tno"), "{words} warns");
    }
    assert!(!seen.label("start by 1:59").class.contains("tno"));
}

#[test]
fn names_of_ends_keep_apart_and_inside() {
    let mut lanes = reference();
    lanes.ends = ends(&[
        (EndKind::P50, 415.0),
        (EndKind::Plan, 416.0),
        (EndKind::P80, 418.0),
        (EndKind::Limit, 420.0),
    ]);
    let seen = seen(&lanes);
    assert_eq!(seen.unreadable(), Vec::<String>::new());
    let right = seen.pieces("limit")[0].right;
    let names = seen.labels.iter().filter(|label| label.at.0 > right);
    assert_eq!(names.count(), 5);
}

#[test]
fn the_words_tell_what_the_lines_show() {
    let lanes = reference();
    let words = wording::words(&lanes);
    assert!(
        words.starts_with(
            "EV1: egress 0:00 to 0:35; travel to W-KEEL4 0:35 to 0:42; setup 0:42 to 0:54; \
             T-0117 0:54 to 1:36, start by 1:17; T-0118 1:36 to 2:14"
        ),
        "{words}"
    );
    assert!(words.contains("T-0171 with EV1 2:50 to 4:22, start by 3:13."), "{words}");
    assert!(words.contains("Arm: 2:40 to 4:45, 5:10 to 5:55. Night: 0:00 to 0:22"), "{words}");
    assert!(
        words.ends_with("Across all lanes: P50 end 6:18, plan end 6:30, P80 end 6:38, limit 7:00."),
        "{words}"
    );
    let markup = drawn(&lanes);
    assert!(markup.contains("role=\"group\" aria-labelledby=\"lanest\""), "{markup}");
    assert!(markup.contains("href=\"/tasks/T-0171\""));
}

#[test]
fn short_blocks_keep_code_number_and_figure_on_one_line() {
    let mut lanes = reference();
    lanes.blocks = vec![block(1, "T-0117", &[0], 54.0, 66.0)];
    let short = seen(&lanes);
    let heights = ["T-0117", "≤1:17", "1"].map(|words| short.label(words).at.1);
    assert_eq!(heights, [heights[0]; 3]);
    assert!(
        !short.labels.iter().any(|label| label.words.contains("Swap")),
        "no room for the title"
    );
    lanes.blocks = vec![block(1, "T-0117", &[0], 54.0, 56.0)];
    let shorter = seen(&lanes);
    let (work, link) = (shorter.pieces("work")[0], shorter.pieces("hit")[0]);
    assert_eq!(
        (link.top, link.bottom),
        (work.top, work.bottom),
        "the link is as high as its block"
    );
}

#[test]
fn handles_stand_only_where_blocks_can_be_moved() {
    let mut lanes = reference();
    assert!(seen(&lanes).pieces("rect").is_empty());
    for block in &mut lanes.blocks {
        block.movable = true;
    }
    let markup = drawn(&lanes);
    let movable = Seen::of(&markup);
    let handles = movable.pieces("rect");
    assert_eq!(handles.len(), 4);
    for (handle, work) in handles.iter().zip(movable.pieces("work")) {
        assert!(work.holds(handle) && handle.right == work.right, "{handle:?} in {work:?}");
        assert!(handle.right - handle.left >= 24.0 && handle.bottom - handle.top >= 24.0);
    }
    assert!(
        markup.contains(
            "data-slot=\"S-4\" data-version=\"1\" data-task=\"T-0171\" data-lanes=\"0 1\""
        )
    );
    // What the script drags by: the edges of the lanes are those of their blocks.
    let work = movable.pieces("work");
    let edges = [work[0], work[1]].map(|lane| format!("{} {}", lane.left, lane.right)).join(",");
    assert!(markup.contains(&format!("data-columns=\"{edges}\" data-seats=\"EV1,EV2\"")));
}

#[test]
fn lanes_apart_and_empty_excursions_are_drawn_too() {
    let mut lanes = reference();
    lanes.seats.push("EV3".into());
    lanes.blocks = vec![block(1, "T-0171", &[0, 2], 170.0, 262.0)];
    let apart = seen(&lanes);
    assert_eq!(minutes(&apart, "work"), [(170.0, 262.0), (170.0, 262.0)]);
    let lefts: Vec<f64> = apart.pieces("work").iter().map(|piece| piece.left).collect();
    assert_eq!(lefts, ["EV1", "EV3"].map(|seat| apart.label(seat).at.0));
    let empty = Lanes { excursion: "E-1".into(), seats: vec!["EV1".into()], ..Lanes::default() };
    let markup = drawn(&empty);
    let nothing = Seen::of(&markup);
    assert!(nothing.pieces("work").is_empty() && nothing.unreadable().is_empty());
    assert!(markup.contains("EV1: nothing."));
    assert!(!markup.contains("NaN") && !markup.contains(">night<") && !markup.contains(">arm<"));
}

#[test]
fn every_sign_of_the_legend_has_a_word() {
    let all = legend("lanes");
    assert_eq!(all.len(), 10);
    assert!(
        all.iter().all(|entry| entry.sign.as_str().starts_with("<svg") && !entry.words.is_empty())
    );
}

/// The reference on its day at 1:34: one block worked, one under way, one to come and one at risk.
fn on_the_day() -> Lanes {
    let mut lanes = reference();
    lanes.day = Some(94.0);
    lanes.ends.push(End { kind: EndKind::Now, at: 94.0 });
    let stands = [Stands::Worked, Stands::UnderWay, Stands::ToCome, Stands::AtRisk];
    for (block, stands) in lanes.blocks.iter_mut().zip(stands) {
        (block.stands, block.latest) = (stands, None);
        block.address.clear();
        block.planned = Some((block.from - 10.0, block.until - 10.0));
    }
    lanes.blocks[0].until = 90.0;
    lanes.blocks[0].notes = vec!["done 1:30".into()];
    lanes.blocks[3].notes = vec!["2:50–4:22".into(), "at risk: 54 %".into()];
    lanes
}

#[test]
fn on_the_day_what_was_worked_is_black_and_the_rest_stands_below_now() {
    let seen = seen(&on_the_day());
    // What is under way is black up to now, and goes on to its end.
    assert_eq!(minutes(&seen, "done-block"), [(54.0, 90.0), (56.0, 94.0)]);
    assert_eq!(minutes(&seen, "left-block"), [(56.0, 122.0), (96.0, 134.0)]);
    assert_eq!(minutes(&seen, "risk-block"), [(170.0, 262.0)]);
    assert_eq!(minutes(&seen, "over-flown"), [(0.0, 35.0), (0.0, 35.0)]);
    assert_eq!(minutes(&seen, "over"), [(350.0, 378.0)]);
    assert_eq!(minutes(&seen, "setup"), [(42.0, 54.0), (134.0, 140.0)]);
    assert_eq!(minutes(&seen, "now-rule"), [(94.0, 94.0)]);
    // A bar for each lane of a block, where it was planned.
    assert_eq!(minutes(&seen, "planned-bar").len(), 5);
    assert!(minutes(&seen, "planned-bar").contains(&(44.0, 86.0)));
    assert_eq!(minutes(&seen, "ahead-ground").first(), Some(&(94.0, 420.0)));
    assert!(seen.pieces("work").is_empty());
    for words in ["done 1:30", "at risk: 54 %", "now 1:34"] {
        seen.label(words);
    }
    let drawn = drawn(&on_the_day());
    assert!(!drawn.contains("href"), "a code that leads nowhere is no link: {drawn}");
    assert!(
        drawn.contains("T-0171 with EV2 2:50 to 4:22, at risk, 2:50–4:22, at risk: 54 %"),
        "{drawn}"
    );
}
