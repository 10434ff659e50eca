//! Job files that are wrong, and what is said about them: the text, the place, what is allowed.
//! Every yard in here is invented.

use brimline::findings::{Finding, Severity};
use brimline::job::{Document, JobErrors};
use brimline::plan::Plan;
use proptest::prelude::*;

/// Small, whole and right.
const SMALL: &str = include_str!("smallest.ron");
/// One of everything, whole and right; the tests break it.
const WHOLE: &str = include_str!("whole.ron");

/// One way to break the whole job: `right` becomes `wrong`, and the problem stands at `at`.
struct Case {
    right: &'static str,
    wrong: &'static str,
    /// The source under the mark.
    at: &'static str,
    what: &'static str,
    allowed: &'static str,
}

const fn case(
    right: &'static str,
    wrong: &'static str,
    at: &'static str,
    what: &'static str,
    allowed: &'static str,
) -> Case {
    Case {
        right,
        wrong,
        at,
        what,
        allowed,
    }
}

#[rustfmt::skip]
const CASES: &[Case] = &[
    // ---- fields: unknown, missing, twice, wrong kind
    case("remarks:", "remark:", "remark", "this job has no field `remark`; did you mean `remarks`?", "allowed: name, unit, remarks, field_book, site, design, soil, materials, plumbing, sequence, setting_out, as_built"),
    case("name: \"Whole yard\",", "", "(", "this job has no `name`", "`name` must be given: text"),
    case("unit: Foot,", "", "(", "this job has no `unit`", "`Foot` or `Metre`"),
    case("unit: Foot,", "unit: Foot, unit: Metre,", "unit", "`unit` is given twice in this job", "each field once"),
    case("bed_n: 0.035", "bed_n: 0,035", "0", "a number with a comma in it", "decimals follow a point"),
    case("line: [(20, 5), (30, 24)]", "line: [(20, 5), (30,24]", "]", "expected a comma or a closing bracket, found `]`", "separated by commas"),
    case("unit: Foot", "unit: Yard", "Yard", "`unit`: found the word Yard", "allowed: `Foot` or `Metre`"),
    case("unit: Foot", "unit: \"Foot\"", "\"Foot\"", "`unit`: found the text \"Foot\"", "without quotation marks"),
    case("name: \"Whole yard\"", "name: 7", "7", "`name`: found the number 7", "text in quotation marks"),
    case("assumed: true", "assumed: \"yes\"", "\"yes\"", "`assumed`: found the text \"yes\"", "allowed: true or false"),
    case("shelves: [(depth: \"10 in\", width: \"12 in\"), (\"16 in\", 1)]", "shelves: 2", "2", "`shelves`: found the number 2", "a list in square brackets"),
    case("access: (line: [(0, -10), (5, 5)], width: \"8 ft\", widths: [10, \"9 ft\"], gates: [(\"side gate\", 12, \"8 ft\")],\n            steps: [(name: \"front steps\", along: 6, rise: \"14 in\", run: \"4 ft\", planked: true)],\n            boards: (length: 8, width: 2, overlap: \"6 in\", tracks: 2, fabric_width: \"6 ft\", fabric_overlap: 1))", "access: \"gate\"", "\"gate\"", "`access`: found the text \"gate\"", "Access(…) with the fields line, width"),
    case("(\"peg 1\", (0, 40))", "(\"peg 1\", (0, 40), 3)", "3", "this peg has one value too many", "at most 2, in this order: name, at"),
    case("    soil: (", "    soil: Site(", "Site", "`soil`: found Site(…)", "allowed: Soil(…), or the brackets alone"),
    case("outline: [\"1\", \"2\", \"3\", \"4\"]", "outline: {1: 2}", "{", "found a map in braces", "fields stand in round brackets"),
    case("into: \"pond\"", "into: 'p'", "'p'", "`into`: found a single character", "a name in quotation marks"),

    // ---- setting out
    case("spacing: \"4 ft\"", "spacing: \"1 in\"", "\"1 in\"", "stakes 0.08 ft apart", "`spacing` of at least 4 in"),
    case("along: 8, pegs", "along: 0, pegs", "0", "`along`: found the number 0", "more than 0"),
    case("pegs: [\"peg 1\", \"peg 2\"]", "pegs: [\"peg 1\", \"peg 3\"]", "\"peg 3\"", "nothing here is called \"peg 3\"; did you mean", "a shot, peg or benchmark that has a place"),
    case("tape_length: \"30 m\"", "tape_length: \"-30 m\"", "\"-30 m\"", "`tape_length`: found the text \"-30 m\"", "more than 0"),
    case("tape_error: \"1/2 in\"", "tape_error: \"-1 in\"", "\"-1 in\"", "`tape_error`: found the text \"-1 in\"", "0 or more"),
    // ---- soil and piles
    case("loose_range: [1.15, 1.3]", "loose_range: [1.3, 1.4]", "[1.3, 1.4]", "soil \"loam\": `loose_range` is no range about 1.2", "two factors, low and high, with the likely one between them"),
    case("compacted_range: [0.88, 0.95]", "compacted_range: [0.88]", "[0.88]", "soil \"loam\": `compacted_range` is no range about 0.9", "two factors, low and high"),
    case("unfit_share: 5", "unfit_share: 130", "130", "`unfit_share`: found the number 130", "percent, from 0 to 100"),
    case("along: [(5, 70), (15, 70)], against: Left", "along: [(5, 70), (15, 70), (20, 70)]", "[(5, 70), (15, 70), (20, 70)]", "pile \"heap\" has 3 points", "one point for a cone, or the two ends of a ridge"),
    case("along: [(5, 70), (15, 70)], against: Left", "along: [(5, 70)], against: Left", "Left", "pile \"heap\" leans on a line, and has only one point", "give the two ends of the line"),

    // ---- as-built
    case("stage: \"set up\"", "stage: \"set-up\"", "\"set-up\"", "`stage`: nothing here is called \"set-up\"; did you mean `set up`?", "a stage of `sequence`"),
    case("backsight: (\"TP\", 4.1), sights: [", "backsight: (\"TQ\", 4.1), sights: [", "\"TQ\"", "backsight to \"TQ\", whose elevation is not known at this setup", "a backsight goes to a benchmark"),
    case("(to: \"1\", rod: 4.2, at: (46, 30))", "(to: \"1\", rod: 42, at: (46, 30))", "42", "rod reading 42.00 ft is longer than the 13 ft rod; did you mean 4.2?", "readings from 0 to 13 ft"),
    case("(to: \"1\", rod: 4.2, at: (46, 30))", "(to: \"1\", rod: 4.2, at: Tie(\"peg 1\", 2, \"peg 2\", 3, Left))", "Tie(\"peg 1\", 2, \"peg 2\", 3, Left)", "this tie cannot close", "at most the sum of the other two"),
    case("(\"edge\", [\"1\", \"2\"])", "(\"edge\", [\"1\", \"22\"])", "\"22\"", "nothing here is called \"22\"", "a shot, peg or benchmark that has a place"),
    case("against: Dug", "against: Lined", "Lined", "`against`: found the word Lined", "`Dug` or `Finished`"),
    case("cap: \"0.02 ft\"", "cap: \"-1 in\"", "\"-1 in\"", "`cap`: found the text \"-1 in\"", "0 or more"),
    case("stage: \"set up\",\n            setups", "setups", "Base", "this visit tells how far walls are, and not of which stage", "give the `stage` that builds them"),
    case("visits: [(", "visits: [(stage: \"dig\"), (", "(stage: \"dig\")", "the visit for stage \"dig\" has no shots", "give its `setups`"),

    // ---- lengths
    case("elevation: 100,", "elevation: \"100 miles\",", "\"100 miles\"", "`elevation`: `miles` is not a unit known here", "5.29 ft"),
    case("elevation: 100,", "elevation: \"a hundred\",", "\"a hundred\"", "`elevation`: there is no number in it", "5.29 ft"),
    case("elevation: 100,", "elevation: \"\",", "\"\"", "`elevation`: nothing is written here", "5.29 ft"),
    case("elevation: 100,", "elevation: NaN,", "NaN", "`elevation`: `NaN` is not a finite number", "5.29 ft"),
    case("elevation: 100,", "elevation: inf,", "inf", "`elevation`: `inf` is not a finite number", "5.29 ft"),
    case("elevation: 100,", "elevation: -inf,", "-inf", "`elevation`: `-inf` is not a finite number", "5.29 ft"),
    case("elevation: 100,", "elevation: \"inf ft\",", "\"inf ft\"", "`elevation`: there is no number in it", "5.29 ft"),
    case("elevation: 100,", "elevation: 1e308,", "1e308", "larger than anything in a yard", "up to 100 km"),
    case("elevation: 100,", "elevation: \"1e308 m\",", "\"1e308 m\"", "larger than anything in a yard", "up to 100 km"),
    case("elevation: 100,", "elevation: 1e999,", "1e999", "`elevation`: `inf` is not a finite number", "5.29 ft"),
    case("elevation: 100,", "elevation: \"5'-13\",", "\"5'-13\"", "the inches beside feet must be under 12", "5.29 ft"),
    case("elevation: 100,", "elevation: \"3 1/0 in\",", "\"3 1/0 in\"", "a fraction over zero", "5.29 ft"),
    case("elevation: 100,", "elevation: [100],", "[100]", "`elevation`: found a list of 1", "a length"),
    case("elevation: 100,", "elevation: true,", "true", "`elevation`: found true", "a length"),
    case("floor_depth: \"30 in\"", "floor_depth: 0", "0", "`floor_depth`: found the number 0", "more than 0"),
    case("(\"underlayment\", \"1/4 in\"), (\"stone\"", "(\"underlayment\", -1), (\"stone\"", "-1", "`thickness`: found the number -1", "0 or more"),
    case("width: \"8 ft\"", "width: \"-8 ft\"", "\"-8 ft\"", "`width`: found the text \"-8 ft\"", "more than 0"),

    case("floor_depth: \"30 in\"", "floor_depth: \"30\"", "\"30\"", "`floor_depth`: found the text \"30\"", "text with its unit, such as \"24 in\""),
    case("floor_depth: \"30 in\"", "floor_depth: \"3 1/2\"", "\"3 1/2\"", "`floor_depth`: found the text \"3 1/2\"", "text with its unit, such as \"24 in\""),
    case("elevation: 100,", "elevation: \"100\",", "\"100\"", "`elevation`: found the text \"100\"", "without quotation marks"),
    case("cap: Shot(\"7\")", "cap: \"99 1/2\"", "\"99 1/2\"", "`cap`: found the text \"99 1/2\"", "without quotation marks"),
    case("truck: 12", "truck: \"12\"", "\"12\"", "`truck`: found the text \"12\"", "a number in the job's unit without quotation marks"),
    case("(\"peg 2\", (60, 40))", "(\"peg 2\", (1600000, 40))", "1600000", "`x`: `1600000` is larger than anything in a yard", "subtract the same round number everywhere"),

    // ---- the way in and who carries
    case("widths: [10, \"9 ft\"]", "widths: [10]", "[10]", "the access has 1 widths for the 2 points of its line", "one width for each point of `line`"),
    case("(\"side gate\", 12, \"8 ft\")", "(\"side gate\", 12, 0)", "0", "`width`: found the number 0", "more than 0"),
    case("rise: \"14 in\"", "rise: \"14\"", "\"14\"", "`rise`: found the text \"14\"", "text with its unit"),
    case("overlap: \"6 in\", tracks: 2", "overlap: 8, tracks: 2", "8", "the boards overlap by their whole length", "less than `length`"),
    case("tracks: 2", "tracks: 0", "0", "`tracks`: found the number 0", "from 1 to 8"),
    case("gauge: \"28 in\"", "gauge: 4", "4", "its wheels stand further apart than it is wide", "`gauge` is less than `width`"),
    case("load: 30,", "load: -3,", "-3", "`load`: found the number -3", "seconds, from 0 to 3600"),
    case("hours: 40", "hours: \"a week\"", "\"a week\"", "`hours`: found the text \"a week\"", "hours, from 0 to 10000"),
    case("hour_cost: 3,", "hour_cost: 0,", "0", "`hour_cost`: found the number 0", "from 0.01 to 1000"),
    case("gradient: \"1 in 5\"", "gradient: 5", "5", "`gradient`: found the number 5", "at most 2"),

    case("Above(\"2 ft\")", "Above(-2)", "-2", "`crest`: found the number -2", "more than 0"),

    // ---- other quantities
    case("batter: \"1:2\"", "batter: -1", "-1", "`batter`: found the number -1", "from 0 (vertical) to 100"),
    case("batter: \"1:2\"", "batter: \"steep\"", "\"steep\"", "`batter`: found the text \"steep\"", "such as 2 or \"2:1\""),
    case("gradient: \"1 in 4\"", "gradient: 40", "40", "`gradient`: found the number 40", "at most 2"),
    case("fall: (2, \"1\")", "fall: (200, \"1\")", "200", "`fall`: found the number 200", "percent, from 0 to 100"),
    case("fall: (2, \"1\")", "fall: 2", "2", "`fall`: found the number 2", "`(percent, point)`"),
    case("loose: 1.2,", "loose: 12,", "12", "`loose`: found the number 12", "factor, from 0.2 to 5"),
    case("loose: 1.2, compacted: 0.9", "loose: 1.2, compacted: 1.3", "1.3", "takes more room compacted than loose", "at most `loose`"),
    case("truck: 12", "truck: \"12 ft\"", "\"12 ft\"", "`truck`: `ft` is not a unit known here", "\"12 yd3\""),
    case("truck: 12", "truck: 0", "0", "`truck`: found the number 0", "more than 0"),
    case("truck_payload: \"9 t\"", "truck_payload: \"9 stone\"", "\"9 stone\"", "`stone` is not a unit known here", "\"24000 lb\""),
    case("class: Clay", "class: Chalk", "Chalk", "`class`: found the word Chalk", "`CommonEarth`, `Sand`, `Clay`"),
    case("excavation_type: B", "excavation_type: D", "D", "`excavation_type`: found the word D", "`Rock` or `A` or `B` or `C`"),
    case("allowed: PerSetup(\"3 mm\")", "allowed: PerDay(3)", "PerDay(3)", "`allowed`: found PerDay(…)", "`PerRootKm(length)`, `PerSetup(length)` or `Total(length)`"),
    case("Ray(\"S1\", \"BM\", 90, 12)", "Ray(\"S1\", \"BM\", 900, 12)", "900", "`angle`: found the number 900", "degrees, from -360 to 360"),

    // ---- materials and trees
    case("rolls: [\"20 ft\", \"30 ft\"]", "rolls: [\"20 ft\", \"5 in\"]", "\"5 in\"", "this roll is no wider than the overlap at a seam", "rolls wider than `seam`"),
    case("least: \"1400 kg/m3\", most: \"1700 kg/m3\"", "least: \"1800 kg/m3\", most: \"1700 kg/m3\"", "\"1700 kg/m3\"", "`most` is less than `least`", "the lighter of the two"),
    case("waste: (liner: 0,", "waste: (liner: 150,", "150", "`liner`: found the number 150", "percent, from 0 to 100"),
    case("cap_length: \"12 in\"", "cap_length: 0", "0", "`cap_length`: found the number 0", "more than 0"),
    case("not_in: [\"pipe run\"]", "not_in: [\"pipe runn\"]", "\"pipe runn\"", "nothing here is called \"pipe runn\"; did you mean `pipe run`?", "a feature of `design`"),
    case("(\"underlayment\", Underlayment)", "(\"underlayment\", Carpet)", "Carpet", "`is`: found the word Carpet", "`Liner` or `Underlayment` or `Stone`"),
    case("trunk: \"8 in\"", "trunk: 0", "0", "`trunk`: found the number 0", "more than 0"),
    case("(\"birch\", (75, 50), \"4 in\")", "(\"supply\", (75, 50), \"4 in\")", "\"supply\"", "a second service or tree is called \"supply\"", "every name once"),

    // ---- names and references
    case("(\"peg 2\", (60, 40))", "(\"peg 1\", (60, 40))", "\"peg 1\"", "a second benchmark, peg or point is called \"peg 1\"", "every name once"),
    case("name: \"S2\"", "name: \"S1\"", "\"S1\"", "a second setup is called \"S1\"", "every name once"),
    case("name: \"screen\"", "name: \"seat wall\"", "\"seat wall\"", "a second wall or other feature is called \"seat wall\"", "every name once"),
    case("name: \"pond\"", "name: \"\"", "\"\"", "`name`: found the text \"\"", "a name that is not empty"),
    case("(\"2\", 5.05", "(\"1\", 5.05", "\"1\"", "shot \"1\" is sighted twice from this setup", "a name of its own"),
    case("(\"9\", 4.8", "(\"1\", 4.8", "\"1\"", "\"1\" is placed a second time here", "give `at` once"),
    case("(\"1\", 4.60", "(1, 4.60", "1", "`to`: found the number 1", "such as \"1\""),
    case("outline: [\"1\", \"2\", \"3\", \"4\"]", "outline: [\"1\", \"2\", \"3\", \"44\"]", "\"44\"", "nothing here is called \"44\"; did you mean `4`?", "a shot, peg or benchmark that has a place"),
    case("outline: [\"1\", \"2\", \"3\", \"4\"]", "outline: [\"1\", \"2\", \"3\", \"TP\"]", "\"TP\"", "\"TP\" has no place in plan", "a shot, peg or benchmark that has a place"),
    case("outline: [\"1\", \"2\", \"3\", \"4\"]", "outline: [1, 2, 3]", "1", "`outline`: found the number 1", "a point: the name of a shot in quotation marks"),
    case("cap: Shot(\"7\")", "cap: Shot(\"77\")", "\"77\"", "nothing here is called \"77\"; did you mean `7`?", "a shot, benchmark or point that has an elevation"),
    case("cap: Shot(\"7\")", "cap: Shot(\"peg 1\")", "\"peg 1\"", "\"peg 1\" has no elevation", "a shot, benchmark or point that has an elevation"),
    case("cap: Shot(\"7\")", "cap: \"7\"", "\"7\"", "`cap`: found the text \"7\"", "a bare elevation is written without quotation marks"),
    case("Offset(\"A\", 80, 0)", "Offset(\"B\", 80, 0)", "\"B\"", "`baseline`: nothing here is called \"B\"", "one of `baselines`"),
    case("Offset(\"A\", 80, 0)", "Ofset(\"A\", 80, 0)", "Ofset(\"A\", 80, 0)", "`at`: found Ofset(…)", "Offset(baseline, along, offset)"),
    case("BelowCap(\"north wall\", \"4 ft\")", "BelowCap(\"norht wall\")", "\"norht wall\"", "nothing here is called \"norht wall\"; did you mean `north wall`?", "a wall of `site` or `design`"),
    case("into: \"pond\"", "into: \"pnd\"", "\"pnd\"", "nothing here is called \"pnd\"; did you mean `pond`?", "one of `basins`"),
    case("works: [\"bench pad\"]", "works: [\"bench\"]", "\"bench\"", "nothing here is called \"bench\"; did you mean `bench pad`?", "a feature of `design`"),


    case("name: \"pump pit\"", "name: \"pond\"", "\"pond\"", "a second wall or other feature is called \"pond\"", "every name once"),
    case("(\"low\", 5, 4, \"9 in\")", "(\"top\", 5, 4, \"9 in\")", "\"top\"", "a second wall or other feature is called \"top\"", "every name once"),

    // ---- contradictions
    case("(\"2\", 5.05", "(\"2\", 17.20", "17.20", "rod reading 17.20 ft is longer than the 13 ft rod; did you mean 7.20?", "readings from 0 to 13 ft"),
    case("(\"2\", 5.05", "(\"2\", 505", "505", "rod reading 505.00 ft is longer than the 13 ft rod; did you mean 5.05?", "readings from 0 to 13 ft"),
    case("(\"2\", 5.05", "(\"2\", -5.05", "-5.05", "`rod`: found the number -5.05", "0 or more"),
    case("Tie(\"peg 1\", 36, \"peg 2\", \"36 ft\", Right)", "Tie(\"peg 1\", 20, \"peg 2\", 30, Right)", "Tie(\"peg 1\", 20, \"peg 2\", 30, Right)", "this tie cannot close: \"peg 1\" and \"peg 2\" are 60.00 ft apart, and the tapes reach only 20.00 ft + 30.00 ft", "the sum of the other two"),
    case("Tie(\"peg 1\", 36, \"peg 2\", \"36 ft\", Right)", "Tie(\"peg 1\", 100, \"peg 2\", 30, Right)", "Tie(\"peg 1\", 100, \"peg 2\", 30, Right)", "are only 60.00 ft apart, and the tapes differ by 70.00 ft", "the sum of the other two"),
    case("Tie(\"peg 1\", 36, \"peg 2\", \"36 ft\", Right)", "Tie(\"peg 1\", 36, \"peg 1\", 36, Right)", "Tie(\"peg 1\", 36, \"peg 1\", 36, Right)", "this tie measures twice from \"peg 1\"", "two different points"),
    case("Tie(\"peg 1\", 36, \"peg 2\", \"36 ft\", Right)", "Tie(\"peg 1\", 36, \"peg 2\", 36, Up)", "Up", "`side`: found the word Up", "`Left` or `Right`"),
    case("Ray(\"S1\", \"BM\", 90, 12)", "Ray(\"BM\", \"BM\", 90, 12)", "\"BM\"", "turned at and from the same point \"BM\"", "another point than `at`"),
    case("to: (80, 0))]", "to: (0, 0))]", "(0, 0)", "baseline \"A\" has no length", "another place than `from`"),
    case("backsight: (\"TP\", 4.75)", "backsight: (\"TQ\", 4.75)", "\"TQ\"", "backsight to \"TQ\", whose elevation is not known at this setup", "sighted from an earlier setup"),
    case("(\"16 in\", 1)]", "(\"9 in\", 1)]", "(\"9 in\", 1)", "this shelf is not deeper than the one before it", "from the shallowest to the deepest"),
    case("(\"16 in\", 1)]", "(\"36 in\", 1)]", "(\"36 in\", 1)", "this shelf, 36.0 in under water, is not above the floor at 30.0 in", "shallower than `floor_depth`"),
    case("edge_batters: [(2, 1.5)]", "smooth: true, edge_batters: [(2, 3)]", "[(2, 3)]", "basin \"pond\" is smooth and has `edge_batters`", "a straight outline"),
    case("edge_batters: [(2, 1.5)]", "edge_batters: [(4, 3)]", "(4, 3)", "basin \"pond\" has no edge 4: its outline has 4 edges", "edges 0 to 3"),
    case("edge_batters: [(2, 1.5)]", "edge_batters: [(2, 3), (2, 4)]", "(2, 4)", "edge 2 has two batters", "each edge once"),
    case("edge_batters: [(2, 1.5)]", "edge_batters: [(-1, 3)]", "-1", "`edge_batters`: found the number -1", "the number of an edge"),
    case("(\"low\", 5, 4, \"9 in\")", "(\"low\", 1, 4, \"9 in\")", "(\"low\", 1, 4, \"9 in\")", "pool \"low\": its sill takes all of its length", "must be longer"),
    case("lip_width: 2.5", "lip_width: 6", "6", "pool \"top\": its lip is wider than the pool", "at most `width`"),
    // ---- plumbing
    case("hose: \"8 gal/min\"", "hose: \"8 gal\"", "\"8 gal\"", "`hose`: found the text \"8 gal\"", "such as \"3000 gal/h\""),
    case("hose: \"8 gal/min\"", "hose: 0", "0", "`hose`: found the number 0", "more than 0"),
    case("rain: \"4 in/h\"", "rain: \"4 in\"", "\"4 in\"", "`rain`: found the text \"4 in\"", "\"100 mm/h\""),
    case("rain: \"4 in/h\"", "rain: 400", "400", "`rain`: found the number 400", "at most 1,000 mm/h"),
    case("runoff: 0.5", "runoff: 50", "50", "`runoff`: found the number 50", "share, from 0 to 1"),
    case("lip_flow: \"100 gal/h per in\"", "lip_flow: \"100 gal/h\"", "\"100 gal/h\"", "`lip_flow`: found", "per in"),
    case("bed_n: 0.035", "bed_n: 35", "35", "`bed_n`: found the number 35", "Manning's n, from 0.005 to 0.2"),
    case("c: 150", "c: 15", "15", "`c`: found the number 15", "Hazen-Williams C, from 60 to 160"),
    case("sits_in: \"pump pit\"", "sits_in: \"pump pitt\"", "\"pump pitt\"", "nothing here is called \"pump pitt\"; did you mean `pump pit`?", "a pit or a basin"),
    case("pipe: \"2 in\"", "pipe: \"3 in\"", "\"3 in\"", "pump \"lift\": no pipe is called \"3 in\"", "one of `pipes`: 2 in"),
    case("curve: [(0, 20), (\"4000 gal/h\", 8)]", "curve: [(0, 20)]", "[(0, 20)]", "one point is no curve", "two points or more"),
    case("curve: [(0, 20), (\"4000 gal/h\", 8)]", "curve: [(4000, 20), (3000, 8)]", "(3000, 8)", "this flow is not more than the one before it", "in order of flow"),
    case("(\"elbow\", 4, 0.9, \"5 ft\")", "(\"elbow\", 4)", "(\"elbow\", 4)", "fitting \"elbow\" loses nothing", "give `k` or `length`"),
    case("above_water: \"1 in\"", "above_water: \"1 in\", invert: 99", "\"1 in\"", "overflow \"overflow\" has its invert twice", "`invert` or `above_water`"),
    case("velocity: \"5 ft/s\"", "velocity: \"5 mph\"", "\"5 mph\"", "`velocity`: found", "\"1.5 m/s\""),
    case("profile: [99, Shot(\"5\")]", "profile: [99]", "[99]", "ramp \"haul ramp\" has 1 elevations for the 2 points of its line", "one elevation for each point"),
    case("works: [\"bench pad\"]", "works: []", "\"bench pad\"", "\"bench pad\" is in no stage of `sequence`", "in the `works` of one stage"),
    case("works: [\"bench pad\"]", "works: [\"bench pad\", \"pond\"]", "\"pond\"", "\"pond\" is built a second time here", "in one stage, once"),
    case("works: [\"haul ramp\", \"seat wall\"]", "works: [\"haul ramp\", \"seat wall\"], take_back: [\"pond\"]", "\"pond\"", "\"pond\" is taken back before it is built", "this stage or an earlier one"),
    case("works: [\"bench pad\"]", "works: [\"bench pad\"], take_back: [\"haul ramp\"]", "\"haul ramp\"", "\"haul ramp\" is taken back a second time", "each feature once"),

    // ---- geometry that shows in the file alone
    case("line: [(20, 5), (30, 24)]", "line: [(20, 5), Xy(20, 5)]", "Xy(20, 5)", "`line`: this point repeats the one before it", "each point once"),
    case("line: [(20, 5), (30, 24)]", "line: [(20, 5), Offset(\"A\", 20, -5)]", "[(20, 5), Offset(\"A\", 20, -5)]", "`line` of this ramp has no length", "apart from each other"),
    case("line: [(20, 5), (30, 24)]", "line: [(20, 5)]", "[(20, 5)]", "`line`: found 1 in the list", "list of at least 2: point"),
    case("outline: [(50, 20), (56, 20), (56, 26), (50, 26)]", "outline: [(50, 20), (56, 26)]", "[(50, 20), (56, 26)]", "`outline`: found 2 in the list", "list of at least 3: point"),
    case("outline: [(50, 20), (56, 20), (56, 26), (50, 26)]", "outline: [(50, 20), (56, 20), (50, 26), (56, 26)]", "[(50, 20), (56, 20), (50, 26), (56, 26)]", "`outline` of this pad crosses itself: the edge after point 2 crosses the edge after point 4", "walking once round it"),

    // ---- not RON
    case("unit: Foot,", "unit: Foot", "r", "expected a comma or a closing bracket, found `r`", "separated by commas"),
    case("unit: Foot,", "unit Foot,", "F", "expected a colon after the field's name, found `F`", "`name: value`"),
    case("elevation: 100,", "elevation: 5.29 ft,", "f", "expected a comma or a closing bracket, found `f`", "a value with a unit goes in quotation marks"),
    case("elevation: 100,", "elevation: −100,", "−", "a dash that is no minus sign", "the plain `-` of the keyboard"),
    case("elevation: 100,", "elevation: ,", ",", "unexpected `,`", "a value: a number"),
];

