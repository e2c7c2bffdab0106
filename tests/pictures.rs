//! Pictures: well-formed SVG (XML 1.0, by a general XML reader), axes and curves where they belong, texts that do not overlap, PNG that
//! shows something, text of 80 columns. Curves are held against the response they draw, corridors and deviations against the measures'
//! own definition; the smoothness against a second-order low-pass of high Q.

mod program;
mod support;

use std::sync::LazyLock;

use knobwright::circuit::Setting;
use knobwright::compare;
use knobwright::guitar::{Guitar, Slot};
use knobwright::inputs;
use knobwright::kernel::measure::{visit_points, worst_point};
use knobwright::kernel::plan::Plan;
use knobwright::kernel::response::response;
use knobwright::picture::{
    Asked, Curves, Label, Landscape, Picture, Quantity, Subject, View, Voice, deviations, levels, of_comparison, of_recommendation,
    of_response,
};
use knobwright::recommend::{Recommendation, Request, guitars, recommend};
use knobwright::report::{plot_png, plot_svg, plot_text};
use knobwright::search::exhaustive::Evaluator;
use knobwright::source::Source;
use knobwright::target::Target;
use resvg::tiny_skia::Pixmap;
use resvg::usvg::roxmltree::{Document, Node};
use support::*;

const FULL_AND_HALF: [Setting; 2] = [Setting::FULL, Setting { volume: 0.5, tone: 1.0 }];

fn target(name: &str) -> Target {
    inputs::target(Some(name)).unwrap()
}

fn guitar(name: &str) -> Guitar {
    inputs::guitar(Some(name)).unwrap()
}

/// A quick recommendation with values in E6.
fn recommended(guitar_name: &str, wish: &str, searches: &[&str]) -> (Request, Recommendation) {
    let mut request = Request::new(guitar(guitar_name), target(wish));
    request.explain = false;
    let slots = Slot::ALL.map(Slot::word);
    request
        .rules
        .add_series(&Source::inline("values", "R=E6,C=E6").passage(), &slots)
        .unwrap();
    for search in searches {
        let (word, network) = knobwright::parts::choice::read_assignment(&Source::inline("search", *search), &slots).unwrap();
        let slot = Slot::ALL.into_iter().find(|slot| slot.word() == word).unwrap();
        request.searches.push((slot, network));
    }
    let result = recommend(&request, &()).unwrap();
    (request, result)
}

fn compared(builds: &[&str], wish: Option<&str>) -> (compare::Request, compare::Comparison) {
    let request = compare::Request {
        guitar: guitar("wren-bridge"),
        with: Vec::new(),
        builds: builds
            .iter()
            .map(|text| compare::NamedBuild::read(&Source::inline("build", *text), &|name| inputs::guitar(Some(name))).unwrap())
            .collect(),
        present: true,
        target: wish.map(target),
        settings: None,
    };
    let result = compare::compare(&request).unwrap();
    (request, result)
}

/// Every kind of picture, easy and hard, computed once.
fn pictures() -> &'static [(String, Picture)] {
    static PICTURES: LazyLock<Vec<(String, Picture)>> = LazyLock::new(all_pictures);
    &PICTURES
}

