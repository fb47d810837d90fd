//! The one edge where a failure becomes a status and a calm page. Inner layers know no HTTP.

use std::error::Error;
use std::sync::Arc;

use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use tower_http::timeout::TimeoutError;

use crate::page::Done;
use crate::parts::Unfit;
use app::read::StoreError;
use app::{Conflict, Failure};
use domain::bounds::MAX_FIELD_BYTES;
use domain::cells::FieldError;
use domain::files::size_words;

/// What a page handler returns when it has no page: `?` makes it of any failure.
#[derive(Debug)]
pub enum PageError {
    Problem(Box<Problem>),
    /// The form was taken before; the browser goes where it went then.
    Taken(String),
}

/// What went wrong, as a person reads it. The session's layer draws the page around it.
#[derive(Debug, Clone)]
pub struct Problem {
    pub status: StatusCode,
    pub heading: String,
    pub words: String,
    /// The fields that are wrong, each with what to do.
    pub fields: Vec<FieldError>,
    /// Both versions, where a record moved on.
    pub conflict: Option<Arc<Conflict>>,
    /// Seconds after which another try has a chance.
    pub retry_after: Option<i64>,
    /// What is known of the record, where it went wrong on our side.
    pub record: Record,
    /// Whether the session is at fault, so that signing in helps and sending again does not.
    pub is_of_session: bool,
}

/// What is known of the record after a request that went wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Record {
    /// It is as it was before.
    Unchanged,
    /// The request broke off where it may have been saved or not.
    Unknown,
    /// It has what was sent; what came after failed.
    Saved,
}

impl Record {
    /// The sentence for it. A request that asks for no change has changed nothing.
    pub(crate) const fn sentence(self, is_write: bool) -> &'static str {
        match (self, is_write) {
            (Self::Unknown, true) => {
                "It may have been saved, or not: look at the record first. If it is not there, send \
                 the same form again; it counts once."
            }
            (Self::Saved, _) => "What you sent is saved; do not send it again.",
            (Self::Unchanged | Self::Unknown, _) => "Nothing was changed.",
        }
    }
}

const TOO_MUCH: &str = "Too much was sent at once";
/// What a library knows; the layer around the pages knows their bound.
const LACKS_ITS_BOUND: &str = "More was sent than this page reads. Send it in parts.";

impl Problem {
    pub fn new(status: StatusCode, heading: impl Into<String>, words: impl Into<String>) -> Self {
        Self {
            status,
            heading: heading.into(),
            words: words.into(),
            fields: Vec::new(),
            conflict: None,
            retry_after: None,
            record: Record::Unchanged,
            is_of_session: false,
        }
    }

    /// The form was taken, and what comes after it failed: what is lost is said in words.
    fn after_saving(lost: &str) -> Self {
        let heading = "Saved, but its page could not be drawn";
        let problem = Self::new(StatusCode::INTERNAL_SERVER_ERROR, heading, lost);
        Self { record: Record::Saved, ..problem }
    }

    /// A fault of ours; the log has the rest. Of the record nothing is known.
    pub fn ours() -> Self {
        Self {
            record: Record::Unknown,
            ..Self::new(
                StatusCode::INTERNAL_SERVER_ERROR,
                "Something went wrong on our side",
                "Try again; if it happens once more, tell whoever runs this service.",
            )
        }
    }

    /// More came at once than the page reads.
    pub(crate) fn too_large(most: usize) -> Self {
        let most = size_words(i64::try_from(most).unwrap_or(i64::MAX));
        let words = format!(
            "This page reads at most {most} at once, and more was sent, so nothing was changed. \
             Send it in parts."
        );
        Self::new(StatusCode::PAYLOAD_TOO_LARGE, TOO_MUCH, words)
    }

    pub(crate) fn field_too_long(name: &str) -> Self {
        let words = format!(
            "The field “{}” has more than {MAX_FIELD_BYTES} bytes, the most that are read. Nothing \
             was changed. Shorten it.",
            name.chars().take(60).collect::<String>()
        );
        let heading = "A field of this form is too long";
        Self::new(StatusCode::PAYLOAD_TOO_LARGE, heading, words)
    }

    /// Whether it says that too much was sent and not how much may be.
    pub(crate) fn lacks_its_bound(&self) -> bool {
        self.status == StatusCode::PAYLOAD_TOO_LARGE && self.words == LACKS_ITS_BOUND
    }

