//! The late card: a table on one sheet of paper, worked out before the flight.

use askama::Template;
use axum::extract::State;
use axum::response::Response;

use super::sections::{self, TurnView};
use crate::extract::Path;
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::linked::{Piece, of_parts};
use crate::page::Page;
use crate::papers::{Body, document, sent};
use crate::visitor::Viewer;
use app::App;
use app::day::{self, Card, Day, whole};
use app::read::StoreError;
use compute::day::{CardCell, KeptAnyway, LATENESSES, Milestone};
use compute::fit::per_cent;
use domain::units::Minutes;

#[derive(Template)]
#[template(path = "day/card.html")]
pub(crate) struct CardPage {
    page: PageFrame,
    code: String,
    sheet: Body,
}

impl CardPage {
    fn excursion(&self) -> String {
        crate::addresses::within("excursions", &self.code)
    }
}

/// The sheet itself, on its page and in its file.
#[derive(Template)]
#[template(path = "day/card_sheet.html")]
struct Sheet {
    code: String,
    outpost: String,
    as_of: String,
    flight: String,
    day: Option<domain::time::Day>,
    seats: String,
    limits: String,
    limit: String,
    bound: String,
    unknown: Vec<Vec<Piece>>,
    latenesses: Vec<String>,
    /// How close its rows stand, so that it fits one sheet.
    close: &'static str,
    rows: Vec<RowView>,
    must: Vec<(String, String, String)>,
    stopping: Vec<(String, String)>,
    without: Vec<String>,
    turn_back: Vec<TurnView>,
}

struct RowView {
    number: Option<usize>,
    code: String,
    title: String,
    seats: String,
    must: bool,
    planned: String,
    cells: Vec<CellView>,
}

