//! Two level tapes to a place, and how well they fix it; along and off a baseline. Metres, degrees.
//!
//! Good ties meet between 30° and 150° (common practice, no source). The error is what becomes of
//! the place if each tape is off by the tape's error, at its worst: plane geometry, no source.

use crate::job::{Baseline, SettingOut, Side};
use crate::plan::{Flaw, OffsetTie, TapeTie};
use crate::terrain::predicates::P2;

const GOOD: std::ops::RangeInclusive<f64> = 30.0..=150.0;

/// A named point to tape from.
#[derive(Debug, Clone)]
pub struct Peg<'a> {
    pub name: &'a str,
    pub at: P2,
}

fn distance(a: P2, b: P2) -> f64 {
    (b[0] - a[0]).hypot(b[1] - a[1])
}

/// Where two tapes lead, along the line from `a` to `b` and off it; to their nearest where they do
/// not meet.
fn lead(gap: f64, from_a: f64, from_b: f64) -> P2 {
    let along = (from_a * from_a - from_b * from_b + gap * gap) / (2.0 * gap);
    let across = (from_a * from_a - along * along).max(0.0).sqrt();
    [along, across]
}

pub fn tie(a: &Peg, b: &Peg, at: P2, how: &SettingOut) -> TapeTie {
    let (gap, from_a, from_b) = (distance(a.at, b.at), distance(a.at, at), distance(b.at, at));
    let left = (b.at[0] - a.at[0]) * (at[1] - a.at[1]) - (b.at[1] - a.at[1]) * (at[0] - a.at[0]);
    let angle = if from_a > 0.0 && from_b > 0.0 {
        ((from_a * from_a + from_b * from_b - gap * gap) / (2.0 * from_a * from_b))
            .clamp(-1.0, 1.0)
            .acos()
            .to_degrees()
    } else {
        0.0
    };
    let e = how.tape_error;
    let right = [
        (from_a * from_a - from_b * from_b + gap * gap) / (2.0 * gap),
        left.abs() / gap,
    ];
    let error = [(e, e), (e, -e), (-e, e), (-e, -e)]
        .into_iter()
        .map(|(da, db)| {
            distance(
                right,
                lead(gap, (from_a + da).max(0.0), (from_b + db).max(0.0)),
            )
        })
        .fold(0.0, f64::max);
    let flaw = if from_a.max(from_b) > how.tape_length {
        Some(Flaw::Reach)
    } else if !GOOD.contains(&angle) {
        Some(Flaw::Angle)
    } else {
        None
    };
    TapeTie {
        a: a.name.into(),
        from_a,
        b: b.name.into(),
        from_b,
        side: if left >= 0.0 { Side::Left } else { Side::Right },
        angle,
        error,
        flaw,
    }
}

/// Along and off a baseline, and how far the tape must be carried for it.
pub fn offset(line: &Baseline, at: P2) -> Option<(f64, OffsetTie)> {
    let length = distance(line.from, line.to);
    if length < 1e-9 {
        return None;
    }
    let u = [
        (line.to[0] - line.from[0]) / length,
        (line.to[1] - line.from[1]) / length,
    ];
    let d = [at[0] - line.from[0], at[1] - line.from[1]];
    let along = d[0] * u[0] + d[1] * u[1];
    let offset = d[0] * u[1] - d[1] * u[0];
    let beyond = (-along).max(along - length).max(0.0);
    Some((
        offset.abs() + beyond,
        OffsetTie {
            baseline: line.name.clone(),
            along,
            offset,
        },
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn how() -> SettingOut {
        SettingOut {
            spacing: 1.5,
            along: 3.0,
            pegs: Vec::new(),
            tape_length: 30.0,
            tape_error: 0.01,
        }
    }

    fn peg(name: &str, at: P2) -> Peg<'_> {
        Peg { name, at }
    }

    #[test]
    fn three_four_five() {
        let t = tie(
            &peg("A", [0.0, 0.0]),
            &peg("B", [5.0, 0.0]),
            [1.8, -2.4],
            &how(),
        );
        assert!((t.from_a - 3.0).abs() < 1e-12 && (t.from_b - 4.0).abs() < 1e-12);
        assert!((t.angle - 90.0).abs() < 1e-9 && t.flaw.is_none());
        assert_eq!(
            t.side,
            Side::Right,
            "walking from A to B, −y is on the right"
        );
        // Tapes that cross squarely: each error moves the place along its own tape.
        assert!((t.error - 0.01 * 2f64.sqrt()).abs() < 1e-4, "{}", t.error);
    }

    #[test]
    fn in_line_with_the_pegs_is_a_poor_tie() {
        let t = tie(
            &peg("A", [0.0, 0.0]),
            &peg("B", [5.0, 0.0]),
            [2.5, 0.2],
            &how(),
        );
        assert_eq!(t.flaw, Some(Flaw::Angle));
        assert!(t.angle > 150.0 && t.error > 0.05, "{} {}", t.angle, t.error);
        let far = tie(
            &peg("A", [0.0, 0.0]),
            &peg("B", [5.0, 0.0]),
            [25.0, 25.0],
            &how(),
        );
        assert_eq!(far.flaw, Some(Flaw::Reach));
    }

    #[test]
    fn right_of_a_baseline_is_positive() {
        let line = Baseline {
            name: "A".into(),
            from: [1.0, 1.0],
            to: [1.0, 9.0],
        };
        let (_, t) = offset(&line, [4.0, 3.0]).expect("a baseline with a length");
        assert!((t.along - 2.0).abs() < 1e-12 && (t.offset - 3.0).abs() < 1e-12);
    }
}
