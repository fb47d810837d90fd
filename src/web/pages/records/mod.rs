//! Making and editing any record, and plain pages for the kinds that have none of their own.

use axum::extract::State;
use axum::routing::get;

use crate::addresses;
use crate::extract::{Fields, Path};
use crate::frame::{Nav, Shelf};
use crate::routes::Routes;
use crate::tables;
use crate::visitor::Viewer;
use app::App;
use domain::kinds::Kind;

pub(crate) mod codes;
mod conflict;
mod form;
pub(crate) mod history;
mod list;
pub(crate) mod offers;
mod show;
mod slip;

pub(crate) use conflict::page as conflict_page;
pub(crate) use show::remedy_refused;

/// The kinds whose page is the plain one of this module, while they are listed elsewhere.
const PLAIN_PAGES: &[Kind] =
    &[Kind::Slot, Kind::Remedy, Kind::Settings, Kind::SuitRates, Kind::Link];

/// The kinds whose list and page are the plain ones of this module.
const PLAIN: &[Kind] = &[
    Kind::Position,
    Kind::Unit,
    Kind::Cause,
    Kind::Attempt,
    Kind::Deferral,
    Kind::Closure,
    Kind::Parking,
    Kind::Reopening,
    Kind::Exemption,
    Kind::Decline,
    Kind::Revision,
    Kind::Rehearsal,
    Kind::Qualification,
    Kind::Arrangement,
    Kind::ExcursionTool,
    Kind::Route,
];

/// The kinds whose lists can be narrowed, and whose files with them.
const NARROWED: &[Kind] = &[
    Kind::Excursion,
    Kind::Family,
    Kind::Finding,
    Kind::Inhibit,
    Kind::OutsideItem,
    Kind::Technique,
    Kind::Tool,
    Kind::Worksite,
];

/// The addresses of every kind, beside those of the pages of their own.
pub(crate) fn routes() -> Routes {
    // Slots have a desk of their own, attempts a form of their own.
    let own = [Kind::Slot, Kind::Attempt];
    let forms = Kind::IMPORTED.iter().filter(|kind| !own.contains(kind));
    let forms = forms.map(|kind| form_routes(*kind));
    let plain = PLAIN.iter().map(|kind| plain_routes(*kind));
    let pages = PLAIN_PAGES.iter().map(|kind| page_route(*kind));
    let whole = Kind::IMPORTED.iter().filter(|kind| !NARROWED.contains(kind));
    let files = whole.map(|kind| file_route(*kind));
    let forms = forms.chain(std::iter::once(edit_route(Kind::File)));
    forms.chain(plain).chain(pages).chain(files).fold(Routes::of(vec![]), Routes::merge)
}

fn file_route(kind: Kind) -> Routes {
    let file = get(move |app: State<App>| tables::whole_kind(kind, app));
    Routes::of(vec![(&tables::address_of(addresses::folder(kind), ""), file)])
}

fn form_routes(kind: Kind) -> Routes {
    let folder = addresses::folder(kind);
    let making = get(move |app: State<App>, viewer: Viewer| form::blank(kind, app, viewer)).post(
        move |app: State<App>, viewer: Viewer, typed: Fields| form::make(kind, app, viewer, typed),
    );
    edit_route(kind).merge(Routes::of(vec![(&format!("/{folder}/new"), making)]))
}

/// The form of a record that is there already; a file is made by sending it in.
fn edit_route(kind: Kind) -> Routes {
    let folder = addresses::folder(kind);
    let editing = get(move |app: State<App>, viewer: Viewer, code: Path<String>| {
        form::filled(kind, app, viewer, code)
    })
    .post(move |app: State<App>, viewer: Viewer, code: Path<String>, typed: Fields| {
        form::edit(kind, app, viewer, code, typed)
    });
    Routes::of(vec![(&format!("/{folder}/{{code}}/edit"), editing)])
}

fn plain_routes(kind: Kind) -> Routes {
    let all = get(move |app: State<App>, viewer: Viewer| list::show(kind, app, viewer));
    page_route(kind).merge(Routes::of(vec![(&format!("/{}", addresses::folder(kind)), all)]))
}

fn page_route(kind: Kind) -> Routes {
    let one = get(move |app: State<App>, viewer: Viewer, code: Path<String>| {
        show::show(kind, app, viewer, code)
    });
    Routes::of(vec![(&format!("/{}/{{code}}", addresses::folder(kind)), one)])
}

/// The entry of the running head to which a kind belongs.
const fn nav(kind: Kind) -> Nav {
    match kind {
        Kind::Task
        | Kind::Link
        | Kind::Attempt
        | Kind::Deferral
        | Kind::Closure
        | Kind::Parking
        | Kind::Reopening
        | Kind::File
        | Kind::Exemption
        | Kind::Decline => Nav::Backlog,
        Kind::Flight | Kind::Excursion | Kind::ExcursionTool => Nav::Flights,
        Kind::Slot => Nav::Slots,
        Kind::Finding | Kind::Remedy => Nav::Findings,
        Kind::Cause => Nav::Library(Shelf::Causes),
        Kind::OutsideItem => Nav::OutsideList,
        Kind::Constraint => Nav::Constraints,
        Kind::Technique | Kind::Revision | Kind::Rehearsal | Kind::Qualification => {
            Nav::Library(Shelf::Techniques)
        }
        Kind::Inhibit | Kind::Arrangement => Nav::Library(Shelf::Inhibits),
        Kind::Tool => Nav::Library(Shelf::Tools),
        Kind::Worksite | Kind::Position | Kind::Route => Nav::Library(Shelf::Worksites),
        Kind::Family | Kind::Unit => Nav::Library(Shelf::Families),
        Kind::Settings | Kind::SuitRates => Nav::Settings,
        Kind::Person | Kind::View => Nav::Elsewhere,
    }
}

/// What the form of a new record does, as its heading and its button say it.
pub(crate) fn add_words(kind: Kind) -> String {
    match kind {
        Kind::Attempt | Kind::Deferral => format!("Record {kind}"),
        Kind::Finding | Kind::Exemption => format!("Write {kind}"),
        Kind::Closure => "Close task".to_owned(),
        Kind::Parking => "Park task".to_owned(),
        Kind::Reopening => "Reopen task".to_owned(),
        kind => format!("Add {kind}"),
    }
}

/// A word as the first of a heading.
fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
