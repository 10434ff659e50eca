//! Text and JSON faces of the plan.

use crate::job::Unit;

/// A length in the job's unit.
pub fn length(unit: Unit, metres: f64) -> String {
    match unit {
        Unit::Foot => format!("{:.2} ft", metres / 0.3048),
        Unit::Metre => format!("{metres:.3} m"),
    }
}

/// A volume of soil in the job's unit.
pub fn volume(unit: Unit, m3: f64) -> String {
    match unit {
        Unit::Foot => format!("{:.1} yd³", m3 / 0.764554857984),
        Unit::Metre => format!("{m3:.1} m³"),
    }
}
