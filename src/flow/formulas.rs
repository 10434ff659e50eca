//! Formulas of the trade for lips, channels and pipes. SI.
//!
//! Francis: USBR Water Measurement Manual, ch. 7 (3.33 in feet). Critical depth, Manning, orifice,
//! Hazen-Williams, Darcy-Weisbach, Colebrook: handbooks of hydraulics, from memory. Checked against
//! PyPI `fluids` in `tests/outside/test_flow.py`. Water at 15 to 20 °C.

use std::f64::consts::PI;

use crate::units::FOOT;

pub const G: f64 = 9.80665;
/// Kinematic viscosity of water at 20 °C, m²/s (from memory).
pub const VISCOSITY: f64 = 1.004e-6;
/// Coefficient of a sharp-edged orifice (handbooks, from memory).
pub const ORIFICE: f64 = 0.61;
/// Least head over the lip for which the weir formula was measured, 0.2 ft (from memory).
pub const LEAST_HEAD: f64 = 0.2 * FOOT;

/// Francis for a contracted lip: Q = 3.33 (L − 0.2 H) H^1.5 in feet.
pub fn francis(length: f64, head: f64) -> f64 {
    3.33 * FOOT.sqrt() * (length - 0.2 * head).max(0.0) * head.powf(1.5)
}

/// The head that gives a flow by Francis; `None` if no head does (the lip is too narrow for it).
pub fn francis_head(length: f64, flow: f64) -> Option<f64> {
    // The contracted flow grows up to H = 3 L; far below that the formula is out of its range.
    let most = 3.0 * length;
    (francis(length, most) >= flow).then(|| root(0.0, most, |h| francis(length, h) - flow))
}

/// Head of a contracted lip over whose crest the water below stands by `below`: Francis, its flow reduced
/// by (1 − (below / head)^1.5)^0.385 (J. R. Villemonte 1947, "Submerged-weir discharge studies", from
/// memory). `None` if no head gives the flow.
pub fn drowned_head(length: f64, flow: f64, below: f64) -> Option<f64> {
    let carries = |h: f64| {
        let share = 1.0 - (below / h).powf(1.5);
        francis(length, h) * share.max(0.0).powf(0.385)
    };
    let most = 3.0 * length;
    (below < most && carries(most) >= flow).then(|| root(below, most, |h| carries(h) - flow))
}

/// Depth at the brink of a level sill: critical.
pub fn critical_depth(width: f64, flow: f64) -> f64 {
    ((flow / width).powi(2) / G).cbrt()
}

/// Water on a level sill.
#[derive(Debug, Clone, Copy)]
pub struct OnSill {
    /// Head over it where the water comes onto it, m.
    pub head: f64,
    /// Mean depth on it, m.
    pub depth: f64,
}

/// A flow along a level sill that ends in a brink: critical there, and upstream deeper as friction by
/// Manning asks for (gradually varied flow, dx = (1 − (yc / y)³) dy / S; handbooks of hydraulics, from
/// memory).
pub fn level_sill(width: f64, length: f64, flow: f64, n: f64) -> OnSill {
    let brink = critical_depth(width, flow);
    let energy = |y: f64| y + (flow / (width * y)).powi(2) / (2.0 * G);
    if brink <= 0.0 || length <= 0.0 {
        return OnSill {
            head: 1.5 * brink,
            depth: brink,
        };
    }
    // Metres of sill for each metre of depth gained.
    let way = |y: f64| (1.0 - (brink / y).powi(3)) / manning_slope(width, y, flow, n);
    // By depths a twentieth apart, each stretch by Simpson.
    let (mut y, mut x, mut water) = (brink, 0.0, 0.0);
    loop {
        let stretch = |to: f64| {
            let (h, m) = (to - y, 0.5 * (y + to));
            let [a, b, c] = [way(y), way(m), way(to)];
            (
                h / 6.0 * (a + 4.0 * b + c),
                h / 6.0 * (y * a + 4.0 * m * b + to * c),
            )
        };
        let next = 1.05 * y;
        let (dx, dw) = stretch(next);
        if x + dx < length && next < 1e3 * brink {
            (x, water, y) = (x + dx, water + dw, next);
            continue;
        }
        // Newton from beyond: the further, the more way for each bit of depth.
        let mut last = next;
        for _ in 0..20 {
            let off = x + stretch(last).0 - length;
            let step = off / way(last);
            last = (last - step).clamp(y, next);
            if step.abs() < 1e-13 * last {
                break;
            }
        }
        water += stretch(last).1;
        return OnSill {
            head: energy(last),
            depth: water / length,
        };
    }
}

