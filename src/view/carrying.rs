//! Who carries what where in the stage whose ground is shown: worked out aside when a stage is first
//! looked at, and drawn along the ways over that ground, as wide as there is soil to carry.

use bevy::prelude::*;
use bevy::window::RequestRedraw;
use bevy_egui::egui::{Align2, Pos2, Rect, Shape, Stroke, Vec2};

use crate::plan::{Haul, Haulage, PilePlace};
use crate::{haul, ledger, report};

use super::aside::Aside;
use super::drape::Drape;
use super::labels::{Labels, Of};
use super::paper;
use super::scene::{Showing, Yard};
use super::stages::Stages;

/// Of the widest line, points; no line is thinner than [`THIN`].
const WIDE: f32 = 9.0;
const THIN: f32 = 2.0;
/// Shares of a way at which its words may stand, the best first.
const PLACES: [f32; 7] = [0.5, 0.35, 0.65, 0.22, 0.78, 0.1, 0.9];

/// The hauls, and where the piles would lie that the job has no place for.
#[derive(Clone)]
struct Known {
    haulage: Haulage,
    places: Vec<PilePlace>,
}

#[derive(Resource, Default)]
pub struct Carrying(Aside<Known>);

/// What is carried in a stage.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Carried {
    pub loads: u32,
    /// Loose.
    pub left_m3: f64,
}

impl Carrying {
    /// The hauls of a stage in the order of its work; `None` while they are not known.
    pub fn of(&self, stage: &str) -> Option<Vec<&Haul>> {
        let all = &self.0.known()?.haulage.hauls;
        Some(all.iter().filter(|h| h.stage == stage).collect())
    }

    /// Its loads, and the loose soil that nobody can carry; `None` while they are not known.
    pub fn sum(&self, stage: &str) -> Option<Carried> {
        let all = &self.0.known()?.haulage;
        let hauls = all.hauls.iter().filter(|h| h.stage == stage);
        let left = all.uncarried.iter().filter(|u| u.stage == stage);
        Some(Carried {
            loads: hauls.map(|h| h.loads).sum(),
            left_m3: left.map(|u| u.loose_m3).sum(),
        })
    }

    pub fn haulage(&self) -> Option<&Haulage> {
        Some(&self.0.known()?.haulage)
    }

    /// Where piles would fit and cost least to carry.
    pub fn places(&self) -> &[PilePlace] {
        self.0.known().map_or(&[], |k| &k.places)
    }
}

pub fn keep(
    mut carrying: ResMut<Carrying>,
    (stages, yard, showing): (Res<Stages>, Res<Yard>, Res<Showing>),
    mut redraw: MessageWriter<RequestRedraw>,
) {
    let carrying = &mut carrying.bypass_change_detection().0;
    if yard.is_changed() {
        carrying.forget();
    }
    let wanted = showing.stage.is_some() && !showing.client;
    let known = carrying.known().is_some();
    let waiting = carrying.keep(wanted, || {
        let (job, plan) = (stages.job.clone(), yard.plan.clone());
        move || {
            let places = ledger::places(&job, &plan);
            let haulage = haul::carried(&job, &plan, &places);
            Known { haulage, places }
        }
    });
    if waiting || known != carrying.known().is_some() {
        redraw.write(RequestRedraw);
    }
}

/// How wide each way is drawn, points: by its soil.
fn widths(hauls: &[&Haul]) -> Vec<f32> {
    let most = hauls.iter().map(|h| h.loose_m3).fold(0.0, f64::max);
    let share = |h: &&Haul| (h.loose_m3 / most.max(1e-9)) as f32;
    hauls.iter().map(|h| (WIDE * share(h)).max(THIN)).collect()
}

/// A place some share along a line of the screen, and the direction there.
fn along(line: &[Pos2], share: f32) -> Option<(Pos2, Vec2)> {
    let whole: f32 = line.windows(2).map(|w| w[0].distance(w[1])).sum();
    let mut left = whole * share;
    let mut last = None;
    for w in line.windows(2) {
        let long = w[0].distance(w[1]);
        if long > 1e-3 {
            let way = (w[1] - w[0]) / long;
            if left <= long {
                return Some((w[0] + way * left, way));
            }
            // Sums of lengths may miss the very end by a hair.
            last = Some((w[1], way));
        }
        left -= long;
    }
    last
}

