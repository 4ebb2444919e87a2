//! README.md and DEVELOPERS.md are true: every path they name is there, every command in them runs, and what they list is what
//! the program knows.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "docs/examples.rs"]
mod examples;
#[path = "shared/folder.rs"]
mod folder;

use clap::CommandFactory;
use folder::copy;
use hooptrace::cli::args::Args;
use hooptrace::judge::RULES;
use hooptrace::read::read_tables;
use hooptrace::recording::{Finding, Grade, Outcome};
use hooptrace::report::CAUTIONS;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

/// First parts of paths of the project.
const PLACES: &[&str] = &[
    "src/",
    "tests/",
    "rigs/",
    "sample-runs/",
    "notebooks/",
    ".ci/",
];
/// Words in capitals stand for a name of the reader's choice.
const NAMES: &[&str] = &["NAME", "RUN", "STUDY", "OUT", "FILE"];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn page(name: &str) -> String {
    fs::read_to_string(root().join(name)).unwrap()
}

/// Blocks of code in a language.
fn blocks(page: &str, language: &str) -> Vec<String> {
    page.split("\n```")
        .filter_map(|part| part.strip_prefix(language)?.strip_prefix('\n'))
        .map(str::to_owned)
        .collect()
}

/// What stands between backticks, outside blocks.
fn quoted(page: &str) -> Vec<String> {
    let mut inside = false;
    let mut words = Vec::new();
    for line in page.lines() {
        if line.starts_with("```") {
            inside = !inside;
        } else if !inside {
            words.extend(line.split('`').skip(1).step_by(2).map(str::to_owned));
        }
    }
    words
}

/// Everything after a heading, up to the next one.
fn section<'p>(page: &'p str, heading: &str) -> &'p str {
    let rest = page
        .split(&format!("\n{heading}\n"))
        .nth(1)
        .unwrap_or_else(|| panic!("no {heading}"));
    let level = format!("\n{} ", heading.split(' ').next().unwrap());
    rest.split(&level).next().unwrap()
}

/// Commands of a page, one a line.
fn commands(page: &str) -> Vec<String> {
    blocks(page, "sh")
        .iter()
        .flat_map(|block| block.lines())
        .map(str::to_owned)
        .filter(|line| !line.trim().is_empty())
        .collect()
}

#[test]
fn every_path_named_is_there() {
    let mut seen = 0;
    for name in ["README.md", "DEVELOPERS.md"] {
        for word in quoted(&page(name)) {
            let at_top = [
                "README.md",
                "DEVELOPERS.md",
                "Cargo.toml",
                "LICENSE-MIT",
                "LICENSE-APACHE",
            ]
            .contains(&word.as_str());
            if !at_top && !PLACES.iter().any(|place| word.starts_with(place)) {
                continue;
            }
            // A file to be made: its folder must be there.
            let path = match word.rsplit_once('/') {
                Some((folder, file)) if NAMES.iter().any(|n| file.starts_with(n)) => folder,
                _ => word.as_str(),
            };
            assert!(root().join(path).exists(), "{name} names {word}");
            assert!(
                !path.ends_with('/') || root().join(path).is_dir(),
                "{name}: {word} is no folder"
            );
            seen += 1;
        }
    }
    assert!(seen > 60, "{seen}");
}

/// Paths that comments of the sources name are there, too.
#[test]
fn every_path_named_in_a_comment_is_there() {
    let mut open = vec![root().join("src"), root().join("rigs")];
    let mut seen = 0;
    while let Some(path) = open.pop() {
        if path.is_dir() {
            open.extend(
                fs::read_dir(path)
                    .unwrap()
                    .map(|entry| entry.unwrap().path()),
            );
            continue;
        }
        let Ok(text) = fs::read_to_string(&path) else {
            continue;
        };
        for comment in text
            .lines()
            .map(str::trim_start)
            .filter(|line| line.starts_with("//"))
        {
            for word in comment.split('`').skip(1).step_by(2) {
                if PLACES.iter().any(|place| word.starts_with(place)) {
                    assert!(
                        root().join(word).exists(),
                        "{} names {word}",
                        path.display()
                    );
                    seen += 1;
                }
            }
        }
    }
    assert!(seen >= 2, "{seen}");
}

