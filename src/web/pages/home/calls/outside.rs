//! What the outside list leaves open: routes lost, limits near, entries that disagree.

use super::{Call, Group, Looks, NAMED};
use crate::addresses;
use crate::linked::linked;
use crate::pages::home::{whole, words};
use domain::roles::Action;

impl Looks<'_> {
    pub fn lost_paths(&self) -> Group {
        let call = |lost: &domain::order_of_work::LostWay| {
            use domain::order_of_work::Taking;
            let (excursion, slot) = match &lost.taking {
                Taking::By(by) => (&by.at.excursion, &by.slot),
                Taking::Now | Taking::Gone => (&lost.slot.at.excursion, &lost.slot.slot),
            };
            Call {
                address: addresses::within("outside", &lost.aid),
                words: linked(&lost.to_string()),
                when: String::new(),
                is_late: false,
                act: format!("Look at {excursion}"),
                act_address: format!("{}#slot-{slot}", addresses::within("excursions", excursion)),
                is_yours: self.may(Action::SetSlot),
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
                words: linked(&format!("{}: its limit ends on {ends}. {back}", item.what)),
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
            count: whole(calls.len()),
            heading: "Outside items near their limit",
            nouns: ("outside item near its limit", "outside items near their limit"),
            under: "Left outside on purpose.",
            calls,
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
                is_yours: self.may(Action::KeepOutside),
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
