//! Nobody passes who is not signed in, no form without the token of its session, and no request
//! beyond the bounds. A form that comes after a session has ended is kept until its person is back;
//! a form of somebody unknown is never kept.

use axum::body::Body;
use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderMap, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::cookie::CookieJar;
use http_body_util::{BodyExt as _, Limited};

use crate::addresses::encoded;
use crate::cookies::CookieName;
use crate::doors;
use crate::extract::Fields;
use crate::failure::{PageError, Problem, taken_before};
use crate::held_forms::{HeldForm, body_to_hold};
use crate::page::see_other;
use crate::received::not_taken;
use crate::upload;
use crate::visitor::{Viewer, Visit};
use app::read::forms;
use app::tokens::Token;
use app::work::FormKey;
use app::{App, Failure, sessions};
use domain::bounds::{
    MAX_FIELD_BYTES, MAX_FORM_FIELDS, MAX_HELD_BYTES, MAX_QUERY_BYTES, refuses_search,
};

/// The layer around every page that needs a person: deny by default.
pub(crate) async fn guard(State(app): State<App>, request: Request, next: Next) -> Response {
    let Some(visit) = request.extensions().get::<Visit>().cloned() else {
        tracing::error!("the guard stands outside the layer that looks sessions up");
        return Problem::ours().into_response();
    };
    if let Some(problem) = beyond_bounds(request.uri().query().unwrap_or("")) {
        return problem.into_response();
    }
    let safe = request.method().is_safe();
    let outcome = match (&visit.viewer, safe) {
        (Some(_), true) => Ok(next.run(request).await),
        (None, true) => Ok(to_sign_in(&visit.asked.address)),
        (Some(viewer), false) => take(&app, viewer, request, next).await,
        (None, false) => hold(&app, &visit, request).await,
    };
    let response = outcome.unwrap_or_else(IntoResponse::into_response);
    if response.status() == StatusCode::FORBIDDEN
        && let Some(Viewer { actor, .. }) = &visit.viewer
    {
        tracing::warn!(name = actor.name, role = actor.role.word(), "refused: not allowed");
    }
    if !safe && response.status().is_client_error() {
        let role = visit.viewer.as_ref().map_or("", |viewer| viewer.actor.role.word());
        let problem = response.extensions().get::<Problem>();
        let why = problem.map(Problem::reason).unwrap_or_default();
        tracing::info!(role, status = response.status().as_u16(), why, "form not taken");
    }
    response
}

/// Why an address is refused before a page looks at it.
fn beyond_bounds(query: &str) -> Option<Problem> {
    if query.len() > MAX_QUERY_BYTES {
        let words = format!(
            "The part of the address after the question mark has {} bytes; at most \
             {MAX_QUERY_BYTES} are read. Use fewer filters or shorter words.",
            query.len()
        );
        return Some(Problem::new(StatusCode::URI_TOO_LONG, "This address is too long", words));
    }
    let asked = Fields::read(query.as_bytes());
    let why = asked.all("q").find_map(refuses_search)?;
    Some(Problem::new(StatusCode::BAD_REQUEST, "This search is too long", why))
}

/// Why a form is refused before a page looks at it.
fn too_many_fields(body: &[u8]) -> Option<Problem> {
    let fields = body.split(|byte| *byte == b'&').filter(|field| !field.is_empty()).count();
    (fields > MAX_FORM_FIELDS).then(|| {
        let words = format!(
            "It has {fields} fields; at most {MAX_FORM_FIELDS} are read. Nothing was changed. Send \
             it in parts."
        );
        Problem::new(StatusCode::PAYLOAD_TOO_LARGE, "This form has too many fields", words)
    })
}

fn field_too_long(typed: &Fields) -> Option<Problem> {
    let (name, _) = typed.0.iter().find(|(_, value)| value.len() > MAX_FIELD_BYTES)?;
    Some(Problem::field_too_long(name))
}

/// Lets a form pass that carries the token of this session.
async fn take(
    app: &App,
    viewer: &Viewer,
    request: Request,
    next: Next,
) -> Result<Response, PageError> {
    let route = request.extensions().get::<MatchedPath>();
    let refused = doors::refuses(viewer.actor.role, route.map_or("", MatchedPath::as_str));
    let allowed = || refused.map_or(Ok(()), |why| Err(PageError::from(Failure::Forbidden(why))));
    if upload::is_upload(request.headers()) {
        allowed()?;
        let (token, request) = upload::peek(request).await?;
        let _place = app.uploads.place().await?;
        if !viewer.sent(&token) {
            not_of_its_session(viewer);
            if !holds_text(viewer.address()) {
                return Err(stale().into());
            }
            return not_taken(app, viewer, request, stale().into()).await;
        }
        return Ok(next.run(request).await);
    }
    let action = viewer.address().to_owned();
    let jar = CookieJar::from_headers(request.headers());
    let held = CookieName::Held.read(&jar, &app.config).and_then(|text| Token::read(&text));
    let (typed, request) = read(app.config.form_limit, request).await?;
    let mut response = if viewer.sent(typed.get("csrf")) {
        match allowed() {
            Ok(()) => next.run(request).await,
            Err(refused) => refused.into_response(),
        }
    } else {
        not_of_its_session(viewer);
        if let Some(answer) = taken(app, &typed, &viewer.actor.name).await? {
            return Ok(taken_before(&answer));
        }
        stale().into_response()
    };
    if response.extensions().get::<Problem>().is_some() {
        response.extensions_mut().insert(HeldForm::new(action, &typed));
    } else if let Some(token) = held {
        // The form was taken, so nothing that fails from here on may say otherwise.
        match no_longer_held(app, viewer, &token, &action).await {
            Ok(true) => {
                return Ok((jar.add(CookieName::Held.gone(&app.config)), response).into_response());
            }
            Ok(false) => {}
            Err(cause) => tracing::warn!(%cause, "a form that was taken is held until its time"),
        }
    }
    Ok(response)
}

