//! The document a reader edits: their reading of one scan, and the proposals not yet decided.
//!
//! Proposals are a type of their own and live beside the reading, so nothing unconfirmed can be saved as a mark.

use std::collections::BTreeMap;

use kurbo::BezPath;

use crate::domain::age::{AgeAssignment, BirthdayRule, assign_age};
use crate::domain::reading::{ImpressionReading, Mark, ReadingState, ScanReading};
use crate::domain::units::Pixels;
use crate::proposing::{Proposal, Proposals};

/// A proposed annulus that the reader has neither accepted nor rejected.
#[derive(Debug, Clone, PartialEq)]
pub struct OpenProposal {
    /// Distance along the axis, pixels.
    pub position: Pixels,
    /// Probability that it is an annulus, 0 to 1.
    pub probability: f64,
    /// Put forward by the program; `false` for an alternative below the threshold.
    pub put_forward: bool,
    /// The ring traced round the structure, image pixels.
    pub ring: Option<BezPath>,
}

impl OpenProposal {
    fn from_proposal(proposal: &Proposal, put_forward: bool) -> Self {
        Self {
            position: proposal.position,
            probability: proposal.probability,
            put_forward,
            ring: proposal.ring.clone(),
        }
    }
}

/// One scan being read by one reader.
#[derive(Debug, Clone, PartialEq)]
pub struct Document {
    /// What has been read so far.
    pub reading: ScanReading,
    /// Undecided proposals by impression number, each list in order of distance.
    pub proposals: BTreeMap<u32, Vec<OpenProposal>>,
    /// Impressions of which a confirmed reading stands on disk while a draft of its revision is edited.
    pub standing: Vec<u32>,
}

impl Document {
    /// A document on a reading, with no proposals open. Where an impression has both a confirmed reading and a draft
    /// of its revision, the draft is what is edited; the confirmed one stays in the sidecar until it is replaced.
    pub fn new(mut reading: ScanReading) -> Self {
        let drafts: Vec<u32> = reading
            .impressions
            .iter()
            .filter(|impression| impression.state == ReadingState::Draft)
            .map(|impression| impression.number)
            .collect();
        let is_confirmed = |one: &ImpressionReading| one.state == ReadingState::Confirmed;
        let standing = reading.impressions.iter().filter(|one| is_confirmed(one));
        let mut standing: Vec<u32> = standing.map(|one| one.number).collect();
        standing.retain(|number| drafts.contains(number));
        reading.impressions.retain(|impression| {
            impression.state == ReadingState::Draft || !drafts.contains(&impression.number)
        });
        Self { reading, proposals: BTreeMap::new(), standing }
    }

    /// The reading of an impression; `None` if there is no such impression.
    pub fn impression(&self, number: u32) -> Option<&ImpressionReading> {
        self.reading.impressions.iter().find(|impression| impression.number == number)
    }

    /// The undecided proposals of an impression.
    pub fn open_proposals(&self, number: u32) -> &[OpenProposal] {
        self.proposals.get(&number).map_or(&[], Vec::as_slice)
    }

    /// The age the birthday rule gives an impression now; `None` until an edge condition and a capture date are known.
    pub fn age_by_rule(
        &self,
        number: u32,
        captured: Option<jiff::civil::Date>,
        rule: &BirthdayRule,
    ) -> Option<AgeAssignment> {
        let impression = self.impression(number)?;
        Some(assign_age(impression.annuli_counted(), impression.edge_condition?, captured?, rule))
    }
}

/// The proposals of a result as the reader meets them: those put forward and the alternatives, in order of distance,
/// without any that lie on a mark already made.
pub fn open_proposals_from(found: &Proposals, marks: &[Mark]) -> Vec<OpenProposal> {
    let put_forward =
        found.annuli.iter().map(|proposal| OpenProposal::from_proposal(proposal, true));
    let others =
        found.alternatives.iter().map(|proposal| OpenProposal::from_proposal(proposal, false));
    let mut open: Vec<OpenProposal> = put_forward
        .chain(others)
        .filter(|proposal| {
            marks.iter().all(|mark| !is_same_place(mark.position, proposal.position))
        })
        .collect();
    open.sort_by(|a, b| a.position.0.total_cmp(&b.position.0));
    open
}

/// Two marks closer than this, in pixels, are one mark.
pub const SAME_PLACE_PX: f64 = 1.0;

/// True where two positions are too close to be two marks.
pub fn is_same_place(a: Pixels, b: Pixels) -> bool {
    (a.0 - b.0).abs() < SAME_PLACE_PX
}
