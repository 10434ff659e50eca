//! Shaping the yard by hand: every line of the job can be picked, and what is picked shows its
//! corners as handles to drag. Edits go through [`Work`]; nothing here changes the job by itself.
//!
//! A press on a line picks its thing; a drag of a handle moves a corner, of a picked line the whole
//! thing; a second click on an edge puts a corner there; Delete takes the corner or the thing away;
//! Alt lets go of snapping; Escape calls a drag off. `A` offers what can be added where one points.

mod adding;
mod aim;
mod drag;
mod note;
mod outline;
mod paint;
mod pools;
mod snap;

use bevy::prelude::Resource;
use bevy_egui::egui::{Context, Key, PointerButton, Pos2, Rect, Vec2};

use crate::edit::{Address, Edit, New};
use crate::job::Level;

use super::Look;
use super::hand::Eye;
use super::scene::Showing;
use super::work::Work;

use outline::Outline;
use pools::{Part, Run};
use snap::nearest;

pub use adding::{menu, word};

/// How close to a handle a press takes it, points; and to a line.
const NEAR: f32 = 12.0;
const NEAR_LINE: f32 = 8.0;
/// Handles of a cascade's pools stand at least so far apart, points.
const APART: f32 = 21.0;
/// A press that moves less is a click.
const STILL: f32 = 4.0;

#[derive(Resource, Default)]
pub struct Shaping {
    lines: Vec<Drawn>,
    /// What `lines` were made from.
    of: Option<(u64, Look)>,
    handles: Vec<Handle>,
    hover: Option<Target>,
    /// Where the button went down, and on what.
    pressed: Option<(Pos2, Option<Target>)>,
    grip: Option<drag::Grip>,
    /// What was asked for, to be put where the next press is.
    placing: Option<New>,
    /// The list of things to add, and the place it was opened for.
    list: Option<(Pos2, [f64; 2])>,
    told: String,
    /// A cell had the keyboard in the last frame.
    typing: bool,
}

/// An outline as it lies in the yard: for each edge its points on ground or water.
struct Drawn {
    outline: Outline,
    edges: Vec<Vec<[f64; 3]>>,
    /// The water it lies on.
    level: Option<f64>,
}

/// Something that can be taken, as long as the outlines stay what they are.
#[derive(Debug, Clone, PartialEq)]
enum Target {
    Corner(usize, usize),
    /// Line, edge, and the place on it.
    Edge(usize, usize, [f64; 2]),
    /// The water of a basin, by its line.
    Water(usize),
    /// A pool or a lip of a cascade, by its line.
    Part(usize, Part),
    /// By its name.
    Shot(String),
}

struct Handle {
    target: Target,
    place: [f64; 3],
    at: Pos2,
}

impl Shaping {
    /// Whether something is held, about to be placed or chosen from the list.
    pub fn holds_something(&self) -> bool {
        self.grip.is_some() || self.placing.is_some() || self.list.is_some()
    }

    /// The next press in the yard says where it goes.
    pub fn place(&mut self, what: New) {
        self.placing = Some(what);
        self.list = None;
    }

