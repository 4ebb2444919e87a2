//! Figures and page of a made-up study.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "report/budgets.rs"]
mod budgets;
#[path = "report/checks.rs"]
mod checks;
#[path = "report/clocks.rs"]
mod clocks;
#[path = "report/kept_steps.rs"]
mod kept_steps;
#[path = "report/made_references.rs"]
mod made_references;
#[path = "report/made_up.rs"]
mod made_up;
#[path = "report/methods.rs"]
mod methods;
#[path = "report/noise.rs"]
mod noise;
#[path = "report/settings.rs"]
mod settings;

use checks::{assert_balanced, assert_figure, ids, texts};
use hooptrace::plot::{RunContext, RunFigures, capital, figures, overview, png, study_figures};
use hooptrace::recording::*;
use hooptrace::report::{CAUTIONS, render};
use made_up::{Made, frame_run, study};
use std::collections::BTreeMap;

/// Every figure of every run of a study, by run.
fn all_figures(analysis: &Analysis, made: &[(Made, RunContext)]) -> BTreeMap<String, RunFigures> {
    analysis
        .runs
        .iter()
        .zip(made)
        .map(|(run, (m, context))| (run.run_id.clone(), figures(run, Some(&m.trace), context)))
        .collect()
}

fn each(figures: &RunFigures) -> Vec<&String> {
    [
        &figures.trace,
        &figures.loop_,
        &figures.frame,
        &figures.diameters,
        &figures.balloon,
        &figures.line,
    ]
    .into_iter()
    .flatten()
    .chain(figures.zooms.iter().map(|zoom| &zoom.svg))
    .collect()
}

fn page(analysis: &Analysis, made: &[(Made, RunContext)]) -> String {
    let figures = all_figures(analysis, made);
    render(analysis, &figures, &study_figures(analysis)).unwrap()
}

#[test]
fn figures_are_well_formed_and_axes_carry_units() {
    let (analysis, made) = study(8);
    let mut count = 0;
    for figures in all_figures(&analysis, &made).values() {
        for svg in each(figures) {
            assert_figure(svg);
            count += 1;
        }
    }
    for figure in study_figures(&analysis) {
        assert_figure(&figure.svg);
        count += 1;
    }
    // Blank: trace, line. Free: trace, loop, balloon. Eight frames: trace, loop, frame, diameters; five of them a zoom. Of the study four, two
    // more papers of families, and the medians of the groups.
    assert_eq!(count, 2 + 3 + 8 * 4 + 5 + 7);
}

#[test]
fn a_zoom_shows_every_raw_sample() {
    let (run, made) = frame_run("r", "a", 1, Some(1100.0));
    let event = &run.events[0];
    let svg = &figures(&run, Some(&made.trace), &RunContext::default()).zooms[0].svg;
    // At 200 Hz fifteen samples at each side are more than 60 ms.
    let low = event.t_lo_s.unwrap() - 0.075;
    let high = made.trace.time_s[event.after] + 0.075;
    let inside = made
        .trace
        .time_s
        .iter()
        .filter(|t| (low..=high).contains(*t))
        .count();
    // One circle more is the legend's.
    assert_eq!(svg.matches("<circle").count(), inside + 1);
    assert!(
        texts(svg)
            .iter()
            .any(|t| t.starts_with("before ") && t.contains("kPa"))
    );
    assert!(
        texts(svg)
            .iter()
            .any(|t| t.starts_with("after ") && t.contains("atm"))
    );
}

#[test]
fn a_long_recording_gives_a_small_figure() {
    let (run, mut made) = frame_run("r", "a", 1, None);
    let n = 1_000_000;
    made.trace.time_s = (0..n).map(|i| f64::from(i) * 1e-3).collect();
    made.trace.pressure_kpa = (0..n).map(|i| f64::from(i % 977)).collect();
    made.trace.clipped = vec![false; n as usize];
    made.trace.volume_ml = Some(made.trace.pressure_kpa.clone());
    made.trace.diameter_mm = None;
    made.trace.step_s = 1e-3;
    let svg = figures(&run, Some(&made.trace), &RunContext::default())
        .trace
        .unwrap();
    assert!(svg.len() < 120_000, "{}", svg.len());
}

