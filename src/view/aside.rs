//! What takes longer than a frame, worked out beside the window: one at a time, when it is first
//! wanted, and again after the plan has changed. What comes too late for its plan is dropped.

use bevy::tasks::{AsyncComputeTaskPool, Task, block_on, poll_once};

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
            let run = make();
            let task = AsyncComputeTaskPool::get().spawn(async move { run() });
            self.making = Some((task, false));
            return true;
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;

    use bevy::tasks::TaskPool;

    use super::*;

    #[test]
    fn what_comes_too_late_for_its_plan_is_dropped() {
        AsyncComputeTaskPool::get_or_init(TaskPool::new);
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
