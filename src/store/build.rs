//! Makes the schema against which the compiler checks every query.

use std::error::Error;
use std::path::{Path, PathBuf};
use std::{env, fs};

use sqlx::migrate::Migrator;
use sqlx::{Connection, SqliteConnection};

const MIGRATIONS: &str = "../../migrations";

fn main() -> Result<(), Box<dyn Error>> {
    let out = PathBuf::from(env::var("OUT_DIR")?);
    tokio::runtime::Builder::new_current_thread().enable_all().build()?.block_on(schema(&out))
}

/// Runs the migrations into a fresh file and tells the query macros where it is.
async fn schema(out: &Path) -> Result<(), Box<dyn Error>> {
    println!("cargo::rerun-if-changed={MIGRATIONS}");
    let file = out.join("schema.db");
    if file.exists() {
        fs::remove_file(&file)?;
    }
    let url = format!("sqlite://{}", file.display());
    let mut db = SqliteConnection::connect(&format!("{url}?mode=rwc")).await?;
    Migrator::new(Path::new(MIGRATIONS)).await?.run(&mut db).await?;
    db.close().await?;
    println!("cargo::rustc-env=DATABASE_URL={url}");
    Ok(())
}
