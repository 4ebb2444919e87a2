//! Pressure from the volume balance: what was injected is in the line, in the balloon, or lost.

use super::balloon::Balloon;
use super::frame::{Ring, RingEvent};
use super::hole::Hole;
use super::line::Line;

/// Lowest gauge pressure as a share of ambient: fluid boils off before a vacuum is reached.
const DEEPEST_SUCTION: f64 = -0.95;
/// Area of the tear of a burst, mm².
const TEAR_MM2: f64 = 9.0;
/// Contact that a slipped frame keeps, as a share.
const CONTACT_AFTER_SLIP: f64 = 0.3;
/// Friction between balloon and frame (wet polymer on metal or polymer; common practice, no source).
const FRICTION: f64 = 0.05;

/// How the frame sits on the balloon.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seat {
    /// Length over which the frame touches the balloon, mm.
    pub contact_length_mm: f64,
    /// 0 centred, 1 so far off the centre that only one shoulder of the balloon pushes along the axis.
    pub off_centre: f64,
    /// Slope of the shoulders between free lobes and waist: 0 for sharp edges, 0.5 where they fall by 45°.
    pub shoulder: f64,
    /// Axial force the fixture holds beyond friction, N.
    pub fixture_n: f64,
    /// Duration of a slip, s.
    pub slip_time_s: f64,
}

/// A weak spot that opens into a pinhole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeakSpot {
    /// Pressure that opens it, kPa.
    pub opens_at_kpa: f64,
    /// Its diameter, µm.
    pub diameter_um: f64,
}

/// What happened in a step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Happening {
    /// The frame began to stretch for good.
    Yield,
    /// The frame broke.
    Fracture,
    /// The balloon tore.
    Burst,
    /// A pinhole opened.
    Leak,
    /// The balloon began to slip.
    Slip,
}

/// Equilibrium of balloon, frame and line.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct State {
    /// Gauge pressure in the balloon, kPa.
    pub pressure: f64,
    /// Diameter of the waist, or of the free balloon, mm.
    pub waist: f64,
    /// Ring force, N.
    pub force: f64,
    /// Pressure the free balloon needs at the waist's diameter, kPa.
    pub free_pressure: f64,
}

/// Line, balloon and frame under one volume.
#[derive(Debug, Clone)]
pub struct Specimen {
    /// The line.
    pub line: Line,
    /// The balloon; none in a blank run.
    pub balloon: Option<Balloon>,
    /// The frame; none in a free run.
    pub ring: Option<Ring>,
    /// Where the frame sits.
    pub seat: Seat,
    /// A weak spot of the balloon.
    pub weak_spot: Option<WeakSpot>,
    /// An opening.
    pub hole: Option<Hole>,
    /// Density of the fluid, g/mL.
    pub density: f64,
    /// Volume injected, mL.
    pub injected_ml: f64,
    /// Volume lost through a hole, mL.
    pub lost_ml: f64,
    /// Volume crept into the balloon's wall, mL.
    pub crept_ml: f64,
    /// Time since the start of a slip, s.
    pub slipping_s: Option<f64>,
    burst: bool,
    state: State,
    imbalance_ml: f64,
}

impl Specimen {
    /// An empty, vented set-up.
    pub fn new(line: Line, balloon: Option<Balloon>, ring: Option<Ring>, seat: Seat) -> Self {
        let mut specimen = Self {
            line,
            balloon,
            ring,
            seat,
            weak_spot: None,
            hole: None,
            density: 1.0,
            injected_ml: 0.0,
            lost_ml: 0.0,
            crept_ml: 0.0,
            slipping_s: None,
            burst: false,
            state: State::default(),
            imbalance_ml: 0.0,
        };
        // The folded volume is filled while the line is primed, before any counter starts.
        specimen.injected_ml = specimen.volume(0.0);
        specimen.state = specimen.at(0.0);
        specimen
    }

    /// The equilibrium found last.
    pub fn state(&self) -> State {
        self.state
    }

    /// Whether the balloon has torn.
    pub fn burst(&self) -> bool {
        self.burst
    }

    /// Length of contact now, mm.
    pub fn contact_length(&self) -> f64 {
        let full = self.seat.contact_length_mm;
        self.slipping_s.map_or(full, |since| {
            let done = (since / self.seat.slip_time_s).clamp(0.0, 1.0);
            let smooth = done * done * (3.0 - 2.0 * done);
            full * (1.0 - (1.0 - CONTACT_AFTER_SLIP) * smooth)
        })
    }

    /// The state in which the free balloon would need `q` (kPa) at the waist.
    ///
    /// Without contact `q` is the pressure. With contact the ring adds its load `2 N / (D L)` (thin ring; N in mN, D and L in mm
    /// give kPa): everything follows from `q` without iteration, and the volume rises with it.
    fn at(&self, q: f64) -> State {
        let Some(balloon) = &self.balloon else {
            return State {
                pressure: q,
                free_pressure: q,
                ..State::default()
            };
        };
        let wall = balloon.wall_diameter(q);
        let Some(ring) = &self.ring else {
            return State {
                pressure: q,
                waist: wall,
                force: 0.0,
                free_pressure: q,
            };
        };
        let force = ring.force(wall);
        let load = if force > 0.0 {
            2000.0 * force / (wall * self.contact_length())
        } else {
            0.0
        };
        State {
            pressure: q + load,
            waist: wall.max(ring.slack_diameter()),
            force,
            free_pressure: q,
        }
    }

