//! Any text as a rig file; a rig that is accepted then reads recordings.
#![no_main]

use hooptrace::calibrate::calibrate;
use hooptrace::read::trace_from_bytes;
use hooptrace::rig::{ChannelQuantity, Settings, rig_from_text};
use hooptrace_fuzz::{FILE, check_findings, check_recording, check_trace, run};
use libfuzzer_sys::fuzz_target;

const RIG: &str = "rig.toml";

const COMMAS: &str = "# bench\ntime [s],pressure [kPa],volume [mL],turns,diameter [mm],force [N],temperature [degC]\n\
    0.00,0.1,0.00,0,20.1,0,21\n0.01,0.2,0.01,0,20.1,0.1,21\n0.02,55.5,0.10,1,20.2,1,21\n0.03,120.5,0.30,2,20.4,2,NaN\n\
    0.04,121,0.31,2,20.4,2,21.1\n0.05,300,0.5,3,20.9,4,21.2\n0.06,3,0.5,3,22,0.5,21.2\n0.07,2.9,0.5,3,22,0.5,21.2\n";
const STAMPS: &str = "Datum;08.04.2025\n\nZeit;Druck;Volumen\ndd.mm.yyyy;bar;mL\n08.04.2025 10:00:00,000;0,01;0\n\
    08.04.2025 10:00:00,020;0,02;0\n08.04.2025 10:00:00,040;1,5;0,1\n08.04.2025 10:00:00,060;1.234,5;0,1\n\
    08.04.2025 10:00:00,080;OVL;0,2\n08.04.2025 10:00:00,100;3,5;0,3\n08.04.2025 10:00:00,120;0,5;0,3\n";

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    let rig = match rig_from_text(text, RIG) {
        Ok((rig, findings)) => {
            check_findings(&findings, &[RIG], false);
            rig
        }
        Err(findings) => return check_findings(&findings, &[RIG], true),
    };
    assert!(
        rig.channels.is_empty() || rig.channel(ChannelQuantity::Pressure).is_some(),
        "channels without pressure"
    );
    assert!(rig.ambient().is_finite());
    for recording in [COMMAS, STAMPS] {
        match trace_from_bytes(recording.into(), FILE, &rig) {
            Ok(recording) => {
                check_findings(&recording.findings, &[FILE, RIG, "runs.csv"], false);
                check_recording(&recording);
                match calibrate(recording.clone(), &rig, &run(), &Settings::default(), None) {
                    Ok((trace, findings)) => {
                        check_findings(&findings, &[FILE, RIG, "runs.csv"], false);
                        check_trace(&trace, &recording);
                    }
                    Err(findings) => check_findings(&findings, &[FILE, RIG, "runs.csv"], true),
                }
            }
            Err(findings) => check_findings(&findings, &[FILE, RIG, "runs.csv"], true),
        }
    }
});
