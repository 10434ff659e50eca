//! From the pointer to a place while something is held: on a level plane, or up and down a plumb
//! line. Both hold still while the ground changes under the hand.

use bevy::prelude::{Vec2, Vec3};
use bevy_egui::egui::Pos2;

use crate::view::hand::Eye;

fn ray(eye: &Eye, pointer: Pos2) -> Option<(Vec3, Vec3)> {
    let ray = eye.ray(pointer)?;
    Some((ray.origin, *ray.direction))
}

/// The place in plan seen at a point of the window if everything lay at one level.
pub fn on_level(eye: &Eye, pointer: Pos2, level: f64) -> Option<[f64; 2]> {
    let (origin, way) = ray(eye, pointer)?;
    let y = eye.scene([0.0, 0.0, level]).y;
    let t = (y - origin.y) / way.y;
    let far = eye.yard.frame.reach as f32 * 12.0;
    if !t.is_finite() || t <= 0.0 || t > far {
        return None;
    }
    let p = eye.plan(origin + way * t);
    Some([p[0], p[1]])
}

/// The elevation on the plumb line at `p` that the pointer points at; `None` when it is seen from
/// straight above.
pub fn on_plumb(eye: &Eye, pointer: Pos2, p: [f64; 3]) -> Option<f64> {
    let (origin, way) = ray(eye, pointer)?;
    let foot = eye.scene(p);
    let rise = rise(origin, way, foot)?;
    Some(eye.plan(foot + Vec3::Y * rise)[2])
}

/// How far over `foot` a plumb line comes nearest to a sight line.
fn rise(origin: Vec3, way: Vec3, foot: Vec3) -> Option<f32> {
    let flat = Vec2::new(way.x, way.z);
    // Steeper than about 80 degrees a hair of the pointer is a yard of water.
    if flat.length_squared() < 0.03 {
        return None;
    }
    let to = Vec2::new(foot.x - origin.x, foot.z - origin.z);
    let t = to.dot(flat) / flat.length_squared();
    (t > 0.0).then_some(origin.y + t * way.y - foot.y)
}

/// Metres that one point of the window spans at a place.
pub fn metres_a_point(eye: &Eye, p: [f64; 3]) -> Option<f64> {
    let step = (eye.yard.frame.reach * 0.01).max(0.01);
    let here = eye.screen(eye.scene(p))?;
    let spans = [[p[0] + step, p[1], p[2]], [p[0], p[1] + step, p[2]]]
        .into_iter()
        .filter_map(|q| eye.screen(eye.scene(q)))
        .map(|q| q.distance(here));
    let longest = spans.fold(0.0f32, f32::max);
    (longest > 1e-3).then(|| step / f64::from(longest))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sight_line_meets_the_plumb_line() {
        let origin = Vec3::new(0.0, 10.0, 10.0);
        let foot = Vec3::new(0.0, 0.0, 0.0);
        let at = |height: f32| (Vec3::Y * height - origin).normalize();
        for height in [-1.0, 0.0, 2.5] {
            let found = rise(origin, at(height), foot).expect("a height");
            assert!((found - height).abs() < 1e-4, "{found} for {height}");
        }
        assert_eq!(rise(origin, Vec3::NEG_Y, foot), None);
        assert_eq!(rise(origin, Vec3::Z, foot), None);
    }
}
