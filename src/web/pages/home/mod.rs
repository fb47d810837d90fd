//! Today: the state of the campaign, then what this person can do, then what the team has open. Who
//! only reads sees the state of things and no calls.

mod calls;
mod first_steps;
mod reading;
mod words;

use askama::Template;
use axum::extract::State;

use crate::extract::Fields;
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::linked::{Piece, linked};
use crate::page::{Done, Page};
use crate::pages::campaign::{BacklogView, CampaignView};
use crate::pages::changes::ChangeRow;
use crate::visitor::Viewer;
use app::App;
use app::attention::{self, Attention};
use app::campaign::{self, Campaign};
use app::read::excursions;
use app::work::Work;
use compute::fit::margin;
use domain::roles::{Action, may};
use domain::time::Day;
use domain::words::Role;

use calls::{Call, Group, Looks, groups};
use first_steps::FirstStepsView;
use reading::{ClassRow, FlightTasks, Forbidden};

/// So many calls stand on Today.
const YOURS: usize = 10;

#[derive(Template)]
#[template(path = "home/show.html")]
pub(crate) struct TodayPage {
    page: PageFrame,
    today: Day,
    next: Option<(String, String)>,
    lead: Vec<Piece>,
    first_steps: Option<FirstStepsView>,
    camp: CampaignView,
    backlog: Option<BacklogView>,
    may_rehearse: bool,
    /// Nothing for who only reads.
    work: Option<WorkView>,
    /// How many open tasks have no slot, where there are any.
    without_slot: Option<String>,
    constraints: Forbidden,
    reading: Option<ReadingView>,
    changes: Vec<ChangeRow>,
    change_count: i64,
}

/// What this person can do, and what the team has open.
struct WorkView {
    yours: Vec<Call>,
    yours_count: i64,
    team: Vec<TeamRow>,
    /// The sorts of which nothing is this person's, counted together.
    others: Vec<TeamRow>,
    others_count: i64,
    team_count: i64,
}

struct TeamRow {
    id: &'static str,
    count: i64,
    yours: i64,
    noun: &'static str,
}

