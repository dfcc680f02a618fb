//! A spread in parts: shards worked out apart, and a run stopped and taken up again, tell what one run tells, to the last byte.

use crate::sources::root;
use assert_cmd::Command;
use pullcast::ask::Progress;
use pullcast::ask::spread::{HoursPerDraw, Part, PartError, Question, Ready, Shard, SpreadError};
use pullcast::files::{self, station};
use std::path::Path;

const HOURS: &str = "upland_estate/station_year.csv";

/// The coupe through the demo's year: 200 cars, which are ten blocks, in four hours each.
fn asked<T>(seed: u64, then: impl FnOnce(&Question<'_>) -> T) -> T {
    let scenarios = root().join("scenarios");
    let car = files::car::open(&scenarios.join("manual_coupe/car.toml"));
    let sheet = car.expect("the demo's car").0.sheet;
    let station = station::open(&scenarios.join(HOURS), &station::Options::default());
    let hours = station.expect("the demo's station").0.hours;
    then(&Question {
        draws: 200,
        hours_per_draw: HoursPerDraw::Count(4),
        seed,
        ..Question::new(&sheet, None, &hours)
    })
}

fn worked(ready: &Ready<'_>, shard: Shard) -> Part {
    let mut part = ready.part(shard);
    ready.work(&mut part, &mut |_, _| {}, &mut |_| true, Progress::SILENT);
    part
}

/// As it is kept and read again.
fn through_text(part: &Part) -> Part {
    serde_json::from_str(&serde_json::to_string(part).expect("JSON")).expect("a part")
}

fn text(answer: &impl serde::Serialize) -> String {
    serde_json::to_string(answer).expect("JSON")
}

#[test]
fn parts_tell_what_one_run_tells() {
    asked(7, |question| {
        let whole = question
            .answer(&mut |_, _| {}, Progress::SILENT)
            .expect("a spread");
        question
            .ready(|ready| {
                // Three shards of ten blocks are not alike; sixteen leave some without any.
                for of in [3, 16] {
                    let shards = (1..=of).map(|number| worked(ready, Shard { number, of }));
                    let parts: Vec<Part> = shards.map(|part| through_text(&part)).collect();
                    assert!(parts.iter().all(|part| ready.accepts(part).is_ok()));
                    assert_eq!(text(&ready.answer(parts)?), text(&whole), "{of} shards");
                }
                // Stopped after the first wave of eight blocks.
                let mut part = ready.part(Shard::WHOLE);
                ready.work(&mut part, &mut |_, _| {}, &mut |_| false, Progress::SILENT);
                assert!(!ready.is_done(&part));
                let so_far = ready.answer(vec![through_text(&part)])?;
                assert_eq!((so_far.basis.draws, whole.basis.draws), (160, 200));
                let mut part = through_text(&part);
                ready.work(&mut part, &mut |_, _| {}, &mut |_| true, Progress::SILENT);
                assert_eq!(text(&ready.answer(vec![part])?), text(&whole));
                Ok::<(), SpreadError>(())
            })
            .expect("answers");
    });
}

#[test]
fn a_part_of_another_question_or_with_counts_that_cannot_be_is_refused() {
    let part = asked(7, |question| {
        let part = question
            .ready(|ready| Ok::<_, SpreadError>(text(&worked(ready, Shard { number: 1, of: 5 }))));
        part.expect("a part")
    });
    let read = |text: &str| serde_json::from_str::<Part>(text).expect("a part");
    asked(8, |question| {
        let refused = question.ready(|ready| Ok::<_, SpreadError>(ready.accepts(&read(&part))));
        let refused = refused.expect("made ready").expect_err("another seed");
        assert!(
            matches!(refused, PartError::OtherQuestion { .. }),
            "{refused}"
        );
    });
    asked(7, |question| {
        question
            .ready(|ready| {
                assert_eq!(ready.accepts(&read(&part)), Ok(()));
                for (was, is) in [
                    ("\"blocks\":2", "\"blocks\":1"),
                    ("\"blocks\":2", "\"blocks\":3"),
                    ("\"number\":1", "\"number\":0"),
                    ("\"number\":1", "\"number\":6"),
                    ("\"total\":160", "\"total\":161"),
                    ("\"width\":0.0001", "\"width\":0.0002"),
                ] {
                    let changed = part.replacen(was, is, 1);
                    assert_ne!(changed, part, "{was}");
                    assert_eq!(
                        ready.accepts(&read(&changed)),
                        Err(PartError::Damaged),
                        "{is}"
                    );
                }
                Ok::<(), SpreadError>(())
            })
            .expect("made ready");
    });
}

/// Exit code, output and messages of the program's spread of the coupe.
fn spread(more: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("pullcast")
        .expect("the program")
        .current_dir(root().join("scenarios"))
        .args(["spread", "manual_coupe/car.toml", "--station", HOURS])
        .args(["--draws", "200", "--hours-per-draw", "4"])
        .args(more)
        .output()
        .expect("it runs");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).expect("UTF-8");
    (
        output.status.code().expect("a code"),
        text(output.stdout),
        text(output.stderr),
    )
}

#[test]
fn shards_of_the_program_meet_in_a_folder_and_a_damaged_one_is_named() {
    let folder = tempfile::tempdir().expect("a folder");
    let kept = folder.path().join("draws");
    let keep = ["--keep", kept.to_str().expect("a path")];
    let of = |more: &[&str]| spread(&[&keep[..], more].concat());
    let (code, out, err) = of(&["--shard", "2/2"]);
    assert_eq!((code, out.as_str()), (0, ""), "{err}");
    assert!(err.contains("shard 2 of 2 is done, 1 of them"), "{err}");
    let (code, out, err) = of(&["--so-far", "--json"]);
    assert_eq!(code, 0, "{err}");
    let so_far: serde_json::Value = serde_json::from_str(&out).expect("JSON");
    assert_eq!(so_far["basis"]["draws"], 100);
    let (plain, joined) = (spread(&["--json"]), of(&["--json"]));
    assert_eq!((plain.0, joined.0), (0, 0), "{}{}", plain.2, joined.2);
    assert_eq!(plain.1, joined.1);
    let names: Vec<String> = std::fs::read_dir(&kept)
        .expect("the folder")
        .map(|entry| {
            entry
                .expect("a file")
                .file_name()
                .into_string()
                .expect("a name")
        })
        .collect();
    assert_eq!(names.len(), 2, "{names:?}");
    let broken = kept.join(&names[0]);
    cut_short(&broken);
    let (code, out, err) = of(&[]);
    assert_eq!((code, out.as_str()), (65, ""));
    assert!(
        err.contains(&names[0]) && err.contains("delete the file"),
        "{err}"
    );
    std::fs::remove_file(&broken).expect("deleted");
    assert_eq!(of(&["--json"]).1, plain.1);
    for wrong in ["0/2", "3/2", "1", "a/b", "1/0"] {
        let (code, _, err) = of(&["--shard", wrong]);
        assert_eq!(code, 2, "{wrong}: {err}");
    }
}

fn cut_short(path: &Path) {
    let text = std::fs::read_to_string(path).expect("readable");
    std::fs::write(path, &text[..text.len() / 2]).expect("written");
}
