//! x
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]
use hooptrace::bench;
#[test]
fn dump() {
    let out = std::path::PathBuf::from(std::env::var("BENCH_OUT").unwrap());
    for plan in bench::sample_plans() {
        let t = std::time::Instant::now();
        let truth = bench::write_with_truth(&plan, &out).unwrap();
        println!("{} {:?}", plan.name, t.elapsed());
        for r in &truth.runs {
            println!("{} {:?} rows {} pmax {:.0} {:?}", r.run_id, r.outcome, r.rows, r.highest_pressure_kpa, r.diameters.map(|d| (d.before_mm, d.loaded_mm, d.after_mm)));
            for e in &r.events { println!("    {} t {:.2} {:?} p {:.0} drop {:?} V {:.2} D {:.2}->{:?} N {:.1} C {:.2e}", e.kind, e.t_s, e.phase, e.pressure_before_kpa, e.drop_kpa.map(|d| d.round()), e.counter_ml, e.diameter_before_mm, e.diameter_after_mm, e.ring_force_n, e.capacity_ml_per_kpa); }
        }
    }
}
