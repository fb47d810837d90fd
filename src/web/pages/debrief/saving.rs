//! Saves all that one form of the debrief carries, in one transaction: what is wrong in one part
//! keeps no other part from being saved.

use app::read::Connection;
use axum::http::StatusCode;

use super::fields::COUNTS;
use super::typed::{Typed, TypedRecord};
use crate::held_forms::label_in;
use crate::pages::attempts::photos::{self, Apart, Photos, WaitingPhoto};
use crate::received::SentFile;
use crate::visitor::Viewer;
use app::debrief::{self, DebriefRow, RowSaved, TypedRow};
use app::read::{Found as _, register};
use app::records::{Base, Ruled, current, save as save_record};
use app::work::Work;
use app::{App, Conflict, Failure};
use domain::attempts::Attempt;
use domain::bounds::MAX_DEBRIEF_TOOLS;
use domain::cells::{Cells, FieldError};
use domain::codes::ExcursionCode;
use domain::excursions::{Excursion, ExcursionTool};
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::records::Record as _;
use domain::roles::{Action, may};
use domain::time::Moment;

/// Stands for the version that a form should have carried: every record has a later one.
const NO_VERSION: i64 = 0;

/// The fields of the excursion that its debrief fills in.
pub(super) const HEAD: [&str; 5] = ["egress_at", "actual", "seats", "ended_early", "notes"];

/// A row that somebody else changed, as it was typed here.
#[derive(Debug, Clone)]
pub(crate) struct Clash {
    pub key: String,
    pub typed: Cells,
    pub now: DebriefRow,
}

/// A part of the form that was typed and not taken.
#[derive(Debug, Clone)]
pub(super) struct NotTaken {
    /// The start of its names.
    pub prefix: String,
    pub cells: Cells,
    /// On which the form goes on: the one that it was typed on, or, beside another version of the
    /// record, that one.
    pub version: Option<i64>,
}

/// What came of one form.
#[derive(Default)]
pub(super) struct Outcome {
    saved: usize,
    /// The results recorded by this form: the start of the names of their fields, and their codes.
    recorded: Vec<(String, String)>,
    pub kept: Vec<NotTaken>,
    /// Under the full names of their fields.
    pub errors: Vec<FieldError>,
    /// Rows kept as typed; the page itself says what is wrong with them.
    pub drafts: usize,
    pub clashes: Vec<Clash>,
    /// Photographs of rows that are no attempt yet: the files that came, and how they wait.
    pub unkept: Vec<(String, Vec<SentFile>)>,
    pub waiting: Vec<(String, Vec<WaitingPhoto>)>,
    /// Versions that moved on while the head or a tool was typed, in words.
    pub moved: Vec<String>,
    pub asks_to_close: bool,
}

impl Outcome {
    /// Everything was taken; rows kept as typed are no fault of the form.
    pub fn is_clean(&self) -> bool {
        self.errors.is_empty() && self.clashes.is_empty() && self.moved.is_empty()
    }

    pub fn status(&self) -> StatusCode {
        if self.errors.is_empty() { StatusCode::CONFLICT } else { StatusCode::UNPROCESSABLE_ENTITY }
    }

    pub fn words(&self, now: Moment) -> String {
        let saved = match self.saved {
            0 => "Nothing had changed".to_owned(),
            1 => "One change is saved".to_owned(),
            more => format!("{more} changes are saved"),
        };
        let drafts = match self.drafts {
            0 => String::new(),
            1 => "; one row is kept as typed until it is complete".to_owned(),
            more => format!("; {more} rows are kept as typed until they are complete"),
        };
        let recorded = match self.recorded.as_slice() {
            [] => String::new(),
            all => {
                let codes: Vec<&str> = all.iter().take(12).map(|(_, code)| code.as_str()).collect();
                format!(" ({})", codes.join(", "))
            }
        };
        format!("{saved}{recorded}{drafts}. {} UTC.", now.clock())
    }

    /// What was typed into that part of the form and not taken.
    pub fn kept_of(&self, prefix: &str) -> Option<&NotTaken> {
        self.kept.iter().find(|kept| kept.prefix == prefix)
    }

    fn keep(&mut self, typed: &TypedRecord, version: Option<i64>) {
        let (prefix, cells) = (typed.prefix.clone(), typed.cells.clone());
        self.kept.push(NotTaken { prefix, cells, version });
    }

    fn wrong(&mut self, prefix: &str, wrong: Vec<FieldError>) {
        let named = wrong
            .into_iter()
            .map(|error| FieldError::new(format!("{prefix}-{}", error.field), error.message));
        self.errors.extend(named);
    }
}

