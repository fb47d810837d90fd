//! Papers about many records at once: the action list, the statistics, the registers.

use std::collections::BTreeMap;

use app::read::Connection;

use super::flight::ARRANGED_BEFORE;
use super::handover::who;
use super::hands::capital;
use super::{Bit, Paper, Part, Table, blank, known, number, text, warn};
use crate::addresses::encoded;
use crate::extract::Fields;
use crate::forms::{Choice, FieldView};
use crate::visitor::Viewer;
use app::calendar::Calendar;
use app::read::statistics::Period;
use app::read::{Found, excursions, slots};
use app::statistics::{self, FEW, Statistics};
use app::{Failure, Reader, inhibits, waits};
use domain::cells::Cell as _;
use domain::codes::TaskCode;
use domain::families::Unit;
use domain::kinds::Kind;
use domain::time::Day;
use domain::words::ArrangementState;

/// A row of what somebody owes: whether it is still in time, when it is due, and its cells.
type Owed = (bool, Option<Day>, Vec<super::Line>);

fn asked(viewer: &Viewer) -> Fields {
    Fields::read(viewer.address().split_once('?').map_or("", |(_, query)| query).as_bytes())
}

/// Rows of one owner on a screen: among all owners, and alone.
const ON_SCREEN: usize = 20;
const OF_ONE: usize = 100;

/// What is owed, owner by owner: findings, reviews, remedies, arrangements. A screen shows the most
/// urgent of each; on paper and in files stands all.
pub(super) async fn actions(
    db: &mut Reader,
    viewer: &Viewer,
    is_page: bool,
) -> Result<Paper, Failure> {
    let today = viewer.now().day();
    let fields = asked(viewer);
    let is_part = is_page && !fields.has("paper");
    let wanted = fields.get("owner").trim().to_owned();
    let board = waits::seen(db, today).await?;
    let mut by_owner: BTreeMap<String, Vec<Owed>> = BTreeMap::new();
    for one in &board.all {
        let words = one.words.split_whitespace().collect::<Vec<_>>().join(" ");
        let words = crate::shortened::shortened(&words, 110);
        let mut of = vec![Bit::Code(one.code.clone())];
        if let Some(at) = &one.at {
            of.extend([Bit::Text(", ".to_owned()), Bit::Code(at.clone())]);
        }
        let due = due(one.by.as_deref(), one.wait.due, one.wait.overdue);
        let row = vec![text(&format!("{}: {words}", capital(one.wait.step.word()))), of, due];
        by_owner.entry(who(&one.wait.who)).or_default().push((
            !one.wait.overdue,
            one.wait.due,
            row,
        ));
    }
    let live = slots::coming_slots(db).await?;
    let calendar = Calendar::load(db).await?;
    for excursion in excursions::coming(db).await? {
        let code = excursion.code.0;
        let slotted: Vec<TaskCode> = live
            .iter()
            .filter(|slot| slot.excursion == code)
            .map(|slot| slot.task.clone())
            .collect();
        for one in inhibits::on_excursion(db, &code, &slotted).await? {
            let state = one.arrangement.as_ref().map(|there| there.state);
            let is_open = matches!(state, None | Some(ArrangementState::Asked));
            if !is_open || one.needed_by.is_empty() {
                continue;
            }
            let owner = one
                .inhibit
                .owner
                .as_ref()
                .map_or_else(|| "owner unknown".to_owned(), ToString::to_string);
            let word = state.map_or("not asked for", ArrangementState::word);
            let needed: Vec<&str> = one.needed_by.iter().map(TaskCode::as_str).collect();
            let what = format!("Arrange inhibit on {code} ({word}): {}", one.inhibit.what);
            let mut of = vec![Bit::Code(one.inhibit.code.0.to_string())];
            of.push(Bit::Text(", ".to_owned()));
            of.extend(text(&needed.join(", ")));
            let launch = calendar.launch_of(&code).or(excursion.day);
            let day = launch.map(|launch| launch.plus(-ARRANGED_BEFORE));
            let is_overdue = day.is_some_and(|day| day < today);
            let before = due(Some(code.as_str()), day, is_overdue);
            by_owner.entry(owner).or_default().push((
                !is_overdue,
                day,
                vec![text(&what), of, before],
            ));
        }
    }
    let owners: Vec<String> = by_owner.keys().cloned().collect();
    if !wanted.is_empty() {
        by_owner.retain(|owner, _| owner.eq_ignore_ascii_case(&wanted));
    }
    let count: usize = by_owner.values().map(Vec::len).sum();
    let overdue = by_owner.values().flatten().filter(|(in_time, ..)| !in_time).count();
    let mut parts = vec![Part::Words(text(&format!(
        "{} open, {overdue} overdue, {}.",
        number(count, "action is", "actions are"),
        number(by_owner.len(), "owner", "owners")
    )))];
    let mut whole = None;
    for (owner, mut rows) in by_owner {
        rows.sort_by_key(|(in_time, due, _)| (*in_time, due.is_none(), *due));
        let all = rows.len();
        parts.push(Part::OwnSheet(format!("{} · {all}", capital(&owner))));
        let most = if wanted.is_empty() { ON_SCREEN } else { OF_ONE };
        if is_part {
            rows.truncate(most);
        }
        let shown = rows.len();
        let mut table = Table::of(&[("Action", 60), ("Of", 20), ("Due", 20)]);
        table.rows = rows.into_iter().map(|(_, _, row)| row).collect();
        parts.push(Part::Table(table));
        if shown < all {
            let of_one = format!("/actions?owner={}", encoded(&owner));
            let (address, to_print) = if wanted.is_empty() {
                (of_one, "/actions?paper=yes".to_owned())
            } else {
                let whole = format!("{of_one}&paper=yes");
                (whole.clone(), whole)
            };
            parts.push(Part::Words(vec![
                Bit::Text(format!("{shown} of {all} shown. ")),
                Bit::Link(address, format!("Show all {all} of {owner}")),
            ]));
            whole = Some(to_print);
        }
    }
    Ok(Paper {
        heading: "Action list".to_owned(),
        asks: vec![owner_field(&owners, &wanted)],
        whole,
        above: if wanted.is_empty() { "all owners".to_owned() } else { wanted },
        file: "actions".to_owned(),
        back: ("/findings".to_owned(), "Findings".to_owned()),
        parts,
    })
}

