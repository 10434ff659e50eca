//! The ground after each stage of the work with the piles that lie on it then, computed aside when it
//! is first asked for. What stands of an older plan stays in the yard until the new ground is there.

use std::sync::Arc;

use bevy::prelude::*;
use bevy::window::RequestRedraw;

use crate::findings::Severity;
use crate::job::Job;
use crate::measure::stages::stages;
use crate::plan::{PileStage, PileState, Plan, SoilKind};

use super::Look;
use super::aside::Aside;
use super::drape::Drape;
use super::ground;
use super::mesh::{Batch, Frame};
use super::raise::Finishes;
use super::scene::{InSight, Layer, Part, Showing, Yard};
use super::stuff::Stuff;

/// The job whose stages are shown. Replace it together with the yard.
#[derive(Resource)]
pub struct Stages {
    pub(super) job: Arc<Job>,
    pub names: Vec<String>,
    grounds: Vec<Ground>,
}

#[derive(Default)]
struct Ground {
    made: Aside<Result<(Batch, Drape), String>>,
    /// Of this plan or of an older one: what stands in the yard.
    stands: Option<Drape>,
    state: Progress,
}

#[derive(Clone, Default, PartialEq)]
enum Progress {
    /// Not asked for, or on its way.
    #[default]
    Working,
    Shown,
    /// Why it cannot be.
    Never(String),
}

/// What is to be said of a stage.
pub enum State<'a> {
    Working,
    Shown,
    Never(&'a str),
}

/// The ground after this stage.
#[derive(Component)]
pub struct StageGround(usize);

impl Stages {
    pub fn of(job: impl Into<Arc<Job>>) -> Self {
        let job = job.into();
        let names: Vec<String> = stages(&job).into_iter().map(|s| s.name).collect();
        let grounds = names.iter().map(|_| Ground::default()).collect();
        Stages {
            job,
            names,
            grounds,
        }
    }

    /// The stages of the same job after an edit.
    pub fn after(old: &mut Stages, job: Arc<Job>) -> Self {
        let mut new = Stages::of(job);
        if new.names == old.names {
            new.grounds = std::mem::take(&mut old.grounds);
            for ground in &mut new.grounds {
                ground.made.forget();
                ground.state = Progress::Working;
            }
        }
        new
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
        match self.grounds.get(stage).map(|g| &g.state) {
            Some(Progress::Shown) => State::Shown,
            Some(Progress::Never(why)) => State::Never(why),
            _ => State::Working,
        }
    }

    /// The ground of a stage that stands in the yard, be it that of an older plan.
    pub fn ground(&self, stage: usize) -> Option<&Drape> {
        self.grounds.get(stage)?.stands.as_ref()
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
    (yard, showing, in_sight): (Res<Yard>, Res<Showing>, Res<InSight>),
    finishes: Res<Finishes>,
    mut meshes: ResMut<Assets<Mesh>>,
    standing: Query<(Entity, &StageGround)>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    let is_replaced = stages.is_changed();
    let Stages {
        job,
        names,
        grounds,
    } = stages.bypass_change_detection();
    if is_replaced {
        let seen = in_sight.of(&showing).stage;
        for (entity, StageGround(k)) in &standing {
            let stays = grounds.get(*k).is_some_and(|g| g.stands.is_some());
            if !stays || seen != Some(*k) {
                commands.entity(entity).despawn();
                if let Some(ground) = grounds.get_mut(*k) {
                    ground.stands = None;
                }
            }
        }
    }
    for (stage, ground) in grounds.iter_mut().enumerate() {
        let wanted = showing.stage == Some(stage) && ground.state == Progress::Working;
        let waiting = ground.made.keep(wanted, || {
            let (job, frame) = (job.clone(), yard.frame);
            let piles: Vec<(SoilKind, Vec<[[f64; 3]; 3]>)> = lying(&yard.plan, &names[stage])
                .map(|(pile, then)| (pile.soil, then.mesh.clone()))
                .collect();
            move || after(&job, stage, &piles, &frame)
        });
        if waiting {
            redraw.write(RequestRedraw);
        }
        // As soon as it is known it stands, and nothing is known any more.
        let Some(done) = ground.made.take() else {
            continue;
        };
        for (entity, _) in standing.iter().filter(|(_, g)| g.0 == stage) {
            commands.entity(entity).despawn();
        }
        redraw.write(RequestRedraw);
        let (batch, drape) = match done {
            Ok(made) => made,
            Err(why) => {
                ground.stands = None;
                ground.state = Progress::Never(why);
                continue;
            }
        };
        ground.stands = Some(drape);
        ground.state = Progress::Shown;
        for (class, mesh) in batch.into_meshes() {
            commands.spawn((
                Mesh3d(meshes.add(mesh)),
                MeshMaterial3d(finishes.0[class.index()].clone()),
                Transform::from_scale(Vec3::new(1.0, showing.stretch, 1.0)),
                // Until it is known whether it is wanted.
                Visibility::Hidden,
                Part::of(Layer::Stage(stage), &Look::ALL),
                StageGround(stage),
            ));
        }
    }
}

/// The ground when a stage is done, with the piles that lie on it.
fn after(
    job: &Job,
    stage: usize,
    piles: &[(SoilKind, Vec<[[f64; 3]; 3]>)],
    frame: &Frame,
) -> Result<(Batch, Drape), String> {
    let plan = Plan::works_after(job, stage + 1);
    let (mut batch, drape) = raised(&plan, Look::Dug, frame)?;
    for (soil, mesh) in piles {
        let stuff = if *soil == SoilKind::Topsoil {
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
}
