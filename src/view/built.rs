//! What was shot after digging, held against the design in the yard: the ground that a visit is held
//! against, shaded by how far the ground as shot lies off it, and a sign with its figure for each
//! shot. Worked out aside when a visit is first looked at.

use bevy::light::{NotShadowCaster, NotShadowReceiver};
use bevy::prelude::*;
use bevy::window::RequestRedraw;
use bevy_egui::egui::{Align2, Painter, Pos2, Rect, Vec2};

use crate::as_built;
use crate::job::{Against, Job, Unit, Visit};
use crate::measure::step;
use crate::plan::{Built, DifferenceMap, Plan, Shot, Trust, Verdict};

use super::Look;
use super::aside::Aside;
use super::charts::{self, Mark, Row, STEPS};
use super::drape::Drape;
use super::figures::Figures;
use super::labels::{Labels, Of, Written};
use super::mesh::{Batch, Frame};
use super::paper;
use super::raise::Finishes;
use super::scene::{InSight, Layer, Part, Showing, Yard};
use super::signs;
use super::stages;
use super::stuff::Stuff;

/// The visits of the job, once one of them has been looked at.
#[derive(Resource, Default)]
pub struct Visits {
    all: Aside<Vec<Seen>>,
    /// How many stand in the yard, be it as they were with an older plan.
    standing: usize,
    /// Whether those are the ones that are known.
    is_raised: bool,
}

/// The ground that a visit is held against, with its map.
#[derive(Component)]
pub struct VisitGround;

/// A visit as it is shown.
pub struct Seen {
    name: String,
    pub built: Built,
    scale: Option<Scale>,
    /// The ground it is held against, or why there is none.
    ground: Result<Drape, String>,
    /// Ground and map, until they stand in the yard.
    batches: Vec<Batch>,
}

impl Seen {
    pub fn ground(&self) -> Option<&Drape> {
        self.ground.as_ref().ok()
    }

    /// The middle of its shots, and how far they reach about it.
    pub fn place(&self) -> Option<([f64; 3], f64)> {
        let shots = &self.built.shots;
        let n = shots.len() as f64;
        let mean = |of: fn(&Shot) -> f64| shots.iter().map(of).sum::<f64>() / n;
        let [x, y] = [mean(|s| s.at[0]), mean(|s| s.at[1])];
        let away = shots.iter().map(|s| (s.at[0] - x).hypot(s.at[1] - y));
        let reach = away.fold(0.5, f64::max);
        (!shots.is_empty()).then(|| ([x, y, mean(|s| s.elevation)], reach))
    }

    pub fn why_not(&self) -> Option<&str> {
        self.ground.as_ref().err().map(String::as_str)
    }
}

impl Visits {
    pub fn seen(&self, visit: usize) -> Option<&Seen> {
        self.all.known()?.get(visit)
    }

    /// Whether its ground stands in the yard, be it that of an older plan.
    pub fn stands(&self, visit: usize) -> bool {
        visit < self.standing
    }
}

/// What a visit is called on pages and over the yard.
pub fn name(visit: &Visit) -> String {
    let stage = visit.stage.as_deref().unwrap_or("all stages");
    if visit.date.is_empty() {
        stage.to_owned()
    } else {
        format!("{stage}, {}", visit.date)
    }
}

/// Steps of the map: what is right, and how far it goes on either side of that. Metres.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Scale {
    right: f64,
    /// The least that is right anywhere: pads and the like are allowed less than earth.
    least: f64,
    step: f64,
    high: usize,
    low: usize,
}

impl Scale {
    /// `None` without a map. `right` is what earth is allowed.
    fn of(map: &DifferenceMap, right: f64, unit: Unit) -> Option<Scale> {
        if map.triangles.is_empty() {
            return None;
        }
        // Square to the designed face, and beyond what is allowed there, as the verdicts are.
        let most = |sign: f64| {
            let bits = map.triangles.iter().zip(&map.allowed);
            let off = bits.flat_map(|(t, right)| t.map(|i| sign * map.square[i as usize] - right));
            off.fold(0.0, f64::max)
        };
        let (high, low) = (most(1.0), most(-1.0));
        let right = right.max(1e-3);
        // Never finer than what is right.
        let step = step(high.max(low), unit, STEPS).map_or(right, |s| s.max(right));
        let steps = |off: f64| (off / step - 1e-6).ceil().max(0.0) as usize;
        Some(Scale {
            right,
            least: map.allowed.iter().copied().fold(right, f64::min),
            step,
            high: steps(high),
            low: steps(low),
        })
    }