    /// The words of the page: for a fault of ours, what is known of the record stands first.
    pub(crate) fn words_for(&self, is_write: bool) -> String {
        if self.status.is_server_error() {
            return format!("{} {}", self.record.sentence(is_write), self.words);
        }
        self.words.clone()
    }

    /// The same on one line, for a script.
    pub(crate) fn line(&self, is_write: bool) -> String {
        let wrong: Vec<&str> = self.fields.iter().map(|one| one.message.as_str()).collect();
        if self.status == StatusCode::NOT_FOUND {
            return format!("{} {}", self.heading, self.words);
        }
        if wrong.is_empty() { self.words_for(is_write) } else { wrong.join(" ") }
    }

    /// What the log says of it: what the person was told, with every field.
    pub(crate) fn reason(&self) -> String {
        if let Some(conflict) = &self.conflict {
            return conflict.reason();
        }
        let fields = self.fields.iter().map(|wrong| format!(" {}: {}", wrong.field, wrong.message));
        format!("{}. {}{}", self.heading, self.words, fields.collect::<String>())
    }

    /// The page for a status that a library answered with.
    pub(crate) fn of_status(status: StatusCode) -> Self {
        let (heading, words) = match status {
            StatusCode::NOT_FOUND => (
                "There is no such page",
                "The address may be mistyped, or belong to a record that goes by another code. \
                 The search in the head of the page finds codes and words.",
            ),
            StatusCode::METHOD_NOT_ALLOWED => (
                "This address does not accept this request",
                "Go back and use the buttons of the page.",
            ),
            StatusCode::PAYLOAD_TOO_LARGE => (TOO_MUCH, LACKS_ITS_BOUND),
            StatusCode::REQUEST_TIMEOUT => (
                "That took too long",
                "The request did not arrive in full, so nothing was changed. Send it again.",
            ),
            StatusCode::SERVICE_UNAVAILABLE => {
                let words = "The request was stopped before it had an answer.";
                let problem = Self::new(status, "That took too long", words);
                return Self { record: Record::Unknown, ..problem };
            }
            StatusCode::FORBIDDEN => (
                "This came from somewhere else",
                "The request was started by another site, so nothing was changed. Open the page here \
                 and send it again.",
            ),
            status if status.is_client_error() => {
                ("This request could not be read", "Go back to the page before and try from there.")
            }
            _ => return Self { status, ..Self::ours() },
        };
        let is_of_session = status == StatusCode::FORBIDDEN;
        Self { is_of_session, ..Self::new(status, heading, words) }
    }

