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
use crate::edit::script::Script;
use crate::edit::template;
use crate::job::document::{job_of, text_of, write_whole};
use crate::job::{Document, Job, JobErrors, LARGEST, Problem, Unit};

/// A job being edited.
///
/// The text may be broken at any time: then [`Editor::job`] is still the last good job, and
/// [`Editor::problems`] say what is wrong, and where.
#[derive(Debug)]
pub struct Editor {
    pub(crate) script: Arc<Script>,
    name: String,
    path: Option<PathBuf>,
    mark: Option<Mark>,
    history: History,
    job: Option<Arc<Job>>,
    errors: Option<JobErrors>,
    known: Known,
    revision: u64,
    /// The revision that was read last.
    read: u64,
    later: bool,
}

/// A text still to be read into a job, which may take a while: for another thread.
#[derive(Debug, Clone)]
pub struct Unread {
    name: String,
    script: Arc<Script>,
    revision: u64,
}

/// What [`Unread::read`] came to.
#[derive(Debug)]
pub struct Reading {
    revision: u64,
    job: Result<Arc<Job>, JobErrors>,
}

impl Unread {
    /// Reads the text into a job.
    pub fn read(&self) -> Reading {
        let text = self.script.text();
        let job = if text.len() as u64 > LARGEST {
            // Says so in the same words.
            Document::parse(&self.name, text).map(|(_, job)| job)
        } else {
            match self.script.tree() {
                Ok(root) => job_of(&self.name, text, root),
                Err(problem) => Err(JobErrors::new(&self.name, text, vec![problem.clone()])),
            }
        };
        Reading {
            revision: self.revision,
            job: job.map(Arc::new),
        }
    }
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
            script: Arc::new(Script::read(text)),
            name: name.to_string(),
            path: None,
            mark: None,
            history: History::new(),
            job: None,
            errors: None,
            known: Known::default(),
            revision: 0,
            read: 0,
            later: false,
        };
        editor.read_now();
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
        self.script.text()
    }

    /// The file, or what errors call a job without one.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The job's own file, once it has one.
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
        self.is_read() && self.errors.is_none()
    }

    /// What is wrong with the text as it stands; spans are bytes of [`Editor::text`]. Nothing is
    /// known while the text is unread.
    pub fn problems(&self) -> &[Problem] {
        self.errors().map_or(&[], |e| &e.problems)
    }

    /// The same, for printing.
    pub fn errors(&self) -> Option<&JobErrors> {
        self.errors.as_ref().filter(|_| self.is_read())
    }

    /// Counts every change of the text, undo and redo included.
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// Whether there is something to save.
    pub fn is_changed(&self) -> bool {
        self.history.is_changed()
    }

    /// The steps so far, for the menu.
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
        if !self.is_read() {
            self.read_now();
        }
        let was_good = self.is_good();
        let outcome = self.make(edit, None)?;
        if outcome == Outcome::AsBefore {
            return Ok(outcome);
        }
        self.read_now();
        match self.problems().first() {
            Some(problem) if was_good => {
                let refused = Refused::Breaks {
                    what: problem.what.clone(),
                    allowed: problem.allowed.clone(),
                };
                self.take_back();
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
            self.take_back();
        }
    }

    fn make(&mut self, edit: &Edit, gesture: Option<&str>) -> Result<Outcome, Refused> {
        let going_on = gesture.is_some_and(|gesture| self.history.going_on(gesture));
        let begun = if going_on {
            self.history.begun(self.text().to_string(), &self.script)
        } else {
            self.script.clone()
        };
        let mut draft = Draft::new(begun);
        let label = make(&mut draft, edit, &self.known)?;
        let as_text = !draft.is_sound();
        let (script, changes) = draft.finish();
        if going_on {
            self.history.drop_last();
        } else if changes.is_empty() {
            return Ok(Outcome::AsBefore);
        }
        if !changes.is_empty() {
            let done = Done {
                label,
                changes,
                as_text,
            };
            self.history.push(done, gesture);
        }
        self.changed(script);
        Ok(Outcome::Changed)
    }

    /// Takes the last step back; its label.
    pub fn undo(&mut self) -> Option<String> {
        let mut text = self.text().to_string();
        let done = self.history.undo(&mut text)?;
        let (label, as_text) = (done.label.clone(), done.as_text);
        self.changed(self.script.after(&text, as_text));
        Some(label)
    }

    /// Does the step that was undone last again; its label.
    pub fn redo(&mut self) -> Option<String> {
        let mut text = self.text().to_string();
        let done = self.history.redo(&mut text)?;
        let (label, as_text) = (done.label.clone(), done.as_text);
        self.changed(self.script.after(&text, as_text));
        Some(label)
    }

    fn take_back(&mut self) {
        let begun = self.history.begun(self.text().to_string(), &self.script);
        self.history.drop_last();
        self.changed(begun);
    }

    fn changed(&mut self, script: Arc<Script>) {
        self.script = script;
        self.revision += 1;
        if !self.later {
            self.read_now();
        }
    }

    // ------------------------------------------------------------ reading it

    /// On a large field book: leave the text unread after an edit, to be read on another thread by
    /// way of [`Editor::unread`] and [`Editor::accept`].
    pub fn read_later(&mut self, later: bool) {
        self.later = later;
    }

    /// Whether the last reading was of the text as it stands.
    pub fn is_read(&self) -> bool {
        self.read == self.revision
    }

    /// The text, if it is still to be read.
    pub fn unread(&self) -> Option<Unread> {
        (!self.is_read()).then(|| self.to_be_read())
    }

    /// Takes a reading over. `false`: the text is another one by now.
    pub fn accept(&mut self, reading: Reading) -> bool {
        if reading.revision != self.revision {
            return false;
        }
        self.read = reading.revision;
        match reading.job {
            Ok(job) => {
                self.known = Known::of(Some(job.clone()));
                self.job = Some(job);
                self.errors = None;
            }
            Err(errors) => self.errors = Some(errors),
        }
        true
    }

    /// Reads the text here and now.
    pub fn read_now(&mut self) {
        let reading = self.to_be_read().read();
        self.accept(reading);
    }

    fn to_be_read(&self) -> Unread {
        Unread {
            name: self.name.clone(),
            script: self.script.clone(),
            revision: self.revision,
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
        write_whole(path, self.text().as_bytes()).map_err(|why| NotSaved::Unwritable {
            path: path.to_path_buf(),
            why,
        })?;
        self.mark = Some(Mark::of(path, self.text().as_bytes()));
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
        match self.script.tree() {
            Ok(root) => find::words(root, address),
            Err(_) => address.to_string(),
        }
    }

    /// The deepest value whose bytes hold this one: from a problem's span to its field.
    pub fn address_at(&self, offset: usize) -> Option<crate::edit::Address> {
        let root = self.script.tree().ok()?;
        Some(find::at_offset(root, offset))
    }
}
