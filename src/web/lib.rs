//! Pages over HTTP: the whole table of routes, and the layers around them.

use axum::Router;
use axum::extract::DefaultBodyLimit;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::middleware::{from_fn_with_state, map_response};
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use tower_http::limit::RequestBodyLimitLayer;

use crate::extract::Path;
use crate::failure::{PageError, Problem};
use crate::pages::{
    account, affected, attempts, changes, constraints, day, debrief, excursions, files, findings,
    flights, held, history, home, import, library, links, open, outside, people, plan, records,
    search, settings, sign_in, sisters, slots, tasks, welcome, words,
};
use crate::routes::Routes;
use app::App;

pub mod addresses;
pub mod assets;
pub mod cookies;
mod doors;
pub mod drawings;
mod error_pages;
pub mod extract;
pub mod failure;
mod feeds;
pub mod forms;
pub mod frame;
mod guard;
mod health;
pub mod held_forms;
mod linked;
pub mod marks;
mod middleware;
pub mod page;
pub mod pages;
mod papers;
mod parts;
mod quiet;
pub(crate) mod received;
mod routes;
pub mod serve;
mod shortened;
mod side_by_side;
mod tables;
mod upload;
mod values;
pub mod visitor;
mod workbook;
mod write_timeout;

pub use crate::middleware::POLICY;

const HTML: &[u8] = b"text/html; charset=utf-8";
/// A form to sign in with is small.
const SIGN_IN_LIMIT: usize = 16 * 1024;

/// Everything the service answers.
pub fn router(app: App) -> Router {
    let (mut plain, mut pages) = (Router::new(), Router::new());
    for (kept, routes) in table() {
        let limit = match kept {
            KeptFor::Anyone => {
                plain = plain.merge(routes.router());
                continue;
            }
            KeptFor::Strangers => {
                pages = pages.merge(with_limit(SIGN_IN_LIMIT, routes.router()));
                continue;
            }
            KeptFor::People => app.config.form_limit,
            KeptFor::Tables => 2 * app.config.table_limit,
            KeptFor::Files => 2 * app.config.file_limit,
        };
        let guarded = routes.router().route_layer(from_fn_with_state(app.clone(), guard::guard));
        pages = pages.merge(with_limit(limit, guarded));
    }
    let pages = middleware::around_pages(&app, pages.fallback(nothing_here));
    middleware::around_all(&app, plain.merge(pages)).with_state(app)
}

/// For whom a part of the table is, and so what stands around it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum KeptFor {
    Anyone,
    /// Who is not signed in.
    Strangers,
    /// Who is signed in; the last two send tables and files.
    People,
    Tables,
    Files,
}

/// The whole table of routes.
fn table() -> [(KeptFor, Routes); 5] {
    [
        (KeptFor::Anyone, plain()),
        (KeptFor::Strangers, open_pages()),
        (KeptFor::People, signed_in_pages()),
        (KeptFor::Tables, table_pages()),
        (KeptFor::Files, file_pages()),
    ]
}

/// Every address that the service answers, with its variable parts in braces: for whoever goes
/// through all of them.
pub fn addresses_answered() -> Vec<String> {
    let mut all: Vec<String> =
        table().into_iter().flat_map(|(_, routes)| routes.addresses()).collect();
    all.sort();
    all.dedup();
    all
}

/// What is no page: the state of the service, and its static files.
fn plain() -> Routes {
    Routes::of(vec![
        ("/healthz", get(health::healthz)),
        ("/readyz", get(health::readyz)),
        ("/static/{name}", get(asset)),
    ])
}

/// Pages for people who are not signed in.
fn open_pages() -> Routes {
    Routes::of(vec![
        ("/sign-in", get(sign_in::show).post(sign_in::enter)),
        ("/welcome/{link}", get(welcome::show).post(welcome::choose)),
    ])
    .merge(feeds::open_routes())
}

