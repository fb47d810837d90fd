//! Reasons in words: one sentence each, with the figures in it. Codes and fields stand apart
//! from the text, so that a page can make links of them.

use super::reasons::{Index, PracticeFigures, Reason, TimeFigures, Unknown, WindowFigures};
use super::snapshot::{Approach, Snapshot, TaskAt};
use crate::compute::supplies::Supply;
use crate::compute::timeline::Lanes;
use crate::domain::kinds::Kind;
use crate::domain::units::Minutes;

/// A piece of a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    Text(String),
    /// A record, by its code.
    Code(Kind, String),
    /// A field of a record that has to be filled in, and the words to show for it.
    Field {
        kind: Kind,
        code: String,
        column: &'static str,
        words: &'static str,
    },
}

impl Part {
    /// The same without links.
    pub fn plain(parts: &[Self]) -> String {
        parts
            .iter()
            .map(|part| match part {
                Self::Text(text) | Self::Code(_, text) => text.as_str(),
                Self::Field { words, .. } => words,
            })
            .collect()
    }
}

/// Builds a sentence piece by piece, looking codes up in the snapshot.
struct Sentence<'s> {
    snapshot: &'s Snapshot,
    parts: Vec<Part>,
}

impl<'s> Sentence<'s> {
    fn new(snapshot: &'s Snapshot) -> Self {
        Self { snapshot, parts: Vec::new() }
    }

    fn text(mut self, text: impl Into<String>) -> Self {
        self.parts.push(Part::Text(text.into()));
        self
    }

    fn code(mut self, kind: Kind, code: Option<&str>) -> Self {
        self.parts.push(Part::Code(kind, code.unwrap_or("?").to_owned()));
        self
    }

    fn task(self, at: Index) -> Self {
        let code = self.snapshot.tasks.get(at as usize).map(|task| task.code.as_str());
        self.code(Kind::Task, code)
    }

    fn excursion(self, at: Index) -> Self {
        let code = self.snapshot.excursions.get(at as usize).map(|there| there.code.as_str());
        self.code(Kind::Excursion, code)
    }

    fn flight(self, at: Index) -> Self {
        let code = self.snapshot.flights.get(at as usize).map(|flight| flight.code.as_str());
        self.code(Kind::Flight, code)
    }

    fn site(self, at: Index) -> Self {
        let code = self.snapshot.sites.get(at as usize).map(|site| site.code.as_str());
        self.code(Kind::Worksite, code)
    }

    fn tool(self, at: Index) -> Self {
        let code = self.snapshot.tools.get(at as usize).map(|tool| tool.code.as_str());
        self.code(Kind::Tool, code)
    }

    fn item(self, at: Index) -> Self {
        let code = self.snapshot.outside.get(at as usize).map(|item| item.code.as_str());
        self.code(Kind::OutsideItem, code)
    }

    fn inhibit(self, at: Index) -> Self {
        let code = self.snapshot.inhibits.get(at as usize).map(|inhibit| inhibit.code.as_str());
        self.code(Kind::Inhibit, code)
    }

    /// “; power console, 90 min ahead.”, as far as they are known.
    fn owner_and_lead(self, at: Index) -> Self {
        let inhibit = self.snapshot.inhibits.get(at as usize);
        let owner = inhibit.and_then(|inhibit| inhibit.owner.clone());
        let lead =
            inhibit.and_then(|inhibit| inhibit.lead).map(|lead| format!("{lead:.0} min ahead"));
        let known: Vec<String> = owner.into_iter().chain(lead).collect();
        if known.is_empty() {
            self.text(".")
        } else {
            self.text(format!("; {}.", known.join(", ")))
        }
    }

    fn field(mut self, kind: Kind, code: &str, column: &'static str, words: &'static str) -> Self {
        self.parts.push(Part::Field { kind, code: code.to_owned(), column, words });
        self
    }

