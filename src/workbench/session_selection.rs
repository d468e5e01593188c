//! What a reader can take hold of on a scan, in the order it lies along the axis, and what each is called.

use crate::domain::calibration::Calibration;
use crate::domain::reading::ImpressionReading;
use crate::domain::units::Pixels;
use crate::marking::command::mark_name;
use crate::marking::document::Document;

/// Something to take hold of. Indices count in order of distance, as commands do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Handle {
    /// The focus (or core).
    Focus,
    /// A mark.
    Mark(usize),
    /// A proposal not yet decided.
    Proposal(usize),
    /// The margin.
    Margin,
    /// A bend of the axis: the index of its point, the focus being 0.
    Bend(usize),
    /// The outer end of the axis.
    AxisEnd,
}

/// Marks, proposals and the margin of an impression, in order of distance.
pub fn along_axis(document: &Document, impression: u32) -> Vec<(Pixels, Handle)> {
    let Some(reading) = document.impression(impression) else { return Vec::new() };
    let marks = reading.marks.iter().enumerate().map(|(i, mark)| (mark.position, Handle::Mark(i)));
    let proposals = document.open_proposals(impression).iter().enumerate();
    let proposals = proposals.map(|(i, open)| (open.position, Handle::Proposal(i)));
    let margin = reading.edge.map(|edge| (edge, Handle::Margin));
    let mut all: Vec<(Pixels, Handle)> = marks.chain(proposals).chain(margin).collect();
    all.sort_by(|a, b| a.0.0.total_cmp(&b.0.0));
    all
}

/// Where a handle lies along the axis; `None` if it is not there.
pub fn position(document: &Document, impression: u32, handle: Handle) -> Option<Pixels> {
    let reading = document.impression(impression)?;
    match handle {
        Handle::Focus => reading.axis.as_ref().map(|_| Pixels(0.0)),
        Handle::Bend(index) => {
            let axis = reading.axis.as_ref()?;
            let n = axis.vertices().len();
            let is_bend = index > 0 && index + 1 < n;
            is_bend.then(|| axis.length_to(index))
        }
        Handle::AxisEnd => reading.axis.as_ref().map(|axis| axis.length_px()),
        Handle::Margin => reading.edge.filter(|_| reading.axis.is_some()),
        Handle::Mark(index) => reading.marks.get(index).map(|mark| mark.position),
        Handle::Proposal(index) => {
            document.open_proposals(impression).get(index).map(|open| open.position)
        }
    }
}

/// The next handle outwards (`forward`) or inwards from `from`; from nothing, the innermost or outermost.
pub fn neighbour(
    document: &Document,
    impression: u32,
    from: Option<Handle>,
    forward: bool,
) -> Option<Handle> {
    let all = along_axis(document, impression);
    let here = from.and_then(|from| all.iter().position(|(_, handle)| *handle == from));
    let index = match (here, forward) {
        (Some(here), true) => (here + 1).min(all.len().saturating_sub(1)),
        (Some(here), false) => here.saturating_sub(1),
        (None, true) => 0,
        (None, false) => all.len().saturating_sub(1),
    };
    all.get(index).map(|(_, handle)| *handle)
}

/// The mark that stands at a place, within a tenth of a pixel.
pub fn mark_at(reading: &ImpressionReading, at: Pixels) -> Option<Handle> {
    reading.marks.iter().position(|mark| (mark.position.0 - at.0).abs() < 0.1).map(Handle::Mark)
}

/// What a handle is called: "Annulus 2", "Check 1", "Proposal 3", "Focus", "Core", "Margin", "Axis end".
pub fn name(document: &Document, impression: u32, handle: Handle) -> String {
    match handle {
        Handle::Focus => {
            let structure = document.impression(impression).map(|reading| reading.structure);
            let is_otolith = structure == Some(crate::domain::reading::Structure::Otolith);
            if is_otolith { "Core".into() } else { "Focus".into() }
        }
        Handle::AxisEnd => "Axis end".into(),
        Handle::Bend(index) => format!("Bend {index} of the axis"),
        Handle::Margin => "Margin".into(),
        Handle::Proposal(index) => {
            let open = document.open_proposals(impression);
            let this = open.get(index).is_none_or(|open| open.put_forward);
            let before = open.iter().take(index).filter(|open| open.put_forward == this).count();
            let kind = if this { "Proposal" } else { "Alternative" };
            format!("{kind} {}", before + 1)
        }
        Handle::Mark(index) => {
            let name = mark_name(document, impression, index);
            let mut letters = name.chars();
            letters
                .next()
                .map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
        }
    }
}

