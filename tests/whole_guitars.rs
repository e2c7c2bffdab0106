//! Guitars of several pickups: every position and knob against modified nodal analysis by nalgebra (support/twin.rs), which solves each
//! EMF by itself and adds the voltages as complex numbers (superposition), and against what two equal coils must be: side by side half the
//! inductance and resistance and twice the capacitance, in series the reverse at twice the EMF.

mod program;
mod support;

use knobwright::circuit::{Setting, transfer};
use knobwright::guitar::knob::Names;
use knobwright::guitar::whole::{View, Whole};
use knobwright::guitar::{Case, Guitar, Slot};
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

fn names(view: &View) -> &Names {
    view.names().expect("a guitar of several pickups")
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
    fn perhaps(random: &mut Random, share: f64) -> Option<Self> {
        random.chance(share).then(|| Self::draw(random))
    }

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
    tones: Vec<Pot>,
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
            tones: (0..2)
                .filter(|_| may_have_controls)
                .flat_map(|_| Pot::perhaps(random, 0.35))
                .collect(),
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
        text.extend(tables(&format!("pickups.{name}."), &self.tones));
        text
    }
}

/// One tone control under `[tone]`, several under names.
fn tables(before: &str, tones: &[Pot]) -> Vec<String> {
    match tones {
        [only] => vec![only.tone(&format!("{before}tone"))],
        several => several
            .iter()
            .zip(TONES)
            .map(|(pot, name)| pot.tone(&format!("{before}tones.{name}")))
            .collect(),
    }
}

/// What the knobs of these are called.
fn tone_names(owner: &str, tones: &[Pot]) -> Vec<String> {
    match tones {
        [_] => vec![format!("{owner}tone")],
        several => several.iter().zip(TONES).map(|(_, name)| format!("{owner}{name} tone")).collect(),
    }
}

const TONES: [&str; 2] = ["treble", "low"];
/// The positions of a rotary tone selector; the first is open.
const CHOICES: [(&str, Option<f64>); 3] = [("off", None), ("a", Some(1e-9)), ("b", Some(10e-9))];

