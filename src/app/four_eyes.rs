//! Who touched a record, as the change log has it, and so who may review, verify or clear it: the
//! one door for pages, imports and revisions.

use async_recursion::async_recursion as boxed;
use std::collections::BTreeMap;

use sqlx::SqliteConnection;

use crate::Failure;
use crate::work::Work;
use domain::cells::{Cells, FieldError, Line};
use domain::four_eyes::{Entry, Judged, Judging, Touched, may_judge, out_of_order, same_account};
use domain::kinds::Kind;
use domain::words::Checked;
use store::changes::{self, Change};
use store::{attempts, revisions};

/// How a kind of record is judged by a second person; nothing for the kinds that are not.
pub const fn judging(kind: Kind) -> Option<Judging> {
    match kind {
        Kind::Finding | Kind::Exemption => Some(Judging::REVIEW),
        Kind::Remedy => Some(Judging::VERIFICATION),
        Kind::Constraint => Some(Judging::LIFTING),
        Kind::Revision => Some(Judging::CLEARANCE),
        _ => None,
    }
}

/// The kinds that a second person judges.
pub(crate) const JUDGED: [Kind; 5] =
    [Kind::Finding, Kind::Remedy, Kind::Exemption, Kind::Constraint, Kind::Revision];

/// Who touched some records of one kind, by their codes.
#[derive(Debug, Clone, Default)]
pub struct Touches(BTreeMap<String, Vec<Touched>>);

impl Touches {
    /// Reads them with a fixed number of queries. A remedy that a revision of a technique is rests
    /// on that revision: whoever made it touched the remedy.
    #[boxed]
    pub async fn of(
        db: &mut SqliteConnection,
        kind: Kind,
        codes: &[String],
    ) -> Result<Self, Failure> {
        let mut touches = Self::default();
        for (code, entries) in entries_of(db, kind, codes).await? {
            let of_code = touched(kind, &code, &entries);
            touches.0.insert(code, of_code);
        }
        if kind == Kind::Remedy {
            for (remedy, rests_on) in resting_on(db, codes).await? {
                touches.0.entry(remedy).or_default().extend(rests_on);
            }
        }
        Ok(touches)
    }

    pub fn on(&self, code: &str) -> &[Touched] {
        self.0.get(code).map_or(&[], Vec::as_slice)
    }

    /// The accounts that touched a record, each once.
    pub fn accounts(&self, code: &str) -> Vec<Line> {
        let mut accounts: Vec<Line> = Vec::new();
        for touched in self.on(code) {
            if !accounts.iter().any(|known| same_account(known.as_str(), &touched.who)) {
                accounts.push(Line::known(touched.who.clone()));
            }
        }
        accounts
    }

    /// Whether this account may judge the record; the refusal says what it did.
    pub fn let_judge<R: Judged>(&self, record: &R, account: &str) -> Result<(), String> {
        may_judge(&R::JUDGING, record.code(), account, self.on(record.code()), record.named())
    }
}

fn touched(kind: Kind, code: &str, entries: &[Entry]) -> Vec<Touched> {
    let Some(judging) = judging(kind) else { return Vec::new() };
    let touched = |entry: &Entry| {
        judging.touch(entry).map(|touch| Touched {
            code: code.to_owned(),
            who: entry.who.clone(),
            on: entry.on,
            touch,
        })
    };
    entries.iter().filter_map(touched).collect()
}

/// What the change log says of some records, the oldest entry first.
#[boxed]
pub(crate) async fn entries_of(
    db: &mut SqliteConnection,
    kind: Kind,
    codes: &[String],
) -> Result<BTreeMap<String, Vec<Entry>>, Failure> {
    let mut entries: BTreeMap<String, Vec<Entry>> = BTreeMap::new();
    for change in changes::of_records(db, kind, codes).await? {
        entries.entry(change.code.clone()).or_default().push(entry(&change));
    }
    Ok(entries)
}

