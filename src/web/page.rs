//! A page: a template that answers a request; and the answer to a form that was taken.

use askama::Template;
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Response};

use crate::failure::Problem;
use crate::frame::Notice;

/// A template as an answer.
#[derive(Debug)]
pub struct Page<T>(pub T);

impl<T: Template> IntoResponse for Page<T> {
    fn into_response(self) -> Response {
        match self.0.render() {
            Ok(html) => Html(html).into_response(),
            Err(cause) => {
                tracing::error!(%cause, "a template failed");
                Problem::ours().into_response()
            }
        }
    }
}

/// Where the browser goes on after a form, and one sentence about what was done, shown there once.
#[derive(Debug, Clone)]
pub struct Done {
    to: String,
    notice: Option<Notice>,
}

impl Done {
    pub fn to(address: impl Into<String>) -> Self {
        Self { to: address.into(), notice: None }
    }

    #[must_use]
    pub fn saying(mut self, words: impl Into<String>) -> Self {
        self.notice = Some(Notice { words: words.into(), undo: None, link: None });
        self
    }

    /// Offers the way back: an address that takes a POST, and the words on its button.
    #[must_use]
    pub fn undo(mut self, address: impl Into<String>, words: impl Into<String>) -> Self {
        let undo = Some((address.into(), words.into()));
        let words = self.notice.map_or_else(String::new, |notice| notice.words);
        self.notice = Some(Notice { words, undo, link: None });
        self
    }

    /// Leads to a page where something more is asked.
    #[must_use]
    pub fn link(mut self, address: impl Into<String>, words: impl Into<String>) -> Self {
        let link = Some((address.into(), words.into()));
        let words = self.notice.map_or_else(String::new, |notice| notice.words);
        self.notice = Some(Notice { words, undo: None, link });
        self
    }
}

impl IntoResponse for Done {
    fn into_response(self) -> Response {
        let mut response = see_other(&self.to);
        if let Some(notice) = self.notice {
            // The session's layer makes a cookie of it.
            response.extensions_mut().insert(notice);
        }
        response
    }
}

/// 303: the browser asks for that address next.
pub(crate) fn see_other(address: &str) -> Response {
    match header::HeaderValue::try_from(address) {
        Ok(location) => (StatusCode::SEE_OTHER, [(header::LOCATION, location)]).into_response(),
        Err(cause) => {
            tracing::error!(%cause, "an address cannot stand in a header");
            Problem::ours().into_response()
        }
    }
}

/// A word as it begins a sentence or heads a column.
pub(crate) fn capital(word: &str) -> String {
    let mut letters = word.chars();
    let first = letters.next().map(char::to_uppercase);
    first.into_iter().flatten().chain(letters).collect()
}
