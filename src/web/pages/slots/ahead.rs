//! The get-ahead finder: where the crew stands goes into the address, and what can still be done
//! and brought home comes back.

use askama::Template;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Response};

use crate::extract::Fields;
use crate::failure::PageError;
use crate::forms::{Choice, ErrorSummary, FieldView, Width};
use crate::frame::{Nav, PageFrame};
use crate::linked::{Piece, of_parts};
use crate::page::Page;
use crate::pages::how::How;
use crate::pages::worth;
use crate::visitor::Viewer;
use app::get_ahead::{self, CrewPosition, GetAhead};
use app::read::excursions;
use app::settings::CalculationInputs;
use app::{App, Failure, backlog};
use compute::fit::{margin, per_cent, pet};
use domain::cells::{Cell as _, FieldError, List};
use domain::codes::{ExcursionCode, ToolCode, WorksiteCode};
use domain::excursions::Excursion;
use domain::units::Minutes;
use domain::words::SlotVerdict;

/// More seats than an airlock lets out at once.
const MAX_SEATS: usize = 4;

#[derive(Template)]
#[template(path = "slots/ahead.html")]
pub(crate) struct AheadPage {
    page: PageFrame,
    summary: ErrorSummary,
    fields: Vec<FieldView>,
    /// There is an excursion to stand on.
    coming: bool,
    how: How,
    answer: Option<Answer>,
}

/// What was found.
struct Answer {
    excursion: String,
    may: Vec<Line>,
    not: Vec<Line>,
}

struct Line {
    code: String,
    title: String,
    verdict: SlotVerdict,
    by: String,
    /// `0:08 there, work PET 5:03 to 6:03, inside by 6:38`.
    course: String,
    left: String,
    chance: String,
    value: String,
    set_on: Option<String>,
    why: Vec<Piece>,
}

pub(crate) async fn show(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    let query = viewer.address().split_once('?').map_or("", |(_, query)| query).to_owned();
    let typed = Fields::read(query.as_bytes());
    let mut db = app.reader().await?;
    let coming = excursions::coming(&mut db).await?;
    let offered = backlog::choices(&mut db).await?;
    let how = How::of(&CalculationInputs::load(&mut db).await?.constants);
    let asked = typed.has("at").then(|| read(&typed, &coming));
    let found = match asked {
        None => Ok(None),
        Some(Err(wrong)) => Err(wrong),
        Some(Ok(asked)) => match get_ahead::look(&mut db, &asked).await {
            Ok(all) => Ok(Some(answer(&asked, &all))),
            Err(Failure::Invalid(wrong)) => Err(wrong),
            Err(other) => return Err(other.into()),
        },
    };
    drop(db);
    let (errors, answer) = match found {
        Ok(answer) => (Vec::new(), answer),
        Err(errors) => (errors, None),
    };
    let fields = fields(&typed, &coming, &offered.worksites, &errors);
    let refused = !errors.is_empty();
    let summary = match ErrorSummary::of(&errors, &fields) {
        of if refused => {
            ErrorSummary { heading: "Correct this to see what can be done".to_owned(), ..of }
        }
        none => none,
    };
    let shown = AheadPage {
        page: viewer.frame("Get-aheads", Nav::Slots).with_verdicts().refusing(refused),
        summary,
        fields,
        coming: !coming.is_empty(),
        how,
        answer,
    };
    let status = if refused { StatusCode::UNPROCESSABLE_ENTITY } else { StatusCode::OK };
    Ok((status, Page(shown)).into_response())
}

fn read(typed: &Fields, coming: &[Excursion]) -> Result<CrewPosition, Vec<FieldError>> {
    let mut wrong = Vec::new();
    let excursion = ExcursionCode::from(typed.get("at").trim());
    let here = coming.iter().find(|there| there.code.0 == excursion);
    let airlock = here.and_then(|here| here.airlock.clone());
    // Left empty: at the airlock.
    let worksite = Some(typed.get("site").trim()).filter(|site| !site.is_empty());
    let worksite = worksite.map(WorksiteCode::from).or(airlock).unwrap_or_default();
    let left = match Minutes::read(typed.get("left")) {
        Ok(left) if left.0 > 0 => left,
        Ok(_) => {
            wrong.push(FieldError::new("left", "Say how many minutes are left to the limit."));
            Minutes(0)
        }
        Err(message) => {
            wrong.push(FieldError::new("left", message));
            Minutes(0)
        }
    };
    let seats = typed.get("seats").trim().parse().unwrap_or(1).clamp(1, MAX_SEATS);
    let tools = match List::<ToolCode>::read(typed.get("tools")) {
        Ok(tools) => tools.0,
        Err(message) => {
            wrong.push(FieldError::new("tools", message));
            Vec::new()
        }
    };
    let asked = CrewPosition { excursion, worksite, left, seats, tools };
    if wrong.is_empty() { Ok(asked) } else { Err(wrong) }
}