fn errors(name: &str, text: &str) -> JobErrors {
    match Document::parse(name, text) {
        Ok(_) => panic!("{name} was read without an error:\n{text}"),
        Err(errors) => errors,
    }
}

#[test]
fn the_jobs_that_the_tests_break_are_right() {
    for text in [SMALL, WHOLE] {
        if let Err(errors) = Document::parse("right.ron", text) {
            panic!("{errors}");
        }
    }
}

/// What is not as it should be about the answer to one case; empty if all is.
fn faults(case: &Case) -> String {
    let times = WHOLE.matches(case.right).count();
    if times != 1 {
        return format!("`{}` stands {times} times in whole.ron", case.right);
    }
    let text = WHOLE.replace(case.right, case.wrong);
    let errors = match Document::parse("broken.ron", &text) {
        Ok(_) => return format!("`{}` was read without an error", case.wrong),
        Err(errors) => errors,
    };
    let report = errors.to_string();
    let said = errors.problems.iter().find(|p| p.what.contains(case.what));
    let Some(problem) = said else {
        return format!("`{}`: expected “{}”, got\n{report}", case.wrong, case.what);
    };
    let at = text.get(problem.span.clone()).unwrap_or_default();
    let (line, column) = errors.line_column(problem.span.start);
    let place = format!("broken.ron:{line}:{column}");
    let source_line = text.lines().nth(line - 1).unwrap_or_default();
    // Naming or placing a thing wrongly leaves those who refer to it with nothing.
    let follows = |what: &str| {
        [
            "nothing here is called",
            "is in no stage",
            "whose elevation is not known",
            "has no place in plan",
            "is built a second time",
        ]
        .iter()
        .any(|words| what.contains(words))
    };
    let own = errors.problems.iter();
    let own = own.filter(|p| !follows(&p.what) || p.what.contains(case.what));
    // The same slip made on each of three items is three errors.
    let most = if case.wrong.contains("[1, 2, 3]") {
        3
    } else {
        1
    };
    let fault = if !problem.allowed.contains(case.allowed) {
        format!("“{}” is not in “{}”", case.allowed, problem.allowed)
    } else if at != case.at {
        format!("the mark is at `{at}`, not at `{}`", case.at)
    } else if !report.contains(&place) {
        format!("{place} is not in the report")
    } else if !report.contains(source_line.trim()) {
        "the line itself is not in the report".to_string()
    } else if own.count() > most {
        "one mistake gives several errors".to_string()
    } else {
        return String::new();
    };
    format!("`{}`: {fault}\n{report}", case.wrong)
}

