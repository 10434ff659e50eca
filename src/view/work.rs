//! The job on the desk: edits go in, and after each a new plan goes up in the yard.
//!
//! A plan that takes less than a frame is made in the frame of the edit. A slower one is made on
//! another thread, and the head of the book says so while it runs; the yard keeps the last plan.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use bevy::prelude::*;
use bevy::tasks::{Task, block_on, poll_once};
use bevy::window::RequestRedraw;

use crate::edit::{Edit, Editor, LeftBehind, NotSaved, Outcome, Recovery, Refused};
use crate::job::{Job, Unit};
use crate::plan::Plan;

use super::aside::Crew;
use super::book::{Book, Paper};
use super::figures::Figures;
use super::pieces::{Made, Piece};
use super::raise::{self, View};
use super::scene::{Showing, Yard};
use super::stages::Stages;

/// A plan slower than this is made aside.
const AT_ONCE: Duration = Duration::from_millis(25);

/// The job that is worked on, and how far its plan is.
#[derive(Resource)]
pub struct Work {
    pub editor: Editor,
    /// What was last refused, saved or undone: shown in the head until the next edit.
    pub said: Option<Said>,
    /// The unit of figures on screen, if not the job's own.
    shown_in: Option<Unit>,
    /// A job has just been begun: its field book comes first.
    pub begun: bool,
    /// Unsaved work that was found at the start, still to be offered.
    pub left_behind: Vec<LeftBehind>,
    recovery: Option<Recovery>,
    /// The revision that the yard shows, or that is on its way there.
    planned: u64,
    took: Duration,
    making: Option<Task<Ready>>,
    /// The revision that the copy for after a crash holds.
    kept: u64,
    kept_at: Instant,
    /// Something is dragged: the copy waits for longer, it holds a frame up.
    pub dragging: bool,
    /// When the file on disk was last looked at, and whether its change was told already.
    looked_at: Instant,
    told: bool,
}

/// A plan on its way into the yard.
struct Ready {
    revision: u64,
    job: Arc<Job>,
    yard: Yard,
    /// What is new in it and will be seen.
    made: Vec<(Piece, Made)>,
    /// How long the plan took.
    took: Duration,
    /// The plan that the yard showed when this one was begun.
    before: Arc<Plan>,
}

/// Plans a job and makes what is seen of it, beside the window.
fn prepare(revision: u64, job: Arc<Job>, old: &Yard, view: &View, unit: Unit) -> Ready {
    let start = Instant::now();
    let plan = Plan::of(&job);
    let took = start.elapsed();
    let yard = Yard::after(old, plan, unit);
    Ready {
        revision,
        job,
        made: raise::ahead(&yard, view),
        yard,
        took,
        before: old.plan.clone(),
    }
}

/// A line for the reader.
#[derive(Debug, Clone)]
pub struct Said {
    pub text: String,
    pub bad: bool,
}

impl Work {
    pub fn of(editor: Editor, took: Duration) -> Self {
        let recovery = Recovery::folder()
            .and_then(|folder| Recovery::start(&folder))
            .ok();
        Work::with(editor, took, recovery)
    }

    fn with(editor: Editor, took: Duration, recovery: Option<Recovery>) -> Self {
        Work {
            planned: editor.revision(),
            kept: editor.revision(),
            editor,
            said: None,
            recovery,
            took,
            making: None,
            kept_at: Instant::now(),
            dragging: false,
            looked_at: Instant::now(),
            told: false,
            shown_in: None,
            begun: false,
            left_behind: Vec::new(),
        }
    }

    /// Looks for unsaved work that processes left behind which are gone.
    pub fn look_for_work_left_behind(&mut self) {
        self.left_behind =
            Recovery::folder().map_or_else(|_| Vec::new(), |f| Recovery::left_behind(&f));
    }

