//! Studies with photographs, from their folder to the report.

use super::scene::{Chance, Scene};
use hooptrace::pipeline::{Options, analyse, check, open_study};
use hooptrace::read::{picture_from_bytes, sha256, tables_from_bytes};
use hooptrace::recording::{Analysis, Finding, RunResult, Severity};
use image::codecs::png::PngEncoder;
use image::codecs::tiff::TiffEncoder;
use image::{ExtendedColorType, ImageEncoder};
use std::fs;
use std::io::Cursor;
use std::path::Path;

#[path = "../shared/folder.rs"]
mod folder;

const HEADER: &str = "run_id,stage,file,mm_per_px,u_mm_per_px_rel,gauge_mm,gauge_x1,gauge_y1,gauge_x2,gauge_y2,u_gauge_px,threshold,orifice,shows,tone,centre_x,centre_y,use\n";

fn png(scene: &Scene, seed: u64) -> Vec<u8> {
    let picture = scene.picture(&mut Chance::new(seed));
    let grey: Vec<u8> = picture.grey.iter().map(|grey| *grey as u8).collect();
    let mut bytes = Vec::new();
    let size = scene.size as u32;
    PngEncoder::new(&mut bytes)
        .write_image(&grey, size, size, ExtendedColorType::L8)
        .unwrap();
    bytes
}

/// The same with 16 bit, 256 times finer, as TIFF.
fn tiff(scene: &Scene, seed: u64) -> Vec<u8> {
    let picture = scene.picture(&mut Chance::new(seed));
    let grey: Vec<u8> = picture
        .grey
        .iter()
        .flat_map(|grey| (grey * 256).to_ne_bytes())
        .collect();
    let mut bytes = Cursor::new(Vec::new());
    let size = scene.size as u32;
    TiffEncoder::new(&mut bytes)
        .write_image(&grey, size, size, ExtendedColorType::L16)
        .unwrap();
    bytes.into_inner()
}

/// The first sample study with tables and pictures added.
fn study(images: &str, leaflets: &str, pictures: &[(&str, Vec<u8>)]) -> tempfile::TempDir {
    let made = tempfile::tempdir().unwrap();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    folder::copy(&root.join("sample-runs/first-look"), made.path());
    fs::create_dir(made.path().join("images")).unwrap();
    for (name, bytes) in pictures {
        fs::write(made.path().join("images").join(name), bytes).unwrap();
    }
    fs::write(made.path().join("images.csv"), format!("{HEADER}{images}")).unwrap();
    if !leaflets.is_empty() {
        fs::write(made.path().join("leaflets.csv"), leaflets).unwrap();
    }
    made
}

fn analysed(folder: &Path, plots: bool) -> (Analysis, Vec<(String, Vec<u8>)>) {
    let study = open_study(folder).map_err(|f| format!("{f:?}")).unwrap();
    let options = Options {
        plots,
        ..Options::default()
    };
    let done = analyse(&study, &options, &|_, _| ())
        .map_err(|f| format!("{f:?}"))
        .unwrap();
    let outputs = done.outputs.into_iter().map(|o| (o.path, o.bytes));
    (done.analysis, outputs.collect())
}

fn run<'a>(analysis: &'a Analysis, id: &str) -> &'a RunResult {
    analysis.runs.iter().find(|run| run.run_id == id).unwrap()
}

fn of<'a>(findings: &'a [Finding], code: &str) -> &'a Finding {
    let found = findings.iter().find(|f| f.code == code);
    found.unwrap_or_else(|| panic!("no {code} in {findings:?}"))
}

