//! If–then of a slot: its fallbacks, each a row of one form. A row is added, moved and removed by a
//! button of the form, so that everything typed is saved with it.

use std::collections::BTreeSet;

use askama::Template;
use axum::extract::State;

use super::fields::WaiverView;
use super::form::Typed;
use crate::addresses;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::{Choice, ErrorLine, ErrorSummary, FieldView, Typed as Expected, Width};
use crate::frame::{Nav, PageFrame};
use crate::page::Page;
use crate::visitor::Viewer;
use app::slots::if_then::{self, IfThen};
use app::{App, Reader};
use compute::day::Minutes;
use compute::fit::{Guard, pet};
use domain::cells::{Cell as _, FieldError};
use domain::fallbacks::{self, Fallback, Fallbacks, LEAVE, MAX_FALLBACKS};
use domain::repeat_guard::Approach;
use domain::roles::{Action, may};
use domain::words::SlotState;

/// One fallback as it was typed.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct TypedFallback {
    approach: String,
    after: String,
    when: String,
    needed: String,
}

/// The parts of a row: the name of its field and its label.
const PARTS: [(&str, &str); 4] = [
    ("approach", "Then"),
    ("after", "After, min of the approach before it"),
    ("when", "Or when: a torque, turns, a look"),
    ("needed", "Needed, %"),
];

impl TypedFallback {
    fn of(fallback: &Fallback) -> Self {
        Self {
            approach: fallback.what(),
            after: fallback.after.map_or_else(String::new, |after| after.show()),
            when: fallback.when.as_ref().map_or_else(String::new, ToString::to_string),
            needed: fallback.needed.map_or_else(String::new, |needed| needed.show()),
        }
    }

    fn part(&self, name: &str) -> &str {
        match name {
            "approach" => &self.approach,
            "after" => &self.after,
            "when" => &self.when,
            _ => &self.needed,
        }
    }

    fn is_blank(&self) -> bool {
        PARTS.iter().all(|(name, _)| self.part(name).trim().is_empty())
    }
}

fn name(row: usize, part: &str) -> String {
    format!("then-{row}-{part}")
}

/// The rows of a form about fallbacks; `None` where the form is about something else.
pub(super) fn rows(typed: &Fields) -> Option<Vec<TypedFallback>> {
    let row = |at: usize| {
        let part = |part| typed.get(&name(at, part)).to_owned();
        TypedFallback {
            approach: part("approach"),
            after: part("after"),
            when: part("when"),
            needed: part("needed"),
        }
    };
    let sent = (0..=MAX_FALLBACKS).take_while(|at| typed.has(&name(*at, "approach")));
    let rows: Vec<TypedFallback> = sent.map(row).collect();
    (!rows.is_empty()).then_some(rows)
}

/// The fallbacks that the rows come to, after what the button of a row does: `up 1`, `down 0`,
/// `remove 2`. A row without anything in it is none.
pub(super) fn listed(rows: &[TypedFallback], button: &str) -> Result<Fallbacks, Vec<FieldError>> {
    let (does, at) = button.split_once(' ').unwrap_or_default();
    let at: Option<usize> = at.parse().ok();
    let mut kept: Vec<(usize, &TypedFallback)> = rows
        .iter()
        .enumerate()
        .filter(|(row, typed)| !(typed.is_blank() || does == "remove" && Some(*row) == at))
        .collect();
    if let Some(place) = kept.iter().position(|(row, _)| Some(*row) == at) {
        match does {
            "up" if place > 0 => kept.swap(place - 1, place),
            "down" if place + 1 < kept.len() => kept.swap(place, place + 1),
            _ => {}
        }
    }
    let mut wrong = Vec::new();
    let mut fallbacks = Vec::new();
    for (row, typed) in kept {
        let TypedFallback { approach, after, when, needed } = typed;
        match Fallback::read(fallbacks::Typed { approach, after, when, needed }) {
            Ok(fallback) => fallbacks.push(fallback),
            Err(parts) => wrong.extend(
                parts.into_iter().map(|(part, words)| FieldError::new(name(row, part), words)),
            ),
        }
    }
    let fallbacks = Fallbacks(fallbacks);
    if fallbacks.0.len() > MAX_FALLBACKS {
        let words = format!("A slot has at most {MAX_FALLBACKS} fallbacks; remove one first.");
        wrong.push(FieldError::new("fallbacks", words));
    }
    wrong.extend(fallbacks.order().map(|words| FieldError::new("fallbacks", words)));
    if wrong.is_empty() { Ok(fallbacks) } else { Err(wrong) }
}

/// Where the fallbacks of a slot are changed, or read.
pub(crate) fn address(slot: &str) -> String {
    format!("{}/if-then", addresses::within("slots", slot))
}

