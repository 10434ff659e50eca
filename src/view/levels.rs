//! Words over the water: its name and level, its least freeboard, and where it goes when it runs
//! over.

use bevy_egui::egui::{Align2, Rect, Shape, Stroke, Vec2};

use super::labels::{Labels, Of};
use super::{Look, paper};

impl Labels<'_> {
    /// Names and levels.
    pub(super) fn levels(&mut self) {
        let shown = &self.showing;
        if !shown.water || shown.depth || !shown.is_look() || shown.look != Look::Finished {
            return;
        }
        // Leaders lie under all the names: none strikes another out.
        let under = self.painter.add(Shape::Noop);
        let mut leaders = Vec::new();
        for (k, body) in self.yard.plan.water.iter().enumerate() {
            let mut area = 0.0;
            let mut middle = [0.0; 2];
            for t in &body.sheet {
                let [a, b, c] = *t;
                let s = ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])).abs();
                area += s;
                for (k, m) in middle.iter_mut().enumerate() {
                    *m += s * (a[k] + b[k] + c[k]) / 3.0;
                }
            }
            if area <= 0.0 {
                continue;
            }
            let at = [middle[0] / area, middle[1] / area, body.level_m];
            let Some(p) = self.screen(self.eye.scene(at)) else {
                continue;
            };
            let text = format!(
                "{}  {}",
                body.name,
                self.figures.elevation_with_unit(body.level_m)
            );
            // Beside the water, on a leader: small pools must not vanish under their names.
            for (x, y) in [
                (104, -36),
                (-104, -36),
                (0, -52),
                (0, -76),
                (120, 24),
                (-120, 24),
            ] {
                let to = p + Vec2::new(x as f32, y as f32);
                let (size, ink) = (13.0, paper::INK);
                let rect = self.write(to, Align2::CENTER_CENTER, &text, size, ink, Of::Level(k));
                if let Some(rect) = rect {
                    let end = rect.expand(2.0).clamp(p);
                    let stroke = Stroke::new(1.2, paper::INK);
                    leaders.push(Shape::line_segment([end, p], stroke));
                    leaders.push(Shape::circle_filled(p, 2.2, paper::INK));
                    break;
                }
            }
        }
        self.painter.set(under, Shape::Vec(leaders));
    }

    /// The lowest place of each brim, with its figure.
    pub(super) fn brims(&mut self) {
        let shown = &self.showing;
        if !shown.brim || !shown.is_look() || shown.look != Look::Finished {
            return;
        }
        self.runs();
        for (k, body) in self.yard.plan.water.iter().enumerate() {
            let [x, y] = body.freeboard_at;
            let at = [x, y, body.level_m + body.freeboard_min_m.max(0.0)];
            let Some(p) = self.screen(self.eye.scene(at)) else {
                continue;
            };
            let text = format!(
                "{}: least freeboard {}",
                body.name,
                self.figures.elevation_with_unit(body.freeboard_min_m)
            );
            for (x, y) in [
                (96, -48),
                (-96, -48),
                (96, 44),
                (-96, 44),
                (0, -88),
                (0, 80),
            ] {
                let to = p + Vec2::new(x as f32, y as f32);
                let (ink, of) = (paper::ACCENT, Of::Freeboard(k));
                let rect = self.write(to, Align2::CENTER_CENTER, &text, 12.5, ink, of);
                if let Some(rect) = rect {
                    let end = rect.expand(2.0).clamp(p);
                    self.painter.line_segment([end, p], (1.6, paper::ACCENT));
                    self.painter
                        .circle(p, 4.5, paper::PAPER, (2.2, paper::ACCENT));
                    break;
                }
            }
        }
    }

    /// Where water goes that runs over, or out of an overflow pipe: its way down the yard, with
    /// heads that point along it.
    fn runs(&mut self) {
        let flow = &self.yard.plan.flow;
        let pipes = flow.overflows.iter();
        let ways: Vec<(&[[f64; 3]], Option<f64>)> = flow
            .spills
            .iter()
            .map(|s| (s.path.as_slice(), Some(s.spill_m)))
            .chain(pipes.map(|o| (o.outlet_path.as_slice(), None)))
            .collect();
        // Spills come first among the ways, in their order.
        for (k, (path, spill)) in ways.into_iter().enumerate() {
            let mut walked = 0.0;
            for leg in path.windows(2) {
                let at = |p: [f64; 3]| self.eye.screen(self.eye.scene([p[0], p[1], p[2] + 0.03]));
                let (Some(a), Some(b)) = (at(leg[0]), at(leg[1])) else {
                    continue;
                };
                let long = (b - a).length();
                let whole = self.painter.clip_rect();
                if long < 0.5 || !whole.intersects(Rect::from_two_pos(a, b)) {
                    continue;
                }
                self.painter.line_segment([a, b], (4.5, paper::PAPER));
                self.painter.line_segment([a, b], (2.4, paper::WATER));
                // A head some way along, not one for every short leg.
                walked += long;
                if walked > 40.0 {
                    walked = 0.0;
                    let way = (b - a) / long;
                    let tip = a + 0.5 * (b - a) + 6.0 * way;
                    let side = Vec2::new(-way.y, way.x) * 5.0;
                    let back = tip - 12.0 * way;
                    let head = vec![tip, back + side, back - side];
                    self.painter.add(Shape::convex_polygon(
                        head,
                        paper::WATER,
                        (1.0, paper::PAPER),
                    ));
                }
            }
            let (Some(spill), Some(first)) = (spill, path.first()) else {
                continue;
            };
            if let Some(p) = self.screen(self.eye.scene(*first)) {
                let text = format!("runs over at {}", self.figures.elevation_with_unit(spill));
                for (x, y) in [(-20.0, 26.0), (20.0, 26.0), (-20.0, -26.0), (20.0, -26.0)] {
                    let side = if x < 0.0 {
                        Align2::RIGHT_CENTER
                    } else {
                        Align2::LEFT_CENTER
                    };
                    let to = p + Vec2::new(x, y);
                    let (ink, of) = (paper::WATER, Of::Spill(k));
                    if self.write(to, side, &text, 12.5, ink, of).is_some() {
                        break;
                    }
                }
            }
        }
    }
}