    /// “… of E-31.2 is not known; enter it.”, the field as a link.
    fn lacks(
        self,
        kind: Kind,
        code: Option<&str>,
        column: &'static str,
        words: &'static str,
    ) -> Self {
        let code = code.unwrap_or("?").to_owned();
        let said = self.text("Not known: ").field(kind, &code, column, words).text(" of ");
        said.code(kind, Some(&code)).text("; enter it.")
    }

    /// The approach's name: technique and side, as far as they are chosen.
    fn approach(self, approach: &Approach) -> Self {
        let with = match &approach.technique {
            Some(technique) => self.code(Kind::Technique, Some(technique.as_str())),
            None => self.text("no technique named"),
        };
        match &approach.side {
            Some(side) => with.text(format!(" from {side}")),
            None => with,
        }
    }

    fn attempts(mut self, approach: &Approach) -> Self {
        for (at, attempt) in approach.against.iter().enumerate() {
            let joint = match at {
                0 => " ",
                _ if at + 1 == approach.against.len() => " and ",
                _ => ", ",
            };
            self = self.text(joint).code(Kind::Attempt, Some(attempt.as_str()));
        }
        self
    }
}

/// What a reason of a task's gate says.
pub fn sentence(snapshot: &Snapshot, task: TaskAt, reason: &Reason) -> Vec<Part> {
    let say = Sentence::new(snapshot);
    let approach = |at: Index| &snapshot.tasks[task].approaches[at as usize];
    let said = match *reason {
        Reason::NotChecked => say.text("Not checked yet."),
        Reason::Time(figures) => say.text(time(&figures)),
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
            say.approach(approach).text(": no failure stands against it here.")
        }
        Reason::ApproachInQuestion { approach: at } => {
            let approach = approach(at);
            let said = say.approach(approach).text(": in question");
            if approach.against.is_empty() {
                said.text(".")
            } else {
                said.text(" since").attempts(approach).text(".")
            }
        }
        Reason::ApproachShut { approach: at } => {
            let approach = approach(at);
            let said = say.approach(approach).text(": shut");
            if approach.against.is_empty() {
                said.text("; choose another approach, or have the failure answered.")
            } else {
                said.text(" after").attempts(approach).text(", not answered yet.")
            }
        }
        Reason::ApproachNotRecorded { approach: at } => {
            let approach = approach(at);
            let said = say.approach(approach).text(": a failure could have been by it; ");
            if approach.against.is_empty() {
                said.text("enter the technique and side of the attempt.")
            } else {
                said.text("enter the technique and side of").attempts(approach).text(".")
            }
        }
        Reason::ApproachWithdrawn { approach: at } => {
            let approach = approach(at);
            say.approach(approach).text(": the technique is withdrawn; choose another.")
        }
        Reason::ApproachNotNamed => {
            let task = Index::try_from(task).unwrap_or(Index::MAX);
            say.text("No technique is kept for ")
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
            .text(", which was dropped: take the link away, or open that task again."),
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
        Reason::WaitsForTrigger => say.text("Kept out until a person triggers it."),
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
            let code = snapshot.tools.get(tool as usize).map(|tool| tool.code.as_str());
            say.lacks(Kind::Tool, code, "on_board", "count on board")
        }
        Reason::ToolInOtherHands { tool, task } => {
            say.tool(tool).text(" is in other hands then: ").task(task).text(" uses it.")
        }
        Reason::ToolsInHand => say.text("Its tools are in hand."),
        Reason::ToolNotInHand { tool } => say.tool(tool).text(" is not in hand."),
        Reason::WayFromHere { minutes } => say.text(format!("{minutes} min from there.")),
        Reason::NoRemedies => say.text("It rests on no remedy."),
        Reason::RemediesVerified { count: 1 } => say.text("Its remedy is verified."),
        Reason::RemediesVerified { count } => {
            say.text(format!("Its {count} remedies are verified."))
        }
        Reason::RemedyDone { approach: at, remedy } => {
            let code = approach(at).remedies.get(remedy as usize).map(|one| one.code.as_str());
            say.code(Kind::Remedy, code).text(" is done, but nobody has verified it.")
        }
        Reason::RemedyOpen { approach: at, remedy } => {
            let code = approach(at).remedies.get(remedy as usize).map(|one| one.code.as_str());
            say.code(Kind::Remedy, code).text(" is still open.")
        }
        Reason::WayThere { minutes } => say.text(format!("{minutes} min from the airlock.")),
        Reason::WayNeedsAid { site, aid } => say
            .text("The way to ")
            .site(site)
            .text(" needs ")
            .item(aid)
            .text(", which is not in place then."),
        Reason::TakesWayFrom { aid, task, excursion } => {
            let said = say.text("Bringing in ").item(aid).text(" takes the way from ").task(task);
            said.text(", set on ").excursion(excursion).text(".")
        }
        Reason::NoReturnDate => say.text("It need not be back inside by any flight."),
        Reason::BackInTime { flight } => {
            say.text("Back inside by the last ingress of ").flight(flight).text(".")
        }
        Reason::BackTooLate { flight } => say
            .text("Must be back inside by the last ingress of ")
            .flight(flight)
            .text(": too late here."),
        Reason::NoNeededBy => say.text("No flight or date by which it is needed."),
        Reason::InTime => needed_by(say, task, "Needed by ", ""),
        Reason::Late => {
            let means = snapshot.tasks[task]
                .late_means
                .as_deref()
                .unwrap_or("what that means is not recorded");
            needed_by(say, task, "Late, needed by ", &format!(": {}", means.trim_end_matches('.')))
        }
        Reason::LateMoot => needed_by(say, task, "Needed by ", ", and moot after that"),
        Reason::NoPlace => say.text("Cannot be told before the time can be."),
        Reason::NoArmNeeded => say.text("It needs no arm."),
        Reason::AnyLight => say.text("It can be done in any light."),
        Reason::Window(figures) => say.text(window(&figures)),
        Reason::NoSuchLight => say.text("On this orbit there is none of the light that it needs."),
        Reason::NearCriticalBeta { excursion } => {
            let said = say.text("The beta angle of ").excursion(excursion);
            said.text(" is so near the critical one that the length of the night cannot be told.")
        }
        Reason::BagHolds => say.text("The bag holds what it takes out and brings in."),
        Reason::BagFull { out, needs, left } => {
            let way = if out { "out" } else { "in" };
            say.text(format!(
                "Needs {needs:.0} l of the bag on the way {way}; {left:.0} l are left."
            ))
        }
        Reason::Rehearsed(figures) => say.text(practice("rehearsed", figures)),
        Reason::Trained { crew, figures } => {
            let crew = snapshot.crews.get(crew as usize).map_or("?", String::as_str);
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
        Reason::InhibitOff { inhibit, from, until, start, end } => {
            let until =
                until.map_or_else(|| "on".to_owned(), |until| format!("to {}", clock(until)));
            let (from, start, end) = (clock(from), clock(start), clock(end));
            say.inhibit(inhibit).text(format!(
                " is in place from {from} {until}; the work is from {start} to {end}."
            ))
        }
        Reason::Supply { supply, seat, runs_out, left } => {
            say.text(supply_left(supply, seat, runs_out, left))
        }
    };
    said.parts
}

