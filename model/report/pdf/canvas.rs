//! Pages that are drawn on: letters, lines and areas at their places, in points from the upper left corner.

use super::font::{FontError, Typeface, packed, single};
use crate::files::shown::on_one_line;
use pdf_writer::types::{LineCapStyle, LineJoinStyle};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};

/// Both weights of the typeface.
pub(in crate::report) const FACES: [(&str, &[u8]); 2] = [
    (
        "DejaVuSansCondensed",
        include_bytes!("fonts/DejaVuSansCondensed.ttf"),
    ),
    (
        "DejaVuSansCondensed-Bold",
        include_bytes!("fonts/DejaVuSansCondensed-Bold.ttf"),
    ),
];
/// Names of both weights on a page.
const NAMES: [Name<'static>; 2] = [Name(b"F0"), Name(b"F1")];

/// A colour: red, green and blue from 0 to 255.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::report) struct Colour(pub(in crate::report) [u8; 3]);

impl Colour {
    pub(in crate::report) const WHITE: Self = Self([255; 3]);

    /// Of a style: `#rgb` or `#rrggbb`.
    pub(super) fn of(text: &str) -> Option<Self> {
        let digits = text.strip_prefix('#')?;
        let value =
            |at: usize, count: usize| u8::from_str_radix(digits.get(at..at + count)?, 16).ok();
        match digits.len() {
            3 => Some(Self([
                17 * value(0, 1)?,
                17 * value(1, 1)?,
                17 * value(2, 1)?,
            ])),
            6 => Some(Self([value(0, 2)?, value(2, 2)?, value(4, 2)?])),
            _ => None,
        }
    }

    fn parts(self) -> [f32; 3] {
        self.0.map(|part| f32::from(part) / 255.0)
    }
}

/// A weight of the letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::report) enum Weight {
    Plain,
    Bold,
}

/// How letters look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::report) struct Letters {
    pub(in crate::report) size: f64,
    pub(in crate::report) weight: Weight,
    pub(in crate::report) colour: Colour,
}

/// Paper in use, in points.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// 210 by 297 mm.
    #[default]
    A4,
    /// 8.5 by 11 inches.
    Letter,
}

impl Paper {
    /// Width and height.
    pub const fn size(self) -> (f64, f64) {
        match self {
            Self::A4 => (595.276, 841.890),
            Self::Letter => (612.0, 792.0),
        }
    }
}

/// One step of an outline.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Step {
    Move(f64, f64),
    Line(f64, f64),
    Curve([f64; 6]),
    Close,
}

/// How an outline is drawn; its area, its line, or both.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pen {
    pub(super) fill: Option<Colour>,
    pub(super) stroke: Option<Colour>,
    pub(super) width: f64,
    pub(super) dashes: Vec<f64>,
    pub(super) round: bool,
    pub(super) opacity: f64,
}

impl Pen {
    pub(super) const fn area(colour: Colour) -> Self {
        Self {
            fill: Some(colour),
            stroke: None,
            width: 0.0,
            dashes: Vec::new(),
            round: false,
            opacity: 1.0,
        }
    }

    pub(super) fn line(colour: Colour, width: f64) -> Self {
        Self {
            fill: None,
            stroke: Some(colour),
            width,
            ..Self::area(colour)
        }
    }
}

/// Pages being drawn.
pub(in crate::report) struct Canvas {
    paper: Paper,
    faces: [Typeface; 2],
    pages: Vec<Content>,
    /// Opacities in use, in thousandths.
    opacities: Vec<u16>,
}

impl Canvas {
    /// One empty page.
    pub(in crate::report) fn new(paper: Paper) -> Result<Self, FontError> {
        let [plain, bold] = FACES;
        Ok(Self {
            paper,
            faces: [
                Typeface::of(plain.0, plain.1)?,
                Typeface::of(bold.0, bold.1)?,
            ],
            pages: vec![Content::new()],
            opacities: Vec::new(),
        })
    }

    pub(in crate::report) fn add_page(&mut self) {
        self.pages.push(Content::new());
    }

    pub(in crate::report) fn pages(&self) -> usize {
        self.pages.len()
    }

    pub(in crate::report) const fn paper(&self) -> Paper {
        self.paper
    }

    fn face(&self, weight: Weight) -> &Typeface {
        &self.faces[weight as usize]
    }

    /// A text as it can be drawn: nothing in it acts, and every letter is one of the face.
    pub(in crate::report) fn spelled(&self, text: &str, weight: Weight) -> String {
        self.face(weight).spelled(&on_one_line(text))
    }

    /// Width of a spelled text.
    pub(in crate::report) fn width(&self, text: &str, letters: Letters) -> f64 {
        letters.size * self.face(letters.weight).width(text)
    }

    /// From the upper left corner to the document's lower left.
    fn up(&self, y: f64) -> f32 {
        single(self.paper.size().1 - y)
    }