fn all_pictures() -> Vec<(String, Picture)> {
    let mut pictures = Vec::new();
    for (name, wish, searches) in [
        ("wren-bridge", "highs-and-feel", &["bleed=R || C"][..]),
        ("plover-bridge", "less mud", &["tone=C", "series=C"]),
        (
            "heron-bridge",
            "cut highs by 6 to 12 dB at tone 0 and no bump at tone 0, 2.5",
            &["tone=R + C"],
        ),
    ] {
        let (request, result) = recommended(name, wish, searches);
        for view in [View::Knobs, View::Builds, View::Deviation, View::Landscape] {
            pictures.push((
                format!("{name} {view:?}"),
                of_recommendation(&request, &result, view, None, None).unwrap(),
            ));
        }
    }
    let builds = [
        "bench: bleed=120k || 1n",
        "drawer: bleed=100k + 1n5; tone=47n",
        "<&\"' a name of forty letters, all spent: bleed=1n",
    ];
    let (request, result) = compared(&builds, Some("highs-and-feel"));
    for view in [View::Builds, View::Deviation] {
        pictures.push((format!("compare {view:?}"), of_comparison(&request, &result, view, None).unwrap()));
    }
    let many = |count: u32| -> Vec<Setting> {
        (0..count)
            .map(|index| Setting {
                volume: 1.0 - f64::from(index) / 24.0,
                tone: f64::from(index % 3) / 2.0,
            })
            .collect()
    };
    for count in [1, 9, 24] {
        let picture = of_response(&guitar("wren-bridge"), &many(count), [80.0, 8000.0]).unwrap();
        pictures.push((format!("response of {count}"), picture));
    }
    pictures.push((
        "silence".to_owned(),
        of_response(&guitar("wren-bridge"), &[Setting { volume: 0.0, tone: 1.0 }], [20.0, 20e3]).unwrap(),
    ));
    pictures
}

fn with_class<'d>(document: &'d Document<'_>, class: &str) -> Vec<Node<'d, 'd>> {
    let found = document.descendants().filter(|node| node.attribute("class") == Some(class));
    found.collect::<Vec<_>>()
}

fn number(node: &Node<'_, '_>, name: &str) -> f64 {
    node.attribute(name).unwrap().parse().unwrap()
}

/// The texts of a group with the middles of their boxes.
fn labels(document: &Document<'_>, class: &str) -> Vec<(String, [f64; 2])> {
    let group = with_class(document, class);
    let texts = group[0].children().filter(|node| node.has_tag_name("text"));
    let middle = |text: Node<'_, '_>| {
        let at = [number(&text, "x") + number(&text, "textLength") / 2.0, number(&text, "y") - 5.5];
        (text.text().unwrap().to_owned(), at)
    };
    texts.map(middle).collect()
}

fn curves(picture: &Picture) -> &Curves {
    match picture {
        Picture::Curves(curves) => curves,
        Picture::Landscape(_) => panic!("no curves"),
    }
}

#[test]
fn every_picture_is_well_formed_and_has_no_number_that_is_none() {
    for (name, picture) in pictures() {
        let svg = plot_svg(picture);
        let document = Document::parse(&svg).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(
            document.root_element().has_tag_name(("http://www.w3.org/2000/svg", "svg")),
            "{name}"
        );
        for word in ["NaN", "inf", "href", "<script", "<image", "url("] {
            assert!(!svg.contains(word), "{name}: {word}");
        }
        assert!(svg.len() < 400_000, "{name}: {} bytes", svg.len());
        let json = serde_json::to_string(picture).unwrap();
        assert!(json.len() > 20, "{name}");
    }
}

#[test]
fn there_are_as_many_curves_as_asked_for_and_each_has_its_label() {
    for (name, picture) in pictures() {
        let Picture::Curves(curves) = picture else { continue };
        let svg = plot_svg(picture);
        let document = Document::parse(&svg).unwrap();
        assert_eq!(with_class(&document, "curve").len(), curves.curves.len(), "{name}");
        assert_eq!(labels(&document, "curve-labels").len(), curves.curves.len(), "{name}");
        let strands: usize = curves.curves.iter().map(|curve| curve.strands.len()).sum();
        assert_eq!(with_class(&document, "strand").len(), strands, "{name}");
        assert_eq!(with_class(&document, "worst").len(), usize::from(curves.worst.is_some()), "{name}");
        let styles: std::collections::HashSet<(String, String)> = with_class(&document, "strand")
            .iter()
            .map(|strand| {
                (
                    strand.attribute("stroke").unwrap().to_owned(),
                    strand.attribute("stroke-dasharray").unwrap_or("").to_owned(),
                )
            })
            .collect();
        let drawn = curves.curves.iter().filter(|curve| !curve.strands.is_empty()).count();
        assert_eq!(styles.len(), drawn, "{name}: colour and dash tell the curves apart");
    }
}

