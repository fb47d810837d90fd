//! What surrounds every answer: headers that keep a browser from doing harm, limits on size and
//! time, compression, the log line.

use std::any::Any;
use std::time::Duration;

use axum::Router;
use axum::body::Body;
use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderName, HeaderValue, StatusCode, header};
use axum::middleware::{Next, from_fn, from_fn_with_state, map_request};
use axum::response::{IntoResponse, Response};
use tower::ServiceBuilder;
use tower_http::catch_panic::CatchPanicLayer;
use tower_http::compression::CompressionLayer;
use tower_http::csrf::CsrfLayer;
use tower_http::request_id::{MakeRequestUuid, PropagateRequestIdLayer, SetRequestIdLayer};
use tower_http::timeout::{RequestBodyTimeoutLayer, TimeoutLayer};
use tower_http::trace::{DefaultOnFailure, DefaultOnResponse, TraceLayer};
use tracing::{Level, Span};

use crate::failure::Problem;
use crate::serve::MAX_HEAD_BYTES;
use crate::visitor::receive;
use app::App;

/// A body that stops coming for so long is given up.
const BODY_PAUSE: Duration = Duration::from_secs(30);
/// Scripts, styles, fonts and pictures come from here alone; nothing may frame a page.
// Source: W3C, Content Security Policy Level 3, section 6, working draft; OWASP ASVS 5.0.0, 3.4.3.
pub const POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
                          font-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; \
                          object-src 'none'; frame-ancestors 'none'";
