//! `[[recording]]` in a rig: what it means, and its faults with place and help.

use hooptrace::recording::Finding;
use hooptrace::rig::{ChannelQuantity, SyncKind, rig_from_text};

const MAIN: &str = "[[channel]]\nquantity = \"pressure\"\nunit = \"kPa\"\nu_kpa = 1\n[[channel]]\nquantity = \"volume\"\nunit = \"mL\"\n";
const CAMERA: &str = "[[recording]]\nname = \"Camera\"\n[[recording.channel]]\nquantity = \"diameter\"\nunit = \"mm\"\n";

fn faults(text: &str) -> Vec<Finding> {
    rig_from_text(text, "rigs/x.toml").expect_err(text)
}

#[test]
fn what_is_declared_is_what_is_used() {
    let sync = "[recording.sync]\nkind = \"correlate\"\nquantity = \"diameter\"\nwith = \"volume\"\nmax_offset_s = 30\n";
    let (rig, _) = rig_from_text(&format!("{MAIN}{CAMERA}{sync}"), "rigs/x.toml").unwrap();
    let [camera] = rig.recordings.as_slice() else {
        panic!("{:?}", rig.recordings)
    };
    assert_eq!(camera.name, "Camera");
    assert_eq!(camera.trace_column, "trace_camera");
    assert_eq!(camera.line, 8);
    assert_eq!(camera.sync.max_offset_s, Some(30.0));
    assert!(!camera.sync.drift);
    let kind = SyncKind::Correlate {
        quantity: ChannelQuantity::Diameter,
        with: ChannelQuantity::Volume,
    };
    assert_eq!(camera.sync.kind, kind);
    let sync = "[recording.sync]\nkind = \"declared\"\noffset_s = -2.5\nu_s = 0.02\ndrift = true\n";
    let (rig, _) = rig_from_text(&format!("{MAIN}{CAMERA}{sync}"), "rigs/x.toml").unwrap();
    let kind = SyncKind::Declared {
        offset_s: Some(-2.5),
        u_s: 0.02,
    };
    assert_eq!(rig.recordings[0].sync.kind, kind);
    let (rig, _) = rig_from_text(MAIN, "rigs/x.toml").unwrap();
    assert!(rig.recordings.is_empty());
}

#[test]
fn every_fault_has_its_place_and_its_help() {
    let with = |rest: &str| format!("{MAIN}{CAMERA}{rest}");
    for (text, code, line, column, mention) in [
        (
            with("[recording.sync]\nkind = \"corelate\"\n"),
            "toml-word",
            14,
            8,
            "correlate",
        ),
        (
            with("[recording.sync]\ndrift = true\n"),
            "toml-missing-key",
            13,
            0,
            "marker",
        ),
        (with(""), "toml-missing-key", 8, 0, "declared"),
        (
            with("[recording.sync]\nkind = \"correlate\"\n"),
            "toml-missing-key",
            13,
            0,
            "quantity = ",
        ),
        (
            with("[recording.sync]\nkind = \"correlate\"\nquantity = \"diameter\"\n"),
            "rig-sync-channel",
            15,
            12,
            "`with` (main recording)",
        ),
        (
            with(
                "[recording.sync]\nkind = \"correlate\"\nquantity = \"force\"\nwith = \"volume\"\n",
            ),
            "rig-sync-channel",
            15,
            12,
            "this recording holds diameter",
        ),
        (
            with("[recording.sync]\nkind = \"marker\"\n"),
            "rig-sync-channel",
            13,
            0,
            "recording holds",
        ),
        (
            with("[recording.sync]\nkind = \"declared\"\noffset_s = 1\n"),
            "toml-missing-key",
            13,
            0,
            "u_s = ",
        ),
        (
            with("[recording.sync]\nkind = \"declared\"\nu_s = 0.1\ndrfit = true\n"),
            "toml-unknown-key",
            16,
            1,
            "drift",
        ),
        (
            format!(
                "{MAIN}[[recording]]\nname = \"Camera\"\ntrace_column = \"camera\"\n[[recording.channel]]\nquantity = \"diameter\"\nunit = \"mm\"\n[recording.sync]\nkind = \"declared\"\nu_s = 0.1\n"
            ),
            "rig-trace-column",
            10,
            16,
            "trace_camera",
        ),
        (
            format!(
                "{MAIN}[[recording]]\nname = \"Camera\"\n[recording.sync]\nkind = \"declared\"\nu_s = 0.1\n"
            ),
            "toml-missing-key",
            8,
            0,
            "[[recording.channel]]",
        ),
        (
            format!(
                "{MAIN}[[recording]]\n[[recording.channel]]\nquantity = \"diameter\"\nunit = \"mm\"\n[recording.sync]\nkind = \"declared\"\nu_s = 0.1\n"
            ),
            "toml-missing-key",
            8,
            0,
            "name = ",
        ),
        (
            with(&format!(
                "[recording.sync]\nkind = \"declared\"\nu_s = 0.1\n{CAMERA}[recording.sync]\nkind = \"declared\"\nu_s = 0.1\n"
            )),
            "rig-recording-twice",
            16,
            0,
            "of its own",
        ),
    ] {
        let found = faults(&text);
        let fault = found
            .iter()
            .find(|f| f.code == code && f.line == Some(line))
            .unwrap_or_else(|| panic!("{code} on line {line}: {found:#?}\n{text}"));
        assert_eq!(fault.file.as_deref(), Some("rigs/x.toml"));
        let place: u64 = fault.column.as_deref().unwrap().parse().unwrap();
        // A fault of a whole table stands at its name (0 here).
        assert!(
            place == column || (column == 0 && place <= 12),
            "{text}\n{fault:?}"
        );
        let help = fault.help.as_deref().unwrap_or_default();
        assert!(help.contains(mention), "{text}\n{fault:?}");
    }
}