#[test]
fn clipped_and_missing_samples_are_said() {
    let (run, mut made) = frame_run("r", "a", 1, None);
    for i in 3000..3400 {
        made.trace.clipped[i] = true;
    }
    for i in 5000..6000 {
        made.trace.pressure_kpa[i] = f64::NAN;
    }
    let svg = figures(&run, Some(&made.trace), &RunContext::default())
        .trace
        .unwrap();
    assert_figure(&svg);
    let words = texts(&svg);
    assert!(
        words
            .iter()
            .any(|t| t == "clipped: true pressure is higher")
    );
    assert!(words.iter().any(|t| t == "no samples"));
    let whole = frame_run("r", "a", 1, None);
    let svg = figures(&whole.0, Some(&whole.1.trace), &RunContext::default())
        .trace
        .unwrap();
    assert!(!svg.contains("clipped") && !svg.contains("no samples"));
}

#[test]
fn pictures_have_the_size_asked_for() {
    let (analysis, made) = study(1);
    let f = figures(&analysis.runs[2], Some(&made[2].0.trace), &made[2].1);
    let sheet = overview(&analysis.runs[2], &f);
    assert!(sheet.matches("<svg").count() >= 5);
    let picture = png(&sheet, 0.5).unwrap();
    assert_eq!(&picture[..8], b"\x89PNG\r\n\x1a\n");
    // Width in the header chunk, PNG specification 11.2.2.
    assert_eq!(u32::from_be_bytes(picture[16..20].try_into().unwrap()), 500);
    assert!(png("no picture", 1.0).is_err());
    assert!(png(&sheet, 1e6).is_err());
}

#[test]
fn the_page_is_balanced_and_self_contained() {
    let (analysis, made) = study(8);
    let page = page(&analysis, &made);
    // Photographs lie inside the page; nothing is fetched.
    assert!(page.contains("default-src 'none'; img-src data:;"));
    assert_balanced(&page);
    let xmlns = page.matches("xmlns=\"http://www.w3.org/2000/svg\"").count();
    assert_eq!(page.matches("http://").count(), xmlns);
    for load in [
        "https://", "<script", "<link", "<iframe", "<img", "src=", "@import", "url(", " onclick",
        " onload",
    ] {
        assert!(!page.contains(load), "{load}");
    }
}

#[test]
fn every_run_finding_caution_and_link_is_there() {
    let (mut analysis, made) = study(8);
    for (i, finding) in analysis
        .runs
        .iter_mut()
        .flat_map(|r| &mut r.findings)
        .enumerate()
    {
        finding.message = format!("message number {i} of a run");
    }
    let page = page(&analysis, &made);
    let ids = ids(&page);
    for (i, run) in analysis.runs.iter().enumerate() {
        let anchor = format!("run-{}", i + 1);
        assert!(ids.contains(&anchor), "{anchor}");
        assert!(page.contains(&format!("href=\"#{anchor}\"")));
        assert!(page.contains(&run.run_id) && page.contains(&capital(&run.outcome_reason)));
        for finding in &run.findings {
            let message = capital(&finding.message);
            assert!(page.contains(&message), "{message}");
            let place = format!(
                "{} · {}:512:t",
                finding.code,
                finding.file.as_ref().unwrap()
            );
            assert!(page.contains(&place), "{place}");
        }
    }
    assert!(page.contains(&capital(&analysis.findings[0].message)));
    // The models tried on a balloon: the best, the next, and one that has no rank.
    assert!(page.contains("ΔAICc 4.39 behind") && page.contains("too few made-up points"));
    for caution in CAUTIONS {
        assert!(page.contains(caution.heading));
    }
    for link in page.split("href=\"#").skip(1) {
        let target = link.split('"').next().unwrap();
        assert!(ids.contains(&target.to_owned()), "{target}");
    }
    let mut once = ids.clone();
    once.sort();
    once.dedup();
    assert_eq!(once.len(), ids.len(), "an id is given twice");
}