/// Pages that need a person. The guard stands before all of them.
fn signed_in_pages() -> Routes {
    Routes::of(vec![
        ("/", get(home::show)),
        ("/looked", post(home::looked)),
        ("/today/all", get(home::all)),
        ("/plan", get(plan::show)),
        ("/words", get(words::show)),
        ("/note.txt", get(words::note)),
        ("/learn", get(async || page::see_other("/findings"))),
        ("/library", get(async || page::see_other("/techniques"))),
        ("/changes", get(changes::list)),
        ("/constraints", get(constraints::list)),
        ("/constraints/{code}", get(constraints::show)),
        ("/constraints/{code}/lift", post(constraints::lift)),
        ("/constraints/{code}/put-back", post(constraints::put_back)),
        ("/codes/check", get(records::codes::check)),
        ("/findings", get(findings::list)),
        ("/findings/causes", get(findings::causes)),
        ("/findings/{code}", get(findings::show)),
        ("/findings/{code}/review", post(findings::review)),
        ("/exemptions/{code}/review", post(findings::review_exemption)),
        ("/declined-offers/{code}/undo", post(sisters::undo)),
        ("/remedies/{code}/move", post(findings::move_remedy)),
        ("/files/{code}", get(files::show)),
        ("/files/{code}/content", get(files::content)),
        ("/files/{code}/preview", get(files::preview)),
        ("/files/{code}/remove", post(files::remove)),
        ("/files/put-back/{entry}", post(files::put_back)),
        ("/history", get(history::list)),
        ("/history/reached", get(day::replayed::show)),
        ("/links", get(links::list)),
        ("/outside", get(outside::list)),
        ("/outside/settle", post(outside::settle)),
        ("/outside/{code}", get(outside::show)),
        ("/outside/{code}/task", post(outside::make_task)),
        ("/outside/{code}/end", post(outside::end)),
        ("/open", get(open::list).post(open::together::ask)),
        ("/open/together", post(open::together::run)),
        ("/parkings/{codes}/undo", post(open::together::undo_parkings)),
        ("/open/views", post(open::keep_view)),
        ("/open/views/{code}/remove", post(open::drop_view)),
        ("/flights", get(flights::list)),
        ("/flights/{code}", get(flights::show)),
        ("/search", get(search::show)),
        ("/sign-out", post(sign_in::leave)),
        ("/held", get(held::show)),
        ("/held/discard", post(held::discard)),
        ("/account", get(account::show)),
        ("/account/password", post(account::change_password)),
        ("/account/theme", post(account::set_theme)),
        ("/account/sessions/end", post(account::end_session)),
        ("/account/sessions/end-others", post(account::end_others)),
        ("/settings", get(settings::show)),
        ("/settings/suits/accept", post(settings::accept)),
        ("/settings/figures/accept", post(settings::accept_default)),
        ("/slots", get(slots::show).post(slots::desk::plan)),
        ("/slots/get-ahead", get(slots::ahead::show)),
        ("/slots/new", get(slots::desk::to_matrix).post(slots::desk::plan)),
        ("/slots/{code}/edit", get(slots::desk::to_excursion).post(slots::desk::edit)),
        ("/slots/{code}/if-then", get(slots::if_then::show).post(slots::desk::if_then)),
        ("/slots/{code}/{act}", post(slots::desk::act)),
        ("/attempts/{code}/finding", get(attempts::finding::blank).post(attempts::finding::write)),
        ("/attempts/{code}/withdraw", post(attempts::withdraw)),
        ("/tasks", get(tasks::all)),
        ("/tasks/{code}", get(tasks::show)),
        ("/tasks/{code}/events", get(tasks::happened::show)),
        ("/tasks/{code}/condition-met", post(tasks::condition_met)),
        ("/people", get(people::list).post(people::add)),
        ("/people/{name}/role", post(people::set_role)),
        ("/people/{name}/active", post(people::set_active)),
        ("/people/{name}/reset", post(people::reset)),
    ])
    .merge(former_addresses())
    .merge(excursion_pages())
    .merge(library_pages())
    .merge(lists_to_download())
    .merge(records::routes())
    .merge(papers::routes())
    .merge(feeds::account_routes())
    .with_workbooks()
}

