//! Holds docs/rules.md, docs/sources.md and docs/page-data.md against the tree: what they name is
//! there, and what the tree holds of it is named there.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

const RULES: &str = include_str!("../../docs/rules.md");
const SOURCES: &str = include_str!("../../docs/sources.md");
const PAGE_DATA: &str = include_str!("../../docs/page-data.md");

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// What stands between backticks.
fn named(text: &str) -> impl Iterator<Item = &str> {
    text.split('`').skip(1).step_by(2)
}

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let end = path.extension().and_then(|end| end.to_str());
        if path.is_dir() {
            if !path.ends_with("node_modules") {
                files(&path, found);
            }
        } else if matches!(end, Some("rs" | "mjs" | "py" | "js" | "css" | "html")) {
            found.push(path);
        }
    }
}

fn code() -> Vec<(String, String)> {
    let mut found = Vec::new();
    for folder in ["src", "static", "templates", "tests"] {
        files(&root().join(folder), &mut found);
    }
    let read = |path: PathBuf| {
        let name = path.strip_prefix(root()).unwrap().to_str().unwrap().to_owned();
        (name, fs::read_to_string(path).unwrap())
    };
    found.into_iter().map(read).collect()
}

#[test]
fn every_rule_names_modules_and_tests_that_are_there() {
    let code: String = code().into_iter().map(|(_, text)| text).collect();
    let rows: Vec<&str> =
        RULES.lines().filter(|line| line.starts_with("| ") && line.contains('`')).collect();
    assert!(rows.len() > 30, "{}", rows.len());
    for row in rows {
        let cells: Vec<&str> = row.trim_matches('|').split(" | ").collect();
        let [number, _, modules, tests] = cells[..] else { panic!("{row}") };
        for module in named(modules) {
            assert!(root().join("src").join(module).is_file(), "{number}: no file src/{module}");
        }
        for test in named(tests) {
            assert!(code.contains(&format!("fn {test}(")), "{number}: no test {test}");
        }
        assert!(named(modules).count() > 0 && named(tests).count() > 0, "{row}");
    }
}

#[test]
fn every_source_is_named_in_the_document_and_every_file_that_it_names_cites_one() {
    let cites = |text: &str| {
        text.lines().any(|line| {
            let line = line.trim_start();
            line.contains("Source: ") && ["//", "#", "\"\"\""].iter().any(|c| line.starts_with(c))
        })
    };
    let code = code();
    let listed: BTreeSet<&str> = named(SOURCES).filter(|name| name.contains('/')).collect();
    for (file, text) in &code {
        assert!(
            !cites(text) || listed.contains(file.as_str()),
            "{file} cites a source; name it in docs/sources.md with title, section and year"
        );
    }
    for name in listed {
        let found = code.iter().find(|(file, _)| file == name);
        let (_, text) = found.unwrap_or_else(|| panic!("docs/sources.md names {name}"));
        // Scripts that make reference values name their library by importing it.
        assert!(cites(text) || name.starts_with("tests/reference/"), "{name} cites no source");
    }
}

/// The attributes that a text names as `data-…`, or reads as `dataset.…`.
fn attributes(text: &str) -> BTreeSet<String> {
    let word = |rest: &str| -> String {
        rest.chars().take_while(|c| c.is_ascii_lowercase() || *c == '-').collect()
    };
    let written = text.split("data-").skip(1).map(word);
    let read = text.split("dataset.").skip(1).map(|rest| {
        let name: String = rest.chars().take_while(char::is_ascii_alphabetic).collect();
        kebab(&name)
    });
    // `const { task, side } = offer.dataset`
    let taken = text.lines().filter(|line| line.contains("} = ") && line.contains(".dataset;"));
    let taken = taken.flat_map(|line| {
        let names = line.split('{').nth(1).and_then(|rest| rest.split('}').next()).unwrap_or("");
        names.split(',').map(|name| name.split(':').next().unwrap_or("").trim().to_owned())
    });
    let all = written.chain(read).chain(taken);
    all.map(|name| name.trim_end_matches('-').to_owned()).filter(|name| !name.is_empty()).collect()
}

/// `livePart` as it is written in a page: `live-part`.
fn kebab(name: &str) -> String {
    name.chars().fold(String::new(), |mut out, letter| {
        if letter.is_ascii_uppercase() {
            out.push('-');
        }
        out.push(letter.to_ascii_lowercase());
        out
    })
}

/// Without its tests: what only they write, no page has.
fn of_pages(file: &str, text: &str) -> Option<BTreeSet<String>> {
    let is_page = file.starts_with("templates/") || file.starts_with("src/web/");
    let text = text.split("#[cfg(test)]").next().unwrap_or_default();
    let lines = text.lines().filter(|line| !line.trim_start().starts_with("//"));
    (is_page && !file.ends_with("tests.rs"))
        .then(|| attributes(&lines.collect::<Vec<_>>().join("\n")))
}

