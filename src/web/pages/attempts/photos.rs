//! The photographs that come with the form of an attempt: looked at first, named by the attempt once
//! it is recorded.

use crate::received::SentFile;
use app::files::{self, Looked};
use app::work::Work;
use app::{App, Failure};
use domain::bounds::MAX_FORM_FILES;
use domain::cells::{Cells, FieldError};
use domain::files::size_words;

/// What is wrong where more files came than one form may bring; none of them is kept.
pub(crate) fn too_many(beyond: Option<&str>) -> Option<FieldError> {
    let words = format!(
        "More than {MAX_FORM_FILES} photographs came with this form, so none of them is kept. Add \
         at most {MAX_FORM_FILES} now and the others afterwards."
    );
    beyond.map(|field| FieldError::new(field, words))
}

/// Looks at every file of one field; what is wrong with any of them is said of that field.
pub(crate) async fn look(app: &App, sent: Vec<SentFile>) -> Result<Vec<Looked>, Failure> {
    let most = app.config.file_limit;
    let mut looked = Vec::new();
    let mut wrong: Vec<FieldError> = Vec::new();
    for SentFile { field, name, file, bytes } in sent {
        if bytes > most {
            let most = size_words(i64::try_from(most).unwrap_or(i64::MAX));
            let why = format!("{name} is larger than {most}. Make it smaller, then add it again.");
            wrong.push(FieldError::new(field, why));
            continue;
        }
        match files::look_at(app, file, &name).await {
            Ok(one) => looked.push(one),
            Err(Failure::Invalid(errors)) => {
                wrong.extend(errors.into_iter().map(|error| {
                    FieldError::new(field.clone(), format!("{name}: {}", error.message))
                }));
            }
            Err(other) => return Err(other),
        }
    }
    if wrong.is_empty() { Ok(looked) } else { Err(Failure::Invalid(wrong)) }
}

/// The photographs of the rows of a debrief, by the start of the names of their fields.
#[derive(Default)]
pub(crate) struct RowPhotos {
    pub looked: Vec<(String, Vec<Looked>)>,
    pub wrong: Vec<FieldError>,
}

/// Looks at the photographs of each row apart, so that a bad one keeps no other row's away.
pub(crate) async fn of_rows(app: &App, sent: Vec<SentFile>) -> Result<RowPhotos, Failure> {
    let mut all = RowPhotos::default();
    for one in sent {
        let Some(prefix) = one.field.strip_suffix("-photo").map(str::to_owned) else { continue };
        match look(app, vec![one]).await {
            Ok(looked) => match all.looked.iter_mut().find(|(known, _)| *known == prefix) {
                Some((_, photos)) => photos.extend(looked),
                None => all.looked.push((prefix, looked)),
            },
            Err(Failure::Invalid(wrong)) => all.wrong.extend(wrong),
            Err(other) => return Err(other),
        }
    }
    Ok(all)
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