    fn count(&self) -> usize {
        self.high.max(self.low)
    }

    /// What the shader reads at a corner that stands so far off, where so much is right.
    fn extra(&self, off: f64, right: f64) -> [f32; 2] {
        let half = (0.5 * right / self.step).min(0.499);
        [
            (off / self.step) as f32,
            (self.count().max(1) as f64 + half) as f32,
        ]
    }

    fn rows(&self, figures: Figures) -> Vec<Row> {
        let last = (self.count().max(2) - 1) as f32;
        let side = |count: usize, is_high: bool| {
            (0..count).map(move |k| {
                let from = self.right + k as f64 * self.step;
                let t = k as f32 / last;
                Row {
                    tint: if is_high {
                        charts::dig_tint(t)
                    } else {
                        charts::place_tint(t)
                    },
                    mark: if is_high { Mark::Hatch } else { Mark::Dots },
                    words: format!(
                        "{} {}–{} {}",
                        if is_high { "high, dig" } else { "low, fill" },
                        figures.short(from),
                        figures.short(from + self.step),
                        figures.length_unit()
                    ),
                }
            })
        };
        let mut rows: Vec<Row> = side(self.high, true).collect();
        rows.reverse();
        rows.push(Row {
            tint: charts::UNTOUCHED,
            mark: Mark::Plain,
            words: format!(
                "right, within {}{} {}",
                if self.least < self.right - 1e-6 {
                    figures.short(self.least) + "–"
                } else {
                    String::new()
                },
                figures.short(self.right),
                figures.length_unit()
            ),
        });
        rows.extend(side(self.low, false));
        rows
    }
}

pub fn keep(
    mut commands: Commands,
    mut visits: ResMut<Visits>,
    (yard, showing, in_sight): (Res<Yard>, Res<Showing>, Res<InSight>),
    (stages, finishes): (Res<stages::Stages>, Res<Finishes>),
    mut meshes: ResMut<Assets<Mesh>>,
    old: Query<Entity, With<VisitGround>>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    let visits = visits.bypass_change_detection();
    if yard.is_changed() {
        visits.all.forget();
        visits.is_raised = false;
        // What is in sight stays until there is another.
        if in_sight.of(&showing).built.is_none() {
            old.iter().for_each(|e| commands.entity(e).despawn());
            visits.standing = 0;
        }
    }
    let wanted = showing.built.is_some() && !showing.client;
    let waiting = visits.all.keep(wanted, || {
        let (job, plan) = (stages.job.clone(), yard.plan.clone());
        let frame = yard.frame;
        move || seen(&job, &plan, &frame)
    });
    if waiting {
        redraw.write(RequestRedraw);
    }
    let Some(known) = visits.all.known_mut() else {
        return;
    };
    if visits.is_raised {
        return;
    }
    old.iter().for_each(|e| commands.entity(e).despawn());
    visits.standing = known.len();
    visits.is_raised = true;
    for (k, seen) in known.iter_mut().enumerate() {
        for batch in seen.batches.drain(..) {
            redraw.write(RequestRedraw);
            for (class, mesh) in batch.into_meshes() {
                let mut part = commands.spawn((
                    Mesh3d(meshes.add(mesh)),
                    MeshMaterial3d(finishes.0[class.index()].clone()),
                    Transform::from_scale(Vec3::new(1.0, showing.stretch, 1.0)),
                    // Until it is known whether it is wanted.
                    Visibility::Hidden,
                    Part::of(Layer::Built(k), &Look::ALL),
                    VisitGround,
                ));
                if class == super::stuff::Class::Chart {
                    part.insert((NotShadowCaster, NotShadowReceiver));
                }
            }
        }
    }
}

fn seen(job: &Job, plan: &Plan, frame: &Frame) -> Vec<Seen> {
    let visits = job.as_built.visits.iter();
    visits
        .zip(as_built::of(job, plan))
        .map(|(visit, built)| {
            let scale = Scale::of(&built.map, job.as_built.tolerances.earth, job.unit);
            let look = match visit.against {
                Against::Dug => Look::Dug,
                Against::Finished => Look::Finished,
            };
            let raised = as_built::staged(job, visit)
                .ok_or_else(|| "its stage is not in the sequence".to_owned())
                .and_then(|staged| stages::raised(&staged, look, frame));
            let (ground, batches) = match raised {
                Err(why) => (Err(why), Vec::new()),
                Ok((ground, drape)) => {
                    let map = scale.map(|scale| map(&built.map, &scale, &drape, frame));
                    let batches = std::iter::once(ground).chain(map).collect();
                    (Ok(drape), batches)
                }
            };
            Seen {
                name: name(visit),
                built,
                scale,
                ground,
                batches,
            }
        })
        .collect()
}

