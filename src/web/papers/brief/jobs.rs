//! One task of the brief: why it is open, what was tried, what is different this time, and what must
//! not be left out.

use std::collections::HashMap;

use super::Planned;
use crate::pages::excursions::planned::SlotOnPaper;
use crate::papers::hands::capital;
use crate::papers::{Bit, Job, Line, bold, known, text};
use app::calendar::Calendar;
use domain::attempts::Attempt;
use domain::codes::ToolCode;
use domain::fallbacks::Fallback;
use domain::repeat_guard::Approach;
use domain::techniques::Technique;
use domain::time::Day;
use domain::words::{Outcome, RemedyState};

/// Of earlier tries so many are told, the last first.
const TRIES: usize = 2;

pub(super) fn job(
    one: &Planned,
    timed: Option<&SlotOnPaper>,
    names: &HashMap<ToolCode, String>,
    calendar: &Calendar,
) -> Job {
    let slot = &one.slot;
    let mut title = vec![Bit::Text(timed.map_or_else(String::new, |t| format!("{}. ", t.number)))];
    title.push(Bit::Code(slot.task.to_string()));
    title.push(Bit::Text(format!(" {}", one.task.title)));
    if slot.must_do {
        title.extend([Bit::Text(" ".to_owned()), Bit::Box("must do".to_owned())]);
    }
    let approach = Approach { technique: slot.technique.clone(), side: slot.side.clone() };
    let approach = if approach == Approach::default() {
        "no approach chosen".to_owned()
    } else {
        approach.to_string()
    };
    let site = one.task.worksite.as_ref().map_or("worksite unknown", |site| site.as_str());
    let under = format!(
        "{} · {site} · {approach}{}",
        slot.seats.names(),
        timed.map_or_else(String::new, |t| format!(" · PET {}", t.pet))
    );
    let mut left = Vec::new();
    if !one.why_open.is_empty() {
        left.push(("Why it is open", text(&capital(why_open(one)))));
    }
    left.push(("Tried before", tried(one, calendar)));
    left.push(("As left", as_left(one)));
    if let Some(technique) = &one.technique {
        left.push(("Tools", tool_line(technique, names)));
    }
    let mut right = vec![("Different this time", different(one, calendar))];
    right.push(("If it fails", known(slot.if_it_fails.as_ref().map(domain::cells::Line::as_str))));
    for (then, number) in slot.fallbacks.0.iter().zip(1..) {
        right.push((FALLBACK[usize::from(number > 1)], if_then(then, number)));
    }
    right.extend(warnings(one));
    let boxes = timed.map_or_else(Vec::new, |t| {
        vec![
            ("Start no later than", t.latest.clone(), "later, the limit is exceeded".to_owned()),
            ("Work planned", t.work.clone(), format!("reached {}", t.reached)),
        ]
    });
    Job { title, under: text(&under), left, right, boxes, wide: steps(one) }
}

/// The heads of the first fallback and of those after it.
const FALLBACK: [&str; 2] = ["If–then", "Then"];

/// `2. After 60 min, or when the gun jams twice: K-TIE from zenith. Needed with 25 %.`
fn if_then(then: &Fallback, number: i64) -> Line {
    let needed = then.needed.map_or_else(String::new, |share| format!(" Needed with {share}."));
    vec![
        Bit::Text(format!("{number}. {}: ", capital(&then.trigger()))),
        Bit::Bold(format!("{}.", then.what())),
        Bit::Text(needed),
    ]
}

fn tool_line(technique: &Technique, names: &HashMap<ToolCode, String>) -> Line {
    let mut line = Line::new();
    for (at, code) in technique.tools.iter().enumerate() {
        if at > 0 {
            line.push(Bit::Text(", ".to_owned()));
        }
        line.push(Bit::Code(code.to_string()));
        line.push(Bit::Text(format!(" {}", names.get(code).map_or("", String::as_str))));
    }
    if line.is_empty() { known(None) } else { line }
}

/// Without the words of the last attempt where they stand in full under what was tried.
fn why_open(one: &Planned) -> &str {
    let words = one.attempts.last().map_or("", |last| last.words.as_str().trim());
    if words.is_empty() || short(words) != words {
        return &one.why_open;
    }
    let told = one.why_open.strip_suffix(words);
    told.map_or(&*one.why_open, |told| told.trim_end_matches([':', ' ']))
}

/// The last tries and deferrals, the latest first.
fn tried(one: &Planned, calendar: &Calendar) -> Line {
    let attempts = one.attempts.iter().map(|a| {
        let words = format!("{} {}: {}", a.excursion, a.outcome, short(a.words.as_str()));
        (calendar.place(&a.excursion), words)
    });
    let deferrals = one
        .deferrals
        .iter()
        .map(|d| (calendar.place(&d.excursion), format!("{} deferred, {}", d.excursion, d.reason)));
    let mut all: Vec<_> = attempts.chain(deferrals).collect();
    if all.is_empty() {
        return text("Never tried.");
    }
    all.sort_by_key(|(place, _)| *place);
    let more = all.len().saturating_sub(TRIES);
    let last = all.into_iter().rev().take(TRIES);
    let mut words: Vec<String> = last.map(|(_, words)| words).collect();
    if more > 0 {
        words.push(format!("{more} earlier."));
    }
    text(&words.join(" "))
}

