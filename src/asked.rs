//! All at once what is asked for beside a plan: what to order, the water looked at closer, the stakes, and
//! the visits held against the design. What is independent runs side by side; what several need, the
//! stone in the linings, is measured once.

use crate::job::Job;
use crate::plan::{Built, Closer, Plan, Stakes, Takeoff};
use crate::takeoff::Stones;
use crate::{as_built, flow, stakes, takeoff};

/// The same as each by itself.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    pub takeoff: Takeoff,
    pub closer: Closer,
    pub stakes: Stakes,
    pub built: Vec<Built>,
}

/// Everything of a job and its plan.
pub fn all(job: &Job, plan: &Plan) -> Asked {
    let ((stones, built), (linings, (sized, (brims, stakes)))) = rayon::join(
        || rayon::join(|| Stones::of(job, plan), || as_built::of(job, plan)),
        || {
            rayon::join(
                || takeoff::linings(job, plan),
                || {
                    rayon::join(
                        || flow::sized(job, plan),
                        || rayon::join(|| flow::brims(job, plan), || stakes::of(job, plan)),
                    )
                },
            )
        },
    );
    let (overflows, findings) = sized;
    let stone_in = |water: &str| stones.in_basin(job, water);
    let (takeoff, storage) = rayon::join(
        || takeoff::listed(job, plan, linings, &stones),
        || flow::stored(plan, stone_in),
    );
    Asked {
        takeoff,
        closer: Closer {
            storage,
            brims,
            overflows,
            findings,
        },
        stakes,
        built,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_at_once_is_what_each_by_itself_is() {
        for path in ["surveys/demo.ron", "tests/whole.ron"] {
            let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
            let (_, job) = crate::job::Document::load(&path).unwrap_or_else(|e| panic!("{e}"));
            let plan = Plan::of(&job);
            let all = all(&job, &plan);
            assert_eq!(all.takeoff, takeoff::takeoff(&job, &plan));
            let closer = flow::closer(&job, &plan);
            assert_eq!(all.closer.storage, closer.storage);
            assert_eq!(all.closer.brims, closer.brims);
            assert_eq!(all.closer.overflows, closer.overflows);
            assert_eq!(all.closer.findings, closer.findings);
            assert_eq!(all.stakes, plan.stakes);
            assert_eq!(all.built, as_built::of(&job, &plan));
        }
    }
}
