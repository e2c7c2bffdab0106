//! Guitars of several pickups: every position and knob against modified nodal analysis by nalgebra (support/twin.rs), which solves each
//! EMF by itself and adds the voltages as complex numbers (superposition), and against what two equal coils must be: side by side half the
//! inductance and resistance and twice the capacitance, in series the reverse at twice the EMF.

mod program;
mod support;

use knobwright::circuit::{Setting, transfer};
use knobwright::guitar::whole::{View, Whole};
use knobwright::guitar::{Guitar, Slot};
use knobwright::parts::network::Network;
use knobwright::recommend::whole::recommend_whole;
use knobwright::recommend::{Request, recommend};
use knobwright::shipped::WHOLE_GUITARS;
use knobwright::source::Source;
use knobwright::target::Target;
use knobwright::tolerance::{Built, Spread, Tolerances, spreads, with_factors};
use num_complex::Complex64;
use support::twin::Netlist;
use support::*;

/// What a wiper at an end is to the twin.
const CLOSE_DB: f64 = 1e-9;

fn whole(text: &str) -> Whole {
    Whole::read(&Source::inline("guitar.toml", text)).unwrap_or_else(|error| panic!("{text}\n{}", error.picture()))
}

/// A small generator of its own, so that the draws are the same everywhere (Marsaglia's xorshift64, J. Stat. Software 8(14), 2003).
struct Random(u64);

impl Random {
    fn share(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        // Six figures, so that the text holds exactly what the twin calculates with.
        format!("{:.5e}", low * (high / low).powf(self.share())).parse().unwrap()
    }

    fn chance(&mut self, share: f64) -> bool {
        self.share() < share
    }

    fn rotation(&mut self) -> f64 {
        match self.share() {
            share if share < 0.3 => 1.0,
            share if share < 0.4 => 0.0,
            _ => 0.05 * (1.0 + (18.0 * self.share()).floor()),
        }
    }
}

#[derive(Clone)]
struct Pot {
    track: f64,
    network: Option<(f64, f64)>,
    at_output: bool,
    independent: bool,
}

impl Pot {
    fn draw(random: &mut Random) -> Self {
        Self {
            track: random.between(100e3, 1e6),
            network: random
                .chance(0.7)
                .then(|| (random.between(1e3, 1e6), random.between(100e-12, 100e-9))),
            at_output: random.chance(0.5),
            independent: random.chance(0.5),
        }
    }

    fn network(&self, key: &str) -> String {
        self.network
            .map_or(String::new(), |(r, c)| format!("{key} = \"{r}R + {}n\"\n", c * 1e9))
    }

    fn volume(&self, heading: &str, is_own: bool) -> String {
        let wiring = if is_own && self.independent {
            "wiring = \"independent\"\n"
        } else {
            ""
        };
        format!(
            "[{heading}]\nresistance = \"{}R\"\ntaper = \"linear\"\n{wiring}{}",
            self.track,
            self.network("bleed")
        )
    }

    fn tone(&self, heading: &str) -> String {
        let joint = if self.at_output { "output" } else { "pickup" };
        let network = self.network("network");
        format!(
            "[{heading}]\nresistance = \"{}R\"\ntaper = \"linear\"\njoined_at = \"{joint}\"\n{network}",
            self.track
        )
    }

    /// Between the lugs of a volume control at a rotation.
    fn wire_volume(&self, net: &mut Netlist, (input, output): (usize, usize), rotation: f64, is_own: bool) {
        let (upper, middle) = if is_own && self.independent {
            (output, input)
        } else {
            (input, output)
        };
        net.resistor(upper, middle, self.track * (1.0 - rotation));
        net.resistor(middle, 0, self.track * rotation);
        self.wire_network(net, upper, middle);
    }

    fn wire_tone(&self, net: &mut Netlist, (input, output): (usize, usize), rotation: f64) {
        let end = net.node();
        net.resistor(if self.at_output { output } else { input }, end, self.track * rotation);
        self.wire_network(net, end, 0);
    }

    fn wire_network(&self, net: &mut Netlist, from: usize, to: usize) {
        if let Some((r, c)) = self.network {
            let middle = net.node();
            net.resistor(from, middle, r);
            net.capacitor(middle, to, c);
        }
    }
}

struct Coil {
    inductance: f64,
    resistance: f64,
    capacitance: f64,
    loss: Option<(f64, f64)>,
    output_db: f64,
    series: Option<f64>,
    across: Option<f64>,
    volume: Option<Pot>,
    tone: Option<Pot>,
}

