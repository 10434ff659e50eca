//! The ground after each stage of the work with the piles that lie on it then, computed aside when it is first asked for.

use bevy::prelude::*;
use bevy::tasks::{AsyncComputeTaskPool, Task, block_on, poll_once};
use bevy::window::RequestRedraw;

use crate::findings::Severity;
use crate::job::Job;
use crate::measure::stages::stages;
use crate::plan::{PileStage, PileState, Plan, SoilKind};

use super::Look;
use super::drape::Drape;
use super::ground;
use super::mesh::{Batch, Frame};
use super::scene::{Finishes, Layer, Part, Showing, Yard};
use super::stuff::Stuff;

/// The job whose stages are shown. Replace it together with the yard.
#[derive(Resource)]
pub struct Stages {
    pub(super) job: Job,
    pub names: Vec<String>,
    made: Vec<Made>,
}

enum Made {
    Not,
    Making(Task<Result<(Batch, Drape), String>>),
    /// With its ground, for what lies on it.
    Stands(Drape),
    /// Why it cannot be shown.
    Never(String),
}

/// What is to be said of a stage.
pub enum State<'a> {
    Working,
    Shown,
    Never(&'a str),
}

#[derive(Component)]
pub struct StageGround;

impl Stages {
    pub fn of(job: Job) -> Self {
        let names: Vec<String> = stages(&job).into_iter().map(|s| s.name).collect();
        let made = names.iter().map(|_| Made::Not).collect();
        Stages { job, names, made }
    }

    /// The next or the previous; before the first and after the last is none.
    pub fn beside(&self, stage: Option<usize>, by: isize) -> Option<usize> {
        let count = self.names.len() as isize;
        let places = count + 1;
        let now = stage.map_or(count, |s| s as isize);
        let next = (now + by).rem_euclid(places);
        (next < count).then_some(next as usize)
    }

    pub fn state(&self, stage: usize) -> State<'_> {
        match self.made.get(stage) {
            Some(Made::Stands(_)) => State::Shown,
            Some(Made::Never(why)) => State::Never(why),
            _ => State::Working,
        }
    }

    /// The ground of a stage, once it is made.
    pub fn ground(&self, stage: usize) -> Option<&Drape> {
        match self.made.get(stage)? {
            Made::Stands(drape) => Some(drape),
            _ => None,
        }
    }
}

/// The ground and the new walls of a plan that is not the yard's own, or why they cannot be made.
pub fn raised(plan: &Plan, look: Look, frame: &Frame) -> Result<(Batch, Drape), String> {
    let mut findings = plan.findings.iter();
    let broken =
        findings.find(|f| f.severity == Severity::Error && f.what.starts_with("cannot be"));
    if let Some(f) = broken {
        return Err(format!("{}: {}", f.place, f.what));
    }
    let drape = Drape::new(look.surface(plan));
    let mut batch = ground::block(plan, look, true, &drape, frame);
    for solid in plan.solids.iter().filter(|s| s.new) {
        batch.append(super::walls::wall(solid, frame));
    }
    Ok((batch, drape))
}

/// The piles that lie when a stage ends, as they are then.
pub fn lying<'a>(
    plan: &'a Plan,
    stage: &'a str,
) -> impl Iterator<Item = (&'a PileState, &'a PileStage)> {
    plan.piles.iter().filter_map(move |pile| {
        let then = pile.over_time.iter().find(|t| t.stage == stage)?;
        (!then.mesh.is_empty()).then_some((pile, then))
    })
}

pub fn keep(
    mut commands: Commands,
    mut stages: ResMut<Stages>,
    (yard, showing): (Res<Yard>, Res<Showing>),
    finishes: Res<Finishes>,
    mut meshes: ResMut<Assets<Mesh>>,
    made: Query<Entity, With<StageGround>>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    if yard.is_changed() {
        for entity in &made {
            commands.entity(entity).despawn();
        }
        stages.made.iter_mut().for_each(|m| *m = Made::Not);
    }
    let Some(stage) = showing.stage.filter(|s| *s < stages.made.len()) else {
        return;
    };
    match &mut stages.made[stage] {
        Made::Not => {
            let job = stages.job.clone();
            let frame = yard.frame;
            let piles: Vec<(SoilKind, Vec<[[f64; 3]; 3]>)> =
                lying(&yard.plan, &stages.names[stage])
                    .map(|(pile, then)| (pile.soil, then.mesh.clone()))
                    .collect();
            let task = AsyncComputeTaskPool::get().spawn(async move {
                let plan = Plan::works_after(&job, stage + 1);
                let (mut batch, drape) = raised(&plan, Look::Dug, &frame)?;
                for (soil, mesh) in piles {
                    let stuff = if soil == SoilKind::Topsoil {
                        Stuff::Bed
                    } else {
                        Stuff::Placed
                    };
                    for t in mesh {
                        // A hair over the ground it thins out to.
                        let at = t.map(|p| frame.scene([p[0], p[1], p[2] + 0.01]));
                        batch.triangle(at, [[0.0; 2]; 3], stuff);
                    }
                }
                Ok((batch, drape))
            });
            stages.made[stage] = Made::Making(task);
            redraw.write(RequestRedraw);
        }
        Made::Making(task) => {
            redraw.write(RequestRedraw);
            let Some(done) = block_on(poll_once(task)) else {
                return;
            };
            stages.made[stage] = match done {
                Err(why) => Made::Never(why),
                Ok((batch, drape)) => {
                    for (class, mesh) in batch.into_meshes() {
                        commands.spawn((
                            Mesh3d(meshes.add(mesh)),
                            MeshMaterial3d(finishes.0[class.index()].clone()),
                            Transform::from_scale(Vec3::new(1.0, showing.stretch, 1.0)),
                            // Until it is known whether it is wanted.
                            Visibility::Hidden,
                            Part::of(Layer::Stage(stage), &Look::ALL),
                            StageGround,
                        ));
                    }
                    Made::Stands(drape)
                }
            };
        }
        Made::Stands(_) | Made::Never(_) => {}
    }
}
