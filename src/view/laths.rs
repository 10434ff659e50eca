//! Stakes as laths that stand where they are driven.

use bevy::math::Vec3;

use super::mesh::{Batch, Frame};
use super::stuff::Stuff;

/// Height over the ground, metres at true scale: a lath of the usual length, larger in a large yard, so
/// that it is seen.
pub fn tall(frame: &Frame) -> f32 {
    (frame.reach as f32 * 0.03).clamp(0.45, 1.6)
}

/// One lath on each of these feet. `extra` is how far up it is, 0 to 1.
pub fn laths(feet: impl Iterator<Item = Vec3>, frame: &Frame) -> Batch {
    let mut batch = Batch::default();
    let tall = tall(frame);
    let half = tall * 0.04;
    for foot in feet {
        // In the ground a little, where that falls.
        let around = |y: f32| {
            [(1.0, 1.0), (1.0, -1.0), (-1.0, -1.0), (-1.0, 1.0)]
                .map(|(x, z)| foot + Vec3::new(x * half, y, z * half))
        };
        let (low, high) = (around(-0.2 * tall), around(tall));
        for k in 0..4 {
            let j = (k + 1) % 4;
            batch.quad(
                [low[k], low[j], high[j], high[k]],
                [[0.0; 2], [0.0; 2], [1.0, 0.0], [1.0, 0.0]],
                Stuff::Lath,
            );
        }
        batch.quad(high, [[1.0, 0.0]; 4], Stuff::Lath);
    }
    batch
}
