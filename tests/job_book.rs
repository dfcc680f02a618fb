//! The job book from outside: what is kept stays, what is made again is the same, and what can go wrong with a file is told and survived.

use crate::shop::Shop;
use std::fs;
use std::process::{Command, Stdio};

const QUOTE: &str =
    "quote car.toml plan.toml --visit visit.toml --weather weather.toml --draws 50 --json";

/// A shop with one quote in its book, and the quote's number.
pub(crate) fn kept() -> (Shop, String) {
    let shop = Shop::new();
    shop.measure();
    let answer = shop
        .well(&format!("{QUOTE} --book"))
        .json("pullcast/quote/4");
    let number = answer["made_by"]["inputs"]
        .as_str()
        .expect("a number")
        .to_owned();
    (shop, number)
}

#[test]
fn a_quote_is_made_again_from_the_book_alone_to_the_last_byte() {
    let (shop, number) = kept();
    // Nothing but the book is left.
    for file in [
        "car.toml",
        "plan.toml",
        "visit.toml",
        "weather.toml",
        "pull1.csv",
        "pull2.csv",
    ] {
        fs::remove_file(shop.path(file)).expect("gone");
    }
    let again = shop
        .well(&format!("book again {} --json", &number[..6]))
        .json("pullcast/again/1");
    assert_eq!(again["same"], true, "{again}");
    assert_eq!(again["differences"].as_array().map(Vec::len), Some(0));
    // The same quote is kept once.
    let list = shop.well("book list --json").json("pullcast/book/1");
    assert_eq!(list["quotes"].as_array().map(Vec::len), Some(1), "{list}");
}

#[test]
fn what_answered_for_a_log_is_kept_with_the_quote() {
    let shop = Shop::new();
    shop.measure();
    // A log whose heads say nothing, the answers beside it and the shop's own word in the folder above.
    fs::create_dir(shop.path("logs")).expect("a folder");
    for name in ["pull1.csv", "pull2.csv"] {
        let log = fs::read_to_string(shop.path(name)).expect("a log");
        let (_, rows) = log.split_once('\n').expect("rows");
        shop.write(
            &format!("logs/{name}"),
            &format!("time (s),kanal,brrm (kW)\n{rows}"),
        );
    }
    shop.write(
        "logs/pull1.logger.toml",
        "kind = \"logger\"\nversion = 1\nheads = [\"time (s)\", \"kanal\", \"brrm (kW)\"]\ncolumns = [\"kanal = engine speed (rpm)\"]\n",
    );
    shop.write(
        "names.toml",
        "kind = \"names\"\nversion = 1\n[words]\npower = \"brrm\"\n",
    );
    let visit = fs::read_to_string(shop.path("visit.toml")).expect("a visit");
    shop.write("visit.toml", &visit.replace("file = \"", "file = \"logs/"));
    let answer = shop
        .well(&format!("{QUOTE} --book"))
        .json("pullcast/quote/4");
    let number = answer["made_by"]["inputs"].as_str().expect("a number");
    for file in ["logs/pull1.logger.toml", "names.toml", "visit.toml"] {
        fs::remove_file(shop.path(file)).expect("gone");
    }
    let again = shop.well(&format!("book again {number} --json"));
    assert_eq!(again.json("pullcast/again/1")["same"], true);
}

#[test]
fn a_difference_is_named_by_its_field() {
    let (shop, number) = kept();
    let db = rusqlite::Connection::open(shop.path("jobs.book")).expect("the book");
    let changed = db
        .execute("UPDATE quote SET report = replace(report, '\"draws\": 50', '\"draws\": 49'), version = '0.0.9'", [])
        .expect("changed");
    assert_eq!(changed, 1);
    drop(db);
    let ran = shop.run(&format!("book again {number} --json"));
    assert_eq!(ran.code, 1, "{}", ran.err);
    let again = ran.json("pullcast/again/1");
    assert_eq!(
        (&again["same"], &again["version_then"]),
        (&false.into(), &"0.0.9".into())
    );
    let first = &again["differences"][0];
    assert_eq!(
        (&first[0], &first[1], &first[2]),
        (&"basis.draws".into(), &"49".into(), &"50".into()),
        "{again}"
    );
}

