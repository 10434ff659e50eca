//! Late afternoon: a low warm sun with shadows, soft light from the sky, a pale backdrop, and a
//! table that the model stands on. The sun stands to the left of the first sight, wherever north is.

use std::f32::consts::PI;

use bevy::asset::RenderAssetUsages;
use bevy::camera::visibility::RenderLayers;
use bevy::light::{
    CascadeShadowConfig, CascadeShadowConfigBuilder, DirectionalLightShadowMap,
    EnvironmentMapLight, NotShadowCaster, NotShadowReceiver,
};
use bevy::mesh::{Indices, PrimitiveTopology};
use bevy::pbr::{DistanceFog, FogFalloff};
use bevy::prelude::*;

use super::mesh::Frame;
use super::scene::Showing;
use super::wipe;

const SUN_HEIGHT: f32 = 36.0 * PI / 180.0;
const SUN_ASIDE: f32 = 68.0 * PI / 180.0;

const CLIENT_HEIGHT: f32 = 25.0 * PI / 180.0;
/// Where lawn and sky meet, for the client.
const HAZE: Color = Color::linear_rgb(0.80, 0.76, 0.66);

/// Seen on both sides of the wipe.
fn both() -> RenderLayers {
    RenderLayers::from_layers(&[wipe::LEFT, wipe::RIGHT])
}

/// What the model stands on, and its height at true scale.
#[derive(Component)]
pub struct Table(pub f32);

/// Direction towards the sun.
fn sun(yaw: f32, height: f32) -> Vec3 {
    let azimuth = yaw - SUN_ASIDE;
    Vec3::new(
        azimuth.sin() * height.cos(),
        height.sin(),
        azimuth.cos() * height.cos(),
    )
}

/// How the client's sun lights an upright face that looks this way: 0 in its own shade, 1 full on.
pub fn on_face(yaw: f32, outward: Vec3) -> f32 {
    // Half of what falls straight on it is bright already.
    (2.0 * outward.dot(sun(yaw, CLIENT_HEIGHT))).clamp(0.0, 1.0)
}

/// The sun, and the yard it shines on: its first sight, and how large it is.
#[derive(Component)]
pub struct Sun {
    yaw: f32,
    reach: f32,
}

type SunOf<'a> = (&'a Sun, &'a mut DirectionalLight, &'a mut Transform);

/// For the client the sun stands lower and warmer.
pub fn mood(showing: Res<Showing>, mut suns: Query<SunOf>, added: Query<(), Added<Sun>>) {
    if !showing.is_changed() && added.is_empty() {
        return;
    }
    let (height, color, lux) = if showing.client {
        (CLIENT_HEIGHT, Color::linear_rgb(1.0, 0.80, 0.55), 6_400.0)
    } else {
        (SUN_HEIGHT, Color::linear_rgb(1.0, 0.87, 0.68), 5_200.0)
    };
    for (sun_of, mut light, mut at) in &mut suns {
        light.color = color;
        light.illuminance = lux;
        // A low sun draws its own grain on level ground.
        light.shadow_normal_bias = if showing.client { 2.4 } else { 1.2 };
        *at = Transform::from_translation(sun(sun_of.yaw, height)).looking_at(Vec3::ZERO, Vec3::Y);
    }
}

type Seer<'a> = (Entity, &'a Transform, Option<&'a DistanceFog>);

/// In the client's view the lawn about the yard goes over into haze.
pub fn haze(
    mut commands: Commands,
    showing: Res<Showing>,
    suns: Query<&Sun>,
    cameras: Query<Seer, With<Camera3d>>,
) {
    let reach = suns.iter().next().map_or(10.0, |s| s.reach);
    for (camera, at, fog) in &cameras {
        if !showing.client {
            if fog.is_some() {
                commands.entity(camera).remove::<DistanceFog>();
            }
            continue;
        }
        let away = at.translation.length();
        let wanted = FogFalloff::Linear {
            start: away + 0.55 * reach,
            end: away + 4.5 * reach,
        };
        let same = fog.is_some_and(|f| format!("{:?}", f.falloff) == format!("{wanted:?}"));
        if !same {
            commands.entity(camera).insert(DistanceFog {
                color: HAZE,
                falloff: wanted,
                ..default()
            });
        }
    }
}

