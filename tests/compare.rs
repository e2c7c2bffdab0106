//! `compare` against the program's own plain response on a grid of 48 points per octave, read by definitions written out again here
//! (DEVELOPERS.md, "Words a player uses"), and against recommendations that leave nothing to choose. No outside source but IEC 61260-1
//! for the third-octave frequencies.

mod program;
mod support;

use program::*;
use serde_json::Value;
use support::*;

const BENCH: &str = "bench: bleed=120k || 1n";
const DRAWER: &str = "drawer: bleed=100k + 1n5; tone=47n";

/// Frequency and level of `response` at one knob position, everything else as in the build.
fn response(fitted: &[&str], volume: &str, tone: &str, grid: &[&str]) -> Vec<(f64, f64)> {
    let mut arguments = vec!["response", "--quiet", "--volume", volume, "--tone", tone];
    arguments.extend(fitted.iter().flat_map(|fitted| ["--with", fitted]));
    arguments.extend(grid);
    let points = json(&arguments, 0);
    let number = |point: &Value, key: &str| point[key].as_f64().unwrap();
    points
        .as_array()
        .unwrap()
        .iter()
        .map(|point| (number(point, "frequency_hz"), number(point, "level_db")))
        .collect()
}

/// Mean power level in dB over a band at 12 points per octave.
fn mean_level(fitted: &[&str], volume: &str, tone: &str, band: [&str; 2]) -> f64 {
    let points = response(fitted, volume, tone, &["--from", band[0], "--to", band[1]]);
    let power: f64 = points.iter().map(|(_, level)| 10_f64.powf(level / 10.0)).sum();
    10.0 * (power / points.len() as f64).log10()
}

fn comparison(more: &[&str]) -> Value {
    json(&with(&["compare", "--quiet", "--build", BENCH, "--build", DRAWER], more), 0)
}

/// What a build changes against the present guitar is the difference of two plain responses, and nothing above 3 dB is left out.
#[test]
fn what_each_build_changes_is_the_difference_of_responses() {
    let found = comparison(&["--volume", "10", "--tone", "10"]);
    let builds = found["builds"].as_array().unwrap();
    let end = builds[0]["positions"][0]["upper_minus_3_db_hz"].as_f64().unwrap();
    let highs_end = end.clamp(2500.0, 6000.0).to_string();
    let bands = [
        ("lows", ["80", "250"]),
        ("mids", ["250", "1500"]),
        ("highs", ["1500", highs_end.as_str()]),
    ];
    let volumes = ["10", "7.5", "5", "2.5", "1"].map(|volume| (volume, "10"));
    let tones = ["7.5", "5", "2.5", "0"].map(|tone| ("10", tone));
    let fitted: [&[&str]; 2] = [&["bleed=120k || 1n"], &["bleed=100k + 1n5", "tone=47n"]];
    for (build, fitted) in builds.iter().skip(1).zip(fitted) {
        let mut largest = 0.0_f64;
        for (volume, tone) in volumes.into_iter().chain(tones) {
            let number = |written: &str| serde_json::json!(written.parse::<f64>().unwrap());
            let told = build["also_changes"].as_array().unwrap().iter();
            let here: Vec<&Value> = told
                .filter(|told| told["volume"] == number(volume) && told["tone"] == number(tone) && told["band"] != "closed tone")
                .collect();
            let mut most = 0.0_f64;
            for (band, ends) in bands {
                let difference = mean_level(fitted, volume, tone, ends) - mean_level(&[], volume, tone, ends);
                most = most.max(difference.abs());
                for told in here.iter().filter(|told| told["band"] == band) {
                    assert_close(told["difference_db"].as_f64().unwrap(), difference, 0.02, band);
                }
            }
            largest = largest.max(most);
            assert_eq!(!here.is_empty(), most > 3.0, "{} at {volume}, {tone}: {most}", build["name"]);
        }
        let stated = build["largest_change_db"].as_f64().unwrap();
        assert!(largest > 3.0 && stated >= largest - 0.02, "{stated}, {largest}");
    }
    assert_eq!(builds[0]["also_changes"], serde_json::json!([]));
}

