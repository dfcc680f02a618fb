//! One answer as text, JSON and a page: what each must have of the others, and what none of them may let through.

use crate::shop::{CAR, Shop};

#[test]
fn one_answer_is_printed_as_text_json_or_a_page() {
    let shop = Shop::new();
    let run = "correct weather.toml --power 300kW";
    let text = shop.well(run).out;
    assert_eq!(shop.well(&format!("{run} --format text")).out, text);
    let json = shop.well(&format!("{run} --json")).out;
    assert_eq!(shop.well(&format!("{run} --format json")).out, json);
    assert!(
        json.starts_with("{\n  \"schema\": \"pullcast/correct/2\""),
        "{json}"
    );
    let page = shop.well(&format!("{run} --format html")).out;
    assert!(page.starts_with("<!doctype html>\n"), "{page}");
    assert!(page.ends_with("</html>\n"), "{page}");
    // What the text says the page says: every figure of the table of factors, with its standard.
    let factors: Vec<&str> = text
        .split_whitespace()
        .filter(|word| word.len() == 6 && word.contains('.') && word.parse::<f64>().is_ok())
        .collect();
    assert!(factors.len() >= 5, "{text}");
    for factor in factors {
        assert!(page.contains(&format!(">{factor}<")), "{factor} in {page}");
    }
    assert_eq!(shop.run(&format!("{run} --json --format html")).code, 2);
    // Every verb has a page, and a problem beside it stays text.
    let page = shop.well("predict car.toml --format html");
    assert!(page.out.contains("</main>"), "{}", page.out);
    let missing = shop.run("correct nowhere.toml --format html");
    assert_eq!((missing.code, missing.out.as_str()), (66, ""));
    assert!(!missing.err.starts_with('{'), "{}", missing.err);
}

#[test]
fn ids_in_json_come_with_their_words() {
    let shop = Shop::new();
    let answer = shop
        .well("correct weather.toml --charging turbo --json")
        .json("pullcast/correct/2");
    let words = &answer["words"];
    for line in answer["standards"].as_array().expect("a list") {
        let mut ids = vec![
            ("standard", &line["standard"]),
            ("provenance", &line["provenance"]),
        ];
        let breaches = line["breaches"].as_array().expect("a list");
        ids.extend(breaches.iter().map(|b| ("breach", &b["breach"])));
        if line["missing"].is_string() {
            ids.push(("missing", &line["missing"]));
        }
        for (field, id) in ids {
            let id = id.as_str().expect("an id");
            assert!(words[field][id].is_string(), "{field} {id}: {words}");
        }
    }
    for note in answer["boost"].as_array().expect("a list") {
        let id = note["note"].as_str().expect("an id");
        assert!(words["note"][id].is_string(), "{id}: {words}");
    }
    let verdict = answer["pressure_check"]["verdict"].as_str().expect("an id");
    assert!(words["verdict"][verdict].is_string(), "{words}");
}

#[test]
fn a_name_that_would_act_on_the_screen_is_seen_instead() {
    let shop = Shop::new();
    shop.write(
        "named.toml",
        &CAR.replace("\"coupe\"", "\"cou\\u202epe\\u001b[31m<b>\""),
    );
    let text = shop.well("predict named.toml").out;
    assert!(text.contains("cou[U+202E]pe[U+001B][31m<b>"), "{text}");
    let page = shop.well("predict named.toml --format html").out;
    assert!(
        page.contains("cou[U+202E]pe[U+001B][31m&lt;b&gt;"),
        "{page}"
    );
    let json = shop.well("predict named.toml --json").out;
    for out in [&text, &page, &json] {
        assert!(!out.contains(['\u{202e}', '\u{1b}']), "{out}");
    }
    assert!(json.contains("cou\\u202epe\\u001b[31m<b>"), "{json}");
}
