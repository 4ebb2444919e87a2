//! Figures and page of a made-up study.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

#[path = "report/made_up.rs"]
mod made_up;

use hooptrace::plot::{figures, overview, png, study_figures};

/// Writes every figure of one run to the folder in `HOOPTRACE_LOOK`.
#[test]
#[ignore = "writes pictures to look at"]
fn look_at_figures() {
    let Some(folder) = std::env::var_os("HOOPTRACE_LOOK") else {
        return;
    };
    let folder = std::path::PathBuf::from(folder);
    let (analysis, made) = made_up::study(8);
    for i in [0, 1, 2, 5] {
        let (m, c) = &made[i];
        let f = figures(&analysis.runs[i], Some(&m.trace), c);
        for (name, svg) in [
            ("trace", &f.trace),
            ("loop", &f.loop_),
            ("frame", &f.frame),
            ("diameters", &f.diameters),
            ("balloon", &f.balloon),
            ("line", &f.line),
            ("zoom", &f.zooms.first().map(|z| z.1.clone())),
        ] {
            if let Some(svg) = svg {
                println!("{i}-{name} {}", svg.len());
                std::fs::write(
                    folder.join(format!("{i}-{name}.png")),
                    png(svg, 1.5).unwrap(),
                )
                .unwrap();
            }
        }
        let page = overview(&analysis.runs[i], &f);
        std::fs::write(
            folder.join(format!("{i}-overview.png")),
            png(&page, 1.0).unwrap(),
        )
        .unwrap();
    }
    for (i, (_, svg)) in study_figures(&analysis).iter().enumerate() {
        std::fs::write(
            folder.join(format!("study-{i}.png")),
            png(svg, 1.3).unwrap(),
        )
        .unwrap();
    }
}

/// Writes the page of 8 and of 60 runs to the folder in `HOOPTRACE_LOOK`.
#[test]
#[ignore = "writes pages to look at"]
fn look_at_pages() {
    let Some(folder) = std::env::var_os("HOOPTRACE_LOOK") else {
        return;
    };
    let folder = std::path::PathBuf::from(folder);
    for n in [8, 60] {
        let (analysis, made) = made_up::study(n);
        let figures = analysis
            .runs
            .iter()
            .zip(&made)
            .map(|(run, (m, c))| (run.run_id.clone(), figures(run, Some(&m.trace), c)))
            .collect();
        let page =
            hooptrace::report::render(&analysis, &figures, &study_figures(&analysis)).unwrap();
        std::fs::write(folder.join(format!("page-{n}.html")), page).unwrap();
    }
}
