//! `holdover serve --demo`: a database of its own with the demo scenario, and a sign-in for each
//! role.

use crate::Failed;
use app::config::DemoSignIn;
use app::{self, App, people};
use domain::time::Day;
use store::schema;

/// Makes the database the demo's, fills it where it is empty, and gives the sign-ins. A database
/// that holds anything else is refused before anything is written.
pub async fn prepare(app: &App, day: Option<Day>) -> Result<Vec<DemoSignIn>, Failed> {
    let (is_demo, is_empty) = {
        let mut db = app.db.reader().await?;
        (schema::is_demo(&mut db).await?, schema::is_empty(&mut db).await?)
    };
    if !is_demo && !is_empty {
        return Err(Failed::Asked(
            "this data directory holds data that is not the demo's; name an empty one with --data, \
             or leave --data out."
                .to_owned(),
        ));
    }
    if is_empty {
        let mut tx = app.db.begin().await?;
        schema::mark_demo(&mut tx).await?;
        tx.commit().await.map_err(store::StoreError::from)?;
    }
    let sign_ins = people::demo_sign_ins(app).await?;
    // A first start that was cut short goes on: a table that was taken adds nothing.
    if !schema::demo_is_whole(&mut *app.db.reader().await?).await? {
        app::demo::fill(app, day.unwrap_or_else(|| app.clock.now().day())).await?;
    }
    for DemoSignIn { role, name, password } in &sign_ins {
        tracing::info!(role, name, password, "demo sign-in");
    }
    Ok(sign_ins)
}
