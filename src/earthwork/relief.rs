//! The surface of a mosaic for asking at very many places: each square of plan is looked at once, and
//! most squares lie whole in one piece. Says the same as [`Mosaic::elevation`]. Metres.

use std::sync::OnceLock;

use smallvec::SmallVec;

use crate::terrain::predicates::{P2, cross};
use crate::terrain::{Plane, Span};

use super::measure::HAIR;
use super::mosaic::Mosaic;

/// What lies so far from a square cannot matter to it: more than hairs and what rounds.
const APART: f64 = 1e-6;
/// So many squares at most.
const MOST: f64 = 40_000.0;

pub struct Relief<'a> {
    mosaic: &'a Mosaic,
    span: Span,
    side: f64,
    /// Squares to a metre.
    scale: f64,
    columns: usize,
    rows: usize,
    /// Filled when first asked about.
    squares: Vec<OnceLock<Square>>,
}

enum Square {
    /// All of it lies in one piece.
    Whole(Plane),
    Parts(Box<[Part]>),
}

/// A piece that reaches into a square.
struct Part {
    plane: Plane,
    span: Span,
    /// Those of its edges that the square is not wholly inside of.
    edges: SmallVec<[Edge; 2]>,
}

/// An edge with the piece on its left: what lies so far to the left of it is this times the place, and this.
struct Edge {
    left: P2,
    off: f64,
}

impl Part {
    /// How far inside of its edges a place is at least; less than nothing outside.
    fn inside(&self, p: P2) -> f64 {
        let each = self.edges.iter();
        let inside = each.map(|e| e.left[0] * p[0] + e.left[1] * p[1] + e.off);
        inside.fold(f64::INFINITY, f64::min)
    }
}

impl<'a> Relief<'a> {
    pub fn new(mosaic: &'a Mosaic) -> Self {
        let (span, cell) = mosaic.grid.extent();
        let [w, h] = [0, 1].map(|k| span.high[k] - span.low[k]);
        let side = cell.max((w * h / MOST).sqrt());
        let (columns, rows) = ((w / side) as usize + 1, (h / side) as usize + 1);
        let squares = std::iter::repeat_with(OnceLock::new).take(columns * rows);
        Relief {
            mosaic,
            span,
            side,
            scale: side.recip(),
            columns,
            rows,
            squares: squares.collect(),
        }
    }

    /// Elevation of the surface at a place in plan; `None` where there is none. On a vertical face,
    /// the lower side.
    pub fn elevation(&self, p: P2) -> Option<f64> {
        if !self.span.holds(p) {
            return self.mosaic.elevation(p);
        }
        // What rounds to the square next to it lies within [`APART`] of that.
        let [x, y] = [0, 1].map(|k| ((p[k] - self.span.low[k]) * self.scale) as usize);
        let (x, y) = (x.min(self.columns - 1), y.min(self.rows - 1));
        match self.squares[y * self.columns + x].get_or_init(|| self.square(x, y)) {
            Square::Whole(plane) => Some(plane.at(p)),
            Square::Parts(parts) => {
                let mut lowest: Option<f64> = None;
                for part in parts {
                    let inside = part.inside(p);
                    if inside > APART {
                        return Some(part.plane.at(p));
                    }
                    // On its edge, and not past a sharp corner.
                    if inside >= -HAIR && part.span.holds(p) {
                        let z = part.plane.at(p);
                        lowest = Some(lowest.map_or(z, |l| l.min(z)));
                    }
                }
                lowest
            }
        }
    }

    /// No ground stands higher.
    pub fn highest(&self) -> f64 {
        let mosaic = self.mosaic;
        let high = |id: u32| {
            let plane = mosaic.plane_of(id);
            let corners = mosaic.polygon(id);
            corners
                .iter()
                .map(|&p| plane.at(p))
                .fold(f64::NEG_INFINITY, f64::max)
        };
        mosaic
            .live_ids()
            .map(high)
            .fold(f64::NEG_INFINITY, f64::max)
    }

    fn square(&self, x: usize, y: usize) -> Square {
        let corner = |x: usize, y: usize| {
            [
                self.span.low[0] + x as f64 * self.side,
                self.span.low[1] + y as f64 * self.side,
            ]
        };
        let square = Span::of([corner(x, y), corner(x + 1, y + 1)]).grown(APART);
        let Span { low, high } = square;
        let ends = [low, [high[0], low[1]], high, [low[0], high[1]]];
        let mut ids = Vec::new();
        self.mosaic.grid.query(low, high, &mut ids);
        let mut parts = Vec::new();
        for id in ids.into_iter().filter_map(|id| self.mosaic.there(id)) {
            let corners = self.mosaic.polygon(id);
            let span = Span::of(corners.iter().copied()).grown(HAIR);
            let mut meets = span.meets(&square);
            let mut edges = SmallVec::new();
            for (k, &b) in corners.iter().enumerate() {
                let a = corners[(k + corners.len() - 1) % corners.len()];
                let along = [b[0] - a[0], b[1] - a[1]];
                let length = (along[0] * along[0] + along[1] * along[1]).sqrt();
                let sure = APART * (length + APART);
                let sides = ends.map(|p| cross(a, b, p));
                meets &= sides.iter().any(|s| *s >= -sure);
                if sides.iter().any(|s| *s < sure) && length > 0.0 {
                    let left = [-along[1] / length, along[0] / length];
                    let off = -(left[0] * a[0] + left[1] * a[1]);
                    edges.push(Edge { left, off });
                }
            }
            if meets {
                let plane = self.mosaic.plane_of(id);
                parts.push(Part { plane, span, edges });
            }
        }
        match &parts[..] {
            [one] if one.edges.is_empty() => Square::Whole(one.plane),
            _ => Square::Parts(parts.into()),
        }
    }
}
