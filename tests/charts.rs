//! Charts and the sheet: drawn from the same answer as the text, safe, and whole.

use crate::shop::{CAR, Shop};

/// The place of an attribute's number behind some text.
fn number(svg: &str, behind: &str, attribute: &str) -> f64 {
    let (_, rest) = svg
        .split_once(behind)
        .unwrap_or_else(|| panic!("{behind} in {svg}"));
    let (_, rest) = rest
        .split_once(&format!("{attribute}=\""))
        .expect("an attribute");
    let (number, _) = rest.split_once('"').expect("its end");
    number.parse().expect("a number")
}

#[test]
fn a_quote_draws_the_numbers_that_it_tells() {
    let shop = Shop::new();
    let run = "quote car.toml plan.toml --draws 50 --svg quote.svg --json";
    let answer = shop.well(run).json("pullcast/quote/4");
    let svg = std::fs::read_to_string(shop.path("quote.svg")).expect("a chart");
    let kw = |w: &serde_json::Value| w.as_f64().expect("a number") / 1e3;
    let text = shop.well("quote car.toml plan.toml --draws 50").out;
    let promise = text
        .strip_prefix("Promise ")
        .and_then(|rest| rest.split(" on ").next());
    let drawn = format!(">promise {}<", promise.expect("a promise"));
    assert!(svg.contains(&drawn), "{drawn} in {svg}");
    // The mark of the peak stands where the scale has its number.
    let (zero, fifty) = (grid(&svg, "0"), grid(&svg, "50"));
    let expected = zero + (fifty - zero) * kw(&answer["after"]["power_w"]["p50"]) / 50.0;
    let place = number(&svg, "class=\"ring main\"", "cy");
    // Places are printed to a tenth, and the scale is ten times longer than the piece it is read from at most.
    assert!((place - expected).abs() < 1.0, "{place} for {expected}");
    for limit in answer["limits"].as_array().expect("a list") {
        if let Some(from) = limit["from_rpm"].as_f64() {
            assert!(svg.contains(&format!(", from {from:.0} rpm")), "{limit}");
        }
    }
    // What is drawn is part of the page too.
    let page = shop
        .well("quote car.toml plan.toml --draws 50 --format html")
        .out;
    assert!(page.contains(&drawn), "{page}");
    // A file that is there is not replaced unasked, nor one that is read.
    assert_eq!(shop.run(run).code, 1);
    assert_eq!(
        shop.run("quote car.toml plan.toml --svg plan.toml --force")
            .code,
        1
    );
}

/// Height of the grid line that carries a label, the first one drawn.
fn grid(svg: &str, label: &str) -> f64 {
    let behind = format!("text-anchor=\"end\">{label}</text>");
    let (before, _) = svg
        .split_once(&behind)
        .unwrap_or_else(|| panic!("{label} in {svg}"));
    let (_, line) = before
        .rsplit_once("class=\"grid\" d=\"M")
        .expect("its line");
    let (_, rest) = line.split_once(' ').expect("a place");
    rest.split('H')
        .next()
        .expect("a number")
        .parse()
        .expect("a number")
}

#[test]
fn every_verb_with_curves_draws_them() {
    let shop = Shop::new();
    shop.measure();
    let visit = std::fs::read_to_string(shop.path("visit.toml")).expect("a visit");
    for (name, other) in [("before.toml", "pull2.csv"), ("after.toml", "pull1.csv")] {
        let (head, pulls) = visit.split_once("[[pull]]").expect("pulls");
        let kept = pulls.split("[[pull]]").filter(|pull| !pull.contains(other));
        shop.write(
            name,
            &kept.fold(head.to_owned(), |text, pull| text + "[[pull]]" + pull),
        );
    }
    for (call, words) in [
        (
            "predict car.toml plan.toml --pulls 3",
            &["Predicted pull", "Pulls in a row"][..],
        ),
        ("fit car.toml visit.toml", &["Read over fitted, %"]),
        ("compare before.toml after.toml", &["Gain, "]),
        (
            "diagnose car.toml after.toml --good before.toml",
            &["What may be wrong", "less a sound pull"],
        ),
    ] {
        let ran = shop.run(&format!("{call} --svg drawn.svg"));
        let Ok(svg) = std::fs::read_to_string(shop.path("drawn.svg")) else {
            panic!("{call}: {}", ran.err)
        };
        for word in words {
            assert!(svg.contains(word), "{call}: {word} in {svg}");
        }
        assert!(
            !svg.contains("NaN") && !svg.contains("inf"),
            "{call}: {svg}"
        );
        std::fs::remove_file(shop.path("drawn.svg")).expect("gone");
    }
}

