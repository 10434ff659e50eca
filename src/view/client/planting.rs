//! The planting edge: tufts and low mounds on planted soil, and stones laid along the water.
//!
//! Drawn for looks, neither surveyed nor specified. The same job gives the same plants: they are
//! drawn by lot from their numbers alone. Metres.

use bevy::math::Vec3;

use crate::plan::{Kind, MadeBy, Plan};

use crate::view::Look;
use crate::view::drape::Drape;
use crate::view::mesh::{Batch, Frame};
use crate::view::stuff::Stuff;

/// Plants on a square metre of planted soil, and the most on a yard.
const DENSE: f64 = 8.0;
const MOST: usize = 6000;
/// Between the middles of stones along the water.
const APART: f64 = 0.2;

/// Numbers from 0 to 1, one after another.
struct Lot(u32);

impl Lot {
    fn draw(&mut self) -> f64 {
        // A counter stirred by multiplications and shifts (from memory: the usual 32-bit finish).
        self.0 = self.0.wrapping_add(0x9e37_79b9);
        let mut v = self.0;
        v = (v ^ (v >> 16)).wrapping_mul(0x85eb_ca6b);
        v = (v ^ (v >> 13)).wrapping_mul(0xc2b2_ae35);
        f64::from(v ^ (v >> 16)) / f64::from(u32::MAX)
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.draw()
    }
}

/// What was drawn, and where each of it stands: for what only needs to know how wide and how tall.
#[derive(Default)]
pub struct Planted {
    pub batch: Batch,
    pub clumps: Vec<Clump>,
}

/// A plant or a stone as a dome. Scene.
pub struct Clump {
    pub foot: Vec3,
    pub wide: f32,
    pub tall: f32,
    /// As code values.
    pub tint: [u8; 3],
}

impl Planted {
    pub fn append(&mut self, other: Planted) {
        self.batch.append(other.batch);
        self.clumps.extend(other.clumps);
    }
}

pub fn plants(plan: &Plan, frame: &Frame, under_water: impl Fn([f64; 2], f64) -> bool) -> Planted {
    let mut planted = Planted::default();
    let Planted { batch, clumps } = &mut planted;
    let mut lot = Lot(1);
    let surface = &plan.finished;
    let mut left = MOST;
    for t in 0..surface.triangles.len() {
        let by = surface.made_by.get(t).copied().unwrap_or(0);
        let made = plan.makers.get(usize::from(by));
        if Stuff::of(made, Look::Finished) != Stuff::Bed {
            continue;
        }
        let [a, b, c] = surface.corners(t);
        let area = 0.5 * ((b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])).abs();
        let count = (area * DENSE + lot.draw()) as usize;
        for _ in 0..count.min(left) {
            left -= 1;
            let (mut u, mut v) = (lot.draw(), lot.draw());
            if u + v > 1.0 {
                (u, v) = (1.0 - u, 1.0 - v);
            }
            let p = [0, 1, 2].map(|k| a[k] + u * (b[k] - a[k]) + v * (c[k] - a[k]));
            if under_water([p[0], p[1]], p[2]) {
                continue;
            }
            let foot = frame.scene(p);
            clumps.push(if lot.draw() < 0.45 {
                tuft(batch, &mut lot, foot)
            } else {
                mound(batch, &mut lot, foot)
            });
        }
    }
    planted
}

/// Narrow leaves that lean out from one foot.
fn tuft(batch: &mut Batch, lot: &mut Lot, foot: Vec3) -> Clump {
    let tall = lot.between(0.16, 0.42);
    let tone = lot.between(0.0, 0.33);
    let leaves = 11;
    for k in 0..leaves {
        let turn = (f64::from(k) + lot.draw()) / f64::from(leaves) * std::f64::consts::TAU;
        let out = Vec3::new(turn.cos() as f32, 0.0, turn.sin() as f32);
        let side = Vec3::new(-out.z, 0.0, out.x) * 0.011;
        let high = (tall * lot.between(0.7, 1.0)) as f32;
        let lean = high * lot.between(0.25, 0.75) as f32;
        let knee = foot + out * lean * 0.35 + Vec3::Y * high * 0.65;
        let tip = foot + out * lean + Vec3::Y * high;
        let tone = (tone + lot.between(0.0, 0.1)) as f32;
        let up = (Vec3::Y + out * 0.5).normalize();
        let strip = [
            (foot - side, 0.0),
            (foot + side, 0.0),
            (knee + side, 0.7),
            (foot - side, 0.0),
            (knee + side, 0.7),
            (knee - side, 0.7),
            (knee - side, 0.7),
            (knee + side, 0.7),
            (tip, 1.0),
        ];
        for (at, up_to) in strip {
            batch.corner(at, up, [tone, up_to], Stuff::Leaf);
        }
    }
    Clump {
        foot,
        wide: 0.4 * tall as f32,
        tall: 0.9 * tall as f32,
        tint: [106, 126, 68],
    }
}