fn owner_field(owners: &[String], wanted: &str) -> FieldView {
    let mut choices = vec![Choice::new("", "all owners, one sheet each")];
    choices.extend(owners.iter().map(|owner| Choice::new(owner, owner)));
    FieldView::new("owner", "Owner").holding(wanted).choosing(choices)
}

fn due(by: Option<&str>, day: Option<Day>, is_overdue: bool) -> super::Line {
    let words = match (by, day) {
        (Some(by), Some(day)) => format!("{by}, {day}"),
        (Some(by), None) => by.to_owned(),
        (None, Some(day)) => day.to_string(),
        (None, None) => String::new(),
    };
    match (is_overdue, words.is_empty()) {
        (true, _) => warn(&format!("{words} overdue")),
        (false, true) => blank(),
        (false, false) => text(&words),
    }
}

/// Attempts, causes, deferrals and minutes over a period, each figure with its count.
pub(super) async fn figures(db: &mut Reader, viewer: &Viewer) -> Result<Paper, Failure> {
    let fields = asked(viewer);
    let asks = [("from", "From date"), ("until", "Until date")]
        .map(|(name, label)| FieldView::new(name, label).holding(fields.get(name).trim()));
    let day = |name: &str| match fields.get(name).trim() {
        "" => Ok(None),
        typed => Day::read(typed).map(Some),
    };
    let (from, until) = (day("from"), day("until"));
    let unread: Vec<String> = [("From", &from), ("Until", &until)]
        .into_iter()
        .filter_map(|(label, read)| Some(format!("{label}: {}", read.as_ref().err()?)))
        .collect();
    if !unread.is_empty() {
        // Figures of another period than the one that was asked for would be taken for these.
        let words = format!("No figures: the period was not read. {}", unread.join(" "));
        return Ok(Paper {
            heading: "Statistics".to_owned(),
            above: "period not read".to_owned(),
            asks: asks.into(),
            file: "statistics".to_owned(),
            back: ("/history".to_owned(), "History".to_owned()),
            parts: vec![Part::Words(warn(&words))],
            ..Paper::default()
        });
    }
    let period = Period { from: from.unwrap_or_default(), until: until.unwrap_or_default() };
    let today = viewer.now().day();
    let Statistics { outcomes, causes, deferrals, carried, opened, minutes } =
        &*statistics::seen(db, period).await?;
    let attempts: i64 = outcomes.iter().map(|(_, count)| count).sum();
    let mut parts =
        vec![Part::Words(text(&format!("{}.", number_of(attempts, "attempt", "attempts"))))];
    let bars = |heading: &str, [one, several]: [&str; 2], rows: Vec<(String, i64)>| {
        let total: i64 = rows.iter().map(|(_, count)| count).sum();
        let mut words = format!("{}.", number_of(total, one, several));
        if total < FEW {
            words.push_str(" Too few to conclude from.");
        }
        vec![Part::Heading(heading.to_owned()), Part::Words(text(&words)), Part::Bars(rows)]
    };
    let outcomes = outcomes.iter().map(|(word, count)| (word.word().to_owned(), *count));
    let deferrals = deferrals.iter().map(|(word, count)| (word.word().to_owned(), *count));
    parts.push(Part::Pair(
        bars("How attempts ended", ["attempt", "attempts"], outcomes.collect()),
        bars("Why tasks were deferred", ["deferral", "deferrals"], deferrals.collect()),
    ));
    parts.extend(bars(
        "What stopped attempts",
        ["stopped attempt", "stopped attempts"],
        causes.clone(),
    ));
    if let Some(Part::Bars(rows)) = parts.last_mut() {
        fold(rows);
    }
    let carried: Vec<(String, i64)> = carried
        .iter()
        .map(|(flights, count)| {
            let word = if *flights == 1 { "flight" } else { "flights" };
            (format!("over {flights} {word}"), *count)
        })
        .collect();
    parts.push(Part::Pair(
        bars("Open tasks carried", ["open task", "open tasks"], carried),
        bars(
            "Open tasks by age",
            ["open task of known age", "open tasks of known age"],
            ages(opened, today),
        ),
    ));
    parts.push(Part::Heading("Planned against actual minutes".to_owned()));
    parts.push(Part::Words(text(&ratio_words(minutes))));
    parts.push(Part::Bars(ratio_bars(minutes)));
    let from = period.from.map_or_else(|| "the beginning".to_owned(), |day| day.to_string());
    let until = period.until.unwrap_or(today);
    Ok(Paper {
        heading: "Statistics".to_owned(),
        above: format!("from {from} to {until}"),
        asks: asks.into(),
        file: "statistics".to_owned(),
        back: ("/history".to_owned(), "History".to_owned()),
        parts,
        ..Paper::default()
    })
}

