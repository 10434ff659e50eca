//! What the hand does in the yard besides turning it: laying a section line, stretching a tape.
//!
//! A press lays the first end and a drag, or a second press, the other; later either end is dragged
//! by its knob.

use bevy::prelude::{Camera, GlobalTransform, Ray3d, Resource, Vec2, Vec3};
use bevy_egui::egui::{Align2, Color32, Context, CursorIcon, FontId, Painter, Pos2, Rect, Stroke};

use crate::measure::{Section, Tape, section};

use super::Look;
use super::labels::{Of, Written};
use super::paper;
use super::scene::Yard;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tool {
    Section,
    Tape,
}

impl Tool {
    pub const ALL: [Tool; 2] = [Tool::Section, Tool::Tape];
}

/// Two places in plan.
pub type Ends = [[f64; 2]; 2];

#[derive(Resource, Default)]
pub struct Hand {
    /// Taken up, its first end not laid yet.
    pub tool: Option<Tool>,
    lines: [Option<Ends>; 2],
    /// The end that follows the pointer.
    grip: Option<(Tool, usize)>,
    /// Where the press was that laid or took it.
    pressed: Option<Pos2>,
    cut: Section,
    /// Distance along the section that the pointer asks about.
    pub asked: Option<f64>,
    pub true_scale: bool,
}

/// How close to a knob a press takes it, points.
const NEAR: f32 = 13.0;

/// Sees the yard from where the camera stands.
pub struct Eye<'a> {
    pub camera: &'a Camera,
    pub at: &'a GlobalTransform,
    pub yard: &'a Yard,
    pub look: Look,
    /// Times that heights are drawn.
    pub stretch: f32,
    /// Times that the writing is larger than usual: points of the book are so many of the camera's.
    pub zoom: f32,
}

impl Eye<'_> {
    pub fn scene(&self, p: [f64; 3]) -> Vec3 {
        let p = self.yard.frame.scene(p);
        Vec3::new(p.x, p.y * self.stretch, p.z)
    }

    pub fn plan(&self, p: Vec3) -> [f64; 3] {
        let flat = Vec3::new(p.x, p.y / self.stretch, p.z);
        self.yard.frame.plan(flat)
    }

    pub fn screen(&self, at: Vec3) -> Option<Pos2> {
        let p = self.camera.world_to_viewport(self.at, at).ok()? / self.zoom;
        Some(Pos2::new(p.x, p.y))
    }

    /// The sight line through a point of the window.
    pub fn ray(&self, pointer: Pos2) -> Option<Ray3d> {
        let on = Vec2::new(pointer.x, pointer.y) * self.zoom;
        self.camera.viewport_to_world(self.at, on).ok()
    }

    /// On the ground shown, or at the height of the yard's middle beside it.
    pub fn on_ground(&self, p: [f64; 2]) -> [f64; 3] {
        let z = self.yard.drape(self.look).height(p);
        [p[0], p[1], z.unwrap_or(self.yard.frame.centre[2])]
    }

    /// The place in plan that is seen at a point of the window.
    pub fn pick(&self, pointer: Pos2) -> Option<[f64; 2]> {
        const STEPS: usize = 300;
        let ray = self.ray(pointer)?;
        let way = *ray.direction;
        let reach = self.yard.frame.reach as f32;
        // From the nearest to the farthest that any ground can be.
        let middle = (-ray.origin).dot(way).max(0.0);
        let half = reach * 2.0 + 40.0 * self.stretch;
        let (near, far) = ((middle - half).max(0.0), middle + half);
        let under = |t: f32| {
            let p = self.plan(ray.origin + way * t);
            let ground = self.yard.drape(self.look).height([p[0], p[1]]);
            ground.is_some_and(|z| p[2] <= z)
        };
        let step = (far - near) / STEPS as f32;
        let hit = (1..=STEPS)
            .map(|k| near + step * k as f32)
            .find(|t| under(*t));
        let t = match hit {
            Some(hit) => {
                let (mut low, mut high) = (hit - step, hit);
                for _ in 0..18 {
                    let middle = (low + high) / 2.0;
                    if under(middle) {
                        high = middle;
                    } else {
                        low = middle;
                    }
                }
                high
            }
            // Beside the ground: on the level of its middle, if the sight line comes down to it.
            None if way.y < -0.02 => -ray.origin.y / way.y,
            None => return None,
        };
        let p = self.plan(ray.origin + way * t);
        Some([p[0], p[1]])
    }
}

