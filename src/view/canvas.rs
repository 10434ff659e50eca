//! What the yard is drawn on: an image that lies under the labels and beside the book.
//!
//! The yard is drawn anew only when something of it is other than it was. A key struck in a cell then
//! costs no more than the page, also on a laptop whose graphics are weak, or on its battery.

use bevy::asset::RenderAssetUsages;
use bevy::camera::visibility::RenderLayers;
use bevy::camera::{CameraUpdateSystems, ImageRenderTarget, RenderTarget, SubCameraView, Viewport};
use bevy::ecs::system::SystemParam;
use bevy::gizmos::GizmoAsset;
use bevy::input::gestures::PinchGesture;
use bevy::input::mouse::MouseWheel;
use bevy::light::CascadeShadowConfig;
use bevy::pbr::DistanceFog;
use bevy::prelude::*;
use bevy::render::render_resource::{Extent3d, TextureDimension, TextureFormat, TextureUsages};
use bevy::window::{PrimaryWindow, RequestRedraw};
use bevy_egui::{EguiPostUpdateSet, EguiTextureHandle, EguiUserTextures, egui};
use bevy_panorbit_camera::{ActiveCameraData, PanOrbitCamera, PanOrbitCameraSystemSet};

use super::materials::{GroundMaterial, WaterMaterial};
use super::{telling, wipe};

/// Frames in which the yard is drawn after something of it has changed: that frame, and the one in which
/// what came to the card late is on it.
const AFTER: u8 = 2;
/// The same when the window opens.
const AT_FIRST: u8 = 12;

#[derive(Resource)]
pub struct Canvas {
    image: Handle<Image>,
    texture: egui::TextureId,
    size: UVec2,
    scale: f32,
    /// Frames in which the yard is to be drawn yet.
    due: u8,
    /// Frames in which it was drawn.
    pub drawn: u64,
}

/// A camera that draws on the canvas.
#[derive(Component)]
pub struct Painter;

impl Canvas {
    /// Hung up in a new window of this size.
    pub fn hang(world: &mut World, (wide, high): (u32, u32)) {
        let size = UVec2::new(wide.max(1), high.max(1));
        let image = world.resource_mut::<Assets<Image>>().add(blank(size));
        let texture = world
            .resource_mut::<EguiUserTextures>()
            .add_image(EguiTextureHandle::Strong(image.clone()));
        world.insert_resource(Canvas {
            image,
            texture,
            size,
            scale: 1.0,
            due: AT_FIRST,
            drawn: 0,
        });
    }

    pub fn target(&self) -> RenderTarget {
        RenderTarget::Image(ImageRenderTarget {
            handle: self.image.clone(),
            scale_factor: self.scale,
        })
    }

    /// The canvas where it is seen: the part that the camera draws on, in a window with so many pixels to
    /// a point.
    pub fn shape(&self, camera: &Camera, pixels_per_point: f32) -> egui::Shape {
        let size = camera
            .viewport
            .as_ref()
            .map_or(self.size, |v| v.physical_size)
            .as_vec2();
        let share = size / self.size.as_vec2();
        let seen = size / pixels_per_point;
        egui::Shape::image(
            self.texture,
            egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(seen.x, seen.y)),
            egui::Rect::from_min_max(egui::Pos2::ZERO, egui::pos2(share.x, share.y)),
            egui::Color32::WHITE,
        )
    }
}

fn extent(size: UVec2) -> Extent3d {
    Extent3d {
        width: size.x,
        height: size.y,
        depth_or_array_layers: 1,
    }
}

fn blank(size: UVec2) -> Image {
    let mut image = Image::new_uninit(
        extent(size),
        TextureDimension::D2,
        TextureFormat::Rgba8UnormSrgb,
        RenderAssetUsages::default(),
    );
    image.texture_descriptor.usage |= TextureUsages::RENDER_ATTACHMENT;
    // Pixel on pixel.
    image.sampler = bevy::image::ImageSampler::nearest();
    image
}

pub struct CanvasPlugin;

impl Plugin for CanvasPlugin {
    fn build(&self, app: &mut App) {
        app.add_systems(PreUpdate, fit.after(bevy::input::InputSystems))
            .add_systems(PreUpdate, take.after(bevy::input::InputSystems))
            .add_systems(
                PostUpdate,
                rest.after(EguiPostUpdateSet::EndPass)
                    .after(PanOrbitCameraSystemSet)
                    .after(wipe::follow)
                    .before(CameraUpdateSystems)
                    .before(TransformSystems::Propagate),
            );
    }
}

