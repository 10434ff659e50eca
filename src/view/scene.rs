//! What stands in the scene is shown and hidden here: which layers are on, and which ground is in sight.

use bevy::camera::visibility::{NoFrustumCulling, RenderLayers};
use bevy::prelude::*;

use super::built::Visits;
use super::stages::{Stages, State};
use super::{Look, light, wipe};

pub use super::yard::Yard;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Layer {
    Model,
    /// What stands whatever is built.
    Standing,
    Water,
    Contours,
    Marks,
    Shots,
    /// What is staked.
    Stakes,
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
    /// While the list of stakes lies over the yard.
    pub stakes: bool,
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

    /// One of the three surfaces, in place of a stage or a visit.
    pub fn turn_to(&mut self, look: Look) {
        (self.look, self.stage, self.built) = (look, None, None);
    }

    /// Whether a part is seen, on either side of the wipe.
    pub fn sees(&self, part: &Part) -> bool {
        let on = |s: &Showing| s.layer(part.layer) && part.looks[s.look.index()];
        on(self) || self.beside().is_some_and(|s| on(&s))
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
            Layer::Stakes => self.stakes && !self.client,
            Layer::Depth => self.depth && self.is_look(),
            Layer::Brim => self.brim && self.is_look(),
        }
    }
}

/// The ground in sight: that which is asked for once it is made, until then the one before.
#[derive(Resource, Debug, Clone, Copy, PartialEq, Default)]
pub struct InSight {
    stage: Option<usize>,
    built: Option<usize>,
}

impl InSight {
    /// What is seen of what is asked for.
    pub fn of(&self, showing: &Showing) -> Showing {
        Showing {
            stage: self.stage,
            built: self.built,
            ..*showing
        }
    }
}

/// Goes over to the ground that is asked for when it is made.
pub fn settle(
    showing: Res<Showing>,
    (stages, visits): (Res<Stages>, Res<Visits>),
    mut in_sight: ResMut<InSight>,
) {
    let is_made = match (showing.built, showing.stage) {
        (Some(k), _) => visits.seen(k).is_some(),
        (None, Some(k)) => !matches!(stages.state(k), State::Working),
        (None, None) => true,
    };
    let mut next = if is_made {
        InSight {
            stage: showing.stage,
            built: showing.built,
        }
    } else {
        *in_sight
    };
    // What was in sight may be of a job that has no such stage any more.
    if !is_made {
        next.stage = next.stage.filter(|k| stages.ground(*k).is_some());
        next.built = next.built.filter(|k| visits.stands(*k));
    }
    in_sight.set_if_neq(next);
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

type PartOf<'a> = (
    &'a Part,
    Option<&'a mut Visibility>,
    Option<&'a mut RenderLayers>,
    Option<&'a mut Transform>,
);

pub fn show_parts(
    (showing, in_sight): (Res<Showing>, Option<Res<InSight>>),
    added: Query<(), Added<Part>>,
    mut parts: Query<PartOf>,
    mut tables: Query<(&light::Table, &mut Transform), Without<Part>>,
) {
    let turned = in_sight.as_ref().is_some_and(|s| s.is_changed());
    if !showing.is_changed() && !turned && added.is_empty() {
        return;
    }
    let showing = in_sight.map_or(*showing, |s| s.of(&showing));
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
