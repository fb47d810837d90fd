//! Asks whether the excursions of a flight move along with its launch, and lists what breaks.

use askama::Template;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};

use super::nav;
use crate::addresses;
use crate::extract::Fields;
use crate::frame::PageFrame;
use crate::page::Page;
use crate::visitor::Viewer;
use app::slips::Slip;
use domain::kinds::Kind;

/// The field that answers.
pub(super) const ANSWER: &str = "move_excursions";

#[derive(Template)]
#[template(path = "records/slip.html")]
struct SlipPage {
    page: PageFrame,
    heading: String,
    flight: String,
    action: String,
    record: String,
    /// What was typed, to be sent again with the answer.
    typed: Vec<(String, String)>,
    by: String,
    count: String,
    excursions: Vec<(String, String, String)>,
    if_moved: Vec<String>,
    if_left: Vec<String>,
}

/// What the form answered; none where it was not asked yet.
pub(super) fn answer(typed: &Fields) -> Option<bool> {
    match typed.get(ANSWER) {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    }
}

pub(super) fn page(viewer: &Viewer, slip: &Slip, typed: &Fields) -> Response {
    let record = addresses::of(Kind::Flight, &slip.flight);
    let by = by(slip.days);
    let heading = format!("{} launches {by}", slip.flight);
    let count = match slip.excursions.len() {
        1 => "1 planned excursion".to_owned(),
        more => format!("{more} planned excursions"),
    };
    let page = SlipPage {
        page: viewer.frame(heading.clone(), nav(Kind::Flight)).refusing(true),
        heading,
        flight: slip.flight.to_string(),
        action: format!("{record}/edit"),
        record,
        typed: typed
            .0
            .iter()
            .filter(|(name, _)| !["csrf", "form_key", ANSWER].contains(&name.as_str()))
            .cloned()
            .collect(),
        by,
        count,
        excursions: slip
            .excursions
            .iter()
            .map(|one| (one.code.to_string(), one.day.to_string(), one.moved.to_string()))
            .collect(),
        if_moved: slip.if_moved.clone(),
        if_left: slip.if_left.clone(),
    };
    (StatusCode::UNPROCESSABLE_ENTITY, Page(page)).into_response()
}

/// `21 days later`, `1 day earlier`.
fn by(days: i64) -> String {
    let noun = if days.abs() == 1 { "day" } else { "days" };
    let way = if days < 0 { "earlier" } else { "later" };
    format!("{} {noun} {way}", days.abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_said_in_days_and_a_direction() {
        assert_eq!(by(21), "21 days later");
        assert_eq!(by(-1), "1 day earlier");
    }
}
