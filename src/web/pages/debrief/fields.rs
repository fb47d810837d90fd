//! The fields of the debrief: of a row, of the whole excursion, of a tool, of an item left outside.

use super::approaches::answered;
use super::choices::{Choices, with_chosen};
use super::saving::{HEAD, Outcome};
use crate::forms::{Choice, FieldView, Typed, Width};
use app::day::BoardTimes;
use app::debrief::{DEFERRED, DebriefRow};
use domain::attempts::Attempt;
use domain::cells::{Cell as _, Cells, FieldError};
use domain::confirmations::Doubt;
use domain::excursions::Excursion;
use domain::outside::OutsideItem;
use domain::records::Record as _;
use domain::time::Moment;
use domain::units::{Minutes, Pet};
use domain::words::{
    DeferralPhase, DeferralReason, FunctionAfter, LightingThen, Outcome as Ended, OutsideAfter,
};

/// The fields that an outcome needs first, in the order in which they are typed. Of the outcome itself,
/// these and the photographs at most eight are in view; the rest stands under “More”.
const FIRST: [&str; 15] = [
    "excursion",
    "slot",
    "approach",
    "technique",
    "side",
    "minutes",
    "confirmed",
    "came_out",
    "went_in",
    "cause",
    "left_after",
    "words",
    "as_left",
    "defer_reason",
    "to_excursion",
];

/// So many fields are in view beside the outcome and the photographs, which are two more.
const IN_VIEW: usize = 6;

/// What goes under “More” first where more than so many would be in view.
const LEAVES_FIRST: [&str; 4] = ["as_left", "slot", "went_in", "came_out"];

/// What another approach than those offered is typed in. A task that offers none has neither a
/// technique nor a side to choose.
const TYPED_APPROACH: [&str; 2] = ["technique", "side"];

/// What the record keeps beside the result; only the page of one attempt asks for it.
const OF_RECORD: [&str; 8] = [
    "revision",
    "planned_share",
    "operated",
    "unit",
    "serial",
    "worksite",
    "cut_off",
    "recorded_by",
];

/// The one description of the form of an attempt.
pub(super) struct Fields {
    pub first: Vec<FieldView>,
    pub more: Vec<FieldView>,
}

/// The classes of fields that the style sheet hides for an outcome.
fn hidden(outcome: &str) -> &'static [&'static str] {
    match outcome {
        "done" => &["if-not", "if-left", "if-deferred", "if-other"],
        "part done" | "not completed" => &["if-done", "if-deferred", "if-other"],
        "not reached" => &["if-done", "if-tried", "if-left", "if-deferred", "if-other"],
        _ => &["if-done", "if-tried", "if-not", "if-left", "if-other"],
    }
}

/// How many fields are in view at the most, without the outcome, the photographs and the question that
/// a refusal asks.
fn most_in_view(first: &[FieldView]) -> usize {
    let outcomes = Ended::WORDS.iter().copied().chain([DEFERRED]);
    let is_seen = |field: &&FieldView, outcome: &str| {
        field.name != "confirmed" && !hidden(outcome).contains(&field.when)
    };
    let seen = |outcome: &str| first.iter().filter(|field| is_seen(field, outcome)).count();
    outcomes.map(seen).max().unwrap_or_default()
}

/// The fields of an attempt, whether they stand in a row of the debrief or on a page of their own.
pub(super) fn fields(
    row: &DebriefRow,
    cells: &Cells,
    wrong: &[FieldError],
    choices: &Choices,
) -> Fields {
    let mut more = all_fields(row, cells, wrong, choices);
    let mut first = Vec::new();
    let offers_none = more.iter().all(|field| field.name != "approach");
    for name in FIRST {
        let found = more.iter().position(|field| field.name == name);
        let waits =
            |at: &usize| offers_none && TYPED_APPROACH.contains(&name) && more[*at].error.is_none();
        if let Some(at) = found.filter(|at| !waits(at)) {
            first.push(more.remove(at));
        }
    }
    for name in LEAVES_FIRST {
        if most_in_view(&first) > IN_VIEW
            && let Some(at) = first.iter().position(|field| field.name == name)
            && first[at].error.is_none()
        {
            more.insert(0, first.remove(at));
        }
    }
    Fields { first, more }
}

