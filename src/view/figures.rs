//! Numbers as the panel and the labels print them, in the job's unit.
//!
//! 1 ft = 0.3048 m, 1 yd³ = 27 ft³, 1 US gallon = 231 in³, all exact (NIST SP 811, appendix B).

use crate::job::Unit;

const FOOT: f64 = 0.3048;
const GALLON: f64 = 231.0 * 0.0254 * 0.0254 * 0.0254;

#[derive(Debug, Clone, Copy)]
pub struct Figures(pub Unit);

impl Figures {
    pub fn length_unit(self) -> &'static str {
        match self.0 {
            Unit::Foot => "ft",
            Unit::Metre => "m",
        }
    }

    pub fn soil_unit(self) -> &'static str {
        match self.0 {
            Unit::Foot => "yd³",
            Unit::Metre => "m³",
        }
    }

    /// In the job's unit, without it.
    pub fn length(self, m: f64) -> f64 {
        match self.0 {
            Unit::Foot => m / FOOT,
            Unit::Metre => m,
        }
    }

    pub fn elevation(self, m: f64) -> String {
        plain(self.length(m), if self.0 == Unit::Foot { 2 } else { 3 })
    }

    pub fn elevation_with_unit(self, m: f64) -> String {
        format!("{} {}", self.elevation(m), self.length_unit())
    }

    pub fn area_unit(self) -> &'static str {
        match self.0 {
            Unit::Foot => "ft²",
            Unit::Metre => "m²",
        }
    }

    pub fn bare_area(self, m2: f64) -> String {
        match self.0 {
            Unit::Foot => grouped(m2 / FOOT / FOOT, 0),
            Unit::Metre => grouped(m2, 1),
        }
    }

    pub fn soil(self, m3: f64) -> String {
        match self.0 {
            Unit::Foot => grouped(m3 / (27.0 * FOOT * FOOT * FOOT), 1),
            Unit::Metre => grouped(m3, 2),
        }
    }

    pub fn soil_with_unit(self, m3: f64) -> String {
        format!("{} {}", self.soil(m3), self.soil_unit())
    }

    pub fn water_unit(self) -> &'static str {
        match self.0 {
            Unit::Foot => "gal",
            Unit::Metre => "L",
        }
    }

    pub fn bare_water(self, m3: f64) -> String {
        match self.0 {
            Unit::Foot => grouped(m3 / GALLON, 0),
            Unit::Metre => grouped(m3 * 1000.0, 0),
        }
    }
}

fn plain(value: f64, places: usize) -> String {
    if !value.is_finite() {
        return "?".to_owned();
    }
    let text = format!("{value:.places$}");
    // Never "-0.00".
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|c| c == '0' || c == '.') => rest.to_owned(),
        _ => text,
    }
}

/// With commas between thousands from 10,000 on.
fn grouped(value: f64, places: usize) -> String {
    let text = plain(value, places);
    let (sign, text) = match text.strip_prefix('-') {
        Some(rest) => ("-", rest.to_owned()),
        None => ("", text),
    };
    let (whole, rest) = text.split_at(text.find('.').unwrap_or(text.len()));
    let mut out = String::new();
    for (i, c) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i) % 3 == 0 && whole.len() > 4 {
            out.push(',');
        }
        out.push(c);
    }
    format!("{sign}{out}{rest}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_in_either_unit() {
        let feet = Figures(Unit::Foot);
        assert_eq!(feet.elevation(30.48), "100.00");
        assert_eq!(feet.soil(0.764_554_857_984), "1.0");
        // One cubic metre is 264.172 US gallons.
        assert_eq!(feet.bare_water(100.0), "26,417");
        let metres = Figures(Unit::Metre);
        assert_eq!(metres.bare_water(12.3456), "12,346");
        assert_eq!(metres.elevation(-0.0001), "0.000");
        assert_eq!(metres.soil(f64::NAN), "?");
    }
}
