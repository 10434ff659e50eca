//! Raises the yard's model in the scene, piece by piece: only pieces that are seen, and after a new
//! plan only those that are other than they were. A piece made anew takes the place of the old one
//! in the same bodies, so that nothing is missing in between.

use bevy::camera::visibility::RenderLayers;
use bevy::gizmos::GizmoAsset;
use bevy::light::{NotShadowCaster, NotShadowReceiver};
use bevy::prelude::*;
use rayon::prelude::*;
use rustc_hash::{FxHashMap, FxHashSet};

use super::client::Dressed;
use super::light;
use super::materials::{self, GroundMaterial, WaterMaterial};
use super::pieces::{Made, Piece};
use super::scene::{InSight, Showing};
use super::stuff::Class;
use super::yard::Yard;

/// What stands in the scene.
#[derive(Resource, Default)]
pub struct Raised {
    /// The pieces that are as the yard has them.
    fresh: FxHashSet<Piece>,
    bodies: FxHashMap<(Piece, Class), (Entity, Handle<Mesh>)>,
    lines: FxHashMap<Piece, Vec<(Entity, Handle<GizmoAsset>)>>,
}

/// What each class of stuff is drawn with; the same handles as long as the window stands.
#[derive(Resource)]
pub struct Finishes(pub [Handle<GroundMaterial>; 5]);

/// What the finishes were made for: they last as long as paving and frame stay as they are.
#[derive(Resource, PartialEq)]
struct MadeFor {
    paving: Vec<Vec<[f64; 2]>>,
    centre: [f64; 3],
    reach: f64,
}

/// What the crew's water and its edge are drawn with.
#[derive(Resource, Clone)]
struct Wet {
    sheet: Handle<WaterMaterial>,
    line: Handle<StandardMaterial>,
}

/// Fills the world with the yard's model, marks and light.
pub fn furnish(world: &mut World, yard: &Yard) {
    world.init_resource::<Raised>();
    finish(world, yard);
    raise(world, yard);
    light::hang(world, &yard.frame, yard.yaw);
}

/// The same for the yard of the next plan, with pieces of it that are made already.
pub fn refurnish(world: &mut World, yard: &Yard, made: Vec<(Piece, Made)>) {
    // The client's yard is dressed again when it is looked at.
    let mut dressed = world.query_filtered::<Entity, With<Dressed>>();
    let gone: Vec<Entity> = dressed.iter(world).collect();
    for entity in gone {
        world.despawn(entity);
    }
    if yard.news.frame || yard.news.marks {
        finish(world, yard);
    }
    let mut raised = world.resource_mut::<Raised>();
    raised.fresh.retain(|piece| !piece.is_old(&yard.news));
    for (piece, made) in made {
        stand(world, piece, made);
    }
    raise(world, yard);
    let old = world.resource::<Yard>().frame;
    if old != yard.frame {
        light::take_down(world);
        light::hang(world, &yard.frame, yard.yaw);
    }
}

/// Raises what is seen and does not stand yet as the yard has it.
pub fn raise(world: &mut World, yard: &Yard) {
    let view = in_view(world);
    let fresh = &world.resource::<Raised>().fresh;
    let wanted: Vec<Piece> = seen(&view).filter(|p| !fresh.contains(p)).collect();
    for (piece, made) in make(yard, wanted) {
        stand(world, piece, made);
    }
}

/// The pieces of a yard that will be seen and are other than in the last: made ahead, beside the
/// window.
pub fn ahead(yard: &Yard, view: &View) -> Vec<(Piece, Made)> {
    let wanted = seen(view).filter(|p| p.is_old(&yard.news)).collect();
    make(yard, wanted)
}

/// As a system: what was switched on is raised before it is shown.
pub fn raise_seen(world: &mut World) {
    // A copy of it, which is cheap: to take it out of the world would mark it as changed.
    let yard = world.resource::<Yard>().clone();
    raise(world, &yard);
}

/// What is asked for, and what is in sight until that is made.
pub type View = [Showing; 2];

pub fn in_view(world: &World) -> View {
    let showing = *world.resource::<Showing>();
    let in_sight = world.get_resource::<InSight>();
    [showing, in_sight.map_or(showing, |s| s.of(&showing))]
}

fn seen(view: &View) -> impl Iterator<Item = Piece> {
    Piece::all().filter(|piece| view.iter().any(|s| s.sees(&piece.part())))
}

fn make(yard: &Yard, wanted: Vec<Piece>) -> Vec<(Piece, Made)> {
    wanted
        .into_par_iter()
        .map(|piece| (piece, piece.make(yard)))
        .collect()
}

