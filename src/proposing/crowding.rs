//! Candidates on a scale: places where crowded circuli end, with the evidence for each.

use rayon::prelude::*;

use super::bands::{averaged, stretch};
use super::circuli::located;
use super::fan::Fan;
use super::jumps::{NEAR, Narrow, SHORT, WIDE, jump, sector_step, weighted};
use super::learned::{Learned, N_LEARNED};
use super::network::Network;
use super::selection::N_EVIDENCE;
use super::signal::{at, mean_over, median, quantile, smoothed};
use super::spectrum::{Spectrum, between, evened};
use super::strip::{PER_CIRCULUS, Strip};

/// Circuli narrower than this many pixels cannot be told apart one by one (four samples each, METHODS 8.1).
pub const FULL_PX: f64 = 4.0;

/// A place where a winter may have left its mark, on the axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// Outer edge of the winter zone, samples of the fan.
    pub place: f64,
    /// Inner edge, samples of the fan.
    pub inner: f64,
    /// The evidence; the first is 1.
    pub evidence: [f64; N_EVIDENCE],
    /// How strongly it is seen at all, whatever it is: 0 to 1.
    pub seen: f64,
    /// Share of the sectors that show it, 0 to 1.
    pub continuity: f64,
}

/// What was read off a scale along the axis.
#[derive(Debug, Clone)]
pub struct ScaleSignal {
    /// Mean profile round the axis.
    pub profile: Vec<f64>,
    /// Logarithm of the circulus spacing, samples, every `hop` samples.
    pub log_period: Vec<f64>,
    /// Share of the contrast in that spacing, 0 to about 1.
    pub clarity: Vec<f64>,
    /// Samples between the two above.
    pub hop: usize,
    /// Circuli, samples.
    pub circuli: Vec<f64>,
    /// Candidates in order.
    pub candidates: Vec<Candidate>,
    /// The learned evidence, where there is a network.
    pub learned: Option<Learned>,
}

impl ScaleSignal {
    /// How much narrower the last gaps before the margin are than those before them: above 0 where crowded.
    pub fn margin_look(&self, edge: f64) -> f64 {
        let inside: Vec<f64> = self.circuli.iter().copied().filter(|c| *c <= edge).collect();
        let gaps: Vec<f64> = inside.windows(2).map(|p| (p[1] - p[0]).max(1e-6).ln()).collect();
        let (Some(last), Some(before)) = (
            gaps.len().checked_sub(3).and_then(|i| gaps.get(i..)),
            gaps.len().checked_sub(10).and_then(|i| gaps.get(i..i + 7)),
        ) else {
            return 0.0;
        };
        (4.0 * (median(before) - last.iter().sum::<f64>() / 3.0)).clamp(-2.0, 2.0)
    }
}

/// Half the width of the sector that stands for the axis, radians.
const AXIS_HALF: f64 = 0.16;
/// Half the width of a witness sector, radians.
const SECTOR_HALF: f64 = 0.085;
/// Half the width of the narrow sector on the axis, radians.
const NARROW_HALF: f64 = 0.05;
/// Sectors on each side.
const SECTORS: i32 = 5;
/// Usual circulus spacing, micrometres (common practice, METHODS 8.4).
const USUAL_UM: f64 = 32.0;

/// Where the learned evidence stands among the numbers of a candidate.
const FIRST_LEARNED: usize = 28;

struct Sector {
    profile: Vec<f64>,
    spectrum: Spectrum,
    /// Logarithm of the stretch against the axis, per sample.
    log_stretch: Vec<f64>,
    weight: f64,
    /// Logarithm of each gap between the axis's circuli as seen here; `None` where either is not seen.
    log_gaps: Vec<Option<f64>>,
    /// Scores of its own circuli.
    own: Narrow,
}

