//! Files come in as several parts. The session's token stands in the first part, so that the rest
//! need not be read to refuse it.

use axum::body::{Body, Bytes};
use axum::extract::Request;
use axum::http::{HeaderMap, header};
use futures_util::StreamExt as _;

use crate::failure::{PageError, Problem};
use crate::parts::{Parts, Unfit};

/// The first part is found within so many bytes or not at all.
const PREFIX: usize = 4 * 1024;

pub(crate) fn is_upload(headers: &HeaderMap) -> bool {
    headers
        .get(header::CONTENT_TYPE)
        .and_then(|kind| kind.to_str().ok())
        .is_some_and(|kind| kind.starts_with("multipart/form-data"))
}

/// The value of the first part, if it is called `csrf`, and the request with its whole body, which
/// breaks off where its parts pass their bounds.
pub(crate) async fn peek(request: Request) -> Result<(String, Request), PageError> {
    let (parts, body) = request.into_parts();
    let mut counted = Parts::of(&parts.headers).map_err(Unfit::problem)?;
    let mut stream = body.into_data_stream().map(move |piece| {
        let piece = piece?;
        counted.read(&piece).map_err(axum::Error::new)?;
        Ok::<Bytes, axum::Error>(piece)
    });
    let mut prefix = Vec::new();
    while prefix.len() < PREFIX && first_value(&prefix).is_none() {
        match stream.next().await {
            Some(Ok(bytes)) => prefix.extend_from_slice(&bytes),
            Some(Err(cause)) => return Err(Problem::of_body(&cause).into()),
            None => break,
        }
    }
    let token = first_value(&prefix).unwrap_or_default();
    let start = futures_util::stream::iter([Ok(Bytes::from(prefix))]);
    let body = Body::from_stream(start.chain(stream));
    Ok((token, Request::from_parts(parts, body)))
}

/// The value of the first part, once its end has come in.
// Source: RFC 7578, sections 4.1 and 4.2 (delimiter, Content-Disposition with a name), 2015.
fn first_value(prefix: &[u8]) -> Option<String> {
    let text = String::from_utf8_lossy(prefix);
    let (head, rest) = text.split_once("\r\n\r\n")?;
    if !head.starts_with("--") || !head.contains("name=\"csrf\"") {
        return Some(String::new());
    }
    rest.split_once("\r\n--").map(|(value, _)| value.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHOLE: &str = "--x\r\nContent-Disposition: form-data; name=\"csrf\"\r\n\r\ntoken\r\n--x\r\n\
                         Content-Disposition: form-data; name=\"file\"; filename=\"a.csv\"\r\n\r\na,b\r\n--x--\r\n";

    #[test]
    fn the_token_is_found_once_its_part_is_whole() {
        assert_eq!(first_value(WHOLE.as_bytes()).as_deref(), Some("token"));
        assert_eq!(first_value(&WHOLE.as_bytes()[..50]), None);
        assert_eq!(first_value(WHOLE.replace("csrf", "other").as_bytes()).as_deref(), Some(""));
    }

    #[tokio::test]
    async fn the_body_is_whole_after_a_look_at_its_start() {
        use axum::body::to_bytes;
        // Three bytes at a time, as a slow line brings them.
        let pieces: Vec<Result<Bytes, std::io::Error>> =
            WHOLE.as_bytes().chunks(3).map(|piece| Ok(Bytes::copy_from_slice(piece))).collect();
        let mut request = Request::new(Body::from_stream(futures_util::stream::iter(pieces)));
        let kind = "multipart/form-data; boundary=x".parse().unwrap();
        request.headers_mut().insert(header::CONTENT_TYPE, kind);
        let (token, request) = peek(request).await.unwrap();
        assert_eq!(token, "token");
        let body = to_bytes(request.into_body(), 10_000).await.unwrap();
        assert_eq!(body, WHOLE.as_bytes());
    }
}