/// One cell: what to do, line by line, and how likely the end inside the limit is then.
pub(crate) struct CellView {
    kind: &'static str,
    /// A mark, what to do, and with what.
    pub lines: Vec<(&'static str, &'static str, String)>,
    pub foot: String,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<CardPage>, PageError> {
    let page = frame(&viewer, &code);
    let sheet = Body(sheet(&app, &viewer, &page, &code).await?);
    Ok(Page(CardPage { page, code, sheet }))
}

/// The same sheet as one file that needs no network.
pub(crate) async fn file(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    let page = frame(&viewer, &code);
    let sheet = without_links(&sheet(&app, &viewer, &page, &code).await?);
    let name = format!("late-card-{code}.html");
    Ok(sent(&name, "text/html; charset=utf-8", document(&format!("Late card for {code}"), &sheet)))
}

fn frame(viewer: &Viewer, code: &str) -> PageFrame {
    viewer.frame(format!("Late card for {code}"), Nav::Flights)
}

/// A file leads nowhere: what explains a term goes, other links become their words.
fn without_links(sheet: &str) -> String {
    let mut out = String::with_capacity(sheet.len());
    for (at, piece) in sheet.split("<a ").enumerate() {
        let (link, after) = piece.split_once("</a>").unwrap_or(("", piece));
        if at > 0 && !link.starts_with("class=\"help") {
            out.push_str(link.split_once('>').map_or("", |(_, words)| words));
        }
        out.push_str(after);
    }
    out
}

async fn sheet(
    app: &App,
    viewer: &Viewer,
    page: &PageFrame,
    code: &str,
) -> Result<String, PageError> {
    let mut db = app.reader().await?;
    let there = day::read(&mut db, code, None, viewer.now()).await?;
    let card = day::late_card(&mut db, &there).await?;
    let minutes = |minutes: Option<Minutes>| minutes.map_or("unknown".to_owned(), Minutes::clock);
    let must = there.tasks.iter().filter(|task| task.slot.must_do).map(|task| {
        let stopping = task.slot.stopping_point.as_ref().map_or("", |point| point.as_str());
        (task.slot.task.as_str().to_owned(), task.title.clone(), stopping.to_owned())
    });
    let stopping = there.tasks.iter().filter_map(|task| {
        let point = task.slot.stopping_point.as_ref()?;
        let share = task.slot.stopping_share.map_or_else(
            || "how much is done there is not recorded, so it is not shortened".to_owned(),
            |share| format!("{share} done there"),
        );
        Some((task.slot.task.as_str().to_owned(), format!("{}: {share}.", point.as_str())))
    });
    let without = there.tasks.iter().filter(|task| task.slot.stopping_point.is_none());
    let sheet = Sheet {
        flight: there.excursion.flight.as_ref().map_or_else(String::new, |f| f.as_str().to_owned()),
        day: there.excursion.day,
        seats: domain::cells::Cell::show(&there.excursion.seats),
        limits: format!(
            "plan {} · limit {}",
            minutes(there.excursion.planned),
            minutes(there.excursion.limit)
        ),
        limit: whole(card.limit).to_string(),
        bound: per_cent(card.bound),
        unknown: card.unknown.iter().map(|sentence| of_parts(sentence)).collect(),
        latenesses: LATENESSES.iter().map(|late| format!("{late:.0} min")).collect(),
        close: match card.rows.len() {
            0..=6 => "",
            7..=9 => " rows-close",
            _ => " rows-closest",
        },
        rows: rows(&there, &card),
        must: must.collect(),
        stopping: stopping.collect(),
        without: without.map(|task| task.slot.task.as_str().to_owned()).collect(),
        turn_back: card.turn_back.iter().map(|row| sections::turn_view(&there, row)).collect(),
        outpost: page.outpost.clone(),
        as_of: page.as_of_words(),
        code: code.to_owned(),
    };
    Ok(sheet.render().map_err(std::io::Error::other).map_err(StoreError::from)?)
}

fn rows(there: &Day, card: &Card) -> Vec<RowView> {
    let view = |(milestone, planned, cells): &(Milestone, f64, Vec<CardCell>)| {
        let cells = cells.iter().map(|cell| cell_view(there, *milestone, cell)).collect();
        let planned = whole(*planned).to_string();
        match milestone {
            Milestone::Egress => RowView {
                number: None,
                code: String::new(),
                title: "End of egress".to_owned(),
                seats: "all seats".to_owned(),
                must: false,
                planned,
                cells,
            },
            Milestone::Task(at) => {
                let task = &there.tasks[*at];
                RowView {
                    number: card.numbers.get(*at).copied(),
                    code: task.slot.task.as_str().to_owned(),
                    title: task.title.clone(),
                    seats: task.slot.seats.names(),
                    must: task.slot.must_do,
                    planned,
                    cells,
                }
            }
        }
    };
    card.rows.iter().map(view).collect()
}

/// The words of a cell, on its page and on the sheet of a brief.
pub(crate) fn cell_view(there: &Day, milestone: Milestone, cell: &CardCell) -> CellView {
    let clock = |minutes: f64| whole(minutes).to_string();
    let last = match (milestone, cell.turn_back) {
        (Milestone::Task(_), Some(by)) if cell.last => Some(by),
        _ => None,
    };
    let mut lines = Vec::new();
    // The seats of the milestone have nothing more to do: until when may they still be there?
    let turns = last.is_some_and(|by| cell.at > by);
    if turns {
        lines.push(("k-turn", "turn back", format!("by {}", clock(last.unwrap_or_default()))));
    }
    let Some(drops) = &cell.drops else { return no_choice_does(cell, last, lines) };
    let code = |at: usize| there.tasks[at].slot.task.as_str().to_owned();
    let dropped: Vec<String> = drops.dropped().map(code).collect();
    let shortened: Vec<String> = drops.shortened().map(code).collect();
    for (mark, words, tasks) in [("k-drop", "drop", dropped), ("k-part", "shorten", shortened)] {
        if !tasks.is_empty() {
            lines.push((mark, words, tasks.join(", ")));
        }
    }
    let cut = !lines.is_empty();
    if !cut {
        let words = if drops.choices.is_empty() { "turn back as planned" } else { "keep all" };
        lines.push(("k-set", words, String::new()));
    }
    let mut foot = per_cent(drops.chance);
    if let Some(by) = last.filter(|by| cell.at <= *by) {
        foot = format!("{foot}, {} in hand", Minutes(whole((by - cell.at).floor()).0).clock());
    }
    if turns {
        foot = format!("{foot}; if it still goes on, leave it not completed");
    }
    CellView {
        kind: if turns {
            "turn"
        } else if cut {
            "cut"
        } else {
            "keep"
        },
        lines,
        foot,
    }
}

/// A cell in which no choice ends inside the limit with the chance that is asked for.
fn no_choice_does(
    cell: &CardCell,
    last: Option<f64>,
    mut lines: Vec<(&'static str, &'static str, String)>,
) -> CellView {
    let chance = per_cent(cell.least);
    let tell = "tell flight control:";
    let foot = match cell.kept_anyway {
        KeptAnyway::MustDo => {
            lines.push(("k-turn", tell, "must-do tasks no longer fit".to_owned()));
            format!("{chance} with all else dropped")
        }
        KeptAnyway::UnderWay => {
            lines.push(("k-turn", tell, "work under way no longer fits".to_owned()));
            format!("{chance} with all else dropped")
        }
        KeptAnyway::Nothing => {
            let now = if cell.last { "turn back" } else { "drop all, turn back" };
            lines = vec![("k-turn", now, "at once".to_owned())];
            match last {
                Some(by) => format!("{chance}; work here had to end by {}", whole(by)),
                None => chance,
            }
        }
    };
    CellView { kind: "turn", lines, foot }
}
