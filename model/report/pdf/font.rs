//! A typeface that a document carries along: how wide its words are, and how they are written so that they can be read out again.
//!
//! Only the glyphs that are used go into the file, each with the letter it stands for. It refuses to shape a script: letters stand one behind the other,
//! which does for the languages this program speaks. A letter that the face has not is shown as its code.

use super::canvas::FACES;
use pdf_writer::types::{CidFontType, FontFlags, SystemInfo, UnicodeCmap};
use pdf_writer::{Filter, Finish, Name, Pdf, Rect, Ref, Str};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use subsetter::GlyphRemapper;
use ttf_parser::GlyphId;

/// How glyphs of a document are numbered.
const SYSTEM: SystemInfo<'static> = SystemInfo {
    registry: Str(b"Adobe"),
    ordering: Str(b"Identity"),
    supplement: 0,
};
/// Glyph space of a font in a document, to the em.
const EM: f64 = 1000.0;

/// Why a typeface cannot be used.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum FontError {
    /// It cannot be read.
    #[error("the typeface cannot be read: {0}")]
    Face(#[from] ttf_parser::FaceParsingError),
    /// Its used part cannot be cut out.
    #[error("the typeface cannot be cut to what is used: {0}")]
    Subset(String),
}

/// A typeface with what was used of it.
pub(super) struct Typeface {
    name: &'static str,
    data: &'static [u8],
    face: ttf_parser::Face<'static>,
    remapper: GlyphRemapper,
    /// Letter and width of each glyph in use, by its new number.
    used: BTreeMap<u16, (char, f64)>,
}

impl Typeface {
    pub(super) fn of(name: &'static str, data: &'static [u8]) -> Result<Self, FontError> {
        Ok(Self {
            name,
            data,
            face: ttf_parser::Face::parse(data, 0)?,
            remapper: GlyphRemapper::new(),
            used: BTreeMap::new(),
        })
    }

    /// A text in letters that the face has.
    pub(super) fn spelled(&self, text: &str) -> String {
        let mut out = String::with_capacity(text.len());
        for c in text.chars() {
            if self.face.glyph_index(c).is_some() {
                out.push(c);
            } else {
                let _ = write!(out, "[U+{:04X}]", u32::from(c));
            }
        }
        out
    }

    fn advance(&self, glyph: GlyphId) -> f64 {
        let units = f64::from(self.face.units_per_em());
        f64::from(self.face.glyph_hor_advance(glyph).unwrap_or_default()) / units
    }

    /// Width of a spelled text, in sizes of the letter.
    pub(super) fn width(&self, text: &str) -> f64 {
        let glyphs = text.chars().filter_map(|c| self.face.glyph_index(c));
        glyphs.map(|glyph| self.advance(glyph)).sum()
    }

    /// A spelled text as the document writes it; what it uses is remembered.
    pub(super) fn written(&mut self, text: &str) -> Vec<u8> {
        let mut out = Vec::with_capacity(2 * text.len());
        for c in text.chars() {
            let Some(glyph) = self.face.glyph_index(c) else {
                continue;
            };
            let number = self.remapper.remap(glyph.0);
            let advance = self.advance(glyph);
            self.used.entry(number).or_insert((c, advance));
            out.extend(number.to_be_bytes());
        }
        out
    }

    /// Writes the face into a document under four numbers beside its own.
    pub(super) fn write(&self, pdf: &mut Pdf, own: Ref, next: &mut Ref) -> Result<(), FontError> {
        let [descendant, descriptor, file, cmap] =
            [next.bump(), next.bump(), next.bump(), next.bump()];
        let subset = subsetter::subset(self.data, 0, &self.remapper)
            .map_err(|error| FontError::Subset(error.to_string()))?;
        // Six letters before the name say that it is not the whole face.
        let name = format!("PULCST+{}", self.name);
        let name = Name(name.as_bytes());
        pdf.type0_font(own)
            .base_font(name)
            .encoding_predefined(Name(b"Identity-H"))
            .descendant_font(descendant)
            .to_unicode(cmap);
        let mut cid = pdf.cid_font(descendant);
        cid.subtype(CidFontType::Type2)
            .base_font(name)
            .system_info(SYSTEM)
            .font_descriptor(descriptor)
            .default_width(0.0)
            .cid_to_gid_map_predefined(Name(b"Identity"));
        let mut widths = cid.widths();
        for (number, (_, advance)) in &self.used {
            widths.consecutive(*number, [single(EM * advance)]);
        }
        widths.finish();
        cid.finish();
        let scaled =
            |units: i16| single(EM * f64::from(units) / f64::from(self.face.units_per_em()));
        let bounds = self.face.global_bounding_box();
        pdf.font_descriptor(descriptor)
            .name(name)
            .flags(FontFlags::SYMBOLIC)
            .bbox(Rect::new(
                scaled(bounds.x_min),
                scaled(bounds.y_min),
                scaled(bounds.x_max),
                scaled(bounds.y_max),
            ))
            .italic_angle(0.0)
            .ascent(scaled(self.face.ascender()))
            .descent(scaled(self.face.descender()))
            .cap_height(scaled(self.face.capital_height().unwrap_or_default()))
            .stem_v(if self.face.is_bold() { 140.0 } else { 80.0 })
            .font_file2(file);
        let mut letters = UnicodeCmap::new(Name(b"Letters"), SYSTEM);
        for (number, (letter, _)) in &self.used {
            letters.pair(*number, *letter);
        }
        pdf.cmap(cmap, &letters.finish());
        let packed = packed(&subset);
        let mut stream = pdf.stream(file, &packed);
        stream.filter(Filter::FlateDecode);
        stream.pair(
            Name(b"Length1"),
            i32::try_from(subset.len()).unwrap_or(i32::MAX),
        );
        stream.finish();
        Ok(())
    }
}

/// A text in letters that both weights have; its lines stay.
pub(in crate::report) fn spelled(text: &str) -> Result<String, FontError> {
    let mut text = text.to_owned();
    for (name, data) in FACES {
        let face = Typeface::of(name, data)?;
        let rows: Vec<String> = text.split('\n').map(|row| face.spelled(row)).collect();
        text = rows.join("\n");
    }
    Ok(text)
}

/// A stream as small as it gets, the same bytes each time.
pub(super) fn packed(data: &[u8]) -> Vec<u8> {
    miniz_oxide::deflate::compress_to_vec_zlib(data, 9)
}

/// The document's numbers have single precision: far finer than a printer's dot.
#[expect(
    clippy::cast_possible_truncation,
    reason = "places on a page, in points"
)]
pub(super) fn single(x: f64) -> f32 {
    x as f32
}
