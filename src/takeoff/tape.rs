//! Lengths along a surface, as a tape laid over it in one direction shows them.
//!
//! A sheet laid over a hollow needs, in each of its two directions, more than the plan length: the
//! length along the surface. For one direction the surface is cut by all vertical planes that run
//! that way. From a middle line square to them each cut is taped out to the last lined place, one way
//! and the other; the longest reach one way and the longest the other way together are the side of
//! the rectangle, but never less than the longest single cut. So a slanting outline gets the room that
//! it takes, which the longest single cut does not give. A reach is measured as the sheet unfolds: what
//! a slope or an upright face adds counts only as far as it runs with the cut, for a face that the cut
//! crosses askew takes its height sideways too. The middle line is straight in plan: askew to slopes it asks for
//! somewhat more than the sheet would take. Between neighbouring bends of the surface a cut's
//! length changes evenly, so the longest is found at a bend: it is exact, but for what lies flatter than
//! corners are welded (see [`Skin`]). Where a cut leaves the
//! lining and comes back, the tape goes over the ground between, which is looked at where the lining bends
//! only; where there is no ground (a building), straight on. Metres.

use super::lined::{Crease, Ground, Skin};
use super::met::{Line, Met, Rise, Wall, least, most};
use crate::terrain::predicates::P2;

/// To either side of a corner, metres: at an upright face the two sides differ.
const BESIDE: f64 = 1e-7;
/// Bends nearer to each other across the cuts are looked at together, metres.
const TOGETHER: f64 = 2.0 * BESIDE;
/// Middle lines tried, as shares of the extent.
const MIDDLES: [f64; 5] = [0.3, 0.4, 0.5, 0.6, 0.7];
/// Cuts made, evenly apart, to learn how much the tape shows at least.
const FEW: usize = 5;

/// What the tape shows in one direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taped {
    /// Side of the rectangle.
    pub side: f64,
    /// The longest single cut.
    pub longest: f64,
}

/// Tapes the lined part of the skin in direction `angle` (radians from +x).
pub fn tape(skin: &Skin, angle: f64) -> Option<Taped> {
    Cuts::new(skin, angle)?.all().taped()
}

/// Places where lengths bend, across the cuts hardly apart from each other. Cuts are made beside them.
#[derive(Clone, Copy)]
struct Bend {
    first: f64,
    last: f64,
    /// Where it is along the cuts; of several places, the first.
    along: f64,
    /// Lengths do not jump there: one cut tells.
    smooth: bool,
}

impl Bend {
    /// The cuts before it and, where that may be another length, after it.
    fn cuts(&self) -> impl Iterator<Item = P2> + use<> {
        let [before, after] = [self.first - BESIDE, self.last + BESIDE].map(|t| [self.along, t]);
        let after = (!self.smooth).then_some(after);
        std::iter::once(before).chain(after)
    }
}

/// Where all lengths bend, or only those from one middle line.
struct Event {
    at: Bend,
    middle: Option<usize>,
}

/// The longest of the cuts made so far, each with the place that it was made for, along the cuts and across
/// them.
pub struct Longest {
    reached: [[(f64, P2); 2]; MIDDLES.len()],
    cut: (f64, P2),
}

impl Longest {
    fn new() -> Self {
        let none = (f64::NEG_INFINITY, [0.0; 2]);
        Longest {
            reached: [[none; 2]; MIDDLES.len()],
            cut: (0.0, [0.0; 2]),
        }
    }

    /// What the tape shows if these are the longest of all.
    pub fn taped(&self) -> Option<Taped> {
        let both = self.reached.iter().map(|r| r[0].0 + r[1].0);
        let least = both.filter(|s| s.is_finite()).min_by(f64::total_cmp)?;
        Some(Taped {
            side: least.max(self.cut.0),
            longest: self.cut.0,
        })
    }
}