fn all_fields(
    row: &DebriefRow,
    cells: &Cells,
    wrong: &[FieldError],
    choices: &Choices,
) -> Vec<FieldView> {
    let plain = |name: &str, label: &str, when: &'static str, width: Width| {
        let mut field =
            FieldView::new(name, label).holding(cells.get(name)).wide(width).judged(wrong);
        field.when = when;
        field
    };
    let small = |name, label, when| plain(name, label, when, Width::Small);
    let line = |name, label, when| plain(name, label, when, Width::Medium);
    let prose = |name, label, when| plain(name, label, when, Width::Grow).prose();
    let pick = |name: &str, label: &str, when, list: Vec<Choice>| {
        plain(name, label, when, Width::Medium).choosing(with_chosen(list, cells.get(name)))
    };
    let listed = |words: &[&str], empty: &str| {
        let mut list = vec![Choice::new("", empty)];
        list.extend(words.iter().map(|word| Choice::new(*word, *word)));
        list
    };
    let slot = pick("slot", "Planned as", "if-tried", choices.slots(&row.task));
    let answers = choices.approaches(&row.task, cells);
    let named_wrong = wrong.iter().any(|error| ["technique", "side"].contains(&&*error.field));
    let other = if answers.is_empty() || named_wrong { "if-tried" } else { "if-other" };
    let technique = choices.techniques(&row.task, cells.get("technique"));
    let sides = choices.sides(&row.task, cells.get("side"));
    let mut all = vec![
        small("pet_start", "PET from, h:mm", "if-tried"),
        small("pet_end", "PET to, h:mm", "if-tried"),
        small("minutes", "Minutes spent", "if-tried").hinting(choices.estimate(&row.task)),
        left_after(row, cells, wrong),
        line("seats", "Seats and crew codes", "if-tried"),
        pick("technique", "Technique", other, technique),
        pick("side", "Access side", other, sides),
        pick("cause", "What stopped it", "if-not", choices.causes.clone()),
        plain("words", "In words", "", Width::Whole).prose(),
        line("symptom", "Symptom", "if-not"),
        line("indications", "Telemetry and indications", "if-not"),
        prose("tried", "What was tried, in order, one a line", "if-not"),
        pick("lighting", "Lighting then", "if-not", listed(LightingThen::WORDS, "not recorded")),
        small("temperature", "Temperature, °C", "if-not"),
        small("time_left", "Time left when it stopped, min", "if-not"),
        line("last_step", "Last step ended", "if-tried"),
        prose("as_left", "As left", ""),
        line("safe_until", "Safe until date", "if-tried"),
        line("safe_until_flight", "Safe until flight", "if-tried"),
        line("forbids", "Forbids the vehicle meanwhile", "if-tried"),
        line("temporary", "Temporary hardware", "if-tried"),
        pick(
            "outside_after",
            "Outside afterwards",
            "if-tried",
            listed(OutsideAfter::WORDS, "not recorded"),
        ),
        line("outside_items", "Outside items it names", "if-tried")
            .hinting(choices.brought_back_by(&row.task))
            .offering(choices.outside_offers()),
        pick(
            "function_after",
            "Function afterwards",
            "if-tried",
            listed(FunctionAfter::WORDS, "not recorded"),
        ),
        line("measured", "Values reached", "if-tried"),
        line("tools", "Tools used", "if-tried").offering(choices.tools.clone()),
        pick(
            "defer_reason",
            "Removed because",
            "if-deferred",
            listed(DeferralReason::WORDS, "choose"),
        ),
        pick(
            "defer_phase",
            "When",
            "if-deferred",
            listed(&[DeferralPhase::During.word(), DeferralPhase::BeforeEgress.word()], "during"),
        ),
        pick("to_excursion", "Deferred to", "if-deferred", choices.excursions.clone()),
    ];
    if !choices.places.is_empty() {
        // A deferral is a record of its own; only the rows of a debrief offer it.
        all.retain(|field| field.when != "if-deferred");
        let mut field = pick("excursion", "Excursion", "", choices.places.clone());
        field.required = true;
        all.push(field);
        let of_record = OF_RECORD
            .iter()
            .filter_map(|name| Attempt::COLUMNS.iter().find(|column| column.name == *name));
        all.extend(of_record.map(|column| {
            let mut field = FieldView::of(column).holding(cells.get(column.name)).judged(wrong);
            field.when = "if-tried";
            field
        }));
    } else if row.slot.is_none() {
        all.push(slot);
    }
    all.push(
        line("add_side", "Side that the task does not have yet", "if-tried")
            .hinting("It is added to the access sides of the task."),
    );
    if !answers.is_empty() {
        let mut approach = FieldView::new("approach", "Approach")
            .holding(answered(&answers, cells))
            .answering(answers)
            .wide(Width::Whole);
        approach.when = "if-tried";
        all.push(approach);
    }
    if let Some(confirm) = confirm(cells, wrong) {
        all.push(confirm);
    }
    let swapped = !cells.get("came_out").is_empty() || !cells.get("went_in").is_empty();
    if choices.swaps(&row.task) || swapped {
        // What was typed stays in view, whichever outcome is chosen afterwards.
        let when = if swapped { "" } else { "if-done" };
        let serials = [
            line("came_out", "Serial that came out", when).hinting(choices.stands_there(&row.task)),
            line("went_in", "Serial that went in", when)
                .hinting("Serial, unit code, or “not recorded”."),
        ];
        let at = all.iter().position(|field| field.name == "cause").unwrap_or(all.len());
        let offered = serials.map(|field| field.offering(choices.units(&row.task)));
        all.splice(at..at, offered);
    }
    all
}

