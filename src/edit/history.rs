//! Undo and redo, to the beginning. A step is what was replaced in the text, not the text.

use std::sync::Arc;

use crate::edit::script::Script;
use crate::edit::splice::Splice;

/// One step, its changes in the order in which they were made.
#[derive(Debug, Clone)]
pub struct Done {
    /// What was done: `moved corner 3 of "pond"`.
    pub label: String,
    /// The bytes that were replaced.
    pub changes: Vec<Splice>,
    /// The text was changed as a text: it may be no RON before or after.
    pub as_text: bool,
}

/// The steps so far, and those that were undone.
#[derive(Debug, Default)]
pub struct History {
    steps: Vec<Done>,
    /// How many of them stand.
    at: usize,
    /// How many stood when the text was last saved or loaded; `None` once those are gone.
    saved: Option<usize>,
    /// The last step is still going on, as this gesture.
    open: Option<String>,
}

impl History {
    /// Nothing done yet, and nothing to save.
    pub(crate) fn new() -> History {
        History {
            saved: Some(0),
            ..History::default()
        }
    }

    /// A text that is nowhere saved as it stands.
    pub(crate) fn unsaved() -> History {
        History::default()
    }

    pub(crate) fn push(&mut self, done: Done, gesture: Option<&str>) {
        self.steps.truncate(self.at);
        if self.saved.is_some_and(|saved| saved > self.at) {
            self.saved = None;
        }
        self.steps.push(done);
        self.at += 1;
        self.open = gesture.map(str::to_string);
    }

    /// The last step, if it is this gesture, still going on.
    pub(crate) fn going_on(&self, gesture: &str) -> bool {
        self.open.as_deref() == Some(gesture) && self.at == self.steps.len() && self.at > 0
    }

    /// The text before the last step.
    pub(crate) fn begun(&self, mut text: String, now: &Script) -> Arc<Script> {
        let as_text = match self.steps.last() {
            Some(done) => {
                for splice in done.changes.iter().rev() {
                    splice.undo(&mut text);
                }
                done.as_text
            }
            None => false,
        };
        now.after(&text, as_text)
    }

    /// Forgets the last step.
    pub(crate) fn drop_last(&mut self) {
        self.steps.pop();
        self.at = self.steps.len();
        self.open = None;
    }

    /// The gesture that is going on, if any, is over.
    pub(crate) fn close(&mut self) {
        self.open = None;
    }

    pub(crate) fn undo(&mut self, text: &mut String) -> Option<&Done> {
        self.open = None;
        let done = self.steps.get(self.at.checked_sub(1)?)?;
        for splice in done.changes.iter().rev() {
            splice.undo(text);
        }
        self.at -= 1;
        Some(done)
    }

    pub(crate) fn redo(&mut self, text: &mut String) -> Option<&Done> {
        self.open = None;
        let done = self.steps.get(self.at)?;
        for splice in &done.changes {
            splice.apply(text);
        }
        self.at += 1;
        Some(done)
    }

    /// What undo would take back.
    pub fn undo_label(&self) -> Option<&str> {
        let last = self.at.checked_sub(1)?;
        self.steps.get(last).map(|done| done.label.as_str())
    }

    /// What redo would do again.
    pub fn redo_label(&self) -> Option<&str> {
        self.steps.get(self.at).map(|done| done.label.as_str())
    }

    /// All steps, and how many of them stand.
    pub fn steps(&self) -> (&[Done], usize) {
        (&self.steps, self.at)
    }

    pub(crate) fn mark_saved(&mut self) {
        self.open = None;
        self.saved = Some(self.at);
    }

    pub(crate) fn is_changed(&self) -> bool {
        self.saved != Some(self.at)
    }

    /// Bytes held for undo.
    pub fn size(&self) -> usize {
        self.steps
            .iter()
            .flat_map(|done| &done.changes)
            .map(|splice| splice.old.len() + splice.new.len())
            .sum()
    }
}