/// Saves part after part. Only what no part could be saved through is a failure.
pub(super) async fn save(
    work: &mut Work,
    excursion: &ExcursionCode,
    typed: &Typed,
) -> Result<Outcome, Failure> {
    if typed.tools.len() > MAX_DEBRIEF_TOOLS {
        return Err(Failure::Refused(format!(
            "This form has {} tools; at most {MAX_DEBRIEF_TOOLS} are read. Nothing of it was saved. \
             Send it in parts.",
            typed.tools.len()
        )));
    }
    let mut outcome = Outcome::default();
    if let Some(head) = &typed.head
        && may(work.actor.role, Action::KeepExcursions)
    {
        save_head(work, excursion, head, &mut outcome).await?;
    }
    let says_nothing = |row: &TypedRow| {
        let extra_without_words = row.seen.is_none() && row.cells.get("outcome").is_empty();
        extra_without_words && row.cells.get("words").is_empty() && is_new(row)
    };
    let rows: Vec<&(String, TypedRow)> =
        typed.rows.iter().filter(|(_, row)| !says_nothing(row)).collect();
    let sent = rows.iter().map(|(_, row)| row.clone()).collect();
    let saved = debrief::save_rows(work, excursion, sent).await?;
    for ((prefix, row), saved) in rows.into_iter().zip(saved) {
        match saved {
            RowSaved::Unchanged => {}
            RowSaved::Recorded(code) => {
                outcome.saved += 1;
                outcome.recorded.push((prefix.clone(), code));
            }
            RowSaved::Draft(_) => outcome.drafts += 1,
            RowSaved::MovedOn(now) => outcome.clashes.push(Clash {
                key: row.key.clone(),
                typed: row.cells.clone(),
                now: *now,
            }),
        }
    }
    for tool in &typed.tools {
        save_tool(work, excursion, tool, &mut outcome).await?;
    }
    if let Some(item) = typed.outside.as_ref().filter(|item| says_something(item, &["what"])) {
        match OutsideItem::parse(&item.cells) {
            Ok(record) => part(work, item, record, Base::New, &mut outcome).await?,
            Err(wrong) => {
                outcome.wrong(&item.prefix, wrong);
                outcome.keep(item, None);
            }
        }
    }
    Ok(outcome)
}

/// Lets the attempts of the rows name the photographs that came with them. Those of a row that is no
/// attempt yet wait for it.
pub(super) async fn keep_photos(
    work: &mut Work,
    excursion: &ExcursionCode,
    typed: &Typed,
    mut sent: Photos,
    outcome: &mut Outcome,
) -> Result<(), Failure> {
    outcome.errors.append(&mut sent.wrong);
    for (prefix, photos) in photos::of_rows(sent) {
        let Apart { looked, sent: files, .. } = photos.apart();
        if let Some(attempt) = attempt_in(work, excursion, typed, outcome, &prefix).await? {
            outcome.saved += looked.len();
            photos::keep(work, &attempt, looked).await?;
        } else {
            outcome.errors.push(FieldError::new(
                format!("{prefix}-photo"),
                "This row is not recorded yet. Complete it; its photographs wait for it.",
            ));
            outcome.unkept.push((prefix, files));
        }
    }
    Ok(())
}

/// Lets the photographs wait that no attempt names yet.
pub(super) async fn wait(app: &App, viewer: &Viewer, outcome: &mut Outcome) -> Result<(), Failure> {
    for (prefix, files) in std::mem::take(&mut outcome.unkept) {
        let (waiting, wrong) = photos::wait(app, viewer, files).await?;
        outcome.errors.extend(wrong);
        outcome.waiting.push((prefix, waiting));
    }
    Ok(())
}

/// The attempt that a row of the form is now.
async fn attempt_in(
    work: &mut Work,
    excursion: &ExcursionCode,
    typed: &Typed,
    outcome: &Outcome,
    prefix: &str,
) -> Result<Option<String>, Failure> {
    if let Some((_, code)) = outcome.recorded.iter().find(|(known, _)| known == prefix) {
        return Ok(Attempt::find(work.db(), code).await?.map(|found| found.code.0.to_string()));
    }
    let sent = typed.rows.iter().find(|(known, _)| known == prefix);
    let Some((_, sent)) = sent else { return Ok(None) };
    let rows = debrief::read(work.db(), excursion.as_str()).await?.rows;
    let row = rows.into_iter().find(|row| row.key == sent.key && row.draft.is_none());
    Ok(row.and_then(|row| row.attempt).map(|attempt| attempt.code.0.to_string()))
}

