//! Holds docs/rules.md and docs/sources.md against the tree: what they name is there, and what cites
//! a source is named there.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

const RULES: &str = include_str!("../../docs/rules.md");
const SOURCES: &str = include_str!("../../docs/sources.md");

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
        } else if matches!(end, Some("rs" | "mjs" | "py" | "js")) {
            found.push(path);
        }
    }
}

fn code() -> Vec<(String, String)> {
    let mut found = Vec::new();
    for folder in ["src", "static", "tests"] {
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
