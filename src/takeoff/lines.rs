//! A line of the list: net quantity, waste, order. SI units.

use super::sheet::whole_lots;
use crate::job::Unit;
use crate::plan::{Amount, Item, Of, Order, Trade};
use crate::units;

impl Item {
    pub fn new(trade: Trade, what: impl Into<String>, place: impl Into<String>) -> Item {
        Item {
            trade,
            what: what.into(),
            place: place.into(),
            net: None,
            waste_percent: 0.0,
            gross: None,
            order: None,
            brought_in: None,
            bore_m: None,
            how: String::new(),
        }
    }

    pub fn net(mut self, of: Of, value: f64, waste_percent: f64) -> Item {
        let gross = value * (1.0 + waste_percent / 100.0);
        self.net = Some(Amount { of, value });
        self.gross = Some(Amount { of, value: gross });
        self.waste_percent = waste_percent;
        self
    }

    /// Sold in multiples of `lot`, counted as the net quantity is.
    pub fn by_lot(mut self, lot: f64) -> Item {
        if let Some(gross) = self.gross {
            let most = whole_lots(gross.value, lot);
            self.order = Some(Order {
                of: gross.of,
                least: most,
                most,
                lot,
            });
        }
        self
    }

    /// Sold in multiples of `lot` of another measure, of which one net unit makes `least` to `most`.
    pub fn by_other(mut self, of: Of, least: f64, most: f64, lot: f64) -> Item {
        if let Some(gross) = self.gross {
            self.order = Some(Order {
                of,
                least: whole_lots(gross.value * least, lot),
                most: whole_lots(gross.value * most, lot),
                lot,
            });
        }
        self
    }

    pub fn how(mut self, how: impl Into<String>) -> Item {
        self.how = how.into();
        self
    }
}

/// Figures in the job's unit, for telling how a line was got.
#[derive(Clone, Copy)]
pub struct Say(pub Unit);

impl Say {
    pub fn length(self, metres: f64) -> String {
        units::format_length(metres, self.0)
    }

    pub fn area(self, m2: f64) -> String {
        units::format_area(m2, self.0)
    }

    pub fn volume(self, m3: f64) -> String {
        match self.0 {
            Unit::Foot => format!("{:.2} yd³", m3 / units::CUBIC_YARD),
            Unit::Metre => format!("{m3:.3} m³"),
        }
    }

    /// Thicknesses and sizes of pieces, as they are spoken of.
    pub fn size(self, metres: f64) -> String {
        let trim = |text: String| {
            let text = text.trim_end_matches('0').trim_end_matches('.');
            text.to_string()
        };
        match self.0 {
            Unit::Foot => format!("{} in", trim(format!("{:.3}", metres / units::INCH))),
            Unit::Metre if metres < 0.01 => {
                format!("{} mm", trim(format!("{:.1}", metres * 1000.0)))
            }
            Unit::Metre => format!("{:.0} mm", metres * 1000.0),
        }
    }

    pub fn density(self, kg_per_m3: f64) -> String {
        match self.0 {
            Unit::Foot => format!("{:.0} lb/yd³", kg_per_m3 * units::CUBIC_YARD / units::POUND),
            Unit::Metre => format!("{kg_per_m3:.0} kg/m³"),
        }
    }
}
