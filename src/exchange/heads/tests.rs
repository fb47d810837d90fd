use super::*;
use domain::attempts::Attempt;
use domain::constraints::Constraint;
use domain::declines::Decline;
use domain::endings::{Closure, Deferral, Parking, Reopening};
use domain::excursions::{Excursion, ExcursionTool};
use domain::families::{Family, Unit};
use domain::findings::{Cause, Exemption, Finding, Remedy};
use domain::flights::Flight;
use domain::outside::OutsideItem;
use domain::records::Record;
use domain::revisions::Revision;
use domain::slots::Slot;
use domain::tasks::{Link, Task};
use domain::techniques::{Rehearsal, Technique};
use domain::tools::Tool;
use domain::worksites::{Position, Route, Worksite};

/// Every record that a table can bring in.
const RECORDS: [&[Column]; 27] = [
    Attempt::COLUMNS,
    Cause::COLUMNS,
    Closure::COLUMNS,
    Constraint::COLUMNS,
    Decline::COLUMNS,
    Deferral::COLUMNS,
    Excursion::COLUMNS,
    ExcursionTool::COLUMNS,
    Exemption::COLUMNS,
    Family::COLUMNS,
    Finding::COLUMNS,
    Flight::COLUMNS,
    Link::COLUMNS,
    OutsideItem::COLUMNS,
    Parking::COLUMNS,
    Position::COLUMNS,
    Rehearsal::COLUMNS,
    Remedy::COLUMNS,
    Reopening::COLUMNS,
    Revision::COLUMNS,
    Route::COLUMNS,
    Slot::COLUMNS,
    Task::COLUMNS,
    Technique::COLUMNS,
    Tool::COLUMNS,
    Unit::COLUMNS,
    Worksite::COLUMNS,
];

fn heads(heads: &[&str]) -> Vec<String> {
    heads.iter().map(|head| (*head).to_owned()).collect()
}

fn pairs(pairs: &[(&str, &str)]) -> Vec<(String, String)> {
    pairs.iter().map(|(theirs, ours)| ((*theirs).to_owned(), (*ours).to_owned())).collect()
}

fn row(cells: &[&str]) -> Row {
    Row { line: 2, cells: heads(cells) }
}

#[test]
fn name_label_and_other_heads_match_whatever_their_spelling() {
    let heads =
        heads(&["EVA #", "MISSION", "Date", "LIMIT-minutes", "actual  Duration, h:mm", "Crew"]);

    let mapping = mapping(&heads, Excursion::COLUMNS, &[]).unwrap();

    let cells = mapping.cells(&row(&["12", "G-31", "2031-03-18", "420", "6:45", "EV1"]));
    let expected = [
        ("number", "12"),
        ("flight", "G-31"),
        ("day", "2031-03-18"),
        ("limit", "420"),
        ("actual", "6:45"),
        ("seats", "EV1"),
    ];
    for (name, text) in expected {
        assert_eq!(cells.get(name), text, "{name}");
    }
    assert_eq!(mapping.unknown, Vec::<String>::new());
    assert_eq!(mapping.head("number", &heads), Some("EVA #"));
    assert!(!cells.has("code"), "a column the table does not hold is not set to empty");
}

#[test]
fn unknown_heads_are_listed_and_their_cells_left_out() {
    let heads = heads(&["Country", "Date", "Weather"]);

    let mapping = mapping(&heads, Excursion::COLUMNS, &[]).unwrap();

    assert_eq!(mapping.unknown, ["Country", "Weather"]);
    assert_eq!(mapping.cells(&row(&["x", "2031-03-18", "y"])).iter().count(), 1);
}

#[test]
fn columns_that_must_hold_something_and_have_no_head_are_listed() {
    let mapping = mapping(&heads(&["Code", "Technique"]), Attempt::COLUMNS, &[]).unwrap();

    assert_eq!(mapping.missing, ["task", "excursion", "outcome"]);
}

