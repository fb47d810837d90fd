//! One seat on the board: what it does now and next, how late it is, and its buttons.

use super::sections::{self, AheadView};
use app::day::{Answers, Day, OnBoard, whole};
use compute::day::RestOfTask;
use domain::day::{Act, Progress};
use domain::fallbacks::Fallback;
use domain::units::{Minutes, Pet};

/// One seat.
pub(super) struct SeatView {
    pub number: u8,
    pub name: String,
    pub where_it_is: String,
    pub late: String,
    pub is_late: bool,
    /// Where the time to turn back has passed, that in words.
    pub turn: Option<String>,
    pub now: TaskLine,
    pub next: Vec<TaskLine>,
    /// What the next fallback of the task under way is, where its time has come.
    pub fallback: Option<FallbackView>,
    /// The slot that is under way.
    pub running: Option<Pressed>,
    /// For the script, while presses wait: the slots that are under way and planned, each with its task
    /// and whether it has a stopping point.
    pub plan: String,
    /// The slot that comes next, and those after it, which may be begun before it.
    pub next_slot: Option<Pressed>,
    pub others: Vec<Pressed>,
    /// A slot that the seat has left for another, without a press for how it ended, and its PET.
    pub unsaid: Option<(Pressed, String)>,
    pub last: Option<Last>,
    /// The work that fits before its next task, where it waits for that.
    pub ahead: Option<AheadView>,
}

/// A task as a line of a seat says it; without a code it is a sentence alone.
#[derive(Default)]
pub(super) struct TaskLine {
    pub code: String,
    pub words: String,
    pub more: String,
    pub at: String,
    pub planned: String,
    pub must: bool,
    pub at_risk: bool,
}

/// A task that a button is for.
pub(super) struct Pressed {
    pub slot: String,
    pub task: String,
    /// It can be left at a stopping point.
    pub has_stopping_point: bool,
}

/// The next fallback of a task under way.
pub(super) struct FallbackView {
    pub words: String,
    pub slot: String,
    /// Which of the slot's, 1 for the first.
    pub step: usize,
    /// What is pressed to take it up; empty where the work is left as it is.
    pub button: String,
}

/// The last press for this seat.
pub(super) struct Last {
    pub words: String,
    pub key: String,
}

/// Less than this is on time.
const ON_TIME: f64 = 1.0;

pub(super) fn all(there: &Day, answers: &Answers) -> Vec<SeatView> {
    there.excursion.seats.0.iter().map(|seat| one(there, answers, seat.number)).collect()
}

/// The same, each seat that waits with what fits before its next task.
pub(super) fn with(there: &Day, answers: &Answers, aheads: &[AheadView]) -> Vec<SeatView> {
    let mut seats = all(there, answers);
    for seat in seats.iter_mut().filter(|seat| seat.running.is_none()) {
        let next = seat.next_slot.as_ref().map_or("", |next| next.slot.as_str());
        let fits = |ahead: &&AheadView| ahead.seats == seat.name && ahead.before == next;
        seat.ahead = aheads.iter().find(fits).cloned();
    }
    seats
}

