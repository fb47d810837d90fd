//! Withdrawing an attempt: what follows is said first, and what holds it is linked.

use app::read::Connection;
use axum::extract::State;
use axum::response::{IntoResponse, Response};

use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::linked::{Piece, linked};
use crate::page::Done;
use crate::visitor::Viewer;
use app::attempts::withdraw::{self, WithdrawalEffects};
use app::read::Found as _;
use app::work::Work;
use app::{App, Failure};
use domain::attempts::Attempt;
use domain::kinds::Kind;
use domain::roles::{Action, may};

/// The section of an attempt's page, for those who may.
pub(crate) struct WithdrawView {
    pub action: String,
    /// The records that name the attempt, with their pages.
    pub named_by: Vec<(&'static str, String, String)>,
    /// What follows, in sentences.
    pub follows: Vec<Vec<Piece>>,
}

impl WithdrawView {
    pub async fn of(
        db: &mut Connection,
        viewer: &Viewer,
        code: &str,
    ) -> Result<Option<Self>, Failure> {
        if !may(viewer.actor.role, Action::RecordAttempt) {
            return Ok(None);
        }
        let Some(attempt) = Attempt::find(db, code).await? else { return Ok(None) };
        let follows = withdraw::look(db, &attempt).await?;
        Ok(Some(Self {
            action: format!("{}/withdraw", addresses::of(Kind::Attempt, code)),
            named_by: follows
                .named_by
                .iter()
                .map(|(kind, code)| (kind.word(), code.clone(), addresses::of(*kind, code)))
                .collect(),
            follows: sentences(&attempt, &follows).iter().map(|words| linked(words)).collect(),
        }))
    }
}

fn sentences(attempt: &Attempt, follows: &WithdrawalEffects) -> Vec<String> {
    let (task, excursion) = (&attempt.task, &attempt.excursion);
    let mut all = vec![format!(
        "The state of {task} is derived again without this attempt. The change log keeps what it \
         said."
    )];
    if let Some(slot) = &follows.slot {
        all.push(format!("{slot} waits for its result again."));
    }
    if follows.reopens.is_some() {
        all.push(format!(
            "The debrief of {excursion} is closed. It is reopened, because {slot} has no other \
             result; a lead closes it when {slot} has one.",
            slot = follows.slot.as_ref().map_or("its slot", |slot| slot.as_str())
        ));
    }
    all
}

pub(crate) async fn withdraw(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let attempt = Attempt::find(work.db(), &code).await?;
    let follows = withdraw::withdraw(&mut work, &code, typed.get("why")).await?;
    let task = attempt.map(|attempt| addresses::of(Kind::Task, attempt.task.as_str()));
    let to = work.finish(task.unwrap_or_else(|| "/attempts".to_owned())).await?;
    let words = match (&follows.reopens, &follows.slot) {
        (Some(excursion), Some(slot)) => format!(
            "{code} is withdrawn. The debrief of {excursion} is open again: {slot} needs a result."
        ),
        (_, Some(slot)) => format!("{code} is withdrawn. {slot} waits for its result again."),
        _ => format!("{code} is withdrawn. The change log keeps what it said."),
    };
    Ok(Done::to(to).saying(words).into_response())
}
