//! The focus as the point round which the rings shrink to nothing.
//!
//! Rings close to the focus are copies of one another, larger and smaller, but they need not be circles: on a scale
//! whose focus lies far back the first circuli already reach further forward than backward, so that lines at right
//! angles to them miss the focus. Copies of one shape have the same slant against the ray on the whole of a ray, and
//! that slant is fitted along with the focus, as a short Fourier series of the direction; a second series lets it
//! change outward. Streaks that run along the rays (radii of a scale, the texture of an otolith) point at the focus
//! themselves and are used as such.

use kurbo::{Point, Vec2};

use super::plane::Plane;

/// The direction across the lines at a place, seen in a block of the picture.
#[derive(Debug, Clone, Copy)]
pub struct Normal {
    /// Middle of the block, image pixels.
    pub at: Point,
    /// Unit vector across the lines.
    pub across: Vec2,
    /// How much it counts.
    pub weight: f64,
}

/// How the fit is made.
#[derive(Debug, Clone, Copy)]
pub struct FocusFit {
    /// Blocks nearer than this are used, pixels.
    pub reach: f64,
    /// Blocks nearer than this count less and less, pixels.
    pub core: f64,
    /// Waves of the slant round the focus.
    pub waves: usize,
    /// Angle at which a block begins to count as one that shows something else, radians.
    pub doubt: f64,
    /// How much a streak along the rays counts against a ring; 0 for none.
    pub streaks: f64,
}

/// A fitted focus.
#[derive(Debug, Clone, Copy)]
pub struct FittedFocus {
    /// Image pixels.
    pub at: Point,
    /// Weighted share of the blocks that agree, 0 to 1.
    pub agreement: f64,
    /// Standard error of the place, the larger axis, pixels.
    pub error_px: f64,
}

/// The directions of the lines round a place, in blocks of `block_px`, as far as `reach` pixels. `apart`: half the
/// distance over which differences are taken, pixels.
pub fn normals_round(
    plane: &Plane,
    middle: Point,
    reach: f64,
    block_px: usize,
    apart: usize,
) -> Vec<Normal> {
    let (left, top) = (plane.left as f64, plane.top as f64);
    let bound = |v: f64, length: usize| {
        (v.max(apart as f64 + 1.0) as usize).min(length.saturating_sub(apart + 1))
    };
    let (x0, x1) =
        (bound(middle.x - left - reach, plane.width), bound(middle.x - left + reach, plane.width));
    let (y0, y1) =
        (bound(middle.y - top - reach, plane.height), bound(middle.y - top + reach, plane.height));
    let (columns, rows) = ((x1.saturating_sub(x0)) / block_px, (y1.saturating_sub(y0)) / block_px);
    let mut sums = vec![[0.0f32; 3]; columns * rows];
    for y in y0..y0 + rows * block_px {
        let line = &mut sums[(y - y0) / block_px * columns..][..columns];
        for (column, sum) in line.iter_mut().enumerate() {
            for x in x0 + column * block_px..x0 + (column + 1) * block_px {
                let gx = plane.value(x + apart, y) - plane.value(x - apart, y);
                let gy = plane.value(x, y + apart) - plane.value(x, y - apart);
                sum[0] += gx * gx;
                sum[1] += gy * gy;
                sum[2] += gx * gy;
            }
        }
    }
    let mut out = Vec::with_capacity(sums.len());
    for row in 0..rows {
        for column in 0..columns {
            let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
            for r in row.saturating_sub(1)..(row + 2).min(rows) {
                for c in column.saturating_sub(1)..(column + 2).min(columns) {
                    let w = if r == row && c == column { 1.0 } else { 0.4 };
                    let s = sums[r * columns + c];
                    (xx, yy, xy) = (xx + w * s[0], yy + w * s[1], xy + w * s[2]);
                }
            }
            let total = f64::from(xx + yy) + 1e-7;
            let (c, s) = (f64::from(xx - yy) / total, 2.0 * f64::from(xy) / total);
            let coherence = c.hypot(s);
            if coherence > 0.25 {
                let at = |start: usize, index: usize, origin: f64| {
                    origin + start as f64 - 0.5 + (index as f64 + 0.5) * block_px as f64
                };
                out.push(Normal {
                    at: Point::new(at(x0, column, left), at(y0, row, top)),
                    across: Vec2::from_angle(s.atan2(c) / 2.0),
                    weight: coherence * coherence,
                });
            }
        }
    }
    out
}

