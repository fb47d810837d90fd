//! Arrows point down only: a lower layer never imports a higher one.

use std::fs;
use std::path::{Path, PathBuf};

/// Each layer, and what it may use of this crate beside itself.
const LAYERS: &[(&str, &[&str])] = &[
    ("domain", &[]),
    ("compute", &["domain"]),
    ("exchange", &["domain"]),
    ("demo", &["domain"]),
    ("load", &["domain"]),
    ("store", &["domain"]),
    ("app", &["domain", "compute", "exchange", "store", "demo", "load", "clock", "config"]),
    ("web", &["app", "domain", "compute", "exchange", "clock", "config", "store"]),
    (
        "cli",
        &[
            "app", "web", "domain", "compute", "exchange", "clock", "config", "store", "demo",
            "load",
        ],
    ),
];

/// What a layer may not use from outside the crate: the lower ones know no HTTP, no SQL, no clock.
const FOREIGN: &[(&str, &[&str])] = &[
    ("domain", &["axum", "askama", "tokio", "hyper", "clap", "csv"]),
    ("compute", &["axum", "askama", "tokio", "hyper", "clap", "csv", "sqlx"]),
    ("exchange", &["axum", "askama", "tokio", "hyper", "clap", "sqlx"]),
    ("store", &["axum", "askama", "hyper", "clap", "csv"]),
    ("app", &["axum", "askama", "hyper", "clap"]),
    ("web", &["clap"]),
];

fn files_of(layer: &str) -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut found = Vec::new();
    let single = root.join(format!("{layer}.rs"));
    if single.exists() {
        found.push(single);
    }
    walk(&root.join(layer), &mut found);
    found
}

fn walk(folder: &Path, found: &mut Vec<PathBuf>) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for entry in entries.flatten() {
        let path = entry.path();
        if path.is_dir() {
            walk(&path, found);
        } else if path.extension().is_some_and(|ext| ext == "rs") {
            found.push(path);
        }
    }
}

/// The code of a file: no comments, and nothing from its test module on.
fn code(text: &str) -> String {
    let before_tests = text.split("#[cfg(test)]\nmod tests {").next().unwrap_or(text);
    before_tests
        .lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .collect::<Vec<_>>()
        .join("\n")
}

fn is_test_file(path: &Path) -> bool {
    path.file_name().is_some_and(|name| name == "tests.rs")
        || path.components().any(|part| part.as_os_str() == "tests")
}

#[test]
fn no_lower_layer_imports_a_higher_one() {
    let mut wrong = Vec::new();
    let mut read = 0;
    for (layer, may_use) in LAYERS {
        for path in files_of(layer).into_iter().filter(|path| !is_test_file(path)) {
            read += 1;
            let text = code(&fs::read_to_string(&path).unwrap());
            for (other, _) in LAYERS {
                let names = text.contains(&format!("crate::{other}::"))
                    || text.contains(&format!("crate::{{{other}"));
                if other != layer && names && !may_use.contains(other) {
                    wrong.push(format!("{} uses {other}", path.display()));
                }
            }
        }
    }
    assert!(read > 100, "only {read} files were read; has the tree moved?");
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_lower_layers_know_no_http_and_no_files() {
    let mut wrong = Vec::new();
    for (layer, foreign) in FOREIGN {
        for path in files_of(layer).into_iter().filter(|path| !is_test_file(path)) {
            let text = code(&fs::read_to_string(&path).unwrap());
            for name in *foreign {
                if text.contains(&format!("use {name}::")) || text.contains(&format!(" {name}::")) {
                    wrong.push(format!("{} uses {name}", path.display()));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_domain_takes_no_more_of_sqlx_than_its_types() {
    for path in files_of("domain") {
        let text = code(&fs::read_to_string(&path).unwrap());
        for forbidden in ["sqlx::query", "SqliteConnection", "SqlitePool", "async fn"] {
            assert!(!text.contains(forbidden), "{} holds {forbidden}", path.display());
        }
    }
}

#[test]
fn sql_stands_in_the_store_alone() {
    for layer in ["domain", "compute", "exchange", "app", "web", "cli", "demo", "load"] {
        for path in files_of(layer).into_iter().filter(|path| !is_test_file(path)) {
            let text = code(&fs::read_to_string(&path).unwrap());
            let names = text.contains("query!(") || text.contains("query_as!(");
            assert!(!names, "{} holds SQL", path.display());
        }
    }
}
