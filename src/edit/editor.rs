//! A job being edited: its text, the last good job that the text made, and its history.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::edit::disk::{Mark, NotSaved};
use crate::edit::draft::Draft;
use crate::edit::edit::Edit;
use crate::edit::find;
use crate::edit::history::{Done, History};
use crate::edit::known::Known;
use crate::edit::make::make;
use crate::edit::refused::Refused;
use crate::edit::template;
use crate::job::document::{text_of, write_whole};
use crate::job::{Document, Job, JobErrors, Problem, Unit};

/// A job being edited.
///
/// The text may be broken at any time: then [`Editor::job`] is still the last good job, and
/// [`Editor::problems`] say what is wrong, and where.
#[derive(Debug)]
pub struct Editor {
    pub(crate) text: String,
    name: String,
    path: Option<PathBuf>,
    mark: Option<Mark>,
    history: History,
    job: Option<Arc<Job>>,
    errors: Option<JobErrors>,
    known: Known,
    revision: u64,
}

/// What an edit came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Outcome {
    /// The text is another one.
    Changed,
    /// All was written so already; there is no step to undo.
    AsBefore,
}

impl Editor {
    /// A new, empty job without a file.
    pub fn new_job(name: &str, unit: Unit) -> Editor {
        Editor::of_text("new job", &template::empty_job(name, unit))
    }

    /// Any text, good or not, without a file. Errors call it `name`.
    pub fn of_text(name: &str, text: &str) -> Editor {
        let mut editor = Editor {
            text: text.to_string(),
            name: name.to_string(),
            path: None,
            mark: None,
            history: History::new(),
            job: None,
            errors: None,
            known: Known::default(),
            revision: 0,
        };
        editor.read();
        editor
    }

    /// Opens a file, also one with mistakes in it. Fails if it cannot be read as text.
    pub fn open(path: &Path) -> Result<Editor, JobErrors> {
        let text = text_of(path)?;
        let mut editor = Editor::of_text(&path.display().to_string(), &text);
        editor.mark = Some(Mark::of(path, text.as_bytes()));
        editor.path = Some(path.to_path_buf());
        Ok(editor)
    }

    /// A text that was found again after a crash: it is of this file, and not saved.
    pub(crate) fn recovered(path: Option<&Path>, text: &str, mark: Option<Mark>) -> Editor {
        let name = path.map_or("new job".to_string(), |p| p.display().to_string());
        let mut editor = Editor::of_text(&name, text);
        editor.path = path.map(Path::to_path_buf);
        editor.mark = mark;
        editor.history = History::unsaved();
        editor
    }

    // ------------------------------------------------------------ what there is

    /// The text as it stands.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The file, or what errors call a job without one.
    pub fn name(&self) -> &str {
        &self.name
    }

    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    pub(crate) fn mark(&self) -> Option<&Mark> {
        self.mark.as_ref()
    }

    /// The last good job: what the plan is made of. `None` only if the text never was good.
    pub fn job(&self) -> Option<&Arc<Job>> {
        self.job.as_ref()
    }

    /// Whether the text makes a job as it stands, so that [`Editor::job`] is up to date.
    pub fn is_good(&self) -> bool {
        self.errors.is_none()
    }

    /// What is wrong with the text as it stands; spans are bytes of [`Editor::text`].
    pub fn problems(&self) -> &[Problem] {
        self.errors.as_ref().map_or(&[], |e| &e.problems)
    }

    /// The same, for printing.
    pub fn errors(&self) -> Option<&JobErrors> {
        self.errors.as_ref()
    }

    /// Counts every change of the text, undo and redo included.
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// Whether there is something to save.
    pub fn is_changed(&self) -> bool {
        self.history.is_changed()
    }

    pub fn history(&self) -> &History {
        &self.history
    }

    // ------------------------------------------------------------ changing it

    /// Makes an edit, as one step.
    pub fn apply(&mut self, edit: &Edit) -> Result<Outcome, Refused> {
        self.make(edit, None)
    }

    /// Makes an edit as part of a gesture: a drag, or typing in one cell. As long as edits come
    /// with the same gesture, each replaces the one before, made anew from where the gesture began;
    /// all together are one step. Any other edit, undo, save or [`Editor::end_gesture`] ends it.
    pub fn apply_as(&mut self, gesture: &str, edit: &Edit) -> Result<Outcome, Refused> {
        self.make(edit, Some(gesture))
    }

