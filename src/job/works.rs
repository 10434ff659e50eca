//! Reading the design: basins, cascades, walls, pads, berms, trenches and ramps.

use crate::job::decode::{Check, Context, Fields, List, Maybe, Read, Text, YesNo, record, words};
use crate::job::form::Form;
use crate::job::place::{AtReader, CrestReader, HeightReader, LevelReader, Path, Ring, SideWord};
use crate::job::quantity::{Distance, Extent, Gradient, Percent, Slope};
use crate::job::seen::{Name, Refers, Space, Want};
use crate::job::tree::{Kind, Node};
use crate::job::{
    At, Backfill, Basin, Berm, Cascade, CascadeBerm, Design, Layer, LayerOn, NewWall, OutlineAt,
    Overflow, Pad, Pile, Pit, Pool, Ramp, Shelf, Trench, Unit,
};
use crate::units::INCH;

/// 12 in and 1 ft are the same, however they were rounded, metres.
const HAIR: f64 = 1e-9;

words!(OutlineWord -> OutlineAt { Water => OutlineAt::Water, Floor => OutlineAt::Floor });
words!(LayerWord -> LayerOn { All => LayerOn::All, Level => LayerOn::Level, Floor => LayerOn::Floor });

record!(Design as "Design": "What is to be built. All names in it differ." {
    basins: List<Basin>, Absent::Is("[]"), "Lined basins.", "[(name: \"pond\", water: 99.5, outline: [(0, 0), (10, 0), (10, 8), (0, 8)])]";
    cascades: List<Cascade>, Absent::Is("[]"), "Pools and drops that fall into a basin.", "[(name: \"falls\", into: \"pond\", centreline: [(5, 20), (5, 8)], pools: [(\"top\", 6, 4, 1)])]";
    walls: List<NewWall>, Absent::Is("[]"), "Retaining walls to build.", "[(name: \"seat wall\", line: [(0, -2), (10, -2)], back: Right, cap: 100.5)]";
    pads: List<Pad>, Absent::Is("[]"), "Levelled areas.", "[(name: \"bench pad\", outline: [(12, 0), (18, 0), (18, 6), (12, 6)], elevation: 100)]";
    berms: List<Berm>, Absent::Is("[]"), "Banks of soil.", "[(name: \"screen\", line: [(0, 30), (20, 30)], crest: Above(\"2 ft\"))]";
    trenches: List<Trench>, Absent::Is("[]"), "Trenches.", "[(name: \"pipe run\", line: [(2, 2), (2, 20)], depth: \"18 in\")]";
    ramps: List<Ramp>, Absent::Is("[]"), "Ramps for machines and barrows.", "[(name: \"haul ramp\", line: [(20, 0), (40, 0)])]";
    piles: List<Pile>, Absent::Is("[]"), "Places for piles of soil; a kind of soil without one still has its pile in the ledger.", "[(name: \"spoil heap\", along: [(70, 20)])]";
    overflows: List<Overflow>, Absent::Is("[]"), "Pipes that keep a basin from running over.", "[(name: \"overflow\", basin: \"pond\", line: [(10, 4), (22, 0)], outlet: 98.2)]";
});

record!(Basin as "Basin": "A lined basin." {
    name: Name<{ Space::Basin as u8 }>, Absent::Required, "Its name.", "\"pond\"";
    water: LevelReader, Absent::Required, "Where the water stands.", "BelowCap(\"north wall\")";
    outline: Ring, Absent::Required, "Its outline; it closes by itself.", "[(0, 0), (10, 0), (10, 8), (0, 8)]";
    outline_at: OutlineWord, Absent::Is("Water"), "Whether the outline is the water's edge or the edge of the floor.", "Floor";
    smooth: YesNo, Absent::Is("false"), "Round the outline through its points instead of joining them with straight lines.", "true";
    shelves: List<Shelf>, Absent::Is("[]"), "Level shelves, from the shallowest to the deepest.", "[(depth: \"12 in\", width: \"18 in\")]";
    floor_depth: Extent, Absent::Is("\"24 in\""), "Finished floor (top of stone) below the water. Default: common practice, no source.", "\"30 in\"";
    batter: Slope, Absent::Is("1"), "Slope of its sides: run per unit of rise, 0 is vertical. Default: common practice, no source.", "0.5";
    edge_batters: List<EdgeBatter>, Absent::Is("[]"), "Sides that differ, as `(edge, batter)`; edge 0 is from point 0 of the outline to point 1. Only with a straight outline.", "[(2, 4)]";
    bank_batter: Maybe<Slope>, Absent::None, "Slope of the bank above the water, out to daylight. Without it: `batter`, at least 1.", "2";
    lining: List<Layer>, Absent::Is("[]"), "Layers between what is dug and what is finished, from the soil up. Without it: dug is finished.", "[(\"underlayment\", \"1/4 in\"), (\"stone\", \"4 in\", Level)]";
    edge_above: Distance, Absent::Is("\"4 in\""), "Least height of the lining's edge over the water. Default: common practice, no source.", "\"6 in\"";
    pits: List<Pit>, Absent::Is("[]"), "Deeper places in the floor.", "[(name: \"pump pit\", outline: [(4, 3), (6, 3), (6, 5), (4, 5)], depth: \"12 in\")]";
});

