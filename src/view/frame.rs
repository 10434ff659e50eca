//! One frame: the book, the slips over it, and all that is drawn over the yard; then what the reader
//! asked for.

use std::path::Path;

use bevy::camera::Viewport;
use bevy::ecs::system::SystemParam;
use bevy::prelude::*;
use bevy::window::PrimaryWindow;
use bevy_egui::{EguiContexts, PrimaryEguiContext, egui};
use bevy_panorbit_camera::PanOrbitCamera;

use super::book::{Book, Paper, Then};
use super::built::{self, Seen, Visits};
use super::canvas::Canvas;
use super::carrying::Carrying;
use super::charts::{self, Charts};
use super::client::{self, Client};
use super::dialog::{Ask, Dialog};
use super::hand::{Eye, Hand};
use super::labels::Labels;
use super::panel::{self, Desk, Page, Wish};
use super::scene::{InSight, Showing, Yard};
use super::shaping::{self, Shaping};
use super::stages::{Stages, State};
use super::work::Work;
use super::{Look, sight, telling, wipe};

/// Times that the book may be written larger than usual.
const SMALLEST: f32 = 0.7;
const LARGEST: f32 = 2.0;
/// How long a pointer rests before something is told of what is under it, s.
pub const REST: f32 = 0.5;

/// The camera of the yard.
type YardCamera<'a> = (&'a mut Camera, &'a GlobalTransform, &'a mut PanOrbitCamera);

#[derive(SystemParam)]
pub struct Tools<'w> {
    work: ResMut<'w, Work>,
    hand: ResMut<'w, Hand>,
    shaping: ResMut<'w, Shaping>,
    charts: Res<'w, Charts>,
    carrying: Res<'w, Carrying>,
    visits: Res<'w, Visits>,
    in_sight: Res<'w, InSight>,
    line: ResMut<'w, wipe::Line>,
    stages: Res<'w, Stages>,
    dialog: ResMut<'w, Dialog>,
}

