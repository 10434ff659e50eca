//! The surface of a mosaic for asking at very many places: each square of plan is looked at once, and
//! most squares lie whole in one piece. Says the same as [`Mosaic::elevation`]. Metres.

use std::sync::OnceLock;

use smallvec::SmallVec;

use crate::terrain::predicates::{P2, cross};
use crate::terrain::{Plane, Span};

use super::measure::{HAIR, holds};
use super::mosaic::Mosaic;

/// What lies so far from a square cannot matter to it: more than hairs and what rounds.
const APART: f64 = 1e-6;
/// So many squares at most.
const MOST: f64 = 100_000.0;

pub struct Relief<'a> {
    mosaic: &'a Mosaic,
    span: Span,
    side: f64,
    columns: usize,
    rows: usize,
    /// Each with what reaches into it, filled when it is first asked about.
    squares: Vec<OnceLock<Box<[Bit]>>>,
}

/// A piece that reaches into a square.
struct Bit {
    plane: Plane,
    span: Span,
    /// None where all of the square lies in it.
    corners: SmallVec<[P2; 4]>,
}

impl<'a> Relief<'a> {
    pub fn new(mosaic: &'a Mosaic) -> Self {
        let (span, cell) = mosaic.grid.extent();
        let [w, h] = [0, 1].map(|k| span.high[k] - span.low[k]);
        let side = (0.5 * cell).max((w * h / MOST).sqrt());
        let (columns, rows) = ((w / side) as usize + 1, (h / side) as usize + 1);
        let squares = std::iter::repeat_with(OnceLock::new).take(columns * rows);
        Relief {
            mosaic,
            span,
            side,
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
        let [x, y] = [0, 1].map(|k| ((p[k] - self.span.low[k]) / self.side) as usize);
        let (x, y) = (x.min(self.columns - 1), y.min(self.rows - 1));
        let bits = self.squares[y * self.columns + x].get_or_init(|| self.bits(x, y));
        let there = |b: &&Bit| b.corners.is_empty() || (b.span.holds(p) && holds(&b.corners, p));
        let found = bits.iter().filter(there).map(|b| b.plane.at(p));
        found.min_by(f64::total_cmp)
    }

    /// What reaches into a square.
    fn bits(&self, x: usize, y: usize) -> Box<[Bit]> {
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
        let mut bits = Vec::new();
        for id in ids.into_iter().filter_map(|id| self.mosaic.there(id)) {
            let mut corners: SmallVec<[P2; 4]> = SmallVec::from_slice(&self.mosaic.polygon(id));
            let span = Span::of(corners.iter().copied()).grown(HAIR);
            let (mut meets, mut whole) = (span.meets(&square), true);
            for (k, &b) in corners.iter().enumerate() {
                let a = corners[(k + corners.len() - 1) % corners.len()];
                let length = (b[0] - a[0]).hypot(b[1] - a[1]);
                let sides = ends.map(|p| cross(a, b, p));
                meets &= sides.iter().any(|s| *s >= -APART * (length + APART));
                whole &= sides.iter().all(|s| *s >= APART * (length + APART));
            }
            if whole {
                corners.clear();
            }
            if meets {
                bits.push(Bit {
                    plane: self.mosaic.plane_of(id),
                    span,
                    corners,
                });
            }
        }
        bits.into()
    }
}