impl Hand {
    pub fn line(&self, tool: Tool) -> Option<Ends> {
        self.lines[tool as usize]
    }

    pub fn take_up(&mut self, tool: Tool) {
        self.tool = Some(tool);
        self.grip = None;
    }

    pub fn put_away(&mut self, tool: Tool) {
        self.lines[tool as usize] = None;
        if self.grip.is_some_and(|(t, _)| t == tool) {
            self.grip = None;
        }
    }

    /// Lets go of everything half laid.
    pub fn let_go(&mut self) {
        self.tool = None;
        if let Some((tool, _)) = self.grip.take()
            && self.lines[tool as usize].is_some_and(|[a, b]| a == b)
        {
            self.lines[tool as usize] = None;
        }
    }

    pub fn section(&self) -> Option<&Section> {
        self.line(Tool::Section).map(|_| &self.cut)
    }

    /// What the tape reads on the surface shown; `None` beside the ground.
    pub fn tape(&self, yard: &Yard, look: Look) -> Option<Tape> {
        let [a, b] = self.line(Tool::Tape)?;
        let on = |p: [f64; 2]| yard.drape(look).height(p).map(|z| [p[0], p[1], z]);
        Some(Tape::between(on(a)?, on(b)?)).filter(|t| t.slope > 1e-6)
    }

    /// Follows the pointer; true while the yard must stay still under it.
    pub fn follow(&mut self, ctx: &Context, eye: &Eye, free: bool) -> bool {
        let (pointer, pressed, released, down) = ctx.input(|i| {
            let p = &i.pointer;
            (
                p.latest_pos(),
                p.primary_pressed(),
                p.primary_released(),
                p.primary_down(),
            )
        });
        let Some(at) = pointer.filter(|_| free || self.grip.is_some()) else {
            return self.grip.is_some();
        };
        let over = Tool::ALL.into_iter().find_map(|tool| {
            let ends = self.line(tool)?;
            let end = (0..2).find(|&k| {
                eye.screen(eye.scene(eye.on_ground(ends[k])))
                    .is_some_and(|p| p.distance(at) < NEAR)
            })?;
            Some((tool, end))
        });
        if pressed {
            if self.grip.is_some() && self.pressed.is_none_or(|p| p.distance(at) > NEAR) {
                // The second press lays the end that was carried.
                self.drag(eye, at);
                self.grip = None;
            } else if let Some(tool) = self.tool.take() {
                if let Some(p) = eye.pick(at) {
                    self.lines[tool as usize] = Some([p, p]);
                    self.grip = Some((tool, 1));
                    self.pressed = Some(at);
                } else {
                    self.tool = Some(tool);
                }
            } else if over.is_some() {
                self.grip = over;
                self.pressed = Some(at);
            }
        }
        self.drag(eye, at);
        if released && self.pressed.is_some_and(|p| p.distance(at) > NEAR) {
            self.grip = None;
        }
        if self.tool.is_some() || (self.grip.is_some() && !down) {
            ctx.set_cursor_icon(CursorIcon::Crosshair);
        } else if self.grip.is_some() {
            ctx.set_cursor_icon(CursorIcon::Grabbing);
        } else if over.is_some() {
            ctx.set_cursor_icon(CursorIcon::Grab);
        }
        self.tool.is_some() || self.grip.is_some() || over.is_some()
    }

    fn drag(&mut self, eye: &Eye, at: Pos2) {
        let Some((tool, end)) = self.grip else { return };
        let Some(ends) = &mut self.lines[tool as usize] else {
            return;
        };
        let Some(p) = eye.pick(at).filter(|p| *p != ends[end]) else {
            return;
        };
        ends[end] = p;
        if tool == Tool::Section {
            self.cut = section(&eye.yard.plan, ends[0], ends[1]);
        }
    }

