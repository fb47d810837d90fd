//! `holdover serve --demo`: a database of its own with the demo scenario, and a sign-in for each
//! role.

use std::path::Path;

use crate::{Failed, data};
use app::clock::Clock;
use app::config::{Config, DemoSignIn};
use app::{App, people};
use domain::time::Day;
use store::draft::Draft;
use store::{StoreError, schema};

/// Lays the scenario out where there is nothing yet. It is built aside and gets its place once it is
/// whole, so that a start that was cut short leaves nothing by halves. A database that holds anything
/// else is refused before anything is written.
pub async fn lay(
    directory: &Path,
    clock: &Clock,
    config: &Config,
    day: Option<Day>,
) -> Result<(), Failed> {
    data::make(directory)?;
    let file = directory.join(data::FILE);
    if file.metadata().is_ok_and(|found| found.len() > 0) && is_laid(directory).await? {
        return Ok(());
    }
    let draft = Draft::begin(&file).await?;
    let app = data::open(draft.folder(), clock.clone(), config.clone()).await?;
    fill(&app, day).await?;
    app.db.close().await;
    draft.put_in_place()?;
    Ok(())
}

/// Makes a database in which nothing was entered yet the demo's, and fills it.
pub async fn fill(app: &App, day: Option<Day>) -> Result<(), Failed> {
    let mut tx = app.db.begin().await?;
    schema::mark_demo(&mut tx).await?;
    tx.commit().await.map_err(StoreError::from)?;
    people::demo_sign_ins(app).await?;
    app::demo::fill(app, day.unwrap_or_else(|| app.clock.now().day())).await?;
    Ok(())
}

/// Whether the demo stands there whole; not where nothing was ever entered, nor where an older
/// program left it by halves.
async fn is_laid(directory: &Path) -> Result<bool, Failed> {
    let app = data::open(directory, Clock::System, Config::default()).await?;
    let (is_demo, is_whole, is_empty) = {
        let mut db = app.db.reader().await?;
        (
            schema::is_demo(&mut db).await?,
            schema::demo_is_whole(&mut db).await?,
            schema::is_empty(&mut db).await?,
        )
    };
    app.db.close().await;
    if !is_demo && !is_empty {
        return Err(Failed::Asked(
            "this data directory holds data that is not the demo's; name an empty one with --data, \
             or leave --data out."
                .to_owned(),
        ));
    }
    Ok(is_whole)
}

/// The sign-ins of the demo, made anew at each start.
pub async fn sign_ins(app: &App) -> Result<Vec<DemoSignIn>, Failed> {
    let sign_ins = people::demo_sign_ins(app).await?;
    for DemoSignIn { role, name, password } in &sign_ins {
        tracing::info!(role, name, password, "demo sign-in");
    }
    Ok(sign_ins)
}
