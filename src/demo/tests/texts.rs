//! Prose: no two texts alike, not even with other figures in them.

use std::collections::{BTreeMap, BTreeSet};

use super::rows;
use crate::columns;
use crate::tables::TABLES;
use domain::cells::Input;
use domain::kinds::Kind;

/// Lines that people write by hand; names, owners and measured values repeat by nature.
const WRITTEN: &[&str] = &[
    "as_left",
    "late_means",
    "what",
    "why",
    "words",
    "purpose",
    "forbids",
    "temporary",
    "stopping_point",
    "if_it_fails",
    "fallbacks",
    "waiver",
    "ended_early",
    "last_step",
];

fn texts() -> Vec<(String, String)> {
    let mut found = Vec::new();
    let kinds: BTreeSet<Kind> = TABLES.iter().map(|(kind, _)| *kind).collect();
    for kind in kinds {
        for cells in rows(kind) {
            for column in columns(kind) {
                if (kind, column.name) == (Kind::Revision, "steps") {
                    // A revision says what the one before it said, save where it differs.
                    continue;
                }
                let written = column.input == Input::Prose || WRITTEN.contains(&column.name);
                let text = cells.get(column.name);
                if written && !text.is_empty() {
                    found.push((format!("{} {}", cells.get("code"), column.name), text.to_owned()));
                }
            }
        }
    }
    found
}

fn without_figures(text: &str) -> String {
    let letters = |c: char| if c.is_alphabetic() { c.to_ascii_lowercase() } else { ' ' };
    text.chars().map(letters).collect::<String>().split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn no_text_is_said_twice_even_with_other_figures() {
    let mut seen: BTreeMap<String, String> = BTreeMap::new();
    for (place, text) in texts() {
        if let Some(before) = seen.insert(without_figures(&text), place.clone()) {
            // One gun, one fuse: what several tools share is said by its code.
            assert!(place.ends_with("not_counted"), "{place} says what {before} says: {text}");
        }
    }
    assert!(seen.len() > 500, "{}", seen.len());
}

#[test]
fn no_two_texts_share_most_of_their_words() {
    let words: Vec<(String, BTreeSet<String>)> = texts()
        .into_iter()
        .map(|(place, text)| {
            (place, without_figures(&text).split(' ').map(str::to_owned).collect::<BTreeSet<_>>())
        })
        .filter(|(_, words)| words.len() >= 5)
        .collect();
    for (index, (place, one)) in words.iter().enumerate() {
        for (other_place, other) in &words[index + 1..] {
            let shared = one.intersection(other).count() * 100 / one.union(other).count();
            assert!(shared < 60, "{place} and {other_place} share {shared} % of their words");
        }
    }
}

#[test]
fn people_are_roles_and_crew_codes() {
    const ROLES: &[&str] = &["engineer", "lead", "viewer", "administrator"];
    let kinds =
        [Kind::Task, Kind::Finding, Kind::Remedy, Kind::Deferral, Kind::Exemption, Kind::Slot];
    for kind in kinds {
        for cells in rows(kind) {
            for column in
                ["estimator", "author", "reviewed_by", "owner", "verified_by", "decided_by"]
            {
                let who = cells.get(column);
                assert!(who.is_empty() || ROLES.iter().any(|role| who.ends_with(role)), "{who}");
            }
        }
    }
}
