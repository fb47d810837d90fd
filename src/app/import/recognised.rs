//! What the rows of a table are, told by its heads.

use async_recursion::async_recursion as boxed;
use std::cmp::Reverse;

use super::reading::{File, Given, Stop};
use crate::{Failure, kinds};
use domain::kinds::Kind;
use exchange::heads;

/// The kind of record whose columns the heads of this table fill best; nothing where none does, or
/// two do as well.
#[boxed]
pub async fn recognise(table: &Given<'_>) -> Result<Option<Kind>, Failure> {
    let file = File::look_over(table, &Stop::default()).await?;
    Ok(best(&file.survey.heads))
}

/// Most of the heads have to be known. Of two kinds that know as many, the one whose columns are
/// all there is meant.
fn best(heads: &[String]) -> Option<Kind> {
    let fits = |kind: &Kind| {
        let columns = kinds::columns(*kind);
        Some((heads::filled(heads, columns)?, columns.len(), *kind))
    };
    let mut all: Vec<(usize, usize, Kind)> = Kind::IMPORTED.iter().filter_map(fits).collect();
    all.sort_by_key(|&(filled, columns, _)| (Reverse(filled), columns));
    let &(filled, columns, kind) = all.first()?;
    let is_alone = all.get(1).is_none_or(|&(next, next_columns, _)| {
        next < filled || filled == columns && next_columns > columns
    });
    (is_alone && filled * 2 > heads.len()).then_some(kind)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heads(of: &[&str]) -> Vec<String> {
        of.iter().map(|&head| head.to_owned()).collect()
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
}
