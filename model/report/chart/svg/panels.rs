//! Panels one below the other over one horizontal axis.

use super::super::{Curve, Curves, Mark, Panel, Pen, Point, Stretch};
use super::scale::Scale;
use super::{LETTER, LINE, NARROW, escaped, letters, width_of, wrapped};

/// Heights of a main panel, of another, and of one line of limits.
const TALL: f64 = 270.0;
const SHORT: f64 = 120.0;
const STRETCH: f64 = 30.0;
/// Above a panel, for its name; below the last, for the axis.
const HEAD: f64 = 30.0;
const AXIS: f64 = 42.0;
/// Letters of the longest line of a curve's name.
const NAME: f64 = 130.0;

/// Draws the panels; their height, nothing where no curve has points.
pub(super) fn draw(out: &mut String, axis: &str, panels: &[Panel], width: f64) -> f64 {
    let points = || panels.iter().flat_map(curves).flat_map(|c| &c.points);
    let marks = panels.iter().flat_map(marks).map(|m| (m.x, m.x));
    let (low, high) = extent(points().map(|p| (p.x, p.x)).chain(marks));
    if low > high {
        return 0.0;
    }
    let narrow = width <= NARROW;
    // Names are bold, and so wider; a word longer than the usual room gets what it needs.
    let names = panels
        .iter()
        .flat_map(curves)
        .flat_map(|c| wrapped(&c.name, name_letters(narrow)));
    let right = names.map(|row| 1.15 * width_of(&row)).fold(8.0, f64::max) + 14.0;
    let whole = panels
        .iter()
        .flat_map(curves)
        .all(|c| c.points.iter().all(|p| p.x.fract() == 0.0) && c.points.len() < 100);
    let scales: Vec<Option<Scale>> = panels.iter().map(|panel| upright(panel, narrow)).collect();
    let ticks = scales.iter().flatten();
    let left = ticks
        .flat_map(|s| s.ticks().map(|n| width_of(&s.label(n))).collect::<Vec<_>>())
        .fold(10.0, f64::max)
        + 12.0;
    let mut across = Scale::along((low, high), (left, width - right), whole);
    if axis == "pull" {
        // Room beside the first and the last of a few.
        across.numbers = (across.numbers.0 - 0.25, across.numbers.1 + 0.25);
    }
    let mut y = 0.0;
    let mut body = String::new();
    let mut grids: Vec<(f64, f64)> = Vec::new();
    for (panel, scale) in panels.iter().zip(&scales) {
        match (panel, scale) {
            (Panel::Curves(curves), Some(scale)) => {
                let rows = wrapped(&curves.name, letters(width, 7.2));
                for row in &rows {
                    y += LINE;
                    add!(
                        body,
                        "<text class=\"name\" x=\"0\" y=\"{:.1}\">{}</text>\n",
                        y - 3.0,
                        escaped(row)
                    );
                }
                y += HEAD - LINE;
                let height = scale.places.0;
                let here = Scale {
                    places: (y + height, y),
                    ..*scale
                };
                grid(&mut body, &here, &across);
                grids.push((y, y + height));
                draw_curves(&mut body, curves, &across, &here, width);
                y += height + 10.0;
            }
            (Panel::Stretches(stretches), _) => {
                let top = y;
                for stretch in stretches {
                    y += draw_stretch(&mut body, stretch, &across, y, width);
                }
                grids.push((top, y));
                y += 6.0;
            }
            (Panel::Curves(_), None) => {}
        }
    }
    for tick in across.ticks() {
        let x = across.at(tick);
        for (from, to) in &grids {
            add!(
                out,
                "<path class=\"grid\" d=\"M{x:.1} {from:.1}V{to:.1}\"/>\n"
            );
        }
        add!(
            out,
            "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>\n",
            y + 14.0,
            across.label(tick)
        );
    }
    add!(
        out,
        "<path class=\"axis\" d=\"M{left:.1} {y:.1}H{:.1}\"/>\n<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>\n{body}",
        width - right,
        width - right,
        y + 32.0,
        escaped(axis)
    );
    y + AXIS
}