/// The box that answers the question about unlikely minutes, where it is asked or was answered.
fn confirm(cells: &Cells, wrong: &[FieldError]) -> Option<FieldView> {
    let is_asked = wrong.iter().any(|error| error.field == "confirmed");
    if !is_asked {
        return None;
    }
    let minutes = Minutes::read(cells.get("minutes")).ok();
    let from_pet = Pet::read(cells.get("pet_start")).ok().zip(Pet::read(cells.get("pet_end")).ok());
    let minutes = minutes.or_else(|| from_pet.map(|(start, end)| Minutes(end.0 - start.0)));
    let (asked, words) = match minutes {
        Some(minutes) => (Doubt::Minutes(minutes), format!("{} minutes is right", minutes.0)),
        None => (Doubt::NoMinutes, "the minutes are unknown".to_owned()),
    };
    let tick = Choice::new(asked.word(), words);
    let mut field =
        FieldView::new("confirmed", "Confirm").holding(cells.get("confirmed")).ticking(tick);
    field.when = "if-tried";
    Some(field.judged(wrong))
}

/// How much of the task is left now, beside what was left before.
fn left_after(row: &DebriefRow, cells: &Cells, wrong: &[FieldError]) -> FieldView {
    let typed = cells.get("left_after");
    let shown = if typed.is_empty() { row.left_shown() } else { typed.to_owned() };
    let mut field = FieldView::new("left_after", "% of the task left now")
        .holding(shown)
        .wide(Width::Small)
        .typed(Typed::WHOLE)
        .judged(wrong);
    if let Some(left) = &row.left {
        field = field.hinting(format!("Left before: {}.", left.before));
    }
    field.when = "if-left";
    field
}

/// What a field says that the board of the day filled in.
const FROM_THE_BOARD: &str = "From the board of the day, not saved yet.";

/// The fields of the whole excursion; times that nobody entered are those of the board.
pub(super) fn head(excursion: &Excursion, board: BoardTimes, outcome: &Outcome) -> Vec<FieldView> {
    let egress_at = excursion.egress_at.or(board.egress_at);
    let actual = excursion.actual.or(board.inside.map(|pet| Minutes(pet.0)));
    let recorded = excursion.cells();
    let typed = outcome.kept_of("head").map(|kept| &kept.cells);
    Excursion::COLUMNS
        .iter()
        .filter(|column| HEAD.contains(&column.name))
        .map(|column| {
            let cells = typed.filter(|cells| cells.has(column.name)).unwrap_or(&recorded);
            let text = cells.get(column.name);
            let shown = match column.name {
                "actual" if typed.is_none() => actual.map_or_else(String::new, Minutes::clock),
                "egress_at" if typed.is_none() => {
                    egress_at.map_or_else(String::new, Moment::to_the_minute)
                }
                _ => text.to_owned(),
            };
            let mut field = FieldView::of(column).holding(shown).within("head");
            let from_the_board = match column.name {
                "actual" => typed.is_none() && actual != excursion.actual,
                "egress_at" => typed.is_none() && egress_at != excursion.egress_at,
                _ => false,
            };
            let hint = if from_the_board { FROM_THE_BOARD } else { "" };
            hint.clone_into(&mut field.hint);
            field.judged(&outcome.errors)
        })
        .collect()
}

