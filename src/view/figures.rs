//! Numbers as the panel and the labels print them, in the job's unit: those of the report.

use crate::job::Unit;
use crate::report::Measure;

#[derive(Debug, Clone, Copy)]
pub struct Figures(pub Unit);

impl Figures {
    pub fn length_unit(self) -> &'static str {
        Measure(self.0).length_unit()
    }

    pub fn soil_unit(self) -> &'static str {
        Measure(self.0).volume_unit()
    }

    pub fn elevation(self, m: f64) -> String {
        Measure(self.0).bare(m)
    }

    /// A length as a plain number in the job's unit, for scales.
    pub fn plain(self, m: f64) -> f64 {
        match self.0 {
            Unit::Foot => m / 0.3048,
            Unit::Metre => m,
        }
    }

    /// Without needless places, for rules and legends.
    pub fn short(self, m: f64) -> String {
        let text = format!("{:.3}", self.plain(m));
        let text = text.trim_end_matches('0').trim_end_matches('.');
        if text == "-0" {
            "0".to_owned()
        } else {
            text.to_owned()
        }
    }

    pub fn elevation_with_unit(self, m: f64) -> String {
        Measure(self.0).length(m)
    }

    pub fn area_unit(self) -> &'static str {
        Measure(self.0).area_unit()
    }

    pub fn bare_area(self, m2: f64) -> String {
        Measure(self.0).bare_area(m2)
    }

    pub fn soil(self, m3: f64) -> String {
        Measure(self.0).bare_volume(m3)
    }

    pub fn soil_with_unit(self, m3: f64) -> String {
        Measure(self.0).volume(m3)
    }

    pub fn water_unit(self) -> &'static str {
        Measure(self.0).water_unit()
    }

    pub fn bare_water(self, m3: f64) -> String {
        Measure(self.0).bare_water(m3)
    }
}
