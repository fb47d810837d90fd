//! The day of an excursion: its board, practice runs of it, and the late card.
//!
//! Pages ask every two seconds for the number of the last press, a few bytes, and load the board
//! again where it has moved: no connection is held open, so a proxy that closes idle ones and the
//! limit on the time of a request need no care of their own. Each answer has the server's time, by
//! which a page that slept sets its clock. Without scripts a page asks by itself every half minute,
//! and every button is a form.

use axum::Json;
use axum::extract::State;
use axum::response::{IntoResponse, Response};

use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::page::{Done, Page};
use crate::visitor::Viewer;
use app::work::Work;
use app::{App, Failure, day};
use domain::cells::{Cell as _, FieldError};
use domain::codes::SlotCode;
use domain::day::Act;
use domain::time::Moment;
use domain::units::Pet;

pub(crate) mod card;
mod drawn;
pub(crate) mod practice;
pub(crate) mod replayed;
mod seats;
mod sections;
mod view;

/// Where the board of an excursion is, or that of a practice run.
fn address(code: &str, run: Option<&str>) -> String {
    let excursion = addresses::within("excursions", code);
    match run {
        Some(run) => format!("{excursion}/practice/{}", addresses::encoded(run)),
        None => format!("{excursion}/day"),
    }
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    board(&app, &viewer, &code, None).await
}

/// The board as it is now.
async fn board(
    app: &App,
    viewer: &Viewer,
    code: &str,
    run: Option<&str>,
) -> Result<Response, PageError> {
    let mut db = app.reader().await?;
    let there = day::read(&mut db, code, run, viewer.now()).await?;
    let answers = day::answers(app, &mut db, &there).await?;
    let page = view::page(&mut db, viewer, there, answers).await?;
    Ok(Page(page).into_response())
}

/// A press of a form without scripts.
pub(crate) async fn press(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    fields: Fields,
) -> Result<Done, PageError> {
    pressed(&app, &viewer, &code, None, &fields).await
}

async fn pressed(
    app: &App,
    viewer: &Viewer,
    code: &str,
    run: Option<&str>,
    fields: &Fields,
) -> Result<Done, PageError> {
    let words = keep(app, viewer, code, run, fields).await?;
    Ok(Done::to(address(code, run)).saying(words))
}

/// A press that a script sends, perhaps after it waited in the page; the answer is JSON.
pub(crate) async fn press_quietly(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    fields: Fields,
) -> Result<Response, PageError> {
    Ok(quietly(&keep(&app, &viewer, &code, None, &fields).await?))
}

fn quietly(words: &str) -> Response {
    Json(serde_json::json!({ "words": words })).into_response()
}

/// Keeps one press and says so.
async fn keep(
    app: &App,
    viewer: &Viewer,
    code: &str,
    run: Option<&str>,
    fields: &Fields,
) -> Result<String, Failure> {
    let new = read(fields)?;
    let what = said(&new);
    let mut work = Work::begin(app, &viewer.actor, None).await?;
    let is_new = day::press(&mut work, code, run, new).await?;
    work.finish("").await?;
    Ok(if is_new { what } else { format!("{what} It was saved before; it counts once.") })
}

/// What was pressed, as a sentence.
fn said(new: &day::NewPress) -> String {
    let slot = new.slot.as_ref().map_or("", |slot| slot.as_str());
    let pet = new.pet.map_or_else(String::new, |pet| format!(" at PET {pet}"));
    match new.act {
        Act::Egress => "Saved: egress has begun.".to_owned(),
        Act::Inside => format!("Saved: the crew is inside{pet}."),
        Act::Undo => "Saved: the press is undone.".to_owned(),
        act => format!("Saved: {slot} {act}{pet}."),
    }
}

/// A press as a form sends it. The button carries the act and the slot: `started S-0152`.
fn read(fields: &Fields) -> Result<day::NewPress, Failure> {
    let mut wrong = Vec::new();
    let (act, slot) = match fields.get("press").rsplit_once(' ') {
        Some((act, slot)) => (act, slot),
        None => (fields.get("press"), fields.get("slot")),
    };
    let act = Act::read(act);
    if act.is_none() {
        wrong.push(FieldError::new("press", "Choose what was pressed."));
    }
    let typed = fields.get("pet").trim();
    let pet = if typed.is_empty() { None } else { said_or(Pet::read(typed), "pet", &mut wrong) };
    let typed = fields.get("egress_at").trim();
    let egress_at =
        if typed.is_empty() { None } else { said_or(Moment::read(typed), "egress_at", &mut wrong) };
    let key = if fields.has("key") { fields.get("key") } else { fields.get("form_key") };
    let pressed_at = fields.get("pressed_at").trim().parse().ok().map(Moment);
    match act {
        Some(act) if wrong.is_empty() => Ok(day::NewPress {
            // A form sent twice has the same key, and so does a button pressed twice; another
            // button of the same form is another press.
            key: if fields.has("key") { key.to_owned() } else { format!("{key} {act}") },
            act,
            slot: Some(slot)
                .filter(|slot| !slot.is_empty() && act != Act::Undo)
                .map(SlotCode::from),
            step: fields.get("step").trim().parse().ok(),
            pet,
            egress_at,
            undoes: Some(fields.get("undoes").to_owned()).filter(|key| !key.is_empty()),
            pressed_at,
        }),
        _ => Err(Failure::Invalid(wrong)),
    }
}

fn said_or<T>(read: Result<T, String>, field: &str, wrong: &mut Vec<FieldError>) -> Option<T> {
    match read {
        Ok(value) => Some(value),
        Err(message) => {
            wrong.push(FieldError::new(field, message));
            None
        }
    }
}

/// The number of the last press, the minute that the board shows, and the time here.
pub(crate) async fn state(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
) -> Result<Response, PageError> {
    how_far(&app, &viewer, &code, None).await
}

async fn how_far(
    app: &App,
    viewer: &Viewer,
    code: &str,
    run: Option<&str>,
) -> Result<Response, PageError> {
    let mut db = app.reader().await?;
    let there = day::read(&mut db, code, run, viewer.now()).await?;
    let told = serde_json::json!({
        "number": there.number,
        "pet": there.pet.map(|pet| pet.0),
        "last": there.state.last_pet.map(|pet| pet.0),
        "now": viewer.now().0,
    });
    Ok(Json(told).into_response())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_button_carries_its_act_and_its_slot() {
        let fields = Fields::read(b"form_key=k&press=at+stopping+point+S-0152&pet=1:31");
        let new = read(&fields).unwrap();
        assert_eq!((new.act, new.pet), (Act::AtStoppingPoint, Some(Pet(91))));
        assert_eq!(new.slot, Some(SlotCode::from("S-0152")));
        assert_eq!(new.key, "k at stopping point");
        let fields = Fields::read(b"key=q1&press=started&slot=S-1&pet=&pressed_at=1700000000000");
        let new = read(&fields).unwrap();
        assert_eq!((new.key.as_str(), new.pet), ("q1", None));
        assert_eq!(new.pressed_at, Some(Moment(1_700_000_000_000)));
    }

    #[test]
    fn what_is_no_press_is_refused_in_words() {
        for body in [&b"press=jumped+S-1"[..], b"press=", b"press=done+S-1&pet=1:75"] {
            assert!(matches!(read(&Fields::read(body)), Err(Failure::Invalid(_))));
        }
    }
}
