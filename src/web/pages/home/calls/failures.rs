//! What failures leave open: findings, remedies, approaches in question, sisters.

use super::{Call, Group, Looks, NAMED};
use crate::addresses;
use crate::linked::{ended, first_sentence, linked};
use crate::pages::findings::{reopened, waits};
use crate::pages::home::{whole, words};
use app::attention::AffectedOn;
use domain::findings::Finding;
use domain::roles::Action;
use domain::words::{RemedyState, Role};

impl Looks<'_> {
    pub fn questioned(&self) -> Group {
        let call = |questioned: &app::attention::Questioned| {
            let slot = &questioned.slot;
            let here = addresses::within("tasks", &slot.task);
            Call {
                code: slot.task.to_string(),
                words: linked(&format!("Set on {}. {}", slot.excursion, questioned.reason)),
                when: String::new(),
                is_late: false,
                act: format!("Decide on {}", slot.task),
                act_address: format!("{here}#sides"),
                may: self.may(Action::WriteExemption),
                is_yours: self.may(Action::WriteExemption),
                pressing: (4, 0),
                address: here,
            }
        };
        let calls: Vec<Call> = self.attention.questioned.iter().map(call).collect();
        Group {
            id: "questioned",
            count: whole(calls.len()),
            heading: "Set slots with a questioned approach",
            nouns: ("set slot with a questioned approach", "set slots with a questioned approach"),
            under: "Set before the failure was recorded.",
            calls,
            all: None,
        }
    }

    pub fn findings(&self) -> Group {
        let call = |finding: &Finding, act: String, says: &str, (may, is_yours): (bool, bool)| {
            let code = finding.code.0.to_string();
            let address = addresses::within("findings", &code);
            let waits = finding.written_on.map(|day| self.today.since(day));
            Call {
                words: linked(&format!("{} {says}", first_sentence(finding.words.as_str()))),
                when: waits
                    .map_or_else(String::new, |days| format!("written {}", words::ago(days))),
                is_late: false,
                act,
                act_address: address.clone(),
                may,
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
                let act = format!("Add remedy for {}", finding.code.0);
                let whose = (self.may(Action::WriteRemedy), self.is_engineers(Action::WriteRemedy));
                call(finding, act, "It is reviewed and has no remedy.", whose)
            })
            .collect();
        calls.extend(self.attention.to_review.iter().map(|finding| {
            let act = format!("Review {}", finding.code.0);
            let own = finding.author.as_ref().is_some_and(|author| self.is_me(author));
            let may = self.may(Action::ReviewFinding) && !own;
            let waived = self.attention.set_by_waiver.get(&finding.code.0);
            let says = match waived {
                Some((task, on)) => {
                    format!("{task} is set on {on} with a waiver until this is reviewed.")
                }
                None => "It needs a review by a second person.".to_owned(),
            };
            call(finding, act, &says, (may, may))
        }));
        Group {
            id: "findings",
            count: whole(calls.len()),
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

    /// Failures of open work that no finding names.
    pub fn unexplained(&self) -> Group {
        let call = |failed: &app::read::waits::FailureRow| {
            let address = addresses::within("attempts", &failed.code);
            let ago = failed.day.map(|day| self.today.since(day));
            Call {
                words: linked(&format!(
                    "{}: failed on {} ({}). No finding explains it yet.",
                    failed.title, failed.excursion, failed.task
                )),
                when: ago.map_or_else(String::new, |days| format!("failed {}", words::ago(days))),
                is_late: false,
                act: format!("Write finding on {}", failed.code),
                act_address: format!("{address}/finding"),
                may: self.may(Action::WriteFinding),
                is_yours: self.is_engineers(Action::WriteFinding),
                pressing: (7, ago.map_or(0, |days| -days)),
                code: failed.code.to_string(),
                address,
            }
        };
        let (listed, count) = &self.attention.unexplained;
        Group {
            id: "unexplained",
            count: *count,
            heading: "Failures without a finding",
            nouns: ("failure without a finding", "failures without a finding"),
            under: "The work is open; a finding says why it failed and what must change.",
            calls: listed.iter().map(call).collect(),
            all: (*count > whole(listed.len()))
                .then(|| (waits::TO_EXPLAIN, format!("All {count}"))),
        }
    }

    pub fn remedies(&self) -> Group {
        let call = |due: &app::read::remedies::Due| {
            let left = due.launch.map(|day| day.since(self.today));
            let is_done = due.state == RemedyState::Done;
            let own = due.owner.as_ref().is_some_and(|owner| self.is_me(owner));
            let owner =
                due.owner.as_ref().map_or_else(String::new, |owner| format!(" Owner: {owner}."));
            let stands = if is_done { "done and not verified" } else { "not done" };
            let may = if is_done {
                self.may(Action::VerifyRemedy) && !own
            } else {
                self.may(Action::WriteRemedy)
            };
            Call {
                address: addresses::within("remedies", &due.code),
                code: due.code.to_string(),
                words: linked(&format!(
                    "{} It is {stands}, needed by {}.{owner}",
                    ended(due.what.as_str()),
                    due.needed_by
                )),
                when: left.map_or_else(String::new, words::left),
                is_late: left.is_some_and(|left| left < 0),
                act: format!("{} {}", if is_done { "Verify" } else { "Mark as done:" }, due.code),
                act_address: addresses::within("remedies", &due.code),
                may,
                is_yours: may && (is_done || own || self.role == Role::Engineer),
                pressing: (6, left.unwrap_or(i64::MAX)),
            }
        };
        Group {
            id: "remedies",
            count: whole(self.attention.due.len()),
            heading: "Remedies due",
            nouns: ("remedy due", "remedies due"),
            under: "A coming flight needs them.",
            calls: self.attention.due.iter().take(NAMED).map(call).collect(),
            all: (self.attention.due.len() > NAMED)
                .then(|| ("/findings", format!("All {}", self.attention.due.len()))),
        }
    }

    pub fn reopened(&self) -> Group {
        let call = |seen: &app::read::remedies::NotHeldSeen| {
            let remedy = addresses::within("remedies", &seen.remedy);
            let (act_address, act) = match &seen.finding {
                Some(finding) => (
                    format!("{}#reopened", addresses::within("findings", finding)),
                    format!("Decide on {finding}"),
                ),
                None => (remedy.clone(), format!("Decide on {}", seen.remedy)),
            };
            Call {
                address: remedy,
                code: seen.remedy.to_string(),
                words: linked(&format!(
                    "{} {}",
                    ended(seen.what.as_str()),
                    reopened::sentence(seen)
                )),
                when: seen.day.map_or_else(String::new, |day| {
                    format!("failed {}", words::ago(self.today.since(day)))
                }),
                is_late: false,
                act,
                act_address,
                may: self.may(Action::WriteFinding),
                is_yours: self.is_engineers(Action::WriteFinding),
                pressing: (7, seen.day.map_or(0, |day| -self.today.since(day))),
            }
        };
        let calls: Vec<Call> = self.attention.reopened.iter().map(call).collect();
        Group {
            id: "reopened",
            count: whole(calls.len()),
            heading: "Failures after a verified remedy",
            nouns: ("failure after a verified remedy", "failures after a verified remedy"),
            under: "The remedy did not prevent them.",
            calls,
            all: Some(("/findings?show=reopened", "Their findings".to_owned())),
        }
    }

    /// Sister units affected: approaches that came into question, and those that worked on a sister.
    pub fn sisters(&self) -> (Group, Group) {
        let whose = (self.may(Action::WriteExemption), self.is_engineers(Action::WriteExemption));
        let group =
            |id, heading, nouns, under, listed, (affected, count): &(Vec<AffectedOn>, i64)| {
                let calls: Vec<Call> =
                    affected.iter().map(|on| words::affected_on(on, whose)).collect();
                let all = (*count > whole(calls.len())).then(|| (listed, format!("All {count}")));
                Group { id, count: *count, heading, nouns, under, calls, all }
            };
        (
            group(
                "sisters-questioned",
                "Approaches questioned on open units",
                ("approach questioned on open units", "approaches questioned on open units"),
                "The approach failed on a sister unit.",
                "/affected?what=questioned",
                &self.attention.sisters_questioned,
            ),
            group(
                "sisters-worked",
                "Approaches that worked on a sister unit",
                (
                    "approach that worked on a sister unit",
                    "approaches that worked on a sister unit",
                ),
                "New to the family: open units can use them.",
                "/affected?what=offered",
                &self.attention.sisters_offered,
            ),
        )
    }
}
