//! [`Guitar`] → a guitar file (TOML) with a comment beside every key: what it is, what it usually is, and how its owner finds it out.
//!
//! What is usual is common practice, no source.

use std::fmt::Display;

use super::case::Case;
use super::taper::Taper;
use super::{Guitar, Hookup, Joint, Potentiometer, Tone};
use crate::document::quoted;
use crate::error::{Error, ErrorKind, Result};
use crate::parts::network::Network;
use crate::units::{Fraction, with_prefix};

const HEAD: &str = "\
    Put in what your guitar has, and try it with knobwright recommend --guitar and the name of this file. Lines that begin with # are \
    remarks; a key behind a # is one that this guitar does without: take the # away to use it. Values stand in quotes and carry a unit \
    or a prefix: \"4.4 H\", \"8 k\", \"120 p\", \"22n\".";
/// Columns of a remark, its mark included.
const WIDTH: usize = 96;
const SERIES: &str = "Parts between pickup and volume control, such as a bass-cut capacitor.";
const INDUCTANCE: &str = "\
    What an LCR meter reads at 100 or 120 Hz with the pickup unhooked. Single coils have 2 to 4 H, humbuckers 3.5 to 6 H, hot ones 6 to \
    10 H. Without such a meter leave it as it is, or measure the pickup's peak and ask knobwright identify.";
const WINDING_RESISTANCE: &str =
    "A multimeter across the unhooked pickup. Single coils have 5 to 8 kΩ, humbuckers 7 to 9 kΩ, hot ones 12 to 17 kΩ.";
const WINDING_CAPACITANCE: &str = "Of the winding and its leads: 60 to 200 pF. It is seldom known; 120 pF does little harm.";
const LOSS: &str =
    "Eddy losses in metal covers, poles and baseplates, as knobwright identify finds them; each takes its part of the inductance.";
const PICKUP_TOLERANCE: &str = "How far pickups of one model lie apart, for what comes out of many built guitars.";
const ACROSS: &str = "Parts from the pickup's hot lead to ground.";
const TRACK: &str = "A multimeter over the two outer lugs, the pot unhooked; it is printed on the case as 250K, 500K or 1M.";
const TAPER: &str = "\
    \"audio 15 %\": in the middle of its travel the wiper stands at 15 % of the track, as on many audio pots; \"linear\" at 50 %. With a \
    multimeter: turn the knob to 5 and measure from the middle lug to the outer lug it nears towards 0; the share of the whole is the \
    figure. The letter on the pot does not tell, since makers read it differently.";
const POT_TOLERANCE: &str = "20 % for most pots; 10 % for selected ones.";
const BLEED: &str =
    "A treble bleed: parts from the volume pot's input lug to its wiper; \"150k || 1n\" is in parallel, \"130k + 1n\" in series.";
const TONE_NETWORK: &str = "What goes from the tone pot to ground, mostly one capacitor: 22n (code 223) or 47n (code 473).";
const BYPASS: &str = "With the shelf hookup: parts from the tone pot's hot lug to its wiper.";
const HOOKUP: &str = "\"rheostat\": the wiper and one outer lug are used, as in most guitars; \"shelf\": the whole track stays in circuit.";
const JOINED_AT: &str =
    "\"pickup\": the tone control hangs on the volume pot's input lug (modern wiring); \"wiper\": on its middle lug ('50s wiring).";
const NO_LOAD: &str = "Whether the tone pot lets go at 10, as a no-load pot does.";
const NO_TONE: &str = "\
    This guitar has no tone control. One stands under a heading [tone], with resistance and taper as above and a network such as \"22n\".";
const CABLE: &str =
    "The whole cable, with what is in the guitar: about 100 pF a metre. Or write its length = \"4.5 m\" and per_metre = \"100 p\" instead.";
