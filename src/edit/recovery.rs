//! A copy of unsaved work, kept after every edit, for after a crash.
//!
//! One file for every job that is open, in a folder of the platform's own (or any other): a line of
//! JSON about it, then the text. It is written beside its place, synced and moved there, so it is
//! whole at any moment. A lock on a file beside it is held while the job is open and goes with the
//! process however that ends: copies without one were left behind, and are offered at the next
//! start. Saving or closing removes the copy.

use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, SystemTime, UNIX_EPOCH};

use serde::{Deserialize, Serialize};

use crate::edit::disk::{Mark, sum};
use crate::edit::editor::Editor;
use crate::job::document::write_whole;
use crate::places;

const KIND: &str = "recovery";

/// The copy of one open job.
#[derive(Debug)]
pub struct Recovery {
    copy: PathBuf,
    lock: PathBuf,
    /// Held until this is dropped, or the process ends.
    _held: File,
    /// The revision that was kept last.
    kept: Option<u64>,
}

/// What the first line of a copy says.
#[derive(Debug, Serialize, Deserialize)]
struct Head {
    /// The job's file; none for a job that was never saved.
    file: Option<PathBuf>,
    /// Seconds since 1970.
    kept_at: u64,
    /// Of the text below.
    length: usize,
    sum: u64,
    /// How the job's file was when it was read.
    file_length: Option<u64>,
    file_modified: Option<Duration>,
    file_sum: Option<u64>,
}

static COUNT: AtomicU32 = AtomicU32::new(0);

impl Recovery {
    /// The folder for copies in the platform's own place (such as `~/.local/share/brimline/recovery`).
    pub fn folder() -> io::Result<PathBuf> {
        places::kept(KIND)
    }

    /// Gets ready to keep copies of one job; nothing is written yet but the lock.
    pub fn start(folder: &Path) -> io::Result<Recovery> {
        fs::create_dir_all(folder)?;
        let stem = format!(
            "{}-{}-{}",
            now(),
            std::process::id(),
            COUNT.fetch_add(1, Ordering::Relaxed)
        );
        let lock = folder.join(format!("{stem}.lock"));
        let held = File::create(&lock)?;
        held.try_lock().map_err(|e| match e {
            TryLockError::Error(e) => e,
            TryLockError::WouldBlock => io::ErrorKind::ResourceBusy.into(),
        })?;
        Ok(Recovery {
            copy: folder.join(format!("{stem}.{KIND}")),
            lock,
            _held: held,
            kept: None,
        })
    }

    /// Keeps what is not saved yet. Call it after every edit (in a drag: when it ends). With
    /// nothing unsaved, the copy goes. `Ok(false)`: all was kept already.
    pub fn keep(&mut self, editor: &Editor) -> io::Result<bool> {
        if self.kept == Some(editor.revision()) && self.copy.exists() == editor.is_changed() {
            return Ok(false);
        }
        if editor.is_changed() {
            let mark = editor.mark();
            let head = Head {
                file: editor
                    .path()
                    .map(|p| std::path::absolute(p).unwrap_or_else(|_| p.to_path_buf())),
                kept_at: now(),
                length: editor.text().len(),
                sum: sum(editor.text().as_bytes()),
                file_length: mark.map(|m| m.length),
                file_modified: mark
                    .and_then(|m| m.modified)
                    .and_then(|t| t.duration_since(UNIX_EPOCH).ok()),
                file_sum: mark.map(|m| m.sum),
            };
            let mut bytes = serde_json::to_vec(&head).map_err(io::Error::other)?;
            bytes.push(b'\n');
            bytes.extend_from_slice(editor.text().as_bytes());
            write_whole(&self.copy, &bytes)?;
        } else {
            remove(&self.copy)?;
        }
        self.kept = Some(editor.revision());
        Ok(true)
    }

    /// The job is closed, saved or given up by its owner: the copy goes.
    pub fn close(self) -> io::Result<()> {
        remove(&self.copy)?;
        remove(&self.lock)
    }

