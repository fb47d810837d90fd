//! One cell of the matrix, opened: its gates, the best place, and what can be done from there.

use app::read::Connection;

use super::asked::{CellAt, SlotsQuery, show_approach};
use super::fields::{WaiverView, reason, reason_of_move, waived};
use super::form::Typed;
use crate::forms::{Choice, FieldView, Width};
use crate::linked::Piece;
use crate::pages::gates::{self, GateLine};
use crate::pages::how::How;
use crate::pages::worth::{self, OpeningLine};
use crate::visitor::Viewer;
use app::Failure;
use app::calendar::Calendar;
use app::day::{at_launch, at_launch_with};
use app::fit::{Board, Judged, openings};
use app::read::{Found as _, register, slots};
use compute::fit::{
    Ask, ExcursionAt, Guard, Place, Room, Standing, TaskAt, margin, minutes_added, per_cent, pet,
    room, room_words,
};
use domain::cells::Cell as _;
use domain::excursions::Excursion;
use domain::kinds::Kind;
use domain::repeat_guard::Approach;
use domain::roles::{Action, may};
use domain::slots::Slot;
use domain::tasks::Task;
use domain::verdicts::is_against;
use domain::words::{GateName, Role, SlotState, SlotVerdict};

/// What the panel shows.
pub(crate) struct Opened {
    pub task: String,
    pub title: String,
    pub excursion: String,
    pub cell: String,
    /// The page on which the matrix stands.
    pub home: &'static str,
    pub close: String,
    pub verdict: SlotVerdict,
    pub held: Option<Held>,
    pub place: Vec<Piece>,
    /// The chance that it is reached here, and how many of the set tasks are then expected to be.
    pub reached: Option<Reached>,
    /// Its value as a sum, and what that is here.
    pub value: Vec<Piece>,
    pub worth: String,
    /// What would make it fit; `None` where it does.
    pub openings: Option<Vec<OpeningLine>>,
    pub gates: Vec<GateLine>,
    pub how: How,
    /// The approach with which it is judged.
    pub by: String,
    /// A form that looks at it with another approach; empty where there is one way alone.
    pub look: Vec<FieldView>,
    pub hidden: Vec<(&'static str, String)>,
    pub plan: Option<PlanForm>,
    pub set: bool,
    pub waiver: Option<WaiverView>,
    /// The hazards of the task.
    pub hazards: String,
    pub take_off: Option<Vec<FieldView>>,
    pub move_away: Option<Vec<FieldView>>,
    pub elsewhere: Vec<Elsewhere>,
}

/// The slot that holds this cell.
pub(crate) struct Held {
    pub code: String,
    pub state: SlotState,
    pub waived: String,
}

/// Pencils the task here or sets it.
pub(crate) struct PlanForm {
    pub fields: Vec<FieldView>,
    pub approach: String,
    pub before: String,
    pub may_set: bool,
}

/// A live slot of the task on another excursion, and the form that moves it here.
pub(crate) struct Elsewhere {
    pub code: String,
    pub excursion: String,
    pub state: SlotState,
    /// The approach with which it is planned there, where it differs from the judged one.
    pub other_approach: Option<String>,
    /// The one that was judged here; empty where there is none to choose.
    pub approach: String,
    pub may_move: bool,
    /// A set slot that moves later leaves a deferral, which asks for its reason.
    pub fields: Vec<FieldView>,
    /// A set slot stays set, so what stands against it here is waived by name.
    pub waiver: Option<WaiverView>,
}

/// The chance of a task to be reached, as words.
pub(crate) struct Reached {
    pub chance: String,
    /// It is not set here: the chance is that of its best place.
    pub if_set: bool,
    pub expected: String,
}

impl Opened {
    /// The task has a slot elsewhere that this person may move here.
    pub fn may_move_here(&self) -> bool {
        self.elsewhere.iter().any(|slot| slot.may_move)
    }

