//! One impression made ready, on which an axis can be tried again and again.

use std::sync::{Arc, Mutex, OnceLock};

use kurbo::Point;

use crate::domain::axis::Axis;
use crate::domain::calibration::Calibration;
use crate::domain::progress::{Progress, Stopped};
use crate::domain::reading::{Light, Structure};
use crate::domain::units::{Micrometres, Pixels};

use super::crowding::{Candidate, FULL_PX, ScaleSignal, read_scale};
use super::fan::{Fan, FanPlan};
use super::frame::Frame;
use super::margin::Margin;
use super::model::{Model, otolith_model, scale_model};
use super::nested::{NestedRings, reduced};
use super::network::Network;
use super::outline::Outline;
use super::plane::Plane;
use super::refusing::{OtolithLook, otolith_refusal, scale_refusal};
use super::ring::traced;
use super::selection::{Judged, Option1d, judge};
use super::spectrum::between;
use super::suggestion::{Suggested, Suggestion, margin_confidence};
use super::zones::{ZoneSignal, read_otolith};
use super::{AxisEvidence, Proposal, Proposals, Refusal, Request};

/// Probability at or above which a candidate is put forward.
pub const THRESHOLD: f64 = 0.5;
/// Probability below which a candidate is not worth showing.
const WORTH_SHOWING: f64 = 0.04;

/// Share of the radius beyond which a candidate cannot be told from the margin itself, which is never listed.
const INSIDE_MARGIN: f64 = 0.985;
/// Circuli at the margin of a scale in which no candidate is put forward.
const UNSCORED_CIRCULI: f64 = 1.2;
/// Candidates closer than this share of the radius are one place seen twice: scales, where each circulus makes one.
const ONE_PLACE_ON_SCALES: f64 = 0.02;
/// The same for otoliths, whose zones are told apart to a few pixels.
const ONE_PLACE_ON_OTOLITHS: f64 = 0.01;

/// An impression made ready: its pixels, its outline, and what was suggested.
#[derive(Debug, Clone)]
pub struct Prepared<'a> {
    plane: Plane<'a>,
    calibration: Calibration,
    structure: Structure,
    light: Option<Light>,
    outline: Option<Outline>,
    rings: Option<NestedRings>,
    network: Option<Arc<Network>>,
    kept: Arc<Kept>,
}

/// What was measured once and holds for every axis.
#[derive(Debug, Default)]
struct Kept {
    log_over_ground: OnceLock<f64>,
    /// The plane reduced for the direction of broad rings.
    coarse: OnceLock<Plane<'static>>,
    /// Of the margin of an otolith.
    softness: OnceLock<Option<f64>>,
    /// How well the rays agree on the focus used last.
    agreement: Mutex<Option<(Point, f64)>>,
}

/// Everything read off one axis before anything is chosen. Public so that the model can be fitted.
#[derive(Debug, Clone)]
pub struct AxisReading {
    /// The aligned fan.
    pub fan: Fan,
    /// Candidates in order.
    pub candidates: Vec<Candidate>,
    /// The candidates as the choice sees them.
    pub options: Vec<Option1d>,
    frame: Frame,
    margin_seen: bool,
    /// What the candidates were read from.
    pub signal: Signal,
}

/// The signal along an axis, by structure.
#[derive(Debug, Clone)]
pub enum Signal {
    /// Circuli and their spacing.
    Scale(ScaleSignal),
    /// Zones.
    Otolith(ZoneSignal),
}

impl AxisReading {
    /// Distance from the focus of a place of the fan, micrometres.
    pub fn micrometres(&self, sample: f64) -> f64 {
        sample * self.fan.step_um
    }

    /// The same without the samples of the fan, to keep many readings at hand.
    pub fn without_samples(self) -> Self {
        Self { fan: Fan::empty_like(&self.fan), ..self }
    }