impl Coil {
    fn draw(random: &mut Random, may_have_controls: bool) -> Self {
        let inductance = random.between(1.0, 10.0);
        Self {
            inductance,
            resistance: random.between(2e3, 20e3),
            capacitance: random.between(30e-12, 400e-12),
            loss: random.chance(0.5).then(|| (random.between(0.1, 0.9), random.between(1e4, 1e6))),
            output_db: (random.share() * 12.0 - 6.0).round(),
            series: random.chance(0.3).then(|| random.between(1e-9, 100e-9)),
            across: random.chance(0.3).then(|| random.between(50e3, 1e6)),
            volume: (may_have_controls && random.chance(0.6)).then(|| Pot::draw(random)),
            tone: (may_have_controls && random.chance(0.5)).then(|| Pot::draw(random)),
        }
    }

    fn text(&self, name: &str) -> String {
        let loss = self.loss.map_or(String::new(), |(l, r)| {
            format!("loss = [{{ inductance = \"{l} H\", resistance = \"{r}R\" }}]\n")
        });
        let series = self.series.map_or(String::new(), |c| format!("series = \"{}n\"\n", c * 1e9));
        let across = self.across.map_or(String::new(), |r| format!("across = \"{r}R\"\n"));
        let mut text = format!(
            "[pickups.{name}]\ninductance = \"{} H\"\nresistance = \"{}R\"\ncapacitance = \"{}p\"\noutput = \"{} dB\"\n{loss}{series}{across}",
            self.inductance,
            self.resistance,
            self.capacitance * 1e12,
            self.output_db,
        );
        text.extend(self.volume.as_ref().map(|pot| pot.volume(&format!("pickups.{name}.volume"), true)));
        text.extend(self.tone.as_ref().map(|pot| pot.tone(&format!("pickups.{name}.tone"))));
        text
    }
}

/// A guitar, its positions as text and as trees.
struct Drawn {
    coils: Vec<Coil>,
    positions: Vec<(&'static str, &'static str)>,
    volume: Option<Pot>,
    tone: Option<Pot>,
}

const NAMES: [&str; 3] = ["neck", "middle", "bridge"];

impl Drawn {
    fn draw(random: &mut Random) -> Self {
        let with_series = random.chance(0.4);
        let coils: Vec<Coil> = (0..3).map(|_| Coil::draw(random, !with_series)).collect();
        let mut positions = vec![
            ("n", "neck"),
            ("nb", "neck || bridge"),
            ("nmb", "neck || -middle || bridge"),
            ("b", "-bridge"),
            ("m", "middle"),
        ];
        if with_series {
            positions.push(("s", "neck + bridge"));
            positions.push(("t", "-neck + middle || bridge"));
            positions.push(("u", "middle || (neck + -bridge)"));
        }
        let all_have_volume = coils.iter().all(|coil| coil.volume.is_some());
        let has_volume = !all_have_volume || random.chance(0.5);
        Self {
            volume: has_volume.then(|| Pot::draw(random)),
            tone: random.chance(0.6).then(|| Pot::draw(random)),
            coils,
            positions,
        }
    }

    fn text(&self) -> String {
        let mut text = "name = \"Drawn\"\n".to_owned();
        text.extend(self.coils.iter().zip(NAMES).map(|(coil, name)| coil.text(name)));
        text.push_str("[selector]\n");
        text.extend(self.positions.iter().map(|(name, written)| format!("{name} = \"{written}\"\n")));
        text.extend(self.volume.as_ref().map(|pot| pot.volume("volume", false)));
        text.extend(self.tone.as_ref().map(|pot| pot.tone("tone")));
        text + "[cable]\ncapacitance = \"500p\"\n"
    }

