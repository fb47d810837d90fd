//! Tools: how many are aboard and where the rest is, what brings more, and who needs them.

use std::collections::HashMap;

use askama::Template;
use axum::extract::State;

use super::{EntryHead, ListHead, ShelfQuery, TaskLine, open_pager};
use crate::extract::Path;
use crate::failure::PageError;
use crate::forms::Pager;
use crate::frame::{Nav, PageFrame, Shelf};
use crate::linked::{Piece, linked};
use crate::page::Page;
use crate::pages::records::history::{self, ChangeRow};
use crate::visitor::Viewer;
use app::tools::{ToolDemand, ToolInHand};
use app::{App, library, outside, tools};
use domain::codes::ToolCode;
use domain::excursions::ExcursionTool;
use domain::kinds::Kind;
use domain::outside::FlightAhead;
use domain::time::Day;
use domain::tools::{Balance, Ledger, OutsideTool, Tool, balance};
use domain::units::Pet;
use domain::words::{OutsideState, SlotState, TechniqueState, ToolState};

#[derive(Template)]
#[template(path = "library/tools.html")]
pub(crate) struct ToolsPage {
    page: PageFrame,
    head: ListHead,
    /// The flights that have a column.
    flights: Vec<String>,
    rows: Vec<ToolRow>,
}

struct ToolRow {
    code: String,
    name: String,
    state: ToolState,
    /// Usable now, then after each flight.
    aboard: Vec<String>,
    outside: usize,
    arrives: Option<String>,
    needed: i64,
    /// Coming excursions that are short of it, in words.
    short: Vec<Vec<Piece>>,
}

/// The flights ahead that the list has a column for.
fn columns(flights: &[FlightAhead]) -> impl Iterator<Item = (&FlightAhead, Day)> {
    let dated = |ahead: &'_ FlightAhead| ahead.landing.or(ahead.launch);
    flights.iter().filter_map(move |ahead| Some((ahead, dated(ahead)?))).take(3)
}

pub(crate) async fn list(
    State(app): State<App>,
    viewer: Viewer,
) -> Result<Page<ToolsPage>, PageError> {
    let asked = ShelfQuery::read(viewer.address());
    let today = viewer.now().day();
    let mut db = app.reader().await?;
    let shelf = library::tools(&mut db, &asked.typed, asked.page).await?;
    let kit: Vec<Tool> = shelf.entries.iter().map(|(tool, _)| tool.clone()).collect();
    let ledgers = tools::ledgers(&mut db, &kit).await?;
    let demands = tools::demands(&mut db).await?;
    let flights = outside::ahead(&mut db).await?;
    let empty = "No tool is recorded yet. Add those aboard and those that a flight brings; a technique \
                 names its tools, and a slot asks whether they are there.";
    let head = ListHead::new(Kind::Tool, "Tools", empty, &viewer, &asked, &shelf);
    let row = |(tool, needed): &(Tool, i64)| {
        let ledger = of(&ledgers, &tool.code.0);
        let wanted = tools::wanted(&tool.code.0, &ledger, &demands, today);
        let days = std::iter::once(today).chain(columns(&flights).map(|(_, day)| day));
        ToolRow {
            code: tool.code.0.to_string(),
            name: tool.name.as_str().to_owned(),
            state: tool.state,
            aboard: days.map(|day| usable(&ledger, day.max(today))).collect(),
            outside: in_place(&ledger).count(),
            arrives: tool.arrives_with.as_ref().map(ToString::to_string),
            needed: *needed,
            short: wanted.iter().filter(|wanted| wanted.short > 0).map(short).collect(),
        }
    };
    let rows = shelf.entries.iter().map(row).collect();
    Ok(Page(ToolsPage {
        page: viewer.frame("Tools", Nav::Library(Shelf::Tools)),
        flights: columns(&flights).map(|(ahead, _)| ahead.flight.to_string()).collect(),
        rows,
        head,
    }))
}

fn of(ledgers: &HashMap<ToolCode, Ledger>, tool: &ToolCode) -> Ledger {
    ledgers.get(tool).cloned().unwrap_or_default()
}

fn usable(ledger: &Ledger, on: Day) -> String {
    balance(ledger, on).map_or_else(|| "?".to_owned(), |told| told.usable().to_string())
}

fn in_place(ledger: &Ledger) -> impl Iterator<Item = &OutsideTool> {
    ledger.items.iter().filter(|item| item.state == OutsideState::InPlace)
}

