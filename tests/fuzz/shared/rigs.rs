//! Rigs of every kind of clock and dialect.

use hooptrace::rig::{Rig, rig_from_text};

/// Rig files of the project.
const FILES: &[&str] = &[
    include_str!("../../../rigs/comma-kpa.toml"),
    include_str!("../../../rigs/semicolon-bar.toml"),
    include_str!("../../../rigs/raw-counts.toml"),
    include_str!("../../../rigs/absolute-psi-turns.toml"),
    include_str!("../../../sample-runs/harbour-ring/rigs/quay.toml"),
    include_str!("../../../sample-runs/harbour-ring/rigs/pier.toml"),
];

/// Everything that can be sniffed.
const AUTO: &str = "[dialect]\nmode = \"auto\"\n[clock]\nkind = \"auto\"\n[line]\nml_per_turn = 0.5\n\
    [[channel]]\nquantity = \"pressure\"\nunit = \"auto\"\n[[channel]]\nquantity = \"volume\"\nunit = \"auto\"\n";

/// The other clocks, each with the dialect that goes with it.
const CLOCKS: &[(&str, &str)] = &[
    (
        "delimiter = \"whitespace\"",
        "kind = \"rate\"\nrate_hz = 20000",
    ),
    ("delimiter = \",\"", "kind = \"iso\"\ncolumn = 0"),
    (
        "delimiter = \"tab\"",
        "kind = \"epoch\"\ncolumn = 0\nunit = \"ms\"",
    ),
    (
        "delimiter = \";\"\ndecimal = \",\"",
        "kind = \"local\"\ncolumn = 0\nformat = \"dd.mm.yyyy hh:mm:ss,fff\"",
    ),
    (
        "delimiter = \"|\"\nthousands = \" \"",
        "kind = \"time_of_day\"\ncolumn = 0\nformat = \"hh:mm:ss.fff\"",
    ),
    (
        "delimiter = \",\"\ndecimal = \".\"\nskip_lines = 0\nheader_rows = 1\ncomment = \"#\"",
        "kind = \"index\"\ncolumn = 0\nrate_hz = 100",
    ),
    (
        "delimiter = \",\"\ndecimal = \".\"\nskip_lines = 0\nheader_rows = 1\ncomment = \"\"",
        "kind = \"relative\"\ncolumn = 0\nunit = \"min\"",
    ),
];

/// Channels by number, of every quantity and kind of calibration.
const CHANNELS: &str = "[ambient]\npressure_kpa = 101.3\n\
    [[channel]]\nquantity = \"pressure\"\ncolumn = 1\nunit = \"kPa\"\nreference = \"absolute\"\nrange_kpa = [0, 3000]\n\
    resolution_kpa = 0.1\nu_kpa = 2\nu_rel = 0.002\n\
    [[channel]]\nquantity = \"volume\"\ncolumn = 2\nunit = \"mL\"\nu_ml = 0.01\n\
    [channel.calibration]\nkind = \"gain_offset\"\ngain = 2.5\noffset = -0.1\n\
    [[channel]]\nquantity = \"diameter\"\ncolumn = 3\nunit = \"mm\"\ndelay_s = 0.08\n\
    [[channel]]\nquantity = \"force\"\ncolumn = 4\nunit = \"N\"\n\
    [channel.calibration]\nkind = \"table\"\nraw = [0, 100, 1000]\nvalue = [0, 1, 20]\n\
    [[channel]]\nquantity = \"temperature\"\ncolumn = 5\nunit = \"degC\"\n";

/// All of them.
///
/// # Panics
/// Where one of the files is no sound rig.
pub fn rigs() -> Vec<Rig> {
    let mut texts: Vec<String> = vec![AUTO.to_owned()];
    texts.extend(FILES.iter().map(|text| (*text).to_owned()));
    texts.extend(CLOCKS.iter().map(|(dialect, clock)| {
        format!("[dialect]\nmode = \"given\"\n{dialect}\n[clock]\n{clock}\n{CHANNELS}")
    }));
    texts
        .iter()
        .map(|text| match rig_from_text(text, "rig.toml") {
            Ok((rig, _)) => rig,
            Err(findings) => panic!("{findings:?}"),
        })
        .collect()
}