pub fn draw(
    mut contexts: EguiContexts,
    (mut showing, mut book, mut client): (ResMut<Showing>, ResMut<Book>, ResMut<Client>),
    (yard, canvas, time): (Res<Yard>, Res<Canvas>, Res<Time<Real>>),
    window: Single<&Window, With<PrimaryWindow>>,
    camera: Single<YardCamera, Without<PrimaryEguiContext>>,
    (buttons, mut exit): (Res<ButtonInput<MouseButton>>, MessageWriter<AppExit>),
    tools: Tools,
) -> Result {
    let Tools {
        mut work,
        mut hand,
        mut shaping,
        charts,
        carrying,
        visits,
        in_sight,
        mut line,
        stages,
        mut dialog,
    } = tools;
    let ctx = contexts.ctx_mut()?.clone();
    if !book.styled {
        panel::style(&ctx);
        ctx.set_zoom_factor(book.memory.scale.unwrap_or(1.0).clamp(SMALLEST, LARGEST));
        book.styled = true;
    }
    // Keys for it are egui's own: Ctrl and +, −, 0.
    let zoom = ctx.zoom_factor();
    if !(SMALLEST..=LARGEST).contains(&zoom) {
        ctx.set_zoom_factor(zoom.clamp(SMALLEST, LARGEST));
    } else if (book.memory.scale.unwrap_or(1.0) - zoom).abs() > 0.01 {
        book.memory.scale = Some(zoom);
        book.memory.save();
        book.settle();
    }
    let (mut camera, at, mut orbit) = camera.into_inner();
    // Under all else.
    let ground = egui::Painter::new(
        ctx.clone(),
        egui::LayerId::background(),
        egui::Rect::EVERYTHING,
    );
    let lowest = ground.add(egui::Shape::Noop);
    if showing.client {
        let mut next = *showing;
        let (yaw, now) = (orbit.target_yaw, time.elapsed_secs_f64());
        let on_strip = client::strip(&ctx, &mut client, &mut next, &yard, yaw, now);
        if camera.viewport.is_some() {
            camera.viewport = None;
        }
        ground.set(lowest, canvas.shape(&camera, ctx.pixels_per_point()));
        let free = client.walk.is_none() && !on_strip;
        if orbit.enabled != free {
            orbit.enabled = free;
        }
        // A question waits among the tools.
        next.client &= book.paper.is_none();
        showing.set_if_neq(next);
        telling::out(&ctx);
        return Ok(());
    }

    let mut desk = Desk {
        book: &book,
        yard: &yard,
        stages: &stages,
        carrying: &carrying,
        visits: &visits,
        work: work.bypass_change_detection(),
        hand: &mut hand,
        page: book.page,
        showing: *showing,
        wishes: Vec::new(),
    };
    // Escape and presses that close a list are not for the yard.
    let is_list_open = egui::Popup::is_any_open(&ctx);
    let left = panel::show(&ctx, &mut desk);
    let Desk {
        page,
        showing: mut next,
        mut wishes,
        ..
    } = desk;
    book.page = page;
    let is_strip = showing.built.is_none() && (showing.stage.is_some() || page == Page::Looking);
    let strip = if is_strip {
        let told = (&*stages, &*carrying);
        panel::strip::show(&ctx, left, &yard, told, book.figures, &mut next)
    } else {
        None
    };
    // Paper that is laid over the yard keeps clear of the strip.
    let mut above = left;
    if let Some(strip) = strip {
        above.max.y = strip.top();
    }
    if let Some(path) = work.editor.path().map(Path::to_path_buf)
        && book.remembered.as_ref() != Some(&path)
    {
        book.memory.note(&path);
        book.memory.save();
        book.remembered = Some(path);
    }
    let recent = book.memory.recent.clone();
    let mut guide = book.guide;
    panel::keys::show(&ctx, &mut book.keys, &mut guide);
    // One sheet of paper at a time.
    let first_day = if book.sheets.is_laid() {
        None
    } else {
        panel::guide::show(&ctx, above, &mut guide)
    };
    if guide != book.guide {
        book.guide = guide;
        if guide.is_none() {
            book.memory.guided = true;
            book.memory.save();
        }
    }
    let fresh = yard.is_changed();
    let job = work.editor.job().cloned();
    let sheet = panel::sheets::show(
        &ctx,
        above,
        &mut book.sheets,
        job.as_ref(),
        &yard.plan,
        fresh,
    );
    let out = dialog.is_out();
    if panel::slip::show(&ctx, &mut book.paper, &mut work, &recent, out) {
        work.close();
        book.remember(&window);
        exit.write(AppExit::Success);
    }

    // The yard takes what the panel leaves.
    let scale = ctx.pixels_per_point();
    let size = UVec2::new(
        ((left.width() * scale) as u32).clamp(1, window.physical_width().max(1)),
        ((left.height() * scale) as u32).clamp(1, window.physical_height().max(1)),
    );
    if camera
        .viewport
        .as_ref()
        .is_none_or(|v| v.physical_size != size)
    {
        camera.viewport = Some(Viewport {
            physical_position: UVec2::ZERO,
            physical_size: size,
            ..default()
        });
    }

    ground.set(lowest, canvas.shape(&camera, scale));
    let painter = egui::Painter::new(ctx.clone(), egui::LayerId::background(), left.shrink(2.0));
    let eye = || Eye {
        camera: &camera,
        at,
        yard: &yard,
        look: showing.look,
        stretch: showing.stretch,
        zoom: ctx.zoom_factor(),
    };
    if yard.is_changed() {
        hand.cut_again(&yard);
    }
    let mut taken = panel::overlays(left);
    taken.extend(first_day);
    taken.extend(sheet);
    taken.extend(strip);
    // What is asked for may still be on its way.
    let seen_now = in_sight.of(&showing);
    let beside = showing.beside();
    let foot = strip.map_or(painter.clip_rect().bottom() - 38.0, |s| s.top() - 8.0);
    let corner = egui::pos2(painter.clip_rect().left() + 10.0, foot);
    let figures = book.figures;
    let mut written = charts::legends(&painter, corner, &charts, &yard, &seen_now, figures);
    let seen = showing.built.and_then(|k| visits.seen(k));
    if let Some(seen) = seen {
        written.extend(built::legends(&painter, corner, seen, figures));
    }
    // To the shots, once when they are first seen.
    if book.visited != showing.built && (seen.is_some() || showing.built.is_none()) {
        book.visited = showing.built;
        if let Some((at, reach)) = seen.and_then(Seen::place) {
            orbit.target_focus = yard.frame.scene(at);
            orbit.target_focus.y *= showing.stretch;
            orbit.target_radius = (3.8 * reach as f32).min(orbit.target_radius);
            orbit.force_update = true;
        }
    }
    if let Some(right) = beside.filter(|r| r.look != showing.look) {
        let corner = egui::pos2(left.left() + left.width() * line.at + 12.0, foot);
        let other = Showing {
            // Freeboard has one legend.
            brim: right.brim && showing.look != Look::Finished,
            ..right
        };
        let legends = charts::legends(&painter, corner, &charts, &yard, &other, figures);
        written.extend(legends);
    }
    taken.extend(written.iter().map(|w| w.rect));
    let tape = hand.tape(&yard, showing.look);
    let tape_words = tape.map_or_else(String::new, |t| figures.elevation_with_unit(t.slope));
    taken.extend(hand.paint(&painter, &eye(), &tape_words, &mut written));
    let picked = book.picked.as_ref();
    taken.extend(shaping.prepare(&eye(), yard.is_changed(), &work, picked));
    // Labels belong to the look on their side of the line.
    let mut clear = painter.clip_rect();
    let mut sides = vec![(seen_now, clear)];
    let mut on_line = false;
    if let Some(right) = beside {
        let line = line.bypass_change_detection();
        let word = match (seen_now.built, seen_now.stage) {
            (Some(_), _) => "As built",
            (_, Some(_)) => "After the stage",
            _ => showing.look.word(),
        };
        let names = (word, right.look);
        let (over, names) = wipe::paint(&ctx, &painter, left, names, line);
        on_line = over;
        taken.extend(names);
        let at = left.left() + left.width() * line.at;
        let mut other = clear;
        clear.max.x = at - 6.0;
        other.min.x = at + 6.0;
        sides = vec![(seen_now, clear), (right, other)];
    }
    let mut signs = Vec::new();
    let mut title = title(&showing, &stages, seen);
    for (showing, clear) in sides {
        let stage = showing
            .stage
            .and_then(|k| stages.names.get(k).map(String::as_str));
        let mut labels = Labels {
            painter: painter.with_clip_rect(clear),
            eye: Eye {
                look: showing.look,
                ..eye()
            },
            yard: &yard,
            showing,
            title: title.take(),
            stage,
            hauls: stage.and_then(|s| carrying.of(s)).unwrap_or_default(),
            suggested: carrying.places(),
            ground: match showing.built {
                Some(_) => seen.and_then(Seen::ground),
                None => showing.stage.and_then(|k| stages.ground(k)),
            },
            built: seen.filter(|_| showing.built.is_some()),
            stake: book.sheets.stake(),
            figures,
            taken,
            written: Vec::new(),
        };
        signs.extend(labels.paint(book.chosen));
        taken = labels.taken;
        written.extend(labels.written);
    }
    telling::words(&ctx, &written);
    let pointer = ctx.pointer_latest_pos();
    let over = signs
        .iter()
        .find(|(_, rect)| pointer.is_some_and(|p| rect.contains(p)));
    if let Some(&(index, rect)) = over {
        panel::whisper::finding(&ctx, rect, &yard.plan.findings[index]);
        if ctx.input(|i| i.pointer.primary_clicked()) {
            wishes.push(Wish::Finding(index));
        }
    }

    // Slips of paper lie over the yard.
    let bare = |p: egui::Pos2| {
        let layer = ctx.layer_id_at(p);
        left.contains(p) && layer.is_none_or(|l| l.order == egui::Order::Background)
    };
    let in_yard = pointer.is_some_and(bare);
    let mut held = on_line || hand.follow(&ctx, &eye(), in_yard && over.is_none());
    {
        let free = in_yard && over.is_none() && !held && !book.keys;
        let work = work.bypass_change_detection();
        let figures = book.figures;
        let mut picked = book.picked.clone();
        if book.paper.is_none() && !is_list_open {
            held |= shaping.follow(&ctx, &eye(), &showing, work, &mut picked, free);
        }
        shaping::menu(&mut shaping, &ctx, &eye(), work, &mut picked);
        // Where a figure over the yard comes from, while nothing else is in hand. The line under it
        // can be taken all the same.
        let told = panel::whisper::Told {
            yard: &yard,
            stages: &stages,
            visit: seen,
            tape,
            figures,
        };
        let free = in_yard && over.is_none() && !shaping.holds_something();
        let answers = free && panel::whisper::label(&ctx, &written, &told);
        let about = (picked.as_ref(), !answers);
        shaping.paint(&painter, &eye(), work, about, figures);
        if book.picked != picked {
            book.picked = picked;
            ctx.request_repaint();
        }
    }

    // A drag keeps to where it began; over the panel and the signs the yard stays still.
    if held && orbit.enabled {
        orbit.enabled = false;
    }
    if !buttons.any_pressed([MouseButton::Left, MouseButton::Right, MouseButton::Middle]) {
        let free = pointer.is_none_or(bare) && over.is_none() && !held;
        if orbit.enabled != free {
            orbit.enabled = free;
        }
    }

    if std::mem::take(&mut book.elsewhere) {
        wishes.push(Wish::Whole);
    }
    if yard.plan.existing.triangles.is_empty() {
        panel::hint::start(&ctx, left, yard.plan.survey.spots.len());
    }
    for wish in wishes {
        match wish {
            Wish::Whole => frame_whole(&yard, &mut orbit, size, showing.stretch),
            Wish::Lay(sheet) => {
                book.sheets.lay(sheet);
                // Its size and its large letters are known only frames later.
                book.settle();
            }
            Wish::Unit => work.flip_unit(book.figures.0),
            Wish::New if work.editor.is_changed() => book.paper = Some(Paper::Leave(Then::New)),
            Wish::New => work.begin(),
            Wish::Pick(address) => book.picked = address,
            Wish::Place(what) => {
                shaping.place(what);
                work.say("Press in the yard where it goes; Esc: not at all");
            }
            Wish::Open => ask_to_open(&mut book, &mut dialog),
            Wish::Save => save(&mut work, &mut book, &mut dialog),
            Wish::SaveAs => {
                book.paper = Some(Paper::Save(work.wished_path()));
                dialog.ask(Ask::Save);
            }
            Wish::Finding(index) => {
                book.chosen = Some(index);
                let Some(to) = yard.plan.findings.get(index).and_then(|f| f.at) else {
                    continue;
                };
                orbit.target_focus = yard.frame.scene(to);
                orbit.target_focus.y *= showing.stretch;
                orbit.target_radius = (yard.frame.reach as f32 * 0.9).min(orbit.target_radius);
                orbit.force_update = true;
            }
        }
    }
    if work.begun {
        work.begun = false;
        book.page = Page::Notes;
        book.picked = None;
        ctx.request_repaint();
    }
    next.stakes = book.sheets.stake().is_some();
    if let Some(visit) = book.sheets.wanted_in_yard() {
        next.built = Some(visit);
    }
    if next != *showing {
        if next.stretch != showing.stretch {
            orbit.target_focus.y *= next.stretch / showing.stretch;
            orbit.force_update = true;
        }
        *showing = next;
    }
    telling::out(&ctx);
    // What comes up under a pointer at rest needs frames to come up in: the delays that egui asks
    // for wake nobody.
    let resting = |i: &egui::InputState| {
        i.pointer.has_pointer() && i.pointer.time_since_last_movement() < 2.0 * REST
    };
    if ctx.input(resting) {
        ctx.request_repaint();
    }
    Ok(())
}

