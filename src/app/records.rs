//! Making and editing any record: one way for all kinds, with the rules of each kind in its own
//! file.

use async_recursion::async_recursion as boxed;
use std::future::Future;

use serde_json::{Map, Value};
use sqlx::SqliteConnection;

use crate::work::Work;
use crate::{Conflict, Failure};
use crate::{create_missing, four_eyes, touched};
use domain::cells::{Cells, FieldError, Input};
use domain::kinds::Kind;
use domain::records::{Column, Record};
use domain::roles::{self, Action};
use domain::{codes, new_codes};
use store::{Kept, register, standing};

/// On what an edit was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Base {
    /// A new record; a code that is taken is refused.
    New,
    /// The version that the person saw.
    Version(i64),
    /// The record as this operation has just read it.
    Current,
}

/// A record as it was saved.
#[derive(Debug, Clone)]
pub struct Saved<R> {
    pub record: R,
    pub version: i64,
    /// False where the save found everything as it was.
    pub changed: bool,
}

/// The rules of one kind of record, beside what its columns already say.
pub trait Ruled: Kept {
    /// Checks and completes a record before it is written: references, defaults, rules.
    fn prepare(
        _work: &mut Work,
        _before: Option<&Self>,
        _record: &mut Self,
    ) -> impl Future<Output = Result<(), Failure>> + Send {
        async { Ok(()) }
    }

    /// Marks the tasks that the record concerns beside those that its columns name, or whose
    /// attempts they name. Called for a record as it was before a change and as it is after it, so
    /// that both are marked (`app::touched`).
    fn reach(_work: &mut Work, _record: &Self) -> impl Future<Output = Result<(), Failure>> + Send {
        async { Ok(()) }
    }

    /// What must follow in the same transaction: what hangs on the record.
    fn follow(
        _work: &mut Work,
        _before: Option<&Self>,
        _record: &Self,
    ) -> impl Future<Output = Result<(), Failure>> + Send {
        async { Ok(()) }
    }
}

/// Saves a record that a person made or edited: role, version, rules, log.
pub async fn save<R: Ruled>(work: &mut Work, record: R, base: Base) -> Result<Saved<R>, Failure> {
    let action = if work.is_history && four_eyes::judging(R::KIND).is_some() {
        Action::ImportHistory
    } else {
        roles::action_for(R::KIND)
    };
    if !roles::may(work.actor.role, action) {
        work.trace.concerns(R::KIND, record.code());
        let refused = Failure::Forbidden(roles::refusal(work.actor.role, action));
        work.trace.refused(&refused);
        return Err(refused);
    }
    write(work, record, base).await
}

/// Saves a record on behalf of an operation that has asked for the role itself.
pub(crate) async fn write<R: Ruled>(
    work: &mut Work,
    record: R,
    base: Base,
) -> Result<Saved<R>, Failure> {
    work.trace.concerns(R::KIND, record.code());
    let written = put(work, record, base).await;
    if let Err(failure) = &written {
        work.trace.refused(failure);
    }
    written
}

async fn put<R: Ruled>(work: &mut Work, mut record: R, base: Base) -> Result<Saved<R>, Failure> {
    let before = match base {
        Base::New => None,
        Base::Version(_) | Base::Current => Some(current::<R>(work, record.code()).await?),
    };
    if let Base::Version(seen) = base
        && let Some(before) = &before
    {
        hold_against(work, before, &record, seen).await?;
    }
    let mut wrong = match R::prepare(work, before.as_ref(), &mut record).await {
        Ok(()) => Vec::new(),
        Err(Failure::Invalid(wrong)) => wrong,
        Err(other) => return Err(other),
    };
    if work.creates_missing && wrong.is_empty() {
        create_missing::missing(work, &record).await?;
    }
    let columns = held_against_the_register::<R>(work.creates_missing);
    wrong = and_unknown_codes(work.db(), &columns, &record.cells(), wrong).await?;
    if !wrong.is_empty() {
        return Err(Failure::Invalid(wrong));
    }
    if base == Base::New {
        if record.code().is_empty() {
            let code = next_code(work, R::KIND, R::KIND.prefix()).await?;
            record.set_code(code);
        } else if let Some(why) = code_refused(work.db(), R::KIND, record.code(), None).await? {
            return Err(Failure::field("code", why));
        }
    }
    if before.as_ref() == Some(&record) {
        let version = version_of(work, R::KIND, record.code()).await?;
        return Ok(Saved { record, version, changed: false });
    }
    if let Some(before) = &before {
        touched::by(work, before).await?;
    }
    record.save(work.db()).await.map_err(refusal)?;
    let (who, now) = (work.actor.name.clone(), work.now);
    let version = register::enter(work.db(), R::KIND, record.code(), &who, now).await?;
    let (old, new) = difference(before.as_ref().map(Record::cells).as_ref(), &record.cells());
    let action = if before.is_some() { "changed" } else { "made" };
    work.log(R::KIND, record.code(), action, old, new).await?;
    index_words(work, &record).await?;
    touched::by(work, &record).await?;
    R::follow(work, before.as_ref(), &record).await?;
    Ok(Saved { record, version, changed: true })
}

