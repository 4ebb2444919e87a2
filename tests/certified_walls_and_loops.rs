//! Rings of solid wall, and the work of a loop of pressure and volume, against worked values and textbook figures.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use hooptrace::balloon::{end_at, loop_work};
use hooptrace::measure::mechanics::{Wall, tension};

#[track_caller]
fn near(got: f64, want: f64, half_digit: f64) {
    assert!((got - want).abs() <= half_digit, "{got} against {want}");
}

/// Worked values of a ring under pressure, by the stated formulas: a thin one of radius 10.5 mm at 20 atm with 230 GPa (wall of 0.5 mm; section of
/// 2 mm² over 5 mm), and two thick ones by Lamé, of metal and of polymer.
#[test]
fn rings_of_solid_wall() {
    let (d, modulus) = (21.0, 230_000.0);
    let stress = tension(2026.5, d) / 0.5;
    near(stress, 42.5565, 5e-5);
    near(stress / modulus * d, 3.885_59e-3, 5e-9);
    near(
        tension(101.325, d) / (2.0 / 5.0) / modulus * d,
        2.428_50e-4,
        5e-10,
    );
    let metal = Wall {
        inner_mm: 10.5,
        outer_mm: 11.5,
        poisson: 0.3,
    };
    let (inner, outer) = metal.hoop_stress(2.0);
    near(inner, 22.045_455, 5e-7);
    near(outer, 20.045_455, 5e-7);
    let (inner, outer) = metal.movement_mm(2.0, modulus);
    near(inner, 1.033_814e-3, 5e-10);
    near(outer, 1.002_273e-3, 5e-10);
    let polymer = Wall {
        inner_mm: 10.0,
        outer_mm: 12.0,
        poisson: 0.35,
    };
    let (inner, outer) = polymer.hoop_stress(1.0);
    near(inner, 5.545_455, 5e-7);
    near(outer, 4.545_455, 5e-7);
    let (inner, outer) = polymer.movement_mm(1.0, 2800.0);
    near(inner, 0.021_055_19, 5e-9);
    near(outer, 0.019_480_52, 5e-9);
    // A thin wall moves by p r² / (E t), 0.017 857 14 mm: 15 % less.
    near(
        tension(1000.0, 20.0) / 2.0 / 2800.0 * 10.0 / inner,
        0.848_111,
        5e-7,
    );
    // Twice that movement of the bore for 1000 kPa gives the modulus back.
    near(polymer.modulus_mpa(2.0 * inner / 1000.0), 2800.0, 1e-6);
}

/// An ellipse of half-axes 300 kPa and 0.8 mL encloses π 300 0.8 mJ (area of the ellipse); run the other way the work comes back. Its noise: the
/// derivatives of the sum by each reading, as differences (JCGM 100, 5.1.3).
#[test]
fn work_of_a_loop() {
    let steps = 2000;
    let turn = |k: usize| std::f64::consts::TAU * k as f64 / f64::from(steps);
    let (p, v): (Vec<f64>, Vec<f64>) = (0..=steps as usize)
        .map(|k| (500.0 + 300.0 * turn(k).sin(), 20.0 - 0.8 * turn(k).cos()))
        .unzip();
    let found = loop_work(&p, &v, (0.5, 0.002)).unwrap();
    near(found.work_mj, std::f64::consts::PI * 300.0 * 0.8, 2e-3);
    near(found.open_ml, 0.0, 1e-12);
    let back = |all: &[f64]| all.iter().rev().copied().collect::<Vec<f64>>();
    let reversed = loop_work(&back(&p), &back(&v), (0.5, 0.002)).unwrap();
    near(reversed.work_mj, -found.work_mj, 1e-9);
    let fine = (p.clone(), v.clone());
    let few = |all: &[f64]| all.iter().step_by(100).copied().collect::<Vec<f64>>();
    let (p, mut v) = (few(&p), few(&v));
    v[20] += 0.3;
    let work = |p: &[f64], v: &[f64]| loop_work(p, v, (0.0, 0.0)).unwrap().work_mj;
    let by = |list: &[f64], of: &dyn Fn(&[f64]) -> f64| -> f64 {
        let one = |k: usize| {
            let mut moved = list.to_vec();
            moved[k] += 1e-4;
            (of(&moved) - of(list)) / 1e-4
        };
        (0..list.len()).map(|k| one(k).powi(2)).sum::<f64>().sqrt()
    };
    let u = (0.5 * by(&p, &|p| work(p, &v))).hypot(0.002 * by(&v, &|v| work(&p, v)));
    near(loop_work(&p, &v, (0.5, 0.002)).unwrap().u_noise_mj, u, 1e-6);
    // A polygon of 20 corners in the ellipse misses 1 - sin(18°)/(π/10) of its area; one of 10 tells how much.
    let (p, v) = (few(&fine.0), few(&fine.1));
    let coarse = loop_work(&p, &v, (0.0, 0.0)).unwrap();
    let missed = std::f64::consts::PI * 300.0 * 0.8 - coarse.work_mj;
    near(missed, 12.341_46, 1e-3);
    near(coarse.u_step_mj, missed, 0.03 * missed);
    assert_eq!(loop_work(&[1.0, f64::NAN], &[1.0, 2.0], (0.1, 0.1)), None);
}

/// What goes up a straight line in small steps and comes down it in large ones took no work, wherever the last sample lies.
#[test]
fn a_loop_ends_at_the_pressure_it_began_with() {
    let mut v: Vec<f64> = (0..=40).map(|k| 20.0 + 0.05 * f64::from(k)).collect();
    v.extend([21.1, 20.2, 19.7]);
    let mut p: Vec<f64> = v.iter().map(|v| 100.0 + 400.0 * (v - 20.0)).collect();
    let open = loop_work(&p, &v, (0.0, 0.0)).unwrap();
    near(open.work_mj, -12.0, 1e-9);
    end_at(&mut p, &mut v, 100.0);
    let closed = loop_work(&p, &v, (0.0, 0.0)).unwrap();
    near(closed.work_mj, 0.0, 1e-9);
    near(closed.open_ml, 0.0, 1e-12);
}
