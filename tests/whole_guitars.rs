//! Guitars of several pickups: every position and knob against modified nodal analysis by nalgebra (support/twin.rs), which solves each
//! EMF by itself and adds the voltages as complex numbers (superposition), and against what two equal coils must be: side by side half the
//! inductance and resistance and twice the capacitance, in series the reverse at twice the EMF.

mod support;

use knobwright::circuit::{Setting, transfer};
use knobwright::guitar::whole::Whole;
use knobwright::guitar::{Guitar, Joint};
use knobwright::source::Source;
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
    if let Some(name) = view.strip_suffix(" tone") {
        return [Some("volume".to_owned()), Some(format!("{name} tone"))];
    }
    match NAMES.iter().position(|name| *name == view) {
        Some(which) => {
            let own = drawn.coils[which].tone.is_some().then(|| format!("{view} tone"));
            [Some(format!("{view} volume")), own.or(shared_tone)]
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
    assert_eq!(
        plural.tone.map(|tone| tone.joined_at),
        single.tone.map(|tone: knobwright::guitar::Tone| -> Joint { tone.joined_at })
    );
}