    /// Sees to it that lines and handles are those of the job as it stands. Returns the places that
    /// labels keep clear of.
    pub fn prepare(
        &mut self,
        eye: &Eye,
        anew: bool,
        work: &Work,
        picked: Option<&Address>,
    ) -> Vec<Rect> {
        let of = (work.editor.revision(), eye.look);
        if anew || self.of != Some(of) {
            self.of = Some(of);
            self.lines = match work.editor.job() {
                Some(job) => outline::outlines(job, &eye.yard.plan.survey)
                    .into_iter()
                    .map(|o| drawn(o, eye))
                    .collect(),
                None => Vec::new(),
            };
            self.hover = None;
        }
        self.handles.clear();
        let chosen = self.chosen(picked);
        for &i in &chosen {
            let line = &self.lines[i];
            for (k, p) in line.outline.points.iter().enumerate() {
                let place = match line.level {
                    Some(z) => [p[0], p[1], z],
                    None => eye.on_ground(*p),
                };
                if let Some(at) = eye.screen(eye.scene(place)) {
                    self.handles.push(Handle {
                        target: Target::Corner(i, k),
                        place,
                        at,
                    });
                }
            }
            if let Some(run) = self.run(i, work) {
                let pools = self.lines[i].outline.cascade(work).map(|c| &c.pools);
                for part in run.parts() {
                    let p = run.place(part);
                    let level = pools
                        .and_then(|pools| pools.get(Run::pool(part)))
                        .filter(|_| eye.look == Look::Finished)
                        .and_then(|pool| eye.yard.plan.water.iter().find(|w| w.name == pool.name))
                        .map(|w| w.level_m);
                    let place = level.map_or_else(|| eye.on_ground(p), |z| [p[0], p[1], z]);
                    let target = Target::Part(i, part);
                    let held = self.grip.as_ref().is_some_and(|g| g.target == target);
                    // From afar only as many as can be told apart.
                    let apart = |at: Pos2| self.handles.iter().all(|h| h.at.distance(at) > APART);
                    if let Some(at) = eye.screen(eye.scene(place)).filter(|at| held || apart(*at)) {
                        self.handles.push(Handle { target, place, at });
                    }
                }
            }
            if let Some(place) = self.sheet(i, eye)
                && let Some(at) = eye.screen(eye.scene(place))
            {
                self.handles.push(Handle {
                    target: Target::Water(i),
                    place,
                    at,
                });
            }
        }
        self.tell(eye);
        self.handles
            .iter()
            .map(|h| Rect::from_center_size(h.at, Vec2::splat(18.0)))
            .collect()
    }

    /// Lines of the picked thing.
    fn chosen(&self, picked: Option<&Address>) -> Vec<usize> {
        let Some(picked) = picked else {
            return Vec::new();
        };
        let depths: Vec<_> = self
            .lines
            .iter()
            .map(|l| l.outline.picked_by(picked))
            .collect();
        let deepest = depths.iter().flatten().max().copied();
        (0..depths.len())
            .filter(|&i| depths[i].is_some() && depths[i] == deepest)
            .collect()
    }

    /// The pools along a cascade's line.
    fn run(&self, line: usize, work: &Work) -> Option<Run> {
        let outline = &self.lines.get(line)?.outline;
        Run::of(outline.cascade(work)?, &outline.points)
    }

    /// The handle of a basin's water: in the middle of its outline.
    fn sheet(&self, line: usize, eye: &Eye) -> Option<[f64; 3]> {
        let line = &self.lines[line];
        if eye.look != Look::Finished {
            return None;
        }
        let level = line.level?;
        let n = line.outline.points.len() as f64;
        let middle = [0, 1].map(|k| line.outline.points.iter().map(|p| p[k]).sum::<f64>() / n);
        Some([middle[0], middle[1], level])
    }

    /// What the pointer is on: a handle before a line, a small thing's line before a large one's.
    fn under(
        &self,
        eye: &Eye,
        pointer: Pos2,
        showing: &Showing,
        picked: Option<&Address>,
    ) -> Option<Target> {
        let handle = self
            .handles
            .iter()
            .map(|h| (h.at.distance(pointer), h))
            .filter(|(d, _)| *d < NEAR)
            .min_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((_, handle)) = handle {
            return Some(handle.target.clone());
        }
        if let Some(shot) = showing
            .shots
            .then(|| self.shot_under(eye, pointer))
            .flatten()
        {
            return Some(shot);
        }
        let p = [f64::from(pointer.x), f64::from(pointer.y)];
        let chosen = self.chosen(picked);
        let mut near = Vec::new();
        for (i, line) in self.lines.iter().enumerate() {
            for (k, edge) in line.edges.iter().enumerate() {
                let seen: Vec<[f64; 2]> = edge
                    .iter()
                    .map(|p| match eye.screen(eye.scene(*p)) {
                        Some(p) => [f64::from(p.x), f64::from(p.y)],
                        None => [f64::NAN; 2],
                    })
                    .collect();
                let Some((d, piece, f)) = nearest(p, &seen) else {
                    continue;
                };
                if d < f64::from(NEAR_LINE) {
                    let (a, b) = (edge[piece], edge[piece + 1]);
                    let on = [0, 1].map(|k| a[k] + f * (b[k] - a[k]));
                    near.push((d, chosen.contains(&i), Target::Edge(i, k, on)));
                }
            }
        }
        first_of(near)
    }

