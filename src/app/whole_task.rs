//! Everything about one task, read for its page.

use async_recursion::async_recursion as boxed;
use std::collections::HashMap;
use std::sync::Arc;

use sqlx::SqliteConnection;

use crate::calendar::Calendar;
use crate::dossier::Dossier;
use crate::four_eyes::Touches;
use crate::task_fit::{self, TaskFit};
use crate::{Failure, Reader, links, sisters};
use domain::attempts::Attempt;
use domain::codes::{AttemptCode, CauseCode, TaskCode};
use domain::endings::{Closure, Deferral, Parking, Reopening};
use domain::families::{Family, Unit};
use domain::files::File;
use domain::findings::{Cause, Exemption, Finding, Remedy};
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::repeat_guard::{Guard, SetApart, set_apart};
use domain::slots::Slot;
use domain::tasks::Task;
use domain::techniques::Technique;
use store::history::Texts;
use store::remedies::NotHeldSeen;
use store::standing::StandingRow;
use store::tasks::{LinkSeen, Sister};
use store::{
    Kept, attempts, endings, families, files, findings, outside, register, remedies as remedy_rows,
    slots, standing, tasks, techniques,
};

/// So many sisters are shown.
const SISTERS: i64 = 10;
/// No list of causes is longer.
const MAX_CAUSES: i64 = 20_000;

/// A task with everything around it.
#[derive(Debug)]
pub struct WholeTask {
    pub task: Task,
    pub version: i64,
    pub standing: Option<StandingRow>,
    pub dossier: Dossier,
    pub fit: Arc<TaskFit>,
    /// Its live slots, each with the person who made it.
    pub slots: Vec<(Slot, String)>,
    pub family: Option<Family>,
    pub techniques: Vec<Technique>,
    pub told: TaskRecords,
    /// The photographs and files of its attempts.
    pub files: Vec<File>,
    pub findings: Vec<Finding>,
    pub remedies: Vec<Remedy>,
    /// Failures that show one of them not to have held, the latest first.
    pub not_held: Vec<NotHeldSeen>,
    pub exemptions: Vec<Exemption>,
    /// Who touched them.
    pub touches: Touches,
    pub causes: HashMap<CauseCode, String>,
    pub links: Vec<LinkSeen>,
    /// What hangs together with it by links.
    pub around: links::LinkedTasks,
    pub outside: Outside,
    /// The first of its sisters, and how many it has.
    pub sisters: Vec<Sister>,
    pub sister_count: i64,
    /// The open units of its family that its failures affect.
    pub turned: sisters::SistersAffected,
    /// What a swap or a move set apart for it.
    pub set_apart: Vec<SetApart>,
    /// Units of the family with their serial numbers, where something was set apart.
    pub units: Vec<Unit>,
}

/// What happened to it, each kind by code.
#[derive(Debug)]
pub struct TaskRecords {
    pub attempts: Vec<Attempt>,
    pub deferrals: Vec<Deferral>,
    pub closures: Vec<Closure>,
    pub parkings: Vec<Parking>,
    pub reopenings: Vec<Reopening>,
}

/// What stands outside and concerns it.
#[derive(Debug)]
pub struct Outside {
    pub brought_back: Vec<OutsideItem>,
    /// What else stands there.
    pub at_worksite: Vec<OutsideItem>,
}

impl WholeTask {
    /// Whether it can be planned: neither ended nor unknown.
    pub fn is_open_item(&self) -> bool {
        self.standing.as_ref().is_none_or(|stand| stand.state.is_open_item())
    }
}

