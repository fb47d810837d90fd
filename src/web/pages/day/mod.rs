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
use domain::codes::{SlotCode, TaskCode, TechniqueCode};
use domain::day::{Act, Added};
use domain::seats::Seats;
use domain::sides::Side;
use domain::time::{Day, Moment};
use domain::units::Pet;

pub(crate) mod card;
mod drawn;
pub(crate) mod practice;
pub(crate) mod replayed;
mod seats;
mod sections;
mod view;
mod windows;

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

/// Keeps one press and says so, with what follows from it.
async fn keep(
    app: &App,
    viewer: &Viewer,
    code: &str,
    run: Option<&str>,
    fields: &Fields,
) -> Result<String, Failure> {
    let new = read(fields, viewer.now().day())?;
    let mut work = Work::begin(app, &viewer.actor, None).await?;
    let saved = day::press(&mut work, code, run, new).await?;
    work.finish("").await?;
    let before = if saved.is_new { "" } else { " It was saved before; it counts once." };
    let said = format!("Saved: {}.{before}", saved.words);
    let notes = saved.notes.iter().map(AsRef::as_ref);
    Ok(std::iter::once(said.as_str()).chain(notes).collect::<Vec<&str>>().join(" "))
}

/// The act and the slot that a button carries, as in `started S-0152`.
fn carried(press: &str) -> Option<(Act, &str)> {
    let of = |act: &Act| {
        let rest = press.strip_prefix(act.word())?;
        (rest.is_empty() || rest.starts_with(' ')).then(|| (*act, rest.trim_start()))
    };
    Act::ALL.iter().find_map(of)
}

/// A press as a form sends it.
fn read(fields: &Fields, today: Day) -> Result<day::NewPress, Failure> {
    let mut wrong = Vec::new();
    let carried = carried(fields.get("press"));
    if carried.is_none() {
        wrong.push(FieldError::new("press", "Choose what was pressed."));
    }
    let pet = typed(fields, "pet", Pet::read, &mut wrong);
    let egress_at = typed(fields, "egress_at", |text| Moment::read_on(today, text), &mut wrong);
    let side = typed(fields, "side", Side::read, &mut wrong);
    let seats = typed(fields, "seat", Seats::read, &mut wrong);
    let (act, named) = match carried {
        Some(carried) if wrong.is_empty() => carried,
        _ => return Err(Failure::Invalid(wrong)),
    };
    let given = |name: &str| Some(fields.get(name).trim()).filter(|text| !text.is_empty());
    let named = if named.is_empty() { fields.get("slot") } else { named };
    let adds = (act == Act::Added).then(|| Added {
        task: TaskCode::from(named),
        seats: seats.map(|seats| Seats::of(seats.numbers())).unwrap_or_default(),
        technique: given("technique").map(TechniqueCode::from),
        side,
        before: given("before").map(SlotCode::from),
    });
    let key = if fields.has("key") { fields.get("key") } else { fields.get("form_key") };
    let has_slot = !named.is_empty() && act != Act::Undo && adds.is_none();
    Ok(day::NewPress {
        // A form sent twice has the same key, and so does a button pressed twice; another
        // button of the same form is another press.
        key: if fields.has("key") { key.to_owned() } else { format!("{key} {act}") },
        act,
        slot: has_slot.then(|| SlotCode::from(named)),
        step: fields.get("step").trim().parse().ok(),
        pet,
        egress_at,
        undoes: given("undoes").map(str::to_owned),
        adds,
        pressed_at: fields.get("pressed_at").trim().parse().ok().map(Moment),
    })
}

/// What stands in a field; `None` where it is empty or wrong.
fn typed<T>(
    fields: &Fields,
    field: &str,
    read: impl Fn(&str) -> Result<T, String>,
    wrong: &mut Vec<FieldError>,
) -> Option<T> {
    let text = fields.get(field).trim();
    if text.is_empty() {
        return None;
    }
    let said = read(text).map_err(|message| wrong.push(FieldError::new(field, message)));
    said.ok()
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

    fn today() -> Day {
        Day::read("2031-03-21").unwrap()
    }

    #[test]
    fn a_time_without_a_date_is_of_the_day_itself() {
        let at = |text| {
            let body = format!("key=k&press=egress&egress_at={text}");
            read(&Fields::read(body.as_bytes()), today()).map(|new| new.egress_at)
        };
        let whole = Moment::read("2031-03-21 09:05").unwrap();
        assert_eq!(at("9:05").unwrap(), Some(whole));
        assert_eq!(at("2031-03-21+09:05").unwrap(), Some(whole));
        assert!(at("29:05").is_err() && at("tomorrow").is_err());
    }

    #[test]
    fn a_button_carries_its_act_and_its_slot() {
        let fields = Fields::read(b"form_key=k&press=at+stopping+point+S-0152&pet=1:31");
        let new = read(&fields, today()).unwrap();
        assert_eq!((new.act, new.pet), (Act::AtStoppingPoint, Some(Pet(91))));
        assert_eq!(new.slot, Some(SlotCode::from("S-0152")));
        assert_eq!(new.key, "k at stopping point");
        let fields =
            Fields::read(b"key=a&press=added+T-17&seat=EV2&technique=K-1&side=nadir&before=S-3");
        let new = read(&fields, today()).unwrap();
        let adds = new.adds.unwrap();
        assert_eq!((adds.seats, adds.task.as_str(), new.slot), (Seats::of([2]), "T-17", None));
        assert_eq!(adds.before, Some(SlotCode::from("S-3")));
        let fields = Fields::read(b"key=q1&press=started&slot=S-1&pet=&pressed_at=1700000000000");
        let new = read(&fields, today()).unwrap();
        assert_eq!((new.key.as_str(), new.pet), ("q1", None));
        assert_eq!(new.pressed_at, Some(Moment(1_700_000_000_000)));
    }

    #[test]
    fn what_is_no_press_is_refused_in_words() {
        for body in [&b"press=jumped+S-1"[..], b"press=", b"press=done+S-1&pet=1:75"] {
            assert!(matches!(read(&Fields::read(body), today()), Err(Failure::Invalid(_))));
        }
    }
}
