//! Forms that could not be taken, with everything that was typed, ready to be sent again: under the
//! labels that their own pages show, choices as words.

use crate::addresses;
use crate::extract::Fields;
use crate::forms::{Choice, FieldView, Width};
use app::kinds;
use domain::cells::FieldError;
use domain::kinds::Kind;
use domain::records::Column;

/// Fields that the service itself puts into a form.
const OURS: [&str; 3] = ["csrf", "form_key", "version"];
/// What a form carries along and nobody types.
const CARRIED: [&str; 9] =
    ["back", "cell", "key", "left_shown", "row", "seen", "stamp", "version", "press"];
/// A longer text is shown in a field of several lines.
const LONG: usize = 80;

/// Fields that are no column of a record, with the labels of their forms.
const LABELS: &[(&str, &str)] = &[
    ("add_side", "Side that the task does not have yet"),
    ("approach", "Approach"),
    ("at", "Excursion"),
    ("before", "Work it"),
    ("day_number", "Day number, if again"),
    ("defer_phase", "When"),
    ("defer_reason", "Removed because"),
    ("do", "Do"),
    ("egress_at", "Egress began, UTC"),
    ("evidence", "Evidence"),
    ("item", "Item"),
    ("kind", "Kind"),
    ("move_excursions", "Move its excursions along"),
    ("need", "Needed by date"),
    ("outcome", "Outcome"),
    ("pet", "PET of the press"),
    ("pick", "Task"),
    ("quote", "Words of the notes"),
    ("reason", "Reason"),
    ("share", "% planned"),
    ("to", "It becomes"),
    ("to_excursion", "Deferred to"),
    ("waive", "Waived check"),
    ("waiver", "Reason for the waiver"),
    ("why", "Why"),
];

/// A form that came in, as it can be sent again. The key stays, so that it counts once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HeldForm {
    /// Where it goes.
    pub action: String,
    pub key: String,
    pub version: String,
    pub fields: Vec<FieldView>,
    /// What the form carries along and nobody types.
    pub carried: Vec<(String, String)>,
}