#[test]
fn a_sheet_puts_the_range_first_and_says_until_when_it_holds() {
    let shop = Shop::new();
    shop.write("named.toml", &CAR.replace("\"coupe\"", "\"<b>coupe\""));
    let run = "quote named.toml plan.toml --draws 50 --sheet sheet.html --date 2026-11-29 --valid 30days --hoped 900kW --customer <i>Doe --json";
    let answer = shop.well(run).json("pullcast/quote/4");
    let sheet = std::fs::read_to_string(shop.path("sheet.html")).expect("a sheet");
    let kw = |w: &serde_json::Value| format!("{:.0}", w.as_f64().expect("a number") / 1e3);
    let range = &answer["promise"]["power_w"];
    let told = format!("{} to {} kW", kw(&range["p5"]), kw(&range["p95"]));
    let customer = sheet
        .split("class=\"side engineer\"")
        .next()
        .expect("two sides");
    let place = |text: &str| {
        customer
            .find(text)
            .unwrap_or_else(|| panic!("{text} in {customer}"))
    };
    assert!(place(&told) < place("peak power, uncorrected"));
    for text in [
        "2026-12-29",
        "Hoped for: 900 kW",
        answer["made_by"]["inputs"].as_str().expect("a name"),
        "How it will be checked",
        "What could change it",
        "&lt;b&gt;coupe",
        "&lt;i&gt;Doe",
    ] {
        place(text);
    }
    assert_eq!(answer["hoped"]["missed"], 1.0, "nothing makes 900 kW");
    for call in [
        "<script", "http:", "https:", "src=", "href=", "url(", "<b>", "<i>",
    ] {
        assert!(!sheet.contains(call), "{call}");
    }
    // Until when it holds is counted from a date, and nobody guesses one.
    assert_eq!(
        shop.run("quote car.toml plan.toml --sheet s.html --valid 30days")
            .code,
        2
    );
}

/// Sides of a PNG picture, from its first chunk (ISO/IEC 15948, 11.2.2).
fn sides(png: &[u8]) -> (u32, u32) {
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    let number = |at: usize| u32::from_be_bytes(png[at..at + 4].try_into().expect("four bytes"));
    (number(16), number(20))
}

#[test]
fn a_picture_is_the_drawing_in_dots_and_the_same_each_time() {
    let shop = Shop::new();
    let run = "quote car.toml plan.toml --draws 50 --svg quote.svg --png quote.png";
    let ran = shop.well(run);
    assert!(
        ran.err.contains("charts written to quote.png"),
        "{}",
        ran.err
    );
    let svg = std::fs::read_to_string(shop.path("quote.svg")).expect("a chart");
    let png = std::fs::read(shop.path("quote.png")).expect("a picture");
    let side = |name: &str| 2.0 * number(&svg, "class=\"chart\"", name);
    let (wide, high) = sides(&png);
    // A height is written to a whole unit, which is two dots.
    assert!((f64::from(wide) - side("width")).abs() <= 2.0, "{wide}");
    assert!((f64::from(high) - side("height")).abs() <= 2.0, "{high}");
    // A page of curves and words, not an empty one: a white picture of this size packs to a few kilobytes.
    assert!(png.len() > 40_000, "{}", png.len());
    shop.well("quote car.toml plan.toml --draws 50 --png again.png");
    assert_eq!(
        std::fs::read(shop.path("again.png")).expect("a picture"),
        png
    );
    assert_eq!(shop.run(run).code, 1);
    let onto_input = shop.run("quote car.toml plan.toml --png plan.toml --force");
    assert_eq!(onto_input.code, 1, "{}", onto_input.err);
}

