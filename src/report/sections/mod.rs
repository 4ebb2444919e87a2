//! The sections of the page, one file each. A new section is a file and a line in [`SECTIONS`].

mod adherence;
mod agreement;
mod balloon_ratings;
mod caution_box;
mod cautions;
mod comparisons;
mod figures;
mod findings;
mod groups;
mod head;
mod inner_valve;
mod inputs;
mod observations;
mod runs;
mod series;
mod settings;
mod sources;
mod study_table;
mod verdicts;

use super::{ReportData, ReportError};

/// A part of the page.
pub trait Section: Sync {
    /// Place on the page, for links.
    fn id(&self) -> &'static str;
    /// Heading; empty for a part that brings its own.
    fn title(&self) -> &'static str;
    /// What stands there when the data are absent.
    fn absent(&self) -> &'static str;
    /// The body as HTML, or `None` where the data are absent.
    ///
    /// # Errors
    /// Where a template cannot be written.
    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError>;
}

/// Every section, in the order of the page.
pub const SECTIONS: &[&dyn Section] = &[
    &head::Head,
    &caution_box::CautionBox,
    &study_table::StudyTable,
    &verdicts::Verdicts,
    &adherence::Adherence,
    &groups::Groups,
    &figures::Figures,
    &comparisons::Comparisons,
    &agreement::Agreement,
    &balloon_ratings::BalloonRatings,
    &runs::Runs,
    &findings::Findings,
    &settings::SettingsUsed,
    &inputs::Inputs,
    &cautions::Cautions,
    &sources::Sources,
];