    fn shot_under(&self, eye: &Eye, pointer: Pos2) -> Option<Target> {
        let frame = &eye.yard.frame;
        let (_, spot) = eye
            .yard
            .plan
            .survey
            .spots
            .iter()
            .filter_map(|spot| {
                let mut head = super::pins::head(spot, frame);
                head.y *= eye.stretch;
                Some((eye.screen(head)?.distance(pointer), spot))
            })
            .filter(|(d, _)| *d < NEAR_LINE)
            .min_by(|a, b| a.0.total_cmp(&b.0))?;
        Some(Target::Shot(spot.name.clone()))
    }

    /// The address that a target is picked by.
    fn address(&self, target: &Target, work: &Work) -> Option<Address> {
        Some(match target {
            Target::Corner(i, k) => self.lines.get(*i)?.outline.list.item(*k),
            Target::Edge(i, _, _) => self.lines.get(*i)?.outline.thing.clone(),
            Target::Water(i) => self.lines.get(*i)?.outline.thing.field("water"),
            Target::Part(i, part) => {
                let thing = &self.lines.get(*i)?.outline.thing;
                thing.field("pools").item(Run::pool(*part))
            }
            Target::Shot(name) => shot(work, name)?,
        })
    }

    /// Follows the pointer and the keys; true while the yard must stay still under it. `free`: over
    /// the yard, and over nothing that comes before.
    pub fn follow(
        &mut self,
        ctx: &Context,
        eye: &Eye,
        showing: &Showing,
        work: &mut Work,
        picked: &mut Option<Address>,
        free: bool,
    ) -> bool {
        let (pointer, pressed, released, down, twice) = ctx.input(|i| {
            let p = &i.pointer;
            (
                p.latest_pos(),
                p.primary_pressed(),
                p.primary_released(),
                p.primary_down(),
                p.button_double_clicked(PointerButton::Primary),
            )
        });
        if let Some(what) = self.placing {
            super::telling::over(ctx, "placing", word(what), Rect::NOTHING);
        }
        // In the frame in which a cell is left its keys were still struck there.
        let typing = ctx.egui_wants_keyboard_input();
        if !std::mem::replace(&mut self.typing, typing) && !typing {
            self.keys(ctx, eye, pointer.filter(|_| free), work, picked);
        }
        if self.list.is_some() {
            return true;
        }
        let Some(at) = pointer.filter(|_| free || self.grip.is_some()) else {
            self.hover = None;
            if released {
                self.pressed = None;
            }
            return self.grip.is_some();
        };
        // While the yard is turned, nothing lights up under the pointer.
        if self.grip.is_none() && (!down || pressed) {
            self.hover = self.under(eye, at, showing, picked.as_ref());
        }
        if pressed {
            if let Some(what) = self.placing.take() {
                match eye.pick(at) {
                    Some(place) => adding::add(what, place, eye, work, picked),
                    None => self.placing = Some(what),
                }
                self.pressed = None;
                return true;
            }
            self.pressed = Some((at, self.hover.clone()));
            if let Some(target) = self.hover.clone() {
                self.take(&target, eye, at, work, picked);
            }
        }
        if self.grip.is_some() {
            self.drag(ctx, eye, at, work);
        }
        if released {
            self.let_go(work);
            if let Some((from, target)) = self.pressed.take()
                && from.distance(at) < STILL
            {
                self.click(target, twice, work, picked);
            }
        }
        self.cursor(ctx, down);
        let over_handle = self.hover.as_ref().is_some_and(|t| self.held(t, picked));
        self.placing.is_some() || self.grip.is_some() || over_handle
    }

