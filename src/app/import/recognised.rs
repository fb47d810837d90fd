//! What the rows of a table are, told by its heads.

use async_recursion::async_recursion as boxed;

use super::first_rows;
use super::reading::{File, Given, Stop};
use crate::{Failure, kinds};
use domain::kinds::Kind;
use exchange::heads;

/// So far ahead of the next kind is the best where nobody has to be asked.
const AHEAD: f64 = 0.6;
/// What a column costs that must hold something and that no head fills.
const MISSING: f64 = 0.75;

/// Heads of a list of people; people are not imported.
const OF_PEOPLE: &[&str] = &["name", "role", "email", "e-mail", "phone", "telephone", "password"];

/// What the rows could be, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Guess {
    pub kind: Kind,
    /// The heads that are known for this kind.
    pub known: Vec<String>,
    /// Heads that fill nothing in it.
    pub surplus: Vec<String>,
    /// The labels of columns that must hold something and that no head fills.
    pub missing: Vec<&'static str>,
    score: f64,
}

/// What the heads of a table say.
#[derive(Debug, Clone, PartialEq)]
pub struct Recognised {
    /// The likely kinds, the best first; each knows a head at least.
    pub guesses: Vec<Guess>,
    /// Nobody has to be asked.
    pub is_sure: bool,
    /// The heads are those of a list of people.
    pub is_people: bool,
}

/// Looks at the heads of a table.
#[boxed]
pub async fn recognise(table: &Given<'_>) -> Result<Recognised, Failure> {
    let file = File::look_over(table, &Stop::default()).await?;
    Ok(of_heads(&file.survey.heads))
}

/// The heads and the first rows of a table, as they stand in it.
#[derive(Debug, Clone)]
pub struct Peek {
    pub heads: Vec<String>,
    pub rows: Vec<Vec<String>>,
}

/// Reads the heads and the first rows of a table, whatever its rows are.
#[boxed]
pub async fn peek(table: &Given<'_>) -> Result<Peek, Failure> {
    let file = File::look_over(table, &Stop::default()).await?;
    Ok(Peek { rows: first_rows(&file).await?, heads: file.survey.heads })
}

/// A head that few kinds know tells more than one that many know, so each weighs by how many know
/// it. The best kind is certain where most heads are known in it, nothing that must be filled is
/// missing or most of the weight is its own, and no other kind comes near.
pub fn of_heads(heads: &[String]) -> Recognised {
    let mut guesses: Vec<Guess> =
        Kind::IMPORTED.iter().filter_map(|kind| guess(*kind, heads)).collect();
    let knows: Vec<f64> = heads
        .iter()
        .map(|head| {
            f64::from(
                u32::try_from(guesses.iter().filter(|one| one.known.contains(head)).count())
                    .unwrap_or(u32::MAX),
            )
        })
        .collect();
    for one in &mut guesses {
        let weights = heads.iter().zip(&knows).filter(|(head, _)| one.known.contains(head));
        let missing = one.missing.iter().map(|_| MISSING).sum::<f64>();
        one.score = weights.map(|(_, knows)| 1.0 / knows).sum::<f64>() - missing;
    }
    // Of two kinds that know as much, the one whose columns are all there is meant.
    guesses.sort_by(|a, b| {
        let size = |one: &Guess| kinds::columns(one.kind).len();
        b.score.total_cmp(&a.score).then(size(a).cmp(&size(b)))
    });
    let best = guesses.first();
    let next = guesses.get(1);
    let is_sure = best.is_some_and(|best| {
        let is_all = best.known.len() == kinds::columns(best.kind).len();
        let is_ahead = next.is_none_or(|next| {
            best.score - next.score >= AHEAD || (is_all && best.score >= next.score)
        });
        best.known.len() * 2 > heads.len() && best.known.len() > 1 && best.score > 0.0 && is_ahead
    });
    let of_people =
        heads.iter().filter(|head| OF_PEOPLE.contains(&head.trim().to_lowercase().as_str()));
    let is_people = of_people.count() >= 3 || (!is_sure && is_list_of_people(heads));
    Recognised { guesses, is_sure: is_sure && !is_people, is_people }
}

