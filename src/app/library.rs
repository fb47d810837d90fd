//! The library as people read it: worksites, techniques, tools and families, each with what the
//! record says of it.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeMap, BTreeSet};

use sqlx::SqliteConnection;

use crate::Failure;
use crate::calendar::Calendar;
use domain::attempts::Attempt;
use domain::codes::{
    AttemptCode, ExcursionCode, FamilyCode, PositionCode, TaskCode, TechniqueCode, ToolCode,
    UnitCode, WorksiteCode,
};
use domain::excursions::ExcursionTool;
use domain::families::Stay;
use domain::families::{Family, Unit};
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::revisions::Revision;
use domain::tasks::Task;
use domain::techniques::{Qualification, Rehearsal, Technique};
use domain::tools::Tool;
use domain::units::Pet;
use domain::words::Outcome;
use domain::worksites::{Position, Route, Worksite};
use store::attempts::TriedBy;
use store::library::{FamilySize, PAGE, needed_by, open_at, sizes, tried};
use store::open_items::{self, Filter, OpenItem, Sort};
use store::standing::StandingRow;
use store::{
    Kept, attempts, excursions, families, outside, reach, revisions, standing, tasks, techniques,
    tools, worksites,
};

/// The map draws every worksite and way; no record has more.
const MAX_PLACES: i64 = 5_000;
/// Open items shown on the page of a worksite or a family; the rest stands in the backlog.
const SHOWN: i64 = 50;
/// Outings shown on the page of a tool.
const OUTINGS: i64 = 20;

/// A page of one shelf.
#[derive(Debug)]
pub struct Shelf<T> {
    pub entries: Vec<T>,
    pub total: i64,
}

/// All ways and what is outside, as the map draws them.
#[derive(Debug)]
pub struct Ground {
    pub sites: Vec<Worksite>,
    pub routes: Vec<Route>,
    pub outside: Vec<OutsideItem>,
}

#[boxed]
pub async fn ground(db: &mut SqliteConnection) -> Result<Ground, Failure> {
    Ok(Ground {
        sites: Worksite::after(db, "", MAX_PLACES).await?,
        routes: Route::after(db, "", MAX_PLACES).await?,
        outside: outside::in_place(db).await?,
    })
}

/// Worksites, each with the number of open items that wait there.
#[boxed]
pub async fn worksites(
    db: &mut SqliteConnection,
    typed: &str,
    page: i64,
) -> Result<Shelf<(Worksite, i64)>, Failure> {
    let found = worksites::matching(db, typed, (page - 1) * PAGE, PAGE).await?;
    let total = worksites::count_matching(db, typed).await?;
    let entries = with_open(db, found).await?;
    Ok(Shelf { entries, total })
}

/// Every worksite of the map with its open items.
#[boxed]
pub(crate) async fn with_open(
    db: &mut SqliteConnection,
    sites: Vec<Worksite>,
) -> Result<Vec<(Worksite, i64)>, Failure> {
    let codes: Vec<WorksiteCode> = sites.iter().map(|site| site.code.0.clone()).collect();
    let open = open_at(db, &codes).await?;
    let count = |site: &Worksite| {
        open.iter().find(|(code, _)| *code == site.code.0).map_or(0, |(_, count)| *count)
    };
    Ok(sites.into_iter().map(|site| (count(&site), site)).map(|(n, site)| (site, n)).collect())
}

/// One worksite whole.
#[derive(Debug)]
pub struct WorksiteRead {
    pub site: Worksite,
    pub routes: Vec<Route>,
    pub positions: Vec<Position>,
    pub outside: Vec<OutsideItem>,
    pub open: Vec<OpenItem>,
    pub open_total: i64,
}

