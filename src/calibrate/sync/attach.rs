//! A further recording calibrated, placed in time and put beside the main one.

use super::{Alignment, Search, Signal, correlate, envelope, match_pulses, onto};
use crate::calibrate::{clock, convert, handover, median, noise};
use crate::recording::{Finding, Place, RawRecording, RunRow, Trace};
use crate::rig::{ChannelQuantity, ChannelSpec, RecordingSpec, Rig, SyncKind};

/// Clocks set by hand or by a network agree to about this, s (common practice, no source).
const CLOCKS_AGREE_S: f64 = 2.0;
/// Share of the time in which a volume moves slower than the rate its uncertainty in time is charged with.
const USUAL_RATE_SHARE: f64 = 0.95;

/// A further recording of a run, as read.
pub struct Further<'a> {
    /// What was read.
    pub raw: &'a RawRecording,
    /// What the rig says of it.
    pub spec: &'a RecordingSpec,
    /// The rig of the main recording.
    pub bench: &'a Rig,
    /// Absolute time of the first sample of the main recording, if its clock is absolute.
    pub main_started_at: Option<&'a str>,
}

/// A channel in bench units on its own clock, less its delay.
struct Channel<'a> {
    spec: &'a ChannelSpec,
    time_s: Vec<f64>,
    values: Vec<f64>,
}

impl Channel<'_> {
    fn signal(&self) -> Signal<'_> {
        Signal {
            time_s: &self.time_s,
            values: &self.values,
        }
    }
}

/// Puts the channels of a further recording that the main one lacks on the samples of the trace, straight between their own samples; sound
/// that is faster than the main recording as its envelope ([`envelope`]). Pressure is never taken from a further recording. Where
/// the clocks cannot be put on one, the finding `clock-not-aligned` says why and nothing is taken.
pub fn attach(trace: &mut Trace, further: &Further<'_>, run: &RunRow) -> Vec<Finding> {
    let mut findings = Vec::new();
    let raw = further.raw;
    let refuse = |reason: &str| {
        Finding::doubt(
            "clock-not-aligned",
            format!(
                "the clock of the recording {} could not be put on that of the main one: {reason}; its channels are left out",
                further.spec.name
            ),
        )
        .at(Place::file(&raw.file))
        .help("check that the file belongs to this run; a deliberate pressure pulse or a marker channel makes it certain")
    };
    let order = clock::order(raw, &mut findings);
    if order.rows.len() < 3 {
        findings.push(refuse("it has fewer than three rows with a time"));
        return findings;
    }
    let own = Trace {
        time_s: order.time_s,
        line: order
            .rows
            .iter()
            .map(|&row| raw.line.get(row).copied().unwrap_or(0))
            .collect(),
        step_s: order.step_s,
        row: order.rows,
        ..Trace::default()
    };
    let channels: Vec<Channel<'_>> = raw
        .channels
        .iter()
        .filter_map(|channel| {
            let spec = further.spec.channels.get(channel.channel)?;
            convert::check_due(spec, run, &raw.file, &mut findings);
            let values =
                convert::to_bench(channel, spec, further.bench, &own, &raw.file, &mut findings);
            let time_s = own.time_s.iter().map(|t| t - spec.delay_s).collect();
            Some(Channel {
                spec,
                time_s,
                values,
            })
        })
        .collect();
    match align(trace, further, &channels) {
        Err(reason) => findings.push(refuse(&reason)),
        Ok(clock) => {
            findings.push(aligned(further, &clock));
            findings.extend(drift_left(further, &clock));
            findings.extend(disagreement(further, &clock));
            for channel in &channels {
                put(trace, further, channel, &own, &clock, &mut findings);
            }
        }
    }
    findings
}

