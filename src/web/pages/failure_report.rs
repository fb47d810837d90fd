//! The failure report of a finding, element by element: what is recorded, and what it lacks.

use crate::addresses;
use crate::values::{ValueView, figure, values_of_cell};
use app::failures::{Beside, WholeFinding};
use domain::cells::Cells;
use domain::failure_report::{ELEMENTS, Element};
use domain::findings::Cause;
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
    /// Without its unit, which stands behind the figure.
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
    ELEMENTS.iter().filter(is_here).map(|element| line(element, &sources, &around.causes)).collect()
}

/// Every element, with what stands beside the loop: paper leads nowhere.
pub(crate) fn all_lines(around: &WholeFinding, beside: &Beside) -> Vec<ReportLine> {
    let mut sources = loop_sources(around);
    sources.extend(beside.tasks.iter().map(source));
    sources.extend(beside.excursions.iter().map(source));
    sources.extend(beside.items.iter().map(source));
    sources.extend(beside.files.iter().map(source));
    ELEMENTS.iter().map(|element| line(element, &sources, &around.causes)).collect()
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

fn line(element: &Element, sources: &[Source], causes: &[Cause]) -> ReportLine {
    let mut told = Vec::new();
    for (kind, name) in element.kept.iter().filter(|(_, name)| *name != "code") {
        for source in sources.iter().filter(|source| source.kind == *kind) {
            let text = source.cells.get(name);
            let column = source.columns.iter().find(|column| column.name == *name);
            if let (false, Some(column)) = (text.is_empty(), column) {
                let code = source.cells.get("code");
                let (label, unit) = apart(column.label);
                told.push(ReportCell {
                    address: addresses::of(*kind, code),
                    code: code.to_owned(),
                    label,
                    values: if *name == "measured" { values_of_cell(text) } else { Vec::new() },
                    text: match *name {
                        "cause" | "contributing" => caused(text, causes),
                        _ => with_unit(text, unit),
                    },
                });
            }
        }
    }
    ReportLine { asked: element.asked, told }
}

/// A label and the unit that it names: `Temperature there, °C`.
fn apart(label: &'static str) -> (&'static str, &'static str) {
    const UNITS: [&str; 5] = ["h:mm", "min", "°C", "h", "days"];
    match label.rsplit_once(", ") {
        Some((label, unit)) if UNITS.contains(&unit) => (label, unit),
        _ => (label, ""),
    }
}

/// `−52 °C`; hours and minutes say themselves what they are.
fn with_unit(text: &str, unit: &str) -> String {
    let is_figure = text.parse::<f64>().is_ok();
    let text = if is_figure { figure(text) } else { text.to_owned() };
    if is_figure && !unit.is_empty() && unit != "h:mm" { format!("{text} {unit}") } else { text }
}

/// Kinds of cause in words, each with its number behind.
fn caused(codes: &str, causes: &[Cause]) -> String {
    let named = codes.split(", ").map(|code| {
        let known = causes.iter().find(|cause| cause.code.0.as_str() == code);
        known.map_or_else(|| code.to_owned(), |cause| format!("{} ({code})", cause.words))
    });
    named.collect::<Vec<_>>().join("; ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_stands_behind_its_figure_and_minus_is_no_hyphen() {
        assert_eq!(apart("Temperature there, °C"), ("Temperature there", "°C"));
        assert_eq!(apart("What was tried, in order"), ("What was tried, in order", ""));
        assert_eq!(with_unit("-52", "°C"), "−52 °C");
        assert_eq!(with_unit("1:22", "h:mm"), "1:22");
        assert_eq!(with_unit("2031-04-03", ""), "2031-04-03");
    }
}
