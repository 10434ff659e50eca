//! The job as its computations see it: lengths and elevations in metres, angles in degrees,
//! volumes in m³. What the person typed lives in [`crate::job::Document`], never here.
//!
//! Plan coordinates: x to the right, y up the page, metres; "left" and "right" are those of
//! someone walking along a line from its first point to its last.

use serde::Serialize;

use super::haul::{Boards, Gate, Haulage, Steps};
use super::{AsBuilt, Materials, SettingOut};

/// The unit that a bare number in the job file stands for, and that reports print.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Unit {
    Foot,
    Metre,
}

/// Everything the installer wrote down.
#[derive(Debug, Clone, PartialEq)]
pub struct Job {
    pub name: String,
    pub unit: Unit,
    /// Free text for the people of the job.
    pub remarks: String,
    pub field_book: FieldBook,
    pub site: Site,
    pub design: Design,
    pub soil: Soil,
    /// How what is bought is sold, and how much is added.
    pub materials: Materials,
    pub plumbing: super::Plumbing,
    /// Stages in the order in which they are done. Empty: one stage with every feature, in the
    /// order walls, berms, ramps, pads, basins, cascades, trenches.
    pub sequence: Vec<Stage>,
    pub setting_out: SettingOut,
    pub as_built: AsBuilt,
    pub haul: Haulage,
}

// ---------------------------------------------------------------- field book

