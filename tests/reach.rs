//! The inverse question and the pieces of a plan: what is answered holds when it is asked forward, and what stands in the way is
//! there.

use crate::shop::Shop;
use crate::sources::root;
use pullcast::ask::basis::Air;
use pullcast::ask::limits::Met;
use pullcast::ask::quote::{Dial, Outcome, Question, Reach, Reached};
use pullcast::belief::prior::Prior;
use pullcast::belief::sheet::Sheet;
use pullcast::files;
use pullcast::parts::{Change, CompressionRatio, Mixture, Plan, Pulley};
use serde_json::Value;

/// The estate and its plan of a screw blower.
fn estate() -> (Sheet, Plan<Prior>) {
    let folder = root().join("scenarios/upland_estate");
    let sheet = files::car::open(&folder.join("car.toml"))
        .expect("a car")
        .0
        .sheet;
    let plan = files::plan::open(&folder.join("plan_screw_blower.toml")).expect("a plan");
    (sheet, plan.0.plan)
}

fn dial(id: &str) -> Dial {
    Dial::named(id).expect("a dial")
}

/// A question of 50 draws: enough for percentiles, and few enough for a test.
fn question<'a>(sheet: &'a Sheet, plan: &'a Plan<Prior>) -> Question<'a> {
    let day = files::weather::open(&root().join("scenarios/upland_estate/after_day.toml"));
    let day = day.expect("a day").0.day;
    Question {
        draws: Some(50),
        seed: 3,
        ..Question::new(sheet, plan, &[], Some(Air::stated(day, "after")))
    }
}

fn ask(question: &Question<'_>, dial: Dial, target_w: f64, corrected: bool) -> Reached {
    // The fifth percentile is what a quote tells, so the chance that goes with it can be checked forward.
    with_chance(question, dial, target_w, corrected, 0.95)
}

/// The course of the middle, which no spread bends.
fn ask_middle(question: &Question<'_>, dial: Dial, target_w: f64) -> Reached {
    with_chance(question, dial, target_w, false, 0.5)
}

fn with_chance(
    question: &Question<'_>,
    dial: Dial,
    target_w: f64,
    corrected: bool,
    chance: f64,
) -> Reached {
    Reach {
        question,
        dial,
        target_w,
        chance,
        corrected,
    }
    .answer()
    .expect("an answer")
}

/// The plan with the pulley answered at its end.
fn with_pulley(plan: &Plan<Prior>, ratio_factor: f64) -> Plan<Prior> {
    let mut plan = plan.clone();
    plan.changes.push(Change::from(Pulley {
        ratio_factor: Prior::normal(ratio_factor, 0.005 * ratio_factor, 0.3, 3.0)
            .expect("a belief"),
    }));
    plan
}

/// What a pulley of the estate's blower gives at the most with no limit crossed, and as planned, W.
fn spread(question: &Question<'_>, corrected: bool) -> (f64, f64) {
    let reached = ask(question, dial("pulley"), 1e6, corrected);
    let (Outcome::Barred {
        best: Some(best), ..
    }
    | Outcome::Turns { best }) = &reached.answer
    else {
        panic!("a limit in the way, or a crest")
    };
    let planned = reached.trials.iter().find(|t| t.value == 1.0);
    let planned_w = planned.and_then(|t| t.sure_w).expect("the plan is tried");
    (planned_w, best.sure_w)
}