/// Loss of head for each metre of a channel by Manning.
pub fn manning_slope(width: f64, depth: f64, flow: f64, n: f64) -> f64 {
    let area = width * depth;
    let radius = area / (width + 2.0 * depth);
    (flow * n / (area * radius.powf(2.0 / 3.0))).powi(2)
}

/// Flow of a full round pipe by Manning.
pub fn manning_full(diameter: f64, slope: f64, n: f64) -> f64 {
    let area = PI / 4.0 * diameter * diameter;
    area * (diameter / 4.0).powf(2.0 / 3.0) * slope.sqrt() / n
}

/// Flow into a round mouth with water `head` above its middle.
pub fn orifice(diameter: f64, head: f64) -> f64 {
    ORIFICE * PI / 4.0 * diameter * diameter * (2.0 * G * head.max(0.0)).sqrt()
}

pub fn velocity(diameter: f64, flow: f64) -> f64 {
    flow / (PI / 4.0 * diameter * diameter)
}

/// h = 10.67 L Q^1.852 / (C^1.852 d^4.8704).
pub fn hazen_williams(length: f64, diameter: f64, flow: f64, c: f64) -> f64 {
    10.67 * length * (flow / c).powf(1.852) / diameter.powf(4.8704)
}

/// Friction factor: laminar below Reynolds 2,000, Colebrook above.
pub fn friction_factor(reynolds: f64, relative: f64) -> f64 {
    if reynolds < 2000.0 {
        return 64.0 / reynolds;
    }
    // In x = 1/√f the equation is nearly straight: Newton settles within a few steps.
    let (a, b) = (relative / 3.7, 2.51 / reynolds);
    let mut x = -2.0 * (a + 5.74 / reynolds.powf(0.9)).log10();
    for _ in 0..30 {
        let inner = a + b * x;
        let step = (x + 2.0 * inner.log10()) / (1.0 + 2.0 * b / (inner * std::f64::consts::LN_10));
        x -= step;
        if step.abs() < 1e-14 * x.abs() {
            break;
        }
    }
    1.0 / (x * x)
}

pub fn darcy_weisbach(length: f64, diameter: f64, flow: f64, roughness: f64) -> f64 {
    let v = velocity(diameter, flow);
    if v <= 0.0 {
        return 0.0;
    }
    let f = friction_factor(v * diameter / VISCOSITY, roughness / diameter);
    f * length / diameter * v * v / (2.0 * G)
}

