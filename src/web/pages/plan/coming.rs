//! The excursions to come, flight by flight, as Plan lays them out.

use crate::addresses;
use crate::drawings::markup::Drawing;
use crate::drawings::seat_lanes::{Need, Scale, SeatLanes, Work};
use crate::linked::{Piece, linked};
use crate::pages::campaign::where_it_fits;
use app::attention::Attention;
use app::campaign::{Bar, Campaign, Leg};
use app::day::AtLaunch;
use app::seat_plans::{SeatPlan, SeatPlans};
use compute::fit::{margin, pet, room_words};
use compute::timeline::{Activity, Segment};
use domain::time::Day;
use domain::units::Share;
use domain::words::{FlightState, SlotState};

/// So many excursions of one flight are drawn; the rest stands on the page of the flight.
const MOST: usize = 12;

/// So many of the tasks at risk are named under the flight that needs them.
const NAMED: usize = 4;

pub(super) struct Coming {
    pub head: Drawing,
    pub legs: Vec<LegView>,
    /// Coming flights that are not drawn.
    pub more: usize,
    /// The one sentence on top.
    pub lead: String,
}

pub(super) struct LegView {
    pub code: String,
    pub launch: Option<Day>,
    pub when: String,
    pub landing: Option<Day>,
    pub excursions: Vec<ExcursionView>,
    pub more: usize,
    pub needs: Option<NeedsView>,
}

pub(super) struct NeedsView {
    pub address: String,
    pub words: String,
    pub has_risk: bool,
    /// `1 at risk of being late`; empty where none is.
    pub risk: String,
    pub at_risk: Vec<Piece>,
}

pub(super) struct ExcursionView {
    pub code: String,
    pub day: Option<Day>,
    pub drawing: Drawing,
    /// Time left with the set tasks, and with the pencilled ones too.
    pub left: (String, String),
    pub with_pencilled: String,
    pub set: Vec<String>,
    pub pencilled: Vec<String>,
    /// Tasks whose blocks have no room for their code.
    pub unnamed: Vec<String>,
    pub reached: Option<(String, String)>,
    pub reached_with: String,
    pub chance: Option<Share>,
    pub is_deferrable: bool,
}

impl ExcursionView {
    /// How far the bar of a chance reaches, of 64 units.
    pub fn chance_bar(&self) -> String {
        let share = self.chance.map_or(0, |share| share.0.clamp(0, 100));
        format!("M0 3H{}V9H0z", share * 64 / 100)
    }
}

impl Coming {
    pub fn of(campaign: &Campaign, plans: &SeatPlans, attention: &Attention, today: Day) -> Self {
        let legs: Vec<&Leg> = campaign.legs.iter().filter(|leg| leg.is_ahead()).collect();
        let drawn = |bar: &Bar| lanes(bar, plans.get(&bar.tally.code));
        let all: Vec<SeatLanes> =
            legs.iter().flat_map(|leg| leg.bars.iter().take(MOST)).map(drawn).collect();
        let scale = Scale::of(all.iter());
        Self {
            head: scale.head(),
            legs: legs.iter().map(|leg| leg_view(leg, scale, plans, attention, today)).collect(),
            more: campaign.more,
            lead: lead(campaign, &legs, attention),
        }
    }
}

fn lead(campaign: &Campaign, legs: &[&Leg], attention: &Attention) -> String {
    let bars = || legs.iter().flat_map(|leg| &leg.bars);
    let count = bars().count();
    if count == 0 {
        return "No excursion is coming.".to_owned();
    }
    let set: i64 = bars().map(|bar| bar.tally.set).sum();
    let pencilled: i64 = bars().map(|bar| bar.tally.pencilled).sum();
    let have =
        if count == 1 { "1 excursion has".to_owned() } else { format!("{count} excursions have") };
    let of = match campaign.more {
        0 => String::new(),
        1 => " on the next flights; 1 more flight is coming".to_owned(),
        more => format!(" on the next flights; {more} more flights are coming"),
    };
    let risk = match attention.at_risk_count {
        0 => "No task is at risk of being late.".to_owned(),
        1 => "1 task is at risk of being late.".to_owned(),
        count => format!("{count} tasks are at risk of being late."),
    };
    format!("{have} {set} set and {pencilled} pencilled slots{of}. {risk}")
}

fn leg_view(
    leg: &Leg,
    scale: Scale,
    plans: &SeatPlans,
    attention: &Attention,
    today: Day,
) -> LegView {
    let code = leg.flight.code.to_string();
    let under_way = leg.flight.state == FlightState::UnderWay;
    let when = match leg.flight.launch.map(|launch| launch.since(today)) {
        _ if under_way => "under way".to_owned(),
        None => "launch date unknown".to_owned(),
        Some(0) => "today".to_owned(),
        Some(1) => "in 1 day".to_owned(),
        Some(days) if days > 0 => format!("in {days} days"),
        Some(days) => format!("{} days ago, not marked as flown", -days),
    };
    let view = |bar: &Bar| excursion_view(bar, scale, plans.get(&bar.tally.code));
    LegView {
        launch: leg.flight.launch,
        when,
        landing: leg.flight.landing,
        excursions: leg.bars.iter().take(MOST).map(view).collect(),
        more: leg.bars.len().saturating_sub(MOST),
        needs: (leg.needs.all() > 0).then(|| needs_view(leg, attention)),
        code,
    }
}