#[test]
fn the_pulley_answered_reads_the_target_when_quoted_forward() {
    let (sheet, plan) = estate();
    let question = question(&sheet, &plan);
    for corrected in [false, true] {
        let (planned_w, most_w) = spread(&question, corrected);
        let target_w = 0.5 * (planned_w + most_w);
        let reached = ask(&question, dial("pulley"), target_w, corrected);
        let Outcome::At(spot) = &reached.answer else {
            panic!("{target_w} lies between {planned_w} and {most_w}")
        };
        let forward = with_pulley(&plan, spot.value);
        let quote = Question {
            plan: &forward,
            ..question.clone()
        };
        let peaks = quote.answer().expect("a quote").after;
        let range = if corrected {
            peaks.corrected_power_w
        } else {
            peaks.power_w
        };
        // The value is known to 2e-5 of a range of ln 10, in which power moves by less than the ratio: 5e-5.
        assert!(
            (range.p5 / target_w - 1.0).abs() < 5e-5,
            "{range:?} for {target_w}"
        );
        assert!((spot.power_w.p5 / range.p5 - 1.0).abs() < 1e-12);
        // No value nearer to the plan's own reaches it.
        for trial in reached.trials.iter().filter(|t| t.value != spot.value) {
            if trial.value.ln().abs() < spot.value.ln().abs() {
                assert!(trial.sure_w.is_some_and(|w| w < target_w), "{trial:?}");
            }
        }
    }
}

#[test]
fn a_blower_asked_for_too_much_says_which_limit_is_in_the_way_and_how_far_one_gets() {
    let (sheet, plan) = estate();
    let question = question(&sheet, &plan);
    let reached = ask_middle(&question, dial("pulley"), 400e3);
    let Outcome::Barred {
        best: Some(best),
        from,
        bar,
    } = &reached.answer
    else {
        panic!("a limit in the way")
    };
    let Met::Limit(limit) = bar.limit else {
        panic!("a limit of the car")
    };
    let rpm = bar.from_rpm.zip(bar.to_rpm).expect("engine speeds");
    assert!(best.sure_w < 400e3 && best.value < *from);
    // The border is known to 2^-12 of a twentieth of the range.
    assert!((from / best.value).ln() < 10.0_f64.ln() / 20.0 / 4096.0 * 1.001);
    let pull = |factor: f64| {
        let plan = with_pulley(&plan, factor).map(|_, _, prior| prior.centre());
        let mut setup = sheet.centre.clone();
        setup.car = plan.apply(&setup.car).expect("a car");
        setup
            .pull(&question.after.day, &question.before.conditions, 28)
            .expect("a pull")
    };
    assert!(pull(*from).limits.contains(limit) && !pull(best.value).limits.contains(limit));
    assert!(rpm.0 <= rpm.1 && rpm.1 <= 6500.0 + 1e-6);
}

/// Both claims hold for any seed: the value answered reads the target when quoted forward, and more chance takes more.
#[test]
fn whatever_the_seed_the_answer_holds_forward_and_more_chance_takes_more() {
    let (sheet, plan) = estate();
    // More than half the draws of the plan as it stands do not reach.
    let target_w = 213e3;
    for seed in 1..=4 {
        let question = Question {
            seed,
            ..question(&sheet, &plan)
        };
        let value = |chance| match with_chance(&question, dial("pulley"), target_w, false, chance) {
            Reached {
                answer: Outcome::At(spot) | Outcome::AsPlanned(spot),
                ..
            } => spot.value,
            _ => panic!("{chance} is not reached with seed {seed}"),
        };
        let (half, most) = (value(0.5), value(0.7));
        assert!(most > half, "seed {seed}: {most} {half}");
        let forward = with_pulley(&plan, half);
        let quote = Question {
            plan: &forward,
            ..question.clone()
        };
        let middle = quote.answer().expect("a quote").after.power_w.p50;
        // As above.
        assert!(
            (middle / target_w - 1.0).abs() < 5e-5,
            "seed {seed}: {middle}"
        );
    }
}

#[test]
fn a_plan_that_does_already_is_answered_as_planned() {
    let (sheet, plan) = estate();
    let question = question(&sheet, &plan);
    let reached = ask(&question, dial("pulley"), 120e3, false);
    assert!(
        matches!(&reached.answer, Outcome::AsPlanned(spot) if spot.value == 1.0 && spot.chance > 0.95)
    );
}

