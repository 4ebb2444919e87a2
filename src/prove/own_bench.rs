//! Scenarios as a laboratory's own rig would record them.

use crate::bench::{LOWEST_KPA, Scenario};
use crate::recording::{Finding, Place};
use crate::rig::{ChannelQuantity, Rig};

/// The noise of a bench is not the same every day: from and to so many times what was measured.
const NOISE_FROM_TO: [f64; 2] = [0.8, 1.25];
/// Share of the noise that is slow (chosen: what is left of hum and drift in a hold).
const SLOW_SHARE: [f64; 2] = [0.1, 0.3];
/// Bits of the simulated converter.
const BITS: (f64, f64) = (6.0, 24.0);

/// What a laboratory knows of its own bench.
#[derive(Debug, Clone, Default)]
pub struct OwnBench {
    /// Its rig.
    pub rig: Option<Rig>,
    /// Standard deviation of a pressure sample at rest, kPa.
    pub noise_kpa: Option<f64>,
    /// Samples a second, Hz.
    pub rate_hz: Option<f64>,
}

impl OwnBench {
    /// A scenario with the recorder of this bench: rate, noise, range, steps and channels as they are there; what happens stays.
    ///
    /// # Errors
    /// An error finding where the bench is one that cannot be simulated.
    pub fn record(&self, mut scenario: Scenario) -> Result<Scenario, Finding> {
        let recorder = &mut scenario.recorder;
        if let Some(noise) = self.noise_kpa {
            recorder.white_kpa = NOISE_FROM_TO.map(|times| times * noise);
            recorder.slow_kpa = SLOW_SHARE.map(|share| share * noise);
            recorder.hum_kpa = [0.0; 2];
        }
        let declared = self.rig.as_ref().and_then(|rig| rig.clock.rate_hz());
        if let Some(rate) = self.rate_hz.or(declared) {
            recorder.rate_hz = vec![rate];
        }
        if let Some(rig) = &self.rig {
            let has = |quantity| f64::from(u8::from(rig.channel(quantity).is_some()));
            let volume = has(ChannelQuantity::Volume).max(has(ChannelQuantity::Turns));
            // A rig that lists no channel has them sniffed: what there is stays open.
            if !rig.channels.is_empty() {
                recorder.counter = volume;
                recorder.camera = has(ChannelQuantity::Diameter);
                recorder.microphone = has(ChannelQuantity::Sound);
            }
            if let Some((_, pressure)) = rig.channel(ChannelQuantity::Pressure) {
                if let Some((_, to)) = pressure.range {
                    recorder.range_to_kpa = [to; 2];
                    if let Some(step) = pressure.resolution.filter(|step| *step > 0.0) {
                        let bits = ((to - LOWEST_KPA) / step)
                            .log2()
                            .round()
                            .clamp(BITS.0, BITS.1);
                        recorder.bits = vec![bits as i32];
                    }
                }
                if let Some(u_rel) = pressure.u_rel {
                    recorder.gain_error = u_rel;
                }
            }
        }
        match scenario.fault() {
            None => Ok(scenario),
            Some(fault) => {
                let place = self
                    .rig
                    .as_ref()
                    .map_or_else(Place::default, |rig| Place::file(&rig.file));
                Err(Finding::error(
                    "scenario-unusable",
                    format!("this bench cannot be simulated: {fault}"),
                )
                .at(place))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::rig_from_text;

    const RIG: &str = "[clock]\nkind = \"rate\"\nrate_hz = 250\n[[channel]]\nquantity = \"pressure\"\ncolumn = 0\nunit = \"kPa\"\n\
        range_kpa = [-100, 1948]\nresolution_kpa = 0.5\nu_kpa = 1\nu_rel = 0.003\n[[channel]]\nquantity = \"turns\"\ncolumn = 1\nunit = \"turns\"\nml_per_turn = 0.5\n";

    #[test]
    fn the_recorder_of_a_scenario_becomes_that_of_the_rig() -> Result<(), Vec<Finding>> {
        let (rig, _) = rig_from_text(RIG, "rig.toml")?;
        let own = OwnBench {
            rig: Some(rig),
            noise_kpa: Some(2.0),
            rate_hz: None,
        };
        let faults = Scenario::named("faulty-logger").map_err(|f| vec![f])?;
        let scenario = own.record(faults.clone()).map_err(|f| vec![f])?;
        let recorder = &scenario.recorder;
        assert_eq!(recorder.rate_hz, [250.0]);
        assert_eq!(recorder.white_kpa, [1.6, 2.5]);
        // 2048 kPa in steps of half a kilopascal are 4096 codes.
        assert_eq!(recorder.bits, [12]);
        assert_eq!(recorder.range_to_kpa, [1948.0; 2]);
        assert_eq!(
            (recorder.counter, recorder.camera, recorder.microphone),
            (1.0, 0.0, 0.0)
        );
        assert!((recorder.gain_error - 0.003).abs() < 1e-12);
        assert_eq!(scenario.faults, faults.faults);
        Ok(())
    }

    #[test]
    fn a_bench_that_cannot_be_simulated_is_told() {
        let own = OwnBench {
            rate_hz: Some(1e6),
            ..OwnBench::default()
        };
        let told = own.record(Scenario::default()).err();
        assert!(told.is_some_and(|finding| finding.message.contains("rate_hz")));
    }
}
