//! The rules on trying again, on one family: hinge pins `U-1` to `U-4` at positions `P-1` to `P-4`,
//! each with its task `T-1` to `T-4`.

mod approaches;
mod guard;
mod held;
mod moved;
mod sisters;
mod tells;

use super::*;
use crate::cells::Cell;
use crate::history::Phase;
use crate::units::{Minutes, Share};
use crate::words::Outcome;

fn unit(number: u8) -> UnitKey {
    UnitKey {
        task: format!("T-{number}").as_str().into(),
        unit: Some(format!("U-{number}").as_str().into()),
        position: Some(format!("P-{number}").as_str().into()),
    }
}

fn side(text: &str) -> Side {
    Side::read(text).unwrap()
}

fn approach(technique: &str, from: &str) -> Approach {
    Approach { technique: Some(technique.into()), side: Some(side(from)) }
}

fn account(outcome: Outcome, scope: Option<Scope>) -> Account {
    let (added, planned, minutes, cut_off) = (None, None, None, None);
    Account { outcome, added, planned, scope, time_ran_out: false, minutes, cut_off }
}

/// An attempt on the `n`-th flight, `n` being the number in its code.
fn tried(number: i64, on: UnitKey, by: &Approach, account: Account) -> Try {
    Try {
        attempt: format!("A-{number}").as_str().into(),
        unit: on,
        approach: by.clone(),
        revision: None,
        when: When::on(number, Some(1), Phase::During, number),
        account,
    }
}

/// A failure on a unit.
pub(super) fn on(unit: &UnitKey) -> Try {
    failed(1, unit.clone(), &Approach::default())
}

fn failed(number: i64, on: UnitKey, by: &Approach) -> Try {
    tried(number, on, by, account(Outcome::NotCompleted, Some(Scope::Approach)))
}

fn done(number: i64, on: UnitKey, by: &Approach) -> Try {
    tried(number, on, by, account(Outcome::Done, None))
}

fn attempts(codes: &[&str]) -> Vec<AttemptCode> {
    codes.iter().map(|code| AttemptCode::from(*code)).collect()
}

fn answer(names: &[&str], reach: Reach, state: RemedyState) -> Answer {
    Answer {
        remedy: "R-1".into(),
        attempts: attempts(names),
        reach,
        state,
        when: When::undated(0),
        technique: None,
        revision: None,
    }
}

fn record<'a>(tries: &'a [Try], answers: &'a [Answer], exempt: &'a [Exempt]) -> Record<'a> {
    Record { tries, answers, exempt }
}

/// Judges by the tries alone.
fn plainly(on: &UnitKey, by: &Approach, tries: &[Try]) -> Judgement {
    judge(on, by, record(tries, &[], &[]))
}

fn blocked(codes: &[&str]) -> Judgement {
    Judgement::Blocked { attempts: attempts(codes) }
}

fn questioned(codes: &[&str]) -> Judgement {
    Judgement::Questioned { attempts: attempts(codes) }
}

fn cannot_tell(codes: &[&str]) -> Judgement {
    Judgement::CannotTell { attempts: attempts(codes) }
}
