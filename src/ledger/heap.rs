//! A heap of loose soil on the ground as it is: a cone about a point, a ridge between two, or soil
//! that leans on a limit (a wall, boards) and lies on one side of it. Metres, m³.
//!
//! Its faces fall at the angle of repose from the crest; a cone is a pyramid of [`FACES`] faces that
//! stands around it (0.14 % more plan area than the circle). The crest's elevation is solved so that
//! the volume between the faces and the ground is the one asked for. Geometry, no source needed.

use smallvec::SmallVec;

use crate::terrain::convex::{self, Polygon, area2};
use crate::terrain::predicates::{P2, cross, from_line};
use crate::terrain::{Plane, Span, Surface};

/// Faces of a full cone.
pub const FACES: usize = 48;
const SPECK: f64 = 1e-10;

/// The crest of a heap.
#[derive(Debug, Clone, PartialEq)]
pub enum Crest {
    Cone(P2),
    Ridge(P2, P2),
    /// Leaning on the line from the first to the second, all of it to the left of it.
    Against(P2, P2),
}

/// A heap that holds its volume.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Heap {
    /// Elevation of its crest, and its greatest thickness over the ground.
    pub crest: f64,
    pub height: f64,
    pub area: f64,
    /// Its surface.
    pub mesh: Vec<[[f64; 3]; 3]>,
    /// Some of it would lie beyond the ground that is known.
    pub beyond: bool,
}

/// A face's outline in plan as far as `reach`, and its plane with the crest at elevation 0.
fn faces(crest: &Crest, slope: f64, reach: f64) -> Vec<(Polygon, Plane)> {
    let mut list = Vec::new();
    // Fans about `c` from angle `from` through `turn`.
    let mut fan = |c: P2, from: f64, turn: f64| {
        let n = ((turn / std::f64::consts::TAU * FACES as f64).round() as usize).max(1);
        let step = turn / n as f64;
        let far = reach / (0.5 * step).cos();
        for k in 0..n {
            let a = from + k as f64 * step;
            let at = |a: f64| [c[0] + far * a.cos(), c[1] + far * a.sin()];
            let mid = a + 0.5 * step;
            list.push((
                Polygon::from_slice(&[c, at(a), at(a + step)]),
                Plane {
                    through: [c[0], c[1], 0.0],
                    gradient: [-slope * mid.cos(), -slope * mid.sin()],
                },
            ));
        }
    };
    let pi = std::f64::consts::PI;
    match *crest {
        Crest::Cone(c) => fan(c, 0.0, 2.0 * pi),
        Crest::Ridge(a, b) | Crest::Against(a, b) => {
            let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
            let length = dx.hypot(dy).max(1e-9);
            let left = [-dy / length, dx / length];
            let along = dy.atan2(dx);
            let leans = matches!(crest, Crest::Against(..));
            // Ends: half a cone each, or a quarter where the soil leans.
            fan(a, along + 0.5 * pi, if leans { 0.5 * pi } else { pi });
            if leans {
                fan(b, along, 0.5 * pi);
            } else {
                fan(b, along - 0.5 * pi, pi);
            }
            let mut side = |p: P2, q: P2, n: P2| {
                let out = |p: P2| [p[0] + reach * n[0], p[1] + reach * n[1]];
                list.push((
                    Polygon::from_slice(&[p, q, out(q), out(p)]),
                    Plane {
                        through: [p[0], p[1], 0.0],
                        gradient: [-slope * n[0], -slope * n[1]],
                    },
                ));
            };
            side(a, b, left);
            if !leans {
                side(b, a, [-left[0], -left[1]]);
            }
        }
    }
    list
}

/// A bit of ground under one face.
#[derive(Clone)]
struct Cell {
    /// Which of the faces.
    face: usize,
    poly: Polygon,
    area: f64,
    /// Volume between the face, its crest at 0, and the ground, one taken off the other.
    volume: f64,
    /// Height of the face, its crest at 0, over the ground at each corner; the least and the most.
    gap: SmallVec<[f64; 8]>,
    least: f64,
    most: f64,
    plane: Plane,
    under: Plane,
}

