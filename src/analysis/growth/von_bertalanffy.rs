//! The forms of the von Bertalanffy curve with their derivatives. All draw the same curve, but the seasonal one,
//! which adds a yearly wave.

use std::f64::consts::TAU;

use super::curve::Row;

/// Linf (1 - exp(-K (t - t0))). Beverton & Holt 1957.
pub(super) fn with_t0(t: f64, p: &Row, g: &mut Row) -> f64 {
    let [linf, k, t0, ..] = *p;
    // One call gives both: what is left of the way, and what is gone.
    let risen = -(-k * (t - t0)).exp_m1();
    let decay = 1.0 - risen;
    g[0] = risen;
    g[1] = linf * (t - t0) * decay;
    g[2] = -linf * k * decay;
    linf * risen
}

/// Linf - (Linf - L0) exp(-K t). von Bertalanffy 1938.
pub(super) fn with_l0(t: f64, p: &Row, g: &mut Row) -> f64 {
    let [linf, k, l0, ..] = *p;
    let decay = (-k * t).exp();
    g[0] = -(-k * t).exp_m1();
    g[1] = (linf - l0) * t * decay;
    g[2] = decay;
    linf - (linf - l0) * decay
}

/// (omega / K)(1 - exp(-K (t - t0))), omega = K Linf. Gallucci & Quinn 1979.
pub(super) fn with_omega(t: f64, p: &Row, g: &mut Row) -> f64 {
    let [omega, k, t0, ..] = *p;
    // One call gives both: what is left of the way, and what is gone.
    let risen = -(-k * (t - t0)).exp_m1();
    let decay = 1.0 - risen;
    g[0] = risen / k;
    g[1] = omega / k * ((t - t0) * decay - risen / k);
    g[2] = -omega * decay;
    omega / k * risen
}

/// Lengths at three ages as parameters: l_phi + (l_psi - l_phi)(1 - r^(2x))/(1 - r^2), x = (t - phi)/(psi - phi),
/// r = (l_psi - l_chi)/(l_chi - l_phi). Francis 1988.
pub(super) fn with_three_lengths(t: f64, young: f64, old: f64, p: &Row, g: &mut Row) -> f64 {
    let [l_phi, l_chi, l_psi, ..] = *p;
    let (first, second) = (l_chi - l_phi, l_psi - l_chi);
    let x = (t - young) / (old - young);
    // With q = ln r the share is expm1(2xq)/expm1(2q), which is smooth through the straight line at q = 0.
    let q = (second / first).ln();
    let (share, slope) = francis_share(x, q);
    let span = l_psi - l_phi;
    g[0] = 1.0 - share + span * slope / first;
    g[1] = -span * slope * (1.0 / first + 1.0 / second);
    g[2] = share + span * slope / second;
    l_phi + span * share
}

/// The share of the way from l_phi to l_psi, and its derivative to q.
fn francis_share(x: f64, q: f64) -> (f64, f64) {
    let s = 2.0 * q;
    if s.abs() < 1e-5 {
        let share = x * (1.0 + (x - 1.0) * s / 2.0);
        return (share, x * (x - 1.0) * (1.0 + s * (2.0 * x - 1.0) / 3.0));
    }
    let (top, bottom) = ((x * s).exp_m1(), s.exp_m1());
    let slope = 2.0 * (x * (x * s).exp() * bottom - top * s.exp()) / (bottom * bottom);
    (top / bottom, slope)
}

/// Linf (1 - exp(-K (t - t0) - S(t) + S(t0))), S(u) = (C K / 2 pi) sin(2 pi (u - ts)). Somers 1988.
pub(super) fn seasonal(t: f64, p: &Row, g: &mut Row) -> f64 {
    let [linf, k, t0, c, ts] = *p;
    let (sin_t, cos_t) = (TAU * (t - ts)).sin_cos();
    let (sin_0, cos_0) = (TAU * (t0 - ts)).sin_cos();
    let span = (t - t0) + c / TAU * (sin_t - sin_0);
    let decay = (-k * span).exp();
    let risen = -(-k * span).exp_m1();
    g[0] = risen;
    g[1] = linf * decay * span;
    g[2] = -linf * decay * k * (1.0 + c * cos_0);
    g[3] = linf * decay * k / TAU * (sin_t - sin_0);
    g[4] = -linf * decay * k * c * (cos_t - cos_0);
    linf * risen
}
