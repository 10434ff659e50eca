//! What is bought: how it is sold, how much is added, how it is recognised. Metres, kg, m³, percent.
//!
//! All defaults are common practice, no source. A default that is a bare number is in the job's
//! unit: half a ton in one job, a tonne in another.

use crate::job::Unit;
use crate::job::decode::{Check, Context, Fields, List, Maybe, Text, YesNo, record, words};
use crate::job::quantity::{Density, Distance, Extent, Percent, Volume, Weight};
use crate::job::seen::{Refers, Want};
use crate::units::FOOT;

#[derive(Debug, Clone, PartialEq)]
pub struct Materials {
    pub liner: LinerStock,
    pub stone: StoneStock,
    pub block: BlockStock,
    pub pipe: PipeStock,
    pub planting: PlantingStock,
    pub waste: Waste,
    /// What layers of lining are that their names do not tell.
    pub layers: Vec<LayerStuff>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct LinerStock {
    /// Beyond the lining's edge, on every side.
    pub tuck: f64,
    /// How far a cascade's sheet runs on over the basin's.
    pub overlap: f64,
    /// Widths of the rolls; empty: the usual ones.
    pub rolls: Vec<f64>,
    /// Overlap where two sheets are joined.
    pub seam: f64,
    /// Lengths are cut to whole multiples of this.
    pub cut: f64,
    /// Width of a roll of underlayment; none: the usual one.
    pub underlayment: Option<f64>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct StoneStock {
    /// kg per m³ as it lies, at the least and at the most.
    pub least: f64,
    pub most: f64,
    /// It is sold in multiples of this, kg.
    pub lot: f64,
    /// Length of edge that one boulder takes; 0: no boulders.
    pub boulder: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub struct BlockStock {
    pub length: f64,
    pub height: f64,
    pub cap_length: f64,
    pub cap_height: f64,
    /// A drain pipe along the back of each wall that is backfilled.
    pub drain: bool,
    /// Thickness of the drainage stone behind such a wall.
    pub drain_stone: f64,
    /// Height, foot to cap, from which layers of grid in the soil are for a licensed professional.
    pub grid_from: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub struct PipeStock {
    /// Length of one pipe; none: the usual one.
    pub length: Option<f64>,
    /// Trenches that carry none.
    pub not_in: Vec<String>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct PlantingStock {
    /// Depth of mulch over what is planted.
    pub mulch: f64,
    /// Mulch is sold in multiples of this, m³.
    pub lot: f64,
    /// Thickness of the paving on pads; the rest of their build-up is bed.
    pub paver: f64,
}

/// What is added to the net quantity, percent.
#[derive(Debug, Clone, PartialEq)]
pub struct Waste {
    pub liner: f64,
    pub underlayment: f64,
    pub stone: f64,
    pub boulders: f64,
    pub block: f64,
    pub pipe: f64,
    pub mulch: f64,
    pub paving: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub struct LayerStuff {
    pub name: String,
    pub is: Stuff,
}

/// What a layer of lining is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stuff {
    Liner,
    Underlayment,
    /// Stone, gravel, sand: by volume and weight.
    Stone,
}

impl Materials {
    /// What a layer of this name is: as listed; else by the words in its name; else stone.
    pub fn stuff(&self, layer: &str) -> Stuff {
        if let Some(listed) = self.layers.iter().find(|l| l.name == layer) {
            return listed.is;
        }
        let name = layer.to_lowercase();
        let has = |words: &[&str]| words.iter().any(|w| name.contains(w));
        if has(&[
            "underlay",
            "fleece",
            "felt",
            "geotextile",
            "fabric",
            "cushion",
        ]) {
            Stuff::Underlayment
        } else if has(&["liner", "membrane", "rubber", "sheet"]) {
            Stuff::Liner
        } else {
            Stuff::Stone
        }
    }
}

impl LinerStock {
    pub fn widths(&self, unit: Unit) -> Vec<f64> {
        if !self.rolls.is_empty() {
            return self.rolls.clone();
        }
        match unit {
            Unit::Foot => [10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0]
                .map(|w| w * FOOT)
                .to_vec(),
            Unit::Metre => vec![4.0, 6.0, 8.0, 10.0, 12.0],
        }
    }

    pub fn underlayment_width(&self, unit: Unit) -> f64 {
        self.underlayment.unwrap_or(match unit {
            Unit::Foot => 12.0 * FOOT,
            Unit::Metre => 2.0,
        })
    }
}

impl PipeStock {
    pub fn stock_length(&self, unit: Unit) -> f64 {
        self.length.unwrap_or(match unit {
            Unit::Foot => 10.0 * FOOT,
            Unit::Metre => 3.0,
        })
    }
}

words!(StuffWord -> Stuff {
    Liner => Stuff::Liner,
    Underlayment => Stuff::Underlayment,
    Stone => Stuff::Stone,
});

record!(Materials as "Materials": "How what is bought is sold, and how much is added. All of it may be left out; all defaults: common practice, no source." {
    liner: LinerStock, Absent::Is("()"), "Liner and underlayment.", "(tuck: \"18 in\")";
    stone: StoneStock, Absent::Is("()"), "Stone and boulders.", "(boulder: \"24 in\")";
    block: BlockStock, Absent::Is("()"), "Wall block.", "(height: \"8 in\")";
    pipe: PipeStock, Absent::Is("()"), "Pipe.", "(length: 20)";
    planting: PlantingStock, Absent::Is("()"), "Mulch and paving.", "(mulch: \"2 in\")";
    waste: Waste, Absent::Is("()"), "What is added to the net quantities.", "(stone: 15)";
    layers: List<LayerStuff>, Absent::Is("[]"), "Layers of lining whose names do not tell what they are. Without it: names with underlay, fleece, felt, geotextile, fabric or cushion are underlayment; with liner, membrane, rubber or sheet liner; all others stone.", "[(\"mat\", Underlayment)]";
});

record!(LinerStock as "LinerStock": "How liner and underlayment are laid and sold." {
    tuck: Distance, Absent::Is("\"12 in\""), "Beyond the lining's edge on every side, tucked into the soil or under the edge stones.", "\"18 in\"";
    overlap: Distance, Absent::Is("\"24 in\""), "How far a cascade's sheet runs on over the basin's.", "\"12 in\"";
    rolls: List<Extent>, Absent::Is("[]"), "Widths that can be had. Without it: 10, 15, 20, 25, 30, 40, 50 ft in a job in feet; 4, 6, 8, 10, 12 m in a job in metres.", "[\"20 ft\", \"30 ft\"]";
    seam: Distance, Absent::Is("\"6 in\""), "Overlap where two widths are joined.", "\"6 in\"";
    cut: Extent, Absent::Is("1"), "Lengths are cut to whole multiples of this; the bare number is 1 ft or 1 m.", "\"6 in\"";
    underlayment: Maybe<Extent>, Absent::None, "Width of a roll of underlayment. Without it: 12 ft in a job in feet, 2 m in a job in metres.", "\"15 ft\"";
});

record!(StoneStock as "StoneStock": "How stone is weighed and sold." {
    least: Density, Absent::Is("\"1400 kg/m3\""), "What it weighs as it lies, at the least.", "\"2400 lb/yd3\"";
    most: Density, Absent::Is("\"1700 kg/m3\""), "The same at the most.", "\"2900 lb/yd3\"";
    lot: Weight, Absent::Is("1000"), "It is sold in multiples of this; the bare number is 1000 lb or 1000 kg.", "\"1 ton\"";
    boulder: Distance, Absent::Is("\"18 in\""), "Length of the water's edge that one boulder takes; 0 for an edge without boulders.", "\"24 in\"";
});

record!(BlockStock as "BlockStock": "Wall block, caps and what stands behind them." {
    length: Extent, Absent::Is("\"16 in\""), "Length of one block along the face.", "\"12 in\"";
    height: Extent, Absent::Is("\"6 in\""), "Height of one course.", "\"8 in\"";
    cap_length: Extent, Absent::Is("\"12 in\""), "Length of one cap piece.", "\"16 in\"";
    cap_height: Distance, Absent::Is("\"3 in\""), "Height of the cap; 0 for a wall without caps.", "\"4 in\"";
    drain: YesNo, Absent::Is("true"), "A drain pipe along the back of each wall that is backfilled.", "false";
    drain_stone: Distance, Absent::Is("\"12 in\""), "Thickness of the drainage stone behind such a wall; it takes its room from the backfill.", "\"18 in\"";
    grid_from: Extent, Absent::Is("\"4 ft\""), "Height from foot to cap from which reinforcing grid in the soil is a matter for a licensed professional (many local codes; from memory).", "\"3 ft\"";
});

record!(PipeStock as "PipeStock": "Pipe of pumps and overflows, and in trenches that are filled again and have none of these in them." {
    length: Maybe<Extent>, Absent::None, "Length of one pipe, or of a coil. Without it: 10 ft in a job in feet, 3 m in a job in metres.", "20";
    not_in: List<Refers<{ Want::Work as u8 }>>, Absent::Is("[]"), "Trenches that carry no pipe but that of a pump or an overflow.", "[\"pipe run\"]";
});

record!(PlantingStock as "PlantingStock": "Mulch on banks and berms, paving on pads." {
    mulch: Distance, Absent::Is("\"3 in\""), "Depth of mulch over the tops and slopes of berms (those of cascades too) and backfills; 0 for none.", "\"2 in\"";
    lot: Volume, Absent::Is("1"), "Mulch is sold in multiples of this; the bare number is 1 yd³ or 1 m³.", "\"2 cu ft\"";
    paver: Distance, Absent::Is("\"2 3/8 in\""), "Thickness of the paving on pads; the rest of their build-up is bed.", "\"60 mm\"";
});

record!(Waste as "Waste": "What is added to the net quantities for cutting, overlaps and breakage, percent." {
    liner: Percent, Absent::Is("0"), "Liner: the sheet is measured with its tuck, so nothing.", "5";
    underlayment: Percent, Absent::Is("15"), "Underlayment: overlaps and corners.", "20";
    stone: Percent, Absent::Is("10"), "Stone, gravel and base.", "15";
    boulders: Percent, Absent::Is("10"), "Boulders.", "0";
    block: Percent, Absent::Is("5"), "Wall block and caps.", "10";
    pipe: Percent, Absent::Is("5"), "Pipe.", "10";
    mulch: Percent, Absent::Is("10"), "Mulch.", "0";
    paving: Percent, Absent::Is("10"), "Paving: cuts at the edges.", "15";
});

record!(LayerStuff as "LayerStuff": "What a layer of lining is." {
    name: Text, Absent::Required, "Its name in `lining`.", "\"mat\"";
    is: StuffWord, Absent::Required, "What it is.", "Underlayment";
});

impl Check for Materials {}
impl Check for BlockStock {}
impl Check for PipeStock {}
impl Check for PlantingStock {}
impl Check for Waste {}
impl Check for LayerStuff {}

impl Check for LinerStock {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        for (i, width) in self.rolls.iter().enumerate() {
            if *width <= self.seam {
                cx.problem(
                    fields.item_span("rolls", i),
                    "this roll is no wider than the overlap at a seam",
                    "rolls wider than `seam`",
                );
            }
        }
    }
}

impl Check for StoneStock {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        if self.most < self.least {
            cx.problem(
                fields.span("most"),
                "`most` is less than `least`",
                "`least` is the lighter of the two weights, `most` the heavier",
            );
        }
    }
}
