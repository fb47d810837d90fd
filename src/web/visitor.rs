//! Who asks. One layer around all pages looks the session up before, and afterwards draws the page
//! of whatever went wrong within.

use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::sync::atomic::{AtomicU64, Ordering};

use axum::extract::{ConnectInfo, FromRequestParts, MatchedPath, Request, State};
use axum::http::request::Parts;
use axum::http::{HeaderMap, HeaderValue, Method, StatusCode, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use axum_extra::extract::cookie::CookieJar;
use sha2::{Digest, Sha256};

use crate::cookies::CookieName;
use crate::error_pages;
use crate::failure::{PageError, Problem};
use crate::frame::{Nav, Notice, PageFrame, Who};
use app::sessions::{self, Caller, SessionState};
use app::tokens::{Token, hex};
use app::{Actor, App};
use domain::bounds::MAX_BACK_BYTES;
use domain::time::Moment;
use domain::words::Theme;

/// A person signed in, as a handler asks for them: `viewer: Viewer`.
#[derive(Debug, Clone)]
pub struct Viewer {
    pub actor: Actor,
    /// The last change this person has looked at.
    pub seen_change: i64,
    /// The hash of the session's token.
    pub session: Vec<u8>,
    csrf: String,
    theme: Theme,
    asked: RequestFacts,
}

/// What is known of any request to a page.
#[derive(Debug, Clone)]
pub struct RequestFacts {
    pub caller: Caller,
    pub now: Moment,
    /// Path and query.
    pub address: String,
    /// Whether the request asks for a change.
    pub is_write: bool,
    outpost: String,
    notice: Option<Notice>,
}

/// What the layer found; the guard and the sign-in page read it.
#[derive(Debug, Clone)]
pub(crate) struct Visit {
    pub asked: RequestFacts,
    pub viewer: Option<Viewer>,
    /// Whose session has ended, where the browser still holds its cookie.
    pub ended: Option<String>,
}

impl Viewer {
    /// The frame of a page for this person.
    pub fn frame(&self, title: impl Into<String>, here: Nav) -> PageFrame {
        let mut frame = self.asked.frame(title, here);
        frame.who = Some(Who { name: self.actor.name.clone(), role: self.actor.role });
        frame.theme = self.theme;
        frame.csrf.clone_from(&self.csrf);
        frame.form_key = form_key(&self.csrf, self.asked.now);
        frame
    }

    pub(crate) const fn caller_address(&self) -> IpAddr {
        self.asked.caller.address
    }

    pub const fn now(&self) -> Moment {
        self.asked.now
    }

    /// Path and query, as asked.
    pub fn address(&self) -> &str {
        &self.asked.address
    }

    pub(crate) const fn theme(&self) -> Theme {
        self.theme
    }

    /// Whether a form carries the token of this session.
    pub(crate) fn sent(&self, csrf: &str) -> bool {
        use subtle::ConstantTimeEq as _;
        self.csrf.as_bytes().ct_eq(csrf.as_bytes()).into()
    }
}

impl RequestFacts {
    /// The frame of a page for somebody who is not signed in.
    pub fn frame(&self, title: impl Into<String>, here: Nav) -> PageFrame {
        let mut frame = PageFrame::new(title, here, self.now).at(self.address.clone());
        frame.outpost.clone_from(&self.outpost);
        frame.notice.clone_from(&self.notice);
        frame
    }
}

/// Differs with every rendering. It need not be secret, only never the same twice.
fn form_key(csrf: &str, now: Moment) -> String {
    static COUNT: AtomicU64 = AtomicU64::new(0);
    let mut hasher = Sha256::new();
    hasher.update(csrf);
    hasher.update(now.0.to_be_bytes());
    hasher.update(COUNT.fetch_add(1, Ordering::Relaxed).to_be_bytes());
    hasher.update(std::process::id().to_be_bytes());
    hex(&hasher.finalize()[..16])
}

impl<S: Send + Sync> FromRequestParts<S> for Viewer {
    type Rejection = PageError;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, PageError> {
        let visit = parts.extensions.get::<Visit>();
        visit.and_then(|visit| visit.viewer.clone()).ok_or_else(|| {
            tracing::error!(path = parts.uri.path(), "a page that needs a person is not guarded");
            Problem::ours().into()
        })
    }
}

impl<S: Send + Sync> FromRequestParts<S> for Visit {
    type Rejection = PageError;

    async fn from_request_parts(parts: &mut Parts, _: &S) -> Result<Self, PageError> {
        parts.extensions.get::<Self>().cloned().ok_or_else(|| Problem::ours().into())
    }
}

/// Looks the session up, lets the page answer, and draws what went wrong.
pub(crate) async fn receive(State(app): State<App>, mut request: Request, next: Next) -> Response {
    let jar = CookieJar::from_headers(request.headers());
    let asked = asked(&app, &request, &jar);
    let (visit, broken) = match visit(&app, &jar, asked.clone()).await {
        Ok(visit) => (visit, None),
        Err(problem) => (Visit { asked, viewer: None, ended: None }, Some(problem)),
    };
    if let Some(Viewer { actor, .. }) = &visit.viewer {
        tracing::Span::current().record("person", actor.name.as_str());
    }
    let request_id = request.headers().get("x-request-id").cloned();
    let asked_for = (request.method().clone(), request.uri().path().to_owned());
    let route = request.extensions().get::<MatchedPath>().cloned();
    request.extensions_mut().insert(visit.clone());
    let response = match broken {
        Some(problem) => problem.into_response(),
        None => next.run(request).await,
    };
    let route = route.as_ref().map_or("", MatchedPath::as_str);
    let mut response = error_pages::draw(&visit, request_id.as_ref(), route, response);
    carry_notice(&app, &jar, &asked_for, &mut response);
    response
}

fn asked(app: &App, request: &Request, jar: &CookieJar) -> RequestFacts {
    let address = request.uri().path_and_query().map_or("/", |address| address.as_str()).to_owned();
    let agent = request.headers().get(header::USER_AGENT).and_then(|agent| agent.to_str().ok());
    let notice = CookieName::Done.read(jar, &app.config).and_then(|text| read_notice(&text));
    RequestFacts {
        caller: Caller { address: address_of(app, request), agent: agent.unwrap_or("").to_owned() },
        now: app.clock.now(),
        address,
        is_write: !request.method().is_safe(),
        outpost: app.config.outpost.clone(),
        notice,
    }
}

/// From where the request came. What a proxy says of its client is believed from proxies that
/// the settings name; of the chain that they pass on, the last address that is not such a proxy.
fn address_of(app: &App, request: &Request) -> IpAddr {
    let peer = request
        .extensions()
        .get::<ConnectInfo<SocketAddr>>()
        .map_or(IpAddr::V4(Ipv4Addr::UNSPECIFIED), |ConnectInfo(peer)| peer.ip());
    if !app.config.trusted_proxies.contains(&peer) {
        return peer;
    }
    forwarded(request.headers(), &app.config.trusted_proxies).unwrap_or(peer)
}

/// The client that the trusted proxies name. What stands left of the first address that is no
/// trusted proxy was written by the client itself and is not read.
fn forwarded(headers: &HeaderMap, trusted: &[IpAddr]) -> Option<IpAddr> {
    let lines: Vec<&HeaderValue> = headers.get_all("x-forwarded-for").iter().collect();
    for line in lines.into_iter().rev() {
        for word in line.to_str().ok()?.rsplit(',') {
            let address: IpAddr = word.trim().parse().ok()?;
            if !trusted.contains(&address) {
                return Some(address);
            }
        }
    }
    None
}

async fn visit(app: &App, jar: &CookieJar, asked: RequestFacts) -> Result<Visit, Problem> {
    let token = CookieName::Session.read(jar, &app.config).and_then(|text| Token::read(&text));
    let Some(token) = token else {
        return Ok(Visit { asked, viewer: None, ended: None });
    };
    let standing =
        sessions::look_up(app, &token).await.map_err(|failure| match PageError::from(failure) {
            PageError::Problem(problem) => *problem,
            PageError::Taken(_) => Problem::ours(),
        })?;
    Ok(match standing {
        SessionState::Unknown => Visit { asked, viewer: None, ended: None },
        SessionState::Ended(whose) => Visit { asked, viewer: None, ended: Some(whose) },
        SessionState::Open(session, person) => {
            let viewer = Viewer {
                actor: Actor { name: person.name, role: person.role },
                seen_change: person.seen_change,
                session: session.token_hash,
                csrf: session.csrf,
                theme: person.theme,
                asked: asked.clone(),
            };
            Visit { asked, viewer: Some(viewer), ended: None }
        }
    })
}

/// Takes a sentence about what was just done over to the next page, and away once it was shown. One
/// that offers the way back stays on its page until the next change or another page.
fn carry_notice(
    app: &App,
    jar: &CookieJar,
    (method, path): &(Method, String),
    response: &mut Response,
) {
    let cookie = if let Some(notice) = response.extensions().get::<Notice>() {
        CookieName::Done.holding(write_notice(notice), &app.config)
    } else if let Some(known) = CookieName::Done.read(jar, &app.config)
        && (response.status() == StatusCode::OK || *method != Method::GET)
    {
        let fields = crate::extract::Fields::read(known.as_bytes());
        match (fields.has("undo") && *method == Method::GET, fields.get("on")) {
            (true, "") => CookieName::Done.holding(on_page(&known, path), &app.config),
            (true, on) if on == path => return,
            _ => CookieName::Done.gone(&app.config),
        }
    } else {
        return;
    };
    if let Ok(value) = HeaderValue::try_from(cookie.encoded().to_string()) {
        response.headers_mut().append(header::SET_COOKIE, value);
    }
}

/// A notice with the page on which it is shown.
fn on_page(notice: &str, path: &str) -> String {
    form_urlencoded::Serializer::new(notice.to_owned()).append_pair("on", path).finish()
}

fn write_notice(notice: &Notice) -> String {
    let mut text = form_urlencoded::Serializer::new(String::new());
    text.append_pair("words", &notice.words);
    if let Some((address, words)) = &notice.undo {
        text.append_pair("undo", address).append_pair("button", words);
    }
    if let Some((address, words)) = &notice.link {
        text.append_pair("link", address).append_pair("link_words", words);
    }
    text.finish()
}

fn read_notice(text: &str) -> Option<Notice> {
    let fields = crate::extract::Fields::read(text.as_bytes());
    let words = fields.get("words").to_owned();
    let own = |address: &str, words: &str| {
        let (address, words) = (fields.get(address), fields.get(words));
        is_own_address(address).then(|| (address.to_owned(), words.to_owned()))
    };
    let (undo, link) = (own("undo", "button"), own("link", "link_words"));
    (!words.is_empty()).then_some(Notice { words, undo, link })
}

/// Whether an address leads to a page of this service and nowhere else.
pub(crate) fn is_own_address(address: &str) -> bool {
    address.starts_with('/')
        && address.len() <= MAX_BACK_BYTES
        && !address.starts_with("//")
        && !address.chars().any(|c| c == '\\' || c.is_control() || c.is_whitespace())
        && address.is_ascii()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_addresses_of_our_own_are_followed() {
        for own in ["/", "/open?q=a%20b&sort=value", "/tasks/T-0142#odds"] {
            assert!(is_own_address(own), "{own}");
        }
        for foreign in [
            "",
            "open",
            "//elsewhere.example",
            "/\\elsewhere.example",
            "/a\r\nb",
            "https://elsewhere.example",
            "/\t/elsewhere.example",
            &format!("/open?q={}", "a".repeat(MAX_BACK_BYTES)),
        ] {
            assert!(!is_own_address(foreign), "{foreign:?}");
        }
    }

    #[test]
    fn a_notice_comes_back_from_its_cookie_whole() {
        let notice = Notice {
            words: "T-0142 parked; ünd so “weiter”".into(),
            undo: Some(("/tasks/T-0142/unpark".into(), "Undo".into())),
            link: Some(("/excursions/E-37.1#change".into(), "Undo, with the reason".into())),
        };
        let text = write_notice(&notice);
        assert!(text.is_ascii() && !text.contains([';', ',', ' ', '"']));
        let back = read_notice(&text).unwrap();
        assert_eq!((back.words, back.undo), (notice.words, notice.undo));
        assert_eq!(back.link, notice.link);
    }

    #[test]
    fn the_client_is_the_last_address_that_is_no_trusted_proxy() {
        let trusted: [IpAddr; 1] = ["192.0.2.9".parse().unwrap()];
        let mut headers = HeaderMap::new();
        headers.append("x-forwarded-for", HeaderValue::from_static("198.51.100.7, 192.0.2.5"));
        assert_eq!(forwarded(&headers, &trusted), "192.0.2.5".parse().ok());
        headers.append("x-forwarded-for", HeaderValue::from_static("192.0.2.9"));
        assert_eq!(forwarded(&headers, &trusted), "192.0.2.5".parse().ok(), "a second proxy");
        headers.append("x-forwarded-for", HeaderValue::from_static("unknown"));
        assert_eq!(forwarded(&headers, &trusted), None);
        assert_eq!(forwarded(&HeaderMap::new(), &trusted), None);
    }

    #[test]
    fn no_two_forms_share_a_key() {
        assert_ne!(form_key("a", Moment(0)), form_key("a", Moment(0)));
    }
}
