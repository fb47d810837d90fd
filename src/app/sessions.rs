//! Signing in and out, and whose session a token stands for.

use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use crate::app::limiter::Limiter;
use crate::app::passwords::{self, Hashing};
use crate::app::tokens::Token;
use crate::app::{App, Failure};
use crate::domain::people::Person;
use crate::domain::time::Moment;
use crate::store::sessions::{HeldForm, Session};
use crate::store::{people, sessions};

/// Sessions that one person has at most; the one begun first goes.
const MOST_SESSIONS: i64 = 10;
/// A session notes that it was used no more often than this, in milliseconds: a note is a write.
const NOTED_EVERY: i64 = 60_000;
/// Ended sessions, held forms and used links are of no use after so long, in milliseconds.
const FORGOTTEN_AFTER: i64 = 7 * 24 * 60 * 60_000;
/// Forms held at once; a flood drives out the oldest and no more.
const MOST_HELD: i64 = 500;
/// The longest agent line that a session keeps.
const LONGEST_AGENT: usize = 200;

/// What all who try to sign in share: the counts of failures and the place for hashing.
#[derive(Debug, Default)]
pub struct Gate {
    limiter: Mutex<Limiter>,
    pub(crate) hashing: Hashing,
}

impl Gate {
    fn with<T>(&self, act: impl FnOnce(&mut Limiter) -> T) -> T {
        // A panic in between leaves counts that are still counts.
        act(&mut self.limiter.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

/// From where somebody asks.
#[derive(Debug, Clone)]
pub struct Caller {
    pub address: IpAddr,
    pub agent: String,
}

/// What became of a try to sign in.
#[derive(Debug)]
pub enum SignIn {
    /// The token of the new session, shown to the browser once.
    Done(Token),
    /// The name or the password is wrong; nobody learns which.
    Wrong,
    /// Too many tries; so many seconds must pass.
    Wait(i64),
}

/// Signs a person in. The session of `old`, if there is one, ends: a token never outlives a
/// sign-in.
pub async fn begin(
    app: &App,
    name: &str,
    password: &str,
    caller: &Caller,
    old: Option<&Token>,
) -> Result<SignIn, Failure> {
    let waits = || app.gate.with(|limiter| limiter.wait(name, caller.address, app.clock.now()));
    if let Some(seconds) = waits() {
        tracing::warn!(name, address = %caller.address, seconds, "sign-in delayed");
        return Ok(SignIn::Wait(seconds));
    }
    let (person, hash) = {
        let mut db = app.db.reader().await?;
        (people::find(&mut db, name).await?, people::hash(&mut db, name).await?)
    };
    let fits = app.gate.hashing.fits(password, hash.as_deref()).await?;
    // Tries that came in together are counted here, however many were waiting for their turn.
    if let Some(seconds) = waits() {
        return Ok(SignIn::Wait(seconds));
    }
    let Some(person) = person.filter(|person| fits && person.active) else {
        app.gate.with(|limiter| limiter.failed(name, caller.address, app.clock.now()));
        tracing::warn!(name, address = %caller.address, "sign-in refused");
        return Ok(SignIn::Wrong);
    };
    app.gate.with(|limiter| limiter.succeeded(name, caller.address));
    if hash.as_deref().is_some_and(passwords::is_outdated) {
        let fresh = app.gate.hashing.hash(password).await?;
        let mut tx = app.db.begin().await?;
        people::set_hash(&mut tx, &person.name, &fresh).await?;
        tx.commit().await?;
    }
    open(app, &person.name, caller, old).await.map(SignIn::Done)
}

/// Opens a session for a person whose right to it is proven.
pub(crate) async fn open(
    app: &App,
    person: &str,
    caller: &Caller,
    old: Option<&Token>,
) -> Result<Token, Failure> {
    let token = Token::fresh()?;
    let now = app.clock.now();
    let session = Session {
        token_hash: token.hash(),
        person: person.to_owned(),
        csrf: Token::fresh()?.show(),
        begun_at: now,
        seen_at: now,
        address: caller.address.to_string(),
        agent: caller.agent.chars().take(LONGEST_AGENT).collect(),
    };
    let mut tx = app.db.begin().await?;
    if let Some(old) = old {
        sessions::remove(&mut tx, &old.hash()).await?;
    }
    sessions::forget(&mut tx, Moment(now.0 - FORGOTTEN_AFTER)).await?;
    sessions::add(&mut tx, &session).await?;
    sessions::keep_newest(&mut tx, person, MOST_SESSIONS).await?;
    tx.commit().await?;
    tracing::info!(name = person, address = %caller.address, "sign-in");
    Ok(token)
}

/// What a token stands for.
#[derive(Debug, Clone)]
pub enum Standing {
    Open(Session, Person),
    /// The session ran out or its person was switched off; whose it was.
    Ended(String),
    /// There is no such session.
    Unknown,
}

/// Whose session it is, as of now: a role that changed or a person switched off counts at once.
pub async fn look_up(app: &App, token: &Token) -> Result<Standing, Failure> {
    let found = sessions::find(&mut *app.db.reader().await?, &token.hash()).await?;
    let Some((session, person)) = found else {
        return Ok(Standing::Unknown);
    };
    let now = app.clock.now();
    let idle = millis(app.config.session_idle);
    let longest = millis(app.config.session_longest);
    if !person.active || now.0 - session.seen_at.0 > idle || now.0 - session.begun_at.0 > longest {
        return Ok(Standing::Ended(person.name));
    }
    if now.0 - session.seen_at.0 >= NOTED_EVERY.min(idle / 4) {
        let mut tx = app.db.begin().await?;
        sessions::see(&mut tx, &session.token_hash, now).await?;
        tx.commit().await?;
    }
    Ok(Standing::Open(session, person))
}

/// Ends a session.
pub async fn end(app: &App, token_hash: &[u8]) -> Result<(), Failure> {
    let mut tx = app.db.begin().await?;
    sessions::remove(&mut tx, token_hash).await?;
    tx.commit().await?;
    Ok(())
}

/// Ends one session of that person, by the hash of its token in hexadecimal; false where the
/// person has no such session.
pub async fn end_own(app: &App, person: &str, token_hash: &str) -> Result<bool, Failure> {
    let mut tx = app.db.begin().await?;
    let own = sessions::list(&mut tx, person).await?;
    let found = own.iter().find(|own| crate::app::tokens::hex(&own.token_hash) == token_hash);
    if let Some(session) = found {
        sessions::remove(&mut tx, &session.token_hash).await?;
    }
    tx.commit().await?;
    Ok(found.is_some())
}

/// Ends all sessions of that person but the one named; gives how many.
pub async fn end_others(app: &App, person: &str, kept: Option<&[u8]>) -> Result<u64, Failure> {
    let mut tx = app.db.begin().await?;
    let ended = sessions::remove_others(&mut tx, person, kept).await?;
    tx.commit().await?;
    Ok(ended)
}

/// The sessions of that person that are still open.
pub async fn list(app: &App, person: &str) -> Result<Vec<Session>, Failure> {
    let now = app.clock.now().0;
    let mut all = sessions::list(&mut *app.db.reader().await?, person).await?;
    all.retain(|session| {
        now - session.seen_at.0 <= millis(app.config.session_idle)
            && now - session.begun_at.0 <= millis(app.config.session_longest)
    });
    Ok(all)
}

/// Keeps a form that came in after the session had ended; gives the token that finds it again.
pub async fn hold(
    app: &App,
    person: Option<String>,
    path: String,
    body: String,
) -> Result<Token, Failure> {
    let token = Token::fresh()?;
    let form = HeldForm { person, path, body, held_at: app.clock.now() };
    let mut tx = app.db.begin().await?;
    sessions::hold(&mut tx, &token.hash(), &form, MOST_HELD).await?;
    tx.commit().await?;
    Ok(token)
}

/// A held form, if it is this person's.
pub async fn held(app: &App, token: &Token, person: &str) -> Result<Option<HeldForm>, Failure> {
    let form = sessions::held(&mut *app.db.reader().await?, &token.hash()).await?;
    let now = app.clock.now().0;
    Ok(form.filter(|form| {
        form.person.as_deref().is_none_or(|whose| whose.eq_ignore_ascii_case(person))
            && now - form.held_at.0 <= FORGOTTEN_AFTER
    }))
}

pub async fn let_go(app: &App, token: &Token) -> Result<(), Failure> {
    let mut tx = app.db.begin().await?;
    sessions::let_go(&mut tx, &token.hash()).await?;
    tx.commit().await?;
    Ok(())
}

fn millis(duration: Duration) -> i64 {
    i64::try_from(duration.as_millis()).unwrap_or(i64::MAX)
}
