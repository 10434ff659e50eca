//! The lines of a feature that are set out with stakes, taken from where the feature lays itself
//! out, so that what is staked is what is cut; and the places to stake along them. Metres.

use crate::plan::{Kind, SetOut, Station};
use crate::terrain::predicates::P2;

/// A ring that turns by more than this (30°) at a point has a corner there; smoothed outlines turn
/// less at each of their bits.
const CORNER: f64 = std::f64::consts::FRAC_PI_6;
/// More stakes than this nobody drives along one line.
const MOST: usize = 1000;
/// Walls whose ends stand closer than this meet.
const MEET: f64 = 0.05;
/// What a rod can be read to: less is no step.
const ROD: f64 = 0.003;

/// How close the stakes of a line stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spaced {
    /// As round an outline, and at its corners.
    Outline,
    /// As along a line, and at each of its points.
    Line,
    /// Only at its points.
    Points,
}

#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SetPoint {
    pub at: P2,
    pub dig: Option<f64>,
    pub base: Option<f64>,
    pub finish: Option<f64>,
    pub note: &'static str,
}

#[derive(Debug, Clone, PartialEq)]
pub struct SetLine {
    pub name: String,
    pub kind: Kind,
    pub part: String,
    pub closed: bool,
    pub spaced: Spaced,
    pub points: Vec<SetPoint>,
}

impl SetPoint {
    pub fn new(at: P2) -> Self {
        SetPoint {
            at,
            dig: None,
            base: None,
            finish: None,
            note: "",
        }
    }

    pub fn dig(mut self, z: f64) -> Self {
        self.dig = Some(z);
        self
    }

    pub fn base(mut self, z: f64) -> Self {
        self.base = Some(z);
        self
    }

    pub fn finish(mut self, z: f64) -> Self {
        self.finish = Some(z);
        self
    }

    pub fn note(mut self, note: &'static str) -> Self {
        self.note = note;
        self
    }

    /// Between two points; what is special about them is not special here.
    fn between(&self, other: &SetPoint, f: f64) -> SetPoint {
        let mix = |a: f64, b: f64| a + f * (b - a);
        let both = |a: Option<f64>, b: Option<f64>| Some(mix(a?, b?));
        SetPoint {
            at: [mix(self.at[0], other.at[0]), mix(self.at[1], other.at[1])],
            dig: both(self.dig, other.dig),
            base: both(self.base, other.base),
            finish: both(self.finish, other.finish),
            note: "",
        }
    }
}

impl SetLine {
    /// A closed outline that is dug to one elevation.
    pub fn ring(name: &str, kind: Kind, part: &str, ring: &[P2], dig: f64, finish: f64) -> Self {
        SetLine {
            name: name.into(),
            kind,
            part: part.into(),
            closed: true,
            spaced: Spaced::Outline,
            points: ring
                .iter()
                .map(|&p| SetPoint::new(p).dig(dig).finish(finish))
                .collect(),
        }
    }

    /// A line through points.
    pub fn line(name: &str, kind: Kind, part: &str, spaced: Spaced, points: Vec<SetPoint>) -> Self {
        SetLine {
            name: name.into(),
            kind,
            part: part.into(),
            closed: false,
            spaced,
            points,
        }
    }

