//! The brief of an excursion: the plan on its first sheet, each task with what is different this
//! time on the second.

mod card;
mod jobs;

use std::collections::HashMap;

use app::read::Connection;

use super::hands::tasks_by_code;
use super::{Bit, Line, Paper, Part, Picture, Table, bold, known, number, text};
use crate::pages::excursions::planned::{OnPaper, on_paper};
use crate::visitor::Viewer;
use app::calendar::Calendar;
use app::constraints::{self, InForce};
use app::read::{
    Found, attempts, endings, files, flights, outside, register, remedies, slots, standing,
};
use app::{Failure, Reader};
use domain::attempts::Attempt;
use domain::codes::{ExcursionCode, TaskCode, ToolCode};
use domain::constraints::ConstraintState;
use domain::endings::Deferral;
use domain::excursions::Excursion;
use domain::findings::Remedy;
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::slots::Slot;
use domain::tasks::Task;
use domain::techniques::Technique;
use domain::tools::Tool;
use domain::words::{OutsideState, SlotState};

/// Get-aheads that are named.
const AHEAD: usize = 4;
/// Photographs that stand on the second sheet.
const PICTURES: usize = 4;

/// A planned task with everything that its entry says.
struct Planned {
    slot: Slot,
    task: Task,
    technique: Option<Technique>,
    /// In the order in which they were flown.
    attempts: Vec<Attempt>,
    deferrals: Vec<Deferral>,
    remedies: Vec<Remedy>,
    brings_in: Vec<OutsideItem>,
    constraints: Vec<InForce>,
    why_open: String,
    /// Attempts at other tasks with the same approach that ended done.
    done_elsewhere: Vec<(TaskCode, ExcursionCode)>,
}

pub(super) async fn paper(db: &mut Reader, viewer: &Viewer, code: &str) -> Result<Paper, Failure> {
    let missing = || Failure::NotFound(Kind::Excursion, code.to_owned());
    let excursion = Excursion::find(db, code).await?.ok_or_else(missing)?;
    let today = viewer.now().day();
    let here: Vec<Slot> = slots::of_excursion(db, &excursion.code.0)
        .await?
        .into_iter()
        .filter(|slot| matches!(slot.state, SlotState::Set | SlotState::Pencilled))
        .collect();
    let codes: Vec<TaskCode> = here.iter().map(|slot| slot.task.clone()).collect();
    let tasks = tasks_by_code(db, &codes).await?;
    let timed = on_paper(db, viewer, excursion.clone()).await?;
    let mut planned = Vec::new();
    let codes: Vec<TaskCode> = here.iter().map(|slot| slot.task.clone()).collect();
    let in_force = constraints::read_all(db, today).await?;
    let all = constraints::for_tasks(db, &codes, today).await?;
    for slot in here {
        if let Some(task) = tasks.get(&slot.task) {
            let mut own = all.clone();
            own.retain(|one| one.constraint.task.as_ref() == Some(&slot.task));
            planned.push(load(db, &in_force.calendar, slot, task.clone(), own).await?);
        }
    }
    let place =
        |slot: &Slot| timed.slots.iter().position(|timed| timed.code == slot.code.0.as_str());
    planned.sort_by_key(|one| place(&one.slot).unwrap_or(usize::MAX));
    let names = tool_names(db, &excursion, &planned).await?;
    let version = register::find(db, Kind::Excursion, code).await?.map_or(0, |row| row.version);

    let mut parts = first_sheet(&excursion, &timed, &planned, &in_force.all, &names);
    parts.push(Part::Heading("Tasks in order".to_owned()));
    for one in &planned {
        let timed = timed.slots.iter().find(|timed| timed.code == one.slot.code.0.as_str());
        parts.push(Part::Job(Box::new(jobs::job(one, timed, &names, &in_force.calendar))));
    }
    let mut pictures = pictures(db, &planned).await?;
    let picked = pictures.len();
    pictures.truncate(PICTURES);
    if !pictures.is_empty() {
        parts.push(Part::Pictures(pictures));
    }
    if picked > PICTURES {
        let words = format!("{PICTURES} of {picked} photographs picked for print.");
        parts.push(Part::Words(text(&words)));
    }
    parts.push(Part::Sign(vec!["lead", "engineer", "crew"]));
    parts.extend(card::parts(db, viewer, code).await?);
    let flight = excursion.flight.clone();
    let launch = match &flight {
        Some(flight) => flights::in_order(db)
            .await?
            .into_iter()
            .find(|row| row.code == *flight)
            .and_then(|row| row.launch),
        None => None,
    };
    let day = excursion
        .day
        .map_or_else(|| "date unknown".to_owned(), |day| format!("{day} ({})", day.of_year()));
    let flight = flight.map_or_else(
        || "flight unknown".to_owned(),
        |flight| match launch {
            Some(launch) => format!("flight {flight}, launch {launch}"),
            None => format!("flight {flight}"),
        },
    );
    Ok(Paper {
        heading: format!("Brief for {code}"),
        above: format!("{flight} · excursion on {day} · version {version}"),
        file: format!("brief-{code}"),
        back: (crate::addresses::within("excursions", code), code.to_owned()),
        parts,
        ..Paper::default()
    })
}

