//! Nobody passes who is not signed in, and no form without the token of its session. A form that
//! comes after the session has ended is held until its person is back.

use axum::body::Body;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::cookie::CookieJar;
use http_body_util::BodyExt as _;

use crate::app::tokens::Token;
use crate::app::{App, sessions};
use crate::web::addresses::encoded;
use crate::web::cookies::Crumb;
use crate::web::extract::Fields;
use crate::web::failure::{PageError, Problem};
use crate::web::held_forms::{HeldForm, body_to_hold};
use crate::web::page::see_other;
use crate::web::upload;
use crate::web::visitor::{Viewer, Visit};

/// The layer around every page that needs a person: deny by default.
pub(crate) async fn guard(State(app): State<App>, request: Request, next: Next) -> Response {
    let Some(visit) = request.extensions().get::<Visit>().cloned() else {
        tracing::error!("the guard stands outside the layer that looks sessions up");
        return Problem::ours().into_response();
    };
    let outcome = match (&visit.viewer, request.method().is_safe()) {
        (Some(_), true) => Ok(next.run(request).await),
        (None, true) => Ok(to_sign_in(&visit.asked.address)),
        (Some(viewer), false) => take(&app, viewer, request, next).await,
        (None, false) => hold(&app, &visit, request).await,
    };
    outcome.unwrap_or_else(IntoResponse::into_response)
}

/// Lets a form pass that carries the token of this session.
async fn take(
    app: &App,
    viewer: &Viewer,
    request: Request,
    next: Next,
) -> Result<Response, PageError> {
    if upload::is_upload(request.headers()) {
        let (token, request) = upload::peek(request).await?;
        if !viewer.sent(&token) {
            return Err(stale().into());
        }
        return Ok(next.run(request).await);
    }
    let action = viewer.address().to_owned();
    let jar = CookieJar::from_headers(request.headers());
    let held = Crumb::Held.read(&jar, &app.config).and_then(|text| Token::read(&text));
    let (typed, request) = read(request).await?;
    let mut response = if viewer.sent(typed.get("csrf")) {
        next.run(request).await
    } else {
        tracing::warn!(name = viewer.actor.name, "form refused: the token is not of its session");
        stale().into_response()
    };
    if response.extensions().get::<Problem>().is_some() {
        response.extensions_mut().insert(HeldForm::new(action, &typed));
    } else if let Some(token) = held
        && let Some(form) = sessions::held(app, &token, &viewer.actor.name).await?
        && form.path == action
    {
        // The form that waited has been taken.
        sessions::let_go(app, &token).await?;
        return Ok((jar.add(Crumb::Held.gone(&app.config)), response).into_response());
    }
    Ok(response)
}

/// A form made in another session: it is shown again, to be sent from this one.
fn stale() -> Problem {
    Problem::new(
        StatusCode::FORBIDDEN,
        "This form was made before you signed in",
        "It belongs to another session, so it was not taken. If you sent it yourself, look it over \
         and send it again; if not, leave it.",
    )
}

/// Keeps a form of somebody whose session has ended, and asks them to sign in.
async fn hold(app: &App, visit: &Visit, request: Request) -> Result<Response, PageError> {
    let page = upload::is_upload(request.headers());
    if is_script(request.headers()) {
        return Err(Problem::new(
            StatusCode::UNAUTHORIZED,
            "Your session has ended",
            "Sign in again; what you typed is still on the page.",
        )
        .into());
    }
    let jar = CookieJar::from_headers(request.headers());
    if page || request.method() != Method::POST || visit.asked.address.starts_with("/sign-out") {
        return Ok(to_sign_in("/"));
    }
    let (typed, _) = read(request).await?;
    let body = body_to_hold(&typed);
    if body.is_empty() {
        return Ok(to_sign_in("/"));
    }
    let token = sessions::hold(app, visit.ended.clone(), visit.asked.address.clone(), body).await?;
    tracing::info!(path = visit.asked.address, "form held");
    let jar = jar.add(Crumb::Held.holding(token.show(), &app.config));
    Ok((jar, to_sign_in("/held")).into_response())
}

fn to_sign_in(next: &str) -> Response {
    if next == "/" {
        return see_other("/sign-in");
    }
    see_other(&format!("/sign-in?next={}", encoded(next)))
}

/// A script of ours asks in the background; it cannot follow to a sign-in page.
fn is_script(headers: &HeaderMap) -> bool {
    headers.get("sec-fetch-mode").is_some_and(|mode| mode != "navigate")
}

/// Reads a form's body and gives the request back whole.
async fn read(request: Request) -> Result<(Fields, Request), PageError> {
    let form = request
        .headers()
        .get(header::CONTENT_TYPE)
        .and_then(|kind| kind.to_str().ok())
        .is_some_and(|kind| kind.starts_with("application/x-www-form-urlencoded"));
    let (parts, body) = request.into_parts();
    let bytes = match body.collect().await {
        Ok(collected) => collected.to_bytes(),
        Err(cause) => return Err(Problem::of_body(&cause).into()),
    };
    let typed = if form { Fields::read(&bytes) } else { Fields::default() };
    Ok((typed, Request::from_parts(parts, Body::from(bytes))))
}