/// How much a slant is held back, over the weight of the blocks, for the first wave.
const STIFFNESS: f64 = 4e-3;
/// Most unknowns of a fit.
const MOST: usize = 2 + 4 * 8;

/// Fits the focus, starting from `start`. `None` where there are too few blocks.
pub fn fitted_focus(normals: &[Normal], start: Point, fit: FocusFit) -> Option<FittedFocus> {
    let mut found = FittedFocus { at: start, agreement: 0.0, error_px: f64::INFINITY };
    let fit = FocusFit { waves: fit.waves.min((MOST - 2) / 4), ..fit };
    let mut slant = vec![0.0; 4 * fit.waves];
    for round in 0..24 {
        let doubt = fit.doubt * if round < 6 { 2.0 } else { 1.0 };
        let next = one_round(normals, found.at, &slant, FocusFit { doubt, ..fit })?;
        let moved = (next.0.at - found.at).hypot();
        found = next.0;
        slant = next.1;
        if (start - found.at).hypot() > fit.reach {
            return None;
        }
        if round > 8 && moved < 0.02 {
            break;
        }
    }
    Some(found)
}

/// One weighted least squares fit round a focus; the weights are those of the fit before.
fn one_round(
    normals: &[Normal],
    focus: Point,
    slant: &[f64],
    fit: FocusFit,
) -> Option<(FittedFocus, Vec<f64>)> {
    let n = 2 + slant.len();
    let mut normal = vec![0.0; n * n];
    let mut right = vec![0.0; n];
    let (mut agreed, mut all, mut square, mut strength) = (0.0, 1e-12, 0.0, 0.0);
    let mut row = [0.0; MOST];
    for block in normals {
        let v = block.at - focus;
        let r = v.hypot();
        if r > fit.reach || r < 0.15 * fit.core {
            continue;
        }
        let unit = v / r;
        let side = Vec2::new(-block.across.y, block.across.x);
        let side = if block.across.dot(unit) < 0.0 { -side } else { side };
        fill_row(&mut row, unit, r / fit.reach, fit.waves);
        let expected: f64 = row[2..n].iter().zip(slant).map(|(x, s)| x * s).sum();
        // Angle between the ray and the normal, less the slant; and between the ray and the line itself.
        let ring_off = side.dot(unit) - expected;
        let streak_off = block.across.dot(unit);
        let base = block.weight * (r / (r + fit.core)).powi(2);
        all += base;
        let trust = |off: f64| 1.0 / (1.0 + (off / fit.doubt).powi(2)).powi(2);
        let is_streak = fit.streaks > 0.0 && streak_off.abs() < ring_off.abs();
        let weight =
            base * if is_streak { fit.streaks * trust(streak_off) } else { trust(ring_off) };
        let direction = if is_streak { block.across } else { side };
        row[0] = direction.x / r;
        row[1] = direction.y / r;
        if is_streak {
            row[2..n].iter_mut().for_each(|x| *x = 0.0);
        }
        let target = direction.dot(v) / r;
        if !is_streak {
            agreed += weight;
        }
        let off = if is_streak { streak_off } else { ring_off };
        square += weight * off * off;
        strength += weight;
        // A streak says nothing of the slants.
        let filled = if is_streak { 2 } else { n };
        for a in 0..filled {
            let left = weight * row[a];
            right[a] += left * target;
            let line = &mut normal[a * n + a..a * n + filled];
            for (sum, x) in line.iter_mut().zip(&row[a..filled]) {
                *sum += left * x;
            }
        }
    }
    if strength < 1e-6 {
        return None;
    }
    for a in 0..n {
        for b in 0..a {
            normal[a * n + b] = normal[b * n + a];
        }
    }
    let plain = [normal[0], normal[n + 1], normal[1]];
    for k in 0..slant.len() {
        let wave = (k / 2 % fit.waves + 1) as f64;
        let outward = if k < 2 * fit.waves { 1.0 } else { 2.0 };
        normal[(k + 2) * n + k + 2] += STIFFNESS * strength * wave * wave * outward;
    }
    normal[0] += 1e-9 * strength;
    normal[n + 1] += 1e-9 * strength;
    let x = solved(normal, right, n)?;
    let step = Vec2::new(x[0], x[1]);
    let longest = 0.2 * fit.reach;
    let step = if step.hypot() > longest { step * (longest / step.hypot()) } else { step };
    let spread = ((plain[0] - plain[1]).powi(2) + 4.0 * plain[2] * plain[2]).sqrt();
    let weakest = ((plain[0] + plain[1] - spread) / 2.0).max(1e-12);
    let error_px = (square / strength / weakest * (strength / normals.len().max(1) as f64)).sqrt();
    let found =
        FittedFocus { at: focus + step, agreement: (agreed / all).clamp(0.0, 1.0), error_px };
    Some((found, x[2..].to_vec()))
}