    /// Every field of the panel, for the error summary.
    pub fn all_fields(&self) -> Vec<FieldView> {
        let plan = self.plan.iter().flat_map(|form| form.fields.clone());
        let waiver = self.waiver.iter().map(|form| form.reason.clone());
        let off = self.take_off.iter().flatten().cloned();
        let away = self.move_away.iter().flatten().cloned();
        let here = self.elsewhere.iter().flat_map(|slot| slot.fields.clone());
        plan.chain(waiver).chain(off).chain(away).chain(here).collect()
    }
}

/// Reads one cell; `None` where the task or the coming excursion does not exist.
pub(super) async fn read(
    db: &mut Connection,
    board: &Board,
    viewer: &Viewer,
    asked: &SlotsQuery,
    cell: &CellAt,
    typed: &Typed,
) -> Result<Option<Opened>, Failure> {
    let (Some(task_at), Some(at)) =
        (board.task_at(&cell.task), board.excursion_at(&cell.excursion))
    else {
        return Ok(None);
    };
    let Some(task) = Task::find(db, cell.task.as_str()).await? else { return Ok(None) };
    let ways = &board.snapshot.tasks[task_at].approaches;
    let chosen = asked
        .by
        .as_ref()
        .and_then(|by| ways.position(|way| way.technique == by.technique && way.side == by.side));
    let ask = Ask { approach: chosen, ..Ask::default() };
    let Some(judged) = board.judge(&cell.task, &cell.excursion, &ask) else { return Ok(None) };
    let beside = match judged.place {
        Some(place) => board.place_beside_pencilled(task_at, at, &ask).or(Some(place)),
        None => None,
    };
    let closed = !matches!(judged.verdict, SlotVerdict::Fits | SlotVerdict::Tight);
    let open_item = board.snapshot.tasks[task_at].standing == Standing::Open;
    let cells = if closed && open_item { vec![(at, ask)] } else { Vec::new() };
    let told = openings(board, task_at, cells).await?;
    let live = slots::live_of_task(db, &cell.task).await?;
    let (here, others): (Vec<Slot>, Vec<Slot>) =
        live.into_iter().partition(|slot| slot.excursion == cell.excursion);
    let own = match here.first() {
        Some(slot) => register::find(db, Kind::Slot, slot.code.0.as_str())
            .await?
            .is_some_and(|row| row.made_by == viewer.actor.name),
        None => false,
    };
    let panel = Panel {
        board,
        asked,
        cell,
        typed,
        judged: &judged,
        beside,
        left: board.left_with(task_at, &[(at, &judged)]).first().copied().flatten(),
        room: room(&board.snapshot, at, &board.constants),
        excursion: &board.excursions[at],
        calendar: Calendar::load(db).await?,
        openings: told.first().map(|told| worth::openings(told)),
        role: viewer.actor.role,
    };
    Ok(Some(panel.draw(&task, task_at, at, here.first(), own, &others)))
}

struct Panel<'a> {
    board: &'a Board,
    asked: &'a SlotsQuery,
    cell: &'a CellAt,
    typed: &'a Typed,
    judged: &'a Judged,
    /// Where it would go beside the pencilled tasks.
    beside: Option<Place>,
    /// Left before the limit at P80 with the set tasks and this one.
    left: Option<f64>,
    room: Room,
    excursion: &'a Excursion,
    calendar: Calendar,
    openings: Option<Vec<OpeningLine>>,
    role: Role,
}

