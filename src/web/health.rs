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
        Err(why) => {
            // Who asks is not known, so that the log alone has the cause.
            tracing::error!(%why, "not ready");
            (StatusCode::SERVICE_UNAVAILABLE, "not ready; the log says why\n".to_owned())
        }
    }
}
