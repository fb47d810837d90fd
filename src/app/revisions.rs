//! Revisions of techniques: each is kept as it was made; one that changes the work lets go of the
//! failures that it names once a second person has cleared it.

use crate::Failure;
use crate::excursions::allowed;
use crate::four_eyes::{self, Touches};
use crate::records::{Base, Ruled, Saved, current, write};
use crate::work::Work;
use async_recursion::async_recursion as boxed;
use domain::attempts::Attempt;
use domain::cells::{FieldError, Line, List, Prose};
use domain::codes::{self, AttemptCode, Own, RemedyCode, RevisionCode};
use domain::findings::Remedy;
use domain::four_eyes::same_account;
use domain::kinds::Kind;
use domain::revisions::{Revision, cannot_answer, number, work_differs};
use domain::roles::Action;
use domain::techniques::Technique;
use domain::words::{Checked, Reach, RemedyState, TechniqueState};
use store::{Kept, remedies, revisions};

impl Ruled for Revision {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        revision: &mut Self,
    ) -> Result<(), Failure> {
        let mut wrong = Vec::new();
        if let Some(technique) = Technique::find(work.db(), revision.technique.as_str()).await?
            && revision.number > number(&technique)
        {
            let message = format!(
                "{} stands in revision {}; a later one is made on its page.",
                revision.technique,
                number(&technique)
            );
            wrong.push(FieldError::new("number", message));
        }
        wrong.extend(wrong_answers(work, revision).await?);
        let says = |one: &Self| (one.changes_work, one.answers.clone(), one.changed.clone());
        if let Some(before) = before
            && before.cleared_by.is_some()
            && before.cleared_by == revision.cleared_by
            && says(before) != says(revision)
        {
            let code = &before.code.0;
            let message = format!("{code} is cleared; undo the clearance, then change it.");
            wrong.push(FieldError::new("changed", message));
        }
        if !wrong.is_empty() {
            return Err(Failure::Invalid(wrong));
        }
        if before.is_none() {
            name(revision);
            if !work.creates_missing {
                revision.author.get_or_insert_with(|| Line::known(work.actor.name.clone()));
                revision.made_on.get_or_insert(work.today);
            }
        }
        if let (Some(author), Some(by)) = (&revision.author, &revision.cleared_by)
            && same_account(author.as_str(), by.as_str())
        {
            let message = format!("{by} is its author; another person clears it.");
            return Err(Failure::field("cleared_by", message));
        }
        four_eyes::hold(work, before, revision).await
    }

    async fn follow(
        work: &mut Work,
        before: Option<&Self>,
        revision: &Self,
    ) -> Result<(), Failure> {
        if revision.resolves() {
            answer(work, revision).await?;
        } else if let Some(before) = before.filter(|before| before.resolves()) {
            take_answer_back(work, before).await?;
        }
        Ok(())
    }
}

/// `K-LEVER.3`, where that makes a code.
fn name(revision: &mut Revision) {
    let code = format!("{}.{}", revision.technique, revision.number);
    if revision.code.0.is_blank() && codes::read(&code).is_ok() {
        revision.code = Own(RevisionCode::from(code));
    }
}

async fn wrong_answers(work: &mut Work, revision: &Revision) -> Result<Vec<FieldError>, Failure> {
    if !revision.changes_work && !revision.answers.is_empty() {
        let message = "Only a change of the work resolves failures: say that it changes the work, \
                       or name no attempts.";
        return Ok(vec![FieldError::new("answers", message)]);
    }
    let mut wrong = Vec::new();
    for code in revision.answers.iter() {
        if let Some(attempt) = Attempt::find(work.db(), code.as_str()).await?
            && let Some(why) = cannot_answer(revision, &attempt)
        {
            wrong.push(FieldError::new("answers", why));
        }
    }
    Ok(wrong)
}

/// A cleared change of the work is a remedy for the attempts that it names, on every unit.
async fn answer(work: &mut Work, revision: &Revision) -> Result<(), Failure> {
    let known = remedies::by_revision(work.db(), &revision.technique, revision.number).await?;
    let verified = |code: &AttemptCode| {
        known.iter().any(|r| r.state == RemedyState::Verified && r.attempts.contains(code))
    };
    let left: Vec<AttemptCode> =
        revision.answers.iter().filter(|code| !verified(code)).cloned().collect();
    if left.is_empty() {
        return Ok(());
    }
    let what = format!("Revision {} of {}: {}", revision.number, revision.technique, {
        let said = revision.changed.as_str().lines().next().unwrap_or_default();
        if said.is_empty() { "the work is changed" } else { said }
    });
    let remedy = Remedy {
        code: Own(RemedyCode::default()),
        what: Line::shortened(&what),
        finding: None,
        attempts: List(left),
        reach: Reach::EveryUnit,
        technique: Some(revision.technique.clone()),
        revision: Some(revision.number),
        owner: revision.author.clone(),
        needed_by: None,
        opened_on: revision.made_on,
        state: RemedyState::Verified,
        done_on: revision.made_on,
        verified_by: revision.cleared_by.clone(),
        verified_on: revision.cleared_on,
        evidence: revision.evidence.clone(),
        checked: Some(Checked::Clearing),
    };
    write(work, remedy, Base::New).await?;
    Ok(())
}

