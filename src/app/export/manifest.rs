//! The manifest of an export: what each file is, how long it is and what it hashes to; and holding an
//! export against it.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, Read as _};
use std::path::Path;

use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};

use super::cells::hex;
use super::{FILES, MANIFEST, broken};
use crate::Failure;
use store::StoreError;

pub(super) const FORMAT: &str = "holdover export";
pub(super) const FORMAT_VERSION: u32 = 1;

/// What stands in an export.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Manifest {
    pub format: String,
    pub format_version: u32,
    /// The schema of the database that it was read from.
    pub schema: i64,
    pub made_at: String,
    pub tables: Vec<TableFile>,
    pub files: Vec<Attached>,
    /// SHA-256 over everything above.
    pub seal: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TableFile {
    pub file: String,
    pub table: String,
    pub rows: u64,
    pub bytes: u64,
    pub sha256: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Attached {
    pub sha256: String,
    pub bytes: u64,
}

impl Manifest {
    pub(super) fn sealed(mut self) -> Self {
        self.seal = self.worked_out_seal();
        self
    }

    fn worked_out_seal(&self) -> String {
        let mut hasher = Sha256::new();
        let head =
            format!("{} {} {} {}\n", self.format, self.format_version, self.schema, self.made_at);
        hasher.update(head);
        for one in &self.tables {
            let line =
                format!("{} {} {} {} {}\n", one.file, one.table, one.rows, one.bytes, one.sha256);
            hasher.update(line);
        }
        for one in &self.files {
            hasher.update(format!("{} {}\n", one.sha256, one.bytes));
        }
        hex(&hasher.finalize())
    }

    pub fn rows(&self) -> u64 {
        self.tables.iter().map(|table| table.rows).sum()
    }

    pub fn bytes(&self) -> u64 {
        let tables = self.tables.iter().map(|table| table.bytes);
        tables.chain(self.files.iter().map(|file| file.bytes)).sum()
    }
}

/// Reads a manifest and holds every file against it. What is wrong is said file by file.
pub(super) fn verified(folder: &Path) -> Result<Manifest, Failure> {
    let path = folder.join(MANIFEST);
    let text = fs::read_to_string(&path).map_err(|cause| {
        broken(format!(
            "{} cannot be read ({cause}). Name the folder that `holdover export` wrote; an export \
             that broke off has no manifest.",
            path.display()
        ))
    })?;
    let manifest: Manifest = serde_json::from_str(&text).map_err(|cause| {
        broken(format!("{MANIFEST} is truncated or was edited ({cause}). Export again."))
    })?;
    if manifest.format != FORMAT || manifest.format_version != FORMAT_VERSION {
        return Err(broken(format!(
            "{MANIFEST} says “{}” version {}; this program reads “{FORMAT}” version \
             {FORMAT_VERSION}.",
            manifest.format, manifest.format_version
        )));
    }
    let mut wrong = Vec::new();
    if manifest.seal != manifest.worked_out_seal() {
        wrong.push(format!("{MANIFEST} was edited after it was written"));
    }
    let tables = manifest.tables.iter().map(|one| (one.file.clone(), one.bytes, &one.sha256));
    let files = manifest
        .files
        .iter()
        .map(|one| (format!("{FILES}/{}", one.sha256), one.bytes, &one.sha256));
    for (name, bytes, sha256) in tables.chain(files) {
        match digest(&folder.join(&name)) {
            Err(cause) => wrong.push(format!("{name} cannot be read ({cause})")),
            Ok((there, _)) if there < bytes => {
                wrong.push(format!("{name} is truncated: {there} of {bytes} bytes"));
            }
            Ok((_, found)) if found != *sha256 => wrong.push(format!("{name} was edited")),
            Ok(_) => {}
        }
    }
    let known: BTreeSet<&str> = manifest.tables.iter().map(|one| one.file.as_str()).collect();
    for entry in fs::read_dir(folder).map_err(StoreError::from)? {
        let entry = entry.map_err(StoreError::from)?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if Path::new(&name).extension().is_some_and(|end| end == "csv")
            && !known.contains(name.as_str())
        {
            wrong.push(format!("{name} is not in the manifest"));
        }
    }
    if wrong.is_empty() {
        return Ok(manifest);
    }
    Err(broken(format!("Nothing was restored. {}.", wrong.join("; "))))
}

/// Length and SHA-256 of a file.
fn digest(path: &Path) -> io::Result<(u64, String)> {
    let mut file = File::open(path)?;
    let (mut hasher, mut bytes, mut step) = (Sha256::new(), 0_u64, vec![0; 64 * 1024]);
    loop {
        match file.read(&mut step)? {
            0 => return Ok((bytes, hex(&hasher.finalize()))),
            read => {
                hasher.update(&step[..read]);
                bytes += read as u64;
            }
        }
    }
}
