//! Rigs that are sound, in bench units.

use super::support::{FULL, load};
use hooptrace::rig::{Calibration, ChannelQuantity, ClockSpec, ColumnRef, Reference, Side};

#[test]
fn a_full_rig_is_read_in_bench_units() {
    let rig = load(FULL);
    assert_eq!(rig.name, "bench-x");
    assert_eq!(rig.ambient_kpa, Some(100.66));
    assert_eq!(rig.side, Some(Side::Balloon));
    assert_eq!(rig.dialect.delimiter, Some('\t'));
    assert_eq!(rig.dialect.decimal, Some(','));
    assert_eq!(rig.dialect.thousands, Some(None));
    assert_eq!(rig.dialect.skip_lines, Some(12));
    assert_eq!(rig.dialect.comment, Some(Some("%".into())));
    assert!(
        matches!(&rig.clock, ClockSpec::Local { column: ColumnRef::Name(name), .. } if name == "Zeit")
    );
    let pressure = &rig.channels[0];
    assert_eq!(pressure.line, 19);
    assert_eq!(pressure.reference, Reference::Absolute);
    assert_eq!(pressure.unit.unwrap().symbol, "bar");
    assert_eq!(pressure.range, Some((-100.0, 3000.0)));
    // 1 psi = 6.894757293168 kPa.
    assert!((pressure.resolution.unwrap() - 0.689_475_729_316_8).abs() < 1e-12);
    assert_eq!((pressure.u, pressure.u_rel), (Some(2.0), Some(0.002)));
    assert_eq!(pressure.due_on.unwrap().to_string(), "2026-01-10");
    assert!(matches!(&pressure.calibration, Calibration::Table { raw, .. } if raw.len() == 3));
    let turns = &rig.channels[1];
    assert_eq!(
        (turns.quantity, &turns.column),
        (ChannelQuantity::Turns, &Some(ColumnRef::Index(2)))
    );
    assert_eq!(turns.u, Some(0.004));
    assert!((turns.resolution.unwrap() - 0.004).abs() < 1e-15);
    assert_eq!(rig.blank_runs, ["bl1", "bl2"]);
    assert_eq!(
        (rig.mm_per_px, rig.density_g_per_ml),
        (Some(0.032), Some(1.06))
    );
}

#[test]
fn a_rig_that_says_nothing_is_a_rig() {
    for text in [
        "",
        "name = \"x\"\n",
        "[dialect]\nmode = \"auto\"\n[clock]\nkind = \"auto\"\n",
    ] {
        let rig = load(text);
        assert_eq!(rig.clock, ClockSpec::Auto);
        assert_eq!(rig.dialect, hooptrace::rig::DialectSpec::default());
        assert!(
            rig.channels
                .iter()
                .any(|channel| channel.quantity == ChannelQuantity::Pressure)
        );
        assert!((rig.ambient() - 101.325).abs() < 1e-12);
    }
    let rig = load("[[channel]]\nquantity = \"pressure\"\ncolumn = \"auto\"\nunit = \"auto\"\n");
    assert_eq!(
        (rig.channels[0].column.as_ref(), rig.channels[0].unit),
        (None, None)
    );
}

#[test]
fn every_clock_kind_is_read() {
    for (text, word) in [
        (
            "kind = \"relative\"\ncolumn = \"t\"\nunit = \"ms\"",
            "Relative",
        ),
        ("kind = \"iso\"\ncolumn = 0", "Iso"),
        (
            "kind = \"local\"\ncolumn = \"t\"\nformat = \"mm/dd/yyyy hh:mm:ss AM/PM\"",
            "Local",
        ),
        (
            "kind = \"time_of_day\"\ncolumn = \"t\"\nformat = \"hh:mm:ss.fff\"",
            "TimeOfDay",
        ),
        ("kind = \"epoch\"\ncolumn = \"t\"\nunit = \"s\"", "Epoch"),
        ("kind = \"index\"\ncolumn = \"n\"\nrate_hz = 100", "Index"),
        ("kind = \"rate\"\nrate_hz = 12.5", "Rate"),
        ("kind = \"auto\"", "Auto"),
    ] {
        let rig = load(&format!("[clock]\n{text}\n"));
        assert!(format!("{:?}", rig.clock).starts_with(word), "{text}");
    }
}
