//! Holding a handle: what is written at every move, and how it ends.
//!
//! What is broken when the button is let go is undone, with the reason in words.

use bevy_egui::egui::{Context, CursorIcon, Pos2};

use crate::edit::{Address, Edit};
use crate::job::Level;
use crate::view::Look;
use crate::view::hand::Eye;
use crate::view::work::Work;

use super::aim;
use super::pools::Run;
use super::snap::{Rest, Sides, Snapped, Spot, dist, snap};
use super::{STILL, Shaping, Target, water_of};

/// How close to a place a corner comes to rest there, points.
const SNAP: f64 = 11.0;

pub struct Grip {
    pub target: Target,
    /// What is dragged: a corner, a whole thing, a water.
    pub at: Address,
    /// The thing it belongs to.
    pub thing: Address,
    gesture: String,
    from: Pos2,
    /// Where the handle was when it was taken.
    pub begun: [f64; 3],
    /// From the place under the pointer to the handle.
    off: [f64; 3],
    /// On a level plane, or on the ground as surveyed.
    plane: bool,
    /// Level under a cap hangs from here.
    cap: Option<f64>,
    spots: Vec<Spot>,
    sides: Sides,
    /// The pools as they lay when one of them was taken.
    run: Option<Run>,
    /// Where the handle is now, once it has moved.
    pub now: Option<[f64; 3]>,
    pub snapped: Option<Snapped>,
    /// Held so that it does not come to rest anywhere by itself.
    pub loose: bool,
    /// What is wrong with it here.
    pub wrong: Option<String>,
}

impl Shaping {
    /// A press takes what is under it, if it can be dragged.
    pub(super) fn take(
        &mut self,
        target: &Target,
        eye: &Eye,
        pointer: Pos2,
        work: &mut Work,
        picked: &Option<Address>,
    ) {
        if !self.held(target, picked) {
            return;
        }
        let Some(grip) = self.grip_of(target, eye, pointer, work) else {
            return;
        };
        if !work.editor.is_good() {
            work.complain("The job's text has a mistake: mend that first, then drag");
            return;
        }
        self.grip = Some(grip);
        work.dragging = true;
    }

    fn grip_of(&self, target: &Target, eye: &Eye, pointer: Pos2, work: &mut Work) -> Option<Grip> {
        let (line, place) = match target {
            Target::Corner(i, _) | Target::Water(i) | Target::Part(i, _) => {
                let handle = self.handles.iter().find(|h| h.target == *target)?;
                (self.lines.get(*i)?, handle.place)
            }
            Target::Edge(i, _, on) => {
                let line = self.lines.get(*i)?;
                let place = line
                    .level
                    .map_or_else(|| eye.on_ground(*on), |z| [on[0], on[1], z]);
                (line, place)
            }
            Target::Shot(_) => return None,
        };
        let outline = &line.outline;
        let at = match target {
            Target::Corner(_, k) => {
                if let Some(Some(shot)) = outline.shots.get(*k).filter(|_| outline.bound) {
                    work.complain(format!(
                        "This point of {} is shot {shot}: it stays where it was measured",
                        outline.words()
                    ));
                    return None;
                }
                outline.list.item(*k)
            }
            Target::Edge(..) => {
                if outline.bound && outline.shots.iter().any(Option::is_some) {
                    work.complain(format!(
                        "{} stands on shots: it stays where it was measured",
                        outline.words()
                    ));
                    return None;
                }
                outline.thing.clone()
            }
            Target::Part(..) => self.address(target, work)?,
            _ => match water_of(work, &outline.thing)? {
                Level::BelowCap { .. } => outline.thing.field("water").field("by"),
                Level::At(_) => outline.thing.field("water"),
            },
        };
        let cap = match (target, water_of(work, &outline.thing)) {
            (Target::Water(_), Some(Level::BelowCap { by, .. })) => Some(place[2] + by),
            _ => None,
        };
        let mut grip = Grip {
            target: target.clone(),
            gesture: format!("drag {at} {target:?}"),
            at,
            thing: outline.thing.clone(),
            from: pointer,
            begun: place,
            off: [0.0; 3],
            plane: line.level.is_some() || matches!(target, Target::Part(..)),
            cap,
            spots: Vec::new(),
            sides: Sides::default(),
            run: match target {
                Target::Part(i, _) => Some(self.run(*i, work)?),
                _ => None,
            },
            now: None,
            snapped: None,
            loose: false,
            wrong: None,
        };
        if let Target::Corner(i, k) = target {
            grip.sides = Sides {
                before: [outline.beside(*k, -1), outline.beside(*k, -2)],
                after: [outline.beside(*k, 1), outline.beside(*k, 2)],
            };
            grip.spots = self.spots(*i, *k, eye);
        }
        let under = grip.aim(eye, pointer)?;
        grip.off = [0, 1, 2].map(|k| place[k] - under[k]);
        Some(grip)
    }