fn one(there: &Day, answers: &Answers, number: u8) -> SeatView {
    let own: Vec<(usize, &OnBoard)> = there
        .tasks
        .iter()
        .enumerate()
        .filter(|(_, task)| task.slot.seats.numbers().any(|seat| seat == number))
        .collect();
    let rest = |at: usize| {
        answers.rest.as_ref().and_then(|rest| rest.tasks.iter().find(|left| left.task == at))
    };
    let running =
        own.iter().find(|(_, task)| matches!(task.now.progress, Progress::Running { .. })).copied();
    let planned: Vec<(usize, &OnBoard)> =
        own.iter().filter(|(_, task)| task.now.progress == Progress::Planned).copied().collect();
    let ended = own.iter().filter_map(|(at, task)| match task.now.progress {
        Progress::Ended { end, .. } => Some((end, *at, *task)),
        Progress::Planned | Progress::Running { .. } | Progress::Dropped => None,
    });
    let last_ended = ended.max_by_key(|(end, ..)| *end);
    let late = lateness(
        answers,
        running.map(|(at, _)| at),
        planned.first().map(|(at, _)| *at),
        last_ended.map(|(end, at, _)| (end, at)),
        &rest,
    );
    let with = |task: &OnBoard| {
        let others: Vec<String> = task
            .slot
            .seats
            .numbers()
            .filter(|seat| *seat != number)
            .map(|seat| format!("EV{seat}"))
            .collect();
        if others.is_empty() { String::new() } else { format!(", with {}", others.join(" and ")) }
    };
    let line = |(at, task): (usize, &OnBoard)| TaskLine {
        code: task.slot.task.as_str().to_owned(),
        words: format!("{}{}", task.title, with(task)),
        more: approach(task),
        at: rest(at).map_or_else(|| "–".to_owned(), |left| whole(left.start_p50).to_string()),
        planned: planned_start(answers, at),
        must: task.slot.must_do,
        at_risk: rest(at).is_some_and(|left| left.reached < answers.bound),
    };
    let inside = there.state.inside;
    let now = match (inside, running, planned.first()) {
        (Some(inside), ..) => came_in(&own, inside),
        (_, Some((at, task)), _) => under_way(there, answers, (at, task), rest(at), &with(task)),
        (_, None, Some((at, task))) => TaskLine {
            words: match waits_for(there, task, number) {
                _ if there.pet.is_none() => "Before egress".to_owned(),
                Some(other) => format!("Waiting for EV{other}"),
                None => "On the way".to_owned(),
            },
            more: rest(*at).map_or_else(String::new, |left| {
                format!("{} is expected to start at {}", task.slot.task, whole(left.start_p50))
            }),
            ..TaskLine::default()
        },
        (_, None, None) => {
            let words =
                if own.is_empty() { "No task is set" } else { "No task is left: turn back" };
            TaskLine { words: words.to_owned(), ..TaskLine::default() }
        }
    };
    // Nobody starts a task once the crew is inside.
    let planned = if inside.is_some() { Vec::new() } else { planned };
    let pressed = |task: &OnBoard| Pressed {
        slot: task.slot.code.0.as_str().to_owned(),
        task: task.slot.task.as_str().to_owned(),
        has_stopping_point: task.slot.stopping_point.is_some()
            || task.slot.stopping_share.is_some(),
    };
    let unsaid = own.iter().rev().find_map(|(_, task)| match task.now.progress {
        Progress::Ended { end, outcome: None, .. } => Some((pressed(task), end.to_string())),
        Progress::Planned
        | Progress::Running { .. }
        | Progress::Ended { .. }
        | Progress::Dropped => None,
    });
    let slots: Vec<_> = own.iter().map(|(_, task)| task.slot.code.0.clone()).collect();
    let last = there.state.last_press(&slots).map(|press| {
        let task = press
            .slot
            .as_ref()
            .and_then(|slot| there.place(slot))
            .map_or("", |at| there.tasks[at].slot.task.as_str());
        let pet = press.pet.map_or_else(String::new, |pet| format!(" at {pet}"));
        Last { words: format!("{task} {}{pet}, {}", press.act, press.who), key: press.key.clone() }
    });
    let plan: Vec<String> = running
        .iter()
        .chain(&planned)
        .map(|(_, task)| {
            let one = pressed(task);
            format!("{} {} {}", one.slot, one.task, u8::from(one.has_stopping_point))
        })
        .collect();
    let at = running.map(|(_, task)| task).or(last_ended.map(|(_, _, task)| task));
    let at = at.filter(|_| inside.is_none());
    let late = late.filter(|_| inside.is_none());
    SeatView {
        number,
        name: format!("EV{number}"),
        where_it_is: at.map_or_else(String::new, |task| format!("at {}", task.worksite)),
        is_late: late.is_some_and(|late| late >= 10.0),
        late: late_words(late, there.pet.is_some()),
        turn: there.lane(number).and_then(|lane| sections::turn_at_once(there, answers, lane)),
        now,
        next: planned.iter().take(2).map(|(at, task)| line((*at, task))).collect(),
        fallback: running.and_then(|(at, task)| fallback(answers, at, task)),
        running: running.map(|(_, task)| pressed(task)),
        plan: plan.join(";"),
        others: planned.iter().skip(1).map(|(_, task)| pressed(task)).collect(),
        unsaid,
        next_slot: if running.is_some() { None } else { planned.first().map(|(_, t)| pressed(t)) },
        last,
        ahead: None,
    }
}

/// A seat of a crew that is inside, with the tasks that it did not start.
fn came_in(own: &[(usize, &OnBoard)], inside: Pet) -> TaskLine {
    let planned = own.iter().filter(|(_, task)| task.now.progress == Progress::Planned);
    let left: Vec<&str> = planned.map(|(_, task)| task.slot.task.as_str()).collect();
    TaskLine {
        words: "Inside".to_owned(),
        more: if left.is_empty() {
            String::new()
        } else {
            format!("not reached: {}", left.join(", "))
        },
        at: format!("since {inside}"),
        ..TaskLine::default()
    }
}

/// The seat of a task for several that is still at work elsewhere.
fn waits_for(there: &Day, task: &OnBoard, number: u8) -> Option<u8> {
    let is_at_work = |seat: &u8| {
        there.tasks.iter().any(|on| {
            let runs = matches!(on.now.progress, Progress::Running { .. });
            runs && on.slot.seats.numbers().any(|own| own == *seat)
        })
    };
    task.slot.seats.numbers().filter(|seat| *seat != number).find(is_at_work)
}

