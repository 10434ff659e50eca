//! A picture of the yard without window or display: drawn into an image, read back, saved as PNG.

use std::path::Path;
use std::sync::{Arc, Mutex};

use bevy::asset::RenderAssetUsages;
use bevy::camera::RenderTarget;
use bevy::prelude::*;
use bevy::render::RenderApp;
use bevy::render::pipelined_rendering::PipelinedRenderingPlugin;
use bevy::render::render_resource::{
    CachedPipelineState, Extent3d, PipelineCache, PollType, TextureDimension, TextureFormat,
    TextureUsages,
};
use bevy::render::renderer::RenderDevice;
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use bevy::window::ExitCondition;
use bevy::winit::WinitPlugin;

use crate::job::{Job, Unit};
use crate::plan::Plan;

use super::Look;
use super::scene::{Showing, Yard};
use super::{client, light, raise, sight, start};

/// Frames drawn before giving up on the driver.
const PATIENCE: u32 = 400;

/// What is to be seen.
#[derive(Clone, Copy)]
pub struct Wanted {
    pub look: Look,
    /// As the client sees it.
    pub client: bool,
}

pub fn write(plan: &Plan, wanted: Wanted, size: (u32, u32), out: &Path) -> Result<(), String> {
    if !(16..=8192).contains(&size.0) || !(16..=8192).contains(&size.1) {
        return Err(format!(
            "picture of {} × {}: each side must be 16 to 8192 pixels",
            size.0, size.1
        ));
    }
    if out
        .extension()
        .is_none_or(|e| !e.eq_ignore_ascii_case("png"))
    {
        return Err(format!("{}: pictures are written as .png", out.display()));
    }
    let yard = Yard::new(plan.clone(), Unit::Metre);
    if yard.plan.existing.triangles.is_empty() {
        return Err("no ground to draw: too few shots".into());
    }
    let renderer = start::renderer()?;
    let image = start::quietly(|| draw(yard, wanted, size, renderer))
        .map_err(|said| format!("no picture: the graphics driver failed ({said})"))??;
    save(image, out)
}

/// Writes what was drawn as PNG.
pub fn save(image: Image, out: &Path) -> Result<(), String> {
    let image = image
        .try_into_dynamic()
        .map_err(|e| format!("no picture: {e}"))?
        .to_rgb8();
    image
        .save(out)
        .map_err(|e| format!("{}: {e}", out.display()))
}

/// The app that draws, its camera still on a postage stamp, and the image that is wanted.
struct Studio {
    app: App,
    camera: Entity,
    target: Handle<Image>,
}

impl Studio {
    fn new(
        yard: &Yard,
        wanted: Wanted,
        size: (u32, u32),
        renderer: bevy::render::settings::RenderCreation,
    ) -> Studio {
        let mut app = App::new();
        app.add_plugins(
            start::plugins(renderer)
                .set(WindowPlugin {
                    primary_window: None,
                    exit_condition: ExitCondition::DontExit,
                    ..default()
                })
                .disable::<WinitPlugin>()
                .disable::<PipelinedRenderingPlugin>(),
        );
        start::furnished(&mut app);
        app.insert_resource(Showing {
            look: wanted.look,
            water: true,
            contours: !wanted.client,
            marks: !wanted.client,
            shots: false,
            stakes: false,
            depth: false,
            brim: false,
            stretch: 1.0,
            wipe: None,
            stage: None,
            built: None,
            client: wanted.client,
        });
        app.finish();
        app.cleanup();

        let world = app.world_mut();
        raise::furnish(world, yard);
        if wanted.client {
            client::dress(world, yard);
        }
        // Shaders compile while a postage stamp is drawn; only then the picture itself.
        let stamp = blank(world, (16, 16));
        let target = blank(world, size);
        let sky = light::sky(&mut world.resource_mut::<Assets<Image>>());
        let aspect = size.0 as f32 / size.1 as f32;
        let sight = if wanted.client {
            client::first_sight(yard, aspect)
        } else {
            sight::framing(&yard.corners(), yard.yaw, sight::PITCH, aspect, 1.06)
        };
        let camera = world.spawn((
            start::camera(true),
            RenderTarget::from(stamp),
            Transform::from_translation(sight.eye()).with_rotation(sight.rotation()),
            sky,
        ));
        let camera = camera.id();
        light::follow(world, &yard.frame, sight.eye().distance(Vec3::ZERO));
        Studio {
            app,
            camera,
            target,
        }
    }

    /// Draws the stamp until every shader is compiled, then turns to the wanted image.
    fn warm(&mut self) -> Result<(), String> {
        for frame in 0..PATIENCE {
            self.app.update();
            // Shaders are read in the background; the picture waits for the last of them.
            if frame > 4 && ready(&mut self.app)? {
                let mut camera = self.app.world_mut().entity_mut(self.camera);
                camera.insert((
                    RenderTarget::from(self.target.clone()),
                    // A changed lens makes the camera measure its new target.
                    start::lens(),
                ));
                self.app.update();
                return Ok(());
            }
        }
        Err("no picture: the graphics driver did not finish".into())
    }
}

