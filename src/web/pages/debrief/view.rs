//! The debrief as its template places it: one fieldset a row, the tools, what was left outside.

use app::read::Connection;
use askama::Template;

use super::beside::{ToolView, beside_attempts, tool_view, uncounted_view};
use super::choices::Choices;
use super::fields::{Fields, fields, head, new_left, new_tool};
use super::saving::{Clash, Outcome, version_of};
use crate::addresses;
use crate::forms::{ErrorSummary, FieldView, Pager, Width, share_offers};
use crate::frame::{Nav, PageFrame};
use crate::held_forms::label_in;
use crate::linked::{Piece, linked};
use crate::marks;
use crate::pages::attempts::photos::WaitingPhoto;
use crate::pages::constraints::forbidden_line;
use crate::pages::files::FileView;
use crate::values::{ValueView, values_of_cell};
use crate::visitor::Viewer;
use app::Failure;
use app::constraints::{self, InForce};
use app::debrief::{DEFERRED, Debrief, DebriefRow, look_at_what_is_left, stamp};
use app::outside;
use domain::cells::{Cells, FieldError};
use domain::codes::TaskCode;
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::roles::{Action, may};
use domain::slots::named;
use domain::words::{ExcursionState, Outcome as Ended};

mod parts;
mod summary;

use summary::summary;

#[expect(clippy::struct_excessive_bools, reason = "each shows or hides a part of the page")]
#[derive(Template)]
#[template(path = "debrief/show.html")]
pub(crate) struct DebriefPage {
    page: PageFrame,
    summary: ErrorSummary,
    code: String,
    address: String,
    flight: Option<String>,
    status: String,
    head: Vec<FieldView>,
    head_version: i64,
    /// A lead fills the head in.
    may_head: bool,
    rows: Vec<RowView>,
    /// Where there are more rows than one page has.
    pager: Option<Pager>,
    tools: Vec<ToolView>,
    new_tool: Vec<FieldView>,
    left: Vec<OutsideItem>,
    new_left: Vec<FieldView>,
    /// What was recorded here and the outside list says differently.
    disagreements: Vec<Vec<Piece>>,
    /// What closing returns to the backlog.
    returns: Vec<TaskCode>,
    /// The pencils that closing withdraws, by task and slot; empty where there are none.
    pencils: String,
    /// What it forbids the vehicle, and what ended on it: code and sentence.
    from_now: Vec<(String, Vec<Piece>)>,
    ended: Vec<(String, Vec<Piece>)>,
    /// The excursion is open for results and the person may record them.
    may_record: bool,
    may_close: bool,
    may_reopen: bool,
    closed: Option<String>,
    not_flown: bool,
}

#[expect(clippy::struct_excessive_bools, reason = "each shows or hides a part of the row")]
pub(crate) struct RowView {
    prefix: String,
    key: String,
    stamp: String,
    /// What the field of what is left showed.
    pub left_shown: String,
    /// The code of the slot, for a row that answers one.
    slot: Option<String>,
    pub task: String,
    title: String,
    beside: String,
    complete: bool,
    wanted: usize,
    pub outs: Vec<Out>,
    pub outcome_wrong: Option<String>,
    /// The task itself, for work that was not planned and is no result yet.
    pub task_field: Option<FieldView>,
    /// The fields that an outcome needs first.
    pub first: Vec<FieldView>,
    /// The rest.
    pub more: Vec<FieldView>,
    pub photo_wrong: Option<String>,
    /// Photographs that wait for the row to be recorded.
    pub waiting: Vec<WaitingPhoto>,
    /// The photographs that its attempt has.
    pub files: Vec<FileView>,
    /// Where the finding on its attempt is written, or stands: address and words.
    pub finding: Option<(String, String)>,
    /// Something typed is wrong, or the excursion was to be closed without it.
    alarm: bool,
    /// Values that lie past their limits, as they were typed.
    pub past: Vec<ValueView>,
    quiet: bool,
    can_take_back: bool,
    /// What the row says now, where somebody else changed it meanwhile.
    clash: Vec<String>,
    /// An anchor for the row that was just asked for.
    is_new: bool,
}

pub(crate) struct Out {
    pub value: &'static str,
    pub mark: &'static str,
    pub checked: bool,
}

impl RowView {
    /// The name of a field in the form; the rows of a debrief begin it with their own.
    pub fn name(&self, field: &str) -> String {
        if self.prefix.is_empty() { field.to_owned() } else { format!("{}-{field}", self.prefix) }
    }