fn short(wanted: &ToolDemand) -> Vec<Piece> {
    linked(&format!("{} short on {}", wanted.short, wanted.excursion))
}

#[derive(Template)]
#[template(path = "library/tool.html")]
pub(crate) struct ToolPage {
    page: PageFrame,
    head: EntryHead,
    tool: Tool,
    lead: Vec<Piece>,
    /// Counts that contradict each other or are not whole.
    doubts: Vec<Vec<Piece>>,
    balances: Vec<BalanceRow>,
    outside: Vec<OutsideRow>,
    hands: Vec<HandRow>,
    lost: Vec<LostRow>,
    wanted: Vec<WantedRow>,
    techniques: Vec<TechniqueLine>,
    tasks: Vec<TaskLine>,
    pager: Pager,
    outings: Vec<Outing>,
    changes: Vec<ChangeRow>,
}

/// The sum at one moment.
struct BalanceRow {
    when: Vec<Piece>,
    day: Day,
    told: Option<Balance>,
}

struct OutsideRow {
    item: String,
    worksite: Option<String>,
    since: Option<Day>,
    comes_in: Option<Day>,
}

struct HandRow {
    excursion: String,
    slot: String,
    task: String,
    state: SlotState,
    seats: String,
    when: String,
}

/// Lost or broken: how many, when, where.
struct LostRow {
    count: i64,
    what: &'static str,
    excursion: String,
    day: Option<Day>,
}

struct WantedRow {
    excursion: String,
    day: Option<Day>,
    at_once: i64,
    usable: String,
    is_short: bool,
    /// What is the matter, in sentences.
    words: Vec<Vec<Piece>>,
}

struct TechniqueLine {
    code: String,
    name: String,
    state: TechniqueState,
}

