//! The photographs that come with the form of an attempt: looked at first, named by the attempt once
//! it is recorded. Those of a form that comes back wait for it.

use crate::extract::Fields;
use crate::received::{Received, SentFile};
use crate::visitor::Viewer;
use app::files::{self, Looked};
use app::read::StoreError;
use app::work::Work;
use app::{App, Failure, waiting_photos};
use domain::bounds::{MAX_FORM_FILES, MAX_UPLOAD_HOURS};
use domain::cells::{Cells, FieldError};
use domain::files::{shown_name, size_words};

/// The field that names the photographs which wait, beside the one in which new ones are chosen.
const WAITING: &str = "kept_photo";
const CHOSEN: &str = "photo";

/// A photograph that waits, as its form shows it.
#[derive(Debug, Clone)]
pub(crate) struct WaitingPhoto {
    /// What the form sends back for it: its hash and its name.
    pub value: String,
    pub words: String,
}

/// Photographs that were looked at: those that are fit, each with the file that came, and what is
/// wrong with the others.
#[derive(Default)]
pub(crate) struct Photos {
    fit: Vec<(SentFile, Looked)>,
    pub wrong: Vec<FieldError>,
}

/// What to keep, the files that came, which wait where it cannot be kept, and what is wrong.
pub(crate) struct Apart {
    pub looked: Vec<Looked>,
    pub sent: Vec<SentFile>,
    pub wrong: Vec<FieldError>,
}

impl Photos {
    pub fn apart(self) -> Apart {
        let (sent, looked) = self.fit.into_iter().unzip();
        Apart { looked, sent, wrong: self.wrong }
    }
}

/// What is wrong where more files came than one form may bring; none of them is kept.
pub(crate) fn too_many(beyond: Option<&str>) -> Option<FieldError> {
    let words = format!(
        "More than {MAX_FORM_FILES} photographs came with this form, so none of them is kept. Add \
         at most {MAX_FORM_FILES} now and the others afterwards."
    );
    beyond.map(|field| FieldError::new(field, words))
}

/// Looks at the photographs of a form, those that waited for it among them.
pub(crate) async fn look(
    app: &App,
    viewer: &Viewer,
    received: &mut Received,
) -> Result<Photos, Failure> {
    let sent = std::mem::take(&mut received.files);
    let (waited, wrong) = taken_up(app, viewer, &received.fields).await?;
    let mut photos = Photos { wrong, ..Photos::default() };
    let room = MAX_FORM_FILES.saturating_sub(sent.len());
    if received.beyond.is_none()
        && let Some(one) = waited.get(room)
    {
        received.beyond = Some(one.field.clone());
    }
    photos.wrong.extend(too_many(received.beyond.as_deref()));
    for one in waited.into_iter().chain(sent) {
        look_at(app, one, &mut photos).await?;
    }
    Ok(photos)
}

async fn look_at(app: &App, sent: SentFile, photos: &mut Photos) -> Result<(), Failure> {
    let most = app.config.file_limit;
    let SentFile { field, name, file, bytes } = &sent;
    if *bytes > most {
        let most = size_words(i64::try_from(most).unwrap_or(i64::MAX));
        let why = format!("{name} is larger than {most}. Make it smaller, then add it again.");
        photos.wrong.push(FieldError::new(field, why));
        return Ok(());
    }
    match files::look_at(app, file.reopen().map_err(StoreError::from)?, name).await {
        Ok(looked) => photos.fit.push((sent, looked)),
        Err(Failure::Invalid(errors)) => photos.wrong.extend(
            errors
                .into_iter()
                .map(|error| FieldError::new(field.clone(), format!("{name}: {}", error.message))),
        ),
        Err(other) => return Err(other),
    }
    Ok(())
}

/// The photographs that waited for this form, and what is said of those that no longer wait.
async fn taken_up(
    app: &App,
    viewer: &Viewer,
    fields: &Fields,
) -> Result<(Vec<SentFile>, Vec<FieldError>), Failure> {
    let (mut files, mut wrong) = (Vec::new(), Vec::new());
    let named = fields.0.iter().filter_map(|(field, value)| {
        let start = field.strip_suffix(WAITING)?;
        let (hash, name) = value.split_once(' ')?;
        Some((format!("{start}{CHOSEN}"), hash, shown_name(name).to_string()))
    });
    for (field, hash, name) in named.take(MAX_FORM_FILES + 1) {
        if let Some((file, bytes)) = waiting_photos::take(app, &viewer.actor, hash).await? {
            let bytes = usize::try_from(bytes).unwrap_or(usize::MAX);
            files.push(SentFile { field, name, file, bytes });
        } else {
            let why = format!("{name} is no longer kept. Choose it again.");
            wrong.push(FieldError::new(field, why));
        }
    }
    Ok((files, wrong))
}

/// Lets photographs wait for the form that comes back; says of which field those are that cannot.
pub(crate) async fn wait(
    app: &App,
    viewer: &Viewer,
    sent: Vec<SentFile>,
) -> Result<(Vec<WaitingPhoto>, Vec<FieldError>), Failure> {
    let (mut waiting, mut wrong) = (Vec::new(), Vec::new());
    for SentFile { field, name, file, bytes } in sent {
        let name = shown_name(&name);
        let Some(hash) = waiting_photos::keep(app, &viewer.actor, file).await? else {
            let why = format!("{name} is not kept: too many photographs wait. Choose it again.");
            wrong.push(FieldError::new(field, why));
            continue;
        };
        let size = size_words(i64::try_from(bytes).unwrap_or(i64::MAX));
        let words = format!("{name}, {size}, kept for {MAX_UPLOAD_HOURS} hours");
        waiting.push(WaitingPhoto { value: format!("{hash} {name}"), words });
    }
    Ok((waiting, wrong))
}

/// The photographs of the rows of a debrief, by the start of the names of their fields, so that a
/// bad one keeps no other row's away.
pub(crate) fn of_rows(photos: Photos) -> Vec<(String, Photos)> {
    let mut rows: Vec<(String, Photos)> = Vec::new();
    for one in photos.fit {
        let Some(prefix) = one.0.field.strip_suffix("-photo").map(str::to_owned) else { continue };
        match rows.iter_mut().find(|(known, _)| *known == prefix) {
            Some((_, row)) => row.fit.push(one),
            None => rows.push((prefix, Photos { fit: vec![one], ..Photos::default() })),
        }
    }
    rows
}

/// Lets a recorded attempt name them.
pub(crate) async fn keep(
    work: &mut Work,
    attempt: &str,
    looked: Vec<Looked>,
) -> Result<(), Failure> {
    let mut cells = Cells::default();
    cells.set("attempt", attempt);
    for one in looked {
        files::add(work, one, &cells).await?;
    }
    Ok(())
}
