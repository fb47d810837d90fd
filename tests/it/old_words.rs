//! Words that were replaced stay away from what a person reads: pages, messages and documents.

use std::fs;
use std::path::{Path, PathBuf};

/// What was said before, in small letters. A word of a closed list that is stored as it was, and a head
/// that tables may still have, stand in the sources as such.
const OLD: [&str; 38] = [
    "loses its way",
    "lose its way",
    "in danger",
    "slotted",
    "share done",
    "share left",
    "planned share",
    "nothing that failed was done this way",
    "is answered for",
    "pencil with a warning",
    "what waits for whom",
    "what holds up what",
    "who hears of it",
    "take it up",
    "let it go",
    "go on with the debrief",
    "stands in no backlog",
    "it was flown",
    "trigger it",
    "make the attempt",
    "throw it away",
    "taken in",
    "take it off",
    "take it back",
    "reckoning",
    "works out",
    "cannot be told",
    "height is the approach",
    "used as it is",
    "anew",
    "open item",
    "open items",
    "on board",
    "holds up",
    "judge it so",
    "hears of it",
    "made anew",
    "takes back",
];

fn files(folder: &Path, ending: &str, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files(&path, ending, found);
        } else if path.extension().is_some_and(|end| end == ending) {
            found.push(path);
        }
    }
}

fn all(ending: &str, folders: &[&str]) -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    for folder in folders {
        files(&root.join(folder), ending, &mut found);
    }
    found.sort();
    assert!(!found.is_empty());
    found
}

/// The old words in a text, as whole words.
fn old_in(text: &str) -> Vec<&'static str> {
    // Names in code stay names: `share_left`, `in-danger`, `{share}`.
    let letters = |c: char| if c.is_alphanumeric() || "_-{}".contains(c) { c } else { ' ' };
    let plain: String = text.to_lowercase().chars().map(letters).collect();
    let plain = format!(" {} ", plain.split_whitespace().collect::<Vec<_>>().join(" "));
    OLD.into_iter().filter(|old| plain.contains(&format!(" {old} "))).collect()
}

/// A template without its tags and its code.
fn words_of(template: &str) -> String {
    let mut words = String::new();
    let mut rest = template;
    while let Some(at) = rest.find(['<', '{']) {
        words.push_str(&rest[..at]);
        words.push(' ');
        let end = match &rest[at..] {
            part if part.starts_with('<') => ">",
            part if part.starts_with("{%") => "%}",
            part if part.starts_with("{{") => "}}",
            part if part.starts_with("{#") => "#}",
            _ => "{",
        };
        rest = rest[at..].split_once(end).map_or("", |(_, rest)| rest);
    }
    words + rest
}

/// The texts in a source, without its tests, its other names of columns and its stored words.
fn texts_of(source: &str) -> String {
    let code = source.split("#[cfg(test)]").next().unwrap_or_default();
    let said = code.lines().filter(|line| {
        !line.trim_start().starts_with("//")
            && !line.contains("also [")
            && !line.contains(" shown ")
    });
    let texts = said.flat_map(|line| line.split('"').skip(1).step_by(2).map(str::to_owned));
    texts.collect::<Vec<_>>().join(" _ ")
}

#[test]
fn words_that_were_replaced_stay_away_from_pages_messages_and_documents() {
    assert_eq!(old_in("This was Slotted, and taken  in."), ["slotted", "taken in"]);
    assert_eq!(
        words_of("<b class=\"slotted\">set{% if slotted %} now{% endif %}</b>").trim(),
        "set  now"
    );
    let mut found: Vec<String> = Vec::new();
    let mut look = |path: &Path, text: &str| {
        found.extend(old_in(text).iter().map(|old| format!("{}: {old}", path.display())));
    };
    for path in all("html", &["templates"]) {
        look(&path, &words_of(&fs::read_to_string(&path).unwrap()));
    }
    for path in all("md", &["docs"]) {
        look(&path, &fs::read_to_string(&path).unwrap());
    }
    let readme = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    look(&readme, &fs::read_to_string(&readme).unwrap());
    for path in all("rs", &["src"]) {
        let name = path.to_string_lossy().into_owned();
        if name.contains("/tests") || name.ends_with("tests.rs") {
            continue;
        }
        look(&path, &texts_of(&fs::read_to_string(&path).unwrap()));
    }
    assert!(found.is_empty(), "{found:#?}");
}