    /// Shots, points of breaklines, and corners of everything else; names of the most telling.
    fn spots(&self, line: usize, corner: usize, eye: &Eye) -> Vec<Spot> {
        let mut spots = Vec::new();
        for (i, other) in self.lines.iter().enumerate() {
            let outline = &other.outline;
            for (k, at) in outline.points.iter().enumerate() {
                let own = i == line && (k == corner || outline.points[k] == outline.points[corner]);
                // A shot says so itself.
                if own || outline.shots[k].is_some() && !outline.bound {
                    continue;
                }
                let rest = match outline.word {
                    "breakline" => Rest::Breakline(outline.name.clone()),
                    _ if i == line => Rest::Corner("its own".into()),
                    _ => Rest::Corner(outline.words()),
                };
                spots.push(Spot { at: *at, rest });
            }
        }
        let survey = &eye.yard.plan.survey;
        spots.extend(survey.spots.iter().map(|s| Spot {
            at: [s.x, s.y],
            rest: Rest::Shot(s.name.clone()),
        }));
        spots
    }

    /// Moves what is held to where the pointer is.
    pub(super) fn drag(&mut self, ctx: &Context, eye: &Eye, pointer: Pos2, work: &mut Work) {
        let Some(grip) = &mut self.grip else { return };
        if grip.now.is_none() && grip.from.distance(pointer) < STILL {
            return;
        }
        let Some(under) = grip.aim(eye, pointer) else {
            return;
        };
        let mut to = [0, 1, 2].map(|k| under[k] + grip.off[k]);
        grip.snapped = None;
        let corner = matches!(grip.target, Target::Corner(..));
        grip.loose = corner && ctx.input(|i| i.modifiers.alt);
        if corner
            && !grip.loose
            && let Some(metres) = aim::metres_a_point(eye, to)
        {
            grip.snapped = snap([to[0], to[1]], &grip.spots, &grip.sides, SNAP * metres);
            if let Some(s) = &grip.snapped {
                [to[0], to[1]] = s.at;
            }
        }
        let mut whole = None;
        if let (Target::Part(_, part), Some(run)) = (&grip.target, &grip.run) {
            let (at, edit) = run.drag(*part, [to[0], to[1]], &grip.thing);
            [to[0], to[1]] = at;
            whole = Some(edit);
        }
        if grip.now == Some(to) {
            return;
        }
        grip.now = Some(to);
        let begun = grip.begun;
        let edit = match grip.target {
            Target::Corner(..) => Edit::Move {
                at: grip.at.clone(),
                to: [to[0], to[1]],
            },
            Target::Water(_) => Edit::Length {
                at: grip.at.clone(),
                metres: grip.cap.map_or(to[2], |cap| cap - to[2]),
            },
            _ => Edit::MoveBy {
                at: grip.at.clone(),
                by: [to[0] - begun[0], to[1] - begun[1]],
            },
        };
        let edit = whole.unwrap_or(edit);
        let made = work.edit_as(&grip.gesture, &edit);
        grip.wrong = if made {
            work.editor.problems().first().map(|p| p.what.clone())
        } else {
            work.said.as_ref().map(|s| s.text.clone())
        };
        ctx.request_repaint();
    }

    /// The button is let go: what is good stays, what is broken is undone.
    pub(super) fn let_go(&mut self, work: &mut Work) {
        work.dragging = false;
        let Some(grip) = self.grip.take() else { return };
        if grip.now.is_none() {
            return;
        }
        if !work.editor.is_good() {
            let why = work.editor.problems().first().map(|p| p.what.clone());
            work.editor.abandon_gesture(&grip.gesture);
            work.complain(format!(
                "The drag is undone: {}",
                why.unwrap_or_else(|| "it would break the job".to_owned())
            ));
        } else if let Some(why) = grip.wrong {
            work.complain(why);
        }
        work.editor.end_gesture();
    }

    pub(super) fn call_off(&mut self, work: &mut Work) {
        work.dragging = false;
        let Some(grip) = self.grip.take() else { return };
        work.editor.abandon_gesture(&grip.gesture);
        work.editor.end_gesture();
        if grip.now.is_some() {
            work.say("Called off: it stays where it was");
        }
        self.pressed = None;
    }

    pub(super) fn cursor(&self, ctx: &Context, down: bool) {
        let icon = match (&self.grip, &self.hover) {
            _ if self.placing.is_some() => CursorIcon::Crosshair,
            (Some(grip), _) if matches!(grip.target, Target::Water(_)) => {
                CursorIcon::ResizeVertical
            }
            (Some(_), _) => CursorIcon::Grabbing,
            (None, _) if down => return,
            (None, Some(Target::Water(_))) => CursorIcon::ResizeVertical,
            (None, Some(Target::Corner(..) | Target::Part(..))) => CursorIcon::Grab,
            (None, Some(_)) => CursorIcon::PointingHand,
            (None, None) => return,
        };
        ctx.set_cursor_icon(icon);
    }
}

impl Grip {
    /// The place under the pointer, in the way that this is dragged.
    fn aim(&self, eye: &Eye, pointer: Pos2) -> Option<[f64; 3]> {
        let [x, y, z] = self.begun;
        if let Target::Water(_) = self.target {
            return Some([x, y, aim::on_plumb(eye, pointer, self.begun)?]);
        }
        let p = if self.plane {
            aim::on_level(eye, pointer, z)?
        } else {
            // The surveyed ground does not change while the design is dragged over it.
            let still = Eye {
                look: Look::Existing,
                ..*eye
            };
            still.pick(pointer)?
        };
        let far = dist(p, [eye.yard.frame.centre[0], eye.yard.frame.centre[1]]);
        (far < 4.0 * eye.yard.frame.reach).then_some([p[0], p[1], z])
    }
}
