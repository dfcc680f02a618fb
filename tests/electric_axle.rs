//! The electric axle in a predicted pull, taken apart: shares that make the whole, a battery that empties, and what cuts the torque.

use pullcast::ask::basis::Air;
use pullcast::ask::predict::{Answer, Question};
use pullcast::car::Limit;
use pullcast::dyno::pull::AxleStart;
use pullcast::files;
use pullcast::report::{Report, Units};

use crate::shop::Shop;
use crate::sources::root;

/// A pull of the demo estate on its cold day, started so.
fn predicted(change: impl Fn(&mut AxleStart)) -> Answer {
    let folder = root().join("scenarios/upland_estate");
    let (car, _) = files::car::open(&folder.join("car.toml")).expect("the demo's car");
    let (air, _) = files::weather::open(&folder.join("after_day.toml")).expect("the demo's day");
    let mut start = AxleStart::RESTED;
    change(&mut start);
    let day = Air::stated(air.day, "the demo's day");
    let question = Question {
        start: Some(start),
        ..Question::new(&car.sheet.centre, None, day)
    };
    question.answer().expect("the demo's car pulls")
}

#[test]
fn engine_and_motor_make_the_sum_and_the_battery_empties_by_what_it_gives() {
    let report = predicted(|_| {});
    let axles: Vec<_> = report
        .points
        .iter()
        .map(|p| (p.time_s, p.drums, p.electric_axle.expect("it helps")))
        .collect();
    assert!(axles.len() > 10);
    for (_, drums, axle) in &axles {
        let sum = drums.engine_power_w + drums.electric_power_w;
        assert!((sum - drums.power_w).abs() < 1e-9 * drums.power_w);
        assert!((drums.corrected_power_w - drums.electric_power_w) > drums.engine_power_w);
        assert!(axle.battery_power_w > drums.electric_power_w, "{axle:?}");
        // Read between points of 1: rounding.
        assert!((axle.derating - 1.0).abs() < 1e-12);
    }
    for pair in axles.windows(2) {
        let ((t0, _, a), (t1, _, b)) = (&pair[0], &pair[1]);
        assert!(b.charge < a.charge && b.battery_k > a.battery_k);
        let taken = f64::midpoint(a.battery_power_w, b.battery_power_w) * (t1 - t0);
        // The chemistry gives more than the terminals, by the loss in its resistance:
        // some tenth of it at this power; the trapezium over half a second adds a per cent, more where the axle fades out.
        let given = (a.charge - b.charge) * battery_j();
        assert!((0.95..1.25).contains(&(given / taken)), "{given} {taken}");
    }
    let text = report.text(Units::Metric);
    for part in [
        "Electric axle through the pull",
        "winding",
        "held by",
        "derated to",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
}

fn battery_j() -> f64 {
    let (car, _) =
        files::car::open(&root().join("scenarios/upland_estate/car.toml")).expect("the demo's car");
    let electric = car.sheet.centre.car.electric.expect("an electric axle");
    electric.axle.battery.energy_j()
}

#[test]
fn what_holds_the_torque_is_named() {
    let held = |report: &Answer| {
        let row = &report.points[4];
        row.electric_axle.expect("it helps").held_by
    };
    let low = predicted(|start| start.charge = 0.2);
    assert_eq!(held(&low), "battery");
    // A motor that starts within its last twenty kelvin.
    let hot = predicted(|start| start.motor_k = Some(424.0));
    let row = hot.points[4].electric_axle.expect("it helps");
    assert_eq!(row.held_by, "heat", "{row:?}");
    assert!(row.derating < 1.0 && row.winding_k > 420.0, "{row:?}");
    let cool = predicted(|_| {});
    let power = |r: &Answer| r.points[4].drums.electric_power_w;
    // The derating is on the torque asked for; the axle's rolling loss stays whole, some 3 kW of 58.
    let ratio = power(&hot) / power(&cool);
    let below = row.derating - ratio;
    assert!(
        row.derating < 0.9 && (0.0..0.05).contains(&below),
        "{ratio} {row:?}"
    );
}

/// Far too small a motor, as a slip of the pen makes one, in a long sweep: it is switched off, and told.
#[test]
fn a_motor_above_its_own_limit_is_a_limit_and_stays_below_its_cut_out() {
    let folder = root().join("scenarios/upland_estate");
    let written = std::fs::read_to_string(folder.join("car.toml")).expect("the demo's car");
    for (power, sweep) in [("5 kW", 60), ("5 kW", 300)] {
        let text = written.replace("68 kW ± 1.5 kW", power).replace(
            "inertia = \"150 kg m2\"",
            &format!("inertia = \"150 kg m2\"\nsweep_time = \"{sweep} s\""),
        );
        let (car, _) = files::TomlFile::parse("car.toml", &text)
            .and_then(|file| files::car::read(&file, &folder))
            .expect("a car");
        let heat = car
            .sheet
            .centre
            .car
            .electric
            .as_ref()
            .expect("an axle")
            .axle
            .motor
            .heat;
        let answer = Question::new(&car.sheet.centre, None, Air::reference())
            .answer()
            .expect("a pull");
        let axles = answer.points.iter().filter_map(|p| p.electric_axle);
        let hottest = axles.fold(0.0, |k: f64, a| k.max(a.winding_k).max(a.case_k));
        // Above the limit it got, and no further than the cut-out; the integrator's own error is far below a kelvin.
        assert!(
            heat.limit_k < hottest && hottest < (heat.limit_k + heat.derate_span_k) + 1.0,
            "{power}: {hottest}"
        );
        let met = |id: &str| answer.limits.iter().any(|l| l.limit.id() == id);
        assert!(met("axle_overheated"), "{:?}", answer.limits);
        let text = answer.text(Units::Metric);
        assert!(text.contains("above its temperature limit"), "{text}");
        // A caution of every quote and sheet follows from it.
        let danger = Limit::AxleOverheated
            .danger()
            .expect("it endangers the motor");
        assert_eq!(danger.id(), "hot_motor");
    }
}

#[test]
fn an_axle_that_is_off_has_no_table() {
    let report = predicted(|start| start.on = false);
    assert!(report.points.iter().all(|p| p.electric_axle.is_none()));
    assert!(
        !report
            .text(Units::Metric)
            .contains("through the pull, uncorrected")
    );
}

#[test]
fn what_the_split_rests_on_is_said() {
    let folder = root().join("scenarios/upland_estate");
    let said = |change: &dyn Fn(String) -> String| {
        let car = std::fs::read_to_string(folder.join("car.toml")).expect("the demo's car");
        let shop = Shop::new();
        shop.write("estate.toml", &change(car));
        let run = "predict estate.toml";
        let document = shop
            .well(&format!("{run} --json"))
            .json("pullcast/predict/2");
        (document["axle_split"].clone(), shop.well(run).out)
    };
    let linked = said(&|car| car);
    assert_eq!(linked.0, "linked");
    assert!(
        linked.1.contains("linked drums") && linked.1.contains("volts"),
        "{}",
        linked.1
    );
    let separate = said(&|car| {
        car.replace(
            "coupling = \"linked\"",
            "coupling = \"separate\"\nsecond_inertia = \"100 kg m2\"",
        )
    });
    assert_eq!(separate.0, "separate");
    assert!(separate.1.contains("separate drums"), "{}", separate.1);
}
