//! Lines in fewer letters: the same picture, a page a third the size.
//!
//! Plotters writes a line as a list of absolute points. Here neighbouring lines of one look become one path of relative steps, points
//! that do not bend the line by more than an eighth of a pixel are left out, and dashes, which plotters does not know, are added.

use std::fmt::Write as _;

/// Farthest a point left out may lie from the line drawn, in drawing units (an eighth of a display pixel).
const NOT_SEEN: f64 = 1.0;

/// A body of SVG, an element a line, with its polylines rewritten. `dashes` gives dash and gap (display pixels) of each polyline in
/// turn, `fine` the drawing units in a display pixel.
pub fn strokes(
    body: &str,
    mut dashes: impl Iterator<Item = Option<(f64, f64)>>,
    fine: f64,
) -> String {
    let mut out = String::with_capacity(body.len());
    let (mut look, mut path) = (String::new(), String::new());
    for line in body.split_inclusive('\n') {
        let Some((style, points)) = polyline(line) else {
            flush(&mut out, &mut look, &mut path);
            out.push_str(line);
            continue;
        };
        let mut style = style.to_owned();
        if let Some((dash, gap)) = dashes.next().flatten() {
            let _ = write!(
                style,
                " stroke-dasharray=\"{:.0} {:.0}\"",
                dash * fine,
                gap * fine
            );
        }
        // Where lines of an opacity cross, one path would not be darker there as two are.
        if style != look || style.contains(" opacity=") {
            flush(&mut out, &mut look, &mut path);
            look = style;
        }
        steps(&mut path, &simplified(&points));
    }
    flush(&mut out, &mut look, &mut path);
    out
}

fn flush(out: &mut String, look: &mut String, path: &mut String) {
    if !path.is_empty() {
        let _ = writeln!(out, "<path {look} d=\"{path}\"/>");
    }
    look.clear();
    path.clear();
}

/// Look and points of a polyline; `None` for any other element.
fn polyline(line: &str) -> Option<(&str, Vec<(i64, i64)>)> {
    let rest = line.strip_prefix("<polyline ")?;
    let (style, rest) = rest.split_once(" points=\"")?;
    let (points, _) = rest.split_once('"')?;
    let points: Option<Vec<_>> = points
        .split_whitespace()
        .map(|point| {
            let (x, y) = point.split_once(',')?;
            Some((x.parse().ok()?, y.parse().ok()?))
        })
        .collect();
    Some((style, points?))
}

/// A path through points: the first absolute, the others as steps from the one before.
fn steps(path: &mut String, points: &[(i64, i64)]) {
    let mut last = None;
    for (x, y) in points {
        match last {
            None => {
                let _ = write!(path, "M{x} {y}l");
            }
            Some((x0, y0)) => {
                for step in [x - x0, y - y0] {
                    // A minus sign separates by itself.
                    if step >= 0 && !path.ends_with('l') {
                        path.push(' ');
                    }
                    let _ = write!(path, "{step}");
                }
            }
        }
        last = Some((*x, *y));
    }
}

/// The points that bend the line (Ramer 1972, Douglas and Peucker 1973), first and last always.
fn simplified(points: &[(i64, i64)]) -> Vec<(i64, i64)> {
    let Some(end) = points.len().checked_sub(1) else {
        return Vec::new();
    };
    let mut keep = vec![false; points.len()];
    keep[0] = true;
    keep[end] = true;
    let mut open = vec![(0, end)];
    while let Some((from, to)) = open.pop() {
        let farthest = (from + 1..to)
            .map(|i| (distance(points[i], points[from], points[to]), i))
            .fold((NOT_SEEN, None), |best, (d, i)| {
                if d > best.0 { (d, Some(i)) } else { best }
            });
        if let (_, Some(i)) = farthest {
            keep[i] = true;
            open.push((from, i));
            open.push((i, to));
        }
    }
    points
        .iter()
        .zip(keep)
        .filter_map(|(point, keep)| keep.then_some(*point))
        .collect()
}

/// Distance of a point from a segment.
fn distance(p: (i64, i64), a: (i64, i64), b: (i64, i64)) -> f64 {
    let (dx, dy) = ((b.0 - a.0) as f64, (b.1 - a.1) as f64);
    let (px, py) = ((p.0 - a.0) as f64, (p.1 - a.1) as f64);
    let length = dx * dx + dy * dy;
    let t = if length > 0.0 {
        ((px * dx + py * dy) / length).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (px - t * dx).hypot(py - t * dy)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_spike_stays_and_a_straight_line_is_two_points() {
        let mut points: Vec<(i64, i64)> = (0..50).map(|x| (x, 7)).collect();
        assert_eq!(simplified(&points), [(0, 7), (49, 7)]);
        points[20].1 = 90;
        assert_eq!(
            simplified(&points),
            [(0, 7), (19, 7), (20, 90), (21, 7), (49, 7)]
        );
        assert!(simplified(&[]).is_empty());
        assert_eq!(simplified(&[(3, 4), (3, 4)]), [(3, 4), (3, 4)]);
    }

    #[test]
    fn lines_of_one_look_become_one_path() {
        let body = "<polyline fill=\"none\" stroke=\"#000\" points=\"0,0 8,0 16,-8\"/>\n\
                    <polyline fill=\"none\" stroke=\"#000\" points=\"5,5 5,9\"/>\n<text>a</text>\n\
                    <polyline fill=\"none\" stroke=\"#000\" points=\"1,1 2,2\"/>\n";
        let wanted = "<path fill=\"none\" stroke=\"#000\" d=\"M0 0l8 0 8-8M5 5l0 4\"/>\n<text>a</text>\n\
                      <path fill=\"none\" stroke=\"#000\" stroke-dasharray=\"32 16\" d=\"M1 1l1 1\"/>\n";
        let dashes = [None, None, Some((4.0, 2.0))];
        assert_eq!(strokes(body, dashes.into_iter(), 8.0), wanted);
    }
}
