//! A document as one page: a single file that shows itself, for a screen, a printer or an envelope.
//!
//! What stands behind the answer is folded away under its heading. The page holds no script and asks for nothing from outside, and says so to the
//! browser; every word from a file is escaped. Its colours differ in lightness as well as in hue, so that they are told apart by a colour-blind
//! eye and on a grey print.

use super::chart::Chart;
use super::chart::svg;
pub use super::chart::svg::escaped;
use super::document::{self, Block, Content, Document, Level};
use super::table::TextTable;

impl Document {
    /// As a part of a page that holds [`STYLE`] and that of the charts: without a frame, without a style of its own, and with headings from the
    /// second rank on.
    pub fn fragment(&self) -> String {
        let mut out = String::new();
        self.blocks_into(&mut out);
        // Below the heading of the page that takes it in. Text is escaped, so only markup is met.
        for (from, to) in [("h2>", "h3>"), ("h1>", "h2>")] {
            out = out.replace(from, to);
        }
        out
    }

    fn blocks_into(&self, out: &mut String) {
        for run in self.blocks.chunk_by(together) {
            if run[0].level == Level::Detail {
                details(out, run);
            } else {
                contents(out, run);
            }
        }
    }

    /// As one self-contained page.
    pub fn html(&self) -> String {
        let title = self
            .blocks
            .iter()
            .find_map(|block| match &block.content {
                Content::Title { text } => Some(text.as_str()),
                _ => None,
            })
            .unwrap_or("pullcast");
        let mut out = String::new();
        head(&mut out, title, &style());
        out.push_str("<body>\n<main>\n");
        self.blocks_into(&mut out);
        out.push_str("</main>\n</body>\n</html>\n");
        out
    }
}

/// Everything above the body: the page asks for nothing from outside and runs no script, and says so.
pub(super) fn head(out: &mut String, title: &str, style: &str) {
    add!(
        out,
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>{}</title>\n<style>\n{style}</style>\n</head>\n",
        escaped(title)
    );
}

/// A document with nothing folded away; what stands for a longer block gives way to it, and the last line is left to the page.
pub(super) fn unfolded(out: &mut String, document: &Document) {
    let blocks: Vec<Block> = document.unfolded().cloned().collect();
    contents(out, &blocks);
}

/// Style of a page, without that of its charts.
pub const STYLE: &str = include_str!("page.css");

/// Style of a page and of its charts.
fn style() -> String {
    format!("{STYLE}{}", svg::STYLE)
}

/// Whether two neighbouring blocks belong into one part of the page: a new section folds by itself.
fn together(a: &Block, b: &Block) -> bool {
    let begins = b.level == Level::Detail && matches!(b.content, Content::Section { .. });
    a.level == b.level && !begins
}

/// Blocks that are folded away, under the heading that they bring.
fn details(out: &mut String, run: &[Block]) {
    let run = match run {
        [space, rest @ ..] if space.content == Content::Space => rest,
        _ => run,
    };
    let (summary, rest) = match run {
        [] => return,
        [first, rest @ ..] => match &first.content {
            Content::Section { text } => (text.as_str(), rest),
            _ => ("Details", run),
        },
    };
    let unseen = |block: &Block| matches!(block.content, Content::Strokes { .. } | Content::Space);
    if rest.iter().all(unseen) {
        return;
    }
    add!(out, "<details>\n<summary>{}</summary>\n", escaped(summary));
    contents(out, rest);
    out.push_str("</details>\n");
}

fn contents(out: &mut String, blocks: &[Block]) {
    let goes_on = |_: &Block, next: &Block| matches!(next.content, Content::Line { .. });
    for run in blocks.chunk_by(goes_on) {
        let (lines, first) = match run {
            [first, rest @ ..] if !matches!(first.content, Content::Line { .. }) => {
                (rest, Some(&first.content))
            }
            lines => (lines, None),
        };
        if let Some(first) = first {
            content(out, first);
        }
        self::lines(out, lines);
    }
}

