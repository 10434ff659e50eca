//! New things where one points: a short list by the key A, or one thing asked for on a page.

use bevy_egui::egui::{Area, Context, Frame, Grid, Margin, Order, RichText, Stroke};

use crate::edit::{Address, Edit, New};
use crate::terrain::predicates::in_ring;
use crate::view::Look;
use crate::view::hand::Eye;
use crate::view::panel::press;
use crate::view::paper;
use crate::view::work::Work;

use super::Shaping;

/// What is offered, in two columns: to be built, and what is there already.
const ROWS: [[Option<New>; 2]; 9] = [
    [Some(New::Basin), Some(New::Breakline)],
    [Some(New::Cascade), Some(New::KeepOut)],
    [Some(New::Wall), Some(New::Service)],
    [Some(New::Berm), Some(New::Paving)],
    [Some(New::Pad), Some(New::Hole)],
    [Some(New::Trench), Some(New::StandingWall)],
    [Some(New::Ramp), Some(New::Access)],
    [Some(New::Pile), Some(New::Tree)],
    [Some(New::Overflow), Some(New::Peg)],
];

impl Shaping {
    /// The basin that a place lies in, and what it is called.
    fn basin_at(&self, p: [f64; 2]) -> Option<(Address, String)> {
        let line = self
            .lines
            .iter()
            .find(|l| l.outline.word == "basin" && in_ring(&l.outline.points, p))?;
        Some((line.outline.thing.clone(), line.outline.words()))
    }
}

/// The thing in words.
pub fn word(what: New) -> &'static str {
    match what {
        New::Basin => "basin",
        New::Hole => "building",
        New::Pile => "pile",
        New::KeepOut => "keep-out",
        New::Cascade => "cascade",
        New::Peg => "peg",
        New::Baseline => "baseline",
        New::Setup => "setup",
        New::Breakline => "breakline",
        New::Benchmark => "benchmark",
        New::KnownPoint => "known point",
        other => other.wished_name(),
    }
}

/// Adds a thing and picks it.
pub fn add(what: New, at: [f64; 2], eye: &Eye, work: &mut Work, picked: &mut Option<Address>) {
    let ground = eye.yard.drape(Look::Existing).height(at);
    let elevation = ground.unwrap_or(eye.yard.frame.centre[2]);
    let added = Edit::Add {
        what,
        at,
        elevation,
    };
    let before = work.editor.revision();
    if !work.edit_if_good(&added) || work.editor.revision() == before {
        return;
    }
    let list = what.list();
    // The way in is one thing, no list.
    let count = work.editor.count(&list);
    let new = match count.checked_sub(1) {
        Some(last) => list.item(last),
        None => list,
    };
    work.say(format!("Added: {}", work.editor.words(&new)));
    *picked = Some(new);
}

/// The list, if it lies open.
pub fn menu(
    shaping: &mut Shaping,
    ctx: &Context,
    eye: &Eye,
    work: &mut Work,
    picked: &mut Option<Address>,
) {
    let Some((at, place)) = shaping.list else {
        return;
    };
    let mut chosen = None;
    let mut pit = None;
    let basin = shaping.basin_at(place);
    let shown = Area::new("add here".into())
        .order(Order::Foreground)
        .fixed_pos(at)
        .constrain(true)
        .show(ctx, |ui| {
            Frame::NONE
                .fill(paper::PAPER)
                .stroke(Stroke::new(1.0, paper::INK))
                .inner_margin(Margin::same(10))
                .show(ui, |ui| {
                    ui.label(RichText::new("Add here").strong().color(paper::ACCENT));
                    Grid::new("add here").num_columns(2).show(ui, |ui| {
                        ui.label(RichText::new("to be built").small().color(paper::FAINT));
                        ui.label(RichText::new("there already").small().color(paper::FAINT));
                        ui.end_row();
                        for row in ROWS {
                            for what in row {
                                let Some(what) = what else {
                                    ui.label("");
                                    continue;
                                };
                                let about = "Here, with usual measures to be changed";
                                if press::button(ui, word(what), about) {
                                    chosen = Some(what);
                                }
                            }
                            ui.end_row();
                        }
                        let about = match &basin {
                            Some((_, name)) => {
                                format!("Deeper ground in {name}, for a pump or a drain")
                            }
                            None => "Point into a basin: a pit belongs to one".to_owned(),
                        };
                        if press::small_if(ui, basin.is_some(), "pit in the basin", &about) {
                            pit.clone_from(&basin);
                        }
                        ui.end_row();
                    });
                });
        });
    if let Some((basin, _)) = pit {
        shaping.list = None;
        let list = basin.field("pits");
        let index = work.editor.count(&list);
        let added = Edit::AddPart {
            list: list.clone(),
            at: place,
        };
        if work.edit_if_good(&added) {
            let new = list.item(index);
            work.say(format!("Added: {}", work.editor.words(&new)));
            *picked = Some(new);
        }
        ctx.request_repaint();
    } else if let Some(what) = chosen {
        shaping.list = None;
        add(what, place, eye, work, picked);
        ctx.request_repaint();
    } else if ctx.input(|i| i.pointer.any_pressed())
        && ctx
            .pointer_latest_pos()
            .is_some_and(|p| !shown.response.rect.contains(p))
    {
        shaping.list = None;
    }
}
