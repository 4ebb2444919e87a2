//! The search for falls: how large one must be at each length to stand out of noise and moved volume, and where one does.

use super::false_alarm::Noise;
use super::levels::{Before, Probe, Samples};
use super::ranges::{Ranges, Walk};
use super::stiffness::Stiffness;
use crate::calibrate::median;
use crate::recording::{Phase, PhaseKind};
use crate::rig::{Settings, settings};

/// Falls are looked for so many times in the length of a level. A level moved by one such step holds nearly the same samples; what
/// is found is looked at again sample by sample.
const LOOKS_IN_LEVEL: usize = 8;
/// A fall longer than a level is looked for so many times in its length.
const LOOKS_IN_GAP: usize = 8;
/// A look for falls passes what reaches this share of the threshold: between two looks a fall is clearer by less than the rest.
const SCAN_SHARE: f64 = 0.9;
/// The noise of a fall is measured so many times in the length of a level.
const RESTS_IN_LEVEL: usize = 4;
/// Nine tenths of one side of a normal distribution lie within so many standard deviations ...
const OUTER_SIGMAS: f64 = 1.645;
/// ... and half of it within one over so many.
const MAD_TO_SIGMA: f64 = 1.4826;

/// Samples from one look for a fall to the next, for levels of `n` samples.
fn scan_step(n: usize) -> usize {
    (n / LOOKS_IN_LEVEL).max(1)
}

/// One length of fall with the noise of its estimate.
struct Scale {
    gap: usize,
    sigma: f64,
    /// Looks from one to the next at this length: a long fall is hardly less clear beside its clearest place.
    every: usize,
}

/// A place where a fall passes its threshold.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hit {
    /// How many times the threshold it is.
    over: f64,
    /// Sample the level before ends at.
    pub e: usize,
    /// Samples from there to the level after.
    pub gap: usize,
    /// Threshold, kPa.
    pub least: f64,
}

/// One length of fall on the way through the samples.
struct Scan<'r> {
    scale: &'r Scale,
    under: Walk<'r>,
    /// The clearest look of the stretch of looks that pass, so far.
    best: Option<Hit>,
}

/// What falls are looked for in.
pub(super) struct Search<'s, 'a> {
    s: &'s Samples<'a>,
    k: &'s Stiffness,
    n: usize,
    under: Ranges,
    scales: Vec<Scale>,
    /// Standard deviations that a fall needs.
    sigmas: f64,
    /// Looks at falls.
    looks: usize,
}

impl<'s, 'a> Search<'s, 'a> {
    /// Lengths of fall with their thresholds, from levels of `n` samples.
    pub fn of(s: &'s Samples<'a>, k: &'s Stiffness, phases: &[Phase], n: usize) -> Self {
        let falls = &s.settings.falls;
        let mut gaps: Vec<usize> = [falls.gap_snap_s, falls.gap_slow_snap_s, falls.gap_slip_s]
            .iter()
            .map(|length| ((length / s.trace.step_s).round() as usize).clamp(1, s.len().max(1)))
            .collect();
        gaps.dedup();
        let under = under_pressure(s, phases);
        let spreads = rest_sigmas(s, k, &under, &gaps, n);
        let looks = under.samples() * gaps.len();
        let scale = |(gap, sigma)| Scale {
            gap,
            sigma,
            every: (gap / LOOKS_IN_GAP / scan_step(n)).max(1),
        };
        Self {
            s,
            k,
            n,
            under,
            scales: gaps.into_iter().zip(spreads).map(scale).collect(),
            sigmas: super::false_alarm::sigmas(s.settings.false_alarms_per_run, looks, n),
            looks,
        }
    }

    /// Smallest fall that would be seen at rest, kPa.
    pub fn smallest_kpa(&self) -> f64 {
        self.scales
            .first()
            .map_or(f64::NAN, |scale| self.sigmas * scale.sigma)
    }

    /// Falls that noise alone makes.
    pub fn noise(&self) -> Noise {
        Noise {
            sigma_kpa: self.scales.first().map_or(f64::NAN, |scale| scale.sigma),
            looks: self.looks,
            level: self.n,
        }
    }

