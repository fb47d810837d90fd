//! Findings, remedies and exemptions, each with its dated steps. Who may review or verify one is
//! decided in `app::four_eyes`.

use async_recursion::async_recursion as boxed;
use sqlx::SqliteConnection;

use crate::excursions::allowed;
use crate::records::{Base, Ruled, current, save, write};
use crate::work::Work;
use crate::{Failure, four_eyes, records::Saved};
use domain::attempts::Attempt;
use domain::cells::{Line, Prose};
use domain::codes::{FindingCode, RemedyCode};
use domain::findings::{Cause, Exemption, Finding, Remedy};
use domain::four_eyes::{Judged as _, same_account};
use domain::kinds::Kind;
use domain::roles::Action;
use domain::words::{Checked, Outcome, RemedyState, Role};
use store::findings::{is_of_the_service, named_by};
use store::{Kept, reach, remedies, revisions};

/// Why this role does not edit a record that it may edit by its kind; nothing where it may. The
/// kinds of cause of every record are the administrator's.
#[boxed]
pub async fn refuses_edit(
    db: &mut SqliteConnection,
    role: Role,
    kind: Kind,
    code: &str,
) -> Result<Option<String>, Failure> {
    if kind != Kind::Cause
        || role == Role::Administrator
        || !is_of_the_service(db, &code.into()).await?
    {
        return Ok(None);
    }
    Ok(Some(format!(
        "{code} is one of the kinds that every record begins with; an administrator may edit it. \
         Add a kind of your own instead."
    )))
}

impl Ruled for Cause {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        cause: &mut Self,
    ) -> Result<(), Failure> {
        let Some(before) = before.filter(|before| *before != cause) else { return Ok(()) };
        let role = work.actor.role;
        if role == Role::Administrator {
            return Ok(());
        }
        let code = before.code.0.clone();
        if let Some(why) = refuses_edit(work.db(), role, Kind::Cause, code.as_str()).await? {
            return Err(Failure::Refused(why));
        }
        let says = |cause: &Self| (cause.scope, cause.time_ran_out);
        let times = named_by(work.db(), &code).await?;
        if says(before) != says(&*cause) && times > 0 {
            let named = if times == 1 {
                "1 attempt or finding names".to_owned()
            } else {
                format!("{times} attempts and findings name")
            };
            let message = format!(
                "{named} {code} as the cause, and its scope decides what they say of their \
                 approach. Add another kind, or ask an administrator."
            );
            return Err(Failure::field("scope", message));
        }
        Ok(())
    }

    async fn follow(work: &mut Work, before: Option<&Self>, cause: &Self) -> Result<(), Failure> {
        // What its attempts tell hangs on the scope.
        let says = |cause: &Self| (cause.scope, cause.time_ran_out);
        if before.is_some_and(|before| says(before) != says(cause)) {
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
        if contributing > Finding::MAX_CONTRIBUTING {
            let message = format!(
                "It names {contributing} contributing causes; name at most {}, those that made it worse. The \
                 main cause decides.",
                Finding::MAX_CONTRIBUTING
            );
            return Err(Failure::field("contributing", message));
        }
        if before.is_none() {
            finding.author.get_or_insert_with(|| Line::known(work.actor.name.clone()));
            if finding.written_on.is_none() && !work.creates_missing {
                finding.written_on = Some(work.today);
            }
        }
        four_eyes::hold(work, before, finding).await
    }

    async fn follow(work: &mut Work, before: Option<&Self>, finding: &Self) -> Result<(), Failure> {
        if before.is_some_and(|before| before.reviewed_by.is_some())
            && finding.reviewed_by.is_none()
        {
            take_verifications_back(work, finding).await?;
        }
        Ok(())
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
            return Err(Failure::field("attempts", "Name the attempts that this remedy resolves."));
        }
        if before.is_none() {
            remedy.owner.get_or_insert_with(|| Line::known(work.actor.name.clone()));
            if remedy.opened_on.is_none() && !work.creates_missing {
                remedy.opened_on = Some(work.today);
            }
        }
        if remedy.state == RemedyState::Verified && remedy.verified_by.is_none() {
            let message = "Say who verified it. That is another person than its owner.";
            return Err(Failure::field("verified_by", message));
        }
        if remedy.state != RemedyState::Verified
            && remedy.verified_by.is_some()
            && before.is_none_or(|before| before.verified_by != remedy.verified_by)
        {
            let message = format!(
                "It is {}, so nobody has verified it. Set its state to verified, or leave this empty.",
                remedy.state
            );
            return Err(Failure::field("verified_by", message));
        }
        if let Some(by) = &remedy.verified_by
            && names_its_owner(remedy, by)
        {
            let message = format!("{by} is its owner; another person verifies it.");
            return Err(Failure::field("verified_by", message));
        }
        let is_newly_verified = remedy.state == RemedyState::Verified
            && before.is_none_or(|before| before.state != RemedyState::Verified);
        if is_newly_verified {
            finding_is_reviewed(work, remedy).await?;
            if is_by_clearing(work, remedy).await? {
                return Ok(());
            }
        }
        four_eyes::hold(work, before, remedy).await
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
            exemption.author.get_or_insert_with(|| Line::known(work.actor.name.clone()));
            if exemption.written_on.is_none() && !work.creates_missing {
                exemption.written_on = Some(work.today);
            }
        }
        four_eyes::hold(work, before, exemption).await
    }
}

