//! Codes: each given once, each one that is named there.

use std::collections::{BTreeMap, BTreeSet};

use super::{all, rows};
use crate::columns;
use crate::tables::TABLES;
use domain::cells::Input;
use domain::families::Unit;
use domain::kinds::Kind;
use domain::records::Record;
use domain::tasks::Task;
use domain::worksites::Position;

fn named(input: &Input) -> Option<Kind> {
    match input {
        Input::Code(kind) => Some(*kind),
        Input::Several(inner) => named(inner),
        _ => None,
    }
}

#[test]
fn every_column_of_a_table_is_one_of_its_record() {
    for (kind, _) in TABLES {
        for (name, _) in rows(*kind)[0].iter() {
            assert!(columns(*kind).iter().any(|column| column.name == name), "{kind}: {name}");
        }
    }
}

#[test]
fn every_kind_that_can_be_imported_has_its_table() {
    let there: BTreeSet<Kind> = TABLES.iter().map(|(kind, _)| *kind).collect();
    assert_eq!(there, Kind::IMPORTED.iter().copied().collect());
}

#[test]
fn codes_are_unique_and_begin_as_their_kind_does() {
    for kind in there() {
        let mut seen = BTreeSet::new();
        for cells in rows(kind) {
            let code = cells.get("code").to_owned();
            assert!(!code.is_empty(), "{kind}: {cells:?}");
            // A unit stands once for each of its stays.
            let key =
                (code.clone(), (kind == Kind::Unit).then(|| cells.get("position").to_owned()));
            assert!(seen.insert(key), "{kind} {code} stands twice");
            let named_in_words =
                matches!(kind, Kind::Position | Kind::Cause | Kind::Excursion | Kind::Revision);
            assert!(named_in_words || code.starts_with(kind.prefix()), "{kind} {code}");
        }
    }
}

#[test]
fn every_code_that_is_named_is_there() {
    let mut codes: BTreeMap<Kind, BTreeSet<String>> = BTreeMap::new();
    for kind in there() {
        codes.insert(kind, rows(kind).iter().map(|cells| cells.get("code").to_owned()).collect());
    }
    for kind in there() {
        for cells in rows(kind) {
            for column in columns(kind).iter().filter(|column| column.name != "code") {
                let Some(other) = named(&column.input) else { continue };
                for code in
                    cells.get(column.name).split(',').map(str::trim).filter(|c| !c.is_empty())
                {
                    let known = codes[&other].contains(code);
                    assert!(known, "{kind} {}: no {other} {code}", cells.get("code"));
                }
            }
        }
    }
}

#[test]
fn every_record_comes_back_from_its_own_cells() {
    for task in all::<Task>() {
        assert_eq!(Task::parse(&task.cells()).unwrap(), task);
    }
}

#[test]
fn a_task_stands_where_its_position_is_and_no_place_holds_two_units_at_once() {
    let sites: BTreeMap<String, Position> =
        all::<Position>().into_iter().map(|p| (p.code().to_owned(), p)).collect();
    for task in all::<Task>() {
        if let Some(position) = &task.position {
            assert_eq!(sites[position.as_str()].worksite, task.worksite, "{}", task.code());
        }
    }
    let units = all::<Unit>();
    for (index, one) in units.iter().enumerate() {
        for other in units[index + 1..].iter().filter(|other| other.position == one.position) {
            let apart =
                one.until_day.zip(other.from_day).is_some_and(|(until, from)| until <= from)
                    || other.until_day.zip(one.from_day).is_some_and(|(until, from)| until <= from);
            assert!(apart, "{} and {} stand in one place", one.code(), other.code());
        }
    }
}

fn there() -> BTreeSet<Kind> {
    TABLES.iter().map(|(kind, _)| *kind).collect()
}

#[test]
fn the_guide_names_only_records_that_are_there() {
    let guide = include_str!("../../../docs/demo.md");
    let codes: BTreeSet<String> = there()
        .into_iter()
        .flat_map(|kind| {
            rows(kind).iter().map(|cells| cells.get("code").to_owned()).collect::<Vec<_>>()
        })
        .collect();
    let is_code = |word: &&str| {
        let (letter, rest) = word.split_once('-').unwrap_or_default();
        letter.len() == 1 && rest.starts_with(|c: char| c.is_ascii_digit())
    };
    let words = guide.split(|c: char| !c.is_alphanumeric() && c != '-' && c != '.');
    let named: Vec<&str> = words.map(|word| word.trim_end_matches('.')).filter(is_code).collect();
    assert!(named.len() > 80, "{}", named.len());
    for code in named.into_iter().filter(|code| !code.starts_with("C-")) {
        assert!(codes.contains(code), "docs/demo.md names {code}");
    }
}
