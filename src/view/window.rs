//! The window: cameras, keys, and what follows the camera.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use bevy::camera::visibility::RenderLayers;
use bevy::camera::{CameraOutputMode, Viewport};
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::ecs::system::SystemParam;
use bevy::light::CascadeShadowConfig;
use bevy::prelude::*;
use bevy::render::render_resource::BlendState;
use bevy::window::{
    ExitCondition, FileDragAndDrop, PrimaryWindow, RequestRedraw, WindowCloseRequested,
    WindowResolution,
};
use bevy::winit::{UpdateMode, WinitSettings};
use bevy_egui::{
    EguiContexts, EguiGlobalSettings, EguiPlugin, EguiPostUpdateSet, EguiPrimaryContextPass,
    EguiRenderOutput, PrimaryEguiContext, egui,
};
use bevy_panorbit_camera::{PanOrbitCamera, PanOrbitCameraPlugin};

use crate::edit::{Address, Editor};
use crate::job::Job;
use crate::plan::Plan;

use super::charts::{self, Charts};
use super::client::Client;
use super::dialog::{self, Ask, Dialog};
use super::figures::Figures;
use super::hand::{Eye, Hand, Tool};
use super::labels::Labels;
use super::memory::Memory;
use super::panel::sheets::Sheets;
use super::panel::{self, Desk, Page, Wish};
use super::scene::{self, Showing, Yard};
use super::shaping::{self, Shaping};
use super::stages::{self, Stages};
use super::work::{self, Work};
use super::{Look, client, light, sight, start, telling, wipe};

/// Width and height on opening; fits a 1280 × 800 screen.
const SIZE: (u32, u32) = (1280, 800);
/// Times that the book may be written larger than usual.
const SMALLEST: f32 = 0.7;
const LARGEST: f32 = 2.0;

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
    sheets: Sheets,
    /// The slip of the first day that lies over the yard.
    guide: Option<usize>,
    /// What is kept from day to day, and the job's file that it holds already.
    memory: Memory,
    remembered: Option<PathBuf>,
    /// A slip of paper lying over the book: a file's name is asked for.
    pub paper: Option<Paper>,
    /// The thing of the job that is picked, in the yard or on a page. Kept only as long as the
    /// job's items stay where they are: an edit that moves them must mend it.
    pub picked: Option<Address>,
    /// The finding last clicked.
    pub chosen: Option<usize>,
    /// The yard lies elsewhere than before: the camera goes there.
    pub elsewhere: bool,
    /// Frames in which everything is still settling in.
    settling: u32,
    styled: bool,
}

impl Book {
    /// The window is closed: its size is kept for the next time.
    fn remember(&mut self, window: &Window) {
        self.memory.size = Some((window.width() as u32, window.height() as u32));
        self.memory.save();
    }

    /// A few more frames, for what comes up late.
    pub fn settle(&mut self) {
        self.settling = self.settling.max(6);
    }
}

pub fn open(editor: Editor) -> Result<(), String> {
    if cfg!(target_os = "linux") && std::env::var_os("DISPLAY").is_none_or(|d| d.is_empty()) {
        return Err("no 3D: there is no display (DISPLAY is not set)".into());
    }
    let begun = Instant::now();
    let job = editor.job().ok_or("no 3D: the job has mistakes in it")?;
    let job = Job::clone(job);
    let plan = Plan::of(&job);
    let took = begun.elapsed();
    let yard = Yard::new(plan, job.unit);
    let renderer = start::renderer()?;
    let memory = Memory::load();
    let mut work = Work::of(editor, took);
    work.look_for_work_left_behind();
    // The slips of the first day speak of the demo.
    let is_demo = work
        .editor
        .path()
        .and_then(Path::file_stem)
        .is_none_or(|name| name == "demo");
    let book = Book {
        title: job.name.clone(),
        figures: Figures(job.unit),
        page: Page::default(),
        keys: false,
        sheets: Sheets::default(),
        guide: (!memory.guided && is_demo).then_some(0),
        memory,
        remembered: None,
        paper: (!work.left_behind.is_empty()).then_some(Paper::Found),
        picked: None,
        chosen: None,
        elsewhere: false,
        settling: 12,
        styled: false,
    };
    let mut app =
        start::quietly(move || build(yard, book, job, work, renderer)).map_err(|said| {
            if said.contains("event loop") {
                "no 3D: the display does not answer".to_owned()
            } else {
                format!("no 3D: the window could not be opened ({said})")
            }
        })?;
    start::quietly(move || app.run())
        .map(|_| ())
        .map_err(|said| format!("the view stopped: {said}"))
}

