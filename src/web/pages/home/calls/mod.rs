//! What needs people, by what it is: one sentence each, how long there is, and the one act it needs.

mod dates;
mod failures;
mod outside;

use super::words;
use crate::addresses;
use crate::linked::{Piece, ended, linked};
use app::attention::Attention;
use app::read::open_items::OpenItem;
use app::slots::turned::TurnedCheck;
use domain::cells::Line;
use domain::four_eyes::same_account;
use domain::revisions::Revision;
use domain::roles::{Action, may};
use domain::time::Day;
use domain::verdicts::turned_since;
use domain::words::{PriorityClass, Role, SlotState, SlotVerdict};

/// Of remedies and differences so many are named.
const NAMED: usize = 12;

/// How pressing a call is: what is smaller comes first, then what has fewer days left.
pub(super) type Pressing = (u8, i64);

/// Calls of one sort.
pub(super) struct Group {
    pub id: &'static str,
    pub count: i64,
    pub heading: &'static str,
    /// The heading as it is counted: one, several.
    pub nouns: (&'static str, &'static str),
    pub under: &'static str,
    pub calls: Vec<Call>,
    /// Where the rest stands, when not all are shown.
    pub all: Option<(&'static str, String)>,
}

impl Group {
    /// The entry of `/words` that explains its heading.
    pub fn term(&self) -> &'static str {
        match self.id {
            "debriefs" => "debrief",
            "past-dates" => "flight",
            "at-risk" => "at-risk",
            "constraints" => "constraint",
            "left-unknown" => "left",
            "stopped" => "check",
            "questioned" | "sisters-questioned" => "questioned",
            "findings" | "unexplained" => "finding",
            "remedies" | "reopened" => "remedy",
            "lost-paths" => "loses-path",
            "near-limit" | "without-task" => "exposure-limit",
            "to-clear" => "revision",
            "differences" => "disagreement",
            _ => "sister-unit",
        }
    }

    pub fn noun(&self) -> &'static str {
        if self.count == 1 { self.nouns.0 } else { self.nouns.1 }
    }

    /// How many are this person's to do; those that are not named are like those that are.
    pub fn yours(&self) -> i64 {
        let yours = self.calls.iter().filter(|call| call.is_yours).count();
        if yours == self.calls.len() { self.count } else { super::whole(yours) }
    }
}

/// One thing that needs somebody.
#[derive(Clone)]
pub(super) struct Call {
    pub address: String,
    pub code: String,
    pub words: Vec<Piece>,
    /// How long there is, or since when it waits.
    pub when: String,
    pub is_late: bool,
    pub act: String,
    pub act_address: String,
    /// This person may do it.
    pub may: bool,
    /// It is this person's by their role: what others are there for is none of it.
    pub is_yours: bool,
    pub pressing: Pressing,
}

/// Who looks, and when.
pub(super) struct Looks<'a> {
    pub attention: &'a Attention,
    pub name: &'a str,
    pub role: Role,
    pub today: Day,
}

/// The groups with something in them.
pub(super) fn groups(looks: &Looks) -> Vec<Group> {
    let (questioned, offered) = looks.sisters();
    let mut groups = vec![
        looks.debriefs(),
        looks.past_dates(),
        looks.at_risk(),
        looks.constraints(),
        looks.left_unknown(),
        looks.stopped(),
        looks.questioned(),
        looks.lost_paths(),
        looks.findings(),
        looks.unexplained(),
        looks.remedies(),
        looks.reopened(),
        looks.to_clear(),
        looks.near_limit(),
        looks.without_task(),
        looks.disagreements(),
        questioned,
        offered,
    ];
    groups.retain(|group| group.count > 0);
    groups
}

