//! One slot of the excursion: its row in the table, its gates, and what can be done with it.

use crate::addresses;
use crate::forms::{Choice, FieldView, Width};
use crate::pages::excursions::slots::fields_of;
use crate::pages::slots::asked::CellAt;
use crate::pages::slots::fields::{WaiverView, reason, reason_of_move};
use crate::pages::slots::form::Typed;
use crate::pages::slots::if_then;
use app::fit::{Board, Judged};
use compute::fit::{ExcursionAt, PlannedSlot, margin, pet};
use domain::cells::{Cells, FieldError};
use domain::repeat_guard::Approach;
use domain::slots::Slot;
use domain::units::Minutes;
use domain::verdicts::{is_against, weight};
use domain::words::{GateName, GateVerdict, SlotState, SlotVerdict};

use crate::linked::{Piece, of_parts};

/// On an excursion with more slots than that, only checks that are not met are told with reasons.
const MAX_WHOLE: usize = 6;
/// There, so many reasons of one check.
const REASONS: usize = 4;

pub(super) struct SlotView {
    pub number: usize,
    pub code: String,
    pub task: String,
    pub title: String,
    pub approach: String,
    pub seats: String,
    pub pet: String,
    pub travel: String,
    pub work: String,
    pub latest: String,
    pub slack: String,
    /// The chance that it is reached.
    pub reached: String,
    pub state: SlotState,
    pub verdict: Option<SlotVerdict>,
    /// How many of its gates turned since it was set.
    pub turned: usize,
    /// The worst gates first; a gate that is met stands at the end.
    pub gates: Vec<GateView>,
    /// Where there are many slots, the checks that are met are named alone.
    pub met: Vec<&'static str>,
    /// Its cell in the matrix, where every check stands with its reason.
    pub cell: String,
    pub waiver: Option<String>,
    /// Its fallbacks in their order: what follows, and when.
    pub if_then: Vec<String>,
    /// Where they are changed, or read.
    pub if_then_at: String,
    /// The hazards of its task.
    pub hazards: String,
    pub forms: Vec<SlotForm>,
    pub open: bool,
    pub movable: bool,
}

pub(super) struct GateView {
    pub gate: GateName,
    pub verdict: GateVerdict,
    pub reasons: Vec<Vec<Piece>>,
    /// Reasons that stand in its cell of the matrix alone.
    pub more: usize,
}

/// One thing that can be done with the slot.
pub(super) struct SlotForm {
    pub act: &'static str,
    pub heading: &'static str,
    pub button: String,
    pub danger: bool,
    pub open: bool,
    /// The version on which it is made, where it changes what the slot plans.
    pub version: Option<i64>,
    pub fields: Vec<FieldView>,
    pub waiver: Option<WaiverView>,
}

/// Who may do what with the slots, and where else there is to go.
pub(super) struct SlotContext<'a> {
    pub board: &'a Board,
    pub at: ExcursionAt,
    pub may_pencil: bool,
    pub may_set: bool,
    pub typed: &'a Typed,
}

/// What is known of a slot beside its record.
pub(super) struct SlotFacts {
    pub title: String,
    pub hazards: String,
    pub placed: Option<PlannedSlot>,
    pub judged: Option<Judged>,
    pub version: i64,
    pub turned: usize,
    pub reached: Option<String>,
}

pub(super) fn clock(minutes: f64) -> String {
    Minutes(pet(minutes).0).clock()
}

