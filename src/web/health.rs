//! Whether the service runs, and whether it can do its work.

use std::time::Duration;

use axum::extract::State;
use axum::http::StatusCode;

use crate::app::App;
use crate::web::failure::chain;

/// A database that does not answer in this time is not ready.
const PATIENCE: Duration = Duration::from_secs(3);

/// Listening; touches nothing.
pub(crate) async fn healthz() -> &'static str {
    "ok\n"
}

/// The database answers, has our schema and takes a write.
pub(crate) async fn readyz(State(app): State<App>) -> (StatusCode, String) {
    match tokio::time::timeout(PATIENCE, app.db.prove()).await {
        Ok(Ok(())) => (StatusCode::OK, "ready\n".to_owned()),
        Ok(Err(cause)) => {
            tracing::error!(cause = chain(&cause), "not ready");
            (StatusCode::SERVICE_UNAVAILABLE, format!("{cause}\n"))
        }
        Err(_) => {
            let words = "the database did not take a write in time\n";
            (StatusCode::SERVICE_UNAVAILABLE, words.to_owned())
        }
    }
}
