//! What a form offers to the person who fills it in: the fields that the role may set, and the
//! codes that exist.

use std::collections::BTreeMap;

use app::read::Connection;

use crate::forms::{Choice, FieldView, fields};
use app::{Failure, kinds, renames};
use domain::cells::{Cells, FieldError, Input};
use domain::kinds::Kind;
use domain::records::Column;
use domain::roles::{Action, may};
use domain::words::Role;

/// More codes than this make no list that anybody reads.
const MAX_CODES: i64 = 300;

/// The columns that this person fills in.
pub(super) fn columns(kind: Kind, role: Role, is_new: bool) -> Vec<Column> {
    kinds::columns(kind)
        .iter()
        .filter(|column| !column.by_operation && is_offered(kind, role, is_new, column.name))
        .copied()
        .collect()
}

fn is_offered(kind: Kind, role: Role, is_new: bool, column: &str) -> bool {
    match (kind, column) {
        // Other records name it by its code, so few kinds ever change it.
        (_, "code") => is_new || renames::is_possible(kind),
        // A slot is moved, not edited onto another excursion.
        (Kind::Slot, "task" | "excursion") => is_new,
        (Kind::Task, "class") => may(role, Action::SetClass),
        (Kind::Task, "needed_by_flight" | "needed_by_day" | "late_means" | "late_is_moot") => {
            may(role, Action::SetNeededBy)
        }
        _ => true,
    }
}

/// The fields of the form, with the codes of what they may name.
pub(crate) async fn filled(
    db: &mut Connection,
    columns: &[Column],
    cells: &Cells,
    errors: &[FieldError],
) -> Result<Vec<FieldView>, Failure> {
    let mut made = fields(columns, cells, errors);
    let mut codes: BTreeMap<Kind, Vec<Choice>> = BTreeMap::new();
    for column in columns {
        if let Input::Code(kind) = column.input
            && !codes.contains_key(&kind)
        {
            let known = kinds::after(db, kind, "", MAX_CODES).await?;
            codes.insert(kind, known.iter().map(choice).collect());
        }
    }
    for (field, column) in made.iter_mut().zip(columns) {
        if let Input::Code(kind) = column.input
            && let Some(known) = codes.get(&kind)
        {
            field.offers.clone_from(known);
        }
    }
    Ok(made)
}

/// Few people choose a code, so typing begins with the field after it, unless a code has to be typed.
pub(super) fn focus(fields: &mut [FieldView]) {
    if let [code, next, ..] = fields
        && code.name == "code"
        && code.autofocus
        && !(code.required && code.value.is_empty())
    {
        code.autofocus = false;
        next.autofocus = true;
    }
}

/// What a person is asked for in a new record beyond what its columns demand, and what is filled in
/// where nobody answers.
pub(super) fn asked_of_people(fields: &mut [FieldView], kind: Kind, is_new: bool) {
    for field in fields.iter_mut().filter(|_| is_new) {
        field.required |= kinds::asked_of_people(kind).contains(&field.name.as_str());
        if kind == Kind::Task && field.name == "opened" {
            let words = "Left empty: today, or the earlier date of the excursion that found it.";
            words.clone_into(&mut field.hint);
        }
    }
}

/// Says on a form what comes of the code that is typed.
pub(super) fn about_code(field: &mut FieldView, kind: Kind, is_new: bool) {
    let named_by_people = matches!(kind, Kind::Flight | Kind::Excursion);
    field.required |= named_by_people || !is_new;
    let is_first = is_new && named_by_people && field.value.is_empty();
    let hint = match (is_new, named_by_people) {
        (true, true) if is_first && kind == Kind::Flight => "For example G-1.",
        (true, true) if is_first => {
            "For example E-1.1 for the first excursion of G-1. Enter the flight for the next code."
        }
        (true, true) => {
            "The next one in your pattern is filled in; type another where you need it."
        }
        (true, false) => "Left empty: the next free one is given.",
        (false, _) => "It can be changed while no other record names it.",
    };
    hint.clone_into(&mut field.hint);
}

/// A code, with the words by which people know the record.
fn choice(cells: &Cells) -> Choice {
    let words = ["title", "name", "what", "words", "task"];
    let words = words.iter().map(|name| cells.get(name)).find(|text| !text.is_empty());
    let short: String = words.unwrap_or("").chars().take(80).collect();
    Choice::new(cells.get("code"), short)
}
