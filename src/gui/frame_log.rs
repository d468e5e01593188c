//! How long frames take, written to a file where the environment asks for it: for measurements, never in daily use.
//!
//! `WINTERLINE_FRAME_LOG=FILE` writes a line a frame. `WINTERLINE_FRAME_DRIVE=view` then pans and zooms by itself once the
//! scan is ready, `WINTERLINE_FRAME_DRIVE=batch` proposes on all unread scans; both close the window when they are done.

use std::fs::File;
use std::io::{BufWriter, Write};
use std::time::{Duration, Instant};

use egui::{Context, Vec2, ViewportCommand};

use crate::workbench::action::{Action, Verb};
use crate::workbench::workbench::Workbench;

use super::view::View;

/// Frames of panning, then as many of zooming.
const FRAMES_A_PHASE: u32 = 400;

/// The log, and the drive where one was asked for.
pub struct FrameLog {
    out: BufWriter<File>,
    began: Instant,
    frame_began: Option<Instant>,
    own: Duration,
    drive: Drive,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Drive {
    Nothing,
    View(u32),
    BatchToBegin,
    Batch,
    Closing,
}

impl FrameLog {
    /// The log the environment asks for, if any.
    pub fn from_environment() -> Option<Self> {
        let path = std::env::var_os("WINTERLINE_FRAME_LOG")?;
        let mut out = BufWriter::new(File::create(path).ok()?);
        writeln!(out, "ms,phase,own_us,frame_us,interval_us").ok()?;
        let drive = match std::env::var("WINTERLINE_FRAME_DRIVE").as_deref() {
            Ok("view") => Drive::View(0),
            Ok("batch") => Drive::BatchToBegin,
            _ => Drive::Nothing,
        };
        let began = Instant::now();
        Some(Self { out, began, frame_began: None, own: Duration::ZERO, drive })
    }

    /// Adds time of the program's own to the frame under way.
    pub fn add_own(&mut self, own: Duration) {
        self.own += own;
    }

    /// Writes the frame that was just drawn. `frame` is what the whole of the frame before took, where that is known.
    pub fn end_frame(&mut self, phase: &str, started: Instant, frame: Option<f32>) {
        let interval = self.frame_began.map(|before| started - before);
        self.frame_began = Some(started);
        let line = writeln!(
            self.out,
            "{},{phase},{},{},{}",
            self.began.elapsed().as_millis(),
            self.own.as_micros(),
            frame.map_or(0, |seconds| (seconds * 1e6) as u64),
            interval.map_or(0, |interval| interval.as_micros())
        );
        self.own = Duration::ZERO;
        if line.is_err() || self.out.flush().is_err() {
            self.drive = Drive::Closing;
        }
    }

    /// What the window is at, for the log.
    pub fn phase(&self, workbench: &Workbench, view: &View) -> &'static str {
        let picture = view.picture.as_ref();
        match self.drive {
            _ if workbench.scan().is_none() && view.arriving.is_some() => "arriving",
            _ if workbench.scan().is_none() => "opening",
            Drive::Batch => "batch",
            _ if !picture.is_some_and(|picture| picture.has_overview()) => "blank",
            _ if picture.is_some_and(|picture| picture.progress().is_some()) => "overview",
            Drive::View(n) if n >= FRAMES_A_PHASE => "zoom",
            Drive::View(n) if n > 0 => "pan",
            _ => "ready",
        }
    }

    /// One step of the drive.
    pub fn drive(&mut self, workbench: &mut Workbench, view: &mut View, context: &Context) {
        let Some(scan) = workbench.scan() else { return };
        let is_ready = view.picture.as_ref().is_some_and(|picture| picture.progress().is_none());
        let area = view.area_of(scan);
        match self.drive {
            Drive::Nothing => return,
            Drive::View(n) if n >= 2 * FRAMES_A_PHASE => self.close(context),
            Drive::View(n) if n > 0 || is_ready => {
                let rect = view.scan_rect;
                if n == 0 {
                    let zoom = view.scan.zoom().unwrap_or(1.0);
                    view.scan.zoom_about(rect.center(), 1.0 / zoom, rect, area);
                } else if n < FRAMES_A_PHASE {
                    let (sin, cos) = (n as f32 * 0.02).sin_cos();
                    view.scan.pan(Vec2::new(cos, sin) * 60.0, area);
                } else {
                    // Out to the whole and in again, four times.
                    let is_out = ((n - FRAMES_A_PHASE) / 50).is_multiple_of(2);
                    let factor = if is_out { 0.93 } else { 1.0 / 0.93 };
                    view.scan.zoom_about(rect.center(), factor, rect, area);
                }
                self.drive = Drive::View(n + 1);
            }
            Drive::View(_) => {}
            Drive::BatchToBegin if !workbench.is_opening() && is_ready => {
                workbench.perform(Action::Do(Verb::ProposeUnread));
                self.drive = Drive::Batch;
            }
            Drive::BatchToBegin => {}
            Drive::Batch if workbench.running().is_none() => self.close(context),
            Drive::Batch => {}
            Drive::Closing => self.close(context),
        }
        context.request_repaint();
    }

    fn close(&mut self, context: &Context) {
        self.drive = Drive::Closing;
        context.send_viewport_cmd(ViewportCommand::Close);
    }
}
