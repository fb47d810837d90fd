//! One operation under way: its transaction, who acts, and what has to be derived again before it
//! is committed.

use async_recursion::async_recursion as boxed;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::time::Instant;

use sqlx::{Sqlite, SqliteConnection, Transaction};

use crate::numbers::{Range, Ranges};
use crate::trace::Trace;
use crate::{Actor, App, Failure};
use domain::codes::{FamilyCode, TaskCode};
use domain::kinds::Kind;
use domain::time::{Day, Moment};
use store::staging::{Put, Staging};
use store::{Contents, StoreError, changes, forms, imports};

/// A form's key, made with the form and sent back with it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FormKey(pub String);

/// An operation under way. Dropped without `finish`, it changes nothing.
pub struct Work {
    /// Dropped before the transaction, so that nobody else can come to name them in between.
    pub(crate) placed: Placed,
    tx: Transaction<'static, Sqlite>,
    pub actor: Actor,
    pub(crate) contents: Contents,
    pub now: Moment,
    /// The day that “today” means in this operation.
    pub today: Day,
    /// Whether a named flight, excursion, worksite, family or position that is missing is made
    /// on the way, as a file may ask for it.
    pub creates_missing: bool,
    /// Whether an administrator imports history, with judgements that were made elsewhere.
    pub is_history: bool,
    /// The line of the file that is being taken in.
    pub row: Option<u64>,
    /// Whether planned excursions move along with the launch of their flight, where that was asked.
    pub move_excursions: Option<bool>,
    /// What was made on the way, by kind.
    pub created: BTreeMap<Kind, u64>,
    /// Attempts whose unlikely minutes were confirmed on the way.
    pub(crate) confirmed: u64,
    /// Attempts that named no slot and fill the one that was set there.
    pub(crate) slots_found: u64,
    key: Option<FormKey>,
    why: Option<String>,
    /// What else happened, in sentences for the person who acts.
    notes: Vec<String>,
    pub(crate) touched_tasks: BTreeSet<TaskCode>,
    /// Families whose tasks were touched since they were derived last.
    pub(crate) touched_families: BTreeSet<FamilyCode>,
    /// The numbers that are kept for this work, where it is done on a copy.
    pub(crate) own_numbers: Option<Arc<Range>>,
    numbers: Arc<Ranges>,
    changed: bool,
    pub(crate) trace: Trace,
}

/// Contents that an operation gave their names; gone again where it does not come to its commit.
pub(crate) struct Placed {
    contents: Contents,
    hashes: Vec<String>,
}

impl Placed {
    const fn of(contents: Contents) -> Self {
        Self { contents, hashes: Vec::new() }
    }

    pub fn note(&mut self, hash: &str) {
        self.hashes.push(hash.to_owned());
    }

    fn stay(&mut self) {
        self.hashes.clear();
    }
}

impl Drop for Placed {
    fn drop(&mut self) {
        for hash in &self.hashes {
            if let Err(cause) = self.contents.take_back(hash) {
                tracing::warn!(%cause, hash, "a content that no row names stays");
            }
        }
    }
}

impl Work {
    /// From here on [`Self::back`] takes back what follows, until [`Self::keep`].
    pub async fn mark(&mut self) -> Result<(), Failure> {
        Ok(imports::mark(self.db()).await?)
    }

    pub async fn keep(&mut self) -> Result<(), Failure> {
        Ok(imports::keep(self.db()).await?)
    }

    pub async fn back(&mut self) -> Result<(), Failure> {
        Ok(imports::back(self.db()).await?)
    }

    /// Begins an operation. A form that was taken before is refused with its answer.
    #[boxed]
    pub async fn begin(app: &App, actor: &Actor, key: Option<&FormKey>) -> Result<Self, Failure> {
        let asked = Instant::now();
        let mut tx = app.db.begin().await?;
        let trace = Trace::new(actor, asked);
        if let Some(FormKey(key)) = key
            && let Some(answer) = forms::answer(&mut tx, key, &actor.name).await?
        {
            return Err(Failure::AlreadyTaken(answer));
        }
        let now = app.clock.now();
        Ok(Self {
            placed: Placed::of(app.db.contents().clone()),
            tx,
            actor: actor.clone(),
            contents: app.db.contents().clone(),
            now,
            today: now.day(),
            creates_missing: false,
            is_history: false,
            row: None,
            move_excursions: None,
            created: BTreeMap::new(),
            confirmed: 0,
            slots_found: 0,
            key: key.cloned(),
            why: None,
            notes: Vec::new(),
            touched_tasks: BTreeSet::new(),
            touched_families: BTreeSet::new(),
            own_numbers: None,
            numbers: Arc::clone(&app.numbers),
            changed: false,
            trace,
        })
    }