/// The differences, laid on the ground of the design.
fn map(map: &DifferenceMap, scale: &Scale, drape: &Drape, frame: &Frame) -> Batch {
    let mut batch = Batch::default();
    let lift = (frame.reach * 0.0012).clamp(0.005, 0.05);
    for (t, &right) in map.triangles.iter().zip(&map.allowed) {
        let corners = t.map(|i| map.points[i as usize]);
        // The plane under the middle: a corner at an upright face would find its top.
        let middle = [0, 1].map(|k| corners.iter().map(|p| p[k]).sum::<f64>() / 3.0);
        let Some(plane) = drape.plane(middle) else {
            continue;
        };
        let at = corners.map(|[x, y, _]| frame.scene([x, y, plane.height([x, y]) + lift]));
        let extra = t.map(|i| scale.extra(map.square[i as usize], right));
        batch.triangle(at, extra, Stuff::Built);
    }
    batch
}

/// Legends of shots and ground, from a lower left corner on; returns them with where they lie.
pub fn legends(painter: &Painter, mut corner: Pos2, seen: &Seen, figures: Figures) -> Vec<Written> {
    let mut out = Vec::new();
    let mut lay = |title: &str, corner: Pos2, rows: &[Row]| {
        let rect = charts::sheet(painter, corner, title, rows);
        out.push(Written {
            words: title.to_owned(),
            rect,
            of: Of::Differences,
        });
        rect
    };
    let rows: Vec<Row> = counts(&seen.built)
        .into_iter()
        .map(|(verdict, count)| Row {
            tint: charts::UNTOUCHED,
            mark: Mark::Sign(verdict),
            words: format!("{count} {}", verdict.words()),
        })
        .collect();
    if !rows.is_empty() {
        let rect = lay("Shots", corner, &rows);
        corner.x = rect.right() + 10.0;
    }
    if let Some(scale) = &seen.scale {
        lay("Ground as shot", corner, &scale.rows(figures));
    }
    out
}

/// How many shots of each verdict there are, without those that nothing is.
fn counts(built: &Built) -> Vec<(Verdict, usize)> {
    [
        Verdict::Right,
        Verdict::ToDig,
        Verdict::TooHigh,
        Verdict::OverDug,
        Verdict::ToFill,
        Verdict::TooLow,
        Verdict::Outside,
    ]
    .into_iter()
    .map(|verdict| (verdict, built.count(verdict)))
    .filter(|(_, count)| *count > 0)
    .collect()
}

/// "9 +0.22": its name, and how far it stands over the design.
fn words(shot: &Shot, figures: Figures) -> String {
    let Some(over) = shot.over else {
        return shot.name.clone();
    };
    let figure = figures.elevation(over);
    let is_nought = !figure.contains(|c: char| ('1'..='9').contains(&c));
    let sign = if over > 0.0 && !is_nought { "+" } else { "" };
    let slip = if shot.slip { " misread?" } else { "" };
    format!("{} {sign}{figure}{slip}", shot.name)
}