/// A row that the form offered empty: nothing is lost where nothing was typed.
fn is_new(row: &TypedRow) -> bool {
    row.key.contains(' ') && row.cells.get("as_left").is_empty()
}

fn says_something(item: &TypedRecord, names: &[&str]) -> bool {
    names.iter().any(|name| !item.cells.get(name).trim().is_empty())
}

async fn save_head(
    work: &mut Work,
    excursion: &ExcursionCode,
    head: &TypedRecord,
    outcome: &mut Outcome,
) -> Result<(), Failure> {
    let now = current::<Excursion>(work, excursion.as_str()).await?;
    let mut cells = now.cells();
    for name in HEAD {
        if head.cells.has(name) {
            cells.set(name, head.cells.get(name));
        }
    }
    match Excursion::parse(&cells) {
        Ok(record) => {
            // A head without its version is held against all that was saved since.
            let base = Base::Version(head.version.unwrap_or(NO_VERSION));
            part(work, head, record, base, outcome).await
        }
        Err(wrong) => {
            outcome.wrong(&head.prefix, wrong);
            outcome.keep(head, head.version);
            Ok(())
        }
    }
}

async fn save_tool(
    work: &mut Work,
    excursion: &ExcursionCode,
    tool: &TypedRecord,
    outcome: &mut Outcome,
) -> Result<(), Failure> {
    // A tool that the page asks for is no count until one is typed.
    let counted = COUNTS.map(|(name, _)| name);
    let typed: &[&str] = if tool.cells.has("asked") { &counted } else { &["tool"] };
    if tool.version.is_none() && !says_something(tool, typed) {
        return Ok(());
    }
    // A field that was not sent stays as it is.
    let mut cells = match tool.version {
        Some(_) => current::<ExcursionTool>(work, tool.cells.get("code")).await?.cells(),
        None => Cells::default(),
    };
    for (name, text) in tool.cells.iter() {
        cells.set(name, text);
    }
    cells.set("excursion", excursion.as_str());
    match ExcursionTool::parse(&cells) {
        Ok(record) => {
            let base = tool.version.map_or(Base::New, Base::Version);
            part(work, tool, record, base, outcome).await
        }
        Err(wrong) => {
            outcome.wrong(&tool.prefix, wrong);
            outcome.keep(tool, tool.version);
            Ok(())
        }
    }
}

/// Saves one record; a refusal takes only this part back.
async fn part<R: Ruled>(
    work: &mut Work,
    typed: &TypedRecord,
    record: R,
    base: Base,
    outcome: &mut Outcome,
) -> Result<(), Failure> {
    work.mark().await?;
    let wrong = match save_record(work, record, base).await {
        Ok(saved) => {
            work.keep().await?;
            outcome.saved += usize::from(saved.changed);
            return Ok(());
        }
        Err(wrong) => wrong,
    };
    work.back().await?;
    match wrong {
        Failure::Invalid(wrong) => {
            outcome.keep(typed, typed.version);
            outcome.wrong(&typed.prefix, wrong);
        }
        Failure::Refused(why) => {
            outcome.keep(typed, typed.version);
            outcome.errors.push(FieldError::new("", why));
        }
        Failure::Conflict(conflict) => {
            outcome.keep(typed, Some(conflict.version));
            outcome.moved.push(both_versions(&conflict, typed.version.is_some()));
        }
        other => return Err(other),
    }
    Ok(())
}

/// Both versions of a part that was not saved, in one sentence.
fn both_versions(conflict: &Conflict, carried_its_version: bool) -> String {
    let differing: Vec<String> = conflict
        .theirs
        .iter()
        .filter(|(name, theirs)| conflict.yours.get(name) != *theirs)
        .map(|(name, theirs)| {
            let yours = conflict.yours.get(name);
            format!("{}: now “{theirs}”, yours “{yours}”", label_in(conflict.kind, name))
        })
        .collect();
    let why = if carried_its_version {
        format!("{} was changed by {} in the meantime", conflict.code, conflict.changed_by)
    } else {
        format!("The form came without the version of {} that it was typed on", conflict.code)
    };
    let differing = differing.join("; ");
    format!("{why} ({differing}). Send the form again to put yours in its place.")
}

/// The version of a record now, for the form.
pub(super) async fn version_of(
    db: &mut Connection,
    kind: Kind,
    code: &str,
) -> Result<i64, Failure> {
    Ok(register::find(db, kind, code).await?.map_or(0, |row| row.version))
}
