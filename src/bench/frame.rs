//! The frame: a ring that stretches, yields, creeps and may break, more than once.

/// What a break leaves of the ring.
#[derive(Debug, Clone, PartialEq)]
pub struct Break {
    /// Ring force that breaks it within one second, N.
    pub strength_n: f64,
    /// Exponent of the life under a constant force: life = (strength/force)^exponent seconds. Large means brittle.
    pub life_exponent: f64,
    /// Stiffness of the opened ring, N/mm.
    pub stiffness_n_per_mm: f64,
    /// Ring force at which the opened ring gives way for good, N.
    pub yield_n: f64,
    /// Rise of that force with further opening, N/mm.
    pub hardening_n_per_mm: f64,
}

/// A way to build a frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Construction {
    /// Plain name of the construction.
    pub name: String,
    /// Ring force per mm of diameter, N/mm.
    pub stiffness_n_per_mm: f64,
    /// Ring force at which it stretches for good, N.
    pub yield_n: f64,
    /// Rise of that force with permanent stretch, N/mm.
    pub hardening_n_per_mm: f64,
    /// Ring force above yield for a permanent stretch of 1 mm/s, N s/mm: creep under load, relaxation in a hold.
    pub viscosity_n_s_per_mm: f64,
    /// Stiffness of the recoverable delayed stretch, N/mm.
    pub lag_stiffness_n_per_mm: f64,
    /// Its time constant, s.
    pub lag_time_s: f64,
    /// Breaks in order; none for a frame that only stretches.
    pub breaks: Vec<Break>,
}

/// An inner valve already implanted in the ring when it is dilated: a frame of metal between balloon and ring. It never breaks; it stretches
/// with the ring, takes a part of the force, and holds some of the ring's recoil back.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct InnerValve {
    /// Thickness of its wall, mm: the bore is narrower by twice that.
    pub wall_mm: f64,
    /// Ring force per mm of diameter, N/mm.
    pub stiffness_n_per_mm: f64,
    /// Ring force at which it stretches for good (ideally plastic), N.
    pub yield_n: f64,
    /// Inner diameter at which it carries no force, mm.
    pub bore_mm: f64,
}

impl InnerValve {
    /// Ring force at inner diameter `d` (mm), N.
    fn force(&self, d: f64) -> f64 {
        (self.stiffness_n_per_mm * (d - self.bore_mm)).clamp(0.0, self.yield_n)
    }

    /// Let it stand at inner diameter `d` (mm): beyond its yield it stays wider.
    fn stretch(&mut self, d: f64) {
        let elastic = self.yield_n / self.stiffness_n_per_mm;
        self.bore_mm = self.bore_mm.max(d - elastic);
    }
}

/// Time constant of a ring springing open, s (a few milliseconds: common bench experience, no source).
pub const SNAP_TIME_S: f64 = 0.004;
/// Viscosity of a broken ring, N s/mm: with the 10 to 20 N/mm by which a stiff rig unloads a ring, it opens within milliseconds.
const BROKEN_VISCOSITY_N_S_PER_MM: f64 = 0.06;
/// Permanent stretch that counts as the onset of yield, mm.
const YIELD_ONSET_MM: f64 = 0.02;

/// What happened to the ring in a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RingEvent {
    /// It began to stretch for good.
    Yielded,
    /// It broke.
    Broke,
}

/// A frame's ring and its state.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    /// How it is built.
    pub construction: Construction,
    /// Inner diameter before anything was done, mm.
    pub first_bore_mm: f64,
    /// Inner diameter when unloaded and fully recovered, mm.
    pub bore_mm: f64,
    /// Delayed stretch not yet recovered, mm.
    pub lag_mm: f64,
    /// Breaks so far.
    pub broken: usize,
    /// The inner valve in it, if it was implanted before.
    pub inner: Option<InnerValve>,
    damage: f64,
    yielded: bool,
    bore_at_break_mm: f64,
    since_break_s: f64,
}

impl Ring {
    /// A new frame of inner diameter `bore_mm` (mm).
    pub fn new(construction: Construction, bore_mm: f64) -> Self {
        Self {
            construction,
            first_bore_mm: bore_mm,
            bore_mm,
            lag_mm: 0.0,
            broken: 0,
            inner: None,
            damage: 0.0,
            yielded: false,
            bore_at_break_mm: bore_mm,
            since_break_s: 0.0,
        }
    }

    /// The same with an inner valve implanted in it: diameters are those of the bore, inside the inner valve, which stands free of force there.
    #[must_use]
    pub fn with_inner(mut self, mut inner: InnerValve) -> Self {
        let narrower = 2.0 * inner.wall_mm;
        self.first_bore_mm -= narrower;
        self.bore_mm -= narrower;
        self.bore_at_break_mm -= narrower;
        inner.bore_mm = self.bore_mm;
        self.inner = Some(inner);
        self
    }

    /// Bore as a gauge finds it when unloaded, mm: where an inner valve was stretched further than the ring, the one presses the other open, and
    /// both forces are equal.
    pub fn unloaded_bore_mm(&self) -> f64 {
        match self.inner.filter(|inner| inner.bore_mm > self.bore_mm) {
            None => self.bore_mm,
            Some(inner) => {
                let (ring, valve) = (self.stiffness(), inner.stiffness_n_per_mm);
                (ring * self.bore_mm + valve * inner.bore_mm) / (ring + valve)
            }
        }
    }

    /// Diameter at which the ring just carries no force, mm.
    pub fn slack_diameter(&self) -> f64 {
        self.unloaded_bore_mm() + self.lag_mm
    }