/// The search asks the crank-angle cycle once for each value and remembers its answer; the quote asks anew.
#[test]
fn the_compression_answered_rests_on_the_cycle_as_a_quote_of_it_does() {
    let (sheet, _) = estate();
    let ratio = sheet.centre.car.engine.geometry.cylinder.compression_ratio;
    let with = |ratio: f64| Plan {
        name: "pistons".to_owned(),
        changes: vec![Change::from(CompressionRatio {
            ratio: Prior::fixed(ratio).expect("a number"),
        })],
    };
    let plan = with(ratio);
    let question = question(&sheet, &plan);
    let unchanged = question.answer().expect("a quote");
    assert!(unchanged.basis.by_cycle.is_none());
    let target_w = 1.01 * unchanged.after.power_w.p5;
    let reached = ask(&question, dial("compression-ratio"), target_w, false);
    let Outcome::At(spot) = &reached.answer else {
        panic!("a little more compression gives one percent")
    };
    let forward = with(spot.value);
    let quote = Question {
        plan: &forward,
        ..question.clone()
    };
    let quote = quote.answer().expect("a quote");
    let told = quote.basis.by_cycle.expect("a change in the cylinder");
    assert_eq!(quote.after.power_w, spot.power_w);
    let by_hand = forward
        .map(|_, _, prior| prior.centre())
        .apply_by_cycle(&sheet.centre.car, question.after.day)
        .expect("a car");
    let work = by_hand.engine.work_by_cycle.expect("the cycle's answer");
    assert_eq!(work.ratios(), told.points);
}

#[test]
fn a_mixture_has_a_crest_and_more_octane_an_end_to_its_use() {
    let (sheet, _) = estate();
    let plan = Plan {
        name: "mixture".to_owned(),
        changes: vec![Change::from(Mixture {
            lambda: Prior::fixed(0.95).expect("a number"),
        })],
    };
    // Every value needs knock tables of its own, so a few draws must do for the course of the power.
    let question = Question {
        draws: Some(6),
        ..question(&sheet, &plan)
    };
    let reached = ask_middle(&question, dial("mixture"), 300e3);
    let Outcome::Turns { best } = &reached.answer else {
        panic!("a crest")
    };
    for trial in &reached.trials {
        assert!(
            trial.sure_w.is_some_and(|w| w <= best.sure_w),
            "{trial:?} {}",
            best.sure_w
        );
    }
    // Rich of stoichiometric and lean of the flame's loss of speed: where petrol has its greatest torque (from memory).
    assert!((0.80..0.95).contains(&best.value), "{}", best.value);
    let reached = ask_middle(&question, dial("octane"), 300e3);
    match &reached.answer {
        // More octane frees the spark until nothing holds it back.
        Outcome::OutOfRange { best } | Outcome::Turns { best } | Outcome::Levels { best, .. } => {
            // The car at the middle knocks up to some 90; the octane in its tank frees it.
            assert!((85.0..98.0).contains(&best.value), "{best:?}");
        }
        _ => panic!("more octane than is asked for here"),
    }
}

#[test]
fn pieces_that_need_each_other_count_as_one() {
    let (sheet, plan) = estate();
    let question = question(&sheet, &with_pulley(&plan, 1.1)).interactions();
    let found = question.expect("pulls").expect("pieces");
    let places: Vec<Vec<usize>> = found.pieces.iter().map(|p| p.places.clone()).collect();
    assert_eq!(places, [vec![1, 2, 4], vec![3]]);
    let mut twice = plan.clone();
    twice.changes.push(plan.changes[2].clone());
    let question = self::question(&sheet, &twice).interactions();
    let places: Vec<Vec<usize>> = question
        .expect("pulls")
        .expect("pieces")
        .pieces
        .into_iter()
        .map(|p| p.places)
        .collect();
    assert_eq!(places, [vec![1, 2], vec![3, 4]]);
}

