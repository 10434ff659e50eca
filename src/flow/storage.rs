//! Area and volume of a water against its depth, exactly: each triangle under it adds a piece that
//! is quadratic in area and cubic in volume between the heights of its corners. Metres.

use crate::terrain::predicates::cross;

/// A triangle by its corners' heights in order, and its area in plan.
#[derive(Debug, Clone, Copy)]
struct Piece {
    z: [f64; 3],
    area: f64,
}

/// The ground inside a water's edge, asked for any level up to the water's own.
#[derive(Debug, Clone, Default)]
pub struct DepthCurve {
    /// By their highest corner.
    pieces: Vec<Piece>,
    /// Area of so many of the first pieces, and that times how far each lies over the bottom.
    drowned: Vec<[f64; 2]>,
    pub bottom: f64,
    pub top: f64,
}

impl DepthCurve {
    pub fn new(triangles: impl Iterator<Item = [[f64; 3]; 3]>, level: f64) -> Self {
        let mut pieces = Vec::new();
        let mut bottom = level;
        for piece in triangles.map(Piece::of) {
            bottom = bottom.min(piece.z[0]);
            pieces.push(piece);
        }
        pieces.sort_unstable_by(|a, b| a.z[2].total_cmp(&b.z[2]));
        let mut drowned = Vec::with_capacity(pieces.len() + 1);
        let mut sum = [0.0; 2];
        drowned.push(sum);
        for Piece { z: [a, b, c], area } in &pieces {
            sum[0] += area;
            sum[1] += area * ((a - bottom) + (b - bottom) + (c - bottom)) / 3.0;
            drowned.push(sum);
        }
        DepthCurve {
            pieces,
            drowned,
            bottom,
            top: level,
        }
    }

    /// Volume and area under a level, where only that one is asked for.
    pub fn once(triangles: impl Iterator<Item = [[f64; 3]; 3]>, level: f64) -> (f64, f64) {
        triangles.map(Piece::of).fold((0.0, 0.0), |(v, a), p| {
            (v + p.volume_under(level), a + p.area_under(level))
        })
    }

    pub fn area(&self, level: f64) -> f64 {
        self.held(level).1
    }

    pub fn volume(&self, level: f64) -> f64 {
        self.held(level).0
    }

    /// Volume and area at once.
    pub fn held(&self, level: f64) -> (f64, f64) {
        let under = self.pieces.partition_point(|p| p.z[2] <= level);
        let [area, moment] = self.drowned.get(under).copied().unwrap_or_default();
        let start = (area * (level - self.bottom) - moment, area);
        self.pieces[under..].iter().fold(start, |(v, a), p| {
            (v + p.volume_under(level), a + p.area_under(level))
        })
    }

    /// The level that holds a volume; `None` if it is more than the water has, or less than nothing.
    pub fn level_of(&self, volume: f64) -> Option<f64> {
        let full = self.volume(self.top);
        if !(0.0..=full).contains(&volume) {
            return None;
        }
        // Newton, for the area is the volume's slope; kept between what is too low and too high.
        let (mut low, mut high, mut z) = (self.bottom, self.top, self.top);
        for _ in 0..200 {
            let (held, area) = self.held(z);
            let off = held - volume;
            if off < 0.0 {
                low = z;
            } else {
                high = z;
            }
            let next = z - off / area;
            let next = if next > low && next < high {
                next
            } else {
                0.5 * (low + high)
            };
            // A step so short lands within the square of it.
            if (next - z).abs() < 1e-9 || next <= low || next >= high {
                return Some(next);
            }
            z = next;
        }
        Some(z)
    }

    /// The heights between which the curve is one cubic.
    pub fn knots(&self) -> Vec<f64> {
        let mut knots: Vec<f64> = self
            .pieces
            .iter()
            .flat_map(|p| p.z)
            .filter(|z| *z < self.top)
            .chain([self.top])
            .collect();
        knots.sort_by(f64::total_cmp);
        knots.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        knots
    }
}