pub(super) fn slot_view(slot: &Slot, known: SlotFacts, around: &SlotContext) -> SlotView {
    let unknown = || "unknown".to_owned();
    let approach = Approach { technique: slot.technique.clone(), side: slot.side.clone() };
    let approach = if approach == Approach::default() {
        "no approach chosen".to_owned()
    } else {
        approach.to_string()
    };
    let mut gates: Vec<GateView> = known
        .judged
        .iter()
        .flat_map(|judged| &judged.gates)
        .map(|gate| GateView {
            gate: gate.gate,
            verdict: gate.verdict,
            reasons: gate.reasons.iter().map(|parts| of_parts(parts)).collect(),
            more: 0,
        })
        .collect();
    gates.sort_by_key(|gate| std::cmp::Reverse(weight(gate.verdict)));
    let is_set = slot.state == SlotState::Set;
    let movable = around.may_pencil && (around.may_set || !is_set);
    let forms = if movable { forms(slot, &gates, known.version, around) } else { Vec::new() };
    let mut met = Vec::new();
    if around.board.slots[around.at].len() > MAX_WHOLE {
        let passed = gates.iter().filter(|gate| gate.verdict == GateVerdict::Met);
        met = passed.map(|gate| gate.gate.word()).collect();
        gates.retain(|gate| gate.verdict != GateVerdict::Met);
        for gate in &mut gates {
            gate.more = gate.reasons.len().saturating_sub(REASONS);
            gate.reasons.truncate(REASONS);
        }
    }
    let placed = known.placed;
    let latest = placed.and_then(|p| p.latest_start);
    let cell = CellAt { task: slot.task.clone(), excursion: slot.excursion.clone() };
    SlotView {
        number: 0,
        code: slot.code.0.as_str().to_owned(),
        task: slot.task.as_str().to_owned(),
        title: known.title,
        hazards: known.hazards,
        approach,
        seats: if slot.seats.is_empty() { unknown() } else { slot.seats.names() },
        pet: placed.map_or_else(unknown, |p| format!("{}–{}", pet(p.start), pet(p.end))),
        travel: placed.map_or_else(unknown, |p| clock(p.travel)),
        work: placed.map_or_else(unknown, |p| clock(p.minutes)),
        latest: latest.map_or_else(unknown, |at| {
            if at < 0.0 { "none left".to_owned() } else { pet(at).to_string() }
        }),
        slack: placed.zip(latest).map_or_else(unknown, |(p, latest)| {
            if latest < 0.0 { "none left".to_owned() } else { margin(latest - p.start) }
        }),
        reached: known.reached.unwrap_or_else(unknown),
        state: slot.state,
        verdict: known.judged.map(|judged| judged.verdict),
        turned: known.turned,
        gates,
        met,
        cell: format!("/slots?cell={}#cell", addresses::encoded(&cell.show())),
        waiver: slot.waiver.as_ref().map(|waiver| {
            let gates = slot.waived_gate.as_ref().map_or("", |gates| gates.as_str());
            format!("{gates}: {waiver}")
        }),
        if_then: slot.fallbacks.0.iter().map(if_then::line).collect(),
        if_then_at: if_then::address(slot.code.0.as_str()),
        open: forms.iter().any(|form| form.open && around.typed.act_of(&slot.code.0).is_some()),
        forms,
        movable,
    }
}

