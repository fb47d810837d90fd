//! Which head of a table stands for which column of a record.

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

/// A head that finds its column taken by a closer one, or a column that must hold something empty,
/// goes here instead: (head, column).
const INSTEAD: &[(&str, &str)] = &[
    ("description", "title"),
    ("description", "name"),
    ("item", "name"),
    ("location", "position"),
    ("site", "position"),
];

/// Units in which a column reads numbers anyway, as heads write them behind a name.
const UNITS: &[&str] = &[" min", " mins", " minutes", " h mm", " hh mm", " kg", " l", " utc"];

/// Matches heads to columns by name, label or other known head, whatever the case, blanks and
/// marks between words. A pair given by hand (theirs, ours) wins over that; ours left empty leaves
/// the head out. Two heads for one column are an error.
pub fn mapping(
    heads: &[String],
    columns: &[Column],
    by_hand: &[(String, String)],
) -> Result<Mapping, MappingError> {
    let (mapping, mut clashes) = guessed(heads, columns, by_hand)?;
    if !clashes.is_empty() {
        return Err(clashes.swap_remove(0));
    }
    if mapping.columns.iter().all(Option::is_none) {
        return Err(MappingError::NothingMatches {
            heads: heads.to_vec(),
            columns: names(columns),
        });
    }
    Ok(mapping)
}

/// The same for a person who sees what each head fills and can choose otherwise: of two heads for
/// one column the closer fills it, the other is left out and told.
pub fn guessed(
    heads: &[String],
    columns: &[Column],
    by_hand: &[(String, String)],
) -> Result<(Mapping, Vec<MappingError>), MappingError> {
    let chosen = chosen(heads, columns, by_hand)?;
    let mut found: Vec<Option<(&'static str, usize)>> = Vec::with_capacity(heads.len());
    let mut clashes = Vec::new();
    for (index, head) in heads.iter().enumerate() {
        let by_hand = chosen.iter().find(|(chosen, _)| *chosen == index);
        let mut filled = match by_hand {
            Some((_, column)) => column.map(|name| (name, 0)),
            // A column given by hand is not filled from a second head.
            None => ranked(head, columns)
                .filter(|(name, _)| !chosen.iter().any(|(_, column)| *column == Some(*name))),
        };
        let rival = filled.and_then(|(name, _)| {
            found.iter().position(|other| other.is_some_and(|(other, _)| other == name))
        });
        if let (Some((name, rank)), Some(earlier)) = (filled, rival) {
            let is_weaker = found[earlier].is_none_or(|(_, other)| rank >= other);
            let loser = if is_weaker { index } else { earlier };
            let free = |other: &&'static str| {
                !chosen.iter().any(|(_, column)| *column == Some(*other))
                    && !found.iter().flatten().any(|(taken, _)| taken == other)
            };
            let elsewhere = instead(&heads[loser], columns).into_iter().find(free);
            if elsewhere.is_none() || by_hand.is_some() {
                clashes.push(MappingError::TwoHeads {
                    first: heads[earlier].clone(),
                    second: head.clone(),
                    column: name,
                });
            }
            let moved = elsewhere.map(|other| (other, usize::MAX));
            if is_weaker {
                filled = moved;
            } else {
                found[earlier] = moved;
            }
        }
        found.push(filled);
    }
    let mut found: Vec<_> = found.into_iter().map(|one| one.map(|(name, _)| name)).collect();
    fill_required(heads, columns, &chosen, &mut found);
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
    Ok((Mapping { columns: found, unknown, missing }, clashes))
}

/// Fills a column that must hold something from a head that can stand for it too.
fn fill_required(
    heads: &[String],
    columns: &[Column],
    chosen: &[(usize, Option<&'static str>)],
    found: &mut [Option<&'static str>],
) {
    for column in columns.iter().filter(|column| column.required) {
        if found.contains(&Some(column.name)) {
            continue;
        }
        let at = heads.iter().enumerate().position(|(index, head)| {
            !chosen.iter().any(|(by_hand, _)| *by_hand == index)
                && instead(head, columns).contains(&column.name)
        });
        if let Some(at) = at {
            found[at] = Some(column.name);
        }
    }
}

fn instead(head: &str, columns: &[Column]) -> Vec<&'static str> {
    let head = spelled(head);
    INSTEAD
        .iter()
        .filter(|(known, _)| *known == head)
        .filter_map(|(_, name)| columns.iter().find(|column| column.name == *name))
        .map(|column| column.name)
        .collect()
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

impl Mapping {
    /// The heads that fill a column, each with the column.
    pub fn filled<'h>(&self, heads: &'h [String]) -> Vec<(&'h str, &'static str)> {
        let pairs = heads.iter().zip(&self.columns);
        pairs.filter_map(|(head, column)| column.map(|name| (head.as_str(), name))).collect()
    }
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
    ranked(head, columns).map(|(name, _)| name)
}

/// The column of a head and how close it is: its name, its label, then the other heads in their
/// order.
fn ranked(head: &str, columns: &[Column]) -> Option<(&'static str, usize)> {
    let head = spelled(head);
    let without_unit = UNITS.iter().find_map(|unit| head.strip_suffix(unit));
    let mut best: Option<(&'static str, usize)> = None;
    for (loss, head) in std::iter::once(head.as_str()).chain(without_unit).enumerate() {
        for column in columns {
            let known = [column.name, column.label].into_iter().chain(column.also.iter().copied());
            let rank = known.map(spelled).position(|known| known == head);
            if let Some(rank) = rank.map(|rank| 2 * rank + loss)
                && best.is_none_or(|(_, other)| rank < other)
            {
                best = Some((column.name, rank));
            }
        }
    }
    best
}

/// A head as it is compared: small letters, one blank between words, no marks but `#` and `%`.
fn spelled(head: &str) -> String {
    head.to_lowercase()
        .split(|letter: char| !(letter.is_alphanumeric() || "#%°".contains(letter)))
        .filter(|word| !word.is_empty())
        .collect::<Vec<_>>()
        .join(" ")
}

fn names(columns: &[Column]) -> Vec<&'static str> {
    columns.iter().map(|column| column.name).collect()
}
