//! The bytes of photographs and files, in `files/` beside the database, each under the SHA-256 of
//! its content. A file is whole and on the disk before a row names it, and gets its name together
//! with the row; one that no row names does no harm. These functions wait for the disk: call them off the async threads.

use std::fs::{self, File};
use std::io::{self, Read as _, Write};
use std::path::{Path, PathBuf};
use std::time::Duration;

use sha2::{Digest, Sha256};
use tempfile::{NamedTempFile, TempPath};

/// What the names of files that are still coming in begin with.
const INCOMING: &str = "incoming-";
/// What the names of photographs begin with whose form came back.
const WAITING: &str = "incoming-photo-";
/// Bytes read at once.
const STEP: usize = 64 * 1024;

/// The folder with the contents.
#[derive(Debug, Clone)]
pub struct Contents {
    folder: PathBuf,
}

/// What was kept, and under which name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Content {
    /// 64 hexadecimal digits.
    pub hash: String,
    pub bytes: u64,
}

/// What is wrong with a content that a row names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ContentFault {
    Missing,
    Changed,
}

/// A content that is whole and on the disk, under no name yet; gone when dropped before it is
/// placed.
#[derive(Debug)]
pub struct Ready {
    file: NamedTempFile,
    pub content: Content,
}

/// A content that is being written; gone when dropped before it is kept.
#[derive(Debug)]
pub struct Draft {
    file: NamedTempFile,
    hasher: Sha256,
    bytes: u64,
}

impl Write for Draft {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.file.write(bytes)?;
        self.hasher.update(&bytes[..written]);
        self.bytes += written as u64;
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl Draft {
    /// Ends the writing.
    pub fn ready(self) -> io::Result<Ready> {
        let Self { file, hasher, bytes } = self;
        file.as_file().sync_all()?;
        Ok(Ready { file, content: Content { hash: hex(&hasher.finalize()), bytes } })
    }
}

impl Contents {
    /// The folder beside a database.
    pub fn beside(database: &Path) -> Self {
        Self { folder: database.with_file_name("files") }
    }

    /// A file for bytes that are not looked at yet; it is gone when dropped.
    pub fn incoming(&self) -> io::Result<NamedTempFile> {
        self.make()?;
        NamedTempFile::with_prefix_in(INCOMING, &self.folder)
    }

    pub fn draft(&self) -> io::Result<Draft> {
        Ok(Draft { file: self.incoming()?, hasher: Sha256::new(), bytes: 0 })
    }

    /// Ends a draft and puts it under its hash.
    pub fn keep(&self, draft: Draft) -> io::Result<Content> {
        let ready = draft.ready()?;
        let content = ready.content.clone();
        self.place(ready)?;
        Ok(content)
    }

    /// Puts a content under its hash. When this returns, it outlives a cut of the power.
    pub fn place(&self, ready: Ready) -> io::Result<()> {
        ready.file.persist(self.path(&ready.content.hash)).map_err(|cause| cause.error)?;
        File::open(&self.folder)?.sync_all()
    }

    /// Removes a content that was placed for a row which was not written.
    pub fn take_back(&self, hash: &str) -> io::Result<()> {
        fs::remove_file(self.path(hash))
    }

    /// Takes every content of another folder on the same disk into this one.
    pub(crate) fn take_over(&self, other: &Self) -> io::Result<()> {
        if !other.folder.is_dir() {
            return Ok(());
        }
        self.make()?;
        for entry in fs::read_dir(&other.folder)? {
            let entry = entry?;
            fs::rename(entry.path(), self.folder.join(entry.file_name()))?;
        }
        File::open(&self.folder)?.sync_all()
    }

    /// Bytes of a content, without reading it; none where it is not there.
    pub fn length(&self, hash: &str) -> Option<u64> {
        fs::metadata(self.path(hash)).ok().filter(fs::Metadata::is_file).map(|found| found.len())
    }