/// The heap of so much loose soil; `None` where there is no ground, or it is as steep as the heap.
pub fn heap(ground: &Surface, crest: &Crest, repose_deg: f64, volume: f64) -> Option<Heap> {
    heaps(ground, crest, repose_deg, &[volume])?.pop()
}

/// The same where works have left the ground in steps: beyond an edge, in a hole that the foot of the heap
/// does not reach, lies none of its soil.
pub fn heap_by_edges(
    ground: &Surface,
    crest: &Crest,
    repose_deg: f64,
    volume: f64,
) -> Option<Heap> {
    laid(ground, crest, repose_deg, &[volume], true)?.pop()
}

/// The same for several volumes at one place, of which the ground is looked at once only. A volume of
/// nothing is an empty heap.
pub fn heaps(
    ground: &Surface,
    crest: &Crest,
    repose_deg: f64,
    volumes: &[f64],
) -> Option<Vec<Heap>> {
    laid(ground, crest, repose_deg, volumes, false)
}

/// `joined`: only soil that hangs together with the crest counts; for the first volume alone.
fn laid(
    ground: &Surface,
    crest: &Crest,
    repose_deg: f64,
    volumes: &[f64],
    joined: bool,
) -> Option<Vec<Heap>> {
    let largest = volumes.iter().copied().fold(0.0, f64::max);
    if !(largest > 0.0 && largest.is_finite()) {
        return None;
    }
    let slope = repose_deg.to_radians().tan();
    // Radius of a cone on level ground, with room for a slope; more if that does not do.
    let mut reach = 1.35 * (3.0 * largest / (std::f64::consts::PI * slope)).cbrt();
    for _ in 0..6 {
        let faces = faces(crest, slope, reach);
        let mut cells = cells(ground, &faces);
        let mut top = solve(&cells, largest, None)?;
        if joined {
            (cells, top) = hang_together(cells, top, largest)?;
        }
        // Whether it ends inside what was looked at: thickness at the outer edge of the faces.
        let inside = cells.iter().filter(|c| c.most + top > 1e-6).all(|c| {
            let face = &faces[c.face].0;
            c.poly
                .iter()
                .zip(&c.gap)
                .all(|(p, g)| g + top <= 1e-6 || !on_far_edge(face, *p))
        });
        if inside {
            let known: f64 = cells.iter().map(|c| c.area).sum();
            let asked: f64 = faces.iter().map(|f| 0.5 * area2(&f.0)).sum();
            let short = known < asked * (1.0 - 1e-9);
            let mut list: Vec<Heap> = Vec::with_capacity(volumes.len());
            for (k, &volume) in volumes.iter().enumerate() {
                // Piles often stay as they are from stage to stage.
                if let Some(same) = volumes[..k].iter().position(|&v| v == volume) {
                    list.push(list[same].clone());
                } else if volume > 0.0 {
                    let top = if volume == largest {
                        top
                    } else {
                        solve(&cells, volume, Some(top))?
                    };
                    let mut heap = lie(&cells, top);
                    heap.beyond = short && volume == largest && gaps(top, &faces, &cells);
                    list.push(heap);
                } else {
                    list.push(Heap::default());
                }
            }
            return Some(list);
        }
        reach *= 1.6;
    }
    None
}

fn on_far_edge(face: &[P2], p: P2) -> bool {
    // The far edge is that between the two corners after the first (fan) or the last two (side).
    let (a, b) = (face[face.len() - 2], face[face.len() - 1]);
    let length = (b[0] - a[0]).hypot(b[1] - a[1]).max(1e-12);
    cross(a, b, p).abs() / length < 1e-6
}