#[test]
fn the_frequency_axis_has_its_labels_in_their_places() {
    for (name, picture) in pictures() {
        let Picture::Curves(curves) = picture else { continue };
        let svg = plot_svg(picture);
        let document = Document::parse(&svg).unwrap();
        let found = labels(&document, "frequency-labels");
        let words: Vec<&str> = found.iter().map(|(text, _)| text.as_str()).collect();
        if curves.frequency_hz == [50.0, 10e3] {
            assert_eq!(words, ["50", "100", "200", "500", "1k", "2k", "5k", "10k"], "{name}");
            // Equal ratios are equal distances.
            assert_close(found[3].1[0] - found[0].1[0], found[7].1[0] - found[4].1[0], 0.02, name);
        } else {
            assert!(words.contains(&"100") && words.contains(&"10k"), "{name}");
        }
        let levels = labels(&document, "level-labels");
        assert!((3..=10).contains(&levels.len()), "{name}: {levels:?}");
    }
}

#[test]
fn no_text_lies_upon_another_or_beyond_the_edge() {
    for (name, picture) in pictures() {
        let svg = plot_svg(picture);
        let document = Document::parse(&svg).unwrap();
        let root = document.root_element();
        let (width, height) = (number(&root, "width"), number(&root, "height"));
        let mut boxes: Vec<(String, [f64; 4])> = Vec::new();
        for text in document
            .descendants()
            .filter(|node| node.has_tag_name("text") && node.attribute("transform").is_none())
        {
            let (x, y, size) = (number(&text, "x"), number(&text, "y"), number(&text, "font-size"));
            // Above the baseline a capital of this font reaches 0.73 of the size, below it a letter 0.21.
            let area = [x, y - 0.73 * size, x + number(&text, "textLength"), y + 0.21 * size];
            assert!(
                area[0] >= 0.0 && area[1] >= 0.0 && area[2] <= width && area[3] <= height,
                "{name}: {:?} {area:?}",
                text.text()
            );
            boxes.push((text.text().unwrap_or_default().to_owned(), area));
        }
        assert!(boxes.len() > 8, "{name}");
        for (index, (one, a)) in boxes.iter().enumerate() {
            for (other, b) in &boxes[..index] {
                let meet = a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3];
                // The word at the worst point may stand on a clause's name: it has a halo.
                assert!(!meet || one == "worst" || other == "worst", "{name}: `{one}` lies upon `{other}`");
            }
        }
    }
}

/// The points of a path of straight lines.
fn points(path: &str) -> Vec<[f64; 2]> {
    let pairs = path.split(['M', 'L', 'Z']).filter(|pair| !pair.is_empty());
    pairs
        .map(|pair| {
            let (x, y) = pair.split_once(' ').unwrap();
            [x.parse().unwrap(), y.parse().unwrap()]
        })
        .collect()
}

/// From a point to the nearest point of a line of many pieces.
fn distance(point: [f64; 2], line: &[[f64; 2]]) -> f64 {
    let to_piece = |pair: &[[f64; 2]]| {
        let [from, to] = [pair[0], pair[1]];
        let along = [to[0] - from[0], to[1] - from[1]];
        let length = along[0].hypot(along[1]).max(1e-12);
        let share = (((point[0] - from[0]) * along[0] + (point[1] - from[1]) * along[1]) / (length * length)).clamp(0.0, 1.0);
        (point[0] - from[0] - share * along[0]).hypot(point[1] - from[1] - share * along[1])
    };
    line.windows(2).map(to_piece).fold(f64::INFINITY, f64::min)
}

