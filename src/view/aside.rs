//! What takes longer than a frame, worked out beside the window: one at a time, when it is first
//! wanted, and again after the plan has changed. What comes too late for its plan is dropped.

use std::sync::OnceLock;

use bevy::tasks::{AsyncComputeTaskPool, Task, block_on, poll_once};
use rayon::ThreadPool;

/// Who works beside the window, each crew on threads of its own. Work that is shared out waits for the
/// threads it is shared among: if a frame shared its work among those of a long search, it would be
/// drawn when the search is done; and so would a plan.
#[derive(Debug, Clone, Copy)]
pub enum Crew {
    Plans,
    Others,
}

impl Crew {
    /// Begins a piece of work beside the window.
    pub fn begin<T: Send + 'static>(self, run: impl FnOnce() -> T + Send + 'static) -> Task<T> {
        AsyncComputeTaskPool::get().spawn(async move {
            match self.threads() {
                Some(threads) => threads.install(run),
                None => run(),
            }
        })
    }

    fn threads(self) -> Option<&'static ThreadPool> {
        static ALL: [OnceLock<Option<ThreadPool>>; 2] = [const { OnceLock::new() }; 2];
        let own = || rayon::ThreadPoolBuilder::new().build().ok();
        ALL[self as usize].get_or_init(own).as_ref()
    }
}

pub struct Aside<T> {
    known: Option<T>,
    /// With whether the plan has changed since it was begun.
    making: Option<(Task<T>, bool)>,
}

impl<T> Default for Aside<T> {
    fn default() -> Self {
        Aside {
            known: None,
            making: None,
        }
    }
}

impl<T: Send + 'static> Aside<T> {
    pub fn known(&self) -> Option<&T> {
        self.known.as_ref()
    }

    pub fn known_mut(&mut self) -> Option<&mut T> {
        self.known.as_mut()
    }

    /// What is known, for good: nothing is known then.
    pub fn take(&mut self) -> Option<T> {
        self.known.take()
    }

    /// The plan is another: what is known is not so any more, nor what is being worked out. That
    /// runs to its end all the same, so that a long drag does not start one for each of its plans.
    pub fn forget(&mut self) {
        self.known = None;
        if let Some((_, is_late)) = &mut self.making {
            *is_late = true;
        }
    }

    /// Takes up what is ready, and begins anew while it is `wanted` and not known. `make` gives what
    /// is to be run. Returns whether it is waited for.
    pub fn keep<F>(&mut self, wanted: bool, make: impl FnOnce() -> F) -> bool
    where
        F: FnOnce() -> T + Send + 'static,
    {
        if let Some((task, is_late)) = &mut self.making {
            let Some(done) = block_on(poll_once(task)) else {
                return true;
            };
            if !*is_late {
                self.known = Some(done);
            }
            self.making = None;
        }
        if wanted && self.known.is_none() {
            self.making = Some((Crew::Others.begin(make()), false));
            return true;
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;
    use std::time::Duration;

    use bevy::tasks::TaskPoolBuilder;
    use rayon::prelude::*;

    use super::*;

    #[test]
    fn neither_a_frame_nor_a_plan_waits_for_a_long_search() {
        AsyncComputeTaskPool::get_or_init(|| TaskPoolBuilder::new().num_threads(2).build());
        let (go, wait) = mpsc::channel::<()>();
        let wait = std::sync::Mutex::new(wait);
        let begun = std::sync::Arc::new(std::sync::Barrier::new(2));
        let busy = begun.clone();
        let search = Crew::Others.begin(move || {
            busy.wait();
            // Every thread of the crew is held up.
            (0..1000).into_par_iter().for_each(|_| {
                let wait = wait.lock().unwrap_or_else(|e| e.into_inner());
                let _ = wait.recv();
            });
        });
        begun.wait();
        let (told, drawn) = mpsc::channel();
        std::thread::spawn(move || {
            // What a frame and a plan do.
            let shared = (0..1000).into_par_iter().map(|k| k + 1).sum::<u64>();
            let plan = Crew::Plans.begin(|| rayon::join(|| 1, || 2));
            let _ = told.send((shared, block_on(plan)));
        });
        let seen = drawn.recv_timeout(Duration::from_secs(120));
        drop(go);
        block_on(search);
        assert_eq!(seen, Ok((500_500, (1, 2))), "they wait for the search");
    }

    #[test]
    fn what_comes_too_late_for_its_plan_is_dropped() {
        AsyncComputeTaskPool::get_or_init(|| TaskPoolBuilder::new().num_threads(2).build());
        let mut aside: Aside<&str> = Aside::default();
        assert!(!aside.keep(false, || || "never") && aside.known().is_none());
        let (go, wait) = mpsc::channel::<()>();
        let first = move || {
            let _ = wait.recv();
            "of the first plan"
        };
        assert!(aside.keep(true, || first), "it is waited for");
        aside.forget();
        // The first still runs: no second one beside it.
        assert!(aside.keep(true, || || panic!("two at a time")));
        let _ = go.send(());
        let mut begun = 0;
        while aside.keep(true, || {
            begun += 1;
            || "of the second"
        }) {
            assert_eq!(aside.known(), None, "nothing of the first is taken up");
            std::thread::yield_now();
        }
        assert_eq!((aside.known(), begun), (Some(&"of the second"), 1));
        // Known: nothing more to do, wanted or not.
        assert!(!aside.keep(true, || || "again"));
        aside.forget();
        assert_eq!(aside.known(), None);
    }
}
