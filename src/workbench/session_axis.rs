//! Moving the focus, an end or a bend of the axis, with marks that follow the rings they were set on; and further
//! axes of one structure.

use kurbo::{BezPath, Line, PathEl, Point, Vec2};

use crate::domain::axis::Axis;
use crate::domain::reading::Mark;
use crate::domain::units::Pixels;
use crate::marking::command::Command;

use super::session_scan::OpenScan;
use super::session_selection::Handle;

/// A mark lies on a ring that passes within this many pixels of it: rings are traced through the places proposed.
const ON_RING_PX: f64 = 2.5;

/// A crossing farther than this share of the radius from where the mark would lie by its share of it is another
/// ring's, or the far side's.
const MOST_SHIFT: f64 = 0.3;

/// Axis and margin with the focus, the end or a bend at a point of the scan. The margin keeps its place on the scan,
/// and its share of the axis where the end moves.
pub fn axis_with(scan: &OpenScan, handle: Handle, to: Point) -> Option<(Axis, Pixels)> {
    let reading = scan.reading()?;
    let (old, edge) = (reading.axis.as_ref()?, reading.edge?);
    let mut vertices = old.vertices().to_vec();
    match handle {
        Handle::Focus => *vertices.first_mut()? = to,
        Handle::AxisEnd => *vertices.last_mut()? = to,
        Handle::Bend(index) if index > 0 && index + 1 < vertices.len() => {
            *vertices.get_mut(index)? = to;
        }
        _ => return None,
    }
    let axis = Axis::new(vertices).ok()?;
    let edge = match handle {
        Handle::AxisEnd => Pixels(edge.0 * (axis.length_px() / old.length_px())),
        _ => axis.nearest(old.point_at(edge)).0,
    };
    Some((axis, edge))
}

/// The command that moves the focus, the end or a bend of the axis to a point of the scan.
pub fn axis_moved_to(scan: &OpenScan, handle: Handle, to: Point) -> Option<Command> {
    let (axis, edge) = axis_with(scan, handle, to)?;
    Some(onto(scan, axis, edge))
}

/// The command that gives the reading another axis: each mark goes to where its ring crosses it, else it keeps its
/// share of the radius.
fn onto(scan: &OpenScan, axis: Axis, edge: Pixels) -> Command {
    let impression = scan.impression();
    let marks = scan.reading().map_or(&[][..], |reading| &reading.marks);
    if marks.is_empty() {
        return Command::SetAxis { impression, axis, edge };
    }
    let marks = carried(scan, &axis, edge);
    Command::CarryAxis { impression, axis, edge, marks }
}

/// Where the marks of the reading lie on another axis.
fn carried(scan: &OpenScan, axis: &Axis, edge: Pixels) -> Vec<Pixels> {
    let Some(reading) = scan.reading() else { return Vec::new() };
    let (Some(old), Some(old_edge)) = (&reading.axis, reading.edge) else {
        return reading.marks.iter().map(|mark| mark.position).collect();
    };
    let by_share = |mark: &Mark| Pixels(mark.position.0 * (edge / old_edge));
    let places: Vec<Pixels> = reading
        .marks
        .iter()
        .map(|mark| {
            let share = by_share(mark);
            let ring = ring_through(scan, old.point_at(mark.position));
            ring.and_then(|ring| crossing(ring, axis, edge, share)).unwrap_or(share)
        })
        .collect();
    let is_in_order = |pair: &[Pixels]| matches!(pair, [a, b] if b.0 - a.0 >= 1.0);
    if places.windows(2).all(is_in_order) {
        places
    } else {
        reading.marks.iter().map(by_share).collect()
    }
}

/// How many marks a move of the axis carries along their rings, and how many keep their share of the radius.
pub(super) fn followed(scan: &OpenScan, command: &Command) -> Option<(usize, usize)> {
    let Command::CarryAxis { edge, marks, .. } = command else { return None };
    let reading = scan.reading()?;
    let stretch = *edge / reading.edge?;
    let pairs = reading.marks.iter().zip(marks);
    let on_rings =
        pairs.filter(|(mark, to)| (mark.position.0 * stretch - to.0).abs() > 1e-6).count();
    Some((on_rings, marks.len() - on_rings))
}

/// The ring traced on this impression that passes through a point of the scan.
fn ring_through(scan: &OpenScan, at: Point) -> Option<&BezPath> {
    let found = scan.found.iter().rev().filter(|found| found.impression == scan.impression());
    let rings = found.flat_map(|found| {
        let result = &found.result;
        let all = result.annuli.iter().chain(&result.checks).chain(&result.alternatives);
        all.filter_map(|one| one.ring.as_ref())
    });
    let distance = |ring: &BezPath| {
        let away = |line: Line| {
            let along = line.p1 - line.p0;
            let share = ((at - line.p0).dot(along) / along.hypot2().max(1e-12)).clamp(0.0, 1.0);
            (at - (line.p0 + along * share)).hypot()
        };
        lines(ring).into_iter().map(away).fold(f64::INFINITY, f64::min)
    };
    let near = rings.map(|ring| (distance(ring), ring));
    let nearest = near.min_by(|a, b| a.0.total_cmp(&b.0))?;
    (nearest.0 <= ON_RING_PX).then_some(nearest.1)
}