    /// Removes files that never came in whole and are older than `age`; gives how many.
    pub fn remove_unfinished(&self, age: Duration) -> io::Result<usize> {
        let entries = match fs::read_dir(&self.folder) {
            Ok(entries) => entries,
            Err(cause) if cause.kind() == io::ErrorKind::NotFound => return Ok(0),
            Err(cause) => return Err(cause),
        };
        let mut removed = 0;
        for entry in entries {
            let entry = entry?;
            let is_incoming = entry.file_name().to_string_lossy().starts_with(INCOMING);
            let modified = entry.metadata()?.modified()?;
            if is_incoming && modified.elapsed().is_ok_and(|old| old >= age) {
                fs::remove_file(entry.path())?;
                removed += 1;
            }
        }
        Ok(removed)
    }

    /// Keeps a table that a person looks at before it is taken. It is removed by age like a file
    /// that never came in whole.
    pub fn keep_table(&self, file: NamedTempFile, code: &str) -> io::Result<()> {
        file.persist(self.table(code)).map_err(|cause| cause.error)?;
        Ok(())
    }

    pub fn table(&self, code: &str) -> PathBuf {
        self.folder.join(format!("{INCOMING}table-{code}"))
    }

    pub fn forget_table(&self, code: &str) -> io::Result<()> {
        match fs::remove_file(self.table(code)) {
            Err(cause) if cause.kind() != io::ErrorKind::NotFound => Err(cause),
            _ => Ok(()),
        }
    }

    /// Keeps a photograph of a form that came back, under a name that only its sender can give
    /// again; not where so many files or bytes wait already. Removed by age like a file that never came in whole.
    pub fn keep_waiting(
        &self,
        file: NamedTempFile,
        name: &str,
        (most, most_bytes): (usize, u64),
    ) -> io::Result<bool> {
        let to = self.waiting(name);
        if !to.is_file() {
            let (count, bytes) = self.all_waiting()?;
            if count >= most || bytes + file.as_file().metadata()?.len() > most_bytes {
                return Ok(false);
            }
        }
        file.persist(to).map_err(|cause| cause.error)?;
        Ok(true)
    }

    /// Takes it up again: it is gone when dropped.
    pub fn take_waiting(&self, name: &str) -> io::Result<Option<NamedTempFile>> {
        let from = self.waiting(name);
        match File::open(&from) {
            Ok(file) => Ok(Some(NamedTempFile::from_parts(file, TempPath::try_from_path(from)?))),
            Err(cause) if cause.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(cause) => Err(cause),
        }
    }

    fn waiting(&self, name: &str) -> PathBuf {
        self.folder.join(format!("{WAITING}{name}"))
    }

    /// How many wait, and their bytes.
    fn all_waiting(&self) -> io::Result<(usize, u64)> {
        let (mut count, mut bytes) = (0, 0);
        for entry in fs::read_dir(&self.folder)? {
            let entry = entry?;
            if entry.file_name().to_string_lossy().starts_with(WAITING) {
                count += 1;
                // One that is taken up meanwhile waits no more.
                bytes += entry.metadata().map_or(0, |told| told.len());
            }
        }
        Ok((count, bytes))
    }

    /// Where the content with this hash stands.
    pub fn path(&self, hash: &str) -> PathBuf {
        self.folder.join(hash)
    }

    /// Whether a content is there, without reading it.
    pub fn has(&self, hash: &str) -> bool {
        self.path(hash).is_file()
    }

    /// Reads a content whole and holds it against its hash.
    pub fn judge(&self, hash: &str) -> io::Result<Option<ContentFault>> {
        let file = match File::open(self.path(hash)) {
            Ok(file) => file,
            Err(cause) if cause.kind() == io::ErrorKind::NotFound => {
                return Ok(Some(ContentFault::Missing));
            }
            Err(cause) => return Err(cause),
        };
        let (mut file, mut hasher, mut step) = (file, Sha256::new(), vec![0; STEP]);
        loop {
            match file.read(&mut step)? {
                0 => break,
                read => hasher.update(&step[..read]),
            }
        }
        Ok((hex(&hasher.finalize()) != hash).then_some(ContentFault::Changed))
    }

