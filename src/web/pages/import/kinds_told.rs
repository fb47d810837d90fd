//! What the rows of a table are: told by its heads, else asked while the file is kept.

use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Response};
use tempfile::NamedTempFile;

use super::first_rows::FirstRows;
use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::{Choice, FieldView, Width};
use crate::frame::{Nav, PageFrame};
use crate::page::{Page, see_other};
use crate::visitor::Viewer;
use app::import::{self, Given, Guess, Recognised};
use app::{App, Failure};
use domain::kinds::Kind;

/// So many likely kinds are offered first.
const LIKELY: usize = 4;

/// A table whose heads do not tell what its rows are: it is kept, and its person says it.
#[derive(Template)]
#[template(path = "import/ask.html")]
pub(crate) struct AskPage {
    page: PageFrame,
    code: String,
    name: String,
    likely: Vec<LikelyKind>,
    kinds: FieldView,
    first_rows: FirstRows,
}

/// A kind that the rows could be, and what speaks for it.
struct LikelyKind {
    plural: &'static str,
    why: String,
}

/// The kinds that this person may import.
pub(super) fn theirs(viewer: &Viewer) -> Vec<Kind> {
    let all = Kind::IMPORTED.iter().copied();
    all.filter(|kind| import::may_look(&viewer.actor, *kind).is_ok()).collect()
}

/// The kinds to choose from, those that the heads speak for first.
pub(super) fn kinds_field(viewer: &Viewer, told: &Recognised, holding: Kind) -> FieldView {
    let mut all: Vec<Kind> = told.guesses.iter().take(LIKELY).map(|guess| guess.kind).collect();
    all.extend(Kind::IMPORTED.iter().filter(|kind| !all.contains(kind)).collect::<Vec<_>>());
    let may = theirs(viewer);
    let choices = all
        .iter()
        .filter(|kind| may.contains(kind))
        .map(|kind| Choice::new(kind.plural(), kind.plural().replace('-', " ")))
        .collect();
    FieldView::new("kind", "What the rows are")
        .choosing(choices)
        .holding(holding.plural())
        .wide(Width::Medium)
}

/// The kind that was chosen, or the likeliest by the heads; and whether nobody has to be asked.
pub(super) async fn what_it_is(
    viewer: &Viewer,
    chosen: Option<Kind>,
    file: &NamedTempFile,
    name: &str,
) -> Result<(Kind, bool), Failure> {
    if let Some(kind) = chosen {
        return Ok((kind, true));
    }
    let told =
        import::recognise(&Given::File(file.path().to_owned())).await.map_err(|failure| {
            match failure {
                Failure::Invalid(errors) => {
                    Failure::Refused(errors.iter().map(|error| error.message.clone()).collect())
                }
                failure => failure,
            }
        })?;
    if told.is_people {
        return Err(Failure::Refused(format!(
            "{name} looks like a list of people. People are not imported: an administrator adds \
             each under People, and each chooses a password."
        )));
    }
    let may = theirs(viewer);
    match told.guesses.first().map(|guess| guess.kind) {
        Some(kind) if told.is_sure => import::may_look(&viewer.actor, kind).map(|()| (kind, true)),
        _ => {
            let likely =
                told.guesses.iter().map(|guess| guess.kind).find(|kind| may.contains(kind));
            let kind = likely.or_else(|| may.first().copied()).unwrap_or(Kind::Task);
            Ok((kind, false))
        }
    }
}

/// Says what the rows of a kept table are, and looks at it.
pub(crate) async fn say_kind(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Response, PageError> {
    import::kept(&app, &viewer.actor, &code).await?;
    let kind = Kind::named(typed.get("kind")).filter(|kind| Kind::IMPORTED.contains(kind));
    let Some(kind) = kind else {
        return Err(Failure::Refused("Choose what the rows are.".to_owned()).into());
    };
    import::say_kind(&app, &viewer.actor, &code, kind).await?;
    Ok(see_other(&addresses::within("import", &code)))
}

/// Asks what the rows of a kept table are, the likely kinds first.
pub(super) async fn ask(app: &App, viewer: &Viewer, code: &str) -> Result<Response, PageError> {
    let upload = import::kept(app, &viewer.actor, code).await?;
    let there = import::peek(&Given::File(upload.path.clone())).await?;
    let told = import::of_heads(&there.heads);
    let may = theirs(viewer);
    let likely = told
        .guesses
        .iter()
        .filter(|guess| may.contains(&guess.kind))
        .take(LIKELY)
        .map(|guess| LikelyKind { plural: guess.kind.plural(), why: why(guess) })
        .collect();
    let columns = there.heads.iter().map(|head| (head.clone(), String::new())).collect();
    let page = AskPage {
        page: viewer.frame(format!("Import {}", upload.name), Nav::Import),
        code: code.to_owned(),
        likely,
        kinds: kinds_field(viewer, &told, upload.kind),
        first_rows: FirstRows { columns, rows: there.rows },
        name: upload.name,
    };
    Ok(Page(page).into_response())
}

/// What speaks for a kind, and what it lacks.
fn why(guess: &Guess) -> String {
    let known = format!("Known heads: {}.", guess.known.join(", "));
    if guess.missing.is_empty() {
        return known;
    }
    format!("{known} No head for {}.", guess.missing.join(", "))
}
