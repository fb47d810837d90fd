//! `holdover bench rest`: the memory that the service holds once three roles have asked for every page
//! and then for nothing.

use std::time::Duration;

use clap::{ArgMatches, Args};
use serde_json::json;

use crate::bench::figures::{memory_now, memory_peak};
use crate::bench::pages::{self, Asking, signed_in};
use crate::settings::Everywhere;
use crate::{Failed, data};
use domain::words::Role;

/// So long nobody asks for anything.
const REST: Duration = Duration::from_secs(6);

#[derive(Debug, Args)]
pub struct Rest {
    /// Fails where more than so many megabytes are held then
    #[arg(long, default_value_t = 60.0)]
    most: f64,
    /// Print the figures as JSON, and nothing else, on standard output
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    everywhere: Everywhere,
}

pub async fn run(call: &Rest, given: &ArgMatches) -> Result<(), Failed> {
    let app = data::of(given).await?;
    let administrator = signed_in(&app, Role::Administrator).await?.0;
    let mut asked = 0;
    for role in [Role::Viewer, Role::Engineer, Role::Lead] {
        let cookie = signed_in(&app, role).await?.0;
        let asking =
            Asking { router: web::router(app.clone()), who: [cookie, administrator.clone()] };
        for path in pages::addresses(&app, &asking).await? {
            asking.answer(&path).await?;
            asked += 1;
        }
    }
    tokio::time::sleep(REST).await;
    let (held, peak) = (memory_now().unwrap_or_default(), memory_peak().unwrap_or_default());
    app.db.close().await;
    if call.json {
        println!("{}", json!({ "asked": asked, "held_mb": held, "peak_mb": peak }));
    } else {
        let rest = REST.as_secs();
        println!("{held:.1} MB after {asked} pages and {rest} s of rest; {peak:.1} MB at the peak");
    }
    if held > call.most {
        let most = call.most;
        return Err(Failed::Asked(format!("{held:.1} MB are held at rest, at most {most:.0}")));
    }
    Ok(())
}