    /// V/E in a position, where each knob stands by its name, by superposition.
    fn voltage(&self, position: &str, rotation: &dyn Fn(&str) -> f64, frequency: f64) -> Complex64 {
        let mut net = Netlist::new(frequency);
        let output = net.node();
        let meeting = if self.volume.is_some() { net.node() } else { output };
        // Every EMF: its coil, the sign, the node below it and the node that it drives.
        let mut sources: Vec<(usize, f64, usize, usize)> = Vec::new();
        let mut coil = |net: &mut Netlist, which: usize, sign: f64, cold: usize, hot: usize| {
            let own = &self.coils[which];
            let (driven, mut here) = (net.node(), net.node());
            sources.push((which, sign, cold, driven));
            net.resistor(driven, here, own.resistance);
            let end = net.node();
            let lossless = own.inductance - own.loss.map_or(0.0, |(l, _)| l);
            if let Some((l, r)) = own.loss {
                let next = net.node();
                net.inductor(here, next, l);
                net.resistor(here, next, r);
                here = next;
            }
            net.inductor(here, end, lossless);
            net.capacitor(end, cold, own.capacitance);
            let lug = if own.volume.is_some() { net.node() } else { hot };
            match own.series {
                Some(c) => net.capacitor(end, lug, c),
                None => net.resistor(end, lug, 0.0),
            }
            if let Some(r) = own.across {
                net.resistor(lug, 0, r);
            }
            if let Some(pot) = &own.volume {
                pot.wire_volume(net, (lug, hot), rotation(&format!("{} volume", NAMES[which])), true);
            }
            if let Some(pot) = &own.tone {
                pot.wire_tone(net, (lug, hot), rotation(&format!("{} tone", NAMES[which])));
            }
        };
        let (neck, middle, bridge) = (0, 1, 2);
        match position {
            "n" => coil(&mut net, neck, 1.0, 0, meeting),
            "b" => coil(&mut net, bridge, -1.0, 0, meeting),
            "m" => coil(&mut net, middle, 1.0, 0, meeting),
            "nb" => [neck, bridge].into_iter().for_each(|which| coil(&mut net, which, 1.0, 0, meeting)),
            "nmb" => [(neck, 1.0), (middle, -1.0), (bridge, 1.0)]
                .into_iter()
                .for_each(|(which, sign)| coil(&mut net, which, sign, 0, meeting)),
            "s" => {
                let between = net.node();
                coil(&mut net, neck, 1.0, 0, between);
                coil(&mut net, bridge, 1.0, between, meeting);
            }
            "t" => {
                let between = net.node();
                coil(&mut net, neck, -1.0, 0, between);
                coil(&mut net, middle, 1.0, between, meeting);
                coil(&mut net, bridge, 1.0, between, meeting);
            }
            _ => {
                let between = net.node();
                coil(&mut net, middle, 1.0, 0, meeting);
                coil(&mut net, neck, 1.0, 0, between);
                coil(&mut net, bridge, -1.0, between, meeting);
            }
        }
        if let Some(pot) = &self.volume {
            pot.wire_volume(&mut net, (meeting, output), rotation("volume"), false);
        }
        if let Some(pot) = &self.tone {
            pot.wire_tone(&mut net, (meeting, output), rotation("tone"));
        }
        net.capacitor(output, 0, 500e-12);
        net.resistor(output, 0, 1e6);
        let mut sum = Complex64::ZERO;
        for index in 0..sources.len() {
            // The others are wires.
            let mut others = net.clone();
            for (_, (_, _, cold, driven)) in sources.iter().enumerate().filter(|(other, _)| *other != index) {
                others.resistor(*driven, *cold, 0.0);
            }
            let (which, sign, cold, driven) = sources[index];
            let ratio = sign * 10.0_f64.powf(self.coils[which].output_db / 20.0);
            sum += others.driven(cold, driven, output) * ratio;
        }
        sum
    }
}

/// Which knob of the guitar a view turns.
fn knobs_of(view: &str, drawn: &Drawn) -> [Option<String>; 2] {
    let shared_tone = drawn.tone.is_some().then(|| "tone".to_owned());
    let owners = drawn.coils.iter().filter(|coil| coil.volume.is_some()).count();
    let are_several = owners + usize::from(drawn.volume.is_some()) > 1;
    if view == "tone" {
        let first = drawn.coils.iter().position(|coil| coil.volume.is_some()).unwrap();
        return [Some(format!("{} volume", NAMES[first])), shared_tone];
    }
    if let Some(name) = view.strip_suffix(" tone") {
        return [Some("volume".to_owned()), Some(format!("{name} tone"))];
    }
    match NAMES.iter().position(|name| *name == view) {
        Some(which) => {
            let own = drawn.coils[which].tone.is_some().then(|| format!("{view} tone"));
            [Some(format!("{view} volume")), own.or(shared_tone.filter(|_| !are_several))]
        }
        None => [Some("volume".to_owned()), shared_tone],
    }
}

#[test]
fn every_position_and_knob_is_the_sum_of_its_sources() {
    let mut random = Random(0x9E37_79B9_7F4A_7C15);
    let (mut seen, mut worst) = (0, 0.0_f64);
    for _ in 0..400 {
        let drawn = Drawn::draw(&mut random);
        for view in whole(&drawn.text()).views {
            let [volume, tone] = knobs_of(&view.name, &drawn);
            let judged = view.guitar.cases.iter().map(|case| (case.name.clone(), view.guitar.in_case(case)));
            let mut seen_in: Vec<(String, Guitar)> = judged.collect();
            seen_in.extend(view.elsewhere.iter().map(|case| (case.name.clone(), view.guitar.in_case(case))));
            for (position, guitar) in seen_in {
                let setting = Setting {
                    volume: random.rotation(),
                    tone: random.rotation(),
                };
                let frequency = random.between(20.0, 20e3);
                let rotation = |knob: &str| match knob {
                    _ if Some(knob) == volume.as_deref() => setting.volume,
                    _ if Some(knob) == tone.as_deref() => setting.tone,
                    _ => 1.0,
                };
                let expected = drawn.voltage(&position, &rotation, frequency);
                let got = transfer(&guitar, setting, frequency);
                let miss = (got - expected).norm() / expected.norm().max(1e-9);
                worst = worst.max(miss);
                assert!(
                    miss < 1e-9,
                    "{}\nview {}, position {position}, {setting:?}, {frequency} Hz: got {got}, expected {expected}",
                    drawn.text(),
                    view.name
                );
                seen += 1;
            }
        }
    }
    assert!(seen > 2000, "only {seen} were compared");
    println!("{seen} compared, off by at most {worst:e}");
}