/// The slant's terms in a direction: cosines and sines, and the same growing outward.
fn fill_row(row: &mut [f64; MOST], unit: Vec2, outward: f64, waves: usize) {
    let (mut c, mut s) = (1.0, 0.0);
    for k in 0..waves {
        (c, s) = (c * unit.x - s * unit.y, s * unit.x + c * unit.y);
        row[2 + 2 * k] = c;
        row[3 + 2 * k] = s;
        row[2 + 2 * waves + 2 * k] = c * outward;
        row[3 + 2 * waves + 2 * k] = s * outward;
    }
}

/// Gaussian elimination with pivots; `None` where the system is singular.
fn solved(mut m: Vec<f64>, mut r: Vec<f64>, n: usize) -> Option<Vec<f64>> {
    for i in 0..n {
        let pivot = (i..n).max_by(|a, b| m[a * n + i].abs().total_cmp(&m[b * n + i].abs()))?;
        if m[pivot * n + i].abs() < 1e-14 {
            return None;
        }
        if pivot != i {
            for j in 0..n {
                m.swap(i * n + j, pivot * n + j);
            }
            r.swap(i, pivot);
        }
        for k in i + 1..n {
            let by = m[k * n + i] / m[i * n + i];
            if by != 0.0 {
                for j in i..n {
                    m[k * n + j] -= by * m[i * n + j];
                }
                r[k] -= by * r[i];
            }
        }
    }
    for i in (0..n).rev() {
        let sum: f64 = (i + 1..n).map(|j| m[i * n + j] * r[j]).sum();
        r[i] = (r[i] - sum) / m[i * n + i];
    }
    Some(r)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rings that reach twice as far to one side as to the other: normals of copies of one shape.
    fn shells(focus: Point) -> Vec<Normal> {
        let mut out = Vec::new();
        for i in 0..40 {
            for j in 0..40 {
                let at = Point::new(f64::from(i) * 10.0 + 5.0, f64::from(j) * 10.0 + 5.0);
                let v = at - focus;
                let r = v.hypot();
                if !(6.0..170.0).contains(&r) {
                    continue;
                }
                // r = size * (1 + 0.4 cos a): the gradient of r / shape.
                let (unit, side) = (v / r, Vec2::new(-v.y, v.x) / r);
                let shape = 1.0 + 0.4 * unit.x;
                let across = unit / shape + side * (0.4 * unit.y / (shape * shape));
                out.push(Normal { at, across: across.normalize(), weight: 1.0 });
            }
        }
        out
    }

    const FIT: FocusFit = FocusFit { reach: 150.0, core: 4.0, waves: 4, doubt: 0.2, streaks: 0.5 };

    #[test]
    fn lopsided_rings_and_a_third_of_nonsense_do_not_mislead() {
        let focus = Point::new(190.0, 215.0);
        let mut blocks = shells(focus);
        for (k, block) in blocks.iter_mut().enumerate() {
            if k % 3 == 0 {
                block.across = Vec2::from_angle(k as f64 * 1.7);
            }
        }
        let found = fitted_focus(&blocks, focus + Vec2::new(20.0, -15.0), FIT).unwrap();
        assert!((found.at - focus).hypot() < 2.5, "{:?}", found.at);
        assert!((0.45..0.85).contains(&found.agreement), "{}", found.agreement);
    }

    #[test]
    fn streaks_alone_point_at_the_focus_and_nothing_gives_nothing() {
        let focus = Point::new(190.0, 215.0);
        let mut blocks = shells(focus);
        for block in &mut blocks {
            let v = block.at - focus;
            block.across = Vec2::new(-v.y, v.x) / v.hypot();
        }
        let found = fitted_focus(&blocks, focus + Vec2::new(3.0, 2.0), FIT).unwrap();
        assert!((found.at - focus).hypot() < 1.0, "{:?}", found.at);
        assert!(fitted_focus(&[], focus, FIT).is_none());
    }
}