/// `K-TIE from zenith after 60 min, or when the gun jams twice; needed with 25 %.`
pub(crate) fn line(fallback: &Fallback) -> String {
    let needed = fallback.needed.map_or_else(String::new, |share| format!("; needed with {share}"));
    format!("{} {}{needed}.", fallback.what(), fallback.trigger())
}

#[derive(Template)]
#[template(path = "slots/if_then.html")]
pub(crate) struct IfThenPage {
    page: PageFrame,
    summary: ErrorSummary,
    task: String,
    title: String,
    excursion: String,
    state: SlotState,
    address: String,
    version: i64,
    /// The approach with which it begins, and what the record says of it.
    first: String,
    first_record: String,
    rows: Vec<RowView>,
    /// The list as it is, for who may not change it.
    lines: Vec<String>,
    may_change: bool,
    waiver: Option<WaiverView>,
    minutes: String,
}

/// One fallback on the form; the last one is empty.
struct RowView {
    at: usize,
    heading: String,
    fields: Vec<FieldView>,
    /// What the record says of the approach before it.
    before: String,
    is_new: bool,
    is_first: bool,
    is_last: bool,
}

pub(crate) async fn show(
    State(app): State<App>,
    viewer: Viewer,
    Path(slot): Path<String>,
) -> Result<Page<IfThenPage>, PageError> {
    let mut db = app.reader().await?;
    Ok(Page(page(&mut db, &viewer, &slot, None).await?))
}

/// The page; with what was typed, where it was refused.
pub(super) async fn page(
    db: &mut Reader,
    viewer: &Viewer,
    slot: &str,
    typed: Option<(Vec<TypedFallback>, &Typed)>,
) -> Result<IfThenPage, PageError> {
    let there = if_then::read(db, slot).await?;
    let role = viewer.actor.role;
    let is_set = there.slot.state == SlotState::Set;
    let may_change =
        there.is_ahead && may(role, if is_set { Action::SetSlot } else { Action::Pencil });
    let none = Typed::default();
    let (held, refused) = match typed {
        Some((rows, refused)) => (rows, refused),
        None => (there.slot.fallbacks.0.iter().map(TypedFallback::of).collect(), &none),
    };
    let rows = row_views(&there, held, &refused.errors);
    let waiver = (may_change && is_set).then(|| {
        let words: Vec<&'static str> = there.against.iter().map(|gate| gate.word()).collect();
        WaiverView::new(
            "if-then",
            if words.is_empty() { domain::words::GateName::WORDS } else { &words },
            refused,
        )
    });
    let fields: Vec<FieldView> = rows.iter().flat_map(|row| row.fields.clone()).collect();
    let summary = match &refused.refused {
        Some(words) => ErrorSummary {
            heading: "It was not done".to_owned(),
            lines: vec![ErrorLine { target: "list".to_owned(), words: words.clone() }],
        },
        None => ErrorSummary::of(&refused.errors, &fields),
    };
    let sent = refused.cells.get("version").parse().ok();
    let task = there.slot.task.to_string();
    let first = Approach { technique: there.slot.technique.clone(), side: there.slot.side.clone() };
    Ok(IfThenPage {
        page: viewer.frame(format!("If–then of {task}"), Nav::Slots).refusing(!refused.is_empty()),
        summary,
        title: there.title.clone(),
        excursion: there.slot.excursion.to_string(),
        state: there.slot.state,
        address: address(slot),
        version: sent.unwrap_or(there.version),
        first_record: record(&there, &first),
        first: if first == Approach::default() {
            "no approach chosen".to_owned()
        } else {
            first.to_string()
        },
        rows,
        lines: there.slot.fallbacks.0.iter().map(line).collect(),
        may_change,
        waiver,
        minutes: minutes(&there),
        task,
    })
}

fn row_views(there: &IfThen, mut held: Vec<TypedFallback>, errors: &[FieldError]) -> Vec<RowView> {
    let listed = held.iter().filter(|row| !row.is_blank()).count();
    if listed < MAX_FALLBACKS && held.last().is_none_or(|row| !row.is_blank()) {
        held.push(TypedFallback::default());
    }
    let mut before =
        Some(Approach { technique: there.slot.technique.clone(), side: there.slot.side.clone() });
    let mut views = Vec::with_capacity(held.len());
    for (at, row) in held.iter().enumerate() {
        let is_new = row.is_blank();
        views.push(RowView {
            at,
            heading: if is_new {
                "Add a fallback".to_owned()
            } else {
                format!("Fallback {}", at + 1)
            },
            fields: fields(there, at, row, errors),
            before: before.as_ref().map_or_else(String::new, |before| record(there, before)),
            is_new,
            is_first: at == 0,
            is_last: at + 1 >= listed,
        });
        let known = there.approaches.iter().map(|(approach, _)| approach);
        before = known.clone().find(|way| shown(way) == row.approach).cloned();
    }
    views
}

/// An approach as the list of choices sends it.
fn shown(approach: &Approach) -> String {
    let technique = approach.technique.as_ref().map_or("", |technique| technique.as_str());
    match &approach.side {
        Some(side) => format!("{technique} from {side}"),
        None => technique.to_owned(),
    }
}