const CONTROLS: &str = "[volume]\nresistance = \"500k\"\ntaper = \"linear\"\n[tone]\nresistance = \"500k\"\ntaper = \"linear\"\nnetwork = \"22n\"\n\
                        [cable]\ncapacitance = \"600p\"\n";

fn two_equal(position: &str) -> Guitar {
    let coil = "inductance = \"4.4 H\"\nresistance = \"8k\"\ncapacitance = \"120p\"\n";
    let text = format!("[pickups.neck]\n{coil}[pickups.bridge]\n{coil}[selector]\nboth = \"{position}\"\n{CONTROLS}");
    whole(&text).only().unwrap()
}

fn one(inductance: f64, resistance: f64, capacitance: f64) -> Guitar {
    let text =
        format!("[pickup]\ninductance = \"{inductance} H\"\nresistance = \"{resistance}R\"\ncapacitance = \"{capacitance}p\"\n{CONTROLS}");
    whole(&text).only().unwrap()
}

#[test]
fn two_equal_pickups_are_one() {
    let cases = [
        (two_equal("neck || bridge"), one(2.2, 4e3, 240.0), 0.0),
        (two_equal("neck + bridge"), one(8.8, 16e3, 60.0), 20.0 * 2.0_f64.log10()),
        (two_equal("-neck + -bridge"), one(8.8, 16e3, 60.0), 20.0 * 2.0_f64.log10()),
    ];
    for (two, one, louder) in cases {
        for (volume, tone) in [(1.0, 1.0), (0.5, 1.0), (0.7, 0.0), (1.0, 0.3)] {
            for frequency in [50.0, 400.0, 2e3, 4e3, 10e3, 20e3] {
                let at = |guitar| decibels(transfer(guitar, setting(volume, tone), frequency));
                assert_close(at(&two), at(&one) + louder, CLOSE_DB, "two pickups as one");
            }
        }
    }
    // Out of phase and equal: nothing is left.
    let level = decibels(transfer(&two_equal("neck || -bridge"), Setting::FULL, 1e3));
    assert!(level < -250.0, "{level} dB are left");
}

/// Two pickups with a volume control each, wired either way.
fn own_volumes(wiring: &str) -> Whole {
    let coil = |name: &str| {
        format!(
            "[pickups.{name}]\ninductance = \"4.4 H\"\nresistance = \"8k\"\ncapacitance = \"120p\"\n\
             [pickups.{name}.volume]\nresistance = \"500k\"\ntaper = \"linear\"\nwiring = \"{wiring}\"\n"
        )
    };
    let text = format!(
        "name = \"Two\"\n{}{}[selector]\nneck = \"neck\"\nboth = \"neck || bridge\"\nbridge = \"bridge\"\n[cable]\ncapacitance = \"600p\"\n",
        coil("neck"),
        coil("bridge")
    );
    whole(&text)
}

#[test]
fn one_volume_at_zero_silences_both_only_where_they_are_joined() {
    let both = |wiring: &str| {
        let whole = own_volumes(wiring);
        let view = whole.views.into_iter().find(|view| view.name == "neck").unwrap();
        view.guitar.in_case(view.elsewhere.iter().find(|case| case.name == "both").unwrap())
    };
    let (joined, independent) = (both("joined"), both("independent"));
    for frequency in [100.0, 1e3, 5e3] {
        let [open, closed] = [1.0, 0.0].map(|volume| setting(volume, 1.0));
        assert_eq!(transfer(&joined, closed, frequency), Complex64::ZERO, "joined: silent");
        assert!(
            decibels(transfer(&independent, closed, frequency)) > -20.0,
            "independent: the other still sounds"
        );
        let [one, other] = [&joined, &independent].map(|guitar| decibels(transfer(guitar, open, frequency)));
        assert_close(one, other, CLOSE_DB, "both at full");
    }
}