impl Panel<'_> {
    fn draw(
        mut self,
        task: &Task,
        task_at: TaskAt,
        at: ExcursionAt,
        here: Option<&Slot>,
        own: bool,
        others: &[Slot],
    ) -> Opened {
        let is_open = self.board.snapshot.tasks[task_at].standing == Standing::Open;
        let snapshot = &self.board.snapshot;
        let worth = self
            .judged
            .place
            .map(|place| self.board.values.worth_with(snapshot, task_at, at, place.chance));
        let may_pencil = may(self.role, Action::Pencil) && is_open;
        let may_set = may(self.role, Action::SetSlot) && is_open;
        let may_take_off = here.is_some_and(|slot| {
            may(
                self.role,
                match slot.state {
                    SlotState::Set => Action::DeferBeforeLaunch,
                    _ if own => Action::WithdrawOwnPencil,
                    _ => Action::WithdrawAnyPencil,
                },
            )
        });
        let is_set = here.is_some_and(|slot| slot.state == SlotState::Set);
        let elsewhere = others.iter().map(|slot| self.elsewhere(slot, here.is_some())).collect();
        Opened {
            openings: self.openings.take(),
            value: worth::sum(self.board, task_at),
            worth: worth.as_ref().map_or_else(String::new, worth::here),
            task: task.code.0.to_string(),
            title: task.title.as_str().to_owned(),
            excursion: self.cell.excursion.to_string(),
            cell: self.cell.show(),
            home: self.asked.matrix_on.path(),
            close: self.asked.closed() + "#matrix",
            verdict: self.judged.verdict,
            held: here.map(|slot| Held {
                code: slot.code.0.to_string(),
                state: slot.state,
                waived: waived(slot),
            }),
            place: self.place(at),
            reached: self.reached(task_at, at, here),
            gates: gates::lines(self.judged),
            how: How::of(&self.board.constants),
            by: approach_words(self.judged.approach.as_ref()),
            look: self.look(task_at, here),
            hidden: self.asked.hidden(),
            plan: (here.is_none() && may_pencil).then(|| self.plan(task, at, may_set)),
            set: here.is_some() && !is_set && may_set,
            waiver: (may_set && !is_set).then(|| self.waiver("cell")).flatten(),
            hazards: task.hazards.as_str().trim().to_owned(),
            take_off: may_take_off.then(|| if is_set { self.why("off") } else { Vec::new() }),
            move_away: may_take_off.then(|| self.away(is_set)).filter(|all| !all.is_empty()),
            elsewhere,
        }
    }

    /// `Best place: EV2, from 2:10 to 2:55, after T-0095. …`
    fn place(&self, at: ExcursionAt) -> Vec<Piece> {
        let words = |text: String| Piece::Words(text);
        let Some(place) = self.judged.place else {
            return vec![words("Its place is unknown.".to_owned())];
        };
        let seats = self.seats_of(&place).join(" and ");
        let (from, to) = (pet(place.start).show(), pet(place.end).show());
        let mut pieces = vec![words(format!("{seats}, PET {from} to {to}"))];
        let earlier = self.board.slots[at].iter().take(place.before_slot.into());
        let set = |slot: &&Slot| slot.state == SlotState::Set && slot.task != self.cell.task;
        if let Some(before) = earlier.rev().find(set) {
            pieces.push(words(", after ".to_owned()));
            let code = before.task.to_string();
            pieces.push(Piece::Code(crate::addresses::of(Kind::Task, &code), code));
        }
        let beside = self.beside.filter(|beside| beside.lanes != place.lanes);
        let beside = beside.map_or_else(String::new, |beside| {
            format!(
                " With the pencilled tasks, {} is better.",
                self.seats_of(&beside).join(" and ")
            )
        });
        let with_it = self.left.map_or_else(|| "unknown".to_owned(), margin);
        pieces.push(words(format!(
            ".{beside} Adds {}. Time left at P80: {}; with this task and the set ones {with_it}. The \
             excursion then ends inside its limit with a chance of {}, if every task succeeds.",
            minutes_added(place.added),
            room_words(&self.room),
            per_cent(place.chance),
        )));
        pieces
    }

    /// By the draws of the board before the day.
    fn reached(&self, task: TaskAt, at: ExcursionAt, here: Option<&Slot>) -> Option<Reached> {
        let set = here.filter(|slot| slot.state == SlotState::Set);
        let (launch, chance) = match set {
            Some(slot) => {
                let launch = at_launch(self.board, at)?;
                let chance = launch.reached.get(&slot.code.0).copied()?;
                (launch, chance)
            }
            None => at_launch_with(self.board, at, task, self.judged)?,
        };
        let expected = format!("{:.1} of {}", launch.expected, launch.of);
        Some(Reached { chance: per_cent(chance), if_set: set.is_none(), expected })
    }

    fn seats_of(&self, place: &Place) -> Vec<String> {
        let seats: Vec<u8> = self.excursion.seats.numbers().collect();
        let number = |lane: usize| seats.get(lane).map(|seat| format!("EV{seat}"));
        place.lanes.each().filter_map(number).collect()
    }

    /// Looks at the same cell with another approach.
    fn look(&self, task_at: TaskAt, here: Option<&Slot>) -> Vec<FieldView> {
        let ways = &self.board.snapshot.tasks[task_at].approaches;
        if here.is_some() || ways.len() < 2 {
            return Vec::new();
        }
        let choice = |way: &compute::fit::Approach| {
            let approach = Approach { technique: way.technique.clone(), side: way.side.clone() };
            let stands = match way.guard {
                Guard::Free => "",
                Guard::Questioned => " · questioned",
                Guard::Blocked => " · blocked",
                Guard::NotRecorded => " · cannot tell",
                Guard::Drafted => " · drafted",
                Guard::Withdrawn => " · withdrawn",
            };
            Choice::new(
                show_approach(way.technique.as_ref(), way.side.as_ref()),
                format!("{}{stands}", approach_words(Some(&approach))),
            )
        };
        let field = FieldView::new("by", "Approach, best first")
            .choosing(ways.iter().map(choice).collect())
            .holding(self.approach_value());
        vec![field]
    }

    fn approach_value(&self) -> String {
        self.judged.approach.as_ref().map_or_else(
            || ",".to_owned(),
            |approach| show_approach(approach.technique.as_ref(), approach.side.as_ref()),
        )
    }

    fn plan(&self, task: &Task, at: ExcursionAt, may_set: bool) -> PlanForm {
        let best = self.beside.map(|place| self.seats_of(&place).join(", "));
        let all: Vec<String> =
            self.excursion.seats.numbers().map(|seat| format!("EV{seat}")).collect();
        let takes = match self.judged.place {
            Some(place) => place.lanes.count(),
            None => task.seats.and_then(|seats| usize::try_from(seats).ok()).unwrap_or(1),
        };
        let mut choices: Vec<Choice> = match takes {
            1 => all.iter().map(|seat| Choice::new(seat, seat)).collect(),
            _ => Vec::new(),
        };
        let together = all.join(", ");
        if choices.iter().all(|choice| choice.value != together) && !all.is_empty() {
            choices.push(Choice::new(&together, all.join(" and ")));
        }
        let held = if self.typed.cells.has("seats") {
            self.typed.cells.get("seats").to_owned()
        } else {
            best.unwrap_or_else(|| all.first().cloned().unwrap_or_default())
        };
        let before = self
            .beside
            .and_then(|place| self.board.slots[at].get(place.before_slot))
            .map_or_else(String::new, |slot| slot.code.0.to_string());
        let share = FieldView::new("share", "% planned")
            .holding(self.typed.cells.get("share"))
            .hinting("Left empty: all that is left.")
            .wide(Width::Small)
            .judged(&self.typed.errors);
        let begin = self.beside.and_then(|place| place.begin).map(|begin| pet(begin).show());
        let held_begin = if self.typed.cells.has("not_before") {
            self.typed.cells.get("not_before").to_owned()
        } else {
            begin.unwrap_or_default()
        };
        let begin = FieldView::new("not_before", "Begin no earlier than, PET")
            .holding(held_begin)
            .hinting("h:mm; left empty: as soon as it can.")
            .wide(Width::Small)
            .judged(&self.typed.errors);
        let seats = FieldView::new("seats", "Seats")
            .choosing(choices)
            .holding(held)
            .wide(Width::Small)
            .judged(&self.typed.errors);
        let fields = vec![seats, share, begin];
        PlanForm { fields, approach: self.approach_value(), before, may_set }
    }

    /// The checks that a lead would have to pass over.
    fn waiver(&self, place: &str) -> Option<WaiverView> {
        let verdicts = self.judged.verdicts().into_iter();
        let against: Vec<GateName> =
            verdicts.filter(|(_, verdict)| is_against(*verdict)).map(|(gate, _)| gate).collect();
        WaiverView::against(place, &against, self.typed)
    }

    /// Why the slot is removed, for the form of that place.
    fn why(&self, place: &str) -> Vec<FieldView> {
        reason(place, &self.typed.cells, &self.typed.errors).to_vec()
    }

    fn away(&self, is_set: bool) -> Vec<FieldView> {
        let others: Vec<Choice> = self
            .board
            .excursions
            .iter()
            .filter(|excursion| excursion.code.0 != self.cell.excursion)
            .map(|excursion| Choice::new(excursion.code.0.as_str(), excursion.code.0.as_str()))
            .collect();
        if others.is_empty() {
            return Vec::new();
        }
        let to = FieldView::new("to", "To excursion")
            .choosing(others)
            .holding(self.typed.cells.get("to"))
            .wide(Width::Small)
            .judged(&self.typed.errors);
        let mut fields = vec![to];
        if is_set {
            let (cells, errors) = (&self.typed.cells, &self.typed.errors);
            fields.extend(reason_of_move("away", cells, errors));
        }
        fields
    }

    fn elsewhere(&self, slot: &Slot, held_here: bool) -> Elsewhere {
        let is_set = slot.state == SlotState::Set;
        let action = if is_set { Action::SetSlot } else { Action::WithdrawAnyPencil };
        // What was flown gets its result in the debrief.
        let is_coming = self.board.excursion_at(&slot.excursion).is_some();
        let may_move = !held_here && is_coming && may(self.role, action);
        let place = format!("from-{}", slot.code.0.as_str().to_lowercase());
        let moves_earlier =
            self.calendar.is_before(&self.cell.excursion, &slot.excursion) == Some(true);
        let own = Approach { technique: slot.technique.clone(), side: slot.side.clone() };
        let judged = self.judged.approach.as_ref();
        let differs = judged.is_some_and(|judged| *judged != own);
        Elsewhere {
            other_approach: differs.then(|| approach_words(Some(&own))),
            approach: judged.map_or_else(String::new, |_| self.approach_value()),
            code: slot.code.0.to_string(),
            excursion: slot.excursion.to_string(),
            state: slot.state,
            may_move,
            waiver: (is_set && may_move).then(|| self.waiver(&place)).flatten(),
            fields: if is_set && may_move && !moves_earlier {
                reason_of_move(&place, &self.typed.cells, &self.typed.errors).to_vec()
            } else {
                Vec::new()
            },
        }
    }
}

fn approach_words(approach: Option<&Approach>) -> String {
    match approach {
        Some(approach) if *approach != Approach::default() => approach.to_string(),
        Some(_) | None => "no technique named".to_owned(),
    }
}
