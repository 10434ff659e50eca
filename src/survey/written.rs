//! A reading as the person wrote it: the unit the notes are kept in, and the digits that may have
//! changed places. Lengths in metres.
//!
//! The reduction never sees the typed text, so the unit is told from the readings themselves:
//! hundredths of a foot or sixteenths of an inch on a foot rod, whole millimetres on a metric one.

use crate::job::{FieldBook, Unit};
use crate::units::FOOT;

/// The unit that most readings are whole hundredths (feet) or millimetres (metres) of.
pub fn unit_of(book: &FieldBook) -> Unit {
    let (mut feet, mut metres) = (0usize, 0usize);
    for setup in &book.setups {
        for sight in std::iter::once(&setup.backsight).chain(&setup.sights) {
            feet += (whole(sight.rod / FOOT, 100.0) || whole(sight.rod / FOOT, 192.0)) as usize;
            metres += whole(sight.rod, 1000.0) as usize;
        }
    }
    if book.setups.is_empty() {
        let points = book.points.iter().flat_map(|p| [p.x, p.y, p.z]);
        let pegs = book.pegs.iter().flat_map(|p| p.at);
        let lines = book.baselines.iter().flat_map(|b| [b.from, b.to]);
        // A bare 0 is whole in both.
        for v in points
            .chain(pegs)
            .chain(lines.flatten())
            .filter(|v| *v != 0.0)
        {
            feet += (whole(v / FOOT, 100.0) || whole(v / FOOT, 192.0)) as usize;
            metres += whole(v, 1000.0) as usize;
        }
    }
    if feet == metres && book.setups.is_empty() {
        // Without notes only the rod tells: 13 ft and the like against 4 m and 5 m.
        return if whole(book.rod_length / FOOT, 2.0) && !whole(book.rod_length, 2.0) {
            Unit::Foot
        } else {
            Unit::Metre
        };
    }
    if metres > feet {
        Unit::Metre
    } else {
        Unit::Foot
    }
}

fn whole(value: f64, parts: f64) -> bool {
    let scaled = value * parts;
    (scaled - scaled.round()).abs() < 1e-4
}

/// A length for a finding: "0.42 ft", "0.128 m".
pub fn length(unit: Unit, metres: f64) -> String {
    format!("{} {}", figure(unit, metres), name(unit))
}

/// A reading or elevation without its unit.
pub fn figure(unit: Unit, metres: f64) -> String {
    match unit {
        Unit::Foot => signed(metres / FOOT, 2),
        Unit::Metre => signed(metres, 3),
    }
}

/// A misclosure or an allowance, to one more digit in feet.
pub fn fine(unit: Unit, metres: f64) -> String {
    match unit {
        Unit::Foot => format!("{} ft", signed(metres / FOOT, 3)),
        Unit::Metre => format!("{} m", signed(metres, 4)),
    }
}

fn name(unit: Unit) -> &'static str {
    match unit {
        Unit::Foot => "ft",
        Unit::Metre => "m",
    }
}

/// With a minus sign where there is one; what rounds to nothing has none.
fn signed(value: f64, places: usize) -> String {
    let text = format!("{:.places$}", value.abs());
    if value < 0.0 && text.contains(|c: char| ('1'..='9').contains(&c)) {
        format!("−{text}")
    } else {
        text
    }
}

/// Every other reading that comes of two neighbouring digits changing places, as the reading
/// would be written: feet with two decimals, metres with three.
pub fn transposed(unit: Unit, rod: f64) -> Vec<f64> {
    let (scale, back) = match unit {
        Unit::Foot => (100.0 / FOOT, FOOT / 100.0),
        Unit::Metre => (1000.0, 0.001),
    };
    let scaled = rod * scale;
    if !(0.0..1e6).contains(&scaled) || (scaled - scaled.round()).abs() > 1e-3 {
        return Vec::new();
    }
    let least = if unit == Unit::Foot { 3 } else { 4 };
    let digits = format!("{:0width$}", scaled.round() as u64, width = least);
    let digits = digits.as_bytes();
    (1..digits.len())
        .filter(|&k| digits[k - 1] != digits[k])
        .filter_map(|k| {
            let mut other = digits.to_vec();
            other.swap(k - 1, k);
            let value: f64 = std::str::from_utf8(&other).ok()?.parse().ok()?;
            Some(value * back)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_change_places_as_written() {
        let feet: Vec<f64> = transposed(Unit::Foot, 5.45 * FOOT)
            .iter()
            .map(|r| (r / FOOT * 100.0).round() / 100.0)
            .collect();
        assert_eq!(feet, [4.55, 5.54]);
        let metres: Vec<f64> = transposed(Unit::Metre, 1.454)
            .iter()
            .map(|r| (r * 1000.0).round() / 1000.0)
            .collect();
        assert_eq!(metres, [4.154, 1.544, 1.445]);
        assert!(transposed(Unit::Foot, f64::NAN).is_empty());
    }
}