fn curves(panel: &Panel) -> &[Curve] {
    match panel {
        Panel::Curves(curves) => &curves.curves,
        Panel::Stretches(_) => &[],
    }
}

fn marks(panel: &Panel) -> &[Mark] {
    match panel {
        Panel::Curves(curves) => &curves.marks,
        Panel::Stretches(_) => &[],
    }
}

/// Lowest and highest of some; turned round where there are none.
fn extent(ends: impl Iterator<Item = (f64, f64)>) -> (f64, f64) {
    ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (l, h)| {
        (low.min(l), high.max(h))
    })
}

/// The vertical scale of a panel that begins at the top; none where there is nothing to draw.
fn upright(panel: &Panel, narrow: bool) -> Option<Scale> {
    let Panel::Curves(curves) = panel else {
        return None;
    };
    let points = curves.curves.iter().flat_map(|c| &c.points);
    let levels = curves.levels.iter().map(|l| (l.y, l.y));
    let marks = curves.marks.iter().map(|m| (m.y, m.y));
    let holds = curves.holds.iter().map(|y| (*y, *y));
    let (low, high) = extent(
        points
            .map(Point::extent)
            .chain(levels)
            .chain(marks)
            .chain(holds),
    );
    let height = match (curves.tall, narrow) {
        (true, false) => TALL,
        (true, true) => 0.85 * TALL,
        (false, _) => SHORT,
    };
    let parts = if curves.tall { 6.0 } else { 4.0 };
    (low <= high).then(|| Scale::up((low, high), curves.from_zero, parts, (height, 0.0)))
}

fn grid(out: &mut String, up: &Scale, across: &Scale) {
    let (left, right) = across.places;
    for tick in up.ticks() {
        let y = up.at(tick);
        add!(
            out,
            "<path class=\"grid\" d=\"M{left:.1} {y:.1}H{right:.1}\"/>\n<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>\n",
            left - 7.0,
            y + 4.5,
            up.label(tick)
        );
    }
}

fn draw_curves(out: &mut String, curves: &Curves, across: &Scale, up: &Scale, width: f64) {
    for curve in &curves.curves {
        ribbon(out, curve, "most", |p| p.most, across, up);
        ribbon(out, curve, "half", |p| p.half, across, up);
    }
    for level in &curves.levels {
        let y = up.at(level.y);
        let (left, right) = across.places;
        add!(
            out,
            "<path class=\"level\" d=\"M{left:.1} {y:.1}H{right:.1}\"/>\n"
        );
    }
    for curve in &curves.curves {
        if curve.pen == Pen::Read {
            for p in &curve.points {
                add!(
                    out,
                    "<circle class=\"read\" cx=\"{:.1}\" cy=\"{:.1}\" r=\"1.6\"/>\n",
                    across.at(p.x),
                    up.at(p.y)
                );
            }
        } else {
            let path = path(curve.points.iter().map(|p| (p.x, p.y)), across, up);
            add!(
                out,
                "<path class=\"line {}\" d=\"{path}\"/>\n",
                curve.pen.class()
            );
            if curve.points.len() <= 12 {
                for p in &curve.points {
                    add!(
                        out,
                        "<circle class=\"{}\" cx=\"{:.1}\" cy=\"{:.1}\" r=\"4\"/>\n",
                        curve.pen.class(),
                        across.at(p.x),
                        up.at(p.y)
                    );
                }
            }
        }
    }
    for level in curves.levels.iter().filter(|level| !level.text.is_empty()) {
        let x = across.places.0 + 6.0;
        let rows = wrapped(&level.text, letters(width - x, LETTER));
        // Above the level; below it where there is no room above.
        let above = up.at(level.y) - 6.0 - LINE * (rows.len() as f64 - 1.0);
        let first = if above - LINE < up.places.1 - HEAD {
            up.at(level.y) + LINE
        } else {
            above
        };
        for (row, text) in rows.iter().enumerate() {
            add!(
                out,
                "<text class=\"levelled halo\" x=\"{x:.1}\" y=\"{:.1}\">{}</text>\n",
                first + LINE * row as f64,
                escaped(text)
            );
        }
    }
    let mut taken: Vec<Block> = Vec::new();
    for mark in &curves.marks {
        let place = place_of(mark, curves, &taken, across, up);
        draw_mark(out, mark, &place, across, up);
        taken.push(place);
    }
    names(out, &curves.curves, across, up, width <= NARROW);
}