    /// The places to stake: at corners, and evenly between them, never further apart than asked.
    pub fn stations(&self, spacing: f64, along: f64) -> Vec<SetPoint> {
        let n = self.points.len();
        if n < 2 || self.spaced == Spaced::Points {
            return self.points.clone();
        }
        let apart = if self.spaced == Spaced::Outline {
            spacing
        } else {
            along
        };
        let last = if self.closed { n } else { n - 1 };
        let at = |i: usize| &self.points[i % n];
        let length = |i: usize| {
            let (a, b) = (at(i).at, at(i + 1).at);
            (b[0] - a[0]).hypot(b[1] - a[1])
        };
        let all: f64 = (0..last).map(length).sum();
        let apart = apart.max(all / MOST as f64).max(1e-3);
        let corner = |i: usize| {
            let (a, b, c) = (at(i + n - 1).at, at(i).at, at(i + 1).at);
            let (u, v) = ([b[0] - a[0], b[1] - a[1]], [c[0] - b[0], c[1] - b[1]]);
            (u[0] * v[1] - u[1] * v[0])
                .atan2(u[0] * v[0] + u[1] * v[1])
                .abs()
                > CORNER
        };
        // Where the line is broken into runs: at its corners, or wherever it starts.
        let mut breaks: Vec<usize> = (0..n)
            .filter(|&i| {
                let end = !self.closed && (i == 0 || i == n - 1);
                end || self.spaced == Spaced::Line || corner(i)
            })
            .collect();
        let cornered = !breaks.is_empty();
        if !cornered {
            breaks.push(0);
        }
        if self.closed {
            breaks.push(breaks[0] + n);
        }
        let mut out = Vec::new();
        for run in breaks.windows(2) {
            let total: f64 = (run[0]..run[1]).map(length).sum();
            let parts = (total / apart - 1e-9).ceil().max(1.0) as usize;
            let mut first = *at(run[0]);
            if self.closed && cornered && first.note.is_empty() {
                first.note = "corner";
            }
            out.push(first);
            let (mut i, mut run_to) = (run[0], 0.0);
            for k in 1..parts {
                let s = total * k as f64 / parts as f64;
                while i + 1 < run[1] && run_to + length(i) < s {
                    run_to += length(i);
                    i += 1;
                }
                let f = ((s - run_to) / length(i).max(1e-12)).clamp(0.0, 1.0);
                out.push(at(i).between(at(i + 1), f));
            }
        }
        if !self.closed {
            out.push(*at(n - 1));
        }
        out
    }
}

/// A wall is level from end to end: one that steps is written as several, end to end. Where cap or
/// base of two that meet are not the same, both ends are steps.
pub fn steps(lines: &mut [SetOut]) {
    let ends: Vec<(usize, usize, Station)> = lines
        .iter()
        .enumerate()
        .filter(|(_, line)| line.kind == Kind::Wall)
        .flat_map(|(l, line)| {
            let last = line.stations.len().saturating_sub(1);
            let ends = line.stations.iter().enumerate();
            ends.filter(move |(k, _)| *k == 0 || *k == last)
                .map(move |(k, s)| (l, k, *s))
        })
        .collect();
    let other = |a: Option<f64>, b: Option<f64>| a.zip(b).is_some_and(|(a, b)| (a - b).abs() > ROD);
    for (l, k, end) in &ends {
        let steps = ends.iter().any(|(m, _, next)| {
            let apart = (end.at[0] - next.at[0]).hypot(end.at[1] - next.at[1]);
            let another = lines[*m].name != lines[*l].name && apart < MEET;
            another && (other(end.finish, next.finish) || other(end.base, next.base))
        });
        if steps {
            lines[*l].stations[*k].note = "step";
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn corners_and_even_spaces_between() {
        let ring = [[0.0, 0.0], [10.0, 0.0], [10.0, 4.0], [0.0, 4.0]];
        let line = SetLine::ring("pond", Kind::Basin, "floor", &ring, 1.0, 2.0);
        let stations = line.stations(3.0, 9.0);
        // 10 m in 4 parts, 4 m in 2: 12 stakes, of them 4 corners.
        assert_eq!(stations.len(), 12);
        assert_eq!(stations.iter().filter(|s| s.note == "corner").count(), 4);
        assert_eq!(stations[1].at, [2.5, 0.0]);
        assert_eq!(
            (stations[1].dig, stations[1].finish),
            (Some(1.0), Some(2.0))
        );
    }

    #[test]
    fn a_round_outline_has_no_corners() {
        let ring: Vec<P2> = (0..60)
            .map(|k| f64::from(k) / 60.0 * std::f64::consts::TAU)
            .map(|a| [a.cos(), a.sin()])
            .collect();
        let line = SetLine::ring("pond", Kind::Basin, "floor", &ring, 1.0, 2.0);
        let stations = line.stations(1.0, 9.0);
        assert_eq!(stations.len(), 7, "2π in spaces of at most 1");
        assert!(stations.iter().all(|s| s.note.is_empty()));
    }

    #[test]
    fn elevations_run_straight_between_points() {
        let points = vec![
            SetPoint::new([0.0, 0.0]).finish(1.0).note("foot"),
            SetPoint::new([8.0, 0.0]).finish(3.0).note("top"),
        ];
        let line = SetLine::line("ramp", Kind::Ramp, "edge", Spaced::Line, points);
        let stations = line.stations(1.0, 4.0);
        assert_eq!(stations.len(), 3);
        assert_eq!((stations[1].finish, stations[1].note), (Some(2.0), ""));
        assert_eq!(stations[2].note, "top");
    }
}
