//! Whoever waits for a picture: sees what is there of it, and can stop it.

use std::sync::{Arc, Mutex, PoisonError};

use crate::domain::progress::{Progress, Stopped};
use crate::imaging::overview::Overview;

/// A picture being read, as shown to whoever waits for it. Clones share one state.
#[derive(Clone, Default)]
pub struct Watch {
    progress: Progress,
    shown: Option<Arc<Shown>>,
}

/// What is there of the picture, and who is to be told.
struct Shown {
    overview: Mutex<Option<Overview>>,
    wake: Box<dyn Fn() + Send + Sync>,
}

impl Watch {
    /// Nobody waits.
    pub fn nobody() -> Self {
        Self::default()
    }

    /// Someone waits and is woken when there is more to see.
    pub fn new(wake: impl Fn() + Send + Sync + 'static) -> Self {
        let shown = Shown { overview: Mutex::new(None), wake: Box::new(wake) };
        Self { progress: Progress::new(), shown: Some(Arc::new(shown)) }
    }

    /// The same, with reading to end early when `progress` is stopped.
    #[must_use]
    pub fn stopped_by(&self, progress: &Progress) -> Self {
        Self { progress: progress.clone(), shown: self.shown.clone() }
    }

    /// What is there by now; `None` before the first rows, and for formats that are unpacked as a whole.
    pub fn overview(&self) -> Option<Overview> {
        let shown = self.shown.as_ref()?;
        let overview = shown.overview.lock().unwrap_or_else(PoisonError::into_inner);
        overview.as_ref().filter(|overview| overview.share_filled() > 0.0).cloned()
    }

    /// A picture of this size comes.
    pub(crate) fn begin(&self, width: usize, height: usize, white: u32) -> Result<(), Stopped> {
        if let Some(shown) = &self.shown {
            let mut overview = shown.overview.lock().unwrap_or_else(PoisonError::into_inner);
            *overview = Some(Overview::empty(width, height, white));
        }
        self.checkpoint()
    }

    /// Whole rows have come, the first of which is row `top`.
    pub(crate) fn put<T: Copy + Into<u32>>(&self, top: usize, rows: &[T]) {
        let Some(shown) = &self.shown else { return };
        let mut overview = shown.overview.lock().unwrap_or_else(PoisonError::into_inner);
        let has_grown = overview.as_mut().is_some_and(|overview| overview.put(top, rows));
        drop(overview);
        if has_grown {
            (shown.wake)();
        }
    }

    /// To be asked between pieces.
    pub(crate) fn checkpoint(&self) -> Result<(), Stopped> {
        self.progress.checkpoint()
    }
}
