//! Failures worked to closure: open actions by owner, why it failed, what is changed, and whether
//! that held.

mod causes;
mod list;
pub(crate) mod reopened;
mod show;
mod steps;
pub(crate) mod waits;

pub(crate) use causes::causes;
pub(crate) use list::{file, list};
pub(crate) use show::{move_remedy, review, review_exemption, show};
pub(crate) use steps::Steps;

use domain::codes::CauseCode;
use domain::findings::Cause;

/// Rows on one page of a list.
const PAGE: i64 = 50;

/// A way into the findings: address, words, and whether it is the page that is shown.
type View = (String, &'static str, bool);

/// The ways into the findings; `here` is the word of the one that is shown.
fn views(here: &str) -> Vec<View> {
    let shown = [
        ("", "Open actions by owner"),
        ("all", "All findings"),
        ("open", "To review"),
        ("without-remedy", "Without a remedy"),
        ("overdue", "Overdue"),
        ("reopened", "Reopened"),
        ("causes", "Causes"),
    ]
    .into_iter()
    .map(|(of, name)| {
        let address = match of {
            "" => "/findings".to_owned(),
            "causes" => "/findings/causes".to_owned(),
            of => format!("/findings?show={of}"),
        };
        (address, name, of == here)
    });
    shown.collect()
}

fn cause_words(code: &CauseCode, causes: &[Cause]) -> String {
    causes
        .iter()
        .find(|cause| cause.code.0 == *code)
        .map_or_else(|| code.to_string(), |cause| cause.words.as_str().to_owned())
}