fn draw(
    yard: Yard,
    wanted: Wanted,
    size: (u32, u32),
    renderer: bevy::render::settings::RenderCreation,
) -> Result<Image, String> {
    let mut studio = Studio::new(&yard, wanted, size, renderer);
    studio.warm()?;
    let taken: Arc<Mutex<Option<Image>>> = Arc::default();
    let hand = taken.clone();
    studio
        .app
        .world_mut()
        .spawn(Screenshot::image(studio.target.clone()))
        .observe(move |shot: On<ScreenshotCaptured>| {
            if let Ok(mut taken) = hand.lock() {
                *taken = Some(shot.image.clone());
            }
        });
    for _ in 0..PATIENCE {
        studio.app.update();
        if let Some(image) = taken.lock().ok().and_then(|mut t| t.take()) {
            return Ok(image);
        }
    }
    Err("no picture: the graphics driver did not finish".into())
}

/// What goes on while frames are timed.
#[derive(Clone, Copy, PartialEq)]
enum Stir {
    Rest,
    Turn,
    Drag,
}

/// How long frames of this size take, the drawing of each awaited: first with the camera at rest,
/// then with the camera going round, then with another plan in each. For the benchmark.
pub fn frame_times(
    jobs: [&Job; 2],
    size: (u32, u32),
    counts: [usize; 3],
) -> Result<[Vec<std::time::Duration>; 3], String> {
    let yard = Yard::new(Plan::of(jobs[0]), Unit::Metre);
    let renderer = start::renderer()?;
    let wanted = Wanted {
        look: Look::Finished,
        client: false,
    };
    start::quietly(|| {
        let mut studio = Studio::new(&yard, wanted, size, renderer);
        studio.warm()?;
        studio.app.insert_resource(yard);
        let mut times = [const { Vec::new() }; 3];
        let stirs = [Stir::Rest, Stir::Turn, Stir::Drag];
        for ((stir, times), count) in stirs.into_iter().zip(&mut times).zip(counts) {
            // The first few fill caches.
            let first = count.min(10);
            for frame in 0..first + count {
                let begin = std::time::Instant::now();
                let world = studio.app.world_mut();
                if stir == Stir::Turn
                    && let Some(mut at) = world.get_mut::<Transform>(studio.camera)
                {
                    at.rotate_around(Vec3::ZERO, Quat::from_rotation_y(0.01));
                }
                if stir == Stir::Drag {
                    let plan = Plan::of(jobs[frame % 2]);
                    let next = Yard::after(world.resource::<Yard>(), plan, Unit::Metre);
                    raise::refurnish(world, &next, Vec::new());
                    world.insert_resource(next);
                }
                studio.app.update();
                let device = studio.app.world().resource::<RenderDevice>();
                device
                    .poll(PollType::wait_indefinitely())
                    .map_err(|e| format!("the graphics driver failed: {e}"))?;
                if frame >= first {
                    times.push(begin.elapsed());
                }
            }
        }
        Ok(times)
    })
    .map_err(|said| format!("the graphics driver failed ({said})"))?
}

fn blank(world: &mut World, size: (u32, u32)) -> Handle<Image> {
    world.resource_mut::<Assets<Image>>().add(sheet(size))
}

/// An empty image to draw into.
pub fn sheet(size: (u32, u32)) -> Image {
    let mut image = Image::new_fill(
        Extent3d {
            width: size.0,
            height: size.1,
            depth_or_array_layers: 1,
        },
        TextureDimension::D2,
        &[0, 0, 0, 255],
        TextureFormat::Rgba8UnormSrgb,
        RenderAssetUsages::default(),
    );
    image.texture_descriptor.usage |= TextureUsages::RENDER_ATTACHMENT;
    image
}

/// Whether every shader in use is compiled; an error if one cannot be.
fn ready(app: &mut App) -> Result<bool, String> {
    let Some(render) = app.get_sub_app(RenderApp) else {
        return Err("no picture: nothing to draw with".into());
    };
    let Some(cache) = render.world().get_resource::<PipelineCache>() else {
        return Ok(false);
    };
    for pipeline in cache.pipelines() {
        if let CachedPipelineState::Err(error) = &pipeline.state {
            let text = error.to_string();
            // Not loaded yet is no error: it is tried again.
            if !text.contains("not loaded") && !text.contains("not yet available") {
                return Err(format!("no picture: a shader failed: {text}"));
            }
        }
    }
    Ok(cache.waiting_pipelines().next().is_none())
}