/// Puts a piece into the scene in place of what stood for it.
fn stand(world: &mut World, piece: Piece, made: Made) {
    world.resource_scope(|world, mut raised: Mut<Raised>| {
        raised.fresh.insert(piece);
        match made {
            Made::Bodies(meshes) => bodies(world, &mut raised, piece, meshes),
            Made::Lines(lines) => {
                let standing = raised.lines.entry(piece).or_default();
                while standing.len() > lines.len() {
                    if let Some((entity, _)) = standing.pop() {
                        world.despawn(entity);
                    }
                }
                for (k, (asset, line_config)) in lines.into_iter().enumerate() {
                    let mut assets = world.resource_mut::<Assets<GizmoAsset>>();
                    if let Some((entity, handle)) = standing.get(k) {
                        let put = assets.insert(handle.id(), asset);
                        if put.is_ok()
                            && let Some(mut gizmo) = world.get_mut::<Gizmo>(*entity)
                        {
                            gizmo.line_config = line_config;
                        }
                        continue;
                    }
                    let handle = assets.add(asset);
                    let gizmo = Gizmo {
                        handle: handle.clone(),
                        line_config,
                        depth_bias: -0.0008,
                    };
                    let part = (Transform::IDENTITY, RenderLayers::none(), piece.part());
                    standing.push((world.spawn((gizmo, part)).id(), handle));
                }
            }
        }
    });
}

fn bodies(world: &mut World, raised: &mut Raised, piece: Piece, meshes: Vec<(Class, Mesh)>) {
    for class in Class::ALL {
        if meshes.iter().all(|(c, _)| *c != class)
            && let Some((entity, _)) = raised.bodies.remove(&(piece, class))
        {
            world.despawn(entity);
        }
    }
    for (class, mesh) in meshes {
        let mut assets = world.resource_mut::<Assets<Mesh>>();
        if let Some((_, handle)) = raised.bodies.get(&(piece, class)) {
            // The handle is held: its place cannot have been given away.
            let _ = assets.insert(handle.id(), mesh);
            continue;
        }
        let handle = assets.add(mesh);
        let body = (
            Mesh3d(handle.clone()),
            Transform::IDENTITY,
            // Until it is known where it is wanted.
            Visibility::Hidden,
            piece.part(),
        );
        let entity = match piece {
            Piece::Water | Piece::Falls => {
                let material = MeshMaterial3d(wet(world).sheet);
                world.spawn((body, material, NotShadowCaster)).id()
            }
            Piece::Shore => {
                let material = MeshMaterial3d(wet(world).line);
                let unlit = (NotShadowCaster, NotShadowReceiver);
                world.spawn((body, material, unlit)).id()
            }
            _ => {
                let finish = &world.resource::<Finishes>().0[class.index()];
                let material = MeshMaterial3d(finish.clone());
                world.spawn((body, material)).id()
            }
        };
        raised.bodies.insert((piece, class), (entity, handle));
    }
}

/// Sees to it that the finishes are those for this yard.
fn finish(world: &mut World, yard: &Yard) {
    let paving = materials::paving(&yard.plan.marks);
    let wanted = MadeFor {
        paving: paving.iter().map(|ring| ring.to_vec()).collect(),
        centre: yard.frame.centre,
        reach: yard.frame.reach,
    };
    if world.get_resource::<MadeFor>() == Some(&wanted) {
        return;
    }
    let made = materials::ground(
        &mut world.resource_mut::<Assets<Image>>(),
        &paving,
        &yard.frame,
    );
    world.insert_resource(wanted);
    let known = world.get_resource::<Finishes>().map(|f| f.0.clone());
    let mut materials = world.resource_mut::<Assets<GroundMaterial>>();
    match known {
        Some(known) => {
            for (handle, finish) in known.iter().zip(made) {
                let _ = materials.insert(handle.id(), finish);
            }
        }
        None => {
            let finishes = made.map(|finish| materials.add(finish));
            world.insert_resource(Finishes(finishes));
        }
    }
}

fn wet(world: &mut World) -> Wet {
    if let Some(wet) = world.get_resource::<Wet>() {
        return wet.clone();
    }
    let sheet = world
        .resource_mut::<Assets<WaterMaterial>>()
        .add(materials::water());
    let line = world
        .resource_mut::<Assets<StandardMaterial>>()
        .add(StandardMaterial {
            base_color: Color::linear_rgba(0.72, 0.86, 0.88, 0.85),
            unlit: true,
            alpha_mode: AlphaMode::Blend,
            cull_mode: None,
            // Drawn after the sheet it lies on.
            depth_bias: 10.0,
            ..default()
        });
    let wet = Wet { sheet, line };
    world.insert_resource(wet.clone());
    wet
}
