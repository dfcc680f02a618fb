//! A chart's own drawing put on a page: the same shapes, letters and style as on a screen, as vectors.
//!
//! It reads the SVG that this program writes and no other: groups, areas, straight outlines, circles and letters, under the style of all charts. What
//! it does not know it leaves out. Behind letters that stand in a halo on a screen lies a patch of paper here, so that every word is in the document once.

use super::canvas::{Canvas, Colour, Letters, Pen, Step, Weight};
use crate::report::chart::svg;
use roxmltree::Node;
use simplecss::{AttributeOperator, Element, PseudoClass, StyleSheet};

/// What a style says of a shape.
struct Look {
    fill: Option<Colour>,
    stroke: Option<Colour>,
    width: f64,
    dashes: Vec<f64>,
    round: bool,
    opacity: f64,
    size: f64,
    weight: Weight,
    halo: bool,
}

impl Default for Look {
    fn default() -> Self {
        Self {
            fill: Some(Colour([0; 3])),
            stroke: None,
            width: 1.0,
            dashes: Vec::new(),
            round: false,
            opacity: 1.0,
            size: 13.0,
            weight: Weight::Plain,
            halo: false,
        }
    }
}

/// A node, for the style to be matched with.
#[derive(Clone, Copy)]
struct Styled<'a, 'i>(Node<'a, 'i>);

impl Element for Styled<'_, '_> {
    fn parent_element(&self) -> Option<Self> {
        self.0.parent_element().map(Self)
    }

    fn prev_sibling_element(&self) -> Option<Self> {
        self.0.prev_sibling_element().map(Self)
    }

    fn has_local_name(&self, name: &str) -> bool {
        self.0.tag_name().name() == name
    }

    fn attribute_matches(&self, local_name: &str, operator: AttributeOperator<'_>) -> bool {
        self.0
            .attribute(local_name)
            .is_some_and(|value| operator.matches(value))
    }

    fn pseudo_class_matches(&self, _: PseudoClass<'_>) -> bool {
        false
    }
}

impl Look {
    fn of(node: Node<'_, '_>, style: &StyleSheet<'_>) -> Self {
        let mut look = Self::default();
        let rules = style.rules.iter();
        for rule in rules.filter(|rule| rule.selector.matches(&Styled(node))) {
            for said in &rule.declarations {
                look.take(said.name, said.value);
            }
        }
        let class = node.attribute("class").unwrap_or_default();
        look.halo = class.split(' ').any(|word| word == "halo");
        if look.halo {
            look.stroke = None;
        }
        if let Some(share) = node.attribute("fill-opacity").and_then(number) {
            look.opacity *= share;
        }
        look
    }

    fn take(&mut self, name: &str, value: &str) {
        let first = || number(value.split([' ', ',']).next().unwrap_or_default());
        match name {
            "fill" => self.fill = Colour::of(value),
            "stroke" => self.stroke = Colour::of(value),
            "stroke-width" => self.width = first().unwrap_or(self.width),
            "stroke-dasharray" => self.dashes = value.split(' ').filter_map(number).collect(),
            "stroke-linecap" => self.round = value == "round",
            "opacity" => self.opacity = first().unwrap_or(self.opacity),
            "font" | "font-size" => self.size = first().unwrap_or(self.size),
            "font-weight" => {
                let heavy = first().is_some_and(|weight| weight >= 600.0);
                self.weight = if heavy { Weight::Bold } else { Weight::Plain };
            }
            _ => {}
        }
    }

    fn pen(&self, scale: f64) -> Pen {
        Pen {
            fill: self.fill,
            stroke: self.stroke,
            width: scale * self.width,
            dashes: self.dashes.iter().map(|x| scale * x).collect(),
            round: self.round,
            opacity: self.opacity,
        }
    }
}

/// A number, with or without the unit of the screen.
fn number(text: &str) -> Option<f64> {
    text.trim().trim_end_matches("px").parse().ok()
}

