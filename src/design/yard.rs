//! What every feature needs to know of the yard: where names are, how high, how deep the water.
//! Metres, near the yard's own origin.

use rustc_hash::FxHashMap;

use crate::design::makers::Makers;
use crate::job::{At, Height, Job, Level, Walls};
use crate::survey::Reduced;
use crate::terrain::Maker;
use crate::terrain::predicates::P2;

/// Which of the two designed surfaces is being made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Track {
    /// What the machine leaves.
    Dug,
    /// What the client sees.
    Finished,
}

pub struct Yard<'a> {
    pub job: &'a Job,
    pub survey: &'a Reduced,
    pub makers: Makers,
    pub origin: P2,
    /// Caps of standing and new walls, by name.
    pub caps: FxHashMap<String, f64>,
    /// Highest and lowest ground.
    pub top: f64,
    pub bottom: f64,
    /// Works in hand, and how far walls among them are.
    pub in_hand: Vec<String>,
    pub walls: Walls,
    /// The works are to be staked.
    pub staked: bool,
}

impl Yard<'_> {
    pub fn place(&self, at: &At) -> Result<P2, String> {
        let p = self.survey.locate(at, &self.job.field_book)?;
        Ok([p[0] - self.origin[0], p[1] - self.origin[1]])
    }

    pub fn line(&self, line: &[At]) -> Result<Vec<P2>, String> {
        let mut points: Vec<P2> = Vec::with_capacity(line.len());
        for at in line {
            let p = self.place(at)?;
            if points
                .last()
                .is_none_or(|q| (q[0] - p[0]).hypot(q[1] - p[1]) > 1e-6)
            {
                points.push(p);
            }
        }
        if points.len() < 2 {
            Err("its line has no length".into())
        } else {
            Ok(points)
        }
    }

    /// A simple ring, counter-clockwise.
    pub fn ring(&self, outline: &[At]) -> Result<Vec<P2>, String> {
        let mut ring = self.line(outline)?;
        if ring.len() > 1 {
            let (a, b) = (ring[0], ring[ring.len() - 1]);
            if (a[0] - b[0]).hypot(a[1] - b[1]) < 1e-6 {
                ring.pop();
            }
        }
        if ring.len() < 3 {
            return Err(format!(
                "its outline has {} different points; at least three are needed",
                ring.len()
            ));
        }
        if let Some((i, j)) = crate::terrain::predicates::self_crossing(&ring) {
            return Err(format!(
                "its outline crosses itself: side {} and side {}",
                i + 1,
                j + 1
            ));
        }
        let area = crate::terrain::predicates::ring_area2(&ring);
        if area.abs() < 1e-3 {
            return Err("its outline encloses no area".into());
        }
        if area < 0.0 {
            ring.reverse();
        }
        Ok(ring)
    }

    pub fn height(&self, height: &Height) -> Result<f64, String> {
        self.survey.elevation(height)
    }

    pub fn level(&self, level: &Level) -> Result<f64, String> {
        match level {
            Level::At(height) => self.height(height),
            Level::BelowCap { wall, by } => self
                .caps
                .get(wall)
                .map(|cap| cap - by)
                .ok_or_else(|| format!("the cap of wall {wall} is not known")),
        }
    }

    /// A length as the job's people write it, for findings.
    pub fn length(&self, metres: f64) -> String {
        crate::units::format_length(metres, self.job.unit)
    }

    pub fn maker(&self, name: &str, kind: crate::plan::Kind, part: &str) -> Maker {
        self.makers.find(name, kind, part)
    }
}