/// Reads a scale's fan.
///
/// `log_over_ground` is the logarithm of the structure's median brightness over that of the background.
pub fn read_scale(fan: &Fan, log_over_ground: f64, network: Option<&Network>) -> ScaleSignal {
    let hop = 4;
    let end = (fan.edge as usize + 8).min(fan.samples);
    let shortest = (2.1 * 2.0_f64).max(11.0 / fan.step_um);
    let longest = (75.0 / fan.step_um).min(0.2 * fan.edge.max(50.0)).max(shortest * 1.5);
    // About as long as the circuli are straight and aligned.
    let arc_um = 5.0 * USUAL_UM;
    let profile = cut(averaged(fan, 0.0, AXIS_HALF, arc_um), end);
    let mut sectors = witnesses(fan, end, shortest, longest, hop);
    let mut joint = Spectrum::measure(&profile, shortest, longest, hop);
    for sector in sectors.iter().filter(|s| s.weight > 0.3) {
        joint.add(&sector.spectrum, sector.weight * 0.5);
    }
    let log_period = smoothed(&joint.track(USUAL_UM / fan.step_um), 1.0);
    let total =
        1.0 + sectors.iter().filter(|s| s.weight > 0.3).map(|s| s.weight * 0.5).sum::<f64>();
    let clarity: Vec<f64> = log_period
        .iter()
        .enumerate()
        .map(|(place, lp)| joint.centroid(place, *lp, 0.5).1 / total)
        .collect();
    let periods: Vec<f64> = (0..end).map(|i| between(&log_period, hop, i as f64).exp()).collect();
    let period_at = |sample: f64| at(&periods, sample);
    let even = evened(&profile, 2.0 * median(&log_period).exp());
    let located_as = |sign: f64| {
        let lines: Vec<f64> = even.iter().map(|v| sign * v).collect();
        located(&lines, &period_at, 0.02 * fan.edge, fan.edge + 1.0)
    };
    let (bright, dark) = rayon::join(|| located_as(1.0), || located_as(-1.0));
    let is_bright = line_brightness(&even, log_over_ground)
        + 0.5 * (abruptness(&bright) - abruptness(&dark))
        > 0.0;
    let (sign, circuli) = if is_bright { (1.0, bright) } else { (-1.0, dark) };
    let usual = 2.0 * median(&log_period).exp();
    sectors.par_iter_mut().for_each(|sector| {
        let lines: Vec<f64> = evened(&sector.profile, usual).iter().map(|v| sign * v).collect();
        let own = located(&lines, &period_at, 0.02 * fan.edge, fan.edge + 1.0);
        sector.log_gaps = witnessed_gaps(&circuli, &own, &period_at, &sector.log_stretch);
        sector.own = Narrow::of(&own);
    });
    let narrow = {
        let middle = cut(averaged(fan, 0.0, NARROW_HALF, 2.0 * USUAL_UM), end);
        let lines: Vec<f64> = evened(&middle, usual).iter().map(|v| sign * v).collect();
        located(&lines, &period_at, 0.02 * fan.edge, fan.edge + 1.0)
    };
    let learned = network.map(|network| {
        let strip = Strip::of_scale(fan, median(&log_period).exp());
        Learned::of(&strip, network, PER_CIRCULUS)
    });
    let mut signal =
        ScaleSignal { profile, log_period, clarity, hop, circuli, candidates: Vec::new(), learned };
    signal.candidates = candidates(fan, &signal, &sectors, &even, &narrow);
    signal
}

/// Above 0 where circuli are bright lines, below where dark: lines are what differs from the bare background, and they are
/// narrower than the spaces between them.
fn line_brightness(even: &[f64], log_over_ground: f64) -> f64 {
    let n = even.len().max(1) as f64;
    let square = even.iter().map(|v| v * v).sum::<f64>() / n;
    let skew = even.iter().map(|v| v.powi(3)).sum::<f64>() / n / square.max(1e-9).powf(1.5);
    // In dark field lines shine; in bright field and prints they are dark unless the profile says otherwise.
    0.8 * (log_over_ground / 0.5).clamp(-1.0, 1.0) + skew - 0.35
}

