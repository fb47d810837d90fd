//! The failure report of a finding, element by element: what is recorded, and what it lacks.

use crate::addresses;
use crate::values::{ValueView, values_of_cell};
use app::failures::{Beside, WholeFinding};
use domain::cells::Cells;
use domain::failure_report::{ELEMENTS, Element};
use domain::kinds::Kind;
use domain::records::{Column, Record};

/// One element of the report.
pub(crate) struct ReportLine {
    pub asked: &'static str,
    pub told: Vec<ReportCell>,
}

/// What one column of one record says.
pub(crate) struct ReportCell {
    pub code: String,
    pub address: String,
    pub label: &'static str,
    pub text: String,
    pub values: Vec<ValueView>,
}

/// A record of the loop, as the table of elements names its columns.
struct Source {
    kind: Kind,
    columns: &'static [Column],
    cells: Cells,
}

/// The elements that the records of the loop keep. What is read beside another record (task,
/// excursion, files) is a link away from these.
pub(crate) fn lines(around: &WholeFinding) -> Vec<ReportLine> {
    let sources = loop_sources(around);
    let is_here = |element: &&Element| {
        element.kept.iter().any(|(kind, _)| sources.iter().any(|source| source.kind == *kind))
    };
    ELEMENTS.iter().filter(is_here).map(|element| line(element, &sources)).collect()
}

/// Every element, with what stands beside the loop: paper leads nowhere.
pub(crate) fn all_lines(around: &WholeFinding, beside: &Beside) -> Vec<ReportLine> {
    let mut sources = loop_sources(around);
    sources.extend(beside.tasks.iter().map(source));
    sources.extend(beside.excursions.iter().map(source));
    sources.extend(beside.items.iter().map(source));
    sources.extend(beside.files.iter().map(source));
    ELEMENTS.iter().map(|element| line(element, &sources)).collect()
}

fn loop_sources(around: &WholeFinding) -> Vec<Source> {
    let mut sources = vec![source(&around.finding)];
    sources.extend(around.attempts.iter().map(source));
    sources.extend(around.remedies.iter().map(source));
    sources
}

fn source<R: Record>(record: &R) -> Source {
    Source { kind: R::KIND, columns: R::COLUMNS, cells: record.cells() }
}

fn line(element: &Element, sources: &[Source]) -> ReportLine {
    let mut told = Vec::new();
    for (kind, name) in element.kept.iter().filter(|(_, name)| *name != "code") {
        for source in sources.iter().filter(|source| source.kind == *kind) {
            let text = source.cells.get(name);
            let column = source.columns.iter().find(|column| column.name == *name);
            if let (false, Some(column)) = (text.is_empty(), column) {
                let code = source.cells.get("code");
                told.push(ReportCell {
                    address: addresses::of(*kind, code),
                    code: code.to_owned(),
                    label: column.label,
                    values: if *name == "measured" { values_of_cell(text) } else { Vec::new() },
                    text: text.to_owned(),
                });
            }
        }
    }
    ReportLine { asked: element.asked, told }
}
