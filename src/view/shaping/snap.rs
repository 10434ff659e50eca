//! Where a dragged corner comes to rest: on shots, points of breaklines, other corners, and where
//! it makes a right angle with the edges beside it. Plan coordinates, metres.

/// What a corner was drawn to.
#[derive(Debug, Clone, PartialEq)]
pub enum Rest {
    Shot(String),
    Breakline(String),
    Corner(String),
    /// Square to an edge beside it, or square itself.
    Square,
}

impl Rest {
    pub fn words(&self) -> String {
        match self {
            Rest::Shot(name) => format!("on shot {name}"),
            Rest::Breakline(name) => format!("on breakline \"{name}\""),
            Rest::Corner(of) => format!("on a corner of {of}"),
            Rest::Square => "square".to_owned(),
        }
    }
}

/// A place worth stopping at.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    pub at: [f64; 2],
    pub rest: Rest,
}

/// What stands on both sides of the dragged corner, going away from it: the next corner and the one
/// after that.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Sides {
    pub before: [Option<[f64; 2]>; 2],
    pub after: [Option<[f64; 2]>; 2],
}

/// Where it came to rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Snapped {
    pub at: [f64; 2],
    pub rest: Rest,
    /// Lines that show why.
    pub guides: Vec<[[f64; 2]; 2]>,
}

/// The best place within `reach` of `p`: a spot before an angle, both angles before one.
pub fn snap(p: [f64; 2], spots: &[Spot], sides: &Sides, reach: f64) -> Option<Snapped> {
    let near = spots
        .iter()
        .map(|s| (dist(p, s.at), s))
        .filter(|(d, _)| *d <= reach)
        .min_by(|a, b| a.0.total_cmp(&b.0));
    if let Some((_, spot)) = near {
        return Some(Snapped {
            at: spot.at,
            rest: spot.rest.clone(),
            guides: Vec::new(),
        });
    }
    let lines: Vec<[[f64; 2]; 2]> = [sides.before, sides.after]
        .into_iter()
        .filter_map(|[near, far]| upright(near?, far?))
        .collect();
    let close: Vec<([f64; 2], [[f64; 2]; 2])> = lines
        .iter()
        .map(|line| (foot(p, *line), *line))
        .filter(|(on, _)| dist(p, *on) <= reach)
        .collect();
    let square = |at, guides| {
        Some(Snapped {
            at,
            rest: Rest::Square,
            guides,
        })
    };
    if let [(_, a), (_, b)] = close.as_slice()
        && let Some(both) = crossing(*a, *b).filter(|at| dist(p, *at) <= 2.0 * reach)
    {
        return square(both, vec![[a[0], both], [b[0], both]]);
    }
    if let Some((on, line)) = close
        .into_iter()
        .min_by(|a, b| dist(p, a.0).total_cmp(&dist(p, b.0)))
    {
        return square(on, vec![[line[0], on]]);
    }
    // Square itself: on the circle that has its neighbours' distance as diameter.
    let ([Some(a), _], [Some(b), _]) = (sides.before, sides.after) else {
        return None;
    };
    let middle = [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0];
    let (radius, away) = (dist(a, b) / 2.0, dist(p, middle));
    if radius < 4.0 * reach || away < 1e-9 || (away - radius).abs() > reach {
        return None;
    }
    let f = radius / away;
    let at = [0, 1].map(|k| middle[k] + f * (p[k] - middle[k]));
    // Close to a neighbour everything is nearly square.
    if dist(at, a).min(dist(at, b)) < 2.0 * reach {
        return None;
    }
    square(at, vec![[a, at], [b, at]])
}

/// The line through `near` square to the edge from `near` to `far`, as two points one metre apart.
fn upright(near: [f64; 2], far: [f64; 2]) -> Option<[[f64; 2]; 2]> {
    let d = dist(near, far);
    (d > 1e-6).then(|| {
        let across = [-(far[1] - near[1]) / d, (far[0] - near[0]) / d];
        [near, [near[0] + across[0], near[1] + across[1]]]
    })
}

/// The foot of the perpendicular from `p` on a line through two points one metre apart.
fn foot(p: [f64; 2], [a, b]: [[f64; 2]; 2]) -> [f64; 2] {
    let d = [b[0] - a[0], b[1] - a[1]];
    let f = (p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1];
    [a[0] + f * d[0], a[1] + f * d[1]]
}

fn crossing(a: [[f64; 2]; 2], b: [[f64; 2]; 2]) -> Option<[f64; 2]> {
    let (d, e) = (
        [a[1][0] - a[0][0], a[1][1] - a[0][1]],
        [b[1][0] - b[0][0], b[1][1] - b[0][1]],
    );
    let turn = d[0] * e[1] - d[1] * e[0];
    // Flatter than about six degrees the crossing runs away.
    if turn.abs() < 0.1 {
        return None;
    }
    let f = ((b[0][0] - a[0][0]) * e[1] - (b[0][1] - a[0][1]) * e[0]) / turn;
    Some([a[0][0] + f * d[0], a[0][1] + f * d[1]])
}

