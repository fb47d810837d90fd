//! A planned excursion: its lanes, its slots with their minutes and gates, what turned, what can
//! be done.

use std::collections::BTreeMap;

use app::read::Connection;
use askama::Template;

mod both_lanes;
mod calculation;
mod drawn;
mod ending;
pub(crate) mod inhibits;
mod slot_view;
mod suits;
mod told;
mod tray;

use super::facts::{self, Fact};
use super::slots::fields_of_new;
use crate::addresses;
use crate::drawings::lanes::{LegendEntry, legend};
use crate::drawings::markup::Drawing;
use crate::forms::{ErrorLine, ErrorSummary, FieldView};
use crate::frame::{Nav, PageFrame};
use crate::linked::{Piece, linked, of_parts};
use crate::pages::how::How;
use crate::pages::slots::fields::WaiverView;
use crate::pages::slots::form::Typed;
use crate::visitor::Viewer;
use app::day::AtLaunch;
use app::outside;
use app::read::open_items::{self, Filter, OpenItem, Sort};
use app::read::{register, slot_history, tasks};
use app::slots::turned;
use app::{Failure, Reader};
use compute::fit::{SlotAt, unknown_sentence};
use domain::cells::Cells;
use domain::codes::{ExcursionCode, TaskCode};
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::records::Record as _;
use domain::roles::{Action, may};
use domain::slots::Slot;
use domain::tasks::Task;
use domain::time::Day;
use domain::words::{ExcursionState, GateName, SlotState, SlotVerdict};
use typed_index_collections::{TiSlice, TiVec};

pub(crate) use both_lanes::{BothLanes, both_lanes};
use calculation::PlanCalculation;
use drawn::{DrawnSlot, TimedPlan};
use ending::Sampling;
use inhibits::InhibitLine;
use slot_view::{SlotContext, SlotFacts, SlotView, slot_view};
use suits::Suits;
pub(crate) use told::in_short;
use told::{ChangeView, TurnedView};
use tray::Offer;

