//! What needs people, by what it is: one sentence each, how long there is, and the one act it needs.

use super::words;
use crate::addresses;
use crate::pages::findings::reopened;
use crate::said::{Said, ended, first_sentence, said};
use app::attention::{Attention, HeardOn};
use domain::cells::Line;
use domain::findings::Finding;
use domain::four_eyes::same_account;
use domain::roles::{Action, may};
use domain::time::Day;
use domain::words::{PriorityClass, RemedyState, Role, SlotState, SlotVerdict};
use store::open_items::OpenItem;

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
    pub words: Vec<Said>,
    /// How long there is, or since when it waits.
    pub when: String,
    pub is_late: bool,
    pub act: String,
    pub act_address: String,
    /// This person may do it.
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
        looks.at_risk(),
        looks.constraints(),
        looks.left_unknown(),
        looks.stopped(),
        looks.questioned(),
        looks.lost_ways(),
        looks.findings(),
        looks.remedies(),
        looks.reopened(),
        looks.near_limit(),
        looks.disagreements(),
        questioned,
        offered,
    ];
    groups.retain(|group| group.count > 0);
    groups
}

impl Looks<'_> {
    const fn may(&self, action: Action) -> bool {
        may(self.role, action)
    }

    fn debriefs(&self) -> Group {
        let call = |excursion: &domain::excursions::Excursion| {
            let code = excursion.code.0.to_string();
            let address = addresses::within("excursions", &code);
            let past = excursion.day.map_or(0, |day| self.today.since(day));
            Call {
                words: said(&format!(
                    "{code} was flown and its results are not all in. Its open tasks return to the backlog when the debrief is closed."
                )),
                when: excursion
                    .day
                    .map_or_else(String::new, |_| format!("flown {}", words::ago(past))),
                is_late: false,
                act: format!("Continue debrief of {code}"),
                act_address: format!("{address}/debrief"),
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
            self.attention.in_danger.iter().map(|item| self.one_at_risk(item)).collect();
        let count = self.attention.in_danger_count;
        Group {
            id: "at-risk",
            all: (count > super::whole(calls.len()))
                .then(|| ("/open?in_danger=yes", format!("All {count}"))),
            count,
            heading: "Tasks at risk of being late",
            nouns: ("task at risk of being late", "tasks at risk of being late"),
            under: "No slot is set before the needed-by flight lands.",
            calls,
        }
    }

    /// A task at risk, with the earliest excursion on which it fits in time.
    fn one_at_risk(&self, item: &OpenItem) -> Call {
        let code = item.task.to_string();
        let own = item.needed_by_flight.as_ref().map_or_else(
            || item.needed_by_day.map_or_else(String::new, |day| day.to_string()),
            ToString::to_string,
        );
        let by = match (&item.need_from, item.need_day) {
            (Some(from), Some(day)) => format!("{day} ({from})"),
            _ => own,
        };
        let offer = self.attention.offers.get(&item.task);
        let held = offer.and_then(|offer| offer.now_on.as_ref());
        let stands = match held {
            Some((excursion, SlotState::Set)) => format!("is set on {excursion}"),
            Some((excursion, _)) => format!("is pencilled on {excursion}"),
            None => "has no slot".to_owned(),
        };
        let fits = match offer {
            Some(offer) if offer.verdict == SlotVerdict::Fits => {
                format!(" It fits on {}.", offer.excursion)
            }
            Some(offer) => format!(" It is tight on {}.", offer.excursion),
            None => " It fits on no excursion in time.".to_owned(),
        };
        let late = item
            .late_means
            .as_ref()
            .map_or_else(String::new, |late| format!(" If it is late: {}", ended(late.as_str())));
        let may_set = self.may(Action::SetSlot);
        let here = addresses::within("tasks", &item.task);
        let (act, act_address) = match offer {
            Some(offer) => {
                let on = &offer.excursion;
                let act = match held {
                    Some((excursion, _)) if excursion == on && may_set => format!("Set it on {on}"),
                    Some((excursion, _)) if excursion == on => format!("Look at its slot on {on}"),
                    Some(_) if may_set => format!("Move it to {on}"),
                    Some(_) => format!("Look at {on}"),
                    None if may_set => format!("Set it on {on}"),
                    None => format!("Pencil it on {on}"),
                };
                let cell =
                    format!("{}:{}", addresses::encoded(&code), addresses::encoded(on.as_str()));
                (act, format!("/slots?cell={cell}#cell"))
            }
            None => ("See what keeps it out".to_owned(), format!("{here}#slots")),
        };
        let left = item.need_day.map(|day| day.since(self.today));
        let is_first = item.class == Some(PriorityClass::Safety);
        Call {
            address: here,
            words: said(&format!("{} is needed by {by} and {stands}.{fits}{late}", item.title)),
            when: left.map_or_else(String::new, words::left),
            is_late: left.is_some_and(|left| left < 0),
            act,
            act_address,
            is_yours: self.may(Action::Pencil),
            pressing: (if is_first { 0 } else { 6 }, left.unwrap_or(i64::MAX)),
            code,
        }
    }

    fn constraints(&self) -> Group {
        let pressing = &self.attention.pressing;
        let is_yours = self.may(Action::RecordAttempt);
        let named = pressing.iter().take(NAMED);
        Group {
            id: "constraints",
            count: super::whole(pressing.len()),
            heading: "Constraints not ended in time",
            nouns: ("constraint not ended in time", "constraints not ended in time"),
            under: "Past their date, or nothing ends them before it.",
            calls: named.map(|one| words::pressing(one, self.today, is_yours)).collect(),
            all: Some(("/constraints", "What the vehicle may not do".to_owned())),
        }
    }

    fn left_unknown(&self) -> Group {
        let call = |found: &store::standing::LeftUnknown| {
            let attempt = addresses::within("attempts", &found.attempt);
            Call {
                address: addresses::within("tasks", &found.task),
                code: found.task.to_string(),
                words: said(&format!(
                    "{}: {} on {} leaves 0 %, and the task is not recorded as done. Enter the % left, or record it as done.",
                    found.title, found.attempt, found.excursion
                )),
                when: "% left unknown".to_owned(),
                is_late: false,
                act: format!("Correct {}", found.attempt),
                act_address: format!("{attempt}/edit#f-left-after"),
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
        let call = |turned: &app::slots::turned::Turned| {
            let (slot, gate) = (&turned.slot, turned.was.gate);
            Call {
                address: addresses::within("tasks", &slot.task),
                code: slot.task.to_string(),
                words: said(&format!(
                    "Set on {}. The check “{gate}” was {} on {} and is {} now: {}",
                    slot.excursion,
                    turned.was.verdict,
                    turned.was.at.day(),
                    turned.now.verdict,
                    turned.now.words()
                )),
                when: String::new(),
                is_late: false,
                act: format!("Look at {}", slot.excursion),
                act_address: format!(
                    "{}#slot-{}",
                    addresses::within("excursions", &slot.excursion),
                    slot.code.0
                ),
                is_yours: self.may(Action::SetSlot),
                pressing: (2, 0),
            }
        };
        let calls: Vec<Call> = self.attention.stopped.iter().map(call).collect();
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

    fn questioned(&self) -> Group {
        let call = |questioned: &app::attention::Questioned| {
            let slot = &questioned.slot;
            let here = addresses::within("tasks", &slot.task);
            Call {
                code: slot.task.to_string(),
                words: said(&format!("Set on {}. {}", slot.excursion, questioned.reason)),
                when: String::new(),
                is_late: false,
                act: format!("Decide on the approach of {}", slot.task),
                act_address: format!("{here}#sides"),
                is_yours: self.may(Action::WriteExemption),
                pressing: (4, 0),
                address: here,
            }
        };
        let calls: Vec<Call> = self.attention.questioned.iter().map(call).collect();
        Group {
            id: "questioned",
            count: super::whole(calls.len()),
            heading: "Set slots with a questioned approach",
            nouns: ("set slot with a questioned approach", "set slots with a questioned approach"),
            under: "Set before the failure was recorded.",
            calls,
            all: None,
        }
    }

    fn lost_ways(&self) -> Group {
        let call = |lost: &domain::order_of_work::LostWay| {
            use domain::order_of_work::Taking;
            let (excursion, slot) = match &lost.taking {
                Taking::By(by) => (&by.at.excursion, &by.slot),
                Taking::Now | Taking::Gone => (&lost.slot.at.excursion, &lost.slot.slot),
            };
            Call {
                address: addresses::within("outside", &lost.aid),
                words: said(&lost.to_string()),
                when: String::new(),
                is_late: false,
                act: format!("Look at {excursion}"),
                act_address: format!("{}#slot-{slot}", addresses::within("excursions", excursion)),
                is_yours: self.may(Action::SetSlot),
                pressing: (2, 1),
                code: lost.aid.to_string(),
            }
        };
        let calls: Vec<Call> = self.attention.lost_ways.iter().map(call).collect();
        Group {
            id: "lost-ways",
            count: super::whole(calls.len()),
            heading: "Translation paths at risk",
            nouns: ("translation path at risk", "translation paths at risk"),
            under: "An aid comes in before work that needs it.",
            calls,
            all: None,
        }
    }

    fn findings(&self) -> Group {
        let call = |finding: &Finding, act: String, says: &str, is_yours: bool| {
            let code = finding.code.0.to_string();
            let address = addresses::within("findings", &code);
            let waits = finding.written_on.map(|day| self.today.since(day));
            Call {
                words: said(&format!("{} {says}", first_sentence(finding.words.as_str()))),
                when: waits
                    .map_or_else(String::new, |days| format!("written {}", words::ago(days))),
                is_late: false,
                act,
                act_address: address.clone(),
                is_yours,
                pressing: (5, -waits.unwrap_or(0)),
                address,
                code,
            }
        };
        let mut calls: Vec<Call> = self
            .attention
            .without_remedy
            .iter()
            .map(|finding| {
                let act = format!("Propose a remedy for {}", finding.code.0);
                let may_write = self.may(Action::WriteRemedy);
                call(finding, act, "It is reviewed and has no remedy.", may_write)
            })
            .collect();
        calls.extend(self.attention.to_review.iter().map(|finding| {
            let act = format!("Review {}", finding.code.0);
            let own = finding.author.as_ref().is_some_and(|author| self.is_me(author));
            let is_yours = self.may(Action::ReviewFinding) && !own;
            call(finding, act, "It needs a review by a second person.", is_yours)
        }));
        Group {
            id: "findings",
            count: super::whole(calls.len()),
            heading: "Findings to review or without a remedy",
            nouns: (
                "finding to review or without a remedy",
                "findings to review or without a remedy",
            ),
            under: "Each needs a review, then a remedy.",
            calls,
            all: Some(("/findings", "All findings".to_owned())),
        }
    }

    fn remedies(&self) -> Group {
        let call = |due: &store::remedies::Due| {
            let left = due.launch.map(|day| day.since(self.today));
            let is_done = due.state == RemedyState::Done;
            let own = due.owner.as_ref().is_some_and(|owner| self.is_me(owner));
            let owner =
                due.owner.as_ref().map_or_else(String::new, |owner| format!(" Owner: {owner}."));
            let stands = if is_done { "done and not verified" } else { "not done" };
            Call {
                address: addresses::within("remedies", &due.code),
                code: due.code.to_string(),
                words: said(&format!(
                    "{} It is {stands}, needed by {}.{owner}",
                    ended(due.what.as_str()),
                    due.needed_by
                )),
                when: left.map_or_else(String::new, words::left),
                is_late: left.is_some_and(|left| left < 0),
                act: format!("{} {}", if is_done { "Verify" } else { "Mark as done:" }, due.code),
                act_address: addresses::within("remedies", &due.code),
                is_yours: if is_done {
                    self.may(Action::VerifyRemedy) && !own
                } else {
                    self.may(Action::WriteRemedy)
                },
                pressing: (6, left.unwrap_or(i64::MAX)),
            }
        };
        Group {
            id: "remedies",
            count: super::whole(self.attention.due.len()),
            heading: "Remedies due",
            nouns: ("remedy due", "remedies due"),
            under: "A coming flight needs them.",
            calls: self.attention.due.iter().take(NAMED).map(call).collect(),
            all: (self.attention.due.len() > NAMED)
                .then(|| ("/findings", format!("All {}", self.attention.due.len()))),
        }
    }

    fn reopened(&self) -> Group {
        let call = |seen: &store::remedies::NotHeldSeen| {
            let remedy = addresses::within("remedies", &seen.remedy);
            let (act_address, act) = match &seen.finding {
                Some(finding) => (
                    format!("{}#reopened", addresses::within("findings", finding)),
                    format!("Decide on {finding}"),
                ),
                None => (remedy.clone(), format!("Look at {}", seen.remedy)),
            };
            Call {
                address: remedy,
                code: seen.remedy.to_string(),
                words: said(&format!("{} {}", ended(seen.what.as_str()), reopened::sentence(seen))),
                when: seen.day.map_or_else(String::new, |day| {
                    format!("failed {}", words::ago(self.today.since(day)))
                }),
                is_late: false,
                act,
                act_address,
                is_yours: self.may(Action::WriteFinding),
                pressing: (7, seen.day.map_or(0, |day| -self.today.since(day))),
            }
        };
        let calls: Vec<Call> = self.attention.reopened.iter().map(call).collect();
        Group {
            id: "reopened",
            count: super::whole(calls.len()),
            heading: "Failures after a verified remedy",
            nouns: ("failure after a verified remedy", "failures after a verified remedy"),
            under: "The remedy did not prevent them.",
            calls,
            all: Some(("/findings?show=reopened", "Their findings".to_owned())),
        }
    }

    fn near_limit(&self) -> Group {
        let call = |(item, left): &(domain::outside::OutsideItem, i64)| {
            let code = item.code.0.to_string();
            let address = addresses::within("outside", &code);
            let (back, act) = match &item.brought_back_by {
                Some(task) => {
                    (format!("{task} brings it in."), format!("Decide on limit of {code}"))
                }
                None => ("No task brings it in.".to_owned(), format!("Create task for {code}")),
            };
            let ends = item.runs_out().map_or_else(String::new, |end| end.to_string());
            Call {
                words: said(&format!("{}: its limit ends on {ends}. {back}", item.what)),
                when: words::left(*left),
                is_late: *left < 0,
                act,
                act_address: address.clone(),
                is_yours: self.may(Action::KeepOutside),
                pressing: (6, *left),
                address,
                code,
            }
        };
        let calls: Vec<Call> = self.attention.near_limit.iter().map(call).collect();
        Group {
            id: "near-limit",
            count: super::whole(calls.len()),
            heading: "Outside items near their limit",
            nouns: ("outside item near its limit", "outside items near their limit"),
            under: "Left outside on purpose.",
            calls,
            all: Some(("/outside", "The outside list".to_owned())),
        }
    }

    fn disagreements(&self) -> Group {
        let all = &self.attention.disagreements;
        let call = |found: &domain::outside::Contradiction| {
            let attempt = found.said().attempt.to_string();
            let (address, code) = match found.item() {
                Some(item) => (addresses::within("outside", &item.code.0), item.code.0.to_string()),
                None => (addresses::within("attempts", &attempt), attempt),
            };
            Call {
                address,
                words: said(&found.to_string()),
                when: String::new(),
                is_late: false,
                act: format!("Decide on {code}"),
                act_address: "/outside#disagreements".to_owned(),
                is_yours: self.may(Action::KeepOutside),
                pressing: (8, 0),
                code,
            }
        };
        Group {
            id: "differences",
            count: super::whole(all.len()),
            heading: "Differences from the outside list",
            nouns: ("difference from the outside list", "differences from the outside list"),
            under: "Record and list say different things.",
            calls: all.iter().take(NAMED).map(call).collect(),
            all: (all.len() > NAMED)
                .then(|| ("/outside#disagreements", format!("All {}", all.len()))),
        }
    }

    /// What families hear: approaches that came into question, and those that worked on a sister.
    fn sisters(&self) -> (Group, Group) {
        let may_write = self.may(Action::WriteExemption);
        let group = |id, heading, nouns, under, whole, (heard, count): &(Vec<HeardOn>, i64)| {
            let calls: Vec<Call> = heard.iter().map(|on| words::heard_on(on, may_write)).collect();
            let all = (*count > super::whole(calls.len())).then(|| (whole, format!("All {count}")));
            Group { id, count: *count, heading, nouns, under, calls, all }
        };
        (
            group(
                "sisters-questioned",
                "Approaches questioned on open units",
                ("approach questioned on open units", "approaches questioned on open units"),
                "The approach failed on a sister unit.",
                "/heard?what=in%20question",
                &self.attention.heard_in_question,
            ),
            group(
                "sisters-worked",
                "Approaches that worked on a sister unit",
                (
                    "approach that worked on a sister unit",
                    "approaches that worked on a sister unit",
                ),
                "New to the family: open units can use them.",
                "/heard?what=offered",
                &self.attention.heard_offered,
            ),
        )
    }

    fn is_me(&self, name: &Line) -> bool {
        same_account(name.as_str(), self.name)
    }
}
