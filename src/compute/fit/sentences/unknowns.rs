//! What a gate lacks, and where it is entered.

use super::building::{Part, Sentence};
use crate::fit::reasons::Unknown;
use crate::fit::snapshot::Snapshot;
use crate::places::{ExcursionAt, SiteAt, TaskAt};
use crate::supplies::Supply;
use domain::kinds::Kind;

/// What has to be entered before a gate can tell.
pub fn unknown_sentence(snapshot: &Snapshot, unknown: &Unknown) -> Vec<Part> {
    let say = Sentence::new(snapshot);
    let excursion = |at: ExcursionAt| snapshot.excursions.get(at).map(|e| e.code.as_str());
    let task = |at: TaskAt| snapshot.tasks.get(at).map(|task| task.code.as_str());
    let site = |at: SiteAt| snapshot.sites.get(at).map(|site| site.code.as_str());
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
        Unknown::SupplyReserve { minutes } => say
            .text(format!(
                "The reserve of {minutes} min of every suit supply is a default without a source: "
            ))
            .field(Kind::Settings, "", "supply_reserve", "accept it or enter the team's own")
            .text("."),
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
            .text("No route is recorded from ")
            .site(from)
            .text(" to ")
            .site(to)
            .text("; enter a route."),
        Unknown::WayWithoutAid { from, to, aid } => {
            let said = say.text("The route from ").site(from).text(" to ").site(to).text(" needs ");
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
