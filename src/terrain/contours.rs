//! Contour lines of a surface. Metres.
//!
//! Corners exactly at a contour's elevation count as just above it, so every line passes between
//! corners and closes on itself or ends at the edge of the surface.

use rayon::prelude::*;
use rustc_hash::FxHashMap;
use smallvec::SmallVec;

use super::Surface;
use super::predicates::P2;

#[derive(Debug, Clone, PartialEq)]
pub struct Contour {
    pub elevation: f64,
    pub line: Vec<P2>,
    pub closed: bool,
}

/// More levels than this are not drawn.
pub const MOST_LEVELS: f64 = 2000.0;

/// Contours at every whole multiple of `interval` between the lowest and the highest point.
/// Empty where the interval is not positive or would give more than [`MOST_LEVELS`].
pub fn contours(surface: &Surface, interval: f64) -> Vec<Contour> {
    let Some([low, high]) = surface.bounds() else {
        return Vec::new();
    };
    if interval.is_nan() || interval <= 0.0 || (high[2] - low[2]) / interval > MOST_LEVELS {
        return Vec::new();
    }
    let (first, last) = (
        (low[2] / interval).ceil() as i64,
        (high[2] / interval).floor() as i64,
    );
    let mut by_level: Vec<Vec<(P2, P2)>> = vec![Vec::new(); (last - first + 1).max(0) as usize];
    for t in 0..surface.triangles.len() {
        let c = surface.corners(t);
        let z = [c[0][2], c[1][2], c[2][2]];
        let (lo, hi) = (z[0].min(z[1]).min(z[2]), z[0].max(z[1]).max(z[2]));
        for level in
            ((lo / interval).ceil() as i64).max(first)..=((hi / interval).floor() as i64).min(last)
        {
            if let Some(s) = segment(&c, level as f64 * interval) {
                by_level[(level - first) as usize].push(s);
            }
        }
    }
    by_level
        .into_par_iter()
        .enumerate()
        .flat_map_iter(|(k, segments)| {
            let elevation = (first + k as i64) as f64 * interval;
            join(segments)
                .into_iter()
                .map(move |(line, closed)| Contour {
                    elevation,
                    line,
                    closed,
                })
        })
        .collect()
}

/// Where the level cuts the triangle: from the edge that rises through it to the one that falls.
fn segment(c: &[[f64; 3]; 3], z: f64) -> Option<(P2, P2)> {
    let above = c.map(|p| p[2] >= z);
    let mut ends: SmallVec<[P2; 2]> = SmallVec::new();
    for k in 0..3 {
        let m = (k + 1) % 3;
        if above[k] != above[m] {
            // From the lower end, so that both triangles at the edge find the very same point.
            let (p, q) = if above[m] { (c[k], c[m]) } else { (c[m], c[k]) };
            let f = (z - p[2]) / (q[2] - p[2]);
            ends.push([p[0] + f * (q[0] - p[0]), p[1] + f * (q[1] - p[1])]);
        }
    }
    (ends.len() == 2).then(|| (ends[0], ends[1]))
}

/// Joins segments that meet (to a hundredth of a millimetre) into lines.
pub fn join(segments: Vec<(P2, P2)>) -> Vec<(Vec<P2>, bool)> {
    let key = |p: P2| ((p[0] * 1e5).round() as i64, (p[1] * 1e5).round() as i64);
    let segments: Vec<(P2, P2)> = segments
        .into_iter()
        .filter(|(a, b)| key(*a) != key(*b))
        .collect();
    let mut ends: FxHashMap<(i64, i64), SmallVec<[u32; 2]>> = FxHashMap::default();
    for (i, (a, b)) in segments.iter().enumerate() {
        ends.entry(key(*a)).or_default().push(i as u32);
        ends.entry(key(*b)).or_default().push(i as u32);
    }
    let mut used = vec![false; segments.len()];
    let mut lines = Vec::new();
    // Open lines first, from an end of theirs; then what is left runs in rings.
    let starts = (0..segments.len())
        .filter(|&i| ends[&key(segments[i].0)].len() == 1 || ends[&key(segments[i].1)].len() == 1);
    for i in starts.chain(0..segments.len()).collect::<Vec<_>>() {
        if used[i] {
            continue;
        }
        used[i] = true;
        let (a, b) = segments[i];
        let mut line = if ends[&key(b)].len() == 1 {
            vec![b, a]
        } else {
            vec![a, b]
        };
        loop {
            let tail = line[line.len() - 1];
            let Some(&j) = ends[&key(tail)].iter().find(|&&j| !used[j as usize]) else {
                break;
            };
            used[j as usize] = true;
            let (a, b) = segments[j as usize];
            line.push(if key(a) == key(tail) { b } else { a });
        }
        let closed = line.len() > 3 && key(line[0]) == key(line[line.len() - 1]);
        if closed {
            line.pop();
        }
        lines.push((line, closed));
    }
    lines
}
