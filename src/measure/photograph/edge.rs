//! How the grey levels run across an outline: its two levels, its blur, its noise.

use super::super::geometry::{Outline, area_diameter};
use crate::recording::Picture;

/// Most places along an outline that are looked at, px apart where there are fewer.
const MOST_STATIONS: usize = 20_000;
/// Distance over which the first look goes to either side, px: twice the blur of a usual lens in focus.
const FIRST_REACH: f64 = 6.0;
/// Shortest and longest distance at which the levels on both sides are taken, px.
const REACH: (f64, f64) = (3.0, 30.0);
/// The levels are taken so many blur widths away, where 0.1 % of the edge is left (normal distribution), and a pixel more for the
/// grid.
const REACH_BLURS: f64 = 3.0;
/// Light that falls off across the edge is seen over so many more pixels, and at most over a quarter of the radius of the opening; what it
/// does between there and the edge is taken out.
const FARTHER: f64 = 12.0;
/// Share of that which is uncertain, because light does not fall off along a straight line (an estimate of ours).
const FALLING_SHARE: f64 = 0.25;
/// Step across the edge, px.
const STEP: f64 = 0.5;
/// Length of the pieces whose scatter gives the noise, px: as long as a block of JPEG.
const PIECE: f64 = 8.0;
/// Fewest pieces.
const FEWEST_PIECES: usize = 8;
/// Share of the differences between pieces that is used, and the mean of the lowest 90 % of χ² with one degree of freedom: corners of
/// the opening are no noise.
const TRIM: (f64, f64) = (0.9, 0.623);

/// What stands across an outline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// Level on the dark side.
    pub dark: f64,
    /// Level on the bright side.
    pub bright: f64,
    /// Half the height: the level at which the outline is as much too wide in some places as too narrow in others.
    pub half: f64,
    /// Standard uncertainty of half the height from the noise of both sides and from light that falls off across the edge.
    pub u_half: f64,
    /// Standard deviation of half the height along the outline, noise taken out: uneven light.
    pub uneven: f64,
    /// Rise at the edge, levels a pixel.
    pub slope: f64,
    /// Standard deviation of the blur, px.
    pub blur_px: f64,
    /// Standard uncertainty of the level summed along the outline, level · px.
    pub u_sum: f64,
    /// Standard deviation of the noise of the level at one place, levels.
    pub noise: f64,
    /// Standard deviation of the outline at one place from noise, px.
    pub local_px: f64,
}

/// Looks across an outline (px) of a picture. `None` where there is no edge, or the two sides cannot be seen.
pub fn look(picture: &Picture, outline: &Outline, bright_inside: bool) -> Option<Edge> {
    let stations = stations(outline, bright_inside);
    let first = Profile::of(picture, &stations, FIRST_REACH)?;
    let blur = first.blur();
    let reach = (REACH_BLURS * blur + 1.0).clamp(REACH.0, REACH.1);
    let profile = Profile::of(picture, &stations, reach)?;
    let (dark, bright) = profile.ends()?;
    let slope = profile.at(0.5)? - profile.at(-0.5)?;
    if bright <= dark || slope <= 0.0 {
        return None;
    }
    let perimeter = outline.perimeter();
    let count = ((perimeter / PIECE) as usize).max(FEWEST_PIECES);
    let side = |at: f64| pieces(picture, &stations, at, count);
    let (low, high) = (side(-reach)?, side(reach)?);
    let (noise_low, noise_high) = (noise(&low), noise(&high));
    let halves: Vec<f64> = low
        .iter()
        .zip(&high)
        .map(|(a, b)| f64::midpoint(*a, *b))
        .collect();
    let noise_half = (noise_low + noise_high) / 4.0;
    let length = perimeter / count as f64;
    let noise = f64::midpoint(noise_low, noise_high);
    let u_half = (noise_half / count as f64).sqrt();
    // The levels farther out say how they change towards the edge.
    let more = FARTHER.min(area_diameter(outline.area()) / 8.0);
    let outer = |across: f64| {
        let found = stations.iter().filter_map(|s| sample(picture, s, across));
        middle_mean(found.collect())
    };
    let (dark_outer, bright_outer) = (outer(-reach - more)?, outer(reach + more)?);
    let falling = reach / more * ((dark - dark_outer) - (bright_outer - bright)) / 2.0;
    let u_falling = reach / more * 2.0_f64.sqrt() * u_half;
    Some(Edge {
        dark,
        bright,
        half: half(&low, &high).unwrap_or(f64::midpoint(dark, bright)) + falling,
        u_half: u_half.hypot(u_falling).hypot(FALLING_SHARE * falling),

        uneven: (variance(&halves) - noise_half).max(0.0).sqrt(),
        slope,
        blur_px: profile.blur(),
        u_sum: (perimeter * length * noise).sqrt(),
        noise: (length * noise).sqrt(),
        local_px: (length * noise).sqrt() / slope,
    })
}

