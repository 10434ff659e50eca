//! Questions that lie over the book until they are answered: a file's name, unsaved changes.

use std::path::{Path, PathBuf};

use bevy_egui::egui::{self, Align2, Context, Key, RichText, TextEdit, Ui};

use crate::edit::Editor;
use crate::view::book::{Paper, Then};
use crate::view::paper;
use crate::view::telling;
use crate::view::work::Work;

use super::{cell, press};

/// Shows the slip, if there is one. `true`: the window is to be closed.
pub fn show(
    ctx: &Context,
    slip: &mut Option<Paper>,
    work: &mut Work,
    recent: &[PathBuf],
    // Whether the desktop's own dialog is out.
    dialog: bool,
) -> bool {
    let Some(mut asked) = slip.take() else {
        return false;
    };
    if ctx.input(|i| i.key_pressed(Key::Escape)) {
        return false;
    }
    let mut done = Answer::Wait;
    egui::Window::new("slip")
        .title_bar(false)
        .resizable(false)
        .collapsible(false)
        .anchor(Align2::CENTER_CENTER, [0.0, -60.0])
        .show(ctx, |ui| {
            ui.set_width(440.0);
            done = match &mut asked {
                Paper::Save(name) => save(ui, name, work, dialog),
                Paper::Open(name) => open(ui, name, work, recent, dialog),
                Paper::Leave(then) => leave(ui, then, work),
                Paper::Found => found(ui, work),
                Paper::Changed => changed(ui, work),
            };
        });
    match done {
        Answer::Wait => *slip = Some(asked),
        Answer::Gone => {}
        Answer::Ask(next) => *slip = Some(next),
        Answer::Close => return true,
    }
    false
}

enum Answer {
    Wait,
    Gone,
    Ask(Paper),
    Close,
}

fn line(ui: &mut Ui, name: &mut String) -> bool {
    let field = ui.add(
        TextEdit::singleline(name)
            .desired_width(f32::INFINITY)
            .hint_text("folder/yard.ron"),
    );
    telling::place(ui, "slip", name, field.rect);
    // In its first frames the slip is only measured, and what is typed would come to nothing.
    if ui.is_sizing_pass() || !field.has_focus() && !field.lost_focus() {
        field.request_focus();
        cell::wait_for(ui.ctx(), field.id);
    } else if field.has_focus() {
        cell::forget_wanted_cell(ui.ctx());
    }
    field.lost_focus() && ui.input(|i| i.key_pressed(Key::Enter))
}

fn save(ui: &mut Ui, name: &mut String, work: &mut Work, dialog: bool) -> Answer {
    ui.label(RichText::new("Save the job under this name").strong());
    if dialog {
        ui.label(RichText::new("In the desktop's own dialog, or here:").color(paper::FAINT));
    }
    let enter = line(ui, name);
    let typed = PathBuf::from(name.trim());
    let path = if name.trim().ends_with('/') {
        typed
    } else {
        with_ending(typed)
    };
    let there = path.exists() && work.editor.path() != Some(path.as_path());
    if there {
        ui.label(
            RichText::new("There is a file of this name; saving replaces it.").color(paper::ACCENT),
        );
    }
    let mut answer = Answer::Wait;
    ui.horizontal(|ui| {
        let word = if there { "Replace it" } else { "Save" };
        let about = "Writes the job to this file; what was there before stays until it is whole";
        let save = press::button(ui, word, about) || enter && !there;
        if save && !name.trim().is_empty() && work.save_as(path.clone()) {
            answer = Answer::Gone;
        }
        if press::button(ui, "Leave it", "Nothing is saved") {
            answer = Answer::Gone;
        }
    });
    said(ui, work);
    answer
}

/// A job's file ends in `.ron` unless somebody says otherwise.
pub fn with_ending(path: PathBuf) -> PathBuf {
    if path.extension().is_none() && path.file_name().is_some() {
        path.with_extension("ron")
    } else {
        path
    }
}

fn open(
    ui: &mut Ui,
    name: &mut String,
    work: &mut Work,
    recent: &[PathBuf],
    dialog: bool,
) -> Answer {
    ui.label(RichText::new("Open a job file").strong());
    let how = if dialog {
        "In the desktop's own dialog; or type its name here, or drop the file on the window."
    } else {
        "Type its name, or drop the file on the window."
    };
    ui.label(RichText::new(how).color(paper::FAINT));
    let enter = line(ui, name);
    let mut answer = Answer::Wait;
    ui.horizontal(|ui| {
        if (press::button(ui, "Open it", "Puts this job on the desk") || enter)
            && !name.trim().is_empty()
        {
            answer = ask_to_open(Path::new(name.trim()), work);
        }
        if press::button(ui, "Leave it", "Nothing is opened") {
            answer = Answer::Gone;
        }
    });
    if !recent.is_empty() {
        ui.add_space(4.0);
        ui.label(RichText::new("Worked on lately").color(paper::FAINT));
    }
    for path in recent {
        let name = path.file_name().unwrap_or(path.as_os_str());
        let button = ui.button(name.to_string_lossy());
        if button.on_hover_text(path.display().to_string()).clicked() {
            answer = ask_to_open(path, work);
        }
    }
    said(ui, work);
    answer
}

