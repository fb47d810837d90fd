//! From a kind, known at run time, to the operations on its records.

use crate::records::{
    Base, and_unknown_codes, difference, held_against_the_register, save, words_of,
};
use crate::work::Work;
use crate::{Failure, slots, touched};
use async_recursion::async_recursion as boxed;
use domain::attempts::Attempt;
use domain::cells::{Cells, FieldError};
use domain::constraints::Constraint;
use domain::declines::Decline;
use domain::endings::{Closure, Deferral, Parking, Reopening};
use domain::excursions::{Excursion, ExcursionTool};
use domain::families::{Family, Unit};
use domain::files::File;
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
use domain::tools::Tool;
use domain::worksites::{Position, Route, Worksite};
use sqlx::SqliteConnection;
use store::Kept;

/// Calls `$body` with `$record` standing for the type of that kind; `$other` for kinds that
/// people do not make as records.
macro_rules! for_kind {
    ($kind:expr, $record:ident => $body:expr, $other:expr) => {
        match $kind {
            Kind::Flight => {
                type $record = Flight;
                $body
            }
            Kind::Worksite => {
                type $record = Worksite;
                $body
            }
            Kind::Family => {
                type $record = Family;
                $body
            }
            Kind::Position => {
                type $record = Position;
                $body
            }
            Kind::Unit => {
                type $record = Unit;
                $body
            }
            Kind::Technique => {
                type $record = Technique;
                $body
            }
            Kind::Tool => {
                type $record = Tool;
                $body
            }
            Kind::Excursion => {
                type $record = Excursion;
                $body
            }
            Kind::Task => {
                type $record = Task;
                $body
            }
            Kind::Link => {
                type $record = Link;
                $body
            }
            Kind::Slot => {
                type $record = Slot;
                $body
            }
            Kind::Attempt => {
                type $record = Attempt;
                $body
            }
            Kind::Deferral => {
                type $record = Deferral;
                $body
            }
            Kind::Closure => {
                type $record = Closure;
                $body
            }
            Kind::Parking => {
                type $record = Parking;
                $body
            }
            Kind::Reopening => {
                type $record = Reopening;
                $body
            }
            Kind::Cause => {
                type $record = Cause;
                $body
            }
            Kind::Finding => {
                type $record = Finding;
                $body
            }
            Kind::Remedy => {
                type $record = Remedy;
                $body
            }
            Kind::Exemption => {
                type $record = Exemption;
                $body
            }
            Kind::Decline => {
                type $record = Decline;
                $body
            }
            Kind::Revision => {
                type $record = Revision;
                $body
            }
            Kind::Rehearsal => {
                type $record = Rehearsal;
                $body
            }
            Kind::OutsideItem => {
                type $record = OutsideItem;
                $body
            }
            Kind::Constraint => {
                type $record = Constraint;
                $body
            }
            Kind::ExcursionTool => {
                type $record = ExcursionTool;
                $body
            }
            Kind::Route => {
                type $record = Route;
                $body
            }
            Kind::Inhibit => {
                type $record = Inhibit;
                $body
            }
            Kind::Arrangement => {
                type $record = Arrangement;
                $body
            }
            Kind::Qualification => {
                type $record = Qualification;
                $body
            }
            Kind::File => {
                type $record = File;
                $body
            }
            Kind::Settings => {
                type $record = Settings;
                $body
            }
            Kind::SuitRates => {
                type $record = SuitRates;
                $body
            }
            Kind::Person | Kind::View => $other,
        }
    };
}

/// The columns of a kind; none for people and views.
pub fn columns(kind: Kind) -> &'static [Column] {
    for_kind!(kind, R => R::COLUMNS, &[])
}

/// A record's cells, by kind and code.
#[boxed]
pub async fn find(
    db: &mut SqliteConnection,
    kind: Kind,
    code: &str,
) -> Result<Option<Cells>, Failure> {
    for_kind!(kind, R => Ok(R::find(db, code).await?.map(|record| record.cells())), Ok(None))
}

/// Up to `most` records after `after`, by code.
#[boxed]
pub async fn after(
    db: &mut SqliteConnection,
    kind: Kind,
    after: &str,
    most: i64,
) -> Result<Vec<Cells>, Failure> {
    for_kind!(
        kind,
        R => Ok(R::after(db, after, most).await?.iter().map(Record::cells).collect()),
        Ok(Vec::new())
    )
}

/// Marks the tasks that a record concerns; false where there is no such record any more.
#[boxed]
pub(crate) async fn touch(work: &mut Work, kind: Kind, code: &str) -> Result<bool, Failure> {
    for_kind!(
        kind,
        R => match R::find(work.db(), code).await? {
            Some(record) => touched::by(work, &record).await.map(|()| true),
            None => Ok(false),
        },
        // People and views concern no task.
        Ok(true)
    )
}