fn forms(slot: &Slot, gates: &[GateView], version: i64, around: &SlotContext) -> Vec<SlotForm> {
    let code = slot.code.0.as_str();
    let is_set = slot.state == SlotState::Set;
    let against: Vec<&'static str> =
        gates.iter().filter(|gate| is_against(gate.verdict)).map(|gate| gate.gate.word()).collect();
    let typed = |act: &'static str| {
        let mine = around.typed.act_of(&slot.code.0) == Some(act);
        let cells = if mine { around.typed.cells.clone() } else { Cells::default() };
        (mine, cells, around.typed.errors_of(code, act))
    };
    let form = |act: &'static str, heading, button: String| SlotForm {
        act,
        heading,
        button,
        danger: false,
        open: typed(act).0,
        version: None,
        fields: Vec::new(),
        waiver: None,
    };
    let passed_over = |act: &'static str, gates: &[&'static str]| {
        let (mine, ..) = typed(act);
        let typed = if mine { around.typed } else { &Typed::default() };
        WaiverView::new(&format!("{code}-{act}"), gates, typed)
    };
    // Which checks stand against a change is told when it was tried.
    let once_tried =
        |act: &'static str| (is_set && typed(act).0).then(|| passed_over(act, GateName::WORDS));
    // What was typed wrongly keeps the version that it was typed on.
    let version_of = |act: &'static str| {
        let (mine, cells, errors) = typed(act);
        let sent = cells.get("version").parse().ok();
        Some(sent.filter(|_| mine && !errors.is_empty()).unwrap_or(version))
    };
    let mut forms = Vec::new();
    if !is_set && around.may_set {
        let waiver = (!against.is_empty()).then(|| passed_over("set", &against));
        let open = typed("set").0 || against.is_empty();
        let form = form("set", "Set it", format!("Set {}", slot.task));
        forms.push(SlotForm { open, waiver, ..form });
    }
    let (_, cells, errors) = typed("place");
    forms.push(SlotForm {
        version: version_of("place"),
        fields: place_fields(slot, &cells, errors, around),
        waiver: once_tried("place"),
        ..form("place", "Move it in the lanes", "Move".to_owned())
    });
    let (mine, cells, errors) = typed("change");
    let mut fields = fields_of(slot);
    for field in &mut fields {
        if mine {
            cells.get(&field.name).clone_into(&mut field.value);
        }
        *field = field.clone().judged(errors);
    }
    forms.push(SlotForm {
        version: version_of("change"),
        fields,
        waiver: once_tried("change"),
        ..form("change", "Change what it plans", "Change".to_owned())
    });
    let (_, cells, errors) = typed("move");
    let mut fields = vec![to_field(code, &cells, errors, around)];
    if is_set {
        fields.extend(reason_of_move(&format!("{code}-move"), &cells, errors));
    }
    forms.push(SlotForm {
        fields,
        waiver: once_tried("move"),
        ..form("move", "Move it to another excursion", "Move".to_owned())
    });
    let (_, cells, errors) = typed("withdraw");
    let place = format!("{code}-withdraw");
    let fields = if is_set { reason(&place, &cells, errors).to_vec() } else { Vec::new() };
    forms.push(SlotForm {
        fields,
        danger: true,
        ..form("withdraw", "Remove from the excursion", format!("Remove {}", slot.task))
    });
    forms
}

fn to_field(code: &str, cells: &Cells, errors: &[FieldError], around: &SlotContext) -> FieldView {
    let here = &around.board.excursions[around.at].code.0;
    let mut choices = vec![Choice::new("", "choose")];
    let others = around.board.excursions.iter().filter(|other| other.code.0 != *here);
    choices.extend(others.map(|other| Choice::new(other.code.0.as_str(), other.code.0.as_str())));
    let field = FieldView::new("to", "To excursion").choosing(choices).wide(Width::Small).must();
    FieldView { id: format!("f-to-{code}"), ..field.holding_typed(cells, errors) }
}

/// On which seats, and before which other slot.
fn place_fields(
    slot: &Slot,
    cells: &Cells,
    errors: &[FieldError],
    around: &SlotContext,
) -> Vec<FieldView> {
    let code = slot.code.0.as_str();
    let named: Vec<String> = around.board.excursions[around.at]
        .seats
        .numbers()
        .map(|seat| format!("EV{seat}"))
        .collect();
    let mut seats: Vec<Choice> = named.iter().map(|seat| Choice::new(seat, seat)).collect();
    if named.len() > 1 {
        seats.push(Choice::new(named.join(", "), named.join(" and ")));
    }
    let own: Vec<String> = slot.seats.numbers().map(|seat| format!("EV{seat}")).collect();
    let own = own.join(", ");
    if !seats.iter().any(|choice| choice.value == own) {
        seats.insert(0, Choice::new(&own, if own.is_empty() { "not chosen" } else { &own }));
    }
    let mut spots = vec![Choice::new(code, "where it is in the order")];
    for other in around.board.slots[around.at].iter().filter(|other| other.code != slot.code) {
        spots.push(Choice::new(other.code.0.as_str(), format!("before {}", other.task)));
    }
    spots.push(Choice::new("", "after all others"));
    let seats = FieldView::new("seats", "Seats").choosing(seats).holding(own).wide(Width::Small);
    let before = FieldView::new("before", "Work it").choosing(spots).holding(code);
    [seats, before]
        .into_iter()
        .map(|field| {
            let id = format!("f-{}-{code}-place", field.name);
            FieldView { id, ..field.holding_typed(cells, errors) }
        })
        .collect()
}
