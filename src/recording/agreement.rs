//! How methods of measuring agree, and what operators add: what is said of all runs together, as `results.json` holds it.

use super::group::Interval;
use serde::Serialize;

/// Two methods that measured the same frames at the same stages. Differences are second less first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MethodAgreement {
    /// First method, a key of `diameters.by_method`.
    pub first: String,
    /// Second method.
    pub second: String,
    /// What each of them measures.
    pub measurands: String,
    /// Pairs: runs and stages that both measured.
    pub n: usize,
    /// Frames among them.
    pub frames: usize,
    /// The pairs.
    pub points: Vec<AgreementPoint>,
    /// Each pair taken as independent of the others (Bland-Altman).
    pub pairs: Option<PairAgreement>,
    /// Each frame taken as one subject with several pairs.
    pub by_frame: Option<FrameAgreement>,
    /// What single rounds of readings would differ by, where a method has repeats.
    pub single_rounds: Option<SingleRounds>,
    /// A line between the methods, both erring.
    pub deming: Option<DemingResult>,
    /// The same by the uncertainty that each diameter states.
    pub stated_line: Option<StatedLine>,
    /// Why something above is missing, and what to keep in mind.
    pub remarks: Vec<String>,
}

/// A pair of diameters.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AgreementPoint {
    /// Run.
    pub run_id: String,
    /// Stage.
    pub stage: String,
    /// By the first method, mm.
    pub first_mm: f64,
    /// By the second method, mm.
    pub second_mm: f64,
}

/// Bias and limits of agreement of independent pairs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PairAgreement {
    /// Mean difference.
    pub bias: Interval,
    /// Standard deviation of the differences.
    pub sd: Interval,
    /// Lower limit of agreement, exact interval.
    pub lower: Interval,
    /// Upper limit of agreement, exact interval.
    pub upper: Interval,
    /// Lower limit of agreement, interval by its standard error.
    pub lower_approximate: Interval,
    /// Upper limit of agreement, interval by its standard error.
    pub upper_approximate: Interval,
    /// Band that holds 95 % of the differences with this confidence; its middle is the bias.
    pub both: Interval,
    /// Growth of the difference with the mean of both methods; absent where all means are alike.
    pub slope: Option<Interval>,
}

/// Bias and limits of agreement with frames as subjects.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FrameAgreement {
    /// Mean over frames of their mean difference.
    pub bias: Interval,
    /// Standard deviation of a difference of any frame at any stage.
    pub sd: Interval,
    /// Part of it that stays with a frame, mm.
    pub sd_between_mm: f64,
    /// Part that changes between the stages of a frame, mm; null where no frame has two pairs.
    pub sd_within_mm: Option<f64>,
    /// Lower limit of agreement.
    pub lower: Interval,
    /// Upper limit of agreement.
    pub upper: Interval,
}

/// What single rounds of readings would differ by.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SingleRounds {
    /// Standard deviation of the difference of single rounds, mm.
    pub sd_mm: f64,
    /// Lower limit of agreement of single rounds, about the bias of the pairs, mm.
    pub lower_mm: f64,
    /// Upper limit.
    pub upper_mm: f64,
    /// For each method with repeats: its scatter between rounds.
    pub within: Vec<RoundScatter>,
}

/// Scatter of a method between its own rounds.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RoundScatter {
    /// Method.
    pub method: String,
    /// Standard deviation between rounds of one operator on one frame and stage, mm.
    pub sd_mm: f64,
    /// Its degrees of freedom.
    pub dof: usize,
    /// Rounds in a mean (harmonic mean over the pairs).
    pub rounds: f64,
}

/// A Deming line `second = intercept + slope × first`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DemingResult {
    /// Slope.
    pub slope: Interval,
    /// Intercept.
    pub intercept: Interval,
    /// Error variance of the second method over that of the first, from their stated uncertainties.
    pub error_variance_ratio: f64,
}

/// A line `second = intercept + slope × first` by the uncertainty that each diameter states.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StatedLine {
    /// Slope.
    pub slope: Interval,
    /// Intercept.
    pub intercept: Interval,
    /// Sum of the squared distances in units of the stated uncertainties.
    pub chi_squared: f64,
    /// Its degrees of freedom.
    pub dof: usize,
    /// Probability of one as large by chance, if the stated uncertainties are all there is.
    pub p: f64,
}

/// A gauge study of a method: parts × operators × repeats.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct GaugeStudy {
    /// Method.
    pub method: String,
    /// Parts: runs and stages that the operators share.
    pub parts: Vec<String>,
    /// Operators.
    pub operators: Vec<String>,
    /// Repeats of every operator on every part.
    pub repeats: usize,
    /// Orientations averaged in a repeat; 0 where none is recorded.
    pub orientations: usize,
    /// Declared width of the tolerance of the diameter, mm.
    pub tolerance_mm: Option<f64>,
    /// With the interaction of part and operator, and with it pooled into the repeats; one of them is used.
    pub models: Vec<GaugeModelResult>,
    /// Why there are no models.
    pub reason: Option<String>,
    /// What to keep in mind.
    pub remarks: Vec<String>,
}

/// Variance components of a gauge study.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GaugeModelResult {
    /// True where the interaction has a component of its own.
    pub interaction: bool,
    /// True for the model to read.
    pub used: bool,
    /// Analysis of variance.
    pub anova: Vec<AnovaRow>,
    /// Components.
    pub components: Vec<ComponentResult>,
    /// Distinct categories, rounded down; null where the gauge does not scatter at all.
    pub categories: Option<u32>,
}

/// A line of an analysis of variance.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AnovaRow {
    /// Source.
    pub source: String,
    /// Degrees of freedom.
    pub df: usize,
    /// Sum of squares, mm².
    pub ss_mm2: f64,
    /// Mean square, mm².
    pub ms_mm2: f64,
    /// F.
    pub f: Option<f64>,
    /// Its probability where the source adds nothing.
    pub p: Option<f64>,
}

/// A variance component.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ComponentResult {
    /// Name: repeatability, part by operator, operator, reproducibility, gauge, part, total.
    pub name: String,
    /// Variance, mm²; a negative estimate counts as 0.
    pub variance: Interval,
    /// The estimate as it came, mm².
    pub raw_mm2: f64,
    /// Standard deviation, mm.
    pub sd_mm: f64,
    /// Share of the total variance, %.
    pub contribution_percent: Option<f64>,
    /// Standard deviation over the total one, %.
    pub study_variation_percent: Option<f64>,
    /// Six standard deviations over the declared tolerance, %.
    pub tolerance_percent: Option<f64>,
}
