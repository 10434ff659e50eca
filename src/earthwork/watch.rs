//! What every work does near what must not be hurt, seen at the moment it is done: so a trench that
//! is filled again counts at its deepest, and so does a base trench under a wall.
//!
//! A service is a line in space, so far under the ground as surveyed all along; soil dug is a body
//! between the ground before the work and after it. What counts is how near the two come in space.
//! An area (a keep-out, a root zone) is a ring in plan; what counts is the cut below the ground as
//! surveyed and the fill over it. Metres, m².

use smallvec::SmallVec;

use super::facet;
use super::mosaic::{Mosaic, bounds, centroid};
use super::near::{Approach, approach};
use crate::design::Part;
use crate::terrain::convex::{self, Polygon, area2};
use crate::terrain::predicates::P2;
use crate::terrain::{GROUND, Plane, Span, Surface};

/// Soil moved by less than this (metres) is not moved.
const MOVED: f64 = 0.02;
/// A dig this thin (metres) reaches nothing.
const THIN: f64 = 0.005;

/// A line in space: corners, and how near nothing may be dug.
#[derive(Debug, Clone)]
pub struct Line {
    pub points: Vec<[f64; 3]>,
    pub tolerance: f64,
}

/// A ring in plan, as convex parts.
#[derive(Debug, Clone)]
pub struct Area {
    parts: Vec<Polygon>,
    span: Span,
}

impl Area {
    /// Inside a simple ring, counter-clockwise.
    pub fn of(ring: &[P2]) -> Area {
        Area {
            parts: facet::on_plane(ring, Plane::level(0.0), GROUND)
                .into_iter()
                .map(|f| f.outline)
                .collect(),
            span: Span::of(ring.iter().copied()),
        }
    }

    pub fn size(&self) -> f64 {
        self.parts.iter().map(|p| 0.5 * area2(p)).sum()
    }
}

/// One work near one line.
#[derive(Debug, Clone)]
pub struct NearLine {
    pub line: usize,
    pub work: String,
    pub stage: String,
    pub approach: Approach,
}

/// One work in one area.
#[derive(Debug, Clone)]
pub struct InArea {
    pub area: usize,
    pub work: String,
    pub stage: String,
    /// Where it cuts below the ground as surveyed: plan area, deepest, and where.
    pub cut: Moved,
    /// Where it fills over it.
    pub fill: Moved,
}

#[derive(Debug, Clone, Copy, Default)]
pub struct Moved {
    pub area: f64,
    pub most: f64,
    pub at: P2,
}

#[derive(Debug, Clone, Default)]
pub struct Watch {
    pub lines: Vec<Line>,
    pub areas: Vec<Area>,
    pub near: Vec<NearLine>,
    pub inside: Vec<InArea>,
    /// Boxes in which the ground is kept as it is when each stage ends, and what was kept: for each
    /// stage, one surface a box.
    pub boxes: Vec<Span>,
    pub kept: Vec<Vec<Surface>>,
}

impl Watch {
    /// Keeps the ground as it is when a stage ends.
    pub fn stage_over(&mut self, ground: &Mosaic) {
        if !self.boxes.is_empty() {
            let kept = self.boxes.iter().map(|b| ground.around(b)).collect();
            self.kept.push(kept);
        }
    }