#[test]
fn a_lone_pickup_among_pickups_is_a_guitar_of_one() {
    let text = std::fs::read_to_string("stock-values/guitars/plover-bridge.toml").unwrap();
    let single = Guitar::read(&Source::inline("plover-bridge", text.as_str())).unwrap();
    let plural = text.replace("[pickup]", "[pickups.only]").replace("[pickup.", "[pickups.only.");
    let plural = Guitar::read(&Source::inline("plover-bridge", plural.as_str())).unwrap();
    assert_eq!(single, plural);
}

const KEEP: &str = "[[clause]]\nmeasure = \"level\"\nagainst = \"full\"\nband = [1500, 4000]\nvolume = [10, 7, 5]\nat_least = -3\n\
                    [[clause]]\nmeasure = \"level\"\nagainst = \"present\"\nband = [100, 1000]\nover = \"mean\"\nvolume = [7, 3]\n\
                    at_least = -2\nat_most = 2\n";

fn keep() -> Target {
    Target::read(&Source::inline("keep.toml", KEEP)).unwrap_or_else(|error| panic!("{}", error.picture()))
}

/// Drawn guitars, each view that has more than one position to be judged in.
fn views_of_many_positions(count: usize) -> Vec<View> {
    let mut random = Random(0x2545_F491_4F6C_DD1D);
    let mut found = Vec::new();
    while found.len() < count {
        let views = whole(&Drawn::draw(&mut random).text()).views;
        found.extend(views.into_iter().filter(|view| view.guitar.cases.len() > 1));
    }
    found
}

fn network(written: &str) -> Network {
    Network::read(&Source::inline("network", written).passage()).unwrap().unwrap()
}

/// The margin of a guitar as it is, by the slow recommender's own definitions.
fn slow_margin(build: &Guitar, present: &Guitar, target: &Target) -> Option<f64> {
    let fitted = support::naive::Candidate::new([(Slot::Bleed, build.volume.bleed.clone())]);
    let ranked = support::naive::rank(present, build, target, vec![fitted]);
    ranked.first().map(|ranked| ranked.margin_db)
}

/// The list over all positions is that of a recommender which fits every candidate in every position and takes the smallest margin.
#[test]
fn the_list_over_positions_is_a_naive_one() {
    let values = [100e-12, 220e-12, 470e-12, 1e-9, 2.2e-9, 4.7e-9, 10e-9];
    let mut compared = 0;
    for view in views_of_many_positions(24) {
        let mut request = Request::new(view.guitar.clone(), keep());
        request.searches = vec![(Slot::Bleed, Some(network("C")))];
        let slots = Slot::ALL.map(Slot::word);
        let (series, range) = (Source::inline("--values", "C=E3"), Source::inline("--range", "C=100p..10n"));
        request.rules.add_series(&series.passage(), &slots).unwrap();
        request.rules.add_ranges(&range.passage(), &slots).unwrap();
        request.top = 100;
        request.at_any_price = true;
        request.lot = None;
        // Some positions are silent: no target can be judged there.
        let Ok(found) = recommend(&request, &()) else { continue };
        let margin = |bleed: Option<Network>| {
            let margins = view.guitar.cases.iter().map(|case| {
                let present = view.guitar.in_case(case);
                let mut build = present.clone();
                build.fit(Slot::Bleed, bleed.clone());
                slow_margin(&build, &present, &keep())
            });
            margins
                .collect::<Option<Vec<f64>>>()
                .map(|margins| margins.into_iter().fold(f64::INFINITY, f64::min))
        };
        // What is there can be left out as well.
        let candidates = values.iter().map(|farads| Some(c(*farads))).chain([None]);
        let mut naive: Vec<f64> = candidates.filter_map(margin).collect();
        naive.sort_by(|one, other| other.total_cmp(one));
        let mut listed: Vec<f64> = found.builds.iter().map(|build| build.margin_db).collect();
        // Builds within 0.01 dB of each other are one group, ranked by other figures.
        assert!(listed.windows(2).all(|pair| pair[0] > pair[1] - 0.0101), "{listed:?}");
        listed.sort_by(|one, other| other.total_cmp(one));
        let slots: Vec<_> = found.builds.iter().map(|build| &build.slots).collect();
        assert_eq!(listed.len(), naive.len(), "{}: {slots:?}", view.guitar.name);
        for (listed, naive) in listed.iter().zip(&naive) {
            assert_close(*listed, *naive, 1e-7, "margin over all positions");
        }
        compared += 1;
    }
    assert!(compared >= 15, "only {compared} lists");
}

