//! A public table of real excursions, where it is at hand, read as the import reads it.

use std::collections::HashSet;

use crate::days::{DateOrder, Reading, read_day};
use crate::heads::mapping;
use crate::same_rows::RowKeys;
use crate::table;
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::records::Record;

/// The table says nowhere how it writes a date; with the month first every one is a day.
const MONTH_FIRST: Reading = Reading { first_of_range: false, order: Some(DateOrder::MonthFirst) };

fn historical() -> Option<Vec<u8>> {
    let Some(folder) = std::env::var_os("HOLDOVER_PUBLIC_TABLES") else {
        eprintln!("skipped: HOLDOVER_PUBLIC_TABLES names no folder of public tables");
        return None;
    };
    let file = std::path::Path::new(&folder).join("excursions-historical.csv");
    let bytes = std::fs::read(&file);
    if bytes.is_err() {
        eprintln!("skipped: {} is absent", file.display());
    }
    bytes.ok()
}

// Source: NASA open data, “Extra-vehicular Activity (EVA) - US and Russia”, as of 2013: 355 rows,
// 40 without a date, 1 without a duration, 6 of 0:00, 4 without a number, 1 without a vehicle,
// 4 without a purpose (counted apart from this reader).
#[test]
fn a_public_table_of_excursions_is_read_whole() {
    let Some(bytes) = historical() else { return };

    let table = table::read(&bytes).unwrap();
    let heads = mapping(&table.heads, Excursion::COLUMNS, &[]).unwrap();

    assert_eq!(table.rows.len(), 355);
    assert_eq!(table.bad, []);
    assert_eq!(heads.unknown, ["Country"]);
    assert_eq!(heads.missing, Vec::<&str>::new());
    let excursions: Vec<Excursion> = table
        .rows
        .iter()
        .map(|row| {
            let mut cells = heads.cells(row);
            if !cells.get("day").is_empty() {
                let day = read_day(cells.get("day"), MONTH_FIRST).unwrap();
                cells.set("day", day.to_string());
            }
            Excursion::parse(&cells).unwrap_or_else(|wrong| panic!("line {}: {wrong:?}", row.line))
        })
        .collect();
    let count = |holds: &dyn Fn(&Excursion) -> bool| excursions.iter().filter(|e| holds(e)).count();
    assert_eq!(count(&|e| e.day.is_none()), 40);
    assert_eq!(count(&|e| e.actual.is_none()), 1);
    assert_eq!(count(&|e| e.actual.is_some_and(|minutes| minutes.0 == 0)), 6);
    assert_eq!(count(&|e| e.number.is_none()), 4);
    assert_eq!(count(&|e| e.flight.is_none()), 1);
    assert_eq!(count(&|e| e.notes.is_empty()), 4);
    assert_eq!(count(&|e| e.seats.is_empty()), 0);
}

#[test]
fn the_rows_of_a_public_table_are_known_again_in_any_order_of_columns() {
    let Some(bytes) = historical() else { return };
    let keys = |by_hand: &[(String, String)]| {
        let table = table::read(&bytes).unwrap();
        let heads = mapping(&table.heads, Excursion::COLUMNS, by_hand).unwrap();
        let mut keys = RowKeys::new(Kind::Excursion);
        table.rows.iter().map(|row| keys.next(&heads.cells(row))).collect::<Vec<_>>()
    };

    let first = keys(&[]);

    assert_eq!(first.iter().collect::<HashSet<_>>().len(), 355);
    assert_eq!(first, keys(&[("Purpose".to_owned(), "notes".to_owned())]));
}