/// Where a drawing stands, and how large a unit of it is.
#[derive(Clone, Copy)]
struct Place {
    x: f64,
    y: f64,
    scale: f64,
}

impl Place {
    fn at(self, x: f64, y: f64) -> (f64, f64) {
        (self.x + self.scale * x, self.y + self.scale * y)
    }

    fn step(self, step: Step) -> Step {
        match step {
            Step::Move(x, y) => {
                let (x, y) = self.at(x, y);
                Step::Move(x, y)
            }
            Step::Line(x, y) => {
                let (x, y) = self.at(x, y);
                Step::Line(x, y)
            }
            Step::Curve([a, b, c, d, x, y]) => {
                let ((a, b), (c, d), (x, y)) = (self.at(a, b), self.at(c, d), self.at(x, y));
                Step::Curve([a, b, c, d, x, y])
            }
            Step::Close => Step::Close,
        }
    }
}

/// Height of a drawing so wide on the page; none where there is nothing to draw.
pub(super) fn height(drawing: &str, width: f64) -> Option<f64> {
    let document = roxmltree::Document::parse(drawing).ok()?;
    let (wide, high) = sides(document.root_element())?;
    Some(high * width / wide)
}

fn sides(root: Node<'_, '_>) -> Option<(f64, f64)> {
    let box_: Vec<f64> = root
        .attribute("viewBox")?
        .split(' ')
        .filter_map(number)
        .collect();
    match box_[..] {
        [_, _, wide, high] if wide > 0.0 && high > 0.0 => Some((wide, high)),
        _ => None,
    }
}

/// Puts a drawing on the page, its upper left corner at a place.
pub(super) fn draw(canvas: &mut Canvas, drawing: &str, (x, y): (f64, f64), width: f64) {
    let Ok(document) = roxmltree::Document::parse(drawing) else {
        return;
    };
    let root = document.root_element();
    let Some((wide, _)) = sides(root) else {
        return;
    };
    let style = svg::on_white_paper();
    let style = StyleSheet::parse(&style);
    let place = Place {
        x,
        y,
        scale: width / wide,
    };
    inside(canvas, root, &style, place);
}

fn inside(canvas: &mut Canvas, parent: Node<'_, '_>, style: &StyleSheet<'_>, place: Place) {
    for node in parent.children().filter(Node::is_element) {
        let of = |name: &str| node.attribute(name).and_then(number).unwrap_or_default();
        let look = Look::of(node, style);
        let steps = match node.tag_name().name() {
            "g" => {
                inside(canvas, node, style, place);
                continue;
            }
            "text" => {
                letters(canvas, node, &look, place);
                continue;
            }
            "rect" => corners(of("x"), of("y"), of("width"), of("height")),
            "circle" => round(of("cx"), of("cy"), of("r")),
            "path" => outline(node.attribute("d").unwrap_or_default()),
            _ => continue,
        };
        let steps: Vec<Step> = steps.into_iter().map(|step| place.step(step)).collect();
        canvas.draw(&steps, &look.pen(place.scale));
    }
}

fn letters(canvas: &mut Canvas, node: Node<'_, '_>, look: &Look, place: Place) {
    let of = |name: &str| node.attribute(name).and_then(number).unwrap_or_default();
    let Some(colour) = look.fill else {
        return;
    };
    let letters = Letters {
        size: place.scale * look.size,
        weight: look.weight,
        colour,
    };
    let text = canvas.spelled(node.text().unwrap_or_default(), look.weight);
    let width = canvas.width(&text, letters);
    let (mut x, y) = place.at(of("x"), of("y"));
    x -= match node.attribute("text-anchor") {
        Some("middle") => 0.5 * width,
        Some("end") => width,
        _ => 0.0,
    };
    if look.halo {
        let edge = 0.15 * letters.size;
        let patch = corners(
            x - edge,
            y - 0.8 * letters.size,
            width + 2.0 * edge,
            letters.size,
        );
        let mut pen = Pen::area(Colour::WHITE);
        pen.opacity = 0.8;
        canvas.draw(&patch, &pen);
    }
    canvas.text((x, y), &text, letters);
}

