//! Today for who only reads: open tasks by class, constraints in force, the
//! next flight and the last one.

use app::read::Connection;

use crate::drawings::markup::Drawing;
use crate::linked::{Piece, linked};
use crate::marks;
use crate::pages::constraints::{axis, bar, until_flight};
use app::Failure;
use app::campaign::{Bar, Campaign, Leg};
use app::constraints::InForce;
use app::read::campaign::OfClass;
use app::read::events::{self, EndedSlot};
use domain::constraints::{ConstraintState, Ends};
use domain::time::Day;
use domain::words::{ExcursionState, SlotState};

/// So many tasks of one excursion are named; the rest stands on its page.
const NAMED: usize = 12;
/// So many excursions of one flight are laid out.
const EXCURSIONS: usize = 6;
/// So many constraints are named; the rest stands on their own page.
const CONSTRAINTS: usize = 12;

/// Open tasks of one class.
pub(super) struct ClassRow {
    pub class: String,
    pub means: &'static str,
    pub open: i64,
    pub set: i64,
    pub pencilled: i64,
}

impl ClassRow {
    pub const fn without(&self) -> i64 {
        self.open - self.set - self.pencilled
    }
}

/// One flight with the tasks of each excursion.
pub(super) struct FlightTasks {
    pub code: String,
    pub name: String,
    pub excursions: Vec<ExcursionTasks>,
    /// Excursions that are not laid out.
    pub more: usize,
}

pub(super) struct ExcursionTasks {
    pub code: String,
    pub day: String,
    pub state: String,
    pub tasks: Vec<TaskLine>,
    /// Tasks that are not named.
    pub more: usize,
}

pub(super) struct TaskLine {
    pub mark: Option<&'static str>,
    pub word: String,
    pub code: String,
    pub title: String,
}

/// What the vehicle may not do, as far as it stands here.
pub(super) struct Forbidden {
    pub count: usize,
    pub first: Vec<ForbiddenRow>,
    /// The axis of the bars.
    pub head: Drawing,
    /// How many days after their dates those end that end late.
    late: Vec<i64>,
}

impl Forbidden {
    /// ` 7 constraints are in force; one ends 113 days late.`; empty where none is.
    pub fn sentence(&self) -> String {
        let holds = match self.count {
            0 => return String::new(),
            1 => " 1 constraint is in force".to_owned(),
            more => format!(" {more} constraints are in force"),
        };
        let days = |days: i64| if days == 1 { "1 day".to_owned() } else { format!("{days} days") };
        let most = self.late.iter().max().copied().unwrap_or_default();
        match self.late.len() {
            0 => format!("{holds}."),
            1 => format!("{holds}; one ends {} late.", days(most)),
            more => format!("{holds}; {more} end late, the last by {}.", days(most)),
        }
    }
}

pub(super) struct ForbiddenRow {
    pub code: String,
    pub forbidden: String,
    pub until: String,
    /// Days left to its date, or days late where it has passed.
    pub left: Option<i64>,
    pub is_late: bool,
    pub bar: Drawing,
    pub ended_by: Vec<Piece>,
    /// `113 days late`, where its slot is after its date.
    pub ends_late: String,
}

/// Constraints in force, those that end first at the head.
pub(super) async fn constraints(db: &mut Connection, today: Day) -> Result<Forbidden, Failure> {
    let read = app::constraints::read_all(db, today).await?;
    let mut holding: Vec<&InForce> = read.in_force().collect();
    holding.sort_by_key(|one| (one.until.is_none(), one.until));
    let axis = axis(&read.calendar, today);
    let row = |one: &&InForce| {
        let code = one.constraint.code.0.to_string();
        ForbiddenRow {
            forbidden: one.constraint.forbidden.to_string(),
            until: until_shortly(one),
            left: one.until.map(|until| until.since(today).abs()),
            is_late: one.state == ConstraintState::PastDate,
            bar: axis.draw_small(&bar(one), &format!("until-{code}")),
            ended_by: linked(&ended_by_shortly(one)),
            ends_late: too_late(one).map_or_else(String::new, |days| super::words::left(-days)),
            code,
        }
    };
    Ok(Forbidden {
        count: holding.len(),
        first: holding.iter().take(CONSTRAINTS).map(row).collect(),
        head: axis.head_small(),
        late: holding.iter().filter_map(|one| too_late(one)).collect(),
    })
}

/// The date in short: the flight after whose landing it is no longer safe, else the day.
fn until_shortly(one: &InForce) -> String {
    match (until_flight(one), one.until) {
        (Some(flight), _) => flight,
        (None, Some(day)) => day.to_string(),
        (None, None) => "no date".to_owned(),
    }
}