#[test]
fn curves_are_drawn_to_a_fraction_of_a_pixel() {
    // A low-pass of Q = 13: sharper than any pickup under load.
    let sharp = bare(2.5, 4500.0, 80e-12, 10e6, 400e-12, 10e6);
    for guitar in [sharp, guitar("wren-bridge"), guitar("plover-bridge")] {
        let picture = of_response(&guitar, &FULL_AND_HALF, [50.0, 10e3]).unwrap();
        let svg = plot_svg(&picture);
        let document = Document::parse(&svg).unwrap();
        let (x, y) = (labels(&document, "frequency-labels"), labels(&document, "level-labels"));
        let (left, right) = (x[0].1[0], x[7].1[0]);
        let level = |text: &str| text.replace('−', "-").parse::<f64>().unwrap();
        let (first, last) = (&y[0], y.last().unwrap());
        let scale = (last.1[1] - first.1[1]) / (level(&last.0) - level(&first.0));
        let place = |frequency: f64, db: f64| {
            [
                left + (frequency / 50.0).ln() / 200_f64.ln() * (right - left),
                first.1[1] + (db - level(&first.0)) * scale,
            ]
        };
        for (strand, setting) in with_class(&document, "strand").iter().zip(FULL_AND_HALF) {
            let line = points(strand.attribute("d").unwrap());
            // Three points between two of the curve's own.
            let dense: Vec<f64> = (0..5800).map(|step| 50.0 * 200_f64.powf(f64::from(step) / 5799.0)).collect();
            let mut farthest = 0.0_f64;
            for point in response(&guitar, &[setting], &dense) {
                farthest = farthest.max(distance(place(point.frequency_hz, point.level_db.unwrap()), &line));
            }
            assert!(farthest <= close::DRAWN_PIXELS, "{}: {farthest} pixels", guitar.name);
            assert!(line.len() < 800, "{} points", line.len());
        }
    }
}

#[test]
fn png_shows_the_picture_with_its_texts() {
    for (name, picture) in pictures().iter().step_by(3) {
        let pixels = Pixmap::decode_png(&plot_png(picture).unwrap()).unwrap();
        assert_eq!(pixels.width(), 1920, "{name}");
        let dark = |rows: std::ops::Range<u32>, limit: u8| {
            let inside = rows.flat_map(|row| (0..pixels.width()).map(move |column| (row, column)));
            inside
                .filter(|(row, column)| pixels.pixel(*column, *row).unwrap().green() < limit)
                .count()
        };
        let all = (pixels.width() * pixels.height()) as usize;
        let drawn = dark(0..pixels.height(), 250);
        assert!(drawn > all / 100 && drawn < all * 9 / 10, "{name}: {drawn} of {all}");
        // The title alone: without a font nothing would be there.
        assert!(dark(24..76, 120) > 400, "{name}: no title");
    }
}

#[test]
fn a_picture_needs_no_colour_to_be_read() {
    for (name, picture) in pictures() {
        let Picture::Curves(curves) = picture else { continue };
        let svg = plot_svg(picture);
        let document = Document::parse(&svg).unwrap();
        // The pieces of line beside the labels differ in dash or marker for any two neighbours in the list.
        let group = with_class(&document, "curve-labels")[0];
        let samples: Vec<String> = group
            .children()
            .filter(|node| node.has_tag_name("path") && node.attribute("stroke-width") == Some("2.3"))
            .map(|node| node.attribute("stroke-dasharray").unwrap_or("").to_owned())
            .collect();
        if curves.curves.len() <= 5 {
            let distinct: std::collections::HashSet<&String> = samples.iter().collect();
            assert_eq!(distinct.len(), samples.len(), "{name}");
        }
    }
}

#[test]
fn text_pictures_fit_eighty_columns_and_say_the_same_without_colour() {
    for (name, picture) in pictures() {
        let plain = plot_text(picture, false);
        assert!(!plain.contains('\u{1b}'), "{name}");
        for line in plain.lines() {
            assert!(line.chars().count() <= 80 && line.trim_end() == line, "{name}: {line}");
        }
        let coloured = plot_text(picture, true);
        let mut stripped = String::new();
        for (index, piece) in coloured.split("\u{1b}[").enumerate() {
            stripped.push_str(if index == 0 { piece } else { piece.split_once('m').unwrap().1 });
        }
        assert_eq!(stripped, plain, "{name}");
        if let Picture::Curves(curves) = picture {
            for (index, curve) in curves.curves.iter().enumerate() {
                let letter = char::from(b'a' + u8::try_from(index).unwrap());
                assert!(plain.contains(&format!("\n{letter} ")), "{name}: no legend for {letter}");
                let on_curve = plain
                    .lines()
                    .filter(|line| line.contains(['│', '┤']))
                    .any(|line| line.contains(letter));
                assert!(
                    on_curve || curve.strands.is_empty() || curves.curves.len() > 6,
                    "{name}: no {letter} on its curve"
                );
            }
        }
    }
}

