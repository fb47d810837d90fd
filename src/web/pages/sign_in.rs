//! Signing in and out.

use askama::Template;
use axum::extract::State;
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum_extra::extract::cookie::CookieJar;
use serde::Deserialize;

use crate::cookies::CookieName;
use crate::extract::{Fields, Query};
use crate::failure::PageError;
use crate::forms::{ErrorSummary, FieldView, Typed};
use crate::frame::{Nav, PageFrame};
use crate::page::{Page, see_other};
use crate::visitor::{Viewer, Visit, is_own_address};
use app::App;
use app::config::DemoSignIn;
use app::people;
use app::sessions::{self, SignIn};
use app::tokens::Token;
use domain::cells::FieldError;

#[derive(Template)]
#[template(path = "people/sign_in.html")]
struct SignInPage {
    page: PageFrame,
    summary: ErrorSummary,
    fields: Vec<FieldView>,
    next: String,
    /// A form is kept for its person.
    holding: bool,
    /// A form came in without a session and was not kept.
    not_kept: bool,
    demo: Vec<DemoSignIn>,
    /// Nobody has been added yet: the first administrator comes in by the link in the log.
    is_new: bool,
}

#[derive(Deserialize)]
pub(crate) struct Next {
    #[serde(default)]
    next: String,
    /// What became of a form that came in without a session.
    #[serde(default)]
    form: String,
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    jar: CookieJar,
    Query(query): Query<Next>,
) -> Result<Response, PageError> {
    if visit.viewer.is_some() {
        return Ok(see_other(own_or_home(&query.next)));
    }
    let is_new = people::nobody_yet(&app).await?;
    offer(&app, &visit, jar, is_new, (&query.next, query.form == "not-kept"), "", &[])
}

pub(crate) async fn enter(
    State(app): State<App>,
    visit: Visit,
    jar: CookieJar,
    typed: Fields,
) -> Result<Response, PageError> {
    let (name, next) = (typed.get("name"), typed.get("next"));
    let is_new = people::nobody_yet(&app).await?;
    let again = |jar, field: &str, words: String| {
        offer(&app, &visit, jar, is_new, (next, false), name, &[FieldError::new(field, words)])
    };
    let known =
        visit_of(&jar, &app).is_some_and(|token| token.derived(PURPOSE) == typed.get("csrf"));
    if !known {
        let words = "This page was open for long, or cookies are off. Type the password once more.";
        return Ok(
            (StatusCode::FORBIDDEN, again(jar, "password", words.to_owned())?).into_response()
        );
    }
    let old = CookieName::Session.read(&jar, &app.config).and_then(|text| Token::read(&text));
    let caller = &visit.asked.caller;
    match sessions::begin(&app, name, typed.get("password"), caller, old.as_ref()).await? {
        SignIn::Done(token) => Ok(welcome(&app, jar, &token, next)),
        SignIn::Wrong => {
            let words = "The name or the password is wrong; type both again.".to_owned();
            Ok((StatusCode::UNAUTHORIZED, again(jar, "password", words)?).into_response())
        }
        SignIn::Wait(seconds) => {
            let words = format!("Too many tries. Wait {} and try again.", in_words(seconds));
            let page = again(jar, "password", words)?;
            let wait = [(header::RETRY_AFTER, HeaderValue::from(seconds))];
            Ok((StatusCode::TOO_MANY_REQUESTS, wait, page).into_response())
        }
    }
}

pub(crate) async fn leave(
    State(app): State<App>,
    viewer: Viewer,
    jar: CookieJar,
) -> Result<Response, PageError> {
    sessions::end(&app, &viewer.session).await?;
    tracing::info!(name = viewer.actor.name, "sign-out");
    let jar =
        jar.add(CookieName::Session.gone(&app.config)).add(CookieName::Held.gone(&app.config));
    // What the browser stored of this service goes with the session, also where scripts are off.
    let clear = [(HeaderName::from_static("clear-site-data"), "\"storage\"")];
    Ok((jar, clear, see_other("/sign-in")).into_response())
}

/// The browser goes on with its new session: to a held form first.
pub(crate) fn welcome(app: &App, jar: CookieJar, token: &Token, next: &str) -> Response {
    let holding = CookieName::Held.read(&jar, &app.config).is_some();
    let next = if holding { "/held" } else { own_or_home(next) };
    let jar = jar
        .add(CookieName::Session.holding(token.show(), &app.config))
        .add(CookieName::Visit.gone(&app.config));
    (jar, see_other(next)).into_response()
}

/// The secret of this browser, and the token that a form made for it carries.
pub(crate) fn visit_of(jar: &CookieJar, app: &App) -> Option<Token> {
    CookieName::Visit.read(jar, &app.config).and_then(|text| Token::read(&text))
}

/// What the token of a form is derived for.
pub(crate) const PURPOSE: &str = "sign-in";

fn offer(
    app: &App,
    visit: &Visit,
    jar: CookieJar,
    is_new: bool,
    (next, not_kept): (&str, bool),
    name: &str,
    errors: &[FieldError],
) -> Result<Response, PageError> {
    let token = visit_of(&jar, app).map_or_else(Token::fresh, Ok)?;
    let mut name_field = FieldView::new("name", "Name").typed(Typed::NAME).must().holding(name);
    let mut password = FieldView::new("password", "Password").typed(Typed::PASSWORD).must();
    if name.is_empty() {
        name_field = name_field.first();
    } else {
        password = password.first();
    }
    let fields = vec![name_field, password.judged(errors)];
    let mut summary = ErrorSummary::of(errors, &fields);
    if !summary.is_empty() {
        "You are not signed in yet".clone_into(&mut summary.heading);
    }
    let mut page = visit.asked.frame("Sign in", Nav::Elsewhere).refusing(!errors.is_empty());
    page.csrf = token.derived(PURPOSE);
    let holding = CookieName::Held.read(&jar, &app.config).is_some();
    let demo = app.config.demo_sign_ins.clone();
    let next = own_or_home(next).to_owned();
    let shown = SignInPage { page, summary, fields, next, holding, not_kept, demo, is_new };
    let jar = jar.add(CookieName::Visit.holding(token.show(), &app.config));
    Ok((jar, Page(shown)).into_response())
}

fn own_or_home(next: &str) -> &str {
    let leads_here = next.starts_with("/sign-in") || next.starts_with("/sign-out");
    if is_own_address(next) && !leads_here { next } else { "/" }
}

fn in_words(seconds: i64) -> String {
    match seconds {
        1 => "a second".to_owned(),
        2..90 => format!("{seconds} seconds"),
        _ => format!("{} minutes", (seconds + 59) / 60),
    }
}
