//! What the cuts of a tape meet: creases as lines, upright faces, and both along one cut. Metres.

use super::lined::{Crease, Face, Ground};
use crate::terrain::line::dist;
use crate::terrain::predicates::P2;

/// A crease as the cuts from `first` to `last` meet it.
#[derive(Clone, Copy)]
pub struct Line {
    pub first: f64,
    pub last: f64,
    /// Place on the first cut, and how much further for each metre on.
    pub at: f64,
    pub slope: f64,
    /// By how much more than before it a metre of the cut is longer along the surface than in plan, from
    /// there on: in full, and as the sheet unfolds along the cut.
    pub plain: f64,
    pub unfolded: f64,
    pub lined: bool,
}

impl Line {
    /// `ends` of the crease along and across the cuts; `more` tells by how much a metre of a cut is longer
    /// on the ground beside it.
    pub fn of(crease: &Crease, [a, b]: [P2; 2], more: impl Fn(&Ground) -> [f64; 2]) -> Line {
        let up = b[1] > a[1];
        let (low, high) = if up { (a, b) } else { (b, a) };
        let side = |of: &Option<Ground>| of.as_ref().map_or([0.0; 2], &more);
        // To the left of a line that runs up across the cuts lies what they come from.
        let (left, right) = (side(&crease.left), side(&crease.right));
        let (before, after) = if up { (left, right) } else { (right, left) };
        Line {
            first: low[1],
            last: high[1],
            at: low[0],
            slope: (high[0] - low[0]) / (high[1] - low[1]).max(f64::MIN_POSITIVE),
            plain: after[0] - before[0],
            unfolded: after[1] - before[1],
            lined: crease.lined,
        }
    }
}

/// An upright face as the cuts from `first` to `last` meet it.
pub struct Wall<'a> {
    pub face: &'a Face,
    pub first: f64,
    pub last: f64,
    /// Its ends along and across the cuts.
    pub ends: [P2; 2],
    /// How square the cuts cross it: 1 is square, 0 along it.
    pub square: f64,
}

impl Wall<'_> {
    pub fn of(face: &Face, turn: impl Fn(P2) -> P2) -> Wall<'_> {
        let [a, b] = [turn(face.a), turn(face.b)];
        Wall {
            face,
            first: a[1].min(b[1]),
            last: a[1].max(b[1]),
            ends: [a, b],
            square: (b[1] - a[1]).abs() / dist(a, b).max(1e-12),
        }
    }

    /// Where the cut at `t` crosses it.
    pub fn rise(&self, t: f64) -> Rise {
        let [a, b] = self.ends;
        let f = (t - a[1]) / (b[1] - a[1]);
        let mix = |h: [f64; 2]| h[0] + f * (h[1] - h[0]);
        Rise {
            at: a[0] + f * (b[0] - a[0]),
            height: mix(self.face.height),
            lined: self.face.lined.map_or(0.0, mix),
            square: self.square,
        }
    }
}

/// Where a cut crosses an upright face.
pub struct Rise {
    pub at: f64,
    pub height: f64,
    pub lined: f64,
    pub square: f64,
}

/// Lines, measure by measure: sums run over one or two of them.
#[derive(Default)]
pub struct Lines {
    pub first: Vec<f64>,
    pub last: Vec<f64>,
    pub at: Vec<f64>,
    pub slope: Vec<f64>,
    pub plain: Vec<f64>,
    pub unfolded: Vec<f64>,
    /// Nothing for what borders on lining, else out of the way.
    pub aside: Vec<f64>,
}

impl Lines {
    pub fn push(&mut self, line: Line) {
        self.first.push(line.first);
        self.last.push(line.last);
        self.at.push(line.at);
        self.slope.push(line.slope);
        self.plain.push(line.plain);
        self.unfolded.push(line.unfolded);
        self.aside
            .push(if line.lined { 0.0 } else { f64::INFINITY });
    }

    fn measures(&mut self) -> [&mut Vec<f64>; 7] {
        [
            &mut self.first,
            &mut self.last,
            &mut self.at,
            &mut self.slope,
            &mut self.plain,
            &mut self.unfolded,
            &mut self.aside,
        ]
    }

    /// Forgets those that end before `t`; tells where the next one ends.
    pub fn forget(&mut self, t: f64) -> f64 {
        let mut k = 0;
        while k < self.last.len() {
            if self.last[k] < t {
                for measure in self.measures() {
                    measure.swap_remove(k);
                }
            } else {
                k += 1;
            }
        }
        self.last.iter().fold(f64::INFINITY, |e, &l| least(e, l))
    }

    pub fn clear(&mut self) {
        self.measures().into_iter().for_each(Vec::clear);
    }
}

/// What one cut meets, kept from cut to cut to spare allocations.
#[derive(Default)]
pub struct Met {
    pub lines: Lines,
    /// Upright faces by number, in order.
    pub faces: Vec<u32>,
    /// Where the cut crosses the lines, and the faces.
    pub at: Vec<f64>,
    pub rises: Vec<Rise>,
}

/// Plainer than those of the language, which look for what is no number.
pub fn least(a: f64, b: f64) -> f64 {
    if b < a { b } else { a }
}

pub fn most(a: f64, b: f64) -> f64 {
    if b > a { b } else { a }
}