/// Where a function that rises from below zero crosses it, by bisection to the last digit.
pub fn root(mut low: f64, mut high: f64, f: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if f(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{CUBIC_FOOT, INCH};

    fn close(found: f64, wanted: f64, relative: f64) {
        assert!(
            (found - wanted).abs() <= relative * wanted.abs(),
            "found {found}, wanted {wanted}"
        );
    }

    /// Half as high below as above: 1 − 0.5^1.5 = 0.646447, to the power of 0.385 (by a pocket calculator)
    /// 0.845386. With nothing below it is the free lip.
    #[test]
    fn a_drowned_lip_carries_villemontes_share() {
        let free = francis(1.0, 0.1);
        close(
            drowned_head(1.0, 0.845_386 * free, 0.05).expect("a head"),
            0.1,
            1e-5,
        );
        close(drowned_head(1.0, free, 0.0).expect("a head"), 0.1, 1e-12);
        assert!(drowned_head(0.01, free, 0.05).is_none());
    }

    /// USBR Water Measurement Manual, ch. 7: 3.33 (L − 0.2 H) H^1.5. By hand for L = 2 ft,
    /// H = 0.25 ft: 3.33 × 1.95 × 0.125 = 0.811 688 ft³/s.
    #[test]
    fn francis_by_hand() {
        close(
            francis(2.0 * FOOT, 0.25 * FOOT),
            0.8116875 * CUBIC_FOOT,
            1e-12,
        );
        let head = francis_head(2.0 * FOOT, 0.8116875 * CUBIC_FOOT);
        close(head.unwrap_or(0.0), 0.25 * FOOT, 1e-12);
        assert_eq!(francis_head(0.01, 1.0), None);
    }

    /// The same formula as handbooks print it in customary units (from memory): feet of head in
    /// 100 ft = 0.2083 (100/C)^1.852 (gal/min)^1.852 / (inches)^4.8655. Their rounded figures leave
    /// 2 % between the two forms. 2 in Schedule 40 plastic, 40 gal/min.
    #[test]
    fn a_two_inch_pipe_in_customary_units() {
        let flow = 40.0 * 0.003_785_411_784 / 60.0;
        let (d, l) = (2.067 * INCH, 100.0 * FOOT);
        // 40 gal/min = 0.08912 ft³/s over 0.023302 ft².
        close(velocity(d, flow) / FOOT, 0.089_120 / 0.023_302, 1e-3);
        let customary = 0.2083 * (100.0f64 / 150.0 * 40.0).powf(1.852) / 2.067f64.powf(4.8655);
        close(hazen_williams(l, d, flow, 150.0) / FOOT, customary, 0.02);
        // The second opinion, for the same smooth pipe: within a tenth.
        close(
            darcy_weisbach(l, d, flow, 1.5e-6),
            hazen_williams(l, d, flow, 150.0),
            0.1,
        );
    }

    /// The factor put into Colebrook's equation must solve it.
    #[test]
    fn colebrook_is_solved() {
        for re in [4e3, 1e5, 1e7] {
            for rel in [0.0, 1e-5, 1e-3, 0.05] {
                let f = friction_factor(re, rel);
                let right = -2.0 * (rel / 3.7 + 2.51 / (re * f.sqrt())).log10();
                close(1.0 / f.sqrt(), right, 1e-12);
            }
        }
        close(friction_factor(1000.0, 0.01), 0.064, 1e-15);
    }

    /// The same flow by small steps of the sill from the brink on, each by the mean slope of its ends; by
    /// hand a broad sill without friction is 1.5 critical depths high.
    #[test]
    fn a_sill_is_as_deep_as_small_steps_make_it() {
        let (width, n) = (0.6, 0.03);
        for (flow, length) in [(2.7e-5, 0.3), (2.6e-4, 0.3), (2.5e-3, 0.3), (2.5e-3, 1.2)] {
            let brink = critical_depth(width, flow);
            let energy = |y: f64| y + (flow / (width * y)).powi(2) / (2.0 * G);
            let steps = 200_000;
            let dx = length / f64::from(steps);
            let (mut y, mut e, mut water) = (brink, 1.5 * brink, 0.0);
            for _ in 0..steps {
                let s = manning_slope(width, y, flow, n);
                e += s * dx;
                y = root(brink, e, |y| energy(y) - e);
                water += y * dx;
            }
            let made = level_sill(width, length, flow, n);
            close(made.head, e, 2e-3);
            close(made.depth, water / length, 2e-3);
        }
        let smooth = level_sill(1.0, 0.3, 0.01, 1e-9);
        close(smooth.head, 1.5 * critical_depth(1.0, 0.01), 1e-6);
        // More flow, more head: over all the flows that a lip may have.
        let heads: Vec<f64> = (0..60)
            .map(|k| level_sill(0.6, 0.3, 1e-5 * 1.15f64.powi(k), 0.03).head)
            .collect();
        assert!(heads.windows(2).all(|w| w[1] > w[0]), "{heads:?}");
    }

    /// A full pipe is a channel: with the slope that Manning's loss gives back, one flow.
    #[test]
    fn manning_both_ways() {
        // Handbook, from memory: 4 in pipe at 1 %, n = 0.010: about 0.25 ft³/s.
        close(
            manning_full(4.0 * INCH, 0.01, 0.010) / CUBIC_FOOT,
            0.25,
            0.02,
        );
        // A wide channel 0.1 m deep at 1 %: V = 0.1^(2/3) × 0.1 / 0.03.
        let v = 0.1f64.powf(2.0 / 3.0) * 0.1 / 0.03;
        close(manning_slope(1e6, 0.1, v * 1e5, 0.03), 0.01, 1e-5);
    }
}