/// Places across the cuts with numbers, in order; those at one place by number, for sums hang on the
/// order in their last digits. Strewn over about as many boxes first, of which each is soon sorted.
fn in_order(list: &[(f64, u32)]) -> Vec<(f64, u32)> {
    let n = list.len();
    let (low, high) = list.iter().fold(
        (f64::INFINITY, f64::NEG_INFINITY),
        |(low, high), &(t, _)| (least(low, t), most(high, t)),
    );
    let per_metre = n as f64 / (high - low).max(f64::MIN_POSITIVE);
    let number = |t: f64| (((t - low) * per_metre) as usize).min(n - 1);
    let mut first = vec![0u32; n + 1];
    for &(t, _) in list {
        first[number(t) + 1] += 1;
    }
    for k in 0..n {
        first[k + 1] += first[k];
    }
    let mut next = first.clone();
    let mut sorted = vec![(0.0, 0); n];
    for &(t, k) in list {
        let slot = &mut next[number(t)];
        sorted[*slot as usize] = (t, k);
        *slot += 1;
    }
    for ends in first.windows(2).filter(|ends| ends[1] > ends[0] + 1) {
        let one = &mut sorted[ends[0] as usize..ends[1] as usize];
        one.sort_unstable_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    }
    sorted
}

/// The skin as the cuts in one direction meet it: places are told along the cuts and across them.
pub struct Cuts<'a> {
    skin: &'a Skin,
    sin: f64,
    cos: f64,
    /// From where to where each crease lies across the cuts.
    spans: Vec<[f64; 2]>,
    walls: Vec<Wall<'a>>,
    /// From where to where the lining lies across the cuts.
    across: [f64; 2],
    middles: [f64; MIDDLES.len()],
    /// Where all lengths bend, in order.
    bends: Vec<Bend>,
}

impl<'a> Cuts<'a> {
    /// `None` where nothing is lined.
    pub fn new(skin: &'a Skin, angle: f64) -> Option<Self> {
        let (sin, cos) = angle.sin_cos();
        let turn = |p| turned(p, sin, cos);
        let walls: Vec<Wall> = skin.faces.iter().map(|f| Wall::of(f, turn)).collect();
        let lined = walls.iter().filter(|w| w.face.lined.is_some());
        let mut along = [f64::INFINITY, f64::NEG_INFINITY];
        let mut across = along;
        let corners = skin.lined.iter().map(|&p| turn(p));
        for [u, t] in corners.chain(lined.flat_map(|w| w.ends)) {
            along = [least(along[0], u), most(along[1], u)];
            across = [least(across[0], t), most(across[1], t)];
        }
        if across[1] - across[0] < 1e-6 {
            return None;
        }
        let span = |c: &Crease| {
            let [a, b] = [turn(c.a)[1], turn(c.b)[1]];
            [least(a, b), most(a, b)]
        };
        let mut cuts = Cuts {
            skin,
            sin,
            cos,
            spans: skin.creases.iter().map(span).collect(),
            walls,
            across,
            middles: MIDDLES.map(|f| along[0] + f * (along[1] - along[0])),
            bends: Vec::new(),
        };
        let bends = skin.bends.iter().map(|b| (turn(b.at), b.smooth));
        let lined = cuts.walls.iter().filter(|w| w.face.lined.is_some());
        let faces = lined.flat_map(|w| w.ends).map(|p| (p, false));
        let near = |(p, _): &(P2, bool)| cuts.is_near(p[1]);
        let bends: Vec<(P2, bool)> = bends.chain(faces).filter(near).collect();
        let across: Vec<(f64, u32)> = (0..).zip(&bends).map(|(k, (p, _))| (p[1], k)).collect();
        for (t, k) in in_order(&across) {
            match cuts.bends.last_mut() {
                Some(last) if t - last.last < TOGETHER => {
                    last.last = t;
                    last.smooth = false;
                }
                _ => cuts.bends.push(Bend {
                    first: t,
                    last: t,
                    along: bends[k as usize].0[0],
                    smooth: bends[k as usize].1,
                }),
            }
        }
        Some(cuts)
    }

    fn line(&self, k: usize) -> Line {
        let more_on = |ground: &Ground| {
            let [x, y] = ground.gradient;
            let along = x * self.cos + y * self.sin;
            // As the sheet unfolds only the share of the cut's direction counts that runs up or down the
            // slope.
            [
                (1.0 + along * along).sqrt() - 1.0,
                along * along * ground.more_by_square,
            ]
        };
        let crease = &self.skin.creases[k];
        Line::of(crease, self.turned(crease), more_on)
    }