/// Addresses that forms had until their words were replaced: a page that was open meanwhile still
/// sends there.
fn former_addresses() -> Routes {
    Routes::of(vec![
        ("/declined-offers/{code}/take-back", post(sisters::undo)),
        ("/tasks/{code}/trigger", post(tasks::condition_met)),
        ("/revisions/{code}/take-back", post(library::revisions::undo)),
        ("/excursions/{code}/debrief/take-back", post(debrief::undo)),
    ])
}

/// What a narrowed list shows, as a file; whole kinds stand beside their records.
fn lists_to_download() -> Routes {
    Routes::of(vec![
        ("/affected.csv", get(affected::file)),
        ("/changes.csv", get(changes::file)),
        ("/findings.csv", get(findings::file)),
        ("/history.csv", get(history::file)),
        ("/open.csv", get(open::file)),
        ("/outside.csv", get(outside::file)),
        ("/people.csv", get(people::file)),
        ("/excursions.csv", get(excursions::file)),
        ("/worksites.csv", get(library::worksites_file)),
        ("/techniques.csv", get(library::techniques_file)),
        ("/tools.csv", get(library::tools_file)),
        ("/families.csv", get(library::families_file)),
        ("/inhibits.csv", get(library::inhibits_file)),
    ])
}

/// What the team keeps: worksites, techniques with their revisions, tools, families.
fn library_pages() -> Routes {
    Routes::of(vec![
        ("/worksites", get(library::worksites::list)),
        ("/worksites/{code}", get(library::worksites::show)),
        ("/techniques", get(library::techniques::list)),
        ("/techniques/{code}", get(library::techniques::show)),
        ("/techniques/{code}/compare", get(library::compare::compare)),
        ("/techniques/{code}/revise", get(library::revisions::ask).post(library::revisions::make)),
        ("/revisions/{code}/clear", post(library::revisions::clear)),
        ("/revisions/{code}/undo", post(library::revisions::undo)),
        ("/tools", get(library::tools::list)),
        ("/tools/{code}", get(library::tools::show)),
        ("/families", get(library::families::list)),
        ("/families/{code}", get(library::families::show)),
        ("/families/{code}/affected", get(affected::of_one)),
        ("/affected", get(affected::all)),
        ("/inhibits", get(library::inhibits::list)),
        ("/inhibits/{code}", get(library::inhibits::show)),
    ])
}

/// One excursion, planned and flown.
fn excursion_pages() -> Routes {
    Routes::of(vec![
        ("/excursions", get(excursions::list)),
        ("/excursions/{code}", get(excursions::show)),
        ("/excursions/{code}/slots", post(slots::desk::plan_on)),
        ("/excursions/{code}/slots/{slot}/{act}", post(slots::desk::act_on)),
        ("/excursions/{code}/undo/{number}", post(slots::desk::undo)),
        ("/excursions/{code}/inhibits", post(excursions::acts::arrange)),
        ("/excursions/{code}/call-off", post(excursions::acts::call_off)),
        ("/excursions/{code}/flown", post(excursions::acts::mark_flown)),
        ("/excursions/{code}/words", get(excursions::acts::use_words)),
        ("/excursions/{code}/day", get(day::show).post(day::press)),
        ("/excursions/{code}/day/press", post(day::press_quietly)),
        ("/excursions/{code}/day/state", get(day::state)),
        ("/excursions/{code}/late-card", get(day::card::show)),
        ("/excursions/{code}/late-card.html", get(day::card::file)),
        ("/excursions/{code}/practice", post(day::practice::begin)),
        ("/excursions/{code}/practice/{run}", get(day::practice::show).post(day::practice::press)),
        ("/excursions/{code}/practice/{run}/press", post(day::practice::press_quietly)),
        ("/excursions/{code}/practice/{run}/state", get(day::practice::state)),
        ("/excursions/{code}/practice/{run}/debrief", get(day::practice::debrief)),
        ("/excursions/{code}/practice/{run}/discard", post(day::practice::discard)),
        ("/excursions/{code}/debrief/rows", post(debrief::save_quietly)),
        ("/excursions/{code}/debrief/undo", post(debrief::undo)),
        ("/excursions/{code}/debrief/reopen", post(debrief::reopen)),
    ])
}