#[test]
fn figures_are_those_of_the_response() {
    let found = comparison(&["--volume", "10,5", "--tone", "10,0"]);
    let builds = found["builds"].as_array().unwrap();
    let fitted: [&[&str]; 3] = [&[], &["bleed=120k || 1n"], &["bleed=100k + 1n5", "tone=47n"]];
    assert_eq!(builds.len(), 3);
    let mut resonances = 0;
    for (build, fitted) in builds.iter().zip(fitted) {
        let positions = build["positions"].as_array().unwrap();
        assert_eq!(positions.len(), 4);
        for (position, (volume, tone)) in positions.iter().zip([("10", "10"), ("10", "0"), ("5", "10"), ("5", "0")]) {
            let what = format!("{} at {volume}, {tone}", build["name"]);
            let number = |key: &str| position[key].as_f64().unwrap_or_else(|| panic!("{what}: {key}"));
            let anchor = mean_level(fitted, volume, tone, ["100", "400"]);
            let at_full = mean_level(fitted, "10", "10", ["1500", "6000"]) - mean_level(fitted, "10", "10", ["100", "400"]);
            let highs = mean_level(fitted, volume, tone, ["1500", "6000"]) - anchor - at_full;
            assert_close(
                number("level_db"),
                mean_level(fitted, volume, tone, ["80", "8000"]),
                close::LEVEL_DB,
                &what,
            );
            assert_close(number("highs_kept_db"), highs, close::LEVEL_DB, &what);
            let lows = response(fitted, volume, tone, &["--from", "80", "--to", "1500"]);
            let bump = lows.iter().map(|(_, level)| *level).fold(f64::MIN, f64::max) - mean_level(fitted, volume, tone, ["80", "120"]);
            assert_close(number("bump_db"), bump, close::LEVEL_DB, &what);
            let fine = response(
                fitted,
                volume,
                tone,
                &["--from", "200", "--to", "20000", "--points-per-octave", "48"],
            );
            let peak = fine
                .iter()
                .copied()
                .reduce(|peak, next| if next.1 > peak.1 { next } else { peak })
                .unwrap();
            let start = if let Some(resonance) = position["resonance"].as_object() {
                resonances += 1;
                let (at, height) = (
                    resonance["frequency_hz"].as_f64().unwrap(),
                    resonance["height_db"].as_f64().unwrap(),
                );
                assert_relatively_close(at, peak.0, close::FINE_GRID, &what);
                assert_close(height, peak.1 - anchor, close::FINE_GRID_DB, &what);
                at
            } else {
                200.0
            };
            let below = fine
                .iter()
                .find(|(frequency, level)| *frequency >= start && *level <= anchor - 3.01);
            match (below, position["upper_minus_3_db_hz"].as_f64()) {
                (Some((frequency, _)), Some(found)) => {
                    let step = frequency * (1.0 - (-1.0_f64 / 48.0).exp2());
                    assert!(
                        found <= *frequency && found >= (frequency - step).max(0.0) - 1e-6 || found <= start * 1.000_001,
                        "{what}: {found} {frequency}"
                    );
                }
                (below, found) => assert!(
                    below.is_none() && found.is_none_or(|found| found > 20e3),
                    "{what}: {below:?} {found:?}"
                ),
            }
        }
    }
    assert!(resonances >= 6, "{resonances}");
}