/// Each value off its mark by a factor of its own: the planned way against the plain solve of the guitar with these values, in every
/// position, where one coil or one pot has one value in all of them.
#[test]
fn built_guitars_have_one_value_in_every_position() {
    let mut random = Random(0x1234_5678_9ABC_DEF1);
    let mut compared = 0;
    for view in views_of_many_positions(12) {
        let guitar = &view.guitar;
        let varied: Vec<Spread> = spreads(guitar, &Tolerances::default(), None);
        let mut origins: Vec<_> = varied.iter().map(|spread| spread.origin).collect();
        origins.sort();
        origins.dedup();
        assert_eq!(origins.len(), varied.len(), "one spread for each value");
        let Ok(built) = Built::new(guitar, guitar, &keep(), varied.clone()) else {
            continue;
        };
        let row: Vec<f64> = varied.iter().map(|_| 0.8 + 0.4 * random.share()).collect();
        let fast = built.margins_at(std::slice::from_ref(&row))[0];
        let off = with_factors(guitar, &varied, &row);
        let margins = off.cases.iter().map(|case| {
            let own = off.in_case(case);
            slow_margin(&own, &own, &keep()).expect("it sounds")
        });
        assert_close(fast, margins.fold(f64::INFINITY, f64::min), 1e-7, "margin of a built guitar");
        compared += 1;
    }
    assert!(compared >= 8, "only {compared} guitars");
}

fn text_of(name: &str) -> &'static str {
    WHOLE_GUITARS.iter().find(|file| file.name == name).expect("shipped").text
}

fn sample(name: &str) -> Whole {
    whole(text_of(name))
}

#[test]
fn every_sample_is_read_and_sounds_in_every_position() {
    assert_eq!(WHOLE_GUITARS.len(), 9);
    for file in WHOLE_GUITARS {
        let whole = sample(file.name);
        assert!(!whole.positions.is_empty(), "{}", file.name);
        for view in &whole.views {
            for case in view.positions() {
                let guitar = view.guitar.in_case(case);
                let level = decibels(transfer(&guitar, Setting::FULL, 500.0));
                assert!(
                    (-25.0..10.0).contains(&level),
                    "{}, {}, {}: {level} dB",
                    file.name,
                    view.name,
                    case.name
                );
            }
        }
    }
}

/// One pickup of a sample with its own knobs, as a guitar of one pickup.
fn alone(name: &str, pickup: &str, next: &str) -> Guitar {
    let text = text_of(name);
    let from = text.find(&format!("[pickups.{pickup}]")).unwrap();
    let to = text.find(next).unwrap();
    let own = text[from..to]
        .replace(&format!("[pickups.{pickup}]"), "[pickup]")
        .replace(&format!("[pickups.{pickup}."), "[");
    let rest = &text[text.find("[cable]").unwrap()..];
    Guitar::read(&Source::inline("alone", format!("{own}{rest}"))).unwrap_or_else(|error| panic!("{}", error.picture()))
}

/// Each pickup's own answer is that of the guitar with this pickup alone, and the same parts at both cost what they cost.
#[test]
fn an_answer_for_each_volume_knob_is_that_of_its_pickup_alone() {
    let whole = sample("bustard");
    let target = wish("keep highs");
    let views = whole.asked_by(&target);
    let asked = |guitar: Guitar| {
        let mut request = Request::new(guitar, target.clone());
        request.lot = None;
        request
    };
    let requests: Vec<Request> = views.iter().map(|view| asked(view.guitar.clone())).collect();
    let found = recommend_whole(&whole, &views, &requests, &()).unwrap();
    let guitars = [
        ("neck", alone("bustard", "neck", "[pickups.bridge]")),
        ("bridge", alone("bustard", "bridge", "[selector]")),
    ];
    assert_eq!(found.controls.len(), guitars.len());
    for (control, (knobs, guitar)) in found.controls.iter().zip(guitars) {
        assert_eq!(control.knobs, knobs);
        let expected = recommend(&asked(guitar), &()).unwrap();
        assert_eq!(control.recommendation.answer.slots, expected.answer.slots);
        assert_close(
            control.recommendation.answer.margin_db,
            expected.answer.margin_db,
            CLOSE_DB,
            "margin",
        );
    }
    let same = found.same_parts.as_ref().expect("both are fitted");
    for (control, request) in found.controls.iter().zip(&requests) {
        let mut build = request.guitar.clone();
        same.slots
            .iter()
            .for_each(|(slot, written)| build.fit(*slot, Some(network(written))));
        let slow = slow_margin(&build, &request.guitar, &request.target).expect("it sounds");
        assert_close(same.margins_db[&control.knobs], slow, 1e-7, "the same parts");
    }
    let cost = found
        .controls
        .iter()
        .map(|control| control.recommendation.answer.margin_db - same.margins_db[&control.knobs]);
    assert_close(same.costs_db, cost.fold(f64::NEG_INFINITY, f64::max), 1e-12, "what they cost");
    assert_eq!(found.together.len(), 2);
    assert!(found.together.iter().all(|both| both.silent_at_zero && both.position == "both"));
}

