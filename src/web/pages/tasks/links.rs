//! What a task hangs together with, as its page shows it: who holds it up, the drawn chain, the same
//! as a list, and what each link means now.

use std::collections::BTreeMap;

use crate::addresses::encoded;
use crate::drawings::chain::{self, Arrow, Step};
use crate::drawings::markup::Drawing;
use crate::linked::{Piece, linked};
use crate::marks;
use crate::visitor::Viewer;
use app::links::{Left, LinkedTask, LinkedTasks, Standing};
use app::whole_task::WholeTask;
use domain::codes::TaskCode;
use domain::order_of_work::{Branch, Tie, means};
use domain::roles::{Action, may};
use domain::words::{LinkKind, SlotState, TaskState};

/// More boxes than these say nothing at a glance; the list has them all.
const DRAWN: usize = 40;

/// The section of links.
pub(crate) struct Links {
    /// Who holds it up, in one sentence.
    pub held_up: Vec<Piece>,
    pub is_held_up: bool,
    pub drawing: Drawing,
    /// So many tasks of the chain found no room in the drawing.
    pub not_drawn: usize,
    pub before: Vec<Line>,
    pub after: Vec<Line>,
    pub own: Vec<OwnLink>,
    pub left: Vec<LeftOver>,
}

/// One task of a nested list: a list of what hangs on it opens, or it closes some.
pub(crate) struct Line {
    pub kind: &'static str,
    pub task: String,
    pub title: String,
    pub state: Option<TaskState>,
    pub note: String,
    /// It stands elsewhere in the list with all that hangs on it.
    pub again: bool,
    pub opens: bool,
    pub closes: usize,
}

/// A link that starts or ends here.
pub(crate) struct OwnLink {
    pub code: String,
    pub from_here: bool,
    pub kind: LinkKind,
    pub other: String,
    pub title: String,
    pub state: Option<TaskState>,
    pub words: String,
    pub means: Vec<Piece>,
}

/// What a done task leaves to do.
pub(crate) struct LeftOver {
    pub words: Vec<Piece>,
    /// Where it is done, and the words for it; for those who may.
    pub acts: Vec<(String, String)>,
}

pub(super) fn view(whole: &WholeTask, viewer: &Viewer) -> Option<Links> {
    let around = &whole.around;
    if around.chain.is_empty() {
        return None;
    }
    let task = &whole.task.code.0;
    let (drawing, not_drawn) = drawn(task, around);
    let (mut before, mut after) = (Vec::new(), Vec::new());
    list(&around.chain.before, &around.standing, &mut before);
    list(&around.chain.after, &around.standing, &mut after);
    // The outermost list is closed by the page.
    for lines in [&mut before, &mut after] {
        if let Some(last) = lines.last_mut() {
            last.closes -= 1;
        }
    }
    let this = around.standing.other(task);
    let own = whole
        .links
        .iter()
        .map(|link| OwnLink {
            code: link.code.to_string(),
            from_here: link.from_here,
            kind: link.kind,
            title: link.title.as_str().to_owned(),
            state: link.state,
            words: link.words.as_ref().map_or_else(String::new, ToString::to_string),
            means: linked(&format!(
                "{}.",
                means(link.kind, link.from_here, &this, &around.standing.other(&link.other))
            )),
            other: link.other.to_string(),
        })
        .collect();
    let (is_held_up, words) = held_up(whole);
    Some(Links {
        held_up: linked(&words),
        is_held_up,
        drawing,
        not_drawn,
        before,
        after,
        own,
        left: around.left.iter().map(|left| left_over(left, viewer)).collect(),
    })
}

/// `Waits for T-0113, open, on no excursion.`
fn held_up(whole: &WholeTask) -> (bool, String) {
    let around = &whole.around;
    if !whole.is_open_item() {
        let waiting = around.waiting.len();
        let words = match waiting {
            0 => "It has ended, and no task waits for it.".to_owned(),
            1 => "It has ended; 1 open task comes after it.".to_owned(),
            more => format!("It has ended; {more} open tasks come after it."),
        };
        return (false, words);
    }
    let waits = match around.waiting.as_slice() {
        [] => String::new(),
        [one] => format!(" {one} waits for it."),
        more => {
            let named: Vec<&str> = more.iter().map(TaskCode::as_str).collect();
            format!(" {} tasks wait for it: {}.", more.len(), named.join(", "))
        }
    };
    if around.held_up_by.is_empty() {
        let trigger = whole.links.iter().any(|l| l.kind == LinkKind::OnlyIf && l.from_here)
            && !whole.task.triggered;
        let words =
            if trigger { "It waits for its condition." } else { "It waits for no other task." };
        return (trigger, format!("{words}{waits}"));
    }
    let causes: Vec<String> = around
        .held_up_by
        .iter()
        .map(|cause| match around.standing.of(cause) {
            Some(linked) => format!("{cause}, {}, {}", linked.state, place(linked)),
            None => format!("{cause}, which is not in the record"),
        })
        .collect();
    (true, format!("Waits for {}.{waits}", causes.join("; and for ")))
}

