//! The sheet as PDF, read back: what it promises stands in it as text, on paper of the size asked for, with its typeface inside.
//!
//! Read by a library of its own kind (`lopdf`), which knows nothing of the one that wrote it.

use crate::shop::Shop;
use lopdf::{Dictionary, Document, Object};
use serde_json::Value;

const QUOTE: &str = "quote car.toml plan.toml --visit visit.toml --weather weather.toml --draws 50 --date 2026-11-29 --hoped 900kW --force --json";

/// A shop with a letterhead, and its sheet as read back, with the answer that it shows.
fn sheet(profile: &str, arguments: &str) -> (Shop, Document, Value) {
    let shop = Shop::new();
    shop.measure();
    shop.write("pullcast.toml", profile);
    let answer = shop
        .well(&format!("{QUOTE} --pdf sheet.pdf {arguments}"))
        .json("pullcast/quote/4");
    let document = Document::load(shop.path("sheet.pdf")).expect("a PDF");
    (shop, document, answer)
}

const PROFILE: &str = "kind = \"shop\"\nversion = 1\nname = \"Cold Hill\"\nquote_holds_days = 30\n";

/// Text of a page on one line.
fn text(document: &Document, page: u32) -> String {
    let text = document.extract_text(&[page]).expect("text");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn pages(document: &Document) -> u32 {
    u32::try_from(document.get_pages().len()).expect("some pages")
}

/// An entry of a dictionary, looked up where it is only referred to.
fn entry<'d>(document: &'d Document, of: &'d Dictionary, key: &str) -> &'d Object {
    let found = of
        .get(key.as_bytes())
        .unwrap_or_else(|_| panic!("{key} in {of:?}"));
    document.dereference(found).expect("an object").1
}

#[test]
fn the_promise_stands_on_the_first_side_and_the_engineers_side_behind_it() {
    let (shop, document, answer) = sheet(PROFILE, "--customer Doe --sheet sheet.html");
    let kw = |w: &Value| format!("{:.0}", w.as_f64().expect("watts") / 1e3);
    let promise = &answer["promise"];
    let range = &promise["power_w"];
    let sure = promise["sure"]["power_w"].as_f64().expect("watts") / 1e3;
    // Three digits, as everywhere.
    let sure = format!("{sure:.*}", usize::from(sure < 100.0));
    let customer = text(&document, 1);
    for words in [
        &format!("{} to {} kW", kw(&range["p5"]), kw(&range["p95"])),
        &format!("Count on {sure} kW: 1 pull in 10 reads less."),
        answer["made_by"]["inputs"].as_str().expect("a name"),
        "Cold Hill",
        "2026-12-29",
        "For Doe",
        "Hoped for: 900 kW",
        "How it will be checked",
        // Letters of the chart too.
        "engine speed, rpm",
    ] {
        assert!(customer.contains(words), "{words} is not in {customer}");
    }
    assert!(!customer.contains("Engineer's side"));
    assert!(text(&document, 2).starts_with("Engineer's side"));
    assert!(text(&document, pages(&document)).ends_with("2026-11-29"));
    // What the page for a browser says, this says: every heading and every point of the customer's side.
    let page = std::fs::read_to_string(shop.path("sheet.html")).expect("a sheet");
    let side = page
        .split("class=\"side engineer\"")
        .next()
        .expect("two sides");
    let close = customer.replace(' ', "");
    let mut compared = 0;
    for piece in side.split("<li>").skip(1).chain(side.split("<h2>").skip(1)) {
        let words = piece.split("</").next().expect("an end");
        let words = words.replace("&#39;", "'").replace(' ', "");
        assert!(close.contains(&words), "{words} is not in {close}");
        compared += 1;
    }
    assert!(compared >= 12, "{compared}");
}

#[test]
fn paper_typeface_and_content_are_the_documents_own() {
    for (paper, (width, height)) in [("a4", (595.276, 841.89)), ("letter", (612.0, 792.0))] {
        let (_, document, _) = sheet(PROFILE, &format!("--paper {paper}"));
        assert!((2..=8).contains(&pages(&document)), "{}", pages(&document));
        for page in document.get_pages().values() {
            let page = document.get_dictionary(*page).expect("a page");
            let sides: Vec<f32> = entry(&document, page, "MediaBox")
                .as_array()
                .expect("four numbers")
                .iter()
                .map(|side| side.as_float().expect("a number"))
                .collect();
            // Sizes of ISO 216 and of the American letter, in points of 1/72 inch, to their rounding.
            assert!(
                (sides[2] - width).abs() < 0.01 && (sides[3] - height).abs() < 0.01,
                "{sides:?}"
            );
            let resources = entry(&document, page, "Resources")
                .as_dict()
                .expect("resources");
            let fonts = entry(&document, resources, "Font")
                .as_dict()
                .expect("fonts");
            assert_eq!(fonts.len(), 2);
            for (_, font) in fonts {
                let font = document
                    .dereference(font)
                    .expect("a font")
                    .1
                    .as_dict()
                    .expect("a font");
                let letters = entry(&document, font, "ToUnicode").as_stream();
                assert!(letters.is_ok(), "a font whose letters cannot be read out");
                let parts = entry(&document, font, "DescendantFonts")
                    .as_array()
                    .expect("one");
                let part = document
                    .dereference(&parts[0])
                    .expect("one")
                    .1
                    .as_dict()
                    .expect("one");
                let descriptor = entry(&document, part, "FontDescriptor")
                    .as_dict()
                    .expect("one");
                let file = entry(&document, descriptor, "FontFile2")
                    .as_stream()
                    .expect("a file");
                let bytes = file.decompressed_content().expect("a typeface");
                // The letters in use and no others: the whole face has 680 kB.
                assert!((5_000..120_000).contains(&bytes.len()), "{}", bytes.len());
                assert_eq!(bytes[..4], [0, 1, 0, 0], "TrueType");
            }
        }
        // Nothing acts and nothing is asked for from outside.
        for object in document.objects.values() {
            if let Ok(of) = object.as_dict() {
                for key in [
                    "URI",
                    "JS",
                    "JavaScript",
                    "Launch",
                    "OpenAction",
                    "AA",
                    "EmbeddedFile",
                ] {
                    assert!(!of.has(key.as_bytes()), "{key}: {of:?}");
                }
            }
        }
    }
}

#[test]
fn the_customer_has_one_side_however_much_the_shop_wants_minded() {
    let minded: Vec<String> = (0..8)
        .map(|n| format!("\"Number {n}: a thing that this shop wants its customers to mind before they drive away.\""))
        .collect();
    let profile = format!("{PROFILE}cautions = [{}]\n", minded.join(", "));
    let (_, document, _) = sheet(&profile, "--paper letter");
    let customer = text(&document, 1);
    assert!(customer.contains("Number 7"), "{customer}");
    assert!(customer.contains("How it will be checked"), "{customer}");
    assert!(text(&document, 2).starts_with("Engineer's side"));
}

#[test]
fn many_long_cautions_leave_the_customer_one_side_and_stand_in_full_behind_it() {
    let minded: Vec<String> = (0..14)
        .map(|n| {
            format!(
                "\"Number {n}: this shop asks its customers to let the engine warm through before it is loaded, to look at oil and coolant every week, and to bring the car back at the first odd noise.\""
            )
        })
        .collect();
    let profile = format!("{PROFILE}cautions = [{}]\n", minded.join(", "));
    let (shop, document, _) = sheet(&profile, "--paper letter --sheet sheet.html");
    let customer = text(&document, 1);
    for words in [
        "Number 0:",
        "more of this shop, on the engineer's side",
        "Check straps",
        "How it will be checked",
        "Customer",
    ] {
        assert!(customer.contains(words), "{words} is not in {customer}");
    }
    assert!(!customer.contains("Number 13"), "{customer}");
    let behind = text(&document, 2);
    assert!(behind.starts_with("Engineer's side"), "{behind}");
    assert!(
        behind.contains("Number 0:") && behind.contains("Number 13:"),
        "{behind}"
    );
    let page = std::fs::read_to_string(shop.path("sheet.html")).expect("a sheet");
    let (front, back) = page
        .split_once("class=\"side engineer\"")
        .expect("two sides");
    assert!(!front.contains("Number 13") && back.contains("Number 13"));
}

#[test]
fn the_same_quote_gives_the_same_bytes_and_a_name_acts_nowhere() {
    let (shop, _, _) = sheet(PROFILE, "");
    let first = std::fs::read(shop.path("sheet.pdf")).expect("a sheet");
    shop.well(&format!("{QUOTE} --pdf sheet.pdf"));
    assert_eq!(
        std::fs::read(shop.path("sheet.pdf")).expect("a sheet"),
        first
    );
    let profile = PROFILE.replace("Cold Hill", "Cold \\u202e(Hill) \\\\ \\u4e00");
    let (shop, document, _) = sheet(&profile, "");
    let customer = text(&document, 1);
    assert!(
        customer.contains("Cold [U+202E](Hill) \\ [U+4E00]"),
        "{customer}"
    );
    // Neither side without a file, nor a paper without one.
    assert_eq!(shop.run("quote car.toml --paper letter").code, 2);
    assert_eq!(
        shop.run(&format!("{} --pdf sheet.pdf", QUOTE.replace("--force", "")))
            .code,
        1
    );
}