    /// Highest places of every stretch where a fall passes its threshold: a short length places a fall best and comes first, of one
    /// length the clearest.
    pub fn hits(&self) -> Vec<Hit> {
        let mut hits = Vec::new();
        let mut here = self.under.walk();
        let mut scans: Vec<Scan<'_>> = self
            .scales
            .iter()
            .map(|scale| Scan {
                scale,
                under: self.under.walk(),
                best: None,
            })
            .collect();
        let places = self.n..self.s.len().saturating_sub(self.n);
        for (look, e) in places.step_by(scan_step(self.n)).enumerate() {
            // The level before is the same for every length.
            let before = here
                .contain(e)
                .then(|| Before::of(self.s, self.k, e, self.n))
                .flatten();
            for scan in &mut scans {
                if !look.is_multiple_of(scan.scale.every) {
                    continue;
                }
                let under = scan.under.contain(e + scan.scale.gap);
                let before = before.as_ref().filter(|_| under);
                match before.and_then(|before| self.look(before, e, scan.scale)) {
                    Some(hit) if scan.best.is_some_and(|best| best.over >= hit.over) => {}
                    Some(hit) => scan.best = Some(hit),
                    None => hits.extend(
                        scan.best
                            .take()
                            .and_then(|best| self.clearest(best, scan.scale)),
                    ),
                }
            }
        }
        for scan in scans {
            hits.extend(scan.best.and_then(|best| self.clearest(best, scan.scale)));
        }
        hits.sort_by(|a, b| {
            let (gap, over) = (a.gap.cmp(&b.gap), b.over.total_cmp(&a.over));
            gap.then(over).then(a.e.cmp(&b.e))
        });
        hits
    }

    /// The fall between `e` and the length of a scale later, if it passes the threshold or nearly does.
    fn look(&self, before: &Before, e: usize, scale: &Scale) -> Option<Hit> {
        let Self {
            s, k, n, sigmas, ..
        } = self;
        let settings = s.settings;
        let p = before.probe(s, k, scale.gap)?;
        if p.fall <= SCAN_SHARE * sigmas * scale.sigma {
            return None;
        }
        // The rests it was measured at may have been softer: the noise of the counter weighs with the stiffness here.
        let counter = (p.stiffness * s.v_noise()).max(0.0);
        let noise = sigmas * scale.sigma.max(counter);
        let least = threshold(&p, s.p(e), noise, settings);
        let passes = p.fall > SCAN_SHARE * least
            && !s.any_clipped(e + scale.gap, e + scale.gap + n)
            && !withdrawal_explains(s, k, e, &p, *n)
            && falls_in_gap(s, e, &p, scale, (*sigmas, settings.drop_share));
        passes.then_some(Hit {
            over: p.fall / least,
            e,
            gap: scale.gap,
            least,
        })
    }

    /// The clearest place about a look: between two looks a fall may be a little clearer than at either.
    fn clearest(&self, look: Hit, scale: &Scale) -> Option<Hit> {
        let beside = scan_step(self.n) * scale.every;
        ((look.e + 1).saturating_sub(beside)..look.e + beside)
            .filter(|e| self.under.contain(*e) && self.under.contain(e + scale.gap))
            .filter_map(|e| self.look(&Before::of(self.s, self.k, e, self.n)?, e, scale))
            .filter(|hit| hit.over > 1.0)
            // Of equals the first.
            .rev()
            .max_by(|a, b| a.over.total_cmp(&b.over))
    }
}

/// What was moved in a gap of the recording explains nothing (a stopcock may have been shut): there the pressure itself must have fallen.
fn falls_in_gap(
    s: &Samples<'_>,
    e: usize,
    p: &Probe,
    scale: &Scale,
    (sigmas, share): (f64, f64),
) -> bool {
    let missing = s.t(e + scale.gap) - s.t(e)
        > (scale.gap as f64 + s.settings.falls.gap_steps) * s.trace.step_s;
    !missing || p.plain > (sigmas * scale.sigma).max(share * s.p(e))
}

