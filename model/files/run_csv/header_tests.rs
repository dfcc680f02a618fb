//! Header cells in many spellings, and what each leaves open.

use super::*;

fn read(cell: &str) -> Meaning {
    understand(cell, None, &RunOptions::default(), &Lexicon::default())
}

fn numbers(cell: &str) -> (Channel, &'static str) {
    match read(cell) {
        Meaning::Numbers(reading) => (reading.channel, reading.unit.symbol),
        other => panic!("{cell}: {other:?}"),
    }
}

#[test]
#[expect(clippy::too_many_lines, reason = "a table of cases")]
fn one_meaning_in_many_spellings() {
    for (cells, channel, symbol) in [
        (
            &[
                "time_s",
                "Time (s)",
                "time [s]",
                "TIME_S",
                "t_s",
                "seconds",
                "elapsed time (s)",
            ][..],
            Channel::Time,
            "s",
        ),
        (
            &[
                "engine_rpm",
                "engine speed (rpm)",
                "Engine Speed [1/min]",
                "rpm",
                "engine_speed_rpm",
                "RPM",
                "engine_rpm (rpm)",
            ],
            Channel::EngineSpeed,
            "rpm",
        ),
        (
            &["drum_speed_rpm", "drum speed (rpm)"],
            Channel::DrumSpeed,
            "rpm",
        ),
        (&["drum_speed_rad_s"], Channel::DrumSpeed, "rad/s"),
        (
            &["speed_m_s", "road speed (m/s)", "drum speed [m/s]"],
            Channel::RoadSpeed,
            "m/s",
        ),
        (
            &["speed (km/h)", "road_speed_kmh", "speed_km_h"],
            Channel::RoadSpeed,
            "km/h",
        ),
        (
            &["wheel_torque_nm", "wheel torque (N·m)", "wheel_torque_n_m"],
            Channel::WheelTorque,
            "N m",
        ),
        (
            &[
                "wheel torque (lb-ft)",
                "wheel_torque_lb_ft",
                "wheel_torque_lbft",
            ],
            Channel::WheelTorque,
            "lb ft",
        ),
        (
            &["wheel_power_kw", "wheel power (kW)", "Wheel Power [KW]"],
            Channel::WheelPower,
            "kW",
        ),
        (
            &["wheel_power_corrected_kw", "corrected wheel power (kW)"],
            Channel::CorrectedWheelPower,
            "kW",
        ),
        (&["wheel_power_hp"], Channel::WheelPower, "hp"),
        (
            &[
                "manifold_pressure_kpa_abs",
                "manifold_pressure_abs_kpa",
                "manifold pressure (kPa abs)",
                "manifold absolute pressure (kPa)",
                "map_kpa",
                "manifold_pressure_kpa (absolute)",
                "manifold_pressure_kpa (kPa abs)",
                "manifold_pressure_kpa_abs (kPa)",
                "MAP (kPa)",
                "manifold pressure absolute [kPa]",
            ],
            Channel::ManifoldPressure,
            "kPa absolute",
        ),
        (
            &[
                "boost_psi",
                "boost (psi)",
                "boost (psig)",
                "manifold pressure (psi gauge)",
                "manifold_pressure_gauge_psi",
            ],
            Channel::Boost,
            "psi gauge",
        ),
        (
            &[
                "charge_temp_c",
                "charge temperature (°C)",
                "charge_temperature_degc",
                "charge temp [C]",
                "plenum_temp_deg_c",
            ],
            Channel::ChargeTemperature,
            "°C",
        ),
        (&["lambda", "Lambda (-)"], Channel::Lambda, "1"),
        (
            &["throttle (%)", "throttle_position_pct"],
            Channel::ThrottlePosition,
            "%",
        ),
        (
            &["fuel_flow_g_s", "fuel flow (g/s)", "fuel_g_s"],
            Channel::FuelFlow,
            "g/s",
        ),
        (&["roll_force_N"], Channel::WheelForce, "N"),
        (&["barometer (inHg)"], Channel::AirPressure, "inHg"),
        (&["state of charge (%)"], Channel::StateOfCharge, "%"),
    ] {
        for cell in cells {
            assert_eq!(numbers(cell), (channel, symbol), "{cell}");
        }
    }
    assert_eq!(read("pull"), Meaning::Label);
    assert_eq!(read("Run number"), Meaning::Label);
    for cell in ["flux_capacitor", "wheel", "gear", "", "roll_force_sd_N"] {
        assert_eq!(read(cell), Meaning::Unknown, "{cell}");
    }
}