/// What is written in the corner of the yard about the ground that is asked for.
fn title(showing: &Showing, stages: &Stages, seen: Option<&Seen>) -> Option<String> {
    const WAITING: &str = "being worked out…";
    match (showing.built, showing.stage, seen) {
        (Some(_), _, None) => Some(format!("As built: {WAITING}")),
        // A visit has a title of its own.
        (Some(_), ..) | (None, None, _) => None,
        (None, Some(k), _) => {
            let name = stages.names.get(k).map_or("", String::as_str);
            let done = if name.is_empty() {
                "When all is done".to_owned()
            } else {
                format!("When {name} is done")
            };
            Some(match stages.state(k) {
                State::Shown => done,
                State::Working => format!("{done}: {WAITING}"),
                State::Never(_) => format!("{done}: cannot be shown"),
            })
        }
    }
}

pub fn ask_to_open(book: &mut Book, dialog: &mut Dialog) {
    book.paper = Some(Paper::Open(String::new()));
    dialog.ask(Ask::Open);
}

pub fn save(work: &mut Work, book: &mut Book, dialog: &mut Dialog) {
    if let Some(next) = work.save_or_ask() {
        if matches!(next, Paper::Save(_)) {
            dialog.ask(Ask::Save);
        }
        book.paper = Some(next);
    }
}

pub fn zoom_limits(yard: &Yard) -> (f32, Option<f32>) {
    let reach = yard.frame.reach as f32;
    ((reach * 0.08).max(0.3), Some(reach * 12.0))
}

pub fn frame_whole(yard: &Yard, orbit: &mut PanOrbitCamera, size: UVec2, stretch: f32) {
    // How near and how far one may go depends on how large the yard is.
    (orbit.zoom_lower_limit, orbit.zoom_upper_limit) = zoom_limits(yard);
    let aspect = size.x as f32 / size.y as f32;
    let corners: Vec<Vec3> = yard
        .corners()
        .into_iter()
        .map(|c| Vec3::new(c.x, c.y * stretch, c.z))
        .collect();
    let mut sight = sight::framing(&corners, orbit.target_yaw, orbit.target_pitch, aspect, 1.06);
    if stretch == 1.0 {
        sight = sight::onto(sight, yard.drape(Look::Finished), &yard.frame);
    }
    orbit.target_focus = sight.focus;
    orbit.target_radius = sight.radius;
    orbit.force_update = true;
}
