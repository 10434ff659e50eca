//! Words and signs over the yard: shot numbers, levels, names of marks, findings. What would cover
//! another is left out, the more important first.

use bevy::prelude::Vec3;
use bevy_egui::egui::epaint::TextShape;
use bevy_egui::egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Shape, Stroke, Vec2};

use crate::plan::{Haul, MarkKind, PilePlace};

use super::built::Seen;
use super::drape::Drape;
use super::figures::Figures;
use super::hand::Eye;
use super::scene::{Showing, Yard};
use super::{Look, laths, paper, pins, signs, stages};

pub struct Labels<'a> {
    pub painter: Painter,
    pub eye: Eye<'a>,
    pub yard: &'a Yard,
    pub showing: Showing,
    /// Written in the corner.
    pub title: Option<String>,
    /// The stage whose ground is shown, and what is carried in it as far as that is known.
    pub stage: Option<&'a str>,
    pub hauls: Vec<&'a Haul>,
    /// Where piles would fit that the job has no place for.
    pub suggested: &'a [PilePlace],
    /// The ground shown, if it is not one of the three surfaces.
    pub ground: Option<&'a Drape>,
    /// The visit whose shots are shown.
    pub built: Option<&'a Seen>,
    /// Stakes are shown, this one large.
    pub stake: Option<usize>,
    pub figures: Figures,
    /// Taken places.
    pub taken: Vec<Rect>,
    pub written: Vec<Written>,
}

/// What was written, where, and what it is of.
pub struct Written {
    pub words: String,
    pub rect: Rect,
    pub of: Of,
}

/// What words over the yard are of: numbers are places in the lists of the plan.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Of {
    Title,
    /// The level of a water.
    Level(usize),
    Freeboard(usize),
    Spill(usize),
    Mark(usize),
    /// A line of equal elevation, of this look.
    Contour(f64, Look),
    Shot(usize),
    Stake(usize),
    /// A point that a stake is taped from.
    Peg,
    Pile(usize),
    /// Suggested for a pile.
    Place(usize),
    Haul,
    /// A shot of the visit that is shown.
    Built(usize),
    /// The legend of a visit.
    Differences,
    /// The legend of the depths between existing and this look.
    Depths(Look),
    /// The legend of freeboard.
    Brim,
    Tape,
}