#[test]
fn a_missing_or_double_meaning_becomes_a_question() {
    for (cell, code, message, expected) in [
        (
            "time",
            Code::UNIT_MISSING,
            "column 'time' has no unit",
            "s, ms",
        ),
        (
            "wheel_power",
            Code::UNIT_MISSING,
            "column 'wheel_power'",
            "W, kW, MW, hp, PS",
        ),
        (
            "throttle",
            Code::UNIT_MISSING,
            "column 'throttle'",
            "% (0 to 100) or 1 (0 to 1)",
        ),
        (
            "manifold_pressure_kpa",
            Code::UNIT_AMBIGUOUS,
            "gauge or absolute",
            "kPa gauge or kPa absolute",
        ),
        (
            "manifold pressure (psi)",
            Code::UNIT_AMBIGUOUS,
            "gauge or absolute",
            "psi gauge or psi absolute",
        ),
        (
            "charge temp (deg)",
            Code::UNIT_AMBIGUOUS,
            "'deg' has more than one meaning",
            "°C or °F or K",
        ),
        (
            "wheel power (Nm)",
            Code::UNIT_WRONG,
            "'Nm' is a torque, but a power is expected",
            "W, kW",
        ),
        ("wheel_power_nm", Code::UNIT_WRONG, "a torque", "W, kW"),
        (
            "wheel power (kWW)",
            Code::UNIT_UNKNOWN,
            "did you mean 'kW'?",
            "W, kW",
        ),
        (
            "boost (kPa absolute)",
            Code::UNIT_WRONG,
            "an absolute pressure",
            "kPa gauge",
        ),
        (
            "manifold pressure gauge (kPa abs)",
            Code::UNIT_AMBIGUOUS,
            "both gauge and absolute",
            "gauge or absolute",
        ),
        (
            "engine_rpm (rad/s)",
            Code::UNIT_AMBIGUOUS,
            "two units",
            "one unit",
        ),
    ] {
        let Meaning::Open(Open { question, .. }) = read(cell) else {
            panic!("{cell}: {:?}", read(cell));
        };
        assert_eq!(question.code, code, "{question:?}");
        assert!(question.message.contains(message), "{question:?}");
        assert!(question.expected.contains(expected), "{question:?}");
        assert!(!question.answers.is_empty());
    }
}

#[test]
fn the_caller_can_answer() {
    let options = RunOptions {
        manifold_pressure: Some(PressureReference::Absolute),
        units: vec![("wheel_power".to_owned(), "PS".to_owned())],
        ..RunOptions::default()
    };
    let answered =
        |cell, options: &RunOptions| match understand(cell, None, options, &Lexicon::default()) {
            Meaning::Numbers(reading) => (reading.channel, reading.unit.symbol),
            other => panic!("{other:?}"),
        };
    assert_eq!(
        answered("manifold_pressure_kpa", &options),
        (Channel::ManifoldPressure, "kPa absolute")
    );
    assert_eq!(
        answered("wheel_power", &options),
        (Channel::WheelPower, "PS")
    );
    // Boost is gauge by its name, whatever was answered for the manifold.
    assert_eq!(
        answered("boost_psi", &options),
        (Channel::Boost, "psi gauge")
    );
    let gauge = RunOptions {
        units: vec![("manifold_pressure_kpa".to_owned(), "kPa gauge".to_owned())],
        ..RunOptions::default()
    };
    assert_eq!(answered("manifold_pressure_kpa", &gauge).0, Channel::Boost);
}

#[test]
fn an_answer_names_the_column_anew() {
    let named = |cell, name, below| {
        understand_as(
            cell,
            Some(name),
            below,
            &RunOptions::default(),
            &Lexicon::default(),
        )
    };
    let reading = |meaning| match meaning {
        Meaning::Numbers(reading) => (reading.channel, reading.unit.symbol, reading.scale),
        other => panic!("{other:?}"),
    };
    assert_eq!(
        reading(named("Pwr X", "wheel_power_hp", None)),
        (Channel::WheelPower, "hp", 1.0)
    );
    assert_eq!(reading(named("Pwr X", "wheel_power", Some("PS"))).1, "PS");
    assert_eq!(
        reading(named("Pwr X", "wheel_power_hp", Some("kW"))).1,
        "hp"
    );
    let (channel, _, scale) = reading(named("Mix", "afr 14.7", None));
    assert_eq!((channel, scale), (Channel::Lambda, 1.0 / 14.7));
    assert_eq!(named("Mix", "skip", None), Meaning::LeftOut);
}