pub(super) const COUNTS: [(&str, &str); 6] = [
    ("taken_out", "Out"),
    ("brought_in", "In"),
    ("broken", "Of these broken"),
    ("left_outside", "Left outside"),
    ("lost", "Lost"),
    ("not_counted", "Not counted because"),
];

pub(super) fn counts(cells: &Cells, prefix: &str, outcome: &Outcome) -> Vec<FieldView> {
    let field = |(name, label): &(&str, &str)| {
        let field = FieldView::new(*name, *label).holding(cells.get(name)).within(prefix);
        let field = if *name == "not_counted" {
            field
        } else {
            field.wide(Width::Small).typed(Typed::WHOLE)
        };
        field.judged(&outcome.errors)
    };
    COUNTS.iter().map(field).collect()
}

pub(super) fn new_tool(at: usize, outcome: &Outcome, choices: &Choices) -> Vec<FieldView> {
    let prefix = format!("t{at}");
    let none = Cells::default();
    let kept = outcome.kept_of(&prefix).map_or(&none, |kept| &kept.cells);
    let tool = FieldView::new("tool", "A further tool")
        .holding(kept.get("tool"))
        .offering(choices.tools.clone())
        .wide(Width::Medium)
        .within(&prefix)
        .judged(&outcome.errors);
    std::iter::once(tool).chain(counts(kept, &prefix, outcome)).collect()
}

pub(super) fn new_left(outcome: &Outcome, choices: &Choices) -> Vec<FieldView> {
    let none = Cells::default();
    let kept = outcome.kept_of("outside").map_or(&none, |kept| &kept.cells);
    [
        "what",
        "worksite",
        "purpose",
        "left_by",
        "limit_days",
        "limit_until",
        "tool",
        "brought_back_by",
    ]
    .into_iter()
    .filter_map(|name| OutsideItem::COLUMNS.iter().find(|column| column.name == name))
    .map(|column| {
        let mut field = FieldView::of(column).holding(kept.get(column.name));
        field.required = false;
        match column.name {
            "left_by" => field = field.choosing(choices.attempts.clone()),
            "brought_back_by" => field = field.offering(choices.open_tasks.clone()),
            "tool" => field = field.offering(choices.tools.clone()),
            _ => {}
        }
        field.within("outside").judged(&outcome.errors)
    })
    .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    fn row() -> DebriefRow {
        DebriefRow {
            key: String::new(),
            slot: None,
            task: "T-1".into(),
            title: String::new(),
            attempt: None,
            deferral: None,
            draft: None,
            left: None,
            board: None,
        }
    }

    #[test]
    fn at_most_eight_fields_are_in_view_for_any_outcome() {
        let mut whole = Choices::default();
        whole.places.push(Choice::new("", "choose"));
        let mut swapped = Cells::default();
        swapped.set("came_out", "1");
        let asked = [FieldError::new("confirmed", "Confirm them.")];
        for (choices, cells, wrong) in [
            (&whole, Cells::default(), &[][..]),
            (&Choices::default(), Cells::default(), &[][..]),
            (&whole, Cells::default(), &asked[..]),
            (&whole, swapped.clone(), &[][..]),
            (&Choices::default(), swapped, &[][..]),
        ] {
            let Fields { first, more } = fields(&row(), &cells, wrong, choices);
            // A deferral is offered where the excursion is known.
            let deferred = choices.places.is_empty().then_some(DEFERRED);
            for outcome in Ended::WORDS.iter().copied().chain(deferred) {
                let names: Vec<&str> = first
                    .iter()
                    .filter(|field| !hidden(outcome).contains(&field.when))
                    .map(|field| field.name.as_str())
                    .filter(|name| *name != "confirmed")
                    .collect();
                let photos = usize::from(hidden(outcome).iter().all(|class| *class != "if-tried"));
                let count = 1 + names.len() + photos;
                assert!((2..=8).contains(&count), "{outcome}: {names:?}, {photos}");
            }
            assert!(more.iter().any(|field| field.name == "pet_start"));
        }
    }
}
