//! Makes an empty database from `migrations/`, so that every query is checked when we compile.

use std::env;
use std::error::Error;
use std::fs;
use std::path::Path;

use sqlx::migrate::Migrator;
use sqlx::{Connection, SqliteConnection};

fn main() -> Result<(), Box<dyn Error>> {
    tokio::runtime::Builder::new_current_thread().enable_all().build()?.block_on(schema())
}

async fn schema() -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed=migrations");
    let file = Path::new(&env::var("OUT_DIR")?).join("schema.db");
    if file.exists() {
        fs::remove_file(&file)?;
    }
    let url = format!("sqlite://{}", file.display());
    let mut db = SqliteConnection::connect(&format!("{url}?mode=rwc")).await?;
    Migrator::new(Path::new("migrations")).await?.run(&mut db).await?;
    db.close().await?;
    println!("cargo::rustc-env=DATABASE_URL={url}");
    Ok(())
}
