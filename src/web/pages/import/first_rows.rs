//! The first rows of a table under the columns that they would fill.

use app::import::Report;
use app::kinds;
use domain::kinds::Kind;

/// So many letters of a cell are shown.
const CELL: usize = 60;

/// The first rows of a table under the columns that they fill.
pub(super) struct FirstRows {
    /// What is filled, and the head that fills it; empty where it is left out.
    pub columns: Vec<(String, String)>,
    pub rows: Vec<Vec<String>>,
}

/// The first rows, those that fill a column in front.
pub(super) fn under_columns(kind: Kind, report: &Report) -> FirstRows {
    let label = |name: &str| kinds::columns(kind).iter().find(|column| column.name == name);
    let mut order: Vec<usize> = (0..report.heads.len()).collect();
    order.sort_by_key(|&at| report.heads[at].1.is_none());
    let columns = order
        .iter()
        .map(|&at| {
            let (head, column) = &report.heads[at];
            match column.and_then(label) {
                Some(column) => (column.label.to_owned(), head.clone()),
                None => (format!("{head}, left out"), String::new()),
            }
        })
        .collect();
    let cell = |row: &[String], at: usize| shortened(row.get(at).map_or("", String::as_str));
    let rows = &report.first_rows;
    let rows = rows.iter().map(|row| order.iter().map(|&at| cell(row, at)).collect()).collect();
    FirstRows { columns, rows }
}

/// The beginning of a long cell.
fn shortened(cell: &str) -> String {
    if cell.chars().count() <= CELL {
        return cell.to_owned();
    }
    cell.chars().take(CELL).chain(std::iter::once('…')).collect()
}