#[test]
fn a_pair_given_by_hand_wins_and_its_rival_is_listed() {
    let heads = heads(&["Purpose", "What = done", "Date"]);
    let by_hand = pairs(&[("what  = DONE", "notes")]);

    let mapping = mapping(&heads, Excursion::COLUMNS, &by_hand).unwrap();

    assert_eq!(mapping.cells(&row(&["a", "b", "c"])).get("notes"), "b");
    assert_eq!(mapping.unknown, ["Purpose"]);
}

#[test]
fn a_head_can_be_left_out_by_hand() {
    let two = heads(&["Purpose", "Remarks"]);

    let mapping = mapping(&two, Excursion::COLUMNS, &pairs(&[("Purpose", "")])).unwrap();

    assert_eq!(mapping.cells(&row(&["a", "b"])).get("notes"), "b");
}

#[test]
fn two_heads_for_one_column_are_an_error_that_names_both() {
    let error = mapping(&heads(&["Purpose", "Date", "Remarks"]), Excursion::COLUMNS, &[]);

    let error = error.unwrap_err();
    assert_eq!(
        error,
        MappingError::TwoHeads {
            first: "Purpose".to_owned(),
            second: "Remarks".to_owned(),
            column: "notes"
        }
    );
    assert!(error.to_string().contains("“Purpose”") && error.to_string().contains("“Remarks”"));

    let by_hand = pairs(&[("Purpose", "notes"), ("Country", "notes")]);
    let both = mapping(&heads(&["Purpose", "Country"]), Excursion::COLUMNS, &by_hand);
    assert!(matches!(both, Err(MappingError::TwoHeads { column: "notes", .. })));
}

#[test]
fn a_pair_that_names_nothing_is_an_error_that_lists_what_exists() {
    let heads = heads(&["Purpose", "Date"]);

    let no_head = mapping(&heads, Excursion::COLUMNS, &pairs(&[("Purpos", "notes")])).unwrap_err();
    assert!(
        no_head.to_string().contains("“Purpos”") && no_head.to_string().contains("Purpose, Date")
    );

    let no_column =
        mapping(&heads, Excursion::COLUMNS, &pairs(&[("Purpose", "note")])).unwrap_err();
    assert!(
        no_column.to_string().contains("“note”")
            && no_column.to_string().contains("ended_early, notes")
    );

    let two = pairs(&[("Purpose", "notes"), ("Purpose", "ended_early")]);
    let two = mapping(&heads, Excursion::COLUMNS, &two).unwrap_err();
    assert!(matches!(two, MappingError::TwoColumns { first: "notes", second: "ended_early", .. }));
}

#[test]
fn a_table_of_something_else_is_an_error() {
    let error = mapping(&heads(&["Colour", "Price"]), Task::COLUMNS, &[]).unwrap_err();

    assert!(error.to_string().starts_with("No head stands for any column."), "{error}");
}

#[test]
fn a_pair_is_split_at_its_last_equals_sign() {
    assert_eq!(by_hand("a = b=notes"), Ok(("a = b".to_owned(), "notes".to_owned())));
    assert_eq!(by_hand("Country="), Ok(("Country".to_owned(), String::new())));
    assert!(by_hand("notes").unwrap_err().contains("THEIRS=OURS"));
    assert!(by_hand("=notes").unwrap_err().contains("THEIRS=OURS"));
}

#[test]
fn a_table_headed_by_our_own_names_or_labels_fills_every_column() {
    for columns in RECORDS {
        for heads in [
            columns.iter().map(|column| column.name.to_owned()).collect::<Vec<_>>(),
            columns.iter().map(|column| column.label.to_owned()).collect::<Vec<_>>(),
        ] {
            let mapping = mapping(&heads, columns, &[]).unwrap();

            let in_order: Vec<_> = columns.iter().map(|column| Some(column.name)).collect();
            assert_eq!(mapping.columns, in_order);
        }
    }
}

#[test]
fn no_two_columns_of_a_record_answer_to_the_same_other_head() {
    for columns in RECORDS {
        for column in columns {
            for also in column.also {
                assert_eq!(matching(also, columns), Some(column.name), "{also}");
            }
        }
    }
}