impl Piece {
    fn of(corners: [[f64; 3]; 3]) -> Self {
        let [a, b, c] = corners.map(|p| [p[0], p[1]]);
        let mut z = corners.map(|p| p[2]);
        z.sort_by(f64::total_cmp);
        Piece {
            z,
            area: 0.5 * cross(a, b, c).abs(),
        }
    }

    fn area_under(&self, level: f64) -> f64 {
        let [a, b, c] = self.z;
        if level <= a {
            0.0
        } else if level >= c {
            self.area
        } else if level <= b {
            // Here a < level <= b <= c: no difference below is nothing.
            self.area * (level - a).powi(2) / ((b - a) * (c - a))
        } else {
            self.area * (1.0 - (c - level).powi(2) / ((c - b) * (c - a)))
        }
    }

    fn volume_under(&self, level: f64) -> f64 {
        let [a, b, c] = self.z;
        let mean = (a + b + c) / 3.0;
        if level <= a {
            0.0
        } else if level >= c {
            self.area * (level - mean)
        } else if level <= b {
            self.area * (level - a).powi(3) / (3.0 * (b - a) * (c - a))
        } else {
            self.area * (level - mean + (c - level).powi(3) / (3.0 * (c - b) * (c - a)))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A cone standing on its tip, cut into wedges: V = ∫ A, and A goes with the square.
    fn pyramid(n: usize, radius: f64, height: f64) -> DepthCurve {
        let at = |k: usize| {
            let f = k as f64 / n as f64 * std::f64::consts::TAU;
            [radius * f.cos(), radius * f.sin(), height]
        };
        DepthCurve::new((0..n).map(|k| [[0.0, 0.0, 0.0], at(k), at(k + 1)]), height)
    }

    #[test]
    fn a_pyramid_has_its_closed_form() {
        let p = pyramid(7, 2.0, 3.0);
        let full = p.area(3.0);
        for z in [0.0, 0.4, 1.5, 2.999, 3.0] {
            let share = z / 3.0f64;
            assert!((p.area(z) - full * share * share).abs() < 1e-12 * full);
            assert!((p.volume(z) - full * share.powi(3)).abs() < 1e-12 * full);
        }
        let half = p.level_of(0.5 * p.volume(3.0)).unwrap_or(0.0);
        assert!((half - 3.0 * 0.5f64.cbrt()).abs() < 1e-12, "{half}");
        assert_eq!(p.level_of(-1.0), None);
        assert_eq!(p.level_of(p.volume(3.0) * 1.01), None);
    }

    proptest! {
        /// Filling to a level, and integrating the areas below it: the same to 1e-9. Simpson is exact
        /// on each stretch between knots, where the area is quadratic.
        #[test]
        fn filling_and_integrating_agree(
            corners in proptest::collection::vec(
                ((-9.0f64..9.0, -9.0f64..9.0, 0.0f64..2.0),
                 (-9.0f64..9.0, -9.0f64..9.0, 0.0f64..2.0),
                 (-9.0f64..9.0, -9.0f64..9.0, 0.0f64..2.0)), 1..12),
            level in 0.1f64..2.5,
        ) {
            let triangles = corners.iter().map(|(a, b, c)| {
                [[a.0, a.1, a.2], [b.0, b.1, b.2], [c.0, c.1, c.2]]
            });
            let curve = DepthCurve::new(triangles, level);
            let mut sum = 0.0;
            for w in curve.knots().windows(2) {
                let (m, h) = (0.5 * (w[0] + w[1]), w[1] - w[0]);
                // A hair inside, so that an upright step in area at a knot is not taken twice.
                let at = |z: f64| curve.area(z.clamp(w[0] + 1e-13, w[1] - 1e-13));
                sum += h / 6.0 * (at(w[0]) + 4.0 * curve.area(m) + at(w[1]));
            }
            let filled = curve.volume(level);
            prop_assert!((sum - filled).abs() <= 1e-9 * filled.max(1e-3), "{} and {}", sum, filled);
        }
    }
}
