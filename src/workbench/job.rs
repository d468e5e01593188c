//! Long work on a thread of its own: one name, one progress, one channel, and a call that wakes whoever waits.

use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, channel};

use crate::domain::progress::Progress;

/// Called from a worker when its result is ready: the window passes a request to draw itself again.
pub type Wake = Arc<dyn Fn() + Send + Sync>;

/// What became of a job when it was asked.
#[derive(Debug, PartialEq, Eq)]
pub enum Polled<T> {
    /// Still at work.
    Pending,
    /// Finished, with its result. Given out once.
    Done(T),
    /// The worker ended without a result.
    Lost,
}

/// A piece of work under way. Dropping it asks the work to stop; its result is then never seen.
#[derive(Debug)]
pub struct Job<T> {
    result: Receiver<T>,
    progress: Progress,
}

impl<T: Send + 'static> Job<T> {
    /// Starts `work` on a thread called `name`. `wake` is called once, after the result is ready or lost.
    ///
    /// # Errors
    /// When the system cannot start a thread.
    pub fn start(
        name: &str,
        wake: &Wake,
        work: impl FnOnce(&Progress) -> T + Send + 'static,
    ) -> std::io::Result<Self> {
        let (sender, result) = channel();
        let progress = Progress::new();
        let (watched, wake) = (progress.clone(), Arc::clone(wake));
        std::thread::Builder::new().name(name.to_owned()).spawn(move || {
            // Dropped last, so that even a worker that dies wakes the window.
            let _wake = WakeOnDrop(wake);
            // The receiver is gone when the job was dropped: then nobody wants the result.
            let _ = sender.send(work(&watched));
            drop(sender);
        })?;
        Ok(Self { result, progress })
    }

    /// The result if there is one; never waits.
    pub fn poll(&self) -> Polled<T> {
        match self.result.try_recv() {
            Ok(value) => Polled::Done(value),
            Err(TryRecvError::Empty) => Polled::Pending,
            Err(TryRecvError::Disconnected) => Polled::Lost,
        }
    }

    /// Waits for the result; `None` if the worker ended without one. For the last save before closing.
    pub fn wait(self) -> Option<T> {
        self.result.recv().ok()
    }
}

impl<T> Job<T> {
    /// How far the work is.
    pub fn progress(&self) -> &Progress {
        &self.progress
    }
}

impl<T> Drop for Job<T> {
    fn drop(&mut self) {
        self.progress.stop();
    }
}

struct WakeOnDrop(Wake);

impl Drop for WakeOnDrop {
    fn drop(&mut self) {
        (self.0)();
    }
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::{AtomicUsize, Ordering};
    use std::time::{Duration, Instant};

    use super::*;

    fn counting_wake() -> (Wake, Arc<AtomicUsize>) {
        let count = Arc::new(AtomicUsize::new(0));
        let counted = Arc::clone(&count);
        (Arc::new(move || _ = counted.fetch_add(1, Ordering::SeqCst)), count)
    }

    fn until(mut done: impl FnMut() -> bool) {
        let start = Instant::now();
        while !done() {
            assert!(start.elapsed() < Duration::from_secs(10), "waited too long");
            std::thread::sleep(Duration::from_millis(2));
        }
    }

    #[test]
    fn a_result_arrives_once_and_wakes() {
        let (wake, woken) = counting_wake();
        let job = Job::start("test work", &wake, |_| 7).unwrap();
        until(|| woken.load(Ordering::SeqCst) == 1);
        assert_eq!(job.poll(), Polled::Done(7));
        assert_eq!(job.poll(), Polled::Lost);
    }

    #[test]
    fn dropping_a_job_stops_its_work() {
        let (wake, woken) = counting_wake();
        let job = Job::start("test work", &wake, |progress| {
            while progress.checkpoint().is_ok() {
                std::thread::sleep(Duration::from_millis(1));
            }
        })
        .unwrap();
        assert_eq!(job.poll(), Polled::Pending);
        drop(job);
        until(|| woken.load(Ordering::SeqCst) == 1);
    }

    #[test]
    fn a_worker_that_dies_is_noticed() {
        let (wake, woken) = counting_wake();
        let job: Job<u8> =
            Job::start("test work", &wake, |_| panic!("a fault made for this test")).unwrap();
        until(|| woken.load(Ordering::SeqCst) == 1);
        assert_eq!(job.poll(), Polled::Lost);
    }
}