#[derive(Debug, Clone, PartialEq)]
pub struct FieldBook {
    pub benchmarks: Vec<Benchmark>,
    /// Taped lines that offsets are measured from, and named pegs that ties are measured from.
    pub baselines: Vec<Baseline>,
    pub pegs: Vec<Peg>,
    /// Full length of the rod; a longer reading is an error. Default 13 ft.
    pub rod_length: f64,
    pub allowed: Allowed,
    pub setups: Vec<Setup>,
    /// Points known in all three coordinates (a surveyor's list, a drone's cloud): no level notes.
    pub points: Vec<KnownPoint>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Benchmark {
    pub name: String,
    pub elevation: f64,
    /// True if the elevation is only assumed (a nail called 100.00).
    pub assumed: bool,
    pub at: Option<Place>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Baseline {
    pub name: String,
    pub from: [f64; 2],
    pub to: [f64; 2],
}

#[derive(Debug, Clone, PartialEq)]
pub struct Peg {
    pub name: String,
    pub at: [f64; 2],
}

#[derive(Debug, Clone, PartialEq)]
pub struct KnownPoint {
    pub name: String,
    pub x: f64,
    pub y: f64,
    pub z: f64,
}

/// How much misclosure is allowed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Allowed {
    /// So many metres times √K, K the length of the line in km (third order: 0.012).
    /// Falls back on 3 mm times √(number of setups) where distances are not known.
    PerRootKm(f64),
    /// So many metres for each setup, times √(number of setups).
    PerSetup(f64),
    /// So many metres in all.
    Total(f64),
}

/// One standing of the level.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    pub name: String,
    pub at: Option<Place>,
    /// The sight that gives the height of instrument: to a benchmark or an earlier turning point.
    pub backsight: Sight,
    pub sights: Vec<Sight>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Sight {
    /// Name of the shot, benchmark or turning point the rod stood on.
    pub to: String,
    /// Rod reading.
    pub rod: f64,
    /// The foresight to a turning point that the next setup's backsight reads again.
    pub turning: bool,
    /// Rod held upside down under a soffit: the reading counts upward.
    pub inverted: bool,
    /// False if the rod did not stand on the ground (a wall's cap, a sill, a paving edge on posts):
    /// the shot has an elevation but does not shape the ground.
    pub ground: bool,
    /// Distance from the level.
    pub distance: Option<f64>,
    /// How the shot was placed in plan; `None` for a shot that only carries levels.
    pub at: Option<Place>,
    /// A second, independent placing, for a residual.
    pub check: Option<Place>,
    pub remark: String,
}

/// How a point was placed in plan.
#[derive(Debug, Clone, PartialEq)]
pub enum Place {
    Xy(f64, f64),
    /// Baseline, distance along from its `from` end, offset (right positive, left negative).
    Offset {
        baseline: String,
        along: f64,
        offset: f64,
    },
    /// Two taped distances from two named points (pegs, benchmarks or earlier shots);
    /// `side` is the side of the line from `a` to `b` on which the point lies.
    Tie {
        a: String,
        from_a: f64,
        b: String,
        from_b: f64,
        side: Side,
    },
    /// Angle in degrees, clockwise, turned at `at` from the direction to `toward`; then a distance.
    Ray {
        at: String,
        toward: String,
        angle: f64,
        distance: f64,
    },
    /// Column and row of a grid along a baseline: `along = column × spacing` and
    /// `offset = row × spacing` (right positive).
    Grid {
        baseline: String,
        spacing: f64,
        column: f64,
        row: f64,
    },
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Side {
    Left,
    Right,
}

// ---------------------------------------------------------------- site

/// A point in plan: a shot (or peg, or benchmark) by name, or a placing of its own.
#[derive(Debug, Clone, PartialEq)]
pub enum At {
    Shot(String),
    Placed(Place),
}

/// An elevation: a figure, or that of a shot.
#[derive(Debug, Clone, PartialEq)]
pub enum Height {
    Elevation(f64),
    Shot(String),
}

#[derive(Debug, Clone, PartialEq, Default)]
pub struct Site {
    /// The surveyed outline; ground outside it is not trusted. Empty: the hull of the shots.
    pub outline: Vec<At>,
    pub breaklines: Vec<Line>,
    /// House and other footprints without ground.
    pub holes: Vec<Area>,
    pub walls: Vec<StandingWall>,
    pub paving: Vec<Area>,
    pub keep_outs: Vec<Area>,
    pub services: Vec<Service>,
    pub access: Option<Access>,
    /// Trees to keep.
    pub trees: Vec<Tree>,
}

/// A named line through shots (breaklines) or any points.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    pub name: String,
    pub along: Vec<At>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Area {
    pub name: String,
    pub outline: Vec<At>,
    pub remark: String,
}

/// A wall that stands already. `left` and `right` are its two faces at the ground, each a line of
/// at least two points, both walked in the same direction. Where a point is a shot, the shot's
/// elevation is the ground at that face.
#[derive(Debug, Clone, PartialEq)]
pub struct StandingWall {
    pub name: String,
    pub left: Vec<At>,
    pub right: Vec<At>,
    pub cap: Height,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Service {
    pub name: String,
    pub kind: String,
    pub line: Vec<At>,
    /// Cover over the service, below existing ground.
    pub depth: f64,
    /// How far off the stated line and depth it may lie. Default 2 ft.
    pub tolerance: f64,
}

/// A tree to keep.
#[derive(Debug, Clone, PartialEq)]
pub struct Tree {
    pub name: String,
    pub at: At,
    /// Diameter of the trunk at breast height.
    pub trunk: f64,
    /// Radius of the ground to protect; none: see [`Tree::protected`].
    pub radius: Option<f64>,
}

impl Tree {
    /// Radius of the ground to protect: as given, else 12 times the trunk, which is 1 ft for each
    /// inch (common practice, no source).
    pub fn protected(&self) -> f64 {
        self.radius.unwrap_or(12.0 * self.trunk)
    }
}

#[derive(Debug, Clone, PartialEq)]
pub struct Access {
    pub line: Vec<At>,
    /// Narrowest width along the route.
    pub width: f64,
    /// Width at each point of the line, changing evenly between them; empty: `width` all along.
    pub widths: Vec<f64>,
    pub gates: Vec<Gate>,
    pub steps: Vec<Steps>,
    pub boards: Boards,
}

// ---------------------------------------------------------------- design

#[derive(Debug, Clone, PartialEq, Default)]
pub struct Design {
    pub basins: Vec<Basin>,
    pub cascades: Vec<Cascade>,
    pub walls: Vec<NewWall>,
    pub pads: Vec<Pad>,
    pub berms: Vec<Berm>,
    pub trenches: Vec<Trench>,
    pub ramps: Vec<Ramp>,
    pub piles: Vec<crate::job::Pile>,
    pub overflows: Vec<super::Overflow>,
}

impl Design {
    /// The work that a thing belongs to: a pit's basin, a pool's cascade, else the thing itself.
    pub fn work_of<'a>(&'a self, name: &'a str) -> &'a str {
        let pit = self
            .basins
            .iter()
            .find(|b| b.pits.iter().any(|p| p.name == name));
        let pool = self
            .cascades
            .iter()
            .find(|c| c.pools.iter().any(|p| p.name == name));
        let basin = pit.map(|b| b.name.as_str());
        basin.or(pool.map(|c| c.name.as_str())).unwrap_or(name)
    }
}

/// Where water stands.
#[derive(Debug, Clone, PartialEq)]
pub enum Level {
    At(Height),
    /// So far below the cap of a named wall, standing or new.
    BelowCap {
        wall: String,
        by: f64,
    },
}

/// A slope as horizontal run per unit of rise: 2.0 is 2:1; 0 is vertical.
pub type Batter = f64;

#[derive(Debug, Clone, PartialEq)]
pub struct Basin {
    pub name: String,
    pub water: Level,
    /// The outline, at the water's edge (default) or at the floor.
    pub outline: Vec<At>,
    pub outline_at: OutlineAt,
    /// Round the outline through its points instead of joining them with straight lines.
    pub smooth: bool,
    /// From the shallowest to the deepest. Finished levels (top of stone).
    pub shelves: Vec<Shelf>,
    /// Finished floor below water. Default 24 in.
    pub floor_depth: f64,
    pub batter: Batter,
    /// Batters that differ, by edge of the outline (0 is the edge from point 0 to point 1).
    /// Only with a straight outline.
    pub edge_batters: Vec<(usize, Batter)>,
    /// Slope of the bank above the water, out to daylight. Default: `batter`, at least 1.
    pub bank_batter: Option<Batter>,
    pub lining: Vec<Layer>,
    /// Least height of the lining's edge over the water. Default 4 in.
    pub edge_above: f64,
    pub pits: Vec<Pit>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum OutlineAt {
    Water,
    Floor,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Shelf {
    /// Finished depth below water. Default 12 in.
    pub depth: f64,
    pub width: f64,
}

/// One layer of the lining build-up, between what is dug and what is finished; the thickness is
/// measured square to the face it lies on.
#[derive(Debug, Clone, PartialEq)]
pub struct Layer {
    pub name: String,
    pub thickness: f64,
    pub on: LayerOn,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum LayerOn {
    /// Floor, shelves and sides.
    All,
    /// Floor and shelves.
    Level,
    /// Floor only.
    Floor,
}

/// A deeper place in the floor (for a pump, say).
#[derive(Debug, Clone, PartialEq)]
pub struct Pit {
    pub name: String,
    pub outline: Vec<At>,
    /// Below the finished floor.
    pub depth: f64,
    pub batter: Batter,
}

/// Pools and drops along a centreline, from the highest to the lowest, into a basin.
#[derive(Debug, Clone, PartialEq)]
pub struct Cascade {
    pub name: String,
    /// The basin it falls into.
    pub into: String,
    /// From the top down to the basin's edge.
    pub centreline: Vec<At>,
    pub pools: Vec<Pool>,
    pub lining: Vec<Layer>,
    pub berm: CascadeBerm,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Pool {
    pub name: String,
    /// Length along the centreline, sill included.
    pub length: f64,
    pub width: f64,
    /// Finished depth below the pool's own water.
    pub depth: f64,
    /// Slope of its sides under water. Default 0.5.
    pub batter: Batter,
    /// From this pool's water down to the next water below it.
    pub drop: f64,
    pub lip_width: f64,
    /// Length of the sill between this pool and the drop.
    pub sill: f64,
}

/// The soil that contains a cascade on its sides and its back, and ties back to the ground.
#[derive(Debug, Clone, PartialEq)]
pub struct CascadeBerm {
    /// Height of the crest over the pool's water.
    pub freeboard: f64,
    pub crest_width: f64,
    pub batter: Batter,
}

#[derive(Debug, Clone, PartialEq)]
pub struct NewWall {
    pub name: String,
    /// The front face.
    pub line: Vec<At>,
    /// The side of `line` on which the wall's body and its backfill lie.
    pub back: Side,
    pub thickness: f64,
    pub cap: Height,
    /// Depth of the wall's foot below the lowest ground along its front.
    pub embedment: f64,
    pub base_thickness: f64,
    /// Width of the base course and its trench, centred on the body.
    pub base_width: f64,
    pub backfill: Option<Backfill>,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Backfill {
    /// Level width behind the wall.
    pub width: f64,
    /// How far its top stays under the cap.
    pub below_cap: f64,
    /// Slope from its far edge down to the ground.
    pub batter: Batter,
}

/// A levelled area.
#[derive(Debug, Clone, PartialEq)]
pub struct Pad {
    pub name: String,
    pub outline: Vec<At>,
    /// Finished elevation at the outline's first point.
    pub elevation: Height,
    /// Fall in percent, and the direction it falls to as a point in plan.
    pub fall: Option<(f64, At)>,
    /// Paving and its bed between dug and finished.
    pub build_up: f64,
    pub batter: Batter,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Berm {
    pub name: String,
    pub line: Vec<At>,
    pub crest: Crest,
    pub crest_width: f64,
    pub batter: Batter,
}

#[derive(Debug, Clone, PartialEq)]
pub enum Crest {
    At(Height),
    /// Height over the existing ground at each point of the line.
    Above(f64),
}

#[derive(Debug, Clone, PartialEq)]
pub struct Trench {
    pub name: String,
    pub line: Vec<At>,
    pub width: f64,
    /// Below the ground that is there when it is dug, at each point of the line.
    pub depth: f64,
    pub batter: Batter,
    /// Filled again at the end of its stage. Default true.
    pub refill: bool,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Ramp {
    pub name: String,
    pub line: Vec<At>,
    pub width: f64,
    /// Greatest gradient allowed, rise over run (0.25 is 1 in 4).
    pub gradient: f64,
    /// Slope of its sides down to the ground.
    pub batter: Batter,
    /// Elevations at the points of the line. Empty: straight from the ground at its first point to
    /// the ground at its last.
    pub profile: Vec<Height>,
    /// True if ground above the ramp is cut away as well.
    pub cut: bool,
}

// ---------------------------------------------------------------- soil and sequence

#[derive(Debug, Clone, PartialEq)]
pub struct Soil {
    pub class: SoilClass,
    /// Depth of topsoil over the whole yard; counted apart in whatever is dug (not under what is placed).
    pub topsoil_depth: f64,
    pub topsoil: SoilClass,
    /// Depth to which topsoil is put back on bare ground when all is done; 0: it stays on its pile.
    pub put_back: f64,
    /// Topsoil is stripped before anything permanent is placed on it.
    pub strip_under_fills: bool,
    /// Percent of the subsoil that is dug and may not be placed as fill.
    pub unfit_share: f64,
    /// The same for single features.
    pub unfit: Vec<Unfit>,
    /// Type for the slopes of excavations (29 CFR 1926 Subpart P): stable rock, A, B or C.
    pub excavation_type: ExcavationType,
    /// Heaped loose volume one truck takes, m³.
    pub truck: f64,
    /// Payload of one truck, kg.
    pub truck_payload: f64,
    /// Loose volume one barrow takes, m³.
    pub barrow: f64,
}

/// How much of what one feature digs may not be placed as fill.
#[derive(Debug, Clone, PartialEq)]
pub struct Unfit {
    pub feature: String,
    pub percent: f64,
}

#[derive(Debug, Clone, PartialEq)]
pub struct SoilClass {
    pub name: String,
    /// Loose volume from one of bank.
    pub loose: f64,
    /// Compacted volume from one of bank.
    pub compacted: f64,
    /// Low and high of the two factors; empty: a twentieth either way.
    pub loose_range: Vec<f64>,
    pub compacted_range: Vec<f64>,
    /// kg per m³ loose.
    pub loose_density: f64,
    /// Angle of repose, degrees.
    pub repose: f64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum ExcavationType {
    Rock,
    A,
    B,
    C,
}

#[derive(Debug, Clone, PartialEq)]
pub struct Stage {
    pub name: String,
    /// Names of the features built in this stage, in order.
    pub works: Vec<String>,
    /// Names of earlier features (ramps) taken back in this stage, after its works.
    pub take_back: Vec<String>,
}