    /// Copies whose owners are gone, the newest first. Offer them; nothing is opened by itself.
    pub fn left_behind(folder: &Path) -> Vec<LeftBehind> {
        let Ok(entries) = fs::read_dir(folder) else {
            return Vec::new();
        };
        let paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
        paths.iter().for_each(|path| sweep(path));
        let mut out: Vec<LeftBehind> = paths
            .iter()
            .filter(|path| path.extension().is_some_and(|e| e == KIND))
            .filter_map(|copy| LeftBehind::look(copy))
            .collect();
        out.sort_by_key(|left| std::cmp::Reverse(left.kept_at));
        out
    }
}

/// Unsaved work of a process that is gone.
#[derive(Debug)]
pub struct LeftBehind {
    copy: PathBuf,
    lock: PathBuf,
    /// Held, so that no second window offers it as well.
    _held: File,
    /// The job's file; `None` if it was never saved.
    pub file: Option<PathBuf>,
    /// When the copy was made.
    pub kept_at: SystemTime,
    /// Whether the job's file is not what the work began from.
    pub file_changed: bool,
    text: String,
    mark: Option<Mark>,
}

impl LeftBehind {
    fn look(copy: &Path) -> Option<LeftBehind> {
        let lock = copy.with_extension("lock");
        let held = File::options()
            .create(true)
            .truncate(false)
            .write(true)
            .open(&lock)
            .ok()?;
        held.try_lock().ok()?;
        let bytes = fs::read(copy).ok()?;
        let end = bytes.iter().position(|b| *b == b'\n')?;
        let head: Head = serde_json::from_slice(&bytes[..end]).ok()?;
        let text = String::from_utf8(bytes[end + 1..].to_vec()).ok()?;
        if text.len() != head.length || sum(text.as_bytes()) != head.sum {
            return None;
        }
        let mark = match (head.file_length, head.file_sum) {
            (Some(length), Some(sum)) => Some(Mark {
                length,
                sum,
                modified: head.file_modified.and_then(|d| UNIX_EPOCH.checked_add(d)),
            }),
            _ => None,
        };
        let file_changed = match (&head.file, &mark) {
            (Some(file), Some(mark)) => mark.is_changed(file),
            _ => false,
        };
        Some(LeftBehind {
            copy: copy.to_path_buf(),
            lock,
            _held: held,
            file: head.file,
            kept_at: UNIX_EPOCH
                .checked_add(Duration::from_secs(head.kept_at))
                .unwrap_or(UNIX_EPOCH),
            file_changed,
            text,
            mark,
        })
    }

    /// The work, as an editor with something to save. The copy stays until [`LeftBehind::discard`]:
    /// call that once the new editor's own copy is kept.
    pub fn open(&self) -> Editor {
        Editor::recovered(self.file.as_deref(), &self.text, self.mark.clone())
    }

    /// Throws the copy away.
    pub fn discard(self) -> io::Result<()> {
        remove(&self.copy)?;
        remove(&self.lock)
    }
}

/// Removes what a process left that ended with nothing unsaved, or in the middle of a write. Only if
/// it is old: somebody may be about to lock it, or to move it into its place.
fn sweep(path: &Path) {
    let age = fs::metadata(path)
        .and_then(|m| m.modified())
        .ok()
        .and_then(|t| t.elapsed().ok());
    let old = age.is_some_and(|age| age > Duration::from_secs(3600));
    let extension = path.extension().and_then(|e| e.to_str());
    let alone = match extension {
        Some("lock") => {
            !path.with_extension(KIND).exists()
                && File::open(path).is_ok_and(|file| file.try_lock().is_ok())
        }
        Some("tmp") => true,
        _ => false,
    };
    if old && alone {
        // Nothing is lost if it stays.
        let _ = fs::remove_file(path);
    }
}

fn now() -> u64 {
    SystemTime::now()
        .duration_since(UNIX_EPOCH)
        .map_or(0, |d| d.as_secs())
}

fn remove(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => Err(e),
        _ => Ok(()),
    }
}
