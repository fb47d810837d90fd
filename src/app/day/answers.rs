//! What follows from where the crew stands: worked out from the record and the presses.

use super::aheads::Ahead;
use super::windows::WindowRow;
use super::{Day, OnBoard, added, calls, numbers};
use crate::fit::Board;
use compute::day::{Choice, DropSet, Ended, Outlook, Progress, Rest, Task};
use compute::fit::{
    Aided, DaySlot, ExcursionAt, FirstOut, OnTheDay, Part, SlotAt, TaskAt, unknown_sentence,
};
use compute::lighting::Stretch;
use compute::supplies::Lasts;
use compute::timeline::{Activity, Segment};
use domain::codes::SlotCode;
use domain::day::{self, Act};
use domain::units::Pet;

/// The drop sets that are laid beside the best one.
const COMPARED: usize = 4;

/// Everything on the board that is worked out. Tasks are named by their place among the set slots.
#[derive(Debug, Clone, Default)]
pub struct Answers {
    /// Why nothing could be worked out.
    pub unknown: Vec<Vec<Part>>,
    /// The number of each task on the excursion's page and its brief.
    pub numbers: Vec<usize>,
    /// What the day was planned to be: start and end of each task.
    pub planned: Vec<(f64, f64)>,
    pub rest: Option<Rest>,
    pub best: Option<DropSet>,
    /// The chance with everything dropped that may be, where no choice is good enough.
    pub compared: Vec<DropRow>,
    /// The last minute at which each task may start.
    pub latest: Vec<Option<f64>>,
    pub turn_back: Vec<TurnBack>,
    /// How long the supplies of each seat last, or what is not known of them.
    pub supplies: Vec<[Lasts; 4]>,
    /// What runs out first, held against the reserve.
    pub first_out: Option<FirstOut>,
    pub supplies_unknown: Vec<Vec<Part>>,
    pub windows: Vec<WindowRow>,
    pub aheads: Vec<Ahead>,
    /// The crew-day factor: P10, P50, P90.
    pub crew_day: [f64; 3],
    /// What the crew of a practice run calls down.
    pub calls: Vec<calls::Call>,
    pub limit: f64,
    /// The nights, where the orbit is known, and the windows of the arm.
    pub nights: Vec<(f64, f64)>,
    pub arm: Vec<(f64, f64)>,
    /// What each lane does beside work, with the name of the worksite to which it travels.
    pub steps: Vec<(Segment, String)>,
    /// The chance that the choices keep.
    pub bound: f64,
    /// The fallbacks that may be taken up now.
    pub due: Vec<Due>,
}

/// A fallback of a task under way whose trigger has come, or may have come.
#[derive(Debug, Clone, PartialEq)]
pub struct Due {
    pub task: usize,
    /// Its place among the fallbacks of the slot.
    pub step: usize,
    /// The minutes of the approach before it that its trigger has been passed by; `None` where a
    /// look decides and not the minutes.
    pub past: Option<f64>,
}

/// A drop set beside the best one.
#[derive(Debug, Clone)]
pub struct DropRow {
    pub set: DropSet,
    pub best: bool,
}

/// Until when work of a seat may go on at a worksite.
#[derive(Debug, Clone)]
pub struct TurnBack {
    pub lane: usize,
    pub site: String,
    /// The seat is at work there, or stands there since its last task ended.
    pub here: bool,
    pub by: f64,
    pub cleanup: f64,
    pub travel: f64,
    pub ingress: f64,
}

