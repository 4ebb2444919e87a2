//! The shape of the project itself: who may import whom, who may touch files and the terminal, how long a file may be.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Plain data and words that everything shares. They may name each other, and nothing else.
const CONCEPTS: &[&str] = &["uncertain", "units", "recording", "rig"];

/// Every other folder, and what it may import beside the concepts: only folders that stand above it here, so there is no way round.
///
/// The line and the free balloon (`balloon`) stand before `detect`: reference runs go first, because their capacity says which
/// fall of a frame run is one.
const MAY_IMPORT: &[(&str, &[&str])] = &[
    // Mathematics: these two know nothing of anybody, not even the concepts (see `mathematics_knows_no_physics`).
    ("fit", &[]),
    ("stats", &[]),
    // A concept that every stage may import; its budgets take quantiles from there.
    ("uncertain", &["stats"]),
    // Stages.
    ("read", &[]),
    ("calibrate", &["fit"]),
    // `median` is the only thing the later stages take from calibrate.
    ("segment", &["calibrate"]),
    ("balloon", &["fit", "calibrate", "segment"]),
    (
        "detect",
        &["fit", "stats", "calibrate", "segment", "balloon"],
    ),
    ("measure", &[]),
    ("orifice", &[]),
    ("judge", &["stats", "fit"]),
    // Papers of probability plots are those of the families of `stats`.
    ("plot", &["stats"]),
    ("report", &["plot"]),
    ("table", &[]),
    (
        "pipeline",
        &[
            "read",
            "calibrate",
            "segment",
            "balloon",
            "detect",
            "measure",
            "orifice",
            "judge",
            "plot",
            "report",
            "table",
        ],
    ),
    // The simulated bench shares the plain types and nothing else, so that it can check the analysis.
    ("bench", &[]),
    // The proof sets the two side by side.
    ("prove", &["fit", "stats", "balloon", "pipeline", "bench"]),
    // Two analyses as they were written, beside each other; what the width of an interval is worth takes a quantile.
    ("compare", &["stats"]),
    // A protocol is tried on the simulated bench.
    ("plan", &["stats", "judge", "pipeline", "bench"]),
    // `inspect` looks at one file, so it calls the reader itself.
    (
        "cli",
        &[
            "read", "judge", "table", "pipeline", "plot", "bench", "prove", "compare", "plan",
        ],
    ),
];

/// Imports that should not be. Each is a fault of the design with a way to mend it; the test fails once it is mended, so that
/// the line here goes too.
const FAULTS: &[(&str, &str)] = &[
    // A rig checks the format of stamps with the reader's own parser: the format belongs beside the clock of the rig.
    ("rig", "read"),
];

/// Folders that touch files: the two ends, and the simulator that writes studies.
const FILES: &[&str] = &["read", "rig", "table", "bench"];
/// Folders that may share work between threads: the ends, and the two stages that see every sample of a long recording.
const THREADS: &[&str] = &[
    "read",
    "calibrate",
    "segment",
    "pipeline",
    "prove",
    "plan",
    "cli",
];
/// Words that touch files.
const FILE_WORDS: &[&str] = &["std::fs", "fs::", "File::", "OpenOptions"];
/// Longest file, sources and tests alike, lines.
const LONGEST: usize = 600;
/// What may stand at the top beside what git, cargo and analyses make.
const TOP: &[&str] = &[
    ".ci",
    ".git",
    ".gitignore",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE-APACHE",
    "LICENSE-MIT",
    "README.md",
    "notebooks",
    "out",
    "rigs",
    "sample-runs",
    "src",
    "target",
    "tests",
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn files_below(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    let mut open = vec![folder.to_path_buf()];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(&next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                files.push(path);
            }
        }
    }
    files.sort();
    files
}

/// A source file of the crate.
struct Source {
    /// Path from the top.
    path: String,
    /// Folder below `src` (`pipeline` for `src/pipeline.rs`; empty for `lib.rs` and `main.rs`).
    folder: String,
    /// Names from the top of the crate to the module: `detect::falls` is 2 deep.
    depth: usize,
    text: String,
}

impl Source {
    /// The code before the tests, without comments: line number and line.
    fn code(&self) -> impl Iterator<Item = (usize, &str)> {
        self.text
            .lines()
            .take_while(|line| line.trim() != "#[cfg(test)]")
            .enumerate()
            .filter(|(_, line)| !line.trim_start().starts_with("//"))
            .map(|(at, line)| (at + 1, line))
    }
}

