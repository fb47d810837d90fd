//! `holdover import`: takes in a table, or says what would come of it.

use std::io::IsTerminal as _;
use std::path::PathBuf;

use clap::{ArgMatches, Args};
use indicatif::{ProgressBar, ProgressStyle};
use serde_json::json;
use tempfile::NamedTempFile;

use crate::settings::Everywhere;
use crate::{Failed, data};
use app::import::{self, Given, Options, Report, Request};
use app::{Actor, App, kinds};
use domain::kinds::Kind;
use domain::roles::keeper;
use domain::words::Role;
use exchange::days::DateOrder;
use exchange::heads::by_hand;

/// Of this many bad rows each is printed; the rest are counted.
const PRINTED: usize = 200;

#[expect(clippy::struct_excessive_bools, reason = "each is a flag of the call")]
#[derive(Debug, Args)]
pub struct Import {
    /// What the rows are: flights, excursions, worksites, routes, families, units, tasks,
    /// techniques, tools, slots, attempts, deferrals, findings, remedies, outside-items, …
    kind: String,
    /// The file; `-` for standard input.
    #[arg(required_unless_present = "list_columns")]
    file: Option<PathBuf>,
    /// Show what would be imported and change nothing.
    #[arg(long)]
    dry_run: bool,
    /// Name the column that a head of the table fills; may be repeated.
    #[arg(long = "map", value_name = "THEIRS=OURS")]
    map: Vec<String>,
    /// Import the good rows and count the rest.
    #[arg(long)]
    skip_bad_rows: bool,
    /// Read a range of days as its first day.
    #[arg(long)]
    first_day: bool,
    /// Say which comes first in dates such as 03/04/2031.
    #[arg(long, value_name = "day-first|month-first", value_parser = date_order)]
    dates: Option<DateOrder>,
    /// Record attempts with unlikely minutes, or without minutes, as confirmed.
    #[arg(long)]
    confirm_unlikely: bool,
    /// Import reviews, verifications and clearances that were made elsewhere, marked as imported
    /// and not checked here. For an administrator, and for findings, remedies, exemptions and
    /// revisions.
    #[arg(long)]
    history: bool,
    /// Who acts; the change log names them. Needs to be a person of the record; without it the
    /// lead of an otherwise empty record acts.
    #[arg(long = "as", value_name = "NAME")]
    actor: Option<String>,
    /// Print the report as JSON, and nothing else, on standard output.
    #[arg(long)]
    json: bool,
    /// Prints our columns of that kind.
    #[arg(long)]
    list_columns: bool,
    #[command(flatten)]
    everywhere: Everywhere,
}

pub async fn run(call: Import, given: &ArgMatches) -> Result<(), Failed> {
    let kind =
        Kind::named(&call.kind).filter(|kind| Kind::IMPORTED.contains(kind)).ok_or_else(|| {
            let known: Vec<&str> = Kind::IMPORTED.iter().map(|kind| kind.plural()).collect();
            Failed::Usage(format!(
                "“{}” is no kind of table; it is one of {}.",
                call.kind,
                known.join(", ")
            ))
        })?;
    if call.list_columns {
        list_columns(kind);
        return Ok(());
    }
    let map = call
        .map
        .iter()
        .map(|pair| by_hand(pair))
        .collect::<Result<Vec<_>, _>>()
        .map_err(Failed::Usage)?;
    let (path, _passing) = place(call.file.as_ref())?;
    let app = data::of_or_new(given).await?;
    let actor = actor(&app, call.actor.as_deref(), kind, call.history).await?;
    let request = Request {
        kind,
        table: Given::File(path),
        options: Options {
            by_hand: map,
            dry_run: call.dry_run,
            skip_bad_rows: call.skip_bad_rows,
            first_day: call.first_day,
            dates: call.dates,
            confirms: call.confirm_unlikely,
            history: call.history,
            asks: false,
        },
    };
    let bar = progress(call.json);
    let report = import::run(&app, &actor, &request, None, |far| {
        if far.through % 64 == 0 || far.through == far.rows {
            bar.set_length(far.rows);
            bar.set_position(far.through);
        }
    })
    .await;
    bar.finish_and_clear();
    app.db.close().await;
    let report = report?;
    if call.json {
        println!("{}", as_json(&report));
    } else {
        print(kind, &report);
        crate::print_caution();
    }
    if report.committed || (call.dry_run && report.bad_rows == 0) {
        return Ok(());
    }
    if let (Some(either), None) = (&report.either, call.dates) {
        eprintln!(
            "holdover: “{}” in line {} could be two dates, so nothing is imported; add --dates \
             day-first or --dates month-first.",
            either.text, either.line
        );
    } else if call.dry_run {
        eprintln!(
            "holdover: {} rows would be refused; correct them, or add --skip-bad-rows.",
            report.bad_rows
        );
    } else {
        eprintln!(
            "holdover: {} refused, so nothing was imported; correct the table, or add --skip-bad-rows to import the rest.",
            if report.bad_rows == 1 {
                "1 row is".to_owned()
            } else {
                format!("{} rows are", report.bad_rows)
            }
        );
    }
    Err(Failed::Said)
}

