//! The field book on the desk: what it lies open at, and the questions that lie over it.

use std::path::PathBuf;

use bevy::prelude::*;

use crate::edit::Address;

use super::figures::Figures;
use super::memory::Memory;
use super::panel::Page;
use super::panel::sheets::Sheets;

/// A question that lies over the book until it is answered.
#[derive(Debug, Clone)]
pub enum Paper {
    /// Under which name?
    Save(String),
    /// Which file?
    Open(String),
    /// There are unsaved changes: what then?
    Leave(Then),
    /// Unsaved work was found: take it up?
    Found,
    /// Another program has changed the file: which of the two?
    Changed,
}

/// What was about to happen when unsaved changes were noticed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Then {
    Close,
    New,
    Open(PathBuf),
}

/// What the panel needs besides the yard.
#[derive(Resource)]
pub struct Book {
    pub title: String,
    pub figures: Figures,
    /// The page it lies open at.
    pub page: Page,
    /// Whether the page of keys lies open.
    pub keys: bool,
    /// The sheet for the crew that lies over the yard.
    pub(super) sheets: Sheets,
    /// The slip of the first day that lies over the yard.
    pub(super) guide: Option<usize>,
    /// What is kept from day to day, and the job's file that it holds already.
    pub(super) memory: Memory,
    pub(super) remembered: Option<PathBuf>,
    /// A slip of paper lying over the book: a file's name is asked for.
    pub paper: Option<Paper>,
    /// The thing of the job that is picked, in the yard or on a page. Kept only as long as the
    /// job's items stay where they are: an edit that moves them must mend it.
    pub picked: Option<Address>,
    /// The finding last clicked.
    pub chosen: Option<usize>,
    /// The visit that the camera has gone to.
    pub(super) visited: Option<usize>,
    /// The yard lies elsewhere than before: the camera goes there.
    pub elsewhere: bool,
    /// Frames in which everything is still settling in.
    pub(super) settling: u32,
    pub(super) styled: bool,
}

impl Book {
    /// The window is closed: its size is kept for the next time.
    pub(super) fn remember(&mut self, window: &Window) {
        self.memory.size = Some((window.width() as u32, window.height() as u32));
        self.memory.save();
    }

    /// A few more frames, for what comes up late.
    pub fn settle(&mut self) {
        self.settling = self.settling.max(6);
    }
}
