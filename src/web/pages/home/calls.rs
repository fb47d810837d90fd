//! What needs people, section by section: what is the matter, and what to do.

use crate::addresses;
use crate::drawings::carry_line::{Style, small};
use crate::drawings::columns::Columns;
use crate::drawings::markup::Drawing;
use crate::pages::carry;
use crate::pages::constraints::{ended_by, safe_until};
use crate::pages::findings::reopened;
use crate::said::{Said, said};
use app::attention::{Attention, HeardOn};
use app::constraints::InForce;
use app::slots::turned::Turned;
use domain::codes::{ExcursionCode, TaskCode};
use domain::constraints::ConstraintState;
use domain::order_of_work::{LostWay, Taking};
use domain::outside::Contradiction;
use domain::repeat_guard::Hears;
use store::standing::LeftUnknown;

/// One section: how many, of what, and the rows.
pub(super) struct Group {
    pub count: i64,
    pub heading: &'static str,
    pub under: &'static str,
    pub calls: Vec<Call>,
    /// Where the rest stands, when not all are shown.
    pub all: Option<(&'static str, String)>,
}

/// One row: what is the matter and what to do.
pub(super) struct Call {
    pub address: String,
    pub code: String,
    pub words: Vec<Said>,
    pub line: Option<Drawing>,
    pub act: String,
    pub act_address: String,
}

pub(super) fn groups(attention: &Attention, columns: &Columns) -> Vec<Group> {
    let line = |task: &TaskCode, danger: bool, id: String| {
        let opening = carry::opening(&attention.dossier, task)?;
        let traced = carry::trace(&attention.dossier, columns, opening, danger);
        Some(small(&traced.line, &id, Style::Headed))
    };
    let count = |calls: &[Call]| i64::try_from(calls.len()).unwrap_or(i64::MAX);
    let mut groups = Vec::new();

    let calls: Vec<Call> = attention
        .to_debrief
        .iter()
        .map(|excursion| {
            let code = excursion.code.0.to_string();
            let when = excursion.day.map_or_else(String::new, |day| format!(" on {day}"));
            Call {
                address: addresses::within("excursions", &code),
                words: said(&format!("Flown{when}; its results are not all in. What was set on it stands in no backlog until it is closed.")),
                line: None,
                act: "Go on with the debrief".to_owned(),
                act_address: format!("{}/debrief", addresses::within("excursions", &code)),
                code,
            }
        })
        .collect();
    groups.push(Group {
        count: count(&calls),
        heading: "Excursions to debrief",
        under: "flown, not closed",
        calls,
        all: None,
    });

    let calls: Vec<Call> = attention
        .in_danger
        .iter()
        .map(|item| {
            let own = item.needed_by_flight.as_ref().map_or_else(
                || item.needed_by_day.map_or_else(String::new, |day| day.to_string()),
                ToString::to_string,
            );
            let by = match (&item.need_from, item.need_day) {
                (Some(from), Some(day)) => format!("{day} ({from})"),
                _ => own,
            };
            let late = item
                .late_means
                .as_ref()
                .map_or_else(String::new, |late| format!(" If it is late: {late}."));
            Call {
                address: addresses::within("tasks", &item.task),
                code: item.task.to_string(),
                words: said(&format!(
                    "{}, needed by {by}; no slot is set that fits in time. Open because: {}.{late}",
                    item.title,
                    item.why_words.trim_end_matches('.')
                )),
                line: line(&item.task, true, format!("danger-{}", item.task)),
                act: "See its slots".to_owned(),
                act_address: format!("{}#slots", addresses::within("tasks", &item.task)),
            }
        })
        .collect();
    let all = (attention.in_danger_count > count(&calls))
        .then(|| ("/open?in_danger=yes", format!("All {}", attention.in_danger_count)));
    groups.push(Group {
        count: attention.in_danger_count,
        heading: "Needed-by dates in danger",
        under: "no slot in time, or a poor one",
        calls,
        all,
    });

    let calls: Vec<Call> = attention.pressing.iter().take(12).map(pressing).collect();
    groups.push(Group {
        count: i64::try_from(attention.pressing.len()).unwrap_or(i64::MAX),
        heading: "Constraints not ended in time",
        under: "past their date, or nothing ends them before it",
        calls,
        all: Some(("/constraints", "What the vehicle may not do".to_owned())),
    });

    let calls: Vec<Call> = attention.left_unknown.iter().map(left_unknown).collect();
    groups.push(Group {
        count: attention.left_unknown_count,
        heading: "% left unknown",
        under: "nothing is left by the record, and the task is not done",
        calls,
        all: None,
    });

    let calls: Vec<Call> = attention.stopped.iter().map(stopped).collect();
    groups.push(Group {
        count: count(&calls),
        heading: "Set slots that stopped fitting",
        under: "something else changed since",
        calls,
        all: None,
    });

    let calls: Vec<Call> = attention
        .questioned
        .iter()
        .map(|questioned| Call {
            address: addresses::within("tasks", &questioned.slot.task),
            code: questioned.slot.task.to_string(),
            words: said(&format!("Set on {}. {}", questioned.slot.excursion, questioned.reason)),
            line: line(
                &questioned.slot.task,
                false,
                format!("question-{}", questioned.slot.code.0),
            ),
            act: "Compare its sides".to_owned(),
            act_address: format!("{}#sides", addresses::within("tasks", &questioned.slot.task)),
        })
        .collect();
    groups.push(Group {
        count: count(&calls),
        heading: "Slots whose approach came into question",
        under: "set before the failure was known",
        calls,
        all: None,
    });

    for (heading, under, whole, (heard, all)) in [
        (
            "Approaches in question on open units",
            "a sister failed that way",
            "/heard?what=in%20question",
            &attention.heard_in_question,
        ),
        (
            "Worked on a sister",
            "a new approach, for units that wait",
            "/heard?what=offered",
            &attention.heard_offered,
        ),
    ] {
        let calls: Vec<Call> = heard.iter().map(heard_on).collect();
        let rest = (*all > count(&calls)).then(|| (whole, format!("All {all}")));
        groups.push(Group { count: *all, heading, under, calls, all: rest });
    }

    let finding = |finding: &domain::findings::Finding, act: &str, words: String| {
        let code = finding.code.0.to_string();
        let address = addresses::within("findings", &code);
        Call {
            address: address.clone(),
            code,
            words: said(&words),
            line: None,
            act: act.to_owned(),
            act_address: address,
        }
    };
    let first_words =
        |text: &str| text.split_inclusive(['.', '\n']).next().unwrap_or("").trim().to_owned();
    let mut calls: Vec<Call> = attention
        .without_remedy
        .iter()
        .map(|f| {
            finding(
                f,
                "Propose a remedy",
                format!("{} Reviewed, and no remedy is proposed.", first_words(f.words.as_str())),
            )
        })
        .collect();
    calls.extend(attention.to_review.iter().map(|f| {
        finding(
            f,
            "Review it",
            format!(
                "{} Waits for review by someone other than its author.",
                first_words(f.words.as_str())
            ),
        )
    }));
    groups.push(Group {
        count: count(&calls),
        heading: "Findings that wait",
        under: "for a review, or for a remedy",
        calls,
        all: Some(("/findings", "All that waits".to_owned())),
    });

    let calls: Vec<Call> = attention
        .reopened
        .iter()
        .map(|seen| {
            let (address, act) = match &seen.finding {
                Some(finding) => {
                    (format!("{}#reopened", addresses::within("findings", finding)), "Take it up")
                }
                None => (addresses::within("remedies", &seen.remedy), "See the remedy"),
            };
            Call {
                address: addresses::within("remedies", &seen.remedy),
                code: seen.remedy.to_string(),
                words: said(&format!("{} {}", ended(seen.what.as_str()), reopened::sentence(seen))),
                line: None,
                act: act.to_owned(),
                act_address: address,
            }
        })
        .collect();
    groups.push(Group {
        count: count(&calls),
        heading: "Questions reopened",
        under: "failed again after a verified remedy",
        calls,
        all: Some(("/findings?show=reopened", "Their findings".to_owned())),
    });

    let calls: Vec<Call> = attention
        .due
        .iter()
        .take(12)
        .map(|due| {
            let owner =
                due.owner.as_ref().map_or_else(String::new, |owner| format!(", owner {owner}"));
            Call {
                address: addresses::within("remedies", &due.code),
                code: due.code.to_string(),
                words: said(&format!(
                    "{} It is {}, needed by {}{owner}.",
                    ended(due.what.as_str()),
                    due.state,
                    due.needed_by
                )),
                line: None,
                act: if due.state == domain::words::RemedyState::Done {
                    "Verify".to_owned()
                } else {
                    "Move it on".to_owned()
                },
                act_address: due.finding.as_ref().map_or_else(
                    || addresses::within("remedies", &due.code),
                    |f| addresses::within("findings", f),
                ),
            }
        })
        .collect();
    groups.push(Group {
        count: i64::try_from(attention.due.len()).unwrap_or(i64::MAX),
        heading: "Remedies due",
        under: "before the flight that needs them",
        calls,
        all: None,
    });

    let calls: Vec<Call> = attention.lost_ways.iter().map(lost_way).collect();
    groups.push(Group {
        count: count(&calls),
        heading: "Ways that would be lost",
        under: "an aid comes in before work behind it",
        calls,
        all: None,
    });

    let calls: Vec<Call> = attention.disagreements.iter().take(12).map(disagreement).collect();
    groups.push(Group {
        count: i64::try_from(attention.disagreements.len()).unwrap_or(i64::MAX),
        heading: "Record and outside list disagree",
        under: "which one is right?",
        calls,
        all: None,
    });

    let calls: Vec<Call> = attention
        .near_limit
        .iter()
        .map(|(item, left)| {
            let code = item.code.0.to_string();
            let back = item.brought_back_by.as_ref().map_or_else(
                || "No task brings it back".to_owned(),
                |task| format!("{task} brings it back"),
            );
            let days = if *left < 0 {
                format!("{} days past its limit", -left)
            } else {
                format!("{left} days left")
            };
            let address = addresses::within("outside", &code);
            Call {
                address: address.clone(),
                words: said(&format!(
                    "{}: {days}; the limit ends on {}. {back}.",
                    item.what,
                    item.runs_out().map_or_else(String::new, |end| end.to_string())
                )),
                line: None,
                act: "See the list".to_owned(),
                act_address: "/outside".to_owned(),
                code,
            }
        })
        .collect();
    groups.push(Group {
        count: count(&calls),
        heading: "Outside items near their limit",
        under: "left outside on purpose",
        calls,
        all: None,
    });
    groups.retain(|group| group.count > 0);
    groups
}

/// What the open units of a family hear of one approach.
fn heard_on(on: &HeardOn) -> Call {
    let heard = &on.heard;
    let named = |(task, set): &(TaskCode, Option<ExcursionCode>)| match set {
        Some(excursion) => format!("{task} (set on {excursion})"),
        None => task.to_string(),
    };
    let mut units = on.units.iter().map(named).collect::<Vec<_>>().join(", ");
    let more = heard.units - i64::try_from(on.units.len()).unwrap_or(0);
    if more > 0 {
        units = format!("{units} and {more} more");
    }
    let (attempt, side) = (&heard.attempt, &heard.side);
    let (words, act, part) = match heard.what {
        Hears::InQuestion => (
            format!(
                "From {side}: {attempt} failed, and nothing answers it. In question on {units}."
            ),
            "Decide",
            "in-question",
        ),
        Hears::Offered => (
            format!(
                "From {side}: {attempt} ended done by it, new to its family. Offered to {units}."
            ),
            "Take it up",
            "offered",
        ),
    };
    let code = heard.technique.to_string();
    Call {
        address: addresses::within("techniques", &code),
        code,
        words: said(&words),
        line: None,
        act: act.to_owned(),
        act_address: format!("{}#{part}", addresses::within("families", &heard.family)),
    }
}

/// A task of which nothing is left by what its attempts say, and which is not done.
fn left_unknown(found: &LeftUnknown) -> Call {
    let attempt = addresses::within("attempts", &found.attempt);
    Call {
        address: addresses::within("tasks", &found.task),
        code: found.task.to_string(),
        words: said(&format!(
            "{}: by {} on {} nothing is left of it, and it is not recorded as done. It stays open with % left unknown. Say how much is left, or record it as done.",
            found.title, found.attempt, found.excursion
        )),
        line: None,
        act: format!("Correct {}", found.attempt),
        act_address: format!("{attempt}/edit#f-left-after"),
    }
}

/// A constraint past its date, or one that nothing ends before it.
fn pressing(one: &InForce) -> Call {
    let code = one.constraint.code.0.to_string();
    let address = addresses::within("constraints", &code);
    let until = match safe_until(one).as_str() {
        "no date" => String::new(),
        until => format!(", safe until {until}"),
    };
    let (past, act) = if one.state == ConstraintState::PastDate {
        (" It is past its date and still in force.", "Renew, end or lift it")
    } else {
        ("", "See what ends it")
    };
    Call {
        address: address.clone(),
        words: said(&format!("{}{until}.{past} {}", one.constraint.forbidden, ended_by(one))),
        line: None,
        act: act.to_owned(),
        act_address: address,
        code,
    }
}

/// A set slot with the gate that turned against it.
fn stopped(turned: &Turned) -> Call {
    let (slot, gate) = (&turned.slot, turned.was.gate);
    let excursion = addresses::within("excursions", &slot.excursion);
    Call {
        address: addresses::within("tasks", &slot.task),
        code: slot.task.to_string(),
        words: said(&format!(
            "Set on {}; {gate} was {} on {}, now {}: {}",
            slot.excursion,
            turned.was.verdict,
            turned.was.at.day(),
            turned.now.verdict,
            turned.now.words()
        )),
        line: None,
        act: format!("Look at {}", slot.excursion),
        act_address: format!("{excursion}#slot-{}", slot.code.0),
    }
}

/// A set slot that an aid's leaving cuts off.
fn lost_way(lost: &LostWay) -> Call {
    let code = lost.aid.to_string();
    let (excursion, slot) = match &lost.taking {
        Taking::By(by) => (&by.at.excursion, &by.slot),
        Taking::Now | Taking::Gone => (&lost.slot.at.excursion, &lost.slot.slot),
    };
    Call {
        address: addresses::within("outside", &code),
        words: said(&lost.to_string()),
        line: None,
        act: format!("Look at {excursion}"),
        act_address: format!("{}#slot-{slot}", addresses::within("excursions", excursion)),
        code,
    }
}

/// What the record of an attempt and the outside list say differently.
fn disagreement(found: &Contradiction) -> Call {
    let attempt = found.said().attempt.to_string();
    let (address, code) = match found.item() {
        Some(item) => (addresses::within("outside", &item.code.0), item.code.0.to_string()),
        None => (addresses::within("attempts", &attempt), attempt),
    };
    Call {
        address,
        code,
        words: said(&found.to_string()),
        line: None,
        act: "Say which is right".to_owned(),
        act_address: "/outside#disagreements".to_owned(),
    }
}

/// A sentence with its full stop.
fn ended(words: &str) -> String {
    let words = words.trim();
    if words.ends_with(['.', '!', '?']) { words.to_owned() } else { format!("{words}.") }
}
