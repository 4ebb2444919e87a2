//! Made-up agreement of methods, gauge study and observations.

use crate::made_up::interval;
use hooptrace::judge::gauge_studies;
use hooptrace::recording::*;
use std::collections::BTreeMap;

/// Two stages of five frames, a caliper and an outline.
pub fn agreement() -> Vec<MethodAgreement> {
    let mm = |value, half| interval(value, half, "mm");
    let points = (0..10).map(|i| AgreementPoint {
        run_id: format!("run-{:02}", i / 2 + 1),
        stage: ["before", "after"][i % 2].to_owned(),
        first_mm: 20.0 + 0.3 * i as f64,
        second_mm: 20.1 + 0.3 * i as f64 + 0.02 * ((i * 7) % 5) as f64,
    });
    vec![MethodAgreement {
        first: "caliper".to_owned(),
        second: "outline_area".to_owned(),
        measurands: "both estimate the mean diameter".to_owned(),
        n: 10,
        frames: 5,
        points: points.collect(),
        pairs: Some(PairAgreement {
            bias: mm(0.14, 0.02),
            sd: mm(0.03, 0.01),
            lower: mm(0.08, 0.03),
            upper: mm(0.2, 0.03),
            lower_approximate: mm(0.08, 0.03),
            upper_approximate: mm(0.2, 0.03),
            both: mm(0.14, 0.1),
            slope: Some(interval(0.01, 0.02, "1")),
        }),
        by_frame: None,
        single_rounds: None,
        deming: Some(DemingResult {
            slope: interval(1.01, 0.03, "1"),
            intercept: mm(-0.1, 0.5),
            error_variance_ratio: 0.25,
        }),
        stated_line: None,
        remarks: vec!["No limits of agreement by frame: subjects: at least 3 needed.".to_owned()],
    }]
}

/// Three rings, two operators, two rounds each, of a caliper; and plugs that one operator read.
pub fn gauge_rr() -> Vec<GaugeStudy> {
    let mut readings = Vec::new();
    for (part, size) in [("run-01", 21.5), ("run-02", 22.0), ("run-03", 21.8)] {
        for (operator, hand) in [("ada", 0.0), ("ben <i>", 0.03)] {
            for repeat in 1..=2 {
                readings.push(CaliperRow {
                    run_id: part.to_owned(),
                    stage: Stage::Before,
                    method: GaugeMethod::Caliper,
                    orientation_deg: Some(15.0),
                    repeat: Some(repeat),
                    operator: Some(operator.to_owned()),
                    value_mm: size + hand + 0.01 * f64::from(repeat),
                    line: readings.len() as u64 + 2,
                    stands_off: false,
                });
            }
        }
        readings.push(CaliperRow {
            method: GaugeMethod::Plug,
            ..readings[0].clone()
        });
    }
    gauge_studies(&readings, Some(0.6), 0.95)
}

/// Of every kind one.
pub fn observations(n: usize) -> Vec<ObservationSummary> {
    let bare = |name: &str, kind| ObservationSummary {
        name: name.to_owned(),
        stage: Some(Stage::After),
        kind,
        n,
        without: 1,
        number: None,
        rate: None,
        grades: None,
        share: None,
        method: "several rows of a run put together first".to_owned(),
    };
    vec![
        ObservationSummary {
            number: Some(NumberSummary {
                mean: interval(0.55, 0.1, "mm"),
                sd: Some(0.2),
                median: 0.5,
                min: 0.2,
                max: 0.9,
                unit: "mm".to_owned(),
            }),
            ..bare("wall clearance", ObservationKind::Number)
        },
        ObservationSummary {
            grades: Some(GradeSummary {
                counts: [("mild".to_owned(), n)].into(),
                median: Some("mild".to_owned()),
            }),
            ..bare("leaflet grade", ObservationKind::Grade)
        },
        ObservationSummary {
            share: Some(ShareSummary {
                yes: n,
                share: interval(0.9, 0.1, "1"),
            }),
            ..bare("captured debris", ObservationKind::YesNo)
        },
        bare("colour & gloss", ObservationKind::Text),
    ]
}

#[test]
fn methods_and_observations_stand_on_the_page() {
    let (analysis, _) = crate::study(4);
    let figures = hooptrace::plot::agreement_figures(&analysis);
    assert_eq!(figures.len(), 1);
    let svg = &figures[0].svg;
    crate::checks::assert_figure(svg);
    // Stages are told apart by their marks: dots and rings are circles, one of each stands in the legend.
    assert_eq!(svg.matches("<circle").count(), 10 + 2);
    let words = crate::checks::texts(svg);
    assert!(words.iter().any(|t| t == "Mean of both methods (mm)"));
    assert!(words.iter().any(|t| t == "Difference (mm)"));
    assert!(figures[0].caption.contains("10 pairs of 5 frames"));

    let page = hooptrace::report::render(&analysis, &BTreeMap::default(), &[]).unwrap();
    let section = page.split("id=\"agreement\"").nth(1).unwrap();
    let section = section.split("<section").next().unwrap();
    for said in [
        "outline area − caliper",
        "0.08",
        "Gauge study",
        "caliper: repeatability",
        "ben &#60;i&#62;",
        "No run and stage was read by two named operators",
        "a frame breaks once",
        "No limits of agreement by frame",
    ] {
        assert!(section.contains(said), "{said}");
    }
    let groups = page.split("id=\"groups\"").nth(1).unwrap();
    let groups = groups.split("<section").next().unwrap();
    assert!(groups.contains("wall clearance") && groups.contains("mild: "));
    assert!(!groups.contains("colour"), "words are not summed up");
}

/// Every value of which a group has enough is drawn, folded away on the page.
#[test]
fn every_value_has_its_normal_plot() {
    let (analysis, made) = crate::made_up::study(8);
    let enough = |quantity: &str| {
        let mut values = analysis.groups.iter().flat_map(|group| &group.values);
        values.any(|value| value.quantity == quantity && value.plot.len() >= 3)
    };
    let figures = hooptrace::plot::normal_figures(&analysis);
    let mut quantities: Vec<&str> = analysis
        .groups
        .iter()
        .flat_map(|group| &group.values)
        .map(|value| value.quantity.as_str())
        .filter(|quantity| enough(quantity))
        .collect();
    quantities.sort_unstable();
    quantities.dedup();
    assert!(quantities.len() > 1, "{quantities:?}");
    assert_eq!(figures.len(), quantities.len());
    let page = crate::page(&analysis, &made);
    assert!(page.contains(&format!(
        "<summary>Normal plots of measured values: {}</summary>",
        figures.len()
    )));
    for (figure, quantity) in figures.iter().zip(quantities) {
        crate::checks::assert_figure(&figure.svg);
        let title = format!("Normal plot of {}", quantity.replace(['_', '.'], " "));
        assert!(page.contains(&title), "{title}");
    }
}