/// Where a ring crosses an axis nearest to `expected`; `None` where it does not, or only far away.
fn crossing(ring: &BezPath, axis: &Axis, edge: Pixels, expected: Pixels) -> Option<Pixels> {
    let mut before_px = 0.0;
    let mut best: Option<f64> = None;
    let ring = lines(ring);
    for pair in axis.vertices().windows(2) {
        let [a, b] = pair else { continue };
        let segment = Line::new(*a, *b);
        for side in &ring {
            if let Some(at) = meeting(segment, *side) {
                let px = before_px + at * (*b - *a).hypot();
                let is_nearer =
                    best.is_none_or(|best| (px - expected.0).abs() < (best - expected.0).abs());
                if is_nearer {
                    best = Some(px);
                }
            }
        }
        before_px += (*b - *a).hypot();
    }
    let best = best.filter(|px| *px > 0.0 && *px <= edge.0)?;
    ((best - expected.0).abs() <= MOST_SHIFT * edge.0).then_some(Pixels(best))
}

/// How far along `a` (0 to 1) it meets `b`; `None` where they do not meet.
fn meeting(a: Line, b: Line) -> Option<f64> {
    let (along, across) = (a.p1 - a.p0, b.p1 - b.p0);
    let turn = along.cross(across);
    if turn.abs() < 1e-12 {
        return None;
    }
    let between = b.p0 - a.p0;
    let (s, t) = (between.cross(across) / turn, between.cross(along) / turn);
    ((0.0..=1.0).contains(&s) && (0.0..=1.0).contains(&t)).then_some(s)
}

/// A path as straight pieces, to a twentieth of a pixel.
fn lines(path: &BezPath) -> Vec<Line> {
    let (mut lines, mut first, mut here) = (Vec::new(), Point::ORIGIN, Point::ORIGIN);
    kurbo::flatten(path.iter(), 0.05, |element| match element {
        PathEl::MoveTo(to) => (first, here) = (to, to),
        PathEl::LineTo(to) => {
            lines.push(Line::new(here, to));
            here = to;
        }
        PathEl::ClosePath => lines.push(Line::new(here, first)),
        PathEl::QuadTo(..) | PathEl::CurveTo(..) => {}
    });
    lines
}

/// A bend in the axis at the selected mark, else in the middle of its longest piece, and its place among the points.
pub(super) fn bent(scan: &OpenScan, at: Option<Pixels>) -> Option<(Command, usize)> {
    let reading = scan.reading()?;
    let (axis, edge) = (reading.axis.as_ref()?, reading.edge?);
    let mut vertices = axis.vertices().to_vec();
    let lengths: Vec<f64> = vertices
        .windows(2)
        .map(|pair| if let [a, b] = pair { (*b - *a).hypot() } else { 0.0 })
        .collect();
    let ends: Vec<f64> = lengths
        .iter()
        .scan(0.0, |sum, length| {
            *sum += length;
            Some(*sum)
        })
        .collect();
    let longest = lengths.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?.0;
    let middle = Pixels(ends.get(longest)? - lengths.get(longest)? / 2.0);
    let at = at.filter(|at| at.0 > 1.0 && at.0 < axis.length_px().0 - 1.0).unwrap_or(middle);
    let index = ends.iter().position(|end| *end > at.0)? + 1;
    vertices.insert(index, axis.point_at(at));
    let axis = Axis::new(vertices).ok()?;
    Some((onto(scan, axis, edge), index))
}

/// The axis without one of its bends.
pub(super) fn straightened(scan: &OpenScan, bend: usize) -> Option<Command> {
    let reading = scan.reading()?;
    let (old, edge) = (reading.axis.as_ref()?, reading.edge?);
    let mut vertices = old.vertices().to_vec();
    if bend == 0 || bend + 1 >= vertices.len() {
        return None;
    }
    vertices.remove(bend);
    let axis = Axis::new(vertices).ok()?;
    let edge = axis.nearest(old.point_at(edge)).0;
    Some(onto(scan, axis, edge))
}

/// Angle between a new axis and the one before it, radians.
const NEW_AXIS_TURN: f64 = 0.5;

/// A further axis from the same focus, turned away from the one there is; marks go to where their rings cross it.
pub(super) fn another(scan: &OpenScan) -> Option<Command> {
    let reading = scan.reading()?;
    let (old, edge) = (reading.axis.as_ref()?, reading.edge?);
    let along = old.end() - old.focus();
    let turn = NEW_AXIS_TURN * (1.0 + reading.other_axes.len() as f64);
    let (sin, cos) = turn.sin_cos();
    let turned = Vec2::new(along.x * cos - along.y * sin, along.x * sin + along.y * cos);
    let axis = Axis::straight(old.focus(), old.focus() + turned).ok()?;
    let places = carried(scan, &axis, edge);
    let marks = reading.marks.iter().zip(places);
    let marks = marks.map(|(mark, position)| Mark { position, ..*mark }).collect();
    Some(Command::AddAxis { impression: scan.impression(), axis, edge, marks })
}

#[cfg(test)]
mod tests {
    use kurbo::{Circle, Shape};

    use super::*;

    #[test]
    fn a_ring_is_crossed_where_geometry_says() {
        let ring = Circle::new((0.0, 0.0), 100.0).to_path(0.01);
        let expected = [0.0_f64, 0.3, 1.1].map(|angle| {
            let end = Point::new(300.0 * angle.cos(), 300.0 * angle.sin());
            let axis = Axis::straight(Point::new(20.0, 0.0), end).unwrap();
            let at = crossing(&ring, &axis, Pixels(280.0), Pixels(90.0)).unwrap();
            (axis.point_at(at).to_vec2().hypot() - 100.0).abs()
        });
        assert!(expected.iter().all(|off| *off < 0.06), "{expected:?}");
        let bent = Axis::new([(0.0, 0.0), (60.0, 0.0), (60.0, 200.0)].map(Point::from)).unwrap();
        let at = crossing(&ring, &bent, Pixels(250.0), Pixels(140.0)).unwrap();
        assert!((at.0 - 140.0).abs() < 0.06, "{at:?}");
        assert_eq!(crossing(&ring, &bent, Pixels(250.0), Pixels(20.0)), None);
    }
}