record!(Shelf as "Shelf": "A level shelf round a basin." {
    depth: Extent, Absent::Is("\"12 in\""), "Finished depth below the water. Default: common practice, no source.", "\"12 in\"";
    width: Extent, Absent::Required, "Its width.", "\"18 in\"";
});

record!(Layer as "Layer": "One layer of lining." {
    name: Text, Absent::Required, "What it is.", "\"underlayment\"";
    thickness: Distance, Absent::Required, "Its thickness, square to the face it lies on.", "\"1/4 in\"";
    on: LayerWord, Absent::Is("All"), "Where it lies: `All` (floor, shelves, sides), `Level` (floor and shelves) or `Floor`.", "Level";
});

record!(Pit as "Pit": "A deeper place in a basin's floor." {
    name: Name<{ Space::Pit as u8 }>, Absent::Required, "Its name.", "\"pump pit\"";
    outline: Ring, Absent::Required, "Its outline at the floor.", "[(4, 3), (6, 3), (6, 5), (4, 5)]";
    depth: Extent, Absent::Required, "Below the finished floor.", "\"12 in\"";
    batter: Slope, Absent::Is("0.5"), "Slope of its sides. Default: common practice, no source.", "0.5";
});

record!(Cascade as "Cascade": "Pools and drops along a centreline, into a basin." {
    name: Name<{ Space::Feature as u8 }>, Absent::Required, "Its name.", "\"falls\"";
    into: Refers<{ Want::Basin as u8 }>, Absent::Required, "Name of the basin it falls into.", "\"pond\"";
    centreline: Path, Absent::Required, "From the top down to the basin's edge.", "[(5, 20), (5, 8)]";
    pools: List<Pool, 1>, Absent::Required, "From the highest to the lowest.", "[(name: \"top\", length: 6, width: 4, drop: 1)]";
    lining: List<Layer>, Absent::Is("[]"), "As for a basin.", "[(\"underlayment\", \"1/4 in\")]";
    berm: CascadeBerm, Absent::Is("()"), "The soil that contains it on its sides and its back.", "(freeboard: \"6 in\")";
});

record!(Pool as "Pool": "One pool of a cascade and the drop below it." {
    name: Name<{ Space::Pool as u8 }>, Absent::Required, "Its name.", "\"top\"";
    length: Extent, Absent::Required, "Along the centreline, sill included.", "6";
    width: Extent, Absent::Required, "Across the centreline.", "4";
    drop: Extent, Absent::Required, "From this pool's water down to the next water below it.", "1";
    depth: Extent, Absent::Is("\"8 in\""), "Finished depth below its own water. Default: common practice, no source.", "\"8 in\"";
    batter: Slope, Absent::Is("0.5"), "Slope of its sides under water. Default: common practice, no source.", "0.5";
    lip_width: Extent, Absent::Is("\"24 in\""), "Width of the lip that the water runs over. Default: common practice, no source.", "\"30 in\"";
    sill: Distance, Absent::Is("\"12 in\""), "Length of the sill between the pool and the drop. Default: common practice, no source.", "\"12 in\"";
});

record!(CascadeBerm as "CascadeBerm": "The soil that contains a cascade and ties back to the ground. Defaults: common practice, no source." {
    freeboard: Distance, Absent::Is("\"4 in\""), "Height of its crest over each pool's water.", "\"6 in\"";
    crest_width: Distance, Absent::Is("\"12 in\""), "Width of its crest.", "\"18 in\"";
    batter: Slope, Absent::Is("2"), "Slope of its outside.", "2";
});

