//! Where the client stands in the window: coming in and leaving, the turntable, and on foot.

use bevy::input::mouse::{AccumulatedMouseMotion, AccumulatedMouseScroll};
use bevy::prelude::*;
use bevy::window::RequestRedraw;
use bevy_egui::EguiContexts;
use bevy_panorbit_camera::PanOrbitCamera;

use crate::view::scene::{Showing, Yard};
use crate::view::strokes::Strokes;
use crate::view::{Look, start};

use super::shot::Shot;
use super::{Dressed, dress, first_sight};

/// Height of the eye over the ground, m.
const EYE: f64 = 1.6;
/// m/s.
const PACE: f64 = 1.4;
/// Higher steps are not climbed, m.
const STEP: f64 = 0.45;
const WIDE: f32 = 58.0 * std::f32::consts::PI / 180.0;
/// Radians in a second on the turntable.
const TURN: f32 = 0.14;
/// The longest that one frame may last in the reckoning of movement, s.
const LONGEST: f32 = 0.2;

/// The client's view in the window.
#[derive(Resource)]
pub struct Client {
    /// What to come back to.
    kept: Option<(Showing, PanOrbitCamera)>,
    pub turning: bool,
    pub walk: Option<Walk>,
    /// Width and height of saved pictures, in pixels.
    pub size: [u32; 2],
    pub shot: Option<Shot>,
    /// What became of the last picture, and since when it is said.
    pub said: Option<(String, f64)>,
    /// When the pointer last moved.
    pub stirred: f64,
}

impl Default for Client {
    fn default() -> Self {
        Client {
            kept: None,
            turning: false,
            walk: None,
            size: [1920, 1080],
            shot: None,
            said: None,
            stirred: 0.0,
        }
    }
}

/// Someone on foot: a place in plan, the height of the ground there, and where they look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Walk {
    at: [f64; 2],
    ground: f64,
    yaw: f32,
    pitch: f32,
}

impl Walk {
    /// In front of the largest water, on the side that is looked from; in the middle of a dry yard.
    pub fn begin(yard: &Yard, look: Look, yaw: f32) -> Option<Walk> {
        let [x, y, _] = yard.frame.centre;
        let largest = yard
            .plan
            .water
            .iter()
            .max_by(|a, b| a.area_m2.total_cmp(&b.area_m2));
        let middle = largest
            .map(|w| w.edge.iter().flatten().copied().collect::<Vec<_>>())
            .filter(|ring| !ring.is_empty())
            .map_or([x, y], |ring| {
                [0, 1].map(|k| ring.iter().map(|p| p[k]).sum::<f64>() / ring.len() as f64)
            });
        let (sin, cos) = f64::from(yaw).sin_cos();
        let place = |s: f64| [middle[0] + sin * s, middle[1] - cos * s];
        let free = |s: f64| stands(yard, look, place(s));
        let far = (0..240)
            .map(|k| f64::from(k) * 0.25)
            .filter(|s| free(*s).is_some())
            // Beyond the water and what is built along it.
            .find(|s| *s > 0.5 && free(s + 1.0).is_some() && clear(yard, place(*s), 1.6))
            .map(|s| s + 1.0)
            .or_else(|| {
                (0..240)
                    .map(|k| f64::from(k) * 0.25)
                    .find(|s| free(*s).is_some())
            })?;
        let at = place(far);
        Some(Walk {
            at,
            ground: free(far)?,
            yaw,
            pitch: -0.16,
        })
    }

    fn go(&mut self, yard: &Yard, look: Look, ahead: f64, aside: f64) {
        let (sin, cos) = f64::from(self.yaw).sin_cos();
        // Scene z is minus the plan's y: ahead is (−sin, cos) in plan.
        let by = [-sin * ahead + cos * aside, cos * ahead + sin * aside];
        // Along a wall one slides.
        for by in [by, [by[0], 0.0], [0.0, by[1]]] {
            let to = [self.at[0] + by[0], self.at[1] + by[1]];
            if let Some(ground) = stands(yard, look, to).filter(|z| z - self.ground < STEP) {
                self.at = to;
                self.ground = ground;
                return;
            }
        }
    }

