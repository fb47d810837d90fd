//! What is overdue, and what waits for whom.

use askama::Template;

use super::reopened::{self, Again};
use super::{PAGE, View, views};
use crate::addresses::{self, encoded};
use crate::extract::Fields;
use crate::forms::{Choice, FieldView, Pager, Width};
use crate::frame::{Nav, PageFrame};
use crate::linked::{Piece, first_sentence, linked};
use crate::tables;
use crate::visitor::Viewer;
use app::waits::{Board, Waiting};
use domain::four_eyes::same_account;
use domain::kinds::Kind;
use domain::roles::{Action, may};
use domain::time::Day;
use domain::waits::{Step, Who};

#[derive(Template)]
#[template(path = "findings/waits.html")]
pub(crate) struct WaitsPage {
    page: PageFrame,
    views: Vec<View>,
    may_write: bool,
    is_filtered: bool,
    lead: String,
    burdens: Vec<BurdenRow>,
    /// The latest, and how many there are.
    reopened: Vec<Again>,
    reopened_count: usize,
    filters: Vec<FieldView>,
    rows: Vec<StepRow>,
    status: String,
    csv: String,
    pager: Pager,
}

struct BurdenRow {
    who: String,
    step: &'static str,
    count: i64,
    overdue: i64,
    address: String,
    overdue_address: String,
}

struct StepRow {
    code: String,
    address: String,
    words: Vec<Piece>,
    step: Step,
    who: String,
    due: Option<Day>,
    by: Option<String>,
    overdue: bool,
    /// Where the step is taken.
    act: Option<String>,
}

/// What the address asks for.
pub(super) struct StepFilter {
    step: Option<Step>,
    who: String,
    overdue: bool,
}

/// The failures without a finding.
pub(crate) const TO_EXPLAIN: &str = "/findings?step=write%20a%20finding";

/// Of the reopened questions so many are told here.
const REOPENED: usize = 12;
/// Whoever is signed in.
const ME: &str = "me";

impl StepFilter {
    pub(super) fn read(asked: &Fields) -> Self {
        Self {
            step: Step::read(asked.get("step")),
            who: asked.get("who").trim().to_owned(),
            overdue: asked.get("overdue") == "yes",
        }
    }

    fn is_all(&self) -> bool {
        self.step.is_none() && self.who.is_empty() && !self.overdue
    }

    fn takes(&self, one: &Waiting, me: &str) -> bool {
        self.step.is_none_or(|step| step == one.wait.step)
            && (!self.overdue || one.wait.overdue)
            && match self.who.as_str() {
                "" => true,
                ME => may_take(&one.wait.who, me),
                who => one.wait.who.to_string().eq_ignore_ascii_case(who),
            }
    }

    fn address(&self, page: i64) -> String {
        let address = address(self.step, &self.who, self.overdue);
        match (page > 1, address.contains('?')) {
            (false, _) => address,
            (true, true) => format!("{address}&page={page}"),
            (true, false) => format!("{address}?page={page}"),
        }
    }
}

/// Whether a person of this name is asked for that step.
fn may_take(who: &Who, name: &str) -> bool {
    match who {
        Who::Named(named) => named.as_str().eq_ignore_ascii_case(name),
        Who::AnyoneBut(but) => !but.iter().any(|but| same_account(but.as_str(), name)),
        Who::Anyone => true,
    }
}

fn address(step: Option<Step>, who: &str, overdue: bool) -> String {
    let mut pairs = Vec::new();
    if let Some(step) = step {
        pairs.push(format!("step={}", encoded(step.word())));
    }
    if !who.is_empty() {
        pairs.push(format!("who={}", encoded(who)));
    }
    if overdue {
        pairs.push("overdue=yes".to_owned());
    }
    if pairs.is_empty() { "/findings".to_owned() } else { format!("/findings?{}", pairs.join("&")) }
}

pub(super) fn page(viewer: &Viewer, board: &Board, asked: &StepFilter, number: i64) -> WaitsPage {
    let me = viewer.actor.name.as_str();
    let taken: Vec<&Waiting> = board.all.iter().filter(|one| asked.takes(one, me)).collect();
    let total = i64::try_from(taken.len()).unwrap_or(i64::MAX);
    let pager = Pager::new(number, PAGE, total, |page| asked.address(page));
    let from = usize::try_from((pager.page - 1) * PAGE).unwrap_or(0);
    let may_write = may(viewer.actor.role, Action::WriteFinding);
    let rows = taken
        .into_iter()
        .skip(from)
        .take(usize::try_from(PAGE).unwrap_or(50))
        .map(|one| row(one, may_write))
        .collect();
    let csv = asked.address(1).replacen("/findings", "", 1);
    let csv = csv.trim_start_matches('?');
    let query = if csv.is_empty() { "show=waits".to_owned() } else { format!("show=waits&{csv}") };
    WaitsPage {
        page: viewer.frame("Findings", Nav::Findings),
        views: views(if asked.is_all() { "" } else { "filtered" }),
        may_write,
        is_filtered: !asked.is_all(),
        lead: lead(board),
        burdens: board
            .burdens
            .iter()
            .map(|burden| {
                let who = burden.who.to_string();
                BurdenRow {
                    step: burden.step.word(),
                    count: burden.count,
                    overdue: burden.overdue,
                    address: address(Some(burden.step), &who, false),
                    overdue_address: address(Some(burden.step), &who, true),
                    who,
                }
            })
            .collect(),
        reopened: reopened::all(&board.reopened[..board.reopened.len().min(REOPENED)]),
        reopened_count: board.reopened.len(),
        filters: filters(board, asked),
        rows,
        status: status(board, asked, total),
        csv: tables::address_of("findings", &query),
        pager,
    }
}