#[test]
fn pictures_of_a_study_become_outlines_beside_the_others() {
    let scene = Scene {
        depth: 0.1,
        ..Scene::default()
    };
    let wide = Scene {
        radius: 66.0,
        ..Scene::default()
    };
    let made = study(
        "fl1,before,images/a.png,0.15,0.001,,,,,,,,,ring,linear,,,\n\
         fl1,after,images/b.tif,,,20,10,20,110,20,0.5,,bright,ring,linear,100,99,yes\n\
         fl1,after,images/a.png,0.15,0.001,,,,,,,,,ring,linear,,,no\n\
         fl2,before,images/a.png,,,,,,,,,,,,,,,\n\
         fl2,after,images/broken.png,0.15,0.001,,,,,,,,,,,,,\n\
         fl3,before,images/missing.png,0.15,0.001,,,,,,,,,,,,,\n\
         fl3,after,../elsewhere.png,0.15,0.001,,,,,,,,,,,,,\n",
        "run_id,stage,leaflet,x,y,unit,u_point\n\
         fl1,after,A,0,0,px,1\nfl1,after,A,300,0,px,1\nfl1,after,A,300,400,px,1\n\
         fl1,after,B,0,0,px,1\nfl1,after,B,200,10,px,1\nfl1,after,B,400,0,px,1\n",
        &[
            ("a.png", png(&scene, 1)),
            ("b.tif", tiff(&wide, 2)),
            ("broken.png", png(&scene, 1)[..900].to_vec()),
        ],
    );
    let (analysis, outputs) = analysed(made.path(), true);
    let first = run(&analysis, "fl1");
    assert_eq!(first.photographs.len(), 3);
    let methods = &first.diameters.as_ref().unwrap().by_method;
    let (before, u) = methods["photograph_area"]["before"].pair().unwrap();
    assert!(
        (before - 0.15 * scene.diameter()).abs() < 2.0 * u,
        "{before} ± {u}"
    );
    // The gauge: 20 mm over 100 px, each end to half a pixel, so 0.7 % of the scale.
    let (after, u) = methods["photograph_area"]["after"].pair().unwrap();
    assert!(
        (after - 0.2 * wide.diameter()).abs() < 2.0 * u,
        "{after} ± {u}"
    );
    assert!((u / after - 0.007_07).abs() < 2e-4, "{u}");
    for method in [
        "photograph_perimeter",
        "photograph_inscribed",
        "photograph_feret_max",
        "photograph_feret_min",
        "photograph_circle",
    ] {
        assert!(methods[method]["before"].pair().is_some(), "{method}");
    }
    // The outline of the table is reported by itself, and the caliper stays the diameter of the frame.
    assert!(methods.contains_key("outline_area"));
    let before = &first.diameters.as_ref().unwrap().before;
    assert_eq!(before, &methods["caliper"]["before"]);
    assert_eq!(of(&first.findings, "photograph-rejected").line, Some(4));
    let edges = &first.leaflets[0];
    assert!((edges.max.value.unwrap() - 0.4).abs() < 1e-12);
    assert_eq!(edges.leaflets.len(), 2);

    let second = run(&analysis, "fl2");
    assert_eq!(second.photographs.len(), 1);
    assert_eq!(second.photographs[0].area.unit, "px2");
    assert!(
        !second
            .diameters
            .as_ref()
            .unwrap()
            .by_method
            .contains_key("photograph_area")
    );
    let bare = of(&second.findings, "photograph-no-scale");
    assert_eq!(
        (bare.line, bare.column.as_deref()),
        (Some(5), Some("mm_per_px"))
    );
    let broken = of(&second.findings, "picture-unreadable");
    assert_eq!(broken.severity, Severity::Error);
    assert_eq!(
        (broken.file.as_deref(), broken.line),
        (Some("images.csv"), Some(6))
    );
    assert!(broken.message.contains("images/broken.png"));
    let third = run(&analysis, "fl3");
    of(&third.findings, "file-unreadable");
    of(&third.findings, "path-outside");
    assert_eq!(
        third.outcome,
        run(&analysed(&sample(), false).0, "fl3").outcome
    );

    for name in [
        "images.csv",
        "leaflets.csv",
        "images/a.png",
        "images/b.tif",
        "images/broken.png",
    ] {
        let input = analysis.inputs.iter().find(|input| input.path == name);
        let bytes = fs::read(made.path().join(name)).unwrap();
        assert_eq!(input.unwrap().sha256, sha256(&bytes), "{name}");
    }
    let page = outputs
        .iter()
        .find(|(path, _)| path == "report.html")
        .unwrap();
    let page = std::str::from_utf8(&page.1).unwrap();
    assert_eq!(page.matches("data:image/png;base64,").count(), 4);
    assert!(page.contains("REJECTED (use = no)"));
    assert!(page.contains("grey noise at the edge"));
    assert_eq!(outputs, analysed(made.path(), true).1, "the same bytes");
    let codes = check(made.path(), &|_, _| ()).findings;
    of(&codes, "picture-unreadable");
    of(&codes, "path-outside");
}

