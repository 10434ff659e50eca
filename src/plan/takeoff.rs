//! What is to be bought, line by line. SI units: m, m², m³, kg, or pieces.

use serde::Serialize;

/// The list of materials.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Takeoff {
    pub sheets: Vec<Sheet>,
    pub items: Vec<Item>,
    /// What could not be taken off, and why; what to look at before ordering.
    pub notes: Vec<String>,
}

impl Takeoff {
    /// Puts what another list has after what this one has.
    pub fn add(&mut self, other: Takeoff) {
        self.sheets.extend(other.sheets);
        self.items.extend(other.items);
        self.notes.extend(other.notes);
    }
}

/// What a quantity counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Of {
    Pieces,
    Length,
    Area,
    Volume,
    Weight,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Amount {
    pub of: Of,
    pub value: f64,
}

/// How much to order, in whole multiples of what it is sold by.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Order {
    pub of: Of,
    pub least: f64,
    /// Differs from `least` where the weight of the stuff is known as a range only.
    pub most: f64,
    /// It is sold in multiples of this.
    pub lot: f64,
}

/// Part of the job that a line belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Trade {
    Lining,
    Stone,
    Wall,
    Pipe,
    Soil,
    Planting,
    Paving,
}

/// One line of the list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Item {
    pub trade: Trade,
    pub what: String,
    /// The feature that it is for.
    pub place: String,
    /// `None` where the plan gives no quantity: the line says why.
    pub net: Option<Amount>,
    pub waste_percent: f64,
    /// Net and waste.
    pub gross: Option<Amount>,
    pub order: Option<Order>,
    /// Of soil to place, the share that is brought in; the rest comes from the dig.
    pub brought_in: Option<f64>,
    /// Inside diameter of a pipe, where it is known.
    pub bore_m: Option<f64>,
    /// How it was got, with its figures.
    pub how: String,
}

/// A rectangular sheet of liner.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sheet {
    /// What it covers.
    pub place: String,
    /// Whether it is one of the sheets in `items`; if not, it is given for comparison.
    pub ordered: bool,
    /// Long and short side, tuck and overlap included.
    pub long_m: f64,
    pub short_m: f64,
    /// Direction of the long side in plan, degrees counter-clockwise from the x axis, 0 to 180.
    pub angle: f64,
    /// Longest section along the surface in the direction of each side, tuck left out.
    pub long_section_m: f64,
    pub short_section_m: f64,
    /// What is really covered, along the surface and its upright faces.
    pub surface_m2: f64,
    /// Lengths cut from the roll, how many, how wide and how long.
    pub widths: u32,
    pub roll_m: f64,
    pub cut_m: f64,
    /// Total length of seams.
    pub seams_m: f64,
}