#[test]
fn a_part_put_in_twice_counts_once_and_what_adds_up_counts_apart() {
    let (sheet, _) = estate();
    let twice = |kind: &str, first: &str, second: &str| {
        let text = format!(
            "kind = \"plan\"\nversion = 1\nname = \"twice\"\n\
             [[change]]\nkind = \"{kind}\"\n{first}\n[[change]]\nkind = \"{kind}\"\n{second}\n"
        );
        let file = files::TomlFile::parse("plan.toml", &text).unwrap_or_else(|p| panic!("{p}"));
        let plan = files::plan::read(&file, std::path::Path::new(""));
        let plan = plan.unwrap_or_else(|p| panic!("{p}")).0.plan;
        let found = question(&sheet, &plan).interactions().expect("pulls");
        let pieces = found.expect("pieces").pieces;
        pieces.into_iter().map(|p| p.places).collect::<Vec<_>>()
    };
    for (kind, first, second) in [
        (
            "injectors",
            "flow = \"500 mL/min\"\nrated_pressure = \"3 bar\"",
            "flow = \"600 mL/min\"\nrated_pressure = \"3 bar\"",
        ),
        ("fuel pump", "flow = \"200 L/h\"", "flow = \"300 L/h\""),
        ("clutch", "capacity = \"500 N m\"", "capacity = \"600 N m\""),
        ("driveline oil", "oil = \"75W-80\"", "oil = \"75W-140\""),
        ("spark", "retard = \"2 deg\"", "retard = \"4 deg\""),
        ("octane", "research_octane = 98", "research_octane = 100"),
    ] {
        assert_eq!(twice(kind, first, second), [vec![1, 2]], "{kind}");
    }
    let mass = "added = \"20 kg\"";
    assert_eq!(twice("mass", mass, mass), [vec![1], vec![2]]);
}

#[test]
fn a_piece_alone_gains_what_a_plan_of_it_alone_gains() {
    let (sheet, plan) = estate();
    let found = question(&sheet, &plan)
        .interactions()
        .expect("pulls")
        .expect("pieces");
    let asked = question(&sheet, &plan);
    let peak = |changes: &[Change<Prior>]| {
        let part = Plan {
            name: String::new(),
            changes: changes.to_vec(),
        };
        let mut setup = sheet.centre.clone();
        let part = part.map(|_, _, prior| prior.centre());
        setup.car = part
            .apply_by_cycle(&setup.car, asked.after.day)
            .expect("a car");
        let pull = setup
            .pull(&asked.after.day, &asked.before.conditions, 28)
            .expect("a pull");
        pull.peak_power().expect("points").power_w
    };
    let before = peak(&[]);
    let gains = [
        (found.together_w, peak(&plan.changes) - before),
        (
            found.pieces[0].gain_w.expect("a pull"),
            peak(&plan.changes[..2]) - before,
        ),
        (
            found.pieces[1].gain_w.expect("a pull"),
            peak(&plan.changes[2..]) - before,
        ),
    ];
    for (told, direct) in gains {
        assert!((told - direct).abs() < 1e-6, "{gains:?}");
    }
    let sum = found.one_by_one_w.expect("pulls");
    assert!((sum - gains[1].1 - gains[2].1).abs() < 1e-6);
    assert!(
        (sum - found.together_w).abs() > 1.0,
        "a richer mixture is worth more under boost"
    );
}

