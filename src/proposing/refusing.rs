//! When nothing should be proposed: a blank centre, or nothing to be told apart.

use super::Refusal;
use super::bands::agreement;
use super::crowding::ScaleSignal;
use super::fan::Fan;
use super::margin::edge_width;
use super::signal::{mean_over, median};
use super::zones::ZoneSignal;

/// Half the opening of the rays that are compared, radians.
const HALF_ANGLE: f64 = 0.25;

/// How far the rays agree over parts of the radius.
struct Agreement {
    values: Vec<f64>,
    edge: f64,
}

impl Agreement {
    fn of(fan: &Fan) -> Self {
        let half = (fan.edge / 40.0).max(12.0) as usize;
        Self { values: agreement(fan, HALF_ANGLE, half), edge: fan.edge }
    }

    fn over(&self, from: f64, to: f64) -> f64 {
        mean_over(&self.values, from * self.edge, to * self.edge).unwrap_or(0.0)
    }

    /// The best of the parts between centre and margin.
    fn best(&self) -> f64 {
        [(0.12, 0.25), (0.25, 0.5), (0.5, 0.75), (0.75, 0.98)]
            .iter()
            .map(|(a, b)| self.over(*a, *b))
            .fold(0.0, f64::max)
    }
}

/// Why nothing can be proposed on a scale, if so. The limits part readable from hopeless invented pictures of all
/// styles; they are shares of agreement between rays and hold no length or brightness.
pub fn scale_refusal(fan: &Fan, signal: &ScaleSignal) -> Option<Refusal> {
    let agreement = Agreement::of(fan);
    let period = median(&signal.log_period).exp();
    let (from, to) = ((3.0 * period).max(0.04 * fan.edge), (8.0 * period).max(0.14 * fan.edge));
    let inner = mean_over(&agreement.values, from, to).unwrap_or(0.0);
    let hop = signal.hop as f64;
    let clear = mean_over(&signal.clarity, from / hop, to / hop).unwrap_or(0.0);
    if agreement.best() < 0.09 && inner < 0.17 {
        return Some(Refusal::NoEvidence);
    }
    // A blank centre has neither agreeing rays nor a clear period; circuli that are only crooked keep their period.
    (inner + 0.5 * clear < 0.65 && clear < 0.7).then_some(Refusal::Regenerated)
}

/// What the whole otolith says about the picture, besides the fan along the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OtolithLook {
    /// Width of the step at the margin over the radius; `None` where there is hardly any step.
    pub softness: Option<f64>,
    /// How far rays all round agree on their zones, seen from the focus used.
    pub agreement: f64,
}

/// A margin wider than this share of the radius is out of focus: zones next to it would be lost.
const SOFT_MARGIN: f64 = 0.0275;
/// Rays all round that agree less than this show no zones.
const LEAST_AGREEMENT: f64 = 0.18;

/// Why nothing can be proposed on an otolith, if so: no zone above the noise, none that runs round, or a margin as
/// soft as the zones. `look`: `None` where no outline was found.
pub fn otolith_refusal(
    fan: &Fan,
    signal: &ZoneSignal,
    look: Option<OtolithLook>,
) -> Option<Refusal> {
    let faint = signal.amplitude < 5.0 * signal.noise;
    let is_hopeless = match look {
        // Zones that run all round are evidence enough, however rough the surface along the axis.
        // Few zones, as of a young fish, agree little: that alone refuses nothing.
        Some(OtolithLook { softness: Some(softness), agreement }) => {
            (softness > SOFT_MARGIN && agreement < 3.5 * LEAST_AGREEMENT)
                || (faint && agreement < 2.0 * LEAST_AGREEMENT)
        }
        Some(look) => faint && look.agreement < 2.0 * LEAST_AGREEMENT,
        None => faint || (edge_width(fan) > 0.0225 && Agreement::of(fan).best() < 0.42),
    };
    is_hopeless.then_some(Refusal::NoEvidence)
}