fn align(
    trace: &Trace,
    further: &Further<'_>,
    channels: &[Channel<'_>],
) -> Result<Alignment, String> {
    let sync = &further.spec.sync;
    let stated = stated_offset(further);
    let search = Search {
        guess_s: stated.unwrap_or(0.0),
        max_offset_s: sync.max_offset_s,
        drift: sync.drift,
        curved: false,
    };
    let own = |quantity: ChannelQuantity| {
        channels
            .iter()
            .find(|c| same(c.spec.quantity, quantity))
            .ok_or_else(|| format!("it holds no {} channel", quantity.word()))
    };
    let main = |quantity: ChannelQuantity| {
        main_channel(trace, quantity)
            .ok_or_else(|| format!("the main recording holds no {} channel", quantity.word()))
    };
    match sync.kind {
        SyncKind::Declared { offset_s, u_s } => offset_s
            .or(stated)
            .map(|offset| Alignment::constant(offset, u_s))
            .ok_or_else(|| {
                "[recording.sync] declares no offset_s, and not both files state an absolute time of the same kind".to_owned()
            }),
        SyncKind::Marker => match_pulses(
            Signal {
                time_s: &trace.time_s,
                values: main(ChannelQuantity::Marker)?,
            },
            own(ChannelQuantity::Marker)?.signal(),
            search,
        ),
        SyncKind::Correlate { quantity, with } => {
            let channel = own(quantity)?;
            let (main_values, own_values) =
                (loudness(main(with)?, with), loudness(&channel.values, quantity));
            correlate(
                Signal {
                    time_s: &trace.time_s,
                    values: &main_values,
                },
                Signal {
                    time_s: &channel.time_s,
                    values: &own_values,
                },
                Search {
                    curved: !same(quantity, with),
                    ..search
                },
            )
        }
    }
}

/// Turns are a volume once calibrated.
fn same(a: ChannelQuantity, b: ChannelQuantity) -> bool {
    let volume = |q| matches!(q, ChannelQuantity::Volume | ChannelQuantity::Turns);
    a == b || volume(a) && volume(b)
}

fn main_channel(trace: &Trace, quantity: ChannelQuantity) -> Option<&[f64]> {
    match quantity {
        ChannelQuantity::Pressure => Some(&trace.pressure_kpa),
        ChannelQuantity::Volume | ChannelQuantity::Turns => trace.volume_ml.as_deref(),
        ChannelQuantity::Diameter => trace.diameter_mm.as_deref(),
        ChannelQuantity::Sound => trace.sound.as_deref(),
        ChannelQuantity::Force => trace.force_n.as_deref(),
        ChannelQuantity::Temperature => trace.temperature_degc.as_deref(),
        ChannelQuantity::Marker => trace.marker.as_deref(),
    }
}

/// A sound swings about its middle: how loud it is, is what two recordings share. Every other quantity is what it is.
fn loudness(values: &[f64], quantity: ChannelQuantity) -> Vec<f64> {
    if quantity != ChannelQuantity::Sound {
        return values.to_vec();
    }
    let centre = median(values);
    values.iter().map(|v| (v - centre).abs()).collect()
}

/// Main clock less further clock by the absolute times of both files, s, where both have one of the same kind.
fn stated_offset(further: &Further<'_>) -> Option<f64> {
    let (main, main_utc) = absolute(further.main_started_at?)?;
    let (own, own_utc) = absolute(further.raw.started_at.as_deref()?)?;
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

fn aligned(further: &Further<'_>, clock: &Alignment) -> Finding {
    let by = match further.spec.sync.kind {
        SyncKind::Correlate { quantity, with } => {
            let channels = if quantity == with {
                quantity.word().to_owned()
            } else {
                format!("{} with {}", quantity.word(), with.word())
            };
            format!(
                "correlation of {channels} ({:.2}, {} stretches)",
                clock.correlation.unwrap_or(f64::NAN),
                clock.places
            )
        }
        SyncKind::Marker => format!("{} marker pulses", clock.places),
        SyncKind::Declared {
            offset_s: Some(_), ..
        } => "the offset declared".to_owned(),
        SyncKind::Declared { offset_s: None, .. } => "the absolute times of both files".to_owned(),
    };
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
    .at(Place::file(&further.raw.file))
}

/// A drift that is there but was not asked for.
fn drift_left(further: &Further<'_>, clock: &Alignment) -> Option<Finding> {
    let (slope, u) = clock.drift_found?;
    (!further.spec.sync.drift && slope.abs() > super::DRIFT_SIGMAS * u).then(|| {
        Finding::doubt(
            "clock-drift",
            format!(
                "the clock of the recording {} drifts by {:+.0} ppm (u {:.0} ppm) against the main one, which is not taken out but counted in the uncertainty",
                further.spec.name,
                1e6 * slope,
                1e6 * u
            ),
        )
        .at(Place::file(&further.raw.file))
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
        .at(Place::file(&further.raw.file))
        .help("set the clocks of the recorders, or check that the file belongs to this run")
    })
}

/// Puts one channel on the trace, unless the trace has it.
fn put(
    trace: &mut Trace,
    further: &Further<'_>,
    channel: &Channel<'_>,
    own: &Trace,
    clock: &Alignment,
    findings: &mut Vec<Finding>,
) {
    let quantity = channel.spec.quantity;
    let served = matches!(further.spec.sync.kind, SyncKind::Correlate { quantity: q, .. } if same(q, quantity))
        || quantity == ChannelQuantity::Marker;
    if main_channel(trace, quantity).is_some() || quantity == ChannelQuantity::Pressure {
        if !served {
            findings.push(
                Finding::note(
                    "channel-in-both",
                    format!(
                        "the {} of the recording {} is not used: that of the main recording is",
                        quantity.word(),
                        further.spec.name
                    ),
                )
                .at(Place::file(&further.raw.file)),
            );
        }
        return;
    }
    let straight = || onto(&trace.time_s, channel.signal(), clock);
    match quantity {
        ChannelQuantity::Diameter => {
            trace.diameter_mm = Some(straight());
            trace.u_diameter_mm = channel.spec.u.unwrap_or(f64::NAN);
            trace.diameter_u_time_s = largest_u(trace, own, clock);
        }
        ChannelQuantity::Volume | ChannelQuantity::Turns => {
            put_volume(trace, further, channel, own, clock, findings);
        }
        ChannelQuantity::Sound if own.step_s < trace.step_s => {
            trace.sound = Some(envelope(&trace.time_s, channel.signal(), clock));
        }
        ChannelQuantity::Sound => trace.sound = Some(straight()),
        ChannelQuantity::Force => trace.force_n = Some(straight()),
        ChannelQuantity::Temperature => trace.temperature_degc = Some(straight()),
        ChannelQuantity::Pressure | ChannelQuantity::Marker => {}
    }
}

/// Largest standard uncertainty in time over the stretch both recordings cover, s.
fn largest_u(trace: &Trace, own: &Trace, clock: &Alignment) -> f64 {
    let ends = |t: &[f64]| {
        (
            t.first().copied().unwrap_or(0.0),
            t.last().copied().unwrap_or(0.0),
        )
    };
    let (first, last) = ends(&own.time_s);
    let (start, end) = ends(&trace.time_s);
    let from = first.max(clock.own_time(start));
    let to = last.min(clock.own_time(end));
    clock.u_at(from).max(clock.u_at(to))
}

/// A volume counted by another recorder: its noise is that of its own samples, the hand-over is joined on them, and what its place in
/// time leaves open at its usual fastest rate counts in its uncertainty.
fn put_volume(
    trace: &mut Trace,
    further: &Further<'_>,
    channel: &Channel<'_>,
    own: &Trace,
    clock: &Alignment,
    findings: &mut Vec<Finding>,
) {
    let main_s: Vec<f64> = channel.time_s.iter().map(|t| clock.main_time(*t)).collect();
    let pressure = Signal {
        time_s: &trace.time_s,
        values: &trace.pressure_kpa,
    };
    let mut counter = Trace {
        pressure_kpa: onto(&main_s, pressure, &Alignment::constant(0.0, 0.0)),
        volume_ml: Some(channel.values.clone()),
        ..own.clone()
    };
    noise::measure(&mut counter, None);
    counter.noise_kpa = trace.noise_kpa;
    handover::join_counter(&mut counter, &further.raw.file, findings);
    trace.noise_ml = counter.noise_ml;
    trace.handover = counter
        .handover
        .and_then(|sample| main_s.get(sample))
        .map(|t| {
            trace
                .time_s
                .partition_point(|main| main < t)
                .min(trace.len().saturating_sub(1))
        });
    let values = counter.volume_ml.unwrap_or_default();
    let signal = Signal {
        time_s: &channel.time_s,
        values: &values,
    };
    let mut rates: Vec<f64> = values
        .windows(2)
        .map(|w| ((w[1] - w[0]) / own.step_s).abs())
        .filter(|r| r.is_finite())
        .collect();
    rates.sort_by(f64::total_cmp);
    let usual = rates
        .get((USUAL_RATE_SHARE * rates.len() as f64) as usize)
        .copied()
        .unwrap_or(0.0);
    trace.u_volume_ml = channel
        .spec
        .u
        .unwrap_or(0.0)
        .hypot(usual * largest_u(trace, own, clock));
    trace.u_volume_rel = channel.spec.u_rel.unwrap_or(0.0);
    trace.volume_ml = Some(onto(&trace.time_s, signal, clock));
}