#[test]
fn each_mistake_is_named_where_it_stands() {
    let faults: Vec<String> = CASES
        .iter()
        .map(faults)
        .filter(|fault| !fault.is_empty())
        .collect();
    assert!(
        faults.is_empty(),
        "{} of {} cases:\n\n{}",
        faults.len(),
        CASES.len(),
        faults.join("\n")
    );
}

#[test]
fn all_mistakes_are_shown_at_once() {
    let text = WHOLE
        .replace("remarks:", "remark:")
        .replace("(\"2\", 5.05", "(\"2\", 17.20")
        .replace("into: \"pond\"", "into: \"pnd\"")
        .replace("class: Clay", "class: Chalk");
    let errors = errors("broken.ron", &text);
    let report = errors.to_string();
    assert_eq!(errors.problems.len(), 4, "{report}");
    for place in [
        "broken.ron:5:5",
        "broken.ron:18:23",
        "broken.ron:64:19",
        "broken.ron:106:16",
    ] {
        assert!(report.contains(place), "{place} is not in\n{report}");
    }
}

#[test]
fn no_benchmark() {
    let text = SMALL.replace(
        "benchmarks: [(name: \"BM\", elevation: 100, assumed: true, at: (0, 0))],",
        "",
    );
    let errors = errors("broken.ron", &text);
    assert_eq!(errors.problems.len(), 1, "{errors}");
    let problem = &errors.problems[0];
    assert_eq!(problem.what, "the notes have 1 setup and no benchmark");
    assert_eq!(&text[problem.span.clone()], "\"BM\"");
}