    /// What speaks for an annulus at the very margin: 1, the winter's look there, and how full the last season is.
    /// `probability`: of each candidate.
    pub fn margin_numbers(&self, probability: &[f64]) -> [f64; 3] {
        let chosen: Vec<f64> = self
            .candidates
            .iter()
            .zip(probability)
            .filter(|(_, p)| **p >= THRESHOLD)
            .map(|(c, _)| c.place)
            .collect();
        let last = chosen.last().copied().unwrap_or(0.0);
        let before =
            chosen.len().checked_sub(2).and_then(|i| chosen.get(i)).copied().unwrap_or(0.0);
        let full = if last > before {
            ((self.fan.edge - last) / (last - before)).clamp(0.0, 2.0) - 0.8
        } else {
            0.0
        };
        let look = match &self.signal {
            Signal::Scale(signal) => signal.margin_look(self.fan.edge),
            Signal::Otolith(signal) => signal.margin_look,
        };
        [1.0, look, full]
    }

    /// The choice shares the probability of one annulus among the places where it may lie. Neighbours that are one place
    /// give theirs to the likeliest of them, so that its probability is that of an annulus there.
    pub fn gathered(&self, probability: &[f64]) -> Vec<f64> {
        let share = match &self.signal {
            Signal::Scale(_) => ONE_PLACE_ON_SCALES,
            Signal::Otolith(_) => ONE_PLACE_ON_OTOLITHS,
        };
        let reach = share * self.fan.edge;
        let mut gathered = probability.to_vec();
        let mut order: Vec<usize> = (0..gathered.len()).collect();
        order.sort_by(|a, b| gathered[*b].total_cmp(&gathered[*a]).then(a.cmp(b)));
        for &likely in &order {
            for &other in &order {
                let (Some(a), Some(b)) = (self.candidates.get(likely), self.candidates.get(other))
                else {
                    continue;
                };
                let is_near = other != likely && (a.place - b.place).abs() < reach;
                let is_less = gathered[other] > 0.0 && gathered[other] < gathered[likely];
                if is_near && is_less && gathered[likely] + gathered[other] <= 1.0 {
                    gathered[likely] += gathered[other];
                    gathered[other] = 0.0;
                }
            }
        }
        gathered
    }

    /// False in the last circuli of a scale: spacing after the mark cannot be seen there, so a candidate is shown and
    /// not put forward.
    pub fn is_scored(&self, candidate: &Candidate) -> bool {
        let Signal::Scale(signal) = &self.signal else { return true };
        let spacing = between(&signal.log_period, signal.hop, candidate.place).exp();
        self.fan.edge - candidate.place > UNSCORED_CIRCULI * spacing
    }

    /// Distance from focus to margin, micrometres.
    pub fn edge_um(&self) -> f64 {
        self.fan.edge * self.fan.step_um
    }
}

impl<'a> Prepared<'a> {
    /// Makes an impression ready.
    ///
    /// # Errors
    /// [`Stopped`] when the work was stopped.
    pub fn new(request: &Request<'a>, progress: &Progress) -> Result<Self, Stopped> {
        progress.checkpoint()?;
        let plane = Plane::new(request.raster, request.bounds);
        let focus = request.focus.or_else(|| request.axis.as_ref().map(Axis::focus));
        let outline = Outline::find(&plane, focus);
        progress.checkpoint()?;
        let rings = match (&outline, request.structure) {
            (Some(outline), Structure::Otolith) => NestedRings::new(&plane, outline),
            _ => None,
        };
        Ok(Self {
            plane,
            calibration: request.calibration.clone(),
            structure: request.structure,
            light: request.light,
            outline,
            rings,
            network: (request.structure == Structure::Scale).then(Network::for_scales).flatten(),
            kept: Arc::default(),
        })
    }

    /// The same with another network for the learned evidence: one under test, or none.
    pub fn with_network(self, network: Option<Arc<Network>>) -> Self {
        Self { network, ..self }
    }

