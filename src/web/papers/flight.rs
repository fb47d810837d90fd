//! What is requested for a flight, counted back from its launch.

use app::read::Connection;

use super::hands::{tasks_by_code, titled};
use super::manifest;
use super::{Bit, Line, Paper, Part, Table, blank, bold, known, number, text, warn};
use crate::visitor::Viewer;
use app::read::{Found, excursions, slots, techniques};
use app::{Failure, inhibits};
use domain::codes::TaskCode;
use domain::excursions::Excursion;
use domain::flights::Flight;
use domain::kinds::Kind;
use domain::slots::Slot;
use domain::time::Day;
use domain::words::{ExcursionState, SlotState};

/// Inhibits and arm windows are agreed so many days before launch.
// common practice: two weeks, when the timeline of the flight is frozen.
pub(crate) const ARRANGED_BEFORE: i64 = 14;

/// A flight with its planned excursions and their slots.
pub(super) struct Ahead {
    pub flight: Flight,
    pub excursions: Vec<(Excursion, Vec<Slot>)>,
}

pub(super) async fn ahead(db: &mut Connection, code: &str) -> Result<Ahead, Failure> {
    let missing = || Failure::NotFound(Kind::Flight, code.to_owned());
    let flight = Flight::find(db, code).await?.ok_or_else(missing)?;
    let mut all = Vec::new();
    for excursion in excursions::of_flight(db, &flight.code.0).await? {
        if excursion.state != Some(ExcursionState::Planned) {
            continue;
        }
        let mut here = slots::of_excursion(db, &excursion.code.0).await?;
        here.retain(|slot| matches!(slot.state, SlotState::Set | SlotState::Pencilled));
        all.push((excursion, here));
    }
    Ok(Ahead { flight, excursions: all })
}

impl Ahead {
    pub fn tasks(&self) -> Vec<TaskCode> {
        self.slots().map(|slot| slot.task.clone()).collect()
    }

    fn slots(&self) -> impl Iterator<Item = &Slot> {
        self.excursions.iter().flat_map(|(_, slots)| slots)
    }

    pub fn above(&self, today: Day) -> String {
        let launch = self.flight.launch.map_or_else(
            || "launch unknown".to_owned(),
            |day| match day.since(today) {
                0 => format!("launch {day} ({}), today", day.of_year()),
                1 => format!("launch {day} ({}), tomorrow", day.of_year()),
                left if left < 0 => format!("launch {day} ({}), past", day.of_year()),
                left => format!("launch {day} ({}), in {left} days", day.of_year()),
            },
        );
        format!("flight {}, {launch}", self.flight.code.0)
    }

    /// The day so many days before the launch, and how many days are left until then.
    fn before_launch(&self, today: Day, days: i64) -> Line {
        match self.flight.launch {
            Some(launch) => {
                let by = launch.plus(-days);
                let at = format!("{by} (L−{days}, ");
                match by.since(today) {
                    left if left < 0 => {
                        let late = number(usize::try_from(-left).unwrap_or(0), "day", "days");
                        warn(&format!("overdue: {at}{late} ago)"))
                    }
                    0 => text(&format!("{at}today)")),
                    1 => text(&format!("{at}1 day from now)")),
                    left => text(&format!("{at}{left} days from now)")),
                }
            }
            None => blank(),
        }
    }
}

