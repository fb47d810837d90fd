//! Where records stand: the address of a record, with its code safe to put into a path.

use std::fmt::{Display, Write as _};

use axum::http::{HeaderMap, header};

use app::config::Config;
use domain::bounds::MAX_BACK_BYTES;
use domain::kinds::Kind;

/// The first part of the address of a kind; the outside list has a shorter one than its file.
pub const fn folder(kind: Kind) -> &'static str {
    match kind {
        Kind::OutsideItem => "outside",
        _ => kind.plural(),
    }
}

/// `/tasks/T-0142`.
pub fn of(kind: Kind, code: impl Display) -> String {
    within(folder(kind), code)
}

/// Where a changed record stands: what has no page of its own stands among the changes.
pub fn of_changed(kind: Kind, code: &str) -> String {
    match kind {
        Kind::Person | Kind::View => "/changes".to_owned(),
        kind => of(kind, code),
    }
}

/// The same for templates, which hand over references.
pub fn of_ref(kind: impl std::borrow::Borrow<Kind>, code: impl Display) -> String {
    of(*kind.borrow(), code)
}

/// The same for templates, which name the folder: `within("tasks", code)`.
pub fn within(folder: impl Display, code: impl Display) -> String {
    format!("/{folder}/{}", encoded(&code.to_string()))
}

/// The classes of a code: one that is longer than any line may break.
pub fn code_class(code: impl Display) -> &'static str {
    if code.to_string().chars().count() > UNBROKEN { "code long" } else { "code" }
}

/// So many letters of a code stand in one piece everywhere.
const UNBROKEN: usize = 16;

/// Where a field of a record is filled in. A record that nobody has made yet has no code: suit
/// rates are entered, or published ones taken, under the settings; so are the settings themselves.
pub fn field(kind: Kind, code: &str, column: &str) -> String {
    match (kind, code) {
        (Kind::SuitRates, "") => "/settings#suits".to_owned(),
        (Kind::Settings, "") => "/settings#bounds".to_owned(),
        (_, "") => format!("/{}/new#f-{}", folder(kind), column.replace('_', "-")),
        _ => format!("{}/edit#f-{}", of(kind, code), column.replace('_', "-")),
    }
}

/// The address to which a form asks to go back, where it begins like one of these pages and can
/// stand in a header; else the other one.
// Source: RFC 9110, section 5.5 (a field value holds no line break), 2022.
pub fn back(asked: &str, pages: &[&str], otherwise: &str) -> String {
    let is_ours = pages.iter().any(|start| asked.starts_with(start));
    let is_printable = !asked.chars().any(char::is_control);
    let fits = asked.len() <= MAX_BACK_BYTES;
    if is_ours && is_printable && fits { asked } else { otherwise }.to_owned()
}

/// Percent-encodes all but the unreserved characters.
// Source: RFC 3986, sections 2.1 and 2.3, 2005.
pub fn encoded(text: &str) -> String {
    text.bytes().fold(String::with_capacity(text.len()), |mut out, byte| {
        if byte.is_ascii_alphanumeric() || b"-._~".contains(&byte) {
            out.push(char::from(byte));
        } else {
            // Writing to a String cannot fail.
            let _ = write!(out, "%{byte:02X}");
        }
        out
    })
}

/// Under which address people reach the service: as it was told, else as this browser asked for it.
pub(crate) fn of_service(config: &Config, headers: &HeaderMap) -> String {
    if let Some(address) = &config.public_url {
        return address.clone();
    }
    let host = headers.get(header::HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    let scheme = if config.secure_cookies { "https" } else { "http" };
    if host.is_empty() { String::new() } else { format!("{scheme}://{host}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_way_back_is_taken_only_to_a_page_of_ours() {
        let back = |asked| back(asked, &["/slots", "/tasks/"], "/slots");
        assert_eq!(back("/tasks/T-1?cell=a#b"), "/tasks/T-1?cell=a#b");
        for asked in ["/tasks/T-1\r\nx: y", "/slots\n", "https://elsewhere", "", "/people"] {
            assert_eq!(back(asked), "/slots", "{asked:?}");
        }
        let endless = format!("/tasks/{}", "a".repeat(MAX_BACK_BYTES));
        assert_eq!(back(&endless), "/slots");
    }

    #[test]
    fn a_record_stands_under_its_kind() {
        assert_eq!(of(Kind::Task, "T-0142"), "/tasks/T-0142");
        assert_eq!(of(Kind::OutsideItem, "O-07"), "/outside/O-07");
    }

    #[test]
    fn a_field_is_filled_in_on_the_form_of_its_record() {
        let first_sunrise = field(Kind::Excursion, "E-1", "first_sunrise");
        assert_eq!(first_sunrise, "/excursions/E-1/edit#f-first-sunrise");
        assert_eq!(field(Kind::Technique, "", "steps"), "/techniques/new#f-steps");
        assert_eq!(field(Kind::SuitRates, "", "crew"), "/settings#suits");
    }

    #[test]
    fn a_code_with_a_slash_a_blank_or_a_foreign_letter_stays_one_part_of_the_path() {
        // Source: RFC 3986, section 2.1 (a percent sign and two hexadecimal digits an octet) and
        // section 2.5 ("LATIN CAPITAL LETTER A WITH GRAVE" is %C3%80), 2005.
        assert_eq!(of(Kind::Tool, "a/b c"), "/tools/a%2Fb%20c");
        assert_eq!(encoded("À"), "%C3%80");
    }
}