/// Half the height over all pieces. A level that is off by d moves a place by d over its slope, and slopes go with the height of the edge
/// there, so pieces count by one over theirs; those of less than half the usual height are corners.
fn half(low: &[f64], high: &[f64]) -> Option<f64> {
    let heights = || low.iter().zip(high).map(|(low, high)| high - low);
    let usual = middle_mean(heights().collect())?;
    let (mut sum, mut weights) = (0.0, 0.0);
    for ((low, high), height) in low.iter().zip(high).zip(heights()) {
        if height > usual / 2.0 {
            sum += f64::midpoint(*low, *high) / height;
            weights += 1.0 / height;
        }
    }
    (weights > 0.0).then(|| sum / weights)
}

/// A place on the outline with the direction from dark to bright.
struct Station {
    at: (f64, f64),
    normal: (f64, f64),
}

/// Evenly spaced places, a pixel apart.
fn stations(outline: &Outline, bright_inside: bool) -> Vec<Station> {
    let count = (outline.perimeter().ceil() as usize).clamp(FEWEST_PIECES, MOST_STATIONS);
    let step = outline.perimeter() / count as f64;
    let mut places = Vec::with_capacity(count);
    let mut along = 0.5 * step;
    for ((x0, y0), (x1, y1)) in outline.sides() {
        let length = (x1 - x0).hypot(y1 - y0);
        while along < length {
            let share = along / length;
            places.push((x0 + share * (x1 - x0), y0 + share * (y1 - y0)));
            along += step;
        }
        along -= length;
    }
    // The inside is on the left of a way with positive area.
    let inwards = if outline.signed_area() > 0.0 {
        1.0
    } else {
        -1.0
    };
    let sign = if bright_inside { inwards } else { -inwards };
    let neighbour = |at: usize, by: usize| places.get((at + by) % places.len()).copied();
    let mut stations = Vec::with_capacity(places.len());
    for (i, at) in places.iter().enumerate() {
        // Over two pixels to either side, so that the grid does not turn the direction.
        let (Some(next), Some(last)) = (neighbour(i, 2), neighbour(i, places.len() - 2)) else {
            continue;
        };
        let (dx, dy) = (next.0 - last.0, next.1 - last.1);
        let length = dx.hypot(dy);
        if length > 0.0 {
            stations.push(Station {
                at: *at,
                normal: (-sign * dy / length, sign * dx / length),
            });
        }
    }
    stations
}

/// Level between pixels; `None` outside the picture.
fn sample(picture: &Picture, station: &Station, across: f64) -> Option<f64> {
    let (x, y) = (
        station.at.0 + across * station.normal.0,
        station.at.1 + across * station.normal.1,
    );
    if x < 0.0 || y < 0.0 {
        return None;
    }
    let (column, row) = (x as usize, y as usize);
    let (dx, dy) = (x - column as f64, y - row as f64);
    let level = |row: usize, column: usize| picture.row(row).get(column).map(|l| f64::from(*l));
    let (ul, ur) = (level(row, column)?, level(row, column + 1)?);
    let (ll, lr) = (level(row + 1, column)?, level(row + 1, column + 1)?);
    let (top, bottom) = (ul + dx * (ur - ul), ll + dx * (lr - ll));
    Some(top + dy * (bottom - top))
}

