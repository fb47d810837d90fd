//! Calendar and changes under personal addresses, read only and without a session; and the page on
//! which a person makes, replaces and revokes them.

mod atom;
mod calendar;
mod left;

use askama::Template;
use axum::extract::{Request, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};

use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::{PageError, Problem, once_saved};
use crate::frame::{Nav, PageFrame};
use crate::page::{Done, Page};
use crate::routes::Routes;
use crate::visitor::Viewer;
use app::read::feeds::{self, Feed};
use app::read::views;
use app::{App, feeds as operations};

/// The addresses that need no session.
pub(crate) fn open_routes() -> Routes {
    Routes::of(vec![
        ("/feeds/{secret}/calendar.ics", get(calendar)),
        ("/feeds/{secret}/changes.atom", get(changes)),
    ])
}

pub(crate) fn account_routes() -> Routes {
    Routes::of(vec![
        ("/account/feeds", get(show).post(make)),
        ("/account/feeds/revoke", post(revoke)),
    ])
}

#[derive(Template)]
#[template(path = "people/feeds.html")]
struct FeedsPage {
    page: PageFrame,
    feed: Option<Feed>,
    /// Each saved view with the address of its feed; where that is not shown, with what is added to it.
    views: Vec<(String, String)>,
    /// The addresses, right after they were made: calendar, changes.
    fresh: Option<(String, String)>,
}

async fn show(State(app): State<App>, viewer: Viewer) -> Result<Response, PageError> {
    page(&app, &viewer, None).await
}

async fn page(
    app: &App,
    viewer: &Viewer,
    fresh: Option<(String, String)>,
) -> Result<Response, PageError> {
    let mut db = app.reader().await?;
    let feed = feeds::of_person(&mut db, &viewer.actor.name).await?;
    let changes = fresh.as_ref().map_or("", |(_, changes)| changes.as_str());
    let own = views::of_person(&mut db, &viewer.actor.name).await?;
    let own = own.into_iter().map(|view| {
        let asked = addresses::encoded(view.code.as_str());
        (view.name, format!("{changes}?view={asked}"))
    });
    let views = own.collect();
    let frame = viewer.frame("Calendar and changes", Nav::Elsewhere);
    let mut answer = Page(FeedsPage { page: frame, feed, views, fresh }).into_response();
    // The secret stands on this page alone.
    answer
        .headers_mut()
        .insert(header::CACHE_CONTROL, header::HeaderValue::from_static("no-store"));
    Ok(answer)
}

async fn make(
    State(app): State<App>,
    viewer: Viewer,
    headers: HeaderMap,
    typed: Fields,
) -> Result<Response, PageError> {
    let token = operations::make(&app, &viewer.actor, typed.key().as_ref()).await?;
    let service = addresses::of_service(&app.config, &headers);
    let address = |file: &str| format!("{service}/feeds/{}/{file}", token.show());
    let fresh = Some((address("calendar.ics"), address("changes.atom")));
    once_saved(
        page(&app, &viewer, fresh).await,
        "The addresses were on the page that is missing: \
        under Your account, make new ones.",
    )
}

async fn revoke(State(app): State<App>, viewer: Viewer, typed: Fields) -> Result<Done, PageError> {
    operations::revoke(&app, &viewer.actor, typed.key().as_ref()).await?;
    Ok(Done::to("/account/feeds").saying("Both addresses are revoked; they lead nowhere any more."))
}

fn nowhere() -> Response {
    Problem::of_status(StatusCode::NOT_FOUND).into_response()
}

async fn calendar(
    State(app): State<App>,
    Path(secret): Path<String>,
) -> Result<Response, PageError> {
    if operations::person_of(&app, &secret).await?.is_none() {
        return Ok(nowhere());
    }
    let mut db = app.reader().await?;
    let text = calendar::written(&mut db, app.clock.now(), &app.config.outpost).await?;
    Ok(sent("text/calendar; charset=utf-8", text))
}

async fn changes(
    State(app): State<App>,
    Path(secret): Path<String>,
    request: Request,
) -> Result<Response, PageError> {
    let Some(person) = operations::person_of(&app, &secret).await? else { return Ok(nowhere()) };
    let asked = Fields::read(request.uri().query().unwrap_or_default().as_bytes());
    let mut db = app.reader().await?;
    let view = asked.get("view").trim().to_owned();
    let address = request.uri().to_string();
    let service = addresses::of_service(&app.config, request.headers());
    let (now, outpost) = (app.clock.now(), &app.config.outpost);
    match atom::written(&mut db, &person, (&service, &address), &view, now, outpost).await? {
        Some(text) => Ok(sent("application/atom+xml; charset=utf-8", text)),
        None => Ok(nowhere()),
    }
}

fn sent(media: &'static str, text: String) -> Response {
    let headers = [(header::CONTENT_TYPE, media), (header::CACHE_CONTROL, "no-store")];
    (headers, text).into_response()
}
