//! Every term of the service with its mark, in a sentence or two; the “?” at a section head leads
//! here.

mod listed;

use askama::Template;
use axum::http::header;
use axum::response::{IntoResponse as _, Response};

use crate::extract::Fields;
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::visitor::Viewer;
use domain::kinds::Kind;

pub(crate) use listed::CHAPTERS;

/// One term.
pub(crate) struct Term {
    pub id: &'static str,
    pub name: &'static str,
    /// The id of its shape; empty where it has none.
    pub mark: &'static str,
    pub says: &'static str,
}

/// Terms that belong together.
pub(crate) struct Chapter {
    pub heading: &'static str,
    pub terms: &'static [Term],
}

impl Chapter {
    /// The heading as an anchor.
    fn slug(&self) -> String {
        self.heading.to_lowercase().replace(", ", "-").replace(' ', "-")
    }
}

#[derive(Template)]
#[template(path = "words/show.html")]
pub(crate) struct WordsPage {
    page: PageFrame,
    /// What is searched for.
    words: String,
    chapters: Vec<Found>,
    /// Every term that is shown, by the alphabet.
    index: Vec<&'static Term>,
}

/// The terms of a chapter that match.
struct Found {
    heading: &'static str,
    slug: String,
    terms: Vec<&'static Term>,
}

/// The terms; with `?q=` those that hold all of its words.
pub(crate) async fn show(viewer: Viewer) -> Page<WordsPage> {
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let words = Fields::read(query.as_bytes()).get("q").trim().to_owned();
    let asked: Vec<String> = words.to_lowercase().split_whitespace().map(str::to_owned).collect();
    let matches = |term: &&Term| {
        let text = format!("{} {}", term.name, term.says).to_lowercase();
        asked.iter().all(|word| text.contains(word))
    };
    let chapters: Vec<Found> = CHAPTERS
        .iter()
        .map(|chapter| Found {
            heading: chapter.heading,
            slug: chapter.slug(),
            terms: chapter.terms.iter().filter(matches).collect(),
        })
        .filter(|chapter| !chapter.terms.is_empty())
        .collect();
    let mut index: Vec<&Term> = chapters.iter().flat_map(|found| found.terms.clone()).collect();
    index.sort_by_key(|term| term.name.to_lowercase());
    let page = viewer.frame("Words", Nav::Elsewhere);
    Page(WordsPage { page, words, chapters, index })
}

/// The entry that explains a kind of record.
pub(crate) const fn term_of(kind: Kind) -> &'static str {
    match kind {
        Kind::Flight => "flight",
        Kind::Worksite => "worksite",
        Kind::Family => "family",
        Kind::Position => "position",
        Kind::Unit => "unit",
        Kind::Technique => "technique",
        Kind::Tool | Kind::ExcursionTool => "tool",
        Kind::Excursion => "excursion",
        Kind::Task => "task",
        Kind::Link => "dependencies",
        Kind::Slot => "slot",
        Kind::Attempt => "attempt",
        Kind::Deferral => "deferral",
        Kind::Closure => "closure",
        Kind::Parking => "parked",
        Kind::Reopening => "reopened",
        Kind::Cause => "cause",
        Kind::Finding => "finding",
        Kind::Remedy => "remedy",
        Kind::Exemption => "exemption",
        Kind::Rehearsal => "rehearsal",
        Kind::OutsideItem => "outside-list",
        Kind::Constraint => "constraint",
        Kind::Route => "route",
        Kind::Inhibit => "inhibit",
        Kind::Arrangement => "arranged",
        Kind::Qualification => "trained",
        Kind::Revision => "revision",
        Kind::Decline => "declined",
        Kind::File => "photographs",
        Kind::Settings => "inputs",
        Kind::SuitRates => "suit-rates",
        Kind::Person => "roles",
        Kind::View => "saved-view",
    }
}

/// The note that is downloaded beside a list: what stands above its figures, under the name of the
/// list. The rows of the list itself never hold it.
pub(crate) async fn note(viewer: Viewer) -> Response {
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let asked = Fields::read(query.as_bytes());
    let of = list_name(asked.get("of"));
    let now = viewer.now();
    let text = format!(
        "{}\n\nThis note belongs to {of}.csv and {of}.xlsx, downloaded on {} at {} UTC.\n",
        domain::caution::CAUTION,
        now.day(),
        now.clock()
    );
    let headers = [
        (header::CONTENT_TYPE, "text/plain; charset=utf-8".to_owned()),
        (header::CONTENT_DISPOSITION, format!("attachment; filename=\"{of}-note.txt\"")),
    ];
    (headers, text).into_response()
}

/// A name that can stand in a header and in a file system.
fn list_name(asked: &str) -> String {
    let plain = |letter: &char| letter.is_ascii_alphanumeric() || *letter == '-';
    let name: String = asked.chars().filter(plain).take(60).collect();
    if name.is_empty() { "list".to_owned() } else { name }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::fs;
    use std::path::Path;

    use super::*;

    fn ids() -> BTreeSet<&'static str> {
        CHAPTERS.iter().flat_map(|chapter| chapter.terms).map(|term| term.id).collect()
    }

    fn templates(folder: &Path, found: &mut Vec<String>) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                templates(&path, found);
            } else {
                found.push(fs::read_to_string(&path).unwrap());
            }
        }
    }

    #[test]
    fn every_question_mark_leads_to_a_term() {
        let mut texts = Vec::new();
        templates(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../../templates"), &mut texts);
        let (known, mut asked) = (ids(), 0);
        for text in &texts {
            for rest in text.split("p::help(\"").skip(1) {
                let id = rest.split('"').next().unwrap();
                assert!(known.contains(id), "/words has no {id}");
                asked += 1;
            }
        }
        assert!(asked >= 20, "{asked} section heads have a question mark");
    }

    #[test]
    fn every_kind_of_record_has_its_term() {
        let known = ids();
        for kind in Kind::ALL {
            assert!(known.contains(term_of(*kind)), "/words has no {}", term_of(*kind));
        }
    }

    #[test]
    fn no_term_stands_twice_and_each_is_a_sentence() {
        let all: Vec<&Term> = CHAPTERS.iter().flat_map(|chapter| chapter.terms).collect();
        assert_eq!(ids().len(), all.len());
        for term in all {
            assert!(term.says.ends_with('.'), "{}", term.name);
        }
    }

    #[test]
    fn every_mark_of_the_legends_has_its_term() {
        let marks: BTreeSet<&str> =
            CHAPTERS.iter().flat_map(|chapter| chapter.terms).map(|term| term.mark).collect();
        for (mark, word) in crate::marks::LEGEND.iter().chain(crate::marks::VERDICTS) {
            assert!(marks.contains(mark), "{word} has no term with its mark {mark}");
        }
    }
}
