//! A levelled pad: cut and filled to a plane, its sides run out to the ground. Metres.

use crate::design::{Layout, Move, Part, SetLine, SetPoint, Spaced, Track, Yard};
use crate::earthwork::facet::{self, Facet, Slope};
use crate::job::Pad;
use crate::plan::Kind;
use crate::terrain::Plane;

pub fn lay_out(pad: &Pad, yard: &Yard, track: Track) -> Result<Layout, String> {
    let outline = yard.ring(&pad.outline)?;
    let first = yard.place(&pad.outline[0])?;
    let z = yard.height(&pad.elevation)?;
    let mut plane = Plane {
        through: [first[0], first[1], z],
        gradient: [0.0, 0.0],
    };
    if let Some((percent, toward)) = &pad.fall {
        let t = yard.place(toward)?;
        let d = [t[0] - first[0], t[1] - first[1]];
        let l = d[0].hypot(d[1]);
        if l < 1e-6 {
            return Err("its fall points to its own first corner, which is no direction".into());
        }
        plane.gradient = [-percent / 100.0 * d[0] / l, -percent / 100.0 * d[1] / l];
    }
    // The sides start at the finished edge on both tracks: paving and bed lie inside it.
    let ring: Vec<[f64; 3]> = outline.iter().map(|&p| [p[0], p[1], plane.at(p)]).collect();
    if track == Track::Dug {
        plane = plane.raised(-pad.build_up);
    }
    let (top, side) = (
        yard.maker(&pad.name, Kind::Pad, "top"),
        yard.maker(&pad.name, Kind::Pad, "side"),
    );
    let with = |slope: Slope, limit: f64| -> Vec<Facet> {
        let mut facets = facet::on_plane(&outline, plane, top);
        facets.extend(facet::sides(&ring, |_| pad.batter, slope, limit, side));
        facets
    };
    let moves = vec![
        Move::Place(with(Slope::Down, yard.bottom - 0.5)),
        Move::Dig(with(Slope::Up, yard.top + 0.5)),
    ];
    let mut lines = Vec::new();
    if track == Track::Dug {
        let corners = ring.iter().map(|p| {
            SetPoint::new([p[0], p[1]])
                .dig(p[2] - pad.build_up)
                .finish(p[2])
                .note("corner")
        });
        let (name, corners) = (&pad.name, corners.collect());
        lines.push(SetLine::line(
            name,
            Kind::Pad,
            "corners",
            Spaced::Points,
            corners,
        ));
    }
    Ok(Layout {
        parts: vec![Part::new(&pad.name, Kind::Pad, moves)],
        lines,
        ..Layout::default()
    })
}
