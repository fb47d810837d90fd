//! Findings, remedies and sisters, as the page of a task words them.

use crate::marks;
use crate::pages::findings::reopened;
use crate::pages::sisters::{self, Affected, Apart};
use crate::visitor::Viewer;
use app::read::tasks::Sister;
use app::whole_task::WholeTask;
use domain::repeat_guard::Try;
use domain::roles::{Action, may};
use domain::words::{Checked, RemedyState, TaskState};

pub(crate) struct FindingView {
    pub code: String,
    pub attempts: Vec<String>,
    pub reviewed: Option<domain::time::Day>,
    pub is_reviewed: bool,
    pub words: String,
    pub cause: String,
    pub contributing: String,
    /// Recommendation and evidence.
    pub beside: Vec<String>,
}

pub(crate) struct RemedyView {
    pub code: String,
    pub what: String,
    pub owner: String,
    pub by: Option<String>,
    pub mark: &'static str,
    pub state: RemedyState,
    pub words: &'static str,
    pub reach: &'static str,
    /// The failures that it did not prevent, and whether something answers each by now.
    pub not_held: Vec<(String, bool)>,
}

pub(crate) struct ExemptionView {
    pub code: String,
    pub attempts: Vec<String>,
    pub words: String,
    pub reviewed_by: Option<String>,
    /// Its review came with an import of history.
    pub is_imported: bool,
    pub may_review: bool,
    /// Why this person does not review it.
    pub barred: Option<String>,
}

pub(crate) struct SisterRow {
    pub code: String,
    pub title: String,
    pub place: String,
    pub state: Option<TaskState>,
    /// The last tries on it: attempt, approach and outcome.
    pub tries: Vec<(String, String)>,
    /// How many came before those.
    pub earlier: usize,
}

/// So many tries of a sister are shown.
const TRIES: usize = 3;

pub(super) fn findings(whole: &WholeTask) -> Vec<FindingView> {
    let words =
        |code: &_| whole.causes.get(code).cloned().unwrap_or_else(|| format!("cause {code}"));
    whole
        .findings
        .iter()
        .map(|finding| {
            let contributing: Vec<String> = finding.contributing.iter().map(words).collect();
            let mut beside = Vec::new();
            let next = match (&finding.recommended_technique, &finding.recommended_side) {
                (Some(technique), Some(side)) => Some(format!("{technique} from {side}")),
                (Some(technique), None) => Some(technique.to_string()),
                (None, Some(side)) => Some(format!("from {side}")),
                (None, None) => None,
            };
            if let Some(next) = next {
                beside.push(format!("Recommended: {next}."));
            }
            if !finding.evidence.is_empty() {
                beside.push(format!("Evidence: {}", finding.evidence));
            }
            FindingView {
                code: finding.code.0.to_string(),
                attempts: finding.attempts.iter().map(ToString::to_string).collect(),
                reviewed: finding.reviewed_on,
                is_reviewed: finding.reviewed_by.is_some(),
                words: finding.words.as_str().to_owned(),
                cause: finding.cause.as_ref().map_or_else(|| "not chosen yet".to_owned(), words),
                contributing: contributing.join("; "),
                beside,
            }
        })
        .collect()
}

pub(super) fn exemptions(whole: &WholeTask, viewer: &Viewer) -> Vec<ExemptionView> {
    let may_at_all = may(viewer.actor.role, Action::ReviewExemption);
    whole
        .exemptions
        .iter()
        .map(|exemption| {
            let second = whole.touches.let_judge(exemption, &viewer.actor.name);
            let waits = may_at_all && exemption.reviewed_by.is_none();
            ExemptionView {
                code: exemption.code.0.to_string(),
                attempts: exemption.attempts.iter().map(ToString::to_string).collect(),
                words: exemption.words.as_str().to_owned(),
                reviewed_by: exemption.reviewed_by.as_ref().map(ToString::to_string),
                is_imported: exemption.checked == Some(Checked::Imported),
                may_review: waits && second.is_ok(),
                barred: second.err().filter(|_| waits),
            }
        })
        .collect()
}

pub(super) fn remedies(whole: &WholeTask) -> Vec<RemedyView> {
    whole
        .remedies
        .iter()
        .map(|remedy| RemedyView {
            code: remedy.code.0.to_string(),
            what: remedy.what.to_string(),
            owner: remedy.owner.as_ref().map_or_else(String::new, ToString::to_string),
            by: remedy.needed_by.as_ref().map(ToString::to_string),
            mark: marks::of(&remedy.state),
            state: remedy.state,
            words: match remedy.state {
                RemedyState::Done => "done, to verify",
                RemedyState::Open | RemedyState::Verified | RemedyState::Withdrawn => {
                    remedy.state.word()
                }
            },
            reach: remedy.reach.word(),
            not_held: reopened::of_remedy(&whole.not_held, remedy.code.0.as_str()),
        })
        .collect()
}

pub(super) fn sister_rows(whole: &WholeTask) -> Vec<SisterRow> {
    let opening = whole.dossier.events.openings.iter().find(|o| o.task == whole.task.code.0);
    let record = opening.and_then(|opening| whole.dossier.family_of(opening));
    let tries = record.map_or(&[][..], |record| &record.tries);
    let row = |sister: &Sister| {
        let of_it: Vec<&Try> =
            tries.iter().filter(|tried| tried.unit.task == sister.task).collect();
        let earlier = of_it.len().saturating_sub(TRIES);
        let words = |tried: &&Try| {
            let words = format!("{}, {}", tried.account.outcome, tried.approach);
            (tried.attempt.to_string(), words)
        };
        SisterRow {
            code: sister.task.to_string(),
            title: sister.title.clone(),
            place: sister.position.as_ref().map_or_else(String::new, ToString::to_string),
            state: sister.state,
            tries: of_it[earlier..].iter().map(words).collect(),
            earlier,
        }
    };
    whole.sisters.iter().map(row).collect()
}

/// The open sister units that failures here affect.
pub(super) fn turned(whole: &WholeTask, viewer: &Viewer) -> Vec<Affected> {
    sisters::questioned(&whole.turned, viewer)
}

pub(super) fn apart(whole: &WholeTask) -> Vec<Apart> {
    let serial = |code: &str| {
        let unit = whole.units.iter().find(|unit| unit.code.0.as_str() == code);
        unit.and_then(|unit| unit.serial.as_ref()).map(ToString::to_string)
    };
    let task = &whole.task.code.0;
    whole.set_apart.iter().map(|one| sisters::apart(task, one, serial)).collect()
}