fn build(
    yard: Yard,
    book: Book,
    job: Job,
    work: Work,
    renderer: bevy::render::settings::RenderCreation,
) -> App {
    let mut app = App::new();
    app.add_plugins(start::plugins(renderer).set(WindowPlugin {
        primary_window: Some(Window {
            title: format!("Brimline: {}", book.title),
            resolution: {
                let (width, height) = book.memory.size.unwrap_or(SIZE);
                WindowResolution::new(width.clamp(640, 8000), height.clamp(400, 8000))
            },
            ..default()
        }),
        exit_condition: ExitCondition::OnPrimaryClosed,
        // Unsaved changes are asked about first.
        close_when_requested: false,
        ..default()
    }));
    start::furnished(&mut app);
    app.add_plugins((EguiPlugin::default(), PanOrbitCameraPlugin))
        // Draws when something happens, not all the time: laptops in the field run on batteries.
        .insert_resource(WinitSettings {
            focused_mode: UpdateMode::reactive(Duration::from_secs(2)),
            unfocused_mode: UpdateMode::reactive_low_power(Duration::from_secs(2)),
        })
        .insert_resource(Showing {
            look: Look::Finished,
            water: true,
            contours: true,
            marks: true,
            shots: true,
            depth: false,
            brim: false,
            stretch: 1.0,
            wipe: None,
            stage: None,
            client: false,
        })
        .insert_resource(Stages::of(job))
        .insert_resource(work)
        .init_resource::<wipe::Line>()
        .init_resource::<Hand>()
        .init_resource::<Shaping>()
        .init_resource::<Charts>()
        .init_resource::<Dialog>()
        .add_systems(EguiPrimaryContextPass, draw)
        .add_systems(
            Update,
            (
                work::keep,
                (keys, door, follow, charts::keep, stages::keep, dialog::keep),
            )
                .chain(),
        )
        .add_systems(
            PostUpdate,
            letters
                .after(EguiPostUpdateSet::ProcessOutput)
                .before(EguiPostUpdateSet::PostProcessOutput),
        )
        .add_systems(PostUpdate, wipe::follow.before(TransformSystems::Propagate));
    app.add_plugins(client::ClientPlugin);
    if std::env::var_os("BRIMLINE_VIEW_TIMES").is_some() {
        app.add_systems(Last, times);
    }
    let world = app.world_mut();
    world
        .resource_mut::<EguiGlobalSettings>()
        .auto_create_primary_context = false;
    scene::furnish(world, &yard);
    cameras(world, &yard);
    world.insert_resource(book);
    world.insert_resource(yard);
    app
}

fn cameras(world: &mut World, yard: &Yard) {
    let sky = light::sky(&mut world.resource_mut::<Assets<Image>>());
    let aspect = (SIZE.0 as f32 - panel::WIDTH) / SIZE.1 as f32;
    let sight = sight::framing(&yard.corners, yard.yaw, sight::PITCH, aspect, 1.06);
    let sight = sight::onto(sight, yard.drape(Look::Finished), &yard.frame);
    let (nearest, furthest) = zoom_limits(yard);
    let smooth = !start::in_software(world);
    world.spawn((
        start::camera(smooth),
        Transform::from_translation(sight.eye()).with_rotation(sight.rotation()),
        PanOrbitCamera {
            focus: sight.focus,
            target_focus: sight.focus,
            radius: Some(sight.radius),
            yaw: Some(sight.yaw),
            pitch: Some(sight.pitch),
            pitch_lower_limit: Some(0.03),
            pitch_upper_limit: Some(1.56),
            zoom_lower_limit: nearest,
            // A slow frame gathers several clicks of the wheel: half steps cannot overshoot.
            zoom_sensitivity: 0.5,
            zoom_upper_limit: furthest,
            orbit_smoothness: 0.35,
            pan_smoothness: 0.25,
            zoom_smoothness: 0.3,
            ..default()
        },
        sky,
    ));
    // The panel and the labels, over the yard.
    world.spawn((
        PrimaryEguiContext,
        Camera2d,
        RenderLayers::none(),
        Msaa::Off,
        Tonemapping::None,
        Camera {
            order: 2,
            output_mode: CameraOutputMode::Write {
                blend_state: Some(BlendState::PREMULTIPLIED_ALPHA_BLENDING),
                clear_color: ClearColorConfig::None,
            },
            clear_color: ClearColorConfig::Custom(Color::NONE),
            ..default()
        },
    ));
}