    pub fn id(&self, field: &str) -> String {
        FieldView::new(self.name(field), "").id
    }

    pub fn outcome_id(&self) -> String {
        if self.prefix.is_empty() { "f-outcome".to_owned() } else { self.name("outcome") }
    }

    /// Every field, the choice of the outcome and the photographs among them.
    pub fn all_fields(&self) -> Vec<FieldView> {
        let beside = [("outcome", "Outcome"), ("photo", "Photographs")];
        let beside = beside.into_iter().map(|(name, label)| FieldView::new(name, label));
        let fields = self.first.iter().chain(&self.more).chain(&self.task_field);
        beside.chain(fields.cloned()).collect()
    }
}

/// What the address of the page asks for.
#[derive(Debug, Default)]
pub(super) struct DebriefQuery {
    /// A row of whose task one more try is entered, or a task.
    pub another: String,
    /// Which rows.
    pub page: i64,
}

/// Rows on one page.
const ROWS: usize = 7;

pub(super) async fn page(
    db: &mut Connection,
    viewer: &Viewer,
    debrief: Debrief,
    outcome: Outcome,
    asked: &DebriefQuery,
) -> Result<DebriefPage, Failure> {
    let choices = Choices::load(db, &debrief.rows).await?;
    let role = viewer.actor.role;
    let flown = debrief.excursion.state == Some(ExcursionState::Flown);
    let may_record = flown && debrief.closed_at.is_none() && may(role, Action::RecordAttempt);
    let mut rows: Vec<RowView> = debrief
        .rows
        .iter()
        .enumerate()
        .map(|(at, row)| {
            let clash = outcome.clashes.iter().find(|clash| clash.key == row.key);
            row_view(&format!("r{at}"), row, clash, &choices, may_record)
        })
        .collect();
    if may_record && let Some(row) = asked_for(&debrief, &asked.another) {
        let mut asked = [row];
        look_at_what_is_left(db, &debrief.excursion.code.0, &mut asked).await?;
        let at = rows.len();
        rows.extend(asked.iter().map(|row| new_row_view(at, row, &choices)));
    }
    for row in &mut rows {
        let name = row.name("photo");
        let wrong = outcome.errors.iter().find(|error| error.field == name);
        row.photo_wrong = wrong.map(|error| error.message.clone());
        let waiting = outcome.waiting.iter().find(|(prefix, _)| *prefix == row.prefix);
        row.waiting = waiting.map(|(_, photos)| photos.clone()).unwrap_or_default();
    }
    beside_attempts(db, viewer, &debrief, &mut rows).await?;
    for row in rows.iter_mut().filter(|_| outcome.asks_to_close) {
        row.alarm = row.wanted > 0;
    }
    let mut tools = Vec::new();
    for (at, tool) in debrief.tools.iter().enumerate() {
        let version = version_of(db, Kind::ExcursionTool, tool.code.0.as_str()).await?;
        tools.push(tool_view(at, tool, version, &outcome, &choices, &debrief.missing));
    }
    for (at, tool) in (tools.len()..).zip(&debrief.uncounted) {
        tools.push(uncounted_view(at, tool, &outcome, &choices));
    }
    let complete = debrief.rows.iter().filter(|row| row.is_complete()).count();
    let version = version_of(db, Kind::Excursion, debrief.excursion.code.0.as_str()).await?;
    let code = debrief.excursion.code.0.as_str().to_owned();
    let mut summary = summary(&debrief, &rows, &tools, &outcome);
    let pager = pager_of(&code, &rows, asked.page);
    for line in &mut summary.lines {
        let elsewhere = rows.iter().enumerate().find(|(at, row)| {
            !is_on(&pager, *at) && !row.is_new && is_of_row(&line.target, &row.prefix)
        });
        if let Some((at, _)) = elsewhere {
            line.words = format!("{} It is on page {}.", line.words, at / ROWS + 1);
            "rows".clone_into(&mut line.target);
        }
    }
    let mut at = 0..;
    rows.retain(|row| row.is_new || at.next().is_some_and(|at| is_on(&pager, at)));
    let page = viewer
        .frame(format!("Debrief of {code}"), Nav::Flights)
        .of_version(version)
        .refusing(!outcome.is_clean() || outcome.asks_to_close);
    let disagreements = outside::disagreements(db).await?;
    let today = viewer.now().day();
    let (from_now, ended) =
        constraints::for_excursion(db, &debrief.excursion.code.0, today).await?;
    let mut new_tool = new_tool(tools.len(), &outcome, &choices);
    let mut new_left = new_left(&outcome, &choices);
    let in_rows = rows.iter_mut().flat_map(|row| row.first.iter_mut().chain(&mut row.more));
    let in_tools = tools.iter_mut().flat_map(|tool| &mut tool.fields);
    share_offers(in_rows.chain(in_tools).chain(&mut new_tool).chain(&mut new_left));
    Ok(DebriefPage {
        summary,
        address: super::address(&code),
        flight: debrief.excursion.flight.as_ref().map(|flight| flight.as_str().to_owned()),
        status: format!("{complete} of {} complete", debrief.rows.len()),
        head: head(&debrief.excursion, debrief.board, &outcome),
        head_version: outcome.kept_of("head").and_then(|head| head.version).unwrap_or(version),
        may_head: may_record && may(role, Action::KeepExcursions),
        new_tool,
        new_left,
        returns: debrief.returns,
        pencils: named(&debrief.pencils),
        left: debrief.left_outside,
        disagreements: disagreements
            .iter()
            .filter(|found| found.said().excursion == debrief.excursion.code.0)
            .map(|found| linked(&found.to_string()))
            .collect(),
        from_now: from_now.iter().map(|one| line(one, &forbidden_line(one))).collect(),
        ended: ended.iter().map(|one| line(one, &ended_line(one))).collect(),
        may_record,
        may_close: may_record && may(role, Action::CloseExcursion),
        may_reopen: debrief.closed_at.is_some() && may(role, Action::ReopenExcursion),
        closed: debrief.closed_at.map(|at| format!("{} UTC", at.to_the_minute())),
        not_flown: !flown,
        pager: (pager.pages > 1).then_some(pager),
        rows,
        tools,
        code,
        page,
    })
}

