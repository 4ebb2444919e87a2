//! The `[report]` table of a study file: what a report on a test states beside its results.
//!
//! The list follows ISO/IEC 17025:2017, 7.8.2.1 a) to p), as far as it is no result and not on the page already (title, a mark on every page, end of
//! the report, results with units, and that they relate to the items tested only). Letters from memory: compare them with your copy.

use super::document::Section;
use std::collections::BTreeMap;

/// Longest entry, characters: the head of a page, not the report itself.
const LONGEST: usize = 1000;

/// Something a report states.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ReportItem {
    /// Key in the study file and in the results.
    pub key: &'static str,
    /// Letter of ISO/IEC 17025:2017, 7.8.2.1.
    pub clause: &'static str,
    /// Its words on the page.
    pub label: &'static str,
}

const fn item(key: &'static str, clause: &'static str, label: &'static str) -> ReportItem {
    ReportItem { key, clause, label }
}

/// Every item, in the order of the page.
pub const REPORT_ITEMS: &[ReportItem] = &[
    item("report_id", "d", "Report"),
    item("laboratory", "b", "Laboratory"),
    item("address", "b", "Address"),
    item("location", "c", "Performed at"),
    item("customer", "e", "Customer"),
    item("method", "f", "Method"),
    item("items", "g", "Items"),
    item("item_condition", "g", "Condition of the items"),
    item("received_on", "h", "Items received"),
    item("performed_on", "i", "Tests performed"),
    item("issued_on", "j", "Report issued"),
    item("sampling", "k", "Sampling"),
    item("deviations", "n", "Deviations from the method"),
    item("authorised_by", "o", "Authorised by"),
    item("external_providers", "p", "Results of external providers"),
];

/// Reads the table: every item with what is given of it; empty where the file has no such table.
pub(super) fn report(section: Section<'_, '_>) -> BTreeMap<String, Option<String>> {
    if !section.exists() {
        return BTreeMap::new();
    }
    let given = REPORT_ITEMS
        .iter()
        .map(|item| (item.key.to_owned(), entry(&section, item.key)))
        .collect();
    section.finish();
    given
}

fn entry(section: &Section<'_, '_>, key: &str) -> Option<String> {
    let (text, span) = section.text(key)?;
    let text = text.trim();
    if text.chars().count() > LONGEST {
        section.doc.error(
            &span,
            "toml-value",
            format!(
                "{} `{key}` is longer than {LONGEST} characters",
                section.name
            ),
            Some("put it into a document of its own and name that".to_owned()),
        );
        return None;
    }
    (!text.is_empty()).then(|| text.to_owned())
}