impl Looks<'_> {
    pub(in crate::pages::home) const fn may(&self, action: Action) -> bool {
        may(self.role, action)
    }

    /// Whether it is the engineers' to do. A lead may do it too, and is not asked for it.
    fn is_engineers(&self, action: Action) -> bool {
        self.role == Role::Engineer && self.may(action)
    }

    /// `2 of 5 results are in.`
    fn results_of(&self, excursion: &domain::excursions::Excursion) -> String {
        match self.attention.results.get(&excursion.code.0) {
            Some((results, all)) if *all > 0 => format!("{results} of {all} results are in."),
            _ => "Its results are missing.".to_owned(),
        }
    }

    fn debriefs(&self) -> Group {
        let call = |excursion: &domain::excursions::Excursion| {
            let code = excursion.code.0.to_string();
            let address = addresses::within("excursions", &code);
            let past = excursion.day.map_or(0, |day| self.today.since(day));
            Call {
                words: linked(&format!(
                    "{} Open tasks return to the backlog when it is closed.",
                    self.results_of(excursion)
                )),
                when: excursion
                    .day
                    .map_or_else(String::new, |_| format!("flown {}", words::ago(past))),
                is_late: false,
                act: format!("Continue debrief of {code}"),
                act_address: format!("{address}/debrief"),
                may: self.may(Action::RecordAttempt),
                is_yours: self.may(Action::RecordAttempt),
                pressing: (1, -past),
                address,
                code,
            }
        };
        let calls: Vec<Call> = self.attention.to_debrief.iter().map(call).collect();
        Group {
            id: "debriefs",
            count: super::whole(calls.len()),
            heading: "Excursions to debrief",
            nouns: ("excursion to debrief", "excursions to debrief"),
            under: "Flown, results not complete.",
            calls,
            all: None,
        }
    }

    fn at_risk(&self) -> Group {
        let calls: Vec<Call> =
            self.attention.at_risk.iter().map(|item| self.one_at_risk(item)).collect();
        let count = self.attention.at_risk_count;
        Group {
            id: "at-risk",
            all: (count > super::whole(calls.len()))
                .then(|| ("/open?at_risk=yes", format!("All {count}"))),
            count,
            heading: "Tasks at risk of being late",
            nouns: ("task at risk of being late", "tasks at risk of being late"),
            under: "No set slot that fits or is tight in time for the date that binds.",
            calls,
        }
    }

    /// A task at risk, with the earliest excursion on which it fits in time.
    fn one_at_risk(&self, item: &OpenItem) -> Call {
        let code = item.task.to_string();
        let own = item.needed_by_flight.as_ref().map(ToString::to_string);
        let by = own.or_else(|| item.need_day.or(item.needed_by_day).map(|day| day.to_string()));
        let offer = self.attention.offers.get(&item.task);
        let held = self.attention.held.get(&item.task);
        let stands = match held {
            Some(held) if held.state == SlotState::Set => format!("set on {}", held.excursion),
            Some(held) => format!("pencilled on {}", held.excursion),
            None => "has no slot".to_owned(),
        };
        let fits = match offer {
            Some(offer) if offer.verdict == SlotVerdict::Fits => {
                format!("{} fits.", offer.excursion)
            }
            Some(offer) => format!("{} is tight.", offer.excursion),
            None => "It fits on no excursion in time.".to_owned(),
        };
        let here = addresses::within("tasks", &item.task);
        let (act, act_address, may) = if let Some(offer) = offer {
            let on = &offer.excursion;
            let act = match held {
                Some(held) if held.excursion == *on => format!("Set it on {on}"),
                Some(_) => format!("Move it to {on}"),
                None if self.may(Action::SetSlot) => format!("Set it on {on}"),
                None => format!("Pencil it on {on}"),
            };
            let cell = format!("{}:{}", addresses::encoded(&code), addresses::encoded(on.as_str()));
            let takes = if held.is_some() { Action::SetSlot } else { Action::Pencil };
            (act, format!("/slots?cell={cell}#cell"), self.may(takes))
        } else {
            let act = format!("Find a place for {code}");
            (act, format!("{here}#slots"), self.may(Action::SetSlot))
        };
        let left = item.need_day.map(|day| day.since(self.today));
        // A slot after the date is late by now, however many days there are.
        let late_on = held.filter(|held| held.state == SlotState::Set).and_then(|held| held.day);
        let late = late_on.zip(item.need_day).map(|(on, need)| on.since(need));
        let shown = late.filter(|late| *late > 0).map(|late| -late).or(left);
        let is_first = item.class == Some(PriorityClass::Safety);
        let by = by.map_or_else(String::new, |by| format!(" is needed by {by} and"));
        let is = if held.is_some() && by.is_empty() { " is" } else { "" };
        Call {
            address: here,
            words: linked(&format!("{}{by}{is} {stands}. {fits}", item.title)),
            when: shown.map_or_else(String::new, words::left),
            is_late: shown.is_some_and(|shown| shown < 0),
            act,
            act_address,
            may,
            is_yours: may,
            pressing: (if is_first { 0 } else { 6 }, left.unwrap_or(i64::MAX)),
            code,
        }
    }

    fn constraints(&self) -> Group {
        let pressing = &self.attention.pressing;
        let named = pressing.iter().take(NAMED);
        Group {
            id: "constraints",
            count: super::whole(pressing.len()),
            heading: "Constraints not ended in time",
            nouns: ("constraint not ended in time", "constraints not ended in time"),
            under: "Past their date, or nothing ends them before it.",
            calls: named.map(|one| words::pressing(one, self)).collect(),
            all: Some(("/constraints", "What the vehicle may not do".to_owned())),
        }
    }

    fn to_clear(&self) -> Group {
        let call = |revision: &Revision| {
            let technique = revision.technique.to_string();
            let address = addresses::within("techniques", &technique);
            let made = revision.made_on.map(|day| self.today.since(day));
            let own = revision.author.as_ref().is_some_and(|author| self.is_me(author));
            let may = self.may(Action::ClearRevision) && !own;
            Call {
                words: linked(&format!(
                    "Revision {} of {technique} changes the work and waits for a second person.",
                    revision.number
                )),
                when: made.map_or_else(String::new, |days| format!("made {}", words::ago(days))),
                is_late: false,
                act: format!("Clear {technique}.{}", revision.number),
                act_address: format!("{address}#revisions"),
                may,
                is_yours: may,
                pressing: (6, made.map_or(0, |days| -days)),
                address,
                code: technique,
            }
        };
        let calls: Vec<Call> = self.attention.to_clear.iter().map(call).collect();
        Group {
            id: "to-clear",
            count: super::whole(calls.len()),
            heading: "Technique revisions to clear",
            nouns: ("technique revision to clear", "technique revisions to clear"),
            under: "They change the work; a second person clears them.",
            calls,
            all: None,
        }
    }

    fn left_unknown(&self) -> Group {
        let call = |found: &app::read::standing::LeftUnknown| {
            let attempt = addresses::within("attempts", &found.attempt);
            Call {
                address: addresses::within("tasks", &found.task),
                code: found.task.to_string(),
                words: linked(&format!(
                    "{}: {} on {} leaves 0 %, and the task is not done.",
                    found.title, found.attempt, found.excursion
                )),
                when: "% left unknown".to_owned(),
                is_late: false,
                act: format!("Correct {}", found.attempt),
                act_address: format!("{attempt}/edit#f-left-after"),
                may: self.may(Action::RecordAttempt),
                is_yours: self.may(Action::RecordAttempt),
                pressing: (3, 0),
            }
        };
        Group {
            id: "left-unknown",
            count: self.attention.left_unknown_count,
            heading: "% left unknown",
            nouns: ("task with % left unknown", "tasks with % left unknown"),
            under: "By the record 0 % is left, and the task is not done.",
            calls: self.attention.left_unknown.iter().map(call).collect(),
            all: None,
        }
    }

    fn stopped(&self) -> Group {
        // The checks of one slot follow each other.
        let slots = self.attention.stopped.chunk_by(|one, next| one.slot.code == next.slot.code);
        let calls: Vec<Call> = slots.filter_map(|checks| self.one_stopped(checks)).collect();
        Group {
            id: "stopped",
            count: super::whole(calls.len()),
            heading: "Set slots that no longer fit",
            nouns: ("set slot that no longer fits", "set slots that no longer fit"),
            under: "A check changed after the slot was set.",
            calls,
            all: None,
        }
    }

    /// A set slot, with each of its checks that stands against it now.
    fn one_stopped(&self, checks: &[TurnedCheck]) -> Option<Call> {
        let slot = &checks.first()?.slot;
        let changed = checks.iter().map(|turned| {
            let TurnedCheck { was, now, .. } = turned;
            let turned = turned_since(was.gate, was.verdict, was.at.day(), now.verdict);
            format!(" {turned}: {}", ended(&now.words()))
        });
        let changed: String = changed.collect();
        Some(Call {
            address: addresses::within("tasks", &slot.task),
            code: slot.task.to_string(),
            words: linked(&format!("Set on {}.{changed}", slot.excursion)),
            when: String::new(),
            is_late: false,
            act: format!("Decide on slot of {}", slot.task),
            act_address: format!(
                "{}#slot-{}",
                addresses::within("excursions", &slot.excursion),
                slot.code.0
            ),
            may: self.may(Action::SetSlot),
            is_yours: self.may(Action::SetSlot),
            pressing: (2, 0),
        })
    }

    fn is_me(&self, name: &Line) -> bool {
        same_account(name.as_str(), self.name)
    }
}
