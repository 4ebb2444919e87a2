//! The dial of the inflator, where somebody wrote down what it showed: one more definition of the pressure of a break.

use crate::recording::{
    Contribution, Event, EventKind, ObservationRow, PressureByDefinition, PressureDefinition,
};
use crate::uncertain::{Distribution, Quantity};

/// Word of an observation that tells what the dial showed.
const DIAL: &str = "dial";

/// Adds the reading of the dial to the first fracture of a run, where there are both.
pub(super) fn add(events: &mut [Event], observations: &[ObservationRow]) {
    let reading = observations
        .iter()
        .find(|o| o.what.to_lowercase().contains(DIAL))
        .and_then(reading);
    let at = |event: &Event| event.t_s.unwrap_or(f64::INFINITY);
    let fractures = events.iter_mut().filter(|e| e.kind == EventKind::Fracture);
    let first = fractures.min_by(|a, b| at(a).total_cmp(&at(b)));
    if let (Some((kpa, u)), Some(event)) = (reading, first) {
        let method = "reading of the dial, written down";
        event.pressures.push(PressureByDefinition {
            definition: PressureDefinition::Dial,
            pressure: match u {
                Some(u) => Quantity::known(kpa, u, "kPa", method),
                None => Quantity::without_u(
                    kpa,
                    "kPa",
                    method,
                    "the accuracy of the dial is not declared",
                ),
            },
            at_most: None,
            budget: vec![Contribution {
                source: "dial".to_owned(),
                u,
                unit: "kPa".to_owned(),
                distribution: Distribution::Normal,
                reason: u.is_none().then(|| {
                    "2 to 3 % of full scale are usual for a dial (from memory, no source read)"
                        .to_owned()
                }),
            }],
        });
    }
}

/// The reading and its standard uncertainty in kPa; none where it is no number with a unit of pressure.
fn reading(observation: &ObservationRow) -> Option<(f64, Option<f64>)> {
    let quantity = observation.quantity.as_ref().filter(|q| q.unit == "kPa")?;
    Some((quantity.value?, quantity.u))
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::read::tables_from_bytes;

    /// As the table is read: in its own unit, or not at all.
    fn reading_of(value: &str, unit: &str, u: &str) -> Option<(f64, Option<f64>)> {
        let files = [
            ("runs.csv", "run_id,kind\nr,frame\n".to_owned()),
            (
                "observations.csv",
                format!("run_id;what;value;unit;u\nr;Dial at fracture;{value};{unit};{u}\n"),
            ),
        ]
        .map(|(name, text)| (name.to_owned(), text.into_bytes()));
        let (tables, _, _) = tables_from_bytes(&files, None).ok()?;
        tables.observations.first().and_then(reading)
    }

    #[test]
    fn a_dial_is_read_in_its_own_unit_or_not_at_all() {
        let near = |found: Option<(f64, Option<f64>)>, kpa: f64| {
            found.is_some_and(|(p, _)| (p - kpa).abs() < 1e-9)
        };
        assert!(near(reading_of("9.5", "atm", ""), 962.5875));
        assert!(near(reading_of("9,5", "bar", ""), 950.0));
        let (_, u) = reading_of("9.5", "bar", "0.2").unwrap_or_default();
        assert!(u.is_some_and(|u| (u - 20.0).abs() < 1e-9));
        assert_eq!(reading_of("9.5", "", ""), None);
        assert_eq!(reading_of("9.5", "mm", ""), None);
        assert_eq!(reading_of("high", "atm", ""), None);
    }
}