const CABLE_TOLERANCE: &str = "How far the cable may be off.";
const INPUT_RESISTANCE: &str = "1 MΩ for most amplifiers and pedals; a pedal of the old kind may have 100 kΩ or less.";
const INPUT_CAPACITANCE: &str = "Of the input: none to some 100 pF.";
const LOAD: &str = "Parts that stay connected: the other pickup's controls, a meter.";
const CASE: &str = "\
    Other cables, inputs or pots to ask about; with one or more of these only they count. Keys: name, cable, input, input_capacitance, \
    volume, tone, inductance.";

/// A file as it grows.
struct Page {
    text: String,
    is_below_heading: bool,
}

impl Page {
    fn heading(&mut self, heading: &str) {
        self.text.push_str(&format!("\n{heading}\n"));
        self.is_below_heading = true;
    }

    /// On lines of its own, apart from what is above unless that is a heading.
    fn remark(&mut self, remark: &str) {
        if !std::mem::take(&mut self.is_below_heading) {
            self.text.push('\n');
        }
        for line in textwrap::wrap(remark, WIDTH - 2) {
            self.text.push_str(&format!("# {line}\n"));
        }
    }

    fn key(&mut self, key: &str, value: impl Display) {
        self.text.push_str(&format!("{key} = {value}\n"));
    }

    fn remarked(&mut self, remark: &str, key: &str, value: impl Display) {
        self.remark(remark);
        self.key(key, value);
    }

    /// A key that need not be there; `example` stands in a remark where it is not.
    fn optional(&mut self, remark: &str, key: &str, value: Option<String>, example: &str) {
        self.remark(remark);
        match value {
            Some(value) => self.key(key, value),
            None => self.text.push_str(&format!("# {key} = {example}\n")),
        }
    }
}

impl Guitar {
    /// The guitar as a file to start from: it reads back to the same guitar.
    ///
    /// # Errors
    /// Where a taper was measured: it stands in a file of its own, whose name a guitar does not hold.
    pub fn to_toml(&self) -> Result<String> {
        let mut page = Page {
            text: String::new(),
            is_below_heading: true,
        };
        page.remark(&format!(
            "A guitar file for knobwright, with the values of {}. {HEAD}",
            quoted(&self.name)
        ));
        page.text.push('\n');
        page.key("name", quoted(&self.name));
        page.optional(SERIES, "series", network(self.series.as_ref()), "\"3n9\"");
        self.write_pickup(&mut page);
        page.heading("[volume]");
        write_pot(&mut page, &self.volume.pot, "volume")?;
        page.optional(BLEED, "bleed", network(self.volume.bleed.as_ref()), "\"150k || 1n\"");
        match &self.tone {
            Some(tone) => write_tone(&mut page, tone)?,
            None => page.remark(NO_TONE),
        }
        self.write_surroundings(&mut page);
        Ok(page.text)
    }

    fn write_pickup(&self, page: &mut Page) {
        page.heading("[pickup]");
        let pickup = &self.pickup;
        page.remarked(INDUCTANCE, "inductance", henries(pickup.inductance.value()));
        page.remarked(WINDING_RESISTANCE, "resistance", ohms(pickup.resistance.value()));
        page.remarked(WINDING_CAPACITANCE, "capacitance", farads(pickup.capacitance.value()));
        let cells = pickup.loss.iter().map(|cell| {
            let (inductance, resistance) = (henries(cell.inductance.value()), ohms(cell.resistance.value()));
            format!("{{ inductance = {inductance}, resistance = {resistance} }}")
        });
        let cells: Vec<String> = cells.collect();
        let loss = (!cells.is_empty()).then(|| format!("[{}]", cells.join(", ")));
        page.optional(LOSS, "loss", loss, "[{ inductance = \"1 H\", resistance = \"30 k\" }]");
        page.optional(PICKUP_TOLERANCE, "tolerance", pickup.tolerance.map(share), "\"5 %\"");
        page.optional(ACROSS, "across", network(self.across.as_ref()), "\"470p\"");
    }

