//! The list of the verification standard is whole, and the tests that it names are there.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

const LIST: &str = include_str!("../../docs/asvs.md");

/// How many items of levels 1 and 2 each section has.
// Source: OWASP Application Security Verification Standard 5.0.0, levels 1 and 2, 2025.
const SECTIONS: [(&str, usize); 69] = [
    ("1.1", 2),
    ("1.2", 9),
    ("1.3", 11),
    ("1.4", 3),
    ("1.5", 2),
    ("2.1", 3),
    ("2.2", 3),
    ("2.3", 4),
    ("2.4", 1),
    ("3.2", 2),
    ("3.3", 4),
    ("3.4", 6),
    ("3.5", 5),
    ("3.7", 2),
    ("4.1", 3),
    ("4.2", 1),
    ("4.3", 2),
    ("4.4", 4),
    ("5.1", 1),
    ("5.2", 3),
    ("5.3", 2),
    ("5.4", 3),
    ("6.1", 3),
    ("6.2", 12),
    ("6.3", 4),
    ("6.4", 4),
    ("6.5", 5),
    ("6.6", 3),
    ("6.8", 4),
    ("7.1", 3),
    ("7.2", 4),
    ("7.3", 2),
    ("7.4", 5),
    ("7.5", 2),
    ("7.6", 2),
    ("8.1", 2),
    ("8.2", 3),
    ("8.3", 1),
    ("8.4", 1),
    ("9.1", 3),
    ("9.2", 4),
    ("10.1", 2),
    ("10.2", 2),
    ("10.3", 4),
    ("10.4", 11),
    ("10.5", 5),
    ("10.6", 2),
    ("10.7", 3),
    ("11.1", 2),
    ("11.2", 3),
    ("11.3", 3),
    ("11.4", 4),
    ("11.5", 1),
    ("11.6", 1),
    ("12.1", 3),
    ("12.2", 2),
    ("12.3", 4),
    ("13.1", 1),
    ("13.2", 5),
    ("13.3", 2),
    ("13.4", 5),
    ("14.1", 2),
    ("14.2", 4),
    ("14.3", 3),
    ("15.1", 3),
    ("15.2", 3),
    ("15.3", 7),
    ("16.1", 1),
    ("16.2", 5),
];
const REST: [(&str, usize); 6] =
    [("16.3", 4), ("16.4", 3), ("16.5", 3), ("17.1", 1), ("17.2", 4), ("17.3", 2)];

/// The cells of each row: item, what it asks for, state, how, test.
fn rows() -> Vec<Vec<&'static str>> {
    LIST.lines()
        .filter(|line| line.starts_with("| ") && line.as_bytes()[2].is_ascii_digit())
        .map(|line| line.trim_matches('|').split('|').map(str::trim).collect())
        .collect()
}

#[test]
fn every_item_of_levels_one_and_two_stands_there_once() {
    let sections = SECTIONS.iter().chain(&REST);
    let expected: BTreeSet<String> = sections
        .flat_map(|(section, items)| (1..=*items).map(move |item| format!("{section}.{item}")))
        .collect();
    assert_eq!(expected.len(), 253);
    let rows = rows();
    let listed: BTreeSet<String> = rows.iter().map(|row| row[0].to_owned()).collect();
    assert_eq!(rows.len(), listed.len(), "an item stands there twice");
    assert_eq!(listed, expected);
    for state in ["met", "partly", "not met", "not applicable"] {
        let count = rows.iter().filter(|row| row[2] == state).count();
        let said = LIST.to_lowercase();
        assert!(said.contains(&format!("{state} {count}")), "{state} {count}");
    }
    for row in rows {
        assert!(row.len() == 5 && !row[3].is_empty(), "{row:?}");
    }
}

fn read(folder: &Path, text: &mut String) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            if !path.ends_with("node_modules") {
                read(&path, text);
            }
        } else if path.extension().is_some_and(|end| end == "rs" || end == "mjs") {
            text.push_str(&fs::read_to_string(path).unwrap());
        }
    }
}

#[test]
fn every_test_that_the_list_names_is_there() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut code = String::new();
    read(&root.join("src"), &mut code);
    read(&root.join("tests"), &mut code);
    let mut named = 0;
    for row in rows() {
        for test in row[4].split('`').skip(1).step_by(2) {
            let test = test.trim_start_matches("browser: ");
            let there = match test.rsplit_once("::") {
                Some((_, name)) => code.contains(&format!("fn {name}(")),
                None => code.contains(&format!("test(\"{test}\"")),
            };
            assert!(there, "{} names the test {test}, which is not there", row[0]);
            named += 1;
        }
    }
    assert!(named > 100, "{named}");
}