/// Why a record cannot have this code; `now` is the one it has, where it is not new.
#[boxed]
pub async fn code_refused(
    db: &mut SqliteConnection,
    kind: Kind,
    code: &str,
    now: Option<&str>,
) -> Result<Option<String>, Failure> {
    let code = match codes::read(code) {
        Ok(code) => code,
        Err(why) => return Ok(Some(why)),
    };
    if now == Some(code.as_str()) {
        return Ok(None);
    }
    if let Some(why) = new_codes::refusal(&code) {
        return Ok(Some(why));
    }
    if register::find(db, kind, &code).await?.is_some() {
        return Ok(Some(format!("{code} is taken. Choose another code.")));
    }
    let like = register::alike(db, kind, &code, now).await?;
    Ok(like.map(|there| new_codes::too_like(&code, &there)))
}

/// Takes a record back that should never have been made: a result typed into the wrong row. The log
/// keeps what it said.
pub(crate) async fn remove<R: Ruled>(work: &mut Work, code: &str) -> Result<(), Failure> {
    let record = current::<R>(work, code).await?;
    touched::by(work, &record).await?;
    register::remove(work.db(), R::KIND, code).await.map_err(|cause| match refusal(cause) {
        Failure::Refused(_) => Failure::Refused(format!(
            "Another record names {code}; remove it there before it is undone here."
        )),
        other => other,
    })?;
    let (_, said) = difference(None, &record.cells());
    work.log(R::KIND, code, "taken back", said, None).await
}

/// Puts every word of a record into the index of everything.
pub(crate) async fn index_words<R: Record>(work: &mut Work, record: &R) -> Result<(), Failure> {
    let (title, words) = words_of::<R>(&record.cells());
    standing::put_record_words(work.db(), R::KIND, record.code(), (&title, &words)).await?;
    Ok(())
}

/// The title that the cells of a record hold, and every other word.
pub(crate) fn words_of<R: Record>(cells: &Cells) -> (String, String) {
    let is_title = |name: &str| ["title", "name", "what"].contains(&name);
    let joined = |titles: bool| {
        let texts: Vec<&str> = R::COLUMNS
            .iter()
            .filter(|column| matches!(column.input, Input::Line | Input::Prose))
            .filter(|column| column.name != "code" && is_title(column.name) == titles)
            .map(|column| cells.get(column.name))
            .filter(|text| !text.is_empty() && !is_hash(text))
            .collect();
        texts.join("\n")
    };
    (joined(true), joined(false))
}

/// The 64 figures by which a file is kept: nobody looks for them among words.
fn is_hash(text: &str) -> bool {
    text.len() == 64 && text.bytes().all(|byte| byte.is_ascii_hexdigit())
}

/// The record now, or the failure that says that there is none.
pub async fn current<R: Ruled>(work: &mut Work, code: &str) -> Result<R, Failure> {
    R::find(work.db(), code).await?.ok_or_else(|| Failure::NotFound(R::KIND, code.to_owned()))
}

async fn version_of(work: &mut Work, kind: Kind, code: &str) -> Result<i64, Failure> {
    Ok(register::find(work.db(), kind, code).await?.map_or(0, |row| row.version))
}

/// Refuses an edit that was made on an older version, with both versions.
async fn hold_against<R: Ruled>(
    work: &mut Work,
    before: &R,
    record: &R,
    seen: i64,
) -> Result<(), Failure> {
    let Some(row) = register::find(work.db(), R::KIND, record.code()).await? else {
        return Ok(());
    };
    if row.version == seen || before == record {
        return Ok(());
    }
    let since = usize::try_from(row.version - seen).unwrap_or(0);
    let was = was_before(work, R::KIND, record.code(), before.cells(), since).await?;
    Err(Failure::Conflict(Box::new(Conflict {
        kind: R::KIND,
        code: record.code().to_owned(),
        version: row.version,
        changed_by: row.changed_by,
        was,
        theirs: before.cells(),
        yours: record.cells(),
    })))
}

/// The cells of a record before its last so many changes.
async fn was_before(
    work: &mut Work,
    kind: Kind,
    code: &str,
    mut now: Cells,
    changes: usize,
) -> Result<Cells, Failure> {
    let entries = four_eyes::entries_of(work.db(), kind, &[code.to_owned()]).await?;
    let entries = entries.get(code).map_or(&[][..], Vec::as_slice);
    for entry in entries.iter().rev().take(changes).filter(|entry| !entry.is_new) {
        for (field, before) in entry.before.iter() {
            now.set(field, before);
        }
        for (field, _) in entry.after.iter().filter(|(field, _)| !entry.before.has(field)) {
            now.set(field, "");
        }
    }
    Ok(now)
}