record!(NewWall as "NewWall": "A retaining wall to build, level from end to end; one that steps is several, end to end. Defaults: common practice, no source; walls that hold much need an engineer." {
    name: Name<{ Space::NewWall as u8 }>, Absent::Required, "Its name.", "\"seat wall\"";
    line: Path, Absent::Required, "Its front face.", "[(0, -2), (10, -2)]";
    back: SideWord, Absent::Required, "Side of the line, walking along it, on which its body and backfill lie.", "Right";
    cap: HeightReader, Absent::Required, "Elevation of its cap.", "100.5";
    thickness: Extent, Absent::Is("\"12 in\""), "Thickness of its body.", "\"12 in\"";
    embedment: Distance, Absent::Is("\"6 in\""), "Depth of its foot below the lowest ground along its front.", "\"6 in\"";
    base_thickness: Distance, Absent::Is("\"6 in\""), "Thickness of the base course.", "\"6 in\"";
    base_width: Extent, Absent::Is("\"24 in\""), "Width of the base course and its trench, centred on the body.", "\"24 in\"";
    backfill: Maybe<Backfill>, Absent::None, "Soil placed behind it.", "(width: \"24 in\")";
});

record!(Backfill as "Backfill": "Soil behind a new wall. Defaults: common practice, no source." {
    width: Distance, Absent::Required, "Level width behind the wall.", "\"24 in\"";
    below_cap: Distance, Absent::Is("\"2 in\""), "How far its top stays under the cap.", "\"2 in\"";
    batter: Slope, Absent::Is("2"), "Slope from its far edge down to the ground.", "2";
});

record!(Pad as "Pad": "A levelled area." {
    name: Name<{ Space::Feature as u8 }>, Absent::Required, "Its name.", "\"bench pad\"";
    outline: Ring, Absent::Required, "Its corners in order.", "[(12, 0), (18, 0), (18, 6), (12, 6)]";
    elevation: HeightReader, Absent::Required, "Finished elevation at the first point of its outline.", "100";
    fall: Maybe<Fall>, Absent::None, "Fall in percent, and a point that it falls to.", "(2, (18, 0))";
    build_up: Distance, Absent::Is("0"), "Paving and its bed, between dug and finished.", "\"6 in\"";
    batter: Slope, Absent::Is("2"), "Slope of its sides out to the ground. Default: common practice, no source.", "2";
});

record!(Berm as "Berm": "A bank of soil along a line." {
    name: Name<{ Space::Feature as u8 }>, Absent::Required, "Its name.", "\"screen\"";
    line: Path, Absent::Required, "Its centreline.", "[(0, 30), (20, 30)]";
    crest: CrestReader, Absent::Required, "Its crest: an elevation, or so far above the ground at each point of the line.", "Above(\"2 ft\")";
    crest_width: Distance, Absent::Is("\"24 in\""), "Width of its crest. Default: common practice, no source.", "\"24 in\"";
    batter: Slope, Absent::Is("2"), "Slope of its sides. Default: common practice, no source.", "3";
});

record!(Trench as "Trench": "A trench along a line." {
    name: Name<{ Space::Feature as u8 }>, Absent::Required, "Its name.", "\"pipe run\"";
    line: Path, Absent::Required, "Its centreline.", "[(2, 2), (2, 20)]";
    depth: Extent, Absent::Required, "Below the ground that is there when it is dug, at each point of its line; its bottom runs straight from point to point.", "\"18 in\"";
    width: Extent, Absent::Is("\"12 in\""), "Width of its bottom. Default: common practice, no source.", "\"12 in\"";
    batter: Slope, Absent::Is("0"), "Slope of its sides; 0 is vertical. Default: common practice, no source.", "0";
    refill: YesNo, Absent::Is("true"), "Filled again at the end of its stage.", "false";
});

record!(Ramp as "Ramp": "A ramp for machines and barrows. Defaults: common practice, no source; the machine's own manual decides." {
    name: Name<{ Space::Feature as u8 }>, Absent::Required, "Its name.", "\"haul ramp\"";
    line: Path, Absent::Required, "Its centreline.", "[(20, 0), (40, 0)]";
    width: Extent, Absent::Is("\"8 ft\""), "Width of its top.", "\"6 ft\"";
    gradient: Gradient, Absent::Is("0.25"), "Greatest gradient allowed, rise over run.", "\"1 in 5\"";
    batter: Slope, Absent::Is("1.5"), "Slope of its sides down to the ground.", "1.5";
    profile: List<HeightReader>, Absent::Is("[]"), "Elevations at the points of its line, one each. Without it: straight from the ground at the first point to the ground at the last.", "[98.5, 101]";
    cut: YesNo, Absent::Is("false"), "True if ground above the ramp is cut away as well.", "true";
});

impl Check for Design {}
impl Check for Shelf {}
impl Check for Layer {}
impl Check for Pit {}
impl Check for Cascade {}
impl Check for CascadeBerm {}
impl Check for Backfill {}
impl Check for Pad {}
impl Check for Berm {}
impl Check for Trench {}