fn fields(there: &IfThen, at: usize, row: &TypedFallback, errors: &[FieldError]) -> Vec<FieldView> {
    let mut choices = vec![Choice::new("", "choose")];
    choices.extend(there.approaches.iter().map(|(approach, guard)| {
        let stands = match guard {
            Guard::Free => "",
            Guard::Questioned => " · questioned",
            Guard::Blocked => " · blocked",
            Guard::NotRecorded => " · cannot tell",
            Guard::Drafted => " · drafted",
            Guard::Withdrawn => " · withdrawn",
        };
        Choice::new(shown(approach), format!("{}{stands}", shown(approach)))
    }));
    choices.push(Choice::new(LEAVE, LEAVE));
    let known: BTreeSet<&str> = choices.iter().map(|choice| choice.value.as_str()).collect();
    if !known.contains(row.approach.as_str()) {
        let kept = Choice::new(&row.approach, &row.approach);
        choices.push(kept);
    }
    let field = |(part, label): (&'static str, &'static str)| {
        let field = FieldView::new(name(at, part), label).holding(row.part(part));
        let field = match part {
            "approach" => field.choosing(choices.clone()).wide(Width::Medium),
            "when" => field.wide(Width::Grow),
            _ => field.typed(Expected::WHOLE).wide(Width::Small),
        };
        field.judged(errors)
    };
    PARTS.into_iter().map(field).collect()
}

/// What the record says of an approach: `K-GUN from zenith: 4 attempts in the record, 1 of them not
/// done.`
fn record(there: &IfThen, approach: &Approach) -> String {
    if approach.technique.is_none() {
        return String::new();
    }
    let (begun, done) = there.record_of(approach);
    let what = shown(approach);
    match begun {
        0 => format!("{what}: no attempt in the record."),
        1 if done == 1 => format!("{what}: 1 attempt in the record, done."),
        1 => format!("{what}: 1 attempt in the record, not done."),
        _ => format!("{what}: {begun} attempts in the record, {} of them not done.", begun - done),
    }
}

/// `Work 0:38 at the mean, P80 0:46 by its approach alone; 0:49 and 1:12 with the list.`
fn minutes(there: &IfThen) -> String {
    let Some([alone, with]) = &there.minutes else {
        return "How long it takes is unknown: the approach has no estimate.".to_owned();
    };
    let both = |minutes: &Minutes| {
        format!("{} at the mean, {} at P80", pet(minutes.mean()), pet(minutes.quantile(0.8)))
    };
    if alone == with {
        return format!(
            "Work {} by its approach alone. A fallback counts once it names minutes and %.",
            both(alone)
        );
    }
    format!("Work {} by its approach alone; {} with the list.", both(alone), both(with))
}

#[cfg(test)]
mod tests {
    use super::*;

    const TWO: &str = "then-0-approach=K-1+from+nadir&then-0-after=40&then-0-when=&then-0-needed=25\
                       &then-1-approach=leave+as+is&then-1-after=10&then-1-when=&then-1-needed=\
                       &then-2-approach=&then-2-after=&then-2-when=&then-2-needed=";

    fn read(body: &str, button: &str) -> Result<String, Vec<String>> {
        let rows = rows(&Fields::read(body.as_bytes())).unwrap();
        let listed = listed(&rows, button).map(|all| all.show());
        listed.map_err(|wrong| wrong.into_iter().map(|one| one.field).collect())
    }

    #[test]
    fn rows_are_a_list_that_buttons_change() {
        let two = "K-1 from nadir, after 40 min, needed 25 %; leave as is, after 10 min";
        assert_eq!(read(TWO, "").unwrap(), two);
        assert_eq!(read(TWO, "remove 0").unwrap(), "leave as is, after 10 min");
        assert_eq!(read(TWO, "up 0").unwrap(), two);
        let swapped = TWO.replace("leave+as+is", "K-2");
        assert_eq!(
            read(&swapped, "up 1").unwrap(),
            "K-2, after 10 min; K-1 from nadir, after 40 min, needed 25 %"
        );
        assert_eq!(read(&swapped, "down 0").unwrap(), read(&swapped, "up 1").unwrap());
        // Left as it is, nothing follows.
        assert_eq!(read(TWO, "up 1").unwrap_err(), ["fallbacks"]);
        assert!(rows(&Fields::read(b"seats=EV1")).is_none());
    }

    #[test]
    fn what_is_wrong_is_said_at_its_field_all_at_once() {
        let wrong = TWO.replace("after=40", "after=soon").replace("after=10", "after=");
        assert_eq!(read(&wrong, "").unwrap_err(), ["then-0-after", "then-1-after"]);
        assert_eq!(read(&wrong, "remove 0").unwrap_err(), ["then-1-after"]);
    }
}
