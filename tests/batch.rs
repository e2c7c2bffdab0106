//! `batch`: every guitar's answer is the main job's own, its sheet is written, and the list holds its parts. This project's own promises, no outside
//! source.

mod program;

const CATALOGUE: &str = "name,group,x_article,pickup.inductance,pickup.resistance,pickup.capacitance,volume.resistance,volume.taper,tone.resistance,\
                         tone.taper,tone.network,cable.capacitance\n\
                         \"Kittiwake, neck\",single coils,A-1,2.5 H,6 k,100 p,250 k,audio 15 %,250 k,audio 15 %,22n,500 p\n\
                         \"Kittiwake; neck\",single coils,A-2,2.9 H,6 k,100 p,250 k,audio 15 %,250 k,audio 15 %,22n,500 p\n\
                         Dove,,,5 H,8 k,120 p,500 k,audio 15 %,,,,500 p\n";

fn rows(text: &str) -> Vec<Vec<String>> {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    let rows = reader.records().map(|record| record.unwrap().iter().map(str::to_owned).collect());
    rows.collect()
}

#[test]
fn each_guitar_gets_the_answer_of_the_main_job() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("birds.csv"), CATALOGUE).unwrap();
    let asked = [
        "batch",
        "--guitars",
        "birds.csv",
        "--target",
        "less mud",
        "--builds",
        "100",
        "--sheets",
        "sheets",
        "--csv",
        "orders.csv",
        "--threads",
        "2",
    ];
    let output = program::run_in(folder.path(), &asked);
    assert!(matches!(output.status.code(), Some(0 | 1)), "{}", program::text(&output.stderr));
    let text = std::fs::read_to_string(folder.path().join("orders.csv")).unwrap();
    let rows = rows(&text);
    let column = |name: &str| {
        rows[0]
            .iter()
            .position(|own| own == name)
            .unwrap_or_else(|| panic!("no {name} in {:?}", rows[0]))
    };
    for guitar in ["Kittiwake, neck", "Kittiwake; neck", "Dove"] {
        let own: Vec<&Vec<String>> = rows.iter().filter(|row| row[column("guitar")] == guitar).collect();
        let of = format!("birds.csv#{guitar}");
        let alone = [
            "recommend",
            "--guitar",
            &of,
            "--target",
            "less mud",
            "--builds",
            "100",
            "--quiet",
            "--format",
        ];
        let json = program::run_in(folder.path(), &program::with(&alone, &["json"]));
        let json: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
        assert_eq!(own[0][column("answer")], json["answer"]["says"].as_str().unwrap(), "{guitar}");
        let margin: f64 = own[0][column("margin_db")].parse().unwrap();
        assert!((margin - json["answer"]["margin_db"].as_f64().unwrap()).abs() < 1e-9, "{guitar}");
        // The list of the main job begins with the answer: every row of its rank and margin.
        let list = program::run_in(folder.path(), &program::with(&alone, &["csv"]));
        let list = self::rows(&program::text(&list.stdout));
        let at = |name: &str| list[0].iter().position(|own| own == name).unwrap();
        let is_answer = |row: &&Vec<String>| [at("rank"), at("margin_db")].iter().all(|place| row[*place] == list[1][*place]);
        let parts: Vec<&Vec<String>> = list[1..]
            .iter()
            .take_while(is_answer)
            .filter(|row| row[at("quantity")] != "0")
            .collect();
        assert_eq!(own.len(), parts.len(), "{guitar}");
        for (row, part) in own.iter().zip(&parts) {
            for name in ["slot", "kind", "value_si", "iec_60062", "quantity"] {
                assert_eq!(row[column(name)], part[at(name)], "{guitar}");
            }
        }
    }
    let first = rows.iter().find(|row| row[column("guitar")] == "Kittiwake; neck").unwrap();
    assert_eq!(
        (first[column("group")].as_str(), first[column("x_article")].as_str()),
        ("single coils", "A-2")
    );
    let sheets: Vec<String> = {
        let entries = std::fs::read_dir(folder.path().join("sheets")).unwrap();
        let mut names: Vec<String> = entries.map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    };
    assert_eq!(sheets, ["dove.html", "kittiwake-neck-2.html", "kittiwake-neck.html"]);
    let sheet = std::fs::read_to_string(folder.path().join("sheets/kittiwake-neck-2.html")).unwrap();
    assert!(sheet.contains("Kittiwake; neck"), "another guitar's sheet");
}

#[test]
fn what_a_guitar_cannot_be_asked_stands_in_its_row() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("birds.csv"), CATALOGUE).unwrap();
    let asked = [
        "batch",
        "--guitars",
        "birds.csv",
        "--target",
        "clearer-closed-tone",
        "--builds",
        "0",
        "--quiet",
    ];
    let output = program::run_in(folder.path(), &asked);
    assert_eq!(output.status.code(), Some(1), "{}", program::text(&output.stderr));
    let rows = rows(&program::text(&output.stdout));
    let dove = rows.iter().find(|row| row[0] == "Dove").unwrap();
    assert!(dove[1] == "false" && dove[2].contains("the guitar has none"), "{dove:?}");
    let refused = program::run_in(folder.path(), &["batch", "--guitars", "birds.csv", "--csv", "birds.csv"]);
    assert_eq!(refused.status.code(), Some(2));
    assert_eq!(
        std::fs::read_to_string(folder.path().join("birds.csv")).unwrap(),
        CATALOGUE,
        "the input is lost"
    );
}