    fn turned(&self, crease: &Crease) -> [P2; 2] {
        [crease.a, crease.b].map(|p| turned(p, self.sin, self.cos))
    }

    /// The longest of all cuts.
    pub fn all(&self) -> Longest {
        // Lines and upright faces as the cuts come to them.
        let to_meet = (0..).zip(&self.spans).filter(|(_, [a, b])| b > a);
        let lines: Vec<(f64, u32)> = to_meet.map(|(k, span)| (span[0], k)).collect();
        let walls: Vec<(f64, u32)> = (0..).zip(&self.walls).map(|(k, w)| (w.first, k)).collect();
        let mut next_line = in_order(&lines).into_iter().peekable();
        let mut next_wall = in_order(&walls).into_iter().peekable();
        let mut longest = Longest::new();
        let mut met = Met::default();
        // Where the next of the lines that are met ends.
        let mut ends = f64::INFINITY;
        for event in self.events() {
            for at in event.at.cuts().filter(|at| self.is_across(at[1])) {
                let t = at[1];
                while let Some((_, k)) = next_line.next_if(|l| l.0 < t) {
                    let line = self.line(k as usize);
                    ends = least(ends, line.last);
                    met.lines.push(line);
                }
                while let Some((_, k)) = next_wall.next_if(|w| w.0 < t) {
                    let before = met.faces.partition_point(|&other| other < k);
                    met.faces.insert(before, k);
                }
                if ends < t {
                    ends = met.lines.forget(t);
                }
                met.faces.retain(|&k| self.walls[k as usize].last >= t);
                self.cut(at, event.middle, &mut met, &mut longest);
            }
        }
        longest
    }

    /// The places in plan that the longest cuts were made for: corners at which lengths bend, mostly. In a
    /// direction near by the longest go past the same ones.
    pub fn places_of<'b>(&'b self, longest: &'b Longest) -> impl Iterator<Item = P2> + 'b {
        let cuts = longest.reached.iter().flatten().chain([&longest.cut]);
        cuts.map(|&(_, p)| turned(p, -self.sin, self.cos))
    }

    fn is_across(&self, t: f64) -> bool {
        t >= self.across[0] && t <= self.across[1]
    }

    /// The longest of a few of all cuts, about evenly apart: so the tape cannot show less.
    pub fn few(&self) -> Longest {
        let [low, high] = self.across;
        let share = |k: usize| (k as f64 + 0.5) / FEW as f64;
        let mut longest = Longest::new();
        let evenly = (0..FEW).map(|k| low + share(k) * (high - low));
        let bends = evenly.filter_map(|t| {
            let next = self.bends.partition_point(|b| b.first < t);
            self.bends[..next].last()
        });
        self.look(bends.filter_map(|b| b.cuts().last()), &mut longest);
        longest
    }

    /// The same with those past more places in plan, or past the bends next to them: only cuts that
    /// [`Cuts::all`] makes too, so that nothing is taken for the least that the tape shows but what it does
    /// show.
    pub fn through(&self, places: &[P2], longest: &mut Longest) {
        let across = places.iter().map(|&p| turned(p, self.sin, self.cos)[1]);
        let bends = across.filter_map(|t| {
            let next = self.bends.partition_point(|b| b.last < t);
            let beside = self.bends[next.saturating_sub(1)..].iter().take(2);
            let off = |b: &&Bend| most(b.first - t, t - b.last);
            beside.min_by(|a, b| off(a).total_cmp(&off(b)))
        });
        self.look(bends.flat_map(Bend::cuts), longest);
    }

