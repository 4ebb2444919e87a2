//! What can go wrong while drawing.

/// A figure could not be drawn or turned into pixels.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlotError {
    message: String,
}

impl PlotError {
    /// An error from whatever says why.
    pub(crate) fn new(why: &dyn std::fmt::Display) -> Self {
        Self {
            message: why.to_string(),
        }
    }
}

impl std::fmt::Display for PlotError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "the figure could not be drawn: {}", self.message)
    }
}

impl std::error::Error for PlotError {}