/// A handle's name with its distance from the focus: "Annulus 2, 300.0 µm", in pixels while the pixel size is unknown.
pub fn label(document: &Document, impression: u32, handle: Handle, at: Pixels) -> String {
    format!("{}, {}", name(document, impression, handle), distance(document, impression, at))
}

/// A distance along the axis in words: micrometres where the pixel size is known, else pixels; on a blind list, where
/// either would tell how large the fish is, the share of the way to the margin.
pub fn distance(document: &Document, impression: u32, at: Pixels) -> String {
    let reading = document.impression(impression);
    if let Some(blind) = reading.filter(|reading| reading.conditions.blind_list.is_some()) {
        let share = blind.edge.map(|edge| at.0 / edge.0).filter(|share| share.is_finite());
        return share
            .map_or_else(String::new, |share| format!("{:.0} % of the way", share * 100.0));
    }
    let axis = reading.and_then(|reading| reading.axis.as_ref());
    let scale: Option<&Calibration> = document.reading.calibration.as_ref();
    match (axis, scale) {
        (Some(axis), Some(scale)) => format!("{:.1}", axis.micrometres_at(at, scale)),
        _ => format!("{at:.1}"),
    }
}

#[cfg(test)]
mod tests {
    use kurbo::Point;

    use super::*;
    use crate::domain::axis::Axis;
    use crate::domain::calibration::CalibrationSource;
    use crate::domain::reading::{MarkKind, ReaderInitials, ScanIdentity, ScanReading, Structure};
    use crate::marking::command::Command;
    use crate::marking::document::OpenProposal;

    fn document() -> Document {
        let scan =
            ScanIdentity { file: "a.png".into(), width_px: 9, height_px: 9, blake3: String::new() };
        let reading = ScanReading {
            scan,
            reader: ReaderInitials::new("kb").unwrap(),
            calibration: Some(Calibration::new(10.0, 10.0, CalibrationSource::Stated).unwrap()),
            impressions: vec![ImpressionReading::new(1, "1", Structure::Otolith)],
        };
        let axis = Axis::straight(Point::new(0.0, 0.0), Point::new(100.0, 0.0)).unwrap();
        let open = |at, put_forward| OpenProposal {
            position: Pixels(at),
            probability: 0.5,
            put_forward,
            ring: None,
        };
        let proposals = vec![open(20.0, true), open(35.0, false), open(70.0, true)];
        let mut document = Document::new(reading);
        for command in [
            Command::SetAxis { impression: 1, axis, edge: Pixels(90.0) },
            Command::AddMark { impression: 1, at: Pixels(30.0), kind: MarkKind::Annulus },
            Command::AddMark { impression: 1, at: Pixels(40.0), kind: MarkKind::Check },
            Command::SetProposals { impression: 1, proposals },
        ] {
            document = document.applied(&command).unwrap();
        }
        document
    }

    #[test]
    fn handles_follow_the_axis_outwards() {
        let document = document();
        let mut here = None;
        let mut names = Vec::new();
        for _ in 0..6 {
            here = neighbour(&document, 1, here, true);
            names.push(name(&document, 1, here.unwrap()));
        }
        let expected =
            ["Proposal 1", "Annulus 1", "Alternative 1", "Check 1", "Proposal 2", "Margin"];
        assert_eq!(names, expected);
        assert_eq!(neighbour(&document, 1, here, true), here);
        assert_eq!(
            neighbour(&document, 1, Some(Handle::Mark(0)), false),
            Some(Handle::Proposal(0))
        );
        assert_eq!(name(&document, 1, Handle::Focus), "Core");
    }

    #[test]
    fn a_label_names_kind_number_and_distance() {
        let document = document();
        assert_eq!(label(&document, 1, Handle::Mark(0), Pixels(30.0)), "Annulus 1, 300.0 µm");
        assert_eq!(position(&document, 1, Handle::Mark(5)), None);
    }
}
