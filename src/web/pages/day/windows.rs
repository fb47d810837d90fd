//! Windows and inhibits on the board, each with what to ask for where it will be missed.

use app::read::Connection;

use super::sections::task;
use crate::addresses::{self, encoded};
use crate::visitor::Viewer;
use app::day::{Answers, Ask, AskOf, Day, WindowRow, whole};
use app::read::{StoreError, inhibits};
use compute::fit::per_cent;
use domain::cells::Cell as _;
use domain::inhibits::Arrangement;
use domain::kinds::Kind;
use domain::roles::{action_for, may};
use domain::words::GateVerdict;

pub(super) struct WindowView {
    pub code: String,
    pub what: String,
    pub until: String,
    pub verdict: GateVerdict,
    pub missed: String,
    /// When the task ends, if it is not missed.
    pub ends: String,
    pub asks: Vec<AskView>,
}

/// What to ask for, and where it is entered once it is agreed; empty where that leads nowhere.
pub(super) struct AskView {
    pub words: String,
    pub address: String,
}

pub(super) async fn of(
    db: &mut Connection,
    viewer: &Viewer,
    there: &Day,
    answers: &Answers,
) -> Result<Vec<WindowView>, StoreError> {
    let asks = answers.windows.iter().any(|row| row.ask.is_some());
    let arranged = if asks {
        inhibits::arranged_on(db, std::slice::from_ref(there.code())).await?
    } else {
        Vec::new()
    };
    Ok(answers.windows.iter().map(|row| view(viewer, there, answers, &arranged, row)).collect())
}

fn view(
    viewer: &Viewer,
    there: &Day,
    answers: &Answers,
    arranged: &[Arrangement],
    row: &WindowRow,
) -> WindowView {
    let left = answers.rest.iter().flat_map(|rest| &rest.tasks).find(|left| left.task == row.task);
    let verdict = match row.missed {
        missed if missed <= 1.0 - answers.bound => GateVerdict::Met,
        missed if missed <= 0.5 => GateVerdict::Tight,
        _ => GateVerdict::NotMet,
    };
    // What is missed goes on past the limit in the draws: such an end is none to go by.
    let met = left.filter(|_| verdict == GateVerdict::Met).map(|left| (left.end_p50, left.end_p80));
    let ends = row.ask.as_ref().map(|ask| (ask.end_p50, ask.end_p80)).or(met);
    WindowView {
        code: task(there, row.task).to_owned(),
        what: row.what.clone(),
        until: row.until.map_or_else(|| "–".to_owned(), |until| whole(until).to_string()),
        verdict,
        missed: per_cent(row.missed),
        ends: ends.map_or_else(String::new, |(p50, p80)| {
            format!("ends {}, P80 {}", whole(p50), whole(p80))
        }),
        asks: row.ask.as_ref().map_or_else(Vec::new, |ask| asked(viewer, there, arranged, ask)),
    }
}

/// One for each inhibit, or one for the arm. A practice changes nothing of the record.
fn asked(viewer: &Viewer, there: &Day, arranged: &[Arrangement], ask: &Ask) -> Vec<AskView> {
    let leads = |kind: Kind| there.run.is_none() && may(viewer.actor.role, action_for(kind));
    let words = format!("Ask for {}", ask.until);
    match &ask.of {
        AskOf::Arm { closes } => {
            let mut windows = there.excursion.arm_windows.clone();
            for window in windows.0.iter_mut().filter(|window| window.until == *closes) {
                window.until = ask.until;
            }
            let edit = format!(
                "{}/edit?arm_windows={}#f-arm_windows",
                addresses::of(Kind::Excursion, there.code().as_str()),
                encoded(&windows.show())
            );
            let address = if leads(Kind::Excursion) { edit } else { String::new() };
            vec![AskView { words, address }]
        }
        AskOf::Inhibits(all) => {
            let one = |inhibit: &domain::codes::InhibitCode| {
                let own = arranged.iter().find(|one| one.inhibit == *inhibit);
                let edit = own.filter(|_| leads(Kind::Arrangement)).map(|own| {
                    format!(
                        "{}/edit?until_pet={}#f-until_pet",
                        addresses::of(Kind::Arrangement, own.code.0.as_str()),
                        encoded(&ask.until.to_string())
                    )
                });
                let of = if all.len() > 1 { format!(" ({inhibit})") } else { String::new() };
                AskView { words: format!("{words}{of}"), address: edit.unwrap_or_default() }
            };
            all.iter().map(one).collect()
        }
    }
}