    /// Takes up the first of the work left behind in place of the job on the desk.
    pub fn take_up(&mut self) {
        if self.left_behind.is_empty() {
            return;
        }
        let found = self.left_behind.remove(0);
        self.take(found.open());
        let kept = match &mut self.recovery {
            Some(recovery) => recovery.keep(&self.editor).is_ok(),
            None => false,
        };
        // The old copy goes only when there is a new one.
        if kept {
            self.kept = self.editor.revision();
            let _ = found.discard();
        }
        self.say("Taken up where it was left. It is not saved yet");
    }

    /// Throws the first of the work left behind away.
    pub fn throw_away(&mut self) {
        if !self.left_behind.is_empty()
            && let Err(why) = self.left_behind.remove(0).discard()
        {
            self.complain(format!("The copy could not be removed: {why}"));
        }
    }

    /// The job leaves the desk, saved or given up: its copy goes.
    pub fn close(&mut self) {
        if let Some(recovery) = self.recovery.take() {
            // What cannot be removed is offered at the next start.
            let _ = recovery.close();
        }
    }

    /// The file as another program left it, in place of what is here: a step that can be undone.
    pub fn read_again(&mut self) {
        match self.editor.reload() {
            Ok(()) => self.say("Read again from its file"),
            Err(errors) => {
                let what = errors.problems.first().map_or("", |p| p.what.as_str());
                self.complain(format!("It cannot be read: {what}"));
            }
        }
        self.told = false;
    }

    /// Whether another program has changed the file, said once.
    fn changed_on_disk(&mut self) -> bool {
        if self.told || self.looked_at.elapsed() < Duration::from_secs(2) {
            return false;
        }
        self.looked_at = Instant::now();
        self.told = self.editor.is_changed_on_disk();
        self.told
    }

    /// Makes an edit as a step of its own. What is refused is said, and nothing has changed.
    pub fn edit(&mut self, edit: &Edit) -> bool {
        let outcome = self.editor.apply(edit);
        self.hear(outcome)
    }

    /// The same, refused if it would break a good job.
    pub fn edit_if_good(&mut self, edit: &Edit) -> bool {
        let outcome = self.editor.apply_if_good(edit);
        self.hear(outcome)
    }

    /// The same as part of a drag, or of typing in one cell; see [`Editor::apply_as`].
    pub fn edit_as(&mut self, gesture: &str, edit: &Edit) -> bool {
        let outcome = self.editor.apply_as(gesture, edit);
        self.hear(outcome)
    }

    fn hear(&mut self, outcome: Result<Outcome, Refused>) -> bool {
        self.said = match &outcome {
            Ok(_) => None,
            Err(why) => Some(Said {
                text: why.to_string(),
                bad: true,
            }),
        };
        outcome.is_ok()
    }

    pub fn say(&mut self, text: impl Into<String>) {
        self.said = Some(Said {
            text: text.into(),
            bad: false,
        });
    }

    pub fn complain(&mut self, text: impl Into<String>) {
        self.said = Some(Said {
            text: text.into(),
            bad: true,
        });
    }

    pub fn undo(&mut self) {
        match self.editor.undo() {
            Some(label) => self.say(format!("Taken back: {label}")),
            None => self.say("Nothing to take back: this is the beginning"),
        }
    }

    pub fn redo(&mut self) {
        match self.editor.redo() {
            Some(label) => self.say(format!("Done again: {label}")),
            None => self.say("Nothing to do again"),
        }
    }

    /// Saves; what must be asked first, if it cannot be done like that.
    pub fn save_or_ask(&mut self) -> Option<Paper> {
        match self.editor.save() {
            Ok(()) => {
                self.saved();
                None
            }
            Err(NotSaved::NoFile) => Some(Paper::Save(self.wished_path())),
            Err(why @ NotSaved::ChangedMeanwhile(_)) => {
                self.complain(why.to_string());
                Some(Paper::Changed)
            }
            Err(why) => {
                self.complain(why.to_string());
                Some(Paper::Save(self.elsewhere()))
            }
        }
    }