    /// Cuts anew, after the plan has changed.
    pub fn cut_again(&mut self, yard: &Yard) {
        if let Some([a, b]) = self.line(Tool::Section) {
            self.cut = section(&yard.plan, a, b);
        }
    }

    /// Draws the lines over the yard; returns the places that labels keep clear of. What is written
    /// is added to `written`.
    pub fn paint(
        &self,
        painter: &Painter,
        eye: &Eye,
        tape_words: &str,
        written: &mut Vec<Written>,
    ) -> Vec<Rect> {
        let mut taken = Vec::new();
        if let Some([a, b]) = self.line(Tool::Section) {
            let step = (eye.yard.frame.reach / 150.0).max(0.03);
            for piece in eye.yard.drape(eye.look).lay(&[a, b], false, step) {
                let line: Vec<Pos2> = piece
                    .iter()
                    .filter_map(|p| eye.screen(eye.scene(*p)))
                    .collect();
                painter.line(line.clone(), Stroke::new(5.0, paper::PAPER));
                painter.line(line, Stroke::new(2.4, paper::ACCENT));
            }
            for (p, letter) in [(a, "A"), (b, "B")] {
                taken.extend(knob(painter, eye, p, letter));
            }
            if let (Some(asked), true) = (self.asked, self.cut.length > 0.0) {
                let f = asked / self.cut.length;
                let p = [a[0] + f * (b[0] - a[0]), a[1] + f * (b[1] - a[1])];
                if let Some(p) = eye.screen(eye.scene(eye.on_ground(p))) {
                    painter.circle(p, 5.0, paper::INK, Stroke::new(2.0, paper::PAPER));
                }
            }
        }
        if let Some([a, b]) = self.line(Tool::Tape) {
            let ends = [a, b].map(|p| eye.screen(eye.scene(eye.on_ground(p))));
            if let [Some(p), Some(q)] = ends {
                painter.line_segment([p, q], Stroke::new(5.0, paper::PAPER));
                painter.extend(bevy_egui::egui::Shape::dashed_line(
                    &[p, q],
                    Stroke::new(2.4, paper::INK),
                    9.0,
                    4.0,
                ));
                if !tape_words.is_empty() {
                    let rect = slip(painter, p + (q - p) / 2.0, tape_words);
                    taken.push(rect);
                    written.push(Written {
                        words: tape_words.to_owned(),
                        rect,
                        of: Of::Tape,
                    });
                }
            }
            for p in [a, b] {
                taken.extend(knob(painter, eye, p, ""));
            }
        }
        taken
    }
}

fn knob(painter: &Painter, eye: &Eye, p: [f64; 2], letter: &str) -> Option<Rect> {
    let at = eye.screen(eye.scene(eye.on_ground(p)))?;
    let size = if letter.is_empty() { 5.5 } else { 9.5 };
    painter.circle(at, size, paper::PAPER, Stroke::new(2.2, paper::ACCENT));
    painter.text(
        at,
        Align2::CENTER_CENTER,
        letter,
        FontId::monospace(12.0),
        paper::INK,
    );
    Some(Rect::from_center_size(
        at,
        bevy_egui::egui::Vec2::splat(24.0),
    ))
}

/// Words on a slip of paper.
fn slip(painter: &Painter, at: Pos2, words: &str) -> Rect {
    let galley = painter.layout_no_wrap(words.to_owned(), FontId::monospace(13.0), paper::INK);
    let rect = Align2::CENTER_CENTER.anchor_size(at, galley.size());
    let sheet = rect.expand2(bevy_egui::egui::Vec2::new(5.0, 2.0));
    painter.rect(
        sheet,
        2.0,
        Color32::from_rgb(0xf7, 0xf2, 0xe6),
        Stroke::new(1.0, paper::INK),
        bevy_egui::egui::StrokeKind::Inside,
    );
    painter.galley(rect.min, galley, paper::INK);
    sheet
}