impl HeldForm {
    pub fn new(action: impl Into<String>, typed: &Fields) -> Self {
        let action = action.into();
        let is_shown = |name: &str| !OURS.contains(&name) && !is_secret(name);
        let is_carried = |name: &str| CARRIED.contains(&split(name).1);
        let fields = typed
            .0
            .iter()
            .filter(|(name, _)| is_shown(name) && !is_carried(name))
            .enumerate()
            .map(|(n, (name, value))| {
                let mut field = as_on_its_form(&action, name, value);
                // One name may stand there several times; an id may not.
                field.id = format!("held-{n}");
                field
            })
            .collect();
        let carried = typed.0.iter().filter(|(name, _)| is_shown(name) && is_carried(name));
        Self {
            carried: carried.cloned().collect(),
            action,
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

/// The field as the form at this address shows it.
fn as_on_its_form(action: &str, name: &str, value: &str) -> FieldView {
    let column = column_of(action, name);
    let mut field = match column {
        Some(column) => FieldView { name: name.to_owned(), ..FieldView::of(column) },
        None => FieldView::new(name, ""),
    };
    field.label = label_of(action, name);
    field.hint = String::new();
    field.required = false;
    if name == "approach" {
        let words = match value.split_once(',') {
            Some((technique, side)) if !side.is_empty() => format!("{technique} from {side}"),
            _ => value.trim_end_matches(',').to_owned(),
        };
        field = field.choosing(vec![Choice::new(value, words)]);
    }
    if let crate::forms::Shape::Choice(choices) = &mut field.shape
        && choices.iter().all(|choice| choice.value != value)
    {
        choices.push(Choice::new(value, value));
    }
    let field = field.holding(value);
    if value.contains('\n') || value.chars().count() > LONG {
        return field.prose().wide(Width::Whole);
    }
    field
}

/// The label that the form at this address shows for a field: that of the column of its record, else
/// the one that forms of acts use, else the name in words.
fn label_of(action: &str, name: &str) -> String {
    if let Some(column) = column_of(action, name) {
        return column.label.to_owned();
    }
    let bare = split(name).1;
    let known = LABELS.iter().find(|(known, _)| *known == bare);
    known.map_or_else(|| in_words(bare), |(_, label)| (*label).to_owned())
}

/// A message about a field, after its label; of the board of a day the message alone, as it says what
/// it is about.
pub(crate) fn line_of(action: &str, wrong: &FieldError) -> String {
    let mut parts = action.trim_start_matches('/').split('/');
    let of_a_day =
        parts.next() == Some("excursions") && matches!(parts.nth(1), Some("day" | "practice"));
    if of_a_day {
        return wrong.message.clone();
    }
    format!("{}: {}", label_of(action, &wrong.field), wrong.message)
}

/// The label of a column of a kind, else its name in words.
pub(crate) fn label_in(kind: Kind, name: &str) -> String {
    let column = kinds::columns(kind).iter().find(|column| column.name == name);
    column.map_or_else(|| in_words(name), |column| column.label.to_owned())
}

/// A row of the debrief begins its names with its own: `r0-minutes`.
fn split(name: &str) -> (&str, &str) {
    match name.split_once('-') {
        Some((start, rest)) if kind_of_row(start).is_some() => (start, rest),
        _ => ("", name),
    }
}

/// The kind of record that a row of the debrief writes.
fn kind_of_row(start: &str) -> Option<Kind> {
    let is_row = |letter: char| {
        start.strip_prefix(letter).is_some_and(|number| {
            !number.is_empty() && number.bytes().all(|byte| byte.is_ascii_digit())
        })
    };
    match start {
        "head" => Some(Kind::Excursion),
        "outside" => Some(Kind::OutsideItem),
        _ if is_row('r') => Some(Kind::Attempt),
        _ if is_row('t') => Some(Kind::ExcursionTool),
        _ => None,
    }
}

/// The column that a field of the form at this address fills. An act on a record has fields of its
/// own, which may be called like a column of another record.
fn column_of(action: &str, name: &str) -> Option<&'static Column> {
    let (row, name) = split(name);
    let path = action.split(['?', '#']).next().unwrap_or_default();
    let mut parts = path.split('/').skip(1);
    let folder = parts.next().unwrap_or_default();
    let kind = kind_of_row(row)
        .or_else(|| Kind::ALL.iter().copied().find(|kind| addresses::folder(*kind) == folder))?;
    kinds::columns(kind).iter().find(|column| column.name == name)
}

/// `as_left` becomes `As left`.
fn in_words(name: &str) -> String {
    let spaced = name.replace(['_', '-'], " ");
    let mut letters = spaced.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(action: &str, body: &[u8]) -> Vec<(String, String, bool)> {
        let form = HeldForm::new(action, &Fields::read(body));
        let is_choice = |f: &FieldView| matches!(f.shape, crate::forms::Shape::Choice(_));
        form.fields.iter().map(|f| (f.label.clone(), f.value.clone(), is_choice(f))).collect()
    }

    #[test]
    fn fields_stand_under_the_labels_of_their_form_and_choices_are_words() {
        let of = |label: &str, value: &str, choice| (label.to_owned(), value.to_owned(), choice);
        assert_eq!(
            shown("/tasks/T-1/edit", b"triggered=yes&needed_by_day=later&back=/open"),
            [of("Condition met", "yes", true), of("Needed by date", "later", false)]
        );
        assert_eq!(
            shown("/remedies/R-1/move", b"evidence=seen&to=verified"),
            [of("Evidence", "seen", false), of("It becomes", "verified", false)]
        );
        assert_eq!(
            shown(
                "/excursions/E-1/debrief",
                b"r0-key=x&r0-outcome=done&t1-brought_in=2&r0-left_shown=4"
            ),
            [of("Outcome", "done", true), of("In", "2", false)]
        );
        let form =
            HeldForm::new("/tasks/T-1/slots", &Fields::read(b"approach=K-LEVER,nadir&cell=c"));
        let crate::forms::Shape::Choice(choices) = &form.fields[0].shape else {
            panic!("{form:?}")
        };
        assert_eq!(choices[0].words, "K-LEVER from nadir");
        assert_eq!(form.carried, [("cell".to_owned(), "c".to_owned())]);
    }

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
