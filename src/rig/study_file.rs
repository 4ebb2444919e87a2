//! The `study.toml` of a study folder.

use super::Settings;
use super::document::{Document, Section, read_text};
use super::patient::{HypotheticalPatient, patient};
use super::report_items::report;
use super::series::{Series, series};
use super::settings::{Fault, read};
use crate::recording::{Finding, Place, Severity};
use std::collections::BTreeMap;
use std::path::{Component, Path};

/// Name of the file in the study folder.
const FILE: &str = "study.toml";

/// A study file, checked.
#[derive(Debug, Clone, PartialEq)]
pub struct StudyFile {
    /// Title of the study; the name of the folder where none is given.
    pub title: String,
    /// Rig file, relative to the study folder; `None` where everything is to be sniffed.
    pub rig: Option<String>,
    /// Protocol file, relative to the study folder.
    pub protocol: Option<String>,
    /// Width of the tolerance of a diameter, mm, that a gauge study is set against; none where nobody declares it.
    pub diameter_tolerance_mm: Option<f64>,
    /// Body that orifice areas are set against; none where nobody supposes one.
    pub hypothetical_patient: Option<HypotheticalPatient>,
    /// How the runs are put together.
    pub series: Series,
    /// What the report states of laboratory, customer, items and method, by the key of [`REPORT_ITEMS`](super::REPORT_ITEMS): `None` for what is
    /// not given. Empty without a table `[report]`.
    pub report: BTreeMap<String, Option<String>>,
    /// Thresholds.
    pub settings: Settings,
}

/// Reads and checks `study.toml` of a study folder.
///
/// # Errors
/// All faults found, each with line, column and advice, where at least one makes the study unusable.
pub fn load_study(folder: &Path) -> Result<(StudyFile, Vec<Finding>), Vec<Finding>> {
    let text = read_text(&folder.join(FILE), FILE).map_err(|finding| {
        vec![finding.help("a study is a folder with study.toml, runs.csv and traces/")]
    })?;
    study_from_text(&text, folder)
}

/// Reads and checks the text of a `study.toml`; `folder` is the study folder that its paths must not leave.
///
/// # Errors
/// As [`load_study`].
pub fn study_from_text(
    text: &str,
    folder: &Path,
) -> Result<(StudyFile, Vec<Finding>), Vec<Finding>> {
    let doc = Document::new(FILE, text);
    let root = doc.parse();
    let top = Section::new(&doc, root.get_ref(), root.span(), "");
    let title = top.text("title").map_or_else(
        || {
            let name = folder.file_name().unwrap_or_default();
            name.to_string_lossy().into_owned()
        },
        |(title, _)| title,
    );
    let study = StudyFile {
        title,
        rig: inner_path(&top, folder, "rig"),
        protocol: inner_path(&top, folder, "protocol"),
        diameter_tolerance_mm: top.positive("diameter_tolerance_mm"),
        hypothetical_patient: patient(top.section("hypothetical_patient")),
        series: series(&top),
        report: report(top.section("report")),
        settings: settings(&top.section("settings")),
    };
    top.finish();
    let findings = doc.into_findings();
    if findings.iter().any(|f| f.severity == Severity::Error) {
        Err(findings)
    } else {
        Ok((study, findings))
    }
}

/// A path that stays in the study folder, as written but with `/`.
fn inner_path(top: &Section<'_, '_>, folder: &Path, key: &str) -> Option<String> {
    let (text, span) = top.text(key)?;
    match inside(folder, &text) {
        Ok(path) => Some(path),
        Err(reason) => {
            top.doc.error(
                &span,
                "path-outside",
                format!("`{key}` is \"{text}\": {reason}"),
                Some(
                    "put the file into the study folder and name it relative to that folder"
                        .to_owned(),
                ),
            );
            None
        }
    }
}

/// A relative path of a study, with `/` between its parts, if it stays inside the study folder, also behind links.
///
/// # Errors
/// Why the path is not usable, as the tail of a sentence.
pub fn inside(folder: &Path, text: &str) -> Result<String, String> {
    let text = text.trim().replace('\\', "/");
    let path = Path::new(&text);
    let drive = text.as_bytes().get(1) == Some(&b':');
    if text.is_empty() || text.contains('\0') {
        return Err("it is not a path".to_owned());
    }
    if path.is_absolute() || drive {
        return Err("it is absolute, but only files inside the study folder are read".to_owned());
    }
    let mut depth = 0_i32;
    for component in path.components() {
        match component {
            Component::Normal(_) => depth += 1,
            Component::ParentDir => depth -= 1,
            Component::CurDir => {}
            Component::RootDir | Component::Prefix(_) => depth = -1,
        }
        if depth < 0 {
            return Err("it leaves the study folder, and nothing outside is read".to_owned());
        }
    }
    // A link may lead out although the words do not.
    if let (Ok(root), Ok(real)) = (folder.canonicalize(), folder.join(path).canonicalize())
        && !real.starts_with(&root)
    {
        return Err(
            "it is a link that leads out of the study folder, and nothing outside is read"
                .to_owned(),
        );
    }
    Ok(text)
}

/// Every key by itself, so that each wrong one is reported.
fn settings(section: &Section<'_, '_>) -> Settings {
    let Some(table) = section.table() else {
        return Settings::default();
    };
    let (settings, faults) = read(table, section.doc.text);
    for Fault {
        span,
        message,
        help,
    } in faults
    {
        section.doc.error(&span, "settings", message, help);
    }
    settings
}

/// What messages say of a study without a rig.
pub fn no_rig() -> Finding {
    Finding::doubt(
        "study-no-rig",
        "study.toml names no rig: dialect, clock, columns and units are sniffed, and nothing is known of uncertainty, transducer side and ambient pressure",
    )
    .at(Place::file(FILE))
    .help("add rig = \"rigs/<name>.toml\"")
}