/// The rows that the page lists, on all of its pages.
pub(super) fn file_rows(board: &Board, asked: &StepFilter, me: &str) -> Vec<Vec<String>> {
    board
        .all
        .iter()
        .filter(|one| asked.takes(one, me))
        .map(|one| {
            vec![
                one.wait.step.word().to_owned(),
                one.wait.who.to_string(),
                one.kind.word().to_owned(),
                one.code.clone(),
                one.words.clone(),
                one.wait.due.map_or_else(String::new, |day| day.to_string()),
                one.by.clone().unwrap_or_default(),
                if one.wait.overdue { "yes" } else { "no" }.to_owned(),
            ]
        })
        .collect()
}

fn lead(board: &Board) -> String {
    let steps =
        |count: i64| if count == 1 { "1 step".to_owned() } else { format!("{count} steps") };
    match (board.count(), board.overdue()) {
        (0, _) => {
            "No action is open. Failures without a finding and findings that are not closed stand here."
                .into()
        }
        (all, 0) => format!("{} wait, none of them overdue.", steps(all)),
        (all, late) if all == late => format!("{} wait, and all are overdue.", steps(all)),
        (all, late) => format!("{} wait; {late} of them are overdue.", steps(all)),
    }
}

fn status(board: &Board, asked: &StepFilter, listed: i64) -> String {
    let whole = asked.is_all() && board.count() > listed;
    let listed_words = if listed == 1 { "1 step".to_owned() } else { format!("{listed} steps") };
    if whole {
        format!("{listed_words} listed of {}, the oldest failures first", board.count())
    } else {
        format!("{listed_words}, what is overdue first")
    }
}

fn filters(board: &Board, asked: &StepFilter) -> Vec<FieldView> {
    let steps = std::iter::once(Choice::new("", "any"))
        .chain(Step::ALL.iter().map(|step| Choice::new(step.word(), step.word())))
        .collect();
    let mut people: Vec<String> =
        board.burdens.iter().map(|burden| burden.who.to_string()).collect();
    people.push(asked.who.clone());
    people.retain(|who| !who.is_empty() && who != ME);
    people.sort_unstable();
    people.dedup();
    let people = [Choice::new("", "anybody"), Choice::new(ME, "me: what I may do")]
        .into_iter()
        .chain(people.into_iter().map(|who| Choice::new(who.clone(), who)))
        .collect();
    let when = vec![Choice::new("", "whenever it is due"), Choice::new("yes", "overdue alone")];
    let overdue = if asked.overdue { "yes" } else { "" };
    vec![
        FieldView::new("step", "Next step")
            .choosing(steps)
            .holding(asked.step.map_or("", Step::word))
            .wide(Width::Medium),
        FieldView::new("who", "Waits for")
            .choosing(people)
            .holding(asked.who.clone())
            .wide(Width::Medium),
        FieldView::new("overdue", "Due").choosing(when).holding(overdue).wide(Width::Medium),
    ]
}

fn row(one: &Waiting, may_write: bool) -> StepRow {
    let first: String = first_sentence(&one.words).chars().take(240).collect();
    let words = match &one.at {
        Some(finding) => format!("{first} ({finding})"),
        None => first,
    };
    let address = addresses::of(one.kind, &one.code);
    let act = match (one.kind, &one.at) {
        (Kind::Attempt, _) if may_write => {
            Some(format!("/attempts/{}/finding", encoded(&one.code)))
        }
        (Kind::Remedy, Some(finding)) => Some(addresses::within("findings", finding)),
        (Kind::Finding, _) => Some(addresses::within("findings", &one.code)),
        _ => None,
    };
    StepRow {
        code: one.code.clone(),
        address,
        words: linked(&words),
        step: one.wait.step,
        who: one.wait.who.to_string(),
        due: one.wait.due,
        by: one.by.clone(),
        overdue: one.wait.overdue,
        act,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::cells::Line;

    #[test]
    fn a_step_is_mine_where_i_am_named_or_not_shut_out() {
        let named = Who::Named(Line::known("Tools engineer"));
        assert!(may_take(&named, "tools engineer") && !may_take(&named, "lead"));
        let another = Who::AnyoneBut(vec![Line::known("tools"), Line::known("engineer")]);
        assert!(may_take(&another, "lead") && !may_take(&another, "engineer"));
        assert!(may_take(&Who::Anyone, "lead") && may_take(&Who::AnyoneBut(Vec::new()), "lead"));
    }

    #[test]
    fn what_is_asked_stands_in_the_address() {
        assert_eq!(address(None, "", false), "/findings");
        assert_eq!(address(Some(Step::Explain), "", false), TO_EXPLAIN);
        assert_eq!(
            address(Some(Step::Verify), "anyone but tools engineer", true),
            "/findings?step=verify%20a%20remedy&who=anyone%20but%20tools%20engineer&overdue=yes"
        );
    }
}
