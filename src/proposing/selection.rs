//! Which candidates are annuli: all of them judged together.
//!
//! Each candidate carries evidence of its own; each pair of neighbouring increments has its plausibility (they
//! usually shrink with age, seldom by much at once). Both enter one log-linear model over all sequences of
//! candidates from the focus to the margin (a conditional random field: Lafferty, McCallum & Pereira 2001,
//! from memory); the probability of a candidate is the total weight of the sequences it belongs to.

/// Numbers of evidence on one candidate.
pub const N_EVIDENCE: usize = 34;
/// Numbers on one step of a sequence.
pub const N_STEP: usize = 16;

/// A candidate as the choice sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct Option1d {
    /// Distance from the focus as a share of the distance to the margin, 0 to 1.
    pub place: f64,
    /// The evidence; the first is 1.
    pub evidence: [f64; N_EVIDENCE],
}

/// The weights of the model.
#[derive(Debug, Clone, PartialEq)]
pub struct Weights {
    /// For the evidence.
    pub evidence: [f64; N_EVIDENCE],
    /// For the steps.
    pub step: [f64; N_STEP],
    /// Small trees on the evidence, whose values are added to the weighted sum.
    pub trees: Vec<Tree>,
}

/// A number of the evidence and the value that parts low from high.
pub type Cut = (usize, f64);

/// A tree of two questions: the first, then one of two others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tree {
    /// The first question.
    pub first: Cut,
    /// The second, where the first is low and where it is high.
    pub second: [Cut; 2],
    /// Values for low-low, low-high, high-low, high-high.
    pub values: [f64; 4],
}

impl Tree {
    /// Which of the four values applies, 0 to 3.
    pub fn leaf(&self, evidence: &[f64; N_EVIDENCE]) -> usize {
        let is_high = |cut: Cut| evidence.get(cut.0).is_some_and(|e| *e > cut.1);
        let first = usize::from(is_high(self.first));
        2 * first + usize::from(self.second.get(first).is_some_and(|cut| is_high(*cut)))
    }
}

impl Weights {
    /// What the evidence of one candidate adds up to.
    pub fn own(&self, evidence: &[f64; N_EVIDENCE]) -> f64 {
        let sum: f64 = evidence.iter().zip(&self.evidence).map(|(e, w)| e * w).sum();
        let trees = self.trees.iter().filter_map(|tree| tree.values.get(tree.leaf(evidence)));
        sum + trees.sum::<f64>()
    }
}

/// What the model says.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// Probability of each candidate.
    pub probability: Vec<f64>,
    /// Expected numbers of the steps over all sequences.
    pub expected_steps: [f64; N_STEP],
    /// Logarithm of the total weight.
    pub log_total: f64,
}

impl Judged {
    /// A judgement on no candidate at all.
    pub fn nothing() -> Self {
        Self { probability: Vec::new(), expected_steps: [0.0; N_STEP], log_total: 0.0 }
    }
}

/// The least distance between two annuli, as a share of the distance to the margin.
const LEAST_GAP: f64 = 0.006;

/// Judges all candidates, which are in order of place.
pub fn judge(options: &[Option1d], weights: &Weights) -> Judged {
    Chain::new(options).judge(weights)
}

/// The numbers of a whole sequence's steps (indices into `options`, in order): what [`Judged::expected_steps`]
/// averages.
pub fn steps_of(options: &[Option1d], chosen: &[usize]) -> [f64; N_STEP] {
    let mut sum = [0.0; N_STEP];
    let mut add = |numbers: [f64; N_STEP]| {
        for (s, n) in sum.iter_mut().zip(numbers) {
            *s += n;
        }
    };
    let places: Vec<f64> = chosen.iter().filter_map(|i| options.get(*i)).map(|o| o.place).collect();
    if places.is_empty() {
        add(none_step());
        return sum;
    }
    for (i, place) in places.iter().enumerate() {
        let next = places.get(i + 1).copied();
        match i.checked_sub(1).and_then(|j| places.get(j)) {
            None => {
                add(first_step(*place));
                match next {
                    Some(next) => add(middle_step(0.0, *place, next)),
                    None => add(last_step(0.0, *place)),
                }
            }
            Some(before) => match next {
                Some(next) => add(middle_step(*before, *place, next)),
                None => add(last_step(*before, *place)),
            },
        }
    }
    sum
}

/// No annulus at all.
fn none_step() -> [f64; N_STEP] {
    let mut n = [0.0; N_STEP];
    n[15] = 1.0;
    n
}

