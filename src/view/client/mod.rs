//! What the client sees: the finished yard without tools and marks, dressed for the eye.
//!
//! The model is the crew's own, and so is how much water falls over each lip. What else is added
//! here is drawn for looks and says so: threads and foam, caps that stand out, the planting edge, lawn
//! and sky about the yard. It is made when it is first shown, so that edits do not wait for it.

mod bar;
mod garden;
mod planting;
mod shot;
mod stand;
mod surround;

pub use bar::show as strip;
pub use stand::Client;

use bevy::light::{NotShadowCaster, NotShadowReceiver};
use bevy::prelude::*;
use bevy_panorbit_camera::PanOrbitCameraSystemSet;

use crate::plan::MarkKind;

use garden::Garden;

use super::Look;
use super::falls;
use super::ground;
use super::materials::{self, Face, Made, WaterMaterial};
use super::mesh::Batch;
use super::raise::Finishes;
use super::scene::{self, Layer, Part, Yard};
use super::sight::{self, Sight};
use super::{light, walls, water};

/// From how high the client looks first.
const PITCH: f32 = 21.0 * std::f32::consts::PI / 180.0;

/// Part of what [`dress`] made.
#[derive(Component)]
pub struct Dressed;

/// Adds what only the client sees. The yard must be furnished.
pub fn dress(world: &mut World, yard: &Yard) {
    let Yard { plan, frame, .. } = yard;
    let [before, after] =
        [Look::Existing, Look::Finished].map(|look| ground::open_edges(look.surface(plan)));
    for (look, edges) in [(Look::Existing, &before), (Look::Finished, &after)] {
        add(world, surround::lawn(edges, frame), &[look], Casts::No);
    }
    for solid in &plan.solids {
        let looks: &[Look] = if solid.new {
            &[Look::Finished]
        } else {
            &Look::ALL
        };
        add(world, walls::cap(solid, frame), looks, Casts::Shadow);
    }
    for mark in plan.marks.iter().filter(|m| m.kind == MarkKind::House) {
        let rest = walls::roofed(mark, yard.drape(Look::Existing), plan, frame);
        add(world, rest, &Look::ALL, Casts::Shadow);
    }
    let finished = yard.drape(Look::Finished);
    let mut green = planting::plants(plan, frame, |p, z| yard.under_water(p, z));
    green.append(planting::edging(plan, finished, frame));
    add(world, green.batch, &[Look::Finished], Casts::Shadow);

    let mut wet = falls::falls(plan, finished, frame);
    for body in &plan.water {
        wet.append(water::sheet(body, finished, frame));
    }
    pour(
        world,
        wet,
        &faces(yard),
        garden::garden(yard, &green.clumps),
    );
    hang_sky(world, frame.reach as f32 * 30.0);
}

enum Casts {
    Shadow,
    No,
}

fn add(world: &mut World, batch: Batch, looks: &[Look], casts: Casts) {
    let Some(finishes) = world.get_resource::<Finishes>().map(|f| f.0.clone()) else {
        return;
    };
    for (class, mesh) in batch.into_meshes() {
        let mesh = world.resource_mut::<Assets<Mesh>>().add(mesh);
        let mut part = world.spawn((
            Mesh3d(mesh),
            MeshMaterial3d(finishes[class.index()].clone()),
            Transform::IDENTITY,
            Part::of(Layer::Client, looks),
            Dressed,
        ));
        if matches!(casts, Casts::No) {
            part.insert(NotShadowCaster);
        }
    }
}

/// Faces of walls and house that the water mirrors, those nearest to the largest water first.
fn faces(yard: &Yard) -> Vec<Face> {
    let Yard { plan, frame, .. } = yard;
    let largest = plan
        .water
        .iter()
        .max_by(|a, b| a.area_m2.total_cmp(&b.area_m2));
    let middle = largest
        .and_then(|w| w.edge.first()?.first())
        .map_or(Vec3::ZERO, |p| frame.scene([p[0], p[1], 0.0]));
    let mut faces: Vec<Face> = plan
        .solids
        .iter()
        .flat_map(|solid| {
            let at = |p: &[f64; 2]| frame.scene([p[0], p[1], solid.cap]);
            let ring = &solid.footprint;
            (0..ring.len()).map(move |k| {
                let (a, b) = (at(&ring[k]), at(&ring[(k + 1) % ring.len()]));
                Face {
                    ends: [a, b],
                    low: f32::MIN,
                    top: a.y,
                    made: Made::Block,
                    light: 0.0,
                }
            })
        })
        .collect();
    for mark in plan.marks.iter().filter(|m| m.kind == MarkKind::House) {
        let house = walls::faces(mark, yard.drape(Look::Existing), plan, frame);
        faces.extend(house.into_iter().map(|face| sunlit(face, yard.yaw)));
    }
    let away = |f: &Face| {
        let [a, b] = f.ends;
        let p = (a + b) / 2.0 - middle;
        Vec2::new(p.x, p.z).length()
    };
    faces.sort_by(|a, b| away(a).total_cmp(&away(b)));
    faces
}

