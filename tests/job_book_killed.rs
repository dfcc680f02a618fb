//! The job book under kills at random moments: what was told as done is there whole, and nothing is there by half.

use crate::job_book::kept;
use crate::shop::Shop;
use pullcast::ask::draws::stream;
use rand::RngExt;
use std::fs;
use std::process::{Command, Stdio};

/// Kills where nothing else is asked; a thousand take `PULLCAST_KILLS=1000 cargo nextest run --test tests killed_at_any_moment`.
const KILLS: u32 = 40;

#[test]
fn a_program_killed_at_any_moment_leaves_the_book_whole() {
    let kills = kills(KILLS);
    let (shop, _) = kept();
    let program = assert_cmd::cargo::cargo_bin("pullcast");
    let add = || {
        Command::new(&program)
            .args(["book", "add", "visit.toml", "--car", "coupe"])
            .current_dir(shop.path(""))
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .expect("started")
    };
    let visit = fs::read_to_string(shop.path("visit.toml")).expect("a visit");
    // How long one takes on this machine as loaded as it is.
    let begun = std::time::Instant::now();
    assert!(add().wait_with_output().expect("ended").status.success());
    let whole = begun.elapsed();
    let mut rng = stream(1, 0);
    let mut told = Vec::new();
    for n in 0..kills {
        // Another visit each time, killed at a random moment: before, in and after the writing.
        fs::write(shop.path("visit.toml"), format!("# {n}\n{visit}")).expect("written");
        let mut child = add();
        std::thread::sleep(whole.mul_f64(rng.random_range(0.0..1.5)));
        child.kill().expect("killed");
        let output = child.wait_with_output().expect("ended");
        if String::from_utf8_lossy(&output.stderr).contains("kept:") {
            told.push(n);
        }
        assert_eq!(shop.run("book check").code, 0, "after kill {n}");
    }
    let db = rusqlite::Connection::open(shop.path("jobs.book")).expect("the book");
    let count = |sql: &str| {
        db.query_row(sql, [], |row| row.get::<_, u32>(0))
            .expect("a count")
    };
    // What was told as kept is there to the last byte, and no visit is there by half: each has its description and both recordings.
    for n in &told {
        let content = format!("# {n}\n{visit}");
        let there: bool = db
            .query_row(
                "SELECT EXISTS (SELECT 1 FROM bytes WHERE content = ?1)",
                [content.as_bytes()],
                |row| row.get(0),
            )
            .expect("an answer");
        assert!(there, "visit {n} was told as kept and is lost");
    }
    let visits = count("SELECT count(*) FROM paper WHERE kind = 'visit'");
    let whole = count(
        "SELECT count(*) FROM paper p WHERE kind = 'visit' AND (SELECT count(*) FROM paper_file f WHERE f.paper_id = p.id) = 3",
    );
    assert_eq!(whole, visits);
    let told = u32::try_from(told.len()).expect("a count");
    eprintln!(
        "{kills} kills: {told} told as kept, {} kept in all",
        visits - 1
    );
    assert!(
        0 < told && told < kills,
        "{told} of {kills}: no kill fell into the work, or every one did"
    );
}

/// Kills of the acts that take longer, where nothing else is asked.
const FEW_KILLS: u32 = 6;

/// From so many on both outcomes must occur.
const MANY_KILLS: u32 = 100;

fn kills(usual: u32) -> u32 {
    std::env::var("PULLCAST_KILLS").map_or(usual, |text| text.parse().expect("a count"))
}

