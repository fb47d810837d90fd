//! Sister units affected by an attempt, as the pages of a family, a task, a finding and an excursion
//! show them: each open unit with what can be done about it in one step.

use axum::extract::State;

use crate::addresses::{self, encoded};
use crate::drawings::markup::identifier;
use crate::extract::{Fields, Path};
use crate::failure::PageError;
use crate::forms::{Choice, FieldView, Width};
use crate::linked::{Piece, linked};
use crate::page::Done;
use crate::pages::affected::effect_word;
use crate::pages::slots::asked::{CellAt, show_approach};
use crate::pages::slots::fields::{WAIVER_SCOPE, reason, reason_of_move};
use crate::visitor::Viewer;
use app::App;
use app::declines;
use app::sisters::{OpenUnit, SistersAffected};
use app::work::Work;
use domain::cells::{Cell as _, Cells};
use domain::codes::{AttemptCode, FamilyCode, TaskCode, TechniqueCode};
use domain::declines::Decline;
use domain::repeat_guard::{Approach, Judgement, SetApart, SetApartBecause, SisterEffect};
use domain::roles::{Action, may};
use domain::seats::Seats;
use domain::sides::Side;
use domain::words::GateVerdict;

/// An approach with the open units that it affects.
pub(crate) struct Affected {
    pub technique: String,
    pub side: String,
    /// The `done` that is offered; nothing where failures are shown.
    pub done: Option<String>,
    pub units: Vec<Unit>,
    /// How many are affected, and where all of them are listed; where not all are shown.
    pub all: Option<(usize, String)>,
}

pub(crate) struct Unit {
    /// Sets the forms of this unit and approach apart from the others of the page.
    pub key: String,
    pub task: String,
    pub title: String,
    pub word: &'static str,
    pub verdict: GateVerdict,
    pub attempts: Vec<String>,
    /// Those that an exemption would name.
    pub of_sisters: String,
    /// The excursion on which it is set by that approach.
    pub set_on: Option<String>,
    pub sides: String,
    pub find_slot: String,
    pub acts: Acts,
}

/// What this person can do about it at once; nothing where there is nothing.
#[derive(Default)]
pub(crate) struct Acts {
    pub take_off: Option<OnSlot>,
    pub move_away: Option<OnSlot>,
    pub keep: Option<OnSlot>,
    pub exempt: Option<FieldView>,
    pub pencil: Option<Vec<FieldView>>,
    /// The approach that an offer pencils; empty where one is chosen.
    pub approach: String,
    pub seats: String,
    pub dismiss: Option<FieldView>,
}

impl Acts {
    pub fn is_empty(&self) -> bool {
        self.take_off.is_none()
            && self.exempt.is_none()
            && self.pencil.is_none()
            && self.dismiss.is_none()
    }
}

/// A form about the slot that stands.
pub(crate) struct OnSlot {
    pub slot: String,
    pub cell: String,
    pub fields: Vec<FieldView>,
}

/// An offer that was dismissed.
pub(crate) struct Dismissed {
    pub code: String,
    pub attempt: String,
    pub task: String,
    pub words: String,
    pub by: String,
    pub may_take_back: bool,
}

pub(crate) fn questioned(told: &SistersAffected, viewer: &Viewer) -> Vec<Affected> {
    let of = told.questioned.iter();
    of.map(|one| Affected {
        all: whole(
            SisterEffect::Questioned,
            one.family.as_ref(),
            &one.approach,
            one.count,
            &one.units,
        ),
        ..affected(&one.approach, None, &one.units, told, viewer)
    })
    .collect()
}

pub(crate) fn offered(told: &SistersAffected, viewer: &Viewer) -> Vec<Affected> {
    let of = told.offered.iter();
    of.map(|one| Affected {
        all: whole(
            SisterEffect::Offered,
            one.family.as_ref(),
            &one.approach,
            one.count,
            &one.units,
        ),
        ..affected(&one.approach, Some(&one.attempt), &one.units, told, viewer)
    })
    .collect()
}

/// The page of every unit that an approach affects, where not all of them are shown.
fn whole(
    effect: SisterEffect,
    family: Option<&FamilyCode>,
    approach: &Approach,
    count: usize,
    told: &[OpenUnit],
) -> Option<(usize, String)> {
    let family = family.filter(|_| told.len() < count)?;
    let technique = approach.technique.as_ref();
    Some((count, every_unit(effect, family, technique, approach.side.as_ref())))
}

