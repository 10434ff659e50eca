//! Reading the soil, the sequence of the work and the job itself.
//!
//! Loose and compacted volumes from one of bank: US Army FM 5-434, soil conversion factors (from
//! memory). Loose densities and angles of repose: common practice, no source.

use crate::job::decode::{
    Check, Context, Documented, Fields, List, Read, RecordDoc, Text, YesNo, record, words,
};
use crate::job::form::Form;
use crate::job::quantity::{Density, Distance, Factor, Percent, Repose, Volume, Weight};
use crate::job::seen::{Name, Space};
use crate::job::seen::{Refers, StageSeen, Want};
use crate::job::tree::{Kind, Node};
use crate::job::{
    AsBuilt, Design, ExcavationType, FieldBook, Haulage, Job, Materials, Plumbing, SettingOut,
    Site, Soil, SoilClass, Stage, Unfit, Unit,
};

words!(ExcavationWord -> ExcavationType {
    Rock => ExcavationType::Rock,
    A => ExcavationType::A,
    B => ExcavationType::B,
    C => ExcavationType::C,
});

/// A ready-made soil class: its word in a job file, its name, loose, compacted, kg/m³, degrees.
type Ready = (&'static str, &'static str, f64, f64, f64, f64);

/// The soil classes that have names of their own in a job file.
pub const READY: [Ready; 5] = [
    ("CommonEarth", "common earth", 1.25, 0.90, 1250.0, 35.0),
    ("Sand", "sand", 1.11, 0.95, 1450.0, 32.0),
    ("Clay", "clay", 1.43, 0.90, 1200.0, 35.0),
    ("BlastedRock", "blasted rock", 1.50, 1.30, 1650.0, 40.0),
    // Handled as common earth.
    ("Topsoil", "topsoil", 1.25, 0.90, 1000.0, 35.0),
];

pub struct ClassReader;

impl Read for ClassReader {
    type Out = SoilClass;

    fn says() -> String {
        "soil class: `CommonEarth`, `Sand`, `Clay`, `BlastedRock`, `Topsoil` or `SoilClass`"
            .to_string()
    }

    fn form() -> Form {
        Form::SoilClass
    }

    fn read(node: &Node, cx: &mut Context) -> Option<SoilClass> {
        match &node.kind {
            Kind::Word(word) => match READY.iter().find(|ready| ready.0 == *word) {
                Some(&(_, name, loose, compacted, loose_density, repose)) => Some(SoilClass {
                    name: name.to_string(),
                    loose,
                    compacted,
                    loose_density,
                    repose,
                    loose_range: Vec::new(),
                    compacted_range: Vec::new(),
                }),
                None => cx.wrong(node, Self::says()),
            },
            Kind::Record { .. } | Kind::Tuple { .. } => SoilClass::read(node, cx),
            _ => cx.wrong(node, Self::says()),
        }
    }
}

record!(SoilClass as "SoilClass": "A soil by its own figures. Ready-made: `CommonEarth` (loose 1.25, compacted 0.90, 1250 kg/m³, 35°), `Sand` (1.11, 0.95, 1450 kg/m³, 32°), `Clay` (1.43, 0.90, 1200 kg/m³, 35°), `BlastedRock` (1.50, 1.30, 1650 kg/m³, 40°), `Topsoil` (as common earth, 1000 kg/m³). Factors: US Army FM 5-434 (from memory); densities and angles: common practice, no source." {
    name: Text, Absent::Required, "What it is called.", "\"sandy loam\"";
    loose: Factor, Absent::Required, "Loose volume from one of bank.", "1.2";
    compacted: Factor, Absent::Required, "Compacted volume from one of bank.", "0.92";
    loose_range: List<Factor>, Absent::Is("[]"), "Low and high of `loose`; ranges of loads follow. Without it: a twentieth less and more (common practice, no source).", "[1.15, 1.3]";
    compacted_range: List<Factor>, Absent::Is("[]"), "Low and high of `compacted`. Without it: a twentieth less and more (common practice, no source).", "[0.88, 0.95]";
    loose_density: Density, Absent::Is("\"1250 kg/m3\""), "Weight of the loose soil.", "\"2100 lb/yd3\"";
    repose: Repose, Absent::Is("35"), "Angle at which it lies when dumped, degrees.", "34";
});