/// The owner may have been written in after the verification.
fn names_its_owner(remedy: &Remedy, by: &Line) -> bool {
    remedy.owner.as_ref().is_some_and(|owner| same_account(owner.as_str(), by.as_str()))
}

/// A remedy is verified against why it failed: that is reviewed first.
async fn finding_is_reviewed(work: &mut Work, remedy: &Remedy) -> Result<(), Failure> {
    let Some(code) = &remedy.finding else { return Ok(()) };
    let finding = Finding::find(work.db(), code.as_str()).await?;
    if finding.is_none_or(|finding| finding.reviewed_by.is_some()) {
        return Ok(());
    }
    let message = format!(
        "{code}, the finding on which it rests, is not reviewed. Review {code} first, then verify \
         the remedy."
    );
    Err(Failure::field("finding", message))
}

/// Whether this is the remedy that the clearing of a revision is: cleared by the same person, for
/// these attempts.
async fn is_by_clearing(work: &mut Work, remedy: &Remedy) -> Result<bool, Failure> {
    let (Some(technique), Some(number)) = (&remedy.technique, remedy.revision) else {
        return Ok(false);
    };
    if remedy.checked != Some(Checked::Clearing) || work.creates_missing {
        return Ok(false);
    }
    let revision = revisions::at(work.db(), technique, number).await?;
    Ok(revision.is_some_and(|revision| {
        revision.resolves()
            && revision.cleared_by == remedy.verified_by
            && remedy.attempts.iter().all(|attempt| revision.answers.contains(attempt))
    }))
}

/// What was verified against a finding that is not reviewed any more is only done.
async fn take_verifications_back(work: &mut Work, finding: &Finding) -> Result<(), Failure> {
    for remedy in remedies::of_finding(work.db(), &finding.code.0).await? {
        if remedy.state != RemedyState::Verified {
            continue;
        }
        let code = remedy.code.0.clone();
        let mut done = remedy;
        done.take_back();
        write(work, done, Base::Current).await?;
        work.note(format!(
            "{code} rests on it, so its verification is undone too: {code} is done and waits \
             for another person."
        ));
    }
    Ok(())
}

/// Reviews a finding; from then on its main cause decides what its attempts tell.
#[boxed]
pub async fn review(work: &mut Work, code: &str) -> Result<Saved<Finding>, Failure> {
    allowed(work, Action::ReviewFinding)?;
    let mut finding = current::<Finding>(work, code).await?;
    finding.reviewed_by = Some(Line::known(work.actor.name.clone()));
    finding.reviewed_on = Some(work.today);
    write(work, finding, Base::Current).await.map_err(as_a_refusal)
}

/// Reviews an exemption; from then on the attempts count no more for that task.
#[boxed]
pub async fn review_exemption(work: &mut Work, code: &str) -> Result<Saved<Exemption>, Failure> {
    allowed(work, Action::ReviewExemption)?;
    let mut exemption = current::<Exemption>(work, code).await?;
    exemption.reviewed_by = Some(Line::known(work.actor.name.clone()));
    exemption.reviewed_on = Some(work.today);
    write(work, exemption, Base::Current).await.map_err(as_a_refusal)
}

/// A finding that was written, and the remedy that was opened with it.
#[derive(Debug, Clone)]
pub struct Explained {
    pub finding: FindingCode,
    pub remedy: Option<RemedyCode>,
}

/// Writes why an attempt failed and, where it is decided, what must change.
#[boxed]
pub async fn explain(
    work: &mut Work,
    finding: Finding,
    remedy: Option<Remedy>,
) -> Result<Explained, Failure> {
    let finding = save(work, finding, Base::New).await?.record.code.0;
    let remedy = match remedy {
        Some(mut remedy) => {
            remedy.finding = Some(finding.clone());
            Some(save(work, remedy, Base::New).await?.record.code.0)
        }
        None => None,
    };
    Ok(Explained { finding, remedy })
}

/// Moves a remedy on: open → done → verified, or withdrawn; done and verified may go back to open.
#[boxed]
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
    let says_nothing = evidence.as_ref().is_some_and(Prose::is_empty);
    if to == RemedyState::Done && says_nothing && remedy.evidence.is_empty() {
        return Err(Failure::field(
            "evidence",
            "Say what was done and what shows it: in words, or by the number of a document. \
             Whoever verifies it reads that.",
        ));
    }
    if let Some(said) = evidence.filter(|said| !said.is_empty()) {
        if to == RemedyState::Open {
            // Why it is open again is no evidence that it works.
            work.because(said.as_str());
        } else {
            remedy.evidence = said;
        }
    }
    match (remedy.state, to) {
        (RemedyState::Open, RemedyState::Done) => remedy.done_on = Some(work.today),
        (RemedyState::Done, RemedyState::Verified) => {
            remedy.verified_by = Some(Line::known(work.actor.name.clone()));
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
