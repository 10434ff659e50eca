//! The ground around a place as it is at some moment, triangle by triangle, for those who stand something
//! on it or hold something against it. Its triangles meet in plan but share no corners. Metres.

use super::Mosaic;
use crate::terrain::{Plane, Span, Surface};

impl Mosaic {
    /// The ground now, of all pieces that meet a box.
    pub fn around(&self, span: &Span) -> Surface {
        self.meeting(span, |id| self.plane_of(id))
    }

    /// The top of the undisturbed soil under it.
    pub fn undisturbed_around(&self, span: &Span) -> Surface {
        self.meeting(span, |id| self.undisturbed(id))
    }

    fn meeting(&self, span: &Span, plane: impl Fn(u32) -> Plane) -> Surface {
        let mut out = Surface::default();
        for id in self.live_ids() {
            let [low, high] = self.bounds_of(id);
            if !span.meets(&Span { low, high }) {
                continue;
            }
            let (outline, plane) = (self.polygon(id), plane(id));
            let first = out.points.len() as u32;
            out.points
                .extend(outline.iter().map(|&p| [p[0], p[1], plane.at(p)]));
            for k in 1..(outline.len() as u32).saturating_sub(1) {
                out.triangles.push([first, first + k, first + k + 1]);
                out.made_by.push(self.maker_of(id));
            }
        }
        out
    }
}