    /// Volume held by line and balloon at `q`, mL.
    fn volume(&self, q: f64) -> f64 {
        let state = self.at(q);
        let line = self.line.volume(state.pressure);
        let Some(balloon) = &self.balloon else {
            return line;
        };
        let (length, shoulder) = if self.ring.is_some() {
            (self.contact_length(), self.seat.shoulder)
        } else {
            (0.0, 0.0)
        };
        line + balloon.volume_waisted(state.pressure, state.waist, length, shoulder) + self.crept_ml
    }

    /// What the last balance left open, mL: injected less lost less held. Zero up to rounding.
    pub fn imbalance(&self) -> f64 {
        self.imbalance_ml
    }

    /// Find the equilibrium for the volume inside now.
    pub fn settle(&mut self) -> State {
        let target = self.injected_ml - self.lost_ml;
        let floor = DEEPEST_SUCTION * self.line.ambient_kpa;
        let start = self.state.free_pressure.max(floor);
        let q = root_of_rising(|q| self.volume(q) - target, start, floor);
        self.state = self.at(q);
        self.imbalance_ml = target - self.volume(q);
        self.state
    }

    /// Inject `volume` (mL, negative withdraws) within `dt` (s) and let everything move.
    pub fn step(&mut self, volume: f64, dt: f64) -> Option<Happening> {
        let p = self.state.pressure;
        self.injected_ml += volume;
        if let Some(hole) = self.hole {
            self.lost_ml += hole.flow(p, self.density) * dt;
        }
        if let Some(balloon) = &self.balloon {
            let goal = balloon.creep_ml_per_kpa * p.max(0.0);
            self.crept_ml += (goal - self.crept_ml) * (1.0 - (-dt / balloon.creep_time_s).exp());
        }
        if let Some(since) = self.slipping_s.as_mut() {
            *since += dt;
        }
        let state = self.settle();
        let ring_event = self
            .ring
            .as_mut()
            .and_then(|ring| ring.advance(state.force, state.waist, dt));
        match ring_event {
            Some(RingEvent::Broke) => return Some(Happening::Fracture),
            Some(RingEvent::Yielded) => return Some(Happening::Yield),
            None => {}
        }
        self.balloon_event(state)
    }

    /// Burst, leak or slip, if this is the moment.
    fn balloon_event(&mut self, state: State) -> Option<Happening> {
        let balloon = self.balloon.as_ref()?;
        if !self.burst && state.pressure >= balloon.burst_kpa {
            self.burst = true;
            self.hole = Some(Hole { area_mm2: TEAR_MM2 });
            return Some(Happening::Burst);
        }
        if let Some(spot) = self.weak_spot
            && self.hole.is_none()
            && state.pressure >= spot.opens_at_kpa
        {
            self.hole = Some(Hole::round(spot.diameter_um));
            return Some(Happening::Leak);
        }
        if self.slipping_s.is_none() && self.axial_excess(state) > 0.0 {
            self.slipping_s = Some(0.0);
            return Some(Happening::Slip);
        }
        None
    }

    /// Axial push of the free lobe less friction and fixture, N: `f p π/4 (D_free² − D²) − μ p_load π D L − F`.
    fn axial_excess(&self, state: State) -> f64 {
        let (Some(balloon), Some(_)) = (&self.balloon, &self.ring) else {
            return -1.0;
        };
        let free = balloon.wall_diameter(state.pressure);
        let shoulder = std::f64::consts::FRAC_PI_4 * (free * free - state.waist * state.waist);
        let push = self.seat.off_centre * state.pressure * shoulder * 1e-3;
        let grip = FRICTION
            * (state.pressure - state.free_pressure)
            * std::f64::consts::PI
            * state.waist
            * self.contact_length()
            * 1e-3;
        push - grip - self.seat.fixture_n
    }

    /// Capacity dV/dp of line, balloon and frame together at constant permanent stretch, mL/kPa, by central difference.
    pub fn capacity(&self) -> f64 {
        let q = self.state.free_pressure;
        let h = 1e-4 * (1.0 + q.abs());
        let (low, high) = (self.at(q - h).pressure, self.at(q + h).pressure);
        (self.volume(q + h) - self.volume(q - h)) / (high - low)
    }
}

/// Zero of a rising function at or above `floor`, from a start nearby: widen to a bracket, then the Illinois variant of false
/// position (Dowell and Jarratt 1971) with bisection as its fall-back. Holds at `floor` if the zero lies below it.
fn root_of_rising(f: impl Fn(f64) -> f64, start: f64, floor: f64) -> f64 {
    let mut step = 1e-3 * (1.0 + start.abs());
    let (mut low, mut f_low) = (start, f(start));
    let (mut high, mut f_high) = (low, f_low);
    while f_low > 0.0 && low > floor {
        (high, f_high) = (low, f_low);
        low = (low - step).max(floor);
        f_low = f(low);
        step *= 2.0;
    }
    while f_high < 0.0 && step < 1e9 {
        (low, f_low) = (high, f_high);
        high += step;
        f_high = f(high);
        step *= 2.0;
    }
    if f_low >= 0.0 {
        return low;
    }
    let mut side = 0_i8;
    for round in 0..200 {
        if high - low <= 1e-15 * (low.abs() + high.abs()) || f_high == 0.0 {
            break;
        }
        let middle = if round % 8 == 7 {
            0.5 * (low + high)
        } else {
            (low * f_high - high * f_low) / (f_high - f_low)
        };
        let middle = if middle > low && middle < high {
            middle
        } else {
            0.5 * (low + high)
        };
        let value = f(middle);
        if value.abs() < 1e-13 {
            return middle;
        }
        if value < 0.0 {
            (low, f_low) = (middle, value);
            if side < 0 {
                f_high *= 0.5;
            }
            side = -1;
        } else {
            (high, f_high) = (middle, value);
            if side > 0 {
                f_low *= 0.5;
            }
            side = 1;
        }
    }
    0.5 * (low + high)
}
