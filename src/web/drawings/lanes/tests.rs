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
        pencilled: false,
        outside_windows: false,
        movable: false,
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
        on_paper: false,
    }
}

fn drawn(lanes: &Lanes) -> String {
    draw(lanes, "lanes").as_str().to_owned()
}

#[test]
fn every_shape_stands_at_its_minutes() {
    let markup = drawn(&reference());
    for (class, d) in [
        ("ground", "M96 32h124V872h-124zM224 32h124V872h-124z"),
        ("night", "M96 32h124V76h-124zM224 32h124V76h-124z"),
        ("night-deep", "M46 192h12V262h-12z"),
        ("arm", "M73 352h14V602h-14z"),
        ("over", "M100 32h116V102h-116z"),
        ("go", "M118 102V116M114 107l4 4 4-4"),
        ("work", "M100 140h116V224h-116z"),
        ("work", "M228 144h116V276h-116z"),
        ("work", "M100 372h244V556h-244z"),
        ("go", "M118 312V334M114 321l4 4 4-4"),
        ("wait", "M118 337V350"),
        ("p50", "M96 788H352"),
        ("plan", "M96 812H352"),
        ("p80", "M96 828H352"),
        ("limit", "M96 872H352"),
    ] {
        let path = format!("<path class=\"{class}\" d=\"{d}\"/>");
        assert!(markup.contains(&path), "{path} is missing in {markup}");
    }
    assert!(
        markup.contains("<path class=\"setup\" fill=\"url(#lanesh)\" d=\"M100 116h36V140h-36z\"/>")
    );
    assert!(markup.contains(
        "<path fill=\"url(#lanesm)\" d=\"M96 828h124V872h-124zM224 828h124V872h-124z\"/>"
    ));
    assert!(markup.contains("viewBox=\"0 0 440 896\""), "{markup}");
    for said in [">limit 7:00<", ">margin 0:22<", ">2:40–4:45<", ">start by 1:17<", ">egress<"] {
        assert!(markup.contains(said), "{said} is missing");
    }
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
    let markup = drawn(&lanes);
    assert!(markup.contains("<path fill=\"url(#lanesp)\" d=\"M96 872h124V896h-124z"), "{markup}");
    assert!(markup.contains("<text class=\"tno\" x=\"357\""), "{markup}");
    assert!(markup.contains(">past it 0:12<"));
    assert!(markup.contains("class=\"t11 tno\"") && markup.contains(">start by 0:41<"));
    assert!(markup.contains(">no start in time<"));
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
    let markup = drawn(&lanes);
    let names: Vec<f64> = markup
        .split("x=\"357\" y=\"")
        .skip(1)
        .map(|rest| rest.split('"').next().unwrap().parse().unwrap())
        .collect();
    assert_eq!(names.len(), 5);
    assert!(names.windows(2).all(|pair| pair[1] - pair[0] >= 12.9), "{names:?}");
    assert!(names.iter().all(|y| *y <= 896.0), "{names:?}");
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
    let markup = drawn(&lanes);
    assert!(markup.contains(">≤1:17<"), "{markup}");
    assert!(!markup.contains(">Swap"), "no room for the title");
    lanes.blocks = vec![block(1, "T-0117", &[0], 54.0, 56.0)];
    assert!(drawn(&lanes).contains("height=\"4\""), "the link is as high as its block");
}

#[test]
fn handles_stand_only_where_blocks_can_be_moved() {
    let mut lanes = reference();
    assert!(!drawn(&lanes).contains("class=\"handle\""));
    for block in &mut lanes.blocks {
        block.movable = true;
    }
    let markup = drawn(&lanes);
    assert_eq!(markup.matches("class=\"handle\"").count(), 4);
    assert!(
        markup
            .contains("<g class=\"handle\"><rect x=\"320\" y=\"372\" width=\"24\" height=\"24\"/>")
    );
    assert!(
        markup.contains(
            "data-slot=\"S-4\" data-version=\"1\" data-task=\"T-0171\" data-lanes=\"0 1\""
        )
    );
    assert!(markup.contains("data-columns=\"100 216,228 344\" data-seats=\"EV1,EV2\""));
}

#[test]
fn lanes_apart_and_empty_excursions_are_drawn_too() {
    let mut lanes = reference();
    lanes.seats.push("EV3".into());
    lanes.blocks = vec![block(1, "T-0171", &[0, 2], 170.0, 262.0)];
    let markup = drawn(&lanes);
    assert!(markup.contains("M100 372h116V556h-116z") && markup.contains("M356 372h116V556h-116z"));
    let empty = Lanes { excursion: "E-1".into(), seats: vec!["EV1".into()], ..Lanes::default() };
    let markup = drawn(&empty);
    assert!(markup.contains("viewBox=\"0 0 312 176\""), "{markup}");
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