fn date_order(word: &str) -> Result<DateOrder, String> {
    DateOrder::named(word).ok_or_else(|| "write day-first or month-first".to_owned())
}

fn list_columns(kind: Kind) {
    for column in kinds::columns(kind) {
        let also = if column.also.is_empty() {
            String::new()
        } else {
            format!(" (also: {})", column.also.join(", "))
        };
        let must = if column.required { ", must be filled in" } else { "" };
        println!("{}: {}{must}{also}", column.name, column.label);
    }
}

/// Where the table stands. What comes by standard input is put into a file that goes with the
/// program, since a table is read more than once.
fn place(file: Option<&PathBuf>) -> Result<(PathBuf, Option<NamedTempFile>), Failed> {
    let Some(file) = file else {
        return Err(Failed::Usage("name the file that holds the table.".to_owned()));
    };
    if file.as_os_str() == "-" {
        let passing = NamedTempFile::new()
            .and_then(|mut passing| {
                std::io::copy(&mut std::io::stdin().lock(), &mut passing)?;
                Ok(passing)
            })
            .map_err(|cause| {
                Failed::Asked(format!("standard input could not be read: {cause}."))
            })?;
        return Ok((passing.path().to_owned(), Some(passing)));
    }
    std::fs::File::open(file).map_err(|cause| {
        Failed::Asked(format!("{} could not be read: {cause}; check the path.", file.display()))
    })?;
    Ok((file.clone(), None))
}

/// The person named, with their role. On a record without people the shell acts as a lead.
async fn actor(app: &App, name: Option<&str>, kind: Kind, history: bool) -> Result<Actor, Failed> {
    let mut db = app.db.reader().await.map_err(Failed::from)?;
    if let Some(name) = name {
        let person = store::people::find(&mut db, name).await?.ok_or_else(|| {
            Failed::Asked(format!("there is no {name}; “holdover people list” shows who there is."))
        })?;
        return Ok(Actor { name: person.name, role: person.role });
    }
    let role = if history { Role::Administrator } else { keeper(kind) };
    let people = store::people::list(&mut db).await?;
    let mut able = people.into_iter().filter(|person| person.active && person.role == role);
    match (able.next(), able.next()) {
        (Some(only), None) => Ok(Actor { name: only.name, role }),
        (None, _) => Ok(Actor { name: "command line".to_owned(), role }),
        (Some(_), Some(_)) => Err(Failed::Usage(format!(
            "there are several people with the role {role}; say who acts with --as NAME."
        ))),
    }
}

fn progress(quiet: bool) -> ProgressBar {
    if quiet || !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(0);
    if let Ok(style) = ProgressStyle::with_template("{pos} of {len} rows {wide_bar} {eta}") {
        bar.set_style(style);
    }
    bar
}

fn print(kind: Kind, report: &Report) {
    for note in &report.notes {
        println!("{note}");
    }
    for head in &report.unknown_heads {
        println!("The head “{head}” fills no column and is left out.");
    }
    for bad in report.bad.iter().take(PRINTED) {
        let column =
            if bad.column.is_empty() { String::new() } else { format!(", {}", bad.column) };
        println!("line {}{column}: {}", bad.line, bad.reason);
    }
    if report.bad.len() > PRINTED {
        println!("… and {} more.", report.bad.len() - PRINTED);
    }
    for past in report.past_limits.iter().take(PRINTED) {
        println!("line {}: {} is {}.", past.line, past.value, past.judgement);
    }
    if report.past_limits.len() > PRINTED {
        println!("… and {} more past their limits.", report.past_limits.len() - PRINTED);
    }
    for (created, count) in &report.created {
        println!("Added because a row named them: {count} {created}.");
    }
    let verb = if report.committed { "imported" } else { "would be imported" };
    println!(
        "{} of {} rows of {} {verb} as new; {} changed, {} known already, {} refused.",
        report.taken,
        report.rows,
        kind.plural(),
        report.changed,
        report.known,
        report.bad_rows
    );
}

fn as_json(report: &Report) -> serde_json::Value {
    json!({
        "rows": report.rows,
        "new": report.taken,
        "changed": report.changed,
        "known": report.known,
        "refused": report.bad_rows,
        "committed": report.committed,
        "confirmed": report.confirmed,
        "asks_for_order_of_dates": report.either.as_ref().map(|either| json!({
            "line": either.line, "text": either.text,
        })),
        "added": report.created,
        "unknown_heads": report.unknown_heads,
        "notes": report.notes,
        "past_limits": report.past_limits.iter().map(|past| json!({
            "line": past.line, "value": past.value, "says": past.judgement,
        })).collect::<Vec<_>>(),
        "bad": report.bad.iter().map(|bad| json!({
            "line": bad.line, "column": bad.column, "reason": bad.reason,
        })).collect::<Vec<_>>(),
    })
}