/// How much more abruptly spacing opens than it closes, -1 to 1: between lines it opens at one gap, between the
/// spaces of the same lines at two.
fn abruptness(circuli: &[f64]) -> f64 {
    let gaps: Vec<f64> = circuli.windows(2).map(|p| (p[1] - p[0]).max(1e-6).ln()).collect();
    let steps = gaps.windows(2).map(|p| (p[1] - p[0]).clamp(-0.8, 0.8));
    let (mut cubes, mut sizes) = (0.0, 1e-6);
    for step in steps {
        cubes += step.powi(3);
        sizes += step.abs().powi(3);
    }
    cubes / sizes
}

fn cut(mut values: Vec<f64>, end: usize) -> Vec<f64> {
    values.truncate(end);
    values
}

fn witnesses(fan: &Fan, end: usize, shortest: f64, longest: f64, hop: usize) -> Vec<Sector> {
    (-SECTORS..=SECTORS)
        .into_par_iter()
        .filter_map(|s| {
            let around = f64::from(s) * 2.0 * SECTOR_HALF;
            let profile = cut(averaged(fan, around, SECTOR_HALF, 5.0 * USUAL_UM), end);
            if profile.is_empty() {
                return None;
            }
            let spectrum = Spectrum::measure(&profile, shortest, longest, hop);
            let log_stretch = stretch(fan, around, SECTOR_HALF, 6).iter().map(|s| s.ln()).collect();
            let weight = (-0.5 * (around / 0.5).powi(2)).exp();
            Some(Sector {
                profile,
                spectrum,
                log_stretch,
                weight,
                log_gaps: Vec::new(),
                own: Narrow::default(),
            })
        })
        .collect()
}

/// The gaps between the axis's circuli as a sector shows them: its own circuli, each the nearest to one of those.
fn witnessed_gaps(
    circuli: &[f64],
    own: &[f64],
    period_at: &dyn Fn(f64) -> f64,
    log_stretch: &[f64],
) -> Vec<Option<f64>> {
    let nearest: Vec<Option<f64>> = circuli
        .iter()
        .map(|c| {
            let next = own.partition_point(|o| o < c);
            [next.checked_sub(1), Some(next)]
                .into_iter()
                .flatten()
                .filter_map(|i| own.get(i).copied())
                .min_by(|a, b| (a - c).abs().total_cmp(&(b - c).abs()))
                .filter(|o| (o - c).abs() < 0.42 * period_at(*c))
        })
        .collect();
    nearest
        .windows(2)
        .map(|pair| match (pair[0], pair[1]) {
            (Some(a), Some(b)) if b > a => Some((b - a).ln() + at(log_stretch, (a + b) / 2.0)),
            _ => None,
        })
        .collect()
}

/// Mean logarithm of the gaps over the axis and its witnesses.
fn joint_gaps(axis: &[f64], sectors: &[Sector]) -> Vec<f64> {
    (0..axis.len())
        .map(|g| {
            let seen = sectors.iter().filter_map(|s| {
                let gap = s.log_gaps.get(g).copied().flatten()?;
                Some(((gap - axis[g]).clamp(-0.5, 0.5) + axis[g], s.weight))
            });
            weighted(seen.chain(std::iter::once((axis[g], 1.2)))).unwrap_or(axis[g])
        })
        .collect()
}