#[test]
fn pages_and_scripts_keep_to_the_attributes_that_the_document_names() {
    let code = code();
    let written: BTreeSet<String> =
        code.iter().filter_map(|(file, text)| of_pages(file, text)).flatten().collect();
    let rows = PAGE_DATA.lines().filter(|line| line.starts_with("| `data-"));
    let rows: Vec<(String, BTreeSet<&str>)> = rows
        .map(|row| {
            let cells: Vec<&str> = row.trim_matches('|').split(" | ").collect();
            let name = named(cells[0]).next().unwrap().trim_start_matches("data-").to_owned();
            (name, named(cells[3]).collect())
        })
        .collect();
    let listed: BTreeSet<String> = rows.iter().map(|(name, _)| name.clone()).collect();
    assert_eq!(rows.len(), listed.len(), "an attribute stands there twice");
    assert_eq!(written, listed, "left: what pages write; right: what docs/page-data.md names");

    for (name, readers) in &rows {
        assert!(!readers.is_empty(), "nobody reads data-{name}; leave it out of the pages");
        for reader in readers {
            let is_read = code.iter().any(|(file, text)| {
                let is_reader =
                    if *reader == "tests" { file.contains("tests") } else { file == reader };
                is_reader && file != "tests/it/documents.rs" && attributes(text).contains(name)
            });
            assert!(is_read, "{reader} does not read data-{name}");
        }
    }
    let own = BTreeSet::from([("static/js/codes.js", "now")]);
    for (file, text) in code.iter().filter(|(file, _)| file.starts_with("static/")) {
        for name in attributes(text) {
            let there = rows
                .iter()
                .any(|(listed, readers)| *listed == name && readers.contains(file.as_str()));
            assert!(
                there || own.contains(&(file.as_str(), name.as_str())),
                "{file} reads data-{name}; name it in docs/page-data.md"
            );
        }
    }
}

const BOUNDS: &str = include_str!("../../src/domain/bounds.rs");
const OPERATIONS: &str = include_str!("../../docs/operations.md");

/// The value of a constant, a product of numbers: `25 * 1024 * 1024`.
fn product(written: &str) -> f64 {
    let factor = |part: &str| part.trim().replace('_', "").parse::<f64>();
    written.split('*').map(|part| factor(part).unwrap_or_else(|_| panic!("{written}"))).product()
}

/// How people write it: with commas, in words of size where it is a round one.
fn spellings(value: f64) -> Vec<String> {
    let mut digits: Vec<char> = format!("{value:.0}").chars().collect();
    for at in (1..digits.len())
        .rev()
        .filter(|at| (digits.len() - at).is_multiple_of(3))
        .collect::<Vec<_>>()
    {
        digits.insert(at, ',');
    }
    let round = |by: f64, unit: &str| {
        let of = value / by;
        (of >= 1.0 && of.fract() == 0.0).then(|| format!("{of:.0} {unit}"))
    };
    let sizes = [(1024.0, "KiB"), (1024.0 * 1024.0, "MB"), (1_000_000.0, "MB")];
    let named = sizes.into_iter().filter_map(|(by, unit)| round(by, unit));
    std::iter::once(digits.into_iter().collect()).chain(named).collect()
}

#[test]
fn every_bound_stands_in_the_table_of_the_operations() {
    let (_, table) = OPERATIONS.split_once("\n## Bounds\n").unwrap();
    let table = table.split("\n## ").next().unwrap();
    // Numbers stand alone: 40 is not found in 400.
    let alone = |text: &str| {
        table.match_indices(text).any(|(at, _)| {
            let before = table[..at].chars().next_back();
            let after = table[at + text.len()..].chars().next();
            !before.is_some_and(|c| c.is_ascii_digit() || c == ',')
                && !after.is_some_and(|c| c.is_ascii_digit())
        })
    };
    let mut checked = 0;
    for line in BOUNDS.lines().filter(|line| line.contains("const MAX_")) {
        let (head, value) = line.split_once('=').unwrap();
        let name = head.split("const ").nth(1).unwrap().split(':').next().unwrap();
        let spelled = spellings(product(value.trim_end_matches(';')));
        assert!(spelled.iter().any(|text| alone(text)), "{name}: none of {spelled:?} is listed");
        checked += 1;
    }
    assert!(checked >= 25, "{checked}");
}

#[test]
fn numbers_are_spelled_as_people_write_them() {
    assert_eq!(spellings(product("4_096")), ["4,096", "4 KiB"]);
    assert_eq!(spellings(product("25 * 1024 * 1024")), ["26,214,400", "25600 KiB", "25 MB"]);
    assert_eq!(spellings(product("1_000_000")), ["1,000,000", "1 MB"]);
    assert_eq!(spellings(product("12")), ["12"]);
}
