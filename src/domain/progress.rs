//! Progress of long work, and the flag that stops it. Shared between the worker and whoever watches.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

/// The work was stopped at someone's wish. Not a failure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("stopped")]
pub struct Stopped;

#[derive(Debug, Default)]
struct Shared {
    done: AtomicUsize,
    total: AtomicUsize,
    stop: AtomicBool,
}

/// A handle on a piece of long work: how far it is, and whether it should stop. Clones share one state.
#[derive(Debug, Clone, Default)]
pub struct Progress(Arc<Shared>);

impl Progress {
    /// A new handle: nothing done, nobody has asked to stop.
    pub fn new() -> Self {
        Self::default()
    }

    /// Says how many steps there are in all.
    pub fn set_total(&self, total: usize) {
        self.0.total.store(total, Ordering::Relaxed);
    }

    /// Counts one more step as done.
    pub fn step(&self) {
        self.0.done.fetch_add(1, Ordering::Relaxed);
    }

    /// Steps done so far, and steps in all (0 while unknown).
    pub fn counts(&self) -> (usize, usize) {
        (self.0.done.load(Ordering::Relaxed), self.0.total.load(Ordering::Relaxed))
    }

    /// Share done, 0 to 1; 0 while the total is unknown.
    pub fn fraction(&self) -> f32 {
        let (done, total) = self.counts();
        if total == 0 { 0.0 } else { (done as f32 / total as f32).min(1.0) }
    }

    /// Asks the work to stop at its next checkpoint.
    pub fn stop(&self) {
        self.0.stop.store(true, Ordering::Relaxed);
    }

    /// True once someone has asked to stop.
    pub fn is_stopped(&self) -> bool {
        self.0.stop.load(Ordering::Relaxed)
    }

    /// To be called inside loops: ends the work early when it was asked to stop.
    ///
    /// # Errors
    /// [`Stopped`] when someone called [`Progress::stop`].
    pub fn checkpoint(&self) -> Result<(), Stopped> {
        if self.is_stopped() { Err(Stopped) } else { Ok(()) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clone_sees_the_stop() {
        let worker = Progress::new();
        let watcher = worker.clone();
        assert!(worker.checkpoint().is_ok());
        watcher.stop();
        assert_eq!(worker.checkpoint(), Err(Stopped));
    }

    #[test]
    fn fraction_is_bounded() {
        let progress = Progress::new();
        assert_eq!(progress.fraction(), 0.0);
        progress.set_total(2);
        for _ in 0..3 {
            progress.step();
        }
        assert_eq!(progress.fraction(), 1.0);
    }
}
