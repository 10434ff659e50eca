//! Lines of equal elevation for drawing, with every fifth one heavier.

use crate::job::Unit;
use crate::terrain::{Surface, contours};

/// Elevation, whether it is an index line, and the line itself.
pub type Line = (f64, bool, Vec<[f64; 2]>);

#[derive(Debug, Clone, Default)]
pub struct Contours {
    /// Between two lines, m.
    pub step: f64,
    pub lines: Vec<Line>,
}

/// Spacing that gives a readable number of lines for this relief, in metres.
fn interval(relief: f64, unit: Unit) -> f64 {
    let steps: [f64; 7] = match unit {
        Unit::Foot => [0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0].map(|f| f * 0.3048),
        Unit::Metre => [0.02, 0.05, 0.1, 0.25, 0.5, 1.0, 2.0],
    };
    steps
        .into_iter()
        .find(|s| relief / s <= 16.0)
        .unwrap_or(steps[6] * (relief / steps[6] / 16.0).ceil())
}

impl Contours {
    pub fn of(surface: &Surface, unit: Unit) -> Self {
        let Some([lo, hi]) = surface.bounds() else {
            return Self::default();
        };
        let step = interval(hi[2] - lo[2], unit);
        let lines = contours(surface, step)
            .into_iter()
            .map(|c| {
                let mut line = c.line;
                if c.closed {
                    line.extend(line.first().copied());
                }
                let index = (c.elevation / step).round() as i64 % 5 == 0;
                (c.elevation, index, line)
            })
            .collect();
        Contours { step, lines }
    }
}