/// The dome over the client's yard; it begins in the haze.
pub fn client_sky(radius: f32) -> Mesh {
    let high = LinearRgba::rgb(0.44, 0.55, 0.66);
    dome(radius, |up| {
        let t = (up * 1.9).clamp(0.0, 1.0);
        let t = t * (2.0 - t);
        LinearRgba::from(HAZE).mix(&high, t).to_f32_array()
    })
}

pub fn sky(images: &mut Assets<Image>) -> EnvironmentMapLight {
    EnvironmentMapLight {
        intensity: 460.0,
        ..EnvironmentMapLight::hemispherical_gradient(
            images,
            Color::linear_rgb(0.80, 0.88, 1.0),
            Color::linear_rgb(0.74, 0.70, 0.64),
            Color::linear_rgb(0.42, 0.34, 0.26),
        )
    }
}

/// Hung by [`hang`].
#[derive(Component)]
struct Hung;

/// Takes down what [`hang`] put up.
pub fn take_down(world: &mut World) {
    let mut hung = world.query_filtered::<Entity, With<Hung>>();
    let gone: Vec<Entity> = hung.iter(world).collect();
    for entity in gone {
        world.despawn(entity);
    }
}

/// The sun of one side of the wipe: what stands on the other throws no shadow there.
pub fn sunlight(frame: &Frame, yaw: f32, side: usize) -> impl Bundle {
    (
        DirectionalLight {
            color: Color::linear_rgb(1.0, 0.87, 0.68),
            illuminance: 5_200.0,
            shadow_maps_enabled: true,
            shadow_depth_bias: 0.02,
            shadow_normal_bias: 1.2,
            ..default()
        },
        Transform::from_translation(sun(yaw, SUN_HEIGHT)).looking_at(Vec3::ZERO, Vec3::Y),
        Sun {
            yaw,
            reach: frame.reach as f32,
        },
        shadow_range(frame, frame.reach as f32 * 4.0),
        RenderLayers::layer(side),
    )
}

pub fn hang(world: &mut World, frame: &Frame, yaw: f32) {
    world.insert_resource(DirectionalLightShadowMap { size: 2048 });
    world.insert_resource(GlobalAmbientLight::NONE);
    world.spawn((Hung, sunlight(frame, yaw, wipe::LEFT)));

    let reach = frame.reach as f32;
    let table_height = (frame.base - frame.centre[2]) as f32;
    let (backdrop, table) = {
        let mut meshes = world.resource_mut::<Assets<Mesh>>();
        (
            meshes.add(backdrop_mesh(reach * 40.0)),
            meshes.add(table_mesh(reach * 4.5)),
        )
    };
    let (unlit, cloth) = {
        let mut materials = world.resource_mut::<Assets<StandardMaterial>>();
        (
            materials.add(StandardMaterial {
                unlit: true,
                cull_mode: None,
                fog_enabled: false,
                ..default()
            }),
            materials.add(StandardMaterial {
                perceptual_roughness: 1.0,
                reflectance: 0.0,
                alpha_mode: AlphaMode::Blend,
                ..default()
            }),
        )
    };
    world.spawn((
        Hung,
        Mesh3d(backdrop),
        MeshMaterial3d(unlit),
        Transform::IDENTITY,
        NotShadowCaster,
        NotShadowReceiver,
        both(),
    ));
    world.spawn((
        Hung,
        Mesh3d(table),
        MeshMaterial3d(cloth),
        Transform::from_xyz(0.0, table_height - 0.002, 0.0),
        Table(table_height - 0.002),
        NotShadowCaster,
        both(),
    ));
}

/// One cascade over the depth that the model takes up from the camera: the whole map for the yard.
pub fn shadow_range(frame: &Frame, distance: f32) -> CascadeShadowConfig {
    let reach = frame.reach as f32 * 1.6;
    let near = (distance - reach).max(0.05);
    let far = distance + reach;
    // Close up, the yard behind would take the map from the ground in front.
    let cascades = if near > reach * 0.3 { 1 } else { 2 };
    CascadeShadowConfigBuilder {
        num_cascades: cascades,
        minimum_distance: near,
        first_cascade_far_bound: (near * 1.5).max(far * 0.25),
        maximum_distance: far,
        overlap_proportion: 0.1,
    }
    .build()
}

