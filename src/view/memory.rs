//! What the window remembers from one day to the next, in the platform's own place for settings.

use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use crate::places;

/// As many jobs as are offered again.
const MOST: usize = 8;

#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Memory {
    /// Jobs opened or saved, the last one first.
    pub recent: Vec<PathBuf>,
    /// Size of the window when it was closed, in points.
    pub size: Option<(u32, u32)>,
    /// Times that the writing is larger than usual.
    pub scale: Option<f32>,
    /// The slips of the first day were put away.
    pub guided: bool,
}

impl Memory {
    fn file() -> Option<PathBuf> {
        places::settings("window.json").ok()
    }

    /// What was kept; nothing, where nothing was or it cannot be read.
    pub fn load() -> Memory {
        Memory::file()
            .and_then(|file| std::fs::read(file).ok())
            .and_then(|bytes| serde_json::from_slice(&bytes).ok())
            .unwrap_or_default()
    }

    /// Keeps it. Where that cannot be done the next day simply starts afresh.
    pub fn save(&self) {
        let Some(file) = Memory::file() else { return };
        let Ok(bytes) = serde_json::to_vec_pretty(self) else {
            return;
        };
        if let Some(folder) = file.parent() {
            let _ = std::fs::create_dir_all(folder);
        }
        let _ = std::fs::write(file, bytes);
    }

    /// A job was opened or saved.
    pub fn note(&mut self, path: &Path) {
        let path = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
        self.recent.retain(|p| *p != path);
        self.recent.insert(0, path);
        self.recent.truncate(MOST);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_job_comes_first_and_each_once() {
        let mut memory = Memory::default();
        for k in 0..12 {
            memory.note(Path::new(&format!("/yards/{k}.ron")));
        }
        memory.note(Path::new("/yards/7.ron"));
        let names: Vec<_> = memory
            .recent
            .iter()
            .map(|p| p.display().to_string())
            .collect();
        assert_eq!(names.len(), MOST);
        assert_eq!(names[..2], ["/yards/7.ron", "/yards/11.ron"]);
        assert_eq!(names.iter().filter(|n| n.ends_with("/7.ron")).count(), 1);
    }

    #[test]
    fn what_another_version_wrote_is_read_as_far_as_it_goes() {
        let memory: Memory =
            serde_json::from_str(r#"{"size":[900,700],"colour":"none"}"#).expect("readable");
        assert_eq!(memory.size, Some((900, 700)));
        assert!(memory.recent.is_empty());
    }
}
