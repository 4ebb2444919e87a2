//! A further recording calibrated, placed in time and put beside the main one.

use super::{Alignment, Search, Signal, correlate, envelope, match_pulses, onto, words};
use crate::calibrate::{clock, convert, handover, median, noise};
use crate::recording::{ClockResult, Finding, Place, RawRecording, Readings, RunRow, Trace};
use crate::rig::{ChannelQuantity, ChannelSpec, RecordingSpec, Rig, SyncKind};

/// Share of the time in which a volume moves slower than the rate its uncertainty in time is charged with.
const USUAL_RATE_SHARE: f64 = 0.95;

/// A further recording of a run.
pub struct Further<'a> {
    /// Its file.
    pub file: &'a str,
    /// What the rig says of it.
    pub spec: &'a RecordingSpec,
    /// The rig of the main recording.
    pub bench: &'a Rig,
    /// Absolute time of the first sample of the main recording, if its clock is absolute.
    pub main_started_at: Option<&'a str>,
    /// The same of this one.
    pub started_at: Option<String>,
}

/// What came of a further recording.
pub struct Attached {
    /// How its clock lies, or why that cannot be told.
    pub clock: Result<ClockResult, String>,
    /// Its channels that went into the trace.
    pub used: Vec<String>,
    /// What is to be said of it.
    pub findings: Vec<Finding>,
}

/// A channel in bench units on its own clock, less its delay.
struct Channel<'a> {
    spec: &'a ChannelSpec,
    time_s: Readings,
    values: Readings,
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
pub fn attach(
    trace: &mut Trace,
    further: &Further<'_>,
    mut raw: RawRecording,
    run: &RunRow,
) -> Attached {
    let mut findings = Vec::new();
    let order = clock::order(&mut raw, &mut findings);
    if order.rows.len() < 3 {
        return refused(
            further,
            "it has fewer than three rows with a time".to_owned(),
            findings,
        );
    }
    let own = Trace {
        time_s: order.time_s,
        line: raw.line.through(&order.rows),
        step_s: order.step_s,
        row: order.rows,
        ..Trace::default()
    };
    let mut channels = Vec::new();
    for channel in std::mem::take(&mut raw.channels) {
        let Some(spec) = further.spec.channels.get(channel.channel) else {
            continue;
        };
        convert::check_due(spec, run, further.file, &mut findings);
        let values = convert::to_bench(
            channel,
            spec,
            further.bench,
            &own,
            further.file,
            &mut findings,
        );
        let time_s = own.time_s.iter().map(|t| t - spec.delay_s).collect();
        channels.push(Channel {
            spec,
            time_s,
            values,
        });
    }
    let clock = match align(trace, further, &channels) {
        Ok(clock) => clock,
        Err(reason) => return refused(further, reason, findings),
    };
    let u_largest_s = largest_u(trace, &own, &clock);
    findings.extend(words::findings(further, &clock));
    let mut used = Vec::new();
    for channel in &channels {
        if put(trace, further, channel, &own, &clock, &mut findings) {
            used.push(channel.spec.quantity.word().to_owned());
        }
    }
    Attached {
        clock: Ok(words::result(further, &clock, u_largest_s)),
        used,
        findings,
    }
}

fn refused(further: &Further<'_>, reason: String, mut findings: Vec<Finding>) -> Attached {
    findings.push(words::refusal(further, &reason));
    Attached {
        clock: Err(reason),
        used: Vec::new(),
        findings,
    }
}

fn align(
    trace: &Trace,
    further: &Further<'_>,
    channels: &[Channel<'_>],
) -> Result<Alignment, String> {
    let sync = &further.spec.sync;
    let stated = words::stated_offset(further);
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

/// Puts one channel on the trace, unless the trace has it; true if it was put there.
fn put(
    trace: &mut Trace,
    further: &Further<'_>,
    channel: &Channel<'_>,
    own: &Trace,
    clock: &Alignment,
    findings: &mut Vec<Finding>,
) -> bool {
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
                .at(Place::file(further.file)),
            );
        }
        return false;
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
        ChannelQuantity::Sound => {
            trace.sound = Some(if own.step_s < trace.step_s {
                envelope(&trace.time_s, channel.signal(), clock)
            } else {
                straight()
            });
            trace.sound_u_time_s = largest_u(trace, own, clock);
        }
        ChannelQuantity::Force => trace.force_n = Some(straight()),
        ChannelQuantity::Temperature => trace.temperature_degc = Some(straight()),
        ChannelQuantity::Pressure | ChannelQuantity::Marker => return false,
    }
    true
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
    handover::join_counter(&mut counter, further.file, findings);
    trace.noise_ml = counter.noise_ml;
    trace.u_handover_ml = counter.u_handover_ml;
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