/// Training, manifest, inhibits and arm windows, counted back from the launch.
pub(super) async fn requests(
    db: &mut Connection,
    viewer: &Viewer,
    code: &str,
) -> Result<Paper, Failure> {
    let today = viewer.now().day();
    let ahead = ahead(db, code).await?;
    let tasks = tasks_by_code(db, &ahead.tasks()).await?;
    let mut parts = vec![Part::Words(text(&format!(
        "{} with {} set or pencilled.",
        number(ahead.excursions.len(), "planned excursion", "planned excursions"),
        number(ahead.slots().count(), "task", "tasks")
    )))];
    parts.push(Part::Heading("Training runs".to_owned()));
    parts.push(Part::Table(training(db, &ahead, today).await?));
    parts.extend(manifest::both_ways(db, &ahead).await?);
    parts.push(Part::Heading("Bag volume of the airlock, out and in".to_owned()));
    let heads =
        [("Excursion", 16), ("Task", 44), ("Out, l", 14), ("In, l", 14), ("Bag out, in", 12)];
    let mut table = Table::of(&heads).figures(&[2, 3]).or("No task says what it takes out or in.");
    for (excursion, here) in &ahead.excursions {
        for slot in here {
            let Some(task) = tasks.get(&slot.task) else { continue };
            if task.takes_out.is_none() && task.brings_in.is_none() {
                continue;
            }
            let litres = |l: Option<domain::units::Litres>| {
                l.map_or_else(|| text("–"), |l| text(&format!("{}", l.0)))
            };
            let bag = |l: Option<domain::units::Litres>| {
                l.map_or_else(|| "unknown".to_owned(), |l| l.0.to_string())
            };
            table.rows.push(vec![
                text(excursion.code.0.as_str()),
                titled(&slot.task, &tasks),
                litres(task.takes_out),
                litres(task.brings_in),
                text(&format!("{}, {}", bag(excursion.bag_out), bag(excursion.bag_in))),
            ]);
        }
    }
    parts.push(Part::Table(table));
    parts.push(Part::Heading("Inhibits, by owner".to_owned()));
    let heads = [
        ("Owner", 14),
        ("Inhibit", 26),
        ("Excursion", 10),
        ("For", 15),
        ("Lead, min", 6),
        ("State", 10),
        ("Agreed by", 19),
    ];
    let mut table = Table::of(&heads).figures(&[4]).or("No inhibit is needed.");
    for (excursion, here) in &ahead.excursions {
        let slotted: Vec<TaskCode> = here.iter().map(|slot| slot.task.clone()).collect();
        for one in inhibits::on_excursion(db, &excursion.code.0, &slotted).await? {
            let needed: Vec<&str> = one.needed_by.iter().map(TaskCode::as_str).collect();
            let mut what = vec![Bit::Code(one.inhibit.code.0.to_string())];
            what.push(Bit::Text(format!(" {}", one.inhibit.what)));
            table.rows.push(vec![
                known(one.inhibit.owner.as_ref().map(domain::cells::Line::as_str)),
                what,
                text(excursion.code.0.as_str()),
                text(&needed.join(", ")),
                one.inhibit.lead.map_or_else(blank, |lead| text(&lead.0.to_string())),
                text(one.arrangement.as_ref().map_or("not asked", |there| there.state.word())),
                ahead.before_launch(today, ARRANGED_BEFORE),
            ]);
        }
    }
    table.rows.sort_by_key(|row| super::plain::said(&row[0]));
    parts.push(Part::Table(table));
    parts.push(Part::Heading("Arm windows".to_owned()));
    let heads = [
        ("Excursion", 16),
        ("Tasks that need the arm", 36),
        ("Windows, PET", 29),
        ("Agreed by", 19),
    ];
    let mut table = Table::of(&heads).or("No planned task needs the arm.");
    for (excursion, here) in &ahead.excursions {
        let needing: Vec<&str> = here
            .iter()
            .filter(|slot| tasks.get(&slot.task).is_some_and(|task| task.arm))
            .map(|slot| slot.task.as_str())
            .collect();
        if !needing.is_empty() {
            let windows = domain::cells::Cell::show(&excursion.arm_windows);
            table.rows.push(vec![
                text(excursion.code.0.as_str()),
                text(&needing.join(", ")),
                known(Some(&windows)),
                ahead.before_launch(today, ARRANGED_BEFORE),
            ]);
        }
    }
    parts.push(Part::Table(table));
    Ok(Paper {
        heading: format!("Requests for {code}"),
        above: ahead.above(today),
        file: format!("requests-{code}"),
        back: (crate::addresses::within("flights", code), code.to_owned()),
        parts,
        ..Paper::default()
    })
}

/// Who is to be trained in what, by when.
async fn training(db: &mut Connection, ahead: &Ahead, today: Day) -> Result<Table, Failure> {
    /// A training run ends so many days before launch.
    // common practice: the last runs of a flight end about a month before it.
    const BEFORE: i64 = 30;
    let named: Vec<_> = ahead.slots().filter_map(|slot| slot.technique.clone()).collect();
    let trained = techniques::qualifications_for_these(db, &named).await?;
    let heads =
        [("Technique, side", 25), ("Crew", 8), ("For", 19), ("Trained", 12), ("Run by", 36)];
    let mut table = Table::of(&heads).or("No technique is planned.");
    for (excursion, here) in &ahead.excursions {
        for slot in here {
            let Some(technique) = &slot.technique else { continue };
            for seat in slot.seats.numbers() {
                let crew = excursion
                    .seats
                    .numbers()
                    .zip(&excursion.seats.0)
                    .find(|(number, _)| *number == seat)
                    .and_then(|(_, seat)| seat.crew.clone());
                let last = crew.as_ref().and_then(|crew| {
                    trained
                        .iter()
                        .filter(|one| {
                            one.technique == *technique && one.crew.as_str() == crew.as_str()
                        })
                        .filter(|one| one.side.is_none() || one.side == slot.side)
                        .filter_map(|one| one.day)
                        .max()
                });
                let side = slot.side.as_ref().map_or_else(String::new, |side| format!(", {side}"));
                let mut what = vec![Bit::Code(technique.to_string())];
                what.push(Bit::Text(side));
                table.rows.push(vec![
                    what,
                    crew.as_ref().map_or_else(
                        || {
                            let mut line = text(&format!("EV{seat} "));
                            line.push(Bit::Blank);
                            line
                        },
                        |crew| text(crew),
                    ),
                    text(&format!("{} on {}", slot.task, excursion.code.0)),
                    last.map_or_else(|| bold("never"), |day| text(&day.to_string())),
                    ahead.before_launch(today, BEFORE),
                ]);
            }
        }
    }
    table.rows.dedup();
    Ok(table)
}
