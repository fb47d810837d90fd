//! The approaches of a task side by side: what was tried by each here and on the sisters, what
//! was rehearsed, which tools it takes, and what the repeat guard says.

use std::collections::BTreeMap;

use app::dossier::FamilyRecord;
use app::whole_task::WholeTask;
use compute::fit::{self, Guard as Verdict};
use domain::repeat_guard::{Approach, Judgement, Try, judge};
use domain::words::{GateVerdict, Outcome, SlotState, ToolState};

/// More columns than these cannot be compared at a glance.
const MAX_COLUMNS: usize = 5;

/// The comparison.
pub(crate) struct Sides {
    pub columns: Vec<Column>,
    /// Approaches that are open to try and found no room, in words.
    pub further: Vec<String>,
    pub told: String,
}

/// One approach.
pub(crate) struct Column {
    /// `from nadir`.
    pub side: String,
    /// `lever grip, K-LEVER rev 2`.
    pub way: String,
    pub name: String,
    pub technique: Option<String>,
    pub revision: Option<i64>,
    /// Where it is planned so.
    pub slotted: Vec<(SlotState, String)>,
    /// The one to try next.
    pub choice: bool,
    pub tried: Vec<(usize, Outcome)>,
    pub sisters: String,
    pub rehearsed: Vec<String>,
    pub tools: Vec<(String, String)>,
    pub guard: &'static str,
    pub mark: &'static str,
    pub verdict: GateVerdict,
    /// The attempts that stand against it.
    pub against: Vec<String>,
    pub says: &'static str,
    pub exempt: Option<String>,
    pub rehearse: Option<String>,
}

impl Sides {
    /// The approaches that were never tried on this unit, in words.
    pub fn never_tried(&self) -> Vec<String> {
        let open = |side: &&Column| side.tried.is_empty() && side.verdict != GateVerdict::NotMet;
        let named = |side: &Column| match &side.technique {
            Some(technique) => format!("{} with {technique}", side.side),
            None => side.side.clone(),
        };
        let mut never: Vec<String> = self.columns.iter().filter(open).map(named).collect();
        never.truncate(3);
        never
    }
}

/// Those that were tried come first, in their order, then the ones that are left, best first.
pub(super) fn compare(whole: &WholeTask, tried: &[Approach]) -> Sides {
    let known: &[fit::Approach] = whole
        .fit
        .board
        .task_at(&whole.task.code.0)
        .map_or(&[], |at| &whole.fit.board.snapshot.tasks[at].approaches.raw);
    let named =
        |way: &fit::Approach| Approach { technique: way.technique.clone(), side: way.side.clone() };
    let mut order: Vec<Approach> = tried.to_vec();
    for way in known {
        let approach = named(way);
        if !order.contains(&approach) && approach != Approach::default() {
            order.push(approach);
        }
    }
    let further: Vec<String> = order.iter().skip(MAX_COLUMNS).map(ToString::to_string).collect();
    order.truncate(MAX_COLUMNS.max(tried.len()));
    let empty = FamilyRecord::default();
    let opening =
        whole.dossier.events.openings.iter().find(|opening| opening.task == whole.task.code.0);
    let record = opening.and_then(|o| whole.dossier.family_of(o)).unwrap_or(&empty);
    let view = Comparison { whole, record };
    let mut columns: Vec<Column> = order
        .iter()
        .map(|approach| view.column(approach, known.iter().find(|way| named(way) == *approach)))
        .collect();
    let best = known
        .iter()
        .find(|way| way.guard == Verdict::Free)
        .or_else(|| known.iter().find(|way| way.guard == Verdict::Questioned));
    if let Some(best) = best.map(named)
        && whole.is_open_item()
        && let Some(at) = order.iter().position(|approach| *approach == best)
    {
        columns[at].choice = true;
    }
    let of_them = columns.iter().filter(|column| !column.tried.is_empty()).count();
    let told = match (columns.len() + further.len(), of_them) {
        (0, _) => "No technique names this task or its family yet.".to_owned(),
        (1, 0) => "One approach, not tried yet.".to_owned(),
        (all, 0) => format!("{all} approaches, none tried yet."),
        (all, of_them) => format!("{all} approaches, {of_them} tried on this unit."),
    };
    Sides { columns, further, told }
}

struct Comparison<'a> {
    whole: &'a WholeTask,
    record: &'a FamilyRecord,
}