fn sunlit(face: Face, yaw: f32) -> Face {
    let [a, b] = face.ends;
    // Round a house counter-clockwise, open air is on the right; the scene's z is minus the plan's y.
    let outward = Vec3::new(a.z - b.z, 0.0, b.x - a.x).normalize_or_zero();
    Face {
        light: light::on_face(yaw, outward),
        ..face
    }
}

fn pour(world: &mut World, wet: Batch, faces: &[Face], garden: Option<Garden>) {
    let mut mirror = materials::mirror(faces);
    if let Some(Garden {
        map,
        place,
        heights,
    }) = garden
    {
        let map = world.resource_mut::<Assets<Image>>().add(map);
        mirror.extension.beside(map, place, heights);
    }
    let material = world.resource_mut::<Assets<WaterMaterial>>().add(mirror);
    for (_, mesh) in wet.into_meshes() {
        let mesh = world.resource_mut::<Assets<Mesh>>().add(mesh);
        world.spawn((
            Mesh3d(mesh),
            MeshMaterial3d(material.clone()),
            Transform::IDENTITY,
            NotShadowCaster,
            Part::of(Layer::Client, &[Look::Finished]),
            Dressed,
        ));
    }
}

fn hang_sky(world: &mut World, radius: f32) {
    let mesh = world
        .resource_mut::<Assets<Mesh>>()
        .add(light::client_sky(radius));
    let material = world
        .resource_mut::<Assets<StandardMaterial>>()
        .add(StandardMaterial {
            unlit: true,
            cull_mode: None,
            fog_enabled: false,
            ..default()
        });
    world.spawn((
        Mesh3d(mesh),
        MeshMaterial3d(material),
        Transform::IDENTITY,
        NotShadowCaster,
        NotShadowReceiver,
        Part::of(Layer::Client, &Look::ALL),
        Dressed,
    ));
}

/// Where a place of the yard lies in a picture from a sight, in pixels from its upper left.
pub fn place(yard: &Yard, sight: &Sight, size: (u32, u32), at: [f64; 3]) -> Option<[f32; 2]> {
    let p = sight.rotation().inverse() * (yard.frame.scene(at) - sight.eye());
    if p.z >= 0.0 {
        return None;
    }
    let (wide, tall) = (size.0 as f32, size.1 as f32);
    let scale = tall / 2.0 / (sight::ANGLE / 2.0).tan() / -p.z;
    let on = [wide / 2.0 + p.x * scale, tall / 2.0 - p.y * scale];
    let inside = (0.0..wide).contains(&on[0]) && (0.0..tall).contains(&on[1]);
    inside.then_some(on)
}

/// The client's view in the window.
pub struct ClientPlugin;

impl Plugin for ClientPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Client>()
            .add_systems(
                PreUpdate,
                (stand::keys, stand::enter)
                    .chain()
                    .after(bevy::input::InputSystems),
            )
            .add_systems(
                Update,
                (
                    stand::dress_when_seen.before(scene::show_parts),
                    shot::shoot,
                ),
            )
            .add_systems(
                PostUpdate,
                stand::go
                    .after(PanOrbitCameraSystemSet)
                    .before(TransformSystems::Propagate),
            );
    }
}

/// The client's first sight: the water and what is built about it, or the whole yard.
pub fn first_sight(yard: &Yard, aspect: f32) -> Sight {
    let Yard { plan, frame, .. } = yard;
    let water = plan.water.iter().flat_map(|w| {
        let level = w.level_m;
        w.edge
            .iter()
            .flatten()
            .map(move |p| frame.scene([p[0], p[1], level]))
    });
    let walls = plan.solids.iter().filter(|s| s.new).flat_map(|s| {
        let cap = s.cap;
        s.footprint
            .iter()
            .map(move |p| frame.scene([p[0], p[1], cap]))
    });
    let points: Vec<Vec3> = water.chain(walls).collect();
    let points = if points.is_empty() {
        yard.corners()
    } else {
        points
    };
    sight::framing(&points, yard.yaw, PITCH, aspect, 1.3)
}