    /// Whether a drag from here shapes, and does not turn the yard.
    fn held(&self, target: &Target, picked: &Option<Address>) -> bool {
        match target {
            Target::Corner(..) | Target::Water(_) | Target::Part(..) => true,
            Target::Edge(i, _, _) => self.chosen(picked.as_ref()).contains(i),
            Target::Shot(_) => false,
        }
    }

    fn click(
        &mut self,
        target: Option<Target>,
        twice: bool,
        work: &mut Work,
        picked: &mut Option<Address>,
    ) {
        let Some(target) = target else {
            *picked = None;
            return;
        };
        if twice && let Target::Edge(i, k, on) = &target {
            let Some(line) = self.lines.get(*i) else {
                return;
            };
            let list = line.outline.list.clone();
            let index = k + 1;
            let edit = Edit::AddPoint {
                list: list.clone(),
                index,
                at: *on,
            };
            if work.edit_if_good(&edit) {
                *picked = Some(list.item(index));
            }
            return;
        }
        *picked = self.address(&target, work);
    }

    fn keys(
        &mut self,
        ctx: &Context,
        eye: &Eye,
        pointer: Option<Pos2>,
        work: &mut Work,
        picked: &mut Option<Address>,
    ) {
        let (escape, delete, add) = ctx.input(|i| {
            let plain = !i.modifiers.command && !i.modifiers.ctrl;
            (
                i.key_pressed(Key::Escape),
                i.key_pressed(Key::Delete) || i.key_pressed(Key::Backspace),
                plain && i.key_pressed(Key::A),
            )
        });
        if escape {
            if self.list.take().is_some() || self.placing.take().is_some() {
            } else if self.grip.is_some() {
                self.call_off(work);
            } else {
                *picked = None;
            }
        }
        if delete
            && self.grip.is_none()
            && let Some(address) = picked.clone()
        {
            self.delete(&address, work, picked);
        }
        if add
            && self.grip.is_none()
            && let Some(at) = pointer
            && let Some(place) = eye.pick(at)
        {
            self.list = Some((at, place));
            self.placing = None;
        }
    }

    fn delete(&self, address: &Address, work: &mut Work, picked: &mut Option<Address>) {
        let chosen = self.chosen(Some(address));
        let Some(line) = chosen.first().and_then(|i| self.lines.get(*i)) else {
            work.complain("This is taken out on its page of the book, not in the yard");
            return;
        };
        let corner = chosen
            .iter()
            .filter_map(|i| self.lines.get(*i))
            .any(|l| l.outline.corner_of(address).is_some());
        let at = if corner {
            address.clone()
        } else {
            line.outline.thing.clone()
        };
        let words = work.editor.words(&at);
        if work.edit_if_good(&Edit::Delete { at }) {
            *picked = corner.then(|| line.outline.thing.clone());
            work.say(format!("Taken out: {words}"));
        }
    }

    /// Where things are on the screen, for those who drive the window by BRIMLINE_VIEW_LOG.
    fn tell(&mut self, eye: &Eye) {
        if !super::telling::on() {
            return;
        }
        let mut told = String::new();
        for line in &self.lines {
            let middle = line.edges.first().and_then(|e| e.get(e.len() / 2));
            if let Some(at) = middle.and_then(|p| eye.screen(eye.scene(*p))) {
                let at = at * eye.zoom;
                told += &format!("edge: {} at {:.0} {:.0}\n", line.outline.list, at.x, at.y);
            }
        }
        for handle in &self.handles {
            let name = match &handle.target {
                Target::Corner(i, k) => self.lines[*i].outline.list.item(*k),
                Target::Water(i) => self.lines[*i].outline.thing.field("water"),
                Target::Part(i, part) => {
                    let pools = self.lines[*i].outline.thing.field("pools");
                    let (field, k) = match part {
                        Part::Lip(k) => ("lip", k),
                        Part::Pool(k) => ("pool", k),
                        Part::Width(k) => ("width", k),
                    };
                    pools.item(*k).field(field)
                }
                _ => continue,
            };
            let at = handle.at * eye.zoom;
            told += &format!("handle: {name} at {:.0} {:.0}\n", at.x, at.y);
        }
        if told != self.told {
            eprint!("{told}");
            self.told = told;
        }
    }
}