    /// The page for a body that could not be read to its end.
    pub(crate) fn of_body(cause: &(dyn Error + 'static)) -> Self {
        if let Some(unfit) = causes(cause).find_map(|cause| cause.downcast_ref::<Unfit>()) {
            return unfit.problem();
        }
        let status = causes(cause)
            .find_map(|cause| {
                if cause.is::<http_body_util::LengthLimitError>() {
                    Some(StatusCode::PAYLOAD_TOO_LARGE)
                } else if cause.is::<TimeoutError>() {
                    Some(StatusCode::REQUEST_TIMEOUT)
                } else {
                    None
                }
            })
            .unwrap_or(StatusCode::BAD_REQUEST);
        Self::of_status(status)
    }
}

impl From<Failure> for PageError {
    fn from(failure: Failure) -> Self {
        let words = failure.to_string();
        let problem = match failure {
            Failure::AlreadyTaken(answer) => return Self::Taken(answer),
            Failure::NotFound(kind, _) => Problem::new(
                StatusCode::NOT_FOUND,
                words,
                format!("The {kind} may go by another code; the search in the head finds it."),
            ),
            Failure::Invalid(fields) => Problem {
                fields,
                ..Problem::new(
                    StatusCode::UNPROCESSABLE_ENTITY,
                    "Some entries need correcting",
                    "Nothing is saved yet.",
                )
            },
            Failure::Refused(_) | Failure::Slip(_) => {
                Problem::new(StatusCode::CONFLICT, "Not done", words)
            }
            Failure::Forbidden(_) => {
                Problem::new(StatusCode::FORBIDDEN, "Your role may not do this", words)
            }
            Failure::Conflict(conflict) => Problem {
                conflict: Some(Arc::from(conflict)),
                ..Problem::new(
                    StatusCode::CONFLICT,
                    "Somebody changed this in the meantime",
                    "Nothing was overwritten. Both versions are below; choose between them.",
                )
            },
            Failure::Internal(cause) if cause.is_busy() => Problem {
                retry_after: Some(10),
                ..Problem::new(
                    StatusCode::SERVICE_UNAVAILABLE,
                    "The record is being written to",
                    "Other saves took too long. Send this again in a minute.",
                )
            },
            Failure::Busy(_, seconds) => Problem {
                retry_after: Some(seconds),
                ..Problem::new(StatusCode::SERVICE_UNAVAILABLE, "Too much at once", words)
            },
            Failure::Internal(cause) => {
                tracing::error!(cause = chain(&cause), "an operation failed");
                Problem { record: Record::Unchanged, ..Problem::ours() }
            }
            Failure::Unsure(cause) => {
                tracing::error!(cause = chain(&cause), "a commit failed");
                Problem::ours()
            }
        };
        Self::Problem(Box::new(problem))
    }
}

/// What fails after a commit is told as that, whatever it is; `lost` says what is to be done.
pub(crate) fn once_saved<T>(
    outcome: Result<T, impl Into<PageError>>,
    lost: &str,
) -> Result<T, PageError> {
    outcome.map_err(|cause| match cause.into() {
        PageError::Problem(_) => Problem::after_saving(lost).into(),
        taken @ PageError::Taken(_) => taken,
    })
}

/// Anything that an operation or the store can fail with; `From<Failure>` does the work.
macro_rules! through_failure {
    ($($cause:ty),+) => {
        $(impl From<$cause> for PageError {
            fn from(cause: $cause) -> Self {
                Failure::from(cause).into()
            }
        })+
    };
}
through_failure!(StoreError);

impl From<Problem> for PageError {
    fn from(problem: Problem) -> Self {
        Self::Problem(Box::new(problem))
    }
}

impl IntoResponse for PageError {
    fn into_response(self) -> Response {
        match self {
            Self::Problem(problem) => problem.into_response(),
            Self::Taken(answer) => taken_before(&answer),
        }
    }
}

/// Leads to what came of a form that was taken before.
pub(crate) fn taken_before(answer: &str) -> Response {
    let words = "This form was sent and saved before; it counts once. This is what came of it.";
    Done::to(answer).saying(words).into_response()
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let mut response = self.status.into_response();
        if let Some(seconds) = self.retry_after {
            response.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from(seconds));
        }
        response.extensions_mut().insert(self);
        response
    }
}

/// A cause with the causes behind it, on one line.
pub(crate) fn chain(cause: &(dyn Error + 'static)) -> String {
    causes(cause).map(ToString::to_string).collect::<Vec<_>>().join(": ")
}

fn causes<'a>(cause: &'a (dyn Error + 'static)) -> impl Iterator<Item = &'a (dyn Error + 'static)> {
    let mut next = Some(cause);
    std::iter::from_fn(move || {
        let now = next?;
        next = now.source();
        Some(now)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_of_ours_says_what_is_known_of_the_record() {
        let lost = || StoreError::Unusable("gone".into());
        let problem = |failure: Failure| match PageError::from(failure) {
            PageError::Problem(problem) => problem,
            PageError::Taken(_) => panic!("no problem"),
        };
        let before_commit = problem(Failure::Internal(lost()));
        assert!(before_commit.words_for(true).starts_with("Nothing was changed."));
        let at_commit = problem(Failure::Unsure(lost()));
        assert!(at_commit.words_for(true).starts_with("It may have been saved, or not"));
        assert!(Problem::ours().words_for(true).starts_with("It may have been saved, or not"));
        assert!(Problem::ours().words_for(false).starts_with("Nothing was changed."));
        let late = Problem::of_status(StatusCode::SERVICE_UNAVAILABLE);
        assert!(late.words_for(true).starts_with("It may have been saved, or not"));
        let busy = problem(Failure::Busy("Wait.".into(), 30));
        assert_eq!((busy.status, busy.retry_after), (StatusCode::SERVICE_UNAVAILABLE, Some(30)));
        assert_eq!(busy.words_for(true), "Nothing was changed. Wait.");
    }
}