#[test]
fn deviations_and_corridors_follow_the_definition() {
    let mut checked = 0;
    for (name, wish) in [
        ("wren-bridge", "highs-and-feel"),
        ("heron-bridge", "no bump at tone 0, 5"),
        ("plover-bridge", "less mud at half volume"),
        ("kestrel-bridge", "keep mids within 3 dB at tone 5, 2.5"),
    ] {
        let present = guitar(name);
        let mut build = present.clone();
        let bleed = knobwright::parts::network::Network::read(&Source::inline("test", "120k || 1n").passage()).unwrap();
        build.fit(Slot::Bleed, bleed);
        let target = target(wish);
        let plan = Plan::new(&build, &present, &target, &[]).unwrap();
        let settings = target.settings();
        let voices: Vec<Voice<'_>> = settings
            .iter()
            .map(|setting| Voice {
                label: Label::Position(*setting, None),
                guitar: &build,
                setting: *setting,
            })
            .collect();
        let asked = Asked {
            target: &target,
            present: &present,
            marked: 0,
            built: None,
        };
        let subject = || Subject::Build(std::collections::BTreeMap::new());
        let deviation = deviations(&voices, [50.0, 10e3], asked, subject());
        let level = levels(&voices, [50.0, 10e3], Some(asked), subject());
        assert_eq!((deviation.quantity, level.quantity), (Quantity::Deviation, Quantity::Level));
        let mut evaluator = Evaluator::new(&plan);
        let powers = evaluator.powers(&[], &[]).to_vec();
        visit_points(&plan, &powers, |point| {
            let curve = settings.iter().position(|setting| *setting == point.setting).unwrap();
            let strand = deviation.curves[curve]
                .strands
                .iter()
                .find(|strand| strand.clause == Some(point.clause));
            // Against itself at full there is nothing to see.
            let Some(strand) = strand else {
                assert_eq!(point.difference, 0.0);
                return;
            };
            let at = point.frequency.unwrap_or(strand.points[0][0]);
            let near = |points: &[f64]| points.iter().position(|frequency| (frequency / at - 1.0).abs() < 1e-9).unwrap();
            let drawn = strand.points[near(&strand.points.iter().map(|point| point[0]).collect::<Vec<_>>())][1];
            assert_close(drawn, point.difference, close::LEVEL_DB, wish);
            if let (Some(frequency), Some(most)) = (point.frequency, target.clauses[point.clause].at_most) {
                let corridor = level
                    .corridors
                    .iter()
                    .find(|corridor| corridor.curve == Some(curve) && corridor.clause == point.clause)
                    .unwrap();
                let bound = corridor.points[near(&corridor.points.iter().map(|bounds| bounds.frequency_hz).collect::<Vec<_>>())];
                let own = response(&build, &[point.setting], &[frequency])[0].level_db.unwrap();
                assert_close(bound.high_db.unwrap() - own, most - point.difference, close::LEVEL_DB, wish);
            }
            checked += 1;
        });
        let worst = worst_point(&plan, &powers).unwrap();
        let mark = deviation.worst.unwrap();
        assert_eq!(
            (mark.clause, mark.difference_db, mark.margin_db),
            (worst.clause, worst.difference, worst.margin)
        );
        assert_close(mark.at_db, worst.difference, close::LEVEL_DB, wish);
    }
    assert!(checked > 150, "{checked}");
}