#[boxed]
pub async fn read(db: &mut Reader, code: &str) -> Result<WholeTask, Failure> {
    let missing = || Failure::NotFound(Kind::Task, code.to_owned());
    let task = Task::find(db, code).await?.ok_or_else(missing)?;
    let registered = register::find(db, Kind::Task, code).await?.ok_or_else(missing)?;
    let own = &task.code.0;
    let standing = standing::find(db, own).await?;
    let dossier = Dossier::load(db, std::slice::from_ref(own)).await?;
    let family = match &task.family {
        Some(family) => Family::find(db, family.as_str()).await?,
        None => None,
    };
    let (others, sister_count) = match &task.family {
        Some(family) => tasks::first_sisters(db, family, own, SISTERS).await?,
        None => (Vec::new(), 0),
    };
    let set_apart = set_apart_for(&dossier, own);
    let units = match &task.family {
        Some(family) if !set_apart.is_empty() => families::of_family(db, family).await?,
        Some(_) | None => Vec::new(),
    };
    let brought_back = outside::brought_back_by(db, own).await?;
    let mut at_worksite = match &task.worksite {
        Some(site) => outside::at_worksite(db, site).await?,
        None => Vec::new(),
    };
    at_worksite.retain(|item| brought_back.iter().all(|back| back.code != item.code));
    let open = standing.as_ref().is_none_or(|stand| stand.state.is_open_item());
    let fit = task_fit::seen(db, own, open).await?;
    let remedies = remedy_rows::of_task(db, own).await?;
    let answering: Vec<_> = remedies.iter().map(|remedy| remedy.code.0.clone()).collect();
    let tried: Vec<AttemptCode> =
        dossier.events.attempts_of(own).iter().map(|tried| tried.code.clone()).collect();
    let turned = sisters::turned_in(db, &dossier, &tried, Some(own)).await?;
    let exemptions = findings::exemptions_of_task(db, own).await?;
    let codes: Vec<String> = exemptions.iter().map(|one| one.code.0.to_string()).collect();
    Ok(WholeTask {
        version: registered.version,
        standing,
        fit,
        slots: live(db, own).await?,
        family,
        techniques: techniques::for_task(db, own, task.family.as_ref()).await?,
        told: told(db, own).await?,
        files: files::of_task(db, own).await?,
        findings: findings::of_task(db, own).await?,
        not_held: remedy_rows::not_held(db, Some(&answering), false, MAX_CAUSES).await?,
        remedies,
        touches: Touches::of(db, Kind::Exemption, &codes).await?,
        exemptions,
        causes: causes(db).await?,
        links: tasks::links_of(db, own).await?,
        around: links::around(db, own).await?,
        outside: Outside { brought_back, at_worksite },
        sisters: others,
        sister_count,
        set_apart,
        turned,
        units,
        dossier,
        task,
    })
}

/// What happened to one task, without what it means for others.
#[derive(Debug)]
pub struct Happened {
    pub task: Task,
    pub dossier: Dossier,
    pub told: TaskRecords,
    pub files: Vec<File>,
    pub findings: Vec<Finding>,
    pub causes: HashMap<CauseCode, String>,
}

#[boxed]
pub async fn happened(db: &mut SqliteConnection, code: &str) -> Result<Happened, Failure> {
    let missing = || Failure::NotFound(Kind::Task, code.to_owned());
    let task = Task::find(db, code).await?.ok_or_else(missing)?;
    let own = &task.code.0;
    let calendar = Calendar::load(db).await?;
    Ok(Happened {
        dossier: Dossier::events_alone(db, calendar, std::slice::from_ref(own), Texts::Read)
            .await?,
        told: told(db, own).await?,
        files: files::of_task(db, own).await?,
        findings: findings::of_task(db, own).await?,
        causes: causes(db).await?,
        task,
    })
}

async fn told(db: &mut SqliteConnection, own: &TaskCode) -> Result<TaskRecords, Failure> {
    Ok(TaskRecords {
        attempts: attempts::of_task(db, own).await?,
        deferrals: endings::deferrals_of_task(db, own).await?,
        closures: endings::closures_of_task(db, own).await?,
        parkings: endings::parkings_of_task(db, own).await?,
        reopenings: endings::reopenings_of_task(db, own).await?,
    })
}

/// The kinds of cause by their codes, in words.
async fn causes(db: &mut SqliteConnection) -> Result<HashMap<CauseCode, String>, Failure> {
    let all = Cause::after(db, "", MAX_CAUSES).await?;
    Ok(all.into_iter().map(|cause| (cause.code.0, cause.words.into_string())).collect())
}

fn set_apart_for(dossier: &Dossier, task: &TaskCode) -> Vec<SetApart> {
    let opening = dossier.events.openings.iter().find(|opening| opening.task == *task);
    let Some(record) = opening.and_then(|opening| dossier.family_of(opening)) else {
        return Vec::new();
    };
    let guard = Guard::new(record.record());
    set_apart(&dossier.unit_of(task), &guard)
}

async fn live(db: &mut SqliteConnection, task: &TaskCode) -> Result<Vec<(Slot, String)>, Failure> {
    let mut all = Vec::new();
    for slot in slots::live_of_task(db, task).await? {
        let row = register::find(db, Kind::Slot, slot.code.0.as_str()).await?;
        all.push((slot, row.map_or_else(String::new, |row| row.made_by)));
    }
    Ok(all)
}