/// The canvas is as large as the window.
fn fit(
    window: Single<&Window, With<PrimaryWindow>>,
    mut canvas: ResMut<Canvas>,
    mut images: ResMut<Assets<Image>>,
    mut cameras: Query<(&mut RenderTarget, &mut Projection), With<Painter>>,
) {
    let size = window.physical_size().max(UVec2::ONE);
    let scale = window.scale_factor();
    if size == canvas.size && scale == canvas.scale {
        return;
    }
    canvas.size = size;
    canvas.scale = scale;
    canvas.due = AFTER + 1;
    if let Some(mut image) = images.get_mut(&canvas.image) {
        image.resize(extent(size));
    }
    for (mut target, mut lens) in &mut cameras {
        *target = canvas.target();
        // The camera looks at its target again when its lens has changed.
        lens.set_changed();
    }
}

/// Whose the pointer is: where a press or a turn of the wheel comes over the canvas, the yard's.
fn take(
    window: Single<&Window, With<PrimaryWindow>>,
    camera: Single<(Entity, &Camera), With<PanOrbitCamera>>,
    buttons: Res<ButtonInput<MouseButton>>,
    touches: Res<Touches>,
    mut turned: MessageReader<MouseWheel>,
    mut pinched: MessageReader<PinchGesture>,
    mut active: ResMut<ActiveCameraData>,
) {
    let wheel = turned.read().count() + pinched.read().count() > 0;
    let touch = touches.iter_just_pressed().next().map(|t| t.position());
    if !wheel && touch.is_none() && buttons.get_just_pressed().next().is_none() {
        return;
    }
    let (entity, camera) = *camera;
    let over = window
        .cursor_position()
        .or(touch)
        .zip(camera.logical_viewport_rect())
        .is_some_and(|(at, seen)| seen.contains(at));
    active.set_if_neq(ActiveCameraData {
        entity: over.then_some(entity),
        viewport_size: camera.logical_viewport_size(),
        window_size: Some(window.size()),
        // By the plugin alone it would ask for a camera that draws into the window itself.
        manual: true,
    });
}

type Stirred = Or<(
    Or<(
        Changed<Transform>,
        Changed<Visibility>,
        Changed<RenderLayers>,
        Changed<Mesh3d>,
        Changed<Gizmo>,
    )>,
    Or<(
        Changed<MeshMaterial3d<GroundMaterial>>,
        Changed<MeshMaterial3d<WaterMaterial>>,
        Changed<MeshMaterial3d<StandardMaterial>>,
    )>,
    Or<(
        Changed<DirectionalLight>,
        Changed<CascadeShadowConfig>,
        Changed<EnvironmentMapLight>,
        Changed<DistanceFog>,
        Changed<Projection>,
    )>,
)>;

/// All that the picture of the yard hangs on.
#[derive(SystemParam)]
struct News<'w, 's> {
    stirred: Query<'w, 's, (), Stirred>,
    bodies: RemovedComponents<'w, 's, Mesh3d>,
    lines: RemovedComponents<'w, 's, Gizmo>,
    suns: RemovedComponents<'w, 's, DirectionalLight>,
    fogs: RemovedComponents<'w, 's, DistanceFog>,
    meshes: Res<'w, Assets<Mesh>>,
    drawn: Res<'w, Assets<GizmoAsset>>,
    images: Res<'w, Assets<Image>>,
    ground: Res<'w, Assets<GroundMaterial>>,
    water: Res<'w, Assets<WaterMaterial>>,
    plain: Res<'w, Assets<StandardMaterial>>,
}

impl News<'_, '_> {
    fn come(&mut self) -> bool {
        // All are read, so that none is left over for the next frame.
        let gone = self.bodies.read().count()
            + self.lines.read().count()
            + self.suns.read().count()
            + self.fogs.read().count();
        gone > 0
            || !self.stirred.is_empty()
            || self.meshes.is_changed()
            || self.drawn.is_changed()
            || self.images.is_changed()
            || self.ground.is_changed()
            || self.water.is_changed()
            || self.plain.is_changed()
    }
}

type Seen = (UVec2, UVec2, Option<SubCameraView>);

/// Cameras rest while what they see is as they have drawn it.
fn rest(
    mut canvas: ResMut<Canvas>,
    mut news: News,
    mut cameras: Query<&mut Camera, With<Painter>>,
    mut before: Local<Vec<Seen>>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    let seen = |c: &Camera| {
        let Viewport {
            physical_position,
            physical_size,
            ..
        } = c.viewport.clone().unwrap_or_default();
        (physical_position, physical_size, c.sub_camera_view)
    };
    let now: Vec<Seen> = cameras.iter().map(seen).collect();
    let mut due = canvas.due;
    if news.come() || *before != now {
        due = due.max(AFTER);
        *before = now;
    }
    let draws = due > 0;
    for mut camera in &mut cameras {
        if camera.is_active != draws {
            camera.is_active = draws;
        }
    }
    if draws {
        canvas.due = due - 1;
        canvas.drawn += 1;
        telling::drawn();
        if canvas.due > 0 {
            redraw.write(RequestRedraw);
        }
    } else {
        canvas.due = 0;
    }
}