/// Works everything out.
pub fn of(board: &Board, there: &Day) -> Answers {
    let numbers = numbers::of(board, there);
    let with = added::on_board(board, there);
    let board = &*with;
    let laid = match Laid::of(board, there) {
        Ok(laid) => laid,
        Err(unknown) => return Answers { unknown, ..Answers::default() },
    };
    let bound = board.constants.met_from;
    let pet = real(there.pet.map_or(0, |pet| pet.0));
    let ways = laid.on_the_day.ways();
    let before = laid.on_the_day.day(&ways, pet, None);
    let limit = before.frame.limit;
    let planned = compute::day::as_planned(&before).unwrap_or_default();
    let windows = before.frame.windows;
    let stretches =
        |all: &[Stretch]| all.iter().map(|stretch| (stretch.from, stretch.until)).collect();
    let (nights, arm) = (stretches(&windows.nights), stretches(&windows.arm));
    let outlook = Outlook::of(before);
    let known = Answers { numbers, planned, limit, nights, arm, bound, ..Answers::default() };
    let mut answers = known;
    // Once the crew is inside nothing is left to be done, dropped or added.
    if there.state.inside.is_some() {
        return answers;
    }
    let Ok(rest) = outlook.rest() else {
        let words = "There is no route between two worksites of the plan any more.".to_owned();
        return Answers { unknown: vec![vec![Part::Text(words)]], ..answers };
    };
    answers.best = outlook.best_drops(bound);
    answers.compared = compared(&outlook, answers.best.as_ref());
    answers.latest = (0..there.tasks.len()).map(|task| outlook.latest_start(task)).collect();
    answers.turn_back = laid.turn_back(&outlook);
    match laid.on_the_day.supplies(&rest) {
        Ok(lasting) => {
            answers.first_out = laid.on_the_day.first_out(&rest, &lasting);
            answers.supplies = lasting;
        }
        Err(unknown) => {
            let said = unknown.iter().map(|what| unknown_sentence(&board.snapshot, what));
            answers.supplies_unknown = said.collect();
        }
    }
    answers.windows = laid.windows(&outlook, &rest, bound);
    answers.steps = laid.steps(&outlook, &rest);
    answers.crew_day = [0.1, 0.5, 0.9].map(|chance| outlook.crew_day().factor(chance));
    answers.aheads = laid.aheads(&outlook, answers.best.as_ref(), bound);
    let tasks = laid.on_the_day.tasks();
    let home = tasks.iter().map(|task| {
        let way = outlook.planned_way_home(task.stop.site, task.stop.carries_on);
        way.map_or(0.0, |(cleanup, travel)| cleanup + travel + outlook.day().frame.ingress)
    });
    let home: Vec<f64> = home.collect();
    answers.calls = calls::of(there, tasks, &answers.planned, (&home, limit));
    answers.due = due(there, pet);
    answers.rest = Some(rest);
    answers
}

/// The next fallback of each task under way, once its minutes have passed; one that waits for a look
/// alone is there from the start of the approach before it.
fn due(there: &Day, pet: f64) -> Vec<Due> {
    let of = |(task, on): (usize, &OnBoard)| {
        let day::Progress::Running { since } = on.now.progress else { return None };
        let step = on.now.next_fallback();
        let next = on.slot.fallbacks.0.get(step)?;
        let begun = on.now.fallback().map_or(since, |(_, taken)| taken);
        let past = next.after.map(|after| pet - real(begun.0) - real(after.0));
        past.is_none_or(|past| past >= 0.0).then_some(Due { task, step, past })
    };
    there.tasks.iter().enumerate().filter_map(of).collect()
}

/// An excursion laid out for its day, with the ways back into the record.
pub(super) struct Laid<'a> {
    pub board: &'a Board,
    pub there: &'a Day,
    pub excursion: ExcursionAt,
    pub on_the_day: OnTheDay<'a>,
}

impl<'a> Laid<'a> {
    pub fn of(board: &'a Board, there: &'a Day) -> Result<Self, Vec<Vec<Part>>> {
        let code = there.code();
        let Some(excursion) = board.excursion_at(code) else {
            let words = format!("{code} is not a coming excursion any more; the log stays.");
            return Err(vec![vec![Part::Text(words)]]);
        };
        if there.tasks.is_empty() {
            let words = format!("No task is set on {code}.");
            return Err(vec![vec![Part::Text(words)]]);
        }
        let live = &board.slots[excursion];
        let pet = real(there.pet.map_or(0, |pet| pet.0));
        let told: Vec<DaySlot> = there
            .tasks
            .iter()
            .filter_map(|task| {
                let at = live.position(|slot| slot.code == task.slot.code)?;
                Some(told(board, excursion, at, task, pet))
            })
            .collect();
        let on_the_day = OnTheDay::of(&board.snapshot, &board.constants, excursion, &told);
        match on_the_day {
            Ok(on_the_day) => Ok(Self { board, there, excursion, on_the_day }),
            Err(unknown) => {
                let said = unknown.iter().map(|what| unknown_sentence(&board.snapshot, what));
                Err(said.collect())
            }
        }
    }

    pub fn turn_back(&self, outlook: &Outlook<Aided>) -> Vec<TurnBack> {
        let mut rows: Vec<TurnBack> = Vec::new();
        let day = outlook.day();
        for lane in 0..day.frame.lanes {
            let own = day.tasks.iter().filter(|task| task.stop.lanes.has(lane));
            let (live, ended): (Vec<&Task>, Vec<&Task>) =
                own.filter(|task| task.progress != Progress::Dropped).partition(|task| {
                    matches!(task.progress, Progress::Planned | Progress::Running { .. })
                });
            let works = |task: &&Task| matches!(task.progress, Progress::Running { .. });
            // A seat that is not at work stands where its last task ended.
            let at_work = live.iter().copied().find(works);
            let stands = || ended.into_iter().max_by(|a, b| end_of(a).total_cmp(&end_of(b)));
            let here = at_work.or_else(stands);
            let all = here.map(|task| (task, true)).into_iter();
            for (task, here) in all.chain(live.into_iter().map(|task| (task, false))) {
                let site = self.board.snapshot.sites[task.stop.site].code.as_str().to_owned();
                let seen = rows.iter().any(|row| row.lane == lane && row.site == site);
                let carries = task.stop.carries_on;
                let by = outlook.turn_back(task.stop.site, carries);
                let home = outlook.planned_way_home(task.stop.site, carries);
                if let (false, Some(by), Some((cleanup, travel))) = (seen, by, home) {
                    let ingress = day.frame.ingress;
                    rows.push(TurnBack { lane, site, here, by, cleanup, travel, ingress });
                }
            }
        }
        rows
    }