#[boxed]
pub async fn worksite(db: &mut SqliteConnection, code: &str) -> Result<WorksiteRead, Failure> {
    let site = Worksite::find(db, code).await?.ok_or_else(|| missing(Kind::Worksite, code))?;
    let filter = Filter { worksite: Some(site.code.0.clone()), ..Filter::default() };
    Ok(WorksiteRead {
        routes: worksites::routes_at(db, &site.code.0).await?,
        positions: worksites::positions_at(db, &site.code.0).await?,
        outside: outside::at_worksite(db, &site.code.0).await?,
        open: open_items::page(db, &filter, Sort::Rank, 0, SHOWN).await?,
        open_total: open_items::count(db, &filter).await?,
        site,
    })
}

/// A technique with what became of it.
#[derive(Debug)]
pub struct TechniqueEntry {
    pub technique: Technique,
    pub tries: Vec<(Outcome, i64)>,
}

#[boxed]
pub async fn techniques(
    db: &mut SqliteConnection,
    typed: &str,
    page: i64,
) -> Result<Shelf<TechniqueEntry>, Failure> {
    let found = techniques::matching(db, typed, (page - 1) * PAGE, PAGE).await?;
    let total = techniques::count_matching(db, typed).await?;
    Ok(Shelf { entries: with_tries(db, found).await?, total })
}

async fn with_tries(
    db: &mut SqliteConnection,
    found: Vec<Technique>,
) -> Result<Vec<TechniqueEntry>, Failure> {
    let codes: Vec<TechniqueCode> = found.iter().map(|one| one.code.0.clone()).collect();
    let all = tried(db, &codes).await?;
    let entry = |technique: Technique| TechniqueEntry {
        tries: all
            .iter()
            .filter(|tried| tried.technique == technique.code.0)
            .map(|tried| (tried.outcome, tried.count))
            .collect(),
        technique,
    };
    Ok(found.into_iter().map(entry).collect())
}

/// One technique whole.
#[derive(Debug)]
pub struct TechniqueRead {
    pub technique: Technique,
    /// The first one first.
    pub revisions: Vec<Revision>,
    pub rehearsals: Vec<Rehearsal>,
    pub qualifications: Vec<Qualification>,
    /// As they happened.
    pub attempts: Vec<TriedBy>,
    pub calendar: Calendar,
    pub open: Shelf<TaskStanding>,
}

/// A task with how it stands.
#[derive(Debug)]
pub struct TaskStanding {
    pub task: Task,
    pub standing: Option<StandingRow>,
}

#[boxed]
pub async fn technique(
    db: &mut SqliteConnection,
    code: &str,
    page: i64,
) -> Result<TechniqueRead, Failure> {
    let technique =
        Technique::find(db, code).await?.ok_or_else(|| missing(Kind::Technique, code))?;
    let own = &technique.code.0;
    let meant = reach::tasks_of_technique(db, own).await?;
    let calendar = Calendar::load(db).await?;
    let mut tries = attempts::by_technique(db, own).await?;
    as_they_happened(&mut tries, &calendar, |t| (&t.excursion, t.pet_start, &t.code));
    Ok(TechniqueRead {
        revisions: revisions::of_technique(db, own).await?,
        rehearsals: techniques::rehearsals_of(db, own).await?,
        qualifications: techniques::qualifications_of(db, own).await?,
        attempts: tries,
        calendar,
        open: open_of(db, &meant, page).await?,
        technique,
    })
}

/// A tool with the number of techniques that need it.
#[boxed]
pub async fn tools(
    db: &mut SqliteConnection,
    typed: &str,
    page: i64,
) -> Result<Shelf<(Tool, i64)>, Failure> {
    let found = tools::matching(db, typed, (page - 1) * PAGE, PAGE).await?;
    let total = tools::count_matching(db, typed).await?;
    let codes: Vec<ToolCode> = found.iter().map(|tool| tool.code.0.clone()).collect();
    let needed = needed_by(db, &codes).await?;
    let count = |tool: &Tool| {
        needed.iter().find(|(code, _)| *code == tool.code.0).map_or(0, |(_, count)| *count)
    };
    let entries = found.into_iter().map(|tool| (count(&tool), tool)).map(|(n, tool)| (tool, n));
    Ok(Shelf { entries: entries.collect(), total })
}