fn fields(
    typed: &Fields,
    coming: &[Excursion],
    sites: &[WorksiteCode],
    errors: &[FieldError],
) -> Vec<FieldView> {
    let all: Vec<Choice> = coming
        .iter()
        .map(|there| Choice::new(there.code.0.as_str(), there.code.0.as_str()))
        .collect();
    let mut worksites = vec![Choice::new("", "the airlock")];
    worksites.extend(sites.iter().map(|site| Choice::new(site.as_str(), site.as_str())));
    let seats = (1..=MAX_SEATS).map(|seats| Choice::new(seats.to_string(), seats.to_string()));
    // What an excursion takes is in hand until a person says otherwise.
    let first = coming.iter().find(|there| there.code.0.as_str() == typed.get("at"));
    let taken = first.or(coming.first()).map_or_else(String::new, |there| there.tools.show());
    let tools = if typed.has("tools") { typed.get("tools").to_owned() } else { taken };
    let at = FieldView::new("at", "Excursion").choosing(all).holding(typed.get("at"));
    let site = FieldView::new("site", "Where the crew is").choosing(worksites);
    let left = FieldView::new("left", "Left to the limit, h:mm").holding(typed.get("left"));
    let free = FieldView::new("seats", "Seats free").choosing(seats.collect());
    let seats = if typed.has("seats") { typed.get("seats") } else { "1" };
    let hand = FieldView::new("tools", "Tools in hand").holding(tools);
    vec![
        at.wide(Width::Small).judged(errors),
        site.holding(typed.get("site")).wide(Width::Medium).judged(errors),
        left.wide(Width::Small).must().judged(errors),
        free.holding(seats).wide(Width::Small).judged(errors),
        hand.hinting("Codes, with commas between.").judged(errors),
    ]
}

fn answer(asked: &CrewPosition, all: &[GetAhead]) -> Answer {
    let may =
        |ahead: &&GetAhead| matches!(ahead.judged.verdict, SlotVerdict::Fits | SlotVerdict::Tight);
    let (may, not): (Vec<&GetAhead>, Vec<&GetAhead>) = all.iter().partition(may);
    Answer {
        excursion: asked.excursion.to_string(),
        may: may.into_iter().map(line).collect(),
        not: not.into_iter().map(line).collect(),
    }
}

fn line(ahead: &GetAhead) -> Line {
    let judged = &ahead.judged;
    let course = judged.place.map_or_else(String::new, |place| {
        let (from, to) = (pet(place.start).show(), pet(place.end).show());
        format!("work PET {from} to {to}, inside by {}", pet(place.excursion_end).show())
    });
    Line {
        code: ahead.item.task.to_string(),
        title: ahead.item.title.as_str().to_owned(),
        verdict: judged.verdict,
        by: judged.approach.as_ref().map_or_else(String::new, ToString::to_string),
        course,
        left: judged.place.map_or_else(|| "–".to_owned(), |place| margin(place.margin)),
        chance: judged.place.map_or_else(String::new, |place| per_cent(place.chance)),
        value: worth::figure(ahead.worth),
        set_on: ahead.set_on.as_ref().map(ToString::to_string),
        why: deciding(ahead),
    }
}

/// The first sentence of the first of the worst gates; nothing where all are met.
fn deciding(ahead: &GetAhead) -> Vec<Piece> {
    use domain::words::GateVerdict::{CannotTell, NotMet, Tight};
    let gates = &ahead.judged.gates;
    let worst = [NotMet, CannotTell, Tight]
        .iter()
        .find_map(|verdict| gates.iter().find(|gate| gate.verdict == *verdict));
    let Some(gate) = worst else { return Vec::new() };
    gate.reasons.first().map_or_else(Vec::new, |parts| of_parts(parts))
}