impl Labels<'_> {
    /// Paints everything; returns the findings' signs for the pointer.
    pub fn paint(&mut self, chosen: Option<usize>) -> Vec<(usize, Rect)> {
        // Stakes stand alone: they are to be found by their labels.
        if let Some(chosen) = self.stake {
            self.stakes(chosen);
            return Vec::new();
        }
        if let Some(title) = self.title.take() {
            self.title(&title);
        }
        // The shots of a visit stand alone as well.
        if self.showing.built.is_some() {
            if let Some(seen) = self.built {
                self.visit(seen);
            }
            return Vec::new();
        }
        let signs = self.findings(chosen);
        if let Some(stage) = self.stage {
            if let Some(ground) = self.ground {
                let hauls = std::mem::take(&mut self.hauls);
                self.ways(&hauls, ground);
                self.places(ground);
            }
            self.piles(stage);
        }
        self.levels();
        self.brims();
        if self.showing.marks {
            self.marks();
        }
        if self.showing.contours && self.showing.is_look() {
            self.contours();
        }
        if self.showing.shots {
            self.shots();
        }
        signs
    }

    pub(super) fn screen(&self, at: Vec3) -> Option<Pos2> {
        let p = self.eye.screen(at)?;
        self.painter.clip_rect().contains(p).then_some(p)
    }

    fn drape(&self) -> &'_ Drape {
        let look = self.showing.look;
        self.ground.unwrap_or_else(|| self.yard.drape(look))
    }

    /// Whether the ground stands between the camera and the place.
    pub(super) fn hidden(&self, at: Vec3) -> bool {
        let drape = self.drape();
        let way = self.eye.at.translation() - at;
        let reach = (self.yard.frame.reach as f32 * 2.0).min(way.length());
        let step = way.normalize_or_zero() * reach / 48.0;
        (1..48).any(|k| {
            let p = self.eye.plan(at + step * k as f32);
            drape.height([p[0], p[1]]).is_some_and(|z| z > p[2] + 0.02)
        })
    }

    pub(super) fn free(&self, rect: Rect) -> bool {
        self.painter.clip_rect().contains_rect(rect)
            && !self.taken.iter().any(|t| t.intersects(rect))
    }

    /// Writes if there is room; returns where.
    pub(super) fn write(
        &mut self,
        at: Pos2,
        anchor: Align2,
        text: &str,
        size: f32,
        color: Color32,
        of: Of,
    ) -> Option<Rect> {
        let galley = self
            .painter
            .layout_no_wrap(text.to_owned(), FontId::monospace(size), color);
        let rect = anchor.anchor_size(at, galley.size());
        if !self.free(rect.expand(1.5)) {
            return None;
        }
        self.taken.push(rect.expand(1.5));
        self.written.push(Written {
            words: text.replace('\n', " "),
            rect,
            of,
        });
        // A slip of paper, so that ink reads on grass, stone and water alike.
        self.painter.rect_filled(
            rect.expand2(Vec2::new(2.5, 0.0)),
            2.0,
            Color32::from_rgba_unmultiplied(0xf7, 0xf2, 0xe6, 242),
        );
        self.painter
            .galley_with_override_text_color(rect.min, galley, color);
        Some(rect)
    }

    fn findings(&mut self, chosen: Option<usize>) -> Vec<(usize, Rect)> {
        let mut signs = Vec::new();
        let findings = &self.yard.plan.findings;
        let mut order: Vec<usize> = (0..findings.len()).collect();
        order.sort_by_key(|&i| (Some(i) != chosen, findings[i].severity));
        for i in order {
            let finding = &self.yard.plan.findings[i];
            let Some(p) = finding.at.and_then(|at| self.screen(self.eye.scene(at))) else {
                continue;
            };
            let p = p - Vec2::new(0.0, 14.0);
            let size = if Some(i) == chosen { 24.0 } else { 18.0 };
            let rect = Rect::from_center_size(p, Vec2::splat(size * 1.25));
            if Some(i) != chosen && !self.free(rect.shrink(3.0)) {
                continue;
            }
            self.painter.line_segment(
                [p + Vec2::new(0.0, size / 2.0), p + Vec2::new(0.0, 14.0)],
                (1.5, paper::INK),
            );
            signs::paint(&self.painter, p, size, finding.severity);
            self.taken.push(rect);
            signs.push((i, rect));
        }
        signs
    }

    fn marks(&mut self) {
        for (k, mark) in self.yard.plan.marks.iter().enumerate() {
            if !matches!(
                mark.kind,
                MarkKind::KeepOut
                    | MarkKind::Service
                    | MarkKind::Tree
                    | MarkKind::Access
                    | MarkKind::House
                    | MarkKind::Paving
            ) || mark.line.is_empty()
            {
                continue;
            }
            let drape = self.drape();
            let n = mark.line.len() as f64;
            let place = if mark.closed {
                [0, 1].map(|k| mark.line.iter().map(|p| p[k]).sum::<f64>() / n)
            } else {
                // The middle of the middle stretch.
                let i = (mark.line.len() - 1) / 2;
                let (a, b) = (mark.line[i], mark.line[(i + 1).min(mark.line.len() - 1)]);
                [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0]
            };
            let z = drape.height(place).or_else(|| drape.height(mark.line[0]));
            let Some(z) = z else { continue };
            let at = self.eye.scene([place[0], place[1], z + 0.03]);
            if let Some(p) = self.screen(at)
                && !self.hidden(at)
            {
                let (size, ink) = (12.0, paper::INK);
                self.write(p, Align2::CENTER_CENTER, &mark.name, size, ink, Of::Mark(k));
            }
        }
    }

    /// Every fifth line first, then the others where they are long enough to carry a figure.
    fn contours(&mut self) {
        let yard = self.yard;
        let lines = &yard.contours(self.showing.look).lines;
        for heavy in [true, false] {
            for (elevation, _, line) in lines.iter().filter(|l| l.1 == heavy) {
                self.contour(*elevation, line, heavy);
            }
        }
    }

    fn contour(&mut self, elevation: f64, line: &[[f64; 2]], heavy: bool) {
        const LONG: f32 = 150.0;
        let places: Vec<Vec3> = line
            .iter()
            .map(|p| self.eye.scene([p[0], p[1], elevation + 0.03]))
            .collect();
        let seen: Vec<Option<Pos2>> = places.iter().map(|p| self.screen(*p)).collect();
        let length: f32 = seen
            .windows(2)
            .filter_map(|w| Some(w[0]?.distance(w[1]?)))
            .sum();
        if !heavy && length < LONG {
            return;
        }
        let text = self.figures.elevation(elevation);
        let last = line.len().saturating_sub(1);
        // The first place with room, from an eighth of the way on.
        for k in [1, 3, 2, 0] {
            let i = (last * (2 * k + 1) / 8).min(last.saturating_sub(1));
            let (Some(a), Some(Some(p)), Some(Some(q))) =
                (line.get(i), seen.get(i), seen.get(i + 1))
            else {
                continue;
            };
            let under = self.showing.look == Look::Finished && self.yard.under_water(*a, elevation);
            if under || self.hidden(places[i]) {
                continue;
            }
            let of = Of::Contour(elevation, self.showing.look);
            if self.write_along(*p + (*q - *p) / 2.0, *q - *p, &text, of) {
                return;
            }
        }
    }

    /// Writes along a line, never upside down, if there is room.
    fn write_along(&mut self, at: Pos2, way: Vec2, text: &str, of: Of) -> bool {
        if way.length() < 0.5 {
            return false;
        }
        let way = if way.x < 0.0 { -way } else { way }.normalized();
        let galley =
            self.painter
                .layout_no_wrap(text.to_owned(), FontId::monospace(12.0), paper::INK);
        let (along, up) = (way, Vec2::new(-way.y, way.x));
        let half = galley.size() / 2.0 + Vec2::new(2.5, 0.0);
        let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
            .map(|(x, y)| at + along * (x * half.x) + up * (y * half.y));
        let rect = Rect::from_points(&corners);
        if !self.free(rect) {
            return false;
        }
        self.taken.push(rect);
        self.written.push(Written {
            words: text.to_owned(),
            rect,
            of,
        });
        self.painter.add(Shape::convex_polygon(
            corners.to_vec(),
            Color32::from_rgba_unmultiplied(0xf7, 0xf2, 0xe6, 242),
            Stroke::NONE,
        ));
        let text = TextShape::new(at - galley.size() / 2.0, galley, paper::INK)
            .with_angle_and_anchor(way.y.atan2(way.x), Align2::CENTER_CENTER);
        // Turned letters come out pale: twice is dark enough to read.
        self.painter.add(text.clone());
        self.painter.add(text);
        true
    }

    /// Which ground it is, in the corner.
    pub(super) fn title(&mut self, text: &str) {
        let corner = self.painter.clip_rect().left_top() + Vec2::new(16.0, 16.0);
        let (size, ink) = (15.0, paper::ACCENT);
        self.write(corner, Align2::LEFT_TOP, text, size, ink, Of::Title);
    }

    /// What lies on each pile when the stage ends.
    fn piles(&mut self, stage: &str) {
        let yard = self.yard;
        for (pile, then) in stages::lying(&yard.plan, stage) {
            let corners = then.mesh.iter().flatten();
            let Some(top) = corners.max_by(|a, b| a[2].total_cmp(&b[2])) else {
                continue;
            };
            if let Some(p) = self.screen(self.eye.scene(*top)) {
                let loose = self.figures.soil_with_unit(then.loose_m3);
                let text = format!("{} {loose} loose", pile.name);
                let to = p - Vec2::new(0.0, 6.0);
                let at = yard.plan.piles.iter().position(|p| std::ptr::eq(p, pile));
                let of = at.map_or(Of::Title, Of::Pile);
                self.write(to, Align2::CENTER_BOTTOM, &text, 12.5, paper::INK, of);
            }
        }
    }

    /// The stakes with their labels; the chosen one with the two tapes that find it.
    fn stakes(&mut self, chosen: usize) {
        let plan = &self.yard.plan;
        let drape = self.yard.drape(self.showing.look);
        let foot = |at: [f64; 2], z: Option<f64>| {
            let z = drape.height(at).or(z)?;
            Some(self.eye.scene([at[0], at[1], z]))
        };
        let list = &plan.stakes.list;
        let places: Vec<Option<Vec3>> = list
            .iter()
            .map(|s| foot(s.place.at, s.place.existing))
            .collect();
        let pegs: Vec<(&str, Pos2)> = list
            .get(chosen)
            .and_then(|s| s.tie.as_ref())
            .into_iter()
            .flat_map(|tie| [tie.a.as_str(), tie.b.as_str()])
            .filter_map(|name| {
                let known = plan.survey.names.get(name)?;
                let at = foot(known.at?, known.z)?;
                Some((name, self.eye.screen(at)?))
            })
            .collect();
        let to = places.get(chosen).copied().flatten();
        for (name, from) in pegs {
            if let Some(to) = to.and_then(|at| self.eye.screen(at)) {
                self.painter
                    .line_segment([from, to], Stroke::new(2.0, paper::ACCENT));
            }
            let ink = paper::ACCENT;
            self.write(from, Align2::CENTER_BOTTOM, name, 14.0, ink, Of::Peg);
        }
        let mut order: Vec<usize> = (0..list.len()).collect();
        order.sort_by_key(|&i| i != chosen);
        for i in order {
            let Some(at) = places[i] else { continue };
            let Some(p) = self.screen(at).filter(|_| i == chosen || !self.hidden(at)) else {
                continue;
            };
            let (over, size, ink) = if i == chosen {
                (16.0, 20.0, paper::ACCENT)
            } else {
                (3.0, 12.0, paper::INK)
            };
            let top = at + Vec3::Y * (laths::tall(&self.yard.frame) * self.eye.stretch);
            let head = self.eye.screen(top).unwrap_or(p) - Vec2::new(0.0, over);
            if i == chosen {
                self.painter.line_segment([p, head], Stroke::new(2.0, ink));
                self.painter.circle_filled(p, 3.5, ink);
            }
            let (label, of) = (&list[i].label, Of::Stake(i));
            self.write(head, Align2::CENTER_BOTTOM, label, size, ink, of);
        }
    }

    fn shots(&mut self) {
        let near = self.eye.at.translation().length() < self.yard.frame.reach as f32 * 2.2;
        for (k, spot) in self.yard.plan.survey.spots.iter().enumerate() {
            let mut at = pins::head(spot, &self.yard.frame);
            at.y *= self.eye.stretch;
            let Some(p) = self.screen(at) else { continue };
            if self.hidden(at) {
                continue;
            }
            let text = if near {
                format!("{} {}", spot.name, self.figures.elevation(spot.z))
            } else {
                spot.name.clone()
            };
            let ink = paper::INK;
            self.write(p, Align2::CENTER_BOTTOM, &text, 11.5, ink, Of::Shot(k));
        }
    }
}
