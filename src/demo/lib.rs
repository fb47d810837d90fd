//! The demo scenario: the outpost Skerry and its flights, as tables that the service's own import
//! takes. Nothing here writes to the database; the tables obey the rules that pages obey.

pub mod pictures;
pub mod tables;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use domain::attempts::Attempt;
use domain::cells::{Cell, Input};
use domain::constraints::Constraint;
use domain::declines::Decline;
use domain::endings::{Closure, Deferral, Parking, Reopening};
use domain::excursions::{Excursion, ExcursionTool};
use domain::families::{Family, Unit};
use domain::findings::{Cause, Exemption, Finding, Remedy};
use domain::flights::Flight;
use domain::inhibits::{Arrangement, Inhibit};
use domain::kinds::Kind;
use domain::outside::OutsideItem;
use domain::records::{Column, Record};
use domain::revisions::Revision;
use domain::settings::{Settings, SuitRates};
use domain::slots::Slot;
use domain::tasks::{Link, Task};
use domain::techniques::{Qualification, Rehearsal, Technique};
use domain::time::{Day, Moment};
use domain::tools::Tool;
use domain::worksites::{Position, Route, Worksite};

/// The day on which the tables play, as year, month and day: shift them by the days between this
/// one and the day on which the scenario is laid out.
pub const NOMINAL_DAY: &str = "2030-11-21";

const MILLISECONDS_A_DAY: i64 = 86_400_000;

/// A table with every day and moment moved by whole days; all other cells stay as they are.
///
/// # Errors
/// Where the text is not a table, or a date in it cannot be read.
pub fn shifted(kind: Kind, text: &str, days: i64) -> Result<String, String> {
    let inputs: BTreeMap<&str, Input> =
        columns(kind).iter().map(|column| (column.name, column.input)).collect();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let head = reader.headers().map_err(|cause| cause.to_string())?.clone();
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(&head).map_err(|cause| cause.to_string())?;
    for row in reader.records() {
        let row = row.map_err(|cause| cause.to_string())?;
        let moved = row
            .iter()
            .zip(&head)
            .map(|(cell, name)| moved(cell, inputs.get(name), days))
            .collect::<Result<Vec<_>, _>>()?;
        writer.write_record(&moved).map_err(|cause| cause.to_string())?;
    }
    let bytes = writer.into_inner().map_err(|cause| cause.to_string())?;
    String::from_utf8(bytes).map_err(|cause| cause.to_string())
}

fn moved(cell: &str, input: Option<&Input>, days: i64) -> Result<String, String> {
    match input {
        Some(Input::Day) if !cell.is_empty() => Ok(Day::read(cell)?.plus(days).show()),
        Some(Input::Moment) if !cell.is_empty() => {
            let Moment(at) = Moment::read(cell)?;
            Ok(Moment(at.saturating_add(days.saturating_mul(MILLISECONDS_A_DAY))).show())
        }
        _ => Ok(cell.to_owned()),
    }
}

const fn columns(kind: Kind) -> &'static [Column] {
    match kind {
        Kind::Flight => Flight::COLUMNS,
        Kind::Worksite => Worksite::COLUMNS,
        Kind::Family => Family::COLUMNS,
        Kind::Position => Position::COLUMNS,
        Kind::Unit => Unit::COLUMNS,
        Kind::Technique => Technique::COLUMNS,
        Kind::Tool => Tool::COLUMNS,
        Kind::Excursion => Excursion::COLUMNS,
        Kind::Task => Task::COLUMNS,
        Kind::Link => Link::COLUMNS,
        Kind::Slot => Slot::COLUMNS,
        Kind::Attempt => Attempt::COLUMNS,
        Kind::Deferral => Deferral::COLUMNS,
        Kind::Closure => Closure::COLUMNS,
        Kind::Parking => Parking::COLUMNS,
        Kind::Reopening => Reopening::COLUMNS,
        Kind::Cause => Cause::COLUMNS,
        Kind::Finding => Finding::COLUMNS,
        Kind::Remedy => Remedy::COLUMNS,
        Kind::Exemption => Exemption::COLUMNS,
        Kind::Revision => Revision::COLUMNS,
        Kind::Decline => Decline::COLUMNS,
        Kind::Rehearsal => Rehearsal::COLUMNS,
        Kind::OutsideItem => OutsideItem::COLUMNS,
        Kind::Constraint => Constraint::COLUMNS,
        Kind::ExcursionTool => ExcursionTool::COLUMNS,
        Kind::Route => Route::COLUMNS,
        Kind::Inhibit => Inhibit::COLUMNS,
        Kind::Arrangement => Arrangement::COLUMNS,
        Kind::Qualification => Qualification::COLUMNS,
        Kind::Settings => Settings::COLUMNS,
        Kind::SuitRates => SuitRates::COLUMNS,
        // Pictures come with their bytes: `pictures` draws them.
        Kind::File | Kind::Person | Kind::View => &[],
    }
}