fn ask_to_open(path: &Path, work: &mut Work) -> Answer {
    if work.editor.is_changed() {
        Answer::Ask(Paper::Leave(Then::Open(path.to_path_buf())))
    } else if take_file(path, work) {
        Answer::Gone
    } else {
        Answer::Wait
    }
}

/// Opens a file in place of the job on the desk.
pub fn take_file(path: &Path, work: &mut Work) -> bool {
    match Editor::open(path) {
        Ok(editor) => {
            work.take(editor);
            work.say(format!("Opened {}", path.display()));
            true
        }
        Err(errors) => {
            let what = errors.problems.first().map_or("", |p| p.what.as_str());
            work.complain(format!("{} cannot be opened: {what}", path.display()));
            false
        }
    }
}

fn leave(ui: &mut Ui, then: &Then, work: &mut Work) -> Answer {
    ui.label(RichText::new("There are changes that are not saved.").strong());
    let last = work.editor.history().undo_label().unwrap_or("an edit");
    ui.label(RichText::new(format!("The last of them: {last}.")).color(paper::FAINT));
    let mut go = false;
    let mut answer = Answer::Wait;
    ui.horizontal(|ui| {
        if press::button(ui, "Save them", "Saves first, then goes on") {
            match work.save_or_ask() {
                None => go = true,
                Some(next) => answer = Answer::Ask(next),
            }
        }
        go |= press::button(ui, "Throw them away", "Goes on; the file stays as it is");
        if press::button(ui, "Stay here", "All stays as it is") {
            answer = Answer::Gone;
        }
    });
    said(ui, work);
    if !go {
        return answer;
    }
    match then {
        Then::Close => Answer::Close,
        Then::New => {
            work.begin();
            Answer::Gone
        }
        Then::Open(path) => {
            if take_file(path, work) {
                Answer::Gone
            } else {
                Answer::Wait
            }
        }
    }
}

fn found(ui: &mut Ui, work: &mut Work) -> Answer {
    let Some(left) = work.left_behind.first() else {
        return Answer::Gone;
    };
    let file = left
        .file
        .as_ref()
        .map_or("a job that was never saved".to_owned(), |f| {
            f.display().to_string()
        });
    ui.label(RichText::new("Unsaved work was found").strong());
    let ago = left.kept_at.elapsed().map_or(0, |d| d.as_secs() / 60);
    let when = match ago {
        0 => "just now".to_owned(),
        1..120 => format!("{ago} minutes ago"),
        120..2880 => format!("{} hours ago", ago / 60),
        _ => format!("{} days ago", ago / 1440),
    };
    ui.label(format!("Of {file}; it stopped {when}."));
    if left.file_changed {
        ui.label(RichText::new("The file itself has been changed since.").color(paper::ACCENT));
    }
    let mut answer = Answer::Wait;
    ui.horizontal(|ui| {
        if press::button(
            ui,
            "Take it up",
            "Goes on where it stopped; it still has to be saved",
        ) {
            work.take_up();
            answer = Answer::Gone;
        }
        if press::button(
            ui,
            "Throw it away",
            "The copy goes; the file stays as it is",
        ) {
            work.throw_away();
        }
        if press::button(
            ui,
            "Leave it for later",
            "It is offered again at the next start",
        ) {
            answer = Answer::Gone;
        }
    });
    answer
}

fn changed(ui: &mut Ui, work: &mut Work) -> Answer {
    ui.label(RichText::new("The file was changed by another program").strong());
    ui.label(format!(
        "{} is not as it was read. Reading it again can be taken back.",
        work.editor.name()
    ));
    let mut answer = Answer::Wait;
    ui.horizontal(|ui| {
        if press::button(
            ui,
            "Read it again",
            "Takes the file as it is now; can be taken back",
        ) {
            work.read_again();
            answer = Answer::Gone;
        }
        if press::button(
            ui,
            "Keep what is here",
            "The file on disk stays as it is, until you save",
        ) {
            work.say("The file on disk differs: save under another name to keep both");
            answer = Answer::Gone;
        }
    });
    ui.horizontal(|ui| {
        if press::button(ui, "Save under another name", "Keeps both") {
            answer = Answer::Ask(Paper::Save(another_name(work)));
        }
        let about = "The file becomes what is here; what the other program wrote is lost";
        if press::button(ui, "Save over it", about) {
            answer = if work.save_over() {
                Answer::Gone
            } else {
                Answer::Ask(Paper::Save(work.elsewhere()))
            };
        }
    });
    answer
}

/// The job's file with a word more in its name.
fn another_name(work: &Work) -> String {
    let path = PathBuf::from(work.wished_path());
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let name = format!("{stem}-mine.ron");
    path.with_file_name(name).display().to_string()
}

fn said(ui: &mut Ui, work: &Work) {
    if let Some(said) = work.said.as_ref().filter(|s| s.bad) {
        ui.label(RichText::new(&said.text).color(paper::ACCENT));
    }
}