/// Starts each call and kills it at a random moment of what one such call takes; which of them had told that they were done, by a word on standard error or
/// output. The book is sound after each.
fn killed(shop: &Shop, kills: u32, told: &str, call: impl Fn(u32) -> String) -> Vec<u32> {
    let program = assert_cmd::cargo::cargo_bin("pullcast");
    let start = |n: u32| {
        Command::new(&program)
            .args(call(n).split_whitespace())
            .current_dir(shop.path(""))
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("started")
    };
    let begun = std::time::Instant::now();
    let first = start(kills).wait_with_output().expect("ended");
    assert!(
        first.status.success(),
        "{}",
        String::from_utf8_lossy(&first.stderr)
    );
    let whole = begun.elapsed();
    let mut rng = stream(2, 0);
    let mut done = Vec::new();
    for n in 0..kills {
        let mut child = start(n);
        // The writing comes last, and beside other work a call takes longer than the first one did: from half of its time to three times it.
        std::thread::sleep(whole.mul_f64(rng.random_range(0.5..3.0)));
        child.kill().expect("killed");
        let output = child.wait_with_output().expect("ended");
        let said = [output.stderr, output.stdout].concat();
        if String::from_utf8_lossy(&said).contains(told) {
            done.push(n);
        }
        assert_eq!(shop.run("book check").code, 0, "after kill {n}");
    }
    // Of many, some have to come before the end and some behind it, or nothing was looked at.
    let ended = u32::try_from(done.len()).expect("a count");
    assert!(
        kills < MANY_KILLS || (1..kills).contains(&ended),
        "{ended} of {kills}"
    );
    done
}

/// A plan for each call: a quote's number follows from its inputs, so the same ones would be kept once.
fn plans(shop: &Shop, count: u32) {
    let plan = fs::read_to_string(shop.path("plan.toml")).expect("the plan");
    let name = plan
        .lines()
        .find(|line| line.starts_with("name = "))
        .expect("a name")
        .to_owned();
    for n in 0..=count {
        let text = plan.replacen(&name, &format!("name = \"plan {n}\""), 1);
        fs::write(shop.path(&format!("plan_{n}.toml")), text).expect("written");
    }
}

#[test]
fn a_quote_killed_while_it_is_kept_is_kept_whole_or_not_at_all() {
    let (shop, _) = kept();
    let kills = kills(FEW_KILLS);
    plans(&shop, kills);
    let done = killed(&shop, kills, "kept in", |n| {
        format!(
            "quote car.toml plan_{n}.toml --draws 50 --seed {} --book",
            n + 10
        )
    });
    let db = rusqlite::Connection::open(shop.path("jobs.book")).expect("the book");
    let count = |sql: &str| {
        db.query_row(sql, [], |row| row.get::<_, u32>(0))
            .expect("a count")
    };
    for n in &done {
        let there = count(&format!(
            "SELECT count(*) FROM quote WHERE seed = {}",
            n + 10
        ));
        assert_eq!(there, 1, "quote {n} was told as kept and is lost");
    }
    let quotes = count("SELECT count(*) FROM quote WHERE seed >= 10");
    // Car and plan, each with its bytes, and both kinds of work.
    let whole = count(
        "SELECT count(*) FROM quote q WHERE seed >= 10 AND (SELECT count(*) FROM quote_paper p JOIN paper_file f ON f.paper_id = p.paper_id \
         JOIN bytes b ON b.sha256 = f.sha256 WHERE p.quote_id = q.id) = 2 AND (SELECT count(*) FROM quote_kind k WHERE k.quote_id = q.id) = 2",
    );
    eprintln!(
        "{kills} kills: {} told as kept, {} kept in all",
        done.len(),
        quotes - 1
    );
    assert_eq!(whole, quotes);
    assert!(quotes > u32::try_from(done.len()).expect("a count"));
}