/// `T-0153 on E-37.1, in time`.
fn ended_by_shortly(one: &InForce) -> String {
    let Some(slot) = &one.slot else {
        return match &one.constraint.task {
            Some(task) if one.done_before.is_some() => format!("{task}, done before it was left"),
            Some(task) => format!("{task} has no slot"),
            None => "no task".to_owned(),
        };
    };
    let (task, excursion) = (&slot.task, &slot.excursion);
    match one.ends {
        _ if slot.state != SlotState::Set => format!("{task} pencilled on {excursion}"),
        Ends::InTime(_) => format!("{task} on {excursion}, in time"),
        Ends::TooLate(_) | Ends::Undated | Ends::Nothing => format!("{task} on {excursion}"),
    }
}

const fn too_late(one: &InForce) -> Option<i64> {
    match one.ends {
        Ends::TooLate(days) => Some(days),
        Ends::InTime(_) | Ends::Undated | Ends::Nothing => None,
    }
}

pub(super) fn classes(all: &[OfClass]) -> (Vec<ClassRow>, ClassRow) {
    let row = |of: &OfClass| ClassRow {
        class: of.class.map_or_else(String::new, |class| class.word().to_owned()),
        means: of.class.map_or("class unknown", domain::words::PriorityClass::means),
        open: of.open,
        set: of.set,
        pencilled: of.pencilled,
    };
    let sum = |of: fn(&OfClass) -> i64| all.iter().map(of).sum();
    let sums = ClassRow {
        class: String::new(),
        means: "in all",
        open: sum(|class| class.open),
        set: sum(|class| class.set),
        pencilled: sum(|class| class.pencilled),
    };
    (all.iter().map(row).collect(), sums)
}

/// The next flight and the last one.
pub(super) async fn flights(
    db: &mut Connection,
    campaign: &Campaign,
    today: Day,
) -> Result<(Option<FlightTasks>, Option<FlightTasks>), Failure> {
    let next = campaign.legs.iter().find(|leg| leg.is_ahead());
    let last = campaign.legs.iter().find(|leg| !leg.is_ahead());
    let shown = |leg: &Leg| {
        leg.bars.iter().take(EXCURSIONS).map(|bar| bar.tally.code.clone()).collect::<Vec<_>>()
    };
    let codes: Vec<_> = next.into_iter().chain(last).flat_map(shown).collect();
    let slots = events::slots_of(db, &codes).await?;
    let lay = |leg: &Leg| FlightTasks {
        code: leg.flight.code.to_string(),
        name: leg.flight.name.as_ref().map_or_else(String::new, ToString::to_string),
        excursions: leg
            .bars
            .iter()
            .take(EXCURSIONS)
            .map(|bar| excursion(bar, &slots, today))
            .collect(),
        more: leg.bars.len().saturating_sub(EXCURSIONS),
    };
    Ok((next.map(lay), last.map(lay)))
}

fn excursion(bar: &Bar, slots: &[EndedSlot], today: Day) -> ExcursionTasks {
    let tally = &bar.tally;
    let is_flown = tally.state == ExcursionState::Flown;
    let mut tasks: Vec<TaskLine> = slots
        .iter()
        .filter(|slot| slot.excursion == tally.code)
        .filter_map(|slot| line(slot, is_flown))
        .collect();
    let more = tasks.len().saturating_sub(NAMED);
    tasks.truncate(NAMED);
    let state = match (is_flown, tally.closed_at.is_some(), tally.day) {
        (true, true, _) if bar.ended_early => "ended early, debrief closed".to_owned(),
        (true, true, _) => "debrief closed".to_owned(),
        (true, false, _) => "debrief open".to_owned(),
        (false, _, Some(day)) => {
            let days = super::words::left(day.since(today)).replace(" left", "");
            let may = if tally.is_deferrable { ", may be given up" } else { "" };
            format!("in {days}{may}")
        }
        (false, _, None) => "date unknown".to_owned(),
    };
    ExcursionTasks {
        code: tally.code.to_string(),
        day: tally.day.map_or_else(String::new, |day| day.to_string()),
        state,
        tasks,
        more,
    }
}

fn line(slot: &EndedSlot, is_flown: bool) -> Option<TaskLine> {
    let (mark, word) = match (slot.outcome, slot.deferred, slot.state) {
        (Some(outcome), _, _) => (Some(marks::of(&outcome)), outcome.word().to_owned()),
        (None, true, _) => (Some("k-def"), "deferred".to_owned()),
        (None, false, SlotState::Set | SlotState::Pencilled) if !is_flown => {
            (Some(marks::of(&slot.state)), slot.state.word().to_owned())
        }
        (None, false, SlotState::Set | SlotState::Flown) => (None, "no result yet".to_owned()),
        (None, false, SlotState::Pencilled | SlotState::Withdrawn) => return None,
    };
    Some(TaskLine { mark, word, code: slot.task.to_string(), title: slot.title.clone() })
}
