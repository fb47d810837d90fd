//! Which head of a table stands for which column of a record.

use std::collections::BTreeSet;

use crate::table::Row;
use domain::cells::Cells;
use domain::records::Column;
use domain::words::plain;

#[cfg(test)]
mod tests;

/// How the heads of one table stand for the columns of one record kind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mapping {
    /// For each head of the table: the column it fills.
    columns: Vec<Option<&'static str>>,
    /// Heads that fill no column; what stands under them is not taken.
    pub unknown: Vec<String>,
    /// Columns that must hold something and that no head fills.
    pub missing: Vec<&'static str>,
}

/// Why heads cannot be matched; each says what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum MappingError {
    #[error(
        "The heads “{first}” and “{second}” both stand for {column}. Say which one is meant, as in \
         “{first}={column}”."
    )]
    TwoHeads { first: String, second: String, column: &'static str },
    #[error("The table has no head “{theirs}”. Its heads are: {}.", heads.join(", "))]
    NoSuchHead { theirs: String, heads: Vec<String> },
    #[error("There is no column “{ours}”. The columns are: {}.", columns.join(", "))]
    NoSuchColumn { ours: String, columns: Vec<&'static str> },
    #[error("The head “{head}” is given two columns, {first} and {second}. Give it one.")]
    TwoColumns { head: String, first: &'static str, second: &'static str },
    #[error(
        "No head stands for any column. The heads are: {}; the columns are: {}. Match \
         them by hand, as in “{}={}”.", heads.join(", "), columns.join(", "),
        heads.first().map_or("", String::as_str), columns.first().unwrap_or(&"")
    )]
    NothingMatches { heads: Vec<String>, columns: Vec<&'static str> },
}

/// Matches heads to columns by name, label or other known head, whatever the case, blanks, `_`
/// and `-`. A pair given by hand (theirs, ours) wins over that; ours left empty leaves the head
/// out.
pub fn mapping(
    heads: &[String],
    columns: &[Column],
    by_hand: &[(String, String)],
) -> Result<Mapping, MappingError> {
    let chosen = chosen(heads, columns, by_hand)?;
    let mut found: Vec<Option<&'static str>> = Vec::with_capacity(heads.len());
    for (index, head) in heads.iter().enumerate() {
        let by_hand = chosen.iter().find(|(chosen, _)| *chosen == index);
        let column = match by_hand {
            Some((_, column)) => *column,
            // A column given by hand is not filled from a second head.
            None => matching(head, columns)
                .filter(|name| !chosen.iter().any(|(_, column)| *column == Some(*name))),
        };
        if let Some(name) = column
            && let Some(earlier) = found.iter().position(|earlier| *earlier == Some(name))
        {
            return Err(MappingError::TwoHeads {
                first: heads[earlier].clone(),
                second: head.clone(),
                column: name,
            });
        }
        found.push(column);
    }
    if found.iter().all(Option::is_none) {
        return Err(MappingError::NothingMatches {
            heads: heads.to_vec(),
            columns: names(columns),
        });
    }
    let unknown = heads
        .iter()
        .zip(&found)
        .filter(|(_, column)| column.is_none())
        .map(|(head, _)| head.clone())
        .collect();
    let missing = columns
        .iter()
        .filter(|column| column.required && !found.contains(&Some(column.name)))
        .map(|column| column.name)
        .collect();
    Ok(Mapping { columns: found, unknown, missing })
}

impl Mapping {
    /// The cells of one row by column name.
    pub fn cells(&self, row: &Row) -> Cells {
        self.columns
            .iter()
            .zip(&row.cells)
            .filter_map(|(column, text)| column.map(|name| (name.to_owned(), text.clone())))
            .collect()
    }

    /// The head under which a column stands in the table, to name a bad cell as its owner does.
    pub fn head<'h>(&self, column: &str, heads: &'h [String]) -> Option<&'h str> {
        let index = self.columns.iter().position(|name| *name == Some(column))?;
        heads.get(index).map(String::as_str)
    }
}

/// How many of these columns the heads fill; nothing where a column that must hold something stays
/// empty.
pub fn filled(heads: &[String], columns: &[Column]) -> Option<usize> {
    let found: BTreeSet<&str> = heads.iter().filter_map(|head| matching(head, columns)).collect();
    let mut required = columns.iter().filter(|column| column.required);
    required.all(|column| found.contains(column.name)).then_some(found.len())
}

/// Splits `THEIRS=OURS` at its last `=`, since heads may hold one and our names do not.
pub fn by_hand(text: &str) -> Result<(String, String), String> {
    let (theirs, ours) = text
        .rsplit_once('=')
        .ok_or_else(|| format!("“{text}” names no column; write it as \"THEIRS=OURS\"."))?;
    if theirs.trim().is_empty() {
        return Err(format!("“{text}” names no head; write it as \"THEIRS=OURS\"."));
    }
    Ok((theirs.trim().to_owned(), ours.trim().to_owned()))
}

fn chosen(
    heads: &[String],
    columns: &[Column],
    by_hand: &[(String, String)],
) -> Result<Vec<(usize, Option<&'static str>)>, MappingError> {
    let mut chosen: Vec<(usize, Option<&'static str>)> = Vec::new();
    for (theirs, ours) in by_hand {
        let index = heads
            .iter()
            .position(|head| head == theirs)
            .or_else(|| heads.iter().position(|head| plain(head) == plain(theirs)))
            .ok_or_else(|| MappingError::NoSuchHead {
                theirs: theirs.clone(),
                heads: heads.to_vec(),
            })?;
        let column = if ours.is_empty() {
            None
        } else {
            Some(matching(ours, columns).ok_or_else(|| MappingError::NoSuchColumn {
                ours: ours.clone(),
                columns: names(columns),
            })?)
        };
        let earlier = chosen.iter().find(|(earlier, _)| *earlier == index);
        if let Some((_, Some(first))) = earlier
            && let Some(second) = column
            && *first != second
        {
            return Err(MappingError::TwoColumns { head: heads[index].clone(), first, second });
        }
        if earlier.is_none() {
            chosen.push((index, column));
        }
    }
    Ok(chosen)
}

fn matching(head: &str, columns: &[Column]) -> Option<&'static str> {
    let head = plain(head);
    let by = |known: &dyn Fn(&Column) -> bool| columns.iter().find(|column| known(column));
    by(&|column| plain(column.name) == head)
        .or_else(|| by(&|column| plain(column.label) == head))
        .or_else(|| by(&|column| column.also.iter().any(|also| plain(also) == head)))
        .map(|column| column.name)
}

fn names(columns: &[Column]) -> Vec<&'static str> {
    columns.iter().map(|column| column.name).collect()
}
