//! The growth curves, their parameters and values. Ages in years, lengths in any one unit.

use super::{sigmoid, von_bertalanffy};

/// Most parameters a curve has.
pub const MAX_PARAMETERS: usize = 5;

/// One value per parameter; those a curve lacks are unused.
pub type Row = [f64; MAX_PARAMETERS];

/// A growth curve L(t).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Curve {
    /// Linf (1 - exp(-K (t - t0))): Beverton & Holt 1957.
    VonBertalanffy,
    /// Linf - (Linf - L0) exp(-K t): von Bertalanffy 1938.
    VonBertalanffyL0,
    /// (omega/K)(1 - exp(-K (t - t0))), omega = K Linf: Gallucci & Quinn 1979.
    GallucciQuinn,
    /// Mean lengths at a young age, an old age and half-way: Francis 1988.
    Francis {
        /// The young age (phi), years.
        young: f64,
        /// The old age (psi), years.
        old: f64,
    },
    /// Von Bertalanffy with a yearly wave of amplitude C: Somers 1988.
    Somers,
    /// Linf exp(-exp(-K (t - ti))): Gompertz 1825; Ricker 1975.
    Gompertz,
    /// Linf/(1 + exp(-K (t - ti))): Verhulst; Ricker 1975.
    Logistic,
    /// Linf (1 + (d - 1) exp(-K (t - ti)))^(1/(1 - d)): Richards 1959, unified form.
    Richards,
}

impl Curve {
    /// The curve of a command-line word. The ages of the Francis form are set to the sample's youngest and oldest.
    pub fn from_word(word: &str, youngest: f64, oldest: f64) -> Option<Self> {
        Some(match word {
            "von-bertalanffy" => Self::VonBertalanffy,
            "von-bertalanffy-l0" => Self::VonBertalanffyL0,
            "gallucci-quinn" => Self::GallucciQuinn,
            "francis" => Self::Francis { young: youngest, old: oldest },
            "somers" => Self::Somers,
            "gompertz" => Self::Gompertz,
            "logistic" => Self::Logistic,
            "richards" => Self::Richards,
            _ => return None,
        })
    }

    /// The command-line words, in the order of the documentation.
    pub const WORDS: [&'static str; 8] = [
        "von-bertalanffy",
        "von-bertalanffy-l0",
        "gallucci-quinn",
        "francis",
        "somers",
        "gompertz",
        "logistic",
        "richards",
    ];