#[test]
fn the_knobs_that_a_wish_turns_are_asked() {
    let asked = |guitar: &str, phrase: &str| {
        let (whole, target) = (sample(guitar), wish(phrase));
        whole.asked_by(&target).iter().map(|view| view.name.clone()).collect::<Vec<_>>()
    };
    assert_eq!(asked("sandpiper", "keep highs"), ["volume"]);
    assert_eq!(
        asked("sandpiper", "cut highs by 6 to 12 dB at tone 0"),
        ["neck tone", "middle tone"]
    );
    assert_eq!(asked("bustard", "cut highs by 6 to 12 dB at tone 0"), ["neck", "bridge"]);
    assert_eq!(asked("gannet", "keep highs"), ["neck", "bridge", "volume"]);
    // A tone knob for all is changed once, and what is wished with everything at full is done behind the selector.
    assert_eq!(asked("gannet", "cut highs by 6 to 12 dB at tone 0"), ["volume"]);
    assert_eq!(asked("pelican", "cut highs by 6 to 12 dB at tone 0"), ["tone"]);
    assert_eq!(asked("gannet", "less mud"), ["volume"]);
    assert_eq!(asked("pelican", "less mud"), ["neck", "bridge"]);
}

/// What is contradictory is refused at its place, in words that name it.
#[test]
fn contradictions_are_refused() {
    let both = "both = \"neck || bridge\"";
    let refused = [
        (both, "both = \"neck || brigde\"", "no pickup is called `brigde`"),
        (both, "both = \"neck + bridge\"", "controls of its own"),
        (both, "both = \"neck || neck\"", "stands twice in one position"),
        (both, "both = \"neck.split\"", "has no state `split`"),
        (both, "both = \"(neck || bridge\"", "a parenthesis is not closed"),
        (both, "both = \"neck bridge\"", "does not continue a position"),
        (both, "both = \"\"", "expected the name of a pickup"),
        ("[selector]", "[pickup]\n[selector]", "not both"),
        ("[cable]", "[[case]]\ninductance = \"3 H\"\n[cable]", "of which pickup"),
        (
            "inductance = \"4.2 H\"",
            "inductance = \"4.2 H\"\noutput = \"loud\"",
            "is no output level",
        ),
        (
            "inductance = \"4.2 H\"",
            "inductance = \"4.2 H\"\nwinding = 3",
            "unknown key `winding`",
        ),
    ];
    for (from, to, expected) in refused {
        let wrong = text_of("bustard").replacen(from, to, 1);
        assert_ne!(text_of("bustard"), wrong);
        let error = Whole::read(&Source::inline("wrong.toml", wrong)).expect_err(expected);
        assert!(error.picture().contains(expected), "{}", error.picture());
    }
    let error = Guitar::read(&Source::inline("bustard", text_of("bustard"))).expect_err("whose knobs?");
    assert!(error.picture().contains("--knobs \"neck\""), "{}", error.picture());
}

#[test]
fn the_program_answers_for_every_knob() {
    let asked = ["recommend", "--guitar", "bustard", "keep", "highs", "--builds", "0"];
    // The neck's answer only comes close: the status of the whole is that of its worst.
    let screen = program::ends(&asked, 1);
    for begins in [
        "Neck: Fit a treble bleed",
        "Bridge: Fit a treble bleed",
        "The same parts do at all of them",
        "In the position \"both\"",
    ] {
        assert!(screen.lines().any(|line| line.starts_with(begins)), "no `{begins}` in\n{screen}");
    }
    let json: serde_json::Value = serde_json::from_str(&program::ends(&program::with(&asked, &["--format", "json"]), 1)).unwrap();
    let knobs: Vec<&str> = json["controls"]
        .as_array()
        .unwrap()
        .iter()
        .map(|control| control["knobs"].as_str().unwrap())
        .collect();
    assert_eq!(knobs, ["neck", "bridge"]);
    assert_eq!(json["controls"][1]["recommendation"]["answer"]["kind"], "fit");
    assert_eq!(json["together"][0]["position"], "both");
    assert!(json["same_parts"]["margins_db"]["neck"].is_number());
    let refused = program::run(&program::with(&asked, &["--page", "never.html"]));
    assert_eq!(refused.status.code(), Some(2));
    assert!(program::text(&refused.stderr).contains("--knobs \"neck\"") && !std::path::Path::new("never.html").exists());
    // What the message says works when typed.
    program::ends(&program::with(&asked, &["--knobs", "neck"]), 1);
}