    fn transform(&self, yard: &Yard) -> Transform {
        let eye = yard
            .frame
            .scene([self.at[0], self.at[1], self.ground + EYE]);
        Transform::from_translation(eye)
            .with_rotation(Quat::from_rotation_y(self.yaw) * Quat::from_rotation_x(self.pitch))
    }
}

/// The ground one can stand on there.
fn stands(yard: &Yard, look: Look, p: [f64; 2]) -> Option<f64> {
    let z = yard.drape(look).height(p)?;
    (look != Look::Finished || !yard.under_water(p, z)).then_some(z)
}

/// Whether no water and no wall is near.
fn clear(yard: &Yard, p: [f64; 2], near: f64) -> bool {
    let apart = |q: &[f64; 2]| (q[0] - p[0]).hypot(q[1] - p[1]) > near;
    yard.plan
        .water
        .iter()
        .flat_map(|w| w.edge.iter().flatten())
        .chain(yard.plan.solids.iter().flat_map(|s| &s.footprint))
        .all(apart)
}

/// Coming in keeps how the yard was shown; leaving brings it back.
pub fn enter(
    mut client: ResMut<Client>,
    mut showing: ResMut<Showing>,
    yard: Res<Yard>,
    window: Single<&Window>,
    camera: Single<(&mut PanOrbitCamera, &mut Projection)>,
) {
    let (mut orbit, mut lens) = camera.into_inner();
    if showing.client && client.kept.is_none() {
        let before = Showing {
            client: false,
            ..*showing
        };
        client.kept = Some((before, *orbit));
        *showing = Showing {
            look: Look::Finished,
            water: true,
            contours: false,
            marks: false,
            shots: false,
            stakes: false,
            depth: false,
            brim: false,
            stretch: 1.0,
            wipe: None,
            stage: None,
            built: None,
            client: true,
        };
        let aspect = window.width() / window.height().max(1.0);
        let sight = first_sight(&yard, aspect);
        orbit.target_focus = sight.focus;
        orbit.target_yaw = sight.yaw;
        orbit.target_pitch = sight.pitch;
        orbit.target_radius = sight.radius;
        orbit.force_update = true;
    }
    if !showing.client
        && let Some((before, was)) = client.kept.take()
    {
        *showing = before;
        orbit.target_focus = was.target_focus;
        orbit.target_yaw = was.target_yaw;
        orbit.target_pitch = was.target_pitch;
        orbit.target_radius = was.target_radius;
        orbit.enabled = true;
        orbit.force_update = true;
        *lens = start::lens();
        client.turning = false;
        client.walk = None;
        client.said = None;
    }
}

/// Dressing waits until it is looked at.
pub fn dress_when_seen(world: &mut World) {
    if !world.resource::<Showing>().client {
        return;
    }
    let mut dressed = world.query_filtered::<(), With<Dressed>>();
    if dressed.iter(world).next().is_some() {
        return;
    }
    // To take it out of the world would mark it as changed.
    let yard = world.resource::<Yard>().clone();
    dress(world, &yard);
}

pub fn keys(
    mut contexts: EguiContexts,
    keys: Res<ButtonInput<KeyCode>>,
    yard: Res<Yard>,
    mut client: ResMut<Client>,
    mut showing: ResMut<Showing>,
    orbit: Single<&PanOrbitCamera>,
    strokes: Res<Strokes>,
) -> Result {
    let held = [
        KeyCode::ControlLeft,
        KeyCode::ControlRight,
        KeyCode::AltLeft,
        KeyCode::SuperLeft,
        KeyCode::SuperRight,
    ];
    let typing = contexts.ctx_mut()?.egui_wants_keyboard_input() || strokes.are_for_a_cell();
    if typing || keys.any_pressed(held) {
        return Ok(());
    }
    if keys.just_pressed(KeyCode::KeyH) {
        showing.client = !showing.client;
        return Ok(());
    }
    if !showing.client {
        return Ok(());
    }
    if keys.just_pressed(KeyCode::Escape) {
        // Off one's feet first.
        if client.walk.is_none() {
            showing.client = false;
        }
        client.walk = None;
    }
    if keys.just_pressed(KeyCode::Space) {
        swap(&mut showing);
    }
    if keys.just_pressed(KeyCode::KeyT) && client.walk.is_none() {
        client.turning = !client.turning;
    } else if keys.get_just_pressed().next().is_some() {
        client.turning = false;
    }
    if keys.just_pressed(KeyCode::KeyG) {
        on_foot(&mut client, &yard, showing.look, orbit.target_yaw);
    }
    if keys.just_pressed(KeyCode::KeyP) {
        client.ask_for_picture();
    }
    Ok(())
}