async fn load(
    db: &mut Connection,
    calendar: &Calendar,
    slot: Slot,
    task: Task,
    constraints: Vec<constraints::InForce>,
) -> Result<Planned, Failure> {
    let own = task.code.0.clone();
    let technique = match &slot.technique {
        Some(technique) => Technique::find(db, technique.as_str()).await?,
        None => None,
    };
    let mut done_elsewhere = Vec::new();
    if let Some(technique) = &slot.technique {
        done_elsewhere = attempts::done_by(db, technique, slot.side.as_ref()).await?;
        done_elsewhere.retain(|(task, _)| *task != own);
    }
    let mut attempts = attempts::of_task(db, &own).await?;
    attempts.sort_by_key(|attempt| (calendar.place(&attempt.excursion), attempt.pet_start));
    Ok(Planned {
        attempts,
        deferrals: endings::deferrals_of_task(db, &own).await?,
        remedies: remedies::of_task(db, &own).await?,
        brings_in: outside::brought_back_by(db, &own).await?,
        constraints,
        why_open: standing::find(db, &own).await?.map_or_else(String::new, |row| row.why_words),
        done_elsewhere,
        technique,
        slot,
        task,
    })
}

/// The names of the tools that are taken, of the excursion and of its techniques.
async fn tool_names(
    db: &mut Connection,
    excursion: &Excursion,
    planned: &[Planned],
) -> Result<HashMap<ToolCode, String>, Failure> {
    let mut names = HashMap::new();
    let of_techniques = planned.iter().filter_map(|one| one.technique.as_ref());
    let codes = of_techniques.flat_map(|technique| technique.tools.iter());
    for code in codes.chain(excursion.tools.iter()) {
        if !names.contains_key(code) {
            let tool = Tool::find(db, code.as_str()).await?;
            names.insert(code.clone(), tool.map_or_else(String::new, |tool| tool.name.to_string()));
        }
    }
    Ok(names)
}