/// A dome that is paler towards the horizon.
fn backdrop_mesh(radius: f32) -> Mesh {
    let ramp = |up: f32| -> [f32; 4] {
        let low = Vec3::new(0.86, 0.82, 0.74);
        let horizon = Vec3::new(0.955, 0.925, 0.865);
        let high = Vec3::new(0.74, 0.785, 0.80);
        let c = if up < 0.0 {
            horizon.lerp(low, (-up * 1.3).min(1.0))
        } else {
            horizon.lerp(high, (up * 1.2).min(1.0))
        };
        c.map(|v| v.powf(2.2)).extend(1.0).to_array()
    };
    dome(radius, ramp)
}

/// A ball seen from inside, coloured by how far up.
fn dome(radius: f32, ramp: impl Fn(f32) -> [f32; 4]) -> Mesh {
    let (rows, columns) = (48u32, 24u32);
    let mut positions = Vec::new();
    let mut colors = Vec::new();
    for r in 0..=rows {
        let tilt = PI * (r as f32 / rows as f32 - 0.5);
        for c in 0..=columns {
            let turn = 2.0 * PI * c as f32 / columns as f32;
            positions.push(
                Vec3::new(tilt.cos() * turn.cos(), tilt.sin(), tilt.cos() * turn.sin()) * radius,
            );
            colors.push(ramp(tilt.sin()));
        }
    }
    let mut indices = Vec::new();
    for r in 0..rows {
        for c in 0..columns {
            let a = r * (columns + 1) + c;
            let b = a + columns + 1;
            indices.extend([a, b, a + 1, a + 1, b, b + 1]);
        }
    }
    let normals: Vec<Vec3> = positions.iter().map(|p| -p.normalize()).collect();
    Mesh::new(
        PrimitiveTopology::TriangleList,
        RenderAssetUsages::default(),
    )
    .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, positions)
    .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, normals)
    .with_inserted_attribute(Mesh::ATTRIBUTE_COLOR, colors)
    .with_inserted_indices(Indices::U32(indices))
}

/// A pale disc that fades into the backdrop.
fn table_mesh(radius: f32) -> Mesh {
    let (rings, columns) = (12u32, 64u32);
    let mut positions = vec![Vec3::ZERO];
    let paper = |alpha: f32| [0.68, 0.65, 0.59, alpha];
    let mut colors = vec![paper(1.0)];
    for r in 1..=rings {
        let f = r as f32 / rings as f32;
        let fade = ((f - 0.25) / 0.75).clamp(0.0, 1.0);
        let alpha = 1.0 - fade * fade * (3.0 - 2.0 * fade);
        for c in 0..columns {
            let turn = 2.0 * PI * c as f32 / columns as f32;
            positions.push(Vec3::new(turn.cos(), 0.0, turn.sin()) * radius * f);
            colors.push(paper(alpha));
        }
    }
    let mut indices = Vec::new();
    for c in 0..columns {
        let d = (c + 1) % columns;
        indices.extend([0, 1 + d, 1 + c]);
        for r in 1..rings {
            let (inner, outer) = (1 + (r - 1) * columns, 1 + r * columns);
            indices.extend([
                inner + c,
                inner + d,
                outer + c,
                outer + c,
                inner + d,
                outer + d,
            ]);
        }
    }
    let normals = vec![Vec3::Y; positions.len()];
    Mesh::new(
        PrimitiveTopology::TriangleList,
        RenderAssetUsages::default(),
    )
    .with_inserted_attribute(Mesh::ATTRIBUTE_POSITION, positions)
    .with_inserted_attribute(Mesh::ATTRIBUTE_NORMAL, normals)
    .with_inserted_attribute(Mesh::ATTRIBUTE_COLOR, colors)
    .with_inserted_indices(Indices::U32(indices))
}

/// Fits the shadows to where the camera is.
pub fn follow(world: &mut World, frame: &Frame, distance: f32) {
    let config = shadow_range(frame, distance);
    let mut suns = world.query::<&mut CascadeShadowConfig>();
    for mut sun in suns.iter_mut(world) {
        *sun = config.clone();
    }
}