type YardCamera<'a> = (&'a mut Camera, &'a GlobalTransform, &'a mut PanOrbitCamera);

/// What lies about the desk.
#[derive(SystemParam)]
struct Tools<'w> {
    work: ResMut<'w, Work>,
    hand: ResMut<'w, Hand>,
    shaping: ResMut<'w, Shaping>,
    charts: Res<'w, Charts>,
    line: ResMut<'w, wipe::Line>,
    stages: Res<'w, Stages>,
    dialog: ResMut<'w, Dialog>,
}

fn draw(
    mut contexts: EguiContexts,
    (mut showing, mut book, mut client): (ResMut<Showing>, ResMut<Book>, ResMut<Client>),
    (yard, time): (Res<Yard>, Res<Time<Real>>),
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
    if showing.client {
        let mut next = *showing;
        let (yaw, now) = (orbit.target_yaw, time.elapsed_secs_f64());
        let on_strip = client::strip(&ctx, &mut client, &mut next, &yard, yaw, now);
        if camera.viewport.is_some() {
            camera.viewport = None;
        }
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
        work: work.bypass_change_detection(),
        hand: &mut hand,
        page: book.page,
        showing: *showing,
        wishes: Vec::new(),
    };
    let left = panel::show(&ctx, &mut desk);
    let Desk {
        page,
        showing: next,
        mut wishes,
        ..
    } = desk;
    book.page = page;
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
    let first_day = panel::guide::show(&ctx, left, &mut guide);
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
        left,
        &mut book.sheets,
        job.as_deref(),
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
    let beside = showing.beside();
    let foot = painter.clip_rect().bottom() - 38.0;
    let corner = egui::pos2(painter.clip_rect().left() + 10.0, foot);
    let figures = book.figures;
    taken.extend(charts::legends(
        &painter, corner, &charts, &yard, &showing, figures,
    ));
    if let Some(right) = beside.filter(|r| r.look != showing.look) {
        let corner = egui::pos2(left.left() + left.width() * line.at + 12.0, foot);
        let other = Showing {
            // Freeboard has one legend.
            brim: right.brim && showing.look != Look::Finished,
            ..right
        };
        taken.extend(charts::legends(
            &painter, corner, &charts, &yard, &other, figures,
        ));
    }
    let tape = hand
        .tape(&yard, showing.look)
        .map_or_else(String::new, |t| book.figures.elevation_with_unit(t.slope));
    taken.extend(hand.paint(&painter, &eye(), &tape));
    let picked = book.picked.as_ref();
    taken.extend(shaping.prepare(&eye(), yard.is_changed(), &work, picked));
    // Labels belong to the look on their side of the line.
    let mut clear = painter.clip_rect();
    let mut sides = vec![(*showing, clear)];
    let mut on_line = false;
    if let Some(right) = beside {
        let line = line.bypass_change_detection();
        let names = (showing.stage.is_some(), showing.look, right.look);
        let (over, names) = wipe::paint(&ctx, &painter, left, names, line);
        on_line = over;
        taken.extend(names);
        let at = left.left() + left.width() * line.at;
        let mut other = clear;
        clear.max.x = at - 6.0;
        other.min.x = at + 6.0;
        sides = vec![(*showing, clear), (right, other)];
    }
    let mut signs = Vec::new();
    for (showing, clear) in sides {
        let mut labels = Labels {
            painter: painter.with_clip_rect(clear),
            eye: Eye {
                look: showing.look,
                ..eye()
            },
            yard: &yard,
            showing,
            stake: book.sheets.stake(),
            figures,
            taken,
            written: Vec::new(),
        };
        signs.extend(labels.paint(book.chosen));
        telling::words(&ctx, &labels.written);
        taken = labels.taken;
    }
    let pointer = ctx.pointer_latest_pos();
    let over = signs
        .iter()
        .find(|(_, rect)| pointer.is_some_and(|p| rect.contains(p)));
    if let Some(&(index, rect)) = over {
        panel::whisper(&ctx, rect, &yard.plan.findings[index]);
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
        if book.paper.is_none() {
            held |= shaping.follow(&ctx, &eye(), &showing, work, &mut picked, free);
        }
        shaping::menu(&mut shaping, &ctx, &eye(), work, &mut picked);
        shaping.paint(&painter, &eye(), work, picked.as_ref(), figures);
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
            Wish::New => {
                let unit = work.editor.unit();
                work.take(Editor::new_job("New yard", unit));
            }
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
    if next != *showing {
        if next.stretch != showing.stretch {
            orbit.target_focus.y *= next.stretch / showing.stretch;
            orbit.force_update = true;
        }
        *showing = next;
    }
    telling::out(&ctx);
    Ok(())
}

fn ask_to_open(book: &mut Book, dialog: &mut Dialog) {
    book.paper = Some(Paper::Open(String::new()));
    dialog.ask(Ask::Open);
}

fn save(work: &mut Work, book: &mut Book, dialog: &mut Dialog) {
    if let Some(next) = work.save_or_ask() {
        if matches!(next, Paper::Save(_)) {
            dialog.ask(Ask::Save);
        }
        book.paper = Some(next);
    }
}

/// Letters drawn for the first time are on the card a frame late: another frame shows them.
fn letters(output: Query<&EguiRenderOutput>, mut redraw: MessageWriter<RequestRedraw>) {
    if output.iter().any(|o| !o.textures_delta.set.is_empty()) {
        redraw.write(RequestRedraw);
    }
}

fn zoom_limits(yard: &Yard) -> (f32, Option<f32>) {
    let reach = yard.frame.reach as f32;
    ((reach * 0.08).max(0.3), Some(reach * 12.0))
}

fn frame_whole(yard: &Yard, orbit: &mut PanOrbitCamera, size: UVec2, stretch: f32) {
    // How near and how far one may go depends on how large the yard is.
    (orbit.zoom_lower_limit, orbit.zoom_upper_limit) = zoom_limits(yard);
    let aspect = size.x as f32 / size.y as f32;
    let corners: Vec<Vec3> = yard
        .corners
        .iter()
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

fn keys(
    mut contexts: EguiContexts,
    keys: Res<ButtonInput<KeyCode>>,
    yard: Res<Yard>,
    mut showing: ResMut<Showing>,
    (mut hand, stages, mut dialog): (ResMut<Hand>, Res<Stages>, ResMut<Dialog>),
    (mut work, mut book): (ResMut<Work>, ResMut<Book>),
    camera: Single<(&Camera, &mut PanOrbitCamera)>,
) -> Result {
    // In a slow frame a key may be down and up again: that counts as well.
    let held = |any: [KeyCode; 2]| keys.any_pressed(any) || keys.any_just_pressed(any);
    let ctrl = held([KeyCode::ControlLeft, KeyCode::ControlRight])
        || held([KeyCode::SuperLeft, KeyCode::SuperRight]);
    let typing = contexts.ctx_mut()?.egui_wants_keyboard_input();
    if showing.client {
        return Ok(());
    }
    if ctrl {
        let shift = held([KeyCode::ShiftLeft, KeyCode::ShiftRight]);
        // In a cell, taking back belongs to the cell.
        if keys.just_pressed(KeyCode::KeyZ) && !typing {
            if shift { work.redo() } else { work.undo() }
        }
        if keys.just_pressed(KeyCode::KeyY) && !typing {
            work.redo();
        }
        if keys.just_pressed(KeyCode::KeyS) {
            save(&mut work, &mut book, &mut dialog);
        }
        if keys.just_pressed(KeyCode::KeyO) {
            ask_to_open(&mut book, &mut dialog);
        }
        return Ok(());
    }
    if typing {
        return Ok(());
    }
    let mut next = *showing;
    for (key, look) in [
        (KeyCode::Digit1, Look::Existing),
        (KeyCode::Digit2, Look::Dug),
        (KeyCode::Digit3, Look::Finished),
    ] {
        if keys.just_pressed(key) {
            next.look = look;
        }
    }
    for (key, layer) in [
        (KeyCode::KeyW, &mut next.water),
        (KeyCode::KeyS, &mut next.shots),
        (KeyCode::KeyC, &mut next.contours),
        (KeyCode::KeyM, &mut next.marks),
        (KeyCode::KeyD, &mut next.depth),
        (KeyCode::KeyB, &mut next.brim),
    ] {
        if keys.just_pressed(key) {
            *layer = !*layer;
        }
    }
    let (camera, mut orbit) = camera.into_inner();
    if keys.just_pressed(KeyCode::KeyV) {
        let now = panel::STRETCHES
            .iter()
            .position(|s| (s - next.stretch).abs() < 0.01);
        next.stretch = panel::STRETCHES[now.map_or(0, |k| (k + 1) % panel::STRETCHES.len())];
    }
    for (key, tool) in [(KeyCode::KeyX, Tool::Section), (KeyCode::KeyT, Tool::Tape)] {
        if keys.just_pressed(key) {
            hand.take_up(tool);
        }
    }
    if keys.just_pressed(KeyCode::KeyE) {
        // None, then each of the others in turn.
        let others = || Look::ALL.into_iter().filter(|l| *l != next.look);
        let now = next.wipe.and_then(|w| others().position(|l| l == w));
        next.wipe = others().nth(now.map_or(0, |k| k + 1));
    }
    for (key, by) in [(KeyCode::BracketLeft, -1), (KeyCode::BracketRight, 1)] {
        if keys.just_pressed(key) {
            next.stage = stages.beside(next.stage, by);
        }
    }
    if keys.just_pressed(KeyCode::Escape) {
        hand.let_go();
    }
    if next != *showing {
        *showing = next;
    }
    if keys.just_pressed(KeyCode::KeyF) {
        let size = camera
            .physical_viewport_size()
            .unwrap_or(UVec2::new(16, 10));
        frame_whole(&yard, &mut orbit, size, showing.stretch);
    }
    Ok(())
}

/// Closing the window, and files dropped on it.
fn door(
    mut closing: MessageReader<WindowCloseRequested>,
    mut dropped: MessageReader<FileDragAndDrop>,
    (mut work, mut book): (ResMut<Work>, ResMut<Book>),
    window: Single<&Window, With<PrimaryWindow>>,
    mut exit: MessageWriter<AppExit>,
) {
    if closing.read().count() > 0 {
        if work.editor.is_changed() {
            book.paper = Some(Paper::Leave(Then::Close));
        } else {
            work.close();
            book.remember(&window);
            exit.write(AppExit::Success);
        }
    }
    for drop in dropped.read() {
        if let FileDragAndDrop::DroppedFile { path_buf, .. } = drop {
            if work.editor.is_changed() {
                book.paper = Some(Paper::Leave(Then::Open(path_buf.clone())));
            } else {
                panel::slip::take_file(path_buf, &mut work);
            }
        }
    }
}

/// Shadows go with the camera; frames go on while it moves.
fn follow(
    camera: Single<(&Transform, &PanOrbitCamera)>,
    yard: Res<Yard>,
    showing: Res<Showing>,
    mut book: ResMut<Book>,
    mut suns: Query<&mut CascadeShadowConfig>,
    mut redraw: MessageWriter<RequestRedraw>,
    mut before: Local<Option<Transform>>,
) {
    let (at, _) = *camera;
    let moved = before.is_none_or(|b| {
        b.translation.distance(at.translation) > 1e-4
            || b.rotation.angle_between(at.rotation) > 1e-5
    });
    if moved {
        for mut sun in &mut suns {
            *sun = light::shadow_range(&yard.frame, at.translation.length());
        }
        *before = Some(*at);
    }
    if showing.is_changed() {
        book.settling = book.settling.max(6);
    }
    if moved || book.settling > 0 {
        book.bypass_change_detection().settling = book.settling.saturating_sub(1);
        redraw.write(RequestRedraw);
    }
}

/// Frame times on standard error, for those who ask for them by BRIMLINE_VIEW_TIMES.
fn times(
    time: Res<Time<Real>>,
    mut redraw: MessageWriter<RequestRedraw>,
    mut all: Local<Vec<f32>>,
) {
    all.push(time.delta_secs() * 1e3);
    redraw.write(RequestRedraw);
    if all.len() == 30 {
        all.sort_by(f32::total_cmp);
        eprintln!(
            "frame: median {:.0} ms, worst {:.0} ms over 30",
            all[15], all[29]
        );
        all.clear();
    }
}