/// `set on E-37.1`, `on no excursion`; nothing for what has ended.
pub(crate) fn place(linked: &LinkedTask) -> String {
    if !linked.state.is_open_item() {
        return String::new();
    }
    let mut slots = linked.slots.clone();
    // What is set says more than what is pencilled.
    slots.sort_by_key(|(state, _)| *state != SlotState::Set);
    match slots.first() {
        Some((state, excursion)) => format!("{state} on {excursion}"),
        None => "on no excursion".to_owned(),
    }
}

fn list(branches: &[Branch], standing: &Standing, into: &mut Vec<Line>) {
    for (at, branch) in branches.iter().enumerate() {
        let linked = standing.of(&branch.task);
        into.push(Line {
            kind: branch.tie.kind.word(),
            task: branch.task.to_string(),
            title: linked.map_or_else(String::new, |linked| linked.title.clone()),
            state: linked.map(|linked| linked.state),
            note: linked.map_or_else(String::new, place),
            again: branch.again,
            opens: !branch.further.is_empty(),
            closes: 0,
        });
        list(&branch.further, standing, into);
        // The last of a list closes it.
        if at + 1 == branches.len()
            && let Some(last) = into.last_mut()
        {
            last.closes += 1;
        }
    }
}

fn drawn(task: &TaskCode, around: &LinkedTasks) -> (Drawing, usize) {
    let mut order: Vec<&TaskCode> = vec![task];
    let all = around.chain.tasks();
    order.extend(all.iter().copied().filter(|other| *other != task));
    let not_drawn = order.len().saturating_sub(DRAWN);
    order.truncate(DRAWN);
    let at: BTreeMap<&TaskCode, usize> =
        order.iter().enumerate().map(|(at, task)| (*task, at)).collect();
    let steps: Vec<Step> = order.iter().map(|task| step(task, &around.standing)).collect();
    let own_beside = |tie: &&Tie| tie.kind.comes_after() || tie.task == *task || tie.other == *task;
    let shown: Vec<&Tie> = around.ties.iter().filter(own_beside).collect();
    // Two links between the same tasks make one arrow.
    let mut arrows: BTreeMap<(usize, usize), Arrow> = BTreeMap::new();
    for tie in &shown {
        let (Some(to), Some(from)) = (at.get(&tie.task), at.get(&tie.other)) else { continue };
        let beside = !tie.kind.comes_after();
        let none = Arrow { from: *from, to: *to, words: Vec::new(), holds: false, beside };
        let arrow = arrows.entry((*from, *to)).or_insert(none);
        arrow.words.push(tie.kind.word());
        arrow.holds |= tie.kind.holds_up();
        arrow.beside &= beside;
    }
    let arrows: Vec<Arrow> = arrows.into_values().collect();
    let words: Vec<String> =
        shown.iter().map(|tie| format!("{} {} {}.", tie.task, tie.kind, tie.other)).collect();
    (chain::draw(&steps, &arrows, "chain", &words.join(" ")), not_drawn)
}

fn step(task: &TaskCode, standing: &Standing) -> Step {
    let linked = standing.of(task);
    let state = linked.map_or(TaskState::Open, |linked| linked.state);
    Step {
        code: task.to_string(),
        title: linked.map_or_else(String::new, |linked| linked.title.clone()),
        mark: marks::of(&state),
        state: state.word(),
        note: linked.map_or_else(String::new, place),
    }
}

/// What is left to do, with where it is done.
pub(crate) fn left_over(left: &Left, viewer: &Viewer) -> LeftOver {
    let role = viewer.actor.role;
    let (first, other, kind) = (&left.tie.task, &left.tie.other, left.tie.kind);
    let mut words = Vec::new();
    let mut acts = Vec::new();
    if left.to_close {
        words.push(format!("{first}, which {kind} {other}, is done, and {other} is still open."));
        if may(role, Action::CloseTask) {
            let why = encoded(&format!("{first}, which {kind} it, is done."));
            let task = encoded(other.as_str());
            let closing = format!("/closures/new?task={task}&kind=moot&words={why}");
            acts.push((closing, format!("Close {other}")));
        }
    }
    for item in &left.to_bring_in {
        let (code, what) = (&item.code.0, &item.what);
        let back = item.brought_back_by.as_ref().map_or_else(
            || "no task brings it back".to_owned(),
            |task| format!("{task} brings it back"),
        );
        words
            .push(format!("{code}, {what}, was left by {other} and still stands outside; {back}."));
        if item.brought_back_by.is_none() && may(role, Action::KeepOutside) {
            let edit = format!("/outside/{}/edit", encoded(code.as_str()));
            acts.push((edit, format!("Say who brings {code} in")));
        }
    }
    LeftOver { words: linked(&words.join(" ")), acts }
}