/// Many small leaves over a low dome, some of them flowers.
fn mound(batch: &mut Batch, lot: &mut Lot, foot: Vec3) -> Clump {
    let wide = lot.between(0.12, 0.27);
    let tall = wide * lot.between(0.55, 0.9);
    let tone = lot.between(0.4, 0.9);
    let flowers = lot.draw() < 0.28;
    for _ in 0..90 {
        let turn = lot.draw() * std::f64::consts::TAU;
        let rise = lot.draw();
        let flat = (1.0 - rise * rise).sqrt();
        let way = Vec3::new(
            (turn.cos() * flat) as f32,
            rise as f32,
            (turn.sin() * flat) as f32,
        );
        let at = foot
            + Vec3::new(
                way.x * wide as f32,
                way.y * tall as f32,
                way.z * wide as f32,
            );
        let size = lot.between(0.016, 0.032) as f32;
        let flower = flowers && rise > 0.35 && lot.draw() < 0.35;
        let tone = if flower {
            2.0
        } else {
            (tone + lot.between(-0.1, 0.1)) as f32
        };
        let across = Vec3::new(-way.z, 0.3 * way.x, way.x).normalize_or(Vec3::X);
        let along = way.cross(across).normalize_or(Vec3::Z) + way * 0.4;
        let up = (way + Vec3::Y * 0.4).normalize_or(Vec3::Y);
        let light = (0.35 + 0.65 * rise) as f32;
        let leaf = [
            at - across * size,
            at + along * size * 1.5,
            at + across * size,
            at - across * size,
            at + across * size,
            at - along * size * 1.2,
        ];
        for corner in leaf {
            batch.corner(corner, up, [tone, light], Stuff::Leaf);
        }
    }
    Clump {
        foot,
        wide: wide as f32,
        tall: tall as f32,
        tint: if flowers {
            [132, 136, 108]
        } else {
            [96, 114, 72]
        },
    }
}

/// Rounded stones half in the ground where the water ends, not on lips and not at walls.
pub fn edging(plan: &Plan, drape: &Drape, frame: &Frame) -> Planted {
    let mut planted = Planted::default();
    let Planted { batch, clumps } = &mut planted;
    let mut lot = Lot(77);
    let maker = |t: usize| -> Option<&MadeBy> {
        let by = plan.finished.made_by.get(t)?;
        plan.makers.get(usize::from(*by))
    };
    for water in &plan.water {
        for ring in &water.edge {
            let n = ring.len();
            let mut owed = 0.0;
            for k in 0..n {
                let (a, b) = (ring[k], ring[(k + 1) % n]);
                let d = [b[0] - a[0], b[1] - a[1]];
                let length = d[0].hypot(d[1]);
                if length < 1e-6 {
                    continue;
                }
                let mut s = APART - owed;
                while s <= length {
                    let size = lot.between(0.07, 0.15);
                    let aside = lot.between(-0.02, 0.05);
                    let p = [0, 1].map(|i| a[i] + d[i] * s / length);
                    // Bodies of water keep their inside on one side of the ring; either may be it.
                    let away = [d[1] / length, -d[0] / length];
                    let dry = [1.0, -1.0].map(|side| {
                        let q = [p[0] + side * 0.12 * away[0], p[1] + side * 0.12 * away[1]];
                        drape.triangle(q).map(|t| (side, drape.height(q), maker(t)))
                    });
                    let land = dry.into_iter().flatten().max_by(|a, b| {
                        let z = |h: &Option<f64>| h.unwrap_or(f64::MIN);
                        z(&a.1).total_cmp(&z(&b.1))
                    });
                    if let Some((side, Some(z), made)) = land {
                        let bare = made.is_some_and(|m| {
                            m.part == "lip" || matches!(m.kind, Kind::Wall | Kind::StandingWall)
                        });
                        if !bare && z < water.level_m + 0.45 {
                            let at = [
                                p[0] + side * aside * away[0],
                                p[1] + side * aside * away[1],
                                water.level_m + lot.between(-0.03, 0.02),
                            ];
                            let foot = frame.scene(at);
                            stone(batch, &mut lot, foot, size as f32);
                            clumps.push(Clump {
                                foot,
                                wide: size as f32,
                                tall: 0.7 * size as f32,
                                tint: [158, 149, 134],
                            });
                        }
                    }
                    s += APART * lot.between(0.7, 1.35) * (size / 0.11);
                }
                owed = (APART - (s - length)).clamp(0.0, APART);
            }
        }
    }
    planted
}

/// A dented ball: an octahedron cut finer once, its corners drawn in and out.
fn stone(batch: &mut Batch, lot: &mut Lot, at: Vec3, size: f32) {
    let turn = (lot.draw() * std::f64::consts::TAU) as f32;
    let wide = Vec3::new(
        size * lot.between(0.9, 1.5) as f32,
        size * lot.between(0.55, 0.85) as f32,
        size * lot.between(0.8, 1.1) as f32,
    );
    let tone = lot.draw() as f32;
    let seed = (lot.draw() * 1e6) as u32;
    let place = |v: Vec3| {
        let v = v.normalize();
        // The same corner of every face that shares it.
        let key = (v * 7.0).round();
        let mut own = Lot(seed
            ^ (key.x as i32 as u32).wrapping_mul(73_856_093)
            ^ (key.y as i32 as u32).wrapping_mul(19_349_663)
            ^ (key.z as i32 as u32).wrapping_mul(83_492_791));
        let v = v * own.between(0.84, 1.1) as f32 * wide;
        bevy::math::Quat::from_rotation_y(turn) * v
    };
    let axes = [Vec3::X, Vec3::Z, Vec3::NEG_X, Vec3::NEG_Z];
    for pole in [Vec3::Y, Vec3::NEG_Y] {
        for k in 0..4 {
            let (mut a, mut b) = (axes[k], axes[(k + 1) % 4]);
            if pole.y > 0.0 {
                (a, b) = (b, a);
            }
            let [ab, bp, pa] = [a + b, b + pole, pole + a];
            for face in [[a, ab, pa], [ab, b, bp], [pa, bp, pole], [ab, bp, pa]] {
                for v in face {
                    let p = place(v);
                    let normal = (p / (wide * wide)).normalize_or(Vec3::Y);
                    batch.corner(at + p, normal, [tone, 0.0], Stuff::Rock);
                }
            }
        }
    }
}
