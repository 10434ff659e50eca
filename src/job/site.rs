//! Reading the site: what is there already.

use crate::job::decode::{Check, Context, Fields, List, Maybe, Text, record};
use crate::job::place::{AtReader, HeightReader, Path, Ring, RingOrNone};
use crate::job::quantity::{Distance, Extent};
use crate::job::seen::{Name, Space};
use crate::job::{Access, Area, Boards, Gate, Line, Service, Site, StandingWall, Steps, Tree};

record!(Site as "Site": "What is there already. All of it may be left out." {
    outline: RingOrNone, Absent::Is("[]"), "Edge of the survey; ground outside it is not trusted. Without it: the hull of the shots.", "[\"1\", \"2\", \"3\", \"4\"]";
    breaklines: List<Line>, Absent::Is("[]"), "Lines along which the ground bends: the ground's triangles never cross them.", "[(\"top of bank\", [\"11\", \"12\", \"13\"])]";
    holes: List<Area>, Absent::Is("[]"), "Footprints without ground, such as a house.", "[(\"shed\", [(20, 30), (28, 30), (28, 36), (20, 36)])]";
    walls: List<StandingWall>, Absent::Is("[]"), "Walls that stand already.", "[(name: \"north wall\", left: [\"21\", \"22\"], right: [\"31\", \"32\"], cap: 102.5)]";
    paving: List<Area>, Absent::Is("[]"), "Paved areas.", "[(\"terrace\", [\"41\", \"42\", \"43\", \"44\"])]";
    keep_outs: List<Area>, Absent::Is("[]"), "Areas that no work may touch.", "[(\"old tree\", [(5, 5), (15, 5), (15, 15), (5, 15)])]";
    services: List<Service>, Absent::Is("[]"), "Buried services.", "[(name: \"supply\", kind: \"water\", line: [(0, 10), (40, 12)], depth: \"18 in\")]";
    access: Maybe<Access>, Absent::None, "The way in for machines and trucks.", "(line: [(0, -10), (5, 5)], width: \"8 ft\")";
    trees: List<Tree>, Absent::Is("[]"), "Trees to keep, with their roots.", "[(name: \"oak\", at: (12, 30), trunk: \"14 in\")]";
});

record!(Tree as "Tree": "A tree to keep. What is dug, placed or driven over within its root zone is named in the findings." {
    name: Name<{ Space::Service as u8 }>, Absent::Required, "Its name; it differs from those of the services.", "\"oak\"";
    at: AtReader, Absent::Required, "The middle of its trunk.", "(12, 30)";
    trunk: Extent, Absent::Required, "Diameter of its trunk at breast height.", "\"14 in\"";
    radius: Maybe<Extent>, Absent::None, "Radius of the root zone. Without it: 12 times the trunk, 1 ft for each inch (common practice, no source).", "\"10 ft\"";
});

record!(Line as "Line": "A named line." {
    name: Text, Absent::Required, "Its name.", "\"top of bank\"";
    along: Path, Absent::Required, "The points it runs through, in order.", "[\"11\", \"12\", \"13\"]";
});

record!(Area as "Area": "A named area." {
    name: Text, Absent::Required, "Its name.", "\"terrace\"";
    outline: Ring, Absent::Required, "Its corners in order; it closes by itself.", "[\"41\", \"42\", \"43\"]";
    remark: Text, Absent::Is("\"\""), "Anything worth noting.", "\"flagstone, 2 in\"";
});

record!(StandingWall as "StandingWall": "A wall that stands already, by its two faces at the ground, both walked in the same direction. Where a point is a shot, the shot's elevation is the ground at that face." {
    name: Name<{ Space::StandingWall as u8 }>, Absent::Required, "Its name.", "\"north wall\"";
    left: Path, Absent::Required, "The face on the left, walking along it.", "[\"21\", \"22\"]";
    right: Path, Absent::Required, "The face on the right.", "[\"31\", \"32\"]";
    cap: HeightReader, Absent::Required, "Elevation of its cap.", "Shot(\"25\")";
});

record!(Service as "Service": "A buried service. Have it located before anyone digs, whatever is written here." {
    name: Name<{ Space::Service as u8 }>, Absent::Required, "Its name.", "\"supply\"";
    kind: Text, Absent::Is("\"\""), "What it carries.", "\"water\"";
    line: Path, Absent::Required, "Its line in plan.", "[(0, 10), (40, 12)]";
    depth: Distance, Absent::Required, "Cover over it, below existing ground.", "\"18 in\"";
    tolerance: Distance, Absent::Is("\"24 in\""), "How far off the stated line and depth it may lie. Default: common practice, no source.", "\"24 in\"";
});

record!(Access as "Access": "The way in." {
    line: Path, Absent::Required, "The route, from the street in.", "[(0, -10), (5, 5)]";
    width: Extent, Absent::Required, "Narrowest width along it.", "\"8 ft\"";
    widths: List<Extent>, Absent::Is("[]"), "Its width at each point of the line, one each; between them it changes evenly. Without it: `width` all along.", "[10, \"8 ft\"]";
    gates: List<Gate>, Absent::Is("[]"), "Gates and other narrow places on it.", "[(\"side gate\", 12, \"42 in\")]";
    steps: List<Steps>, Absent::Is("[]"), "Steps across it.", "[(\"front steps\", 20, \"21 in\", \"36 in\")]";
    boards: Boards, Absent::Is("()"), "Boards and fabric over the paving that it crosses.", "(overlap: \"4 in\")";
});

impl Check for Site {}
impl Check for Line {}
impl Check for Area {}
impl Check for StandingWall {}
impl Check for Service {}
impl Check for Tree {}
impl Check for Access {
    fn check(&self, fields: &Fields, cx: &mut Context) {
        if !self.widths.is_empty() && self.widths.len() != self.line.len() {
            cx.problem(
                fields.span("widths"),
                format!(
                    "the access has {} widths for the {} points of its line",
                    self.widths.len(),
                    self.line.len()
                ),
                "one width for each point of `line`, or none",
            );
        }
    }
}
