//! Lines, handles, guides and notes over the yard: ink and paper, and the one accent for what is
//! picked.

use bevy_egui::egui::{
    Align2, Color32, FontId, Painter, Pos2, Rect, Shape, Stroke, StrokeKind, Vec2,
};

use crate::edit::Address;
use crate::view::figures::Figures;
use crate::view::hand::Eye;
use crate::view::paper;
use crate::view::work::Work;

use super::pools::{Part, Run};
use super::{Drawn, Shaping, Target};

const HANDLE: f32 = 13.0;

impl Shaping {
    /// `names`: whether what is under the pointer is named beside it.
    pub fn paint(
        &self,
        painter: &Painter,
        eye: &Eye,
        work: &Work,
        (picked, names): (Option<&Address>, bool),
        figures: Figures,
    ) {
        let chosen = self.chosen(picked);
        let thing = match &self.hover {
            Some(
                Target::Corner(i, _)
                | Target::Edge(i, _, _)
                | Target::Water(i)
                | Target::Part(i, _),
            ) => Some(*i),
            _ => None,
        };
        for (i, line) in self.lines.iter().enumerate() {
            if chosen.contains(&i) {
                run(painter, eye, line, Stroke::new(2.4, paper::ACCENT), true);
            } else if thing == Some(i) && self.grip.is_none() {
                run(painter, eye, line, Stroke::new(2.2, paper::INK), true);
            } else if line.outline.designed {
                let thin = Color32::from_rgba_unmultiplied(0x2c, 0x28, 0x22, 120);
                run(painter, eye, line, Stroke::new(1.1, thin), false);
            }
        }
        self.guides(painter, eye);
        for handle in &self.handles {
            let held = self
                .grip
                .as_ref()
                .filter(|g| g.target == handle.target)
                .and_then(|g| g.now);
            let at = held
                .and_then(|p| eye.screen(eye.scene(p)))
                .unwrap_or(handle.at);
            let hot = self.hover.as_ref() == Some(&handle.target) || held.is_some();
            match &handle.target {
                Target::Corner(i, k) => {
                    let outline = &self.lines[*i].outline;
                    let on = picked.is_some_and(|p| outline.corner_of(p) == Some(*k));
                    let bound = outline.bound && outline.shots[*k].is_some();
                    corner(painter, at, on, hot, bound);
                }
                Target::Part(_, part) => {
                    let beside = self
                        .run_way(&handle.target, work)
                        .and_then(|[a, b]| {
                            let level = handle.place[2];
                            let ends = [a, b].map(|p| eye.screen(eye.scene([p[0], p[1], level])));
                            Some((ends[1]? - ends[0]?).normalized())
                        })
                        .unwrap_or(Vec2::X);
                    let way = match part {
                        Part::Width(_) => beside.rot90(),
                        _ => beside,
                    };
                    arrows(painter, at, way, hot);
                }
                Target::Water(_) => {
                    water(painter, at, hot);
                    let place = held.unwrap_or(handle.place);
                    let line = match &handle.target {
                        Target::Water(i) => &self.lines[*i],
                        _ => continue,
                    };
                    if self.grip.is_none() {
                        let words = self.water_words(&line.outline.thing, place[2], work, figures);
                        slip(painter, at + Vec2::new(16.0, 0.0), &[words], None);
                    }
                }
                _ => {}
            }
        }
        self.notes(painter, eye, work, figures, names);
    }

    /// Two places of the line beside a pool's handle, down the falls.
    fn run_way(&self, target: &Target, work: &Work) -> Option<[[f64; 2]; 2]> {
        let Target::Part(i, part) = target else {
            return None;
        };
        Some(self.run(*i, work)?.way(*part))
    }

    fn guides(&self, painter: &Painter, eye: &Eye) {
        let Some(grip) = &self.grip else { return };
        let (Some(snapped), Some(now)) = (&grip.snapped, grip.now) else {
            return;
        };
        for [a, b] in &snapped.guides {
            let ends = [a, b].map(|p| eye.screen(eye.scene([p[0], p[1], now[2]])));
            if let [Some(a), Some(b)] = ends {
                painter.extend(Shape::dashed_line(
                    &[a, b],
                    Stroke::new(1.4, paper::INK),
                    6.0,
                    5.0,
                ));
            }
        }
        if snapped.guides.is_empty()
            && let Some(at) = eye.screen(eye.scene(now))
        {
            painter.circle_stroke(at, HANDLE, Stroke::new(1.4, paper::INK));
        }
    }

    fn notes(&self, painter: &Painter, eye: &Eye, work: &Work, figures: Figures, names: bool) {
        if let Some(grip) = &self.grip {
            if let Some(now) = grip.now
                && let Some(at) = eye.screen(eye.scene(now))
            {
                let lines = self.note(grip, now, eye, work, figures);
                slip(
                    painter,
                    at + Vec2::new(18.0, 0.0),
                    &lines,
                    grip.wrong.as_deref(),
                );
            }
            return;
        }
        let Some(pointer) = painter.ctx().pointer_latest_pos() else {
            return;
        };
        if self.list.is_some() {
            return;
        }
        if let Some(what) = self.placing {
            let words = format!("press where the {} goes", super::adding::word(what));
            slip(painter, pointer + Vec2::new(16.0, 18.0), &[words], None);
        } else if let Some(target) = self.hover.as_ref().filter(|_| names)
            && let Some(words) = self.hover_words(target, work)
        {
            slip(painter, pointer + Vec2::new(16.0, 18.0), &[words], None);
        }
    }

