//! Why a fish has no back-calculated lengths. No fish leaves a sample without one of these.

/// A fish left out, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Excluded {
    /// The fish's key.
    pub fish: String,
    /// Line of the file it came from, where there is one.
    pub row: Option<usize>,
    /// Why.
    pub reason: Reason,
}

/// Reasons to leave a fish out; each reads as one clear sentence.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Reason {
    /// Nobody has read it to an age, so there is nothing to calculate from.
    #[error("{why}")]
    NotRead {
        /// Why, as a sentence.
        why: String,
    },
    /// Length at capture missing.
    #[error("no length at capture: enter the length, or use the fish for ages only")]
    NoLength,
    /// Length zero, negative or not a number.
    #[error("length at capture is {length_mm} mm: it must be above 0")]
    LengthNotPositive {
        /// Length found.
        length_mm: f64,
    },
    /// No structure with radii.
    #[error("no structure was aged: regenerated and unreadable structures give no lengths")]
    NoStructure,
    /// The reader's age is not what annuli and edge add up to.
    #[error(
        "the reader's age is {stated}, annuli and edge make {counted}: correct the marks or the age"
    )]
    AgeDisagrees {
        /// Age put down by the reader.
        stated: u32,
        /// Annuli, and the edge where it is counted.
        counted: usize,
    },
    /// Total radius missing.
    #[error("no total radius: set the margin on the scan, or enter the radius")]
    NoTotalRadius,
    /// A radius of zero or less, or not a number.
    #[error("{} is {radius_um} µm: radii must be above 0", match annulus {
        Some(annulus) => format!("radius of annulus {annulus}"),
        None => "total radius".to_owned(),
    })]
    RadiusNotPositive {
        /// Annulus from 1; `None` for the total radius.
        annulus: Option<usize>,
        /// Radius found.
        radius_um: f64,
    },
    /// Radii out of order.
    #[error(
        "annulus radii must increase strictly: annulus {annulus} is at {radius_um} µm, the one before at {before_um} µm"
    )]
    RadiiNotIncreasing {
        /// Annulus from 1.
        annulus: usize,
        /// Its radius.
        radius_um: f64,
        /// The radius before it.
        before_um: f64,
    },
    /// Last annulus outside the margin.
    #[error(
        "total radius {total_um} µm is smaller than the last annulus radius {last_um} µm: check the margin and the last mark"
    )]
    AnnulusBeyondEdge {
        /// Last annulus radius.
        last_um: f64,
        /// Total radius.
        total_um: f64,
    },
    /// The last annulus lies on the margin and the margin is counted as well.
    #[error("the last annulus lies on the edge and the edge is counted too: keep one of the two")]
    EdgeCountedTwice,
    /// Structures of one fish with different numbers of annuli.
    #[error(
        "its structures disagree: {} and {} annuli; settle the count before their ratios are averaged",
        counts[0], counts[1]
    )]
    StructuresDisagree {
        /// Two of the counts.
        counts: [usize; 2],
    },
    /// Intercept at or above the length at capture.
    #[error(
        "intercept {intercept_mm:.1} mm must be less than the length at capture, {length_mm} mm"
    )]
    InterceptNotBelowLength {
        /// Intercept.
        intercept_mm: f64,
        /// Length at capture.
        length_mm: f64,
    },
    /// The fitted relation gives no positive structure radius at its length.
    #[error(
        "the fitted relation gives no positive radius at {length_mm} mm: the fish lies below its range"
    )]
    NoExpectedRadius {
        /// Length at capture.
        length_mm: f64,
    },
    /// A parabola that turns down, or meets no length.
    #[error("the fitted parabola gives no length for annulus {annulus}")]
    NoRoot {
        /// Annulus from 1.
        annulus: usize,
    },
    /// A parabola past its turning point at capture.
    #[error("the fitted parabola no longer rises at {length_mm} mm")]
    FallingAtCapture {
        /// Length at capture.
        length_mm: f64,
    },
    /// Length at or below that of the biological intercept.
    #[error("length at capture {length_mm} mm is not above the length at origin, {origin_mm} mm")]
    LengthWithinOrigin {
        /// Length at capture.
        length_mm: f64,
        /// Length of the biological intercept.
        origin_mm: f64,
    },
    /// Total radius at or below that of the biological intercept.
    #[error("total radius {total_um} µm is not above the radius at origin, {origin_um} µm")]
    RadiusWithinOrigin {
        /// Total radius.
        total_um: f64,
        /// Radius of the biological intercept.
        origin_um: f64,
    },
    /// A formula that left the range of numbers.
    #[error("the formula gives no number for annulus {annulus}")]
    NoNumber {
        /// Annulus from 1.
        annulus: usize,
    },
}

/// Something a reader should know about a fish that was back-calculated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Flag {
    /// A length of zero or less: kept, as the formula gives it.
    LengthNotPositive {
        /// Annulus from 1.
        annulus: usize,
    },
    /// A length below the stated hatching length.
    BelowHatchingLength {
        /// Annulus from 1.
        annulus: usize,
    },
    /// A radius inside that of the biological intercept: the length is an extrapolation.
    InsideOrigin {
        /// Annulus from 1.
        annulus: usize,
    },
    /// The edge stands for the last annulus, so the last length is the length at capture.
    EdgeCounted,
    /// The year class entered is not the one that date and age give.
    YearClassDisagrees {
        /// Year class as entered.
        entered: i16,
        /// Year class by capture date and age.
        by_age: i16,
    },
}

impl std::fmt::Display for Flag {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::LengthNotPositive { annulus } => {
                write!(f, "annulus {annulus}: back-calculated length not positive")
            }
            Self::BelowHatchingLength { annulus } => {
                write!(f, "annulus {annulus}: back-calculated length below the hatching length")
            }
            Self::InsideOrigin { annulus } => {
                write!(f, "annulus {annulus}: radius not above the radius at origin; extrapolation")
            }
            Self::YearClassDisagrees { entered, by_age } => {
                write!(f, "year class entered as {entered}, by capture date and age it is {by_age}")
            }
            Self::EdgeCounted => f.write_str(
                "edge counted as this year's annulus; last length is the length at capture",
            ),
        }
    }
}
