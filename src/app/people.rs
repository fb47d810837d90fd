//! People: adding them, their roles, switching off, passwords. Every change is in the change log,
//! and no secret is.

use async_recursion::async_recursion as boxed;
use std::net::IpAddr;

use serde_json::json;

use crate::config::DemoSignIn;
use crate::passwords::NONE_YET;
use crate::sessions::PasswordCheck;
use crate::tokens::Token;
use crate::work::{FormKey, Work};
use crate::{Actor, App, Failure};
use domain::cells::FieldError;
use domain::kinds::Kind;
use domain::people::{self as rules, Person, SERVICE};
use domain::roles::{self, Action};
use domain::words::{Role, Theme};
use store::{people, sessions};

/// A one-time link holds for a day.
const LINK_MINUTES: i64 = 24 * 60;

/// Everybody, for an administrator.
#[boxed]
pub async fn list(app: &App, actor: &Actor) -> Result<Vec<Person>, Failure> {
    manages(actor)?;
    Ok(people::list(&mut *app.db.reader().await?).await?)
}

/// Whether nobody has been added yet.
#[boxed]
pub async fn nobody_yet(app: &App) -> Result<bool, Failure> {
    Ok(people::count(&mut *app.db.reader().await?).await? == 0)
}

/// Adds a person. Without a password, the link that is given back lets them choose one.
#[boxed]
pub async fn add(
    app: &App,
    actor: &Actor,
    key: Option<&FormKey>,
    name: &str,
    role: Role,
    password: Option<&str>,
) -> Result<(Person, Option<Token>), Failure> {
    manages(actor)?;
    let name = rules::name(name).map_err(|message| Failure::field("name", message))?;
    let hash = match password {
        None => NONE_YET.to_owned(),
        Some(password) => fresh_hash(app, password, &name, "password").await?,
    };
    let mut work = Work::begin(app, actor, key).await?;
    if people::find(work.db(), &name).await?.is_some() {
        return Err(Failure::field(
            "name",
            format!("The name {name} is taken; choose another name."),
        ));
    }
    let now = work.now;
    people::add(work.db(), &name, role, &hash, now).await?;
    let link = match password {
        None => Some(new_link(&mut work, Some(&name)).await?),
        Some(_) => None,
    };
    let after = json!({ "name": name, "role": role.word() });
    work.log(Kind::Person, &name, "added", None, Some(after.to_string())).await?;
    let person = current(&mut work, &name).await?;
    work.finish("/people").await?;
    Ok((person, link))
}

/// Gives a person another role; it counts from their next request on.
#[boxed]
pub async fn set_role(
    app: &App,
    actor: &Actor,
    key: Option<&FormKey>,
    name: &str,
    role: Role,
) -> Result<(), Failure> {
    manages(actor)?;
    let mut work = Work::begin(app, actor, key).await?;
    let person = current(&mut work, name).await?;
    if person.role != role {
        if person.role == Role::Administrator && person.active {
            keeps_an_administrator(&mut work).await?;
        }
        people::set_role(work.db(), name, role).await?;
        let before = json!({ "role": person.role.word() }).to_string();
        let after = json!({ "role": role.word() }).to_string();
        work.log(Kind::Person, &person.name, "role changed", Some(before), Some(after)).await?;
    }
    work.finish("/people").await?;
    Ok(())
}

/// Switches a person off, which ends their sessions at once, or on again.
#[boxed]
pub async fn set_active(
    app: &App,
    actor: &Actor,
    key: Option<&FormKey>,
    name: &str,
    active: bool,
) -> Result<(), Failure> {
    manages(actor)?;
    let mut work = Work::begin(app, actor, key).await?;
    let person = current(&mut work, name).await?;
    if person.active != active {
        if person.role == Role::Administrator && !active {
            keeps_an_administrator(&mut work).await?;
        }
        people::set_active(work.db(), name, active).await?;
        if !active {
            sessions::end_others(work.db(), name, None).await?;
        }
        let action = if active { "switched on" } else { "switched off" };
        work.log(Kind::Person, &person.name, action, None, None).await?;
    }
    work.finish("/people").await?;
    Ok(())
}

/// Makes a one-time link with which a person chooses a new password; until then the old one
/// holds.
#[boxed]
pub async fn reset(
    app: &App,
    actor: &Actor,
    key: Option<&FormKey>,
    name: &str,
) -> Result<(Person, Token), Failure> {
    manages(actor)?;
    let mut work = Work::begin(app, actor, key).await?;
    let person = current(&mut work, name).await?;
    if !person.active {
        return Err(Failure::Refused(format!("{name} is switched off; switch them on first.")));
    }
    let link = new_link(&mut work, Some(&person.name)).await?;
    work.log(Kind::Person, &person.name, "password link made", None, None).await?;
    work.finish("/people").await?;
    Ok((person, link))
}

