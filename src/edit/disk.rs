//! The file of a job: whether somebody else has changed it since, and why it cannot be written.

use std::fmt;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// How a file was when it was last read or written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    pub length: u64,
    pub modified: Option<SystemTime>,
    /// FNV-1a of its bytes.
    pub sum: u64,
}

impl Mark {
    /// Of a file that holds these bytes.
    pub fn of(path: &Path, bytes: &[u8]) -> Mark {
        Mark {
            length: bytes.len() as u64,
            modified: fs::metadata(path).and_then(|m| m.modified()).ok(),
            sum: sum(bytes),
        }
    }

    /// Whether the file holds something else by now. A file that is gone holds nothing to lose.
    pub fn is_changed(&self, path: &Path) -> bool {
        let Ok(now) = fs::metadata(path) else {
            return false;
        };
        if now.len() == self.length && now.modified().ok() == self.modified {
            return false;
        }
        // Touched is not changed.
        now.len() != self.length || fs::read(path).is_ok_and(|bytes| sum(&bytes) != self.sum)
    }
}

/// FNV-1a, 64 bits (public domain; constants from memory).
pub fn sum(bytes: &[u8]) -> u64 {
    bytes.iter().fold(0xcbf2_9ce4_8422_2325, |sum, byte| {
        (sum ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3)
    })
}

/// Why a job was not saved. The file is as it was.
#[derive(Debug)]
pub enum NotSaved {
    /// The job has no file yet: it must be saved under a name.
    NoFile,
    /// Another program, or person, has changed the file since it was read.
    ChangedMeanwhile(PathBuf),
    /// The file or its folder cannot be written.
    Unwritable { path: PathBuf, why: io::Error },
}

impl fmt::Display for NotSaved {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NotSaved::NoFile => write!(f, "this job has no file yet: save it under a name"),
            NotSaved::ChangedMeanwhile(path) => write!(
                f,
                "{} was changed by someone else since it was opened here: save under another name to keep both, or save over it",
                path.display()
            ),
            NotSaved::Unwritable { path, why } => {
                let folder = path
                    .parent()
                    .filter(|p| !p.as_os_str().is_empty())
                    .unwrap_or(Path::new("."))
                    .display();
                match why.kind() {
                    io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => write!(
                        f,
                        "the folder {folder} can only be read: save in another place ({why})"
                    ),
                    io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => write!(
                        f,
                        "there is no folder {folder}: save in another place ({why})"
                    ),
                    io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => write!(
                        f,
                        "there is no room left in {folder}: save in another place ({why})"
                    ),
                    _ => write!(
                        f,
                        "{} cannot be written: {why}; save in another place",
                        path.display()
                    ),
                }
            }
        }
    }
}

impl std::error::Error for NotSaved {}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sums_are_those_published() {
        // Test vectors of FNV-1a 64 (from memory).
        assert_eq!(sum(b""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(sum(b"a"), 0xaf63_dc4c_8601_ec8c);
    }

    #[test]
    fn errors_say_what_to_do() {
        let unwritable = |kind| NotSaved::Unwritable {
            path: "yard/job.ron".into(),
            why: kind,
        };
        for (kind, says) in [
            (
                io::ErrorKind::PermissionDenied,
                "the folder yard can only be read: save in another place",
            ),
            (
                io::ErrorKind::ReadOnlyFilesystem,
                "the folder yard can only be read: save in another place",
            ),
            (
                io::ErrorKind::NotFound,
                "there is no folder yard: save in another place",
            ),
            (io::ErrorKind::StorageFull, "there is no room left in yard"),
        ] {
            let text = unwritable(kind.into()).to_string();
            assert!(text.starts_with(says), "{text}");
        }
    }
}