/// Pages that take whole tables, with a limit of their own. What is somewhat too large is still read,
/// to be answered in words.
fn table_pages() -> Routes {
    Routes::of(vec![
        ("/import", get(import::show).post(import::send)),
        ("/import/{code}", get(import::look).post(import::take)),
        ("/import/{code}/under-way", get(import::look_how_far)),
        ("/import/{code}/stop", post(import::stop)),
        ("/import/{code}/kind", post(import::say_kind)),
    ])
}

/// The pages that take photographs and files. What is somewhat too large is still read, to be
/// answered in words.
fn file_pages() -> Routes {
    Routes::of(vec![
        ("/files/new", get(files::show_form).post(files::send)),
        ("/excursions/{code}/debrief", get(debrief::show).post(debrief::save)),
        ("/attempts/new", get(attempts::blank).post(attempts::record)),
        ("/attempts/{code}/edit", get(attempts::filled).post(attempts::correct)),
    ])
}

/// The limit binds whoever reads the body, the guard first; axum's own would bind too early.
fn with_limit(limit: usize, pages: Router<App>) -> Router<App> {
    let named = move |response: Response| async move { name_the_limit(limit, response) };
    pages
        .layer(DefaultBodyLimit::disable())
        .layer(RequestBodyLimitLayer::new(limit))
        .layer(map_response(named))
}

/// Says how much may be sent where a library refused what was sent.
fn name_the_limit(limit: usize, mut response: Response) -> Response {
    let is_ours = match response.extensions().get::<Problem>() {
        Some(problem) => !problem.lacks_its_bound(),
        None => response.headers().get(CONTENT_TYPE).is_some_and(|it| it.as_bytes() == HTML),
    };
    if response.status() == StatusCode::PAYLOAD_TOO_LARGE && !is_ours {
        response.extensions_mut().insert(Problem::too_large(limit));
    }
    response
}

async fn nothing_here() -> Problem {
    Problem::of_status(StatusCode::NOT_FOUND)
}

/// A static file. Its name changes with its content, so a browser may keep it for ever.
async fn asset(Path(name): Path<String>) -> Result<Response, PageError> {
    use axum::http::header::CACHE_CONTROL;
    let Some((kind, bytes)) = assets::find(&name) else {
        return Ok((StatusCode::NOT_FOUND, "There is no such file.\n").into_response());
    };
    let kept = "public, max-age=31536000, immutable";
    Ok(([(CONTENT_TYPE, kind), (CACHE_CONTROL, kept)], bytes).into_response())
}

#[cfg(test)]
mod tests {
    use domain::kinds::Kind;
    use domain::new_codes::is_of_an_address;

    /// A record whose code is a fixed part of an address could not be opened.
    #[test]
    fn no_fixed_part_of_an_address_can_be_a_code() {
        let mut checked = 0;
        for route in include_str!("lib.rs").split("(\"/").skip(1) {
            let route = route.split('"').next().unwrap_or_default();
            let mut parts = route.split('/');
            let (Some(folder), Some(part)) = (parts.next(), parts.next()) else { continue };
            let holds_codes =
                Kind::ALL.iter().any(|kind| super::addresses::folder(*kind) == folder);
            if holds_codes && !part.starts_with('{') {
                assert!(is_of_an_address(part), "{part} beneath /{folder} can be a code");
                checked += 1;
            }
        }
        assert!(checked >= 5, "{checked}");
    }
}
