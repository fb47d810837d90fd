//! Forms that could not be taken, with everything that was typed, ready to be sent again.

use crate::extract::Fields;
use crate::forms::{FieldView, Width};

/// Fields that the service itself puts into a form.
const OURS: [&str; 3] = ["csrf", "form_key", "version"];
/// A longer text is shown in a field of several lines.
const LONG: usize = 80;

/// A form that came in, as it can be sent again. The key stays, so that it counts once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeldForm {
    /// Where it goes.
    pub action: String,
    pub key: String,
    pub version: String,
    pub fields: Vec<FieldView>,
}

impl HeldForm {
    pub fn new(action: impl Into<String>, typed: &Fields) -> Self {
        let fields = typed
            .0
            .iter()
            .filter(|(name, _)| !OURS.contains(&name.as_str()) && !is_secret(name))
            .enumerate()
            .map(|(n, (name, value))| {
                let mut field = FieldView::new(name.clone(), label(name)).holding(value.clone());
                // One name may stand there several times; an id may not.
                field.id = format!("held-{n}");
                if value.contains('\n') || value.chars().count() > LONG {
                    field.prose().wide(Width::Whole)
                } else {
                    field
                }
            })
            .collect();
        Self {
            action: action.into(),
            key: typed.get("form_key").to_owned(),
            version: typed.get("version").to_owned(),
            fields,
        }
    }
}

/// A password is asked for again and never held.
pub(crate) fn is_secret(name: &str) -> bool {
    ["password", "current", "new", "again"].contains(&name) || name.contains("password")
}

/// The body without what must not be kept.
pub(crate) fn body_to_hold(typed: &Fields) -> String {
    let mut body = form_urlencoded::Serializer::new(String::new());
    for (name, value) in typed.0.iter().filter(|(name, _)| name != "csrf" && !is_secret(name)) {
        body.append_pair(name, value);
    }
    body.finish()
}

/// `as_left` becomes `As left`.
fn label(name: &str) -> String {
    let spaced = name.replace(['_', '-'], " ");
    let mut letters = spaced.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_keeps_all_that_was_typed_and_its_key_and_no_secret() {
        let typed = Fields::read(
            b"csrf=x&form_key=k-1&version=4&title=A+b&words=one%0D%0Atwo&tool=L-1&tool=L-2&password=p",
        );
        let form = HeldForm::new("/tasks/T-1", &typed);
        let shown: Vec<_> =
            form.fields.iter().map(|f| (f.label.as_str(), f.value.as_str())).collect();
        assert_eq!(
            shown,
            [("Title", "A b"), ("Words", "one\r\ntwo"), ("Tool", "L-1"), ("Tool", "L-2")]
        );
        assert_eq!((form.key.as_str(), form.version.as_str()), ("k-1", "4"));
        let held = body_to_hold(&typed);
        assert!(!held.contains("csrf") && !held.contains("password"), "{held}");
        assert_eq!(HeldForm::new("/tasks/T-1", &Fields::read(held.as_bytes())), form);
    }
}