/// What the clearing verified is verified no more.
async fn take_answer_back(work: &mut Work, cleared: &Revision) -> Result<(), Failure> {
    let known = remedies::by_revision(work.db(), &cleared.technique, cleared.number).await?;
    let by_clearing = |remedy: &Remedy| {
        remedy.state == RemedyState::Verified
            && remedy.finding.is_none()
            && remedy.verified_by == cleared.cleared_by
            && remedy.verified_on == cleared.cleared_on
    };
    for remedy in known.into_iter().filter(by_clearing) {
        let withdrawn = Remedy { state: RemedyState::Withdrawn, ..remedy };
        write(work, withdrawn, Base::Current).await?;
    }
    Ok(())
}

/// Keeps what a technique says beside it, as the revision in which it stands.
#[boxed]
pub(crate) async fn keep(
    work: &mut Work,
    before: Option<&Technique>,
    technique: &Technique,
) -> Result<(), Failure> {
    if let Some(before) = before.filter(|before| number(before) != number(technique))
        && revisions::at(work.db(), &before.code.0, number(before)).await?.is_none()
    {
        write(work, Revision::of(before), Base::New).await?;
    }
    match revisions::at(work.db(), &technique.code.0, number(technique)).await? {
        Some(kept) => write(work, kept.saying(technique), Base::Current).await?,
        None => write(work, Revision::of(technique), Base::New).await?,
    };
    Ok(())
}

/// What is said of a revision that is being made.
#[derive(Debug, Clone)]
pub struct RevisionNotes {
    pub changed: Prose,
    pub changes_work: bool,
    pub answers: List<AttemptCode>,
}

/// Makes the next revision of a technique, on the version that the person saw.
#[boxed]
pub async fn revise(
    work: &mut Work,
    technique: Technique,
    said: RevisionNotes,
    seen: i64,
) -> Result<Saved<Revision>, Failure> {
    allowed(work, Action::KeepTechniques)?;
    let before = current::<Technique>(work, technique.code.0.as_str()).await?;
    let minutes = |one: &Technique| (one.optimistic, one.likely, one.pessimistic);
    let mut wrong = Vec::new();
    if work_differs(&before, &technique).is_none() && minutes(&before) == minutes(&technique) {
        let message = format!(
            "Nothing differs from revision {}: change a step, a side, a tool, the seats or the \
             minutes.",
            number(&before)
        );
        wrong.push(FieldError::new("steps", message));
    }
    if said.changed.is_empty() {
        wrong.push(FieldError::new("changed", "Say what changes, and why."));
    }
    if !wrong.is_empty() {
        return Err(Failure::Invalid(wrong));
    }
    let next = Technique {
        revision: Some(number(&before) + 1),
        state: TechniqueState::Drafted,
        ..technique
    };
    let made = write(work, next, Base::Version(seen)).await?.record;
    let kept = revisions::at(work.db(), &made.code.0, number(&made)).await?;
    let revision = Revision {
        changed: said.changed,
        changes_work: said.changes_work,
        answers: said.answers,
        ..kept.unwrap_or_else(|| Revision::of(&made))
    };
    write(work, revision, Base::Current).await
}

/// Clears a revision as somebody other than its author. One that changes the work answers the
/// attempts that it names from then on.
#[boxed]
pub async fn clear(work: &mut Work, code: &str, evidence: Prose) -> Result<Revision, Failure> {
    allowed(work, Action::ClearRevision)?;
    let mut revision = current::<Revision>(work, code).await?;
    if let Some(by) = &revision.cleared_by {
        return Err(Failure::Refused(format!("{code} was cleared by {by} already.")));
    }
    let touches = Touches::of(work.db(), Kind::Revision, &[code.to_owned()]).await?;
    touches.let_judge(&revision, &work.actor.name).map_err(Failure::Refused)?;
    revision.evidence = evidence;
    revision.cleared_by = Some(Line::known(work.actor.name.clone()));
    revision.cleared_on = Some(work.today);
    let cleared = write(work, revision, Base::Current).await?.record;
    let technique = current::<Technique>(work, cleared.technique.as_str()).await?;
    if number(&technique) == cleared.number && technique.state != TechniqueState::Withdrawn {
        let technique = Technique { state: TechniqueState::Cleared, ..technique };
        write(work, technique, Base::Current).await?;
    }
    Ok(cleared)
}

/// Takes a clearance back; what it let go of counts again.
#[boxed]
pub async fn take_clearance_back(
    work: &mut Work,
    code: &str,
    why: &str,
) -> Result<Revision, Failure> {
    allowed(work, Action::ClearRevision)?;
    let revision = current::<Revision>(work, code).await?;
    if revision.cleared_by.is_none() {
        return Err(Failure::Refused(format!("{code} is not cleared.")));
    }
    if why.trim().is_empty() {
        return Err(Failure::field("why", "Say why the clearance is undone."));
    }
    work.because(why);
    let open = Revision { cleared_by: None, cleared_on: None, ..revision };
    let open = write(work, open, Base::Current).await?.record;
    let technique = current::<Technique>(work, open.technique.as_str()).await?;
    if number(&technique) == open.number && technique.state == TechniqueState::Cleared {
        let technique = Technique { state: TechniqueState::Drafted, ..technique };
        write(work, technique, Base::Current).await?;
    }
    Ok(open)
}