/// Mean levels across the edge, from dark to bright.
struct Profile {
    reach: f64,
    levels: Vec<f64>,
}

impl Profile {
    /// The mean of the middle half of all places, at every [`STEP`].
    fn of(picture: &Picture, stations: &[Station], reach: f64) -> Option<Self> {
        let steps = (reach / STEP).ceil() as i32;
        let levels = (-steps..=steps).map(|k| {
            let across = f64::from(k) * STEP;
            let found = stations.iter().filter_map(|s| sample(picture, s, across));
            middle_mean(found.collect())
        });
        Some(Self {
            reach: f64::from(steps) * STEP,
            levels: levels.collect::<Option<_>>()?,
        })
    }

    fn ends(&self) -> Option<(f64, f64)> {
        Some((*self.levels.first()?, *self.levels.last()?))
    }

    /// The level at a multiple of the step.
    fn at(&self, across: f64) -> Option<f64> {
        let at = ((across + self.reach) / STEP).round();
        self.levels.get(at as usize).copied()
    }

    /// Half the distance between 15.87 % and 84.13 % of the height: the standard deviation of a normal blur. The longest where the
    /// edge does not get so far.
    fn blur(&self) -> f64 {
        const ONE_SIGMA: f64 = 0.158_655;
        let Some((dark, bright)) = self.ends() else {
            return REACH.1;
        };
        let height = |share: f64| dark + share * (bright - dark);
        match (
            self.passes(height(ONE_SIGMA)),
            self.passes(height(1.0 - ONE_SIGMA)),
        ) {
            (Some(low), Some(high)) if high > low => (high - low) / 2.0,
            _ => REACH.1 / REACH_BLURS,
        }
    }

    /// Where the profile first reaches a level, px from the outline.
    fn passes(&self, level: f64) -> Option<f64> {
        let steps = self.levels.iter().zip(self.levels.iter().skip(1));
        let (at, (a, b)) = steps
            .enumerate()
            .find(|(_, (a, b))| **a <= level && level < **b)?;
        Some(STEP * (at as f64 + (level - a) / (b - a)) - self.reach)
    }
}

/// Mean of the middle half: neither specks nor the corners of the opening count.
fn middle_mean(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let quarter = values.len() / 4;
    let middle = values.get(quarter..values.len() - quarter)?;
    (!middle.is_empty()).then(|| middle.iter().sum::<f64>() / middle.len() as f64)
}

/// Mean level of each of `count` pieces of the outline, at a distance across it.
fn pieces(picture: &Picture, stations: &[Station], across: f64, count: usize) -> Option<Vec<f64>> {
    let mut sums = vec![(0.0, 0_u32); count];
    for (i, station) in stations.iter().enumerate() {
        if let (Some(level), Some(sum)) = (
            sample(picture, station, across),
            sums.get_mut(i * count / stations.len()),
        ) {
            sum.0 += level;
            sum.1 += 1;
        }
    }
    let means: Vec<f64> = sums
        .iter()
        .filter(|(_, n)| *n > 0)
        .map(|(sum, n)| sum / f64::from(*n))
        .collect();
    (means.len() >= FEWEST_PIECES).then_some(means)
}

/// Variance of the pieces from one to the next: second differences take out what the light does slowly, and the largest tenth is left
/// out.
fn noise(pieces: &[f64]) -> f64 {
    let n = pieces.len();
    let at = |i: usize| pieces.get(i % n.max(1)).copied().unwrap_or(0.0);
    let mut squares: Vec<f64> = (0..n)
        .map(|i| (at(i) - 2.0 * at(i + 1) + at(i + 2)).powi(2))
        .collect();
    squares.sort_by(f64::total_cmp);
    let keep = ((TRIM.0 * n as f64).round() as usize).max(1);
    // A second difference of uncorrelated pieces has 1 + 4 + 1 times their variance.
    squares.iter().take(keep).sum::<f64>() / keep as f64 / (6.0 * TRIM.1)
}

fn variance(values: &[f64]) -> f64 {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0)
}