    /// Makes an edit only if a good job stays a good job.
    pub fn apply_if_good(&mut self, edit: &Edit) -> Result<Outcome, Refused> {
        let was_good = self.is_good();
        let outcome = self.make(edit, None)?;
        match self.problems().first() {
            Some(problem) if was_good => {
                let refused = Refused::Breaks {
                    what: problem.what.clone(),
                    allowed: problem.allowed.clone(),
                };
                self.history.take_back(&mut self.text);
                self.changed();
                Err(refused)
            }
            _ => Ok(outcome),
        }
    }

    /// The drag or the typing is over; the next edit is a step of its own.
    pub fn end_gesture(&mut self) {
        self.history.close();
    }

    /// The drag is called off: all is as before it.
    pub fn abandon_gesture(&mut self, gesture: &str) {
        if self.history.going_on(gesture) {
            self.history.take_back(&mut self.text);
            self.changed();
        }
    }

    fn make(&mut self, edit: &Edit, gesture: Option<&str>) -> Result<Outcome, Refused> {
        let earlier = match gesture {
            Some(gesture) if self.history.going_on(gesture) => {
                self.history.take_back(&mut self.text)
            }
            _ => None,
        };
        let mut draft = Draft::new(std::mem::take(&mut self.text));
        match make(&mut draft, edit, &self.known) {
            Ok(label) => {
                let (text, changes) = draft.finish();
                self.text = text;
                if changes.is_empty() && earlier.is_none() {
                    return Ok(Outcome::AsBefore);
                }
                if !changes.is_empty() {
                    self.history.push(Done { label, changes }, gesture);
                }
                self.changed();
                Ok(Outcome::Changed)
            }
            Err(refused) => {
                self.text = draft.abandon();
                if let Some(earlier) = earlier {
                    for splice in &earlier.changes {
                        splice.apply(&mut self.text);
                    }
                    self.history.push(earlier, gesture);
                }
                Err(refused)
            }
        }
    }

    /// Takes the last step back; its label.
    pub fn undo(&mut self) -> Option<String> {
        let label = self.history.undo(&mut self.text)?.to_string();
        self.changed();
        Some(label)
    }

    /// Does the step that was undone last again; its label.
    pub fn redo(&mut self) -> Option<String> {
        let label = self.history.redo(&mut self.text)?.to_string();
        self.changed();
        Some(label)
    }

    fn changed(&mut self) {
        self.revision += 1;
        self.read();
    }

    fn read(&mut self) {
        match Document::parse(&self.name, &self.text) {
            Ok((_, job)) => {
                let job = Arc::new(job);
                self.known = Known::of(Some(job.clone()));
                self.job = Some(job);
                self.errors = None;
            }
            Err(errors) => self.errors = Some(errors),
        }
    }

    // ------------------------------------------------------------ its file

    /// Whether another program has changed the file since it was read or written here.
    pub fn is_changed_on_disk(&self) -> bool {
        match (&self.path, &self.mark) {
            (Some(path), Some(mark)) => mark.is_changed(path),
            _ => false,
        }
    }

    /// Saves to the job's own file, unless someone else has changed that.
    pub fn save(&mut self) -> Result<(), NotSaved> {
        let path = self.path.clone().ok_or(NotSaved::NoFile)?;
        if self.is_changed_on_disk() {
            return Err(NotSaved::ChangedMeanwhile(path));
        }
        self.save_as(&path)
    }

    /// Saves to a file, whatever it holds, and makes it the job's own.
    pub fn save_as(&mut self, path: &Path) -> Result<(), NotSaved> {
        write_whole(path, self.text.as_bytes()).map_err(|why| NotSaved::Unwritable {
            path: path.to_path_buf(),
            why,
        })?;
        self.mark = Some(Mark::of(path, self.text.as_bytes()));
        self.path = Some(path.to_path_buf());
        self.name = path.display().to_string();
        self.history.mark_saved();
        Ok(())
    }

    /// Reads the job's file again and throws away what is here. A step that can be undone.
    pub fn reload(&mut self) -> Result<(), JobErrors> {
        let Some(path) = self.path.clone() else {
            return Ok(());
        };
        let text = text_of(&path)?;
        self.mark = Some(Mark::of(&path, text.as_bytes()));
        let _ = self.apply(&Edit::Text(text));
        self.history.mark_saved();
        Ok(())
    }

    // ------------------------------------------------------------ finding things

    /// The address in words: `corner 3 of "pond"`.
    pub fn words(&self, address: &crate::edit::Address) -> String {
        match find::read(&self.text) {
            Ok(root) => find::words(&root, address),
            Err(_) => address.to_string(),
        }
    }

    /// The deepest value whose bytes hold this one: from a problem's span to its field.
    pub fn address_at(&self, offset: usize) -> Option<crate::edit::Address> {
        find::read(&self.text)
            .ok()
            .map(|root| find::at_offset(&root, offset))
    }
}
