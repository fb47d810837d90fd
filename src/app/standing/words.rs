//! Why a task is open, in the words of the record.

use crate::dossier::Dossier;
use domain::history::{Standing, WhyOpen};
use domain::units::Share;
use store::history::{AttemptRow, DeferralRow, OpeningRow};

/// Why it is open, as the backlog says it: what happened last, where, and what was written.
pub(super) fn why_words(dossier: &Dossier, opening: &OpeningRow, now: &Standing) -> String {
    let events = &dossier.events;
    let task = &opening.task;
    let tried =
        |code: &str| events.attempts_of(task).iter().find(|tried| tried.code.as_str() == code);
    let put_off = |code: &str| events.deferrals_of(task).iter().find(|p| p.code == code);
    let words = match &now.why_open {
        None => ended_words(dossier, opening, now),
        Some(WhyOpen::NeverTried) => match &opening.from_excursion {
            Some(excursion) => format!("found on {excursion}; never tried"),
            None => "never tried".to_owned(),
        },
        Some(
            WhyOpen::Failed { attempt, excursion, .. }
            | WhyOpen::Stopped { attempt, excursion, .. }
            | WhyOpen::PartDone { attempt, excursion, .. },
        ) => stopped_words(tried(attempt), excursion.as_str(), now),
        Some(WhyOpen::NotReached { attempt, excursion }) => {
            said(tried(attempt).map(|t| t.words.as_str()), &format!("not reached at {excursion}"))
        }
        Some(WhyOpen::Deferred { deferral, excursion, reason, .. }) => said(
            put_off(deferral).map(|p: &DeferralRow| p.words.as_str()),
            &format!("deferred from {excursion}, {reason}"),
        ),
        Some(WhyOpen::Parked { parking }) => said(
            events
                .parkings_of(task)
                .iter()
                .find(|turned| turned.code == *parking)
                .map(|t| t.words.as_str()),
            "parked",
        ),
        Some(WhyOpen::Reopened { reopening, share_left }) => said(
            events
                .reopenings_of(task)
                .iter()
                .find(|turned| turned.code == *reopening)
                .map(|t| t.words.as_str()),
            &format!("reopened, {share_left} left"),
        ),
    };
    let unknown = now.why_open.is_some() && now.left.unknown_after.is_some();
    let beside = if unknown { "; % left unknown" } else { "" };
    let most = 240 - beside.len();
    words.chars().take(most).chain(beside.chars()).collect()
}

fn stopped_words(tried: Option<&AttemptRow>, excursion: &str, now: &Standing) -> String {
    let left = match now.left.known() {
        Some(left) if left < Share::WHOLE => format!(", {left} left"),
        Some(_) | None => String::new(),
    };
    said(tried.map(|tried| tried.words.as_str()), &format!("stopped at {excursion}{left}"))
}

fn ended_words(dossier: &Dossier, opening: &OpeningRow, now: &Standing) -> String {
    let Some(code) = &now.ended else { return String::new() };
    let (events, task) = (&dossier.events, &opening.task);
    if let Some(ended) = events.closures_of(task).iter().find(|closure| closure.code == *code) {
        return said(Some(&ended.words), ended.kind.word());
    }
    let tried = events.attempts_of(task).iter().find(|tried| tried.code.as_str() == code);
    match tried {
        Some(tried) => format!("{} at {}", now.state, tried.excursion),
        None => format!("{} {}", opening.task, now.state),
    }
}

/// `not reached at E-33.2: the pump work took 0:41 longer`; the first sentence says enough.
fn said(words: Option<&str>, what: &str) -> String {
    let first = words.unwrap_or("").split_inclusive(['.', ';']).next().unwrap_or("").trim();
    let first = first.trim_end_matches(['.', ';']);
    if first.is_empty() { what.to_owned() } else { format!("{what}: {first}") }
}
