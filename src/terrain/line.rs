//! Lines of points in plan: distances and places along them. Metres.

use super::predicates::P2;

pub fn dist(a: P2, b: P2) -> f64 {
    // Not `hypot`: no yard is so large or small that its care is needed, and it is several times as slow.
    let d = [b[0] - a[0], b[1] - a[1]];
    (d[0] * d[0] + d[1] * d[1]).sqrt()
}

pub fn length(line: &[P2]) -> f64 {
    line.windows(2).map(|w| dist(w[0], w[1])).sum()
}

/// The place so far along a line; before its start and beyond its end, straight on. The origin if
/// the line has no points.
pub fn at(line: &[P2], along: f64) -> P2 {
    let mut run = 0.0;
    let mut found = line.first().copied().unwrap_or_default();
    for w in line.windows(2) {
        let l = dist(w[0], w[1]);
        if l <= 0.0 {
            continue;
        }
        let t = (along - run) / l;
        found = [0, 1].map(|k| w[0][k] + t * (w[1][k] - w[0][k]));
        if t <= 1.0 {
            break;
        }
        run += l;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_along_a_bent_line() {
        let line = [[0.0, 0.0], [3.0, 0.0], [3.0, 0.0], [3.0, 4.0]];
        assert_eq!(length(&line), 7.0);
        assert_eq!(at(&line, 0.0), [0.0, 0.0]);
        assert_eq!(at(&line, 3.0), [3.0, 0.0]);
        assert_eq!(at(&line, 5.0), [3.0, 2.0]);
        assert_eq!(at(&line, -1.0), [-1.0, 0.0]);
        assert_eq!(at(&line, 8.0), [3.0, 5.0]);
        assert_eq!(at(&[], 1.0), [0.0, 0.0]);
    }
}