fn sample() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-runs/first-look")
}

#[test]
fn a_study_without_pictures_says_nothing_of_them() {
    let (_, outputs) = analysed(&sample(), true);
    for (path, bytes) in outputs {
        let text = String::from_utf8_lossy(&bytes).to_lowercase();
        assert!(
            !text.contains("photograph") && !text.contains("leaflets\""),
            "{path}"
        );
    }
}

/// Only a picture that is said to show the ring stands for the diameter of the frame, and only where nothing else was measured.
#[test]
fn a_ring_in_a_picture_stands_for_the_frame_and_an_orifice_does_not() {
    let scene = Scene::default();
    for (shows, stands) in [("ring", true), ("orifice", false), ("", false)] {
        let row = format!("fl1,before,images/a.png,0.15,0.001,,,,,,,,,{shows},linear,,,\n");
        let made = study(&row, "", &[("a.png", png(&scene, 1))]);
        for table in ["calipers.csv", "contours.csv"] {
            fs::remove_file(made.path().join(table)).unwrap();
        }
        let (analysis, _) = analysed(made.path(), false);
        let diameters = run(&analysis, "fl1").diameters.as_ref().unwrap();
        assert_eq!(diameters.before.value.is_some(), stands, "{shows}");
        assert!(diameters.by_method["photograph_area"].contains_key("before"));
        let missed = check(made.path(), &|_, _| ())
            .findings
            .into_iter()
            .any(|f| f.code == "no-diameter-before" && f.run_id.as_deref() == Some("fl1"));
        assert_eq!(missed, !stands, "{shows}");
    }
}

#[test]
fn every_fault_of_a_row_is_told_with_its_place() {
    let runs = ("runs.csv".to_owned(), b"run_id,kind\nf1,frame\n".to_vec());
    for (row, code, column) in [
        ("f1,befor,a.png,,,,,,,,,,,,,,,", "unknown-word", "stage"),
        ("f1,before,,,,,,,,,,,,,,,,", "cell-empty", "file"),
        (
            "f1,before,/etc/a.png,,,,,,,,,,,,,,,",
            "path-outside",
            "file",
        ),
        (
            "f1,before,a.png,0,,,,,,,,,,,,,,",
            "value-out-of-range",
            "mm_per_px",
        ),
        (
            "f1,before,a.png,wide,,,,,,,,,,,,,,",
            "not-a-number",
            "mm_per_px",
        ),
        (
            "f1,before,a.png,,,10,5,5,,9,,,,,,,,",
            "gauge-incomplete",
            "gauge_x2",
        ),
        (
            "f1,before,a.png,,,10,5,5,8,9,,,,,,,,",
            "gauge-too-short",
            "gauge_x2",
        ),
        (
            "f1,before,a.png,,,,,,,,,-3,,,,,,",
            "value-out-of-range",
            "threshold",
        ),
        (
            "f1,before,a.png,,,,,,,,,,grey,,,,,",
            "unknown-word",
            "orifice",
        ),
        (
            "f1,before,a.png,,,,,,,,,,,stent,,,,",
            "unknown-word",
            "shows",
        ),
        (
            "f1,before,a.png,,,,,,,,,,,,gamma,,,",
            "unknown-word",
            "tone",
        ),
        ("f1,before,a.png,,,,,,,,,,,,,,,maybe", "unknown-word", "use"),
    ] {
        let images = (
            "images.csv".to_owned(),
            format!("{HEADER}{row}\n").into_bytes(),
        );
        let (tables, findings, _) = tables_from_bytes(&[runs.clone(), images], None).unwrap();
        assert!(tables.photographs.is_empty(), "{row}");
        let finding = of(&findings, code);
        assert_eq!(finding.severity, Severity::Error, "{row}");
        assert_eq!(finding.file.as_deref(), Some("images.csv"));
        assert_eq!(
            (finding.line, finding.column.as_deref()),
            (Some(2), Some(column)),
            "{row}"
        );
    }
    let twice = "f1,before,a.png,,,,,,,,,,,,,,,\n".repeat(2);
    let images = (
        "images.csv".to_owned(),
        format!("{HEADER}{twice}").into_bytes(),
    );
    let (tables, findings, _) = tables_from_bytes(&[runs.clone(), images], None).unwrap();
    assert_eq!(tables.photographs.len(), 1);
    assert_eq!(of(&findings, "photograph-twice").line, Some(3));
    let edges = "run_id,stage,leaflet,x,y,unit\nf1,after,A,1,,px\nf1,after,A,1,2,ell\nf1,after,A,0.1,0.2,cm\nf1,after,A,3,4,px\n";
    let edges = ("leaflets.csv".to_owned(), edges.as_bytes().to_vec());
    let (tables, findings, _) = tables_from_bytes(&[runs, edges], None).unwrap();
    assert_eq!(tables.leaflets[0].points, [(1.0, 2.0)]);
    for (code, line) in [("cell-empty", 2), ("unknown-unit", 3), ("unit-changes", 5)] {
        assert_eq!(of(&findings, code).line, Some(line), "{code}");
    }
}

