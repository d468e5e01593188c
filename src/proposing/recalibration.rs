//! What the program's probabilities have been worth in one laboratory.
//!
//! Probabilities rest on invented pictures. Once a laboratory has judged enough proposals on its own scans, a logistic
//! line on the log-odds is fitted to them for each structure, and numbers may be shown. Two numbers are fitted, so
//! that the order of candidates never changes (Platt 1999, from memory). The readings come from readers who saw the
//! proposals: such numbers say how often a reader agreed, and will be too high where readers go along too readily.

use std::collections::BTreeSet;

use super::strength_word;

/// Judged proposals needed before numbers are shown.
pub const ENOUGH_PROPOSALS: usize = 300;
/// Fish needed before numbers are shown.
pub const ENOUGH_FISH: usize = 50;

/// A proposal on which a reader has decided.
#[derive(Debug, Clone, PartialEq)]
pub struct JudgedProposal {
    /// Key of the fish.
    pub fish: String,
    /// Probability the program gave, 0 to 1.
    pub said: f64,
    /// True where the confirmed reading holds an annulus there.
    pub confirmed: bool,
}

/// A laboratory's own line: log-odds shown = `shift` + `slope` x log-odds said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Recalibration {
    /// Slope on the log-odds, above 0.
    pub slope: f64,
    /// Shift of the log-odds.
    pub shift: f64,
    /// Judged proposals it rests on.
    pub n_proposals: usize,
    /// Fish they came from.
    pub n_fish: usize,
}

/// Why there is no line yet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum RecalibrationError {
    /// Too few decisions.
    #[error(
        "{n_proposals} judged proposals from {n_fish} fish are too few to show probabilities: {ENOUGH_PROPOSALS} from {ENOUGH_FISH} fish are needed"
    )]
    TooFew {
        /// Judged proposals found.
        n_proposals: usize,
        /// Fish they came from.
        n_fish: usize,
    },
    /// Readers accepted or refused everything, or accepted the weaker ones more often.
    #[error(
        "the readers' decisions do not follow the probabilities: keep to the words, and check that readings are judged on their own"
    )]
    NoRelation,
}

impl Recalibration {
    /// Fits the line by maximum likelihood, held a little towards the probabilities as they are.
    ///
    /// # Errors
    /// [`RecalibrationError`] when there are too few decisions or they do not rise with the probability.
    pub fn fit(judged: &[JudgedProposal]) -> Result<Self, RecalibrationError> {
        let n_fish = judged.iter().map(|j| j.fish.as_str()).collect::<BTreeSet<_>>().len();
        let n_proposals = judged.len();
        if n_proposals < ENOUGH_PROPOSALS || n_fish < ENOUGH_FISH {
            return Err(RecalibrationError::TooFew { n_proposals, n_fish });
        }
        let n_confirmed = judged.iter().filter(|j| j.confirmed).count();
        if n_confirmed == 0 || n_confirmed == n_proposals {
            return Err(RecalibrationError::NoRelation);
        }
        let (shift, slope) = newton(judged).ok_or(RecalibrationError::NoRelation)?;
        let own = Self { slope, shift, n_proposals, n_fish };
        if own.is_usable() { Ok(own) } else { Err(RecalibrationError::NoRelation) }
    }

    /// True where the line rises, its numbers are finite and it rests on enough decisions.
    pub fn is_usable(&self) -> bool {
        self.slope.is_finite()
            && self.shift.is_finite()
            && self.slope > 0.0
            && self.n_proposals >= ENOUGH_PROPOSALS
            && self.n_fish >= ENOUGH_FISH
    }

    /// The probability to show for one that the program gave.
    pub fn applied(&self, probability: f64) -> f64 {
        logistic(self.shift + self.slope * log_odds(probability))
    }

    /// What the numbers rest on, for the reader.
    pub fn basis(&self) -> String {
        format!(
            "fitted to {} proposals on {} fish confirmed here; the readers saw the proposals, so these numbers lean towards what was proposed",
            self.n_proposals, self.n_fish
        )
    }
}