#[test]
fn differences_are_those_of_the_responses_at_third_octaves() {
    let thirds: Vec<String> = (-11..=8).map(|k| (1000.0 * 10_f64.powf(f64::from(k) / 10.0)).to_string()).collect();
    let thirds = thirds.join(",");
    let found = comparison(&["--volume", "10,5", "--tone", "10", "--without-present"]);
    let pairs = found["pairs"].as_array().unwrap();
    assert_eq!(pairs.len(), 1);
    let mut furthest = 0.0_f64;
    for volume in ["10", "5"] {
        let shape = |fitted: &[&str]| -> Vec<f64> {
            let anchor = mean_level(fitted, volume, "10", ["100", "400"]);
            let points = response(fitted, volume, "10", &["--frequencies", &thirds]);
            points.into_iter().map(|(_, level)| level - anchor).collect()
        };
        let (bench, drawer) = (shape(&["bleed=120k || 1n"]), shape(&["bleed=100k + 1n5", "tone=47n"]));
        for (bench, drawer) in bench.iter().zip(&drawer) {
            let difference = drawer - bench;
            furthest = if difference.abs() > furthest.abs() { difference } else { furthest };
        }
    }
    assert_close(
        pairs[0]["shape"]["difference_db"].as_f64().unwrap(),
        furthest,
        close::LEVEL_DB,
        "shape",
    );
    let level = mean_level(&["bleed=100k + 1n5", "tone=47n"], "5", "10", ["80", "8000"])
        - mean_level(&["bleed=120k || 1n"], "5", "10", ["80", "8000"]);
    assert_close(
        pairs[0]["level"]["difference_db"].as_f64().unwrap(),
        level,
        close::LEVEL_DB,
        "level",
    );
    assert_eq!(pairs[0]["sounds_same"], false);
}

#[test]
fn builds_sound_the_same_by_the_rule_and_not_by_their_names() {
    let builds = [
        "compare",
        "--quiet",
        "--build",
        "one: bleed=120k || 1n",
        "--build",
        "two: bleed=121k || 1n",
        "--build",
        "far: bleed=1n",
    ];
    let found = json(&builds, 0);
    let same: Vec<bool> = found["pairs"]
        .as_array()
        .unwrap()
        .iter()
        .map(|pair| pair["sounds_same"].as_bool().unwrap())
        .collect();
    // present–one, present–two, present–far, one–two, one–far, two–far
    assert_eq!(same, [false, false, false, true, false, false]);
    let told = ends(&builds, 0);
    assert!(told.starts_with("Sound the same: two like one."), "{told}");
    // Full volume shorts every bleed: nobody could tell.
    let told = ends(&with(&builds, &["--volume", "10"]), 0);
    assert!(told.starts_with("Nobody could tell these builds apart"), "{told}");
}

#[test]
fn margins_are_those_of_a_recommendation_without_choice() {
    for target in ["highs-and-feel", "clearer-closed-tone"] {
        let found = comparison(&["--target", target]);
        let output = run(&[
            "recommend",
            "--quiet",
            "--target",
            target,
            "--search",
            "bleed=120k || 1n",
            "--at-any-price",
            "--format",
            "json",
        ]);
        let recommended: Value = serde_json::from_slice(&output.stdout).unwrap();
        let builds = recommended["builds"].as_array().unwrap();
        let bench = builds.iter().find(|build| build["slots"]["bleed"] == "120k || 1n").unwrap();
        let against = &found["builds"][1]["against_target"];
        for key in ["margin_db", "rms_db"] {
            assert_close(against[key].as_f64().unwrap(), bench[key].as_f64().unwrap(), close::LEVEL_DB, key);
        }
        assert_eq!(against["meets_target"], bench["meets_target"]);
        let present = &found["builds"][0]["against_target"];
        assert_close(
            present["margin_db"].as_f64().unwrap(),
            recommended["present"]["margin_db"].as_f64().unwrap(),
            close::LEVEL_DB,
            "present",
        );
    }
}