    fn write_surroundings(&self, page: &mut Page) {
        page.heading("[cable]");
        page.remarked(CABLE, "capacitance", farads(self.cable.capacitance.value()));
        page.optional(CABLE_TOLERANCE, "tolerance", self.cable.tolerance.map(share), "\"10 %\"");
        page.heading("[input]");
        page.remarked(INPUT_RESISTANCE, "resistance", ohms(self.input.resistance.value()));
        page.remarked(INPUT_CAPACITANCE, "capacitance", farads(self.input.capacitance.value()));
        for load in &self.loads {
            page.heading("[[load]]");
            page.remarked(LOAD, "network", quoted(&load.network.to_string()));
            page.key("at", quoted(load.at.word()));
        }
        for case in &self.cases {
            write_case(page, case);
        }
        if self.cases.is_empty() {
            page.remark(CASE);
            page.text.push_str("# [[case]]\n# name = \"6 m cable\"\n# cable = \"600 p\"\n");
        }
    }
}

fn write_tone(page: &mut Page, tone: &Tone) -> Result<()> {
    page.heading("[tone]");
    write_pot(page, &tone.pot, "tone")?;
    page.optional(TONE_NETWORK, "network", network(tone.network.as_ref()), "\"22n\"");
    page.optional(
        HOOKUP,
        "hookup",
        (tone.hookup != Hookup::Rheostat).then(|| quoted(tone.hookup.word())),
        "\"shelf\"",
    );
    if tone.hookup == Hookup::Shelf {
        page.optional(BYPASS, "bypass", network(tone.bypass.as_ref()), "\"100n\"");
    }
    page.optional(
        JOINED_AT,
        "joined_at",
        (tone.joined_at != Joint::Pickup).then(|| quoted(tone.joined_at.word())),
        "\"wiper\"",
    );
    page.optional(NO_LOAD, "no_load", tone.no_load.then(|| "true".to_owned()), "true");
    Ok(())
}

fn write_pot(page: &mut Page, pot: &Potentiometer, knob: &str) -> Result<()> {
    if let Taper::Table(_) = pot.taper {
        let message = format!("the taper of the {knob} pot was measured, and the file of its table is not known here");
        return Err(Error::new(ErrorKind::Conflict, message).help("copy the guitar file itself, together with the table"));
    }
    page.remarked(TRACK, "resistance", ohms(pot.resistance.value()));
    page.remarked(TAPER, "taper", quoted(&pot.taper.to_string()));
    page.optional(POT_TOLERANCE, "tolerance", pot.tolerance.map(share), "\"20 %\"");
    Ok(())
}

fn write_case(page: &mut Page, case: &Case) {
    page.heading("[[case]]");
    page.key("name", quoted(&case.name));
    let changes = [
        ("cable", case.cable.map(|cable| farads(cable.value()))),
        ("input", case.input.map(|input| ohms(input.value()))),
        ("input_capacitance", case.input_capacitance.map(|input| farads(input.value()))),
        ("volume", case.volume.map(|volume| ohms(volume.value()))),
        ("tone", case.tone.map(|tone| ohms(tone.value()))),
        ("inductance", case.inductance.map(|inductance| henries(inductance.value()))),
    ];
    for (key, value) in changes {
        if let Some(value) = value {
            page.key(key, value);
        }
    }
}

fn network(network: Option<&Network>) -> Option<String> {
    network.map(|network| quoted(&network.to_string()))
}

fn henries(value: f64) -> String {
    quoted(&with_prefix(value, "H"))
}

fn ohms(value: f64) -> String {
    quoted(&with_prefix(value, "Ω"))
}

fn farads(value: f64) -> String {
    quoted(&with_prefix(value, "F"))
}

fn share(share: Fraction) -> String {
    quoted(&format!("{} %", (share.value() * 1e8).round() / 1e6))
}