fn needs_view(leg: &Leg, attention: &Attention) -> NeedsView {
    let (code, needs) = (leg.flight.code.as_str(), leg.needs);
    let tasks = if needs.all() == 1 { "task" } else { "tasks" };
    let of_this = attention
        .at_risk
        .iter()
        .filter(|item| item.needed_by_flight.as_ref() == Some(&leg.flight.code));
    let named = of_this.take(NAMED).map(|item| where_it_fits(attention, &item.task));
    let named: Vec<String> = named.collect();
    NeedsView {
        address: format!("{}#needed", addresses::within("flights", code)),
        words: format!(
            "{} {tasks} needed by the landing of {code}: {} set in time, {} pencilled, {} without \
             a slot in time",
            needs.all(),
            needs.set,
            needs.pencilled,
            needs.without
        ),
        has_risk: needs.at_risk > 0,
        risk: match needs.at_risk {
            0 => String::new(),
            count => format!("{count} at risk of being late"),
        },
        at_risk: linked(&named.join("; ")),
    }
}

fn excursion_view(bar: &Bar, scale: Scale, plan: Option<&SeatPlan>) -> ExcursionView {
    let tally = &bar.tally;
    let (drawing, unnamed) = scale.draw(&lanes(bar, plan), &format!("seats-{}", tally.code));
    let words = bar.room.as_ref().map(room_words).unwrap_or_default();
    let (left, with_pencilled) = words.split_once(" · ").unwrap_or((words.as_str(), ""));
    let tasks = |state: SlotState| -> Vec<String> {
        let slots = plan.map(|plan| plan.slots.as_slice()).unwrap_or_default();
        let here = slots.iter().filter(|on| on.slot.state == state);
        here.map(|on| on.slot.task.to_string()).collect()
    };
    let expected = |launch: &AtLaunch| (format!("{:.1}", launch.expected), launch.of.to_string());
    let with = plan.and_then(|plan| plan.with_pencilled.as_ref()).map(expected);
    ExcursionView {
        code: tally.code.to_string(),
        day: tally.day,
        drawing,
        left: match left.split_once(", ") {
            Some((left, of)) => (left.to_owned(), format!(", {of}")),
            None => ("cannot be timed yet".to_owned(), String::new()),
        },
        with_pencilled: with_pencilled.to_owned(),
        set: tasks(SlotState::Set),
        pencilled: tasks(SlotState::Pencilled),
        unnamed,
        reached: plan.and_then(|plan| plan.set.as_ref()).map(expected),
        reached_with: with.map_or_else(String::new, |(expected, of)| {
            format!("{expected} of {of} with pencilled")
        }),
        chance: bar.flown_chance,
        is_deferrable: tally.is_deferrable,
    }
}

/// What the seats do, and the ends that the time left is counted from.
fn lanes(bar: &Bar, plan: Option<&SeatPlan>) -> SeatLanes {
    let real = |minutes: domain::units::Minutes| f64::from(i32::try_from(minutes.0).unwrap_or(0));
    let limit = bar.limit.map(real);
    let end = |left: Option<f64>| limit.zip(left).map(|(limit, left)| limit - left);
    let end_set = end(bar.room.and_then(|room| room.set_only));
    let end_all = end(bar.room.and_then(|room| room.with_pencilled)).or(end_set);
    let free = limit.zip(end_all).map(|(limit, end)| limit - end).filter(|free| *free > 0.0);
    let timing = plan.and_then(|plan| plan.planned.timing.as_ref());
    let mut drawn = SeatLanes {
        excursion: bar.tally.code.to_string(),
        end: end_all,
        end_set,
        limit,
        free: free.map_or_else(String::new, |free| format!("{} free", margin(free))),
        words: words(bar, limit, end_set, end_all),
        ..SeatLanes::default()
    };
    let Some(plan) = plan else { return drawn };
    drawn.seats = plan.seats.iter().map(|seat| format!("EV{seat}")).collect();
    let Some(timing) = timing else { return drawn };
    for segment in &timing.segments {
        let Segment { lane, from, until, activity } = *segment;
        match activity {
            Activity::Egress | Activity::Ingress => drawn.overheads.push((lane, from, until)),
            Activity::Wait => drawn.waits.push((lane, from, until)),
            Activity::Travel { .. } | Activity::Setup { .. } | Activity::Cleanup { .. } => {
                drawn.travels.push((lane, from, until));
            }
            Activity::Work { .. } => {}
        }
    }
    for timed in &timing.slots {
        let Some(on) = plan.slots.get(timed.slot) else { continue };
        let task = on.slot.task.to_string();
        let need = on.needed_by.is_some().then_some(Need::InTime);
        for lane in timed.lanes.each() {
            drawn.works.push(Work {
                lane,
                from: timed.start,
                until: timed.end,
                address: addresses::within("tasks", &task),
                task: task.clone(),
                share: on.slot.share.map_or_else(String::new, |share| share.to_string()),
                is_pencilled: on.slot.state == SlotState::Pencilled,
                need: if on.is_late { Some(Need::Late) } else { need },
            });
        }
    }
    drawn
}

fn words(bar: &Bar, limit: Option<f64>, set: Option<f64>, all: Option<f64>) -> String {
    let at = |minutes: Option<f64>| {
        minutes.map_or_else(|| "unknown".to_owned(), |minutes| pet(minutes).to_string())
    };
    let (code, tally) = (&bar.tally.code, &bar.tally);
    let with = match tally.pencilled {
        0 => String::new(),
        _ => format!(", with pencilled tasks {}", at(all)),
    };
    format!(
        "{code}: {} set and {} pencilled. P80 end with the set tasks {}{with}; limit {}.",
        tally.set,
        tally.pencilled,
        at(set),
        at(limit)
    )
}
