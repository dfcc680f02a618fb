//! What a shop says instead of the words of these files: taken where it means the same, answered with the right word where it needs one more thing.
//!
//! A slip of the finger has a near word; `supercharger` and `intercooler` have none, and are right all the same.

use crate::units::show_number;

/// Choices that mean just what one of the files' words means: said, word.
const SAME: &[(&str, &str)] = &[
    ("gasoline", "petrol"),
    ("pump gas", "petrol"),
    ("super", "petrol"),
    ("turbo", "turbocharger"),
    ("centrifugal supercharger", "centrifugal"),
    ("twin screw", "screw"),
    ("air-to-air", "air to air"),
    ("air-to-water", "air to water"),
    ("water to air", "air to water"),
    ("liquid", "air to water"),
    ("auto", "automatic"),
    ("stick", "manual"),
    ("rwd", "rear"),
    ("fwd", "front"),
    ("awd", "all"),
    ("4wd", "all"),
    ("intercooler", "charge cooler"),
    ("aftercooler", "charge cooler"),
    ("supercharger pulley", "pulley"),
    ("cam", "camshaft"),
    ("cams", "camshaft"),
    ("injector", "injectors"),
    ("down pipe", "exhaust"),
    ("downpipe", "exhaust"),
    ("tires", "tyres"),
    ("final drive", "gearing"),
    ("differential", "gearing"),
    ("water meth", "sprays"),
    ("nitrous oxide", "nitrous"),
    ("ecu", "tune"),
    ("remap", "tune"),
];

/// Words and keys that need one more thing: said, answer.
const ANSWERS: &[(&str, &str)] = &[
    (
        "e85",
        "E85 is \"petrol with ethanol\" with the ethanol that was measured, such as ethanol = \"83 ± 3 %\"",
    ),
    (
        "e10",
        "E10 is \"petrol with ethanol\" with ethanol = \"10 %\"",
    ),
    ("e5", "E5 is \"petrol with ethanol\" with ethanol = \"5 %\""),
    (
        "flex",
        "write \"petrol with ethanol\" with the ethanol that was measured, such as ethanol = \"60 ± 5 %\"",
    ),
    ("diesel", "only spark ignition is computed"),
    (
        "supercharger",
        "a supercharger is [blower] in a car file, and in a plan \"displacement blower\" (Roots, screw) or \"centrifugal blower\"",
    ),
    (
        "turbo",
        "a turbocharger is [blower] with kind = \"turbocharger\" in a car file",
    ),
    (
        "turbocharger",
        "a turbocharger is [blower] with kind = \"turbocharger\" in a car file",
    ),
    ("compressor", "the compressor is [blower]"),
    (
        "intercooler",
        "an intercooler is [cooler] in a car file and \"charge cooler\" in a plan",
    ),
    (
        "aftercooler",
        "an aftercooler is [cooler] in a car file and \"charge cooler\" in a plan",
    ),
    (
        "chargecooler",
        "it is [cooler] in a car file and \"charge cooler\" in a plan",
    ),
    (
        "tune",
        "a car's [tune] holds lambda, retard and margin; a plan's kinds are \"tune\", \"spark\", \"mixture\" and \"boost\"",
    ),
    (
        "remap",
        "a plan's kinds are \"tune\", \"spark\", \"mixture\" and \"boost\"",
    ),
    (
        "ignition",
        "spark is \"spark\" in a plan and retard in a car's [tune]",
    ),
    (
        "timing",
        "spark is \"spark\" in a plan and retard in a car's [tune]",
    ),
    (
        "aki",
        "the pump's octane is the mean of research_octane and motor_octane: 91 AKI is about research_octane = \"96 ± 1\", motor_octane = \"86 ± 1\"",
    ),
    (
        "octane",
        "write research_octane (RON); the pump's (R+M)/2 is its mean with motor_octane: 91 is about research_octane = \"96 ± 1\", motor_octane = \"86 ± 1\"",
    ),
    ("ron", "it is research_octane"),
    ("mon", "it is motor_octane"),
    (
        "afr",
        "the mixture is lambda: air over fuel, divided by the fuel's stoichiometric ratio, 14.7 of petrol without ethanol",
    ),
    (
        "air fuel ratio",
        "the mixture is lambda: air over fuel, divided by the fuel's stoichiometric ratio, 14.7 of petrol without ethanol",
    ),
    (
        "tyre size",
        "a size is written as the radius: tyre_radius = \"225/45 R17\"",
    ),
    (
        "tire size",
        "a size is written as the radius: tyre_radius = \"225/45 R17\"",
    ),
    ("tire radius", "it is tyre_radius"),
    ("tire", "it is tyre_radius in [wheels]"),
    ("tyre", "it is tyre_radius in [wheels]"),
    ("tyre diameter", "half of it is tyre_radius"),
    ("tire diameter", "half of it is tyre_radius"),
    ("diameter", "half of the drum's diameter is radius"),
    ("drum diameter", "half of it is radius in [drums]"),
    ("roller diameter", "half of it is radius in [drums]"),
    (
        "drum mass",
        "[drums] has inertia: the equivalent mass at the surface times radius², of a solid drum half its mass times radius²",
    ),
    (
        "equivalent mass",
        "[drums] has inertia: the equivalent mass at the surface times radius²",
    ),
    ("moment of inertia", "it is inertia"),
    ("final drive ratio", "it is final_drive"),
    ("axle ratio", "it is final_drive"),
    ("diff ratio", "it is final_drive"),
    ("gear ratio", "it is gear"),
    ("weight", "it is mass in [car]"),
    ("compression", "it is compression_ratio"),
    ("rev limit", "it is redline"),
    ("rev limiter", "it is redline"),
    ("rpm limit", "it is redline"),
    ("max rpm", "it is redline"),
    ("capacity", "the engine's size is displacement"),
    ("size", "the engine's size is displacement"),
    (
        "barometer",
        "it is station_pressure, or sea_level_pressure with altitude",
    ),
    (
        "pressure",
        "it is station_pressure, or sea_level_pressure with altitude",
    ),
    ("humidity", "it is relative_humidity, dew_point or wet_bulb"),
];

