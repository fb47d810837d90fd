//! A record of a kind without a page of its own: what it says, and how it came to say it.

use app::read::Connection;
use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Response};

use super::history::{self, ChangeRow};
use super::{capital, nav};
use crate::addresses;
use crate::extract::Path;
use crate::failure::PageError;
use crate::frame::PageFrame;
use crate::page::Page;
use crate::pages::attempts::WithdrawView;
use crate::pages::attempts::finding::{WRITE, is_asked_for};
use crate::pages::files::Evidence;
use crate::pages::findings::Steps;
use crate::values::{ValueView, values_of_cell};
use crate::visitor::Viewer;
use app::findings::refuses_edit;
use app::read::{StoreError, register, remedies};
use app::{App, Failure, kinds};
use domain::kinds::Kind;
use domain::roles::{action_for, may};
use domain::words::Outcome;

/// More causes than a team ever tells apart.
const CAUSES: i64 = 500;

#[derive(Template)]
#[template(path = "records/show.html")]
pub(super) struct ShowPage {
    page: PageFrame,
    code: String,
    heading: String,
    list: String,
    list_words: String,
    /// Where it is edited, for those who may.
    edit: Option<String>,
    lines: Vec<RecordLine>,
    /// Its photographs and files, where its kind has them.
    evidence: Option<Evidence>,
    /// For an attempt.
    withdraw: Option<WithdrawView>,
    /// For an attempt that failed: where its finding is written, or stands.
    finding: Option<(String, &'static str)>,
    /// For a remedy: what this person may do to it.
    remedy: Option<Steps>,
    changes: Vec<ChangeRow>,
}

struct RecordLine {
    label: &'static str,
    text: String,
    codes: Vec<NamedCode>,
    /// Of the values of an attempt.
    values: Vec<ValueView>,
}

/// A code that stands in a record. Causes go by numbers, so their words stand beside them.
struct NamedCode {
    address: String,
    code: String,
    words: String,
}

pub(super) async fn show(
    kind: Kind,
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Page<ShowPage>, PageError> {
    let mut db = app.reader().await?;
    let missing = || Failure::NotFound(kind, code.clone());
    let cells = kinds::find(&mut db, kind, &code).await?.ok_or_else(missing)?;
    let row = register::find(&mut db, kind, &code).await?.ok_or_else(missing)?;
    let names_causes = kinds::columns(kind).iter().any(|c| c.input.names() == Some(Kind::Cause));
    let causes = if names_causes {
        kinds::after(&mut db, Kind::Cause, "", CAUSES).await?
    } else {
        Vec::new()
    };
    let cause_words = |named: Kind, code: &str| {
        let known = causes.iter().find(|cause| named == Kind::Cause && cause.get("code") == code);
        known.map_or_else(String::new, |cause| cause.get("words").to_owned())
    };
    let mut lines: Vec<RecordLine> = kinds::columns(kind)
        .iter()
        .filter(|column| column.name != "code" && !cells.get(column.name).is_empty())
        .map(|column| {
            let text = cells.get(column.name).to_owned();
            let codes = column.input.names().map_or_else(Vec::new, |named| {
                text.split(", ")
                    .map(|code| NamedCode {
                        address: addresses::of(named, code),
                        code: code.to_owned(),
                        words: cause_words(named, code),
                    })
                    .collect()
            });
            let is_measured = kind == Kind::Attempt && column.name == "measured";
            let values = if is_measured { values_of_cell(&text) } else { Vec::new() };
            RecordLine { label: column.label, text, codes, values }
        })
        .collect();
    if kind == Kind::Remedy {
        lines.extend(not_held(&mut db, &code).await?);
    }
    let evidence = Evidence::of(&mut db, &viewer, kind, &code).await?;
    let withdraw = match kind {
        Kind::Attempt => WithdrawView::of(&mut db, &viewer, &code).await?,
        _ => None,
    };
    let finding = match kind {
        Kind::Attempt => finding_of(&mut db, &viewer, &code, cells.get("outcome")).await?,
        _ => None,
    };
    let remedy = match kind {
        Kind::Remedy => Steps::on_own_page(&mut db, &viewer, &code).await?,
        _ => None,
    };
    let changes = history::of_record(&mut db, kind, &code).await?;
    let role = viewer.actor.role;
    let may_edit =
        may(role, action_for(kind)) && refuses_edit(&mut db, role, kind, &code).await?.is_none();
    let heading = capital(kind.word());
    let page = viewer.frame(format!("{heading} {code}"), nav(kind)).of_version(row.version);
    Ok(Page(ShowPage {
        page,
        heading,
        list: match kind {
            // Remedies are read beside the findings that they answer.
            Kind::Remedy => "/findings".to_owned(),
            Kind::SuitRates => "/settings#suits".to_owned(),
            _ => format!("/{}", addresses::folder(kind)),
        },
        list_words: match kind {
            Kind::Remedy => "Findings".to_owned(),
            Kind::SuitRates => "Settings".to_owned(),
            _ => format!("All {}", kind.plural().replace('-', " ")),
        },
        edit: may_edit.then(|| format!("{}/edit", addresses::of(kind, &code))),
        code,
        lines,
        evidence,
        withdraw,
        finding,
        remedy,
        changes,
    }))
}

/// The page of a remedy whose next step asks for something that was left empty.
pub(crate) async fn remedy_refused(
    app: App,
    viewer: Viewer,
    code: String,
    wrong: String,
) -> Result<Response, PageError> {
    let Page(mut page) = show(Kind::Remedy, State(app), viewer, Path(code)).await?;
    if let Some(steps) = &mut page.remedy {
        steps.wrong = Some(wrong);
    }
    page.page.refused = true;
    Ok((StatusCode::UNPROCESSABLE_ENTITY, Page(page)).into_response())
}

/// Where the finding of an attempt that failed is written, or stands.
async fn finding_of(
    db: &mut Connection,
    viewer: &Viewer,
    code: &str,
    outcome: &str,
) -> Result<Option<(String, &'static str)>, StoreError> {
    let found = app::read::findings::explaining(db, &code.into()).await?;
    if let Some(finding) = found.first() {
        return Ok(Some((addresses::of(Kind::Finding, finding), "Open finding")));
    }
    let failed = Outcome::read(outcome).is_some_and(is_asked_for);
    let may_write = may(viewer.actor.role, action_for(Kind::Finding));
    let there = format!("{}/finding", addresses::of(Kind::Attempt, code));
    Ok((failed && may_write).then_some((there, WRITE)))
}

/// The failures that a remedy did not prevent, as a line of its record.
async fn not_held(db: &mut Connection, code: &str) -> Result<Option<RecordLine>, StoreError> {
    const SHOWN: i64 = 100;
    let failures = remedies::not_held(db, Some(&[code.into()]), false, SHOWN).await?;
    let codes: Vec<NamedCode> = failures
        .into_iter()
        .map(|failed| NamedCode {
            address: addresses::of(Kind::Attempt, &failed.attempt),
            code: failed.attempt.to_string(),
            words: if failed.is_answered { "resolved since" } else { "" }.to_owned(),
        })
        .collect();
    let line = RecordLine { label: "Did not hold", text: String::new(), codes, values: Vec::new() };
    Ok((!line.codes.is_empty()).then_some(line))
}