fn needed_by<'s>(say: Sentence<'s>, task: TaskAt, before: &str, after: &str) -> Sentence<'s> {
    let task = &say.snapshot.tasks[task];
    let said = say.text(before);
    let said = match task.needed_by_flight {
        Some(flight) => said.flight(Index::try_from(flight).unwrap_or(Index::MAX)),
        None => said,
    };
    let said = match (task.needed_by_day, task.needed_by_flight) {
        (Some(day), Some(_)) => said.text(format!(" and {day}")),
        (Some(day), None) => said.text(day.to_string()),
        (None, _) => said,
    };
    said.text(format!("{after}."))
}

/// How it was practised: `done` is “rehearsed” or “trained”.
fn practice(done: &str, figures: PracticeFigures) -> String {
    match figures {
        PracticeFigures::Never { demanded: false } => {
            format!("never {done}, and the technique does not demand it.")
        }
        PracticeFigures::Never { demanded: true } => {
            format!("never {done}, and the technique demands it.")
        }
        PracticeFigures::OtherSide => format!("{done} from another side alone."),
        PracticeFigures::OlderRevision => format!("{done} in an older revision alone."),
        PracticeFigures::Undated => format!("{done}, but the date is not recorded; enter it."),
        PracticeFigures::DaysBefore { days: 1 } => format!("last {done} the day before."),
        PracticeFigures::DaysBefore { days } => format!("last {done} {days} days before."),
    }
}

