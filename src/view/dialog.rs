//! The desktop's own dialog for a file's name, beside our slip: whichever answers first counts.
//!
//! On Linux it is asked for through the desktop's portal. Where no portal answers, the slip is there
//! all the same. The dialog waits on a thread of its own; its answer is taken up in the next frame,
//! which comes when the window has the focus again.

use std::path::{Path, PathBuf};

use bevy::ecs::system::NonSendMarker;
use bevy::prelude::*;
use bevy::tasks::{IoTaskPool, Task, block_on, poll_once};

use super::book::{Book, Paper, Then};
use super::panel;
use super::work::Work;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ask {
    Open,
    Save,
}

#[derive(Resource, Default)]
pub struct Dialog {
    wanted: Option<Ask>,
    out: Option<(Ask, Task<Option<PathBuf>>)>,
}

impl Dialog {
    pub fn ask(&mut self, what: Ask) {
        self.wanted = Some(what);
    }

    pub fn is_out(&self) -> bool {
        self.out.is_some()
    }
}

/// Opens what was asked for, and takes the answer.
pub fn keep(
    // Some systems show dialogs from the main thread only.
    _main: NonSendMarker,
    mut dialog: ResMut<Dialog>,
    (mut book, mut work): (ResMut<Book>, ResMut<Work>),
) {
    if let Some(what) = dialog.wanted.take()
        && dialog.out.is_none()
    {
        let job = work.editor.path().map(Path::to_path_buf);
        let mut form = rfd::AsyncFileDialog::new().add_filter("Brimline job", &["ron"]);
        if let Some(folder) = job.as_deref().and_then(Path::parent)
            && let Ok(folder) = std::path::absolute(folder)
        {
            form = form.set_directory(folder);
        }
        let task = match what {
            Ask::Open => {
                let answer = form.set_title("Open a job").pick_file();
                IoTaskPool::get().spawn(async move { Some(answer.await?.path().to_path_buf()) })
            }
            Ask::Save => {
                let name = work.wished_file();
                let answer = form
                    .set_title("Save the job")
                    .set_file_name(name)
                    .save_file();
                IoTaskPool::get().spawn(async move { Some(answer.await?.path().to_path_buf()) })
            }
        };
        dialog.out = Some((what, task));
    }
    let Some((what, task)) = &mut dialog.out else {
        return;
    };
    let what = *what;
    let Some(answer) = block_on(poll_once(task)) else {
        return;
    };
    dialog.out = None;
    // Called off, or there is no dialog here: the slip stays.
    let Some(path) = answer else { return };
    let still = matches!(
        (what, &book.paper),
        (Ask::Open, Some(Paper::Open(_))) | (Ask::Save, Some(Paper::Save(_)))
    );
    if !still {
        return;
    }
    book.paper = match what {
        Ask::Open if work.editor.is_changed() => Some(Paper::Leave(Then::Open(path))),
        Ask::Open if panel::slip::take_file(&path, &mut work) => None,
        Ask::Open => Some(Paper::Open(path.display().to_string())),
        Ask::Save => {
            let path = panel::slip::with_ending(path);
            let name = path.display().to_string();
            (!work.save_as(path)).then_some(Paper::Save(name))
        }
    };
}
