//! Documents as PDF, drawn by the program itself: letters that can be read out again, a typeface inside, charts as vectors, nothing from outside.
//!
//! It exists so that a sheet looks the same on every printer, without a browser in between. The same blocks are drawn as on a page of HTML. The same
//! input gives the same bytes: no date, no number of its own. It refuses what a sheet does not need: pictures, links, scripts, forms.

mod canvas;
mod drawing;
mod flow;
mod font;

pub use canvas::Paper;
pub(super) use canvas::{Canvas, FACES};
pub(super) use flow::{Flow, Style};
pub use font::FontError;
pub(super) use font::spelled;