#[test]
fn runs_without_fracture_are_called_censored() {
    let (analysis, made) = study(4);
    let page = page(&analysis, &made);
    let run = &analysis.runs[5];
    assert_eq!(run.outcome, Outcome::Stretched);
    let row = page
        .split("href=\"#run-6\">")
        .nth(2)
        .unwrap()
        .split("</tr>")
        .next()
        .unwrap();
    assert!(
        row.contains("no fracture up to") && row.contains("right-censored"),
        "{row}"
    );
    assert!(row.contains(" atm") && row.contains(" kPa"), "{row}");
    assert!(row.contains('▲'), "above the rating: {row}");
    // A fractured run is not.
    let row = page
        .split("href=\"#run-3\">")
        .nth(2)
        .unwrap()
        .split("</tr>")
        .next()
        .unwrap();
    assert!(
        row.contains("fracture at") && !row.contains("no fracture") && !row.contains("censored"),
        "{row}"
    );
}

#[test]
fn hostile_text_stays_text() {
    let (mut analysis, made) = study(2);
    let evil = "<script>alert(1)</script>\"'&\u{1}\u{b}";
    let run = &mut analysis.runs[2];
    run.run_id = evil.to_owned();
    run.note = Some(evil.to_owned());
    run.arm = Some(evil.to_owned());
    run.outcome_reason = evil.to_owned();
    run.findings.push(
        Finding::error(evil, evil)
            .at(Place::cell(evil, 1, evil))
            .help(evil),
    );
    let methods = run.diameters.as_mut().unwrap();
    let stages = methods.by_method["caliper"].clone();
    methods.by_method.insert(evil.to_owned(), stages);
    analysis.study.title = evil.to_owned();
    let figures = all_figures(&analysis, &made);
    for svg in figures.values().flat_map(each) {
        assert_figure(svg);
        assert!(!svg.contains("<script"));
    }
    let sheet = overview(&analysis.runs[2], &figures[evil]);
    assert_figure(&sheet);
    assert!(!sheet.contains("<script"));
    let page = render(&analysis, &figures, &study_figures(&analysis)).unwrap();
    assert_balanced(&page);
    assert!(!page.contains("<script"));
}

#[test]
fn broken_numbers_are_never_printed() {
    let (mut analysis, mut made) = study(4);
    let run = &mut analysis.runs[2];
    let event = &mut run.events[0];
    event.confidence = f64::NAN;
    event.t_lo_s = Some(f64::NEG_INFINITY);
    event.t_hi_s = Some(f64::INFINITY);
    event.pressure.value = Some(f64::NAN);
    event.before = usize::MAX;
    run.recording.noise_kpa = f64::NAN;
    run.recording.smallest_drop_kpa = f64::INFINITY;
    if let Some(frame) = &mut run.frame {
        frame.curve.pressure_kpa[3] = f64::NAN;
        frame.curve.force_n.truncate(5);
        frame.peak_over_rated.value = Some(0.0);
    }
    analysis.runs[0].line.as_mut().unwrap().residual_ml = f64::NAN;
    let group = &mut analysis.groups[0];
    group.tolerance[0].k = f64::INFINITY;
    group.proportion.value = Some(f64::NAN);
    group.weibull.as_mut().unwrap().log_likelihood = f64::NAN;
    group.weibull.as_mut().unwrap().scale.value = Some(-1.0);
    analysis.comparisons[0].p = Some(f64::NAN);
    analysis.comparisons[0].chi2 = Some(f64::NAN);
    made_up::group_of_nothing(&mut analysis.groups[1]);
    analysis.study.ambient_pressure_kpa = f64::NAN;
    made[3].0.trace.pressure_kpa.fill(f64::NAN);
    made[4].0.trace.volume_ml = Some(vec![f64::INFINITY; 3].into());
    made[5].0.trace = Trace::default();
    let page = page(&analysis, &made);
    assert_balanced(&page);
    assert!(!page.contains("NaN"));
    for text in texts(&page) {
        assert!(
            !text
                .split(|c: char| !c.is_alphanumeric())
                .any(|w| w == "inf"),
            "{text}"
        );
    }
}

