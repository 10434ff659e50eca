//! How far the soil is in a stage: what was dug and placed, and what is left of both, over the ground that was
//! shot.
//!
//! A stage begins on the ground that the stages before it leave, by the design. What stands over the stage's
//! own design is still to be dug as far as it lies under that ground, and was placed too much above it; what
//! is missing is still to be placed as far as the design lies over that ground, and over-dug under it. So the
//! lower and the higher of that ground and the ground as shot are held against the design, cut along the
//! lines where they cross. What is dug is bank as far as it is undisturbed soil; what an earlier stage placed
//! is soil dug again. m³.

use smallvec::SmallVec;

use crate::plan::BuiltVolumes;
use crate::terrain::convex::area2;
use crate::terrain::overlay::{CutFill, Overlay, cut, cut_fill, fill};
use crate::terrain::predicates::P2;
use crate::terrain::{Plane, Surface};

/// What the ground as shot is held against.
pub struct Grounds<'a> {
    /// The ground as surveyed, where that is not the ground before the stage.
    pub surveyed: Option<&'a Surface>,
    /// As the stages before it leave it, and the undisturbed soil under that.
    pub before: &'a Surface,
    pub undisturbed: &'a Surface,
    pub design: &'a Surface,
}

/// What tells how far it is, but for what is left in all.
pub struct SoFar {
    since_survey: CutFill,
    in_stage: CutFill,
    to_dig: f64,
    to_place: f64,
    /// Of what was dug in the stage and what is to be dug in it, what is undisturbed.
    bank: [f64; 2],
}

impl SoFar {
    pub fn of(grounds: &Grounds, built: &Surface) -> SoFar {
        let Grounds {
            surveyed,
            before,
            undisturbed,
            design,
        } = *grounds;
        let since = || surveyed.map(|surveyed| cut_fill(surveyed, built));
        let stage = || {
            let ([lower, higher], in_stage) = split(before, built);
            let (to_dig, to_place) = rayon::join(|| cut(&lower, design), || fill(&higher, design));
            (in_stage, to_dig, to_place)
        };
        let bank = || {
            if undisturbed == before {
                return None;
            }
            let ([lower, _], dug) = split(undisturbed, built);
            Some([dug.cut, cut(&lower, design)])
        };
        let ((in_stage, to_dig, to_place), (since, bank)) =
            rayon::join(stage, || rayon::join(since, bank));
        SoFar {
            since_survey: since.unwrap_or(in_stage),
            in_stage,
            to_dig,
            to_place,
            bank: bank.unwrap_or([in_stage.cut, to_dig]),
        }
    }

    /// `left`: between what was shot and the design.
    pub fn volumes(&self, left: &CutFill) -> BuiltVolumes {
        let [bank, bank_to_dig] = self.bank;
        BuiltVolumes {
            area_m2: self.since_survey.area,
            dug_m3: self.since_survey.cut,
            placed_m3: self.since_survey.fill,
            stage_dug_m3: bank,
            stage_redug_m3: (self.in_stage.cut - bank).max(0.0),
            stage_placed_m3: self.in_stage.fill,
            to_dig_m3: bank_to_dig,
            to_redig_m3: (self.to_dig - bank_to_dig).max(0.0),
            to_take_off_m3: (left.cut - self.to_dig).max(0.0),
            to_place_m3: self.to_place,
            over_dug_m3: (left.fill - self.to_place).max(0.0),
            missing_m3: left.fill,
        }
    }
}

/// What two triangles share: place, elevation of the first, and how far it lies over the second, at each
/// corner.
struct Shared {
    triangles: [usize; 2],
    corners: SmallVec<[(P2, f64, f64); 6]>,
    area: f64,
}

impl Shared {
    /// Whether the first lies over the second somewhere, and under it.
    fn sides(&self) -> [bool; 2] {
        let over = || self.corners.iter().map(|c| c.2);
        [over().any(|d| d > 0.0), over().any(|d| d < 0.0)]
    }
}

