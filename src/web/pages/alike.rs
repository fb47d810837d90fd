//! Attempts like one, as a page words them.

use crate::linked::{Piece, ended, linked};
use crate::page::capital;
use app::alike::{ComparedWith, SimilarAttempt, WhatWorked};
use domain::codes::AttemptCode;
use domain::repeat_guard::Approach;
use domain::time::Day;
use domain::words::Outcome;

/// The section of a page: with what others were compared, and the rows.
pub(crate) struct AlikeView {
    /// With what they are compared; what is left out.
    pub told: Vec<Piece>,
    pub rows: Vec<LikeRow>,
}

pub(crate) struct LikeRow {
    pub code: String,
    pub outcome: Outcome,
    pub task: String,
    pub title: String,
    pub excursion: String,
    pub day: Option<Day>,
    /// The other family, where it is another one.
    pub family: Option<String>,
    /// Cause, approach and the first words of what happened.
    pub happened: Vec<Piece>,
    pub why: Vec<Piece>,
    pub worked: Vec<Piece>,
    pub did_work: bool,
}

pub(crate) fn view(of: &ComparedWith, found: Vec<SimilarAttempt>) -> AlikeView {
    let told = match of {
        ComparedWith::Attempts(codes) => {
            let named: Vec<&str> = codes.iter().map(AttemptCode::as_str).collect();
            format!(
                "Compared with {} by kind of cause, approach, tools and words. Tries at the same unit or \
                 place stand with them and are left out.",
                named.join(", ")
            )
        }
        ComparedWith::Words { .. } => {
            "Nothing failed here yet, so its title and notes are compared with what was \
                             written elsewhere."
                .to_owned()
        }
    };
    AlikeView { told: linked(&told), rows: found.into_iter().map(row).collect() }
}

fn row(like: SimilarAttempt) -> LikeRow {
    let worked = worked(&like);
    LikeRow {
        code: like.attempt.to_string(),
        outcome: like.outcome,
        happened: linked(&happened(&like)),
        why: linked(&format!("Alike: {}.", like.likeness.why())),
        did_work: like.outcome == Outcome::Done || is_cured(&like.worked),
        worked: linked(&worked),
        task: like.task.to_string(),
        title: like.title,
        excursion: like.excursion.to_string(),
        day: like.day,
        family: like
            .likeness
            .another_family
            .then_some(like.family)
            .flatten()
            .map(|family| family.to_string()),
    }
}

fn is_cured(worked: &WhatWorked) -> bool {
    worked.done.is_some() || worked.remedies.iter().any(|remedy| !remedy.did_not_hold)
}

/// `Bolt binds. K-SWAP2 from aft. The thread picked up at the same eighth of a turn.`
fn happened(like: &SimilarAttempt) -> String {
    let cause = like.cause.as_ref().map_or_else(String::new, |cause| format!("{cause}. "));
    let by = if like.approach == Approach::default() {
        String::new()
    } else {
        format!("{}. ", capital(&like.approach.to_string()))
    };
    format!("{cause}{by}{}", like.words.trim())
}

/// How it ended and what worked after.
fn worked(like: &SimilarAttempt) -> String {
    let mut parts = Vec::new();
    if like.outcome == Outcome::Done {
        parts.push("It ended done.".to_owned());
    } else if let Some(done) = &like.worked.done {
        let how = if done.approach == Approach::default() {
            ", approach not recorded".to_owned()
        } else if done.approach.is(&like.approach) {
            format!(" with the same approach, {}", done.approach)
        } else {
            format!(" by {}", done.approach)
        };
        parts.push(format!("Done after it{how}, on {} ({}).", done.excursion, done.attempt));
    }
    for remedy in &like.worked.remedies {
        let held = if remedy.did_not_hold { "verified, and did not hold" } else { "verified" };
        parts.push(format!("{}, {held}: {}", remedy.code, ended(&remedy.what)));
    }
    if parts.is_empty() {
        let state = like.state.map_or("unknown", domain::words::TaskState::word);
        parts.push(format!("No later success; {} is {state}.", like.task));
    }
    parts.join(" ")
}
