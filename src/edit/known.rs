//! Where the points of the job lie, as far as moving things needs it: from the last good job.

use std::sync::Arc;
use std::sync::OnceLock;

use crate::job::{At, Job, Place};
use crate::survey::{self, Reduced};

/// The last good job, and its survey once somebody asks.
#[derive(Debug, Default)]
pub struct Known {
    job: Option<Arc<Job>>,
    reduced: OnceLock<Reduced>,
}

impl Known {
    pub fn of(job: Option<Arc<Job>>) -> Known {
        Known {
            job,
            reduced: OnceLock::new(),
        }
    }

    /// Coordinates, metres.
    pub fn locate(&self, at: &At) -> Option<[f64; 2]> {
        if let At::Placed(Place::Xy(x, y)) = at {
            return Some([*x, *y]);
        }
        let job = self.job.as_ref()?;
        let reduced = self
            .reduced
            .get_or_init(|| survey::reduce(&job.field_book, &job.site.breaklines).0);
        reduced.locate(at, &job.field_book).ok()
    }

    /// Distance along a baseline and offset to the right of it.
    pub fn off(&self, baseline: &str, at: [f64; 2]) -> Option<[f64; 2]> {
        let book = &self.job.as_ref()?.field_book;
        let line = book.baselines.iter().find(|b| b.name == baseline)?;
        let [dx, dy] = [line.to[0] - line.from[0], line.to[1] - line.from[1]];
        let length = dx.hypot(dy);
        if length.is_nan() || length <= 0.0 {
            return None;
        }
        let (ux, uy) = (dx / length, dy / length);
        let [px, py] = [at[0] - line.from[0], at[1] - line.from[1]];
        Some([px * ux + py * uy, px * uy - py * ux])
    }
}