/// Lines one below the other. Where they line up in columns they keep them; one that is set in goes on from what stands before it.
fn lines(out: &mut String, run: &[Block]) {
    let (lines, in_columns) = document::lines(run);
    if in_columns {
        let joined: Vec<_> = lines
            .iter()
            .map(|(lead, text)| escaped(&format!("{lead}{text}")))
            .collect();
        add!(out, "<pre>{}</pre>\n", joined.join("\n"));
        return;
    }
    for (lead, text) in lines {
        let set_in = lead.is_empty() && text.starts_with(' ');
        if set_in && out.ends_with("</p>\n") {
            out.truncate(out.len() - "</p>\n".len());
            add!(out, "<br>\n{}</p>\n", escaped(text.trim()));
        } else {
            paragraph(out, lead, text);
        }
    }
}

fn paragraph(out: &mut String, lead: &str, text: &str) {
    let lead = match lead.trim() {
        "" => String::new(),
        lead => format!("<span class=\"lead\">{}</span> ", escaped(lead)),
    };
    add!(out, "<p>{lead}{}</p>\n", escaped(text.trim()));
}

fn content(out: &mut String, content: &Content) {
    match content {
        Content::Title { text } => add!(out, "<h1>{}</h1>\n", escaped(text)),
        Content::Section { text } => add!(out, "<h2>{}</h2>\n", escaped(text)),
        Content::Paragraph { lead, text, .. } | Content::Line { lead, text } => {
            paragraph(out, lead, text);
        }
        Content::List { items } => {
            out.push_str("<ul>\n");
            for item in items {
                add!(out, "<li>{}</li>\n", escaped(item));
            }
            out.push_str("</ul>\n");
        }
        Content::Table { table: rows } => table(out, rows),
        Content::Chart { chart } => figure(out, chart),
        Content::Strokes { .. } | Content::Space => {}
        Content::Verbatim { text } => add!(out, "<pre>{}</pre>\n", escaped(text)),
        Content::Foot { text } => add!(out, "<footer>{}</footer>\n", escaped(text)),
    }
}

/// Columns that go beside each other on a phone.
const MOST_ON_A_PHONE: usize = 4;
/// Rows of a table that is still read figure by figure.
const MOST_ROWS_STACKED: usize = 24;

pub(super) fn table(out: &mut String, table: &TextTable) {
    let columns = table.columns();
    let mut rows = table.rows();
    // On a phone such a table stands one figure below the other; a longer one is a curve, and is moved sideways.
    let heads = rows.first().filter(|_| {
        table.is_headed() && columns > MOST_ON_A_PHONE && rows.len() <= MOST_ROWS_STACKED
    });
    let stacks = if heads.is_some() { " stacks" } else { "" };
    add!(out, "<div class=\"wide{stacks}\"><table>\n");
    if table.is_headed()
        && let Some((head, rest)) = rows.split_first()
    {
        rows = rest;
        out.push_str("<thead><tr>");
        for (column, cell) in head.iter().enumerate() {
            let class = class(table.is_number(column), false);
            if cell.is_empty() {
                // A head that says nothing is none.
                out.push_str("<td></td>");
            } else {
                add!(out, "<th scope=\"col\"{class}>{}</th>", escaped(cell));
            }
        }
        out.push_str("</tr></thead>\n");
    }
    out.push_str("<tbody>\n");
    for row in rows {
        out.push_str("<tr>");
        match &row[..] {
            [group] if columns > 1 => add!(
                out,
                "<th scope=\"rowgroup\" class=\"group\" colspan=\"{columns}\">{}</th>",
                escaped(group.trim())
            ),
            cells => {
                for (column, cell) in cells.iter().enumerate() {
                    let number = table.is_number(column);
                    let class = class(number, !number && cell.starts_with(' '));
                    let cell = escaped(cell.trim());
                    let head = heads.and_then(|heads| heads.get(column));
                    let of = head.map_or_else(String::new, |head| {
                        format!(" data-of=\"{}\"", escaped(head))
                    });
                    if column == 0 && !number {
                        add!(out, "<th scope=\"row\"{class}>{cell}</th>");
                    } else {
                        add!(out, "<td{class}{of}>{cell}</td>");
                    }
                }
            }
        }
        out.push_str("</tr>\n");
    }
    out.push_str("</tbody>\n</table></div>\n");
}

