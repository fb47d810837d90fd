//! `holdover people`: who may use the service, from the shell of its machine.

use std::io::{BufRead as _, IsTerminal as _};

use clap::{ArgMatches, Args, Subcommand};

use crate::settings::Everywhere;
use crate::{Failed, data};
use app::{Actor, App, people};
use domain::words::Role;

#[derive(Debug, Args)]
pub struct People {
    #[command(subcommand)]
    act: Act,
}

#[derive(Debug, Subcommand)]
enum Act {
    /// Add a person; the password is asked for, or read from standard input.
    Add {
        name: String,
        /// viewer, engineer, lead or administrator
        #[arg(long, value_parser = role)]
        role: Role,
        #[command(flatten)]
        acting: Acting,
    },
    /// Set a person's password and end their sessions.
    Password {
        name: String,
        #[command(flatten)]
        acting: Acting,
    },
    /// List everybody.
    List {
        #[command(flatten)]
        everywhere: Everywhere,
    },
}

#[derive(Debug, Args)]
struct Acting {
    #[command(flatten)]
    everywhere: Everywhere,
    /// Who acts, an administrator; the change log names them [default: command line]
    #[arg(long = "as", value_name = "NAME")]
    acting_as: Option<String>,
}

pub async fn run(people: People, given: &ArgMatches) -> Result<(), Failed> {
    match people.act {
        Act::Add { name, role, acting } => {
            let app = data::of_or_new(given).await?;
            let actor = actor(&app, acting.acting_as.as_deref()).await?;
            let password = read_password()?;
            let (person, _) = people::add(&app, &actor, None, &name, role, Some(&password)).await?;
            println!("{} is added as {}.", person.name, person.role);
            app.db.close().await;
        }
        Act::Password { name, acting } => {
            let app = data::of(given).await?;
            let actor = actor(&app, acting.acting_as.as_deref()).await?;
            let password = read_password()?;
            people::set_password(&app, &actor, &name, &password).await?;
            println!("{name} has a new password; their sessions have ended.");
            app.db.close().await;
        }
        Act::List { .. } => {
            let app = data::of(given).await?;
            for person in people::list(&app, &actor(&app, None).await?).await? {
                let state = if person.active { "on" } else { "off" };
                let since = person.made_at.day();
                println!("{:<24} {:<14} {state:<4} since {since}", person.name, person.role);
            }
            app.db.close().await;
        }
    }
    Ok(())
}

/// Who acts. Whoever may write the data directory may do anything to it, so the shell counts as
/// an administrator; a name that is given must be one.
async fn actor(app: &App, name: Option<&str>) -> Result<Actor, Failed> {
    let Some(name) = name else {
        return Ok(Actor { name: "command line".to_owned(), role: Role::Administrator });
    };
    let mut db = app.db.reader().await?;
    match store::people::find(&mut db, name).await? {
        Some(person) if person.active => Ok(Actor { name: person.name, role: person.role }),
        _ => Err(Failed::Asked(format!(
            "{name} is not a person who may act; name another one or leave --as out."
        ))),
    }
}

fn role(text: &str) -> Result<Role, String> {
    Role::read(text).ok_or_else(|| format!("choose one of {}", Role::WORDS.join(", ")))
}

/// A password without echo from a terminal, twice; otherwise the first line of standard input.
fn read_password() -> Result<String, Failed> {
    let unreadable = |cause| Failed::Asked(format!("the password cannot be read: {cause}"));
    if !std::io::stdin().is_terminal() {
        let mut line = String::new();
        std::io::stdin().lock().read_line(&mut line).map_err(unreadable)?;
        return Ok(line.trim_end_matches(['\n', '\r']).to_owned());
    }
    let first = rpassword::prompt_password("Password: ").map_err(unreadable)?;
    let again = rpassword::prompt_password("The same again: ").map_err(unreadable)?;
    if first == again {
        return Ok(first);
    }
    Err(Failed::Asked("the two are not the same; call it again.".to_owned()))
}
