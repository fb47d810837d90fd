//! Findings, remedies and exemptions, each with its dated steps. Nobody reviews their own
//! finding or verifies their own remedy.

use crate::app::attempts::touch_family;
use crate::app::excursions::allowed;
use crate::app::records::{Base, Ruled, current, write};
use crate::app::work::Work;
use crate::app::{Failure, records::Saved};
use crate::domain::attempts::Attempt;
use crate::domain::cells::{Line, List, Prose};
use crate::domain::codes::AttemptCode;
use crate::domain::findings::{Cause, Exemption, Finding, Remedy};
use crate::domain::roles::{self, Action};
use crate::domain::words::{Outcome, RemedyState};
use crate::store::{Kept, reach};

impl Ruled for Cause {
    async fn follow(work: &mut Work, before: Option<&Self>, cause: &Self) -> Result<(), Failure> {
        // What its attempts tell hangs on the scope.
        if before.is_some_and(|before| before.scope != cause.scope) {
            for task in reach::tasks_stopped_by(work.db(), &cause.code.0).await? {
                work.touch(&task);
            }
        }
        Ok(())
    }
}

impl Ruled for Finding {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        finding: &mut Self,
    ) -> Result<(), Failure> {
        if finding.attempts.is_empty() {
            return Err(Failure::field("attempts", "Name the attempt that this finding explains."));
        }
        for code in finding.attempts.iter() {
            if let Some(attempt) = Attempt::find(work.db(), code.as_str()).await?
                && attempt.outcome == Outcome::Done
            {
                let message = format!("{code} ended done; a finding says why an attempt did not.");
                return Err(Failure::field("attempts", message));
            }
        }
        let main = finding.cause.clone();
        if let Some(main) = &main
            && finding.contributing.contains(main)
        {
            finding.contributing =
                finding.contributing.iter().filter(|c| *c != main).cloned().collect();
        }
        let contributing = finding.contributing.len();
        if contributing > Finding::MOST_CONTRIBUTING {
            let message = format!(
                "It names {contributing} contributing causes; name at most {}, those that made it worse. The \
                 main cause decides.",
                Finding::MOST_CONTRIBUTING
            );
            return Err(Failure::field("contributing", message));
        }
        if before.is_none() {
            finding.author.get_or_insert_with(|| Line(work.actor.name.clone()));
            if finding.written_on.is_none() && !work.plants_missing {
                finding.written_on = Some(work.today);
            }
        }
        reviewer_is_another(finding.author.as_ref(), finding.reviewed_by.as_ref(), "finding")?;
        let changed_after_review = before.is_some_and(|before| {
            before.reviewed_by.is_some()
                && before.reviewed_by == finding.reviewed_by
                && (&before.cause, &before.attempts, &before.contributing)
                    != (&finding.cause, &finding.attempts, &finding.contributing)
        });
        if changed_after_review {
            finding.reviewed_by = None;
            finding.reviewed_on = None;
        }
        Ok(())
    }

    async fn follow(work: &mut Work, before: Option<&Self>, finding: &Self) -> Result<(), Failure> {
        touch_attempts(work, before.map(|before| &before.attempts)).await?;
        touch_attempts(work, Some(&finding.attempts)).await
    }
}

impl Ruled for Remedy {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        remedy: &mut Self,
    ) -> Result<(), Failure> {
        if let Some(code) = &remedy.finding
            && remedy.attempts.is_empty()
            && before.is_none()
            && let Some(finding) = Finding::find(work.db(), code.as_str()).await?
        {
            remedy.attempts = finding.attempts;
        }
        if remedy.attempts.is_empty() {
            return Err(Failure::field("attempts", "Name the attempts that this remedy answers."));
        }
        if before.is_none() {
            remedy.owner.get_or_insert_with(|| Line(work.actor.name.clone()));
            if remedy.opened_on.is_none() && !work.plants_missing {
                remedy.opened_on = Some(work.today);
            }
        }
        if remedy.state == RemedyState::Verified {
            if remedy.verified_by.is_none() {
                return Err(Failure::field(
                    "verified_by",
                    "Say who verified it; it is not its owner.",
                ));
            }
            if roles::same_person(remedy.owner.as_ref(), remedy.verified_by.as_ref()) {
                return Err(Failure::field(
                    "verified_by",
                    "Nobody verifies their own remedy; somebody other than its owner does.",
                ));
            }
        }
        Ok(())
    }

    async fn follow(work: &mut Work, before: Option<&Self>, remedy: &Self) -> Result<(), Failure> {
        touch_attempts(work, before.map(|before| &before.attempts)).await?;
        touch_attempts(work, Some(&remedy.attempts)).await
    }
}