/// A guitar, its positions as text and as trees.
struct Drawn {
    coils: Vec<Coil>,
    positions: Vec<(&'static str, &'static str)>,
    series: Option<f64>,
    across: Option<f64>,
    volume: Option<Pot>,
    tones: Vec<Pot>,
    bass_cut: Option<Pot>,
    /// Between neck and bridge.
    blend: Option<f64>,
    has_choices: bool,
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
        let may_blend = !with_series && coils[0].volume.is_none() && coils[2].volume.is_none();
        let tones: Vec<Pot> = (0..2).flat_map(|_| Pot::perhaps(random, 0.5)).collect();
        let has_choices = tones.iter().all(|pot| pot.network.is_none()) && tones.len() < 2 && random.chance(0.5);
        Self {
            series: random.chance(0.3).then(|| random.between(1e-9, 100e-9)),
            across: random.chance(0.3).then(|| random.between(50e3, 1e6)),
            volume: random.chance(0.7).then(|| Pot::draw(random)),
            bass_cut: random.chance(0.4).then(|| Pot::draw(random)),
            blend: (may_blend && random.chance(0.6)).then(|| random.between(100e3, 1e6)),
            tones,
            has_choices,
            coils,
            positions,
        }
    }

    fn text(&self) -> String {
        let mut text = "name = \"Drawn\"\n".to_owned();
        text.extend(self.coils.iter().zip(NAMES).map(|(coil, name)| coil.text(name)));
        text.push_str("[selector]\n");
        text.extend(self.positions.iter().map(|(name, written)| format!("{name} = \"{written}\"\n")));
        // Keys of the file itself stand before its tables.
        let own = |key: &str, value: Option<String>| value.map_or(String::new(), |value| format!("{key} = \"{value}\"\n"));
        text.insert_str(0, &own("series", self.series.map(|c| format!("{}n", c * 1e9))));
        text.insert_str(0, &own("across", self.across.map(|r| format!("{r}R"))));
        text.extend(self.volume.as_ref().map(|pot| pot.volume("volume", false)));
        text.extend(tables("", &self.tones));
        text.extend(self.bass_cut.as_ref().map(|pot| {
            let network = pot.network("network");
            format!("[bass_cut]\nresistance = \"{}R\"\ntaper = \"linear\"\n{network}", pot.track)
        }));
        text.extend(
            self.blend
                .map(|track| format!("[blend]\nresistance = \"{track}R\"\ntaper = \"linear\"\nbetween = [\"neck\", \"bridge\"]\n")),
        );
        for (name, farads) in CHOICES.iter().filter(|_| self.has_choices) {
            let network = own("network", farads.map(|c| format!("{}n", c * 1e9)));
            text.push_str(&format!("[[tone_choice]]\nname = \"{name}\"\n{network}"));
        }
        text + "[cable]\ncapacitance = \"500p\"\n"
    }

    /// Every knob by its name.
    fn knobs(&self) -> Vec<String> {
        let own = self.coils.iter().zip(NAMES).flat_map(|(coil, name)| {
            let volume = coil.volume.iter().map(move |_| format!("{name} volume"));
            volume.chain(tone_names(&format!("{name} "), &coil.tones))
        });
        let volume = self.volume.iter().map(|_| "volume".to_owned());
        let cut = self.bass_cut.iter().map(|_| "bass cut".to_owned());
        let blend = self.blend.iter().map(|_| "blend".to_owned());
        own.chain(volume)
            .chain(tone_names("", &self.tones))
            .chain(cut)
            .chain(blend)
            .collect()
    }

    /// V/E in a position of the selector and of the rotary one, where each knob stands by its name, by superposition.
    fn voltage(&self, position: &str, choice: &str, rotation: &dyn Fn(&str) -> f64, frequency: f64) -> Complex64 {
        let mut net = Netlist::new(frequency);
        let output = net.node();
        let lug = net.node();
        let meeting = net.node();
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
            let is_blended = self.blend.is_some() && which != 1;
            let lug = if own.volume.is_some() || is_blended { net.node() } else { hot };
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
            // One half of the blend: the pickup on the wiper, the lug where the track is full to the others, full at both in the middle.
            if let Some(track) = self.blend.filter(|_| which != 1) {
                let blend = rotation("blend");
                let share = if which == 0 { 2.0 - 2.0 * blend } else { 2.0 * blend };
                net.resistor(hot, lug, track * (1.0 - share.min(1.0)));
                net.resistor(lug, 0, track * share.min(1.0));
            }
            for (pot, name) in own.tones.iter().zip(tone_names(&format!("{} ", NAMES[which]), &own.tones)) {
                pot.wire_tone(net, (lug, hot), rotation(&name));
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
        let cut = net.node();
        match self.series {
            Some(c) => net.capacitor(meeting, cut, c),
            None => net.resistor(meeting, cut, 0.0),
        }
        match &self.bass_cut {
            Some(pot) => {
                net.resistor(cut, lug, pot.track * (1.0 - rotation("bass cut")));
                pot.wire_network(&mut net, cut, lug);
            }
            None => net.resistor(cut, lug, 0.0),
        }
        if let Some(r) = self.across {
            net.resistor(lug, 0, r);
        }
        match &self.volume {
            Some(pot) => pot.wire_volume(&mut net, (lug, output), rotation("volume"), false),
            None => net.resistor(lug, output, 0.0),
        }
        let chosen = CHOICES
            .iter()
            .find(|(name, _)| self.has_choices && *name == choice)
            .and_then(|(_, farads)| *farads);
        for (pot, name) in self.tones.iter().zip(tone_names("", &self.tones)) {
            let end = net.node();
            net.resistor(if pot.at_output { output } else { lug }, end, pot.track * rotation(&name));
            match chosen {
                Some(farads) => net.capacitor(end, 0, farads),
                None => pot.wire_network(&mut net, end, 0),
            }
        }
        if let (Some(farads), true) = (chosen, self.tones.is_empty()) {
            net.capacitor(lug, 0, farads);
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

#[test]
fn every_position_and_knob_is_the_sum_of_its_sources() {
    let mut random = Random(0x9E37_79B9_7F4A_7C15);
    let (mut seen, mut worst) = (0, 0.0_f64);
    for _ in 0..400 {
        let drawn = Drawn::draw(&mut random);
        let whole = whole(&drawn.text());
        let all = &names(&whole.views[0]).knobs;
        let mut named: Vec<&str> = all.iter().map(|knob| knob.name.as_str()).collect();
        let mut knobs = drawn.knobs();
        named.sort_unstable();
        knobs.sort_unstable();
        assert_eq!(named, knobs, "{}", drawn.text());
        // Each knob but those without parts to choose is turned in some view.
        for knob in knobs.iter().filter(|knob| !["blend", "bass cut"].contains(&knob.as_str())) {
            let is_turned = |view: &View| [&names(view).volume, &names(view).tone].contains(&&Some(knob.clone()));
            assert!(whole.views.iter().any(is_turned), "{knob}\n{}", drawn.text());
        }
        for view in &whole.views {
            for case in view.positions() {
                let turned: Vec<(String, f64)> = knobs.iter().map(|knob| (knob.clone(), random.rotation())).collect();
                let mut guitar = view.guitar.in_case(case);
                let ensemble = guitar.ensemble.as_deref_mut().unwrap();
                for (knob, (_, rotation)) in knobs.iter().zip(&turned) {
                    let knob = all.iter().find(|own| own.name == *knob).unwrap();
                    ensemble.turn(knob, *rotation);
                }
                let (position, choice) = match case.name.split_once(", ") {
                    Some((position, choice)) => (position, choice),
                    None => (case.name.as_str(), view.name.strip_prefix("tone ").unwrap_or("off")),
                };
                let setting = Setting {
                    volume: random.rotation(),
                    tone: random.rotation(),
                };
                let frequency = random.between(20.0, 20e3);
                let rotation = |knob: &str| match knob {
                    _ if Some(knob) == names(view).volume.as_deref() => setting.volume,
                    _ if Some(knob) == names(view).tone.as_deref() => setting.tone,
                    _ => turned.iter().find(|(name, _)| name == knob).unwrap().1,
                };
                let expected = drawn.voltage(position, choice, &rotation, frequency);
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

/// The cases in which a view's knobs are judged.
fn judged(guitar: &Guitar) -> impl Iterator<Item = &Case> {
    guitar
        .cases
        .iter()
        .filter(|case| case.position.as_ref().is_none_or(|position| position.is_judged))
}

fn network(written: &str) -> Network {
    Network::read(&Source::inline("network", written).passage()).unwrap().unwrap()
}

/// Every capacitor of E3 from 100 pF to 10 nF as a treble bleed, at any price.
fn of_one_capacitor(guitar: &Guitar, target: Target) -> Request {
    let mut request = Request::new(guitar.clone(), target);
    request.searches = vec![(Slot::Bleed, Some(network("C")))];
    let slots = Slot::ALL.map(Slot::word);
    let (series, range) = (Source::inline("--values", "C=E3"), Source::inline("--range", "C=100p..10n"));
    request.rules.add_series(&series.passage(), &slots).unwrap();
    request.rules.add_ranges(&range.passage(), &slots).unwrap();
    (request.top, request.at_any_price, request.lot) = (100, true, None);
    request
}

/// The margin of a guitar as it is, by the slow recommender's own definitions.
fn slow_margin(build: &Guitar, present: &Guitar, target: &Target) -> Option<f64> {
    let fitted = support::naive::Candidate::new([(Slot::Bleed, build.volume.bleed.clone())]);
    let ranked = support::naive::rank(present, build, target, vec![fitted]);
    ranked.first().map(|ranked| ranked.margin_db)
}

/// What is beyond one volume and one tone control may stand beside `[pickup]` too.
#[test]
fn a_guitar_of_one_pickup_may_have_more_controls() {
    let text = std::fs::read_to_string("stock-values/guitars/plover-bridge.toml").unwrap();
    let cut = "[bass_cut]\nresistance = \"1M\"\ntaper = \"linear\"\nnetwork = \"2n2\"\n";
    let with_cut = whole(&format!("{text}\n{cut}"));
    let [view] = with_cut.views.as_slice() else {
        panic!("one volume, one tone")
    };
    let plain = Guitar::read(&Source::inline("plover-bridge", text.as_str())).unwrap();
    let at = |guitar: &Guitar, frequency| decibels(transfer(guitar, Setting::FULL, frequency));
    for frequency in [80.0, 1e3, 5e3] {
        assert_close(at(&view.guitar, frequency), at(&plain, frequency), CLOSE_DB, "10 is no cut");
    }
    let mut turned = view.guitar.clone();
    let cut = names(view).knob("bass cut").unwrap();
    assert!(turned.ensemble.as_deref_mut().unwrap().turn(cut, 0.0));
    assert!(at(&turned, 80.0) < at(&plain, 80.0) - 10.0, "and 0 is one");
    assert_close(at(&turned, 5e3), at(&plain, 5e3), 1.0, "the highs stay");
}

/// A blend at either end leaves one pickup, loaded by the whole track of the other; in the middle both are at full.
#[test]
fn a_blend_leaves_one_pickup_at_each_end() {
    let petrel = whole(text_of("petrel"));
    let blend = names(&petrel.views[0]).knob("blend").unwrap();
    assert_eq!(blend.rest(), 0.5);
    let guitar = petrel.clone().only().unwrap();
    let at = |rotation: f64| {
        let mut turned = guitar.clone();
        turned.ensemble.as_deref_mut().unwrap().turn(blend, rotation);
        transfer(&turned, Setting::FULL, 1e3)
    };
    assert_eq!(at(0.5), transfer(&guitar, Setting::FULL, 1e3));
    // The other pickup's place, shorted by its wiper at 0, is its track to ground.
    let alone = |pickup: &str, other: &str| {
        let text = text_of("petrel").replace(
            "between = [\"neck\", \"bridge\"]",
            &format!("between = [\"{pickup}\", \"{other}\"]"),
        );
        let text = text.replace(
            "[blend]",
            &format!("[selector]\nonly = \"{pickup}\"\n[[load]]\nnetwork = \"250k\"\nat = \"pickup\"\n[blend]"),
        );
        transfer(&whole(&text).only().unwrap(), Setting::FULL, 1e3)
    };
    for (end, alone) in [(0.0, alone("neck", "bridge")), (1.0, alone("bridge", "neck"))] {
        assert!((at(end) - alone).norm() < 1e-9 * alone.norm(), "{end}: {} and {alone}", at(end));
    }
}

/// The list over all positions is that of a recommender which fits every candidate in every position and takes the smallest margin.
#[test]
fn the_list_over_positions_is_a_naive_one() {
    let values = [100e-12, 220e-12, 470e-12, 1e-9, 2.2e-9, 4.7e-9, 10e-9];
    let mut compared = 0;
    for view in views_of_many_positions(24) {
        let request = of_one_capacitor(&view.guitar, keep());
        // Some positions are silent: no target can be judged there.
        let Ok(found) = recommend(&request, &()) else { continue };
        let margin = |bleed: Option<Network>| {
            let margins = judged(&view.guitar).map(|case| {
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

/// The same value at every volume knob: that of a recommender which tries every value at all of them and takes the smallest margin.
#[test]
fn the_same_value_everywhere_is_a_naive_ones() {
    let values = [100e-12, 220e-12, 470e-12, 1e-9, 2.2e-9, 4.7e-9, 10e-9];
    let mut random = Random(0x0DDB_A115_EED5_EED5);
    let (mut compared, mut met) = (0, 0);
    for _ in 0..80 {
        let mut drawn = Drawn::draw(&mut random);
        (drawn.volume, drawn.blend) = (None, None);
        let guitar = whole(&drawn.text());
        let views: Vec<&View> = guitar
            .views
            .iter()
            .filter(|view| view.lugs.is_some() && !view.is_of_a_tone)
            .collect();
        if views.len() < 2 {
            continue;
        }
        let requests: Vec<Request> = views.iter().map(|view| of_one_capacitor(&view.guitar, keep())).collect();
        let Ok(found) = recommend_whole(&guitar, &views, &requests, &()) else {
            continue;
        };
        let Some(same) = found.same_parts else { continue };
        let least = |farads: f64| {
            let margins = views.iter().flat_map(|view| {
                judged(&view.guitar).map(|case| {
                    let present = view.guitar.in_case(case);
                    let mut build = present.clone();
                    build.fit(Slot::Bleed, Some(c(farads)));
                    slow_margin(&build, &present, &keep()).unwrap()
                })
            });
            margins.fold(f64::INFINITY, f64::min)
        };
        let naive = values.into_iter().map(least).fold(f64::NEG_INFINITY, f64::max);
        let got = same.margins_db.values().copied().fold(f64::INFINITY, f64::min);
        if same.slots[&Slot::Bleed] != "none" {
            assert_close(got, naive, 1e-7, "the same value at every knob");
            compared += 1;
        }
        met += usize::from(got >= 0.0);
    }
    assert!(compared >= 5, "{compared} compared, {met} met");
}

/// A clause of a position, with another knob turned: the list is that of a recommender which fits every candidate in that position, the other
/// knob turned there, and nowhere else. What a turned knob does was held against the second solver above.
#[test]
fn a_clause_names_positions_and_knobs() {
    let named = "[[clause]]\nmeasure = \"level\"\nagainst = \"full\"\nband = [1500, 4000]\nvolume = [7, 5]\nat_least = -4\n\
                 selector = [\"both\"]\nknobs = { \"bridge volume\" = 6 }\n";
    let target = |text: &str| Target::read(&Source::inline("named.toml", text)).unwrap_or_else(|error| panic!("{}", error.picture()));
    let plain = target(&named[..named.find("selector").unwrap()]);
    let view = sample("bustard").views.remove(0);
    let request = of_one_capacitor(&view.guitar, target(named));
    let found = recommend(&request, &()).unwrap();
    let both = view.elsewhere.iter().find(|case| case.name == "both").unwrap();
    let mut present = view.guitar.in_case(both);
    let bridge = names(&view).knob("bridge volume").unwrap();
    present.ensemble.as_deref_mut().unwrap().turn(bridge, 0.6);
    let mut compared = 0;
    for build in &found.builds {
        let mut fitted = present.clone();
        let written = build.slots.get(&Slot::Bleed).filter(|written| *written != "none");
        fitted.fit(Slot::Bleed, written.map(|written| network(written)));
        let naive = slow_margin(&fitted, &present, &plain).unwrap();
        assert_close(build.margin_db, naive, 1e-7, "margin in the position that is named");
        compared += 1;
    }
    assert!(compared >= 7, "{compared}");
    // Of the bridge's view it says nothing: its own knob would be the one at 6, and the wish is about the volume at 7 and 5.
    let names_of = |text: &str, guitar: &str| {
        let whole = sample(guitar);
        let asked: Vec<String> = whole.asked_by(&target(text)).iter().map(|view| view.name.clone()).collect();
        asked
    };
    let pickup = named.replace("selector = [\"both\"]\nknobs = { \"bridge volume\" = 6 }", "pickup = \"bridge\"");
    assert_eq!(names_of(&pickup, "bustard"), ["bridge"]);
    let knob = named.replace("selector = [\"both\"]\nknobs = { \"bridge volume\" = 6 }", "knob = \"neck volume\"");
    assert_eq!(names_of(&knob, "bustard"), ["neck"]);
    // Where one volume knob is for all, a pickup is asked about where it sounds alone.
    let lapwing = Request::new(sample("lapwing").only().unwrap(), target(&pickup));
    assert_eq!(lapwing.target.clauses[0].place.selector, ["bridge"]);
    for (wrong, expected) in [
        (named.replace("[\"both\"]", "[\"boht\"]"), "names the position `boht`"),
        (named.replace("bridge volume", "bridge volum"), "names the knob `bridge volum`"),
        (pickup.replace("\"bridge\"", "\"brigde\""), "names the pickup `brigde`"),
        (named.replace("[\"both\"]", "[\"neck\"]"), "holds in no position"),
    ] {
        let error = recommend(&Request::new(view.guitar.clone(), target(&wrong)), &()).expect_err(expected);
        assert!(error.picture().contains(expected), "{}", error.picture());
    }
    let single = Guitar::read(&Source::inline(
        "plover",
        std::fs::read_to_string("stock-values/guitars/plover-bridge.toml").unwrap(),
    ))
    .unwrap();
    let error = recommend(&Request::new(single, target(named)), &()).expect_err("no selector");
    assert!(error.picture().contains("names a position or a knob"), "{}", error.picture());
}

/// The file that is written of a target holds its places, and reads back.
#[test]
fn the_places_of_a_target_are_written() {
    let text = "[[clause]]\nsays = \"less mud\"\nselector = [\"both\", \"neck\"]\npickup = \"neck\"\nknob = \"neck tone\"\n\
                knobs = { \"bass cut\" = 2.5, blend = 10 }\n";
    let target = Target::read(&Source::inline("places.toml", text)).unwrap_or_else(|error| panic!("{}", error.picture()));
    let again = Target::read(&Source::inline("places.toml", target.to_toml())).unwrap_or_else(|error| panic!("{}", error.picture()));
    assert_eq!(target.clauses, again.clauses);
    let place = &again.clauses[0].place;
    assert_eq!(place.knobs, [("bass cut".to_owned(), 0.25), ("blend".to_owned(), 1.0)]);
    assert!(
        target.in_words()[0].contains("in the positions \"both\" and \"neck\""),
        "{:?}",
        target.in_words()
    );
    let json = serde_json::to_value(&target).unwrap();
    assert_eq!(json["clauses"][0]["knobs"]["bass cut"], 2.5);
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
        let margins = judged(&off).map(|case| {
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
    assert_eq!(WHOLE_GUITARS.len(), 13);
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
        (
            "[cable]",
            "[[case]]\ninductance = \"3 H\"\n[cable]",
            "the inductance of which pickup?",
        ),
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
    let refused_elsewhere = [
        (
            "petrel",
            "[\"neck\", \"bridge\"]",
            "[\"neck\", \"brigde\"]",
            "no pickup is called `brigde`",
        ),
        ("petrel", "[\"neck\", \"bridge\"]", "[\"neck\"]", "between 2 pickups"),
        ("petrel", "[\"neck\", \"bridge\"]", "[\"neck\", \"neck\"]", "two different pickups"),
        (
            "petrel",
            "[blend]",
            "[pickups.neck.volume]\nresistance = \"250k\"\ntaper = \"linear\"\n[blend]",
            "of its own, which a blend",
        ),
        (
            "petrel",
            "[blend]",
            "[selector]\nboth = \"neck + bridge\"\n[blend]",
            "controls of its own",
        ),
        (
            "petrel",
            "[tone]",
            "[tones.low]\nresistance = \"250k\"\ntaper = \"linear\"\n[tone]",
            "several under [tones.NAME], not both",
        ),
        (
            "snipe",
            "network = \"2n2\"",
            "network = \"2n2\"\nbypass = \"1n\"",
            "unknown key `bypass`",
        ),
        ("wigeon", "name = \"dark\"", "name = \"round\"", "two positions are called `round`"),
        (
            "wigeon",
            "[volume]",
            "[tone]\nresistance = \"250k\"\ntaper = \"linear\"\nnetwork = \"22n\"\n[volume]",
            "in place of the tone control's network",
        ),
        ("smew", "\"bridge.split\"", "\"bridge.splitt\"", "has no state `splitt`"),
        ("smew", "[cable]", "[[case]]\nvolume = \"1M\"\n[cable]", "lacks the [volume] table"),
    ];
    for (sample, from, to, expected) in refused_elsewhere {
        let wrong = text_of(sample).replacen(from, to, 1);
        assert_ne!(text_of(sample), wrong);
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
        "The same parts at all of them, bleed 180",
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
    let knobs = "neck volume,bridge volume,neck tone,bridge tone";
    assert_eq!(lines[0], format!("position,{knobs},frequency_hz,level_db,phase_deg"));
    let named: Vec<&str> = lines[1..].iter().filter_map(|line| line.split(',').next()).collect();
    assert_eq!(named, ["neck", "both"]);
    let both = program::ends(&program::with(&asked, &["--position", "both"]), 0);
    let figures = |line: &str| line.split(',').rev().take(3).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(figures(both.lines().nth(1).unwrap()), figures(lines[2]));
}

/// A position that is looked at alone keeps its name: a wish may name it, and none of the others.
#[test]
fn a_position_alone_keeps_its_name() {
    let asked = [
        "recommend",
        "--guitar",
        "bustard",
        "--knobs",
        "neck",
        "--position",
        "both",
        "--builds",
        "0",
        "--format",
        "json",
        "--quiet",
    ];
    let margin = |wish: &str| {
        let output = program::run(&program::with(&asked, &[wish]));
        let json: serde_json::Value =
            serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{}", program::text(&output.stderr)));
        json["answer"]["margin_db"].as_f64().unwrap()
    };
    assert_eq!(margin("keep highs in the both position"), margin("keep highs"));
    assert_eq!(margin("keep highs with both pickups"), margin("keep highs"));
    let refused = program::refused(&program::with(&asked, &["keep highs in the bridge position"]));
    assert!(refused.contains("no wish of the target is about these knobs"), "{refused}");
    let many = (0..=40)
        .map(|step| format!("{}", f64::from(step) / 4.0))
        .collect::<Vec<_>>()
        .join(",");
    let [one, other] = ["neck volume", "bridge volume"].map(|knob| format!("{knob}={many}"));
    let third = format!("bridge tone={many}");
    let refused = program::refused(&[
        "response", "--guitar", "bustard", "--knob", &one, "--knob", &other, "--knob", &third,
    ]);
    assert!(refused.contains("1000 is the most"), "{refused}");
}

/// What an answer spoils in one position only is said with that position.
#[test]
fn what_is_spoiled_is_told_with_its_position() {
    let request = Request::new(sample("wigeon").only().unwrap(), wish("less mud"));
    let found = recommend(&request, &()).unwrap();
    let says = &found.answer.says;
    let (_, after) = says
        .split_once("in the position \"")
        .unwrap_or_else(|| panic!("no position in: {says}"));
    let named = after.split('"').next().unwrap();
    assert!(request.guitar.cases.iter().any(|case| case.name == named), "{named}");
    // There, and by as much: the present guitar and the answer in that position, at full, over what the sentence is about.
    let build = found.answer.build.as_ref().expect("an answer at a price");
    let case = request.guitar.cases.iter().find(|case| case.name == named).unwrap();
    let level = |guitar: &Guitar| {
        let powers: Vec<f64> = (0..=200)
            .map(|step| 250.0 * 6.0_f64.powf(f64::from(step) / 200.0))
            .map(|hertz| transfer(&guitar.in_case(case), Setting::FULL, hertz).norm_sqr())
            .collect();
        10.0 * (powers.iter().sum::<f64>() / powers.len() as f64).log10()
    };
    let change = level(&build.guitar) - level(&request.guitar);
    assert!(
        says.contains(&format!("the mids are {:.0} dB quieter than now", -change)),
        "{says}: {change}"
    );
}

/// `--knob` turns one by its name, in every position that connects it; the figures are those of the library, and each knob has its column.
#[test]
fn a_response_turns_knobs_by_their_names() {
    let csv = |arguments: &[&str]| {
        let asked = ["response", "--frequencies", "1k", "--format", "csv", "--guitar"];
        let text = program::ends(&program::with(&asked, arguments), 0);
        let rows: Vec<Vec<String>> = text.lines().map(|line| line.split(',').map(str::to_owned).collect()).collect();
        rows
    };
    let rows = csv(&["bustard", "--knob", "neck volume=5,10", "--knob", "bridge volume=7.5"]);
    assert_eq!(
        rows[0][..5],
        ["position", "neck volume", "bridge volume", "neck tone", "bridge tone"]
    );
    assert_eq!(rows[1][..5], ["both", "5", "7.5", "10", "10"]);
    assert_eq!(rows[2][..5], ["both", "10", "7.5", "10", "10"]);
    assert_eq!(rows.len(), 3, "the other is connected in one position of the neck's");
    let view = sample("bustard").views.remove(0);
    let both = view.elsewhere.iter().find(|case| case.name == "both").unwrap();
    let mut guitar = view.guitar.in_case(both);
    guitar
        .ensemble
        .as_deref_mut()
        .unwrap()
        .turn(names(&view).knob("bridge volume").unwrap(), 0.75);
    let level: f64 = rows[1][6].parse().unwrap();
    assert_close(level, decibels(transfer(&guitar, setting(0.5, 1.0), 1e3)), 1e-9, "both turned");
    // One knob behind the selector that is no volume and no tone; and every volume in turn.
    let cut = csv(&["snipe", "--knob", "bass cut=10,0", "--position", "neck"]);
    assert_eq!(cut[0][..4], ["position", "volume", "tone", "bass cut"]);
    assert_eq!([&cut[1][3], &cut[2][3]], ["10", "0"]);
    assert_eq!([&cut[1][0], &cut[2][0]], ["neck", "neck"], "the knobs have columns of their own");
    let picture = program::ends(
        &[
            "response",
            "--guitar",
            "snipe",
            "--position",
            "neck",
            "--knob",
            "bass cut=10,0",
            "--plot",
            "-",
        ],
        0,
    );
    assert!(
        picture.contains("neck, bass cut 10") && picture.contains("neck, bass cut 0"),
        "curves that look alike:\n{picture}"
    );
    let turns = csv(&["bustard", "--volume", "5"]);
    let turned: Vec<[&str; 3]> = turns[1..].iter().map(|row| [0, 1, 2].map(|column| row[column].as_str())).collect();
    assert_eq!(
        turned,
        [["neck", "5", "10"], ["both", "5", "10"], ["bridge", "10", "5"], ["both", "10", "5"]]
    );
    for (arguments, expected) in [
        (vec!["bustard", "--knob", "neck volum=5"], "no knob called `neck volum`"),
        (vec!["bustard", "--knob", "neck volume=11"], "no position of a knob"),
        (vec!["bustard", "--knob", "neck volume"], "no `=` here"),
        (vec!["plover-bridge", "--knob", "volume=5"], "turn them with --volume"),
        (
            vec![
                "bustard",
                "--knob",
                "neck volume=5",
                "--knob",
                "bridge tone=2",
                "--position",
                "neck",
            ],
            "connects all of these",
        ),
        (vec!["bustard", "--volume", "5", "--plot", "never.svg"], "--knobs \"neck\""),
        (vec!["smew", "--volume", "5"], "the guitar has none"),
    ] {
        let refused = program::refused(&program::with(&["response", "--guitar"], &arguments));
        assert!(refused.contains(expected), "{arguments:?}: {refused}");
    }
}

/// A pickup of another inductance in a what-if case is the guitar whose file has it, in every position.
#[test]
fn a_case_changes_one_of_several_pickups() {
    // Without loss cells, which keep their shares in a case and their values in a file.
    let text = text_of("sandpiper");
    let other = text.replacen("inductance = \"", "inductance = \"1", 1);
    let named = |text: &str| text.split("[pickups.").nth(1).unwrap().split(']').next().unwrap().to_owned();
    let pickup = named(text);
    let value = other.split("inductance = \"").nth(1).unwrap().split('"').next().unwrap().to_owned();
    let case = format!("[[case]]\n\"{pickup} inductance\" = \"{value}\"\n");
    let view = whole(&format!("{text}\n{case}")).views.remove(0);
    let by_hand = whole(&other).views.remove(0);
    let (mut same, mut changed) = (0, 0);
    for (case, position) in view.guitar.cases.iter().zip(&by_hand.guitar.cases) {
        assert!(
            case.name.starts_with(&position.name) && case.name.contains(&format!("{pickup} inductance")),
            "{}",
            case.name
        );
        let [got, expected] = [(&view.guitar, case), (&by_hand.guitar, position)].map(|(guitar, case)| guitar.in_case(case));
        let at = |guitar: &Guitar| transfer(guitar, Setting::FULL, 2e3);
        assert!((at(&got) - at(&expected)).norm() < 1e-12, "{}", case.name);
        same += 1;
        let plain = whole(text).views.remove(0).guitar;
        let plain = plain.in_case(plain.cases.iter().find(|own| own.name == position.name).unwrap());
        changed += usize::from((at(&got) - at(&plain)).norm() > 1e-3);
    }
    assert!(same >= 2 && changed >= 2, "{same}, {changed}");
    let asked = format!("{pickup} inductance={}", value.replace(' ', ""));
    let json = program::ends(
        &[
            "recommend",
            "--guitar",
            "oriole",
            "keep highs",
            "--builds",
            "0",
            "--case",
            &asked,
            "--format",
            "json",
        ],
        1,
    );
    assert!(json.contains(&format!("{pickup} inductance")), "{json}");
    let refused = program::refused(&["recommend", "--guitar", "oriole", "keep highs", "--case", "inductance=4H"]);
    assert!(refused.contains("the inductance of which pickup?"), "{refused}");
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
    let bustard = view("bustard", "neck");
    assert_eq!(names(&bustard.guitar.cases), ["neck", "both"]);
    assert_eq!(
        (names(&bustard.judged), names(&bustard.elsewhere)),
        (vec!["neck".to_owned()], vec!["both".to_owned()])
    );
    assert_eq!(names(&bustard.seen_in(&[], &[]).unwrap().cases), ["neck", "both"]);
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