#[test]
fn every_folder_of_src_has_its_line_in_the_map() {
    let developers = page("DEVELOPERS.md");
    let map = section(&developers, "## Code map");
    let lines: Vec<&str> = map
        .lines()
        .filter(|line| line.starts_with("- `src/"))
        .collect();
    let mapped: BTreeSet<String> = lines
        .iter()
        .map(|line| line.split('`').nth(1).unwrap().to_owned())
        .collect();
    let folders: BTreeSet<String> = fs::read_dir(root().join("src"))
        .unwrap()
        .map(|entry| entry.unwrap())
        .filter(|entry| entry.path().is_dir())
        .map(|entry| format!("src/{}/", entry.file_name().into_string().unwrap()))
        .collect();
    assert_eq!(mapped, folders);
    assert_eq!(lines.len(), folders.len(), "one line each");
    let mentioned = quoted(&developers);
    for entry in fs::read_dir(root().join("tests")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let shown = if path.is_dir() {
            format!("tests/{name}/")
        } else {
            format!("tests/{name}")
        };
        // The page of `tests/report.rs` has its helpers in a folder of the same name.
        let helper = path.is_dir() && root().join(format!("tests/{name}.rs")).exists();
        assert!(
            helper || name == "all" || mentioned.contains(&shown),
            "DEVELOPERS.md does not tell what {shown} is for"
        );
    }
}

/// Each recipe names the list and the file where it stands.
#[test]
fn recipes_lead_to_the_lists() {
    let developers = page("DEVELOPERS.md");
    let recipes = section(&developers, "## Recipes");
    for (list, file) in [
        ("FORMATS", "src/read/format.rs"),
        ("QUALITY", "src/calibrate/quality/mod.rs"),
        ("DETECTORS", "src/detect/mod.rs"),
        ("MODELS", "src/balloon/diameter.rs"),
        ("RELAXATION_MODELS", "src/balloon/relaxation/mod.rs"),
        ("FORMULAS", "src/orifice/mod.rs"),
        ("RULES", "src/judge/rules/mod.rs"),
        ("STEPS", "src/judge/steps/mod.rs"),
        ("CHECKS", "src/pipeline/checks/mod.rs"),
        ("SECTIONS", "src/report/sections/mod.rs"),
        ("UNITS", "src/units/table.rs"),
    ] {
        assert!(recipes.contains(&format!("`{list}` in `{file}`")), "{list}");
        assert!(
            page(file).contains(&format!("pub const {list}: ")),
            "{list} is not in {file}"
        );
    }
    // A trait named in a recipe is there.
    for word in quoted(recipes).iter().filter(|w| {
        w.chars().next().is_some_and(char::is_uppercase) && w.chars().any(char::is_lowercase)
    }) {
        let known = [
            "read",
            "detect",
            "fit",
            "balloon",
            "balloon/relaxation",
            "orifice",
            "judge/rules",
            "judge/steps",
            "report/sections",
        ]
        .iter()
        .any(|folder| {
            fs::read_dir(root().join("src").join(folder))
                .unwrap()
                .any(|entry| {
                    let path = entry.unwrap().path();
                    path.is_file()
                        && fs::read_to_string(path)
                            .unwrap()
                            .contains(&format!("pub trait {word}"))
                })
        });
        assert!(known || word.contains('.'), "{word} is no trait");
    }
}

/// Every command runs as it stands; the ones that build or test are looked at, not run, since they would run this test.
#[test]
fn every_command_runs() {
    let folder = tempfile::tempdir().unwrap();
    for study in ["harbour-ring", "first-look"] {
        copy(
            &root().join("sample-runs").join(study),
            &folder.path().join("sample-runs").join(study),
        );
    }
    let mut ran = 0;
    for line in ["README.md", "DEVELOPERS.md"]
        .iter()
        .flat_map(|name| commands(&page(name)))
    {
        let words: Vec<&str> = line.split_whitespace().collect();
        match words.as_slice() {
            ["cargo", "run", "--release", "--", rest @ ..] | ["hooptrace", rest @ ..] => {
                run(folder.path(), rest, &line);
                ran += 1;
            }
            ["bash", script] => {
                let checked = Command::new("bash")
                    .arg("-n")
                    .arg(root().join(script))
                    .status();
                assert!(checked.unwrap().success(), "{line}");
                ran += 1;
            }
            [.., "cargo", "test", "--test", name]
            | [.., "cargo", "test", "--test", name, "--", "--ignored"] => {
                let (file, dir) = (
                    root().join(format!("tests/{name}.rs")),
                    root().join(format!("tests/{name}/main.rs")),
                );
                let test = if file.exists() { file } else { dir };
                let text = fs::read_to_string(test).unwrap();
                assert!(
                    !line.ends_with("--ignored") || text.contains("#[ignore"),
                    "{line}"
                );
                for setting in words.iter().filter_map(|word| word.split_once('=')) {
                    assert!(text.contains(setting.0), "{line}");
                }
                ran += 1;
            }
            _ => panic!("not known how to try: {line}"),
        }
    }
    assert!(ran >= 7, "{ran}");
}