    /// A name for the job's file: its own, or made from what the job is called.
    pub fn wished_file(&self) -> String {
        let own = self.editor.path().and_then(|p| p.file_name());
        if let Some(own) = own {
            return own.to_string_lossy().into_owned();
        }
        let title = self.editor.job().map_or("", |job| job.name.as_str());
        let words: Vec<String> = title
            .split(|c: char| !c.is_alphanumeric())
            .filter(|w| !w.is_empty())
            .map(str::to_lowercase)
            .collect();
        let stem = if words.is_empty() {
            "yard".to_owned()
        } else {
            words.join("-")
        };
        format!("{stem}.ron")
    }

    /// Where the job is to be saved if nobody says otherwise.
    pub fn wished_path(&self) -> String {
        match self.editor.path() {
            Some(path) => path.display().to_string(),
            None => self.elsewhere(),
        }
    }

    /// Another place for it: at home.
    pub fn elsewhere(&self) -> String {
        let home = etcetera::home_dir().unwrap_or_default();
        home.join(self.wished_file()).display().to_string()
    }

    pub fn save_as(&mut self, path: PathBuf) -> bool {
        match self.editor.save_as(&path) {
            Ok(()) => {
                self.saved();
                true
            }
            Err(why) => {
                self.complain(why.to_string());
                false
            }
        }
    }

    /// Saves to the job's own file, whatever another program has put there.
    pub fn save_over(&mut self) -> bool {
        let own = self.editor.path().map(Path::to_path_buf);
        own.is_some_and(|path| self.save_as(path))
    }

    fn saved(&mut self) {
        self.say(format!("Saved as {}", self.editor.name()));
        // The next change by another program is news again.
        self.told = false;
    }

    /// Puts another job on the desk.
    pub fn take(&mut self, editor: Editor) {
        self.close();
        let took = self.took;
        *self = Work {
            // Nothing of it is planned yet.
            planned: editor.revision().wrapping_sub(1),
            left_behind: std::mem::take(&mut self.left_behind),
            ..Work::of(editor, took)
        };
    }

    /// Puts an empty job on the desk, in the unit of the one before.
    pub fn begin(&mut self) {
        self.take(Editor::new_job("New yard", self.editor.unit()));
        self.begun = true;
    }

    /// Shows figures in the other unit; the job keeps its own.
    pub fn flip_unit(&mut self, now: Unit) {
        self.shown_in = Some(match now {
            Unit::Foot => Unit::Metre,
            Unit::Metre => Unit::Foot,
        });
        self.planned = self.editor.revision().wrapping_sub(1);
    }

    /// Whether a plan is on its way.
    pub fn is_planning(&self) -> bool {
        self.making.is_some()
    }
}

/// Sees to it that the yard shows the job as it stands.
pub fn keep(world: &mut World) {
    let mut ready = None;
    world.resource_scope(|world, mut work: Mut<Work>| {
        // Watching must not count as a change.
        let work = work.bypass_change_detection();
        if let Some(task) = &mut work.making {
            if let Some(done) = block_on(poll_once(task)) {
                work.making = None;
                work.took = done.took;
                if work.editor.revision() == done.revision {
                    work.planned = done.revision;
                }
                ready = Some(done);
            } else {
                world.write_message(RequestRedraw);
            }
        }
        let revision = work.editor.revision();
        if work.planned != revision && work.making.is_none() {
            if !work.editor.is_good() {
                // Broken text: the yard keeps the last good job's plan.
                work.planned = revision;
            } else if let Some(job) = work.editor.job().cloned() {
                work.planned = revision;
                let unit = work.shown_in.unwrap_or(job.unit);
                let view = raise::in_view(world);
                // What is ready just now is the last before it.
                let old = ready.as_ref().map(|r: &Ready| &r.yard);
                let old = old.unwrap_or(world.resource::<Yard>()).clone();
                if work.took <= AT_ONCE && ready.is_none() {
                    let done = prepare(revision, job, &old, &view, unit);
                    work.took = done.took;
                    ready = Some(done);
                } else {
                    let plan = move || prepare(revision, job, &old, &view, unit);
                    work.making = Some(Crew::Plans.begin(plan));
                    world.write_message(RequestRedraw);
                }
            }
        }
        copy(work);
        // What is being answered is answered first.
        if world.resource::<Book>().paper.is_none() && work.changed_on_disk() {
            world.resource_mut::<Book>().paper = Some(Paper::Changed);
            world.write_message(RequestRedraw);
        }
    });
    if let Some(ready) = ready {
        put_up(world, ready);
    }
}