/// The same on every answer. `no-store`, because pages change and are nobody else's business.
const HEADERS: [(HeaderName, &str); 7] = [
    (header::CONTENT_SECURITY_POLICY, POLICY),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "same-origin"),
    (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
    (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
    (
        HeaderName::from_static("permissions-policy"),
        "camera=(), display-capture=(), geolocation=(), microphone=(), payment=(), usb=()",
    ),
    (header::CACHE_CONTROL, "no-store"),
];

/// The layers around pages: who asks, cross-site forms, time. Innermost first.
pub(crate) fn around_pages(app: &App, pages: Router<App>) -> Router<App> {
    pages
        .layer(CatchPanicLayer::custom(panicked))
        .layer(CsrfLayer::new())
        .layer(from_fn(with_a_short_head))
        .layer(TimeoutLayer::with_status_code(
            StatusCode::SERVICE_UNAVAILABLE,
            app.config.request_limit,
        ))
        .layer(RequestBodyTimeoutLayer::new(BODY_PAUSE))
        .layer(from_fn_with_state(app.clone(), receive))
}

/// The layers around everything.
pub(crate) fn around_all(app: &App, all: Router<App>) -> Router<App> {
    all.layer(
        ServiceBuilder::new()
            .layer(map_request(without_its_number))
            .layer(SetRequestIdLayer::x_request_id(MakeRequestUuid))
            .layer(
                TraceLayer::new_for_http()
                    .make_span_with(span)
                    .on_response(DefaultOnResponse::new().level(Level::INFO))
                    .on_failure(DefaultOnFailure::new().level(Level::DEBUG)),
            )
            .layer(PropagateRequestIdLayer::x_request_id())
            .layer(from_fn_with_state(app.clone(), headers))
            .layer(CatchPanicLayer::custom(panicked))
            .layer(CompressionLayer::new()),
    )
}

/// The number of a request is ours: who asks could name another's.
async fn without_its_number(mut request: Request) -> Request {
    request.headers_mut().remove("x-request-id");
    request
}

/// Refuses a head that is longer than pages read, in words.
async fn with_a_short_head(request: Request, next: Next) -> Response {
    let target = request.uri().path_and_query().map_or(0, |target| target.as_str().len());
    let lines = request.headers().iter().map(|(name, value)| name.as_str().len() + value.len() + 4);
    let bytes = target + lines.sum::<usize>();
    if bytes <= MAX_HEAD_BYTES {
        return next.run(request).await;
    }
    let words = format!(
        "The address and what the browser sends with it have {bytes} bytes; at most \
         {MAX_HEAD_BYTES} are read. Nothing was changed. Use a shorter address, or remove the \
         cookies of this site in your browser and sign in again."
    );
    let status = StatusCode::REQUEST_HEADER_FIELDS_TOO_LARGE;
    Problem::new(status, "This request is too long", words).into_response()
}

async fn headers(State(app): State<App>, request: Request, next: Next) -> Response {
    let mut response = next.run(request).await;
    for (name, value) in HEADERS {
        response.headers_mut().entry(name).or_insert(HeaderValue::from_static(value));
    }
    if app.config.secure_cookies {
        let year = HeaderValue::from_static("max-age=31536000; includeSubDomains");
        response.headers_mut().insert(header::STRICT_TRANSPORT_SECURITY, year);
    }
    response
}

/// A fault in a handler ends that request and nothing else.
#[expect(clippy::needless_pass_by_value, reason = "the layer hands it over")]
fn panicked(cause: Box<dyn Any + Send + 'static>) -> Response<Body> {
    let words = cause
        .downcast_ref::<String>()
        .map(String::as_str)
        .or_else(|| cause.downcast_ref::<&str>().copied())
        .unwrap_or("a panic without words");
    tracing::error!(cause = words, "a handler panicked");
    Problem::ours().into_response()
}

/// One span a request.
fn span(request: &Request) -> Span {
    let id = request.headers().get("x-request-id").and_then(|id| id.to_str().ok()).unwrap_or("");
    let route = request.extensions().get::<MatchedPath>().map(MatchedPath::as_str);
    let path = logged_path(route, request.uri().path());
    // Who asks is known further in (`visitor::receive`).
    let person = tracing::field::Empty;
    tracing::info_span!("request", id, method = %request.method(), path, person)
}

/// Letters of a segment that the log has of an address that is no page of ours. The secret of a
/// one-time link is longer, however it is spelled.
const MAX_LOGGED_SEGMENT: usize = 20;

/// Variable parts of routes that are secrets: of a one-time link, and of a personal address of a
/// calendar or feed.
const SECRET_PARTS: [&str; 2] = ["{link}", "{secret}"];

/// What the log has of an address. Where a part of it is a secret the log has the route, and of
/// addresses that lead nowhere (a link mistyped) no long segment.
fn logged_path(route: Option<&str>, path: &str) -> String {
    match route {
        Some(route) if SECRET_PARTS.iter().any(|part| route.contains(part)) => route.to_owned(),
        Some(_) => path.to_owned(),
        None => {
            let short = |segment: &str| {
                if segment.len() > MAX_LOGGED_SEGMENT {
                    "…".to_owned()
                } else {
                    segment.to_owned()
                }
            };
            path.split('/').map(short).collect::<Vec<_>>().join("/")
        }
    }
}

#[cfg(test)]
mod tests {
    use axum::routing::get;
    use http_body_util::BodyExt as _;
    use tower::ServiceExt as _;

    use super::*;
    use app::clock::Clock;
    use app::config::Config;
    use store::Db;

    async fn answer(limit: Duration, path: &str) -> (StatusCode, String, Response) {
        let folder = tempfile::tempdir().unwrap();
        let db = Db::open(&folder.path().join("holdover.db")).await.unwrap();
        let app = App::new(db, Clock::System, Config { request_limit: limit, ..Config::default() });
        let pages = Router::new()
            .route("/panics", get(|| async { panic!("SELECT secret FROM person") as &'static str }))
            .route("/waits", get(std::future::pending::<&'static str>))
            .route("/works", get(|| async { "here" }));
        let router = around_all(&app, around_pages(&app, pages)).with_state(app.clone());
        let request = Request::get(path).body(Body::empty()).unwrap();
        let (parts, body) = router.oneshot(request).await.unwrap().into_parts();
        let text = body.collect().await.unwrap().to_bytes();
        let text = String::from_utf8_lossy(&text).into_owned();
        (parts.status, text, Response::from_parts(parts, Body::empty()))
    }

    #[test]
    fn the_log_never_has_the_secret_of_a_link() {
        let secret = "b0c1d2e3f405162738495a6b7c8d9eaf";
        let spelled = secret.bytes().fold(String::new(), |text, byte| format!("{text}%{byte:02X}"));
        for path in [
            format!("/welcome/{secret}"),
            format!("/welcome/{secret}/"),
            format!("/Welcome/{secret}"),
            format!("//welcome/{secret}"),
            format!("/%77elcome/{spelled}"),
        ] {
            for route in [Some("/welcome/{link}"), Some("/feeds/{secret}/changes.atom"), None] {
                let logged = logged_path(route, &path);
                assert!(!logged.contains(secret) && !logged.contains(&spelled), "{logged}");
            }
        }
        assert_eq!(logged_path(Some("/tasks/{code}"), "/tasks/T-0142"), "/tasks/T-0142");
        assert_eq!(logged_path(None, "/no/such/page"), "/no/such/page");
    }

    #[tokio::test]
    async fn a_panic_becomes_a_calm_page_with_all_headers() {
        let (status, body, response) = answer(Duration::from_secs(5), "/panics").await;
        assert_eq!(status, StatusCode::INTERNAL_SERVER_ERROR);
        assert!(body.contains("Something went wrong on our side") && !body.contains("SELECT"));
        assert_eq!(response.headers()[header::CONTENT_SECURITY_POLICY], POLICY);
        assert_eq!(response.headers()[header::CACHE_CONTROL], "no-store");
    }

    #[tokio::test]
    async fn a_request_that_takes_too_long_is_given_up_with_a_page() {
        let (status, body, _) = answer(Duration::from_millis(50), "/waits").await;
        assert_eq!(status, StatusCode::SERVICE_UNAVAILABLE);
        assert!(body.contains("That took too long"));
        let (status, body, _) = answer(Duration::from_secs(5), "/works").await;
        assert_eq!((status, body.as_str()), (StatusCode::OK, "here"));
    }
}