    pub fn db(&mut self) -> &mut SqliteConnection {
        &mut self.tx
    }

    /// The reason that the next log entries carry.
    pub fn because(&mut self, why: impl Into<String>) {
        let why = why.into();
        self.why = (!why.trim().is_empty()).then_some(why);
    }

    pub fn why(&self) -> Option<&str> {
        self.why.as_deref()
    }

    /// Notes what else happened, for the page that says what was done.
    pub fn note(&mut self, sentence: String) {
        self.notes.push(sentence);
    }

    /// Whether anything was noted so far.
    pub fn has_notes(&self) -> bool {
        !self.notes.is_empty()
    }

    /// What was noted so far, as one text that begins with these words.
    pub fn with_notes(&self, words: impl Into<String>) -> String {
        let words = words.into();
        std::iter::once(words.as_str())
            .chain(self.notes.iter().map(String::as_str))
            .collect::<Vec<_>>()
            .join(" ")
    }

    /// The number of the next new code of a kind, where this is the highest that is stored.
    pub(crate) fn number_after(&self, kind: Kind, highest: i64) -> i64 {
        let own = self.own_numbers.as_ref().and_then(|range| range.next(kind));
        own.unwrap_or_else(|| self.numbers.taken_up_to(kind, highest) + 1)
    }

    /// Marks a task whose standing has to be derived again.
    pub fn touch(&mut self, task: &TaskCode) {
        self.touched_tasks.insert(task.clone());
    }

    /// Writes one entry of the change log.
    pub async fn log(
        &mut self,
        kind: Kind,
        code: &str,
        action: &str,
        before: Option<String>,
        after: Option<String>,
    ) -> Result<(), Failure> {
        self.changed = true;
        self.trace.changed(kind, code);
        let entry = changes::Entry {
            at: self.now,
            who: &self.actor.name,
            kind,
            code,
            action,
            before,
            after,
            why: self.why.clone(),
        };
        changes::append(&mut self.tx, entry).await?;
        Ok(())
    }

    /// Derives what was touched so far, for a page that is drawn before the commit.
    pub async fn settle(&mut self) -> Result<(), Failure> {
        crate::standing::derive(self).await
    }

    /// Derives what was touched and commits to the copy on which this was worked out. Nothing of it
    /// is saved yet.
    pub(crate) async fn finish_aside(mut self) -> Result<(), Failure> {
        crate::standing::derive(&mut self).await?;
        self.tx.commit().await.map_err(StoreError::from)?;
        Ok(())
    }

    /// Takes what was worked out on the copy that stands beside the database, unless others changed
    /// what it rests on; then, and where it is not to go on, nothing may be committed.
    pub(crate) async fn take(
        &mut self,
        staging: &Staging,
        goes_on: impl FnMut(i64, i64) -> bool + Send,
    ) -> Result<Put, Failure> {
        let put = staging.put_in(&mut self.tx, goes_on).await?;
        if let Put::In { since, entries } = &put {
            self.changed = true;
            self.trace.took(*entries);
            // What others saved since may stand otherwise beside what came in, and the other way
            // round; how its tasks stand is derived once more, from both.
            for (kind, code) in changes::records_since(self.db(), *since).await? {
                if !crate::kinds::touch(self, kind, &code).await? {
                    return Ok(Put::Changed(format!("{kind} {code}")));
                }
            }
        }
        Ok(put)
    }

    /// Derives what was touched, remembers the form and commits. `answer` is the page on which
    /// the browser should go on; it is given back.
    pub async fn finish(mut self, answer: impl Into<String>) -> Result<String, Failure> {
        let tasks = self.touched_tasks.len();
        crate::standing::derive(&mut self).await?;
        let answer = answer.into();
        if let Some(FormKey(key)) = &self.key {
            forms::take(&mut self.tx, key, &self.actor.name, &answer, self.now).await?;
        }
        if self.changed {
            forms::move_data_version(&mut self.tx).await?;
        }
        self.placed.stay();
        let whole = Instant::now();
        self.tx.commit().await.map_err(|cause| Failure::Unsure(cause.into()))?;
        self.trace.saved(tasks, whole.elapsed());
        Ok(answer)
    }
}