/// Lets go of the form that waited, once it was taken.
async fn no_longer_held(
    app: &App,
    viewer: &Viewer,
    token: &Token,
    action: &str,
) -> Result<bool, Failure> {
    let form = sessions::held(app, token, &viewer.actor.name).await?;
    let is_taken = form.is_some_and(|form| form.path == action);
    if is_taken {
        sessions::discard(app, token).await?;
    }
    Ok(is_taken)
}

fn not_of_its_session(viewer: &Viewer) {
    tracing::warn!(name = viewer.actor.name, "form refused: the token is not of its session");
}

/// Where a form led that this person sent before and that was taken then.
pub(crate) async fn taken(
    app: &App,
    typed: &Fields,
    person: &str,
) -> Result<Option<String>, PageError> {
    let Some(FormKey(key)) = typed.key() else { return Ok(None) };
    Ok(forms::answer(&mut *app.reader().await?, &key, person).await?)
}

/// A form made in another session: it is shown again, to be sent from this one.
fn stale() -> Problem {
    let problem = Problem::new(
        StatusCode::FORBIDDEN,
        "This form was made before you signed in",
        "It belongs to another session, so nothing was changed. If you sent it yourself, check it \
         and send it again; if not, close this page.",
    );
    Problem { is_of_session: true, ..problem }
}

/// Keeps a form of a person whose session has ended, where it is small, and asks them to sign in. Of
/// somebody unknown nothing is kept: the browser has what was typed.
async fn hold(app: &App, visit: &Visit, request: Request) -> Result<Response, PageError> {
    if is_script(request.headers()) {
        let problem = Problem::new(
            StatusCode::UNAUTHORIZED,
            "Your session has ended",
            "Sign in again; what you typed is still on the page.",
        );
        return Err(Problem { is_of_session: true, ..problem }.into());
    }
    let is_upload = upload::is_upload(request.headers());
    if is_upload && holds_text(&visit.asked.address) {
        return Ok(not_kept());
    }
    if is_upload || request.method() != Method::POST || visit.asked.address.starts_with("/sign-out")
    {
        return Ok(to_sign_in("/"));
    }
    let Some(person) = visit.ended.clone() else { return Ok(not_kept()) };
    let jar = CookieJar::from_headers(request.headers());
    let route = request.extensions().get::<MatchedPath>().cloned();
    let (typed, _) = read(app.config.form_limit, request).await?;
    if let Some(answer) = taken(app, &typed, &person).await? {
        // It was saved while the session lasted; after signing in its answer is shown.
        return Ok(to_sign_in(&answer));
    }
    let body = body_to_hold(&typed);
    if body.is_empty() {
        return Ok(to_sign_in("/"));
    }
    if body.len() > MAX_HELD_BYTES {
        return Ok(not_kept());
    }
    let token = sessions::hold(app, person, visit.asked.address.clone(), body).await?;
    tracing::info!(route = route.as_ref().map_or("", MatchedPath::as_str), "form kept");
    let jar = jar.add(CookieName::Held.holding(token.show(), &app.config));
    Ok((jar, to_sign_in("/held")).into_response())
}

/// The sign-in page, which says that the form was not taken and where what was typed still is.
fn not_kept() -> Response {
    see_other("/sign-in?form=not-kept")
}

/// Forms of several parts in which more is typed than a file is chosen.
fn holds_text(address: &str) -> bool {
    !address.starts_with("/files") && !address.starts_with("/import")
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

/// Reads a form's body and gives the request back whole. A form without files has a smaller limit
/// than a page that takes files.
async fn read(most: usize, request: Request) -> Result<(Fields, Request), PageError> {
    let form = request
        .headers()
        .get(header::CONTENT_TYPE)
        .and_then(|kind| kind.to_str().ok())
        .is_some_and(|kind| kind.starts_with("application/x-www-form-urlencoded"));
    let (parts, body) = request.into_parts();
    let bytes = match Limited::new(body, most).collect().await {
        Ok(collected) => collected.to_bytes(),
        Err(cause) => {
            let problem = Problem::of_body(&*cause);
            let lacks = problem.lacks_its_bound();
            return Err(if lacks { Problem::too_large(most) } else { problem }.into());
        }
    };
    let mut typed = Fields::default();
    if form {
        if let Some(problem) = too_many_fields(&bytes) {
            return Err(problem.into());
        }
        typed = Fields::read(&bytes);
        if let Some(problem) = field_too_long(&typed) {
            return Err(problem.into());
        }
    }
    Ok((typed, Request::from_parts(parts, Body::from(bytes))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_and_a_form_beyond_their_bounds_are_refused_with_the_bound() {
        assert!(beyond_bounds("q=bolt&page=2").is_none());
        let long = beyond_bounds(&format!("q={}", "a".repeat(MAX_QUERY_BYTES))).unwrap();
        assert!(long.words.contains("at most 4096"), "{}", long.words);
        let word = beyond_bounds(&format!("q=bolt&q={}", "a".repeat(61))).unwrap();
        assert!(word.words.contains("at most 60"), "{}", word.words);
        let fields = "a=1&".repeat(MAX_FORM_FIELDS);
        assert!(too_many_fields(fields.as_bytes()).is_none());
        let many = too_many_fields(format!("{fields}b=2").as_bytes()).unwrap();
        assert!(many.words.contains("at most 20000"), "{}", many.words);
        let typed = Fields(vec![("notes".to_owned(), "a".repeat(MAX_FIELD_BYTES + 1))]);
        assert!(field_too_long(&typed).unwrap().words.contains("“notes”"));
    }
}