/// The lower and the higher of two surfaces, over their common plan, and the volumes between them.
///
/// A triangle that lies on one side of the other surface all over is taken as it is, not in the bits that
/// the other one's triangles cut it into.
fn split(first: &Surface, second: &Surface) -> ([Surface; 2], CutFill) {
    let overlay = Overlay::new(first, second);
    let origin = overlay.origin;
    let (cells, volumes) = overlay.fold(
        <(Vec<Shared>, CutFill)>::default,
        |(list, volumes), cell| {
            volumes.add(cell);
            let [a, b, c] = first.corners(cell.first as usize);
            let plane = Plane::through(a, b, c);
            let corners = cell.polygon.iter().zip(cell.over).map(|(p, &over)| {
                let at = [p[0] + origin[0], p[1] + origin[1]];
                let z =
                    a[2] + plane.gradient[0] * (at[0] - a[0]) + plane.gradient[1] * (at[1] - a[1]);
                (at, z, over)
            });
            list.push(Shared {
                triangles: [cell.first as usize, cell.second as usize],
                corners: corners.collect(),
                area: cell.area(),
            });
        },
        |(mut list, volumes), (more, its)| {
            list.extend(more);
            (list, volumes.and(its))
        },
    );
    let surfaces = [first, second];
    // How much of each triangle the other surface covers, and on which sides of it that lies.
    let mut seen = surfaces.map(|s| vec![(0.0, [false; 2]); s.triangles.len()]);
    for cell in &cells {
        for (seen, t) in seen.iter_mut().zip(cell.triangles) {
            let (area, sides) = &mut seen[t];
            *area += cell.area;
            let its = cell.sides();
            *sides = [0, 1].map(|k| sides[k] || its[k]);
        }
    }
    // `Some(k)`: the whole of a triangle belongs to the lower (0) or the higher surface (1).
    let whole = [0, 1].map(|n| {
        let seen = seen[n].iter().enumerate();
        let whole = seen.map(|(t, &(area, sides))| {
            let all = 0.5 * area2(&surfaces[n].corners(t).map(|[x, y, _]| [x, y]));
            let covered = (all - area).abs() <= 1e-9 * all;
            match sides {
                [true, false] if covered => Some(1 - n),
                [false, true] if covered => Some(n),
                _ => None,
            }
        });
        whole.collect::<Vec<Option<usize>>>()
    });
    let mut made = <[Surface; 2]>::default();
    for n in 0..2 {
        for (t, &k) in whole[n].iter().enumerate() {
            if let Some(k) = k {
                let corners = surfaces[n].corners(t).map(|[x, y, z]| ([x, y], z, 0.0));
                fan(&mut made[k], &corners, |z, _| z);
            }
        }
    }
    for cell in &cells {
        let [over, under] = cell.sides();
        // Where the first lies over the second or on it, then where it lies under it.
        for (sign, there, [of_first, of_second]) in
            [(1.0, over || !under, [1, 0]), (-1.0, under, [0, 1])]
        {
            let taken = |n: usize, k: usize| whole[n][cell.triangles[n]] == Some(k);
            let taken = [taken(0, of_first), taken(1, of_second)];
            if !there || taken == [true; 2] {
                continue;
            }
            let half = half(&cell.corners, sign);
            if !taken[0] {
                fan(&mut made[of_first], &half, |z, _| z);
            }
            if !taken[1] {
                fan(&mut made[of_second], &half, |z, over| z - over);
            }
        }
    }
    (made, volumes)
}

/// The part of a convex polygon where `sign` times the difference is positive.
fn half(corners: &[(P2, f64, f64)], sign: f64) -> Vec<(P2, f64, f64)> {
    let mut out = Vec::with_capacity(corners.len() + 1);
    for (k, &from) in corners.iter().enumerate() {
        let to = corners[(k + 1) % corners.len()];
        let (d, e) = (sign * from.2, sign * to.2);
        if d >= 0.0 {
            out.push(from);
        }
        if (d > 0.0 && e < 0.0) || (d < 0.0 && e > 0.0) {
            let f = d / (d - e);
            let mix = |a: f64, b: f64| a + f * (b - a);
            let at = [mix(from.0[0], to.0[0]), mix(from.0[1], to.0[1])];
            out.push((at, mix(from.1, to.1), 0.0));
        }
    }
    out
}