    /// Looks at what the work just finished did.
    pub fn see(&mut self, ground: &Mosaic, part: &Part, stage: &str) {
        if self.lines.is_empty() && self.areas.is_empty() {
            return;
        }
        let n = ground.base_count();
        let flat = |p: &[f64; 3]| [p[0], p[1]];
        let along: Vec<Span> = self
            .lines
            .iter()
            .map(|l| Span::of(l.points.iter().map(flat)).grown(l.tolerance))
            .collect();
        let mut seen: Vec<InArea> = Vec::new();
        for &id in &ground.changed {
            let piece = &ground.pieces[(id - n) as usize];
            if !piece.live || piece.plane == piece.before {
                continue;
            }
            let [low, high] = ground.bounds_of(id);
            let span = Span { low, high };
            let plane = |i: u32| ground.planes[i as usize];
            let (now, before) = (plane(piece.plane), plane(piece.before));
            for (k, _) in along.iter().enumerate().filter(|(_, s)| s.meets(&span)) {
                let line = &self.lines[k];
                for ends in line.points.windows(2) {
                    let [a, b] = [ends[0], ends[1]];
                    let near = Span::of([flat(&a), flat(&b)]).grown(line.tolerance);
                    if !near.meets(&span) {
                        continue;
                    }
                    let poly = ground.polygon(id);
                    let fall: SmallVec<[f64; 8]> =
                        poly.iter().map(|&p| before.at(p) - now.at(p)).collect();
                    if fall.iter().all(|&d| d < THIN) {
                        continue;
                    }
                    let (_, dug) = convex::split(&poly, &fall, 0.0);
                    if dug.len() < 3 {
                        continue;
                    }
                    let found = approach(a, b, &dug, &now, &before);
                    if found.clearance() < line.tolerance - 1e-9 {
                        note(&mut self.near, k, part, stage, found);
                    }
                }
            }
            for (k, area) in self.areas.iter().enumerate() {
                if !area.span.meets(&span) {
                    continue;
                }
                let poly = ground.polygon(id);
                let was = plane(piece.original);
                let inner = area.parts.iter().map(|p| convex::shared(&poly, p));
                for inner in inner.filter(|p| area2(p) > 1e-9) {
                    // By this work, and against the ground as surveyed.
                    let rise = |p: P2| {
                        let (by_work, since) = (now.at(p) - before.at(p), now.at(p) - was.at(p));
                        if by_work > 0.0 {
                            since.max(0.0)
                        } else if by_work < 0.0 {
                            since.min(0.0)
                        } else {
                            0.0
                        }
                    };
                    let places = inner.iter().copied().chain([centroid(&inner)]);
                    let most = places
                        .map(|p| (rise(p), p))
                        .max_by(|a, b| a.0.abs().total_cmp(&b.0.abs()))
                        .filter(|m| m.0.abs() > MOVED);
                    let Some((most, at)) = most else { continue };
                    let slot = seen.iter().position(|s| s.area == k).unwrap_or_else(|| {
                        seen.push(InArea {
                            area: k,
                            work: part.name.clone(),
                            stage: stage.into(),
                            cut: Moved::default(),
                            fill: Moved::default(),
                        });
                        seen.len() - 1
                    });
                    let moved = if most < 0.0 {
                        &mut seen[slot].cut
                    } else {
                        &mut seen[slot].fill
                    };
                    moved.area += 0.5 * area2(&inner);
                    if most.abs() > moved.most {
                        (moved.most, moved.at) = (most.abs(), at);
                    }
                }
            }
        }
        for s in seen {
            self.add(s);
        }
    }

    /// Parts of one work count as one; a part that digs what an earlier part dug adds no area.
    fn add(&mut self, new: InArea) {
        let known = self
            .inside
            .iter_mut()
            .find(|i| i.area == new.area && i.work == new.work);
        let Some(known) = known else {
            self.inside.push(new);
            return;
        };
        for (old, new) in [(&mut known.cut, new.cut), (&mut known.fill, new.fill)] {
            old.area = old.area.max(new.area);
            if new.most > old.most {
                (old.most, old.at) = (new.most, new.at);
            }
        }
    }
}

fn note(near: &mut Vec<NearLine>, line: usize, part: &Part, stage: &str, found: Approach) {
    match near
        .iter_mut()
        .find(|n| n.line == line && n.work == part.name)
    {
        Some(known) if known.approach.clearance() <= found.clearance() => {}
        Some(known) => (known.approach, known.stage) = (found, stage.into()),
        None => near.push(NearLine {
            line,
            work: part.name.clone(),
            stage: stage.into(),
            approach: found,
        }),
    }
}

/// The ground as it is now along a line in plan: a point wherever it bends. What runs over no ground
/// (a house) is passed over.
pub fn profile(ground: &Mosaic, line: &[P2]) -> Vec<[f64; 3]> {
    let mut points: Vec<[f64; 3]> = Vec::new();
    let mut ids = Vec::new();
    for ends in line.windows(2) {
        let (a, b) = (ends[0], ends[1]);
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        let at = |f: f64| [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])];
        let bits = (length / 2.0).ceil().clamp(1.0, 4000.0) as usize;
        let mut all: Vec<u32> = Vec::new();
        for bit in 0..bits {
            let (p, q) = (
                at(bit as f64 / bits as f64),
                at((bit + 1) as f64 / bits as f64),
            );
            let (lo, hi) = bounds([p, q]);
            ids.clear();
            ground.grid.query(lo, hi, &mut ids);
            all.extend(ids.iter().filter_map(|&id| ground.there(id)));
        }
        all.sort_unstable();
        all.dedup();
        let mut cuts: Vec<(f64, f64)> = Vec::new();
        for id in all {
            let n = ground.base_count();
            if id >= n && ground.pieces[(id - n) as usize].solid {
                continue;
            }
            let poly = ground.polygon(id);
            let (from, to) = convex::stretch(&poly, a, b);
            if to - from > 1e-12 {
                let plane = ground.plane_of(id);
                cuts.extend([from, to].map(|f| (f, plane.at(at(f)))));
            }
        }
        cuts.sort_by(|x, y| x.0.total_cmp(&y.0));
        for (f, z) in cuts {
            let p = at(f);
            let new = points
                .last()
                .is_none_or(|l| (l[0] - p[0]).hypot(l[1] - p[1]) > 1e-7);
            if new {
                points.push([p[0], p[1], z]);
            }
        }
    }
    points
}