#[test]
fn very_many_mistakes_are_counted() {
    let text = format!("(name: \"x\", {})", "wrong: 1, ".repeat(5000));
    let report = errors("broken.ron", &text).to_string();
    // 5000 unknown fields, and `unit` and `field_book` missing.
    assert_eq!(report.matches("broken.ron:").count(), 50, "{report}");
    assert!(
        report.ends_with("and 4952 more\n"),
        "{}",
        &report[report.len() - 200..]
    );
    assert!(report.len() < 200_000, "{} bytes of report", report.len());
}

// ---------------------------------------------------------------- files that are no job at all

#[test]
fn cut_off_at_every_byte() {
    for length in 0..SMALL.len() {
        let Some(text) = SMALL.get(..length) else {
            continue;
        };
        if text.contains("design:") && text.trim_end().ends_with(",\n)") {
            continue;
        }
        match Document::parse("cut.ron", text) {
            // Only white space after the last bracket may be missing.
            Ok(_) => assert_eq!(text.trim(), SMALL.trim(), "cut at {length}"),
            Err(errors) => {
                assert_eq!(errors.problems.len(), 1, "cut at {length}:\n{errors}");
                assert!(errors.to_string().contains("cut.ron"), "{errors}");
            }
        }
    }
    let whole_job = "(name: \"x\", unit: Foot, field_book: (";
    let report = errors("cut.ron", whole_job).to_string();
    assert!(report.contains("the file breaks off here"), "{report}");
    assert!(report.contains("cut.ron:1:38"), "{report}");
}