fn plain(word: &str) -> String {
    word.trim().to_lowercase().replace(['_', '-'], " ")
}

/// The choice that a word means, if it is another word for one of them, or the same in capitals.
pub(super) fn choice<'c>(
    word: &str,
    mut choices: impl Iterator<Item = &'c str> + Clone,
) -> Option<&'c str> {
    let said = plain(word);
    choices
        .clone()
        .find(|choice| plain(choice) == said)
        .or_else(|| {
            let (_, meant) = SAME.iter().find(|(same, _)| plain(same) == said)?;
            choices.find(|choice| choice == meant)
        })
}

/// What to say of a word that is right in the shop and unknown here.
pub(super) fn answer(word: &str) -> Option<&'static str> {
    let said = plain(word);
    ANSWERS
        .iter()
        .find(|(of, _)| *of == said)
        .map(|(_, answer)| *answer)
}

/// Rolling radius over half the free diameter of a tyre, and its doubt. Common practice, no source.
const ROLLS: (f64, f64) = (0.97, 0.01);

/// A tyre's size as the text of its rolling radius: `225/45 R17` is `0.3079 ± 0.0032 m`. The free diameter is the rim and twice width times aspect.
pub(super) fn tyre_radius(text: &str) -> Option<String> {
    let (width, rest) = text.trim().trim_start_matches(['P', 'p']).split_once('/')?;
    let end = rest.find(|c: char| !c.is_ascii_digit())?;
    let (aspect, rim) = rest.split_at(end);
    let rim = rim.trim_start_matches([' ', 'Z', 'z', '-']);
    let rim = rim.strip_prefix(['R', 'r']).unwrap_or(rim).trim_start();
    let rim: String = rim
        .chars()
        .take_while(|c| c.is_ascii_digit() || *c == '.')
        .collect();
    let number = |text: &str, low: f64, high: f64| {
        let number: f64 = text.trim().parse().ok()?;
        (low..=high).contains(&number).then_some(number)
    };
    let (width_mm, aspect, rim_in) = (
        number(width, 100.0, 400.0)?,
        number(aspect, 20.0, 95.0)?,
        number(&rim, 10.0, 26.0)?,
    );
    let free_m = 0.0127 * rim_in + 1e-5 * width_mm * aspect;
    Some(format!(
        "{} ± {} m",
        show_number(ROLLS.0 * free_m, 4),
        show_number(ROLLS.1 * free_m, 2)
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_size_is_the_radius_of_its_tyre() {
        // By hand: 17 in / 2 is 215.9 mm, 45 % of 225 mm is 101.25 mm; 97 % of 317.15 mm is 307.6 mm.
        assert_eq!(
            tyre_radius("225/45 R17").as_deref(),
            Some("0.3076 ± 0.0032 m")
        );
        assert_eq!(tyre_radius("225/45R17 91W"), tyre_radius("P225/45 ZR17"));
        for text in ["0.31 m", "1/2", "9/45 R17", "225/45", "n/a"] {
            assert_eq!(tyre_radius(text), None, "{text}");
        }
    }

    #[test]
    fn what_means_the_same_is_taken_and_what_does_not_is_answered() {
        let kinds = ["petrol", "petrol with ethanol", "ethanol"];
        assert_eq!(choice("Gasoline", kinds.into_iter()), Some("petrol"));
        assert_eq!(choice("PETROL", kinds.into_iter()), Some("petrol"));
        assert_eq!(choice("turbo", kinds.into_iter()), None);
        assert!(answer("E85").is_some_and(|a| a.contains("petrol with ethanol")));
        assert!(answer("drum_diameter").is_some_and(|a| a.contains("radius")));
        assert_eq!(answer("bore"), None);
    }
}