/// A picture shows a travel's quarters; where the answer is worst at a half mark between, that is shown as well, and marked.
#[test]
fn the_worst_point_of_a_picture_is_that_of_the_answer() {
    let mut between = 0;
    for name in ["wren-bridge", "avocet-middle", "plover-bridge", "dunlin-bridge"] {
        let (request, result) = recommended(name, "highs-and-feel", &["bleed=R + C"]);
        let best = result.first().unwrap();
        for view in [View::Knobs, View::Deviation] {
            let picture = of_recommendation(&request, &result, view, None, None).unwrap();
            let mark = curves(&picture).worst.as_ref().unwrap();
            assert_close(mark.margin_db, best.margin_db, close::LEVEL_DB, name);
            let quarters = request.target.in_quarters().settings();
            let is_between = !quarters.contains(&best.worst.at);
            assert_eq!(curves(&picture).curves.len(), quarters.len() + usize::from(is_between), "{name}");
            between += usize::from(is_between);
        }
    }
    assert!(between >= 2, "{between} pictures of a worst half mark between quarters");
}

fn landscape(picture: &Picture) -> &Landscape {
    match picture {
        Picture::Landscape(landscape) => landscape,
        Picture::Curves(_) => panic!("no landscape"),
    }
}

#[test]
fn a_landscape_holds_the_margins_of_the_guitars_it_stands_for() {
    let (request, result) = recommended("wren-bridge", "highs-and-feel", &["bleed=R1 + (R2 || C)"]);
    let picture = of_recommendation(&request, &result, View::Landscape, None, Some(["bleed.R1", "bleed.C"])).unwrap();
    let drawn = landscape(&picture);
    assert_eq!((drawn.across.part.as_str(), drawn.up.part.as_str()), ("bleed.R1", "bleed.C"));
    let (present, build) = guitars(&request).unwrap();
    let held = drawn.held[0].1;
    assert_eq!(drawn.held[0].0, "bleed.R2");
    let margin = |first: f64, capacitance: f64| {
        let text = format!("{first} Ω + ({held} Ω || {}p)", capacitance * 1e12);
        let mut guitar = build.clone();
        guitar.fit(
            Slot::Bleed,
            knobwright::parts::network::Network::read(&Source::inline("test", text).passage()).unwrap(),
        );
        let plan = Plan::new(&guitar, &present, &request.target, &[]).unwrap();
        let mut evaluator = Evaluator::new(&plan);
        worst_point(&plan, evaluator.powers(&[], &[])).unwrap().margin
    };
    for (row, column) in [(0, 0), (10, 60), (40, 20), (71, 71)] {
        let expected = margin(drawn.across.grid[column], drawn.up.grid[row]);
        assert_close(drawn.margins_db[row][column].unwrap(), expected, close::FOUND, "margin");
    }
    assert_close(
        margin(drawn.across.chosen, drawn.up.chosen),
        drawn.chosen_db,
        close::FOUND,
        "chosen",
    );
    let best = drawn
        .margins_db
        .iter()
        .flatten()
        .flatten()
        .fold(f64::MIN, |best, margin| margin.max(best));
    assert!(
        best >= drawn.chosen_db - 0.3,
        "the chosen lies near the top: {best} {}",
        drawn.chosen_db
    );
    let svg = plot_svg(&picture);
    let document = Document::parse(&svg).unwrap();
    let dots = with_class(&document, "standard-values")[0]
        .attribute("d")
        .unwrap()
        .matches('M')
        .count();
    assert_eq!(dots, drawn.across.values.len() * drawn.up.values.len());
    assert_eq!(with_class(&document, "chosen").len(), 1);
    assert!(with_class(&document, "iso-line").len() >= 3);
    assert!(drawn.across.values.contains(&drawn.across.chosen));
}

