//! Files as the pages of other records show them: a strip of previews and names.

use app::read::Connection;

use crate::addresses;
use crate::visitor::Viewer;
use app::Failure;
use app::read::files;
use domain::files::{File, PREVIEW, reduced, size_words};
use domain::kinds::Kind;
use domain::roles::{Action, may};

/// One file in a strip.
#[derive(Debug, Clone)]
pub(crate) struct FileView {
    pub code: String,
    pub address: String,
    /// Where the whole content is.
    pub content: String,
    pub caption: String,
    pub name: String,
    pub on_paper: bool,
    /// `PDF, 310 kB`.
    pub about: String,
    pub preview: Option<Preview>,
}

#[derive(Debug, Clone)]
pub(crate) struct Preview {
    pub address: String,
    pub width: u32,
    pub height: u32,
    /// What it shows, for those who do not see it.
    pub words: String,
}

impl FileView {
    pub fn of(file: &File) -> Self {
        let code = file.code.0.to_string();
        let address = addresses::of(Kind::File, &code);
        let caption = file.caption.as_ref().map_or_else(String::new, ToString::to_string);
        let preview = file.width.zip(file.height).map(|(width, height)| {
            let side = |side| u32::try_from(side).unwrap_or(1);
            let (width, height) = reduced((side(width), side(height)), PREVIEW);
            let words = if caption.is_empty() {
                format!("{}, without a caption", file.name)
            } else {
                caption.clone()
            };
            let shown = file.preview.as_ref().map_or("", |hash| hash.as_str());
            Preview { address: of_version(&address, "preview", shown), width, height, words }
        });
        Self {
            content: of_version(&address, "content", file.hash.as_str()),
            address,
            caption,
            name: file.name.to_string(),
            on_paper: file.on_paper && file.media.is_picture(),
            about: format!("{}, {}", file.media, size_words(file.bytes)),
            preview,
            code,
        }
    }
}

/// An address that changes with the content, so that a browser may keep what it got there.
fn of_version(address: &str, part: &str, hash: &str) -> String {
    format!("{address}/{part}?v={}", version_of(hash))
}

/// So much of a hash as tells two contents of one file apart.
pub(super) fn version_of(hash: &str) -> &str {
    hash.get(..16).unwrap_or(hash)
}

/// The photographs and files of one record, and where one is added.
#[derive(Debug, Clone)]
pub(crate) struct Evidence {
    pub files: Vec<FileView>,
    /// For those who may.
    pub add: Option<String>,
}

impl Evidence {
    /// Of a record of a kind that has files; nothing for the others.
    pub async fn of(
        db: &mut Connection,
        viewer: &Viewer,
        kind: Kind,
        code: &str,
    ) -> Result<Option<Self>, Failure> {
        let Some(column) = column_of(kind) else { return Ok(None) };
        let files = files::of_record(db, kind, code).await?;
        Ok(Some(Self {
            files: files.iter().map(FileView::of).collect(),
            add: may(viewer.actor.role, Action::KeepFiles)
                .then(|| format!("/files/new?{column}={}", addresses::encoded(code))),
        }))
    }

    /// Whether any of them prints.
    pub fn is_on_paper(&self) -> bool {
        any_prints(&self.files)
    }
}

/// Whether any of them stands on paper.
pub(crate) fn any_prints(files: &[FileView]) -> bool {
    files.iter().any(|file| file.on_paper)
}

/// The column in which a file names a record of that kind.
const fn column_of(kind: Kind) -> Option<&'static str> {
    match kind {
        Kind::Attempt => Some("attempt"),
        Kind::Finding => Some("finding"),
        Kind::OutsideItem => Some("outside_item"),
        _ => None,
    }
}
