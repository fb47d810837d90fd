use super::super::columns::tests::skerry;
use super::*;

fn on(columns: &Columns, excursion: &str, kind: MarkKind, approach: usize) -> Mark {
    Mark::on(columns, excursion, kind, Height::Approach(approach)).unwrap()
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
        Some(NeededBy { by: "G-37".into(), at: after(&columns, "G-37"), in_danger: true });
    let markup = row(&line);
    assert!(
        markup.contains(
            "d=\"M128 22.5v9M128 27H134.58M144.08 27H187.75M197.25 27H215.25L219.25 18H237.25M246.75 18H270\""
        ),
        "{markup}"
    );
    assert!(markup.contains("<use href=\"#k-not\" x=\"242\" y=\"18\"/>"));
    assert!(markup.contains("<use href=\"#k-late\" x=\"317\" y=\"18\"/>"));
    assert!(!markup.contains("class=\"la\""), "nothing holds it, so nothing runs on from now");
    assert_eq!(
        words(&line),
        "Opened after G-33. E-34.1 part done. E-35.2 part done. E-36.2 not completed, another \
         approach. Needed by G-37, in danger."
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
            Mark::on(&columns, "E-35.3", MarkKind::Deferral, Height::Kept).unwrap(),
            on(&columns, "E-37.2", MarkKind::Pencilled, 1),
        ],
    );
    line.needed_by =
        Some(NeededBy { by: "G-38".into(), at: after(&columns, "G-38"), in_danger: false });
    let markup = row(&line);
    assert!(
        markup.contains(
            "d=\"M84 22.5v9M84 27H94.25M103.75 27H149.25M158.75 27H197.5a6 6 0 0 1 12 0H270\""
        ),
        "{markup}"
    );
    assert!(markup.contains("<path class=\"la\" d=\"M270 27H272L276 18H292\"/>"), "{markup}");
    assert!(markup.contains("<use href=\"#k-pen\" x=\"298\" y=\"18\"/>"));
    assert!(markup.contains("<use href=\"#k-need\" x=\"361\" y=\"18\"/>"));
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
    let markup = row(&first);
    assert!(
        markup.contains(
            "d=\"M0 27H48.83M53.83 27H116.25M125.75 27H172.17L176.17 18H222.58M232.08 18H270\""
        ),
        "{markup}"
    );
    assert!(markup.contains("<path class=\"la\" d=\"M270 18H277.33\"/>"), "{markup}");
    let second = line(
        &columns,
        Where::Earlier,
        vec![
            on(&columns, "E-33.2", MarkKind::NotReached, 0),
            on(&columns, "E-37.1", MarkKind::Set, 1),
        ],
    );
    assert!(row(&second).contains("<path class=\"la\" d=\"M270 27H271.67L275.67 18H277.33\"/>"));
}

#[test]
fn a_done_task_ends_at_its_square() {
    let columns = skerry();
    let markup = row(&line(
        &columns,
        after(&columns, "G-31"),
        vec![on(&columns, "E-32.2", MarkKind::Done, 0)],
    ));
    // E-32.2 of three stands at 66; the square is 5.25 to either side.
    assert!(markup.contains("d=\"M40 22.5v9M40 27H60.75\""), "{markup}");
    assert!(markup.contains("<use href=\"#k-done\" x=\"66\" y=\"27\"/>"));
    assert!(!markup.contains("H270"));
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
    let markup = row(&line);
    assert!(markup.contains("M128 22.5v9M128 27H270"), "{markup}");
    assert!(words(&line).contains("Reopened after G-33."));
}

#[test]
fn a_share_fills_the_square_from_the_bottom() {
    let columns = skerry();
    let markup = row(&line(
        &columns,
        Where::Earlier,
        vec![on(&columns, "E-33.1", MarkKind::PartDone(Some(Share(40))), 0)],
    ));
    // 9.5 × 0.6 = 5.7 high, from 4.75 − 5.7 = −0.95 down to the bottom edge.
    assert!(markup.contains("d=\"M-4.75 -0.95h9.5v5.7h-9.5z\""), "{markup}");
}

#[test]
fn parked_and_dropped_end_the_line_each_in_its_way() {
    let columns = skerry();
    let at = after(&columns, "G-35");
    let parked = row(&line(&columns, Where::Earlier, vec![Mark::between(at, MarkKind::Parked)]));
    assert!(parked.contains("class=\"ln\" d=\"M0 27H216\""), "{parked}");
    assert!(parked.contains("class=\"kf\" d=\"M210 31.5h12v2.75h-12z\""), "{parked}");
    let dropped = row(&line(&columns, Where::Earlier, vec![Mark::between(at, MarkKind::Dropped)]));
    assert!(dropped.contains("d=\"M0 27H216M216 21v12\"/>"), "{dropped}");
}