fn ribbon(
    out: &mut String,
    curve: &Curve,
    class: &str,
    of: fn(&Point) -> Option<(f64, f64)>,
    across: &Scale,
    up: &Scale,
) {
    let ends: Vec<(f64, (f64, f64))> = curve
        .points
        .iter()
        .filter_map(|p| Some((p.x, of(p)?)))
        .collect();
    if ends.len() < 2 {
        return;
    }
    let upper = ends.iter().map(|(x, (_, high))| (*x, *high));
    let lower = ends.iter().rev().map(|(x, (low, _))| (*x, *low));
    let outline = path(upper.chain(lower), across, up);
    add!(
        out,
        "<path class=\"{class} {}\" d=\"{outline}Z\"/>\n",
        curve.pen.class()
    );
}

fn path(points: impl Iterator<Item = (f64, f64)>, across: &Scale, up: &Scale) -> String {
    let mut out = String::new();
    for (number, (x, y)) in points.enumerate() {
        let pen = if number == 0 { 'M' } else { 'L' };
        add!(out, "{pen}{:.1} {:.1}", across.at(x), up.at(y));
    }
    out
}

/// Where words stand: left, right, top and bottom.
#[derive(Debug, Clone, Copy)]
struct Block {
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
}

impl Block {
    fn covers(&self, x: f64, y: f64) -> bool {
        (self.left..=self.right).contains(&x) && (self.top..=self.bottom).contains(&y)
    }

    fn meets(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }
}

/// Room for the words of a mark: of the places around it, outside its ribbon first, the one that covers least.
fn place_of(mark: &Mark, curves: &Curves, taken: &[Block], across: &Scale, up: &Scale) -> Block {
    let (x, y) = (across.at(mark.x), up.at(mark.y));
    let wide = 1.1 * width_of(&mark.text);
    let (left, right) = across.places;
    let (bottom, top) = up.places;
    // The ribbon it stands in, where it stands in one.
    let (high, low) = curves
        .curves
        .iter()
        .filter(|curve| curve.pen == mark.pen)
        .flat_map(|curve| &curve.points)
        .filter(|p| (across.at(p.x) - x).abs() < 0.5 * wide)
        .filter_map(|p| p.most)
        .fold((y, y), |(high, low), (below, above)| {
            (high.min(up.at(above)), low.max(up.at(below)))
        });
    let at = |start: f64, base: f64| {
        let start = start.clamp(left, (right - wide).max(left));
        Block {
            left: start,
            right: start + wide,
            top: base - 13.0,
            bottom: base + 3.0,
        }
    };
    let centred = x - 0.5 * wide;
    let (above, below) = ([y.min(high) - 9.0, y - 10.0], [y.max(low) + 19.0, y + 21.0]);
    let bases = if mark.above {
        [above, below].concat()
    } else {
        [below, above].concat()
    };
    let starts = [centred, x - wide - 8.0, x + 8.0];
    let covered = |block: &Block| {
        let lines = curves
            .curves
            .iter()
            .map(|curve| covered_by(curve, block, across, up));
        let words = taken.iter().filter(|other| other.meets(block)).count();
        let outside = usize::from(block.top < top - 16.0) + usize::from(block.bottom > bottom);
        lines.sum::<usize>() + 40 * (words + outside)
    };
    bases
        .into_iter()
        .flat_map(|base| starts.map(|start| at(start, base)))
        .min_by_key(covered)
        .unwrap_or_else(|| at(centred, y - 10.0))
}