fn candidates(
    fan: &Fan,
    signal: &ScaleSignal,
    sectors: &[Sector],
    even: &[f64],
    narrow: &[f64],
) -> Vec<Candidate> {
    let circuli = &signal.circuli;
    if circuli.len() < 6 {
        return Vec::new();
    }
    let on_axis: Vec<f64> = circuli.windows(2).map(|p| (p[1] - p[0]).max(1e-6).ln()).collect();
    let log_gaps = joint_gaps(&on_axis, sectors);
    let score: Vec<f64> =
        (0..log_gaps.len()).map(|g| jump(&log_gaps, g, &NEAR).unwrap_or(0.0)).collect();
    let short: Vec<f64> =
        (0..log_gaps.len()).map(|g| jump(&log_gaps, g, &SHORT).unwrap_or(0.0)).collect();
    let context = Context::new(fan, signal, sectors, even, &log_gaps, &score, narrow);
    let top = |values: &[f64], g: usize, least: f64| {
        let here = values[g];
        here > least
            && g.checked_sub(1).is_none_or(|b| here >= values[b])
            && values.get(g + 1).is_none_or(|next| here > *next)
    };
    let mut by_learning = vec![false; log_gaps.len()];
    for peak in signal.learned.iter().flat_map(Learned::peaks) {
        let after = circuli.partition_point(|c| *c <= peak);
        if let Some(here) = after.checked_sub(1).and_then(|g| by_learning.get_mut(g)) {
            *here = true;
        }
    }
    (1..log_gaps.len())
        .filter(|g| top(&score, *g, 0.02) || top(&short, *g, 0.04) || by_learning[*g])
        .map(|g| context.candidate(g, short[g]))
        .collect()
}

struct Context<'a> {
    fan: &'a Fan,
    signal: &'a ScaleSignal,
    sectors: &'a [Sector],
    log_gaps: &'a [f64],
    score: &'a [f64],
    /// Brightness without circuli, and its spread.
    shade: Vec<f64>,
    shade_unit: f64,
    /// Local strength of the circuli.
    strength: Vec<f64>,
    /// +1 where crowded zones are dark, -1 where they are bright.
    dark: f64,
    /// Scores from the axis alone, without its witnesses.
    axis_score: Vec<f64>,
    axis_short: Vec<f64>,
    /// Scores of a sector so narrow that nothing is blurred.
    narrow: Narrow,
    /// A high score of this picture, to judge the others by.
    score_top: f64,
    /// How much neighbouring gaps differ.
    unevenness: f64,
}

impl<'a> Context<'a> {
    fn new(
        fan: &'a Fan,
        signal: &'a ScaleSignal,
        sectors: &'a [Sector],
        even: &[f64],
        log_gaps: &'a [f64],
        score: &'a [f64],
        narrow: &[f64],
    ) -> Self {
        let typical = median(log_gaps).exp();
        let shade = smoothed(&signal.profile, 0.6 * typical);
        let slow = smoothed(&signal.profile, 8.0 * typical);
        let shade: Vec<f64> = shade.iter().zip(&slow).map(|(a, b)| a - b).collect();
        let end = (fan.edge as usize).min(shade.len());
        let spread: Vec<f64> = shade[..end].iter().map(|s| s.abs()).collect();
        let shade_unit = median(&spread) * 1.48 + 0.002;
        let squares: Vec<f64> = even.iter().map(|v| v * v).collect();
        let strength = smoothed(&squares, typical);
        let on_axis = Narrow::of(&signal.circuli);
        let steps: Vec<f64> = log_gaps.windows(2).map(|p| (p[1] - p[0]).abs()).collect();
        let mut context = Self {
            fan,
            signal,
            sectors,
            log_gaps,
            score,
            shade,
            shade_unit,
            strength,
            dark: 1.0,
            axis_score: on_axis.near,
            axis_short: on_axis.short,
            narrow: Narrow::of(narrow),
            score_top: quantile(score, 0.93),
            unevenness: median(&steps),
        };
        let pull: f64 =
            (1..score.len()).map(|g| context.shade_step(g, 2.7) * score[g].max(0.0).powi(2)).sum();
        context.dark = if pull < 0.0 { -1.0 } else { 1.0 };
        context
    }