/// The page that is asked for; where something is wanted before the excursion is closed, the first on
/// which it is.
fn pager_of(code: &str, rows: &[RowView], asked: i64) -> Pager {
    let page_of = |at: usize| i64::try_from(at / ROWS + 1).unwrap_or(1);
    let wanted = rows.iter().position(|row| row.alarm);
    let total = rows.iter().filter(|row| !row.is_new).count();
    let whole = |count: usize| i64::try_from(count).unwrap_or(i64::MAX);
    let address = super::address(code);
    let page = wanted.map_or(asked, page_of);
    Pager::new(page, whole(ROWS), whole(total), |page| format!("{address}?rows={page}"))
}

fn is_on(pager: &Pager, at: usize) -> bool {
    usize::try_from(pager.page).is_ok_and(|page| at / ROWS + 1 == page)
}

/// Whether an entry of the summary leads to a field of that row, or to the row.
fn is_of_row(target: &str, prefix: &str) -> bool {
    let own = [format!("f-{prefix}-"), format!("{prefix}-")];
    target == format!("row-{prefix}") || own.iter().any(|own| target.starts_with(own.as_str()))
}

fn line(one: &InForce, words: &str) -> (String, Vec<Piece>) {
    (one.constraint.code.0.to_string(), linked(&format!("{words}.")))
}

/// `Port wing not to be folded (CN-003), T-0164 is done`.
fn ended_line(one: &InForce) -> String {
    let constraint = &one.constraint;
    let task =
        constraint.task.as_ref().map_or_else(String::new, |task| format!(", {task} is done"));
    format!("{} ({}){task}", constraint.forbidden, constraint.code.0)
}

/// The row of one more try, or of work that was not planned, empty.
fn asked_for(debrief: &Debrief, another: &str) -> Option<DebriefRow> {
    if another.is_empty() {
        return None;
    }
    let beside = debrief.rows.iter().find(|row| row.key == another);
    let (key, slot, task, title) = if let Some(row) = beside {
        let slot = row.slot.clone();
        (format!("{} another", row.key), slot, row.task.clone(), row.title.clone())
    } else {
        let task = TaskCode::from(if another == "unplanned" { "" } else { another });
        (format!("unplanned {}", debrief.rows.len()), None, task, String::new())
    };
    if debrief.rows.iter().any(|row| row.key == key) {
        return None;
    }
    Some(DebriefRow {
        key,
        slot,
        task,
        title,
        attempt: None,
        deferral: None,
        draft: None,
        left: None,
        board: None,
    })
}