impl Labels<'_> {
    /// The shots of a visit: those that are not right first.
    pub(super) fn visit(&mut self, seen: &Seen) {
        let built = &seen.built;
        let trust = match built.trust {
            Trust::Closes | Trust::Points => "",
            Trust::Unchecked => ". UNCHECKED: its levels close on nothing",
            Trust::DoesNotClose => ". Its levels DO NOT CLOSE: nothing is told from them",
            Trust::Nothing => ". No shot of it has an elevation and a place",
        };
        let title = format!("As built: {}{trust}", seen.name);
        self.title(&title);
        let mut shots: Vec<(usize, &Shot)> = built.shots.iter().enumerate().collect();
        let off = |s: &Shot| s.over.map_or(f64::INFINITY, f64::abs);
        shots.sort_by(|(_, a), (_, b)| {
            let right = |s: &Shot| s.verdict == Verdict::Right;
            right(a).cmp(&right(b)).then(off(b).total_cmp(&off(a)))
        });
        let mut signed = Vec::new();
        for (k, shot) in shots {
            let [x, y] = shot.at;
            let at = self.eye.scene([x, y, shot.elevation + 0.03]);
            let Some(p) = self.screen(at).filter(|_| !self.hidden(at)) else {
                continue;
            };
            let size = if shot.verdict == Verdict::Right {
                11.0
            } else {
                16.0
            };
            let rect = Rect::from_center_size(p, Vec2::splat(size));
            if self.free(rect.shrink(2.0)) {
                signs::shot(&self.painter, p, size, shot.verdict);
                signed.push((k, shot, rect));
            }
        }
        // Figures keep clear of every sign, not only of those before them.
        self.taken.extend(signed.iter().map(|(.., rect)| *rect));
        for (k, shot, rect) in signed {
            let text = words(shot, self.figures);
            let (size, ink) = if shot.verdict == Verdict::Right {
                (11.5, paper::INK)
            } else {
                (13.0, paper::ACCENT)
            };
            let rect = rect.expand(4.0);
            for (at, anchor) in [
                (rect.right_center(), Align2::LEFT_CENTER),
                (rect.left_center(), Align2::RIGHT_CENTER),
                (rect.center_top(), Align2::CENTER_BOTTOM),
                (rect.center_bottom(), Align2::CENTER_TOP),
                (rect.right_top(), Align2::LEFT_BOTTOM),
                (rect.left_bottom(), Align2::RIGHT_TOP),
            ] {
                let of = Of::Built(k);
                if self.write(at, anchor, &text, size, ink, of).is_some() {
                    break;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(offs: [f64; 3]) -> DifferenceMap {
        let places = [[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]];
        DifferenceMap {
            points: (0..3)
                .map(|k| [places[k][0], places[k][1], offs[k]])
                .collect(),
            square: offs.to_vec(),
            triangles: vec![[0, 1, 2]],
            allowed: vec![0.03],
        }
    }

    #[test]
    fn steps_begin_where_right_ends() {
        let scale = Scale::of(&map([0.43, -0.12, 0.0]), 0.03, Unit::Metre).expect("a map");
        assert_eq!(scale.right, 0.03);
        // 0.40 m beyond what is right, in at most six steps; 0.09 m on the other side.
        assert!(scale.high <= STEPS && scale.step >= 0.4 / STEPS as f64);
        assert_eq!(scale.low, (0.09 / scale.step).ceil() as usize);
        // The shader's arithmetic: right at the edge of what is right there are no steps.
        let beyond = |off: f64| {
            let [x, packed] = scale.extra(off, 0.03);
            (x.abs() - 2.0 * packed.fract()).max(0.0)
        };
        assert!(beyond(0.03) < 1e-5 && beyond(-0.02) == 0.0);
        assert!((f64::from(beyond(-0.12)) - 0.09 / scale.step).abs() < 1e-5);
        let rows = scale.rows(Figures(Unit::Metre));
        assert_eq!(rows.len(), scale.high + 1 + scale.low);
        assert_eq!(rows[scale.high].words, "right, within 0.03 m");
        assert!(rows[0].words.starts_with("high, dig"), "{}", rows[0].words);
        assert!(Scale::of(&DifferenceMap::default(), 0.03, Unit::Metre).is_none());
    }

    /// The demo's evening: 27 right, 2 still to dig, 1 over-dug, and the figures they stand off by.
    #[test]
    fn the_demos_visit_is_told_by_signs_and_figures() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron");
        let (_, job) = crate::job::Document::load(&path).unwrap_or_else(|e| panic!("{e}"));
        let plan = Plan::of(&job);
        let yard = Yard::new(plan.clone(), job.unit);
        let all = seen(&job, &plan, &yard.frame);
        let seen = &all[0];
        let told = [
            (Verdict::Right, 27),
            (Verdict::ToDig, 2),
            (Verdict::OverDug, 1),
        ];
        assert_eq!(counts(&seen.built), told);
        let shot = |name: &str| {
            let shot = seen.built.shots.iter().find(|s| s.name == name);
            words(shot.expect("a shot"), Figures(job.unit))
        };
        assert_eq!(shot("10"), "10 +0.28");
        assert_eq!(shot("24"), "24 −0.19");
        assert_eq!(shot("11"), "11 0.00");
        assert_eq!(seen.why_not(), None);
        assert_eq!(seen.batches.len(), 2, "ground and map");
        assert_eq!(
            name(&job.as_built.visits[0]),
            "dig, second evening of the dig"
        );
    }
}