    /// A spelled text on its base line.
    pub(in crate::report) fn text(&mut self, (x, y): (f64, f64), text: &str, letters: Letters) {
        if text.trim().is_empty() {
            return;
        }
        let y = self.up(y);
        let written = self.faces[letters.weight as usize].written(text);
        let [r, g, b] = letters.colour.parts();
        if let Some(page) = self.pages.last_mut() {
            page.set_fill_rgb(r, g, b)
                .begin_text()
                .set_font(NAMES[letters.weight as usize], single(letters.size))
                .set_text_matrix([1.0, 0.0, 0.0, 1.0, single(x), y])
                .show(Str(&written))
                .end_text();
        }
    }

    /// An outline.
    pub(super) fn draw(&mut self, steps: &[Step], pen: &Pen) {
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "held between 0 and 1000"
        )]
        let opacity = (1000.0 * pen.opacity).clamp(0.0, 1000.0).round() as u16;
        if opacity < 1000 && !self.opacities.contains(&opacity) {
            self.opacities.push(opacity);
        }
        let height = self.paper.size().1;
        let up = |y: f64| single(height - y);
        let Some(page) = self.pages.last_mut() else {
            return;
        };
        page.save_state();
        if opacity < 1000 {
            page.set_parameters(Name(state(opacity).as_bytes()));
        }
        if let Some(colour) = pen.fill {
            let [r, g, b] = colour.parts();
            page.set_fill_rgb(r, g, b);
        }
        if let Some(colour) = pen.stroke {
            let [r, g, b] = colour.parts();
            page.set_stroke_rgb(r, g, b)
                .set_line_width(single(pen.width));
            if pen.round {
                page.set_line_cap(LineCapStyle::RoundCap)
                    .set_line_join(LineJoinStyle::RoundJoin);
            }
            if !pen.dashes.is_empty() {
                page.set_dash_pattern(pen.dashes.iter().map(|x| single(*x)), 0.0);
            }
        }
        for step in steps {
            match *step {
                Step::Move(x, y) => page.move_to(single(x), up(y)),
                Step::Line(x, y) => page.line_to(single(x), up(y)),
                Step::Curve([a, b, c, d, x, y]) => {
                    page.cubic_to(single(a), up(b), single(c), up(d), single(x), up(y))
                }
                Step::Close => page.close_path(),
            };
        }
        match (pen.fill, pen.stroke) {
            (Some(_), Some(_)) => page.fill_nonzero_and_stroke(),
            (Some(_), None) => page.fill_nonzero(),
            (None, Some(_)) => page.stroke(),
            (None, None) => page.end_path(),
        };
        page.restore_state();
    }

    /// The finished document: the same bytes for the same pages.
    pub(in crate::report) fn finish(self, title: &str, maker: &str) -> Result<Vec<u8>, FontError> {
        let mut pdf = Pdf::new();
        let mut next = Ref::new(1);
        let [catalog, tree, info] = [next.bump(), next.bump(), next.bump()];
        let fonts = [next.bump(), next.bump()];
        let states: Vec<(u16, Ref)> = self.opacities.iter().map(|o| (*o, next.bump())).collect();
        let pages: Vec<(Ref, Ref)> = self
            .pages
            .iter()
            .map(|_| (next.bump(), next.bump()))
            .collect();
        let count = i32::try_from(pages.len()).unwrap_or(i32::MAX);
        let mut root = pdf.catalog(catalog);
        root.pages(tree).lang(TextStr("en"));
        root.viewer_preferences().display_doc_title(true);
        root.finish();
        pdf.document_info(info)
            .title(TextStr(title))
            .creator(TextStr(maker))
            .producer(TextStr(maker));
        pdf.pages(tree)
            .kids(pages.iter().map(|(page, _)| *page))
            .count(count);
        let (width, height) = self.paper.size();
        for (content, (page, stream)) in self.pages.into_iter().zip(&pages) {
            let mut written = pdf.page(*page);
            written
                .parent(tree)
                .media_box(Rect::new(0.0, 0.0, single(width), single(height)))
                .contents(*stream);
            let mut resources = written.resources();
            let mut named = resources.fonts();
            for (name, font) in NAMES.iter().zip(&fonts) {
                named.pair(*name, font);
            }
            named.finish();
            let mut named = resources.ext_g_states();
            for (opacity, own) in &states {
                named.pair(Name(state(*opacity).as_bytes()), own);
            }
            named.finish();
            resources.finish();
            written.finish();
            let packed = packed(&content.finish());
            pdf.stream(*stream, &packed).filter(Filter::FlateDecode);
        }
        for (opacity, own) in &states {
            let share = f32::from(*opacity) / 1000.0;
            pdf.ext_graphics(*own)
                .non_stroking_alpha(share)
                .stroking_alpha(share);
        }
        for (face, own) in self.faces.iter().zip(fonts) {
            face.write(&mut pdf, own, &mut next)?;
        }
        Ok(pdf.finish())
    }
}

/// Name of a state of that opacity.
fn state(opacity: u16) -> String {
    format!("O{opacity}")
}
