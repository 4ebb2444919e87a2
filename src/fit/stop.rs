//! Why an iterative fit stopped.

use std::fmt;

use levenberg_marquardt::TerminationReason;

/// Why an iterative fit stopped.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StopReason {
    /// Neither the sum of squares nor the parameters change any more: converged.
    Settled,
    /// The residuals are orthogonal to every direction of the model: converged.
    Stationary,
    /// Every residual is exactly zero: converged.
    ExactFit,
    /// No parameter was left to move, all are held at a bound or none was free.
    NothingToMove,
    /// The arithmetic is exhausted before the tolerances are met: as good as it gets, converged.
    PrecisionReached,
    /// The permitted number of evaluations was used up: **not** converged.
    OutOfEvaluations,
    /// The model or its derivatives stopped being finite: **not** converged.
    ModelNotFinite,
}

impl StopReason {
    /// Whether the parameters are those of a (local) least-squares minimum.
    pub fn converged(self) -> bool {
        !matches!(self, Self::OutOfEvaluations | Self::ModelNotFinite)
    }
}

impl From<&TerminationReason> for StopReason {
    fn from(reason: &TerminationReason) -> Self {
        match reason {
            TerminationReason::Converged { .. } => Self::Settled,
            TerminationReason::Orthogonal => Self::Stationary,
            TerminationReason::ResidualsZero => Self::ExactFit,
            TerminationReason::NoImprovementPossible(_) => Self::PrecisionReached,
            TerminationReason::LostPatience => Self::OutOfEvaluations,
            TerminationReason::NoParameters => Self::NothingToMove,
            TerminationReason::User(_)
            | TerminationReason::Numerical(_)
            | TerminationReason::NoResiduals
            | TerminationReason::WrongDimensions(_) => Self::ModelNotFinite,
        }
    }
}

impl fmt::Display for StopReason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Settled => "converged: sum of squares or parameters no longer change",
            Self::Stationary => "converged: residuals orthogonal to the model",
            Self::ExactFit => "converged: all residuals are zero",
            Self::NothingToMove => "all parameters are held",
            Self::PrecisionReached => "converged to the limit of the arithmetic",
            Self::OutOfEvaluations => "not converged: out of evaluations",
            Self::ModelNotFinite => "not converged: the model stopped being finite",
        })
    }
}