/// Where words may stand beside a line that goes `way` there, so that it does not run through them:
/// over and under it, to its sides, or with a corner to it.
fn beside(p: Pos2, way: Vec2, clear: f32) -> [(Pos2, Align2); 2] {
    let way = if way.x < 0.0 { -way } else { way };
    let near = 0.6 * clear;
    if way.y.abs() < 0.06 {
        let up = Vec2::new(0.0, clear);
        [
            (p - up, Align2::CENTER_BOTTOM),
            (p + up, Align2::CENTER_TOP),
        ]
    } else if way.x < 0.12 {
        let out = Vec2::new(clear, 0.0);
        [
            (p + out, Align2::LEFT_CENTER),
            (p - out, Align2::RIGHT_CENTER),
        ]
    } else if way.y > 0.0 {
        let off = Vec2::new(near, -near);
        [(p + off, Align2::LEFT_BOTTOM), (p - off, Align2::RIGHT_TOP)]
    } else {
        let off = Vec2::new(near, near);
        [(p + off, Align2::LEFT_TOP), (p - off, Align2::RIGHT_BOTTOM)]
    }
}

impl Labels<'_> {
    /// The ways of the stage with their loads. Those that find no room for their words have at
    /// least their number, that of the page.
    pub(super) fn ways(&mut self, hauls: &[&Haul], ground: &Drape) {
        let widths = widths(hauls);
        let mut order: Vec<usize> = (0..hauls.len()).collect();
        // The widest lies under the others, but its words come first.
        order.sort_by(|&i, &j| widths[j].total_cmp(&widths[i]));
        let step = (self.yard.frame.reach / 150.0).clamp(0.04, 0.5);
        let lines: Vec<Vec<Pos2>> = hauls
            .iter()
            .map(|h| {
                let pieces = ground.lay(&h.path, false, step);
                let on = |p: &[f64; 3]| self.eye.screen(self.eye.scene(*p));
                pieces.iter().flatten().filter_map(on).collect()
            })
            .collect();
        for &k in &order {
            let heads = self.way(&lines[k], widths[k], self.is_main(hauls[k]));
            self.taken.extend(heads);
        }
        for &k in &order {
            let haul = hauls[k];
            let main = self.is_main(haul);
            let words = report::carried(haul, !main, report::Measure(self.figures.0));
            let number = (k + 1).to_string();
            // Loads over places: two short lines find more room than a long one.
            let words = format!("{number}  {}", words.replacen(", ", "\n", 1));
            let ink = if main { paper::ACCENT } else { paper::INK };
            let clear = 0.5 * widths[k] + 4.0;
            let spots: Vec<(Pos2, Align2)> = PLACES
                .iter()
                .filter_map(|share| along(&lines[k], *share))
                .flat_map(|(p, way)| beside(p, way, clear))
                .collect();
            let mut write = |text: &str, size: f32| {
                let mut spots = spots.iter();
                spots.any(|&(p, side)| self.write(p, side, text, size, ink, Of::Haul).is_some())
            };
            if !write(&words, 11.5) {
                write(&number, 12.5);
            }
        }
    }

    /// Places suggested for piles, round about as the cone would lie.
    pub(super) fn places(&mut self, ground: &Drape) {
        const CORNERS: usize = 36;
        for (k, place) in self.suggested.iter().enumerate() {
            let radius = (place.area_m2 / std::f64::consts::PI).sqrt();
            let ring: Vec<[f64; 2]> = (0..=CORNERS)
                .map(|k| {
                    let (sin, cos) = (k as f64 / CORNERS as f64 * std::f64::consts::TAU).sin_cos();
                    [place.at[0] + radius * cos, place.at[1] + radius * sin]
                })
                .collect();
            let on = |p: &[f64; 2]| {
                let z = ground.height(*p)?;
                self.eye.screen(self.eye.scene([p[0], p[1], z]))
            };
            let Some(line) = ring.iter().map(on).collect::<Option<Vec<Pos2>>>() else {
                continue;
            };
            let painter = &self.painter;
            painter.line(line.clone(), Stroke::new(4.0, paper::PAPER));
            painter.extend(Shape::dashed_line(
                &line,
                Stroke::new(2.0, paper::INK),
                7.0,
                5.0,
            ));
            let Some(middle) = on(&place.at) else {
                continue;
            };
            let loose = self.figures.soil_with_unit(place.loose_m3);
            let words = format!(
                "Room for a pile of {}\nup to {loose} loose",
                place.soil.word()
            );
            // The ways lead to its middle.
            let round = Rect::from_points(&line);
            let spots = [
                (middle, Align2::CENTER_CENTER),
                (round.center_top(), Align2::CENTER_BOTTOM),
                (round.center_bottom(), Align2::CENTER_TOP),
                (round.right_center(), Align2::LEFT_CENTER),
                (round.left_center(), Align2::RIGHT_CENTER),
            ];
            let mut spots = spots.into_iter();
            spots.any(|(p, side)| {
                let ink = paper::INK;
                self.write(p, side, &words, 11.5, ink, Of::Place(k))
                    .is_some()
            });
        }
    }

    /// Soil of the site, not topsoil nor what is unfit.
    fn is_main(&self, haul: &Haul) -> bool {
        haul.soil == self.yard.plan.soil.class
    }

    /// One way with a head at its end: topsoil and unfit soil are told apart by dashes. Returns where
    /// the heads are.
    fn way(&self, line: &[Pos2], width: f32, main: bool) -> Vec<Rect> {
        let mut heads = Vec::new();
        if line.len() < 2 {
            return heads;
        }
        let ink = if main { paper::ACCENT } else { paper::INK };
        let painter = &self.painter;
        painter.line(line.to_vec(), Stroke::new(width + 2.5, paper::PAPER));
        if main {
            painter.line(line.to_vec(), Stroke::new(width, ink));
        } else {
            let dash = 3.0 * width.max(3.0);
            painter.extend(Shape::dashed_line(
                line,
                Stroke::new(width, ink),
                dash,
                0.5 * dash,
            ));
        }
        for share in [0.6, 1.0] {
            let Some((at, way)) = along(line, share) else {
                continue;
            };
            let size = 5.0 + 0.9 * width;
            let side = Vec2::new(-way.y, way.x) * size;
            let tip = if share < 1.0 { at + way * size } else { at };
            let back = tip - 2.0 * size * way;
            let head = vec![tip, back + side, back - side];
            heads.push(Rect::from_points(&head));
            painter.add(Shape::convex_polygon(head, ink, (1.2, paper::PAPER)));
        }
        heads
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::Document;
    use crate::plan::Plan;

    /// Every haul of the demo is of one of its stages, and has a way to be drawn from where it is
    /// dug to where it goes.
    #[test]
    fn the_hauls_of_the_demo_have_ways_in_its_stages() {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("surveys/demo.ron");
        let (_, job) = Document::load(&path).unwrap_or_else(|e| panic!("the demo: {e}"));
        let plan = Plan::of(&job);
        let haulage = haul::carried(&job, &plan, &ledger::places(&job, &plan));
        let count = haulage.hauls.len();
        assert!(haulage.found.is_none() && haulage.ramps.is_empty());
        let mut aside = Aside::default();
        bevy::tasks::AsyncComputeTaskPool::get_or_init(|| {
            bevy::tasks::TaskPoolBuilder::new().num_threads(2).build()
        });
        while aside.keep(true, || {
            let known = Known {
                haulage: haulage.clone(),
                places: Vec::new(),
            };
            move || known
        }) {
            std::thread::yield_now();
        }
        let carrying = Carrying(aside);
        let names = Stages::of(job).names;
        let drawn: Vec<&Haul> = names
            .iter()
            .flat_map(|name| carrying.of(name).expect("known"))
            .collect();
        assert_eq!(drawn.len(), count, "hauls in stages, of all");
        for h in &drawn {
            assert!(h.path.len() > 1, "{} to {}: {:?}", h.from, h.to, h.path);
        }
        let widths = widths(&drawn);
        let most = drawn.iter().map(|h| h.loose_m3).fold(0.0, f64::max);
        for (h, width) in drawn.iter().zip(&widths) {
            let by_soil = (f64::from(WIDE) * h.loose_m3 / most) as f32;
            assert!((width - by_soil.max(THIN)).abs() < 1e-5, "{}", h.to);
        }
    }

    /// Of a slip of words beside a line, no corner lies on the other side of the line.
    #[test]
    fn words_stand_beside_their_line() {
        for k in 0..36 {
            let turn = (k as f32 * 10.0).to_radians();
            let way = Vec2::new(turn.cos(), turn.sin());
            for (at, side) in beside(Pos2::ZERO, way, 6.0) {
                let slip = side.anchor_size(at, Vec2::new(60.0, 14.0));
                let across = |p: Pos2| way.x * p.y - way.y * p.x;
                let corners = [
                    slip.left_top(),
                    slip.right_top(),
                    slip.left_bottom(),
                    slip.right_bottom(),
                ];
                let sides = corners.map(|p| across(p) > 0.0);
                assert!(sides.iter().all(|s| *s == sides[0]), "{way:?}: {slip:?}");
            }
        }
    }

    #[test]
    fn a_place_along_a_bent_line() {
        let line = [Pos2::ZERO, Pos2::new(3.0, 0.0), Pos2::new(3.0, 1.0)];
        let (at, way) = along(&line, 0.5).expect("on the line");
        assert_eq!((at, way), (Pos2::new(2.0, 0.0), Vec2::new(1.0, 0.0)));
        let (end, way) = along(&line, 1.0).expect("its end");
        assert!(end.distance(line[2]) < 1e-4 && way == Vec2::new(0.0, 1.0));
        assert!(along(&line[..1], 0.5).is_none());
    }
}
