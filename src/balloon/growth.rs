//! How a free balloon grows with pressure: its table of diameters, its growth for an atmosphere, and what such a balloon is called.

use super::DiameterCurve;
use crate::recording::{BalloonRow, GrowthRow, Trace};
use crate::rig::settings;
use crate::uncertain::{Budget, Budgeted, Component, Quantity};
use crate::units::KPA_PER_ATM;

/// Most rows of the table: a balloon is tested up to some 30 atm.
const MOST_ROWS: usize = 60;

/// What the points of a balloon do about its curve, in a budget.
pub(super) const SCATTER: &str = "scatter about the curve";

/// What of a balloon is tabled.
pub(super) struct Growth<'g> {
    /// Its curve.
    pub curve: &'g DiameterCurve,
    /// Its labels.
    pub row: Option<&'g BalloonRow>,
    /// A recording of it, for what its pressures are worth.
    pub trace: &'g Trace,
    /// Highest pressure it was inflated to, kPa.
    pub top_kpa: f64,
}

impl Growth<'_> {
    /// Diameters from nominal pressure (else from the first whole atmosphere) to the highest tested, atmosphere by atmosphere, with the
    /// nominal and the rated pressure among them.
    pub(super) fn table(&self) -> Vec<GrowthRow> {
        let nominal = self.row.and_then(|r| r.nominal_pressure_kpa);
        let rated = self.row.and_then(|r| r.rated_burst_pressure_kpa);
        let from = nominal.unwrap_or(KPA_PER_ATM);
        let to = self
            .top_kpa
            .max(rated.unwrap_or(0.0))
            .min(self.curve.highest_kpa.max(self.top_kpa));
        let first = (from / KPA_PER_ATM).ceil().max(1.0);
        let whole = (0..MOST_ROWS).map(|k| (first + k as f64) * KPA_PER_ATM);
        let mut pressures: Vec<f64> = whole.take_while(|p| *p <= to).collect();
        pressures.extend([nominal, rated].into_iter().flatten().filter(|p| *p <= to));
        pressures.sort_by(f64::total_cmp);
        pressures.dedup_by(|b, a| (*b - *a).abs() < 0.05 * KPA_PER_ATM);
        pressures
            .into_iter()
            .map(|pressure_kpa| GrowthRow {
                pressure_kpa,
                diameter: self.diameter(pressure_kpa),
                growth: nominal.map_or_else(
                    || Quantity::missing("1", "the nominal pressure of the balloon is not listed"),
                    |nominal| self.over(nominal, pressure_kpa, 1.0, "1").quantity,
                ),
                beyond_rated: rated.is_some_and(|rated| pressure_kpa > rated + 0.05 * KPA_PER_ATM),
            })
            .collect()
    }

    fn diameter(&self, p: f64) -> Quantity {
        let curve = self.curve;
        let slope = (curve.at(p + 1.0) - curve.at(p - 1.0)) / 2.0;
        let u_p = self
            .trace
            .u_pressure_kpa
            .hypot(self.trace.u_pressure_rel * p)
            .hypot(self.trace.u_zero_kpa);
        Quantity::known(
            curve.at(p),
            curve.u_at(p).hypot(slope * u_p),
            "mm",
            format!("{} curve of the free balloon", curve.name()),
        )
    }

    /// Growth from one pressure to another over the diameter at the first, times a factor: what is off by a factor in all diameters falls out.
    fn over(&self, from: f64, to: f64, times: f64, unit: &str) -> Budgeted {
        let curve = self.curve;
        let start = curve.at(from);
        if from == to {
            let none = "growth is counted from here";
            return Quantity::without_u(0.0, unit, "none yet", none).into();
        }
        let ratio = curve.at(to) / start - 1.0;
        let slope = |p: f64| (curve.at(p + 1.0) - curve.at(p - 1.0)) / 2.0;
        let by_gain = self.trace.u_pressure_rel * (slope(to) * to - slope(from) * from) / start;
        let by_zero = self.trace.u_zero_kpa.hypot(self.trace.u_pressure_kpa)
            * (slope(to) - slope(from))
            / start;
        let part = |name: &str, u: f64| Component::normal(name, u).sensitivity(times);
        let budget = Budget::new()
            .with(part(SCATTER, curve.u_growth(from, to) / start))
            .with(part("gain of the pressure", by_gain))
            .with(part("constant and zero of the pressure", by_zero));
        let method = "growth since the nominal pressure over the nominal diameter";
        Budgeted::known(times * ratio, budget, unit, method)
    }

    /// Growth from nominal to rated burst pressure, % of the nominal diameter for an atmosphere.
    pub(super) fn per_atm(&self) -> Budgeted {
        let unit = "%/atm";
        let (Some(from), Some(to)) = (
            self.row.and_then(|r| r.nominal_pressure_kpa),
            self.row.and_then(|r| r.rated_burst_pressure_kpa),
        ) else {
            return Budgeted::missing(unit, "needs the nominal and the rated burst pressure");
        };
        if to <= from {
            return Budgeted::missing(
                unit,
                "the rated burst pressure is not above the nominal one",
            );
        }
        let for_one = 100.0 * KPA_PER_ATM / (to - from);
        let mut growth = self.over(from, to, for_one, unit);
        "growth from nominal to rated burst pressure over the nominal diameter"
            .clone_into(&mut growth.quantity.method);
        growth
    }
}

/// What a balloon of that growth is called; both words where twice its uncertainty reaches over the boundary.
pub(super) fn kind(per_atm: &Quantity, settings: &settings::Balloon) -> String {
    let Some((growth, u)) = per_atm.pair() else {
        return "not known".to_owned();
    };
    let word = |growth: f64| {
        if growth < settings.non_compliant_percent_per_atm {
            "non-compliant"
        } else if growth <= settings.compliant_percent_per_atm {
            "semi-compliant"
        } else {
            "compliant"
        }
    };
    let (low, high) = (word(growth - 2.0 * u), word(growth + 2.0 * u));
    if low == high {
        low.to_owned()
    } else {
        format!("{low} or {high}")
    }
}