fn first_sheet(
    excursion: &Excursion,
    timed: &OnPaper,
    planned: &[Planned],
    constraints: &[InForce],
    names: &HashMap<ToolCode, String>,
) -> Vec<Part> {
    let mut parts = vec![Part::Words(text(&timed.lead))];
    if !timed.ends.is_empty() {
        let ends: Vec<String> =
            timed.ends.iter().map(|(label, words)| format!("{label}: {words}")).collect();
        parts.push(Part::Words(text(&format!("{}.", ends.join(" · ")))));
    }
    for unknown in &timed.unknown {
        parts.push(Part::Words(text(unknown)));
    }
    parts.push(Part::Table(plan_table(timed, planned)));
    let mut right = Vec::new();
    right.push(Part::Heading("Before egress".to_owned()));
    let mut inhibits =
        Table::of(&[("Inhibit", 38), ("For", 26), ("State, PET", 36)]).or("No inhibit is needed.");
    for one in &timed.inhibits {
        let mut what = vec![Bit::Code(one.code.clone()), Bit::Text(format!(" {}", one.what))];
        what.push(Bit::Text(format!(" ({})", one.owner)));
        let mut state = vec![Bit::Bold(one.state.to_owned())];
        match &one.pets {
            Some(pets) => state.push(Bit::Text(format!(", {pets}"))),
            None => state.extend([Bit::Text(" ".to_owned()), Bit::Blank]),
        }
        inhibits.rows.push(vec![what, text(&one.needed_by.join(", ")), state]);
    }
    right.push(Part::Table(inhibits));
    right.push(Part::Heading("What the vehicle may not do".to_owned()));
    let mut rows = Table::of(&[("Forbidden", 54), ("Safe until, ended by", 46)])
        .or("No constraint is in force.");
    for one in constraints.iter().filter(|one| one.state.holds()) {
        let here = planned.iter().any(|p| one.constraint.task.as_ref() == Some(&p.slot.task));
        let mut what = vec![Bit::Bold(one.constraint.forbidden.to_string())];
        what.push(Bit::Text(" ".to_owned()));
        what.push(Bit::Code(one.constraint.code.0.to_string()));
        let mut until = Line::new();
        if one.state == ConstraintState::PastDate {
            until.push(Bit::Warn("past its date ".to_owned()));
        }
        until.extend(text(&crate::pages::constraints::safe_until(one)));
        if here && let Some(task) = &one.constraint.task {
            until.push(Bit::Text("; ends here: ".to_owned()));
            until.push(Bit::Code(task.to_string()));
            if one.is_pencilled_only() {
                until.push(Bit::Text(", ".to_owned()));
                until.push(Bit::Warn("pencilled only".to_owned()));
            }
        }
        rows.rows.push(vec![what, until]);
    }
    right.push(Part::Table(rows));
    right.push(Part::Heading("Outside".to_owned()));
    right.push(Part::Words(outside_words(planned)));
    for lost in &timed.lost_paths {
        let words: String = lost.iter().map(crate::linked::Piece::words).collect();
        right.push(Part::Words(vec![Bit::Warn(words)]));
    }
    right.push(Part::Heading("Tools to take".to_owned()));
    right.push(Part::Words(tools(excursion, planned, names)));
    let mut ahead = Table::of(&[("Get-ahead", 54), ("Seat, PET", 33), ("Adds", 13)])
        .or("None of the open tasks that rank first fits beside what is planned.");
    for offer in timed.offers.iter().take(AHEAD) {
        ahead.rows.push(vec![
            vec![Bit::Code(offer.task.clone()), Bit::Text(format!(" {}", offer.title))],
            text(&format!("{}, {}", offer.seat_words, offer.pet)),
            text(&offer.added),
        ]);
    }
    // Under the lanes there is room, and the sheet ends no later for it.
    let is_known = timed.lanes.is_some() || !ahead.rows.is_empty();
    let ahead = if is_known { Part::Table(ahead) } else { Part::Words(known(None)) };
    let ahead = [Part::Heading("If ahead".to_owned()), ahead];
    if let Some(lanes) = &timed.lanes {
        let left = std::iter::once(Part::Drawing(lanes.clone())).chain(ahead).collect();
        parts.push(Part::Pair(left, right));
    } else {
        parts.extend(right);
        parts.extend(ahead);
    }
    parts
}

