//! A shop's own files: what a fit leaves of a car file, what is told before the work, and the schemas beside starter files.

use crate::shop::{CAR, Shop, VISIT};

fn read(shop: &Shop, name: &str) -> String {
    std::fs::read_to_string(shop.path(name)).expect("a file")
}

#[test]
fn a_fit_edits_the_shops_file_and_a_refit_only_what_the_fit_wrote() {
    let shop = Shop::new();
    let own = CAR
        .replace("name = ", "# The owner's words: noisy above 5000.\nname = ")
        .replace("bore = \"86 mm\"", "bore = \"86 mm\" # over-bored");
    shop.write("car.toml", &own);
    shop.measure();
    // A visit may be called anything.
    shop.write(
        "visit.toml",
        &VISIT.replace("\"baseline\"", "\"base\\rline\\u0007\""),
    );
    shop.well("fit car.toml visit.toml --out fitted.toml");
    let fitted = read(&shop, "fitted.toml");
    assert!(
        fitted.contains("#   Calibrated on 2 pulls of: base[U+000D]line[U+0007]."),
        "{fitted}"
    );
    let mut lines = fitted.lines();
    for line in own
        .lines()
        .filter(|line| !line.starts_with("research_octane"))
    {
        assert!(lines.any(|found| found == line), "{line} in\n{fitted}");
    }
    shop.well("predict fitted.toml");
    shop.well("fit fitted.toml visit.toml --out fitted.toml --force");
    let again = read(&shop, "fitted.toml");
    assert_eq!(again.matches("Calibrated on").count(), 1, "{again}");
    assert_eq!(again.lines().count(), fitted.lines().count());
    shop.well("predict fitted.toml");
}

#[test]
fn a_place_that_takes_no_file_is_told_before_the_work() {
    let shop = Shop::new();
    shop.measure();
    let before = shop.names();
    for verb in [
        "fit car.toml visit.toml --out",
        "quote car.toml plan.toml --visit visit.toml --out",
        "predict car.toml --csv",
    ] {
        let ran = shop.run(&format!("{verb} no_such_folder/written"));
        assert_eq!((ran.code, ran.out.as_str()), (1, ""), "{verb}: {}", ran.err);
        assert!(ran.err.contains("file_not_written"), "{}", ran.err);
        assert!(
            !ran.err.contains("fitting") && !ran.err.contains("drawing"),
            "{}",
            ran.err
        );
    }
    let path = shop.path("locked.toml");
    std::fs::write(&path, "mine").expect("a file");
    let mut locked = path.metadata().expect("there").permissions();
    locked.set_readonly(true);
    std::fs::set_permissions(&path, locked).expect("ours");
    let ran = shop.run("fit car.toml visit.toml --out locked.toml --force");
    assert_eq!(ran.code, 1, "{}", ran.err);
    assert!(
        ran.err.contains("file_not_written") && !ran.err.contains("fitting"),
        "{}",
        ran.err
    );
    assert_eq!(read(&shop, "locked.toml"), "mine");
    assert_eq!(shop.names().len(), before.len() + 1);
}

#[test]
fn new_writes_the_schema_beside_its_file_and_names_it() {
    let shop = Shop::new();
    for kind in ["car", "plan", "visit", "weather", "drum-log"] {
        let schema = shop.well(&format!("schema {kind}")).out;
        shop.well(&format!("new {kind} my_{kind}.toml"));
        assert_eq!(read(&shop, &format!("{kind}.schema.json")), schema);
        let text = read(&shop, &format!("my_{kind}.toml"));
        assert!(
            text.starts_with(&format!("#:schema ./{kind}.schema.json\n")),
            "{text}"
        );
        // The text alone names no file that is not there.
        let bare = shop.well(&format!("new {kind}")).out;
        assert_eq!(
            text.split_once('\n').map(|(_, rest)| rest),
            Some(bare.as_str())
        );
        shop.well(&format!("new {kind} another_{kind}.toml"));
    }
    // A schema of another version is replaced, another file is not, and then nothing is written.
    shop.write(
        "car.schema.json",
        "{\"$comment\": \"made by pullcast schema car\"}",
    );
    shop.well("new car third.toml");
    assert_eq!(
        read(&shop, "car.schema.json"),
        shop.well("schema car --json").out
    );
    shop.write("car.schema.json", "mine");
    let ran = shop.run("new car fourth.toml");
    assert_eq!(
        (ran.code, ran.err.contains("file_exists")),
        (1, true),
        "{}",
        ran.err
    );
    assert_eq!(read(&shop, "car.schema.json"), "mine");
    assert!(!shop.names().contains(&"fourth.toml".to_owned()));
}
