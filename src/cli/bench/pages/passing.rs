//! What stands for a while alone is begun for the sweep and ended after it: a table that is looked at,
//! a practice of the next excursion, addresses of somebody's own.

use std::io::Write as _;

use super::person;
use crate::Failed;
use app::work::Work;
use app::{Actor, App, day, feeds, import};
use domain::codes::ExcursionCode;
use domain::kinds::Kind;
use domain::words::Role;
use store::{StoreError, excursions};

/// What stands in an address of the table for each of them.
pub(super) const PARTS: [&str; 3] =
    ["/feeds/{secret}", "/import/{code}", "/excursions/{code}/practice/{run}"];

pub(super) struct Passing {
    actor: Actor,
    /// What stands there now.
    parts: Vec<(&'static str, String)>,
    run: Option<(ExcursionCode, String)>,
}

impl Passing {
    pub async fn begin(app: &App) -> Result<Self, Failed> {
        let actor = Actor { name: person(app, Role::Lead).await?, role: Role::Lead };
        let secret = feeds::make(app, &actor, None).await?.show();
        let mut file = app.db.contents().incoming().map_err(StoreError::from)?;
        file.write_all(b"code,name\nL-MEASURE,bar\n").map_err(StoreError::from)?;
        let table = import::keep(app, &actor, (Kind::Tool, "tools.csv"), file).await?;
        let [feed, import, practice] = PARTS;
        let mut parts = vec![(feed, format!("/feeds/{secret}"))];
        parts.push((import, format!("/import/{table}")));
        let next = excursions::coming(&mut *app.db.reader().await?).await?.into_iter().next();
        let mut run = None;
        if let Some(code) = next.map(|excursion| excursion.code.0) {
            let mut work = Work::begin(app, &actor, None).await?;
            let begun = day::begin_practice(&mut work, code.as_str(), 60, None).await?.code;
            work.finish("").await?;
            parts.push((practice, format!("/excursions/{code}/practice/{begun}")));
            run = Some((code, begun));
        }
        Ok(Self { actor, parts, run })
    }

    /// The address that is asked in the place of one of the table.
    pub fn path(&self, route: &str) -> Option<String> {
        self.parts
            .iter()
            .find_map(|(part, there)| Some(format!("{there}{}", route.strip_prefix(part)?)))
    }

    pub async fn end(self, app: &App) -> Result<(), Failed> {
        feeds::revoke(app, &self.actor, None).await?;
        if let Some((code, run)) = &self.run {
            let mut work = Work::begin(app, &self.actor, None).await?;
            day::discard_practice(&mut work, code.as_str(), run).await?;
            work.finish("").await?;
        }
        Ok(())
    }
}