/// The next free code of a kind: its prefix and a number of at least the usual width.
#[boxed]
pub(crate) async fn next_code(
    work: &mut Work,
    kind: Kind,
    prefix: &str,
) -> Result<String, Failure> {
    let highest = register::highest_number(work.db(), kind, prefix).await?;
    let number = work.number_after(kind, highest);
    let width = match kind {
        Kind::Task | Kind::Attempt | Kind::Deferral | Kind::Slot => 4,
        Kind::OutsideItem => 2,
        _ => 3,
    };
    Ok(format!("{prefix}{number:0width$}"))
}

/// The cells that differ, as two JSON objects; empty cells are left out of a new record.
pub(crate) fn difference(
    before: Option<&Cells>,
    after: &Cells,
) -> (Option<String>, Option<String>) {
    let (mut old, mut new) = (Map::new(), Map::new());
    for (name, text) in after.iter() {
        let was = before.map_or("", |cells| cells.get(name));
        if was != text {
            if before.is_some() {
                old.insert(name.to_owned(), Value::from(was));
            }
            new.insert(name.to_owned(), Value::from(text));
        }
    }
    (before.is_some().then(|| Value::Object(old).to_string()), Some(Value::Object(new).to_string()))
}

/// A constraint that the person can mend becomes a refusal that says how.
pub(crate) fn refusal(cause: store::StoreError) -> Failure {
    use store::StoreError;
    let StoreError::Database(sqlx::Error::Database(error)) = &cause else {
        return Failure::Internal(cause);
    };
    if error.is_foreign_key_violation() {
        return Failure::Refused(
            "A code in this record names something that does not exist; check the codes."
                .to_owned(),
        );
    }
    if error.is_unique_violation() {
        return Failure::Refused(
            "The same entry exists already; change that one instead.".to_owned(),
        );
    }
    if error.is_check_violation() {
        return Failure::Refused(
            "Two values in this record contradict each other (an end before its start, or numbers \
             out of order); check them."
                .to_owned(),
        );
    }
    Failure::Internal(cause)
}

/// Every code that the cells name and the register lacks, field by field, beside what is wrong with them
/// already. Cells that cannot be read are told by what is wrong alone.
#[boxed]
pub(crate) async fn and_unknown_codes(
    db: &mut SqliteConnection,
    columns: &[Column],
    cells: &Cells,
    mut wrong: Vec<FieldError>,
) -> Result<Vec<FieldError>, Failure> {
    for column in columns {
        let Some(kind) = column.input.names() else { continue };
        if wrong.iter().any(|known| known.field == column.name) {
            continue;
        }
        let typed = cells.get(column.name).split([',', ';']).map(str::trim);
        for code in typed.filter(|code| !code.is_empty()) {
            let Ok(code) = codes::read(code) else { continue };
            if register::find(db, kind, &code).await?.is_none() {
                wrong.push(match register::named(db, kind, &code).await? {
                    Some(meant) => named_so(column.name, kind, &code, &meant),
                    None => not_there(column.name, kind, &code),
                });
            }
        }
    }
    Ok(wrong)
}

/// The columns whose codes have to be there: a table may name what a good row makes, and, among
/// several, what only a later table brings.
pub(crate) fn held_against_the_register<R: Record>(from_table: bool) -> Vec<Column> {
    let later = |column: &Column| {
        let is_made = matches!(column.input, Input::Code(kind) if create_missing::is_made(kind));
        let names = column.input.names();
        is_made || names.is_some_and(|kind| comes_later(R::KIND, kind, column.input))
    };
    R::COLUMNS.iter().filter(|column| !(from_table && later(column))).copied().collect()
}

/// What is wrong with a field that names a record that does not exist.
pub(crate) fn not_there(field: &str, kind: Kind, code: &str) -> FieldError {
    let missing = format!("There is no {kind} {code}; choose one that exists, or add it first.");
    FieldError::new(field, missing)
}

/// What is wrong with a field that has the name of a record where its code is wanted.
fn named_so(field: &str, kind: Kind, name: &str, code: &str) -> FieldError {
    let words = format!("There is no {kind} {name}; {code} is named {name}. Enter {code}.");
    FieldError::new(field, words)
}

/// Whether a list of codes names a kind whose table is taken in after this one's.
fn comes_later(kind: Kind, named: Kind, input: Input) -> bool {
    let place = |kind: Kind| Kind::IMPORTED.iter().position(|other| *other == kind);
    matches!(input, Input::Several(_)) && place(named) > place(kind)
}