/// Length of a curve under a block, in steps of three.
fn covered_by(curve: &Curve, block: &Block, across: &Scale, up: &Scale) -> usize {
    let place = |p: &Point| (across.at(p.x), up.at(p.y));
    if curve.pen == Pen::Read {
        let dots = curve.points.iter().map(place);
        return dots.filter(|(x, y)| block.covers(*x, *y)).count();
    }
    let pairs = curve.points.windows(2);
    pairs
        .map(|pair| {
            let ((x0, y0), (x1, y1)) = (place(&pair[0]), place(&pair[1]));
            let steps = letters((x1 - x0).abs(), 3.0);
            let along = |n: usize| n as f64 / steps as f64;
            (0..steps)
                .map(|n| (x0 + along(n) * (x1 - x0), y0 + along(n) * (y1 - y0)))
                .filter(|(x, y)| block.covers(*x, *y))
                .count()
        })
        .sum()
}

/// A ring, and its words in their place.
fn draw_mark(out: &mut String, mark: &Mark, place: &Block, across: &Scale, up: &Scale) {
    let class = mark.pen.class();
    add!(
        out,
        "<circle class=\"ring {class}\" cx=\"{:.1}\" cy=\"{:.1}\" r=\"4\"/>\n\
         <text class=\"{class} halo\" x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{}</text>\n",
        across.at(mark.x),
        up.at(mark.y),
        0.5 * (place.left + place.right),
        place.bottom - 3.0,
        escaped(&mark.text)
    );
}

/// Letters that a row of a curve's name holds.
fn name_letters(narrow: bool) -> usize {
    letters(if narrow { 84.0 } else { NAME }, 7.0)
}

