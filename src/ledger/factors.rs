//! The factors of each soil, low, likely and high.
//!
//! Where a job gives one figure only, it may be a twentieth less or more (common practice, no
//! source). A soil never takes more room compacted than loose.

use crate::job::{Soil, SoilClass};
use crate::plan::{SoilKind, SoilRange};

/// Either way of a factor that stands alone.
const DOUBT: f64 = 0.05;

pub fn soils(soil: &Soil) -> Vec<SoilRange> {
    vec![
        range(SoilKind::Subsoil, &soil.class),
        range(SoilKind::Topsoil, &soil.topsoil),
        range(SoilKind::Unfit, &soil.class),
    ]
}

fn range(kind: SoilKind, class: &SoilClass) -> SoilRange {
    let around = |f: f64, range: &[f64]| match *range {
        [low, high] => [low.min(f), f, high.max(f)],
        _ => [f * (1.0 - DOUBT), f, f * (1.0 + DOUBT)],
    };
    let mut compacted = around(class.compacted, &class.compacted_range);
    let mut loose = around(class.loose, &class.loose_range);
    // Where the two ranges meet, neither goes past the other.
    let meet = 0.5 * (class.loose + class.compacted);
    loose[0] = loose[0].max(meet);
    compacted[2] = compacted[2].min(meet);
    SoilRange {
        kind,
        name: class.name.clone(),
        loose,
        compacted,
        loose_density_kg_m3: class.loose_density,
        repose_deg: class.repose,
    }
}

/// One pair of factors for each kind, from the low (0), likely (1) or high (2) end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pair {
    pub loose: f64,
    pub compacted: f64,
    pub density: f64,
}

pub fn pick(soils: &[SoilRange], loose: usize, compacted: usize) -> [Pair; 3] {
    SoilKind::ALL.map(|kind| {
        soils.iter().find(|s| s.kind == kind).map_or(
            Pair {
                loose: 1.0,
                compacted: 1.0,
                density: 0.0,
            },
            |s| Pair {
                loose: s.loose[loose],
                compacted: s.compacted[compacted],
                // What it weighs is what it weighs in the bank, however far it swells.
                density: s.loose_density_kg_m3 * s.loose[1] / s.loose[loose],
            },
        )
    })
}