/// The first annulus at `place`.
fn first_step(place: f64) -> [f64; N_STEP] {
    let mut n = [0.0; N_STEP];
    let y = place.ln();
    n[0] = y;
    n[1] = y * y;
    n
}

/// Two increments in a row, from `a` over `b` to `c`. The first increment, from the focus, follows rules of its own.
fn middle_step(a: f64, b: f64, c: f64) -> [f64; N_STEP] {
    let x = ((c - b) / (b - a)).ln();
    let mut n = [0.0; N_STEP];
    if a == 0.0 {
        n[2] = (x + 0.4).clamp(-3.0, 3.0);
        n[3] = (x + 0.4).powi(2).min(9.0);
    } else {
        n[4] = (x + 0.15).clamp(-3.0, 3.0);
        n[5] = (x + 0.15).powi(2).min(9.0);
        n[6] = (x - 0.35).max(0.0);
        n[7] = (-0.65 - x).max(0.0);
    }
    let increment = (c - b).ln();
    n[8] = increment + 2.5;
    n[9] = (increment + 2.5).powi(2);
    n
}

/// The zone between the last annulus `b` (after `a`) and the margin.
fn last_step(a: f64, b: f64) -> [f64; N_STEP] {
    let z = ((1.0 - b).max(0.004) / (b - a)).ln();
    let mut n = [0.0; N_STEP];
    if a == 0.0 {
        n[10] = z.clamp(-3.0, 3.0);
        n[11] = (z - 0.3).max(0.0).powi(2);
    } else {
        n[12] = z.clamp(-3.0, 3.0);
        n[13] = z.max(0.0).powi(2);
        n[14] = (z - 0.3).max(0.0);
    }
    n
}

fn weighed(numbers: &[f64; N_STEP], weights: &Weights) -> f64 {
    numbers.iter().zip(&weights.step).map(|(n, w)| n * w).sum()
}

/// A step from a pair to the following pair.
#[derive(Debug, Clone, Copy)]
struct Step {
    from: usize,
    to: usize,
    /// Places of the three candidates; the first is 0 for the focus.
    places: [f64; 3],
}

/// All sequences of some candidates, as a chain of pairs (previous, current). Does not depend on the weights.
#[derive(Debug, Clone)]
pub struct Chain {
    options: Vec<Option1d>,
    /// Pairs (previous + 1 or 0 for the focus, current).
    pairs: Vec<(usize, usize)>,
    /// In order of the middle candidate.
    steps: Vec<Step>,
}

/// Bounds that keep the weight of any sequence of thirty within the range of numbers.
const OWN_LIMIT: f64 = 12.0;
const STEP_LIMITS: (f64, f64) = (-40.0, 8.0);

impl Chain {
    /// Lays out the chain; the candidates are in order of place.
    pub fn new(options: &[Option1d]) -> Self {
        let (mut pairs, mut first) = (Vec::new(), vec![0]);
        for (current, option) in options.iter().enumerate() {
            pairs.push((0, current));
            for (previous, before) in options.iter().enumerate().take(current) {
                if option.place - before.place >= LEAST_GAP {
                    pairs.push((previous + 1, current));
                }
            }
            first.push(pairs.len());
        }
        let place = |previous: usize| if previous == 0 { 0.0 } else { options[previous - 1].place };
        let mut steps = Vec::new();
        for b in 0..options.len() {
            for (from, pair) in pairs.iter().enumerate().take(first[b + 1]).skip(first[b]) {
                for c in b + 1..options.len() {
                    // Pairs of c begin with the focus, then the candidates before it in order.
                    let to = first[c] + b + 1;
                    if to < first[c + 1] {
                        let places = [place(pair.0), options[b].place, options[c].place];
                        steps.push(Step { from, to, places });
                    }
                }
            }
        }
        Self { options: options.to_vec(), pairs, steps }
    }