#[test]
fn quote_answers_what_it_takes_in_text_and_json() {
    let shop = Shop::new();
    let kilowatt = |of: &Value| of.as_f64().expect("a power") / 1e3;
    // The blower turns 14 000 rpm as planned, so its rated speed is met at 15/14 of that.
    let plan = std::fs::read_to_string(shop.path("plan.toml")).expect("the plan");
    let rated = "drive_ratio = 2.0\nmax_speed = \"15000 rpm\"";
    shop.write("plan.toml", &plan.replace("drive_ratio = 2.0", rated));
    let run = "quote car.toml plan.toml --weather weather.toml --draws 50 --by pulley";
    let document = shop
        .well(&format!("{run} --reach 1MW --json"))
        .json("pullcast/reach/2");
    let answer = &document["answer"];
    assert_eq!(
        (&answer["kind"], &answer["reachable"]),
        (&"limit".into(), &false.into())
    );
    let best = kilowatt(&answer["best"]["sure_w"]);
    assert!((kilowatt(&answer["short_w"]) + best - 1000.0).abs() < 1e-9);
    let from = answer["limit_from"].as_f64().expect("a value");
    // Belt creep, a few parts in a thousand, is made up by the pulley.
    assert!((from / (15.0 / 14.0) - 1.0).abs() < 0.01, "{from}");
    assert_eq!(answer["limit"]["limit"], "blower_speed");
    let trials = document["trials"].as_array().expect("a list");
    assert!(trials.len() > 5 && trials.iter().any(|t| !t["limit"].is_null()));
    let text = shop.well(&format!("{run} --reach 1MW")).out;
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "1000 kW is out of reach: ",
        "A limit is in the way",
        "blower above its rated speed",
        "short",
        "Tried: pulley",
        "90 % chance",
        "seed 1",
    ] {
        assert!(flat.contains(part), "{part} in {text}");
    }
    let target = (best - 1.0).floor();
    let document = shop
        .well(&format!("{run} --reach {target}kW --json"))
        .json("pullcast/reach/2");
    assert_eq!(document["answer"]["reachable"], true);
    assert!(
        (kilowatt(&document["answer"]["best"]["sure_w"]) / target - 1.0).abs() < 1e-4
            || document["answer"]["kind"] == "as_planned"
    );
    let text = shop
        .well(
            "quote car.toml plan.toml --draws 50 --reach 10kW --by octane --chance 50% --corrected",
        )
        .out;
    assert!(
        text.contains("does it as it stands") && text.contains("corrected by SAE J1349"),
        "{text}"
    );
}

#[test]
fn where_every_value_crosses_a_limit_none_is_offered() {
    let shop = Shop::new();
    let plan = std::fs::read_to_string(shop.path("plan.toml")).expect("the plan");
    // Rated below what the slowest pulley admitted, 0.3 of 14 000 rpm, turns it.
    let rated = "drive_ratio = 2.0\nmax_speed = \"4000 rpm\"";
    shop.write("plan.toml", &plan.replace("drive_ratio = 2.0", rated));
    let run = "quote car.toml plan.toml --draws 50 --reach 100kW --by pulley";
    let document = shop.well(&format!("{run} --json")).json("pullcast/reach/2");
    let answer = &document["answer"];
    assert!(answer["best"].is_null() && answer["reachable"] == false);
    assert_eq!(answer["limit"]["limit"], "blower_speed");
    let text = shop.well(run).out;
    assert!(text.contains("Every value of the pulley"), "{text}");
}

#[test]
fn a_question_that_cannot_be_is_refused_with_what_could() {
    let shop = Shop::new();
    for (wrong, said) in [
        ("--reach 200Nm --by pulley", "a torque, but a power"),
        ("--reach 200 --by pulley", "no unit"),
        ("--reach 0kW --by pulley", "above zero"),
        ("--reach -5kW --by pulley", "above zero"),
        ("--reach 200kW", "--by"),
        ("--by pulley", "--reach"),
        ("--reach 200kW --by magic", "drive-ratio"),
        (
            "--reach 200kW --by pulley --chance 120%",
            "between 1 % and 99 %",
        ),
        (
            "--reach 200kW --by pulley --chance -5%",
            "between 1 % and 99 %",
        ),
        ("--chance 90%", "--reach"),
        ("--corrected", "--reach"),
        ("--reach 200kW --by pulley --draws 6000", "at most 5000"),
    ] {
        let ran = shop.run(&format!("quote car.toml plan.toml {wrong}"));
        assert_eq!(
            (ran.code, ran.out.as_str()),
            (2, ""),
            "{wrong}: {}",
            ran.err
        );
        assert!(ran.err.contains(said), "{wrong}: {said} in {}", ran.err);
    }
    shop.write(
        "plan.toml",
        "kind = \"plan\"\nversion = 1\nname = \"mixture\"\n[[change]]\nkind = \"mixture\"\nlambda = 0.9\n",
    );
    for (dial, said) in [
        ("pulley", "no blower on a belt after this plan"),
        ("boost", "no turbocharger after this plan"),
        ("drive-ratio", "adds no blower"),
    ] {
        let ran = shop.run(&format!(
            "quote car.toml plan.toml --reach 200kW --by {dial} --draws 50"
        ));
        assert!(
            ran.code == 2 && ran.err.contains(said),
            "{dial}: {} {}",
            ran.code,
            ran.err
        );
    }
    // One change has no pieces.
    let quote = shop
        .well("quote car.toml plan.toml --draws 50 --json")
        .json("pullcast/quote/4");
    assert!(quote["interactions"].is_null());
}

