//! Reasons in words: one sentence each, with the figures in it. Codes and fields stand apart
//! from the text, so that a page can make links of them.

mod building;
mod figures;
mod unknowns;

use crate::places::{ApproachAt, ExcursionAt, TaskAt};
pub use building::Part;
pub use figures::{margin, minutes_added, per_cent, room_words};
pub use unknowns::unknown_sentence;

use super::reasons::{OfFallback, Reason};
use super::snapshot::Snapshot;
use crate::timeline::Lanes;
use building::Sentence;
use domain::kinds::Kind;
use domain::repeat_guard::Against;
pub(super) use figures::clock;
use figures::{practice, supply_left, time, window};

/// What a reason of a task's gate says.
pub fn sentence(snapshot: &Snapshot, task: TaskAt, reason: &Reason) -> Vec<Part> {
    let say = Sentence::new(snapshot);
    let approach = |at: ApproachAt| &snapshot.tasks[task].approaches[at];
    let said = match *reason {
        Reason::NotChecked => say.text("Not checked yet."),
        Reason::Time(figures) => say.text(time(&figures)),
        Reason::BoundsNotAccepted { tight, met } => say
            .text(format!("Tight from {tight} %, met from {met} %: defaults without a source. Accept or change them under "))
            .field(Kind::Settings, "", "met_from", "Settings")
            .text("."),
        Reason::Unknown(unknown) => return unknown_sentence(snapshot, &unknown),
        Reason::NoPlaceInOrder => say
            .text("No place in the order has what it needs before it and what needs it after it."),
        Reason::SeatsEnough { takes, there } => {
            say.text(format!("Takes {takes} of {there} seats."))
        }
        Reason::SeatsTooFew { takes, there } => {
            say.text(format!("Takes {takes} seats; the excursion has {there}."))
        }
        Reason::SeatsChosen { takes, chosen } => {
            say.text(format!("Takes {takes} seats; {chosen} is chosen."))
        }
        Reason::ApproachFree { approach: at } => {
            let approach = approach(at);
            say.approach(approach).text(": no failure recorded against it here.")
        }
        Reason::ApproachQuestioned { approach: at } => {
            let approach = approach(at);
            let said = say.approach(approach).text(": questioned");
            match &approach.against.sisters[..] {
                [] => said.text("."),
                sisters => said.text(" since").attempts(sisters).text(" failed on a sister unit."),
            }
        }
        Reason::ApproachBlocked { approach: at } => {
            let approach = approach(at);
            let said = say.approach(approach).text(": blocked");
            let Against { here, sisters, .. } = &approach.against;
            match (&here[..], &sisters[..]) {
                ([], []) => said.text("; choose another approach, or resolve the failure."),
                (here, []) => said.text(" after").attempts(here).text(", not resolved yet."),
                ([], sisters) => {
                    let said = said.text(" after").attempts(sisters);
                    said.text(" on sister units, not resolved yet.")
                }
                (here, sisters) => {
                    let said = said.text(" after").attempts(here).text(", and after");
                    said.attempts(sisters).text(" on sister units, not resolved yet.")
                }
            }
        }
        Reason::ApproachNotRecorded { approach: at } => {
            let approach = approach(at);
            let said = say.approach(approach).text(": a failure could have been by it; ");
            match &approach.against.unclear[..] {
                [] => said.text("enter the technique and side of the attempt."),
                some => said.text("enter the technique and side of").attempts(some).text("."),
            }
        }
        Reason::ApproachDrafted { approach: at } => {
            let approach = approach(at);
            say.approach(approach)
                .text(": the technique is drafted; clear it before it is set, or pencil it.")
        }
        Reason::ApproachWithdrawn { approach: at } => {
            let approach = approach(at);
            say.approach(approach).text(": the technique is withdrawn; choose another.")
        }
        Reason::ApproachNotNamed => {
            say.text("No technique is recorded for ")
                .task(task)
                .text("; enter one, with the side it is for.")
        }
        Reason::NothingNeeded => say.text("It needs nothing before it."),
        Reason::NeedsMet => say.text("All that it needs is done or set before it."),
        Reason::NeedsOpen { task } => {
            say.text("Needs ").task(task).text(", which is neither done nor set before it.")
        }
        Reason::NeedsDropped { task } => say
            .text("Needs ")
            .task(task)
            .text(", which was dropped: remove the link, or reopen that task."),
        Reason::NeedsSetLater { task, excursion } => {
            let said = say.text("Needs ").task(task).text(", which is set later, on ");
            said.excursion(excursion).text(".")
        }
        Reason::SameVisitElsewhere { task, excursion } => {
            let said = say.text("Goes on the same visit as ").task(task).text(", which is set on ");
            said.excursion(excursion).text(".")
        }
        Reason::SameVisitTogether { task } => say
            .text("Goes on the same visit as ")
            .task(task)
            .text(", which has no slot yet: set both here."),
        Reason::NeededBefore { task, excursion } => {
            let said = say.task(task).text(", which needs it, is set before, on ");
            said.excursion(excursion).text(".")
        }
        Reason::InsteadOfSet { task, excursion } => {
            let said = say.task(task).text(", either of which makes the other moot, is set on ");
            said.excursion(excursion).text(".")
        }
        Reason::WaitsForTrigger => say.text("Waits until its condition is met."),
        Reason::NoToolsNamed => say.text("No tool is named for it."),
        Reason::ToolsAboard { count: 1 } => say.text("Its tool is aboard by then."),
        Reason::ToolsAboard { count } => say.text(format!("Its {count} tools are aboard by then.")),
        Reason::ToolLast { tool } => say.tool(tool).text(" is the last one aboard."),
        Reason::ToolArrivesWith { tool, flight } => {
            say.tool(tool).text(" arrives on that very flight, ").flight(flight).text(".")
        }
        Reason::ToolArrivesAfter { tool, flight } => {
            say.tool(tool).text(" arrives only with ").flight(flight).text(".")
        }
        Reason::ToolNotAboard { tool } => {
            say.tool(tool).text(" is not aboard, and no flight brings it.")
        }
        Reason::ToolOutside { tool } => say.tool(tool).text(" was left outside."),
        Reason::ToolLost { tool } => say.tool(tool).text(" is lost."),
        Reason::ToolBroken { tool } => say.tool(tool).text(" is broken."),
        Reason::ToolNotCounted { tool } => {
            let code = snapshot.tools.get(tool).map(|tool| tool.code.as_str());
            say.lacks(Kind::Tool, code, "on_board", "count aboard")
        }
        Reason::ToolInOtherHands { tool, task } => {
            say.tool(tool).text(" is in use then: ").task(task).text(" uses it.")
        }
        Reason::ToolsInHand => say.text("Its tools are in hand."),
        Reason::ToolNotInHand { tool } => say.tool(tool).text(" is not in hand."),
        Reason::WayFromHere { minutes } => say.text(format!("{minutes} min from there.")),
        Reason::NoRemedies => say.text("It needs no remedy."),
        Reason::RemediesVerified { count: 1 } => say.text("Its remedy is verified."),
        Reason::RemediesVerified { count } => {
            say.text(format!("Its {count} remedies are verified."))
        }
        Reason::RemedyDone { approach: at, remedy } => {
            let code = approach(at).remedies.get(remedy).map(|one| one.code.as_str());
            say.code(Kind::Remedy, code).text(" is done and not verified.")
        }
        Reason::RemedyOpen { approach: at, remedy } => {
            let code = approach(at).remedies.get(remedy).map(|one| one.code.as_str());
            say.code(Kind::Remedy, code).text(" is still open.")
        }
        Reason::WayThere { minutes } => say.text(format!("{minutes} min from the airlock.")),
        Reason::WayNeedsAid { site, aid } => say
            .text("The route to ")
            .site(site)
            .text(" needs ")
            .item(aid)
            .text(", which is not in place then."),
        Reason::TakesWayFrom { aid, task, excursion } => {
            let said = say.text("Bringing in ").item(aid).text(" removes the translation path of ").task(task);
            said.text(", set on ").excursion(excursion).text(".")
        }
        Reason::NoReturnDate => say.text("No flight by which it must be back inside."),
        Reason::BackInTime { flight } => {
            say.text("Back inside by the last ingress of ").flight(flight).text(".")
        }
        Reason::BackTooLate { flight } => say
            .text("Must be back inside by the last ingress of ")
            .flight(flight)
            .text(": too late here."),
        Reason::NoNeededBy => say.text("No needed-by flight or date."),
        Reason::InTime => needed_by(say, task, "Needed by ", ""),
        Reason::Late => {
            let means = snapshot.tasks[task]
                .late_means
                .as_deref()
                .unwrap_or("consequence not recorded");
            needed_by(say, task, "Late, needed by ", &format!(": {}", means.trim_end_matches('.')))
        }
        Reason::LateMoot => needed_by(say, task, "Needed by ", ", and moot after that"),
        Reason::BeforeBound => bound(say, task, "In time for "),
        Reason::AfterBound => bound(say, task, "Too late for "),
        Reason::NoPlace => say.text("Unknown until the time check is known."),
        Reason::NoArmNeeded => say.text("It needs no arm."),
        Reason::AnyLight => say.text("It can be done in any light."),
        Reason::Window(figures) => say.text(window(&figures)),
        Reason::NoSuchLight => say.text("On this orbit there is none of the light that it needs."),
        Reason::NearCriticalBeta { excursion } => {
            let said = say.text("The beta angle of ").excursion(excursion);
            said.text(" is so near the critical one that the length of the night is unknown.")
        }
        Reason::BagHolds => say.text("The bag holds what it takes out and brings in."),
        Reason::BagFull { out, needs, left } => {
            let way = if out { "going out" } else { "coming in" };
            say.text(format!(
                "Needs {needs:.0} l of the bag {way}; {left:.0} l are left."
            ))
        }
        Reason::Rehearsed(figures) => say.text(practice("rehearsed", figures)),
        Reason::Trained { crew, figures } => {
            let crew = snapshot.crews.get(crew).map_or("?", String::as_str);
            say.text(format!("{crew}: {}", practice("trained", figures)))
        }
        Reason::NoInhibits => say.text("It needs no inhibit."),
        Reason::InhibitsArranged { count: 1 } => say.text("Its inhibit is arranged."),
        Reason::InhibitsArranged { count } => {
            say.text(format!("Its {count} inhibits are arranged."))
        }
        Reason::InhibitNotAsked { inhibit } => {
            let said = say.inhibit(inhibit).text(" is not asked for");
            said.owner_and_lead(inhibit)
        }
        Reason::InhibitAsked { inhibit } => {
            let said = say.inhibit(inhibit).text(" is asked for, not arranged yet");
            said.owner_and_lead(inhibit)
        }
        Reason::InhibitOff { inhibit, from, until } => {
            let until =
                until.map_or_else(|| "on".to_owned(), |until| format!("to {}", clock(until)));
            let from = clock(from);
            say.inhibit(inhibit)
                .text(format!(" is in place from {from} {until}; the work does not fit into that."))
        }
        Reason::SuppliesLast => say.text("Every supply lasts beyond the limit, the reserve kept."),
        Reason::Supply { supply, seat, runs_out, left, during } => {
            let said = say.text(supply_left(supply, seat, runs_out, left));
            match during {
                Some(task) => said.text(", during ").task(task).text("."),
                None => said.text("."),
            }
        }
        Reason::OfFallback { approach: at, of } => {
            let by = approach(at);
            let mut said = match of {
                OfFallback::Guard => say.text("Fallback: "),
                _ => say.text("Fallback ").approach(by).text(": "),
            };
            said.parts.extend(sentence(snapshot, task, &of.of_approach(snapshot, by, at)));
            said
        }
        Reason::BeginsNoEarlier { start } => say.text(format!(
            "This place needs “begin no earlier than” PET {}.",
            clock(start)
        )),
        Reason::HoldsElsewhere { excursion, lanes, start } => {
            let seats = excursion_seats(snapshot, excursion, lanes);
            let start = clock(start);
            say.text(format!("It holds in {seats} from PET {start}, where another check fails."))
        }
        Reason::Pushes { task, from, to, window } => {
            let (from, to) = (clock(from), clock(to));
            let past = if window { "its window" } else { "its latest start" };
            say.text("Moves ").task(task).text(format!(" from {from} to {to}, past {past}."))
        }
    };
    said.parts
}

