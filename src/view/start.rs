//! Starting the engine so that a missing display or driver is one plain line, never a panic.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, Mutex};

use bevy::app::{PanicHandlerPlugin, PluginGroupBuilder, TaskPoolOptions, TaskPoolPlugin};
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::log::LogPlugin;
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::render::renderer::{RenderAdapterInfo, initialize_renderer};
use bevy::render::settings::{Backends, RenderCreation, WgpuSettings};

use super::materials::MaterialsPlugin;
use super::{light, scene, sight};

const NO_DRIVER: &str = "no 3D: no graphics driver for Vulkan was found";

/// Runs something that may panic, printing nothing; a panic comes back as its first line.
///
/// The engine panics where a driver or a display misbehaves. BRIMLINE_VIEW_LOG lets it speak.
pub fn quietly<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    if talks() {
        return catch_unwind(AssertUnwindSafe(work)).map_err(|_| "see above".to_owned());
    }
    let said: Arc<Mutex<Option<String>>> = Arc::default();
    let hear = said.clone();
    let usual = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        let text = info.payload_as_str().unwrap_or("unknown trouble");
        if let Ok(mut said) = hear.lock() {
            // The first panic is the cause; later ones follow from it.
            said.get_or_insert_with(|| text.lines().next().unwrap_or_default().to_owned());
        }
    }));
    let result = catch_unwind(AssertUnwindSafe(work));
    std::panic::set_hook(usual);
    result.map_err(|_| {
        said.lock()
            .ok()
            .and_then(|mut s| s.take())
            .unwrap_or_else(|| "unknown trouble".to_owned())
    })
}

fn talks() -> bool {
    std::env::var_os("BRIMLINE_VIEW_LOG").is_some()
}

/// A device to draw with, or one line.
pub fn renderer() -> Result<RenderCreation, String> {
    let settings = WgpuSettings::default();
    // Vulkan only where there is nothing else: asking for more makes drivers talk to the terminal.
    let usual = if cfg!(target_os = "linux") {
        Backends::VULKAN
    } else {
        Backends::all()
    };
    let backends = Backends::from_env().unwrap_or(usual);
    quietly(|| bevy::tasks::block_on(initialize_renderer(backends, None, &settings)))
        .map(RenderCreation::Manual)
        .map_err(|_| NO_DRIVER.to_owned())
}

/// What window and picture have in common.
pub fn plugins(render_creation: RenderCreation) -> PluginGroupBuilder {
    let group = DefaultPlugins
        .set(RenderPlugin {
            render_creation,
            // A frame without half of its parts would be shown, or saved.
            synchronous_pipeline_compilation: true,
            ..default()
        })
        .set(TaskPoolPlugin {
            task_pool_options: at_work(),
        })
        .disable::<PanicHandlerPlugin>();
    if talks() {
        group
    } else {
        group.disable::<LogPlugin>()
    }
}

/// Beside the window a plan, a search and what is seen of a stage or a visit can be under way at once:
/// with fewer threads the plan would wait for the others, as it would by default on four cores or less.
fn at_work() -> TaskPoolOptions {
    let mut options = TaskPoolOptions::default();
    options.async_compute.min_threads = 4;
    options
}

pub fn furnished(app: &mut App) {
    app.add_plugins(MaterialsPlugin)
        .add_systems(Update, (scene::show_parts, light::mood))
        .add_systems(PostUpdate, light::haze.before(TransformSystems::Propagate));
}

/// The camera that sees the yard. A software driver is spared the smoothing of edges, except in
/// pictures.
pub fn camera(smooth: bool) -> impl Bundle {
    (
        Camera3d::default(),
        lens(),
        Tonemapping::None,
        if smooth { Msaa::Sample4 } else { Msaa::Off },
    )
}

pub fn lens() -> Projection {
    Projection::Perspective(PerspectiveProjection {
        fov: sight::ANGLE,
        near: 0.05,
        far: 20_000.0,
        ..default()
    })
}

/// Whether the driver draws with the processor.
pub fn in_software(world: &World) -> bool {
    world
        .get_resource::<RenderAdapterInfo>()
        .is_some_and(is_software)
}

pub fn is_software(info: &RenderAdapterInfo) -> bool {
    format!("{:?}", info.device_type) == "Cpu"
}
