//! Whether the service runs, and whether it can do its work.

use axum::extract::State;
use axum::http::StatusCode;

use app::App;

/// Listening; touches nothing.
pub(crate) async fn healthz() -> &'static str {
    "ok\n"
}

/// The database answers, has our schema and takes a write.
pub(crate) async fn readyz(State(app): State<App>) -> (StatusCode, String) {
    match app.readiness.ask(&app.db).await {
        Ok(()) => (StatusCode::OK, "ready\n".to_owned()),
        Err(why) => (StatusCode::SERVICE_UNAVAILABLE, format!("{why}\n")),
    }
}