#[test]
fn what_cannot_be_drawn_is_refused_and_nothing_is_written() {
    use program::*;
    let folder = tempfile::tempdir().unwrap();
    let quick = ["recommend", "--quiet", "--search", "bleed=C", "--values", "C=E3"];
    let file = folder.path().join("picture.gif");
    let gif = file.to_str().unwrap();
    for more in [
        &["--plot", gif][..],
        &["--plot", "picture"],
        &["--plot", "-", "--format", "csv"],
        &["--plot", "no/such/folder/picture.svg"],
        &["--plot-kind", "knobs"],
        &["--plot", "-", "--plot-kind", "landscape"],
        &["--plot", "-", "--plot-at", "11"],
        &["--plot", "-", "--plot-at", "10,10,10"],
        &["--plot", "-", "--plot-values", "bleed.C"],
    ] {
        refused(&with(&quick, more));
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    let volumes: Vec<String> = (1..=25).map(|index| format!("{}", f64::from(index) / 2.5)).collect();
    let told = refused(&["response", "--quiet", "--volume", &volumes.join(","), "--plot", "-"]);
    assert!(told.contains("cannot be told apart"), "{told}");
}

/// Before the search what no answer could show; after it the answer stands, and its status, whatever became of the picture.
#[test]
fn a_picture_that_there_is_not_costs_nothing_else() {
    use program::*;
    let folder = tempfile::tempdir().unwrap();
    // The knob that a bleed works at stands still, so that the best build is without one.
    let idle = [
        "recommend",
        "--builds",
        "0",
        "--target",
        "clearer-closed-tone",
        "--search",
        "bleed=R || C",
        "--values",
        "R=E3,C=E3",
    ];
    let told = refused(&with(
        &idle,
        &["--plot", "-", "--plot-kind", "landscape", "--plot-values", "bleed.R,bleed.X"],
    ));
    assert!(told.contains("no free part that is searched is called `bleed.X`"), "{told}");
    let plain = run(&idle);
    let picture = folder.path().join("picture.svg");
    for place in ["-", picture.to_str().unwrap()] {
        let output = run(&with(&idle, &["--plot", place, "--plot-kind", "landscape"]));
        let (answer, told) = (text(&output.stdout), text(&output.stderr));
        assert_eq!(output.status.code(), plain.status.code(), "{told}");
        assert!(
            told.contains("There is no picture: a landscape needs a build with two free parts."),
            "{told}"
        );
        let below = answer.strip_prefix(&text(&plain.stdout)).expect("the whole answer");
        assert_eq!(below.contains("There is no picture"), place == "-");
    }
    assert!(!picture.exists());
}

#[test]
fn pictures_are_written_beside_the_result() {
    use program::*;
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let quick = ["recommend", "--quiet", "--search", "bleed=R || C", "--values", "R=E3,C=E3"];
    let plain = text(&run(&quick).stdout);
    for (name, kind) in [
        ("a.svg", "knobs"),
        ("b.PNG", "deviation"),
        ("c.svg", "landscape"),
        ("d.png", "builds"),
    ] {
        let output = run(&with(&quick, &["--plot", &place(name), "--plot-kind", kind]));
        assert!(matches!(output.status.code(), Some(0 | 1)), "{}", text(&output.stderr));
        assert_eq!(text(&output.stdout), plain, "the result stays what it is");
        let bytes = std::fs::read(folder.path().join(name)).unwrap();
        if name.ends_with("svg") {
            Document::parse(&text(&bytes)).unwrap();
        } else {
            Pixmap::decode_png(&bytes).unwrap();
        }
    }
    let below = text(&run(&with(&quick, &["--plot", "-"])).stdout);
    assert!(below.starts_with(&plain) && below.len() > plain.len() + 1000);
    let csv = place("points.csv");
    let drawn = ends(&["response", "--quiet", "--format", "csv", "--output", &csv, "--plot", "-"], 0);
    assert!(drawn.contains("a volume 10") && std::fs::read_to_string(&csv).unwrap().starts_with("volume,"));
}

#[test]
fn a_response_is_drawn_as_wide_as_it_is_asked_for() {
    let picture = of_response(&guitar("wren-bridge"), &FULL_AND_HALF, [20.0, 20e3]).unwrap();
    assert_eq!(curves(&picture).frequency_hz, [20.0, 20e3]);
    assert_eq!(curves(&picture).curves.len(), 2);
}