#[test]
fn headers_of_many_hands_are_understood() {
    for (cell, channel, symbol, scale) in [
        ("RPM x1000", Channel::EngineSpeed, "rpm", 1000.0),
        ("Drehzahl [U/min]", Channel::EngineSpeed, "rpm", 1.0),
        ("n (1000/min)", Channel::EngineSpeed, "rpm", 1000.0),
        ("Régime moteur (tr/min)", Channel::EngineSpeed, "rpm", 1.0),
        ("Leistung am Rad in PS", Channel::WheelPower, "PS", 1.0),
        ("kW Rad", Channel::WheelPower, "kW", 1.0),
        (
            "Power [hp] (corrected)",
            Channel::CorrectedWheelPower,
            "hp",
            1.0,
        ),
        ("WHP", Channel::WheelPower, "hp", 1.0),
        ("Puissance (ch)", Channel::WheelPower, "PS", 1.0),
        ("moc na kołach [KM]", Channel::WheelPower, "PS", 1.0),
        ("Torque (ft-lbs)", Channel::WheelTorque, "lb ft", 1.0),
        ("Speed (MPH)", Channel::RoadSpeed, "mph", 1.0),
        (
            "Ladedruck abs. (mbar)",
            Channel::ManifoldPressure,
            "mbar absolute",
            1.0,
        ),
        ("Boost (psi)", Channel::Boost, "psi gauge", 1.0),
        ("MAP [kPa]", Channel::ManifoldPressure, "kPa absolute", 1.0),
        (
            "Ciśnienie w kolektorze [kPa abs]",
            Channel::ManifoldPressure,
            "kPa absolute",
            1.0,
        ),
        ("AFR (14.7:1)", Channel::Lambda, "1", 1.0 / 14.7),
        ("IAT (°F)", Channel::InletTemperature, "°F", 1.0),
        ("Time (ms)", Channel::Time, "ms", 1.0),
        ("sec", Channel::Time, "s", 1.0),
        ("EngineSpeed (RPM)", Channel::EngineSpeed, "rpm", 1.0),
        ("Engine Speed | rpm", Channel::EngineSpeed, "rpm", 1.0),
        ("Zugkraft (N)", Channel::WheelForce, "N", 1.0),
        ("Kraft Rolle [kN]", Channel::WheelForce, "kN", 1.0),
        ("Antriebskraft (N)", Channel::WheelForce, "N", 1.0),
        ("Tractive effort (lbf)", Channel::WheelForce, "lbf", 1.0),
        ("Load cell (lbf)", Channel::WheelForce, "lbf", 1.0),
        ("Effort de traction (N)", Channel::WheelForce, "N", 1.0),
        ("Fuerza de tracción [kgf]", Channel::WheelForce, "kgf", 1.0),
        ("Forza ai rulli (N)", Channel::WheelForce, "N", 1.0),
        ("Força de tração (N)", Channel::WheelForce, "N", 1.0),
        ("trekkracht (kN)", Channel::WheelForce, "kN", 1.0),
        ("dragkraft (N)", Channel::WheelForce, "N", 1.0),
        ("siła na rolkach (N)", Channel::WheelForce, "N", 1.0),
        ("Brake force (N)", Channel::BrakeForce, "N", 1.0),
        ("Bremskraft [N]", Channel::BrakeForce, "N", 1.0),
        ("Force de freinage (N)", Channel::BrakeForce, "N", 1.0),
        ("absorber force lbf", Channel::BrakeForce, "lbf", 1.0),
        ("remkracht (kN)", Channel::BrakeForce, "kN", 1.0),
        ("Roller torque (Nm)", Channel::DrumTorque, "N m", 1.0),
        ("Drehmoment Rolle [Nm]", Channel::DrumTorque, "N m", 1.0),
        // What a brake measures of an engine is at its crank.
        ("Brake torque (Nm)", Channel::CrankTorque, "N m", 1.0),
    ] {
        let Meaning::Numbers(reading) = read(cell) else {
            panic!("{cell}: {:?}", read(cell));
        };
        assert_eq!(
            (reading.channel, reading.unit.symbol),
            (channel, symbol),
            "{cell}"
        );
        assert!((reading.scale / scale - 1.0).abs() < 1e-12, "{cell}");
    }
    // A unit in the name and another beside it is nobody's guess.
    for cell in ["WHP (kW)", "Power hp [kW]", "AFR"] {
        assert!(
            matches!(
                read(cell),
                Meaning::Open(Open {
                    unit_missing: false,
                    ..
                })
            ),
            "{cell}"
        );
    }
}