/// A header that promises more pixels than are read is refused before any of them is decoded, and no cut of a file brings the program
/// down.
#[test]
fn broken_and_oversized_pictures_are_refused() {
    let whole = png(
        &Scene {
            size: 64,
            radius: 20.0,
            centre: (31.0, 33.0),
            ..Scene::default()
        },
        1,
    );
    assert!(picture_from_bytes(&whole, "a.png").is_ok());
    let mut wide = whole.clone();
    for (width, height) in [(60_000_u32, 20_u32), (29_000, 29_000), (0, 0), (4, 4)] {
        wide[16..20].copy_from_slice(&width.to_be_bytes());
        wide[20..24].copy_from_slice(&height.to_be_bytes());
        let mut crc = flate2::Crc::new();
        crc.update(&wide[12..29]);
        wide[29..33].copy_from_slice(&crc.sum().to_be_bytes());
        let error = picture_from_bytes(&wide, "a.png").unwrap_err();
        assert_eq!(error.code, "picture-unreadable", "{width} × {height}");
        assert!(error.help.is_some());
    }
    let scene = Scene {
        size: 64,
        radius: 20.0,
        centre: (31.0, 33.0),
        ..Scene::default()
    };
    let files = [whole, tiff(&scene, 1)];
    for bytes in files {
        let mut chance = Chance::new(9);
        for end in (0..bytes.len()).step_by(97) {
            let _ = picture_from_bytes(&bytes[..end], "a");
            let mut garbled = bytes.clone();
            garbled[end] ^= chance.between(1.0, 255.0) as u8;
            let _ = picture_from_bytes(&garbled, "a");
        }
    }
    assert!(picture_from_bytes(b"GIF89a", "a.gif").is_err());
    assert!(picture_from_bytes(b"", "a").is_err());
}

/// Colours become luma by the stated weights: red 0.2126, green 0.7152, blue 0.0722.
#[test]
fn colours_become_grey_by_the_stated_formula() {
    let pixels: Vec<u8> = (0..20 * 20)
        .flat_map(|i| match i % 3 {
            0 => [200, 0, 0],
            1 => [0, 200, 0],
            _ => [0, 0, 200],
        })
        .collect();
    let mut bytes = Vec::new();
    PngEncoder::new(&mut bytes)
        .write_image(&pixels, 20, 20, ExtendedColorType::Rgb8)
        .unwrap();
    let picture = picture_from_bytes(&bytes, "a.png").unwrap();
    assert_eq!(picture.grey[..3], [43, 143, 14]);
    assert!(picture.formula.contains("0.2126 R"));
}