#[test]
fn a_response_names_its_positions() {
    let asked = [
        "response",
        "--guitar",
        "bustard",
        "--knobs",
        "neck",
        "--frequencies",
        "1k",
        "--format",
        "csv",
    ];
    let csv = program::ends(&asked, 0);
    let lines: Vec<&str> = csv.lines().collect();
    assert_eq!(lines[0], "position,volume,tone,frequency_hz,level_db,phase_deg");
    let named: Vec<&str> = lines[1..].iter().filter_map(|line| line.split(',').next()).collect();
    assert_eq!(named, ["neck", "both"]);
    let both = program::ends(&program::with(&asked, &["--position", "both"]), 0);
    let figures = |line: &str| line.split(',').rev().take(3).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(figures(both.lines().nth(1).unwrap()), figures(lines[2]));
}

/// Where each view is judged, and where else its knobs do something: from the files, by hand.
#[test]
fn each_view_is_judged_in_all_its_positions() {
    let names = |cases: &[knobwright::guitar::Case]| cases.iter().map(|case| case.name.clone()).collect::<Vec<_>>();
    let view = |guitar: &str, knobs: &str| sample(guitar).views.into_iter().find(|view| view.name == knobs).expect(knobs);
    let lapwing = view("lapwing", "volume");
    assert_eq!(names(&lapwing.guitar.cases), ["bridge", "both", "neck", "series"]);
    let sandpiper = view("sandpiper", "neck tone");
    assert_eq!(names(&sandpiper.guitar.cases), ["neck", "neck and middle"]);
    assert_eq!(view("sandpiper", "volume").guitar.cases.len(), 5);
    // One position alone is the guitar as it is.
    let bustard = view("bustard", "neck");
    assert!(bustard.guitar.cases.is_empty());
    assert_eq!(
        (names(&bustard.judged), names(&bustard.elsewhere)),
        (vec!["neck".to_owned()], vec!["both".to_owned()])
    );
    assert_eq!(names(&bustard.seen_everywhere(&[]).cases), ["neck", "both"]);
    // Where no position is free of another's volume knob, all count.
    assert_eq!(names(&view("pelican", "neck").judged), ["all"]);
    // What-if cases of the file are asked in every position.
    let text = text_of("lapwing").replace(
        "[input]",
        "[[case]]\nname = \"long\"\ncable = \"900p\"\n[[case]]\nname = \"as-is\"\n[input]",
    );
    let crossed = whole(&text).views.remove(0).guitar;
    assert_eq!(names(&crossed.cases)[..3], ["bridge, long", "bridge, as-is", "both, long"]);
    assert_eq!(crossed.cases.len(), 8);
}

/// What is about one guitar in one position says so, where it would otherwise take the first or another guitar's pickups.
#[test]
fn what_needs_one_position_asks_for_it() {
    let folder = tempfile::tempdir().unwrap();
    let sweep = folder.path().join("sweep.csv");
    std::fs::write(&sweep, "frequency_hz,level_db\n100,0\n1000,0\n3000,2\n5000,0\n8000,-6\n").unwrap();
    let sweep = sweep.to_str().unwrap();
    let refused = program::refused(&["verify", "--guitar", "lapwing", "--measured", sweep]);
    assert!(refused.contains("--position: bridge, both, neck, series"), "{refused}");
    program::ends(&["verify", "--guitar", "lapwing", "--position", "both", "--measured", sweep], 0);
    for (guitar, other) in [("lapwing", "wren-bridge"), ("wren-bridge", "lapwing")] {
        let build = format!("other: guitar={other}");
        let refused = program::refused(&["compare", "--guitar", guitar, "--build", &build]);
        assert!(refused.contains("one position of the selector"), "{refused}");
    }
    let refused = program::refused(&["identify", "--guitar", "lapwing", "--jack", sweep]);
    assert!(refused.contains("about one pickup"), "{refused}");
}

/// The cases asked for count in a response whatever the guitar, and the sample taken is named.
#[test]
fn a_response_is_of_the_cases_asked_for() {
    let asked = [
        "response",
        "--frequencies",
        "1k",
        "--format",
        "csv",
        "--case",
        "cable=900p",
        "--case",
        "as-is",
    ];
    let output = program::run(&asked);
    let csv = program::text(&output.stdout);
    let named: Vec<&str> = csv.lines().filter_map(|line| line.split(',').next()).collect();
    assert_eq!(named, ["case", "cable 900 pF", "as-is"]);
    assert!(program::text(&output.stderr).contains("No --guitar given"));
    let crossed = program::ends(&program::with(&asked, &["--guitar", "lapwing"]), 0);
    let named: Vec<&str> = crossed.lines().skip(1).map(|line| line.split("\",").next().unwrap()).collect();
    assert_eq!(named.len(), 8, "{crossed}");
    assert!(
        named[0].contains("bridge, cable 900 pF") && named[7].contains("series, as-is"),
        "{crossed}"
    );
}