fn sources() -> Vec<Source> {
    let src = root().join("src");
    let mut sources = Vec::new();
    for file in files_below(&src) {
        if file.extension().is_none_or(|ending| ending != "rs") {
            continue;
        }
        let inside: Vec<String> = file
            .strip_prefix(&src)
            .unwrap()
            .iter()
            .map(|part| part.to_string_lossy().trim_end_matches(".rs").to_owned())
            .collect();
        let names: Vec<&String> = inside
            .iter()
            .filter(|name| !matches!(name.as_str(), "mod" | "lib" | "main"))
            .collect();
        sources.push(Source {
            path: format!("src/{}.rs", inside.join("/")),
            folder: names
                .first()
                .map_or_else(String::new, |name| (*name).clone()),
            depth: names.len(),
            text: fs::read_to_string(&file).unwrap(),
        });
    }
    assert!(sources.len() > 150, "only {} sources found", sources.len());
    sources
}

fn is_name(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

/// Modules of the crate's top that a text names: `crate::x`, `crate::{x, y::z}`, and `super::x` where that climbs to the top.
fn imports(text: &str, depth: usize) -> BTreeSet<String> {
    let climb = "super::".repeat(depth.max(1));
    let mut found = BTreeSet::new();
    for way in ["crate::", climb.as_str()] {
        for (at, _) in text.match_indices(way) {
            // `$crate::` and `my_crate::` are others; a longer climb is counted where it begins.
            let before = text[..at].chars().next_back().unwrap_or(' ');
            if is_name(before) || (way != "crate::" && text[..at].ends_with("super::")) {
                continue;
            }
            let rest = &text[at + way.len()..];
            match rest.strip_prefix('{') {
                Some(group) => found.extend(group_heads(group)),
                None => found.extend(head(rest)),
            }
        }
    }
    found.remove("super");
    found
}

fn head(text: &str) -> Option<String> {
    let name: String = text
        .trim_start()
        .chars()
        .take_while(|c| is_name(*c))
        .collect();
    (!name.is_empty()).then_some(name)
}

/// First names of the members of `a, b::{c, d}, e}`.
fn group_heads(group: &str) -> Vec<String> {
    let mut heads: Vec<String> = head(group).into_iter().collect();
    let mut depth = 1;
    for (at, c) in group.char_indices() {
        match c {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 1 => heads.extend(head(&group[at + 1..])),
            _ => {}
        }
        if depth == 0 {
            break;
        }
    }
    heads
}

#[test]
fn imports_are_seen_in_every_spelling() {
    let text = "use crate::fit::x; use crate::{judge, plot::{self, read}, table}; fn f() { super::super::rig::y(); super::near() }";
    let names: Vec<String> = imports(text, 2).into_iter().collect();
    assert_eq!(names, ["fit", "judge", "plot", "rig", "table"]);
    assert!(imports("use super::super::rig;", 3).is_empty());
    assert!(imports("use super::rig;", 1).contains("rig"));
}

/// Folders of `src`.
fn folders() -> BTreeSet<String> {
    fs::read_dir(root().join("src"))
        .unwrap()
        .map(|entry| entry.unwrap())
        .filter(|entry| entry.path().is_dir())
        .map(|entry| entry.file_name().into_string().unwrap())
        .collect()
}

/// The way of the data: no folder imports a later one.
#[test]
fn no_stage_knows_a_later_one() {
    let folders = folders();
    let listed: BTreeSet<String> = CONCEPTS
        .iter()
        .copied()
        .chain(MAY_IMPORT.iter().map(|(folder, _)| *folder))
        .map(str::to_owned)
        .collect();
    assert_eq!(
        folders, listed,
        "a folder of src has no place in the order, or the other way round"
    );
    for (at, (folder, allowed)) in MAY_IMPORT.iter().enumerate() {
        for name in *allowed {
            assert!(
                MAY_IMPORT[..at].iter().any(|(earlier, _)| earlier == name),
                "{folder} may import {name}, which is not before it"
            );
        }
    }
    let mut faults = BTreeSet::new();
    for source in sources().iter().filter(|source| !source.folder.is_empty()) {
        let lines: Vec<&str> = source.code().map(|(_, line)| line).collect();
        let code = lines.join("\n");
        for name in imports(&code, source.depth) {
            let own = name == source.folder || !folders.contains(&name);
            let allowed = MAY_IMPORT
                .iter()
                .find(|(folder, _)| *folder == source.folder)
                .is_some_and(|(_, allowed)| allowed.contains(&name.as_str()));
            if own || allowed || CONCEPTS.contains(&name.as_str()) {
                continue;
            }
            assert!(
                FAULTS.contains(&(source.folder.as_str(), name.as_str())),
                "{} imports {name}",
                source.path
            );
            faults.insert((source.folder.clone(), name));
        }
    }
    assert_eq!(faults.len(), FAULTS.len(), "mended: take it out of FAULTS");
}

/// `fit` and `stats` could stand in a crate of their own.
#[test]
fn mathematics_knows_no_physics() {
    let folders = folders();
    for source in sources()
        .iter()
        .filter(|s| s.folder == "fit" || s.folder == "stats")
    {
        let mut names = imports(&source.text, source.depth);
        names.remove(&source.folder);
        names.retain(|name| folders.contains(name));
        assert!(names.is_empty(), "{} imports {names:?}", source.path);
    }
}

/// Files at the two ends only; clocks and threads, too.
#[test]
fn files_clocks_and_threads_stay_at_the_ends() {
    for source in sources() {
        for (at, line) in source.code() {
            let touches = |words: &[&str]| words.iter().any(|word| line.contains(word));
            let place = format!("{}:{at}: {line}", source.path);
            assert!(
                !touches(FILE_WORDS) || FILES.contains(&source.folder.as_str()),
                "{place}"
            );
            assert!(
                !touches(&["std::time", "Instant::", "SystemTime", "std::env"])
                    || source.path == "src/main.rs",
                "{place}"
            );
            assert!(
                !touches(&["rayon", "std::thread"]) || THREADS.contains(&source.folder.as_str()),
                "{place}"
            );
            assert!(
                !touches(&["std::net", "Command::new", "TcpStream", "UdpSocket"]),
                "{place}"
            );
            assert!(
                !touches(&["rand_chacha", "getrandom"]) || source.path == "src/uncertain/draw.rs",
                "{place}"
            );
            // Their order changes from run to run, and the results would with it.
            assert!(!touches(&["HashMap", "HashSet"]), "{place}");
        }
    }
}

#[test]
fn only_main_prints() {
    for source in sources()
        .iter()
        .filter(|source| source.path != "src/main.rs")
    {
        for (at, line) in source.code() {
            for word in ["print!(", "println!(", "stdout()", "stderr()", "dbg!("] {
                assert!(!line.contains(word), "{}:{at}: {line}", source.path);
            }
        }
    }
}

/// Clippy denies these too; this also sees what an `allow` would hide.
#[test]
fn nothing_outside_tests_gives_up() {
    for source in sources() {
        for (at, line) in source.code() {
            for word in [
                ".unwrap()",
                ".expect(",
                "panic!(",
                "unreachable!(",
                "todo!(",
                "unimplemented!(",
                "assert!(",
                "assert_eq!(",
            ] {
                let debug = line.contains(&format!("debug_{word}"));
                assert!(
                    debug || !line.contains(word),
                    "{}:{at}: {line}",
                    source.path
                );
            }
        }
        let marks = source.text.matches("#[cfg(test)]").count();
        assert!(
            marks <= 1,
            "{}: tests stand at the end, in one place",
            source.path
        );
    }
}

#[test]
fn files_are_short() {
    for folder in ["src", "tests"] {
        for file in files_below(&root().join(folder)) {
            if file.extension().is_some_and(|ending| ending == "rs") {
                let lines = fs::read_to_string(&file).unwrap().lines().count();
                assert!(lines <= LONGEST, "{} has {lines} lines", file.display());
            }
        }
    }
}

/// Whatever implements the trait of a plug-in kind stands in the list of its kind: none is forgotten.
#[test]
fn every_plug_in_is_in_its_list() {
    for (folder, list_file, list, of, least) in [
        ("read", "src/read/format.rs", "FORMATS", "Format", 2),
        ("detect", "src/detect/mod.rs", "DETECTORS", "Detector", 4),
        (
            "balloon",
            "src/balloon/diameter.rs",
            "MODELS",
            "BalloonModel",
            3,
        ),
        (
            "balloon",
            "src/balloon/relaxation/mod.rs",
            "RELAXATION_MODELS",
            "RelaxationModel",
            5,
        ),
        (
            "orifice",
            "src/orifice/mod.rs",
            "FORMULAS",
            "OrificeFormula",
            8,
        ),
        ("judge", "src/judge/rules/mod.rs", "RULES", "Rule", 5),
        ("judge", "src/judge/steps/mod.rs", "STEPS", "Step", 5),
        (
            "report",
            "src/report/sections/mod.rs",
            "SECTIONS",
            "Section",
            10,
        ),
    ] {
        let sources = sources();
        let text = &sources
            .iter()
            .find(|source| source.path == list_file)
            .unwrap()
            .text;
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        let entries = text.split(&format!("pub const {list}: ")).nth(1).unwrap();
        let entries = entries
            .split_once("= &[")
            .unwrap()
            .1
            .split("];")
            .next()
            .unwrap();
        let listed: BTreeSet<&str> = entries
            .split(',')
            .filter_map(|entry| entry.trim().strip_prefix('&'))
            .map(|entry| entry.rsplit("::").next().unwrap())
            .collect();
        let mut there = BTreeSet::new();
        for source in sources.iter().filter(|source| source.folder == folder) {
            for (_, line) in source.code() {
                if let Some(rest) = line.strip_prefix(&format!("impl {of} for ")) {
                    there.extend(head(rest));
                }
            }
        }
        let there: BTreeSet<&str> = there.iter().map(String::as_str).collect();
        assert!(there.len() >= least, "{of}: {there:?}");
        assert_eq!(listed, there, "{list} in {list_file}");
    }
}

/// Names of plug-ins are words of results and protocols: each stands once.
#[test]
fn names_of_plug_ins_are_unique() {
    use hooptrace::{balloon, detect, judge, orifice, read, report, units};
    let lists: [(&str, Vec<&str>); 8] = [
        ("FORMATS", read::FORMATS.iter().map(|f| f.name()).collect()),
        (
            "DETECTORS",
            detect::DETECTORS.iter().map(|d| d.name()).collect(),
        ),
        ("MODELS", balloon::MODELS.iter().map(|m| m.name()).collect()),
        (
            "FORMULAS",
            orifice::FORMULAS.iter().map(|f| f.name()).collect(),
        ),
        ("RULES", judge::RULES.iter().map(|r| r.name()).collect()),
        ("STEPS", judge::STEPS.iter().map(|s| s.name()).collect()),
        (
            "SECTIONS",
            report::SECTIONS.iter().map(|s| s.id()).collect(),
        ),
        ("UNITS", units::UNITS.iter().map(|u| u.symbol).collect()),
    ];
    for (list, names) in lists {
        let different: BTreeSet<&&str> = names.iter().collect();
        assert_eq!(different.len(), names.len(), "{list}: {names:?}");
        assert!(
            names.iter().all(|name| !name.is_empty()),
            "{list}: {names:?}"
        );
    }
}

/// Nothing of the machine it was made on is in the project, and nothing at the top that does not belong there.
#[test]
fn the_project_is_clean() {
    for entry in fs::read_dir(root()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(
            TOP.contains(&name.as_str()),
            "{name} has no place at the top"
        );
    }
    let mut texts: Vec<PathBuf> = ["src", "tests", "rigs", "notebooks", "sample-runs", ".ci"]
        .iter()
        .flat_map(|folder| files_below(&root().join(folder)))
        .collect();
    texts.extend(["README.md", "DEVELOPERS.md", "Cargo.toml"].map(|name| root().join(name)));
    // Written in two parts, so that this file itself does not hold them.
    let places: Vec<String> = ["work/", "tmp/", "home/", "root/", "Users/", "mnt/"]
        .iter()
        .map(|tail| format!("/{tail}"))
        .collect();
    for file in texts {
        let Ok(text) = fs::read_to_string(&file) else {
            continue;
        };
        for (at, line) in text.lines().enumerate() {
            for place in &places {
                // A place on a machine begins a word; `sample-runs/home/` would not.
                let named = line.match_indices(place.as_str()).any(|(k, _)| {
                    let before = line[..k].chars().next_back().unwrap_or(' ');
                    !is_name(before)
                        && !matches!(before, '.' | '-' | '/' | '}' | ')' | ':' | '>' | '\u{b2}')
                });
                assert!(!named, "{}:{}: {line}", file.display(), at + 1);
            }
        }
    }
}

/// Notebooks are kept without what they showed when they were last run.
#[test]
fn notebooks_hold_no_output() {
    let mut seen = 0;
    for file in files_below(&root().join("notebooks")) {
        if file.extension().is_none_or(|ending| ending != "ipynb") {
            continue;
        }
        seen += 1;
        let book: serde_json::Value =
            serde_json::from_str(&fs::read_to_string(&file).unwrap()).unwrap();
        for cell in book["cells"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|cell| cell["cell_type"] == "code")
        {
            assert_eq!(
                cell["outputs"].as_array().map(Vec::len),
                Some(0),
                "{}",
                file.display()
            );
            assert!(cell["execution_count"].is_null(), "{}", file.display());
        }
    }
    assert!(seen > 0);
}
