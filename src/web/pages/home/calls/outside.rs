//! What the outside list leaves open: routes lost, limits near, entries that disagree.

use super::{Call, Group, Looks, NAMED};
use crate::addresses;
use crate::linked::linked;
use crate::pages::home::{whole, words};
use domain::order_of_work::{LostWay, Taking};
use domain::outside::OutsideItem;
use domain::roles::Action;

impl Looks<'_> {
    pub fn lost_paths(&self) -> Group {
        let call = |lost: &LostWay| {
            let of = &lost.slot;
            let (words, task, slot, excursion) = match &lost.taking {
                Taking::By(by) => (
                    format!(
                        "Bringing {} in on {} removes the translation path to {}, set on {}.",
                        lost.aid, by.at.excursion, of.task, of.at.excursion
                    ),
                    &by.task,
                    &by.slot,
                    &by.at.excursion,
                ),
                Taking::Now | Taking::Gone => (
                    format!(
                        "{} is gone, and with it the translation path to {}, set on {}.",
                        lost.aid, of.task, of.at.excursion
                    ),
                    &of.task,
                    &of.slot,
                    &of.at.excursion,
                ),
            };
            let (act, act_address) = match self.attention.moves.get(slot) {
                Some(later) => {
                    let cell = [task.as_str(), later.as_str()].map(addresses::encoded).join(":");
                    (format!("Move {task} to {later}"), format!("/slots?cell={cell}#cell"))
                }
                None => (
                    format!("Decide on slot of {task}"),
                    format!("{}#slot-{slot}", addresses::within("excursions", excursion)),
                ),
            };
            let may = self.may(Action::SetSlot);
            Call {
                address: addresses::within("outside", &lost.aid),
                words: linked(&words),
                when: String::new(),
                is_late: false,
                act,
                act_address,
                may,
                is_yours: may,
                pressing: (2, 1),
                code: lost.aid.to_string(),
            }
        };
        let calls: Vec<Call> = self.attention.lost_paths.iter().map(call).collect();
        Group {
            id: "lost-paths",
            count: whole(calls.len()),
            heading: "Translation paths at risk",
            nouns: ("translation path at risk", "translation paths at risk"),
            under: "An aid comes in before work that needs it.",
            calls,
            all: None,
        }
    }

    pub fn near_limit(&self) -> Group {
        let call = |(item, left): &(OutsideItem, i64)| {
            let code = item.code.0.to_string();
            let address = addresses::within("outside", &code);
            let (back, act) = match &item.brought_back_by {
                Some(task) => {
                    (format!("{task} brings it in."), format!("Decide on limit of {code}"))
                }
                None => ("No task brings it in.".to_owned(), format!("Create task for {code}")),
            };
            let may = self.may(Action::KeepOutside);
            Call {
                words: linked(&format!("{} nears its limit. {back}", item.what)),
                when: words::left(*left),
                is_late: *left < 0,
                act,
                act_address: address.clone(),
                may,
                is_yours: may,
                pressing: (6, *left),
                address,
                code,
            }
        };
        let calls: Vec<Call> = self.attention.near_limit.iter().map(call).collect();
        Group {
            id: "near-limit",
            count: whole(calls.len()),
            heading: "Outside items near their limit",
            nouns: ("outside item near its limit", "outside items near their limit"),
            under: "Left outside on purpose.",
            calls,
            all: Some(("/outside", "The outside list".to_owned())),
        }
    }

    pub fn without_task(&self) -> Group {
        let call = |(item, left): &(OutsideItem, i64)| {
            let code = item.code.0.to_string();
            let address = addresses::within("outside", &code);
            let may = self.may(Action::KeepOutside) && self.may(Action::CreateTask);
            Call {
                words: linked(&format!("{} has a limit. No task brings it in.", item.what)),
                when: words::left(*left),
                is_late: *left < 0,
                act: format!("Create task for {code}"),
                act_address: address.clone(),
                may,
                is_yours: may,
                pressing: (7, *left),
                address,
                code,
            }
        };
        let all = &self.attention.without_task;
        Group {
            id: "without-task",
            count: whole(all.len()),
            heading: "Outside items without a task",
            nouns: ("outside item without a task", "outside items without a task"),
            under: "They have a limit, and no task brings them in.",
            calls: all.iter().take(NAMED).map(call).collect(),
            all: Some(("/outside", "The outside list".to_owned())),
        }
    }

    pub fn disagreements(&self) -> Group {
        let all = &self.attention.disagreements;
        let call = |found: &domain::outside::Contradiction| {
            let attempt = found.said().attempt.to_string();
            let (address, code) = match found.item() {
                Some(item) => (addresses::within("outside", &item.code.0), item.code.0.to_string()),
                None => (addresses::within("attempts", &attempt), attempt),
            };
            Call {
                address,
                words: linked(&found.to_string()),
                when: String::new(),
                is_late: false,
                act: format!("Decide on {code}"),
                act_address: "/outside#disagreements".to_owned(),
                may: self.may(Action::KeepOutside),
                is_yours: self.is_engineers(Action::KeepOutside),
                pressing: (8, 0),
                code,
            }
        };
        Group {
            id: "differences",
            count: whole(all.len()),
            heading: "Differences from the outside list",
            nouns: ("difference from the outside list", "differences from the outside list"),
            under: "Record and list say different things.",
            calls: all.iter().take(NAMED).map(call).collect(),
            all: (all.len() > NAMED)
                .then(|| ("/outside#disagreements", format!("All {}", all.len()))),
        }
    }
}