/// A copy for after a crash, soon after each edit but not at every move of a drag: writing it so that
/// it lasts takes longer than the rest of the frame.
fn copy(work: &mut Work) {
    let revision = work.editor.revision();
    let pause = Duration::from_millis(if work.dragging { 2000 } else { 150 });
    if work.kept == revision || work.kept_at.elapsed() < pause {
        return;
    }
    if let Some(recovery) = &mut work.recovery
        && let Err(why) = recovery.keep(&work.editor)
    {
        work.complain(format!("No copy for after a crash could be kept: {why}"));
    }
    work.kept = revision;
    work.kept_at = Instant::now();
}

/// Puts a plan up in the yard in place of the last.
fn put_up(world: &mut World, ready: Ready) {
    let Ready {
        job,
        mut yard,
        mut made,
        before,
        ..
    } = ready;
    let old = world.resource::<Yard>();
    if !Arc::ptr_eq(&old.plan, &before) {
        // Another plan has come between: what is new is new against that.
        yard = Yard::after(old, yard.plan, yard.unit);
        made = Vec::new();
    }
    let elsewhere = old.frame.centre != yard.frame.centre || yard.is_first_ground(old);
    raise::refurnish(world, &yard, made);
    {
        let mut book = world.resource_mut::<Book>();
        book.title = job.name.clone();
        book.figures = Figures(yard.unit);
        book.chosen = None;
        book.elsewhere |= elsewhere;
        book.settle();
    }
    if super::telling::on() {
        eprintln!(
            "planned: cut {:.3} m3, fill {:.3} m3",
            yard.plan.volumes.cut_bank_m3, yard.plan.volumes.fill_compacted_m3
        );
    }
    let visits = job.as_built.visits.len();
    let stages = Stages::after(&mut world.resource_mut::<Stages>(), job);
    {
        // A stage or a visit that is no more cannot be shown.
        let mut showing = world.resource_mut::<Showing>();
        let there = |at: Option<usize>, count| at.is_none_or(|k| k < count);
        if !there(showing.stage, stages.names.len()) {
            showing.stage = None;
        }
        if !there(showing.built, visits) {
            showing.built = None;
        }
    }
    world.insert_resource(stages);
    world.insert_resource(yard);
    world.write_message(RequestRedraw);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Unit;

    #[test]
    fn what_cannot_be_saved_here_is_saved_elsewhere_or_over_what_is_there() {
        let folder = std::env::temp_dir().join(format!("brimline-work-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder for the test");
        let file = folder.join("yard.ron");
        let editor = Editor::new_job("Yard", Unit::Foot);
        let mut work = Work::with(editor, Duration::ZERO, None);
        assert!(
            matches!(work.save_or_ask(), Some(Paper::Save(_))),
            "no file"
        );

        // No folder can be below a file.
        assert!(work.save_as(file.clone()));
        assert!(!work.save_as(file.join("yard.ron")));
        let said = work.said.clone().expect("why not");
        assert!(
            said.bad && said.text.contains("save in another place"),
            "{said:?}"
        );
        assert_eq!(work.editor.path(), Some(file.as_path()));

        std::fs::write(&file, "another program's").expect("written");
        assert!(matches!(work.save_or_ask(), Some(Paper::Changed)));
        assert_eq!(
            std::fs::read(&file).expect("the file"),
            b"another program's"
        );
        work.told = true;
        assert!(work.save_over());
        assert!(!work.told, "a later change is not told");
        assert_eq!(
            std::fs::read(&file).expect("the file"),
            work.editor.text().as_bytes()
        );
        assert!(work.save_or_ask().is_none());
        std::fs::remove_dir_all(&folder).expect("removed");
    }
}