/// A fall while volume comes out is the operator backing off unless it is far larger than the stiffest line could make of it.
pub(super) fn withdrawal_explains(
    s: &Samples<'_>,
    k: &Stiffness,
    e: usize,
    p: &Probe,
    n: usize,
) -> bool {
    let is = &s.settings.search;
    let noise = is.out_sigmas * s.trace.noise_ml * (2.0 / n as f64).sqrt();
    if !s.has_volume() || p.moved > -noise {
        return false;
    }
    let stiffest = s
        .stiffest(e)
        .unwrap_or(is.stiffest_ratio * k.past(e).max(k.future(e)));
    // Before anything was pressed in, nobody knows what a withdrawal makes of the pressure.
    stiffest <= 0.0 || p.plain < is.beyond_withdrawal_ratio * stiffest * -p.moved
}

/// Samples in strokes, holds and refills.
fn under_pressure(samples: &Samples<'_>, phases: &[Phase]) -> Ranges {
    let under = |phase: &&Phase| {
        matches!(
            phase.kind,
            PhaseKind::Stroke | PhaseKind::Hold | PhaseKind::Refill
        )
    };
    let place = |index: usize| samples.first_from(index);
    phases
        .iter()
        .filter(under)
        .map(|phase| (place(phase.start), place(phase.end)))
        .collect()
}

/// For each length of fall, the standard deviation of the estimated fall where nothing moves (robust), plus its usual creep.
fn rest_sigmas(
    s: &Samples<'_>,
    k: &Stiffness,
    under: &Ranges,
    gaps: &[usize],
    n: usize,
) -> Vec<f64> {
    let still = s.still().both(under);
    let (mut first, mut last) = (still.walk(), still.walk());
    let mut after: Vec<_> = gaps
        .iter()
        .map(|gap| (*gap, still.walk(), still.walk(), Vec::new()))
        .collect();
    for e in (n..s.len().saturating_sub(n)).step_by((n / RESTS_IN_LEVEL).max(1)) {
        if !first.contain(e + 1 - n) || !last.contain(e) || s.clipped(e + 1 - n) || s.clipped(e) {
            continue;
        }
        let Some(before) = Before::of(s, k, e, n) else {
            continue;
        };
        for (gap, first, last, falls) in &mut after {
            let (from, to) = (e + *gap, e + *gap + n - 1);
            let at_rest = first.contain(from) && last.contain(to);
            if at_rest && !s.clipped(from) && !s.clipped(to) {
                falls.extend(before.probe(s, k, *gap).map(|p| p.fall));
            }
        }
    }
    let least = s.trace.noise_kpa * (2.0 / n as f64).sqrt();
    after
        .into_iter()
        .map(|(.., falls)| sigma_of(&falls, least, &s.settings.search))
        .collect()
}

/// Standard deviation of falls estimated at rest, and their usual creep; not below the `least`, which white noise makes.
fn sigma_of(falls: &[f64], least: f64, is: &settings::Search) -> f64 {
    if falls.len() < is.rests_least {
        return is.slow_noise_ratio * least;
    }
    let centre = median(falls);
    // What breaks at rest makes falls and no rises, a stopcock opened again rises and no falls: noise is what both sides have.
    let side = |sign: f64| {
        let deviations = falls.iter().map(|v| sign * (v - centre));
        let mut deviations: Vec<f64> = deviations.filter(|v| *v >= 0.0).collect();
        if deviations.is_empty() {
            return 0.0;
        }
        let middle = MAD_TO_SIGMA * median(&deviations);
        // A channel that rests on a few codes and flickers between them has a small median deviation and long tails: the outer
        // tenth of a side counts as well.
        let tenth = (deviations.len() * 9 / 10).min(deviations.len() - 1);
        let (_, outer, _) = deviations.select_nth_unstable_by(tenth, f64::total_cmp);
        middle.max(*outer / OUTER_SIGMAS)
    };
    (side(1.0).min(side(-1.0)) + centre.abs()).max(least)
}

fn threshold(p: &Probe, pressure: f64, noise: f64, settings: &Settings) -> f64 {
    noise.max(settings.drop_share * pressure) + settings.volume_share * p.stiffness * p.moved.abs()
}