/// The address of the list of every unit of a family that an approach affects.
pub(crate) fn every_unit(
    effect: SisterEffect,
    family: &FamilyCode,
    technique: Option<&TechniqueCode>,
    side: Option<&Side>,
) -> String {
    let family = addresses::within("families", family);
    let by = encoded(&show_approach(technique, side));
    format!("{family}/affected?what={}&by={by}", effect_word(effect))
}

pub(crate) fn dismissed(declined: &[Decline], viewer: &Viewer) -> Vec<Dismissed> {
    let may_take_back = may(viewer.actor.role, Action::WriteExemption);
    let row = |one: &Decline| Dismissed {
        code: one.code.0.to_string(),
        attempt: one.attempt.to_string(),
        task: one.task.to_string(),
        words: one.words.as_str().to_owned(),
        by: one.author.as_ref().map_or_else(String::new, ToString::to_string),
        may_take_back,
    };
    declined.iter().map(row).collect()
}

fn affected(
    approach: &Approach,
    done: Option<&AttemptCode>,
    units: &[OpenUnit],
    told: &SistersAffected,
    viewer: &Viewer,
) -> Affected {
    let technique = approach.technique.as_ref().map_or_else(String::new, ToString::to_string);
    let view = View { approach, done, told, viewer };
    Affected {
        technique,
        side: approach.side.as_ref().map_or_else(String::new, ToString::to_string),
        done: done.map(ToString::to_string),
        units: units.iter().map(|unit| view.unit(unit)).collect(),
        all: None,
    }
}

struct View<'a> {
    approach: &'a Approach,
    done: Option<&'a AttemptCode>,
    told: &'a SistersAffected,
    viewer: &'a Viewer,
}

impl View<'_> {
    fn unit(&self, open: &OpenUnit) -> Unit {
        let task = encoded(open.task.as_str());
        let key = identifier(&format!("{} {}", open.task, self.approach).to_lowercase());
        Unit {
            word: open.judgement.word(),
            verdict: open.judgement.gate(),
            attempts: open.judgement.attempts().iter().map(ToString::to_string).collect(),
            of_sisters: open
                .of_sisters
                .iter()
                .map(ToString::to_string)
                .collect::<Vec<_>>()
                .join(", "),
            set_on: open.set_in.as_ref().map(|set| set.excursion.to_string()),
            sides: format!("/tasks/{task}#sides"),
            find_slot: format!("/tasks/{task}#slots"),
            title: open.title.clone(),
            task: open.task.to_string(),
            acts: self.acts(open, &key),
            key,
        }
    }

    fn acts(&self, open: &OpenUnit, key: &str) -> Acts {
        let role = self.viewer.actor.role;
        let own = |mut field: FieldView, form: &str| {
            field.id = format!("{}-{form}-{key}", field.id);
            field
        };
        let seats = if open.seats == 2 { Seats::empty(2) } else { Seats::empty(1) };
        let mut acts = Acts { seats: seats.show(), ..Acts::default() };
        if let Some(done) = self.done {
            acts.approach =
                show_approach(self.approach.technique.as_ref(), self.approach.side.as_ref());
            if may(role, Action::Pencil) {
                acts.pencil = self.excursions(&open.task).map(|cells| vec![own(cells, "offer")]);
            }
            if may(role, Action::WriteExemption) {
                let why = format!("Why {done} does not suit this unit");
                acts.dismiss = Some(own(FieldView::new("words", why).must(), "dismiss"));
            }
            return acts;
        }
        if let Some(set) = &open.set_in
            && may(role, Action::SetSlot)
        {
            let cell = CellAt { task: open.task.clone(), excursion: set.excursion.clone() }.show();
            let on_slot = |fields: Vec<FieldView>| OnSlot {
                slot: set.slot.to_string(),
                cell: cell.clone(),
                fields,
            };
            let none = Cells::default();
            acts.take_off = Some(on_slot(reason(&format!("off-{key}"), &none, &[]).to_vec()));
            let elsewhere: Vec<Choice> = self
                .told
                .coming
                .iter()
                .filter(|excursion| excursion.code.0 != set.excursion)
                .map(|excursion| Choice::new(excursion.code.0.as_str(), excursion.code.0.as_str()))
                .collect();
            if !elsewhere.is_empty() {
                let to =
                    FieldView::new("to", "To excursion").choosing(elsewhere).wide(Width::Small);
                let why = reason_of_move(&format!("away-{key}"), &none, &[]);
                let fields = std::iter::once(own(to, "away")).chain(why).collect();
                acts.move_away = Some(on_slot(fields));
            }
            if matches!(open.judgement, Judgement::Blocked { .. }) {
                let why = FieldView::new("waiver", "Reason for the waiver").must();
                let why = why.hinting(WAIVER_SCOPE);
                acts.keep = Some(on_slot(vec![own(why, "keep")]));
            }
        }
        if !open.of_sisters.is_empty() && may(role, Action::WriteExemption) {
            let why = FieldView::new("words", "Why it does not apply here").must();
            acts.exempt = Some(own(why, "exempt"));
        }
        if open.set_in.is_none() && !open.others.is_empty() && may(role, Action::Pencil) {
            let choice = |other: &Approach| {
                let value = show_approach(other.technique.as_ref(), other.side.as_ref());
                Choice::new(value, other.to_string())
            };
            let others = open.others.iter().map(choice).collect();
            let by = FieldView::new("approach", "Approach, best first").choosing(others);
            acts.pencil = self
                .excursions(&open.task)
                .map(|cells| vec![own(by, "pencil"), own(cells, "pencil")]);
        }
        acts
    }

    /// The coming excursions as cells of this task; nothing where none is planned.
    fn excursions(&self, task: &TaskCode) -> Option<FieldView> {
        let choice = |excursion: &domain::excursions::Excursion| {
            let code = excursion.code.0.clone();
            let day = excursion.day.map_or_else(String::new, |day| format!(", {day}"));
            let cell = CellAt { task: task.clone(), excursion: code.clone() };
            Choice::new(cell.show(), format!("{code}{day}"))
        };
        let choices: Vec<Choice> = self.told.coming.iter().map(choice).collect();
        (!choices.is_empty()).then(|| FieldView::new("cell", "On excursion").choosing(choices))
    }
}