pub fn dist(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// The place of a line of points nearest to `p`: how far, which stretch, and how far along it (0–1).
pub fn nearest(p: [f64; 2], line: &[[f64; 2]]) -> Option<(f64, usize, f64)> {
    line.windows(2)
        .enumerate()
        .map(|(k, w)| {
            let d = [w[1][0] - w[0][0], w[1][1] - w[0][1]];
            let long = d[0] * d[0] + d[1] * d[1];
            let f = if long > 0.0 {
                ((p[0] - w[0][0]) * d[0] + (p[1] - w[0][1]) * d[1]) / long
            } else {
                0.0
            };
            let f = f.clamp(0.0, 1.0);
            let on = [w[0][0] + f * d[0], w[0][1] + f * d[1]];
            (dist(p, on), k, f)
        })
        .filter(|(d, _, _)| d.is_finite())
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn angle(a: [f64; 2], at: [f64; 2], b: [f64; 2]) -> f64 {
        let dot = (a[0] - at[0]) * (b[0] - at[0]) + (a[1] - at[1]) * (b[1] - at[1]);
        (dot / (dist(a, at) * dist(b, at))).acos().to_degrees()
    }

    #[test]
    fn a_spot_comes_before_an_angle_and_the_nearest_first() {
        let spot = |at, name: &str| Spot {
            at,
            rest: Rest::Shot(name.into()),
        };
        let spots = [spot([1.0, 1.0], "7"), spot([1.2, 1.0], "8")];
        let found = snap([1.15, 1.0], &spots, &Sides::default(), 0.3).expect("a shot");
        assert_eq!((found.at, found.rest), ([1.2, 1.0], Rest::Shot("8".into())));
        assert_eq!(snap([2.0, 2.0], &spots, &Sides::default(), 0.3), None);
    }

    #[test]
    fn square_to_the_edge_beside() {
        // The edge before runs from (-3, -4) to (0, 0): square to it is the direction (4, -3).
        let sides = Sides {
            before: [Some([0.0, 0.0]), Some([-3.0, -4.0])],
            ..Sides::default()
        };
        let found = snap([4.1, -2.95], &[], &sides, 0.3).expect("square");
        assert_eq!(found.rest, Rest::Square);
        let turned = angle([-3.0, -4.0], [0.0, 0.0], found.at);
        assert!((turned - 90.0).abs() < 1e-9, "{turned} degrees");
        assert!(dist(found.at, [4.1, -2.95]) <= 0.3);
        assert_eq!(snap([4.5, -2.0], &[], &sides, 0.3), None);
    }

    #[test]
    fn square_on_both_sides_closes_a_rectangle() {
        // Three corners of a rectangle 4 by 3; the fourth is dragged near its place.
        let sides = Sides {
            before: [Some([0.0, 3.0]), Some([0.0, 0.0])],
            after: [Some([4.0, 0.0]), Some([0.0, 0.0])],
        };
        let found = snap([4.1, 2.9], &[], &sides, 0.2).expect("square");
        assert!(dist(found.at, [4.0, 3.0]) < 1e-12, "{:?}", found.at);
        assert_eq!(found.guides.len(), 2);
    }

    #[test]
    fn square_itself_lies_on_the_circle_over_its_neighbours() {
        let sides = Sides {
            before: [Some([-5.0, 0.0]), None],
            after: [Some([5.0, 0.0]), None],
        };
        let found = snap([3.0, 4.1], &[], &sides, 0.2).expect("square");
        let turned = angle([-5.0, 0.0], found.at, [5.0, 0.0]);
        assert!((turned - 90.0).abs() < 1e-9, "{turned} degrees");
        // Beside a neighbour, and in the middle, nothing is offered.
        assert_eq!(snap([4.99, 0.1], &[], &sides, 0.2), None);
        assert_eq!(snap([0.0, 0.0], &[], &sides, 0.2), None);
    }

    #[test]
    fn parallel_and_nil_edges_do_no_harm() {
        let sides = Sides {
            before: [Some([0.0, 0.0]), Some([-1.0, 0.0])],
            after: [Some([0.1, 5.0]), Some([-1.0, 5.0])],
        };
        let found = snap([0.05, 2.0], &[], &sides, 0.2).expect("square to one of them");
        assert_eq!(found.guides.len(), 1);
        let nil = Sides {
            before: [Some([0.0, 0.0]), Some([0.0, 0.0])],
            after: [Some([0.0, 0.0]), None],
        };
        assert_eq!(snap([0.0, 0.0], &[], &nil, 0.2), None);
    }

    #[test]
    fn the_nearest_place_of_a_line() {
        let line = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0]];
        assert_eq!(nearest([4.0, 3.0], &line), Some((3.0, 0, 0.4)));
        assert_eq!(nearest([12.0, 5.0], &line), Some((2.0, 1, 0.5)));
        assert_eq!(nearest([-3.0, -4.0], &line), Some((5.0, 0, 0.0)));
        assert_eq!(nearest([0.0, 0.0], &line[..1]), None);
        assert_eq!(nearest([0.0, 0.0], &[[f64::NAN; 2]; 2]), None);
    }
}
