//! Signing in and out, and whose session a token stands for.

use async_recursion::async_recursion as boxed;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use crate::limiter::Limiter;
use crate::passwords::{self, Hashing};
use crate::seen::SessionUses;
use crate::tokens::Token;
use crate::{App, Failure};
use domain::bounds::{MAX_HELD_FORMS, MAX_HELD_MINUTES};
use domain::people::Person;
use domain::time::Moment;
use store::sessions::{HeldForm, Session};
use store::{people, sessions};

/// Sessions that one person has at most; the one begun first goes.
const MAX_SESSIONS: i64 = 10;
/// A session notes that it was used no more often than this, in milliseconds: a note is a write.
const NOTED_EVERY: i64 = 60_000;
/// Ended sessions and used links are of no use after so long, in milliseconds.
pub(crate) const FORGOTTEN_AFTER: i64 = 7 * 24 * 60 * 60_000;
/// The longest agent line that a session keeps.
const MAX_AGENT_LETTERS: usize = 200;

/// What all who try to sign in share: the counts of failures and the place for hashing.
#[derive(Debug, Default)]
pub struct Gate {
    limiter: Mutex<Limiter>,
    pub(crate) hashing: Hashing,
    seen: SessionUses,
}

impl Gate {
    /// Asks whether a password fits, within the limits on tries. A try is counted before it is hashed,
    /// so that tries that come at once do not all pass; the right password takes its count back.
    pub(crate) async fn try_password(
        &self,
        name: &str,
        address: IpAddr,
        now: Moment,
        password: &str,
        hash: Option<&str>,
    ) -> Result<PasswordCheck, Failure> {
        if let Some(seconds) = self.with(|limiter| limiter.begin(name, address, now)) {
            tracing::warn!(%address, seconds, "a password was not tried: too many tries");
            return Ok(PasswordCheck::Wait(seconds));
        }
        match self.hashing.fits(password, hash).await {
            Ok(true) => {
                self.with(|limiter| limiter.succeeded(name, address));
                Ok(PasswordCheck::Fits)
            }
            Ok(false) => {
                tracing::warn!(%address, "a password was wrong");
                Ok(PasswordCheck::Wrong)
            }
            Err(failure) => {
                self.with(|limiter| limiter.undone(name, address));
                Err(failure)
            }
        }
    }

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

/// What became of a password that was typed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum PasswordCheck {
    Fits,
    Wrong,
    /// Too many tries; so many seconds must pass.
    Wait(i64),
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
#[boxed]
pub async fn begin(
    app: &App,
    name: &str,
    password: &str,
    caller: &Caller,
    old: Option<&Token>,
) -> Result<SignIn, Failure> {
    let (person, hash) = {
        let mut db = app.db.reader().await?;
        (people::find(&mut db, name).await?, people::hash(&mut db, name).await?)
    };
    let (address, now) = (caller.address, app.clock.now());
    match app.gate.try_password(name, address, now, password, hash.as_deref()).await? {
        PasswordCheck::Fits => {}
        PasswordCheck::Wrong => return Ok(SignIn::Wrong),
        PasswordCheck::Wait(seconds) => return Ok(SignIn::Wait(seconds)),
    }
    let Some(person) = person.filter(|person| person.active) else {
        tracing::warn!(%address, "sign-in refused: the account is switched off");
        return Ok(SignIn::Wrong);
    };
    if hash.as_deref().is_some_and(passwords::is_outdated) {
        let fresh = app.gate.hashing.hash(password).await?;
        let mut tx = app.db.begin().await?;
        people::set_hash(&mut tx, &person.name, &fresh).await?;
        tx.commit().await?;
    }
    open(app, &person.name, caller, old).await.map(SignIn::Done)
}

/// Opens a session for a person whose right to it is proven.
#[boxed]
pub async fn open(
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
        agent: caller.agent.chars().take(MAX_AGENT_LETTERS).collect(),
        is_ended: false,
    };
    let mut tx = app.db.begin().await?;
    if let Some(old) = old {
        sessions::remove(&mut tx, &old.hash()).await?;
    }
    sessions::add(&mut tx, &session).await?;
    sessions::keep_newest(&mut tx, person, MAX_SESSIONS).await?;
    tx.commit().await?;
    tracing::info!(name = person, address = %caller.address, "sign-in");
    Ok(token)
}

/// What a token stands for.
#[derive(Debug, Clone)]
pub enum SessionState {
    Open(Session, Person),
    /// The session ran out or its person was switched off; whose it was.
    Ended(String),
    /// There is no such session.
    Unknown,
}

/// Whose session it is, as of now: a role that changed or a person switched off counts at once.
#[boxed]
pub async fn look_up(app: &App, token: &Token) -> Result<SessionState, Failure> {
    let found = sessions::find(&mut *app.db.reader().await?, &token.hash()).await?;
    let Some((session, person)) = found else {
        return Ok(SessionState::Unknown);
    };
    let now = app.clock.now();
    let idle = millis(app.config.session_idle);
    let longest = millis(app.config.session_longest);
    let seen_at = app.gate.seen.last(&session.token_hash, session.seen_at);
    let is_off = session.is_ended || !person.active;
    if is_off || now.0 - seen_at.0 > idle || now.0 - session.begun_at.0 > longest {
        return Ok(SessionState::Ended(person.name));
    }
    if now.0 - seen_at.0 >= NOTED_EVERY.min(idle / 4) {
        app.gate.seen.note(&app.db, &session.token_hash, now);
    }
    Ok(SessionState::Open(session, person))
}

/// Ends a session.
#[boxed]
pub async fn end(app: &App, token_hash: &[u8]) -> Result<(), Failure> {
    let mut tx = app.db.begin().await?;
    sessions::remove(&mut tx, token_hash).await?;
    tx.commit().await?;
    Ok(())
}

