//! Rated burst pressures from burst tests.

use super::{ReportData, ReportError, Section};
use crate::recording::BalloonRating;
use crate::report::show::{self, KPA_PER_ATM, MISSING};
use crate::report::table::{Cell, Table, numbers, words};

/// Ratings.
pub struct BalloonRatings;

impl Section for BalloonRatings {
    fn id(&self) -> &'static str {
        "balloon-ratings"
    }

    fn title(&self) -> &'static str {
        "Rated burst pressure from burst tests"
    }

    fn absent(&self) -> &'static str {
        "No free run ended in a burst."
    }

    fn render(&self, data: &ReportData<'_>) -> Result<Option<String>, ReportError> {
        let ratings = &data.analysis.balloon_ratings;
        if ratings.is_empty() {
            return Ok(None);
        }
        let mut table = Table::new(
            "",
            vec![
                words("Balloon"),
                numbers("Bursts", ""),
                numbers("Mean burst pressure", "atm"),
                numbers("Standard deviation", "atm"),
                numbers("k", ""),
                numbers("mean − k s", "atm"),
                numbers("Rounded down", "atm"),
                numbers("As labelled", "atm"),
                words("To keep in mind"),
            ],
            ratings.iter().map(row).collect(),
        );
        if let Some(first) = ratings.first() {
            table.note = format!(
                "One-sided lower tolerance limit: {} % of the balloons hold it, with {} % confidence.",
                show::digits(100.0 * first.coverage, 4),
                show::digits(100.0 * first.confidence, 4)
            );
        }
        table.html().map(Some)
    }
}

fn row(rating: &BalloonRating) -> Vec<Cell> {
    let number = |value: Option<f64>, places: i32| {
        Cell::number(value.map_or(MISSING.to_owned(), |v| show::fixed(v, places)))
    };
    let mut remarks: Vec<&str> = rating.reason.iter().map(String::as_str).collect();
    remarks.extend(rating.remarks.iter().map(String::as_str));
    vec![
        Cell::text(&rating.name),
        Cell::number(rating.bursts.to_string()),
        Cell::quantity(&rating.mean, KPA_PER_ATM),
        number(rating.sd_kpa.map(|sd| sd / KPA_PER_ATM), 3),
        number(rating.k, 4),
        number(rating.limit_kpa.map(|limit| limit / KPA_PER_ATM), 2),
        number(rating.rated_atm, 1),
        number(rating.labelled_atm, 1),
        Cell::text(remarks.join(" ")),
    ]
}