    fn look(&self, cuts: impl Iterator<Item = P2>, longest: &mut Longest) {
        let cuts: Vec<P2> = cuts.filter(|at| self.is_across(at[1])).collect();
        let mut in_order: Vec<f64> = cuts.iter().map(|at| at[1]).collect();
        in_order.sort_unstable_by(f64::total_cmp);
        // What none of the cuts meets is told once for all of them, and each line made once.
        let is_met = |first: f64, last: f64| {
            let next = in_order.partition_point(|t| *t <= first);
            in_order.get(next).is_some_and(|t| *t <= last)
        };
        let spans = self.spans.iter().enumerate();
        let lines: Vec<Line> = spans
            .filter(|(_, [first, last])| is_met(*first, *last))
            .map(|(k, _)| self.line(k))
            .collect();
        let walls: Vec<u32> = (0..)
            .zip(&self.walls)
            .filter(|(_, w)| is_met(w.first, w.last))
            .map(|(k, _)| k)
            .collect();
        let mut met = Met::default();
        for at in cuts {
            let t = at[1];
            met.lines.clear();
            let its = lines.iter().filter(|l| l.first < t && l.last >= t);
            its.for_each(|&line| met.lines.push(line));
            met.faces.clear();
            met.faces.extend(walls.iter().copied().filter(|&k| {
                let wall = &self.walls[k as usize];
                wall.first < t && wall.last >= t
            }));
            self.cut(at, None, &mut met, longest);
        }
    }

    fn is_near(&self, t: f64) -> bool {
        t >= self.across[0] - 1e-9 && t <= self.across[1] + 1e-9
    }

    /// Where lengths bend, in order.
    fn events(&self) -> Vec<Event> {
        // The cuts' lengths on either side of a middle line bend where an edge crosses that line.
        let mut crossings: Vec<(f64, u32)> = Vec::with_capacity(self.bends.len());
        for crease in &self.skin.creases {
            let [[u0, t0], [u1, t1]] = self.turned(crease);
            for (k, m) in (0..).zip(self.middles) {
                if (u0 < m) != (u1 < m) {
                    let t = t0 + (m - u0) / (u1 - u0) * (t1 - t0);
                    if self.is_near(t) {
                        crossings.push((t, 2 * k + u32::from(crease.level)));
                    }
                }
            }
        }
        let mut crossings = in_order(&crossings).into_iter().peekable();
        let mut events: Vec<Event> = Vec::with_capacity(self.bends.len() + crossings.len());
        for bend in &self.bends {
            let mut at = *bend;
            let from = events.len();
            while let Some((t, k)) = crossings.next_if(|c| c.0 <= bend.first - TOGETHER) {
                self.cross(t, k, from, &mut events);
            }
            // Crossings hardly apart from it are looked at with it: of a face that is, on both sides.
            while let Some((_, k)) = crossings.next_if(|c| c.0 < bend.last + TOGETHER) {
                at.smooth &= k % 2 == 1;
            }
            events.push(Event { at, middle: None });
        }
        let from = events.len();
        for (t, k) in crossings {
            self.cross(t, k, from, &mut events);
        }
        events
    }

    /// A crossing of a middle line: twice the line's number, and one more where the ground has no step.
    /// Those from number `from` on are others. Hardly apart they are one.
    fn cross(&self, t: f64, number: u32, from: usize, events: &mut Vec<Event>) {
        let (middle, smooth) = (number as usize / 2, number % 2 == 1);
        match events[from..].last_mut() {
            Some(last) if t - last.at.last < TOGETHER => {
                last.at.last = t;
                last.at.smooth = false;
                last.middle = last.middle.filter(|m| *m == middle);
            }
            _ => events.push(Event {
                at: Bend {
                    first: t,
                    last: t,
                    along: self.middles[middle],
                    smooth,
                },
                middle: Some(middle),
            }),
        }
    }