    /// Judges the candidates by the weights.
    pub fn judge(&self, weights: &Weights) -> Judged {
        let own: Vec<f64> = self
            .options
            .iter()
            .map(|o| weights.own(&o.evidence))
            .map(|own: f64| own.clamp(-OWN_LIMIT, OWN_LIMIT).exp())
            .collect();
        let worth = |numbers: &[f64; N_STEP]| {
            weighed(numbers, weights).clamp(STEP_LIMITS.0, STEP_LIMITS.1).exp()
        };
        let numbers_of = |step: &Step| middle_step(step.places[0], step.places[1], step.places[2]);
        let ends: Vec<([f64; N_STEP], f64)> = self
            .pairs
            .iter()
            .map(|(a, b)| {
                let before = if *a == 0 { 0.0 } else { self.options[a - 1].place };
                let numbers = last_step(before, self.options[*b].place);
                (numbers, worth(&numbers))
            })
            .collect();
        let inner: Vec<f64> = self.steps.iter().map(|s| worth(&numbers_of(s))).collect();
        let mut forward: Vec<f64> =
            self.pairs
                .iter()
                .map(|(a, b)| {
                    if *a == 0 { own[*b] * worth(&first_step(self.options[*b].place)) } else { 0.0 }
                })
                .collect();
        for (step, w) in self.steps.iter().zip(&inner) {
            forward[step.to] += forward[step.from] * w * own[self.pairs[step.to].1];
        }
        let mut backward: Vec<f64> = ends.iter().map(|e| e.1).collect();
        for (step, w) in self.steps.iter().zip(&inner).rev() {
            backward[step.from] += backward[step.to] * w * own[self.pairs[step.to].1];
        }
        let none = worth(&none_step());
        let total = none + forward.iter().zip(&ends).map(|(f, e)| f * e.1).sum::<f64>();
        let mut judged = Judged {
            probability: vec![0.0; self.options.len()],
            expected_steps: [0.0; N_STEP],
            log_total: total.ln(),
        };
        let mut add = |numbers: &[f64; N_STEP], share: f64| {
            for (e, x) in judged.expected_steps.iter_mut().zip(numbers) {
                *e += share * x;
            }
        };
        add(&none_step(), none / total);
        for (p, (previous, current)) in self.pairs.iter().enumerate() {
            let share = forward[p] * backward[p] / total;
            judged.probability[*current] += share;
            if *previous == 0 {
                add(&first_step(self.options[*current].place), share);
            }
            add(&ends[p].0, forward[p] * ends[p].1 / total);
        }
        for (step, w) in self.steps.iter().zip(&inner) {
            let share =
                forward[step.from] * w * own[self.pairs[step.to].1] * backward[step.to] / total;
            if share > 1e-9 {
                add(&numbers_of(step), share);
            }
        }
        judged
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn options() -> Vec<Option1d> {
        [0.2, 0.35, 0.37, 0.6, 0.9]
            .iter()
            .enumerate()
            .map(|(i, place)| {
                let mut evidence = [0.0; N_EVIDENCE];
                evidence[0] = 1.0;
                evidence[1] = (i as f64 * 1.7).sin();
                Option1d { place: *place, evidence }
            })
            .collect()
    }

    fn weights() -> Weights {
        let mut w = Weights { evidence: [0.0; N_EVIDENCE], step: [0.0; N_STEP], trees: Vec::new() };
        w.evidence[0] = 0.3;
        w.evidence[1] = 1.1;
        for (i, s) in w.step.iter_mut().enumerate() {
            *s = 0.4 * ((i * i) as f64).cos() - 0.2;
        }
        w
    }

    /// Every sequence counted one by one.
    #[test]
    fn probabilities_equal_a_count_over_all_sequences() {
        let (options, weights) = (options(), weights());
        let (mut total, mut per, mut steps) = (0.0, vec![0.0; 5], [0.0; N_STEP]);
        for mask in 0u32..32 {
            let chosen: Vec<usize> = (0..5).filter(|i| mask >> i & 1 == 1).collect();
            let numbers = steps_of(&options, &chosen);
            let own: f64 = chosen.iter().map(|i| 0.3 + 1.1 * options[*i].evidence[1]).sum();
            let weight = (own + weighed(&numbers, &weights)).exp();
            total += weight;
            chosen.iter().for_each(|i| per[*i] += weight);
            steps.iter_mut().zip(numbers).for_each(|(s, n)| *s += weight * n);
        }
        let judged = judge(&options, &weights);
        assert!((judged.log_total - f64::ln(total)).abs() < 1e-9);
        for (p, q) in judged.probability.iter().zip(per) {
            assert!((p - q / total).abs() < 1e-6);
        }
        for (p, q) in judged.expected_steps.iter().zip(steps) {
            assert!((p - q / total).abs() < 1e-6);
        }
    }

    #[test]
    fn nothing_to_choose_from_is_no_annulus() {
        let judged = judge(&[], &weights());
        assert!(judged.probability.is_empty() && judged.log_total.is_finite());
    }
}