#[test]
fn a_fourth_approach_is_numbered_and_an_unrecorded_one_is_labelled() {
    let columns = skerry();
    let all: Vec<Mark> = ["E-31.1", "E-32.1", "E-33.1", "E-34.1"]
        .into_iter()
        .enumerate()
        .map(|(index, code)| on(&columns, code, MarkKind::NotCompleted, index))
        .collect();
    let markup = row(&line(&columns, Where::Earlier, all));
    assert!(markup.contains(">4</text>"), "{markup}");
    assert_eq!(markup.matches("y=\"9\"/>").count(), 2, "the third and fourth share a height");

    let unknown = Mark::on(&columns, "E-33.1", MarkKind::NotCompleted, Height::Unrecorded).unwrap();
    let known = on(&columns, "E-34.1", MarkKind::NotCompleted, 0);
    let mixed = line(&columns, Where::Earlier, vec![unknown, known]);
    let markup = row(&mixed);
    assert!(markup.contains("<use href=\"#k-not\" x=\"99\" y=\"18\"/>"), "{markup}");
    assert!(markup.contains(">?</text>"));
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
    let markup = row(&back);
    assert_eq!(markup.matches("#k-not").count(), 3);
    assert_eq!(markup.matches("y=\"27\"").count(), 2);
    assert!(words(&back).contains("E-35.1 not completed, an earlier approach again."));
}

#[test]
fn several_attempts_on_one_excursion_stand_side_by_side() {
    let columns = skerry();
    let markup = row(&line(
        &columns,
        Where::Earlier,
        vec![
            on(&columns, "E-33.1", MarkKind::NotCompleted, 0),
            on(&columns, "E-33.1", MarkKind::Done, 0),
        ],
    ));
    assert!(markup.contains("<use href=\"#k-not\" x=\"93.5\""), "{markup}");
    assert!(markup.contains("<use href=\"#k-done\" x=\"104.5\""), "{markup}");
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
            Mark::on(&columns, "E-8.1", MarkKind::Deferral, Height::Kept).unwrap(),
        ],
    );
    let markup = row(&old);
    assert!(markup.contains(">+2</text>"));
    assert!(markup.contains("d=\"M0 18H"), "it keeps the height of the last approach: {markup}");
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
    assert!(row(&set).contains("<path class=\"la\" d=\"M270 27H408\"/>"));
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
            Mark::on(&columns, "E-35.3", MarkKind::Deferral, Height::Kept).unwrap(),
            on(&columns, "E-37.2", MarkKind::Pencilled, 1),
        ],
    );
    line.needed_by =
        Some(NeededBy { by: "G-38".into(), at: after(&columns, "G-38"), in_danger: false });
    let rows = [
        approach("from nadir", "lever grip, K-LEVER rev 2"),
        approach("from starboard", "lever grip, K-LEVER rev 3"),
        approach("from forward", "no technique cleared"),
    ];
    let drawing = large(&line, &rows, "big");
    let markup = drawing.as_str();
    for piece in [
        "viewBox=\"0 0 1168 212\"",
        "d=\"M384 141v18M384 150H405M424 150H537.5M556.5 150H654.25a12 12 0 0 1 24 0H829\"",
        "class=\"la\" d=\"M829 150H835L839 106H887\"/>",
        "<use href=\"#k-not\" transform=\"translate(414.5 150) scale(2)\"/>",
        "<use href=\"#k-pen\" transform=\"translate(899 106) scale(2)\"/>",
        "<use href=\"#k-need\" transform=\"translate(1052 106) scale(2)\"/>",
        "<text class=\"t11 t2 end\" x=\"376\" y=\"138\">opened</text>",
        "<text class=\"mid t11 t2\" x=\"414.5\" y=\"206\">not completed, 0:47</text>",
        "<text class=\"t13 tb\" x=\"0\" y=\"105\">from starboard</text>",
        "<text class=\"t11 t2 end\" x=\"1042\" y=\"140\">needed by</text>",
    ] {
        assert!(markup.contains(piece), "{piece} is missing in {markup}");
    }
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
    let drawing = large(&line, &[], "big");
    let height = |code: &str| {
        let (before, _) = drawing.as_str().split_once(&format!(">{code}</text>")).unwrap();
        before.rsplit("y=\"").next().unwrap().trim_end_matches('"').to_owned()
    };
    assert_ne!(height("E-35.1"), height("E-35.2"));
    assert_ne!(height("E-35.2"), height("E-35.3"));
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
    assert_eq!(words(&folded).matches("E-33.1 not completed").count(), 18);

    let mut marks: Vec<Mark> =
        (0..130).map(|_| on(&columns, "E-33.1", MarkKind::NotCompleted, 0)).collect();
    fold_earlier(&mut marks);
    let told = words(&line(&columns, Where::Earlier, marks));
    assert!(told.contains("106 earlier events.") && told.len() < 1_000, "{told}");

    let mut few = vec![on(&columns, "E-33.1", MarkKind::Done, 0); 12];
    fold_earlier(&mut few);
    assert!(few.iter().all(|mark| mark.at != Where::Earlier));
}
