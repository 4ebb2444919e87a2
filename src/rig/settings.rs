//! Every threshold of the analysis, named, reasoned and settable in `[settings]` of `study.toml`.

use serde::{Deserialize, Serialize};

/// Thresholds. Each has a default; a study may set any of them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Settings {
    /// A sudden fall is looked at from so many standard deviations of the noise of its own estimate.
    pub drop_sigmas: f64,
}

impl Default for Settings {
    fn default() -> Self {
        Self { drop_sigmas: 6.0 }
    }
}