#[test]
fn a_job_killed_while_it_is_closed_is_closed_whole_or_open() {
    let (shop, _) = kept();
    let kills = kills(FEW_KILLS);
    plans(&shop, kills);
    let numbers: Vec<String> = (0..=kills)
        .map(|n| {
            let call = format!(
                "quote car.toml plan_{n}.toml --draws 50 --seed {} --no-learning --json --book",
                n + 10
            );
            let quote = shop.well(&call).json("pullcast/quote/4");
            quote["made_by"]["inputs"]
                .as_str()
                .expect("a number")
                .to_owned()
        })
        .collect();
    let done = killed(&shop, kills, "pullcast/closed/", |n| {
        format!("book close {} visit.toml --json", numbers[n as usize])
    });
    let db = rusqlite::Connection::open(shop.path("jobs.book")).expect("the book");
    for n in &done {
        let there: bool = db
            .query_row(
                "SELECT EXISTS (SELECT 1 FROM outcome o JOIN quote q ON q.id = o.quote_id WHERE q.number = ?1)",
                [&numbers[*n as usize]],
                |row| row.get(0),
            )
            .expect("an answer");
        assert!(there, "job {n} was told as closed and is open");
    }
    // Outcome, what it teaches, and the visit with both recordings: all of it or nothing.
    let counts = |sql: &str| {
        db.query_row(sql, [], |row| row.get::<_, u32>(0))
            .expect("a count")
    };
    let closed = counts("SELECT count(*) FROM outcome");
    let whole = counts(
        "SELECT count(DISTINCT o.quote_id) FROM outcome o JOIN lesson l ON l.quote_id = o.quote_id \
         WHERE (SELECT count(*) FROM paper_file f WHERE f.paper_id = o.paper_id) = 3",
    );
    eprintln!(
        "{kills} kills: {} told as closed, {} closed in all",
        done.len(),
        closed - 1
    );
    assert_eq!(whole, closed);
}

#[test]
fn a_book_killed_while_it_is_brought_up_to_date_is_of_one_form_or_the_other() {
    let (shop, number) = kept();
    let first = shop.path("first.book");
    fs::copy(shop.path("jobs.book"), &first).expect("a copy");
    let db = rusqlite::Connection::open(&first).expect("the book");
    db.execute_batch("DROP TABLE lesson; PRAGMA user_version = 1; PRAGMA wal_checkpoint(TRUNCATE); PRAGMA journal_mode = DELETE")
        .expect("the first form");
    drop(db);
    let program = assert_cmd::cargo::cargo_bin("pullcast");
    let old = |n: u32| {
        let name = format!("old{n}.book");
        fs::copy(&first, shop.path(&name)).expect("a copy");
        name
    };
    let note = |name: &str| {
        Command::new(&program)
            .args(["book", "note", &number, "remark", "--book", name])
            .current_dir(shop.path(""))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("started")
    };
    let kills = kills(KILLS);
    let begun = std::time::Instant::now();
    assert!(note(&old(kills)).wait().expect("ended").success());
    let whole = begun.elapsed();
    let mut rng = stream(3, 0);
    let mut forms = [0_u32; 2];
    for n in 0..=kills {
        let name = if n == kills {
            format!("old{n}.book")
        } else {
            old(n)
        };
        if n < kills {
            let mut child = note(&name);
            std::thread::sleep(whole.mul_f64(rng.random_range(0.0..1.2)));
            child.kill().expect("killed");
            child.wait().expect("ended");
        }
        let db = rusqlite::Connection::open(shop.path(&name)).expect("the book");
        let (form, lesson): (u32, bool) = db
            .query_row(
                "SELECT user_version, EXISTS (SELECT 1 FROM sqlite_master WHERE name = 'lesson') FROM pragma_user_version",
                [],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
            .expect("an answer");
        assert!([1, 3].contains(&form), "{form}");
        assert_eq!(lesson, form == 3, "after kill {n}");
        forms[usize::from(form == 3)] += 1;
        drop(db);
        // Whichever it is, it is written to next.
        shop.well(&format!("book note {number} again --book {name}"));
        assert_eq!(shop.run(&format!("book check --book {name}")).code, 0);
        fs::remove_file(shop.path(&name)).expect("gone");
    }
    eprintln!(
        "{kills} kills: {} left in the first form, {} in the newest",
        forms[0], forms[1]
    );
    assert!(forms[1] > 0, "none was brought up to date");
}