/// Whether soil would lie where no ground is known: down the middle of a face, the ground ends
/// before the heap does.
fn gaps(top: f64, faces: &[(Polygon, Plane)], cells: &[Cell]) -> bool {
    // Bits thinner than this were left out of the cells.
    const SEAM: f64 = 1e-4;
    let mut over: Vec<Vec<&Cell>> = faces.iter().map(|_| Vec::new()).collect();
    for c in cells {
        over[c.face].push(c);
    }
    faces.iter().zip(&over).any(|((poly, _), cells)| {
        let n = poly.len();
        let (start, far) = (
            middle(poly[0], if n == 4 { poly[1] } else { poly[0] }),
            middle(poly[n - 2], poly[n - 1]),
        );
        let mut along: Vec<(f64, f64, &Cell)> = cells
            .iter()
            .map(|c| {
                let (from, to) = convex::stretch(&c.poly, start, far);
                (from, to, *c)
            })
            .filter(|(from, to, _)| from < to)
            .collect();
        along.sort_by(|a, b| a.0.total_cmp(&b.0));
        let seam = SEAM / (far[0] - start[0]).hypot(far[1] - start[1]).max(SEAM);
        let mut covered = 0.0;
        for (from, to, cell) in along {
            if from > covered + seam {
                return true;
            }
            covered = to.max(covered);
            let end = middle_at(start, far, to);
            if cell.plane.at(end) + top <= cell.under.at(end) {
                return false;
            }
        }
        covered < 1.0 - seam
    })
}

fn middle(a: P2, b: P2) -> P2 {
    middle_at(a, b, 0.5)
}

fn middle_at(a: P2, b: P2, f: f64) -> P2 {
    [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])]
}

fn cells(ground: &Surface, faces: &[(Polygon, Plane)]) -> Vec<Cell> {
    let whole = Span::of(faces.iter().flat_map(|f| f.0.iter().copied()));
    let spans: Vec<Span> = faces
        .iter()
        .map(|(face, _)| Span::of(face.iter().copied()))
        .collect();
    let near = |t: usize| {
        let corners = ground.corners(t);
        let triangle = corners.map(|p| [p[0], p[1]]);
        let span = Span::of(triangle);
        span.meets(&whole).then_some((corners, triangle, span))
    };
    let near: Vec<_> = (0..ground.triangles.len()).filter_map(near).collect();
    let mut list = Vec::with_capacity(2 * near.len() + faces.len());
    for ([a, b, c], triangle, span) in near {
        let under = Plane::through(a, b, c);
        for (number, ((face, plane), at)) in faces.iter().zip(&spans).enumerate() {
            if !span.meets(at) || beyond_an_edge(face, &triangle) {
                continue;
            }
            let rest = convex::shared(&triangle, face);
            let area = 0.5 * area2(&rest);
            if area > SPECK {
                let gap: SmallVec<[f64; 8]> =
                    rest.iter().map(|&p| plane.at(p) - under.at(p)).collect();
                list.push(Cell {
                    face: number,
                    volume: convex::integral(&rest, &gap),
                    least: gap.iter().copied().fold(f64::INFINITY, f64::min),
                    most: gap.iter().copied().fold(f64::NEG_INFINITY, f64::max),
                    poly: rest,
                    area,
                    gap,
                    plane: *plane,
                    under,
                });
            }
        }
    }
    list
}

/// Whether a triangle lies wholly outside one edge of a convex face.
fn beyond_an_edge(face: &[P2], triangle: &[P2; 3]) -> bool {
    (0..face.len()).any(|k| {
        let (p, q) = (face[k], face[if k + 1 == face.len() { 0 } else { k + 1 }]);
        triangle.iter().all(|&r| cross(p, q, r) <= 0.0)
    })
}

/// The cells whose soil hangs together with the crest, and the crest's elevation when they hold it all.
fn hang_together(cells: Vec<Cell>, top: f64, volume: f64) -> Option<(Vec<Cell>, f64)> {
    let (mut top, mut kept) = (top, vec![true; cells.len()]);
    let mut some = cells.clone();
    // The more is left out the higher it gets, and the further it reaches: settled within a few rounds.
    for _ in 0..10 {
        let now = reached(&cells, top);
        if now == kept {
            break;
        }
        kept = now;
        let its = cells.iter().zip(&kept).filter(|(_, k)| **k);
        some = its.map(|(c, _)| c.clone()).collect();
        top = solve(&some, volume, None)?;
    }
    Some((some, top))
}