record!(Soil as "Soil": "What the ground is made of and how it is carried." {
    class: ClassReader, Absent::Is("CommonEarth"), "The soil under the topsoil.", "Clay";
    topsoil_depth: Distance, Absent::Is("\"4 in\""), "Depth of topsoil over the whole yard; counted apart in whatever is dug. What lies under soil that is placed stays there, is not counted as cut, and is named in a finding with its volume. Default: common practice, no source.", "\"6 in\"";
    topsoil: ClassReader, Absent::Is("Topsoil"), "The topsoil.", "Topsoil";
    put_back: Distance, Absent::Is("0"), "Depth of topsoil put back on bare ground when all is done. 0: what was kept stays on its pile.", "\"4 in\"";
    strip_under_fills: YesNo, Absent::Is("false"), "Topsoil is stripped before anything permanent is placed on it (common practice): so much more is dug and kept, and so much more is placed.", "true";
    unfit_share: Percent, Absent::Is("0"), "Share of the subsoil dug that may not be placed as fill (rock, wet clay, rubble), percent; it is hauled off.", "15";
    unfit: List<Unfit>, Absent::Is("[]"), "Features whose share differs.", "[(\"pond\", 30)]";
    excavation_type: ExcavationWord, Absent::Is("C"), "Type for the slopes of excavations (29 CFR 1926 Subpart P): stable rock, A, B or C. Default: C, the flattest, unless a competent person has classed the soil (29 CFR 1926.652(b)(1)).", "B";
    truck: Volume, Absent::Is("\"10 yd3\""), "Heaped loose volume that one truck takes. Default: common practice, no source.", "\"12 yd3\"";
    truck_payload: Weight, Absent::Is("\"12 ton\""), "Payload of one truck. Default: common practice, no source.", "\"24000 lb\"";
    barrow: Volume, Absent::Is("\"5 cu ft\""), "Loose volume that one barrow takes. Default: common practice, no source.", "\"6 cu ft\"";
});

record!(Unfit as "Unfit": "How much of what one feature digs may not be placed as fill." {
    feature: Refers<{ Want::Work as u8 }>, Absent::Required, "Name of the feature; a basin's pits and a cascade's pools go with it.", "\"pond\"";
    percent: Percent, Absent::Required, "Share of the subsoil it digs, percent.", "30";
});

record!(Stage as "Stage": "One stage of the work." {
    name: Name<{ Space::Stage as u8 }>, Absent::Required, "Its name.", "\"dig\"";
    works: List<Refers<{ Want::Work as u8 }>>, Absent::Is("[]"), "Names of the features built in it, in order.", "[\"haul ramp\", \"pond\"]";
    take_back: List<Refers<{ Want::TakeBack as u8 }>>, Absent::Is("[]"), "Names of features built by then (ramps) that are taken back in this stage, after its works.", "[\"haul ramp\"]";
});

impl Check for SoilClass {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        for (field, range, likely) in [
            ("loose_range", &self.loose_range, self.loose),
            ("compacted_range", &self.compacted_range, self.compacted),
        ] {
            let fits = match range.as_slice() {
                [] => true,
                [low, high] => (*low..=*high).contains(&likely),
                _ => false,
            };
            // Factors that contradict each other are named below, and only once.
            if !fits && self.compacted <= self.loose {
                cx.problem(
                    fields.span(field),
                    format!(
                        "soil \"{}\": `{field}` is no range about {likely}",
                        self.name
                    ),
                    "two factors, low and high, with the likely one between them",
                );
            }
        }
        if self.compacted > self.loose {
            cx.problem(
                fields.span("compacted"),
                format!(
                    "soil \"{}\" takes more room compacted than loose",
                    self.name
                ),
                "`compacted` is at most `loose`; both are volumes from one of bank",
            );
        }
    }
}
impl Check for Soil {}
impl Check for Unfit {}
impl Check for Stage {
    fn open(cx: &mut Context) {
        cx.seen.stages.push(StageSeen::default());
    }
}

words!(UnitWord -> Unit { Foot => Unit::Foot, Metre => Unit::Metre });

/// The unit; it must be known before any length is read.
pub struct UnitReader;

impl Read for UnitReader {
    type Out = Unit;

    fn says() -> String {
        UnitWord::says()
    }

    fn form() -> Form {
        UnitWord::form()
    }

