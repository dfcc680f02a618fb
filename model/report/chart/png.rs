//! Charts as a picture: the drawing of [`Document::svg`](crate::report::Document::svg) in dots, for whoever cannot show a drawing.
//!
//! It exists because a message to a customer takes a picture and seldom an SVG. The letters are those of the sheet's own typeface, never of the machine's, so
//! that the same answer gives the same bytes everywhere; a letter that the face has not is shown as its code. It refuses to draw anything that the
//! drawing does not hold.

use crate::report::pdf;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};
use std::sync::Arc;

/// Dots to a unit of the drawing: sharp on a phone and on paper 130 mm wide (1520 dots, 300 to the inch).
const DOTS: f32 = 2.0;

/// Why there is no picture.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PictureError {
    /// The typeface cannot be read.
    #[error("the picture's typeface cannot be read: {0}")]
    Face(#[from] pdf::FontError),
    /// The drawing cannot be read.
    #[error("the drawing cannot be read: {0}")]
    Drawing(#[from] resvg::usvg::Error),
    /// There are too many dots.
    #[error("a picture of {wide} by {high} dots is too large")]
    Size {
        /// Dots from left to right.
        wide: u32,
        /// Dots from top to bottom.
        high: u32,
    },
    /// The dots cannot be packed.
    #[error("the picture cannot be packed: {0}")]
    Packed(String),
}

/// A drawing of [`Document::svg`](crate::report::Document::svg) as a PNG picture; the same drawing gives the same bytes.
pub fn picture(drawing: &str) -> Result<Vec<u8>, PictureError> {
    let mut faces = fontdb::Database::new();
    for (_, face) in pdf::FACES {
        faces.load_font_data(face.to_vec());
    }
    // Whatever face a style asks for, it is this one.
    let names = faces.faces().flat_map(|face| &face.families);
    let family = names.map(|(name, _)| name.clone()).next();
    let family = family.unwrap_or_default();
    faces.set_sans_serif_family(family.clone());
    let options = Options {
        font_family: family,
        fontdb: Arc::new(faces),
        ..Options::default()
    };
    let tree = Tree::from_str(&pdf::spelled(drawing)?, &options)?;
    let size = tree.size().to_int_size();
    let size = size.scale_by(DOTS).unwrap_or(size);
    let (wide, high) = (size.width(), size.height());
    let mut dots = Pixmap::new(wide, high).ok_or(PictureError::Size { wide, high })?;
    resvg::render(&tree, Transform::from_scale(DOTS, DOTS), &mut dots.as_mut());
    dots.encode_png()
        .map_err(|error| PictureError::Packed(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Dots that are darker than the ground.
    fn inked(drawing: &str) -> usize {
        let png = picture(drawing).expect("a picture");
        let dots = Pixmap::decode_png(&png).expect("a PNG");
        dots.pixels().iter().filter(|dot| dot.red() < 128).count()
    }

    fn drawing(inside: &str) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"chart\" width=\"100\" height=\"20\" viewBox=\"0 0 100 20\">\
             <rect width=\"100\" height=\"20\" fill=\"#fff\"/>{inside}</svg>"
        )
    }

    #[test]
    fn letters_are_drawn_without_a_typeface_of_the_machine() {
        let text = |style: &str| {
            inked(&drawing(&format!(
                "<text x=\"2\" y=\"14\" style=\"{style}\">kW ± %</text>"
            )))
        };
        let plain = text("font: 13px system-ui, sans-serif");
        let heavy = text("font: 13px system-ui, sans-serif; font-weight: 600");
        assert_eq!(inked(&drawing("")), 0);
        assert!(plain > 100 && heavy > plain, "{plain} {heavy}");
    }

    #[test]
    fn a_letter_that_the_face_has_not_is_told_by_its_code() {
        let text = |word: &str| {
            picture(&drawing(&format!(
                "<text x=\"2\" y=\"14\" style=\"font: 13px sans-serif\">{word}</text>"
            )))
            .expect("a picture")
        };
        assert_eq!(text("\u{8eca}"), text("[U+8ECA]"));
        assert_ne!(text("\u{8eca}"), text(""));
    }
}