/// Reads cells as a record of that kind, without saving them.
pub fn check(kind: Kind, cells: &Cells) -> Result<(), Vec<FieldError>> {
    for_kind!(kind, R => R::parse(cells).map(|_| ()), Ok(()))
}

/// A record that was laid down without its register, log and index.
pub(crate) struct InsertedRecord {
    pub code: String,
    pub title: String,
    pub words: String,
    pub said: Option<String>,
}

/// Writes the row of a new record and nothing beside it: for a made-up record, which writes the
/// rest for many at once.
#[boxed]
pub(crate) async fn lay(
    db: &mut SqliteConnection,
    kind: Kind,
    cells: &Cells,
) -> Result<InsertedRecord, Failure> {
    for_kind!(
        kind,
        R => {
            let record = R::parse(cells).map_err(Failure::Invalid)?;
            record.save(db).await?;
            let cells = record.cells();
            let (_, said) = difference(None, &cells);
            let (title, words) = words_of::<R>(&cells);
            Ok(InsertedRecord { code: record.code().to_owned(), title, words, said })
        },
        Err(Failure::NotFound(kind, cells.get("code").to_owned()))
    )
}

/// What came of saving.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SavedRecord {
    pub code: String,
    pub version: i64,
    pub changed: bool,
}

/// The columns that a person fills in for a new record although a table may leave them empty.
pub const fn asked_of_people(kind: Kind) -> &'static [&'static str] {
    match kind {
        Kind::Worksite => &["name"],
        _ => &[],
    }
}

/// Saves cells that a person typed. What operations of their own write (a review, a state) stays
/// as it is: those columns are taken from the record, not from the form.
#[boxed]
pub async fn save_typed(
    work: &mut Work,
    kind: Kind,
    mut cells: Cells,
    base: Base,
) -> Result<SavedRecord, Failure> {
    let before = match base {
        Base::New => None,
        Base::Version(_) | Base::Current => find(work.db(), kind, cells.get("code")).await?,
    };
    if base == Base::New {
        let empty = asked_of_people(kind).iter().filter(|name| cells.get(name).trim().is_empty());
        let words = "Fill this in; it cannot stay empty.";
        let wrong: Vec<FieldError> = empty.map(|name| FieldError::new(*name, words)).collect();
        if !wrong.is_empty() {
            return Err(Failure::Invalid(wrong));
        }
    }
    for column in columns(kind).iter().filter(|column| column.by_operation) {
        let kept = before.as_ref().map_or("", |before| before.get(column.name)).to_owned();
        cells.set(column.name, kept);
    }
    save_whole(work, kind, &cells, base).await
}

/// Saves cells with every column that they carry, as a file does.
#[boxed]
pub async fn save_whole(
    work: &mut Work,
    kind: Kind,
    cells: &Cells,
    base: Base,
) -> Result<SavedRecord, Failure> {
    if kind == Kind::Slot {
        return save_slot(work, cells, base).await;
    }
    for_kind!(
        kind,
        R => {
            let record = match R::parse(cells) {
                Ok(record) => record,
                Err(wrong) => {
                    // Whatever else is wrong is said with it.
                    let columns = held_against_the_register::<R>(work.creates_missing);
                    let all = and_unknown_codes(work.db(), &columns, cells, wrong);
                    return Err(Failure::Invalid(all.await?));
                }
            };
            let saved = save(work, record, base).await?;
            let code = saved.record.code().to_owned();
            Ok(SavedRecord { code, version: saved.version, changed: saved.changed })
        },
        Err(Failure::NotFound(kind, cells.get("code").to_owned()))
    )
}

/// Slots have operations of their own: a new one is taken in by its state, a change to a set one
/// is a setting anew.
async fn save_slot(work: &mut Work, cells: &Cells, base: Base) -> Result<SavedRecord, Failure> {
    let slot = Slot::parse(cells).map_err(Failure::Invalid)?;
    let mut is_changed = true;
    let saved = match base {
        Base::New => slots::take_in(work, slot, base).await?,
        Base::Version(version) => {
            slots::change(work, slot, version, &slots::Waiver::default()).await?
        }
        Base::Current => {
            let before = Slot::find(work.db(), slot.code()).await?;
            is_changed = before.as_ref() != Some(&slot);
            if is_changed {
                return Err(Failure::Refused(format!(
                    "{} exists already and differs; change it on its page, where its checks are made.",
                    slot.code()
                )));
            }
            slot
        }
    };
    let code = saved.code().to_owned();
    let row = store::register::find(work.db(), Kind::Slot, &code).await?;
    Ok(SavedRecord { code, version: row.map_or(1, |row| row.version), changed: is_changed })
}