/// “EV1 and EV2”: the seats of those lanes.
pub(super) fn excursion_seats(snapshot: &Snapshot, excursion: ExcursionAt, lanes: Lanes) -> String {
    let here = snapshot.excursions.get(excursion);
    let seat = |lane: usize| here?.seats.get(lane).map(|seat| format!("EV{seat}"));
    lanes.each().filter_map(seat).collect::<Vec<_>>().join(" and ")
}

fn needed_by<'s>(say: Sentence<'s>, task: TaskAt, before: &str, after: &str) -> Sentence<'s> {
    let task = &say.snapshot.tasks[task];
    let said = say.text(before);
    let said = match task.needed_by_flight {
        Some(flight) => said.flight(flight),
        None => said,
    };
    let said = match (task.needed_by_day, task.needed_by_flight) {
        (Some(day), Some(_)) => said.text(format!(" and {day}")),
        (Some(day), None) => said.text(day.to_string()),
        (None, _) => said,
    };
    said.text(format!("{after}."))
}

/// `Too late for CN-003, safe until 2031-04-03.`
fn bound<'s>(say: Sentence<'s>, task: TaskAt, before: &str) -> Sentence<'s> {
    let bound = say.snapshot.tasks[task].bound.as_ref();
    let code = bound.map(|bound| (bound.kind, bound.code.as_str()));
    let said = say.text(before);
    let said = match code {
        Some((kind, code)) => said.code(kind, Some(code)),
        None => said,
    };
    said.text(bound.map_or_else(String::new, |bound| format!(", safe until {}.", bound.day)))
}