/// Names at the ends of the curves, pushed apart where they would cover each other.
fn names(out: &mut String, curves: &[Curve], across: &Scale, up: &Scale, narrow: bool) {
    let most = name_letters(narrow);
    let mut names: Vec<(f64, f64, &'static str, Vec<String>)> = curves
        .iter()
        .filter(|curve| !curve.name.is_empty())
        .filter_map(|curve| {
            // Dots may be in any order.
            let last = curve.points.iter().max_by(|a, b| a.x.total_cmp(&b.x))?;
            let rows = wrapped(&curve.name, most);
            let (x, right) = (across.at(last.x), across.places.1);
            // A curve that ends near the edge is named beside it.
            let x = if right - x < 70.0 { right } else { x };
            Some((x, up.at(last.y), curve.pen.class(), rows))
        })
        .collect();
    names.sort_by(|a, b| a.1.total_cmp(&b.1));
    let wanted: Vec<(f64, f64)> = names
        .iter()
        .map(|(_, y, _, rows)| (*y, LINE * rows.len() as f64))
        .collect();
    let places = apart(&wanted, (up.places.1 - 14.0, up.places.0 + 14.0));
    for ((x, _, class, rows), y) in names.iter().zip(places) {
        let first = y - 0.5 * LINE * (rows.len() as f64 - 1.0) + 4.5;
        for (row, text) in rows.iter().enumerate() {
            add!(
                out,
                "<text class=\"{class} halo\" x=\"{:.1}\" y=\"{:.1}\">{}</text>\n",
                x + 9.0,
                first + LINE * row as f64,
                escaped(text)
            );
        }
    }
}

/// Places for blocks that want to be centred somewhere and have a height, from the top down, none over another and all between two bounds if
/// they fit.
fn apart(wanted: &[(f64, f64)], (top, bottom): (f64, f64)) -> Vec<f64> {
    let mut places: Vec<f64> = Vec::with_capacity(wanted.len());
    let mut edge = top;
    for (y, height) in wanted {
        let place = y.max(edge + 0.5 * height);
        edge = place + 0.5 * height;
        places.push(place);
    }
    let mut edge = bottom;
    for (place, (_, height)) in places.iter_mut().zip(wanted).rev() {
        *place = place.min(edge - 0.5 * height);
        edge = *place - 0.5 * height;
    }
    places
}

/// A bar from where it begins to where it ends, its words above it; their height.
fn draw_stretch(out: &mut String, stretch: &Stretch, across: &Scale, y: f64, width: f64) -> f64 {
    let (left, right) = across.places;
    let from = across.at(stretch.from).clamp(left, right);
    let to = across.at(stretch.to).clamp(left, right).max(from + 4.0);
    // Words that would run over the edge end at it, or begin at the other one where there is no room for that either.
    let rows = wrapped(&stretch.text, letters(width, LETTER));
    let wide = rows.iter().map(|row| width_of(row)).fold(0.0, f64::max);
    let x = if from + wide <= right + 10.0 {
        from
    } else {
        (right - wide).max(0.0)
    };
    let more = LINE * (rows.len() as f64 - 1.0);
    for (row, text) in rows.iter().enumerate() {
        add!(
            out,
            "<text class=\"row halo\" x=\"{x:.1}\" y=\"{:.1}\">{}</text>\n",
            y + 14.0 + LINE * row as f64,
            escaped(text)
        );
    }
    let class = if stretch.strong { "strong" } else { "weak" };
    add!(
        out,
        "<rect class=\"{class}\" x=\"{from:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"6\" rx=\"1.5\"/>\n",
        y + more + 19.0,
        to - from
    );
    STRETCH + more
}

#[cfg(test)]
mod tests {
    use super::super::super::Named;
    use super::super::WIDE;
    use super::*;

    /// Each text of a drawing from its left end to its right one, by the usual width of a letter.
    fn texts(svg: &str) -> Vec<(f64, f64, String)> {
        let attribute = |tag: &str, name: &str| {
            let (_, rest) = tag.split_once(&format!(" {name}=\""))?;
            rest.split('"').next().map(str::to_owned)
        };
        let of = |piece: &str| {
            let (tag, rest) = piece.split_once('>')?;
            let words = rest.split('<').next()?.to_owned();
            let x: f64 = attribute(tag, "x")?.parse().ok()?;
            let wide = width_of(&words);
            let left = match attribute(tag, "text-anchor").as_deref() {
                Some("end") => x - wide,
                Some("middle") => x - 0.5 * wide,
                _ => x,
            };
            Some((left, left + wide, words))
        };
        svg.split("<text").skip(1).filter_map(of).collect()
    }

    #[test]
    fn no_words_are_cut_at_the_edge_of_a_phone() {
        let line = |name: &str, pen| {
            let points = (0..9).map(|i| Point {
                x: 2000.0 + 500.0 * f64::from(i),
                y: 100.0 + 10.0 * f64::from(i),
                half: None,
                most: None,
            });
            Curve::new(name, pen, points)
        };
        let panels = [
            Panel::Curves(Curves {
                name: "Power on the drums, uncorrected, kW".to_owned(),
                curves: vec![
                    line("before the work, uncalibrated", Pen::Other),
                    line("after", Pen::Main),
                ],
                levels: vec![Named {
                    y: 150.0,
                    text: "exhaust gas temperature that the shop lets pass before it lifts the throttle".to_owned(),
                }],
                ..Curves::default()
            }),
            Panel::Stretches(vec![
                Stretch {
                    text: "cylinder pressure above its threshold, from 5600 rpm, 13 % chance".to_owned(),
                    from: 5600.0,
                    to: 6000.0,
                    strong: false,
                },
                Stretch {
                    text: "piston speed".to_owned(),
                    from: 2500.0,
                    to: 2600.0,
                    strong: true,
                },
            ]),
        ];
        for width in [NARROW, WIDE] {
            let mut svg = String::new();
            let height = draw(&mut svg, "engine speed, rpm", &panels, width);
            let texts = texts(&svg);
            assert!(height > 0.0 && texts.len() > 15, "{svg}");
            for (left, right, words) in texts {
                assert!(
                    left >= -1.0 && right <= width + 1.0,
                    "{words}: {left:.0} to {right:.0} of {width}"
                );
            }
        }
    }

    #[test]
    fn names_that_end_together_do_not_cover_each_other_and_stay_inside() {
        let wanted = [(50.0, 16.0), (52.0, 16.0), (98.0, 32.0)];
        let places = apart(&wanted, (0.0, 100.0));
        for (pair, heights) in places.windows(2).zip(wanted.windows(2)) {
            assert!(
                pair[1] - pair[0] >= 0.5 * (heights[0].1 + heights[1].1) - 1e-9,
                "{places:?}"
            );
        }
        assert!(places[2] + 16.0 <= 100.0, "{places:?}");
    }
}
