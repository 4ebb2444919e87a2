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
            damage: 0.0,
            yielded: false,
            bore_at_break_mm: bore_mm,
            since_break_s: 0.0,
        }
    }

    /// Diameter at which the ring just carries no force, mm.
    pub fn slack_diameter(&self) -> f64 {
        self.bore_mm + self.lag_mm
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
        self.stiffness() * (d - self.slack_diameter()).max(0.0)
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

    /// Let the ring carry `force` (N) for `dt` (s).
    pub fn advance(&mut self, force: f64, dt: f64) -> Option<RingEvent> {
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
