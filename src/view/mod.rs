//! The yard in 3D: a window with the model and a field-book panel, and pictures without a window.
//!
//! Draws what is in a [`Plan`] and computes no figure. Needs a graphics driver that speaks Vulkan
//! (a software one will do, slowly); [`open`] needs an X11 display as well. Neither panics where
//! they are missing: both return one plain line.

mod aside;
mod bins;
mod book;
mod built;
mod canvas;
mod carrying;
mod charts;
mod client;
mod clipboard;
mod contours;
mod dialog;
mod drape;
mod falls;
mod figures;
mod frame;
mod ground;
mod hand;
mod keyboard;
mod labels;
mod laths;
mod levels;
mod light;
mod lines;
mod materials;
mod memory;
mod mesh;
mod panel;
mod paper;
mod picture;
mod pieces;
mod pins;
mod raise;
mod scene;
mod shaping;
mod sight;
mod signs;
mod stages;
mod start;
mod strokes;
mod stuff;
mod telling;
mod walls;
mod water;
mod window;
mod wipe;
mod work;
mod yard;

use std::path::Path;

use crate::edit::Editor;
use crate::job::Job;
use crate::plan::Plan;
use crate::terrain::Surface;

/// Which of the three surfaces is shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Look {
    Existing,
    Dug,
    Finished,
}

impl Look {
    pub const ALL: [Look; 3] = [Look::Existing, Look::Dug, Look::Finished];

    pub fn surface(self, plan: &Plan) -> &Surface {
        match self {
            Look::Existing => &plan.existing,
            Look::Dug => &plan.dug,
            Look::Finished => &plan.finished,
        }
    }

    fn word(self) -> &'static str {
        match self {
            Look::Existing => "Existing",
            Look::Dug => "Dug",
            Look::Finished => "Finished",
        }
    }

    fn meaning(self) -> &'static str {
        match self {
            Look::Existing => "The ground as surveyed.",
            Look::Dug => "As the machine leaves it. Hatched: dug. Dotted: placed.",
            Look::Finished => "As the client sees it, with water.",
        }
    }

    pub fn index(self) -> usize {
        self as usize
    }
}

/// Opens a window on a job and returns when it is closed.
pub fn open(editor: Editor) -> Result<(), String> {
    window::open(editor)
}

/// Writes a picture of the yard as PNG, without window or display.
pub fn picture(plan: &Plan, look: Look, size: (u32, u32), out: &Path) -> Result<(), String> {
    let wanted = picture::Wanted {
        look,
        client: false,
    };
    picture::write(plan, wanted, size, out)
}

/// The same as the client will see it: before the work or after, without marks.
pub fn client_picture(plan: &Plan, look: Look, size: (u32, u32), out: &Path) -> Result<(), String> {
    let wanted = picture::Wanted { look, client: true };
    picture::write(plan, wanted, size, out)
}

/// How long frames of the yard take, drawn without a window: at rest, with the camera going round,
/// and while something is dragged to and fro between two jobs, the plan made and raised anew in each
/// frame; so many of each. Each is awaited, so what a window draws side by side is counted one after the other.
pub fn frame_times(
    jobs: [&Job; 2],
    size: (u32, u32),
    counts: [usize; 3],
) -> Result<[Vec<std::time::Duration>; 3], String> {
    picture::frame_times(jobs, size, counts)
}

/// Where places of the yard (plan and elevation, metres) lie in the picture that
/// [`client_picture`] writes, in pixels from its upper left; `None` outside it. Something may stand
/// in front of them.
pub fn places_in_client_picture(
    plan: &Plan,
    size: (u32, u32),
    places: &[[f64; 3]],
) -> Vec<Option<[f32; 2]>> {
    let yard = scene::Yard::new(plan.clone(), crate::job::Unit::Metre);
    let sight = client::first_sight(&yard, size.0 as f32 / size.1 as f32);
    places
        .iter()
        .map(|p| client::place(&yard, &sight, size, *p))
        .collect()
}