fn new_row_view(at: usize, row: &DebriefRow, choices: &Choices) -> RowView {
    let mut view = row_view(&format!("r{at}"), row, None, choices, true);
    view.is_new = true;
    // Nothing can have changed a row that is not there yet.
    view.stamp = String::new();
    view.wanted = 0;
    view
}

pub(crate) fn row_view(
    prefix: &str,
    row: &DebriefRow,
    clash: Option<&Clash>,
    choices: &Choices,
    may_record: bool,
) -> RowView {
    let cells = clash.map_or_else(|| row.cells(), |clash| clash.typed.clone());
    let wrong: &[FieldError] = row.draft.as_ref().map_or(&[], |(_, wrong)| wrong.as_slice());
    let wrong = if clash.is_some() { &[] } else { wrong };
    let named = |fields: Vec<FieldView>| -> Vec<FieldView> {
        fields.into_iter().map(|field| under(field, prefix)).collect()
    };
    let Fields { first, more } = fields(row, &cells, wrong, choices);
    let mut past = values_of_cell(cells.get("measured"));
    past.retain(|value| value.judged.is_some());
    let outcome = cells.get("outcome");
    let outs = Ended::ALL
        .iter()
        .map(|ended| (ended.word(), marks::of(ended)))
        .chain(choices.places.is_empty().then_some((DEFERRED, "k-def")))
        .map(|(value, mark)| Out { value, mark, checked: value == outcome })
        .collect();
    let planned = row.slot.is_some();
    let seats = row.slot.as_ref().map(|slot| slot.seats.names()).unwrap_or_default();
    let mut beside: Vec<String> = Vec::new();
    if !seats.is_empty() {
        beside.push(seats);
    }
    beside.push(match (planned, row.is_extra()) {
        (true, false) => "planned".to_owned(),
        (true, true) => "a further attempt".to_owned(),
        (false, _) => "not planned".to_owned(),
    });
    if let Some(attempt) = &row.attempt {
        beside.push(attempt.code.0.as_str().to_owned());
    }
    if row.is_from_board() {
        beside.push("filled from the board of the day, not saved yet".to_owned());
    } else if row.board.is_some() {
        beside.push("also pressed on the board of the day".to_owned());
    }
    let complete = row.is_complete();
    let task_field = (!planned && row.attempt.is_none()).then(|| {
        FieldView::new("task", "Task")
            .holding(cells.get("task"))
            .offering(choices.open_tasks.clone())
            .wide(Width::Medium)
            .must()
            .judged(wrong)
    });
    let task_field = task_field.map(|field| under(field, prefix));
    RowView {
        key: row.key.clone(),
        stamp: stamp_of(row),
        left_shown: row.left_shown(),
        slot: row.slot.as_ref().map(|slot| slot.code.0.as_str().to_owned()),
        task: row.task.as_str().to_owned(),
        title: row.title.clone(),
        beside: beside.join(" · "),
        wanted: if complete || !may_record { 0 } else { wrong.len().max(1) },
        complete,
        outs,
        outcome_wrong: wrong.iter().find(|w| w.field == "outcome").map(|w| w.message.clone()),
        task_field,
        first: named(first),
        more: named(more),
        photo_wrong: wrong.iter().find(|w| w.field == "photo").map(|w| w.message.clone()),
        waiting: Vec::new(),
        files: Vec::new(),
        finding: None,
        alarm: may_record && row.draft.is_some() && !wrong.is_empty(),
        past,
        quiet: may_record,
        can_take_back: may_record && (row.draft.is_some() || complete),
        clash: clash.map(|clash| differing(&clash.now.cells(), &clash.typed)).unwrap_or_default(),
        is_new: false,
        prefix: prefix.to_owned(),
    }
}

fn under(field: FieldView, prefix: &str) -> FieldView {
    if prefix.is_empty() { field } else { field.within(prefix) }
}

/// The row as it stands, whoever typed it: sent back, it tells whether anybody changed it since.
fn stamp_of(row: &DebriefRow) -> String {
    stamp(&row.cells())
}

fn differing(now: &Cells, typed: &Cells) -> Vec<String> {
    app::debrief::FIELDS
        .iter()
        .filter(|name| typed.has(name) && now.get(name).trim() != typed.get(name).trim())
        .map(|name| {
            let (now, typed) = (now.get(name), typed.get(name));
            format!("{}: now “{now}”, yours “{typed}”", label_in(Kind::Attempt, name))
        })
        .collect()
}

impl DebriefPage {
    fn excursion_address(&self) -> String {
        addresses::within("excursions", &self.code)
    }
}