impl Check for Basin {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        let unit = cx.unit;
        // Such depths are spoken of in inches.
        let depth = |v: f64| match unit {
            Unit::Foot => format!("{:.1} in", v / INCH),
            Unit::Metre => format!("{v:.3} m"),
        };
        let mut above = 0.0;
        for (i, shelf) in self.shelves.iter().enumerate() {
            if shelf.depth <= above + HAIR {
                cx.problem(
                    fields.item_span("shelves", i),
                    format!(
                        "basin \"{}\": this shelf is not deeper than the one before it",
                        self.name
                    ),
                    "shelves run from the shallowest to the deepest",
                );
            } else if shelf.depth >= self.floor_depth - HAIR {
                cx.problem(
                    fields.item_span("shelves", i),
                    format!(
                        "basin \"{}\": this shelf, {} under water, is not above the floor at {}",
                        self.name,
                        depth(shelf.depth),
                        depth(self.floor_depth)
                    ),
                    "every shelf is shallower than `floor_depth`",
                );
            }
            above = shelf.depth;
        }
        if self.smooth && !self.edge_batters.is_empty() {
            cx.problem(
                fields.span("edge_batters"),
                format!("basin \"{}\" is smooth and has `edge_batters`", self.name),
                "sides that differ need a straight outline: leave out `smooth`, or `edge_batters`",
            );
        }
        for (i, (edge, _)) in self.edge_batters.iter().enumerate() {
            if *edge >= self.outline.len() {
                cx.problem(
                    fields.item_span("edge_batters", i),
                    format!(
                        "basin \"{}\" has no edge {edge}: its outline has {} edges",
                        self.name,
                        self.outline.len()
                    ),
                    format!("edges 0 to {}", self.outline.len() - 1),
                );
            } else if self.edge_batters[..i].iter().any(|(e, _)| e == edge) {
                cx.problem(
                    fields.item_span("edge_batters", i),
                    format!("basin \"{}\": edge {edge} has two batters", self.name),
                    "each edge once",
                );
            }
        }
    }
}

impl Check for Pool {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        if self.sill >= self.length - HAIR {
            cx.problem(
                fields.span("sill"),
                format!("pool \"{}\": its sill takes all of its length", self.name),
                "`length` includes the sill and must be longer",
            );
        }
        if self.lip_width > self.width + HAIR {
            cx.problem(
                fields.span("lip_width"),
                format!("pool \"{}\": its lip is wider than the pool", self.name),
                "`lip_width` is at most `width`",
            );
        }
    }
}

impl Check for NewWall {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        if self.base_width < self.thickness - HAIR {
            cx.problem(
                fields.span("base_width"),
                format!(
                    "wall \"{}\": its base course is narrower than its body",
                    self.name
                ),
                "`base_width` is at least `thickness`",
            );
        }
    }
}

impl Check for Ramp {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        if !self.profile.is_empty() && self.profile.len() != self.line.len() {
            cx.problem(
                fields.span("profile"),
                format!(
                    "ramp \"{}\" has {} elevations for the {} points of its line",
                    self.name,
                    self.profile.len(),
                    self.line.len()
                ),
                "one elevation for each point of `line`, or none",
            );
        }
    }
}

/// `(edge, batter)`.
pub struct EdgeBatter;

impl Read for EdgeBatter {
    type Out = (usize, f64);

    fn says() -> String {
        "`(edge, batter)`".to_string()
    }

    fn form() -> Form {
        Form::EdgeBatter
    }

    fn read(node: &Node, cx: &mut Context) -> Option<(usize, f64)> {
        let Kind::Tuple { name: None, items } = &node.kind else {
            return cx.wrong(node, Self::says());
        };
        let [edge, batter] = items.as_slice() else {
            return cx.wrong(node, Self::says());
        };
        let number = match edge.kind {
            Kind::Number(n) if n >= 0.0 && n.fract() == 0.0 && n < 1e6 => Some(n as usize),
            _ => cx.wrong(edge, "the number of an edge: 0, 1, 2, …"),
        };
        let batter = Slope::read(batter, cx);
        Some((number?, batter?))
    }
}

/// `(percent, point it falls to)`.
pub struct Fall;

impl Read for Fall {
    type Out = (f64, At);

    fn says() -> String {
        "`(percent, point)`".to_string()
    }

    fn form() -> Form {
        Form::Fall
    }

    fn read(node: &Node, cx: &mut Context) -> Option<(f64, At)> {
        let Kind::Tuple { name: None, items } = &node.kind else {
            return cx.wrong(node, Self::says());
        };
        let [percent, toward] = items.as_slice() else {
            return cx.wrong(node, Self::says());
        };
        let percent = Percent::read(percent, cx);
        let toward = AtReader::read(toward, cx);
        Some((percent?, toward?))
    }
}
