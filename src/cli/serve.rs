//! `holdover serve`.

use std::io::IsTerminal as _;
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use clap::{ArgMatches, Args};
use tokio::net::TcpListener;
use tokio::signal::unix::{SignalKind, signal};

use crate::settings::{Everywhere, OfServing, Settings};
use crate::{Failed, data, demo, log};
use app::clock::Clock;
use app::config::Config;
use app::{App, checks, people, sweep};
use domain::cells::Cell as _;
use domain::time::{Day, Moment};
use store::schema;

/// So long it is looked for damage before the service starts.
const FIRST_LOOK: Duration = Duration::from_secs(3);
/// The hour at which a demo on a given day begins, in minutes: 14:20.
const DEMO_HOUR: i64 = 14 * 60 + 20;

#[derive(Debug, Args)]
pub struct Serve {
    #[command(flatten)]
    everywhere: Everywhere,
    #[command(flatten)]
    serving: OfServing,
    /// Fill an empty data directory with the demo scenario (without --data: one that goes with it)
    #[arg(long)]
    demo: bool,
    /// The day on which the demo plays, from 14:20 or from the time after it [default: today]
    #[arg(long, value_name = "DATE", requires = "demo", value_parser = begins)]
    demo_day: Option<Moment>,
    /// Print every setting and where it came from, and serve nothing
    #[arg(long)]
    print_settings: bool,
}

pub async fn run(serve: &Serve, given: &ArgMatches) -> Result<(), Failed> {
    let settings = Settings::read(given)?;
    let config = settings.config()?;
    if serve.print_settings {
        for line in settings.lines() {
            println!("{line}");
        }
        return Ok(());
    }
    let text = settings.log_is_text(std::io::stdout().is_terminal())?;
    log::start(text, log::Onto::StandardOutput, settings.log());
    let address = settings.listen()?;
    if serve.demo && !address.ip().is_loopback() {
        return Err(Failed::Usage(format!(
            "the demo shows its passwords, so it is not served on {address}; use a loopback address."
        )));
    }
    // The port is taken first: where it is in use, no database is made or changed.
    let listener = TcpListener::bind(address).await.map_err(|cause| {
        Failed::Asked(format!(
            "{address} cannot be listened on ({cause}); choose another with --listen."
        ))
    })?;
    let stop = told_to_stop()?;
    let (directory, passing) = directory(serve, &settings)?;
    let app = prepare(serve, config, directory).await?;
    announce(&app, &listener).await?;
    let limits = web::serve::Limits::default();
    let pages = web::router(app.clone());
    let sweeping = tokio::spawn(sweep::every_hour(app.clone()));
    let clean = web::serve::serve(listener, pages, limits, stop).await;
    sweeping.abort();
    tracing::info!(clean, "stopped");
    app.db.close().await;
    drop(passing);
    Ok(())
}

/// The data directory, and what removes it with the program where it is the demo's own.
fn directory(
    serve: &Serve,
    settings: &Settings,
) -> Result<(PathBuf, Option<tempfile::TempDir>), Failed> {
    if !serve.demo || settings.names_data() {
        return Ok((settings.data(), None));
    }
    let passing = tempfile::Builder::new().prefix("holdover-demo-").tempdir().map_err(|cause| {
        Failed::Asked(format!("no directory for the demo ({cause}); name one with --data."))
    })?;
    Ok((passing.path().to_owned(), Some(passing)))
}

/// When a demo begins: `2030-11-21`, or `2030-11-21 15:00`.
fn begins(text: &str) -> Result<Moment, String> {
    match Day::read(text) {
        Ok(day) => Ok(Moment::of_day(day).plus_minutes(DEMO_HOUR)),
        Err(_) => Moment::read(text),
    }
}

async fn prepare(serve: &Serve, config: Config, directory: PathBuf) -> Result<App, Failed> {
    let clock = serve.demo_day.map_or(Clock::System, Clock::starting_at);
    schema::refuse_damaged(&directory.join(data::FILE), FIRST_LOOK).await?;
    if serve.demo {
        demo::lay(&directory, &clock, &config, serve.demo_day.map(Moment::day)).await?;
    }
    let mut app = data::open(&directory, clock, config).await?;
    tracing::info!(directory = %directory.display(), "data directory");
    for words in checks::missing_files(&app.db, FIRST_LOOK).await? {
        tracing::error!(fault = words, "a photograph or file is damaged; restore it from a backup");
    }
    if serve.demo {
        let demo_sign_ins = demo::sign_ins(&app).await?;
        app.config = Arc::new(Config { demo_sign_ins, ..Config::clone(&app.config) });
    }
    Ok(app)
}

/// Says where the service listens, and how the first administrator comes in.
async fn announce(app: &App, listener: &TcpListener) -> Result<(), Failed> {
    let address = listener
        .local_addr()
        .map_err(|cause| Failed::Asked(format!("the address is not known: {cause}")))?;
    let base = app.config.public_url.clone().unwrap_or_else(|| reached_at(address));
    tracing::info!(%address, url = format!("{base}/"), "listening");
    if people::nobody_yet(app).await? {
        let link = people::first_link(app).await?;
        let url = format!("{base}/welcome/{}", link.show());
        tracing::warn!(url, "first administrator: open this link within a day; it works once");
    }
    Ok(())
}

/// Where a browser on this machine reaches the service: one that listens everywhere has no host in
/// its address.
fn reached_at(address: SocketAddr) -> String {
    if address.ip().is_unspecified() {
        return format!("http://localhost:{}", address.port());
    }
    format!("http://{address}")
}

/// Hears from its making on that the service is told to stop, so that a word that comes while it
/// starts is not missed and does not cut anything.
fn told_to_stop() -> Result<impl Future<Output = ()>, Failed> {
    let deaf = |cause| Failed::Asked(format!("signals cannot be heard: {cause}"));
    let mut ended = signal(SignalKind::terminate()).map_err(deaf)?;
    let mut broken = signal(SignalKind::interrupt()).map_err(deaf)?;
    Ok(async move {
        tokio::select! {
            _ = ended.recv() => {}
            _ = broken.recv() => {}
        }
        tracing::info!("stopping: requests under way are answered");
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_for_a_browser_has_a_host() {
        let at = |text: &str| reached_at(text.parse().unwrap());
        assert_eq!(at("127.0.0.1:8080"), "http://127.0.0.1:8080");
        assert_eq!(at("0.0.0.0:8080"), "http://localhost:8080");
        assert_eq!(at("[::]:8080"), "http://localhost:8080");
        assert_eq!(at("[::1]:80"), "http://[::1]:80");
    }
}
