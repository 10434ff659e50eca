//! The wipe: a second look on the right of an upright line across the yard, which can be dragged.
//!
//! A second camera stands where the first does and draws the other look's parts over the right of
//! the window; parts say by their render layers for which of the two they are.

use bevy::camera::visibility::RenderLayers;
use bevy::camera::{SubCameraView, Viewport};
use bevy::light::EnvironmentMapLight;
use bevy::prelude::*;
use bevy_egui::egui::{self, Align2, Context, CursorIcon, FontId, Painter, Pos2, Rect, Stroke};
use bevy_panorbit_camera::PanOrbitCamera;

use super::canvas::{self, Canvas};
use super::scene::{Showing, Yard};
use super::{Look, light, paper, start};

/// Layers of what is on the left, or over all of the yard, and of what is on the right.
pub const LEFT: usize = 0;
pub const RIGHT: usize = 1;

/// Where the line is, as a share of the yard's width.
#[derive(Resource)]
pub struct Line {
    pub at: f32,
    held: bool,
}

impl Default for Line {
    fn default() -> Self {
        Line {
            at: 0.5,
            held: false,
        }
    }
}

#[derive(Component)]
pub struct Other;

#[derive(Component)]
pub struct OtherSun;

type Main<'a> = (&'a Camera, &'a Transform, &'a EnvironmentMapLight);

type Second<'a> = (Entity, &'a mut Camera, &'a mut Transform);

/// The second camera comes and goes with the wipe, and follows the first.
pub fn follow(
    mut commands: Commands,
    showing: Res<Showing>,
    line: Res<Line>,
    main: Single<Main, With<PanOrbitCamera>>,
    mut other: Query<Second, (With<Other>, Without<PanOrbitCamera>)>,
    (yard, canvas, suns): (Res<Yard>, Res<Canvas>, Query<Entity, With<OtherSun>>),
    adapter: Option<Res<bevy::render::renderer::RenderAdapterInfo>>,
) {
    let (camera, at, sky) = *main;
    if showing.wipe.is_none() {
        for entity in other.iter().map(|o| o.0).chain(&suns) {
            commands.entity(entity).despawn();
        }
        return;
    }
    let Some(full) = camera.physical_viewport_size().filter(|s| s.x > 8) else {
        return;
    };
    let from = ((full.x as f32 * line.at) as u32).clamp(1, full.x - 2);
    let size = UVec2::new(full.x - from, full.y);
    let viewport = Some(Viewport {
        physical_position: UVec2::new(from, 0),
        physical_size: size,
        ..default()
    });
    let sub_camera_view = Some(SubCameraView {
        full_size: full,
        offset: Vec2::new(from as f32, 0.0),
        size,
    });
    match other.single_mut() {
        Ok((_, mut camera, mut place)) => {
            camera.viewport = viewport;
            camera.sub_camera_view = sub_camera_view;
            place.set_if_neq(*at);
        }
        Err(_) => {
            let sun = light::sunlight(&yard.frame, yard.yaw, RIGHT);
            commands.spawn((sun, OtherSun));
            let soft = adapter.is_some_and(|info| start::is_software(&info));
            commands.spawn((
                start::camera(!soft),
                canvas.target(),
                canvas::Painter,
                Camera {
                    order: 1,
                    viewport,
                    sub_camera_view,
                    clear_color: ClearColorConfig::None,
                    ..default()
                },
                *at,
                sky.clone(),
                RenderLayers::layer(RIGHT),
                Other,
            ));
        }
    }
}

/// The line with its handle, and the names of both sides at its head. Returns whether the pointer
/// is on it, and the places that labels keep clear of.
pub fn paint(
    ctx: &Context,
    painter: &Painter,
    left: Rect,
    // What stands on the left, and the surface on the right.
    (left_word, other): (&str, Look),
    line: &mut Line,
) -> (bool, Vec<Rect>) {
    let x = (left.left() + left.width() * line.at).round();
    let (pointer, pressed, down) = ctx.input(|i| {
        (
            i.pointer.latest_pos(),
            i.pointer.primary_pressed(),
            i.pointer.primary_down(),
        )
    });
    let over = pointer.is_some_and(|p| left.contains(p) && (p.x - x).abs() < 10.0);
    line.held = down && (line.held || (pressed && over));
    if let Some(p) = pointer.filter(|_| line.held) {
        line.at = ((p.x - left.left()) / left.width()).clamp(0.04, 0.96);
    }
    if over || line.held {
        ctx.set_cursor_icon(CursorIcon::ResizeHorizontal);
    }
    painter.vline(x, left.y_range(), Stroke::new(4.0, paper::PAPER));
    painter.vline(x, left.y_range(), Stroke::new(2.0, paper::ACCENT));
    let middle = Pos2::new(x, left.center().y);
    let grip = Rect::from_center_size(middle, egui::vec2(16.0, 44.0));
    painter.rect(
        grip,
        3.0,
        paper::PAPER,
        Stroke::new(1.6, paper::ACCENT),
        egui::StrokeKind::Inside,
    );
    for dx in [-3.0, 3.0] {
        painter.vline(
            x + dx,
            middle.y - 10.0..=middle.y + 10.0,
            Stroke::new(1.4, paper::INK),
        );
    }
    let mut taken = vec![grip];
    for (word, anchor, dx) in [
        (left_word, Align2::RIGHT_TOP, -12.0),
        (other.word(), Align2::LEFT_TOP, 12.0),
    ] {
        let galley =
            painter.layout_no_wrap(word.to_owned(), FontId::proportional(15.0), paper::INK);
        let rect = anchor.anchor_size(Pos2::new(x + dx, left.top() + 14.0), galley.size());
        let sheet = rect.expand2(egui::vec2(6.0, 3.0));
        painter.rect_filled(sheet, 2.0, paper::PAPER);
        painter.galley(rect.min, galley, paper::INK);
        taken.push(sheet);
    }
    (over || line.held, taken)
}
