//! Where the camera stands: the first sight of a yard, and framing it.

use bevy::math::{Quat, Vec2, Vec3};

use crate::plan::Plan;

use super::drape::Drape;
use super::mesh::Frame;

/// Vertical angle of view, radians: long, so that the model looks like a model.
pub const ANGLE: f32 = 26.0 * std::f32::consts::PI / 180.0;
pub const PITCH: f32 = 36.0 * std::f32::consts::PI / 180.0;
/// How far round from straight uphill the first sight is.
const ASIDE: f64 = -22.0 * std::f64::consts::PI / 180.0;

/// A camera on its orbit.
#[derive(Debug, Clone, Copy)]
pub struct Sight {
    pub focus: Vec3,
    pub yaw: f32,
    pub pitch: f32,
    pub radius: f32,
}

impl Sight {
    pub fn rotation(&self) -> Quat {
        Quat::from_rotation_y(self.yaw) * Quat::from_rotation_x(-self.pitch)
    }

    pub fn eye(&self) -> Vec3 {
        self.focus + self.rotation() * Vec3::new(0.0, 0.0, self.radius)
    }
}

/// The same sight with its focus on the ground, so that turning and coming nearer keep to what is
/// seen in the middle.
pub fn onto(sight: Sight, ground: &Drape, frame: &Frame) -> Sight {
    const STEPS: usize = 400;
    let eye = sight.eye();
    let ahead = sight.rotation() * Vec3::NEG_Z;
    for k in 1..=STEPS {
        let radius = sight.radius * 1.6 * k as f32 / STEPS as f32;
        let at = eye + ahead * radius;
        let p = frame.plan(at);
        if ground.height([p[0], p[1]]).is_some_and(|z| p[2] <= z) {
            return Sight {
                focus: at,
                radius,
                ..sight
            };
        }
    }
    sight
}

/// Looks uphill and towards the walls, so that neither hides the water.
pub fn first_yaw(plan: &Plan, frame: &Frame) -> f32 {
    let mut up = [0.0, 0.0];
    let points = &plan.existing.points;
    let count = points.len().max(1) as f64;
    let mean = points.iter().map(|p| p[2]).sum::<f64>() / count;
    for p in points {
        for (k, u) in up.iter_mut().enumerate() {
            *u += (p[2] - mean) * (p[k] - frame.centre[k]) / count;
        }
    }
    for solid in &plan.solids {
        let n = solid.footprint.len().max(1) as f64;
        for (k, u) in up.iter_mut().enumerate() {
            let at = solid.footprint.iter().map(|p| p[k]).sum::<f64>() / n;
            *u += 0.3 * (solid.cap - mean).max(0.0) * (at - frame.centre[k]);
        }
    }
    if up[0].hypot(up[1]) < 1e-6 {
        return ASIDE as f32;
    }
    ((-up[0]).atan2(up[1]) + ASIDE) as f32
}

/// The closest sight in a direction that shows all of the given points.
pub fn framing(points: &[Vec3], yaw: f32, pitch: f32, aspect: f32, margin: f32) -> Sight {
    let mut sight = Sight {
        focus: Vec3::ZERO,
        yaw,
        pitch,
        radius: 1.0,
    };
    let turn = sight.rotation();
    let tall = (ANGLE / 2.0).tan() / margin;
    let wide = tall * aspect;
    let seen: Vec<Vec3> = points.iter().map(|p| turn.inverse() * *p).collect();
    let mut focus = Vec3::ZERO;
    for _ in 0..6 {
        sight.radius = seen
            .iter()
            .map(|p| {
                let p = *p - focus;
                p.z + (p.x.abs() / wide).max(p.y.abs() / tall)
            })
            .fold(0.1, f32::max);
        // Centre what is seen, then come closer again.
        let (mut low, mut high) = (Vec2::splat(f32::MAX), Vec2::splat(f32::MIN));
        for p in &seen {
            let p = *p - focus;
            let on = p.truncate() / (sight.radius - p.z).max(0.1);
            low = low.min(on);
            high = high.max(on);
        }
        let shift = (low + high) / 2.0 * sight.radius;
        if !shift.is_finite() {
            break;
        }
        focus += shift.extend(0.0);
    }
    sight.focus = turn * focus;
    sight
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn framing_shows_every_corner_and_wastes_little() {
        let mut corners = Vec::new();
        for x in [-8.0, 8.0] {
            for y in [-1.0, 1.5] {
                for z in [-6.0, 6.0] {
                    corners.push(Vec3::new(x, y, z));
                }
            }
        }
        let (aspect, margin) = (1.6, 1.05);
        let sight = framing(&corners, 0.7, 0.6, aspect, margin);
        let tall = (ANGLE / 2.0).tan();
        let mut widest = 0.0f32;
        for c in &corners {
            let p = sight.rotation().inverse() * (*c - sight.eye());
            let on = Vec2::new(p.x / (-p.z * tall * aspect), p.y / (-p.z * tall));
            assert!(on.abs().max_element() <= 1.0, "{c} falls outside: {on}");
            widest = widest.max(on.abs().max_element());
        }
        assert!(widest > 0.9, "reaches only {widest} of the way to the edge");
    }
}
