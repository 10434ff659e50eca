//! Shots as pins that stand where the rod stood.

use bevy::math::Vec3;

use crate::survey::Spot;

use super::mesh::{Batch, Frame};
use super::stuff::Stuff;

/// Where a pin's label goes: its head.
pub fn head(spot: &Spot, frame: &Frame) -> Vec3 {
    frame.scene([spot.x, spot.y, spot.z]) + Vec3::Y * (tall(frame) * 1.15)
}

fn tall(frame: &Frame) -> f32 {
    (frame.reach as f32 * 0.022).clamp(0.08, 1.0)
}

pub fn pins(spots: &[Spot], frame: &Frame) -> Batch {
    let mut batch = Batch::default();
    let tall = tall(frame);
    let (stick, ball) = (tall * 0.035, tall * 0.17);
    for spot in spots {
        let foot = frame.scene([spot.x, spot.y, spot.z]);
        let around = |r: f32, y: f32| {
            [0, 1, 2, 3].map(|k| {
                let (x, z) = [(1.0, 0.0), (0.0, -1.0), (-1.0, 0.0), (0.0, 1.0)][k];
                foot + Vec3::new(x * r, y, z * r)
            })
        };
        let (low, high) = (around(stick, 0.0), around(stick, tall));
        let (middle, top) = (around(ball, tall), foot + Vec3::Y * (tall + ball));
        let bottom = foot + Vec3::Y * (tall - ball);
        for k in 0..4 {
            let j = (k + 1) % 4;
            batch.quad(
                [low[k], low[j], high[j], high[k]],
                [[0.0; 2]; 4],
                Stuff::Pin,
            );
            batch.triangle([middle[k], middle[j], top], [[0.0; 2]; 3], Stuff::Pin);
            batch.triangle([middle[j], middle[k], bottom], [[0.0; 2]; 3], Stuff::Pin);
        }
    }
    batch
}
