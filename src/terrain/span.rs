//! Boxes in plan, to tell early what cannot meet. Metres.

use super::predicates::P2;

/// From the lowest to the highest of some points, in each direction; nothing meets an empty one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    pub low: P2,
    pub high: P2,
}

impl Span {
    #[inline]
    pub fn of(points: impl IntoIterator<Item = P2>) -> Span {
        let mut span = Span {
            low: [f64::INFINITY; 2],
            high: [f64::NEG_INFINITY; 2],
        };
        for p in points {
            for (k, v) in p.into_iter().enumerate() {
                // Written out: `min` and `max` of floats look for NaN each time.
                span.low[k] = if v < span.low[k] { v } else { span.low[k] };
                span.high[k] = if v > span.high[k] { v } else { span.high[k] };
            }
        }
        span
    }

    /// Wider by so much on every side.
    pub fn grown(self, by: f64) -> Span {
        Span {
            low: self.low.map(|v| v - by),
            high: self.high.map(|v| v + by),
        }
    }

    /// Whether the two touch or overlap.
    #[inline]
    pub fn meets(&self, other: &Span) -> bool {
        (0..2).all(|k| self.low[k] <= other.high[k] && other.low[k] <= self.high[k])
    }

    #[inline]
    pub fn holds(&self, p: P2) -> bool {
        (0..2).all(|k| self.low[k] <= p[k] && p[k] <= self.high[k])
    }
}
