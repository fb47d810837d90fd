//! The addresses of papers: the page, the file that needs no network, the plain text.

use std::fmt::Write as _;

use app::read::Connection;
use askama::Template;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use axum::routing::get;

use super::markup::{Body, body};
use super::{
    Paper, Part, Picture, brief, content, finding, flight, flown, handover, lists, plain,
    questions, screen,
};
use crate::assets;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::FieldView;
use crate::frame::{Nav, PageFrame};
use crate::page::{Page, see_other};
use crate::routes::Routes;
use crate::visitor::Viewer;
use app::read::{Contents, Found as _, StoreError};
use app::{App, Failure, Reader};
use domain::excursions::Excursion;
use domain::words::ExcursionState;

#[derive(Template)]
#[template(path = "papers/show.html")]
struct PaperPage {
    page: PageFrame,
    back: (String, String),
    /// Its own address, without what is asked for.
    here: String,
    asks: Vec<FieldView>,
    whole: Option<String>,
    file: String,
    text: Option<String>,
    /// Where only the first rows are shown.
    cut: Option<Cut>,
    body: Body,
}

struct Cut {
    shown: usize,
    all: usize,
    /// Where all of them are shown.
    address: String,
}

/// Which paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Which {
    Actions,
    Statistics,
    Registers,
    Requests,
    Content,
    FailureReport,
    Questions,
    Report,
    Message,
    Brief,
    Handover,
}

impl Which {
    const fn nav(self) -> Nav {
        match self {
            Self::Actions | Self::FailureReport => Nav::Findings,
            Self::Statistics | Self::Registers => Nav::History,
            Self::Requests
            | Self::Content
            | Self::Questions
            | Self::Report
            | Self::Message
            | Self::Brief
            | Self::Handover => Nav::Flights,
        }
    }
}

/// What is asked for: the page, the file, the text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Page,
    File,
    Text,
}

/// Each paper with its address beneath the record that it is about.
const PAPERS: &[(Which, &str)] = &[
    (Which::Actions, "/actions"),
    (Which::Statistics, "/statistics"),
    (Which::Registers, "/registers"),
    (Which::Requests, "/flights/{code}/requests"),
    (Which::Content, "/flights/{code}/content"),
    (Which::FailureReport, "/findings/{code}/report"),
    (Which::Questions, "/excursions/{code}/questions"),
    (Which::Report, "/excursions/{code}/report"),
    (Which::Message, "/excursions/{code}/message"),
    (Which::Brief, "/excursions/{code}/brief"),
    (Which::Handover, "/flights/{code}/handover"),
];

/// Those that can be had as plain text.
const TEXTS: &[Which] =
    &[Which::Questions, Which::Message, Which::Actions, Which::Requests, Which::Handover];

pub(crate) fn routes() -> Routes {
    let all = PAPERS.iter().flat_map(|(which, address)| {
        let text = (*which, Form::Text, format!("{address}.txt"));
        [
            Some((*which, Form::Page, (*address).to_owned())),
            Some((*which, Form::File, format!("{address}.html"))),
            TEXTS.contains(which).then_some(text),
        ]
        .into_iter()
        .flatten()
    });
    all.fold(Routes::of(vec![]), |routes, (which, form, address)| {
        let methods = if address.contains("{code}") {
            get(move |app: State<App>, viewer: Viewer, Path(code): Path<String>| {
                answer(which, form, app, viewer, code)
            })
        } else {
            get(move |app: State<App>, viewer: Viewer| {
                answer(which, form, app, viewer, String::new())
            })
        };
        routes.merge(Routes::of(vec![(address.as_str(), methods)]))
    })
}