    /// The same with its pixels copied, to outlive the scan.
    pub(super) fn into_owned(self) -> Prepared<'static> {
        Prepared {
            plane: self.plane.into_owned(),
            calibration: self.calibration,
            structure: self.structure,
            light: self.light,
            outline: self.outline,
            rings: self.rings,
            network: self.network,
            kept: self.kept,
        }
    }

    /// Pixels it looks at.
    pub(super) fn size(&self) -> usize {
        self.plane.width * self.plane.height
    }

    /// How clearly the structure stands out from its background, 0 to 1; `None` where none was found.
    pub fn outline_clarity(&self) -> Option<f64> {
        self.outline.as_ref().map(|outline| outline.clarity)
    }

    /// Focus and axis for this impression, and what is known of them; the focus as given, else suggested. `None`
    /// where no structure stands out.
    pub fn suggestion(&self, focus: Option<Point>) -> Option<Suggestion> {
        let outline = self.outline.as_ref()?;
        Suggestion::make(&self.plane, outline, self.rings.as_ref(), focus)
    }

    fn margin_confidence(&self, reading: &AxisReading) -> Option<f64> {
        let clarity = self.outline_clarity().filter(|_| reading.margin_seen);
        Some(clarity.map_or(0.0, |clarity| margin_confidence(self.structure, clarity)))
    }

    fn otolith_look(&self, focus: Point) -> Option<OtolithLook> {
        let rings = self.rings.as_ref()?;
        let softness = *self.kept.softness.get_or_init(|| rings.edge_softness(&self.plane));
        let known = self.kept.agreement.lock().ok().and_then(|known| *known);
        let agreement = match known {
            Some((at, agreement)) if at == focus => agreement,
            _ => {
                let agreement = rings.agreement_at(focus);
                if let Ok(mut known) = self.kept.agreement.lock() {
                    *known = Some((focus, agreement));
                }
                agreement
            }
        };
        Some(OtolithLook { softness, agreement })
    }

    /// The light: as stated, else by what is brighter, structure or background.
    fn light(&self) -> Light {
        self.light.unwrap_or(if self.log_over_ground() < 0.0 {
            Light::Transmitted
        } else {
            Light::Reflected
        })
    }

    /// Logarithm of the median brightness of the structure over that of its background; 0 where there is no telling.
    fn log_over_ground(&self) -> f64 {
        *self.kept.log_over_ground.get_or_init(|| self.measured_log_over_ground())
    }

    fn measured_log_over_ground(&self) -> f64 {
        let Some(outline) = &self.outline else { return 0.0 };
        let (mut inside, mut outside) = (Vec::new(), Vec::new());
        for row in 0..outline.rows {
            for column in 0..outline.columns {
                let at = outline.centre_of(column, row);
                let value = f64::from(self.plane.at(at.x as f32, at.y as f32));
                if outline.contains(at) { inside.push(value) } else { outside.push(value) }
            }
        }
        if inside.is_empty() || outside.is_empty() {
            return 0.0;
        }
        let level = |values: &[f64]| super::signal::median(values) + 0.01;
        (level(&inside) / level(&outside)).ln()
    }

    /// Reads everything off an axis. `whole_axis_given` says that the margin cannot lie beyond the axis.
    pub fn read(&self, axis: &Axis, whole_axis_given: bool) -> AxisReading {
        let axis_um = axis.micrometres_at(axis.length_px(), &self.calibration).0;
        let reach_um = axis_um * if whole_axis_given { 1.1 } else { 1.4 };
        let plan = self.plan();
        let frame = Frame::new(axis, &self.calibration, reach_um);
        let limit = whole_axis_given.then_some(axis_um / frame.step_um);
        let margin =
            Margin::find(&self.plane, &frame, self.outline.as_ref(), plan.half_span + 0.05, limit);
        let coarse = match plan.reach.round() as usize {
            0 | 1 => &self.plane,
            factor => self.kept.coarse.get_or_init(|| reduced(&self.plane, factor)),
        };
        let fan = Fan::take(&self.plane, coarse, &frame, plan, &|angle| margin.at(angle));
        let signal = match self.structure {
            Structure::Scale => {
                Signal::Scale(read_scale(&fan, self.log_over_ground(), self.network.as_deref()))
            }
            _ => {
                let polarity = if self.light() == Light::Transmitted { 1.0 } else { -1.0 };
                Signal::Otolith(read_otolith(&fan, polarity))
            }
        };
        let candidates = match &signal {
            Signal::Scale(s) => s.candidates.clone(),
            Signal::Otolith(s) => s.candidates.clone(),
        };
        let mut candidates: Vec<Candidate> =
            candidates.into_iter().filter(|c| c.place < INSIDE_MARGIN * fan.edge).collect();
        candidates.sort_by(|a, b| a.place.total_cmp(&b.place));
        candidates.dedup_by(|late, early| late.place - early.place < 1.0);
        let options = candidates
            .iter()
            .map(|c| Option1d { place: c.place / fan.edge, evidence: c.evidence })
            .collect();
        AxisReading { fan, candidates, options, frame, margin_seen: margin.is_seen, signal }
    }

    fn plan(&self) -> FanPlan {
        match self.structure {
            Structure::Scale => FanPlan { half_span: 1.0, window: 9, reach: 1.0, finer: 2 },
            _ => FanPlan { half_span: 1.1, window: 12, reach: 2.0, finer: 2 },
        }
    }

    /// Proposals along an axis.
    ///
    /// # Errors
    /// [`Stopped`] when the work was stopped.
    pub fn propose_on(
        &self,
        axis: &Axis,
        whole_axis_given: bool,
        progress: &Progress,
    ) -> Result<Proposals, Stopped> {
        progress.checkpoint()?;
        let reading = self.read(axis, whole_axis_given);
        progress.checkpoint()?;
        let model = match self.structure {
            Structure::Scale => scale_model(),
            _ => otolith_model(),
        };
        Ok(self.judged_by(axis, &reading, &model))
    }

    /// Proposals from a reading by a model: the program's own, or one under test.
    pub fn judged_by(&self, axis: &Axis, reading: &AxisReading, model: &Model) -> Proposals {
        let refusal = match &reading.signal {
            Signal::Scale(signal) => scale_refusal(&reading.fan, signal),
            Signal::Otolith(signal) => {
                otolith_refusal(&reading.fan, signal, self.otolith_look(axis.focus()))
            }
        };
        if let Some(reason) = refusal {
            let found = self.assembled(axis, reading, &Judged::nothing(), model);
            return Proposals { refused: Some(reason), edge_annulus: None, ..found };
        }
        let judged = judge(&reading.options, &model.weights);
        self.assembled(axis, reading, &judged, model)
    }

    fn assembled(
        &self,
        axis: &Axis,
        reading: &AxisReading,
        judged: &Judged,
        model: &Model,
    ) -> Proposals {
        let mut out = Proposals {
            axis: Some(axis.clone()),
            edge: Some(axis.pixels_at(Micrometres(reading.edge_um()), &self.calibration)),
            light: (self.structure == Structure::Otolith).then(|| self.light()),
            annuli: Vec::new(),
            checks: Vec::new(),
            alternatives: Vec::new(),
            edge_annulus: Some(edge_probability(reading, judged, model)),
            refused: None,
            warnings: self.warnings(reading),
            suggested: Suggested {
                margin: self.margin_confidence(reading),
                ..Suggested::default()
            },
            evidence: self.evidence(axis, reading),
        };
        let probability: Vec<f64> = reading
            .gathered(&judged.probability)
            .into_iter()
            .map(|p| if p > 0.0 { model.calibrated(p) } else { 0.0 })
            .collect();
        for (candidate, probability) in reading.candidates.iter().zip(&probability) {
            let proposal = self.proposal(axis, reading, candidate, *probability);
            if *probability >= THRESHOLD && reading.is_scored(candidate) {
                out.annuli.push(proposal);
            } else if candidate.seen > 0.6 && candidate.continuity < 0.5 {
                out.checks.push(proposal);
            } else if *probability >= WORTH_SHOWING {
                out.alternatives.push(proposal);
            }
        }
        out
    }

    fn proposal(
        &self,
        axis: &Axis,
        reading: &AxisReading,
        candidate: &Candidate,
        probability: f64,
    ) -> Proposal {
        let radius = Micrometres(reading.micrometres(candidate.place));
        let position: Pixels = axis.pixels_at(radius, &self.calibration);
        Proposal {
            position,
            radius,
            inner_radius: Micrometres(reading.micrometres(candidate.inner)),
            at: axis.point_at(position),
            probability,
            ring: traced(&reading.fan, &reading.frame, candidate.place, 1.0),
            continuity: candidate.continuity,
        }
    }

    fn warnings(&self, reading: &AxisReading) -> Vec<String> {
        let mut warnings = Vec::new();
        if !reading.margin_seen {
            warnings.push("the margin was not seen: the end of the axis stands for it".to_owned());
        }
        if let Signal::Scale(signal) = &reading.signal {
            let px = super::signal::median(&signal.log_period).exp() * reading.fan.step_um
                / reading.frame.step_um;
            if px < FULL_PX {
                warnings.push(format!(
                    "circuli are about {px:.1} px apart: a scan {:.1} times as fine would show each of them (4 px or more)",
                    FULL_PX / px
                ));
            }
        }
        warnings
    }

    fn evidence(&self, axis: &Axis, reading: &AxisReading) -> AxisEvidence {
        let edge_px = axis.pixels_at(Micrometres(reading.edge_um()), &self.calibration).0;
        let count = edge_px.max(0.0) as usize + 4;
        let sample = |i: usize| {
            axis.micrometres_at(Pixels(i as f64), &self.calibration).0 / reading.fan.step_um
        };
        let (profile, spacing) = match &reading.signal {
            Signal::Scale(s) => (&s.profile, Some(s)),
            Signal::Otolith(s) => (&s.profile, None),
        };
        let intensity = (0..count).map(|i| super::signal::at(profile, sample(i))).collect();
        let spacing_um = spacing.map_or_else(Vec::new, |s| {
            (0..count)
                .map(|i| {
                    let at = sample(i);
                    let clear = between(&s.clarity, s.hop, at) > 0.15 && at <= reading.fan.edge;
                    if clear {
                        between(&s.log_period, s.hop, at).exp() * reading.fan.step_um
                    } else {
                        f64::NAN
                    }
                })
                .collect()
        });
        AxisEvidence { step_px: 1.0, intensity, spacing_um }
    }
}