#[test]
fn a_closed_job_is_held_against_its_quote_and_counts_in_the_record() {
    let (shop, number) = kept();
    assert!(shop.well("book record").out.contains("No job is closed"));
    // The pulls before the work stand for pulls after it that gained nothing: far below what was promised.
    let closed = shop
        .well(&format!("book close {number} visit.toml --json"))
        .json("pullcast/closed/1");
    assert!(
        closed["read_w"].as_f64() < closed["promised_w"].as_f64(),
        "{closed}"
    );
    assert_eq!(closed["pit"], 0.0, "{closed}");
    // Speed by speed too: those that the pulls reached, each below the middle of what was promised for it.
    let curve = closed["curve"].as_array().expect("a curve");
    assert!(curve.len() > 10, "{closed}");
    for at in curve {
        let of = |key: &str| at[key].as_f64().expect("a number");
        assert!(
            of("low_w") < of("middle_w") && of("middle_w") < of("high_w"),
            "{at}"
        );
        assert!(of("read_w") < of("middle_w"), "{at}");
    }
    let peak = curve
        .iter()
        .filter_map(|at| at["read_w"].as_f64())
        .fold(0.0, f64::max);
    let read = closed["read_w"].as_f64().expect("a reading");
    assert!(
        (peak / read - 1.0).abs() < 0.03,
        "{peak} of a curve that peaks at {read}"
    );
    let record = shop.well("book record --json").json("pullcast/record/1");
    assert_eq!(
        (&record["all"]["jobs"], &record["all"]["held"]),
        (&1.into(), &0.into()),
        "{record}"
    );
    assert_eq!(record["fifths"][0], 1);
    let twice = shop.run(&format!("book close {number} visit.toml"));
    assert_eq!(twice.code, 1);
    assert!(twice.err.contains("is closed"), "{}", twice.err);
    shop.well(&format!("book note {number} remark"));
    let list = shop.well("book list --json").json("pullcast/book/1");
    assert_eq!(list["quotes"][0]["notes"][0], "remark");
}

/// Quotes of a car nobody measured, each with its own number, closed by pulls that gained nothing.
pub(crate) fn closed_jobs(shop: &Shop, jobs: std::ops::Range<u32>) {
    for job in jobs {
        let quote = shop
            .well(&format!(
                "quote car.toml plan.toml --weather weather.toml --draws {} --no-learning --json --book",
                50 + job
            ))
            .json("pullcast/quote/4");
        let number = quote["made_by"]["inputs"].as_str().expect("a number");
        shop.well(&format!("book close {number} visit.toml"));
    }
}