async fn read(
    which: Which,
    form: Form,
    db: &mut Reader,
    viewer: &Viewer,
    code: &str,
) -> Result<Paper, Failure> {
    match which {
        Which::Actions => Box::pin(lists::actions(db, viewer, form == Form::Page)).await,
        Which::Statistics => Box::pin(lists::figures(db, viewer)).await,
        Which::Registers => Box::pin(lists::registers(db, viewer)).await,
        Which::Requests => Box::pin(flight::requests(db, viewer, code)).await,
        Which::Content => Box::pin(content::content(db, viewer, code)).await,
        Which::FailureReport => Box::pin(finding::paper(db, viewer, code)).await,
        Which::Questions => Box::pin(questions::questions(db, viewer, code)).await,
        Which::Report => Box::pin(flown::report(db, viewer, code)).await,
        Which::Message => Box::pin(flown::message(db, viewer, code)).await,
        Which::Brief => Box::pin(brief::paper(db, viewer, code)).await,
        Which::Handover => Box::pin(handover::paper(db, viewer, code)).await,
    }
}

/// The paper that takes the place of this one: a brief before an excursion is flown, a report after
/// it.
async fn instead(which: Which, db: &mut Connection, code: &str) -> Result<Option<String>, Failure> {
    if !matches!(which, Which::Brief | Which::Report | Which::Message) {
        return Ok(None);
    }
    let Some(excursion) = Excursion::find(db, code).await? else { return Ok(None) };
    let is_planned = excursion.state == Some(ExcursionState::Planned);
    let other = match (which, is_planned) {
        (Which::Brief, false) => "report",
        (Which::Report | Which::Message, true) => "brief",
        _ => return Ok(None),
    };
    Ok(Some(format!("{}/{other}", crate::addresses::within("excursions", code))))
}

async fn answer(
    which: Which,
    form: Form,
    State(app): State<App>,
    viewer: Viewer,
    code: String,
) -> Result<Response, PageError> {
    let mut db = app.reader().await?;
    if let Some(other) = instead(which, &mut db, &code).await? {
        return Ok(see_other(&other));
    }
    let mut paper = read(which, form, &mut db, &viewer, &code).await?;
    let frame = viewer.frame(paper.heading.clone(), which.nav());
    let asked = frame.address.clone();
    let (address, query) = match asked.split_once('?') {
        Some((address, query)) => (address, format!("?{query}")),
        None => (asked.as_str(), String::new()),
    };
    match form {
        Form::Page => {
            let served = |picture: &Picture| {
                format!("{}/preview", crate::addresses::within("files", &picture.file))
            };
            let all = if Fields::read(query.trim_start_matches('?').as_bytes()).has("paper") {
                None
            } else {
                screen::first_rows(&mut paper, screen::MAX_ROWS)
            };
            let cut = all.map(|all| Cut {
                shown: screen::MAX_ROWS,
                all,
                address: format!(
                    "{address}{}paper=yes",
                    if query.is_empty() { "?".into() } else { query.clone() + "&" }
                ),
            });
            let body = body(&paper, &frame, &served);
            Ok(Page(PaperPage {
                back: paper.back.clone(),
                here: address.to_owned(),
                asks: paper.asks.clone(),
                whole: paper.whole.clone().or_else(|| Some(cut.as_ref()?.address.clone())),
                file: format!("{address}.html{query}"),
                text: TEXTS.contains(&which).then(|| format!("{address}.txt{query}")),
                cut,
                body,
                page: frame,
            })
            .into_response())
        }
        Form::File => {
            let contents = app.db.contents().clone();
            let name = format!("{}.html", paper.file);
            Ok(sent(&name, "text/html; charset=utf-8", alone(&paper, &frame, &contents)?))
        }
        Form::Text => {
            let name = format!("{}.txt", paper.file);
            Ok(sent(&name, "text/plain; charset=utf-8", plain::plain(&paper, &frame)))
        }
    }
}

/// A file to keep.
pub(crate) fn sent(name: &str, media: &'static str, text: String) -> Response {
    let headers = [
        (header::CONTENT_TYPE, media.to_owned()),
        (header::CONTENT_DISPOSITION, format!("attachment; filename=\"{name}\"")),
    ];
    (headers, text).into_response()
}

