//! The plan on show, and what is laid over its surfaces to draw on them.
//!
//! What takes time to lay out is laid out when it is first asked for, and handed on to the yard of
//! the next plan as long as the surface under it stays what it is.

use std::sync::{Arc, OnceLock};

use bevy::math::Vec3;
use bevy::prelude::Resource;

use crate::job::Unit;
use crate::plan::Plan;
use crate::terrain::Surface;

use super::contours::Contours;
use super::drape::Drape;
use super::mesh::Frame;
use super::{Look, sight};

/// Cheap to clone: both share what is laid out.
#[derive(Resource, Clone)]
pub struct Yard {
    pub plan: Arc<Plan>,
    pub unit: Unit,
    pub frame: Frame,
    pub yaw: f32,
    drapes: [Arc<OnceLock<Drape>>; 3],
    contours: [Arc<OnceLock<Contours>>; 3],
    /// What is other than with the last plan.
    pub news: News,
}

/// What of a yard is other than it was with the last plan: what is drawn of the rest still stands
/// as it should.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct News {
    /// Where the yard stands in the scene, or the unit that lines of equal elevation go by.
    pub frame: bool,
    /// The three surfaces with who made what of them.
    pub ground: [bool; 3],
    pub solids: bool,
    pub marks: bool,
    pub spots: bool,
    pub water: bool,
    /// What runs over the lips.
    pub flow: bool,
    pub stakes: bool,
}

impl News {
    /// Of a first plan.
    const ALL: News = News {
        frame: true,
        ground: [true; 3],
        solids: true,
        marks: true,
        spots: true,
        water: true,
        flow: true,
        stakes: true,
    };

    fn of(old: &Yard, plan: &Plan, frame: &Frame, unit: Unit) -> News {
        let was = &old.plan;
        let makers = was.makers != plan.makers;
        News {
            frame: old.frame != *frame || old.unit != unit,
            ground: Look::ALL.map(|l| makers || !same(l.surface(was), l.surface(plan))),
            solids: was.solids != plan.solids,
            marks: was.marks != plan.marks,
            spots: was.survey.spots != plan.survey.spots,
            water: was.water != plan.water,
            flow: was.flow.cascades != plan.flow.cascades,
            stakes: was.stakes.list != plan.stakes.list,
        }
    }

    pub fn ground(&self, look: Look) -> bool {
        self.ground[look.index()]
    }
}

/// Whether two surfaces are the same in every bit that is drawn.
fn same(a: &Surface, b: &Surface) -> bool {
    a.points == b.points && a.triangles == b.triangles && a.made_by == b.made_by
}

impl Yard {
    /// The yard of a first plan.
    pub fn new(plan: impl Into<Arc<Plan>>, unit: Unit) -> Self {
        let plan = plan.into();
        let frame = frame(&plan, None);
        Yard {
            yaw: sight::first_yaw(&plan, &frame),
            plan,
            unit,
            frame,
            drapes: Default::default(),
            contours: Default::default(),
            news: News::ALL,
        }
    }

    /// The yard of the next plan. It is drawn about the same place, so that nothing jumps while it
    /// is worked on, unless it has grown beyond that or shrunk to a fraction.
    pub fn after(old: &Yard, plan: impl Into<Arc<Plan>>, unit: Unit) -> Self {
        let plan = plan.into();
        let frame = frame(&plan, Some(&old.frame));
        let news = News::of(old, &plan, &frame, unit);
        let mut yard = Yard {
            yaw: old.yaw,
            plan,
            unit,
            frame,
            drapes: Default::default(),
            contours: Default::default(),
            news,
        };
        for k in (0..3).filter(|&k| !news.ground[k]) {
            yard.drapes[k] = old.drapes[k].clone();
            if unit == old.unit {
                yard.contours[k] = old.contours[k].clone();
            }
        }
        yard
    }

    /// Whether there is ground now, and was none in the yard before.
    pub fn is_first_ground(&self, before: &Yard) -> bool {
        before.plan.existing.triangles.is_empty() && !self.plan.existing.triangles.is_empty()
    }