fn run(folder: &Path, words: &[&str], line: &str) {
    let (words, to) = match words.iter().position(|word| *word == ">") {
        Some(at) => (&words[..at], words.get(at + 1)),
        None => (words, None),
    };
    let output = Command::new(env!("CARGO_BIN_EXE_hooptrace"))
        .args(words)
        .current_dir(folder)
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{line}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    if let Some(file) = to {
        fs::write(folder.join(file), output.stdout).unwrap();
    }
}

/// The files promised are the files written.
#[test]
fn the_files_promised_are_the_files_written() {
    let readme = page("README.md");
    let promised: BTreeSet<String> = quoted(section(&readme, "## What comes out"))
        .iter()
        .filter_map(|word| word.strip_prefix("out/"))
        .map(|word| word.replace("RUN", "fl1"))
        .collect();
    let study = hooptrace::pipeline::open_study(&root().join("sample-runs/first-look")).unwrap();
    let options = hooptrace::pipeline::Options {
        plots: true,
        trials: None,
        only: vec!["fl1".to_owned()],
    };
    let analysed = hooptrace::pipeline::analyse(&study, &options, &|_, _| {}).unwrap();
    // The reference runs have their sheets, too.
    let written: BTreeSet<String> = analysed
        .outputs
        .into_iter()
        .map(|output| output.path)
        .filter(|path| !path.contains("bl1") && !path.contains("fe1"))
        .collect();
    assert_eq!(promised, written);
}

/// The table of options is that of the program, no more and no less.
#[test]
fn the_options_are_those_of_the_program() {
    let command = Args::command();
    let with_tables = ["analyse", "prove", "compare"];
    let known: BTreeSet<String> = with_tables
        .iter()
        .flat_map(|name| command.find_subcommand(name).unwrap().get_arguments())
        .filter_map(|arg| arg.get_long())
        .filter(|long| *long != "help")
        .map(|long| format!("--{long}"))
        .collect();
    let readme = page("README.md");
    let told: BTreeSet<String> = readme
        .lines()
        .filter_map(|line| line.strip_prefix("| `--"))
        .map(|rest| format!("--{}", rest.split([' ', '`']).next().unwrap()))
        .collect();
    assert_eq!(told, known);
    let commands: BTreeSet<&str> = command
        .get_subcommands()
        .map(clap::Command::get_name)
        .collect();
    assert!(commands.contains("inspect"));
    for plan in command.find_subcommand("plan").unwrap().get_subcommands() {
        let named = format!("`hooptrace plan {}`", plan.get_name());
        assert!(readme.contains(&named), "{named}");
    }
    for status in ["0 done", "1 done", "2 could not be done"] {
        assert!(
            readme.contains(status)
                && command
                    .get_after_help()
                    .unwrap()
                    .to_string()
                    .contains(status),
            "{status}"
        );
    }
}

/// Every column of the tables is read: none is unknown to the reader.
#[test]
fn the_columns_are_those_that_are_read() {
    let readme = page("README.md");
    let folder = tempfile::tempdir().unwrap();
    let mut tables = 0;
    for line in readme.lines().filter(|line| {
        line.starts_with("| `") && line.contains(".csv` | `run_id`")
            || line.contains(".csv` | `frame_id`")
            || line.contains(".csv` | `balloon_id`")
    }) {
        // Words in brackets explain; the columns are in backticks.
        let mut words = line.split('`').skip(1).step_by(2);
        let file = words.next().unwrap();
        let columns: Vec<&str> = words.collect();
        fs::write(folder.path().join(file), row(file, &columns)).unwrap();
        tables += 1;
    }
    assert_eq!(tables, 10);
    let (tables, findings, _) =
        read_tables(folder.path(), None).unwrap_or_else(|findings| panic!("{findings:?}"));
    let doubts: Vec<&Finding> = findings
        .iter()
        .filter(|f| f.code.contains("column") || f.code.contains("unknown"))
        .collect();
    assert!(doubts.is_empty(), "{doubts:?}");
    assert_eq!(tables.runs.len(), 1);
    assert_eq!(
        (
            tables.frames.len(),
            tables.balloons.len(),
            tables.charts.len()
        ),
        (1, 1, 1)
    );
    assert_eq!((tables.calipers.len(), tables.observations.len()), (1, 1));
    // A column that nobody knows is told.
    fs::write(folder.path().join("frames.csv"), "frame_id,colour\nF,red\n").unwrap();
    let (_, findings, _) = read_tables(folder.path(), None).unwrap();
    assert!(
        findings.iter().any(|f| f.message.contains("colour")),
        "{findings:?}"
    );
}