fn time(figures: &TimeFigures) -> String {
    let TimeFigures { needs, left, chance, past_plan, .. } = *figures;
    let seats = seats(figures.lanes);
    let left = match left {
        1.. => format!("{left} are left before the limit"),
        0 => "none are left before the limit".to_owned(),
        over => format!("it is {} past the limit already", -over),
    };
    let plan = match past_plan {
        1.. => format!(", {past_plan} min past the plan"),
        _ => String::new(),
    };
    format!("Needs {needs} min in {seats}, {left}: {} to end inside it{plan}.", per_cent(chance))
}

fn window(figures: &WindowFigures) -> String {
    let WindowFigures { start, end, closes, chance } = *figures;
    let (start, end) = (clock(start), clock(end));
    if chance > 0.0 {
        let closes = clock(closes);
        let chance = per_cent(chance);
        format!(
            "Work from {start} to {end}, the window closes at {closes}: {chance} to end inside it."
        )
    } else {
        format!("Work from {start} to {end}: no window is left that is long enough.")
    }
}

fn supply_left(supply: Supply, seat: u8, runs_out: i32, left: i32) -> String {
    let name = supply.word();
    let at = clock(runs_out);
    match left {
        0.. => format!("EV{seat}: {name} runs out first, at {at}, {left} min after the end."),
        _ => format!("EV{seat}: {name} runs out at {at}, {} min before the end.", -left),
    }
}

/// Elapsed time as h:mm.
fn clock(minutes: i32) -> String {
    Minutes(i64::from(minutes.max(0))).clock()
}

/// Whole per cent, but never 0 or 100 for what is neither impossible nor certain.
pub(super) fn per_cent(chance: f32) -> String {
    let of_hundred = f64::from(chance) * 100.0;
    if of_hundred > 0.0 && of_hundred < 1.0 {
        "under 1 %".to_owned()
    } else if of_hundred > 99.0 && of_hundred < 100.0 {
        "over 99 %".to_owned()
    } else {
        format!("{of_hundred:.0} %")
    }
}

fn seats(lanes: Lanes) -> String {
    let count = lanes.count();
    match count {
        1 => "one seat".to_owned(),
        _ => format!("{count} seats"),
    }
}