/// Which of several lines near the pointer is taken: each with how far it is off, points, and whether
/// it is picked already.
fn first_of<T>(near: Vec<(f64, bool, T)>) -> Option<T> {
    let mut best: Option<(f64, T)> = None;
    for (d, picked, target) in near {
        // What is picked can be drawn away from what it lies on, such as a copy from the first.
        let d = if picked { d - 2.0 } else { d };
        // The later of two that lie together, within a hair: it is the smaller thing.
        if best.as_ref().is_none_or(|(b, _)| d < *b + 0.75) {
            best = Some((d, target));
        }
    }
    best.map(|(_, target)| target)
}

fn drawn(outline: Outline, eye: &Eye) -> Drawn {
    let plan = &eye.yard.plan;
    let level = outline
        .afloat
        .as_ref()
        .filter(|_| eye.look == Look::Finished)
        .and_then(|name| plan.water.iter().find(|w| w.name == *name))
        .map(|w| w.level_m);
    let step = (eye.yard.frame.reach / 120.0).max(0.03);
    let edges = (0..outline.edges())
        .filter_map(|k| outline.edge(k))
        .map(|[a, b]| {
            let pieces = match level {
                // With a middle, by which it is told where it is.
                Some(_) => 2,
                None => ((snap::dist(a, b) / step).ceil() as usize).clamp(1, 400),
            };
            (0..=pieces)
                .map(|s| {
                    let f = s as f64 / pieces as f64;
                    let p = [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])];
                    match level {
                        Some(z) => [p[0], p[1], z],
                        None => eye.on_ground(p),
                    }
                })
                .collect()
        })
        .collect();
    Drawn {
        outline,
        edges,
        level,
    }
}

/// The row of the field book that a shot comes from.
fn shot(work: &Work, name: &str) -> Option<Address> {
    let book = &work.editor.job()?.field_book;
    let base = Address::job().field("field_book");
    for (s, setup) in book.setups.iter().enumerate() {
        if let Some(k) = setup
            .sights
            .iter()
            .position(|x| x.to == name && x.at.is_some())
        {
            return Some(base.field("setups").item(s).field("sights").item(k));
        }
    }
    if let Some(k) = book.points.iter().position(|p| p.name == name) {
        return Some(base.field("points").item(k));
    }
    let k = book.benchmarks.iter().position(|b| b.name == name)?;
    Some(base.field("benchmarks").item(k))
}

/// How the water of a basin is given.
fn water_of(work: &Work, thing: &Address) -> Option<Level> {
    let index = thing.index()?;
    let basin = work.editor.job()?.design.basins.get(index)?;
    Some(basin.water.clone())
}

#[cfg(test)]
mod tests {
    use super::first_of;

    #[test]
    fn of_lines_that_lie_together_the_picked_one_is_taken_else_the_smaller() {
        let basin_and_pit = vec![(3.0, false, "basin"), (3.4, false, "pit")];
        assert_eq!(first_of(basin_and_pit), Some("pit"));
        for (first, second) in [(true, false), (false, true)] {
            let near = vec![(3.0, first, first), (3.0, second, second)];
            assert_eq!(first_of(near), Some(true), "the picked one of two");
        }
        let apart = vec![(1.0, false, "near"), (6.0, true, "picked, but far")];
        assert_eq!(first_of(apart), Some("near"));
        assert_eq!(first_of::<()>(Vec::new()), None);
    }
}