/// A table of one row that makes sense.
fn row(file: &str, columns: &[&str]) -> String {
    let cells: Vec<&str> = columns
        .iter()
        .map(|column| match *column {
            "run_id" => "r1",
            "kind" => "frame",
            "frame_id" => "F",
            "balloon_id" => "B",
            "stage" => "before",
            "method" => "caliper",
            "unit" => "mm",
            "inspection" => "intact",
            "trace" => "traces/r1.csv",
            "rig" => "rigs/r.toml",
            "started_at" => "2025-04-08T10:00:00",
            "u" => "0.1",
            "file" => "images/r1.png",
            "threshold" => "0.5",
            "orifice" => "dark",
            "use" => "yes",
            "tone" => "srgb",
            "shows" => "ring",
            "leaflet" => "1",
            "construction" | "lot" | "arm" | "operator" | "note" | "observer" => "words",
            "what" => "wall clearance",
            _ => "20.5",
        })
        .collect();
    assert!(columns.len() >= 3, "{file}: {columns:?}");
    format!("{}\n{}\n", columns.join(","), cells.join(","))
}

/// Outcomes, grades and rules stand in the README under the words of the results.
#[test]
fn the_words_are_those_of_the_results() {
    let readme = page("README.md");
    let words = quoted(section(&readme, "## What the words mean"));
    for outcome in Outcome::ALL {
        assert!(
            words.iter().any(|word| word == outcome.word()),
            "{}",
            outcome.word()
        );
    }
    for grade in [
        Grade::Agree,
        Grade::TraceOnly,
        Grade::InspectionOnly,
        Grade::Disagree,
    ] {
        let told = serde_json::to_value(grade).unwrap();
        assert!(
            words
                .iter()
                .any(|word| Some(word.as_str()) == told.as_str()),
            "{told}"
        );
    }
    let everywhere = quoted(&readme);
    for rule in RULES {
        assert!(
            everywhere.iter().any(|word| word == rule.name()),
            "{}",
            rule.name()
        );
    }
}

/// The cautions are those of the report, word for word.
#[test]
fn the_cautions_are_those_of_the_report() {
    let plain = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    let readme = page("README.md");
    let told = plain(section(&readme, "## Cautions"));
    for (at, caution) in CAUTIONS.iter().enumerate() {
        let whole = format!(
            "{}. **{}.** {}",
            at + 1,
            caution.heading,
            plain(caution.text)
        );
        assert!(told.contains(&whole), "{whole}");
    }
}

/// Every rig file that the README points to reads as a rig, and says why at every key.
#[test]
fn the_rig_files_are_read_and_explained() {
    let mut rigs: Vec<PathBuf> = fs::read_dir(root().join("rigs"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    rigs.sort();
    assert!(rigs.len() >= 4);
    for path in rigs {
        let name = path.display().to_string();
        let (_, findings) = hooptrace::rig::load_rig(&path, &name)
            .unwrap_or_else(|findings| panic!("{findings:?}"));
        assert!(findings.is_empty(), "{findings:?}");
        let text = fs::read_to_string(&path).unwrap();
        assert!(
            text.lines().filter(|line| line.starts_with('#')).count() > 15,
            "{name} explains little"
        );
    }
}

/// The licence files are the ones that Cargo.toml names.
#[test]
fn the_licences_are_there() {
    assert!(page("Cargo.toml").contains("license = \"MIT OR Apache-2.0\""));
    assert!(
        page("LICENSE-MIT").starts_with("MIT License")
            && page("LICENSE-MIT").contains("the hooptrace developers")
    );
    let apache = page("LICENSE-APACHE");
    assert!(
        apache.contains("Version 2.0, January 2004")
            && apache.contains("END OF TERMS AND CONDITIONS")
    );
}