/// Sets a password from the shell of the machine, where whoever may write the data directory may
/// do anything; ends all sessions of the person.
#[boxed]
pub async fn set_password(
    app: &App,
    actor: &Actor,
    name: &str,
    password: &str,
) -> Result<(), Failure> {
    manages(actor)?;
    let hash = fresh_hash(app, password, name, "password").await?;
    let mut work = Work::begin(app, actor, None).await?;
    let person = current(&mut work, name).await?;
    people::set_hash(work.db(), name, &hash).await?;
    sessions::end_others(work.db(), name, None).await?;
    work.log(Kind::Person, &person.name, "password set", None, None).await?;
    work.finish("").await?;
    Ok(())
}

/// Changes one's own password; the current one must be given, and the other sessions end.
#[boxed]
pub async fn change_password(
    app: &App,
    actor: &Actor,
    key: Option<&FormKey>,
    session: &[u8],
    address: IpAddr,
    current_password: &str,
    new_password: &str,
) -> Result<(), Failure> {
    let known = people::hash(&mut *app.db.reader().await?, &actor.name).await?;
    let now = app.clock.now();
    let tried =
        app.gate.try_password(&actor.name, address, now, current_password, known.as_deref());
    match tried.await? {
        PasswordCheck::Fits => {}
        PasswordCheck::Wrong => {
            let words = "This is not your current password; type it again.";
            return Err(Failure::field("current", words));
        }
        PasswordCheck::Wait(seconds) => {
            let words = format!("Too many wrong passwords. Wait {seconds} seconds and try again.");
            return Err(Failure::field("current", words));
        }
    }
    let hash = fresh_hash(app, new_password, &actor.name, "new").await?;
    let mut work = Work::begin(app, actor, key).await?;
    people::set_hash(work.db(), &actor.name, &hash).await?;
    sessions::end_others(work.db(), &actor.name, Some(session)).await?;
    work.log(Kind::Person, &actor.name, "password changed", None, None).await?;
    work.finish("/account").await?;
    Ok(())
}

/// Keeps which theme a person wants; a preference, so it is not in the change log.
#[boxed]
pub async fn set_theme(app: &App, actor: &Actor, theme: Theme) -> Result<(), Failure> {
    let mut tx = app.db.begin().await?;
    people::set_theme(&mut tx, &actor.name, theme).await?;
    tx.commit().await?;
    Ok(())
}

/// For whom a one-time link is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LinkFor {
    Person(String),
    FirstAdministrator,
}

/// Makes the link by which the first administrator is made; any earlier one is void.
#[boxed]
pub async fn first_link(app: &App) -> Result<Token, Failure> {
    let actor = Actor { name: SERVICE.to_owned(), role: Role::Administrator };
    let mut work = Work::begin(app, &actor, None).await?;
    let link = new_link(&mut work, None).await?;
    work.finish("").await?;
    Ok(link)
}

/// For whom the link is, if it still holds.
#[boxed]
pub async fn follow(app: &App, link: &Token) -> Result<Option<LinkFor>, Failure> {
    let mut db = app.db.reader().await?;
    let found = people::link(&mut db, &link.hash(), app.clock.now()).await?;
    Ok(match found {
        None => None,
        Some(None) if people::count(&mut db).await? > 0 => None,
        Some(None) => Some(LinkFor::FirstAdministrator),
        Some(Some(name)) => {
            let active = people::find(&mut db, &name).await?.is_some_and(|person| person.active);
            active.then_some(LinkFor::Person(name))
        }
    })
}