fn short(words: &str) -> String {
    let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
    crate::shortened::shortened(&words, 110)
}

fn as_left(one: &Planned) -> Line {
    match one.attempts.iter().rfind(|attempt| attempt.outcome != Outcome::NotReached) {
        Some(attempt) => known(Some(attempt.as_left.as_str())),
        None => text("As found: nobody has worked on it."),
    }
}

fn approach_of(attempt: &Attempt) -> Approach {
    Approach { technique: attempt.technique.clone(), side: attempt.side.clone() }
}

/// What is different from the last try, in bold: another approach, another revision, what was
/// changed since, a sister unit on which it worked since; or that nothing is. What is not in effect
/// yet follows in plain type.
fn different(one: &Planned, calendar: &Calendar) -> Line {
    let mut begun = one.attempts.iter().rev().filter(|a| a.outcome != Outcome::NotReached);
    let Some(last) = begun.next() else { return bold("First try.") };
    let now = Approach { technique: one.slot.technique.clone(), side: one.slot.side.clone() };
    let before = approach_of(last);
    let mut bold_parts = Vec::new();
    let mut rest = Vec::new();
    if now == Approach::default() {
        rest.push("No approach is chosen yet.".to_owned());
    } else if before != now {
        let was = match &before {
            before if *before == Approach::default() => "not recorded".to_owned(),
            before => before.to_string(),
        };
        let mut words = format!("Another approach. Last: {was}.");
        if let Some(same) = begun.find(|attempt| approach_of(attempt) == now) {
            words = format!("{words} This one was tried on {}.", same.excursion);
        }
        bold_parts.push(words);
    } else if let Some((now, before)) =
        one.technique.as_ref().and_then(|technique| technique.revision).zip(last.revision)
        && now > before
    {
        bold_parts.push(format!("Revision {now} of the technique, before: {before}."));
    }
    let last_day = calendar.excursions.get(&last.excursion).and_then(|on| on.row.day);
    for remedy in &one.remedies {
        let is_later = |day: Option<Day>| {
            remedy.attempts.contains(&last.code.0)
                || day.zip(last_day).is_none_or(|(day, last)| day > last)
        };
        let words = format!("{} {}", remedy.code.0, short(remedy.what.as_str()));
        match remedy.state {
            RemedyState::Verified if is_later(remedy.verified_on) => {
                bold_parts.push(format!("{words} (verified)."));
            }
            RemedyState::Done => rest.push(format!("{words} (done, not verified).")),
            RemedyState::Open => rest.push(format!("{words} (still open).")),
            RemedyState::Verified | RemedyState::Withdrawn => {}
        }
    }
    let then = calendar.place(&last.excursion);
    let since = one.done_elsewhere.iter().filter(|(_, on)| calendar.place(on) > then);
    let mut elsewhere: Vec<&str> = since.map(|(task, _)| task.as_str()).collect();
    elsewhere.dedup();
    elsewhere.truncate(3);
    if !elsewhere.is_empty() {
        bold_parts.push(format!("Since then it ended done on {}.", elsewhere.join(", ")));
    }
    if bold_parts.is_empty() {
        let words = if now == Approach::default() {
            "No difference is recorded."
        } else {
            "No difference is recorded: the same approach as before."
        };
        bold_parts.push(words.to_owned());
    }
    let mut line = bold(&bold_parts.join(" "));
    line.extend(rest.iter().flat_map(|words| text(&format!(" {words}"))));
    line
}

/// What runs across the whole width: the steps.
fn steps(one: &Planned) -> Vec<(&'static str, Line)> {
    let Some(technique) = &one.technique else { return Vec::new() };
    let steps: Vec<String> = technique
        .steps
        .as_str()
        .lines()
        .map(str::trim)
        .filter(|step| !step.is_empty())
        .zip(1..)
        .map(|(step, at)| format!("{at} {}", step.trim_end_matches('.')))
        .collect();
    if steps.is_empty() {
        return Vec::new();
    }
    vec![("Steps", text(&format!("{}.", steps.join(" · "))))]
}

/// What must not be left out: stopping point, share, hazards, inhibits, what it ends, the waiver.
fn warnings(one: &Planned) -> Vec<(&'static str, Line)> {
    let mut all = Vec::new();
    if let Some(point) = &one.slot.stopping_point {
        all.push(("Stopping point", bold(point.as_str())));
    }
    if let Some(share) = one.slot.share {
        all.push(("% planned", text(&format!("{} % of the task", share.0))));
    }
    let hazards = one.task.hazards.as_str().trim();
    if !hazards.is_empty() {
        let words = hazards.split_whitespace().collect::<Vec<_>>().join(" ");
        all.push(("Hazards", vec![Bit::Warn(words)]));
    }
    if let Some(inhibits) = &one.task.inhibits {
        all.push(("Inhibits", text(inhibits.as_str())));
    }
    for held in one.constraints.iter().filter(|held| held.state.holds()) {
        all.push(("Ends when done", text(&crate::pages::constraints::forbidden_line(held))));
    }
    if let (Some(gate), Some(waiver)) = (&one.slot.waived_gate, &one.slot.waiver) {
        let mut line = vec![Bit::Bold(format!("check “{gate}” waived. "))];
        line.push(Bit::Text(waiver.to_string()));
        all.push(("Waiver", line));
    }
    all
}
