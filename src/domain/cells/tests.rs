use proptest::prelude::*;

use super::*;
use crate::codes::{FlightCode, Own, TaskCode};
use crate::quantities::Measured;
use crate::seats::Seats;
use crate::sides::Side;
use crate::time::{Day, Moment};
use crate::units::{
    Degrees, Kilograms, Kilometres, Litres, MapPlace, Minutes, PeriodMinutes, Pet, Share, Window,
};
use crate::words::{Outcome, PriorityClass};

/// What every cell promises: text gives a value that its own text gives again, or a sentence.
fn keeps_its_promise<T: Cell + PartialEq + std::fmt::Debug>(
    text: &str,
) -> Result<(), TestCaseError> {
    match T::read(text) {
        Ok(value) => {
            let shown = value.show();
            if !shown.is_empty() {
                prop_assert_eq!(T::read(&shown), Ok(value), "{:?} shows as {:?}", text, shown);
            }
        }
        Err(message) => prop_assert!(
            message.ends_with('.') && message.chars().count() > 15,
            "{:?}: {:?} is no sentence",
            text,
            message
        ),
    }
    Ok(())
}

fn every_cell_keeps_its_promise(text: &str) -> Result<(), TestCaseError> {
    keeps_its_promise::<bool>(text)?;
    keeps_its_promise::<i64>(text)?;
    keeps_its_promise::<f64>(text)?;
    keeps_its_promise::<Line>(text)?;
    keeps_its_promise::<Prose>(text)?;
    keeps_its_promise::<Minutes>(text)?;
    keeps_its_promise::<Pet>(text)?;
    keeps_its_promise::<Share>(text)?;
    keeps_its_promise::<Kilograms>(text)?;
    keeps_its_promise::<Litres>(text)?;
    keeps_its_promise::<Kilometres>(text)?;
    keeps_its_promise::<Degrees>(text)?;
    keeps_its_promise::<PeriodMinutes>(text)?;
    keeps_its_promise::<MapPlace>(text)?;
    keeps_its_promise::<Window>(text)?;
    keeps_its_promise::<Day>(text)?;
    keeps_its_promise::<Moment>(text)?;
    keeps_its_promise::<Seats>(text)?;
    keeps_its_promise::<Side>(text)?;
    keeps_its_promise::<TaskCode>(text)?;
    keeps_its_promise::<Own<FlightCode>>(text)?;
    keeps_its_promise::<Outcome>(text)?;
    keeps_its_promise::<PriorityClass>(text)?;
    keeps_its_promise::<Measured>(text)?;
    keeps_its_promise::<List<Measured>>(text)?;
    keeps_its_promise::<List<Window>>(text)?;
    keeps_its_promise::<List<Side>>(text)?;
    keeps_its_promise::<List<TaskCode>>(text)?;
    keeps_its_promise::<Option<Side>>(text)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1_000))]

    #[test]
    fn any_text_gives_a_value_or_a_sentence(text in "\\PC{0,40}") {
        every_cell_keeps_its_promise(&text)?;
    }

    #[test]
    fn text_that_nearly_is_a_value_gives_one_or_a_sentence(
        text in "([0-9]{1,5}|[-–:;,./ %+°\t\n\r\0]|h|min|kg|EV|nadir|aft|T|Z|N|é|ſ|İ|\u{a0}|\u{200b}){0,9}",
    ) {
        every_cell_keeps_its_promise(&text)?;
    }
}

fn taken<T: Cell>(text: &str) -> (Option<T>, Vec<String>) {
    let cells: Cells = [("field".to_owned(), text.to_owned())].into_iter().collect();
    let mut wrong = Vec::new();
    let value = cells.take("field", &mut wrong);
    (value, wrong.into_iter().map(|error| error.message).collect())
}

#[test]
fn an_empty_cell_is_an_error_only_where_a_value_is_needed() {
    let (value, wrong) = taken::<i64>(" \u{a0} ");
    assert_eq!(
        (value, wrong.as_slice()),
        (None, &["Fill this in; it cannot stay empty.".to_owned()][..])
    );

    assert_eq!(taken::<Option<i64>>(""), (Some(None), vec![]));
    assert_eq!(taken::<List<Side>>(" "), (Some(List::default()), vec![]));
    assert_eq!(taken::<Prose>(""), (Some(Prose::default()), vec![]));
    assert_eq!(taken::<bool>(""), (Some(false), vec![]));
    assert_eq!(taken::<Own<TaskCode>>(""), (Some(Own(TaskCode::default())), vec![]));
}

#[test]
fn a_cell_that_is_not_there_reads_as_an_empty_one() {
    let mut wrong = Vec::new();

    assert_eq!(Cells::default().take::<Option<Day>>("day", &mut wrong), Some(None));
    assert_eq!(Cells::default().take::<Day>("day", &mut wrong), None);
    assert_eq!(wrong[0].field, "day");
}

#[test]
fn yes_and_no_are_read_in_the_ways_people_mark_them() {
    for yes in ["yes", "Y", "TRUE", "1", "x", "on"] {
        assert_eq!(bool::read(yes), Ok(true));
    }
    for no in ["no", "N", "false", "0", "off"] {
        assert_eq!(bool::read(no), Ok(false));
    }
    assert!(bool::read("maybe").unwrap_err().contains("neither yes nor no"));
}

#[test]
fn a_decimal_comma_is_read_and_a_comma_that_could_be_thousands_is_not() {
    assert_eq!(f64::read("1,5"), Ok(1.5));
    assert_eq!(f64::read("-0,125"), Ok(-0.125));
    assert_eq!(f64::read("1200"), Ok(1_200.0));
    assert!(f64::read("1,200").unwrap_err().contains("thousands"));
    for text in ["nan", "inf", "1e999", "1,2,3", "12 kg", "0x10"] {
        assert!(f64::read(text).is_err(), "{text}");
    }
}

#[test]
fn a_line_is_folded_and_ends_at_300_characters() {
    assert_eq!(
        Line::read(" the\u{a0} left \r\n latch\u{7}\0 ").unwrap().as_str(),
        "the left latch"
    );
    assert!(Line::read(&"ü".repeat(300)).is_ok());
    let message = Line::read(&"ü".repeat(301)).unwrap_err();
    assert!(message.contains("301") && message.contains("300"), "{message}");
}

#[test]
fn prose_keeps_its_lines_and_ends_at_20_000_characters() {
    assert_eq!(Prose::read("\r\n a\r\n\r\n  b\rc\u{0}\td \n").unwrap().as_str(), "a\n\n  b\nc\td");
    assert!(Prose::read(&"ü".repeat(20_000)).is_ok());
    assert!(Prose::read(&"ü".repeat(20_001)).unwrap_err().contains("20001"));
}

#[test]
fn a_list_takes_commas_semicolons_and_lines_and_leaves_out_the_gaps() {
    let codes = List::<TaskCode>::read("T-1, T-2;;T-3\n,T-4;").unwrap();
    assert_eq!(codes.show(), "T-1, T-2, T-3, T-4");

    let wrong = List::<Side>::read("nadir, left").unwrap_err();
    assert!(wrong.contains("“left”"), "{wrong}");
}