    pub fn drape(&self, look: Look) -> &Drape {
        self.drapes[look.index()].get_or_init(|| Drape::new(look.surface(&self.plan)))
    }

    pub fn contours(&self, look: Look) -> &Contours {
        let known = &self.contours[look.index()];
        if let Some(known) = known.get() {
            return known;
        }
        // Made beside the lock, by twos if it must be: threads that waited for it here could be those
        // that it is made on.
        let made = Contours::of(look.surface(&self.plan), self.unit);
        known.get_or_init(|| made)
    }

    /// Corners that a sight of the whole yard must show, in the scene.
    pub fn corners(&self) -> Vec<Vec3> {
        let Yard { plan, frame, .. } = self;
        if plan.existing.points.is_empty() {
            // Nothing stands yet but shots, or nothing at all: the plot that they lie on.
            let ([x, y, z], side) = (frame.centre, frame.reach / 2f64.sqrt());
            let turns = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
            let corner = |(a, b): (f64, f64)| frame.scene([x + a * side, y + b * side, z]);
            return turns.map(corner).to_vec();
        }
        Look::ALL
            .iter()
            .flat_map(|l| &l.surface(plan).points)
            .flat_map(|p| [frame.scene(*p), frame.scene([p[0], p[1], frame.base])])
            .chain(plan.solids.iter().flat_map(|s| {
                let cap = s.cap;
                s.footprint
                    .iter()
                    .map(move |p| frame.scene([p[0], p[1], cap]))
            }))
            .collect()
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
}

/// Where the yard of a plan stands: about the place of the last one if it still fits there.
fn frame(plan: &Plan, old: Option<&Frame>) -> Frame {
    let bounds: Vec<_> = Look::ALL
        .iter()
        .filter_map(|l| l.surface(plan).bounds())
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
    let same = old.filter(|f| {
        let away = (0..2).map(|k| (centre[k] - f.centre[k]).abs());
        (0.4 * f.reach..1.3 * f.reach).contains(&reach) && away.fold(0.0, f64::max) < 0.5 * f.reach
    });
    match same {
        // The table stays where it is as long as everything stands on it, with some room to
        // spare: what is dragged deeper would else move it in every frame.
        Some(f) if base >= f.base => *f,
        Some(f) => Frame {
            base: base - 0.02 * f.reach,
            ..*f
        },
        None => Frame {
            centre,
            reach,
            base,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::edit::Editor;

    fn yard(sights: &str, old: Option<&Yard>) -> Yard {
        let text = format!(
            "(name: \"New\", unit: Foot, field_book: (benchmarks: [(name: \"BM\", elevation: 100)], \
             setups: [(name: \"I\", backsight: (\"BM\", 4), sights: [{sights}])]))"
        );
        let editor = Editor::of_text("new", &text);
        let job = editor.job().expect("a good job");
        let plan = Plan::of(job);
        match old {
            Some(old) => Yard::after(old, plan, job.unit),
            None => Yard::new(plan, job.unit),
        }
    }

    /// The first shots make no ground: the camera stood with its nose on the plot.
    #[test]
    fn a_yard_of_shots_without_ground_is_framed_as_large_as_its_plot() {
        let one = yard("(\"1\", 5, (4, 53))", None);
        let two = yard("(\"1\", 5, (4, 53)), (\"2\", 5, (15, 53))", Some(&one));
        for yard in [&yard("", None), &one, &two] {
            assert!(yard.plan.existing.triangles.is_empty());
            let sight = sight::framing(&yard.corners(), yard.yaw, sight::PITCH, 1.1, 1.06);
            let reach = yard.frame.reach as f32;
            let fits = 2.0 * reach..12.0 * reach;
            assert!(
                fits.contains(&sight.radius),
                "{} m for {reach} m",
                sight.radius
            );
        }
        let strip = "(\"1\", 5, (4, 53)), (\"2\", 5, (15, 53)), (\"3\", 5, (9, 50))";
        let ground = yard(strip, Some(&two));
        assert!(!ground.plan.existing.triangles.is_empty());
        assert!(ground.is_first_ground(&two) && !two.is_first_ground(&one));
    }
}