struct Outing {
    excursion: String,
    out: i64,
    back: String,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<ToolPage>, PageError> {
    let today = viewer.now().day();
    let mut db = app.reader().await?;
    let read = library::tool(&mut db, &code, ShelfQuery::read(viewer.address()).page).await?;
    let changes = history::of_record(&mut db, Kind::Tool, &code).await?;
    let tool = read.tool;
    let ledger = of(&tools::ledgers(&mut db, std::slice::from_ref(&tool)).await?, &tool.code.0);
    let demands = tools::demands(&mut db).await?;
    let flights = outside::ahead(&mut db).await?;
    let wanted = tools::wanted(&tool.code.0, &ledger, &demands, today);
    let head = EntryHead::new(Kind::Tool, tool.code.0.as_str(), Some(tool.name.as_str()), &viewer);
    let techniques = read
        .techniques
        .iter()
        .map(|technique| TechniqueLine {
            code: technique.code.0.to_string(),
            name: technique.name.as_str().to_owned(),
            state: technique.state,
        })
        .collect();
    Ok(Page(ToolPage {
        page: viewer.frame(head.title(), Nav::Library(Shelf::Tools)),
        lead: linked(&lead(&tool, &ledger, &wanted, today)),
        doubts: doubts(&ledger, today),
        balances: balances(&ledger, &flights, today),
        outside: in_place(&ledger).map(outside_row).collect(),
        hands: wanted.iter().flat_map(hands).collect(),
        lost: lost(&ledger),
        wanted: wanted.iter().map(wanted_row).collect(),
        techniques,
        tasks: read.open.entries.iter().map(TaskLine::from).collect(),
        pager: open_pager(&viewer, &code, Kind::Tool, read.open.total),
        outings: read.outings.iter().map(outing).collect(),
        tool,
        head,
        changes,
    }))
}

/// How many there are and who misses one, in a breath.
fn lead(tool: &Tool, ledger: &Ledger, wanted: &[ToolDemand], today: Day) -> String {
    let now = match balance(ledger, today) {
        None => "The count aboard is unknown: nobody counted them.".to_owned(),
        Some(told) if told.unusable => {
            format!(
                "{} aboard, and the entry says {}: none can be used.",
                told.aboard(),
                tool.state
            )
        }
        Some(told) => format!("{} aboard and usable.", told.usable()),
    };
    let outside = match in_place(ledger).count() {
        0 => String::new(),
        1 => " One is outside.".to_owned(),
        count => format!(" {count} are outside."),
    };
    let short: Vec<String> = wanted
        .iter()
        .filter(|wanted| wanted.short > 0)
        .map(|wanted| format!("{} by {}", wanted.excursion, wanted.short))
        .collect();
    let short = if short.is_empty() {
        " No coming excursion is short of it.".to_owned()
    } else {
        format!(" Short of it: {}.", short.join(", "))
    };
    format!("{now}{outside}{short}")
}

/// What keeps the sum from being trusted.
fn doubts(ledger: &Ledger, today: Day) -> Vec<Vec<Piece>> {
    let mut doubts = Vec::new();
    if balance(ledger, today).is_some_and(|told| told.aboard() < 0) {
        doubts.push(
            "More were lost, broken or left outside than were counted: count them again and type \
             the day of the count."
                .to_owned(),
        );
    }
    for (excursion, count) in ledger.unlisted() {
        doubts.push(format!(
            "{count} left outside on {excursion} by its count, and no item of the outside list is \
             that: put it there, with its worksite."
        ));
    }
    let uncounted: Vec<String> =
        ledger.uncounted(today).into_iter().map(ToString::to_string).collect();
    if !uncounted.is_empty() {
        doubts.push(format!(
            "Nobody counted what came back from {}; there may be fewer.",
            uncounted.join(", ")
        ));
    }
    doubts.iter().map(|words| linked(words)).collect()
}

fn balances(ledger: &Ledger, flights: &[FlightAhead], today: Day) -> Vec<BalanceRow> {
    let at = |when: String, day: Day| BalanceRow {
        when: linked(&when),
        day,
        told: balance(ledger, day.max(today)),
    };
    let after = columns(flights).map(|(ahead, day)| at(format!("After {}", ahead.flight), day));
    std::iter::once(at("Now".to_owned(), today)).chain(after).collect()
}

fn outside_row(item: &OutsideTool) -> OutsideRow {
    OutsideRow {
        item: item.item.to_string(),
        worksite: item.worksite.as_ref().map(ToString::to_string),
        since: item.since,
        comes_in: item.comes_in,
    }
}

fn hands(wanted: &ToolDemand) -> Vec<HandRow> {
    let row = |taken: &ToolInHand| HandRow {
        excursion: wanted.excursion.to_string(),
        slot: taken.hand.slot.to_string(),
        task: taken.hand.task.to_string(),
        state: taken.state,
        seats: taken.seats.clone(),
        when: taken.hand.span.map_or_else(
            || "cannot tell".to_owned(),
            |(start, end)| format!("{} to {}", pet(start), pet(end)),
        ),
    };
    wanted.taken.iter().map(row).collect()
}

fn pet(minutes: f64) -> Pet {
    compute::fit::pet(minutes)
}

fn lost(ledger: &Ledger) -> Vec<LostRow> {
    let mut rows: Vec<LostRow> = Vec::new();
    for outing in &ledger.outings {
        for (count, what) in [(outing.lost, "lost"), (outing.broken, "came in broken")] {
            if count > 0 {
                let excursion = outing.excursion.to_string();
                rows.push(LostRow { count, what, excursion, day: outing.day });
            }
        }
    }
    rows.sort_by_key(|row| std::cmp::Reverse(row.day));
    rows
}

fn wanted_row(wanted: &ToolDemand) -> WantedRow {
    let mut words = Vec::new();
    if wanted.short > 0 {
        words.push(format!("{} short.", wanted.short));
    }
    for (one, other) in &wanted.clashes {
        words.push(format!("{one} and {other} need the last one at the same time."));
    }
    if wanted.left_behind {
        words.push("It is not among the tools to take.".to_owned());
    }
    if wanted.taken.is_empty() && wanted.to_take {
        words.push("Taken along; no slot there names it.".to_owned());
    }
    WantedRow {
        excursion: wanted.excursion.to_string(),
        day: wanted.day,
        at_once: wanted.at_once,
        usable: wanted.usable.map_or_else(|| "?".to_owned(), |usable| usable.to_string()),
        is_short: wanted.short > 0,
        words: words.iter().map(|words| linked(words)).collect(),
    }
}

fn outing(row: &ExcursionTool) -> Outing {
    let parts = [
        (row.brought_in, "back in"),
        (row.broken, "of these broken"),
        (row.left_outside, "left outside"),
        (row.lost, "lost"),
    ];
    let told: Vec<String> = parts
        .into_iter()
        .filter_map(|(count, word)| count.filter(|n| *n > 0).map(|n| format!("{n} {word}")))
        .collect();
    let back = match &row.not_counted {
        Some(why) => format!("not counted: {why}"),
        None if told.is_empty() => "not counted yet".to_owned(),
        None => told.join(", "),
    };
    Outing { excursion: row.excursion.to_string(), out: row.taken_out, back }
}