fn plan_table(timed: &OnPaper, planned: &[Planned]) -> Table {
    let heads = [
        ("No.", 4),
        ("Task", 34),
        ("Seats", 8),
        ("PET", 11),
        ("Travel", 7),
        ("Work", 6),
        ("Start by", 8),
        ("Reached", 22),
    ];
    let mut table = Table::of(&heads).figures(&[4, 5, 6]).or("No task is planned.");
    for one in planned {
        let Some(at) = timed.slots.iter().find(|t| t.code == one.slot.code.0.as_str()) else {
            continue;
        };
        let mut title =
            vec![Bit::Code(one.slot.task.to_string()), Bit::Text(format!(" {}", one.task.title))];
        if one.slot.must_do {
            title.extend([Bit::Text(" ".to_owned()), Bit::Box("must do".to_owned())]);
        }
        if one.slot.state == SlotState::Pencilled {
            title.push(Bit::Text(" (pencilled)".to_owned()));
        }
        let mut reached = text(&at.reached);
        if let Some(verdict) = at.verdict {
            reached.push(Bit::Text(format!(" {}", verdict.word())));
        }
        table.rows.push(vec![
            bold(&at.number.to_string()),
            title,
            text(&one.slot.seats.names()),
            text(&at.pet),
            text(&at.travel),
            text(&at.work),
            bold(&at.latest),
            reached,
        ]);
    }
    table
}

fn outside_words(planned: &[Planned]) -> Line {
    let mut line = vec![Bit::Text("Bring in: ".to_owned())];
    let items: Vec<(&Planned, &OutsideItem)> = planned
        .iter()
        .flat_map(|one| one.brings_in.iter().map(move |item| (one, item)))
        .filter(|(_, item)| item.state == OutsideState::InPlace)
        .collect();
    if items.is_empty() {
        line.push(Bit::Text("none.".to_owned()));
    }
    for (at, (one, item)) in items.iter().enumerate() {
        if at > 0 {
            line.push(Bit::Text("; ".to_owned()));
        }
        line.push(Bit::Code(item.code.0.to_string()));
        line.push(Bit::Text(format!(" {} with ", item.what)));
        line.push(Bit::Code(one.slot.task.to_string()));
    }
    line
}

fn tools(excursion: &Excursion, planned: &[Planned], names: &HashMap<ToolCode, String>) -> Line {
    let mut all: Vec<&ToolCode> = excursion.tools.iter().collect();
    for technique in planned.iter().filter_map(|one| one.technique.as_ref()) {
        all.extend(technique.tools.iter());
    }
    all.sort_unstable();
    all.dedup();
    if all.is_empty() {
        return known(None);
    }
    let mut line = vec![Bit::Text(format!("{}: ", number(all.len(), "tool", "tools")))];
    for (at, code) in all.into_iter().enumerate() {
        if at > 0 {
            line.push(Bit::Text(", ".to_owned()));
        }
        line.push(Bit::Code(code.to_string()));
        let name = names.get(code).map_or("", String::as_str);
        line.push(Bit::Text(format!(" {name}")));
    }
    line
}

/// The pictures of these tasks that were picked for print.
async fn pictures(db: &mut Connection, planned: &[Planned]) -> Result<Vec<Picture>, Failure> {
    const WIDE: i64 = 150;
    let mut all = Vec::new();
    for one in planned {
        for file in files::of_task(db, &one.task.code.0).await? {
            if !file.on_paper || !file.media.is_picture() {
                continue;
            }
            let (width, height) = (file.width.unwrap_or(4).max(1), file.height.unwrap_or(3));
            let caption = file.caption.as_ref().map_or("", |caption| caption.as_str());
            all.push(Picture {
                file: file.code.0.to_string(),
                caption: format!("{}: {caption}", one.task.code.0),
                hash: file.preview.as_ref().unwrap_or(&file.hash).to_string(),
                mime: file.media.mime(),
                width: WIDE,
                height: WIDE * height / width,
            });
        }
    }
    Ok(all)
}