    /// The command-line word.
    pub const fn word(&self) -> &'static str {
        match self {
            Self::VonBertalanffy => "von-bertalanffy",
            Self::VonBertalanffyL0 => "von-bertalanffy-l0",
            Self::GallucciQuinn => "gallucci-quinn",
            Self::Francis { .. } => "francis",
            Self::Somers => "somers",
            Self::Gompertz => "gompertz",
            Self::Logistic => "logistic",
            Self::Richards => "richards",
        }
    }

    /// Names of the parameters, in order.
    pub const fn parameter_names(&self) -> &'static [&'static str] {
        match self {
            Self::VonBertalanffy => &["Linf", "K", "t0"],
            Self::VonBertalanffyL0 => &["Linf", "K", "L0"],
            Self::GallucciQuinn => &["omega", "K", "t0"],
            Self::Francis { .. } => &["l_phi", "l_chi", "l_psi"],
            Self::Somers => &["Linf", "K", "t0", "C", "ts"],
            Self::Gompertz | Self::Logistic => &["Linf", "K", "ti"],
            Self::Richards => &["Linf", "K", "ti", "d"],
        }
    }

    /// The formula as printed in reports.
    pub const fn formula(&self) -> &'static str {
        match self {
            Self::VonBertalanffy => "L = Linf (1 - exp(-K (t - t0)))",
            Self::VonBertalanffyL0 => "L = Linf - (Linf - L0) exp(-K t)",
            Self::GallucciQuinn => "L = (omega/K) (1 - exp(-K (t - t0))), omega = K Linf",
            Self::Francis { .. } => {
                "L = l_phi + (l_psi - l_phi) (1 - r^(2(t - phi)/(psi - phi)))/(1 - r^2), r = (l_psi - l_chi)/(l_chi - l_phi)"
            }
            Self::Somers => {
                "L = Linf (1 - exp(-K (t - t0) - S(t) + S(t0))), S(u) = (C K/2pi) sin(2pi (u - ts))"
            }
            Self::Gompertz => "L = Linf exp(-exp(-K (t - ti)))",
            Self::Logistic => "L = Linf/(1 + exp(-K (t - ti)))",
            Self::Richards => "L = Linf (1 + (d - 1) exp(-K (t - ti)))^(1/(1 - d))",
        }
    }

    /// Where the curve was published.
    pub const fn source(&self) -> &'static str {
        match self {
            Self::VonBertalanffy => "Beverton & Holt 1957",
            Self::VonBertalanffyL0 => "von Bertalanffy 1938",
            Self::GallucciQuinn => "Gallucci & Quinn 1979",
            Self::Francis { .. } => "Francis 1988",
            Self::Somers => "Somers 1988",
            Self::Gompertz => "Gompertz 1825; Ricker 1975",
            Self::Logistic => "Verhulst 1838; Ricker 1975",
            Self::Richards => "Richards 1959",
        }
    }

    /// Number of parameters.
    pub const fn n_parameters(&self) -> usize {
        self.parameter_names().len()
    }

    /// Position of a parameter by name.
    pub fn parameter(&self, name: &str) -> Option<usize> {
        self.parameter_names().iter().position(|known| *known == name)
    }

    /// Length at age `t`; not a number outside the domain of the curve.
    pub fn value(&self, t: f64, parameters: &Row) -> f64 {
        self.value_and_gradient(t, parameters, &mut [0.0; MAX_PARAMETERS])
    }

    /// Length at age `t`, and its derivative to each parameter.
    pub fn value_and_gradient(&self, t: f64, parameters: &Row, gradient: &mut Row) -> f64 {
        match *self {
            Self::VonBertalanffy => von_bertalanffy::with_t0(t, parameters, gradient),
            Self::VonBertalanffyL0 => von_bertalanffy::with_l0(t, parameters, gradient),
            Self::GallucciQuinn => von_bertalanffy::with_omega(t, parameters, gradient),
            Self::Francis { young, old } => {
                von_bertalanffy::with_three_lengths(t, young, old, parameters, gradient)
            }
            Self::Somers => von_bertalanffy::seasonal(t, parameters, gradient),
            Self::Gompertz => sigmoid::gompertz(t, parameters, gradient),
            Self::Logistic => sigmoid::logistic(t, parameters, gradient),
            Self::Richards => sigmoid::richards(t, parameters, gradient),
        }
    }

    /// The limiting length; `None` where the parameters describe a curve without one.
    pub fn asymptote(&self, parameters: &Row) -> Option<f64> {
        let value = match *self {
            Self::GallucciQuinn => parameters[0] / parameters[1],
            Self::Francis { young, old } => {
                return super::conversions::from_francis(young, old, parameters)
                    .map(|von_bertalanffy| von_bertalanffy.linf);
            }
            _ => parameters[0],
        };
        value.is_finite().then_some(value)
    }

    /// True for parameters that are rates per year.
    pub(super) fn is_rate(&self, index: usize) -> bool {
        self.parameter_names().get(index) == Some(&"K")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn typical() -> Vec<(Curve, Row)> {
        vec![
            (Curve::VonBertalanffy, [500.0, 0.3, -0.2, 0.0, 0.0]),
            (Curve::VonBertalanffyL0, [500.0, 0.3, 40.0, 0.0, 0.0]),
            (Curve::GallucciQuinn, [150.0, 0.3, -0.2, 0.0, 0.0]),
            (Curve::Francis { young: 2.0, old: 9.0 }, [200.0, 380.0, 470.0, 0.0, 0.0]),
            // First and second half alike: the straight line.
            (Curve::Francis { young: 2.0, old: 9.0 }, [200.0, 300.0, 400.0, 0.0, 0.0]),
            (Curve::Somers, [500.0, 0.3, -0.2, 0.6, 0.35]),
            (Curve::Gompertz, [500.0, 0.5, 1.4, 0.0, 0.0]),
            (Curve::Logistic, [500.0, 0.5, 2.0, 0.0, 0.0]),
            (Curve::Richards, [500.0, 0.5, 2.0, 1.7, 0.0]),
            (Curve::Richards, [500.0, 0.5, 2.0, 1.0, 0.0]),
            (Curve::Richards, [500.0, 0.5, 0.4, 0.3, 0.0]),
        ]
    }

    #[test]
    fn derivatives_agree_with_central_differences() {
        let mut compared = 0;
        for (curve, p) in typical() {
            for t in [1.1, 2.6, 7.3] {
                let mut gradient = [0.0; MAX_PARAMETERS];
                curve.value_and_gradient(t, &p, &mut gradient);
                for i in 0..curve.n_parameters() {
                    let h = 1e-5 * p[i].abs().max(0.1);
                    let (mut up, mut down) = (p, p);
                    up[i] += h;
                    down[i] -= h;
                    let slope = (curve.value(t, &up) - curve.value(t, &down)) / (2.0 * h);
                    let scale = slope.abs().max(1e-3 * curve.value(t, &p) / p[i].abs().max(0.1));
                    assert!(
                        (gradient[i] - slope).abs() < 2e-6 * scale,
                        "{curve:?} t {t} parameter {i}: {} against {slope}",
                        gradient[i]
                    );
                    compared += 1;
                }
            }
        }
        assert_eq!(compared, 3 * (3 * 3 + 2 * 3 + 5 + 2 * 3 + 3 * 4));
    }

    #[test]
    fn words_go_there_and_back() {
        for word in Curve::WORDS {
            assert_eq!(Curve::from_word(word, 1.0, 9.0).map(|curve| curve.word()), Some(word));
        }
        assert_eq!(Curve::from_word("line", 1.0, 9.0), None);
    }

    #[test]
    fn richards_has_no_value_below_its_domain() {
        assert!(Curve::Richards.value(-3.0, &[500.0, 0.5, 0.0, 0.0, 0.0]).is_nan());
    }
}
