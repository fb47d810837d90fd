//! What changed with a recorded attempt: how the task stands now, whether its approach is questioned or
//! blocked from now on, and which of its slots that concerns.

use app::read::Connection;

use crate::pages::carry;
use app::dossier::Dossier;
use app::read::{slots, standing};
use app::{App, Failure};
use domain::attempts::Attempt;
use domain::cells::{Cell as _, Cells};
use domain::codes::{TaskCode, TechniqueCode};
use domain::repeat_guard::{Approach, Judgement, judge};
use domain::sides::Side;
use domain::words::{SlotState, TaskState};

/// What the repeat guard said of the approach before.
pub(super) struct WhatChanged {
    before: Option<(Approach, &'static str)>,
}

impl WhatChanged {
    pub async fn before(app: &App, typed: &Cells) -> Result<Self, Failure> {
        let approach = Approach {
            technique: TechniqueCode::read(typed.get("technique")).ok(),
            side: Side::read(typed.get("side")).ok(),
        };
        let task = TaskCode::from(typed.get("task").trim());
        let word = word(&mut *app.reader().await?, &task, &approach).await?;
        Ok(Self { before: word.map(|word| (approach, word)) })
    }

    /// The sentences that follow the notice, each after a blank.
    pub async fn after(self, app: &App, attempt: &Attempt) -> Result<String, Failure> {
        let mut db = app.reader().await?;
        let task = &attempt.task;
        let words =
            standing::find(&mut db, task).await?.map_or_else(String::new, |row| match row.state {
                TaskState::Done => format!(" {task} is done."),
                _ if row.is_open => format!(" {task} stays open with {} left.", row.share_left),
                _ => format!(" {task} is {}.", row.state.word()),
            });
        let approach =
            Approach { technique: attempt.technique.clone(), side: attempt.side.clone() };
        let now = word(&mut db, task, &approach).await?;
        let was = self.before.filter(|(before, _)| *before == approach).map(|(_, word)| word);
        // Where nothing was known of it before, that it is clear is no news.
        let clear = Judgement::Clear.word();
        let is_news = |now: &&str| approach.is_whole() && was.unwrap_or(clear) != *now;
        let Some(now) = now.filter(is_news) else {
            return Ok(words);
        };
        let live = slots::live_of_task(&mut db, task).await?;
        let concerned: Vec<String> = live
            .iter()
            .filter(|slot| slot.technique == approach.technique && slot.side == approach.side)
            .map(|slot| {
                let what = if slot.state == SlotState::Set { "slot" } else { "pencil" };
                format!("its {what} on {}", slot.excursion)
            })
            .collect();
        let also = match concerned.as_slice() {
            [] => String::new(),
            all => format!(", and so is {}", all.join(" and ")),
        };
        Ok(format!("{words} {approach} is {now} for it now{also}."))
    }
}

async fn word(
    db: &mut Connection,
    task: &TaskCode,
    approach: &Approach,
) -> Result<Option<&'static str>, Failure> {
    let dossier = Dossier::load(db, std::slice::from_ref(task)).await?;
    let Some(opening) = carry::opening(&dossier, task) else { return Ok(None) };
    let record = dossier.family_of(opening).unwrap_or_else(|| dossier.no_family());
    Ok(Some(judge(&dossier.unit_of(task), approach, record.record()).word()))
}
