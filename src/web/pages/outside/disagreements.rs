//! Where record and list disagree: which one is right?

use axum::extract::State;

use crate::addresses;
use crate::extract::Fields;
use crate::failure::PageError;
use crate::linked::{Piece, linked};
use crate::page::Done;
use crate::visitor::Viewer;
use app::outside::{self, Right};
use app::work::Work;
use app::{App, Failure};
use domain::outside::{Contradiction, OutsideItem};

/// One question, with the two answers on buttons.
pub(crate) struct Question {
    pub words: Vec<Piece>,
    pub attempt: String,
    pub item: String,
    pub record: String,
    pub list: String,
    /// Tells the forms of a page apart.
    pub key: String,
}

pub(super) fn question(found: &Contradiction) -> Question {
    let attempt = found.said().attempt.to_string();
    let item = found.item().map_or_else(String::new, |item: &OutsideItem| item.code.0.to_string());
    let (record, list) = match found {
        Contradiction::StillListed { .. } => (
            format!("{item} came in: end it on the list"),
            format!("{item} is still there: correct {attempt}"),
        ),
        Contradiction::NotListed { .. } => (
            "It is outside: put it on the list".to_owned(),
            format!("Nothing was left: correct {attempt}"),
        ),
        Contradiction::SeenLater { .. } => (
            format!("{item} is still there: open it again"),
            format!("{item} is gone: correct {attempt}"),
        ),
    };
    let key = format!("settle-{attempt}-{item}");
    Question { words: linked(&found.to_string()), attempt, item, record, list, key }
}

/// Corrects the one of the two that is wrong.
pub(crate) async fn settle(
    State(app): State<App>,
    viewer: Viewer,
    typed: Fields,
) -> Result<Done, PageError> {
    let right = match typed.get("right") {
        "record" => Right::Record,
        "list" => Right::List,
        _ => return Err(Failure::field("right", "Choose which of the two is right.").into()),
    };
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let words = outside::settle(&mut work, typed.get("attempt"), typed.get("item"), right).await?;
    let back = addresses::back(typed.get("back"), &["/outside"], "/outside");
    let to = work.finish(back).await?;
    Ok(Done::to(to).saying(words))
}
