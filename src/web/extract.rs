//! What handlers ask of a request, so that a bad one gets a page of ours and not a library's line.

use axum::extract::rejection::{PathRejection, QueryRejection};
use axum::extract::{FromRequest, FromRequestParts, RawForm, Request};
use axum::http::StatusCode;
use axum::http::request::Parts;
use serde::de::DeserializeOwned;

use crate::failure::{PageError, Problem};
use app::Failure;
use app::work::FormKey;
use domain::cells::{Cell, Cells};

/// The longest key of a form; ours are far shorter.
const MAX_KEY_LETTERS: usize = 128;

/// The variable parts of the address.
#[derive(Debug, Clone)]
pub struct Path<T>(pub T);

impl<T: DeserializeOwned + Send, S: Send + Sync> FromRequestParts<S> for Path<T> {
    type Rejection = PageError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, PageError> {
        let found: Result<_, PathRejection> =
            axum::extract::Path::<T>::from_request_parts(parts, state).await;
        found.map(|path| Self(path.0)).map_err(|cause| {
            tracing::debug!(%cause, "an address was not readable");
            Problem::of_status(StatusCode::NOT_FOUND).into()
        })
    }
}

/// What stands behind the question mark of the address.
#[derive(Debug, Clone)]
pub struct Query<T>(pub T);

impl<T: DeserializeOwned, S: Send + Sync> FromRequestParts<S> for Query<T> {
    type Rejection = PageError;

    async fn from_request_parts(parts: &mut Parts, state: &S) -> Result<Self, PageError> {
        let found: Result<_, QueryRejection> =
            axum::extract::Query::<T>::from_request_parts(parts, state).await;
        found.map(|query| Self(query.0)).map_err(|cause| {
            let words =
                format!("The part of the address after the question mark does not fit: {cause}.");
            Problem::new(StatusCode::BAD_REQUEST, "This address could not be read", words).into()
        })
    }
}

/// The fields of a form as they were typed, in their order.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Fields(pub Vec<(String, String)>);

impl Fields {
    /// Reads `a=1&b=2`.
    pub fn read(body: &[u8]) -> Self {
        Self(form_urlencoded::parse(body).into_owned().collect())
    }

    /// The first value of that name; empty where there is none.
    pub fn get(&self, name: &str) -> &str {
        self.0.iter().find(|(known, _)| known == name).map_or("", |(_, value)| value)
    }

    pub fn has(&self, name: &str) -> bool {
        self.0.iter().any(|(known, _)| known == name)
    }

    /// The value of one field, checked; an empty field is the blank of its type, where it has one.
    pub fn value<T: Cell>(&self, name: &str) -> Result<T, Failure> {
        let mut wrong = Vec::new();
        self.cells().take(name, &mut wrong).ok_or(Failure::Invalid(wrong))
    }

    /// Every value of that name: ticked boxes, rows of one table.
    pub fn all<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a str> {
        self.0.iter().filter(move |(known, _)| known == name).map(|(_, value)| value.as_str())
    }

    /// The key that was made with the form.
    pub fn key(&self) -> Option<FormKey> {
        let key = self.get("form_key");
        (!key.is_empty() && key.len() <= MAX_KEY_LETTERS).then(|| FormKey(key.to_owned()))
    }

    /// The version of the record that the form was made on.
    pub fn version(&self) -> Option<i64> {
        self.get("version").parse().ok()
    }

    /// All fields as the cells of a record; of a name that stands there twice the first counts, as
    /// everywhere.
    pub fn cells(&self) -> Cells {
        self.0.iter().rev().cloned().collect()
    }
}

impl<S: Send + Sync> FromRequest<S> for Fields {
    type Rejection = PageError;

    async fn from_request(request: Request, state: &S) -> Result<Self, PageError> {
        Ok(Self::read(&raw(request, state).await?))
    }
}

async fn raw<S: Send + Sync>(request: Request, state: &S) -> Result<Vec<u8>, PageError> {
    match RawForm::from_request(request, state).await {
        Ok(RawForm(body)) => Ok(body.to_vec()),
        Err(cause) => {
            let mut problem = Problem::of_body(&cause);
            if problem.status == StatusCode::BAD_REQUEST {
                problem = Problem::of_status(cause.status());
            }
            Err(problem.into())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // Source: OWASP Application Security Verification Standard 5.0.0, 15.3.7, 2025.
    #[test]
    fn of_a_field_that_stands_twice_the_first_counts_however_it_is_read() {
        let fields = Fields::read(b"title=one&title=two&pick=a&pick=b");
        assert_eq!(fields.get("title"), "one");
        assert_eq!(fields.cells().get("title"), "one");
        assert_eq!(fields.all("pick").collect::<Vec<_>>(), ["a", "b"]);
    }
}
