//! The campaign picture, as Today shows it; what Plan shows of it too.

use crate::addresses;
use crate::drawings::burn_up::{self, Step};
use crate::drawings::campaign_bar::{Scale, Span};
use crate::drawings::markup::Drawing;
use app::attention::Attention;
use app::campaign::{Bar, Campaign, Column, Leg, Needs};
use compute::fit::margin;
use domain::codes::TaskCode;
use domain::time::Day;
use domain::words::{ExcursionState, FlightState, SlotVerdict};

/// So many marks stand in a row of their own; more are counted.
const MARKS: i64 = 12;
/// So many excursions of one flight are drawn; the rest stands on the page of the flight.
const BARS: usize = 12;

pub(crate) struct CampaignView {
    pub head: Drawing,
    pub legs: Vec<LegView>,
    /// Coming flights that are not drawn.
    pub more: usize,
    /// Minutes that the coming excursions have left at P80, with the pencilled tasks.
    pub free: f64,
}

pub(crate) struct LegView {
    pub code: String,
    pub name: String,
    pub when: String,
    pub needed: &'static str,
    pub needs: Option<NeedsView>,
    pub bars: Vec<BarView>,
    /// Excursions that are not drawn.
    pub more: usize,
}

pub(crate) struct NeedsView {
    pub address: String,
    /// Each mark with how often it stands for one task; 1 where every task has its own.
    pub marks: Vec<(&'static str, i64)>,
    pub words: String,
    pub share: String,
    pub at_risk: &'static str,
}

pub(crate) struct BarView {
    pub code: String,
    pub day: String,
    pub tasks: String,
    pub drawing: Drawing,
    /// The drawing in words.
    pub words: String,
    /// With the set tasks alone; beside it with the pencilled ones too, where there are any.
    pub free: String,
    pub free_with: String,
    pub state: String,
    /// Where the state asks for something.
    pub address: Option<String>,
    pub is_flown: bool,
}

impl CampaignView {
    pub fn of(campaign: &Campaign, today: Day) -> Self {
        let bars = || campaign.legs.iter().flat_map(|leg| &leg.bars);
        let scale = Scale::of(bars().map(span));
        Self {
            head: scale.head(),
            legs: campaign.legs.iter().map(|leg| leg_view(leg, scale, today)).collect(),
            more: campaign.more,
            free: bars().filter_map(free).filter(|free| *free > 0.0).sum(),
        }
    }
}

/// `T-0167 set on E-38.1, E-37.2 fits`.
pub(crate) fn where_it_fits(attention: &Attention, task: &TaskCode) -> String {
    let held = match attention.held.get(task) {
        Some(held) => format!("{} on {}", held.state.word(), held.excursion),
        None => "no slot".to_owned(),
    };
    let offer = match attention.offers.get(task) {
        Some(offer) if offer.verdict == SlotVerdict::Fits => format!("{} fits", offer.excursion),
        Some(offer) => format!("{} is tight", offer.excursion),
        None => "fits nowhere in time".to_owned(),
    };
    format!("{task} {held}, {offer}")
}

/// The backlog per flight.
pub(crate) struct BacklogView {
    pub drawing: Drawing,
    /// Whether coming flights stand in it.
    pub has_ahead: bool,
}

impl BacklogView {
    /// None where no task was ever opened.
    pub fn of(campaign: &Campaign) -> Option<Self> {
        let step = |column: &Column| Step {
            label: column.flight.as_ref().map_or_else(|| "before".to_owned(), ToString::to_string),
            opened: column.opened,
            ended: column.ended,
            open: column.open,
            is_ahead: column.is_ahead,
        };
        let steps: Vec<Step> = campaign.burn_up.iter().map(step).collect();
        steps.iter().any(|step| step.opened > 0).then(|| Self {
            drawing: burn_up::draw(&steps, "burn-up"),
            has_ahead: steps.iter().any(|step| step.is_ahead),
        })
    }
}

fn leg_view(leg: &Leg, scale: Scale, today: Day) -> LegView {
    let code = leg.flight.code.to_string();
    let days = |day: Day| match day.since(today) {
        0 => "today".to_owned(),
        1 => "in 1 day".to_owned(),
        ahead if ahead > 0 => format!("in {ahead} days"),
        -1 => "1 day ago".to_owned(),
        past => format!("{} days ago", -past),
    };
    let when = match (leg.flight.state, leg.flight.launch, leg.flight.landing) {
        (FlightState::Coming, Some(launch), _) => format!("launch {launch}, {}", days(launch)),
        (FlightState::Coming, None, _) => "launch date unknown".to_owned(),
        (FlightState::UnderWay, _, Some(landing)) => {
            format!("under way, lands {landing}, {}", days(landing))
        }
        (FlightState::Flown, _, Some(landing)) => format!("landed {landing}, {}", days(landing)),
        (FlightState::Flown, Some(launch), None) => format!("launched {launch}"),
        (state, ..) => state.word().to_owned(),
    };
    LegView {
        name: leg.flight.name.as_ref().map_or_else(String::new, ToString::to_string),
        when,
        needed: if leg.is_ahead() { "needed by it" } else { "needed by it or before" },
        needs: (leg.needs.all() > 0).then(|| needs_view(&code, leg.needs, leg.is_ahead())),
        bars: leg.bars.iter().take(BARS).map(|bar| bar_view(bar, scale)).collect(),
        more: leg.bars.len().saturating_sub(BARS),
        code,
    }
}

fn needs_view(code: &str, needs: Needs, is_coming: bool) -> NeedsView {
    let all = needs.all();
    let groups = [("k-set", needs.set), ("k-pen", needs.pencilled), ("k-late", needs.without)];
    let groups = groups.into_iter().filter(|(_, count)| *count > 0);
    let marks = if all <= MARKS {
        groups.flat_map(|(mark, count)| (0..count).map(move |_| (mark, 1))).collect()
    } else {
        groups.collect()
    };
    let tasks = if all == 1 { "open task" } else { "open tasks" };
    NeedsView {
        address: format!("{}#needed", addresses::within("flights", code)),
        marks,
        words: format!(
            "{all} {tasks} needed by {code}: {} set in time, {} pencilled, {} without a slot in time",
            needs.set, needs.pencilled, needs.without
        ),
        share: format!("{} of {all}", needs.at_risk),
        at_risk: if is_coming { "at risk" } else { "overdue" },
    }
}

fn span(bar: &Bar) -> Span {
    let limit = bar.limit.or(bar.tally.planned).map_or(0.0, |limit| minutes(limit.0));
    let is_flown = bar.tally.state == ExcursionState::Flown;
    if is_flown {
        let used = bar.tally.actual.map_or(0.0, |actual| minutes(actual.0));
        return Span { limit, used, pencilled: used, is_flown };
    }
    let end = |left: Option<f64>| left.map_or(0.0, |left| limit - left);
    let (set, both) =
        bar.room.map_or((0.0, 0.0), |room| (end(room.set_only), end(room.with_pencilled)));
    Span { limit, used: set, pencilled: both.max(set), is_flown }
}

/// Minutes left of a planned excursion at P80 with everything that stands on it.
fn free(bar: &Bar) -> Option<f64> {
    let room = bar.room?;
    room.with_pencilled.or(room.set_only)
}

fn bar_view(bar: &Bar, scale: Scale) -> BarView {
    let code = bar.tally.code.to_string();
    let here = span(bar);
    let is_flown = here.is_flown;
    let limit = if here.limit > 0.0 { margin(here.limit) } else { "unknown".to_owned() };
    let words = if is_flown {
        format!(
            "flown {} of {limit}",
            if here.used > 0.0 { margin(here.used) } else { "unknown".to_owned() }
        )
    } else if bar.room.is_none_or(|room| room.set_only.is_none()) {
        format!("cannot be timed yet, limit {limit}")
    } else {
        format!(
            "set to {}, with pencilled tasks to {}, limit {limit}",
            margin(here.used),
            margin(here.pencilled)
        )
    };
    let (state, address) = state(bar, &code);
    let room = bar.room.filter(|_| !is_flown);
    let set_only = room.and_then(|room| room.set_only);
    let with_pencils = room
        .filter(|room| room.pencilled > 0)
        .and_then(|room| Some(format!("{} with {}", margin(room.with_pencilled?), room.pencilled)))
        .map_or_else(String::new, |words| format!("{words} pencilled"));
    BarView {
        day: bar.tally.day.map_or_else(String::new, |day| day.to_string()[5..].to_owned()),
        tasks: tasks(bar),
        drawing: scale.bar(here),
        words,
        free: set_only.map_or_else(|| "–".to_owned(), margin),
        free_with: with_pencils,
        state,
        address,
        is_flown,
        code,
    }
}

fn tasks(bar: &Bar) -> String {
    let tally = &bar.tally;
    if tally.state == ExcursionState::Flown {
        let results = tally.done + tally.part_done + tally.not_completed + tally.not_reached;
        return match (tally.closed_at.is_some(), results) {
            (false, _) => format!("{results} of {} results", results + tally.set),
            (true, 1) => "1 result".to_owned(),
            (true, results) => format!("{results} results"),
        };
    }
    match (tally.set, tally.pencilled) {
        (0, 0) => "no task".to_owned(),
        (set, 0) => format!("{set} set"),
        (0, pencilled) => format!("{pencilled} pencilled"),
        (set, pencilled) => format!("{set} set · {pencilled} pencilled"),
    }
}

fn state(bar: &Bar, code: &str) -> (String, Option<String>) {
    if bar.tally.state == ExcursionState::Flown {
        return match (bar.tally.closed_at.is_some(), bar.ended_early) {
            (false, _) => {
                let debrief = format!("{}/debrief", addresses::within("excursions", code));
                ("debrief open".to_owned(), Some(debrief))
            }
            (true, true) => ("ended early".to_owned(), None),
            (true, false) => ("closed".to_owned(), None),
        };
    }
    let chance = bar.flown_chance.map(|chance| format!("{chance} flown"));
    let words = match (chance, bar.tally.is_deferrable) {
        (Some(chance), _) => chance,
        (None, true) => "deferrable".to_owned(),
        (None, false) => "chance unknown".to_owned(),
    };
    (words, None)
}

/// A count of minutes as the drawings take it; none is as long as a year.
fn minutes(count: i64) -> f64 {
    i32::try_from(count).map_or(0.0, f64::from)
}