#[test]
fn later_quotes_learn_from_five_closed_jobs_and_say_so() {
    const ASK: &str = "quote car.toml plan.toml --weather weather.toml --draws 60";
    let shop = Shop::new();
    shop.measure();
    let general = shop.well(&format!("{ASK} --json")).out;
    closed_jobs(&shop, 0..4);
    assert_eq!(shop.well(&format!("{ASK} --json")).out, general);
    closed_jobs(&shop, 4..5);
    assert_eq!(
        shop.well(&format!("{ASK} --no-learning --json")).out,
        general
    );
    let learned = shop
        .well(&format!("{ASK} --json --book --sheet sheet.html"))
        .json("pullcast/quote/4");
    let general: serde_json::Value = serde_json::from_str(&general).expect("JSON");
    let number = |of: &serde_json::Value| of["made_by"]["inputs"].as_str().map(str::to_owned);
    assert_ne!(number(&learned), number(&general));
    // Every job read far below its quote: the middle falls, and what it would have been is told beside it.
    let middle = |of: &serde_json::Value| of["promise"]["power_w"]["p50"].as_f64().expect("watts");
    let own = &learned["own_jobs"];
    assert_eq!(own["jobs"], 5);
    assert!(middle(&learned) < 0.99 * middle(&general), "{own}");
    let without = own["without_w"]["p50"].as_f64().expect("watts");
    assert!((without / middle(&general) - 1.0).abs() < 0.01, "{own}");
    let text = shop.well(ASK).out;
    for words in [
        "Learned from 5 closed jobs of this shop: they lower the middle by",
        "What closed jobs of this shop say of the calculation",
        "air swallowed: effect off by -",
    ] {
        assert!(text.contains(words), "{words} is not in {text}");
    }
    let sheet = fs::read_to_string(shop.path("sheet.html")).expect("a sheet");
    assert!(sheet.contains("5 closed jobs of this shop"), "{sheet}");
    let taken = shop.well(&format!("{ASK} --reach 60kW --by pulley")).out;
    assert!(taken.contains("learned from 5 closed jobs"), "{taken}");
    // One more closed job teaches the next quote and leaves this one as it was.
    closed_jobs(&shop, 5..6);
    let again = shop
        .well(&format!(
            "book again {} --json",
            number(&learned).expect("a number")
        ))
        .json("pullcast/again/1");
    assert_eq!(again["same"], true, "{again}");
    let later = shop.well(&format!("{ASK} --json")).json("pullcast/quote/4");
    assert_eq!(later["own_jobs"]["jobs"], 6);
}

#[test]
fn jobs_closed_under_the_first_form_of_the_book_are_taken_in_later() {
    let shop = Shop::new();
    shop.measure();
    closed_jobs(&shop, 0..2);
    let db = rusqlite::Connection::open(shop.path("jobs.book")).expect("the book");
    db.execute_batch("DROP TABLE lesson; PRAGMA user_version = 1")
        .expect("the first form");
    drop(db);
    // Read as it is, it teaches nothing and is left alone.
    shop.well("quote car.toml plan.toml --weather weather.toml --draws 50 --json");
    closed_jobs(&shop, 2..3);
    let db = rusqlite::Connection::open(shop.path("jobs.book")).expect("the book");
    let told: (i64, i64) = db
        .query_row(
            "SELECT count(*), count(DISTINCT missed) FROM lesson WHERE missed < -0.1 AND own > parts AND parts > 0",
            [],
            |row| Ok((row.get(0)?, row.get(1)?)),
        )
        .expect("a count");
    assert_eq!(told.0, 3);
}

#[test]
fn a_copy_and_an_export_hold_what_the_book_holds() {
    let (shop, number) = kept();
    shop.well("book backup copy.book");
    assert_eq!(
        shop.run("book backup copy.book").code,
        1,
        "a backup replaces nothing"
    );
    shop.well(&format!("book again {number} --book copy.book"));
    shop.well("book check --book copy.book");
    shop.well("book export out");
    let table = fs::read_to_string(shop.path("out/quotes.csv")).expect("a table");
    assert!(
        table
            .lines()
            .nth(1)
            .is_some_and(|line| line.starts_with(&number)),
        "{table}"
    );
    assert!(shop.path("out").join(&number).join("quote.json").is_file());
}

