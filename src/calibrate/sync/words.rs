//! What is said of a clock that was put on another.

use super::{Alignment, DRIFT_SIGMAS, Further};
use crate::recording::{ClockResult, Finding, Place};
use crate::rig::SyncKind;
use crate::uncertain::Quantity;

/// Clocks set by hand or by a network agree to about this, s (common practice, no source).
const CLOCKS_AGREE_S: f64 = 2.0;
/// Parts per million.
const PPM: f64 = 1e6;

/// The findings of an alignment.
pub(super) fn findings(further: &Further<'_>, clock: &Alignment) -> Vec<Finding> {
    let mut findings = vec![aligned(further, clock)];
    findings.extend(drift_left(further, clock));
    findings.extend(disagreement(further, clock));
    findings
}

/// That there is none.
pub(super) fn refusal(further: &Further<'_>, reason: &str) -> Finding {
    Finding::doubt(
        "clock-not-aligned",
        format!(
            "the clock of the recording {} could not be put on that of the main one: {reason}; its channels are left out",
            further.spec.name
        ),
    )
    .at(Place::file(further.file))
    .help("check that the file belongs to this run; a deliberate pressure pulse or a marker channel makes it certain")
}

/// An alignment as results hold it.
pub(super) fn result(further: &Further<'_>, clock: &Alignment, u_largest_s: f64) -> ClockResult {
    let by = method(further, clock);
    ClockResult {
        offset: Quantity::known(clock.offset_s, clock.u_offset_s, "s", by.clone()),
        drift: match clock.drift_found {
            Some((slope, u)) => Quantity::known(PPM * slope, PPM * u, "ppm", by),
            None => Quantity::missing(
                "ppm",
                match further.spec.sync.kind {
                    SyncKind::Declared { .. } => {
                        "the offset is declared or stated, which says nothing of a drift"
                    }
                    _ => "fewer than three places tell the offset",
                },
            ),
        },
        drift_taken_out_ppm: PPM * clock.drift,
        centre_s: clock.centre_s,
        u_largest_s,
        places: clock.places,
        correlation: clock.correlation,
    }
}

/// How the clock was placed, in words.
fn method(further: &Further<'_>, clock: &Alignment) -> String {
    match further.spec.sync.kind {
        SyncKind::Correlate { quantity, with } => {
            let channels = if quantity == with {
                quantity.word().to_owned()
            } else {
                format!("{} with {}", quantity.word(), with.word())
            };
            format!(
                "cross-correlation of {channels} ({:.2}, {} stretches)",
                clock.correlation.unwrap_or(f64::NAN),
                clock.places
            )
        }
        SyncKind::Marker => format!("{} marker pulses", clock.places),
        SyncKind::Declared {
            offset_s: Some(_), ..
        } => "the offset declared".to_owned(),
        SyncKind::Declared { offset_s: None, .. } => "the absolute times of both files".to_owned(),
    }
}

fn aligned(further: &Further<'_>, clock: &Alignment) -> Finding {
    let by = method(further, clock);
    let drift = match clock.drift_found {
        _ if clock.drift != 0.0 => format!(
            "a drift of {:+.0} ppm (u {:.0} ppm) is taken out",
            1e6 * clock.drift,
            1e6 * clock.u_drift
        ),
        Some((slope, u)) => format!(
            "no drift is taken out ({:+.0} ppm found, u {:.0} ppm)",
            1e6 * slope,
            1e6 * u
        ),
        None => "nothing is known of a drift".to_owned(),
    };
    Finding::note(
        "clock-aligned",
        format!(
            "the clock of the recording {} was put on that of the main one by {by}: its first row lies {:.4} s after the first of the main recording (u {:.4} s); {drift}",
            further.spec.name,
            clock.main_time(0.0),
            clock.u_at(0.0)
        ),
    )
    .at(Place::file(further.file))
}

/// A drift that is there but was not asked for.
fn drift_left(further: &Further<'_>, clock: &Alignment) -> Option<Finding> {
    let (slope, u) = clock.drift_found?;
    (!further.spec.sync.drift && slope.abs() > DRIFT_SIGMAS * u).then(|| {
        Finding::doubt(
            "clock-drift",
            format!(
                "the clock of the recording {} drifts by {:+.0} ppm (u {:.0} ppm) against the main one, which is not taken out but counted in the uncertainty",
                further.spec.name,
                1e6 * slope,
                1e6 * u
            ),
        )
        .at(Place::file(further.file))
        .help("set drift = true in [recording.sync]")
    })
}

/// Absolute times that say something else than what was found.
fn disagreement(further: &Further<'_>, clock: &Alignment) -> Option<Finding> {
    let stated = stated_offset(further)?;
    let found = clock.main_time(0.0);
    let allowed = CLOCKS_AGREE_S + 2.0 * clock.u_at(0.0);
    ((found - stated).abs() > allowed).then(|| {
        Finding::doubt(
            "clocks-disagree",
            format!(
                "by their absolute times the recording {} begins {stated:.1} s after the main one, but {found:.1} s were found (or declared), which is used",
                further.spec.name
            ),
        )
        .at(Place::file(further.file))
        .help("set the clocks of the recorders, or check that the file belongs to this run")
    })
}

/// Main clock less further clock by the absolute times of both files, s, where both have one of the same kind.
pub(super) fn stated_offset(further: &Further<'_>) -> Option<f64> {
    let (main, main_utc) = absolute(further.main_started_at?)?;
    let (own, own_utc) = absolute(further.started_at.as_deref()?)?;
    (main_utc == own_utc).then_some(own - main)
}

/// Seconds of an ISO time, and whether it says where on Earth.
fn absolute(text: &str) -> Option<(f64, bool)> {
    if let Ok(stamp) = text.parse::<jiff::Timestamp>() {
        return Some((stamp.as_nanosecond() as f64 / 1e9, true));
    }
    let local: jiff::civil::DateTime = text.parse().ok()?;
    let stamp = local.to_zoned(jiff::tz::TimeZone::UTC).ok()?.timestamp();
    Some((stamp.as_nanosecond() as f64 / 1e9, false))
}