    fn read(node: &Node, cx: &mut Context) -> Option<Unit> {
        let unit = UnitWord::read(node, cx)?;
        cx.unit = unit;
        Some(unit)
    }
}

record!(Job as "Job": "The whole file." {
    name: Text, Absent::Required, "What the job is called.", "\"Reading garden\"";
    unit: UnitReader, Absent::Required, "The unit of bare numbers, and of reports.", "Foot";
    remarks: Text, Absent::Is("\"\""), "Free text for the people of the job.", "\"gate code: ask\"";
    field_book: FieldBook, Absent::Required, "What was measured.", "(benchmarks: [(\"BM\", 100, true)])";
    site: Site, Absent::Is("()"), "What is there already.", "(outline: [\"1\", \"2\", \"3\"])";
    design: Design, Absent::Is("()"), "What is to be built.", "(basins: [])";
    soil: Soil, Absent::Is("()"), "What the ground is made of.", "(class: Clay)";
    materials: Materials, Absent::Is("()"), "How what is bought is sold, and how much is added.", "(waste: (stone: 15))";
    plumbing: Plumbing, Absent::Is("()"), "Hose, rain, pumps and their pipes.", "(hose: \"8 gal/min\")";
    sequence: List<Stage>, Absent::Is("[]"), "Stages in the order in which they are done. Without it: one stage with every feature, in the order walls, berms, ramps, pads, basins, cascades, trenches.", "[(name: \"dig\", works: [\"pond\"])]";
    setting_out: SettingOut, Absent::Is("()"), "How the design is set out with stakes.", "(spacing: \"4 ft\")";
    as_built: AsBuilt, Absent::Is("()"), "What was shot after digging or building.", "(visits: [])";
    haul: Haulage, Absent::Is("()"), "How soil is carried.", "(machines: [(name: \"mini loader\")])";
});

impl Check for Job {}

/// Every record, in the order of the reference table.
pub fn records() -> Vec<RecordDoc> {
    use crate::job::materials::{
        BlockStock, LayerStuff, LinerStock, PipeStock, PlantingStock, StoneStock, Waste,
    };
    use crate::job::place::{BelowCap, Grid, Offset, Ray, TieFields, Xy};
    use crate::job::{
        Access, Area, Backfill, Barrow, Baseline, Basin, Benchmark, Berm, Boards, Cascade,
        CascadeBerm, Fitting, Gate, KnownPoint, Layer, Line, Machine, NewWall, Overflow, Pad, Peg,
        Pile, Pipe, Pit, Pool, Pump, Ramp, RampSought, Service, Setup, Shelf, Sight, StandingWall,
        Steps, Tolerances, Tree, Trench, Visit,
    };
    vec![
        Job::doc(),
        FieldBook::doc(),
        Benchmark::doc(),
        Baseline::doc(),
        Peg::doc(),
        Setup::doc(),
        Sight::doc(),
        KnownPoint::doc(),
        Xy::doc(),
        Offset::doc(),
        TieFields::doc(),
        Ray::doc(),
        Grid::doc(),
        Site::doc(),
        Line::doc(),
        Area::doc(),
        StandingWall::doc(),
        Service::doc(),
        Access::doc(),
        Tree::doc(),
        Gate::doc(),
        Steps::doc(),
        Boards::doc(),
        Design::doc(),
        Basin::doc(),
        BelowCap::doc(),
        Shelf::doc(),
        Layer::doc(),
        Pit::doc(),
        Cascade::doc(),
        Pool::doc(),
        CascadeBerm::doc(),
        NewWall::doc(),
        Backfill::doc(),
        Pad::doc(),
        Berm::doc(),
        Trench::doc(),
        Ramp::doc(),
        Pile::doc(),
        Overflow::doc(),
        Soil::doc(),
        SoilClass::doc(),
        Unfit::doc(),
        Materials::doc(),
        LinerStock::doc(),
        StoneStock::doc(),
        BlockStock::doc(),
        PipeStock::doc(),
        PlantingStock::doc(),
        Waste::doc(),
        LayerStuff::doc(),
        Plumbing::doc(),
        Pump::doc(),
        Pipe::doc(),
        Fitting::doc(),
        Stage::doc(),
        SettingOut::doc(),
        AsBuilt::doc(),
        Tolerances::doc(),
        Visit::doc(),
        Haulage::doc(),
        Machine::doc(),
        Barrow::doc(),
        RampSought::doc(),
    ]
}
