//! Reading the file of a table off the async threads, so that it runs beside the requests.

use async_recursion::async_recursion as boxed;
use std::io::{BufReader, BufWriter, Cursor, Read, Seek};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::Failure;
use exchange::table::{self, Reading, Row, Survey, TableError};
use exchange::xlsx::{self, Sheet};
use store::StoreError;
use tempfile::NamedTempFile;

/// Rows that are read at once.
const AT_ONCE: usize = 256;

/// Where a table stands.
#[derive(Debug, Clone)]
pub enum Given<'a> {
    Bytes(&'a [u8]),
    File(PathBuf),
}

/// Tells a run to end before it is through.
#[derive(Debug, Clone, Default)]
pub struct Stop(Arc<AtomicBool>);

impl Stop {
    pub fn now(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    pub(super) fn asked(&self) -> Result<(), Failure> {
        if self.0.load(Ordering::Relaxed) { Err(failure(TableError::Stopped)) } else { Ok(()) }
    }
}

trait Input: Read + Seek + Send {}
impl<T: Read + Seek + Send> Input for T {}

/// A file that was looked over and can be read again from its start.
pub(super) struct File {
    place: Place,
    pub survey: Survey,
}

#[derive(Clone)]
enum Place {
    Bytes(Arc<[u8]>),
    Path(PathBuf),
    /// Gone once nobody reads it.
    Passing(Arc<NamedTempFile>),
}

impl Place {
    fn open(&self) -> Result<Box<dyn Input>, TableError> {
        Ok(match self {
            Self::Bytes(bytes) => Box::new(Cursor::new(Arc::clone(bytes))),
            Self::Path(path) => Box::new(std::fs::File::open(path)?),
            Self::Passing(file) => Box::new(file.reopen()?),
        })
    }
}

impl File {
    #[boxed]
    pub(crate) async fn look_over(given: &Given<'_>, stop: &Stop) -> Result<Self, Failure> {
        let place = match given {
            Given::Bytes(bytes) => Place::Bytes((*bytes).into()),
            Given::File(path) => Place::Path(path.clone()),
        };
        let stop = Arc::clone(&stop.0);
        let (place, survey) = aside(move || {
            let (place, sheet) = unpacked(place, &stop)?;
            let mut there = place.open()?;
            let survey = match &sheet {
                Some(sheet) => table::survey_sheet(&mut there, sheet, &stop)?,
                None => table::survey(&mut there, &stop)?,
            };
            Ok((place, survey))
        })
        .await?;
        Ok(Self { place, survey })
    }

    /// How long it is as a table, for a workbook too.
    pub fn bytes(&self) -> std::io::Result<u64> {
        let of = |path: &std::path::Path| std::fs::metadata(path).map(|found| found.len());
        match &self.place {
            Place::Bytes(bytes) => Ok(bytes.len() as u64),
            Place::Path(path) => of(path),
            Place::Passing(file) => of(file.path()),
        }
    }

    pub async fn rows(&self) -> Result<Batches, Failure> {
        let (there, shape) = (self.place.clone(), self.survey.shape.clone());
        Ok(Batches(Some(aside(move || Reading::begin(there.open()?, &shape)).await?)))
    }
}

/// A workbook is read as the table of its first sheet that holds something, from a passing file.
fn unpacked(place: Place, stop: &AtomicBool) -> Result<(Place, Option<Sheet>), TableError> {
    let mut start = Vec::new();
    place.open()?.take(4).read_to_end(&mut start)?;
    if !xlsx::is_workbook(&start) {
        return Ok((place, None));
    }
    let mut text = BufWriter::new(NamedTempFile::new()?);
    let mut packed = BufReader::new(place.open()?);
    let sheet = xlsx::unpack(&mut packed, &mut text, stop)?;
    let text = text.into_inner().map_err(std::io::IntoInnerError::into_error)?;
    Ok((Place::Passing(Arc::new(text)), Some(sheet)))
}

/// The good rows, some at a time.
pub(super) struct Batches(Option<Reading<Box<dyn Input>>>);

impl Batches {
    /// The next rows; none at the end.
    pub async fn next(&mut self) -> Result<Vec<Row>, Failure> {
        let Some(mut reading) = self.0.take() else { return Ok(Vec::new()) };
        let (reading, batch) = aside(move || {
            let batch = reading.batch(AT_ONCE)?;
            Ok((reading, batch))
        })
        .await?;
        self.0 = Some(reading);
        Ok(batch)
    }
}

async fn aside<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, TableError> + Send + 'static,
) -> Result<T, Failure> {
    let done = tokio::task::spawn_blocking(work).await;
    done.map_err(|cause| StoreError::Files(std::io::Error::other(cause)))?.map_err(failure)
}

/// A table that cannot be read is the matter of the field in which it was chosen.
fn failure(cause: TableError) -> Failure {
    match cause {
        TableError::Stopped => Failure::Refused(cause.to_string()),
        cause => Failure::field("file", cause.to_string()),
    }
}