fn approach(task: &OnBoard) -> String {
    if let Some((taken, _)) = in_force(task) {
        return taken.what();
    }
    let technique = task.slot.technique.as_ref().map(|technique| technique.as_str().to_owned());
    let side =
        task.slot.side.as_ref().map(|side| format!("from {}", domain::cells::Cell::show(side)));
    let by = [technique, side].into_iter().flatten().collect::<Vec<_>>().join(" ");
    let added = task.is_added().then(|| "get-ahead, added on the board".to_owned());
    let also = task.also_set.as_ref();
    let also = also.map(|(excursion, slot)| format!("also set on {excursion} as {slot}"));
    let parts = [Some(by), added, also].into_iter().flatten().filter(|part| !part.is_empty());
    parts.collect::<Vec<_>>().join(" · ")
}

/// The fallback by which a task is worked, and since when.
fn in_force(task: &OnBoard) -> Option<(&Fallback, Pet)> {
    let (step, since) = task.now.fallback()?;
    Some((task.slot.fallbacks.0.get(step)?, since))
}

fn planned_start(answers: &Answers, at: usize) -> String {
    answers.planned.get(at).map_or_else(String::new, |(start, _)| whole(*start).to_string())
}

fn under_way(
    there: &Day,
    answers: &Answers,
    (at, task): (usize, &OnBoard),
    rest: Option<&RestOfTask>,
    with: &str,
) -> TaskLine {
    let Progress::Running { since } = task.now.progress else { return TaskLine::default() };
    let taken = Minutes((there.pet.unwrap_or(since).0 - since.0).max(0));
    let planned = answers.planned.get(at);
    let mut more = vec![approach(task), format!("{} min so far", taken.0)];
    if let Some((start, end)) = planned {
        more[1] = format!("{}, planned {:.0}", more[1], end - start);
    }
    if let Some((_, taken_up)) = in_force(task) {
        more[0] = format!("fallback {} since {taken_up}", more[0]);
        let before = taken_up.0 - since.0;
        more[1] = format!("{}; {before} min went before it and count as late", more[1]);
    }
    if let Some(rest) = rest {
        let planned =
            planned.map_or_else(String::new, |(_, end)| format!(" (planned {})", whole(*end)));
        let (p50, p80) = (whole(rest.end_p50), whole(rest.end_p80));
        more.push(format!("ends about {p50}{planned}, P80 {p80}"));
    }
    more.retain(|part| !part.is_empty());
    TaskLine {
        code: task.slot.task.as_str().to_owned(),
        words: format!("{}{with}", task.title),
        more: more.join(" · "),
        at: format!("since {since}"),
        must: task.slot.must_do,
        ..TaskLine::default()
    }
}

fn fallback(answers: &Answers, at: usize, task: &OnBoard) -> Option<FallbackView> {
    let due = answers.due.iter().find(|due| due.task == at)?;
    let next = task.slot.fallbacks.0.get(due.step)?;
    let mut words = match due.past {
        Some(past) if past >= 1.0 => {
            format!("Past its trigger by {past:.0} min: {}", next.trigger())
        }
        Some(_) => format!("Its trigger has come: {}", next.trigger()),
        None => format!("If–then: {}", next.trigger()),
    };
    words = format!("{words}, {}.", next.what());
    if next.leaves() {
        words.push_str(" Press how the task ended.");
    }
    if let Some(fails) = &task.slot.if_it_fails {
        words = format!("{words} {}", fails.as_str());
    }
    if let Some(stopping) = &task.slot.stopping_point {
        words = format!("{words} Stopping point: {}", stopping.as_str());
    }
    let button = if next.leaves() { String::new() } else { format!("Use {}", next.what()) };
    let slot = task.slot.code.0.as_str().to_owned();
    Some(FallbackView { words, slot, step: due.step + 1, button })
}

/// Minutes later than planned; below 0, earlier.
fn lateness<'r>(
    answers: &Answers,
    running: Option<usize>,
    next: Option<usize>,
    last: Option<(Pet, usize)>,
    rest: &impl Fn(usize) -> Option<&'r RestOfTask>,
) -> Option<f64> {
    if let Some(at) = running {
        return Some(rest(at)?.end_p50 - answers.planned.get(at)?.1);
    }
    if let Some(at) = next {
        return Some(rest(at)?.start_p50 - answers.planned.get(at)?.0);
    }
    let (end, at) = last?;
    Some(minutes(end) - answers.planned.get(at)?.1)
}

fn late_words(late: Option<f64>, has_begun: bool) -> String {
    match late {
        Some(late) if has_begun && late >= ON_TIME => format!("{late:.0} min late"),
        Some(late) if has_begun && late <= -ON_TIME => format!("{:.0} min early", -late),
        Some(_) if has_begun => "on time".to_owned(),
        Some(_) | None => String::new(),
    }
}

#[expect(clippy::cast_precision_loss, reason = "minutes of an excursion are few")]
fn minutes(pet: Pet) -> f64 {
    pet.0 as f64
}

/// The buttons that end a task: the act and the shape of its mark.
pub(super) const ENDS: [(Act, &str); 4] = [
    (Act::Done, "k-done"),
    (Act::AtStoppingPoint, "k-part"),
    (Act::NotCompleted, "k-not"),
    (Act::Dropped, "k-drop"),
];