/// One file with its pictures inside.
fn alone(paper: &Paper, frame: &PageFrame, contents: &Contents) -> Result<String, Failure> {
    let mut embedded = std::collections::BTreeMap::new();
    for picture in pictures(&paper.parts) {
        let bytes = std::fs::read(contents.path(&picture.hash)).map_err(StoreError::from)?;
        embedded.insert(picture.file.clone(), data_address(picture.mime, &bytes));
    }
    let source = |picture: &Picture| embedded.get(&picture.file).cloned().unwrap_or_default();
    let sheet = body(paper, frame, &source);
    Ok(document(&paper.heading, &format!("<article class=\"sheet\" data-paper>{sheet}</article>")))
}

/// A sheet as a file with its style, its fonts and its marks inside: nothing in it points outside
/// itself.
pub(crate) fn document(title: &str, sheet: &str) -> String {
    let mut out = String::with_capacity(200_000);
    let _ = write!(
        out,
        "<!doctype html>\n<html lang=\"en\" data-theme=\"paper\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\
         <title>{}</title><style>{}</style></head><body>{}<main>{sheet}</main></body></html>\n",
        crate::drawings::markup::escaped(title),
        style(),
        include_str!("../../../templates/parts/marks.html"),
    );
    out
}

fn pictures(parts: &[Part]) -> Vec<&Picture> {
    parts
        .iter()
        .flat_map(|part| match part {
            Part::Pictures(all) => all.iter().collect(),
            Part::Pair(left, right) => [pictures(left), pictures(right)].concat(),
            _ => Vec::new(),
        })
        .collect()
}

fn data_address(mime: &str, bytes: &[u8]) -> String {
    format!("data:{mime};base64,{}", base64(bytes))
}

// Source: RFC 4648, section 4 (base 64 encoding), 2006.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for group in bytes.chunks(3) {
        let byte = |at: usize| u32::from(group.get(at).copied().unwrap_or(0));
        let bits = byte(0) << 16 | byte(1) << 8 | byte(2);
        for place in 0..4 {
            if place > group.len() {
                out.push('=');
            } else {
                let letter = usize::try_from(bits >> (18 - 6 * place) & 63).unwrap_or(0);
                out.push(char::from(LETTERS[letter]));
            }
        }
    }
    out
}

/// The style sheet with its Latin fonts inside; the faces for other scripts fall back to those of
/// the reader.
fn style() -> &'static str {
    static STYLE: std::sync::OnceLock<String> = std::sync::OnceLock::new();
    STYLE.get_or_init(|| {
        let css = assets::APP_CSS.rsplit('/').next().and_then(assets::find);
        let css = css.map_or("", |(_, bytes)| std::str::from_utf8(bytes).unwrap_or_default());
        let mut out = String::with_capacity(css.len() * 3);
        for (at, rest) in css.split("url(\"").enumerate() {
            if at == 0 {
                out.push_str(rest);
                continue;
            }
            let (name, rest) = rest.split_once("\")").unwrap_or((rest, ""));
            let is_latin = name.contains("latin-4") || name.contains("latin-6");
            let found = assets::find(name).filter(|_| is_latin);
            let bytes = found.map_or(&[][..], |(_, bytes)| bytes);
            let _ = write!(out, "url(\"{}\")", data_address("font/woff2", bytes));
            out.push_str(rest);
        }
        out
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_are_written_in_base_64() {
        // Source: RFC 4648, section 10 (test vectors), 2006.
        for (plain, encoded) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(plain.as_bytes()), encoded, "{plain}");
        }
        assert_eq!(base64(&[0xfb, 0xff]), "+/8=");
    }

    #[test]
    fn the_style_of_a_file_names_nothing_outside_it() {
        let style = style();
        assert!(style.len() > 50_000, "{}", style.len());
        for part in style.split("url(").skip(1) {
            // A pattern of the page itself, or a font that is written out.
            let inside = part.starts_with('#') || part.starts_with("\"data:");
            assert!(inside, "{}", &part[..40]);
        }
        assert!(!style.contains("@import"));
    }
}