#[test]
fn the_same_data_give_the_same_bytes() {
    let (analysis, made) = study(4);
    assert_eq!(page(&analysis, &made), page(&analysis, &made));
}

#[test]
fn an_empty_study_says_what_is_absent() {
    let (mut analysis, _) = study(1);
    analysis.runs.clear();
    analysis.groups.clear();
    analysis.comparisons.clear();
    analysis.verdicts.clear();
    analysis.adherence.clear();
    analysis.balloon_ratings.clear();
    analysis.agreement.clear();
    analysis.gauge_rr.clear();
    analysis.findings.clear();
    analysis.inputs.clear();
    analysis.study.settings = serde_json::Value::Null;
    assert!(study_figures(&analysis).is_empty());
    let page = page(&analysis, &[]);
    assert_balanced(&page);
    for section in hooptrace::report::SECTIONS {
        let absent = section.absent();
        if !absent.is_empty() {
            assert!(page.contains(absent), "{absent}");
        }
    }
}

#[test]
fn a_run_without_recording_is_shown_with_its_diameters() {
    let (mut analysis, made) = study(1);
    let mut run = made_up::bare("only-calipers", RunKind::Frame, Outcome::Stretched);
    run.diameters = Some(made_up::diameters(20.1));
    let drawn = figures(&run, None, &made[0].1);
    assert!(drawn.trace.is_none() && drawn.zooms.is_empty() && drawn.diameters.is_some());
    assert_figure(&overview(&run, &RunFigures::default()));
    analysis.runs.push(run);
    let page = page(&analysis, &made);
    assert!(page.contains("This run has no recording."));
    assert!(page.contains("missing: no optical channel in this recording"));
}

/// An invalid run says first what is wrong, with its place and its help, before anything measured.
#[test]
fn an_invalid_run_shows_its_error_first() {
    let (mut analysis, made) = study(1);
    let mut run = made_up::bare("broken", RunKind::Frame, Outcome::Invalid);
    run.outcome_reason = "the column of pressure is missing".to_owned();
    run.diameters = Some(made_up::diameters(20.1));
    run.findings
        .push(Finding::note("small-thing", "worth knowing"));
    run.findings.push(
        Finding::error("column-missing", run.outcome_reason.clone())
            .at(Place::line("traces/broken.csv", 1))
            .help("name the column"),
    );
    analysis.runs.push(run);
    let page = page(&analysis, &made);
    let section = page.split("<article").last().unwrap();
    let at = |what: &str| section.find(what).unwrap_or_else(|| panic!("{what}"));
    assert!(at("The column of pressure is missing") < at("traces/broken.csv:1"));
    assert!(at("name the column") < at("frame run"));
    assert!(at("frame run") < at("Diameter before") && at("Diameter before") < at("Worth knowing"));
    // Once, not again as the reason of the outcome.
    assert_eq!(section.matches("column of pressure is missing").count(), 1);
}

