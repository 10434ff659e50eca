//! Everything that stands in the scene, made once from a plan; switching looks only shows and hides.

use bevy::camera::visibility::{NoFrustumCulling, RenderLayers};
use bevy::gizmos::GizmoAsset;
use bevy::light::{NotShadowCaster, NotShadowReceiver};
use bevy::prelude::*;

use crate::job::Unit;
use crate::plan::{MarkKind, Plan};

use super::Look;
use super::contours::Contours;
use super::drape::Drape;
use super::materials::{self, GroundMaterial, WaterMaterial};
use super::mesh::{Batch, Frame};
use super::{charts, ground, light, lines, pins, sight, walls, water, wipe};

/// The plan on show, and what is needed to draw over it.
#[derive(Resource)]
pub struct Yard {
    pub plan: Plan,
    pub unit: Unit,
    pub frame: Frame,
    pub drapes: [Drape; 3],
    /// Corners that a sight of the whole yard must show.
    pub corners: Vec<Vec3>,
    pub yaw: f32,
    pub contours: [Contours; 3],
}

impl Yard {
    /// The yard of a first plan.
    pub fn new(plan: Plan, unit: Unit) -> Self {
        Yard::within(plan, unit, None)
    }

    /// The yard of the next plan. It is drawn about the same place, so that nothing jumps while it
    /// is worked on, unless it has grown beyond that or shrunk to a fraction.
    pub fn after(old: &Yard, plan: Plan, unit: Unit) -> Self {
        Yard::within(plan, unit, Some(old))
    }

    fn within(plan: Plan, unit: Unit, old: Option<&Yard>) -> Self {
        let bounds: Vec<_> = Look::ALL
            .iter()
            .filter_map(|l| l.surface(&plan).bounds())
            .collect();
        // Without ground yet: about the shots there are, or a bare plot.
        let first = bounds.first().copied().unwrap_or_else(|| {
            let spots = plan.survey.spots.iter().map(|s| [s.x, s.y, s.z]);
            let [lo, hi] = spots.fold(
                [[f64::INFINITY; 3], [f64::NEG_INFINITY; 3]],
                |[lo, hi], p| {
                    [
                        [0, 1, 2].map(|k| lo[k].min(p[k])),
                        [0, 1, 2].map(|k| hi[k].max(p[k])),
                    ]
                },
            );
            if lo[0] <= hi[0] {
                [lo.map(|v| v - 3.0), hi.map(|v| v + 3.0)]
            } else {
                [[-8.0, -8.0, -1.0], [8.0, 8.0, 1.0]]
            }
        });
        let [mut lo, mut hi] = bounds.iter().fold(first, |[mut lo, mut hi], [a, b]| {
            for k in 0..3 {
                lo[k] = lo[k].min(a[k]);
                hi[k] = hi[k].max(b[k]);
            }
            [lo, hi]
        });
        for solid in &plan.solids {
            lo[2] = lo[2].min(solid.base);
            hi[2] = hi[2].max(solid.cap);
        }
        let centre = [0, 1, 2].map(|k| (lo[k] + hi[k]) / 2.0);
        let reach = ((hi[0] - lo[0]).hypot(hi[1] - lo[1]) / 2.0).max(0.5);
        let base = lo[2] - (0.035 * reach).clamp(0.3, 2.0);
        let same = old.map(|o| &o.frame).filter(|f| {
            let away = (0..2).map(|k| (centre[k] - f.centre[k]).abs());
            (0.4 * f.reach..1.3 * f.reach).contains(&reach)
                && away.fold(0.0, f64::max) < 0.5 * f.reach
        });
        let frame = match same {
            // The table stays where it is as long as everything stands on it.
            Some(f) => Frame {
                base: f.base.min(base),
                ..*f
            },
            None => Frame {
                centre,
                reach,
                base,
            },
        };
        let corners = Look::ALL
            .iter()
            .flat_map(|l| &l.surface(&plan).points)
            .flat_map(|p| [frame.scene(*p), frame.scene([p[0], p[1], frame.base])])
            .chain(plan.solids.iter().flat_map(|s| {
                s.footprint
                    .iter()
                    .map(|p| frame.scene([p[0], p[1], s.cap]))
                    .collect::<Vec<_>>()
            }))
            .collect();
        let yaw = old.map_or_else(|| sight::first_yaw(&plan, &frame), |o| o.yaw);
        Yard {
            contours: Look::ALL.map(|l| Contours::of(l.surface(&plan), unit)),
            drapes: Look::ALL.map(|l| Drape::new(l.surface(&plan))),
            plan,
            unit,
            frame,
            corners,
            yaw,
        }
    }