/// Who touched the revisions on which some remedies rest.
#[boxed]
pub(crate) async fn resting_on(
    db: &mut SqliteConnection,
    remedies: &[String],
) -> Result<BTreeMap<String, Vec<Touched>>, Failure> {
    let pairs = revisions::of_remedies(db, remedies).await?;
    let codes: Vec<String> = pairs.iter().map(|(_, revision)| revision.to_string()).collect();
    let entries = entries_of(db, Kind::Revision, &codes).await?;
    let of = |code: &str| {
        entries.get(code).map_or_else(Vec::new, |entries| touched(Kind::Revision, code, entries))
    };
    Ok(pairs.iter().map(|(remedy, revision)| (remedy.to_string(), of(revision.as_str()))).collect())
}

fn entry(change: &Change) -> Entry {
    Entry {
        seq: change.seq,
        who: change.who.clone(),
        on: change.at.day(),
        is_new: change.action != "changed",
        before: cells(change.before.as_deref()),
        after: cells(change.after.as_deref()),
    }
}

fn cells(json: Option<&str>) -> Cells {
    let read = json.and_then(|json| serde_json::from_str::<BTreeMap<String, String>>(json).ok());
    read.unwrap_or_default().into_iter().collect()
}

/// Holds the judgement of a record that is about to be written against the rule: a new one needs a
/// second account (or an administrator's import of history), what it speaks of, and its order in
/// time; a change of what was judged takes it back.
pub(crate) async fn hold<R: Judged>(
    work: &mut Work,
    before: Option<&R>,
    record: &mut R,
) -> Result<(), Failure> {
    let judging = R::JUDGING;
    let was = before.and_then(R::judgement);
    let now = record.judgement();
    if now == was {
        record.set_checked(before.and_then(R::checked));
        if let (Some(before), Some(was)) = (before, &was)
            && judging.differs(&before.cells(), &record.cells())
        {
            record.take_back();
            work.note(format!(
                "The {} of {} by {} is undone, because what was {} has changed. Another \
                 person {} it again.",
                judging.noun,
                record.code(),
                was.by,
                judging.done,
                judging.does
            ));
        }
        return Ok(());
    }
    let Some(judgement) = now else {
        record.set_checked(None);
        return Ok(());
    };
    let checked = if work.is_history {
        may_be_history(before)?;
        Checked::Imported
    } else if work.creates_missing {
        let message = format!(
            "“{}” is imported only by an administrator, as history. Leave it empty; after the \
             import another person {} it here.",
            spoken(judging.by),
            judging.does
        );
        return Err(Failure::field(judging.by, message));
    } else {
        is_the_actor(work, &judging, judgement.by.as_str())?;
        let touches = Touches::of(work.db(), R::KIND, &[record.code().to_owned()]).await?;
        touches
            .let_judge(record, &work.actor.name)
            .map_err(|why| Failure::field(judging.by, why))?;
        Checked::Here
    };
    let mut wrong: Vec<FieldError> = record.lacks().into_iter().collect();
    if judgement.on.is_none() {
        let message = format!("Give the day on which it was {}.", judging.done);
        wrong.push(FieldError::new(judging.on, message));
    }
    let days = attempts::days(work.db(), record.attempts()).await?;
    wrong.extend(out_of_order(record, &days, work.today));
    if !wrong.is_empty() {
        return Err(Failure::Invalid(wrong));
    }
    record.set_checked(Some(checked));
    Ok(())
}

/// History comes as new records; what was written in this record is judged here.
fn may_be_history<R: Judged>(before: Option<&R>) -> Result<(), Failure> {
    let Some(before) = before else { return Ok(()) };
    let is_imported = before.checked() == Some(Checked::Imported);
    // The import of a technique lays its revision down before the table that tells of it.
    let is_bare = R::KIND == Kind::Revision && before.named().is_none();
    if is_imported || is_bare {
        return Ok(());
    }
    let (code, judging) = (before.code(), R::JUDGING);
    let message = format!(
        "{code} is in the record already. Leave “{}” empty; another person {} it here.",
        spoken(judging.by),
        judging.does
    );
    Err(Failure::field(judging.by, message))
}

fn is_the_actor(work: &Work, judging: &Judging, by: &str) -> Result<(), Failure> {
    if same_account(by, &work.actor.name) {
        return Ok(());
    }
    let message = format!(
        "{by} cannot be entered as the person who {} it: {by} signs in and does it.",
        judging.does
    );
    Err(Failure::field(judging.by, message))
}

/// `verified by`.
fn spoken(column: &str) -> String {
    column.replace('_', " ")
}