    /// Measures the cut past the place `past` by what it meets, from one middle line or from all.
    fn cut(&self, past: P2, middle: Option<usize>, met: &mut Met, longest: &mut Longest) {
        let t = past[1];
        let Met {
            lines,
            faces,
            at,
            rises,
        } = met;
        let mut ends = [f64::INFINITY, f64::NEG_INFINITY];
        at.clear();
        let places = lines.at.iter().zip(&lines.slope).zip(&lines.first);
        at.extend(places.map(|((at, slope), first)| at + slope * (t - first)));
        for (at, aside) in at.iter().zip(&lines.aside) {
            ends = [least(ends[0], at + aside), most(ends[1], at - aside)];
        }
        rises.clear();
        rises.extend(faces.iter().map(|&k| self.walls[k as usize].rise(t)));
        for r in rises.iter().filter(|r| r.lined > 0.0) {
            ends = [least(ends[0], r.at), most(ends[1], r.at)];
        }
        if ends[0] > ends[1] {
            return;
        }
        // At the ends of the lining faces count as far as they are lined, those between in full.
        for r in rises.iter_mut() {
            if r.at < ends[0] + 1e-7 || r.at > ends[1] - 1e-7 {
                r.height = r.lined;
            }
        }
        let keep = |best: &mut (f64, P2), length: f64| {
            if length > best.0 {
                *best = (length, past);
            }
        };
        // Beyond the middle line a cut reaches less than nothing.
        let mut reach = |k: usize, [first, at_middle, last]: [f64; 3]| {
            let middle = self.middles[k];
            let faces = match rises.is_empty() {
                true => [0.0; 2],
                false => upright_beside(rises, middle, ends),
            };
            let [up, down] = &mut longest.reached[k];
            keep(up, ends[1] - middle + last - at_middle + faces[0]);
            keep(down, middle - ends[0] + at_middle - first + faces[1]);
        };
        if let Some(k) = middle {
            let places = [ends[0], self.middles[k], ends[1], ends[1]];
            let [first, at_middle, last, _] = more(at, &lines.unfolded, places);
            reach(k, [first, at_middle, last]);
            return;
        }
        let plain = more(at, &lines.plain, ends);
        let [m0, m1, m2, m3, m4] = self.middles;
        let places = [ends[0], m0, m1, m2, m3, m4, ends[1], ends[1]];
        let unfolded = more(at, &lines.unfolded, places);
        for k in 0..MIDDLES.len() {
            reach(
                k,
                [unfolded[0], unfolded[k + 1], unfolded[MIDDLES.len() + 1]],
            );
        }
        let faces = upright(rises, ends[0], ends[1], ends, |r| r.height);
        let whole = ends[1] - ends[0] + plain[1] - plain[0] + faces;
        keep(&mut longest.cut, whole);
    }
}

/// A place in plan as the cuts see it: along them, and across.
fn turned(p: P2, sin: f64, cos: f64) -> P2 {
    [p[0] * cos + p[1] * sin, p[1] * cos - p[0] * sin]
}

/// By how much the surface is longer than its plan, along one cut from its beginning to each of these
/// places on it. What has no ground counts in plan. An even number of places keeps the sums in registers.
fn more<const N: usize>(at: &[f64], by: &[f64], places: [f64; N]) -> [f64; N] {
    let mut sums = [0.0; N];
    for (at, by) in at.iter().zip(by) {
        for (sum, place) in sums.iter_mut().zip(places) {
            let on = place - at;
            *sum += by * if on > 0.0 { on } else { 0.0 };
        }
    }
    sums
}

/// What upright faces add between two places on a cut whose lining has these ends.
fn upright(rises: &[Rise], from: f64, to: f64, ends: [f64; 2], adds: impl Fn(&Rise) -> f64) -> f64 {
    // A face on the middle line counts to one side only.
    let first = from <= ends[0] + 1e-9;
    let counts = |r: &&Rise| {
        if first {
            r.at >= from - 1e-7 && r.at <= to + 1e-7
        } else {
            r.at > from && r.at <= to + 1e-7
        }
    };
    rises.iter().filter(counts).map(adds).sum()
}

/// What upright faces add from a middle line on to the end of the lining, and from its beginning to the
/// middle line; less than nothing where that lies beyond.
fn upright_beside(rises: &[Rise], middle: f64, ends: [f64; 2]) -> [f64; 2] {
    let adds = |r: &Rise| r.height * r.square;
    if middle > ends[0] + 1e-9 && middle <= ends[1] {
        // The same as below in one go.
        let mut sums = [0.0; 2];
        for r in rises {
            let counts = [
                r.at > middle && r.at <= ends[1] + 1e-7,
                r.at >= ends[0] - 1e-7 && r.at <= middle + 1e-7,
            ];
            for (sum, counts) in sums.iter_mut().zip(counts) {
                *sum += if counts { adds(r) } else { 0.0 };
            }
        }
        return sums;
    }
    let between = |from: f64, to: f64| match to >= from {
        true => upright(rises, from, to, ends, adds),
        false => -upright(rises, to, from, ends, adds),
    };
    [between(middle, ends[1]), between(ends[0], middle)]
}

#[cfg(test)]
pub(in crate::takeoff) mod tests {
    use super::super::lined::Lining;
    use super::*;
    use crate::plan::{Kind, MadeBy};
    use crate::terrain::Surface;
    use proptest::prelude::*;