/// Keeps the first kinds and counts the others in one row.
fn fold(rows: &mut Vec<(String, i64)>) {
    const MAX_KINDS: usize = 12;
    if rows.len() > MAX_KINDS + 1 {
        let rest = rows.split_off(MAX_KINDS);
        let count = rest.iter().map(|(_, count)| count).sum();
        rows.push((format!("{} more kinds", rest.len()), count));
    }
}

fn number_of(count: i64, one: &str, several: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {several}") }
}

fn ages(opened: &[Option<Day>], today: Day) -> Vec<(String, i64)> {
    let mut rows = [
        ("under 1 year", 0, 365, 0_i64),
        ("1 to 2 years", 365, 730, 0),
        ("2 to 3 years", 730, 1095, 0),
        ("over 3 years", 1095, i64::MAX, 0),
    ];
    for day in opened.iter().flatten() {
        let days = today.since(*day).max(0);
        for row in &mut rows {
            row.3 += i64::from((row.1..row.2).contains(&days));
        }
    }
    rows.into_iter().map(|(word, _, _, count)| (word.to_owned(), count)).collect()
}

/// The median of actual over likely minutes, with the middle half.
fn ratio_words(minutes: &[(i64, i64)]) -> String {
    let mut per_cent: Vec<i64> =
        minutes.iter().map(|(planned, actual)| actual * 100 / (*planned).max(1)).collect();
    per_cent.sort_unstable();
    let at = |share: usize| quantile(&per_cent, share);
    if per_cent.is_empty() {
        return "No task that ended done has both likely and actual minutes.".to_owned();
    }
    let (low, middle, high) = (at(25), at(50), at(75));
    let count = i64::try_from(per_cent.len()).unwrap_or(i64::MAX);
    let few = if count < FEW { " Too few to conclude from." } else { "" };
    format!(
        "{} that ended done took {} % of the likely minutes at the median; half of them between {} \
         and {} %.{few}",
        number_of(count, "task", "tasks"),
        middle,
        low,
        high
    )
}

/// A quantile of sorted figures: between two of them by their share of the way, so that the median of
/// an even count is the mean of the middle two.
// Source: Hyndman and Fan, Sample Quantiles in Statistical Packages, The American Statistician 50
// (1996), definition 7.
fn quantile(sorted: &[i64], share: usize) -> i64 {
    let Some(last) = sorted.len().checked_sub(1) else { return 0 };
    let (at, part) = (last * share / 100, last * share % 100);
    let (low, high) = (sorted[at], sorted[(at + 1).min(last)]);
    low + ((high - low) * i64::try_from(part).unwrap_or(0) + 50) / 100
}

