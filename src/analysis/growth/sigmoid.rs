//! Curves with a point of inflection, and their derivatives.

use super::curve::Row;

/// Linf exp(-exp(-K (t - ti))). Gompertz 1825; Ricker 1975.
pub(super) fn gompertz(t: f64, p: &Row, g: &mut Row) -> f64 {
    let [linf, k, ti, ..] = *p;
    let lag = (-k * (t - ti)).exp();
    let share = (-lag).exp();
    g[0] = share;
    // The product goes to 0 with the share, where lag alone overflows.
    let slope = if share == 0.0 { 0.0 } else { linf * share * lag };
    g[1] = slope * (t - ti);
    g[2] = -slope * k;
    linf * share
}

/// Linf / (1 + exp(-K (t - ti))). Verhulst; Ricker 1975.
pub(super) fn logistic(t: f64, p: &Row, g: &mut Row) -> f64 {
    let [linf, k, ti, ..] = *p;
    let share = 1.0 / (1.0 + (-k * (t - ti)).exp());
    let slope = linf * share * (1.0 - share);
    g[0] = share;
    g[1] = slope * (t - ti);
    g[2] = -slope * k;
    linf * share
}

/// Linf (1 + (d - 1) exp(-K (t - ti)))^(1/(1 - d)). Richards 1959, unified form: d = 2 is the logistic, d near 1 the
/// Gompertz, d = 0 von Bertalanffy with ti = t0. Not a number where the bracket is not positive.
pub(super) fn richards(t: f64, p: &Row, g: &mut Row) -> f64 {
    let [linf, k, ti, d, ..] = *p;
    let lag = (-k * (t - ti)).exp();
    let u = (d - 1.0) * lag;
    if u <= -1.0 {
        g.fill(f64::NAN);
        return f64::NAN;
    }
    let (phi, psi) = log_ratio(u);
    let share = (-lag * phi).exp();
    let slope = linf * share * lag / (1.0 + u);
    g[0] = share;
    g[1] = slope * (t - ti);
    g[2] = -slope * k;
    g[3] = -linf * share * lag * lag * psi;
    linf * share
}

/// ln(1 + u)/u, and (u/(1 + u) - ln(1 + u))/u², both smooth through u = 0.
fn log_ratio(u: f64) -> (f64, f64) {
    if u.abs() < 1e-3 {
        let phi = 1.0 - u * (1.0 / 2.0 - u * (1.0 / 3.0 - u * (1.0 / 4.0 - u / 5.0)));
        let psi = -1.0 / 2.0 + u * (2.0 / 3.0 - u * (3.0 / 4.0 - u * (4.0 / 5.0 - u * 5.0 / 6.0)));
        return (phi, psi);
    }
    let log = u.ln_1p();
    (log / u, (u / (1.0 + u) - log) / (u * u))
}