#[test]
fn empty() {
    for text in ["", " \n\t\r\n", "\u{feff}", "\u{feff}\n"] {
        let report = errors("empty.ron", text).to_string();
        assert!(report.contains("the file is empty"), "{report}");
        assert!(report.contains("empty.ron"), "{report}");
    }
    let report = errors("empty.ron", "// only a remark").to_string();
    assert!(report.contains("the file breaks off here"), "{report}");
}

#[test]
fn other_things_than_a_job() {
    for (text, what) in [
        ("5", "`job`: found the number 5"),
        ("[]", "`job`: found a list of 0"),
        ("\"a job\"", "`job`: found the text \"a job\""),
        ("Job", "`job`: found the word Job"),
        ("{}", "found a map in braces"),
        ("b\"bytes\"", "written in a way that job files do not use"),
        ("Pond()", "`job`: found Pond(…)"),
        ("() ()", "more text after the end of the job: found `(`"),
        ("<xml/>", "unexpected `<`"),
    ] {
        let report = errors("other.ron", text).to_string();
        let what = what.replace("the job: found `(`", "the job: `(`");
        assert!(
            report.contains(&what),
            "{text}: expected {what}, got\n{report}"
        );
    }
}

/// A folder of its own for one test, removed at the end.
struct Folder(std::path::PathBuf);