/// Before, and after.
pub fn swap(showing: &mut Showing) {
    showing.look = if showing.look == Look::Finished {
        Look::Existing
    } else {
        Look::Finished
    };
}

pub fn on_foot(client: &mut Client, yard: &Yard, look: Look, yaw: f32) {
    client.turning = false;
    client.walk = match client.walk {
        Some(_) => None,
        None => Walk::begin(yard, look, yaw),
    };
}

/// Runs after the orbit has placed the camera.
pub fn go(
    (mut client, showing, yard, time): (ResMut<Client>, Res<Showing>, Res<Yard>, Res<Time<Real>>),
    (keys, buttons): (Res<ButtonInput<KeyCode>>, Res<ButtonInput<MouseButton>>),
    (motion, wheel): (Res<AccumulatedMouseMotion>, Res<AccumulatedMouseScroll>),
    camera: Single<(&mut PanOrbitCamera, &mut Transform, &mut Projection)>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    if !showing.client {
        return;
    }
    let dt = time.delta_secs().min(LONGEST);
    let (mut orbit, mut at, mut lens) = camera.into_inner();
    if client.turning {
        // A press on the strip is the strip's: its button stops and starts the turning.
        let taken = wheel.delta != Vec2::ZERO || buttons.get_just_pressed().next().is_some();
        if taken && orbit.enabled {
            client.turning = false;
        } else {
            orbit.target_yaw += TURN * dt;
            orbit.force_update = true;
            redraw.write(RequestRedraw);
        }
    }
    let Some(mut walk) = client.walk else {
        if is_wide(&lens) {
            *lens = start::lens();
            // The orbit takes the camera up again.
            orbit.force_update = true;
            redraw.write(RequestRedraw);
        }
        return;
    };
    if !is_wide(&lens)
        && let Projection::Perspective(p) = &mut *lens
    {
        p.fov = WIDE;
    }
    let pressed = |codes: [KeyCode; 2]| f64::from(u8::from(keys.any_pressed(codes)));
    let ahead =
        pressed([KeyCode::KeyW, KeyCode::ArrowUp]) - pressed([KeyCode::KeyS, KeyCode::ArrowDown]);
    let aside = pressed([KeyCode::KeyD; 2]) - pressed([KeyCode::KeyA; 2]);
    let turn = pressed([KeyCode::ArrowLeft; 2]) - pressed([KeyCode::ArrowRight; 2]);
    let long = PACE * f64::from(dt);
    if ahead != 0.0 || aside != 0.0 {
        walk.go(&yard, showing.look, ahead * long, aside * long);
    }
    walk.yaw += turn as f32 * 1.1 * dt;
    if buttons.pressed(MouseButton::Left) && motion.delta != Vec2::ZERO {
        walk.yaw += motion.delta.x * 0.003;
        walk.pitch = (walk.pitch + motion.delta.y * 0.003).clamp(-1.2, 0.9);
    }
    // Before and after stand at different heights.
    if let Some(ground) = stands(&yard, showing.look, walk.at) {
        walk.ground = ground;
    }
    let moving = ahead != 0.0 || aside != 0.0 || turn != 0.0;
    if moving || client.walk != Some(walk) {
        redraw.write(RequestRedraw);
        client.walk = Some(walk);
    }
    *at = walk.transform(&yard);
}

fn is_wide(lens: &Projection) -> bool {
    matches!(lens, Projection::Perspective(p) if (p.fov - WIDE).abs() < 1e-4)
}
