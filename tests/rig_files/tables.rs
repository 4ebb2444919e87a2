//! Study tables that are sound, as text of any dialect or sheets of a workbook, in bench units.

use super::support::{FULL, RUNS, load, study, tables};
use hooptrace::read::read_tables;
use hooptrace::recording::{GaugeMethod, Inspection, RunKind, Stage};

#[test]
fn tables_of_any_dialect_come_in_bench_units() {
    let plain = [
        ("runs.csv", RUNS),
        (
            "frames.csv",
            "frame_id,construction,true_id_in\nF1,band,0.9\n",
        ),
        (
            "balloons.csv",
            "balloon_id,nominal_diameter_mm,nominal_pressure_atm,rated_burst_pressure_psi\nB1,24,8,300\n",
        ),
        (
            "charts.csv",
            "balloon_id,pressure_bar,diameter_mm\nB1,2,23.5\n",
        ),
        (
            "calipers.csv",
            "run_id,stage,method,orientation_deg,repeat,operator,value,unit\nr2,before,caliper,20,1,op-b,0.9,in\nr2,after,plug,,,,21500,um\n",
        ),
        (
            "contours.csv",
            "run_id,stage,x,y,unit,scale_mm_per_px\nr2,before,0,0,px,0.05\nr2,before,100,0,px,0.05\nr2,before,0,200,px,0.05\n",
        ),
        (
            "flow.csv",
            "run_id,stage,time_ms,flow_l_min,dp_kpa\nr2,after,0,6,1\nr2,after,4,12,2\n",
        ),
        (
            "observations.csv",
            "run_id,stage,what,value,unit,observer\nr2,after,gap,1.6,mm,op-a\n",
        ),
    ];
    let local: Vec<(String, String)> = plain
        .iter()
        .map(|(name, text)| {
            (
                (*name).to_owned(),
                text.replace("long, with", "long with")
                    .replace(',', ";")
                    .replace('.', ","),
            )
        })
        .map(|(name, text)| {
            (
                name,
                text.replace("traces/r1,csv", "traces/r1.csv")
                    .replace('\n', "\r\n")
                    .replace("a\r\nbreak", "a\nbreak"),
            )
        })
        .collect();
    let local: Vec<(&str, &str)> = local
        .iter()
        .map(|(name, text)| (name.as_str(), text.as_str()))
        .collect();
    for files in [plain.as_slice(), local.as_slice()] {
        let (tables, findings) = tables(files);
        assert!(findings.is_empty(), "{findings:?}");
        assert_eq!(tables.runs.len(), 2);
        assert_eq!(
            (tables.runs[1].kind, tables.runs[1].inspection),
            (RunKind::Frame, Some(Inspection::Fractured))
        );
        assert_eq!(
            (tables.runs[0].trace.as_deref(), tables.runs[1].line),
            (Some("traces/r1.csv"), 3)
        );
        // 1 in = 25.4 mm, 1 atm = 101.325 kPa, 300 psi = 2068.427 kPa, 1 L/min = 1000/60 mL/s, 1 kPa = 7.50062 mmHg.
        assert!((tables.frames[0].true_id_mm.unwrap() - 22.86).abs() < 1e-9);
        assert!((tables.balloons[0].nominal_pressure_kpa.unwrap() - 810.6).abs() < 1e-9);
        assert!(
            (tables.balloons[0].rated_burst_pressure_kpa.unwrap() - 2_068.427_187_950_4).abs()
                < 1e-6
        );
        assert!((tables.charts[0].pressure_kpa - 200.0).abs() < 1e-9);
        assert!((tables.calipers[0].value_mm - 22.86).abs() < 1e-9);
        assert_eq!(
            (tables.calipers[1].method, tables.calipers[1].stage),
            (GaugeMethod::Plug, Stage::After)
        );
        assert!((tables.calipers[1].value_mm - 21.5).abs() < 1e-9);
        assert_eq!(tables.contours[0].mm_per_px, Some(0.05));
        assert!((tables.contours[0].points_mm[2].1 - 10.0).abs() < 1e-12);
        assert!((tables.flows[0].flow_ml_s[0] - 100.0).abs() < 1e-9);
        assert!((tables.flows[0].dp_mmhg[1] - 15.001_23).abs() < 1e-4);
        assert!((tables.flows[0].time_s[1] - 0.004).abs() < 1e-15);
        assert_eq!(tables.observations.len(), 1);
    }
}

#[test]
fn tables_may_be_sheets_of_one_workbook() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(
        "tests/data/read/study.xlsx",
        folder.path().join("study.xlsx"),
    )
    .unwrap();
    let (tables, findings, inputs) = read_tables(folder.path(), None).unwrap();
    assert!(findings.is_empty(), "{findings:?}");
    assert_eq!(inputs.len(), 1);
    assert_eq!(tables.runs[1].inspection, Some(Inspection::Fractured));
    assert_eq!(tables.frames[0].true_id_mm, Some(21.5));
    assert_eq!(tables.balloons[0].nominal_pressure_kpa, Some(600.0));
    // "21,50" is text in the sheet, 0.9 in a number.
    assert_eq!(tables.calipers[0].value_mm, 21.5);
    assert!((tables.calipers[1].value_mm - 22.86).abs() < 1e-9);
}

#[test]
fn outlines_in_pixels_take_the_scale_of_the_rig() {
    let folder = study(&[
        ("runs.csv", "run_id,kind\nr1,free\n"),
        (
            "contours.csv",
            "run_id,stage,x,y,unit\nr1,before,0,0,px\nr1,before,100,0,px\nr1,before,0,100,px\n",
        ),
    ]);
    let (tables, findings, _) = read_tables(folder.path(), Some(&load(FULL))).unwrap();
    assert!(findings.is_empty(), "{findings:?}");
    assert_eq!(
        (tables.contours[0].mm_per_px, tables.contours[0].u_scale_rel),
        (Some(0.032), Some(0.001))
    );
    assert!((tables.contours[0].points_mm[1].0 - 3.2).abs() < 1e-12);
}
