//! The form that came in after its session had ended.

use askama::Template;
use axum::extract::State;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::cookie::CookieJar;

use crate::cookies::CookieName;
use crate::extract::Fields;
use crate::failure::PageError;
use crate::frame::{Nav, PageFrame};
use crate::held_forms::HeldForm;
use crate::page::{Done, Page, see_other};
use crate::visitor::Viewer;
use app::tokens::Token;
use app::{App, sessions};
use domain::time::Moment;

#[derive(Template)]
#[template(path = "held.html")]
struct HeldPage {
    page: PageFrame,
    form: HeldForm,
    held_at: Moment,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    jar: CookieJar,
) -> Result<Response, PageError> {
    let form = match token(&app, &jar) {
        Some(token) => sessions::held(&app, &token, &viewer.actor.name).await?,
        None => None,
    };
    let Some(held) = form else {
        let jar = jar.add(CookieName::Held.gone(&app.config));
        return Ok((jar, see_other("/")).into_response());
    };
    let form = HeldForm::new(&held.path, &Fields::read(held.body.as_bytes()));
    let page = viewer.frame("This form was held", Nav::Elsewhere);
    Ok(Page(HeldPage { page, form, held_at: held.held_at }).into_response())
}

pub(crate) async fn discard(
    State(app): State<App>,
    _viewer: Viewer,
    jar: CookieJar,
) -> Result<Response, PageError> {
    if let Some(token) = token(&app, &jar) {
        sessions::discard(&app, &token).await?;
    }
    let jar = jar.add(CookieName::Held.gone(&app.config));
    Ok((jar, Done::to("/").saying("The form was discarded.")).into_response())
}

fn token(app: &App, jar: &CookieJar) -> Option<Token> {
    CookieName::Held.read(jar, &app.config).and_then(|text| Token::read(&text))
}