/// One tool whole.
#[derive(Debug)]
pub struct ToolRead {
    pub tool: Tool,
    pub techniques: Vec<Technique>,
    pub open: Shelf<TaskStanding>,
    pub outings: Vec<ExcursionTool>,
}

#[boxed]
pub async fn tool(db: &mut SqliteConnection, code: &str, page: i64) -> Result<ToolRead, Failure> {
    let tool = Tool::find(db, code).await?.ok_or_else(|| missing(Kind::Tool, code))?;
    let meant = reach::tasks_that_use(db, &tool.code.0).await?;
    Ok(ToolRead {
        techniques: techniques::that_use(db, &tool.code.0).await?,
        open: open_of(db, &meant, page).await?,
        outings: excursions::outings_of(db, &tool.code.0, OUTINGS).await?,
        tool,
    })
}

#[boxed]
pub async fn families(
    db: &mut SqliteConnection,
    typed: &str,
    page: i64,
) -> Result<Shelf<(Family, Option<FamilySize>)>, Failure> {
    let found = families::matching(db, typed, (page - 1) * PAGE, PAGE).await?;
    let total = families::count_matching(db, typed).await?;
    let codes: Vec<FamilyCode> = found.iter().map(|family| family.code.0.clone()).collect();
    let sizes = sizes(db, &codes).await?;
    let size = |family: &Family| sizes.iter().find(|s| s.family == family.code.0).cloned();
    let entries = found.into_iter().map(|family| (size(&family), family));
    Ok(Shelf { entries: entries.map(|(size, family)| (family, size)).collect(), total })
}

/// Units, or places without one, on one page of a family.
pub const UNITS: i64 = 50;

/// One family: a page of its units with their stays and of its tasks without a unit, with the tries of
/// what is shown, the last one last.
#[derive(Debug)]
pub struct FamilyRead {
    pub family: Family,
    /// How many units there are, and tasks at places where none stands now.
    pub unit_count: usize,
    pub unplaced_count: usize,
    pub units: Vec<(Unit, Vec<Stay>)>,
    /// The tasks where these units stand.
    pub tasks: Vec<TaskStanding>,
    pub unplaced: Vec<TaskStanding>,
    pub attempts: Vec<Attempt>,
    pub techniques: Vec<TechniqueEntry>,
    /// One of its tasks, where it has any.
    pub some_task: Option<TaskCode>,
}

#[boxed]
pub async fn family(
    db: &mut SqliteConnection,
    code: &str,
    page: i64,
) -> Result<FamilyRead, Failure> {
    let family = Family::find(db, code).await?.ok_or_else(|| missing(Kind::Family, code))?;
    let own = &family.code.0;
    let units = families::of_family(db, own).await?;
    let stays = families::stays_of_family(db, own).await?;
    let places = tasks::places_of_family(db, own).await?;
    let last: BTreeMap<&UnitCode, &Stay> = stays.iter().map(|(unit, stay)| (unit, stay)).collect();
    let standing: BTreeMap<&UnitCode, &PositionCode> = last
        .into_iter()
        .filter(|(_, stay)| stay.until_day.is_none())
        .map(|(unit, stay)| (unit, &stay.position))
        .collect();
    let taken: BTreeSet<&PositionCode> = standing.values().copied().collect();
    let homeless: Vec<&TaskCode> = places
        .iter()
        .filter(|(_, at)| at.as_ref().is_none_or(|at| !taken.contains(at)))
        .map(|(task, _)| task)
        .collect();
    let (unit_count, unplaced_count) = (units.len(), homeless.len());
    let (skip, most) = (usize::try_from((page - 1) * UNITS), usize::try_from(UNITS));
    let (skip, most) = (skip.unwrap_or(0), most.unwrap_or(0));
    let shown: Vec<Unit> = units.iter().skip(skip).take(most).cloned().collect();
    let here: BTreeSet<&PositionCode> =
        shown.iter().filter_map(|unit| standing.get(&unit.code.0).copied()).collect();
    let housed: Vec<TaskCode> = places
        .iter()
        .filter(|(_, at)| at.as_ref().is_some_and(|at| here.contains(at)))
        .map(|(task, _)| task.clone())
        .collect();
    let unplaced: Vec<TaskCode> = homeless.into_iter().skip(skip).take(most).cloned().collect();
    let both = [&*housed, &*unplaced].concat();
    let mut attempts = attempts::of_tasks(db, &both).await?;
    let calendar = Calendar::load(db).await?;
    as_they_happened(&mut attempts, &calendar, |a| (&a.excursion, a.pet_start, &a.code.0));
    let records = tasks::these(db, &both).await?;
    let mut seen = with_standing(db, records).await?;
    let unplaced = seen.extract_if(.., |one| unplaced.contains(&one.task.code.0)).collect();
    let of_unit = |unit: &Unit| -> Vec<Stay> {
        let own = stays.iter().filter(|(code, _)| *code == unit.code.0);
        own.map(|(_, stay)| stay.clone()).collect()
    };
    let ways = techniques::of_family(db, own).await?;
    Ok(FamilyRead {
        unit_count,
        unplaced_count,
        units: shown.into_iter().map(|unit| (of_unit(&unit), unit)).map(|(s, u)| (u, s)).collect(),
        tasks: seen,
        unplaced,
        attempts,
        techniques: with_tries(db, ways).await?,
        some_task: places.into_iter().next().map(|(task, _)| task),
        family,
    })
}