/// The state of things for who only reads.
struct ReadingView {
    classes: Vec<ClassRow>,
    sums: ClassRow,
    next: Option<FlightTasks>,
    last: Option<FlightTasks>,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<TodayPage>, PageError> {
    let mut db = app.reader().await?;
    let db = &mut db;
    let today = viewer.now().day();
    let role = viewer.actor.role;
    let first_steps = app::first_steps::read(db, role).await?;
    let first_steps = first_steps.map(|steps| first_steps::view(steps, role));
    let reads_only = role == Role::Viewer;
    let attention = if reads_only { None } else { Some(attention::seen(db, today).await?) };
    let campaign = campaign::seen(db).await?;
    let reading = if reads_only {
        let (next, last) = reading::flights(db, &campaign, today).await?;
        let (classes, sums) = reading::classes(&campaign.classes);
        Some(ReadingView { classes, sums, next, last })
    } else {
        None
    };
    let constraints = reading::constraints(db, today).await?;
    let (changes, change_count) = attention::changed(db, viewer.seen_change).await?;
    let next = excursions::coming(db).await.map_err(app::Failure::from)?.into_iter().next();
    let next = next.map(|excursion| {
        let when = match excursion.day {
            Some(day) if day.since(today) == 0 => format!("today, {day}"),
            Some(day) if day.since(today) > 0 => format!("in {} days, {day}", day.since(today)),
            Some(day) => day.to_string(),
            None => "date unknown".to_owned(),
        };
        (excursion.code.0.to_string(), when)
    });
    let camp = CampaignView::of(&campaign, today);
    let lead = linked(&lead(attention.as_deref(), &campaign, camp.free, &constraints));
    let work = attention
        .as_deref()
        .map(|attention| work(&Looks { attention, name: &viewer.actor.name, role, today }));
    Ok(Page(TodayPage {
        page: viewer.frame("Today", Nav::Today),
        today,
        next,
        lead,
        first_steps,
        camp,
        backlog: BacklogView::of(&campaign),
        may_rehearse: may(role, Action::PressOnTheDay),
        work,
        without_slot: without_slot(&campaign),
        constraints,
        reading,
        changes: changes.iter().map(ChangeRow::of).collect(),
        change_count,
    }))
}

fn without_slot(campaign: &Campaign) -> Option<String> {
    let without = |of: &app::read::campaign::OfClass| of.open - of.set - of.pencilled;
    match campaign.classes.iter().map(without).sum::<i64>() {
        ..=0 => None,
        1 => Some("1 open task has no slot".to_owned()),
        count => Some(format!("{count} open tasks have no slot")),
    }
}

fn work(looks: &Looks) -> WorkView {
    let groups = groups(looks);
    let mut yours: Vec<Call> = groups
        .iter()
        .flat_map(|group| &group.calls)
        .filter(|call| call.is_yours)
        .cloned()
        .collect();
    yours.sort_by_key(|call| call.pressing);
    yours.truncate(YOURS);
    let all: Vec<TeamRow> = groups
        .iter()
        .map(|group| TeamRow {
            id: group.id,
            count: group.count,
            yours: group.yours(),
            noun: group.noun(),
        })
        .collect();
    let (team, others): (Vec<_>, Vec<_>) = all.into_iter().partition(|row| row.yours > 0);
    let count = |rows: &[TeamRow]| rows.iter().map(|row| row.count).sum::<i64>();
    let (own_count, others_count) = (count(&team), count(&others));
    WorkView {
        yours,
        yours_count: team.iter().map(|row| row.yours).sum(),
        team_count: own_count + others_count,
        others_count,
        team,
        others,
    }
}

/// The one sentence on top.
fn lead(
    attention: Option<&Attention>,
    campaign: &Campaign,
    free: f64,
    constraints: &Forbidden,
) -> String {
    let open: i64 = campaign.classes.iter().map(|class| class.open).sum();
    if open == 0 && campaign.legs.is_empty() {
        return "The record is empty.".to_owned();
    }
    if open == 0 {
        return "No task is open.".to_owned();
    }
    let at_risk: i64 = campaign.legs.iter().map(|leg| leg.needs.at_risk).sum();
    let be = |count: i64| if count == 1 { "is" } else { "are" };
    let tasks = |count: i64| if count == 1 { "task" } else { "tasks" };
    let Some(attention) = attention else {
        let set: i64 = campaign.classes.iter().map(|class| class.set).sum();
        let pencilled: i64 = campaign.classes.iter().map(|class| class.pencilled).sum();
        return format!(
            "{open} {} {} open: {set} set, {pencilled} pencilled, {} without a slot. {at_risk} {} at risk of being late.{}",
            tasks(open),
            be(open),
            open - set - pencilled,
            be(at_risk),
            constraints.sentence()
        );
    };
    let at_risk = attention.at_risk_count;
    let mut parts =
        vec![format!("{at_risk} {} {} at risk of being late", tasks(at_risk), be(at_risk))];
    let waiting: Vec<String> =
        attention.to_debrief.iter().map(|excursion| excursion.code.0.to_string()).collect();
    match waiting.as_slice() {
        [] => {}
        [one] => parts.push(format!("{one} is not debriefed")),
        many => parts.push(format!("{} excursions are not debriefed", many.len())),
    }
    if free > 0.0 {
        parts.push(format!(
            "{} h of coming excursion time is free beside the pencilled tasks",
            margin(free)
        ));
    }
    let last = parts.pop().unwrap_or_default();
    if parts.is_empty() { format!("{last}.") } else { format!("{}, and {last}.", parts.join(", ")) }
}

fn whole(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

#[derive(Template)]
#[template(path = "home/all.html")]
pub(crate) struct AllPage {
    page: PageFrame,
    groups: Vec<Group>,
    mine: bool,
    count: usize,
}

/// Everything that is open, sort by sort; with `?mine=yes` what this person can do.
pub(crate) async fn all(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<AllPage>, PageError> {
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query);
    let mine = Fields::read(query.as_bytes()).get("mine") == "yes";
    let mut db = app.reader().await?;
    let today = viewer.now().day();
    let attention = attention::seen(&mut db, today).await?;
    let role = viewer.actor.role;
    let looks = Looks { attention: &attention, name: &viewer.actor.name, role, today };
    let mut groups = groups(&looks);
    if mine {
        for group in &mut groups {
            group.count = group.yours();
            group.calls.retain(|call| call.is_yours);
        }
        groups.retain(|group| group.count > 0);
    }
    let title = if mine { "Your open points" } else { "Open points of the team" };
    Ok(Page(AllPage { page: viewer.frame(title, Nav::Today), count: groups.len(), groups, mine }))
}

/// Notes that the person has looked at every change.
pub(crate) async fn looked(
    State(app): State<App>,
    viewer: Viewer,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    attention::looked(&mut work).await?;
    Ok(Done::to(work.finish("/").await?).saying("Marked as read."))
}