    /// Whether a place on the finished ground lies under water.
    pub fn under_water(&self, p: [f64; 2], elevation: f64) -> bool {
        let left = |a: [f64; 2], b: [f64; 2]| {
            (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
        };
        self.plan
            .water
            .iter()
            .filter(|w| w.level_m > elevation)
            .flat_map(|w| &w.sheet)
            .any(|[a, b, c]| {
                let sides = [left(*a, *b), left(*b, *c), left(*c, *a)];
                sides.iter().all(|s| *s >= 0.0) || sides.iter().all(|s| *s <= 0.0)
            })
    }

    pub fn drape(&self, look: Look) -> &Drape {
        &self.drapes[look.index()]
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layer {
    Model,
    /// What stands whatever is built.
    Standing,
    Water,
    Contours,
    Marks,
    Shots,
    /// Depth of dig and place.
    Depth,
    /// Freeboard round the water.
    Brim,
    /// The ground after a stage.
    Stage(usize),
    /// The ground that a visit was held against, shaded by what was shot.
    Built(usize),
    /// What only the client sees.
    Client,
}

/// What is switched on.
#[derive(Resource, Debug, Clone, Copy, PartialEq)]
pub struct Showing {
    pub look: Look,
    pub water: bool,
    pub contours: bool,
    pub marks: bool,
    pub shots: bool,
    pub depth: bool,
    pub brim: bool,
    /// Times that heights are drawn.
    pub stretch: f32,
    /// The look on the right of the wipe.
    pub wipe: Option<Look>,
    /// The ground after this stage in place of the surface.
    pub stage: Option<usize>,
    /// What was shot on this visit, in place of both.
    pub built: Option<usize>,
    /// As the client sees it: no marks, all that is dressed for the eye.
    pub client: bool,
}

impl Showing {
    /// What is shown on the right of the wipe's line: always one of the three surfaces.
    pub fn beside(&self) -> Option<Showing> {
        self.wipe.map(|look| Showing {
            look,
            stage: None,
            built: None,
            ..*self
        })
    }

    /// Whether the ground shown is that of `look`.
    pub fn is_look(&self) -> bool {
        self.stage.is_none() && self.built.is_none()
    }

    fn layer(&self, layer: Layer) -> bool {
        match layer {
            Layer::Model => self.is_look(),
            Layer::Standing => true,
            Layer::Stage(k) => self.built.is_none() && self.stage == Some(k),
            Layer::Built(k) => self.built == Some(k),
            // The map lies under the water.
            Layer::Water => self.water && !self.depth && self.is_look() && !self.client,
            Layer::Client => self.client,
            Layer::Contours => self.contours && self.is_look(),
            // Over the shots of a visit nothing else is written.
            Layer::Marks => self.marks && self.built.is_none(),
            Layer::Shots => self.shots && self.built.is_none(),
            Layer::Depth => self.depth && self.is_look(),
            Layer::Brim => self.brim && self.is_look(),
        }
    }
}

/// Belongs to a layer, and to one of the looks or to all.
#[derive(Component)]
// The second camera of the wipe has a frustum of its own.
#[require(RenderLayers, NoFrustumCulling)]
pub struct Part {
    layer: Layer,
    looks: [bool; 3],
}

impl Part {
    pub fn of(layer: Layer, looks: &[Look]) -> Part {
        Part {
            layer,
            looks: in_looks(looks),
        }
    }
}

/// What each class of stuff is drawn with.
#[derive(Resource)]
pub struct Finishes(pub [Handle<GroundMaterial>; 5]);

/// What the finishes were made for: they last as long as paving and frame stay as they are.
#[derive(Resource, PartialEq)]
struct MadeFor {
    paving: Vec<Vec<[f64; 2]>>,
    frame: Frame,
}

/// The finishes for this yard, those of the last one if they do.
fn finishes(world: &mut World, yard: &Yard) -> [Handle<GroundMaterial>; 5] {
    let paving = materials::paving(&yard.plan.marks);
    let wanted = MadeFor {
        paving: paving.iter().map(|ring| ring.to_vec()).collect(),
        frame: yard.frame,
    };
    if let (Some(known), Some(last)) = (
        world.get_resource::<Finishes>(),
        world.get_resource::<MadeFor>(),
    ) && *last == wanted
    {
        return known.0.clone();
    }
    let made = materials::ground(
        &mut world.resource_mut::<Assets<Image>>(),
        &paving,
        &yard.frame,
    );
    let mut materials = world.resource_mut::<Assets<GroundMaterial>>();
    let finishes = made.map(|finish| materials.add(finish));
    world.insert_resource(Finishes(finishes.clone()));
    world.insert_resource(wanted);
    finishes
}

type PartOf<'a> = (
    &'a Part,
    Option<&'a mut Visibility>,
    Option<&'a mut RenderLayers>,
    Option<&'a mut Transform>,
);

pub fn show_parts(
    showing: Res<Showing>,
    added: Query<(), Added<Part>>,
    mut parts: Query<PartOf>,
    mut tables: Query<(&light::Table, &mut Transform), Without<Part>>,
) {
    if !showing.is_changed() && added.is_empty() {
        return;
    }
    for (table, mut at) in &mut tables {
        at.translation.y = table.0 * showing.stretch;
    }
    for (part, visibility, layers, at) in &mut parts {
        if let Some(mut at) = at {
            at.scale.y = showing.stretch;
        }
        let on = |s: &Showing| s.layer(part.layer) && part.looks[s.look.index()];
        let (left, right) = (on(&showing), showing.beside().is_some_and(|s| on(&s)));
        if let Some(mut visibility) = visibility {
            *visibility = if left || right {
                Visibility::Inherited
            } else {
                Visibility::Hidden
            };
        }
        // Lines know no visibility, only layers.
        if let Some(mut layers) = layers {
            *layers = [(left, wipe::LEFT), (right, wipe::RIGHT)]
                .into_iter()
                .filter(|(on, _)| *on)
                .fold(RenderLayers::none(), |all, (_, layer)| all.with(layer));
        }
    }
}

fn in_looks(looks: &[Look]) -> [bool; 3] {
    Look::ALL.map(|l| looks.contains(&l))
}

/// Fills the world with the yard's model, marks and light.
pub fn furnish(world: &mut World, yard: &Yard) {
    build(world, yard);
    light::hang(world, &yard.frame, yard.yaw);
}

/// The same for the yard of the next plan: what belongs to the last one goes.
pub fn refurnish(world: &mut World, yard: &Yard) {
    let mut parts = world.query_filtered::<Entity, With<Part>>();
    let gone: Vec<Entity> = parts.iter(world).collect();
    for entity in gone {
        world.despawn(entity);
    }
    build(world, yard);
    let old = world.resource::<Yard>().frame;
    if old != yard.frame {
        light::take_down(world);
        light::hang(world, &yard.frame, yard.yaw);
    }
}

fn build(world: &mut World, yard: &Yard) {
    let Yard { plan, frame, .. } = yard;
    let finishes = finishes(world, yard);
    let model = |world: &mut World, batch: Batch, layer: Layer, looks: [bool; 3]| {
        for (class, mesh) in batch.into_meshes() {
            let mesh = world.resource_mut::<Assets<Mesh>>().add(mesh);
            world.spawn((
                Mesh3d(mesh),
                MeshMaterial3d(finishes[class.index()].clone()),
                Transform::IDENTITY,
                Part { layer, looks },
            ));
        }
    };

    for look in Look::ALL {
        model(
            world,
            ground::block(plan, look, look == Look::Finished, yard.drape(look), frame),
            Layer::Model,
            in_looks(&[look]),
        );
    }
    for solid in &plan.solids {
        let looks: &[Look] = if solid.new {
            &[Look::Finished]
        } else {
            &Look::ALL
        };
        model(
            world,
            walls::wall(solid, frame),
            if solid.new {
                Layer::Model
            } else {
                Layer::Standing
            },
            in_looks(looks),
        );
    }
    for mark in plan.marks.iter().filter(|m| m.kind == MarkKind::House) {
        let batch = walls::house(mark, yard.drape(Look::Existing), plan, frame);
        model(world, batch, Layer::Standing, [true; 3]);
    }

    model(
        world,
        pins::pins(&plan.survey.spots, frame),
        Layer::Shots,
        [true; 3],
    );

    let ribbon = charts::ribbon(yard);
    model(world, ribbon, Layer::Brim, in_looks(&[Look::Finished]));

    pour(world, yard);
    rule(world, yard);
}

fn pour(world: &mut World, yard: &Yard) {
    let Yard { plan, frame, .. } = yard;
    let sheet_material = world
        .resource_mut::<Assets<WaterMaterial>>()
        .add(materials::water());
    let line_material = world
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
    let part = || Part {
        layer: Layer::Water,
        looks: in_looks(&[Look::Finished]),
    };
    for body in &plan.water {
        let sheet = water::sheet(body, yard.drape(Look::Finished), frame);
        for (_, mesh) in sheet.into_meshes() {
            let mesh = world.resource_mut::<Assets<Mesh>>().add(mesh);
            world.spawn((
                Mesh3d(mesh),
                MeshMaterial3d(sheet_material.clone()),
                Transform::IDENTITY,
                NotShadowCaster,
                part(),
            ));
        }
        let line = water::shoreline(body, frame);
        for (_, mesh) in line.into_meshes() {
            let mesh = world.resource_mut::<Assets<Mesh>>().add(mesh);
            world.spawn((
                Mesh3d(mesh),
                MeshMaterial3d(line_material.clone()),
                Transform::IDENTITY,
                NotShadowCaster,
                NotShadowReceiver,
                part(),
            ));
        }
    }
}

/// Marks and contours lie on each look's own ground.
fn rule(world: &mut World, yard: &Yard) {
    for look in Look::ALL {
        let drawn = yard
            .plan
            .marks
            .iter()
            .filter_map(|mark| lines::mark(mark, yard.drape(look), &yard.frame))
            .map(|line| (line, Layer::Marks))
            .chain(
                lines::contours(&yard.contours[look.index()], &yard.frame)
                    .map(|line| (line, Layer::Contours)),
            );
        for ((asset, line_config), layer) in drawn {
            let handle = world.resource_mut::<Assets<GizmoAsset>>().add(asset);
            world.spawn((
                Gizmo {
                    handle,
                    line_config,
                    depth_bias: -0.0008,
                },
                Transform::IDENTITY,
                RenderLayers::none(),
                Part {
                    layer,
                    looks: in_looks(&[look]),
                },
            ));
        }
    }
}