    fn middle(&self, g: usize) -> f64 {
        (self.signal.circuli[g] + self.signal.circuli[g + 1]) / 2.0
    }

    /// Brightness after gap `g` minus before it, over `reach` gaps each, in units of its spread.
    fn shade_step(&self, g: usize, reach: f64) -> f64 {
        let (m, p) = (self.middle(g), self.log_gaps[g].exp());
        let before = mean_over(&self.shade, m - reach * p, m - 0.2 * p);
        let after = mean_over(&self.shade, m + 0.2 * p, m + reach * p);
        match (before, after) {
            (Some(b), Some(a)) => ((a - b) / self.shade_unit).clamp(-5.0, 5.0),
            _ => 0.0,
        }
    }

    /// Jump of the spacing in one sector, in its own measure; `None` where its circuli are not seen.
    fn sector_jump(&self, sector: &Sector, place: f64, period: f64) -> Option<f64> {
        let hop = self.signal.hop as f64;
        let side = |from: f64, to: f64| {
            let (a, b) =
                ((from / hop).round().max(0.0) as usize, (to / hop).round().max(0.0) as usize);
            weighted((a..=b).filter_map(|k| {
                let lp = *self.signal.log_period.get(k)?;
                if k >= sector.spectrum.places() {
                    return None;
                }
                let (found, share) = sector.spectrum.centroid(k, lp, 0.55);
                Some((found + at(&sector.log_stretch, k as f64 * hop), share.max(1e-3)))
            }))
        };
        let after = side(place + 0.8 * period, place + 3.0 * period)?;
        let before = side(place - 3.0 * period, place - 0.8 * period)?;
        Some((after - before).clamp(-1.0, 1.0))
    }