    fn steps(&self, outlook: &Outlook<Aided>, rest: &Rest) -> Vec<(Segment, String)> {
        let site = |segment: Segment| match segment.activity {
            Activity::Travel { to, .. } => {
                (segment, self.board.snapshot.sites[to].code.as_str().to_owned())
            }
            _ => (segment, String::new()),
        };
        outlook.steps(rest).into_iter().map(site).collect()
    }

    pub fn task_at(&self, task: usize) -> TaskAt {
        let slot: SlotAt = self.on_the_day.slots()[task];
        self.board.snapshot.excursions[self.excursion].slots[slot].task
    }
}

/// When a task ended; 0 before.
const fn end_of(task: &Task) -> f64 {
    match task.progress {
        Progress::Ended { end, .. } => end,
        Progress::Planned | Progress::Running { .. } | Progress::Dropped => 0.0,
    }
}

/// What the presses and the slot say of one task.
fn told(board: &Board, excursion: ExcursionAt, at: SlotAt, task: &OnBoard, pet: f64) -> DaySlot {
    let slot = &board.snapshot.excursions[excursion].slots[at];
    let progress = match task.now.progress {
        day::Progress::Planned => Progress::Planned,
        // Times that were pressed ahead of the clock have come by now.
        day::Progress::Running { since } => Progress::Running { since: real(since.0).min(pet) },
        day::Progress::Ended { start, end, outcome } => Progress::Ended {
            start: real(start.0),
            end: real(end.0),
            outcome: match outcome {
                // A start or an end that nobody knows says nothing of how long the work took.
                _ if task.now.start_unknown || task.now.end_unknown => Ended::NotCompleted,
                Some(Act::Done) => Ended::Done,
                Some(Act::AtStoppingPoint) => Ended::AtStoppingPoint,
                Some(_) | None => Ended::NotCompleted,
            },
        },
        day::Progress::Dropped => Progress::Dropped,
    };
    DaySlot {
        slot: at,
        progress: Some(progress),
        stopping_share: task.slot.stopping_share.map(|share| real(share.0) / 100.0),
        fallback: task.now.fallback().map(|(step, pet)| (step, real(pet.0))),
        value: board.values.total(slot.task),
    }
}

/// The best set, all kept, and each task dropped alone, as far as that says something new.
fn compared(outlook: &Outlook<Aided>, best: Option<&DropSet>) -> Vec<DropRow> {
    let mut rows: Vec<DropRow> = Vec::new();
    let add = |rows: &mut Vec<DropRow>, choices: Vec<(usize, Choice)>| {
        if rows.iter().any(|row| row.set.choices == choices) {
            return;
        }
        if let Ok(set) = outlook.with_choices(choices) {
            rows.push(DropRow { set, best: false });
        }
    };
    if let Some(best) = best {
        rows.push(DropRow { set: best.clone(), best: true });
    }
    add(&mut rows, outlook.without(&[]));
    let mut planned: Vec<usize> = outlook.day().planned().collect();
    planned.retain(|&task| !outlook.day().tasks[task].must_do);
    for task in planned.iter().rev() {
        if rows.len() >= COMPARED {
            break;
        }
        add(&mut rows, outlook.without(&[*task]));
    }
    if best.is_none() {
        add(&mut rows, outlook.without(&planned));
    }
    rows
}

impl Day {
    /// The name of a lane’s seat.
    pub fn seat(&self, lane: usize) -> String {
        let seat = self.excursion.seats.0.get(lane);
        seat.map_or_else(String::new, |seat| format!("EV{}", seat.number))
    }

    /// The lane of a seat number.
    pub fn lane(&self, seat: u8) -> Option<usize> {
        self.excursion.seats.0.iter().position(|there| there.number == seat)
    }

    pub fn place(&self, slot: &SlotCode) -> Option<usize> {
        self.tasks.iter().position(|task| task.slot.code.0 == *slot)
    }
}

/// Minutes of an excursion stay far below the 2⁵³ that a float holds exactly.
#[expect(clippy::cast_precision_loss, reason = "minutes of an excursion are few")]
pub(super) fn real(whole: i64) -> f64 {
    whole as f64
}

/// Elapsed time in whole minutes.
pub fn whole(minutes: f64) -> Pet {
    compute::fit::pet(minutes)
}