#[expect(clippy::struct_excessive_bools, reason = "each shows or hides a part of the page")]
#[derive(Template)]
#[template(path = "excursions/planned.html")]
pub(crate) struct PlannedPage {
    page: PageFrame,
    summary: ErrorSummary,
    code: String,
    address: String,
    flight: Option<String>,
    day: Option<Day>,
    lead: String,
    facts: Vec<Fact>,
    ends: Vec<(&'static str, String)>,
    /// What keeps the excursion from being timed, and the tasks that its lanes leave out.
    unknown: Vec<Vec<Piece>>,
    left_out: Vec<String>,
    /// Set slots that lose their way, here or by what is brought in here.
    lost_paths: Vec<Vec<Piece>>,
    lanes: Option<Drawing>,
    legend: Vec<LegendEntry>,
    sampling: Option<Sampling>,
    how: Option<How>,
    suits: Suits,
    inhibits: Vec<InhibitLine>,
    slots: Vec<SlotView>,
    change: Option<ChangeView>,
    turned: Vec<TurnedView>,
    offers: Vec<Offer>,
    has_open_tasks: bool,
    new: Vec<FieldView>,
    new_waiver: WaiverView,
    /// The hazards of the task that was typed for a new slot.
    new_hazards: String,
    notes: String,
    may_pencil: bool,
    may_set: bool,
    may_call_off: bool,
    may_keep: bool,
    /// The first day on which it can be marked as flown, where that is ahead.
    flown_from: Option<Day>,
}

pub(super) async fn page(
    db: &mut Reader,
    viewer: &Viewer,
    excursion: Excursion,
    typed: &Typed,
) -> Result<PlannedPage, Failure> {
    made(db, viewer, excursion, typed, false).await
}

/// What a paper takes from the page of a planned excursion: the same figures, drawn smaller.
pub(crate) struct OnPaper {
    pub lead: String,
    pub ends: Vec<(&'static str, String)>,
    pub unknown: Vec<String>,
    pub lanes: Option<Drawing>,
    /// In the order of the lanes.
    pub slots: Vec<SlotOnPaper>,
    pub inhibits: Vec<InhibitOnPaper>,
    pub lost_paths: Vec<Vec<Piece>>,
    pub offers: Vec<Offer>,
}

/// The timed figures of one slot, as words.
pub(crate) struct SlotOnPaper {
    pub code: String,
    pub number: usize,
    pub pet: String,
    pub travel: String,
    pub work: String,
    pub latest: String,
    pub reached: String,
    pub verdict: Option<SlotVerdict>,
}

pub(crate) struct InhibitOnPaper {
    pub code: String,
    pub what: String,
    pub owner: String,
    pub state: &'static str,
    pub pets: Option<String>,
    pub needed_by: Vec<String>,
}

pub(crate) async fn on_paper(
    db: &mut Reader,
    viewer: &Viewer,
    excursion: Excursion,
) -> Result<OnPaper, Failure> {
    let page = made(db, viewer, excursion, &Typed::default(), true).await?;
    let words = |pieces: &Vec<Piece>| pieces.iter().map(Piece::words).collect::<String>();
    Ok(OnPaper {
        lead: page.lead,
        ends: page.ends,
        unknown: page.unknown.iter().map(words).collect(),
        lanes: page.lanes,
        slots: page
            .slots
            .into_iter()
            .map(|slot| SlotOnPaper {
                code: slot.code,
                number: slot.number,
                pet: slot.pet,
                travel: slot.travel,
                work: slot.work,
                latest: slot.latest,
                reached: slot.reached,
                verdict: slot.verdict,
            })
            .collect(),
        inhibits: page
            .inhibits
            .into_iter()
            .map(|one| InhibitOnPaper {
                code: one.code,
                what: one.what,
                owner: one.owner,
                state: one.state,
                pets: one.pets,
                needed_by: one.needed_by,
            })
            .collect(),
        lost_paths: page.lost_paths,
        offers: page.offers,
    })
}

async fn made(
    db: &mut Reader,
    viewer: &Viewer,
    excursion: Excursion,
    typed: &Typed,
    on_paper: bool,
) -> Result<PlannedPage, Failure> {
    let code = excursion.code.0.clone();
    let role = viewer.actor.role;
    let (may_pencil, may_set) = (may(role, Action::Pencil), may(role, Action::SetSlot));
    let items: Vec<OpenItem> = if may_pencil || on_paper {
        open_items::page(db, &Filter::default(), Sort::Rank, 0, tray::LOOKED_AT).await?
    } else {
        Vec::new()
    };
    let (new_cells, new_errors) = typed.of_new();
    let mut wanted: Vec<TaskCode> = items.iter().map(|item| item.task.clone()).collect();
    wanted.push(TaskCode::from(new_cells.get("task")));
    wanted.retain(|task| !task.is_blank());
    let calculation = PlanCalculation::seen(db, &wanted, &code).await?;
    let PlanCalculation { board, column, plan, launch, matrix, judged } = &*calculation;
    let column = *column;
    let here: TiVec<SlotAt, Slot> = column.map(|at| board.slots[at].clone()).unwrap_or_default();

    let tasks = tasks_of(db, &here.raw, &new_cells).await?;
    let new_hazards =
        tasks.get(&TaskCode::from(new_cells.get("task"))).map_or_else(String::new, hazards);
    let titles: BTreeMap<TaskCode, String> =
        tasks.iter().map(|(code, task)| (code.clone(), task.title.as_str().to_owned())).collect();
    let versions = register::versions(db, Kind::Slot, here.iter().map(Slot::code)).await?;
    let then = slot_history::gates_of_coming(db).await?;
    let turned = turned::since_set(board, matrix, &then, |slot| slot.excursion == code);
    let lost_paths = outside::lost_paths_seen(db).await?;
    let lost_paths = lost_paths.iter().filter(|lost| lost.is_on(&code));
    let lost_paths = lost_paths.map(|lost| linked(&lost.to_string())).collect();
    let change = told::last_change(db, board, &code, (may_pencil, viewer.now()), typed).await?;

    let around = SlotContext { board, at: column.unwrap_or_default(), may_pencil, may_set, typed };
    let mut slots: Vec<(Option<f64>, SlotAt, SlotView)> = Vec::new();
    for ((place, slot), judged) in here.iter_enumerated().zip(judged.clone()) {
        let placed = plan.as_ref().and_then(|plan| plan.slot(place));
        let known = SlotFacts {
            title: titles.get(&slot.task).cloned().unwrap_or_default(),
            hazards: tasks.get(&slot.task).map_or_else(String::new, hazards),
            judged,
            version: versions.get(slot.code()).copied().unwrap_or(0),
            turned: turned.iter().filter(|turned| turned.slot.code == slot.code).count(),
            reached: plan
                .as_ref()
                .and_then(|plan| ending::chance_to_reach((plan, launch.as_ref()), place, slot)),
            placed,
        };
        slots.push((placed.map(|p| p.start), place, slot_view(slot, known, &around)));
    }
    // The table runs down the lanes; what has no minutes stands at its end.
    slots.sort_by(|a, b| {
        let start = |slot: &(Option<f64>, SlotAt, SlotView)| slot.0.unwrap_or(f64::INFINITY);
        start(a).total_cmp(&start(b)).then(a.1.cmp(&b.1))
    });
    for (number, (_, _, slot)) in (1..).zip(&mut slots) {
        slot.number = number;
    }
    let lanes = column.zip(plan.as_ref()).and_then(|(at, plan)| {
        let shown = shown(&slots, &here, &versions);
        drawn::draw(board, at, plan, &shown, &titles, on_paper)
    });
    let slots: Vec<SlotView> = slots.into_iter().map(|(_, _, view)| view).collect();

    let new = fields_of_new(db, board, &new_cells, new_errors).await?;
    let new_waiver = match typed.on {
        None => WaiverView::new("new", GateName::WORDS, typed),
        Some(_) => WaiverView::new("new", GateName::WORDS, &Typed::default()),
    };
    let summary = summary(typed, &new, &slots, change.as_ref());
    let version = register::find(db, Kind::Excursion, code.as_str()).await?;
    let limit = excursion.limit.map(|limit| f64::from(i32::try_from(limit.0).unwrap_or(i32::MAX)));
    let turned: Vec<TurnedView> = turned.iter().map(told::since_set).collect();
    let suits =
        column.zip(plan.as_ref()).map(|(at, plan)| suits::of(board, at, plan)).unwrap_or_default();
    let slotted: Vec<TaskCode> = here.iter().map(|slot| slot.task.clone()).collect();
    let may_arrange = may(role, Action::KeepInhibits);
    let inhibits = inhibits::lines(db, &code, &slotted, may_arrange).await?;
    let mut ends = plan.as_ref().map(ending::facts).unwrap_or_default();
    if !suits.first.is_empty() {
        ends.push(("First to run out", suits.first.clone()));
    }
    let flown_from = excursion.flown_from().filter(|from| viewer.now().day() < *from);
    Ok(PlannedPage {
        page: viewer
            .frame(format!("Excursion {code}"), Nav::Flights)
            .with_verdicts()
            .of_version(version.map_or(0, |row| row.version))
            .refusing(!summary.is_empty()),
        summary,
        lead: lead(&slots, plan.as_ref().map(|plan| (plan, launch.as_ref())), &turned),
        facts: facts::of(&excursion, true),
        ends,
        unknown: plan
            .iter()
            .flat_map(|plan| &plan.planned.unknown)
            .map(|unknown| of_parts(&unknown_sentence(&board.snapshot, unknown)))
            .collect(),
        left_out: plan
            .iter()
            .flat_map(|plan| &plan.left_out)
            .filter_map(|place| here.get(*place).map(|slot| slot.task.as_str().to_owned()))
            .collect(),
        legend: if lanes.is_some() { legend(drawn::ID) } else { Vec::new() },
        lanes,
        how: column.zip(plan.as_ref()).map(|(at, plan)| ending::how(board, at, plan)),
        sampling: plan.as_ref().and_then(|plan| ending::sampling(plan, limit)),
        suits,
        inhibits,
        has_open_tasks: !items.is_empty(),
        offers: column
            .map_or_else(Vec::new, |at| tray::offers(board, at, matrix, &items, on_paper)),
        slots,
        lost_paths,
        change,
        turned,
        new,
        new_waiver,
        new_hazards,
        notes: excursion.notes.into_string(),
        may_pencil,
        may_set,
        may_call_off: may(role, Action::CallOff),
        may_keep: may(role, Action::KeepExcursions),
        flown_from,
        address: super::address(&code),
        flight: excursion.flight.map(|flight| flight.as_str().to_owned()),
        day: excursion.day,
        code: code.as_str().to_owned(),
    })
}

/// The slots for the drawing, in the order of work.
fn shown(
    slots: &[(Option<f64>, SlotAt, SlotView)],
    here: &TiSlice<SlotAt, Slot>,
    versions: &BTreeMap<String, i64>,
) -> Vec<DrawnSlot> {
    let mut shown: Vec<(SlotAt, DrawnSlot)> = slots
        .iter()
        .map(|(_, place, view)| {
            let slot = DrawnSlot {
                code: view.code.clone(),
                version: versions.get(&view.code).copied().unwrap_or(0),
                number: view.number,
                pencilled: here[*place].state == SlotState::Pencilled,
                movable: view.movable,
            };
            (*place, slot)
        })
        .collect();
    shown.sort_by_key(|(place, _)| *place);
    shown.into_iter().map(|(_, slot)| slot).collect()
}

fn summary(
    typed: &Typed,
    new: &[FieldView],
    slots: &[SlotView],
    change: Option<&ChangeView>,
) -> ErrorSummary {
    let Some((code, act)) = &typed.on else {
        return match &typed.refused {
            Some(words) => ErrorSummary {
                heading: "The task was not added".to_owned(),
                lines: vec![ErrorLine { target: "add".to_owned(), words: words.clone() }],
            },
            None => ErrorSummary::of(&typed.errors, new),
        };
    };
    if let Some(words) = &typed.refused {
        let target = if code.is_empty() { "change".to_owned() } else { format!("slot-{code}") };
        return ErrorSummary {
            heading: "The change was not made".to_owned(),
            lines: vec![ErrorLine { target, words: words.clone() }],
        };
    }
    let slot = slots.iter().find(|slot| slot.code == *code);
    let form = slot.and_then(|slot| slot.forms.iter().find(|form| form.act == act));
    let mut fields: Vec<FieldView> = form
        .map(|form| {
            let reason = form.waiver.as_ref().map(|waiver| waiver.reason.clone());
            form.fields.iter().cloned().chain(reason).collect()
        })
        .unwrap_or_default();
    let undo = change.and_then(|change| change.undo.as_ref());
    fields.extend(undo.into_iter().flat_map(|undo| undo.fields.clone()));
    ErrorSummary::of(&typed.errors, &fields)
}

/// The tasks that stand here, and the one that is to be added.
async fn tasks_of(
    db: &mut Connection,
    slots: &[Slot],
    new: &Cells,
) -> Result<BTreeMap<TaskCode, Task>, Failure> {
    let mut codes: Vec<TaskCode> = slots.iter().map(|slot| slot.task.clone()).collect();
    codes.push(TaskCode::from(new.get("task")));
    codes.retain(|code| !code.is_blank());
    let found = tasks::these(db, &codes).await?;
    Ok(found.into_iter().map(|task| (task.code.0.clone(), task)).collect())
}

fn hazards(task: &Task) -> String {
    task.hazards.as_str().trim().to_owned()
}

fn lead(
    slots: &[SlotView],
    plan: Option<(&TimedPlan, Option<&AtLaunch>)>,
    turned: &[TurnedView],
) -> String {
    let set = slots.iter().filter(|slot| slot.state == SlotState::Set).count();
    let tasks = |n: usize, word: &str| match n {
        0 => format!("No task is {word}"),
        1 => format!("One task is {word}"),
        n => format!("{n} tasks are {word}"),
    };
    let mut words = tasks(set, "set");
    if slots.len() > set {
        words = format!("{words}, {} pencilled", slots.len() - set);
    }
    words.push('.');
    if let Some((plan, launch)) = plan {
        words.push_str(&ending::sentence(plan, launch));
    }
    match turned.len() {
        0 => words,
        1 => format!("{words} One check has changed since its slot was set."),
        n => format!("{words} {n} checks have changed since their slots were set."),
    }
}

/// The excursion as it stands, for a form that was refused.
pub(super) async fn planned(
    db: &mut Connection,
    code: &ExcursionCode,
) -> Result<Excursion, Failure> {
    use app::read::Found as _;
    let found = Excursion::find(db, code.as_str()).await?;
    let found = found.ok_or_else(|| Failure::NotFound(Kind::Excursion, code.to_string()))?;
    if found.state == Some(ExcursionState::Planned) {
        Ok(found)
    } else {
        Err(Failure::Refused(format!("{code} is not planned any more.")))
    }
}

impl PlannedPage {
    fn hazards_known(&self) -> bool {
        self.slots.iter().any(|slot| !slot.hazards.is_empty())
    }

    fn waived_any(&self) -> bool {
        self.slots.iter().any(|slot| slot.waiver.is_some())
    }

    fn edit(&self) -> String {
        format!("{}/edit", addresses::within("excursions", &self.code))
    }
}