/// Probability that an annulus lies at the very margin.
fn edge_probability(reading: &AxisReading, judged: &Judged, model: &Model) -> f64 {
    let numbers = reading.margin_numbers(&judged.probability);
    let sum: f64 = numbers.iter().zip(model.margin).map(|(n, w)| n * w).sum();
    1.0 / (1.0 + (-sum).exp())
}

/// Proposes annuli on one impression.
///
/// # Errors
/// [`Stopped`] when the work was stopped through `progress`.
pub fn propose(request: &Request, progress: &Progress) -> Result<Proposals, Stopped> {
    if !matches!(request.structure, Structure::Scale | Structure::Otolith) {
        return Ok(Proposals::refused(Refusal::StructureByHand));
    }
    propose_prepared(&Prepared::new(request, progress)?, request, progress)
}

/// [`propose`] on an impression made ready for the same request, but for its axis.
pub(super) fn propose_prepared(
    prepared: &Prepared,
    request: &Request,
    progress: &Progress,
) -> Result<Proposals, Stopped> {
    if let Some(axis) = &request.axis {
        return prepared.propose_on(axis, true, progress);
    }
    let Some(suggestion) = prepared.suggestion(request.focus) else {
        return Ok(Proposals::refused(Refusal::Empty));
    };
    if suggestion.runs_one_way {
        return Ok(Proposals {
            axis: Some(suggestion.axis),
            ..Proposals::refused(Refusal::NoEvidence)
        });
    }
    let mut found = prepared.propose_on(&suggestion.axis, false, progress)?;
    found.suggested.focus = suggestion.focus_confidence;
    found.suggested.axis = suggestion.axis_confidence;
    found.warnings.extend(suggestion.warning());
    Ok(found)
}