/// A failure that a swap or a move set apart.
pub(crate) struct Apart {
    pub task: String,
    pub attempt: String,
    pub words: Vec<Piece>,
    /// `hardware` or `place`.
    pub because: &'static str,
    /// What moved with the unit is told apart from what stayed by its shape too.
    pub mark: &'static str,
    pub counts: &'static str,
}

/// `serial` gives the serial number of a unit, where it has one.
pub(crate) fn apart(
    task: &TaskCode,
    one: &SetApart,
    serial: impl Fn(&str) -> Option<String>,
) -> Apart {
    let named =
        |unit: &str| serial(unit).map_or_else(|| unit.to_owned(), |s| format!("{unit}, {s},"));
    let (words, because, mark) = match &one.belongs {
        SetApartBecause::CameWithTheUnit { unit, from } => {
            let unit = named(unit.as_str());
            (format!("came with the unit {unit} from {from}"), "hardware", "k-set")
        }
        SetApartBecause::WentWithTheUnit { unit } => {
            let unit = named(unit.as_str());
            (format!("went with the unit {unit} that stood here then"), "hardware", "k-def")
        }
        SetApartBecause::StayedHere { unit } => {
            let unit = named(unit.as_str());
            (format!("stayed at the position, where {unit} stood then"), "place", "k-need")
        }
        SetApartBecause::StayedThere { at } => {
            (format!("stayed at {at}, where this unit stood then"), "place", "k-def")
        }
    };
    Apart {
        task: task.to_string(),
        attempt: one.attempt.to_string(),
        words: linked(&format!("{words}: {}", one.approach)),
        because,
        mark,
        counts: match (one.counts, &one.belongs) {
            (true, _) => "counts here",
            (
                false,
                SetApartBecause::CameWithTheUnit { .. } | SetApartBecause::StayedHere { .. },
            ) => "resolved or done since, so it counts no more",
            (
                false,
                SetApartBecause::WentWithTheUnit { .. } | SetApartBecause::StayedThere { .. },
            ) => "does not count here",
        },
    }
}

/// Offers again what was let go.
pub(crate) async fn undo(
    State(app): State<App>,
    viewer: Viewer,
    Path(code): Path<String>,
    typed: Fields,
) -> Result<Done, PageError> {
    let mut work = Work::begin(&app, &viewer.actor, typed.key().as_ref()).await?;
    let decline = declines::take_back(&mut work, &code).await?;
    let to = work.finish(addresses::within("tasks", &decline.task)).await?;
    let words = format!("{} is offered to {} again.", decline.attempt, decline.task);
    Ok(Done::to(to).saying(words))
}