impl Folder {
    fn new(name: &str) -> Folder {
        let path = std::env::temp_dir().join(format!("brimline-{name}-{}", std::process::id()));
        std::fs::create_dir_all(&path).expect("a folder for the test");
        Folder(path)
    }

    fn file(&self, name: &str, bytes: &[u8]) -> std::path::PathBuf {
        let path = self.0.join(name);
        std::fs::write(&path, bytes).expect("a file for the test");
        path
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

fn load_errors(path: &std::path::Path) -> String {
    match Document::load(path) {
        Ok(_) => panic!("{} was read without an error", path.display()),
        Err(errors) => errors.to_string(),
    }
}

#[test]
fn files_that_cannot_be_read() {
    let folder = Folder::new("unreadable");
    let binary = folder.file("photo.ron", b"(name: \"x\",\n \xff\xd8\xff\xe0 unit: Foot)");
    let report = load_errors(&binary);
    assert!(
        report.contains("byte 13 (line 2, column 2) is not text in UTF-8"),
        "{report}"
    );
    assert!(report.contains("photo.ron"), "{report}");
    let report = load_errors(&folder.0);
    assert!(report.contains("this is a folder"), "{report}");
    let report = load_errors(&folder.0.join("none.ron"));
    assert!(report.contains("cannot open this file"), "{report}");
    assert!(report.contains("none.ron"), "{report}");
    let nothing = folder.file("nothing.ron", b"");
    assert!(load_errors(&nothing).contains("the file is empty"));
}

#[test]
fn a_hundred_megabytes() {
    let folder = Folder::new("large");
    let path = folder.file("large.ron", &vec![b'('; 100 << 20]);
    let report = load_errors(&path);
    assert!(
        report.contains("this file is larger than 16 MB"),
        "{report}"
    );
}

#[test]
fn as_large_as_may_be() {
    // The time is bounded by the runner: none of these may take more than linear time.
    let most = 15 << 20;
    // Many small values take ron seconds, in a test build: fewer of them.
    let values = most / 16;
    for text in [
        "(".repeat(most),
        "[".repeat(most),
        "/*".repeat(most / 2),
        "\"".repeat(most),
        "a".repeat(most),
        "-".repeat(most),
        " ".repeat(most),
        format!("(name: [{}])", "1,".repeat(values)),
        format!("({})", "name: 1,".repeat(values / 4)),
        format!("(name: \"{}\")", "x".repeat(most)),
        format!("(name: {})", "9".repeat(values)),
    ] {
        let report = errors("large.ron", &text).to_string();
        assert!(report.len() < 100_000, "{} bytes of report", report.len());
    }
}

#[test]
fn nested_deeply() {
    for (open, close) in [("(", ")"), ("[", "]"), ("Some(", ")"), ("A(a:", ")")] {
        let text = format!("(name: {}1{})", open.repeat(100_000), close.repeat(100_000));
        let report = errors("deep.ron", &text).to_string();
        assert!(
            report.contains("values are nested more than 48 deep"),
            "{open}: {report}"
        );
    }
}

// ---------------------------------------------------------------- geometry that the plan judges

/// Jobs that read well and cannot be built: the plan must name what is wrong, and must not panic.
/// The last two columns: the place that a finding names, and some of what it says.
#[rustfmt::skip]
const FOR_THE_PLAN: &[(&str, &str, &str, &str, &str)] = &[
    ("crossing breaklines", "(\"top of bank\", [\"9\", \"10\"])", "(\"ridge\", [\"1\", \"3\"]), (\"ditch\", [\"2\", \"4\"])", "breakline", "cross"),
    ("self-crossing survey outline", "outline: [\"1\", \"2\", \"3\", \"4\"]", "outline: [\"1\", \"3\", \"2\", \"4\", \"6\"]", "surveyed outline", "its outline crosses itself"),
    ("basin outside the survey", "outline: [(20, 25), (40, 25), (40, 40), (20, 40)]", "outline: [(520, 25), (540, 25), (540, 40), (520, 40)]", "pond", "outside the survey"),
    ("basin half outside the survey", "outline: [(20, 25), (40, 25), (40, 40), (20, 40)]", "outline: [(60, 25), (140, 25), (140, 40), (60, 40)]", "pond", "outside the survey"),
    ("ramp shorter than it rises", "line: [(20, 5), (30, 24)], gradient: \"1 in 4\", profile: [99, Shot(\"5\")]", "line: [(20, 5), (20.1, 5)], profile: [80, 120]", "ramp haul ramp", "25.0 % is allowed"),
    ("water above every wall", "water: BelowCap(\"north wall\", \"4 ft\")", "water: 400", "pond", "does not hold its water"),
    ("water above its wall's cap", "water: BelowCap(\"north wall\", \"4 ft\")", "water: BelowCap(\"north wall\", \"-9 ft\")", "pond", "does not hold its water"),
    ("water far under the ground", "water: BelowCap(\"north wall\", \"4 ft\")", "water: -400", "service supply", "deeper than"),
    ("pit outside its basin", "outline: [(28, 30), (30, 30), (30, 32), (28, 32)]", "outline: [(1, 1), (2, 1), (2, 2), (1, 2)]", "pit pump pit", "beyond the basin's floor"),
    ("cascade that ends outside its basin", "centreline: [(36, 51), (36, 40)]", "centreline: [(5, 20), (5, 10)]", "cascade falls", "away from the water of pond"),
    ("pools longer than the centreline", "(name: \"top\", length: 6,", "(name: \"top\", length: 600,", "cascade falls", "lengths are shared out over the line"),
    ("two shots a hair apart", "(\"101\", 70, 30, 99.2)", "(\"101\", 1e-9, 0, 99.2)", "shot 101", "stands at the same place as shot 1"),
    ("breakline off the shots", "(\"top of bank\", [\"9\", \"10\"])", "(\"ditch\", [(20, 45), (22, 58)])", "breakline ditch", "a point without a ground elevation"),
    ("two elevations at one place", "(\"101\", 70, 30, 99.2)", "(\"101\", 75, 30, 89.2)", "shot 102", "stands at the same place as shot 101"),
    ("wall faces that cross", "right: [(30, 56), (50, 56)]", "right: [(30, 56), (50, 58)]", "wall north wall", "its two faces cross"),
    ("shelf wider than the basin", "(\"16 in\", 1)]", "(\"16 in\", 100)]", "basin pond", "no room for its dug floor"),
    ("keep-out in the dig", "keep_outs: [(\"old tree\", [(60, 5), (66, 5), (66, 11), (60, 11)])]", "keep_outs: [(\"old tree\", [(25, 28), (30, 28), (30, 33), (25, 33)])]", "keep-out old tree", "soil is moved inside it by pond"),
    ("tree in the dig", "(name: \"oak\", at: (70, 10)", "(name: \"oak\", at: (30, 32)", "tree oak", "pond (stage dig) works in its root zone"),
    ("trench over a service", "line: [(30, 24), (30, 18)], depth: \"18 in\"", "line: [(30, 24), (30, 12)], depth: \"17 in\"", "service supply", "pipe run (stage dig) digs to elevation"),
];

#[test]
fn what_cannot_be_built_is_named_by_the_plan() {
    let mut faults = Vec::new();
    for (name, right, wrong, place, says) in FOR_THE_PLAN {
        assert_eq!(WHOLE.matches(right).count(), 1, "{name}: `{right}`");
        let job = match Document::parse(name, &WHOLE.replace(right, wrong)) {
            Ok((_, job)) => job,
            Err(errors) => panic!("{name}: {errors}"),
        };
        let plan = Plan::of(&job);
        let serious = |f: &&Finding| matches!(f.severity, Severity::Error | Severity::Warning);
        let named = |f: &Finding| f.place.contains(place) && f.what.contains(says);
        if !plan.findings.iter().filter(serious).any(named) {
            let found: Vec<String> = plan
                .findings
                .iter()
                .filter(serious)
                .map(|f| format!("    {}: {}", f.place, f.what))
                .collect();
            faults.push(format!(
                "{name}: no “{place}: {says}” in\n{}",
                found.join("\n")
            ));
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn the_whole_job_has_none_of_these_findings() {
    let (_, job) = Document::parse("whole.ron", WHOLE).unwrap_or_else(|e| panic!("{e}"));
    let plan = Plan::of(&job);
    for (name, _, _, place, says) in FOR_THE_PLAN {
        let found = plan
            .findings
            .iter()
            .find(|f| f.place.contains(place) && f.what.contains(says));
        assert_eq!(found, None, "{name}");
    }
}

// ---------------------------------------------------------------- at random

/// One change to the bytes of a file.
#[derive(Debug, Clone)]
enum Change {
    Put(usize, u8),
    Cut(usize, usize),
    Insert(usize, String),
    Repeat(usize, usize),
}

fn change() -> impl Strategy<Value = Change> {
    let pieces = prop::sample::select(vec![
        "(", ")", "[", "]", "{", "}", ",", ":", "\"", "'", "\\", "/*", "*/", "//", "r#\"", "\"#",
        "#![", "NaN", "inf", "1e308", "-", "..", "b'", "Some(", "None", "\u{feff}", "é", "\0",
        "0x", "1/", "''", "5'-", "Tie(", "Shot(",
    ]);
    prop_oneof![
        (any::<usize>(), any::<u8>()).prop_map(|(at, byte)| Change::Put(at, byte)),
        (any::<usize>(), 0usize..60).prop_map(|(at, n)| Change::Cut(at, n)),
        (any::<usize>(), pieces).prop_map(|(at, s)| Change::Insert(at, s.to_string())),
        (any::<usize>(), 0usize..60).prop_map(|(at, n)| Change::Repeat(at, n)),
    ]
}

fn changed(text: &str, changes: &[Change]) -> Vec<u8> {
    let mut bytes = text.as_bytes().to_vec();
    for change in changes {
        let at = |i: usize| i % (bytes.len() + 1);
        match change {
            Change::Put(i, byte) => {
                let i = at(*i);
                if let Some(slot) = bytes.get_mut(i) {
                    *slot = *byte;
                }
            }
            Change::Cut(i, n) => {
                let i = at(*i);
                let end = (i + n).min(bytes.len());
                bytes.drain(i..end);
            }
            Change::Insert(i, piece) => {
                let i = at(*i);
                bytes.splice(i..i, piece.bytes());
            }
            Change::Repeat(i, n) => {
                let i = at(*i);
                let piece = bytes[i..(i + n).min(bytes.len())].to_vec();
                bytes.splice(i..i, piece);
            }
        }
    }
    bytes
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..Default::default() })]

    /// Whatever happens to a file: an error that shows a place, or a job; never a panic.
    #[test]
    fn changed_bytes_never_panic(whole: bool, changes in prop::collection::vec(change(), 1..6)) {
        let bytes = changed(if whole { WHOLE } else { SMALL }, &changes);
        let text = String::from_utf8_lossy(&bytes);
        match Document::parse("changed.ron", &text) {
            Ok((document, _)) => prop_assert_eq!(document.text(), &*text),
            Err(errors) => {
                prop_assert!(!errors.problems.is_empty());
                prop_assert!(errors.to_string().contains("changed.ron"));
                for problem in &errors.problems {
                    prop_assert!(text.get(problem.span.clone()).is_some(), "{:?}", problem);
                }
            }
        }
    }

    /// A length text is read to a finite number within limits, or refused; never a panic.
    #[test]
    fn any_length_text(text in "\\PC{0,12}|[0-9 ./'\"ftinmc-]{0,14}") {
        if let Ok(metres) = brimline::units::parse_length(&text, brimline::job::Unit::Foot) {
            prop_assert!(metres.abs() <= brimline::units::LONGEST);
        }
    }
}

/// Where the bare numbers of a job stand that are not part of a name or of text.
fn numbers(text: &str) -> Vec<std::ops::Range<usize>> {
    let mut found = Vec::new();
    let mut quoted = false;
    let mut start = None;
    for (i, c) in text.char_indices() {
        quoted ^= c == '"';
        let digit = !quoted && (c.is_ascii_digit() || c == '.' || c == '-');
        match (digit, start) {
            (true, None) => start = Some(i),
            (false, Some(from)) => {
                found.push(from..i);
                start = None;
            }
            _ => {}
        }
    }
    found
}

fn value() -> impl Strategy<Value = &'static str> {
    prop::sample::select(vec![
        "0", "-1", "1", "2", "3", "10", "50", "1e-9", "0.001", "-0.001", "99", "100", "1000",
        "-1000", "328000", "-328000", "40", "25", "56", "60", "80",
    ])
}

proptest! {
    // A whole plan each time, so fewer of them.
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..Default::default() })]

    /// Whatever the values: what is read gives a plan whose figures are figures; never a panic.
    #[test]
    fn changed_values_never_panic(changes in prop::collection::vec((any::<usize>(), value()), 1..4)) {
        let mut text = WHOLE.to_string();
        for (which, new) in changes {
            let spots = numbers(&text);
            let spot = spots[which % spots.len()].clone();
            text.replace_range(spot, new);
        }
        if let Ok((_, job)) = Document::parse("changed.ron", &text) {
            let volumes = Plan::of(&job).volumes;
            for figure in [volumes.cut_bank_m3, volumes.fill_compacted_m3] {
                prop_assert!(figure.is_finite() && figure >= 0.0, "{} in\n{}", figure, text);
            }
        }
    }
}

/// In a metric job the depths of a basin are told in metres, not in inches.
#[test]
fn depths_are_told_in_the_unit_of_the_job() {
    let text = "(name: \"m\", unit: Metre, field_book: (), design: (basins: [(name: \"pond\", water: 9, \
                outline: [(0, 0), (9, 0), (9, 9)], floor_depth: 0.6, shelves: [(depth: 0.9, width: 0.3)])]))";
    let report = errors("metric.ron", text).to_string();
    let says = "this shelf, 0.900 m under water, is not above the floor at 0.600 m";
    assert!(report.contains(says), "{report}");
}