impl Ruled for Exemption {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        exemption: &mut Self,
    ) -> Result<(), Failure> {
        if exemption.attempts.is_empty() {
            return Err(Failure::field("attempts", "Name the attempts that do not apply here."));
        }
        if exemption.words.is_empty() {
            return Err(Failure::field("words", "Say why they do not apply here."));
        }
        if before.is_none() {
            exemption.author.get_or_insert_with(|| Line(work.actor.name.clone()));
            if exemption.written_on.is_none() && !work.plants_missing {
                exemption.written_on = Some(work.today);
            }
        }
        reviewer_is_another(exemption.author.as_ref(), exemption.reviewed_by.as_ref(), "exemption")
    }

    async fn follow(
        work: &mut Work,
        _before: Option<&Self>,
        exemption: &Self,
    ) -> Result<(), Failure> {
        work.touch(&exemption.task);
        Ok(())
    }
}

fn reviewer_is_another(
    author: Option<&Line>,
    reviewer: Option<&Line>,
    what: &str,
) -> Result<(), Failure> {
    if reviewer.is_some() && roles::same_person(author, reviewer) {
        let message =
            format!("Nobody reviews their own {what}; somebody other than its author does.");
        return Err(Failure::field("reviewed_by", message));
    }
    Ok(())
}

async fn touch_attempts(
    work: &mut Work,
    attempts: Option<&List<AttemptCode>>,
) -> Result<(), Failure> {
    for code in attempts.into_iter().flat_map(|codes| codes.iter()) {
        if let Some(attempt) = Attempt::find(work.db(), code.as_str()).await? {
            touch_family(work, &attempt.task).await?;
        }
    }
    Ok(())
}

/// Reviews a finding; from then on its main cause decides what its attempts tell.
pub async fn review(work: &mut Work, code: &str) -> Result<Saved<Finding>, Failure> {
    allowed(work, Action::ReviewFinding)?;
    let mut finding = current::<Finding>(work, code).await?;
    if finding.cause.is_none() {
        return Err(Failure::field(
            "cause",
            "Choose the main cause before it is reviewed; “cause unknown” is one.",
        ));
    }
    finding.reviewed_by = Some(Line(work.actor.name.clone()));
    finding.reviewed_on = Some(work.today);
    write(work, finding, Base::Current).await.map_err(as_a_refusal)
}

/// Reviews an exemption; from then on the attempts count no more for that task.
pub async fn review_exemption(work: &mut Work, code: &str) -> Result<Saved<Exemption>, Failure> {
    allowed(work, Action::ReviewFinding)?;
    let mut exemption = current::<Exemption>(work, code).await?;
    exemption.reviewed_by = Some(Line(work.actor.name.clone()));
    exemption.reviewed_on = Some(work.today);
    write(work, exemption, Base::Current).await.map_err(as_a_refusal)
}

/// Moves a remedy on: open → done → verified, or withdrawn; done and verified may go back to open.
pub async fn move_remedy(
    work: &mut Work,
    code: &str,
    to: RemedyState,
    evidence: Option<Prose>,
) -> Result<Saved<Remedy>, Failure> {
    let action =
        if to == RemedyState::Verified { Action::VerifyRemedy } else { Action::WriteRemedy };
    allowed(work, action)?;
    let mut remedy = current::<Remedy>(work, code).await?;
    if let Some(evidence) = evidence.filter(|evidence| !evidence.is_empty()) {
        remedy.evidence = evidence;
    }
    match (remedy.state, to) {
        (RemedyState::Open, RemedyState::Done) => remedy.done_on = Some(work.today),
        (RemedyState::Done, RemedyState::Verified) => {
            if remedy.evidence.is_empty() {
                return Err(Failure::field("evidence", "Say what shows that the remedy holds."));
            }
            remedy.verified_by = Some(Line(work.actor.name.clone()));
            remedy.verified_on = Some(work.today);
        }
        (RemedyState::Open, RemedyState::Verified) => {
            return Err(Failure::Refused(format!(
                "{code} is not done yet; it is verified after that."
            )));
        }
        (_, RemedyState::Open) => {
            remedy.done_on = None;
            remedy.verified_by = None;
            remedy.verified_on = None;
        }
        (_, RemedyState::Withdrawn) => {}
        (from, to) => {
            return Err(Failure::Refused(format!(
                "{code} is {from}; it cannot become {to} from there."
            )));
        }
    }
    remedy.state = to;
    write(work, remedy, Base::Current).await.map_err(as_a_refusal)
}

/// A field that the page of this step does not show becomes a sentence.
fn as_a_refusal(failure: Failure) -> Failure {
    match failure {
        Failure::Invalid(fields) => Failure::Refused(
            fields.into_iter().map(|field| field.message).collect::<Vec<_>>().join(" "),
        ),
        other => other,
    }
}