    /// A cell of a yard: who lined it, if anybody, its elevation, and its slope.
    type Cell = (u16, f64, f64, f64);

    const COLUMNS: usize = 5;
    const ROWS: usize = 4;

    /// Cells side by side, each on a plane of its own: between them upright faces, lined and bare, also
    /// between two bodies of lining.
    fn yard(cells: &[Cell], shaken: &[(f64, f64)]) -> Skin {
        let corner = |i: usize, j: usize| {
            let (x, y) = shaken[j * (COLUMNS + 1) + i];
            [i as f64 + x, j as f64 + y]
        };
        let mut surface = Surface::default();
        for (k, &(maker, z, east, north)) in cells.iter().enumerate() {
            let (i, j) = (k % COLUMNS, k / COLUMNS);
            let ring = [
                corner(i, j),
                corner(i + 1, j),
                corner(i + 1, j + 1),
                corner(i, j + 1),
            ];
            let first = surface.points.len() as u32;
            surface
                .points
                .extend(ring.map(|[x, y]| [x, y, z + east * x + north * y]));
            surface
                .triangles
                .extend([[first, first + 1, first + 2], [first, first + 2, first + 3]]);
            surface.made_by.extend([maker; 2]);
        }
        let makers = ["", "one", "other"].map(|name| MadeBy {
            name: name.into(),
            kind: if name.is_empty() {
                Kind::Ground
            } else {
                Kind::Basin
            },
            part: "floor".into(),
        });
        let linings = ["one", "other"].map(|name| Lining {
            name,
            kind: Kind::Basin,
            edge: 1.0,
        });
        Skin::of(&surface, &makers, &linings)
    }

    prop_compose! {
        pub(in crate::takeoff) fn yards()(
            cells in proptest::collection::vec(
                (0u16..3, -1.0f64..1.5, -0.3f64..0.3, -0.3f64..0.3), COLUMNS * ROWS),
            shaken in proptest::collection::vec(
                (-0.3f64..0.3, -0.3f64..0.3), (COLUMNS + 1) * (ROWS + 1)),
        ) -> Skin {
            yard(&cells, &shaken)
        }
    }

    proptest! {
        /// Where one cut is made beside a bend, the other would show nothing longer.
        #[test]
        fn cuts_that_are_spared_are_none_that_matter(skin in yards(), degrees in 0.0f64..90.0) {
            let mut both = skin.clone();
            both.bends.iter_mut().for_each(|b| b.smooth = false);
            both.creases.iter_mut().for_each(|c| c.level = false);
            for angle in [degrees.to_radians(), 0.0] {
                match (tape(&skin, angle), tape(&both, angle)) {
                    (Some(one), Some(both)) => {
                        prop_assert!((one.side - both.side).abs() < 1e-5, "{one:?}, {both:?}");
                        prop_assert!((one.longest - both.longest).abs() < 1e-5, "{one:?}, {both:?}");
                    }
                    (one, both) => prop_assert_eq!(one, both),
                }
            }
        }

        /// A direction is not taped where a few cuts show that it comes to more: what they show is never
        /// more than the tape would, from no middle line and either way.
        #[test]
        fn a_few_cuts_show_no_more_than_all(
            skin in yards(),
            degrees in 0.0f64..180.0,
            places in proptest::collection::vec((0.0f64..5.0, 0.0f64..4.0), 0..6),
        ) {
            let Some(cuts) = Cuts::new(&skin, degrees.to_radians()) else {
                return Ok(());
            };
            let all = cuts.all();
            let mut few = cuts.few();
            let mut places: Vec<P2> = places.iter().map(|&(x, y)| [x, y]).collect();
            places.extend(cuts.places_of(&all));
            // Corners, at which lengths jump.
            places.extend(skin.bends.iter().take(20).map(|b| b.at));
            cuts.through(&places, &mut few);
            let both = few.reached.iter().flatten().zip(all.reached.iter().flatten());
            for (few, all) in both.chain([(&few.cut, &all.cut)]) {
                prop_assert!(few.0 <= all.0 + 1e-9, "{} of a few, {} of all", few.0, all.0);
            }
        }
    }
}
