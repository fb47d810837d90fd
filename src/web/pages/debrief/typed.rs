//! The form of the debrief taken apart: each row, each tool, the head, what was left outside.

use std::collections::HashMap;

use crate::extract::Fields;
use app::attempts::form::settle_approach;
use app::debrief::TypedRow;
use domain::cells::Cells;

/// What a row sends that is none of its cells.
const OF_FORM: [&str; 5] = ["key", "version", "left_shown", "approach", "kept_photo"];

/// A record of the form beside its rows.
#[derive(Debug, Clone)]
pub(super) struct TypedRecord {
    pub prefix: String,
    /// The version that the form was made on; a new record has none.
    pub version: Option<i64>,
    pub cells: Cells,
}

/// All that one form of the debrief carries. Fields of one thing share the start of their name.
#[derive(Debug, Clone, Default)]
pub(super) struct Typed {
    pub head: Option<TypedRecord>,
    /// With the start of their names.
    pub rows: Vec<(String, TypedRow)>,
    pub tools: Vec<TypedRecord>,
    pub outside: Option<TypedRecord>,
}

impl Typed {
    pub fn read(fields: &Fields) -> Self {
        let mut typed = Self::default();
        for (prefix, cells) in by_prefix(fields) {
            let version = cells.get("version").parse().ok();
            let record = TypedRecord { prefix: prefix.to_owned(), version, cells };
            match prefix.as_bytes() {
                b"head" => typed.head = Some(record),
                b"outside" => typed.outside = Some(record),
                [b't', rest @ ..] if is_number(rest) => typed.tools.push(record),
                [b'r', rest @ ..] if is_number(rest) => {
                    typed.rows.push((record.prefix, row(record.cells)));
                }
                _ => {}
            }
        }
        typed
    }

    /// Counts every tool that nobody counted yet as brought in, as many as went out.
    pub fn all_came_in(&mut self) {
        let counts = ["brought_in", "left_outside", "lost", "not_counted"];
        for tool in &mut self.tools {
            let is_counted = counts.iter().any(|name| !tool.cells.get(name).trim().is_empty());
            if !is_counted {
                let out = tool.cells.get("taken_out").to_owned();
                tool.cells.set("brought_in", out);
            }
        }
    }
}

fn is_number(text: &[u8]) -> bool {
    !text.is_empty() && text.iter().all(u8::is_ascii_digit)
}

fn row(mut cells: Cells) -> TypedRow {
    let take = |cells: &mut Cells, name: &str| {
        let text = cells.get(name).to_owned();
        cells.set(name, "");
        text
    };
    let key = take(&mut cells, "key");
    let seen = Some(take(&mut cells, "version")).filter(|seen| !seen.is_empty());
    let left_shown = take(&mut cells, "left_shown");
    settle_approach(&mut cells);
    let cells = cells
        .iter()
        .filter(|(name, _)| !OF_FORM.contains(name))
        .map(|(name, text)| (name.to_owned(), text.to_owned()))
        .collect();
    TypedRow { key, seen, cells, left_shown, quiet: false }
}

/// The fields of each start of a name, without that start, in the order in which the starts come.
fn by_prefix(fields: &Fields) -> Vec<(&str, Cells)> {
    let mut groups: Vec<(&str, Cells)> = Vec::new();
    let mut places: HashMap<&str, usize> = HashMap::new();
    for (name, text) in &fields.0 {
        let Some((prefix, name)) = name.split_once('-') else { continue };
        let place = *places.entry(prefix).or_insert_with(|| {
            groups.push((prefix, Cells::default()));
            groups.len() - 1
        });
        groups[place].1.set(name, text.replace("\r\n", "\n"));
    }
    groups
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_came_in_counts_what_nobody_counted_and_leaves_the_rest() {
        let fields = Fields::read(
            b"t0-taken_out=3&t1-taken_out=2&t1-lost=1&t1-brought_in=1&t2-taken_out=2&t2-not_counted=cut+short",
        );
        let mut typed = Typed::read(&fields);
        typed.all_came_in();
        let counts: Vec<_> = typed.tools.iter().map(|tool| tool.cells.get("brought_in")).collect();
        assert_eq!(counts, ["3", "1", ""]);
    }

    #[test]
    fn the_answer_to_the_approach_is_its_technique_and_side() {
        let fields = Fields::read(
            b"r0-key=S-1&r0-approach=K-7%2Cstarboard&r0-technique=K-9&r0-side=nadir\
              &r1-key=S-2&r1-approach=other&r1-technique=K-9&r1-side=nadir",
        );
        let typed = Typed::read(&fields);
        let approaches: Vec<_> = typed
            .rows
            .iter()
            .map(|(_, row)| (row.cells.get("technique"), row.cells.get("side")))
            .collect();
        assert_eq!(approaches, [("K-7", "starboard"), ("K-9", "nadir")]);
        assert!(!typed.rows[0].1.cells.has("approach"));
    }

    #[test]
    fn each_row_finds_its_own_fields_again() {
        let fields = Fields::read(
            b"csrf=x&head-version=3&head-actual=6%3A10&r0-key=S-1&r0-version=ab&r0-outcome=done\
              &r12-key=S-2&t0-version=2&t0-lost=1&outside-what=tether&rest=1&rx-key=no",
        );
        let typed = Typed::read(&fields);
        assert_eq!(typed.head.unwrap().version, Some(3));
        let keys: Vec<_> = typed.rows.iter().map(|(p, r)| (p.as_str(), r.key.as_str())).collect();
        assert_eq!(keys, [("r0", "S-1"), ("r12", "S-2")]);
        assert_eq!(typed.rows[0].1.seen.as_deref(), Some("ab"));
        assert_eq!(typed.rows[1].1.seen, None);
        assert_eq!(typed.rows[0].1.cells.get("outcome"), "done");
        assert!(!typed.rows[0].1.cells.has("version"));
        assert_eq!(typed.tools[0].cells.get("lost"), "1");
        assert_eq!(typed.outside.unwrap().cells.get("what"), "tether");
    }
}