impl Comparison<'_> {
    fn column(&self, approach: &Approach, way: Option<&fit::Approach>) -> Column {
        let unit = self.whole.dossier.unit_of(&self.whole.task.code.0);
        let by_it = |tried: &&Try| tried.approach == *approach;
        let (here, there): (Vec<&Try>, Vec<&Try>) = self
            .record
            .tries
            .iter()
            .filter(by_it)
            .partition(|tried| unit.is_the_unit_of(&tried.unit, tried.account.scope));
        let judgement = judge(&unit, approach, self.record.record());
        let withdrawn = way.is_some_and(|way| way.guard == Verdict::Withdrawn);
        let (guard, mark, says) = in_words(&judgement, withdrawn, !here.is_empty());
        let against: Vec<String> = judgement.attempts().iter().map(ToString::to_string).collect();
        let technique = approach.technique.as_ref();
        let known = self.whole.techniques.iter().find(|t| Some(&t.code.0) == technique);
        let name = known.map_or("technique not recorded", |t| t.name.as_str()).to_owned();
        let revision = known.and_then(|t| t.revision);
        let rev = revision.map_or_else(String::new, |rev| format!(" rev {rev}"));
        let side = match &approach.side {
            Some(side) => format!("from {side}"),
            None => "side not recorded".to_owned(),
        };
        let task = crate::addresses::encoded(self.whole.task.code.0.as_str());
        let of_sisters = against.iter().any(|code| here.iter().all(|t| t.attempt.as_str() != code));
        let way_words = match technique {
            Some(code) => format!("{name}, {code}{rev}"),
            None => name.clone(),
        };
        Column {
            side,
            way: way_words,
            name,
            technique: technique.map(ToString::to_string),
            revision,
            slotted: self
                .whole
                .slots
                .iter()
                .filter(|(slot, _)| {
                    slot.technique == approach.technique && slot.side == approach.side
                })
                .map(|(slot, _)| (slot.state, slot.excursion.to_string()))
                .collect(),
            choice: false,
            tried: outcomes(&here),
            sisters: on_sisters(&there),
            rehearsed: way.map_or_else(Vec::new, |way| rehearsed(way, approach)),
            tools: way.map_or_else(Vec::new, |way| self.tools(way)),
            guard,
            mark,
            verdict: if withdrawn { GateVerdict::NotMet } else { judgement.gate() },
            exempt: (of_sisters && !against.is_empty()).then(|| {
                format!("/exemptions/new?task={task}&attempts={}", against.join("%2C%20"))
            }),
            rehearse: technique.map(|code| {
                let side = approach.side.as_ref().map_or("", |side| side.as_str());
                let code = crate::addresses::encoded(code.as_str());
                format!("/rehearsals/new?technique={code}&side={side}")
            }),
            against,
            says,
        }
    }

    fn tools(&self, way: &fit::Approach) -> Vec<(String, String)> {
        let snapshot = &self.whole.fit.board.snapshot;
        way.tools
            .iter()
            .map(|at| {
                let tool = &snapshot.tools[*at];
                let comes = tool.arrives_with.map(|flight| snapshot.flights[flight].code.as_str());
                let note = match (tool.state, tool.aboard, comes) {
                    (Some(ToolState::Lost), ..) => "lost".to_owned(),
                    (Some(ToolState::Broken), ..) => "broken".to_owned(),
                    (_, Some(0) | None, Some(flight)) => format!("comes with {flight}"),
                    (_, Some(0), None) => "none aboard".to_owned(),
                    (_, None, None) => "count unknown".to_owned(),
                    (_, Some(count), _) => format!("{count} aboard"),
                };
                (tool.code.to_string(), note)
            })
            .collect()
    }
}

fn in_words(
    judgement: &Judgement,
    withdrawn: bool,
    tried: bool,
) -> (&'static str, &'static str, &'static str) {
    if withdrawn {
        return ("withdrawn", "k-drop", "The technique is withdrawn.");
    }
    let says = match judgement {
        Judgement::Clear if tried => "Earlier failures have been resolved.",
        Judgement::Clear => "No failure recorded with this approach.",
        Judgement::Questioned { .. } => "Failed on one sister unit; no remedy is verified since.",
        Judgement::Blocked { .. } => {
            "Failed, and no remedy is verified since. It can be pencilled; setting it needs a waiver."
        }
        Judgement::CannotTell { .. } => "Technique or side of an attempt was not recorded.",
    };
    let mark = crate::marks::of(&judgement.gate());
    (judgement.word(), mark, says)
}

fn outcomes(tries: &[&Try]) -> Vec<(usize, Outcome)> {
    let mut counts: BTreeMap<Outcome, usize> = BTreeMap::new();
    for tried in tries {
        *counts.entry(tried.account.outcome).or_default() += 1;
    }
    counts.into_iter().map(|(outcome, count)| (count, outcome)).collect()
}

fn on_sisters(tries: &[&Try]) -> String {
    if tries.is_empty() {
        return "never".to_owned();
    }
    let counts = outcomes(tries);
    let each: Vec<String> =
        counts.into_iter().map(|(count, outcome)| format!("{outcome} {count} ×")).collect();
    format!("{} ×: {}", tries.len(), each.join(", "))
}

fn rehearsed(way: &fit::Approach, approach: &Approach) -> Vec<String> {
    way.rehearsals
        .iter()
        .filter(|run| run.practice.side.is_none() || run.practice.side == approach.side)
        .map(|run| {
            let day = run.practice.day.map_or_else(|| "undated".to_owned(), |day| day.to_string());
            let ended = if run.success { "succeeded" } else { "did not succeed" };
            let old = match (run.practice.revision, way.revision) {
                (Some(run), Some(now)) if run < now => format!(", rev {run}"),
                _ => String::new(),
            };
            format!("{} {day}, {ended}{old}", run.kind)
        })
        .collect()
}