    fn candidate(&self, g: usize, short: f64) -> Candidate {
        let place = self.middle(g);
        let log = self.log_gaps[g];
        let period = log.exp();
        let near = self.score[g];
        let wide = jump(self.log_gaps, g, &WIDE).unwrap_or(0.0);
        let around: Vec<f64> =
            self.log_gaps[g.saturating_sub(9)..(g + 10).min(self.log_gaps.len())].to_vec();
        let usual = median(&around);
        let before =
            weighted((1..=3).filter_map(|k| Some((*self.log_gaps.get(g.checked_sub(k)?)?, 1.0))));
        let after = weighted((0..3).filter_map(|k| Some((*self.log_gaps.get(g + k)?, 1.0))));
        let (low, high) = (before.unwrap_or(usual) - usual, after.unwrap_or(usual) - usual);
        let single = log - self.log_gaps.get(g.wrapping_sub(1)).copied().unwrap_or(log);
        let shade = self.dark * self.shade_step(g, 2.7);
        let spectral = weighted(
            self.sectors
                .iter()
                .filter_map(|s| Some((self.sector_jump(s, place, period)?, s.weight))),
        );
        let jumps: Vec<(f64, f64)> = self
            .sectors
            .iter()
            .filter_map(|s| Some((sector_step(&s.log_gaps, g)?, s.weight)))
            .collect();
        let mean = weighted(jumps.iter().copied()).unwrap_or(0.0);
        let spread =
            weighted(jumps.iter().map(|(j, w)| ((j - mean).powi(2), *w))).unwrap_or(0.0).sqrt();
        let t = mean / (spread / (jumps.len().max(1) as f64).sqrt() + 0.02);
        let continuity = weighted(
            jumps.iter().map(|(j, w)| (f64::from(u8::from(*j > 0.35 * mean.abs().max(0.06))), *w)),
        )
        .unwrap_or(0.0);
        let here =
            mean_over(&self.strength, place - 1.2 * period, place + 0.6 * period).unwrap_or(1.0);
        let wider =
            mean_over(&self.strength, place - 6.0 * period, place + 6.0 * period).unwrap_or(1.0);
        let dip = ((here + 0.02) / (wider + 0.02)).ln().clamp(-2.0, 2.0);
        let rival = (g.saturating_sub(5)..(g + 6).min(self.score.len()))
            .filter(|k| k.abs_diff(g) > 1)
            .map(|k| self.score[k])
            .fold(0.0, f64::max);
        let clear = between(&self.signal.clarity, self.signal.hop, place);
        let mut evidence = [0.0; N_EVIDENCE];
        evidence[0] = 1.0;
        evidence[1] = near * 4.0;
        evidence[2] = wide * 4.0;
        evidence[3] = spectral.unwrap_or(0.0) * 6.0;
        evidence[4] = low * 5.0;
        evidence[5] = high * 5.0;
        evidence[6] = single * 3.0;
        evidence[7] = shade;
        evidence[8] = continuity * 2.0 - 1.0;
        evidence[9] = (t * 0.2).clamp(-2.0, 4.0);
        evidence[10] = -dip;
        evidence[11] = (near - rival) * 4.0;
        evidence[12] = short * 4.0;
        evidence[13] = self.dark * self.shade_step(g, 1.3);
        evidence[14] = near * 4.0 * clear;
        evidence[15] = place / self.fan.edge * short * 4.0;
        let top_near = |score: &[f64], middles: &[f64], reach: f64| {
            let from = middles.partition_point(|m| *m < place - reach);
            let to = middles.partition_point(|m| *m <= place + reach);
            score.get(from..to).unwrap_or_default().iter().copied().fold(-0.5, f64::max)
        };
        let narrow = &self.narrow;
        let own = |pick: fn(&Narrow) -> &Vec<f64>| {
            let tops = self.sectors.iter().map(|s| {
                (top_near(pick(&s.own), &s.own.middles, 1.1 * period).clamp(-0.5, 1.0), s.weight)
            });
            weighted(tops).unwrap_or(0.0)
        };
        evidence[26] = own(|n| &n.short) * 4.0;
        evidence[27] = own(|n| &n.near) * 4.0;
        evidence[16] = self.axis_score.get(g).copied().unwrap_or(0.0) * 4.0;
        evidence[17] = self.axis_short.get(g).copied().unwrap_or(0.0) * 4.0;
        evidence[18] = top_near(&narrow.near, &narrow.middles, 1.1 * period) * 4.0;
        evidence[19] = (near / (self.score_top + 0.05)).clamp(-1.0, 2.0);
        evidence[20] = ((self.fan.edge - place).max(0.3 * period) / period).ln();
        let track =
            |away: f64| between(&self.signal.log_period, self.signal.hop, place + away * period);
        evidence[21] = (track(2.2) - track(-1.8)) * 4.0;
        evidence[22] = self.unevenness * 10.0;
        evidence[23] = (period * self.fan.step_um / USUAL_UM).ln();
        evidence[24] = top_near(&narrow.short, &narrow.middles, 1.1 * period) * 4.0;
        evidence[25] = (period / 8.0).ln();
        if let Some(learned) = &self.signal.learned {
            evidence[FIRST_LEARNED..FIRST_LEARNED + N_LEARNED]
                .copy_from_slice(&learned.evidence(place));
        }
        let inner = self.inner_edge(g);
        Candidate {
            place,
            inner,
            evidence,
            seen: (near.max(0.7 * short) / 0.35).clamp(0.0, 1.0),
            continuity,
        }
    }

    /// Where the crowding that ends at gap `g` begins: the first of the narrow gaps before it.
    fn inner_edge(&self, g: usize) -> f64 {
        let level = self.log_gaps[g]
            - 0.5 * (self.log_gaps[g] - self.log_gaps[g.saturating_sub(1)]).max(0.15);
        let mut first = g;
        while first > 0 && g - first < 5 && self.log_gaps[first - 1] < level {
            first -= 1;
        }
        self.signal.circuli.get(first.min(g.saturating_sub(1))).copied().unwrap_or(0.0)
    }
}