fn is_list_of_people(heads: &[String]) -> bool {
    let has = |word: &str| heads.iter().any(|head| head.trim().eq_ignore_ascii_case(word));
    has("name") && has("role")
}

fn guess(kind: Kind, heads: &[String]) -> Option<Guess> {
    let columns = kinds::columns(kind);
    let (mapping, _) = heads::guessed(heads, columns, &[]).ok()?;
    let known: Vec<String> =
        mapping.filled(heads).into_iter().map(|(head, _)| head.to_owned()).collect();
    if known.is_empty() {
        return None;
    }
    let label = |name: &&str| columns.iter().find(|column| column.name == *name);
    let missing = mapping.missing.iter().filter_map(label).map(|column| column.label).collect();
    Some(Guess { kind, known, surplus: mapping.unknown, missing, score: 0.0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heads(of: &[&str]) -> Vec<String> {
        of.iter().map(|&head| head.to_owned()).collect()
    }

    fn best(heads: &[String]) -> Option<Kind> {
        let told = of_heads(heads);
        told.guesses.first().filter(|_| told.is_sure).map(|one| one.kind)
    }

    #[test]
    fn the_columns_of_each_kind_are_told_for_that_kind() {
        for kind in Kind::IMPORTED {
            let names: Vec<&str> = kinds::columns(*kind).iter().map(|column| column.name).collect();
            assert_eq!(best(&heads(&names)), Some(*kind), "{names:?}");
            let labels: Vec<&str> =
                kinds::columns(*kind).iter().map(|column| column.label).collect();
            assert_eq!(best(&heads(&labels)), Some(*kind), "{labels:?}");
        }
    }

    #[test]
    fn heads_that_are_mostly_unknown_tell_nothing() {
        assert_eq!(best(&heads(&["when", "who", "remark"])), None);
        assert_eq!(best(&heads(&["code", "p", "q", "r"])), None);
        assert_eq!(best(&heads(&["code", "name"])), None, "several kinds have these");
        assert_eq!(best(&[]), None);
    }

    #[test]
    fn tables_of_other_teams_are_told_by_their_own_heads() {
        for (kind, table) in [
            (
                Kind::Task,
                "Job No,Title,Description,Location,Work site,Est. time,Priority,Due,Status,Category,Notes",
            ),
            (Kind::Task, "Item No,Item,Work Site,Duration (min),Crew,Prio,Deadline,Remarks"),
            (Kind::Attempt, "Job No,EVA,Crew,Start,End,Result,Reason,Notes,Date"),
            (Kind::Attempt, "Task ID,Flight,Excursion,Date,Duration (min),Result,Cause,Comments"),
            (Kind::Tool, "Part No,Description,Qty,Mass (kg),Stowage,Flight,Status"),
            (Kind::Flight, "Flight,Launch,Landing,Status,Remarks"),
            (Kind::Unit, "Serial No,Type,Location,Installed,Removed,Notes"),
        ] {
            let told = of_heads(&table.split(',').map(str::to_owned).collect::<Vec<_>>());
            let first = told.guesses.first().unwrap();
            assert!(told.is_sure && first.kind == kind, "{table}: {:?}", told.guesses);
        }
        let people = of_heads(&heads(&["Name", "Role", "Email", "Shift"]));
        assert!(people.is_people && !people.is_sure, "{people:?}");
    }

    #[test]
    fn where_two_kinds_are_as_likely_both_are_offered_and_nobody_is_certain() {
        let told = of_heads(&heads(&["Code", "Name"]));
        assert!(!told.is_sure && told.guesses.len() > 3, "{told:?}");
        let worse = told.guesses.last().unwrap();
        assert!(told.guesses[0].missing.len() <= worse.missing.len());
    }
}