/// How strong a proposal is, as shown: a word, or a probability where the laboratory's own readings allow one.
pub fn strength_shown(probability: f64, own: Option<&Recalibration>) -> String {
    own.map_or_else(
        || strength_word(probability).to_owned(),
        |own| {
            // Never shown as certain.
            let percent = (100.0 * own.applied(probability)).round().clamp(1.0, 99.0);
            format!("{percent} %")
        },
    )
}

/// Newton's method on shift and slope; `None` where it does not settle.
fn newton(judged: &[JudgedProposal]) -> Option<(f64, f64)> {
    /// Weight of the pull towards shift 0 and slope 1, in decisions.
    const HELD: f64 = 1.0;
    let (mut shift, mut slope) = (0.0, 1.0);
    for _ in 0..60 {
        let (mut g, mut h) = ([-HELD * shift, -HELD * (slope - 1.0)], [HELD, 0.0, HELD]);
        for one in judged {
            let x = log_odds(one.said);
            let p = logistic(shift + slope * x);
            let off = f64::from(u8::from(one.confirmed)) - p;
            let bend = p * (1.0 - p);
            g = [g[0] + off, g[1] + off * x];
            h = [h[0] + bend, h[1] + bend * x, h[2] + bend * x * x];
        }
        let det = h[0] * h[2] - h[1] * h[1];
        if det.abs() < 1e-12 {
            return None;
        }
        let step = [(g[0] * h[2] - g[1] * h[1]) / det, (g[1] * h[0] - g[0] * h[1]) / det];
        // Short steps keep far starts from leaping over the top.
        let longest = step[0].abs().max(step[1].abs());
        let by = if longest > 1.0 { 1.0 / longest } else { 1.0 };
        shift += by * step[0];
        slope += by * step[1];
        if longest < 1e-9 {
            return Some((shift, slope));
        }
    }
    None
}

fn log_odds(probability: f64) -> f64 {
    let p = probability.clamp(0.001, 0.999);
    (p / (1.0 - p)).ln()
}

fn logistic(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 100 decisions at each probability, of which the stated share was confirmed, spread over `n_fish` fish.
    fn decided(shares: &[(f64, usize)], n_fish: usize) -> Vec<JudgedProposal> {
        let mut out = Vec::new();
        for (said, n_confirmed) in shares {
            for k in 0..100 {
                let fish = format!("fish {}", out.len() % n_fish);
                out.push(JudgedProposal { fish, said: *said, confirmed: k < *n_confirmed });
            }
        }
        out
    }

    #[test]
    fn a_line_known_beforehand_is_found_again() {
        // log-odds shown = -0.5 + 0.6 x log-odds said, rounded to whole decisions.
        let shares: Vec<(f64, usize)> = [0.05, 0.2, 0.5, 0.8, 0.95]
            .map(|said| (said, (100.0 * logistic(-0.5 + 0.6 * log_odds(said))).round() as usize))
            .to_vec();
        let own = Recalibration::fit(&decided(&shares, 60)).unwrap();
        assert!((own.slope - 0.6).abs() < 0.03 && (own.shift + 0.5).abs() < 0.03, "{own:?}");
        assert_eq!((own.n_proposals, own.n_fish), (500, 60));
        assert!((own.applied(0.5) - 0.378).abs() < 0.01);
        assert_eq!(strength_shown(0.5, Some(&own)), "38 %");
        assert!(own.basis().contains("60 fish") && own.basis().contains("saw the proposals"));
    }

    #[test]
    fn too_few_fish_or_decisions_that_mean_nothing_leave_the_words() {
        let judged = decided(&[(0.2, 20), (0.5, 50), (0.8, 80)], 49);
        let few = RecalibrationError::TooFew { n_proposals: 300, n_fish: 49 };
        assert_eq!(Recalibration::fit(&judged), Err(few));
        assert!(Recalibration::fit(&decided(&[(0.2, 20), (0.5, 50)], 80)).is_err());
        for meaningless in [[(0.2, 100), (0.5, 100), (0.8, 100)], [(0.2, 90), (0.5, 50), (0.8, 10)]]
        {
            let fitted = Recalibration::fit(&decided(&meaningless, 80));
            assert_eq!(fitted, Err(RecalibrationError::NoRelation));
        }
        assert_eq!(strength_shown(0.9, None), "strong");
        assert_eq!(strength_shown(0.3, None), "weak");
    }
}