    fn hover_words(&self, target: &Target, work: &Work) -> Option<String> {
        Some(match target {
            Target::Corner(i, k) => {
                let outline = &self.lines.get(*i)?.outline;
                let shot = outline.shots.get(*k)?.as_ref();
                let on = shot.map_or(String::new(), |s| format!(", on shot {s}"));
                format!("{}: corner {}{on}", outline.words(), k + 1)
            }
            Target::Edge(i, _, _) => self.lines.get(*i)?.outline.words(),
            Target::Water(_) => "drag up or down to change the water".to_owned(),
            Target::Part(i, part) => {
                let cascade = self.lines.get(*i)?.outline.cascade(work)?;
                Run::words(*part, cascade)
            }
            Target::Shot(_) => {
                let address = self.address(target, work)?;
                work.editor.words(&address)
            }
        })
    }
}

fn run(painter: &Painter, eye: &Eye, line: &Drawn, stroke: Stroke, halo: bool) {
    for edge in &line.edges {
        let mut piece: Vec<Pos2> = Vec::new();
        for p in edge {
            match eye.screen(eye.scene(*p)) {
                Some(at) => piece.push(at),
                None => draw(painter, &mut piece, stroke, halo),
            }
        }
        draw(painter, &mut piece, stroke, halo);
    }
}

fn draw(painter: &Painter, piece: &mut Vec<Pos2>, stroke: Stroke, halo: bool) {
    let piece = std::mem::take(piece);
    if piece.len() < 2 {
        return;
    }
    if halo {
        painter.line(piece.clone(), Stroke::new(stroke.width + 2.6, paper::PAPER));
    }
    painter.line(piece, stroke);
}

/// A square for a corner, filled when picked; round and thin where it cannot be dragged.
fn corner(painter: &Painter, at: Pos2, on: bool, hot: bool, bound: bool) {
    let size = if hot { HANDLE + 3.0 } else { HANDLE };
    let fill = if on { paper::ACCENT } else { paper::PAPER };
    let ink = if on { paper::PAPER } else { paper::ACCENT };
    if bound {
        painter.circle(at, size / 2.0, fill, Stroke::new(1.2, paper::FAINT));
        return;
    }
    painter.rect(
        Rect::from_center_size(at, Vec2::splat(size)),
        1.5,
        fill,
        Stroke::new(2.0, ink),
        StrokeKind::Inside,
    );
}

/// A small lozenge with a point on either side along the way it can be dragged.
fn arrows(painter: &Painter, at: Pos2, way: Vec2, hot: bool) {
    let s = if hot { 12.0 } else { 9.5 };
    let across = way.rot90();
    for k in [-1.0, 1.0] {
        painter.add(Shape::convex_polygon(
            vec![
                at + way * (k * s),
                at + way * (k * 0.25 * s) + across * (0.55 * s),
                at + way * (k * 0.25 * s) - across * (0.55 * s),
            ],
            paper::ACCENT,
            Stroke::new(1.4, paper::PAPER),
        ));
    }
}

/// Two points up and down over a level stroke.
fn water(painter: &Painter, at: Pos2, hot: bool) {
    let s = if hot { 11.0 } else { 9.0 };
    painter.circle(at, s + 2.0, paper::PAPER, Stroke::new(2.0, paper::ACCENT));
    for way in [-1.0, 1.0] {
        painter.add(Shape::convex_polygon(
            vec![
                at + Vec2::new(-0.5 * s, way * 0.25 * s),
                at + Vec2::new(0.5 * s, way * 0.25 * s),
                at + Vec2::new(0.0, way * 0.85 * s),
            ],
            paper::ACCENT,
            Stroke::NONE,
        ));
    }
}

/// Words on a slip of paper, kept inside the yard.
fn slip(painter: &Painter, at: Pos2, lines: &[String], wrong: Option<&str>) {
    let font = FontId::monospace(12.5);
    let mut rows: Vec<_> = lines
        .iter()
        .map(|l| painter.layout_no_wrap(l.clone(), font.clone(), paper::INK))
        .collect();
    if let Some(wrong) = wrong {
        rows.push(painter.layout(
            wrong.to_owned(),
            FontId::proportional(12.5),
            paper::ACCENT,
            280.0,
        ));
    }
    let width = rows.iter().map(|r| r.size().x).fold(0.0, f32::max);
    let height: f32 = rows.iter().map(|r| r.size().y).sum();
    let size = Vec2::new(width, height) + Vec2::new(12.0, 6.0);
    let room = painter.clip_rect().shrink(4.0);
    let mut rect = Align2::LEFT_CENTER.anchor_size(at, size);
    let over = Vec2::new(
        (rect.right() - room.right()).max(0.0),
        (rect.bottom() - room.bottom()).max(0.0) - (room.top() - rect.top()).max(0.0),
    );
    rect = rect.translate(-over);
    painter.rect(
        rect,
        2.0,
        paper::PAPER,
        Stroke::new(1.0, paper::INK),
        StrokeKind::Inside,
    );
    let mut y = rect.top() + 3.0;
    for row in rows {
        let height = row.size().y;
        painter.galley(Pos2::new(rect.left() + 6.0, y), row, paper::INK);
        y += height;
    }
}