/// Which cells' soil, with the crest at `top`, touches the crest or soil that does.
fn reached(cells: &[Cell], top: f64) -> Vec<bool> {
    const TOUCH: f64 = 1e-6;
    let soil: Vec<Polygon> = cells
        .iter()
        .map(|c| {
            let gap: SmallVec<[f64; 8]> = c.gap.iter().map(|g| g + top).collect();
            if gap.iter().all(|&g| g <= TOUCH) {
                Polygon::new()
            } else {
                convex::split(&c.poly, &gap, 0.0).1
            }
        })
        .collect();
    let spans: Vec<Span> = soil
        .iter()
        .map(|p| Span::of(p.iter().copied()).grown(TOUCH))
        .collect();
    let near = |p: P2, other: &[P2]| {
        (0..other.len()).any(|k| from_line(p, other[k], other[(k + 1) % other.len()]) < TOUCH)
    };
    let touch = |a: usize, b: usize| {
        spans[a].meets(&spans[b])
            && (soil[a].iter().any(|&p| near(p, &soil[b]))
                || soil[b].iter().any(|&p| near(p, &soil[a])))
    };
    let on_crest = |k: usize| soil[k].iter().any(|&p| cells[k].plane.at(p).abs() < TOUCH);
    let mut reached: Vec<bool> = (0..cells.len()).map(on_crest).collect();
    let mut open: Vec<usize> = (0..cells.len()).filter(|&k| reached[k]).collect();
    while let Some(a) = open.pop() {
        for b in 0..cells.len() {
            if !reached[b] && !soil[b].is_empty() && touch(a, b) {
                reached[b] = true;
                open.push(b);
            }
        }
    }
    // Ground that no soil lies on yet may get some when it rises.
    for (k, poly) in soil.iter().enumerate() {
        reached[k] |= poly.is_empty();
    }
    reached
}

/// Elevation of the crest at which the heap holds `volume`: Newton from above. The volume is convex
/// in the elevation and its derivative is the plan area, so that never steps past the answer. From
/// `above`, where the crest of a larger heap is known.
fn solve(cells: &[Cell], volume: f64, above: Option<f64>) -> Option<f64> {
    if cells.is_empty() {
        return None;
    }
    let high = cells
        .iter()
        .map(|c| -c.least)
        .fold(f64::NEG_INFINITY, f64::max);
    let all: f64 = cells.iter().map(|c| c.area).sum();
    let mut top = above.unwrap_or(high + volume / all.max(1e-9) + 1e-6);
    for _ in 0..100 {
        let (mut held, mut area) = (0.0, 0.0);
        for c in cells.iter().filter(|c| c.most + top > 0.0) {
            if c.least + top >= 0.0 {
                held += c.volume + c.area * top;
                area += c.area;
            } else {
                let (its, under) = convex::upper_extent(&c.poly, &c.gap, top);
                held += under;
                area += its;
            }
        }
        let over = held - volume;
        if over.abs() <= 1e-11 * volume.max(1e-3) || area <= 0.0 {
            return Some(top);
        }
        let next = top - over / area;
        if (next - top).abs() < 1e-13 {
            return Some(next);
        }
        top = next;
    }
    Some(top)
}

fn lie(cells: &[Cell], top: f64) -> Heap {
    let mut heap = Heap {
        crest: top,
        ..Heap::default()
    };
    for c in cells {
        let gap: SmallVec<[f64; 8]> = c.gap.iter().map(|g| g + top).collect();
        if gap.iter().all(|&g| g <= 0.0) {
            continue;
        }
        heap.height = gap.iter().fold(heap.height, |h, &g| h.max(g));
        let above = convex::split(&c.poly, &gap, 0.0).1;
        heap.area += 0.5 * area2(&above);
        let lift = |p: P2| [p[0], p[1], c.plane.at(p) + top];
        for k in 1..above.len().saturating_sub(1) {
            heap.mesh
                .push([lift(above[0]), lift(above[k]), lift(above[k + 1])]);
        }
    }
    heap
}