/// The range that a dial is searched in is the one a plan file admits.
#[test]
fn a_plan_file_admits_each_dial_up_to_its_ends_and_no_further() {
    let shop = Shop::new();
    let change = |dial: Dial, value: f64| {
        let keys = match dial.id() {
            "pulley" => format!("kind = \"pulley\"\nratio_factor = {value}"),
            "boost" => format!("kind = \"boost\"\nboost_factor = {value}"),
            "drive-ratio" => format!(
                "kind = \"displacement blower\"\nrotors = \"screw\"\ndisplacement = \"0.7 L/rev\"\ndrive_ratio = {value}"
            ),
            "octane" => format!(
                "kind = \"fuel\"\nfuel = \"petrol\"\nresearch_octane = {value}\nmotor_octane = 90"
            ),
            "ethanol" => format!(
                "kind = \"fuel\"\nfuel = \"petrol with ethanol\"\nethanol = \"{} %\"\nresearch_octane = 98",
                100.0 * value
            ),
            "compression-ratio" => format!("kind = \"compression ratio\"\nratio = {value}"),
            "intake" => format!("kind = \"intake\"\narea_factor = {value}"),
            "exhaust" => format!("kind = \"exhaust\"\nback_pressure_factor = {value}"),
            "mixture" => format!("kind = \"mixture\"\nlambda = {value}"),
            "redline" => format!("kind = \"redline\"\nspeed = \"{value} rpm\""),
            "gear" => format!("kind = \"gearing\"\ngear = {value}"),
            "final-drive" => format!("kind = \"gearing\"\nfinal_drive = {value}"),
            other => panic!("no such dial: {other}"),
        };
        format!("kind = \"plan\"\nversion = 1\nname = \"dial\"\n[[change]]\n{keys}\n")
    };
    let admitted = |dial: Dial, value: f64| {
        shop.write("dial.toml", &change(dial, value));
        files::plan::open(&shop.path("dial.toml")).is_ok()
    };
    for dial in Dial::ALL.iter().copied() {
        let (low, high) = match dial.id() {
            "drive-ratio" => (0.3, 10.0),
            _ => dial.range(),
        };
        let inside = 1e-3 * (high - low);
        assert!(
            admitted(dial, low + inside) && admitted(dial, high - inside),
            "{dial:?}"
        );
        assert!(
            !admitted(dial, low - inside) && !admitted(dial, high + inside),
            "{dial:?}"
        );
    }
}

#[test]
fn a_pulley_to_buy_is_told_by_its_diameter() {
    let folder = root().join("scenarios/upland_estate");
    let ask = |more: &str| {
        let call = format!(
            "quote car.toml plan_screw_blower.toml --draws 50 --reach 220kW --by pulley {more}"
        );
        let ran = crate::shop::answer_in(&folder, &call, &[("COLUMNS", "80")]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        ran.out
    };
    let document: Value = serde_json::from_str(&ask("--json")).expect("JSON");
    let best = &document["answer"]["best"];
    let factor = best["value"].as_f64().expect("a number");
    // The plan's blower has a pulley of 72 mm.
    let to = best["pulley"]["diameters_m"][1].as_f64().expect("a number");
    assert!((to * factor / 0.072 - 1.0).abs() < 1e-9, "{best}");
    let text = ask("");
    assert!(
        text.contains(&format!("{:.1} mm in place of 72.0 mm", 1e3 * to)),
        "{text}"
    );
}