#[test]
fn what_is_wrong_with_the_file_is_told_and_nothing_is_done_to_it() {
    let (shop, number) = kept();
    let good = fs::read(shop.path("jobs.book")).expect("the book");
    let told = |name: &str, bytes: &[u8], words: &str| {
        fs::write(shop.path(name), bytes).expect("written");
        for call in ["book list", "book check", "book note 1 x"] {
            let ran = shop.run(&format!("{call} --book {name}"));
            assert_eq!((ran.code, ran.out.as_str()), (1, ""), "{call}: {}", ran.err);
            assert!(ran.err.contains(words), "{call}: {}", ran.err);
        }
        assert_eq!(
            fs::read(shop.path(name)).expect("still there"),
            bytes,
            "{name}"
        );
    };
    told(
        "text.book",
        b"kind = \"car\"\nversion = 1\n".repeat(60).as_slice(),
        "no job book",
    );
    // Another program's database.
    let db = rusqlite::Connection::open(shop.path("other.book")).expect("a database");
    db.execute_batch("CREATE TABLE t (x)").expect("a table");
    drop(db);
    let other = fs::read(shop.path("other.book")).expect("bytes");
    told("other.book", &other, "no job book");
    // A book of a later form: its number stands at byte 60 of the file.
    let mut later = good.clone();
    later[60..64].copy_from_slice(&99_i32.to_be_bytes());
    told("later.book", &later, "newer pullcast");
    // A page torn in the middle: the pages of tables begin behind the first.
    let mut torn = good.clone();
    let page = usize::from(u16::from_be_bytes([good[16], good[17]]));
    for page in torn.chunks_mut(page).skip(1) {
        page[..64].fill(0xff);
    }
    fs::write(shop.path("torn.book"), &torn).expect("written");
    for call in ["book list", "book check", "book record"] {
        let ran = shop.run(&format!("{call} --book torn.book"));
        assert_eq!(ran.code, 1, "{call}");
        assert!(ran.err.contains("damaged"), "{call}: {}", ran.err);
    }
    assert_eq!(shop.run("book list --book none.book").code, 1);
    assert_eq!(shop.run(&format!("book again x{number}")).code, 1);
}

#[test]
fn a_byte_that_turned_over_in_a_stored_log_is_found() {
    let (shop, _) = kept();
    shop.well("book check");
    let db = rusqlite::Connection::open(shop.path("jobs.book")).expect("the book");
    db.execute(
        "UPDATE bytes SET content = CAST(content || x'20' AS BLOB) WHERE rowid = 1",
        [],
    )
    .expect("changed");
    drop(db);
    let ran = shop.run("book check");
    assert_eq!(ran.code, 1);
    assert!(ran.err.contains("not what was kept"), "{}", ran.err);
}

#[test]
fn two_programs_at_once_lose_nothing() {
    let (shop, _) = kept();
    let program = assert_cmd::cargo::cargo_bin("pullcast");
    let visit = fs::read_to_string(shop.path("visit.toml")).expect("a visit");
    let children: Vec<_> = (0..8)
        .map(|n| {
            let name = format!("visit{n}.toml");
            fs::write(shop.path(&name), format!("# {n}\n{visit}")).expect("written");
            Command::new(&program)
                .args(["book", "add", &name, "--car", "coupe"])
                .current_dir(shop.path(""))
                .stderr(Stdio::null())
                .spawn()
                .expect("started")
        })
        .collect();
    for mut child in children {
        assert!(child.wait().expect("ended").success());
    }
    let db = rusqlite::Connection::open(shop.path("jobs.book")).expect("the book");
    let visits: i64 = db
        .query_row(
            "SELECT count(*) FROM paper WHERE kind = 'visit'",
            [],
            |row| row.get(0),
        )
        .expect("a count");
    assert_eq!(visits, 9, "eight, and that of the quote");
}

#[cfg(unix)]
#[test]
fn a_book_that_may_only_be_read_is_read_and_not_written() {
    use std::os::unix::fs::PermissionsExt;
    let (shop, number) = kept();
    let folder = shop.path("locked");
    fs::create_dir(&folder).expect("a folder");
    fs::copy(shop.path("jobs.book"), folder.join("jobs.book")).expect("a copy");
    let may = |mode: u32, path: &std::path::Path| {
        fs::set_permissions(path, fs::Permissions::from_mode(mode)).expect("set");
    };
    may(0o444, &folder.join("jobs.book"));
    may(0o555, &folder);
    // Permissions do not hold for root, who runs the checks on a bare machine: then there is nothing to see here.
    let holds = fs::write(folder.join("probe"), "x").is_err();
    if holds {
        shop.well("book list --book locked/jobs.book");
        let ran = shop.run(&format!("book note {number} x --book locked/jobs.book"));
        assert_eq!(ran.code, 1);
        assert!(ran.err.contains("only be read"), "{}", ran.err);
    }
    may(0o755, &folder);
}