/// The demo's odd pull, whose cause is beyond doubt.
fn odd_pull(more: &str) -> crate::shop::Ran {
    let call = format!("diagnose car.toml odd.toml --good baseline.toml --same-visit {more}");
    let folder = crate::sources::root().join("scenarios/upland_estate");
    let ran = crate::shop::answer_in(&folder, &call, &[("COLUMNS", "80")]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    ran
}

#[test]
fn a_chart_tells_a_chance_as_the_text_does() {
    let shop = Shop::new();
    let drawn = shop.path("odd.svg");
    let text = odd_pull(&format!("--svg {}", drawn.display())).out;
    assert!(text.contains("low (chance over 99 %)"), "{text}");
    let svg = std::fs::read_to_string(drawn).expect("a chart");
    assert!(
        svg.contains(">over 99 %<") && !svg.contains(">100 %<"),
        "{svg}"
    );
}

#[test]
fn a_cause_without_a_chance_is_no_rival() {
    let text = odd_pull("--details").out;
    assert!(
        !text.contains("To tell (1)") && !text.contains("Less likely"),
        "{text}"
    );
    assert!(!text.contains("under 1 %"), "{text}");
}

#[test]
fn a_rival_that_has_a_chance_is_told_apart() {
    let shop = Shop::new();
    shop.measure();
    let visit = std::fs::read_to_string(shop.path("visit.toml")).expect("a visit");
    let (head, _) = visit.split_once("[[pull]]").expect("pulls");
    let pull = |file: &str| format!("{head}[[pull]]\nfile = \"{file}\"\n");
    shop.write("good.toml", &pull("pull1.csv"));
    shop.write("odd.toml", &pull("odd.csv"));
    // Six per cent less everywhere, which many causes make.
    let less = |line: &str| match line
        .rsplit_once(',')
        .map(|(rest, w)| (rest, w.parse::<f64>()))
    {
        Some((rest, Ok(kw))) => format!("{rest},{:.4}\n", 0.94 * kw),
        _ => format!("{line}\n"),
    };
    let good = std::fs::read_to_string(shop.path("pull1.csv")).expect("a pull");
    shop.write("odd.csv", &good.lines().map(less).collect::<String>());
    let call = "diagnose car.toml odd.toml --good good.toml";
    let report = shop
        .well(&format!("{call} --json"))
        .json("pullcast/diagnose/2");
    let second = report["suspects"][1]["probability"].as_f64();
    assert!(second >= Some(0.01), "{report:#}");
    let text = shop.well(call).out;
    assert!(
        text.contains("To tell (1)") || text.contains("No measurement known here tells"),
        "{text}"
    );
}

#[test]
fn the_low_end_of_a_range_and_the_promise_are_not_called_alike() {
    let shop = Shop::new();
    let text = shop.well("quote car.toml plan.toml --draws 50").out;
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("9 pulls in 10 should reach it"), "{text}");
    assert!(
        flat.contains("1 pull in 20 reads below each range, 1 in 20 above"),
        "{text}"
    );
    assert_eq!(flat.matches("in 10").count(), 1, "{text}");
    shop.well("quote car.toml plan.toml --draws 50 --sheet sheet.html");
    let sheet = std::fs::read_to_string(shop.path("sheet.html")).expect("a sheet");
    let (customer, _) = sheet
        .split_once("class=\"side engineer\"")
        .expect("two sides");
    assert!(
        customer.contains("1 pull in 20 reads below this range"),
        "{customer}"
    );
    assert!(
        customer.contains(": 1 pull in 10 reads less."),
        "{customer}"
    );
    assert!(!customer.contains("in ten"), "{customer}");
}
