//! Figures in the unit of the job. Input is always SI.
//!
//! Factors are those of [`crate::units`].

use crate::job::Unit;
use crate::units::{CUBIC_YARD, FOOT, GALLON};

#[derive(Debug, Clone, Copy)]
pub struct Measure(pub Unit);

impl Measure {
    pub fn length_unit(self) -> &'static str {
        match self.0 {
            Unit::Foot => "ft",
            Unit::Metre => "m",
        }
    }

    pub fn area_unit(self) -> &'static str {
        match self.0 {
            Unit::Foot => "ft²",
            Unit::Metre => "m²",
        }
    }

    pub fn volume_unit(self) -> &'static str {
        match self.0 {
            Unit::Foot => "yd³",
            Unit::Metre => "m³",
        }
    }

    pub fn water_unit(self) -> &'static str {
        match self.0 {
            Unit::Foot => "gal",
            Unit::Metre => "L",
        }
    }

    /// Hundredths of a foot or millimetres, without the unit: for columns.
    pub fn bare(self, metres: f64) -> String {
        match self.0 {
            Unit::Foot => number(metres / FOOT, 2),
            Unit::Metre => number(metres, 3),
        }
    }

    /// Thousandths of a foot or tenths of a millimetre: misclosures and corrections.
    pub fn bare_fine(self, metres: f64) -> String {
        match self.0 {
            Unit::Foot => number(metres / FOOT, 3),
            Unit::Metre => number(metres, 4),
        }
    }

    pub fn length(self, metres: f64) -> String {
        format!("{} {}", self.bare(metres), self.length_unit())
    }

    pub fn fine(self, metres: f64) -> String {
        format!("{} {}", self.bare_fine(metres), self.length_unit())
    }

    pub fn bare_area(self, m2: f64) -> String {
        match self.0 {
            Unit::Foot => number(m2 / (FOOT * FOOT), 0),
            Unit::Metre => number(m2, 1),
        }
    }

    pub fn area(self, m2: f64) -> String {
        format!("{} {}", self.bare_area(m2), self.area_unit())
    }

    pub fn bare_volume(self, m3: f64) -> String {
        match self.0 {
            Unit::Foot => number(m3 / CUBIC_YARD, 2),
            Unit::Metre => number(m3, 2),
        }
    }

    pub fn volume(self, m3: f64) -> String {
        format!("{} {}", self.bare_volume(m3), self.volume_unit())
    }

    pub fn bare_water(self, m3: f64) -> String {
        match self.0 {
            Unit::Foot => number(m3 / GALLON, 0),
            Unit::Metre => number(m3 * 1000.0, 0),
        }
    }
}

/// With commas by thousands; a figure that does not exist is a dash.
pub fn number(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".into();
    }
    let text = format!("{:.decimals$}", value.abs());
    let (whole, rest) = text.split_at(text.find('.').unwrap_or(text.len()));
    let mut out = String::new();
    // What rounds to nothing has no sign.
    if value < 0.0 && text.bytes().any(|b| (b'1'..=b'9').contains(&b)) {
        out.push('−');
    }
    for (i, digit) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_read_as_people_write_them() {
        let feet = Measure(Unit::Foot);
        assert_eq!(
            feet.volume(3_996.444_444 * 0.764_554_857_984),
            "3,996.44 yd³"
        );
        assert_eq!(feet.length(0.3048), "1.00 ft");
        assert_eq!(feet.bare_water(0.003_785_411_784 * 1000.0), "1,000");
        assert_eq!(Measure(Unit::Metre).length(-1.2345), "−1.234 m");
        assert_eq!(number(-0.001, 2), "0.00");
        assert_eq!(number(1_234_567.0, 0), "1,234,567");
        assert_eq!(number(f64::NAN, 2), "–");
    }
}