/// What has to be entered before a gate can tell.
pub fn unknown_sentence(snapshot: &Snapshot, unknown: &Unknown) -> Vec<Part> {
    let say = Sentence::new(snapshot);
    let excursion = |at: Index| snapshot.excursions.get(at as usize).map(|e| e.code.as_str());
    let task = |at: Index| snapshot.tasks.get(at as usize).map(|task| task.code.as_str());
    let site = |at: Index| snapshot.sites.get(at as usize).map(|site| site.code.as_str());
    let of = |at, column, words| say_of(snapshot, Kind::Excursion, excursion(at), column, words);
    let said = match *unknown {
        Unknown::Limit { excursion } => of(excursion, "limit", "the limit"),
        Unknown::Egress { excursion } => of(excursion, "egress", "the egress minutes"),
        Unknown::Ingress { excursion } => of(excursion, "ingress", "the ingress minutes"),
        Unknown::Airlock { excursion } => of(excursion, "airlock", "the airlock"),
        Unknown::Seats { excursion } => of(excursion, "seats", "the seats"),
        Unknown::Flight { excursion } => of(excursion, "flight", "the flight"),
        Unknown::Day { excursion } => of(excursion, "day", "the date"),
        Unknown::SlotSeats { excursion, task } => {
            let said = say.text("The slot of ").task(task).text(" on ").excursion(excursion);
            said.text(" has no seats that are outside then; choose them.")
        }
        Unknown::SlotOrder { excursion, task, needs } => {
            let said = say.text("On ").excursion(excursion).text(", ").task(task);
            said.text(" stands before ").task(needs).text(", which it needs; change their order.")
        }
        Unknown::Site { task: at } => say.lacks(Kind::Task, task(at), "worksite", "the worksite"),
        Unknown::Work { task: at } => {
            say.lacks(Kind::Task, task(at), "likely", "optimistic, likely and pessimistic minutes")
        }
        Unknown::TaskSeats { task: at } => {
            say.lacks(Kind::Task, task(at), "seats", "the seats it takes")
        }
        Unknown::WorkRate { task: at } => {
            say.lacks(Kind::Task, task(at), "work_rate", "the work rate")
        }
        Unknown::ArmWindows { excursion } => of(excursion, "arm_windows", "the arm's windows"),
        Unknown::Altitude { excursion } => of(excursion, "orbit_altitude", "the orbit's altitude"),
        Unknown::Beta { excursion } => of(excursion, "beta", "the beta angle"),
        Unknown::FirstSunrise { excursion } => of(excursion, "first_sunrise", "the first sunrise"),
        Unknown::Supply { excursion, supply } => match supply {
            Supply::Oxygen => of(excursion, "oxygen", "the oxygen of a suit"),
            Supply::Scrubber => of(excursion, "scrubber", "the scrubber of a suit"),
            Supply::Water => of(excursion, "water", "the cooling water of a suit"),
            Supply::Battery => of(excursion, "battery", "the battery of a suit"),
        },
        Unknown::Crew { excursion: at, seat } => {
            let said = say.text(format!("Nobody is named for EV{seat} of ")).excursion(at);
            let code = excursion(at).unwrap_or("?");
            said.text(" yet; enter the ")
                .field(Kind::Excursion, code, "seats", "crew codes of the seats")
                .text(".")
        }
        Unknown::Inhibits { task: at } => {
            let code = task(at).unwrap_or("?");
            say.text("The inhibits of ")
                .task(at)
                .text(" stand in words alone; enter them as ")
                .field(Kind::Task, code, "needs_inhibits", "inhibits by code")
                .text(".")
        }
        Unknown::SuitRates { seat } => {
            let said =
                say.text(format!("No rates hold for the suit of EV{seat}: enter the team's "));
            said.field(Kind::SuitRates, "", "crew", "suit rates")
                .text(", or accept published ones.")
        }
        Unknown::Bag { excursion, out: true } => of(excursion, "bag_out", "the bag volume out"),
        Unknown::Bag { excursion, out: false } => of(excursion, "bag_in", "the bag volume in"),
        Unknown::Setup { site: at } => {
            say.lacks(Kind::Worksite, site(at), "setup", "the setup minutes")
        }
        Unknown::Cleanup { site: at } => {
            say.lacks(Kind::Worksite, site(at), "cleanup", "the cleanup minutes")
        }
        Unknown::Way { from, to } => say
            .text("No way is recorded from ")
            .site(from)
            .text(" to ")
            .site(to)
            .text("; enter a route."),
        Unknown::WayWithoutAid { from, to, aid } => {
            let said = say.text("The way from ").site(from).text(" to ").site(to).text(" needs ");
            said.item(aid).text(", which is not in place then.")
        }
    };
    said.parts
}

fn say_of<'s>(
    snapshot: &'s Snapshot,
    kind: Kind,
    code: Option<&str>,
    column: &'static str,
    words: &'static str,
) -> Sentence<'s> {
    Sentence::new(snapshot).lacks(kind, code, column, words)
}

/// Hours and minutes of a margin, as in `0:26`; a minus sign where it is used up.
pub fn margin(minutes: f64) -> String {
    let whole = i64::from(super::place::whole(minutes));
    let sign = if whole < 0 { "−" } else { "" };
    format!("{sign}{}", Minutes(whole.abs()).clock())
}
