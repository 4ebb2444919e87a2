//! The operator: vents, fills, hands over, turns the screw, holds, looks, and comes down again.

use crate::recording::PhaseKind;
use crate::uncertain::Draws;
use std::collections::VecDeque;

/// Strokes after which any operator gives up.
const MOST_STROKES: usize = 60;
/// Share by which pressure must fall in a hold to be taken for a leak by eye.
const LEAK_SEEN: f64 = 0.12;
/// Pressure on an inflator that draws fluid, kPa.
const DRAWING_KPA: f64 = -12.0;

/// Something that interrupts the strokes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Interlude {
    /// Balloon shut off, plunger drawn back by so many mL, bubbles pushed out at the side port, balloon opened again.
    Refill(f64),
    /// Nothing for so many seconds.
    Pause(f64),
    /// So many mL withdrawn from the balloon and put back.
    PartialDeflation(f64),
}

/// How an operator works.
#[derive(Debug, Clone, PartialEq)]
pub struct Habit {
    /// Vented at the start, s.
    pub vent_s: f64,
    /// Fill until the gauge shows this, kPa.
    pub fill_to_kpa: f64,
    /// Flow of the fill, mL/s.
    pub fill_ml_s: f64,
    /// One stroke, mL.
    pub stroke_ml: f64,
    /// Its duration, s.
    pub stroke_s: f64,
    /// Hold after a stroke, s.
    pub hold_s: f64,
    /// Stop at this pressure, kPa.
    pub target_kpa: f64,
    /// Strokes after something happened.
    pub strokes_after_event: usize,
    /// Last hold, s.
    pub last_hold_s: f64,
    /// Deflation, s.
    pub deflate_s: f64,
    /// Interruptions: after this stroke, that.
    pub interludes: Vec<(usize, Interlude)>,
}

/// Where the stopcock points.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Valve {
    /// Inflator to balloon.
    Open,
    /// Balloon shut off.
    Shut,
    /// Both sides to the room.
    Vented,
}

/// One thing the operator does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Action {
    /// What it is.
    pub phase: PhaseKind,
    /// Duration, s.
    pub seconds: f64,
    /// Volume moved, mL, negative back.
    pub volume_ml: f64,
    /// Where the stopcock points.
    pub valve: Valve,
    /// Stop early once the gauge shows this, kPa.
    pub stop_above_kpa: Option<f64>,
    /// Pressure on the inflator's side while the balloon is shut off, kPa.
    pub inflator_kpa: f64,
    /// The counter is set to zero at the end.
    pub zero_counter: bool,
}

impl Action {
    fn rest(phase: PhaseKind, seconds: f64, valve: Valve) -> Self {
        Self {
            phase,
            seconds,
            volume_ml: 0.0,
            valve,
            stop_above_kpa: None,
            inflator_kpa: 0.0,
            zero_counter: false,
        }
    }

    fn turn(phase: PhaseKind, seconds: f64, volume_ml: f64) -> Self {
        Self {
            volume_ml,
            ..Self::rest(phase, seconds, Valve::Open)
        }
    }

    /// Volume moved `t` seconds into the action, mL: half a cosine, at rest at both ends; a fill runs evenly.
    pub fn moved(&self, t: f64) -> f64 {
        let done = (t / self.seconds).clamp(0.0, 1.0);
        if self.phase == PhaseKind::Fill {
            self.volume_ml * done
        } else {
            self.volume_ml * 0.5 * (1.0 - (std::f64::consts::PI * done).cos())
        }
    }
}

/// What the operator can see and hear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// Gauge, kPa.
    pub pressure_kpa: f64,
    /// Counter of the inflator, mL.
    pub counter_ml: f64,
    /// Bangs and slips so far.
    pub happenings: usize,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Stage {
    Start,
    Strokes,
    End,
}

/// An operator at work.
#[derive(Debug, Clone)]
pub struct Operator {
    habit: Habit,
    has_balloon: bool,
    draws: Draws,
    stage: Stage,
    queue: VecDeque<Action>,
    strokes: usize,
    strokes_left: Option<usize>,
    /// Gauge when the hold began, kPa.
    hold_from_kpa: Option<f64>,
}

impl Operator {
    /// An operator with a habit; `draws` gives the small unevenness of hand and clock.
    pub fn new(habit: Habit, has_balloon: bool, draws: Draws) -> Self {
        Self {
            habit,
            has_balloon,
            draws,
            stage: Stage::Start,
            queue: VecDeque::new(),
            strokes: 0,
            strokes_left: None,
            hold_from_kpa: None,
        }
    }

    /// A value spread by ± `share`.
    fn about(&mut self, value: f64, share: f64) -> f64 {
        value * (1.0 + share * self.draws.between(-1.0, 1.0))
    }