/// The outline of an area with square corners.
pub(super) fn corners(x: f64, y: f64, width: f64, height: f64) -> Vec<Step> {
    vec![
        Step::Move(x, y),
        Step::Line(x + width, y),
        Step::Line(x + width, y + height),
        Step::Line(x, y + height),
        Step::Close,
    ]
}

/// Four curves that leave a circle by less than a thousandth of its radius.
fn round(x: f64, y: f64, r: f64) -> Vec<Step> {
    const PULL: f64 = 0.552_285;
    let k = PULL * r;
    vec![
        Step::Move(x + r, y),
        Step::Curve([x + r, y + k, x + k, y + r, x, y + r]),
        Step::Curve([x - k, y + r, x - r, y + k, x - r, y]),
        Step::Curve([x - r, y - k, x - k, y - r, x, y - r]),
        Step::Curve([x + k, y - r, x + r, y - k, x + r, y]),
        Step::Close,
    ]
}

/// The outline of a path of straight lines.
fn outline(path: &str) -> Vec<Step> {
    let mut steps = Vec::new();
    let (mut x, mut y) = (0.0, 0.0);
    let letter = |c: char| c.is_ascii_alphabetic();
    let mut rest = path.trim_start();
    while let Some(command) = rest.chars().next().filter(|c| letter(*c)) {
        rest = &rest[1..];
        let end = rest.find(letter).unwrap_or(rest.len());
        let numbers: Vec<f64> = rest[..end].split([' ', ',']).filter_map(number).collect();
        rest = &rest[end..];
        let (from_x, from_y) = if command.is_ascii_lowercase() {
            (x, y)
        } else {
            (0.0, 0.0)
        };
        match (command.to_ascii_uppercase(), &numbers[..]) {
            ('Z', _) => {
                steps.push(Step::Close);
                continue;
            }
            ('H', [to]) => x = from_x + to,
            ('V', [to]) => y = from_y + to,
            (_, [to_x, to_y]) => (x, y) = (from_x + to_x, from_y + to_y),
            _ => continue,
        }
        steps.push(if command.eq_ignore_ascii_case(&'m') {
            Step::Move(x, y)
        } else {
            Step::Line(x, y)
        });
    }
    steps
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_goes_where_it_says() {
        assert_eq!(
            outline("M1.0 2.0H5v-3L0 0Z"),
            [
                Step::Move(1.0, 2.0),
                Step::Line(5.0, 2.0),
                Step::Line(5.0, -1.0),
                Step::Line(0.0, 0.0),
                Step::Close
            ]
        );
    }

    #[test]
    fn a_shape_looks_as_the_style_of_charts_says() {
        let drawing = "<svg class=\"chart\" viewBox=\"0 0 10 10\"><path class=\"line other\" d=\"M0 0\"/><path class=\"most main\" d=\"M0 0\"/>\
            <text class=\"name halo\">a</text></svg>";
        let document = roxmltree::Document::parse(drawing).expect("a drawing");
        let style = svg::on_white_paper();
        let style = StyleSheet::parse(&style);
        let looks: Vec<Look> = document
            .root_element()
            .children()
            .map(|node| Look::of(node, &style))
            .collect();
        assert_eq!(
            (looks[0].fill, &looks[0].dashes[..]),
            (None, &[8.0, 5.0][..])
        );
        assert_eq!(looks[0].width, 2.5);
        assert_eq!((looks[1].stroke, looks[1].opacity), (None, 0.16));
        assert!(looks[2].halo && looks[2].stroke.is_none() && looks[2].weight == Weight::Bold);
    }
}