/// Takes a password by a one-time link, which is then used up. `name` counts for the first
/// administrator alone. Gives who it was.
#[boxed]
pub async fn choose_password(
    app: &App,
    link: &Token,
    name: &str,
    password: &str,
) -> Result<String, Failure> {
    let used_up =
        || Failure::Refused("This link was used or is too old; ask for a new one.".to_owned());
    let whose = follow(app, link).await?.ok_or_else(used_up)?;
    let name = match &whose {
        LinkFor::Person(name) => name.clone(),
        LinkFor::FirstAdministrator => {
            rules::name(name).map_err(|message| Failure::field("name", message))?
        }
    };
    let hash = fresh_hash(app, password, &name, "password").await?;
    let actor = Actor { name: name.clone(), role: Role::Administrator };
    let mut work = Work::begin(app, &actor, None).await?;
    let now = work.now;
    // Asked again inside the transaction: of two who come at once, one has the link.
    if people::link(work.db(), &link.hash(), now).await?.is_none() {
        return Err(used_up());
    }
    people::remove_link(work.db(), &link.hash()).await?;
    match whose {
        LinkFor::Person(_) => {
            people::set_hash(work.db(), &name, &hash).await?;
            sessions::end_others(work.db(), &name, None).await?;
            work.log(Kind::Person, &name, "password changed", None, None).await?;
        }
        LinkFor::FirstAdministrator => {
            if people::count(work.db()).await? > 0 {
                return Err(used_up());
            }
            people::add(work.db(), &name, Role::Administrator, &hash, now).await?;
            let after = json!({ "name": name, "role": Role::Administrator.word() });
            work.log(Kind::Person, &name, "added", None, Some(after.to_string())).await?;
        }
    }
    work.finish("").await?;
    Ok(name)
}

/// Makes the sign-ins of the demo, one a role, each with a password that was never used before.
#[boxed]
pub async fn demo_sign_ins(app: &App) -> Result<Vec<DemoSignIn>, Failure> {
    let actor = Actor { name: SERVICE.to_owned(), role: Role::Administrator };
    let mut made = Vec::new();
    for role in [Role::Lead, Role::Engineer, Role::Viewer, Role::Administrator] {
        let name = role.word().to_owned();
        let password = speakable(&Token::fresh()?);
        let hash = app.gate.hashing.hash(&password).await?;
        let mut work = Work::begin(app, &actor, None).await?;
        if people::find(work.db(), &name).await?.is_some() {
            people::set_hash(work.db(), &name, &hash).await?;
            people::set_active(work.db(), &name, true).await?;
            people::set_role(work.db(), &name, role).await?;
        } else {
            let now = work.now;
            people::add(work.db(), &name, role, &hash, now).await?;
            let after = json!({ "name": name, "role": role.word() }).to_string();
            work.log(Kind::Person, &name, "added", None, Some(after)).await?;
        }
        work.finish("").await?;
        made.push(DemoSignIn { role: role.word().to_owned(), name, password });
    }
    Ok(made)
}

/// Four groups of four letters and digits that are not mistaken for each other: 78 bits.
fn speakable(token: &Token) -> String {
    const SIGNS: &[u8] = b"abcdefghjkmnpqrstuvwxyz23456789";
    let bytes = token.derived("speakable").into_bytes();
    // Four hexadecimal digits for one of 31 signs: the odds differ by less than a thousandth.
    let signs = bytes.chunks_exact(4).map(|digits| {
        let number = digits.iter().fold(0_usize, |number, digit| {
            number * 16 + char::from(*digit).to_digit(16).map_or(0, |digit| digit as usize)
        });
        char::from(SIGNS[number % SIGNS.len()])
    });
    let signs: Vec<char> = signs.collect();
    signs.chunks(4).map(String::from_iter).collect::<Vec<_>>().join("-")
}

fn manages(actor: &Actor) -> Result<(), Failure> {
    if roles::may(actor.role, Action::ManagePeople) {
        return Ok(());
    }
    Err(Failure::Forbidden(roles::refusal(actor.role, Action::ManagePeople)))
}

async fn current(work: &mut Work, name: &str) -> Result<Person, Failure> {
    let person = people::find(work.db(), name).await?;
    person.ok_or_else(|| Failure::NotFound(Kind::Person, name.to_owned()))
}

async fn fresh_hash(
    app: &App,
    password: &str,
    person: &str,
    field: &str,
) -> Result<String, Failure> {
    rules::password(password, person, &app.config.outpost)
        .map_err(|message| Failure::Invalid(vec![FieldError::new(field, message)]))?;
    app.gate.hashing.hash(password).await
}

async fn new_link(work: &mut Work, person: Option<&str>) -> Result<Token, Failure> {
    let link = Token::fresh()?;
    let ends_at = work.now.plus_minutes(LINK_MINUTES);
    people::add_link(work.db(), &link.hash(), person, ends_at).await?;
    Ok(link)
}

async fn keeps_an_administrator(work: &mut Work) -> Result<(), Failure> {
    if people::count_active(work.db(), Role::Administrator).await? > 1 {
        return Ok(());
    }
    Err(Failure::Refused(
        "This is the last administrator; make somebody else one first.".to_owned(),
    ))
}