    /// Ring force per mm of diameter beyond the slack one, N/mm.
    pub fn stiffness(&self) -> f64 {
        let after = |n: usize| {
            self.construction
                .breaks
                .get(n)
                .map_or(self.construction.stiffness_n_per_mm, |b| {
                    b.stiffness_n_per_mm
                })
        };
        match self.broken {
            0 => self.construction.stiffness_n_per_mm,
            1 => self.opening(self.construction.stiffness_n_per_mm, after(0)),
            n => self.opening(after(n - 2), after(n - 1)),
        }
    }

    /// Ring force the ring takes at diameter `d` (mm), N; a ring pushes, it does not pull the balloon along.
    pub fn force(&self, d: f64) -> f64 {
        let own = self.stiffness() * (d - self.bore_mm - self.lag_mm);
        match self.inner {
            None => own.max(0.0),
            // Apart from each other, both push the bore to where their forces are equal.
            Some(inner) => {
                let valve = inner.stiffness_n_per_mm * (d - inner.bore_mm);
                (own + valve.min(inner.yield_n)).max(0.0)
            }
        }
    }

    /// The part of a ring force that the ring itself takes at bore `d` (mm), N.
    fn own_part(&self, force: f64, d: f64) -> f64 {
        (force - self.inner.map_or(0.0, |inner| inner.force(d))).max(0.0)
    }

    /// From the value before a break to the one after it, as the crack opens.
    fn opening(&self, before: f64, after: f64) -> f64 {
        after + (before - after) * (-self.since_break_s / SNAP_TIME_S).exp()
    }

    /// Ring force at which it stretches for good, N.
    fn yield_force(&self) -> f64 {
        let last = self
            .broken
            .checked_sub(1)
            .and_then(|n| self.construction.breaks.get(n));
        match last {
            None => {
                self.construction.yield_n
                    + self.construction.hardening_n_per_mm * (self.bore_mm - self.first_bore_mm)
            }
            Some(last) => {
                last.yield_n + last.hardening_n_per_mm * (self.bore_mm - self.bore_at_break_mm)
            }
        }
    }

    /// Let the ring carry `force` (N) at bore `d` (mm) for `dt` (s).
    pub fn advance(&mut self, force: f64, d: f64, dt: f64) -> Option<RingEvent> {
        let force = self.own_part(force, d);
        if let Some(inner) = &mut self.inner {
            inner.stretch(d);
        }
        let c = &self.construction;
        let lag = force / c.lag_stiffness_n_per_mm;
        self.lag_mm += (lag - self.lag_mm) * (1.0 - (-dt / c.lag_time_s).exp());
        let viscosity = if self.broken > 0 {
            BROKEN_VISCOSITY_N_S_PER_MM
        } else {
            c.viscosity_n_s_per_mm
        };
        let excess = (force - self.yield_force()).max(0.0);
        self.bore_mm += excess / viscosity * dt;
        self.since_break_s += dt;
        if let Some(next) = self.construction.breaks.get(self.broken) {
            self.damage += (force / next.strength_n).powf(next.life_exponent) * dt;
            if self.damage >= 1.0 {
                self.damage = 0.0;
                self.broken += 1;
                self.bore_at_break_mm = self.bore_mm;
                self.since_break_s = 0.0;
                return Some(RingEvent::Broke);
            }
        }
        if !self.yielded && self.broken == 0 && self.bore_mm - self.first_bore_mm > YIELD_ONSET_MM {
            self.yielded = true;
            return Some(RingEvent::Yielded);
        }
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::samples::parts;

    fn inner() -> InnerValve {
        InnerValve {
            wall_mm: 0.4,
            stiffness_n_per_mm: 5.0,
            yield_n: 10.0,
            bore_mm: 0.0,
        }
    }

    /// Two springs side by side: their forces add up, and the bore is narrower by both walls.
    #[test]
    fn an_inner_valve_shares_the_force() {
        let alone = Ring::new(parts::moulded_ring(40.0), 20.8);
        let both = alone.clone().with_inner(inner());
        assert!((both.first_bore_mm - 20.0).abs() < 1e-12);
        assert!((both.unloaded_bore_mm() - 20.0).abs() < 1e-12);
        // Half a millimetre is 2.5 N of the valve; from 2 mm on it gives 10 N and no more.
        for (by, valve) in [(0.5, 2.5), (1.0, 5.0), (3.0, 10.0)] {
            let (with, without) = (both.force(20.0 + by), alone.force(20.8 + by));
            assert!(
                (with - without - valve).abs() < 1e-9,
                "{by}: {with} {without}"
            );
        }
        assert!(both.force(19.9).abs() < 1e-12);
    }

    /// Stretched by 3 mm for an instant, the valve stays 1 mm wider (3 less the 2 it springs back) and the ring does not: unloaded, the ring
    /// is pressed open to where k_ring x = k_valve (1 - x).
    #[test]
    fn what_the_valve_keeps_the_ring_shares() {
        let mut ring = Ring::new(parts::moulded_ring(1e6), 20.8).with_inner(inner());
        let stiffness = ring.stiffness();
        // No time passes: nothing creeps.
        ring.advance(ring.force(23.0), 23.0, 0.0);
        let expected = 20.0 + 5.0 / (stiffness + 5.0);
        assert!((ring.unloaded_bore_mm() - expected).abs() < 1e-9);
        assert!(ring.force(expected).abs() < 1e-9);
    }
}
