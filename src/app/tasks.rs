//! Tasks and their links.

use crate::excursions::allowed;
use crate::families::elsewhere;
use crate::records::{Base, Ruled, current, not_there, write};
use crate::techniques::{seat_count, three_points};
use crate::work::Work;
use crate::{Failure, create_missing, touched};
use async_recursion::async_recursion as boxed;
use domain::cells::FieldError;
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::order_of_work::{Tie, cycle_with, ring_in_words};
use domain::roles::{self, Action};
use domain::tasks::{Link, Task};
use domain::time::Day;
use domain::words::LinkKind;
use domain::worksites::Position;
use store::{Kept, register, tasks};

impl Ruled for Task {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        task: &mut Self,
    ) -> Result<(), Failure> {
        let mut wrong = three_points(task.optimistic, task.likely, task.pessimistic);
        wrong.extend(seat_count(task.seats));
        wrong.extend(reserved(work, before, task));
        if !wrong.is_empty() {
            return Err(Failure::Invalid(wrong));
        }
        place(work, before, task).await?;
        if before.is_none() && task.opened.is_none() && !work.creates_missing {
            task.opened = Some(opening_day(work, task).await?);
        }
        Ok(())
    }

    async fn reach(work: &mut Work, task: &Self) -> Result<(), Failure> {
        work.touch(&task.code.0);
        Ok(())
    }

    async fn follow(work: &mut Work, before: Option<&Self>, task: &Self) -> Result<(), Failure> {
        let Some(before) = before.filter(|before| before.family != task.family) else {
            return Ok(());
        };
        // What it learnt counts in another family from now on, and no more in the one it left.
        for family in before.family.iter().chain(&task.family) {
            let sisters = tasks::of_family(work.db(), family).await?;
            touched::all(work, sisters.into_iter().map(|sister| sister.code.0));
        }
        Ok(())
    }
}

/// Today, or the day of the excursion that found the work, where that was earlier.
async fn opening_day(work: &mut Work, task: &Task) -> Result<Day, Failure> {
    let Some(found_on) = &task.from_excursion else { return Ok(work.today) };
    let found = Excursion::find(work.db(), found_on.as_str()).await?;
    let day = found.and_then(|excursion| excursion.day).unwrap_or(work.today);
    Ok(day.min(work.today))
}

/// What only a lead sets: the class and by when it is needed.
fn reserved(work: &Work, before: Option<&Task>, task: &Task) -> Vec<FieldError> {
    let role = work.actor.role;
    roles::task_actions(before, task)
        .into_iter()
        .filter(|action| !roles::may(role, *action))
        .map(|action| {
            let field = match action {
                Action::SetClass => "class",
                Action::SetNeededBy => "needed_by_flight",
                Action::TriggerTask => "triggered",
                _ => "title",
            };
            FieldError::new(field, roles::refusal(role, action))
        })
        .collect()
}

/// Puts the task at its position. A position that is new is made at the worksite that stands
/// beside it. One of that name elsewhere is refused; in a table, where nobody can be asked, the
/// worksite is put in front of its name.
async fn place(work: &mut Work, before: Option<&Task>, task: &mut Task) -> Result<(), Failure> {
    let placed = |task: &Task| (task.position.clone(), task.worksite.clone());
    if before.is_some_and(|before| placed(before) == placed(task)) {
        return Ok(());
    }
    let Some(code) = task.position.clone() else { return Ok(()) };
    let worksite = task.worksite.as_ref().map_or("", |site| site.as_str()).to_owned();
    if !worksite.is_empty() && register::find(work.db(), Kind::Worksite, &worksite).await?.is_none()
    {
        if !work.creates_missing {
            return Err(Failure::Invalid(vec![not_there("worksite", Kind::Worksite, &worksite)]));
        }
        create_missing::worksite(work, &worksite).await?;
    }
    match Position::find(work.db(), code.as_str()).await? {
        None => create_missing::position(work, code.as_str(), &worksite).await?,
        Some(position) => match (&position.worksite, &task.worksite) {
            (Some(there), None) => task.worksite = Some(there.clone()),
            (Some(there), Some(named)) if there != named => {
                if !work.creates_missing {
                    let words = elsewhere(&code, there, named);
                    return Err(Failure::field("worksite", words));
                }
                task.position = Some(create_missing::position_at(work, &code, named).await?);
            }
            (None, Some(named)) => {
                let found = Position { worksite: Some(named.clone()), ..position };
                write(work, found, Base::Current).await?;
            }
            (Some(_), Some(_)) | (None, None) => {}
        },
    }
    Ok(())
}

/// Triggers a contingency: what was kept out until something else happens is in the backlog now.
#[boxed]
pub async fn trigger(work: &mut Work, code: &str, why: &str) -> Result<Task, Failure> {
    allowed(work, Action::TriggerTask)?;
    let mut task = current::<Task>(work, code).await?;
    if task.triggered {
        return Err(Failure::Refused(format!("The condition of {code} is met already.")));
    }
    let links = tasks::links_of(work.db(), &task.code.0).await?;
    if !links.iter().any(|link| link.kind == LinkKind::OnlyIf && link.from_here) {
        return Err(Failure::Refused(format!(
            "{code} waits for no condition; link it as “only if” to the task that decides first."
        )));
    }
    work.because(why);
    task.triggered = true;
    Ok(write(work, task, Base::Current).await?.record)
}

impl Ruled for Link {
    async fn prepare(
        work: &mut Work,
        before: Option<&Self>,
        link: &mut Self,
    ) -> Result<(), Failure> {
        if link.task == link.other {
            return Err(Failure::field("other", "A task cannot be linked to itself."));
        }
        if link.kind.comes_after() {
            let mut ties: Vec<Tie> = tasks::every_link(work.db())
                .await?
                .iter()
                .filter(|known| before.is_none_or(|b| b.code != known.code))
                .map(Tie::from)
                .collect();
            let new = Tie::from(&*link);
            if let Some(ring) = cycle_with(&ties, &new) {
                ties.push(new);
                return Err(Failure::field(
                    "other",
                    format!(
                        "Each would come after the next: {}. Change or drop one of these first.",
                        ring_in_words(&ring, &ties)
                    ),
                ));
            }
        }
        Ok(())
    }
}