/// A shape told by a diameter method (a pure number) is no diameter: neither in the figure nor under mm.
#[test]
fn ovality_is_not_drawn_as_a_diameter() {
    let (mut analysis, made) = study(1);
    let run = &mut analysis.runs[2];
    let before = figures(run, None, &made[2].1).diameters.unwrap();
    let stages = BTreeMap::from([("before".to_owned(), made_up::q(0.0089, 0.0013, "1"))]);
    let methods = &mut run.diameters.as_mut().unwrap().by_method;
    methods.insert("caliper_ovality".to_owned(), stages);
    let after = figures(run, None, &made[2].1).diameters.unwrap();
    assert_eq!(before, after);
    let page = page(&analysis, &made);
    let row = page.split(">caliper ovality<").nth(1).unwrap();
    let cells = texts(&format!("<{}", row.split("</tr>").next().unwrap()));
    assert_eq!(&cells[..3], ["1", "0.0089", "± 0.0013"]);
}

/// Runs without an arm have their figures, and a fracture without a pressure is said to be left out.
#[test]
fn a_study_without_arms_has_figures_and_says_what_they_lack() {
    let (mut analysis, _) = study(8);
    for run in &mut analysis.runs {
        run.arm = None;
    }
    analysis.groups.truncate(1);
    "all".clone_into(&mut analysis.groups[0].name);
    let frames = analysis.runs.iter().filter(|run| run.frame_id.is_some());
    analysis.groups[0].runs = frames.map(|run| run.run_id.clone()).collect();
    let whole = study_figures(&analysis);
    // Runs, survival, a paper for each of three families, diameters kept.
    assert_eq!(whole.len(), 6);
    assert!(whole.iter().all(|f| !f.caption.contains("left out")));
    let marks = |svg: &str| svg.matches("<circle").count();
    let broken = analysis
        .runs
        .iter_mut()
        .find(|r| r.outcome == Outcome::Fractured)
        .unwrap();
    for event in &mut broken.events {
        (event.t_s, event.pressure.value) = (None, None);
        event.grade = Grade::InspectionOnly;
    }
    let without = study_figures(&analysis);
    assert!(
        without[0]
            .caption
            .contains("1 run without a known pressure")
    );
    assert_eq!(marks(&without[0].svg) + 1, marks(&whole[0].svg));
}

/// A leak takes tens of seconds: its close-up ends where the pressure has fallen by what is said, not at the deflation.
#[test]
fn the_close_up_of_a_leak_reaches_its_level() {
    let (mut run, mut made) = frame_run("r", "a", 1, Some(1100.0));
    let event = &mut run.events[0];
    let t = event.t_s.unwrap();
    event.kind = EventKind::Leak;
    event.pressure = made_up::q(1100.0, 5.0, "kPa");
    event.drop = made_up::q(700.0, 5.0, "kPa");
    for (time, p) in made.trace.time_s.iter().zip(&mut made.trace.pressure_kpa) {
        if *time >= t {
            *p = (1100.0 - 35.0 * (time - t)).max(0.0);
        }
    }
    run.phases.retain(|p| p.kind != PhaseKind::Deflate);
    let drawn = figures(&run, Some(&made.trace), &RunContext::default());
    let words = texts(&drawn.zooms[0].svg);
    // 700 kPa at 35 kPa/s are 20 s: the axis has a label there or just before.
    assert!(words.iter().any(|w| w == "Time from the onset (s)"));
    assert!(
        words
            .iter()
            .any(|w| ["15", "18", "19"].contains(&w.as_str())),
        "{words:?}"
    );
    assert!(!words.iter().any(|w| w == "25"), "{words:?}");
}

/// A run with events of every kind, some close together.
fn crowded() -> (RunResult, Made) {
    let (mut run, mut made) = frame_run("crowded", "a", 1, Some(1100.0));
    let first = run.events[0].clone();
    let t = first.t_s.unwrap();
    for (kind, shift) in [
        (EventKind::Yield, -8.0),
        (EventKind::Fracture, 0.4),
        (EventKind::Slip, 1.5),
        (EventKind::Leak, 3.0),
        (EventKind::Burst, 14.0),
    ] {
        let mut event = first.clone();
        event.kind = kind;
        event.t_s = Some(t + shift);
        event.t_lo_s = Some(t + shift - 0.005);
        event.t_hi_s = Some(t + shift + 0.005);
        let at = made.trace.time_s.partition_point(|v| *v < t + shift);
        let length = if kind == EventKind::Leak { 1000 } else { 4 };
        (event.before, event.after) = (at, at + length);
        event.pressure = made_up::q(made.trace.pressure_kpa[at], 6.0, "kPa");
        run.events.push(event);
    }
    for i in 7000..7400 {
        made.trace.clipped[i] = true;
    }
    for i in 2600..3300 {
        made.trace.pressure_kpa[i] = f64::NAN;
    }
    (run, made)
}