fn ratio_bars(minutes: &[(i64, i64)]) -> Vec<(String, i64)> {
    let mut rows = [
        ("under 80 % of the likely minutes", 0, 80, 0_i64),
        ("80 to 120 %", 80, 120, 0),
        ("120 to 160 %", 120, 160, 0),
        ("over 160 %", 160, i64::MAX, 0),
    ];
    for (planned, actual) in minutes {
        let share = actual * 100 / (*planned).max(1);
        for row in &mut rows {
            row.3 += i64::from((row.1..row.2).contains(&share));
        }
    }
    rows.into_iter().map(|(word, _, _, count)| (word.to_owned(), count)).collect()
}

/// Waivers, second persons, and where asked the story of one unit.
pub(super) async fn registers(db: &mut Connection, viewer: &Viewer) -> Result<Paper, Failure> {
    let fields = asked(viewer);
    let unit = fields.get("unit").trim().to_owned();
    let mut parts = Vec::new();
    if !unit.is_empty() {
        let missing = || Failure::NotFound(Kind::Unit, unit.clone());
        let found = Unit::find(db, &unit).await?.ok_or_else(missing)?;
        let serial = found.serial.as_ref().map_or("serial unknown", |serial| serial.as_str());
        parts.push(Part::Heading(format!("Unit {unit}, {serial}")));
        let mut table = Table::of(&[("Day", 14), ("Record", 14), ("What", 16), ("In words", 0)])
            .or("No event is recorded.");
        for event in app::read::statistics::story(db, &unit).await? {
            table.rows.push(vec![
                event.day.map_or_else(blank, |day| text(&day.to_string())),
                vec![Bit::Code(event.code)],
                text(&event.what),
                text(&event.words),
            ]);
        }
        parts.push(Part::Table(table));
    }
    parts.push(Part::Heading("Waivers".to_owned()));
    parts.push(Part::Words(text(crate::pages::slots::fields::WAIVER_SCOPE)));
    let heads = [("When, UTC", 16), ("Slot", 22), ("Check", 12), ("Who", 12), ("Reason", 0)];
    let mut table = Table::of(&heads).or("No waiver counts at present.");
    for one in app::read::statistics::waivers(db).await? {
        table.rows.push(vec![
            text(&one.at.to_the_minute()),
            text(&format!("{} {} {}", one.slot, one.task, one.excursion)),
            text(&one.gate),
            text(&one.who),
            text(&one.reason),
        ]);
    }
    parts.push(Part::Table(table));
    parts.push(Part::Heading("Second persons".to_owned()));
    let heads = [
        ("What", 18),
        ("Record", 15),
        ("Author or owner", 19),
        ("By", 12),
        ("On", 12),
        ("How", 24),
    ];
    let mut table = Table::of(&heads).or("No judgement by a second person yet.");
    for one in app::read::statistics::second_persons(db).await? {
        table.rows.push(vec![
            text(&one.kind),
            vec![Bit::Code(one.code)],
            known(one.author.as_deref()),
            text(&one.by),
            one.day.map_or_else(blank, |day| text(&day.to_string())),
            text(one.checked.as_deref().unwrap_or("here")),
        ]);
    }
    parts.push(Part::Table(table));
    Ok(Paper {
        heading: "Registers".to_owned(),
        above: if unit.is_empty() {
            "waivers and second persons".to_owned()
        } else {
            format!("unit {unit}, waivers and second persons")
        },
        asks: vec![FieldView::new("unit", "History of unit, code").holding(unit)],
        file: "registers".to_owned(),
        back: ("/changes".to_owned(), "Changes".to_owned()),
        parts,
        ..Paper::default()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_median_of_an_even_count_is_the_mean_of_the_middle_two() {
        // Source: Hyndman and Fan, Sample Quantiles in Statistical Packages, The American
        // Statistician 50 (1996), definition 7.
        assert_eq!(quantile(&[10, 20, 40, 80], 50), 30);
        assert_eq!(quantile(&[10, 20, 40], 50), 20);
        assert_eq!(quantile(&[10, 20, 30, 40, 50], 25), 20);
        assert_eq!(quantile(&[7], 75), 7);
        assert_eq!(quantile(&[], 50), 0);
    }

    #[test]
    fn kinds_beyond_the_twelfth_are_counted_in_one_row() {
        let mut rows: Vec<_> = (0..22).map(|at| (format!("kind {at}"), 2)).collect();
        fold(&mut rows);
        assert_eq!(rows.len(), 13);
        assert_eq!(rows[12], ("10 more kinds".to_owned(), 20));
    }
}
