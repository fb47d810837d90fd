//! What stands in the debrief beside its results: the tools that went out, the photographs of the
//! attempts, and the findings on failures.

use app::read::Connection;

use super::choices::Choices;
use super::fields::counts;
use super::saving::Outcome;
use super::view::RowView;
use crate::addresses;
use crate::forms::FieldView;
use crate::pages::attempts::finding::{WRITE, is_asked_for};
use crate::pages::files::FileView;
use crate::visitor::Viewer;
use app::Failure;
use app::debrief::Debrief;
use app::read::{files, findings};
use domain::cells::Cells;
use domain::codes::ToolCode;
use domain::debrief::Missing;
use domain::excursions::ExcursionTool;
use domain::kinds::Kind;
use domain::records::Record as _;
use domain::roles::{Action, may};

pub(super) struct ToolView {
    pub prefix: String,
    pub code: String,
    pub tool: String,
    /// The version of its count; none where nobody counted it yet.
    pub version: Option<i64>,
    pub name: String,
    pub fields: Vec<FieldView>,
    pub wanted: Option<String>,
    /// Somebody counted and it does not add up, or the excursion was to be closed without it.
    pub alarm: bool,
}

pub(super) fn tool_view(
    at: usize,
    tool: &ExcursionTool,
    version: i64,
    outcome: &Outcome,
    choices: &Choices,
    missing: &[Missing],
) -> ToolView {
    let prefix = format!("t{at}");
    let recorded = tool.cells();
    let kept = outcome.kept_of(&prefix);
    let missing = missing.iter().find(|missing| tool_of(missing) == Some(&tool.tool));
    let named = choices.tools.iter().find(|choice| choice.value == tool.tool.as_str());
    ToolView {
        code: tool.code.0.as_str().to_owned(),
        tool: tool.tool.as_str().to_owned(),
        version: Some(kept.and_then(|kept| kept.version).unwrap_or(version)),
        name: named.map(|choice| choice.words.clone()).unwrap_or_default(),
        fields: counts(kept.map_or(&recorded, |kept| &kept.cells), &prefix, outcome),
        wanted: missing.map(Missing::to_string),
        alarm: outcome.asks_to_close
            || kept.is_some()
            || matches!(missing, Some(Missing::ToolsDoNotAddUp { .. })),
        prefix,
    }
}

/// A tool that was to be taken, to be counted.
pub(super) fn uncounted_view(
    at: usize,
    tool: &ToolCode,
    outcome: &Outcome,
    choices: &Choices,
) -> ToolView {
    let prefix = format!("t{at}");
    let none = Cells::default();
    let kept = outcome.kept_of(&prefix);
    let named = choices.tools.iter().find(|choice| choice.value == tool.as_str());
    ToolView {
        code: String::new(),
        tool: tool.as_str().to_owned(),
        version: None,
        name: named.map(|choice| choice.words.clone()).unwrap_or_default(),
        fields: counts(kept.map_or(&none, |kept| &kept.cells), &prefix, outcome),
        wanted: Some(format!("{tool} was to be taken. Enter how many went out and came in.")),
        alarm: outcome.asks_to_close || kept.is_some(),
        prefix,
    }
}

fn tool_of(missing: &Missing) -> Option<&ToolCode> {
    match missing {
        Missing::ToolNotCounted { tool, .. } | Missing::ToolsDoNotAddUp { tool, .. } => Some(tool),
        Missing::NoResult { .. } | Missing::Unfinished { .. } | Missing::Added { .. } => None,
    }
}

/// What belongs to the attempts of the rows: their photographs, and the finding on a failure.
pub(super) async fn beside_attempts(
    db: &mut Connection,
    viewer: &Viewer,
    debrief: &Debrief,
    rows: &mut [RowView],
) -> Result<(), Failure> {
    let excursion = &debrief.excursion.code.0;
    let photos = files::of_excursion(db, excursion).await?;
    let explained = findings::of_excursion(db, excursion).await?;
    let may_write = may(viewer.actor.role, Action::WriteFinding);
    for (row, view) in debrief.rows.iter().zip(rows) {
        let Some(attempt) = &row.attempt else { continue };
        let code = &attempt.code.0;
        let own = photos.iter().filter(|file| file.attempt.as_ref() == Some(code));
        view.files = own.map(FileView::of).collect();
        let finding = explained.iter().find(|(of, _)| of == code);
        view.finding = match finding {
            Some((_, finding)) => {
                Some((addresses::of(Kind::Finding, finding), format!("Open finding {finding}")))
            }
            None if may_write && is_asked_for(attempt.outcome) => {
                Some((format!("{}/finding", addresses::of(Kind::Attempt, code)), WRITE.to_owned()))
            }
            None => None,
        };
    }
    Ok(())
}