/// One task with how it stands.
#[boxed]
pub async fn standing_of(
    db: &mut SqliteConnection,
    task: &TaskCode,
) -> Result<Option<TaskStanding>, Failure> {
    let records = tasks::these(db, std::slice::from_ref(task)).await?;
    Ok(with_standing(db, records).await?.pop())
}

/// One that was entered late takes its place in the past.
fn as_they_happened<T>(
    attempts: &mut [T],
    calendar: &Calendar,
    told: impl Fn(&T) -> (&ExcursionCode, Option<Pet>, &AttemptCode),
) {
    attempts.sort_by_cached_key(|attempt| {
        let (excursion, start, code) = told(attempt);
        let on = calendar.excursions.get(excursion);
        ((on.and_then(|on| on.flight), on.map(|on| on.rank)), start, code.clone())
    });
}

/// Open items on one page of a technique, a tool or an inhibit.
pub const OPEN: i64 = 25;

/// A page of those of these tasks that are open items, by code.
#[boxed]
pub(crate) async fn open_of(
    db: &mut SqliteConnection,
    codes: &[TaskCode],
    page: i64,
) -> Result<Shelf<TaskStanding>, Failure> {
    let open = standing::open_titles(db, codes).await?;
    let (skip, most) = (usize::try_from((page - 1) * OPEN), usize::try_from(OPEN));
    let shown: Vec<TaskCode> = open
        .iter()
        .map(|(task, _)| task.clone())
        .skip(skip.unwrap_or(0))
        .take(most.unwrap_or(0))
        .collect();
    let records = tasks::these(db, &shown).await?;
    let entries = with_standing(db, records).await?;
    Ok(Shelf { entries, total: i64::try_from(open.len()).unwrap_or(i64::MAX) })
}

async fn with_standing(
    db: &mut SqliteConnection,
    records: Vec<Task>,
) -> Result<Vec<TaskStanding>, Failure> {
    let codes: Vec<TaskCode> = records.iter().map(|task| task.code.0.clone()).collect();
    let rows = standing::these(db, &codes).await?;
    let mut rows: BTreeMap<TaskCode, StandingRow> =
        rows.into_iter().map(|row| (row.task.clone(), row)).collect();
    let mut stands = |task: &Task| rows.remove(&task.code.0);
    Ok(records.into_iter().map(|task| TaskStanding { standing: stands(&task), task }).collect())
}

fn missing(kind: Kind, code: &str) -> Failure {
    Failure::NotFound(kind, code.to_owned())
}