fn class(number: bool, set_in: bool) -> &'static str {
    match (number, set_in) {
        (true, _) => " class=\"n\"",
        (false, true) => " class=\"in\"",
        (false, false) => "",
    }
}

/// A chart, drawn for a wide page and for a narrow one: letters keep their size, and the style shows one of them.
pub(super) fn figure(out: &mut String, chart: &Chart) {
    let wide = chart.svg(svg::WIDE);
    if wide.is_empty() {
        return;
    }
    add!(
        out,
        "<figure>\n<h3>{}</h3>\n<div class=\"on-wide\">\n{wide}</div>\n<div class=\"on-narrow\">\n{}</div>\n<figcaption>{}</figcaption>\n</figure>\n",
        escaped(&chart.title),
        chart.svg(svg::NARROW),
        escaped(&chart.caption)
    );
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::chart::{
        Bar, Curve, Curves, Figure, HourCell, Mark, Named, Panel, Pen, Point, Stretch,
    };

    fn document() -> Document {
        let name = "<script>alert('x')</script> & \u{202e}\"\u{1b}[31m";
        let mut document = Document::new();
        let mut numbers = TextTable::new("lr");
        numbers.head(["", name]);
        numbers.row([format!("to {name}")]);
        numbers.row([format!("  {name}"), "1.00".to_owned()]);
        document
            .at(Level::Answer)
            .title(name)
            .labelled(name, name, 4)
            .list([name])
            .fact("Air: ", "91 kPa")
            .line("     dry")
            .table(numbers);
        document
            .at(Level::Detail)
            .space()
            .section(name)
            .paragraph("behind")
            .section("Second")
            .line("a      1")
            .line("b      2");
        let row = |x: f64| Point {
            x,
            y: 0.1 * x,
            half: None,
            most: Some((0.08 * x, 0.12 * x)),
        };
        let curve = Curve {
            name: name.to_owned(),
            pen: Pen::Main,
            points: [2000.0, 3000.0, 4000.0].map(row).to_vec(),
        };
        let mark = Mark {
            x: 3000.0,
            y: 300.0,
            text: name.to_owned(),
            pen: Pen::Other,
            above: true,
        };
        let level = Named {
            y: 250.0,
            text: name.to_owned(),
        };
        let stretch = Stretch {
            text: name.to_owned(),
            from: 2500.0,
            to: 3500.0,
            strong: true,
        };
        let panels = vec![
            Panel::Curves(Curves {
                name: name.to_owned(),
                curves: vec![curve],
                marks: vec![mark],
                levels: vec![level],
                ..Curves::default()
            }),
            Panel::Stretches(vec![stretch]),
        ];
        let bar = Bar {
            name: name.to_owned(),
            from: 0.0,
            to: 3.0,
            middle: Some(1.0),
            text: name.to_owned(),
            pen: Pen::Third,
        };
        let cell = HourCell {
            month: 1,
            hour: 0,
            value: 2.0,
        };
        let axis = name.to_owned();
        for figure in [
            Figure::Panels {
                axis: axis.clone(),
                panels,
            },
            Figure::Bars {
                axis: axis.clone(),
                rows: vec![bar],
            },
            Figure::Hours {
                name: axis.clone(),
                cells: vec![cell],
            },
        ] {
            document.at(Level::Answer).chart(Chart {
                title: name.to_owned(),
                caption: name.to_owned(),
                figure,
            });
        }
        document
    }

    fn page() -> String {
        document().html()
    }

    #[test]
    fn a_name_from_a_file_is_never_markup_and_never_acts() {
        let page = page();
        assert!(
            !page.contains("<script") && !page.contains("</script"),
            "{page}"
        );
        assert!(
            page.contains(
                "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt; &amp; [U+202E]&quot;[U+001B][31m"
            ),
            "{page}"
        );
        assert!(!page.contains(['\u{202e}', '\u{1b}']), "{page}");
    }

    /// Names of the tags in the order in which they open and close; void ones aside.
    fn tags(page: &str) -> Vec<(bool, &str)> {
        page.split('<')
            .skip(1)
            .filter_map(|piece| {
                let (tag, _) = piece.split_once('>').expect("every tag is closed");
                let closes = tag.starts_with('/');
                let name = tag
                    .trim_start_matches('/')
                    .split([' ', '\n'])
                    .next()
                    .expect("a name");
                let alone = tag.ends_with('/') || ["!doctype", "meta", "br"].contains(&name);
                (!alone).then_some((closes, name))
            })
            .collect()
    }

    #[test]
    fn every_tag_that_opens_closes_in_its_place() {
        let page = page();
        let mut open = Vec::new();
        for (closes, name) in tags(&page) {
            if closes {
                assert_eq!(open.pop(), Some(name), "{page}");
            } else {
                open.push(name);
            }
        }
        assert_eq!(open, Vec::<&str>::new());
    }

    #[test]
    fn on_a_phone_a_wide_table_of_few_rows_stands_figure_by_figure() {
        let drawn = |columns: usize, rows: usize| {
            let mut table = TextTable::new("lr");
            table.head((0..columns).map(|c| format!("plan {c}")));
            for row in 0..rows {
                table.row((0..columns).map(|c| format!("{row}.{c}")));
            }
            let mut out = String::new();
            super::table(&mut out, &table);
            out
        };
        let four_plans = drawn(6, 11);
        assert!(
            four_plans.contains("class=\"wide stacks\"")
                && four_plans.contains("data-of=\"plan 5\">10.5</td>"),
            "{four_plans}"
        );
        // What fits beside each other, and a curve of many rows, stay as they are.
        for plain in [drawn(4, 11), drawn(6, 40)] {
            assert!(
                !plain.contains("stacks") && !plain.contains("data-of"),
                "{plain}"
            );
        }
    }

    #[test]
    fn a_page_asks_for_nothing_from_outside() {
        let page = page();
        for call in ["http:", "https:", "//", "src=", "href=", "url(", "@import"] {
            assert!(!page.contains(call), "{call} in {page}");
        }
    }

    #[test]
    fn a_drawing_in_a_file_of_its_own_is_as_safe_and_asks_for_nothing() {
        let svg = document().svg().expect("charts");
        for call in [
            "<script", "https:", "src=", "href=", "url(", "@import", "var(", "\u{202e}",
        ] {
            assert!(!svg.contains(call), "{call} in {svg}");
        }
        // The name of the language is the one address in it.
        assert_eq!(svg.matches("http:").count(), 1, "{svg}");
        assert!(tags(&svg).len() > 20);
        assert_eq!(Document::new().svg(), None);
    }

    #[test]
    fn a_line_that_is_set_in_goes_on_from_the_one_before() {
        let page = page();
        let told = "<p><span class=\"lead\">Air:</span> 91 kPa<br>\ndry</p>";
        assert!(page.contains(told), "{page}");
    }

    #[test]
    fn details_fold_section_by_section_and_columns_of_lines_are_kept() {
        let page = page();
        assert_eq!(page.matches("<details>").count(), 2, "{page}");
        assert!(page.contains("<summary>Second</summary>\n<pre>a      1\nb      2</pre>"));
        assert!(page.contains("<td class=\"n\">1.00</td>"), "{page}");
        assert!(page.contains("class=\"group\" colspan=\"2\""), "{page}");
    }
}