    /// Makes the folder for its owner alone.
    fn make(&self) -> io::Result<()> {
        let mut builder = fs::DirBuilder::new();
        builder.recursive(true);
        #[cfg(unix)]
        std::os::unix::fs::DirBuilderExt::mode(&mut builder, 0o700);
        builder.create(&self.folder)
    }
}

fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        // Writing to a String cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kept(contents: &Contents, bytes: &[u8]) -> Content {
        let mut draft = contents.draft().unwrap();
        draft.write_all(bytes).unwrap();
        contents.keep(draft).unwrap()
    }

    // Source: NIST FIPS 180-2, Secure Hash Standard, appendix B.1: SHA-256 of “abc”, 2002.
    const ABC: &str = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";

    #[test]
    fn a_content_stands_under_its_hash_once() {
        let folder = tempfile::tempdir().unwrap();
        let contents = Contents::beside(&folder.path().join("holdover.db"));
        let one = kept(&contents, b"abc");
        let again = kept(&contents, b"abc");
        assert_eq!(one, Content { hash: ABC.to_owned(), bytes: 3 });
        assert_eq!(one, again);
        let there: Vec<_> = fs::read_dir(folder.path().join("files")).unwrap().collect();
        assert_eq!(there.len(), 1);
        assert_eq!(fs::read(contents.path(ABC)).unwrap(), b"abc");
    }

    #[test]
    fn what_never_came_in_whole_is_removed_by_age_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let contents = Contents::beside(&folder.path().join("holdover.db"));
        assert_eq!(contents.remove_unfinished(Duration::ZERO).unwrap(), 0, "no folder yet");
        let Content { hash, .. } = kept(&contents, b"abc");
        let broken_off = folder.path().join("files").join("incoming-x1");
        fs::write(&broken_off, b"half").unwrap();
        assert_eq!(contents.remove_unfinished(Duration::from_hours(1)).unwrap(), 0);
        assert!(broken_off.exists(), "it may still be coming in");
        assert_eq!(contents.remove_unfinished(Duration::ZERO).unwrap(), 1);
        assert!(!broken_off.exists() && contents.has(&hash));
    }

    #[test]
    fn a_waiting_photograph_is_taken_up_once_and_no_more_wait_than_the_bound() {
        let folder = tempfile::tempdir().unwrap();
        let contents = Contents::beside(&folder.path().join("holdover.db"));
        let wait = |name: &str| {
            let mut file = contents.incoming().unwrap();
            file.write_all(b"picture").unwrap();
            contents.keep_waiting(file, name, (2, 20)).unwrap()
        };
        assert!(wait("one") && wait("two") && wait("two"), "the same once more takes no place");
        assert!(!wait("three"), "two wait already");
        assert!(contents.take_waiting("three").unwrap().is_none());
        let taken = contents.take_waiting("one").unwrap().unwrap();
        assert_eq!(fs::read(taken.path()).unwrap(), b"picture");
        drop(taken);
        assert!(contents.take_waiting("one").unwrap().is_none());
        let mut large = contents.incoming().unwrap();
        large.write_all(&[7; 14]).unwrap();
        assert!(!contents.keep_waiting(large, "large", (2, 20)).unwrap(), "7 and 14 are 21 bytes");
        assert_eq!(contents.remove_unfinished(Duration::ZERO).unwrap(), 1);
    }

    #[test]
    fn what_is_not_kept_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let contents = Contents::beside(&folder.path().join("holdover.db"));
        let mut draft = contents.draft().unwrap();
        draft.write_all(b"half of it").unwrap();
        drop(draft);
        drop(contents.incoming().unwrap());
        assert_eq!(fs::read_dir(folder.path().join("files")).unwrap().count(), 0);
    }

    #[test]
    fn a_content_that_is_gone_or_was_changed_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let contents = Contents::beside(&folder.path().join("holdover.db"));
        kept(&contents, b"abc");
        assert_eq!(contents.judge(ABC).unwrap(), None);
        fs::write(contents.path(ABC), b"abd").unwrap();
        assert_eq!(contents.judge(ABC).unwrap(), Some(ContentFault::Changed));
        // The same content sent in once more mends it.
        kept(&contents, b"abc");
        assert_eq!(contents.judge(ABC).unwrap(), None);
        fs::remove_file(contents.path(ABC)).unwrap();
        assert_eq!(contents.judge(ABC).unwrap(), Some(ContentFault::Missing));
    }
}