/// Ends one session of that person, by the hash of its token in hexadecimal; false where the
/// person has no such session.
#[boxed]
pub async fn end_own(app: &App, person: &str, token_hash: &str) -> Result<bool, Failure> {
    let mut tx = app.db.begin().await?;
    let own = sessions::list(&mut tx, person).await?;
    let found = own.iter().find(|own| crate::tokens::hex(&own.token_hash) == token_hash);
    if let Some(session) = found {
        sessions::end(&mut tx, &session.token_hash).await?;
    }
    tx.commit().await?;
    Ok(found.is_some())
}

/// Ends all sessions of that person but the one named; gives how many.
#[boxed]
pub async fn end_others(app: &App, person: &str, kept: Option<&[u8]>) -> Result<u64, Failure> {
    let mut tx = app.db.begin().await?;
    let ended = sessions::end_others(&mut tx, person, kept).await?;
    tx.commit().await?;
    Ok(ended)
}

/// The sessions of that person that are still open.
#[boxed]
pub async fn list(app: &App, person: &str) -> Result<Vec<Session>, Failure> {
    let now = app.clock.now().0;
    let mut all = sessions::list(&mut *app.db.reader().await?, person).await?;
    for session in &mut all {
        session.seen_at = app.gate.seen.last(&session.token_hash, session.seen_at);
    }
    all.retain(|session| {
        now - session.seen_at.0 <= millis(app.config.session_idle)
            && now - session.begun_at.0 <= millis(app.config.session_longest)
    });
    Ok(all)
}

/// Keeps a form of a person whose session had ended; gives the token that finds it again.
#[boxed]
pub async fn hold(app: &App, person: String, path: String, body: String) -> Result<Token, Failure> {
    let token = Token::fresh()?;
    let form = HeldForm { person, path, body, held_at: app.clock.now() };
    let mut tx = app.db.begin().await?;
    sessions::hold(&mut tx, &token.hash(), &form, MAX_HELD_FORMS).await?;
    tx.commit().await?;
    Ok(token)
}

/// A held form, if it is this person's.
#[boxed]
pub async fn held(app: &App, token: &Token, person: &str) -> Result<Option<HeldForm>, Failure> {
    let form = sessions::held(&mut *app.db.reader().await?, &token.hash()).await?;
    let now = app.clock.now().0;
    Ok(form.filter(|form| {
        form.person.eq_ignore_ascii_case(person)
            && now - form.held_at.0 <= MAX_HELD_MINUTES * 60_000
    }))
}

#[boxed]
pub async fn discard(app: &App, token: &Token) -> Result<(), Failure> {
    let mut tx = app.db.begin().await?;
    sessions::discard(&mut tx, &token.hash()).await?;
    tx.commit().await?;
    Ok(())
}

fn millis(duration: Duration) -> i64 {
    i64::try_from(duration.as_millis()).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests {
    use std::net::Ipv4Addr;
    use std::time::Duration;

    use futures_util::future::join_all;

    use super::*;

    const HERE: IpAddr = IpAddr::V4(Ipv4Addr::new(192, 0, 2, 1));
    const THERE: IpAddr = IpAddr::V4(Ipv4Addr::new(192, 0, 2, 2));

    #[tokio::test]
    async fn three_hundred_tries_at_once_hash_twenty_and_leave_room_for_a_colleague() {
        let gate = Gate::default();
        let now = Moment(0);
        let hash = gate.hashing.hash("a rusty lamp").await.unwrap();
        let names: Vec<String> = (0..300).map(|n| format!("name {n}")).collect();
        let tries = names.iter().map(|name| gate.try_password(name, HERE, now, "wrong", None));
        let right = gate.try_password("lead", THERE, now, "a rusty lamp", Some(&hash));

        let (outcomes, right) = tokio::join!(join_all(tries), right);

        let outcomes: Vec<PasswordCheck> = outcomes.into_iter().map(Result::unwrap).collect();
        assert_eq!(outcomes.iter().filter(|one| **one == PasswordCheck::Wrong).count(), 20);
        assert_eq!(
            outcomes.iter().filter(|one| matches!(one, PasswordCheck::Wait(_))).count(),
            280
        );
        assert_eq!(right.unwrap(), PasswordCheck::Fits);
    }

    #[tokio::test]
    async fn tries_for_one_account_that_come_at_once_are_counted_before_they_are_hashed() {
        let gate = Gate::default();
        let tries = (0..50).map(|_| gate.try_password("lead", HERE, Moment(0), "wrong", None));
        let outcomes = join_all(tries).await;
        let wrong =
            outcomes.into_iter().filter(|one| matches!(one, Ok(PasswordCheck::Wrong))).count();
        assert_eq!(wrong, 5);
    }

    #[tokio::test]
    async fn the_right_password_gives_its_try_back() {
        let gate = Gate::default();
        let hash = gate.hashing.hash("a rusty lamp").await.unwrap();
        for _ in 0..30 {
            let tried = gate.try_password("lead", HERE, Moment(0), "a rusty lamp", Some(&hash));
            assert_eq!(tried.await.unwrap(), PasswordCheck::Fits);
        }
    }

    #[tokio::test]
    async fn a_use_that_cannot_be_written_is_kept_in_memory() {
        let folder = tempfile::tempdir().unwrap();
        let db = store::Db::open(&folder.path().join("holdover.db")).await.unwrap();
        db.clone().close().await;
        let seen = SessionUses::default();
        seen.note(&db, b"token", Moment(9));
        tokio::time::sleep(Duration::from_millis(50)).await;
        assert_eq!(seen.last(b"token", Moment(3)), Moment(9));
        assert_eq!(seen.last(b"other", Moment(3)), Moment(3));
    }
}