fn fan(surface: &mut Surface, corners: &[(P2, f64, f64)], z: impl Fn(f64, f64) -> f64) {
    if corners.len() < 3 {
        return;
    }
    let first = surface.points.len() as u32;
    surface
        .points
        .extend(corners.iter().map(|&([x, y], h, over)| [x, y, z(h, over)]));
    for k in 1..corners.len() as u32 - 1 {
        surface.triangles.push([first, first + k, first + k + 1]);
        surface.made_by.push(0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn volumes(existing: &Surface, built: &Surface, design: &Surface) -> BuiltVolumes {
        in_stage(existing, existing, existing, built, design)
    }

    fn in_stage(
        surveyed: &Surface,
        before: &Surface,
        undisturbed: &Surface,
        built: &Surface,
        design: &Surface,
    ) -> BuiltVolumes {
        let grounds = Grounds {
            surveyed: Some(surveyed),
            before,
            undisturbed,
            design,
        };
        SoFar::of(&grounds, built).volumes(&cut_fill(built, design))
    }

    /// A strip 1 wide, its heights along x.
    fn strip(heights: &[(f64, f64)]) -> Surface {
        let mut s = Surface::default();
        for &(x, z) in heights {
            s.points.extend([[x, 0.0, z], [x, 1.0, z]]);
        }
        for k in 0..heights.len() as u32 - 1 {
            let [a, b, c, d] = [2 * k, 2 * k + 2, 2 * k + 3, 2 * k + 1];
            s.triangles.extend([[a, b, c], [a, c, d]]);
            s.made_by.extend([0, 0]);
        }
        s
    }

    /// Ground at 0, a berm designed to 2, and 1 high so far but for its end, which is 3 high: by hand 6 to
    /// place and 2 to take off; beside it a pit designed to −1, half of it dug to −2.
    #[test]
    fn what_is_left_of_a_berm_and_a_pit() {
        let e = 1e-9;
        let flat = strip(&[(0.0, 0.0), (12.0, 0.0)]);
        let design = strip(&[(0.0, 2.0), (8.0, 2.0), (8.0 + e, -1.0), (12.0, -1.0)]);
        let built = strip(&[
            (0.0, 1.0),
            (6.0, 1.0),
            (6.0 + e, 3.0),
            (8.0, 3.0),
            (8.0 + e, 0.0),
            (10.0, 0.0),
            (10.0 + e, -2.0),
            (12.0, -2.0),
        ]);
        let v = volumes(&flat, &built, &design);
        for (what, found, wanted) in [
            ("dug", v.dug_m3, 4.0),
            ("placed", v.placed_m3, 12.0),
            ("to dig", v.to_dig_m3, 2.0),
            ("to take off", v.to_take_off_m3, 2.0),
            ("to place", v.to_place_m3, 6.0),
            ("over-dug", v.over_dug_m3, 2.0),
            ("missing", v.missing_m3, 8.0),
        ] {
            assert!(
                (found - wanted).abs() < 1e-6,
                "{what}: {found}, by hand {wanted}"
            );
        }
    }

    /// Shot and surveyed ground that cross: 4 long, from 1 under to 1 over, the design at the surveyed
    /// ground: 1 over-dug, 1 placed too much.
    #[test]
    fn grounds_that_cross_are_cut_along_their_line() {
        let flat = strip(&[(0.0, 0.0), (4.0, 0.0)]);
        let v = volumes(&flat, &strip(&[(0.0, -1.0), (4.0, 1.0)]), &flat);
        for (what, found, wanted) in [
            ("over-dug", v.over_dug_m3, 1.0),
            ("to take off", v.to_take_off_m3, 1.0),
            ("to dig", v.to_dig_m3, 0.0),
            ("to place", v.to_place_m3, 0.0),
        ] {
            assert!(
                (found - wanted).abs() < 1e-9,
                "{what}: {found}, by hand {wanted}"
            );
        }
    }

    /// Ground at 0. An earlier stage placed 1 on all of it; this one digs 6 of the 12 down to −1, is at −0.5
    /// in half of that and at 0.25 in the other, and raises the rest to 2, of which half is done and a strip
    /// of 1 is 0.5 too high. By hand, 1 wide: of what was dug 3 × 0.5 bank and 3 × 1 + 3 × 0.75 placed
    /// before; to dig 3 × 0.5 + 3 × 1 bank and 3 × 0.25 placed before.
    #[test]
    fn soil_of_earlier_stages_is_not_of_this_one() {
        let e = 1e-9;
        let flat = strip(&[(0.0, 0.0), (12.0, 0.0)]);
        let before = strip(&[(0.0, 1.0), (12.0, 1.0)]);
        let design = strip(&[(0.0, -1.0), (6.0, -1.0), (6.0 + e, 2.0), (12.0, 2.0)]);
        let built = strip(&[
            (0.0, -0.5),
            (3.0, -0.5),
            (3.0 + e, 0.25),
            (6.0, 0.25),
            (6.0 + e, 1.5),
            (11.0, 1.5),
            (11.0 + e, 2.5),
            (12.0, 2.5),
        ]);
        let v = in_stage(&flat, &before, &flat, &built, &design);
        for (what, found, wanted) in [
            ("dug since the survey", v.dug_m3, 1.5),
            ("placed since the survey", v.placed_m3, 0.75 + 7.5 + 2.5),
            ("dug, bank", v.stage_dug_m3, 1.5),
            ("dug, placed before", v.stage_redug_m3, 3.0 + 2.25),
            ("placed", v.stage_placed_m3, 2.5 + 1.5),
            ("to dig, bank", v.to_dig_m3, 1.5 + 3.0),
            ("to dig, placed before", v.to_redig_m3, 0.75),
            ("to take off", v.to_take_off_m3, 0.5),
            ("to place", v.to_place_m3, 2.5),
            ("over-dug", v.over_dug_m3, 0.0),
            ("missing", v.missing_m3, 2.5),
        ] {
            assert!(
                (found - wanted).abs() < 1e-6,
                "{what}: {found}, by hand {wanted}"
            );
        }
    }

    proptest::proptest! {
        /// Two grounds of other triangles, the second on part of the first: the lower and the higher cover
        /// their common plan once, and between them lies what lies between the two.
        #[test]
        fn lower_and_higher_cover_the_common_plan_once(
            first in proptest::collection::vec(-1.0f64..1.0, 16),
            second in proptest::collection::vec(-1.0f64..1.0, 16),
            lift in proptest::prop_oneof![
                proptest::strategy::Just(0.0),
                proptest::strategy::Just(0.8),
                proptest::strategy::Just(3.0),
                proptest::strategy::Just(-3.0),
            ],
            aside in 0.0f64..1.5,
        ) {
            let ground = |heights: &[f64], at: f64, side: f64, lift: f64| {
                let mut s = Surface::default();
                for (k, z) in heights.iter().enumerate() {
                    let (i, j) = (k % 4, k / 4);
                    let n = i as f64;
                    s.points.push([at + side * n, 0.7 * at + side * j as f64, z + lift]);
                    if i < 3 && j < 3 {
                        let k = k as u32;
                        s.triangles.extend([[k, k + 1, k + 5], [k, k + 5, k + 4]]);
                        s.made_by.extend([0, 0]);
                    }
                }
                s
            };
            let first = ground(&first, 0.0, 1.0, 0.0);
            let second = ground(&second, aside, 0.6, lift);
            let ([lower, higher], moved) = split(&first, &second);
            let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
            let area = |s: &Surface| -> f64 {
                let plan = |t: usize| s.corners(t).map(|[x, y, _]| [x, y]);
                (0..s.triangles.len()).map(|t| 0.5 * area2(&plan(t))).sum()
            };
            proptest::prop_assert!(near(area(&lower), moved.area));
            proptest::prop_assert!(near(area(&higher), moved.area));
            let between = cut_fill(&higher, &lower);
            proptest::prop_assert!(near(between.area, moved.area));
            proptest::prop_assert!(near(between.cut, moved.cut + moved.fill));
            proptest::prop_assert!(near(between.fill, 0.0));
            // One side alone comes to what both together have of it.
            proptest::prop_assert!(near(cut(&first, &second), moved.cut));
            proptest::prop_assert!(near(fill(&first, &second), moved.fill));
        }
    }
}