#[test]
fn positions_come_from_the_options_then_the_target_then_what_is_changed() {
    let positions = |arguments: &[&str]| -> Vec<(f64, f64)> {
        let found = json(&with(&["compare", "--quiet"], arguments), 0);
        let positions = found["builds"][0]["positions"].as_array().unwrap();
        positions
            .iter()
            .map(|at| (at["volume"].as_f64().unwrap(), at["tone"].as_f64().unwrap()))
            .collect()
    };
    let (bleed, tone) = (["--build", "a: bleed=1n"], ["--build", "a: tone=47n"]);
    assert_eq!(positions(&bleed), [(10.0, 10.0), (5.0, 10.0)]);
    assert_eq!(positions(&tone), [(10.0, 10.0), (10.0, 0.0), (5.0, 10.0), (5.0, 0.0)]);
    assert_eq!(
        positions(&with(&bleed, &["--target", "keep highs within 4 dB from full to half volume"])),
        [(10.0, 10.0), (7.5, 10.0), (5.0, 10.0)]
    );
    assert_eq!(
        positions(&with(
            &bleed,
            &["--target", "keep highs within 4 dB from full to half volume", "--volume", "3"]
        )),
        [(3.0, 10.0)]
    );
    assert_eq!(positions(&with(&bleed, &["--tone", "10,5"])), [(10.0, 10.0), (10.0, 5.0)]);
}

#[test]
fn every_case_is_compared() {
    let found = comparison(&["--case", "cable=300p", "--case", "cable=900p", "--volume", "5"]);
    let positions = found["builds"][1]["positions"].as_array().unwrap();
    let cases: Vec<&str> = positions.iter().map(|at| at["case"].as_str().unwrap()).collect();
    assert_eq!(cases.len(), 2);
    assert_ne!(cases[0], cases[1]);
    assert_ne!(positions[0]["level_db"], positions[1]["level_db"]);
}

#[test]
fn silence_has_no_figures() {
    let found = comparison(&["--volume", "0"]);
    for build in found["builds"].as_array().unwrap() {
        let at = &build["positions"][0];
        for key in ["level_db", "resonance", "upper_minus_3_db_hz", "highs_kept_db", "bump_db"] {
            assert!(at[key].is_null(), "{key}");
        }
    }
    let table = ends(&["compare", "--quiet", "--build", BENCH, "--volume", "0"], 0);
    assert!(
        table.contains("silent") && !table.contains("NaN") && !table.contains("inf"),
        "{table}"
    );
}

#[test]
fn tables_fit_and_csv_has_a_row_a_build_and_position() {
    let long = "a name as long as a name may ever be, ok: bleed=(100k + 1n5) || 220k; tone=2k2 + 22n";
    let builds = [
        "compare", "--quiet", "--build", BENCH, "--build", DRAWER, "--build", long, "--tone", "10,0", "--volume", "10,5",
    ];
    for more in [
        &[][..],
        &["--target", "highs-and-feel"],
        &["--case", "cable=300p", "--case", "cable=900p"],
    ] {
        let table = ends(&with(&builds, more), 0);
        for line in table.lines() {
            assert!(line.chars().count() <= 80 && line.trim_end() == line, "{line}");
        }
    }
    let csv = ends(&with(&builds, &["--format", "csv"]), 0);
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let header = reader.headers().unwrap().clone();
    assert!(header.iter().any(|name| name == "upper_minus_3_db_hz") && header.iter().any(|name| name == "sounds_like_first"));
    let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.unwrap()).collect();
    assert_eq!(rows.len(), 4 * 4);
    assert!(rows.iter().all(|row| row.len() == header.len()));
}

#[test]
fn what_cannot_be_compared_is_refused() {
    for arguments in [
        &["compare", "--build", "bleed"][..],
        &["compare", "--build", "a: bleed=1n", "--build", "a: bleed=2n"],
        &["compare", "--build", "present: bleed=1n"],
        &["compare", "--build", "a: bleed=R || C"],
        &["compare", "--build", "a: bypass=100n"],
        &["compare", "--build", "a: bleed=1n; bleed=2n"],
        &["compare", "--without-present"],
        &["compare", "--build", "a: bleed=1n", "--volume", "11"],
        &["compare", "--build", "a: bleed=1n", "--plot-kind", "deviation"],
        &["compare", "--build", "a: bleed=1n", "--plot", "-", "--plot-kind", "deviation"],
        &[
            "compare",
            "--build",
            "a: bleed=1n",
            "--target",
            "keep highs from full to zero volume",
        ],
    ] {
        let told = refused(arguments);
        assert!(!told.is_empty());
    }
}