    /// What comes next, or `None` at the end of the run.
    pub fn next(&mut self, seen: &Seen) -> Option<Action> {
        if self.queue.is_empty() {
            match self.stage {
                Stage::Start => self.start(),
                Stage::Strokes => self.work(seen),
                Stage::End => return None,
            }
        }
        let action = self.queue.pop_front();
        if action.is_some_and(|a| a.phase == PhaseKind::Hold) && self.hold_from_kpa.is_none() {
            self.hold_from_kpa = Some(seen.pressure_kpa);
        }
        action
    }

    fn start(&mut self) {
        let vent = self.about(self.habit.vent_s, 0.1);
        self.queue
            .push_back(Action::rest(PhaseKind::Vent, vent, Valve::Vented));
        if self.has_balloon {
            self.queue.push_back(Action {
                volume_ml: self.habit.fill_ml_s * 60.0,
                stop_above_kpa: Some(self.habit.fill_to_kpa),
                ..Action::turn(PhaseKind::Fill, 60.0, 0.0)
            });
            let turn_off = self.about(0.5, 0.3);
            let turn_on = self.about(0.7, 0.3);
            self.queue
                .push_back(Action::turn(PhaseKind::Hold, 0.6, 0.0));
            self.queue.push_back(Action {
                zero_counter: true,
                ..Action::rest(PhaseKind::Switch, turn_off, Valve::Shut)
            });
            self.queue
                .push_back(Action::rest(PhaseKind::Switch, turn_on, Valve::Shut));
        }
        let breath = self.about(1.0, 0.2);
        self.queue
            .push_back(Action::turn(PhaseKind::Hold, breath, 0.0));
        self.stage = Stage::Strokes;
    }

    /// Look at the gauge, then stroke on, interrupt, or come down.
    fn work(&mut self, seen: &Seen) {
        let falling = self
            .hold_from_kpa
            .take()
            .is_some_and(|from| from > 100.0 && seen.pressure_kpa < (1.0 - LEAK_SEEN) * from);
        if (seen.happenings > 0 || falling) && self.strokes_left.is_none() {
            self.strokes_left = Some(self.habit.strokes_after_event);
        }
        let finished = self.strokes_left == Some(0)
            || seen.pressure_kpa >= self.habit.target_kpa
            || self.strokes >= MOST_STROKES;
        if finished {
            self.finish(seen);
            return;
        }
        let interlude = self
            .habit
            .interludes
            .iter()
            .position(|(after, _)| *after == self.strokes)
            .map(|at| self.habit.interludes.remove(at).1);
        match interlude {
            Some(interlude) => self.interrupt(interlude),
            None => self.stroke(),
        }
    }

    fn stroke(&mut self) {
        self.strokes += 1;
        self.strokes_left = self.strokes_left.map(|left| left.saturating_sub(1));
        let volume = self.about(self.habit.stroke_ml, 0.08);
        let seconds = self.about(self.habit.stroke_s, 0.15);
        let hold = self.about(self.habit.hold_s, 0.2);
        self.queue
            .push_back(Action::turn(PhaseKind::Stroke, seconds, volume));
        self.queue
            .push_back(Action::turn(PhaseKind::Hold, hold, 0.0));
    }

    fn interrupt(&mut self, interlude: Interlude) {
        match interlude {
            Interlude::Pause(seconds) => {
                self.queue
                    .push_back(Action::turn(PhaseKind::Hold, seconds, 0.0));
            }
            Interlude::PartialDeflation(volume) => {
                self.queue
                    .push_back(Action::turn(PhaseKind::Refill, 1.4, -volume));
                self.queue
                    .push_back(Action::turn(PhaseKind::Refill, 1.2, 0.0));
                self.queue
                    .push_back(Action::turn(PhaseKind::Refill, 1.6, volume));
                self.queue
                    .push_back(Action::turn(PhaseKind::Hold, 1.5, 0.0));
            }
            Interlude::Refill(volume) => {
                let shut = |seconds, volume_ml, inflator_kpa| Action {
                    volume_ml,
                    inflator_kpa,
                    ..Action::rest(PhaseKind::Refill, seconds, Valve::Shut)
                };
                self.queue.push_back(shut(0.4, 0.0, 0.0));
                self.queue.push_back(shut(1.2, -volume, DRAWING_KPA));
                self.queue.push_back(shut(0.5, 0.0, 0.0));
                self.queue.push_back(shut(1.0, volume, 0.0));
                self.queue.push_back(shut(0.4, 0.0, 0.0));
                self.queue
                    .push_back(Action::turn(PhaseKind::Hold, 1.5, 0.0));
            }
        }
    }

    fn finish(&mut self, seen: &Seen) {
        let last_hold = self.about(self.habit.last_hold_s, 0.1);
        self.queue
            .push_back(Action::turn(PhaseKind::Hold, last_hold, 0.0));
        self.queue.push_back(Action::turn(
            PhaseKind::Deflate,
            self.habit.deflate_s,
            -seen.counter_ml,
        ));
        self.queue
            .push_back(Action::rest(PhaseKind::Vent, 2.5, Valve::Vented));
        self.stage = Stage::End;
    }
}
