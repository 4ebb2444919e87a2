//! The dial of the inflator, where somebody wrote down what it showed: one more definition of the pressure of a break.

use crate::recording::{
    Contribution, Event, EventKind, ObservationRow, PressureByDefinition, PressureDefinition,
};
use crate::uncertain::{Distribution, Quantity};
use crate::units::{self, Dimension};

/// Word of an observation that tells what the dial showed.
const DIAL: &str = "dial";

/// Adds the reading of the dial to the first fracture of a run, where there are both.
pub(super) fn add(events: &mut [Event], observations: &[ObservationRow]) {
    let reading = observations
        .iter()
        .find(|o| o.what.to_lowercase().contains(DIAL))
        .and_then(reading);
    let first = events.iter_mut().find(|e| e.kind == EventKind::Fracture);
    if let (Some(kpa), Some(event)) = (reading, first) {
        event.pressures.push(PressureByDefinition {
            definition: PressureDefinition::Dial,
            pressure: Quantity::without_u(
                kpa,
                "kPa",
                "reading of the dial, written down",
                "the accuracy of the dial is not declared",
            ),
            at_most: None,
            budget: vec![Contribution {
                source: "dial".to_owned(),
                u: None,
                unit: "kPa".to_owned(),
                distribution: Distribution::Rectangular,
                reason: Some(
                    "2 to 3 % of full scale are usual for a dial (from memory, no source read)"
                        .to_owned(),
                ),
            }],
        });
    }
}

/// The reading in kPa; none where it is no number with a unit of pressure.
fn reading(observation: &ObservationRow) -> Option<f64> {
    let unit = units::find(observation.unit.as_deref()?)?;
    let number: f64 = observation.value.trim().replace(',', ".").parse().ok()?;
    (unit.dimension == Dimension::Pressure && number.is_finite()).then(|| unit.to_bench(number))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn observation(value: &str, unit: Option<&str>) -> ObservationRow {
        ObservationRow {
            run_id: "r".to_owned(),
            stage: None,
            what: "Dial at fracture".to_owned(),
            value: value.to_owned(),
            unit: unit.map(str::to_owned),
            observer: None,
        }
    }

    #[test]
    fn a_dial_is_read_in_its_own_unit_or_not_at_all() {
        let kpa = |value, unit| reading(&observation(value, unit));
        assert!(kpa("9.5", Some("atm")).is_some_and(|p| (p - 962.5875).abs() < 1e-9));
        assert!(kpa("9,5", Some("bar")).is_some_and(|p| (p - 950.0).abs() < 1e-9));
        assert_eq!(kpa("9.5", None), None);
        assert_eq!(kpa("9.5", Some("mm")), None);
        assert_eq!(kpa("high", Some("atm")), None);
    }
}
