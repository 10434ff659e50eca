//! A tape between two points: along the slope, level, and the difference between them. Metres.

/// What a tape between two points reads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tape {
    /// Straight from point to point.
    pub slope: f64,
    /// The same on the level.
    pub level: f64,
    /// Second point over the first; negative is a fall.
    pub rise: f64,
}

impl Tape {
    pub fn between(a: [f64; 3], b: [f64; 3]) -> Tape {
        let level = (b[0] - a[0]).hypot(b[1] - a[1]);
        let rise = b[2] - a[2];
        Tape {
            slope: level.hypot(rise),
            level,
            rise,
        }
    }

    /// Rise over level distance; `None` where the points stand over each other.
    pub fn gradient(&self) -> Option<f64> {
        (self.level > 1e-6).then(|| self.rise / self.level)
    }

    /// The level distance in which it rises or falls by one; `None` on the level.
    pub fn one_in(&self) -> Option<f64> {
        self.gradient()
            .filter(|g| g.abs() > 1e-6)
            .map(|g| 1.0 / g.abs())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_three_four_five() {
        let tape = Tape::between([1.0, 2.0, 10.0], [1.0, 6.0, 7.0]);
        assert!((tape.slope - 5.0).abs() < 1e-12 && (tape.level - 4.0).abs() < 1e-12);
        assert!((tape.rise + 3.0).abs() < 1e-12);
        assert!((tape.gradient().unwrap_or(0.0) + 0.75).abs() < 1e-12);
        assert!((tape.one_in().unwrap_or(0.0) - 4.0 / 3.0).abs() < 1e-12);
    }

    #[test]
    fn upright_and_level_have_no_such_figure() {
        let upright = Tape::between([0.0; 3], [0.0, 0.0, 2.0]);
        assert_eq!((upright.gradient(), upright.one_in()), (None, None));
        let level = Tape::between([0.0; 3], [3.0, 0.0, 0.0]);
        assert_eq!((level.gradient(), level.one_in()), (Some(0.0), None));
    }
}
