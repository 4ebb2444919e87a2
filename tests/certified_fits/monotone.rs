//! A chart read between its points, beside published monotone curves (sources in `tests/data/curves/SOURCE.md`).

use crate::csv;
use hooptrace::balloon::MonotoneChart;

/// Published curves have twelve digits.
const ALIKE: f64 = 5e-12;

#[test]
fn a_monotone_chart_is_the_published_curve() {
    for name in ["rpn14", "titanium"] {
        let knots = csv("curves", &format!("pchip_{name}_knots.csv"));
        let (x, y): (Vec<f64>, Vec<f64>) = knots.iter().map(|row| (row[0], row[1])).unzip();
        let chart = MonotoneChart::through(&x, &y).unwrap();
        let curve = csv("curves", &format!("pchip_{name}.csv"));
        assert!(curve.len() > 50, "{}", curve.len());
        for row in curve {
            let (at, told) = (row[0], row[1]);
            let value = chart.at(at);
            assert!(
                (value - told).abs() < ALIKE * told.abs().max(1.0),
                "{name} at {at}: {value}, published {told}"
            );
        }
    }
}