/// No two labels of a trace overlap: each is a row of its own where events are close.
#[test]
fn labels_of_crowded_events_keep_apart() {
    let (run, made) = crowded();
    let drawn = figures(&run, Some(&made.trace), &RunContext::default());
    let svg = drawn.trace.unwrap();
    let size = |name: &str, tag: &str| -> f64 {
        let rest = tag.split(&format!(" {name}=\"")).nth(1).unwrap();
        rest.split('"').next().unwrap().parse().unwrap()
    };
    let mut boxes: Vec<(f64, f64, f64)> = Vec::new();
    for part in svg.split("<text").skip(1) {
        let (tag, rest) = part.split_once('>').unwrap();
        let text = rest.split('<').next().unwrap().trim();
        if !text.contains(" atm (") {
            continue;
        }
        // 0.55 em is narrower than the mean letter of this font, so a found overlap is a true one.
        let width = text.chars().count() as f64 * 0.55 * size("font-size", tag);
        let x = size("x", tag);
        let left = if tag.contains("\"end\"") {
            x - width
        } else {
            x
        };
        boxes.push((left, left + width, size("y", tag)));
    }
    assert_eq!(boxes.len(), 6);
    for (i, a) in boxes.iter().enumerate() {
        for b in &boxes[i + 1..] {
            let apart = a.1 < b.0 || b.1 < a.0 || (a.2 - b.2).abs() > 12.0 * 8.0;
            assert!(apart, "{a:?} {b:?}");
        }
    }
}

/// Writes pages and pictures to the folder named in `HOOPTRACE_LOOK`, to be looked at.
#[test]
#[ignore = "writes pages and pictures to look at"]
fn look() {
    let folder = std::path::PathBuf::from(
        std::env::var_os("HOOPTRACE_LOOK").expect("HOOPTRACE_LOOK names a folder"),
    );
    for n in [8, 60] {
        let (analysis, made) = study(n);
        std::fs::write(
            folder.join(format!("page-{n}.html")),
            page(&analysis, &made),
        )
        .unwrap();
    }
    let (analysis, made) = study(8);
    for (name, figures) in all_figures(&analysis, &made) {
        for (i, svg) in each(&figures).into_iter().enumerate() {
            let picture = png(svg, 1.5).unwrap();
            std::fs::write(folder.join(format!("{name}-{i}.png")), picture).unwrap();
        }
    }
    for (run, (m, context)) in analysis.runs.iter().zip(&made) {
        let sheet = overview(run, &figures(run, Some(&m.trace), context));
        let picture = png(&sheet, 1.0).unwrap();
        std::fs::write(folder.join(format!("{}-sheet.png", run.run_id)), picture).unwrap();
    }
    for (i, figure) in study_figures(&analysis).iter().enumerate() {
        std::fs::write(
            folder.join(format!("study-{i}.png")),
            png(&figure.svg, 1.5).unwrap(),
        )
        .unwrap();
    }
    let (run, m) = crowded();
    let drawn = figures(&run, Some(&m.trace), &made[2].1);
    for (i, svg) in each(&drawn).into_iter().enumerate() {
        std::fs::write(
            folder.join(format!("crowded-{i}.png")),
            png(svg, 1.5).unwrap(),
        )
        .unwrap();
    }
}
