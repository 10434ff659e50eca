//! The window: how it opens and closes, its cameras, and what follows them.

use std::path::Path;
use std::time::{Duration, Instant};

use bevy::camera::visibility::RenderLayers;
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::light::CascadeShadowConfig;
use bevy::prelude::*;
use bevy::window::{
    ExitCondition, FileDragAndDrop, PrimaryWindow, RequestRedraw, WindowCloseRequested,
    WindowResolution,
};
use bevy::winit::{UpdateMode, WinitSettings};
use bevy_egui::{
    EguiGlobalSettings, EguiPlugin, EguiPostUpdateSet, EguiPreUpdateSet, EguiPrimaryContextPass,
    EguiRenderOutput, PrimaryEguiContext,
};
use bevy_panorbit_camera::{PanOrbitCamera, PanOrbitCameraPlugin, PanOrbitCameraSystemSet};

use crate::edit::Editor;
use crate::job::Job;
use crate::plan::Plan;

use super::book::{Book, Paper, Then};
use super::built::{self, Visits};
use super::canvas::{self, Canvas};
use super::carrying::{self, Carrying};
use super::charts::{self, Charts};
use super::clipboard::{self, Clipboard};
use super::dialog::{self, Dialog};
use super::figures::Figures;
use super::frame::{draw, zoom_limits};
use super::hand::Hand;
use super::keyboard::keys;
use super::memory::Memory;
use super::panel::sheets::Sheets;
use super::panel::{self, Page};
use super::scene::{self, Showing, Yard};
use super::shaping::Shaping;
use super::stages::{self, Stages};
use super::strokes::{self, Strokes};
use super::work::{self, Work};
use super::{Look, client, light, paper, raise, sight, start, wipe};

/// Width and height on opening; fits a 1280 × 800 screen.
const SIZE: (u32, u32) = (1280, 800);

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
        visited: None,
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
        // A wheel that comes in one frame with the pointer turns what the pointer is over: the book is
        // asked first whose it is.
        .configure_sets(
            PostUpdate,
            PanOrbitCameraSystemSet.after(EguiPostUpdateSet::EndPass),
        )
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
            stakes: false,
            depth: false,
            brim: false,
            stretch: 1.0,
            wipe: None,
            stage: None,
            built: None,
            client: false,
        })
        .insert_resource(Stages::of(job))
        .insert_resource(work)
        .init_resource::<wipe::Line>()
        .init_resource::<Hand>()
        .init_resource::<Shaping>()
        .init_resource::<Charts>()
        .init_resource::<Carrying>()
        .init_resource::<Visits>()
        .init_resource::<scene::InSight>()
        .init_resource::<Dialog>()
        .init_resource::<Strokes>()
        .init_non_send::<Clipboard>()
        .add_systems(
            PostUpdate,
            clipboard::keep.after(EguiPostUpdateSet::ProcessOutput),
        )
        .add_systems(
            PreUpdate,
            strokes::strike
                .after(EguiPreUpdateSet::ProcessInput)
                .before(EguiPreUpdateSet::BeginPass),
        )
        .add_systems(EguiPrimaryContextPass, draw)
        .add_systems(
            Update,
            (
                work::keep,
                (
                    keys,
                    door,
                    follow,
                    charts::keep,
                    stages::keep,
                    carrying::keep,
                    built::keep,
                    dialog::keep,
                ),
                (scene::settle, raise::raise_seen),
            )
                .chain()
                .before(scene::show_parts),
        )
        .add_systems(
            PostUpdate,
            letters
                .after(EguiPostUpdateSet::ProcessOutput)
                .before(EguiPostUpdateSet::PostProcessOutput),
        )
        .add_systems(PostUpdate, wipe::follow.before(TransformSystems::Propagate));
    app.add_plugins((client::ClientPlugin, canvas::CanvasPlugin));
    if std::env::var_os("BRIMLINE_VIEW_TIMES").is_some() {
        app.add_systems(Last, times);
    }
    let world = app.world_mut();
    world
        .resource_mut::<EguiGlobalSettings>()
        .auto_create_primary_context = false;
    raise::furnish(world, &yard);
    let size = book.memory.size.unwrap_or(SIZE);
    cameras(world, &yard, size);
    world.insert_resource(book);
    world.insert_resource(yard);
    app
}

fn cameras(world: &mut World, yard: &Yard, size: (u32, u32)) {
    let sky = light::sky(&mut world.resource_mut::<Assets<Image>>());
    let (wide, high) = (size.0 as f32, size.1.max(1) as f32);
    let aspect = (wide - panel::width(wide)).max(1.0) / high;
    let sight = sight::framing(&yard.corners(), yard.yaw, sight::PITCH, aspect, 1.06);
    let sight = sight::onto(sight, yard.drape(Look::Finished), &yard.frame);
    let (nearest, furthest) = zoom_limits(yard);
    let smooth = !start::in_software(world);
    Canvas::hang(world, size);
    let target = world.resource::<Canvas>().target();
    world.spawn((
        start::camera(smooth),
        target,
        canvas::Painter,
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
    // The panel and the labels, over the canvas with the yard.
    world.spawn((
        PrimaryEguiContext,
        strokes::settings(),
        Camera2d,
        RenderLayers::none(),
        Msaa::Off,
        Tonemapping::None,
        Camera {
            order: 2,
            clear_color: ClearColorConfig::Custom(paper::scene(paper::PAPER)),
            ..default()
        },
    ));
}

/// What lies about the desk.
/// Letters drawn for the first time are on the card a frame late: another frame shows them.
fn letters(output: Query<&EguiRenderOutput>, mut redraw: MessageWriter<RequestRedraw>) {
    if output.iter().any(|o| !o.textures_delta.set.is_empty()) {
        redraw.write(RequestRedraw);
    }
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
    canvas: Res<Canvas>,
    mut redraw: MessageWriter<RequestRedraw>,
    mut all: Local<Vec<f32>>,
    mut before: Local<u64>,
) {
    all.push(time.delta_secs() * 1e3);
    redraw.write(RequestRedraw);
    if all.len() == 30 {
        all.sort_by(f32::total_cmp);
        eprintln!(
            "frame: median {:.0} ms, worst {:.0} ms over 30, the yard drawn in {}",
            all[15],
            all[29],
            canvas.drawn - *before
        );
        *before = canvas.drawn;
        all.clear();
    }
}
