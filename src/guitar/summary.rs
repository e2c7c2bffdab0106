//! A guitar in one line, as it was read.

use super::{Guitar, Hookup, Joint, Pickup, Potentiometer, Tone, Volume};
use crate::units::{with_prefix, with_prefix_rounded};

impl Guitar {
    /// One line: the name and everything that was read.
    #[must_use]
    pub fn summary(&self) -> String {
        let mut parts = vec![pickup(&self.pickup)];
        if let Some(series) = &self.series {
            parts.push(format!("series {series}"));
        }
        parts.push(volume(&self.volume));
        parts.push(self.tone.as_ref().map_or_else(|| "no tone control".to_owned(), tone));
        parts.push(format!("cable {}", with_prefix_rounded(self.cable.capacitance.value(), "F", 4)));
        let capacitance = self.input.capacitance.value();
        let beside = if capacitance > 0.0 {
            format!(" and {}", with_prefix(capacitance, "F"))
        } else {
            String::new()
        };
        parts.push(format!("input {}{beside}", with_prefix(self.input.resistance.value(), "Ω")));
        for load in &self.loads {
            parts.push(format!("load {} at the {}", load.network, joint(load.at)));
        }
        if !self.cases.is_empty() {
            let names: Vec<&str> = self.cases.iter().map(|case| case.name.as_str()).collect();
            parts.push(format!("cases {}", names.join(" | ")));
        }
        format!("{}: {}", self.name, parts.join("; "))
    }
}

fn pickup(pickup: &Pickup) -> String {
    let cells = match pickup.loss.len() {
        0 => String::new(),
        1 => ", 1 loss cell".to_owned(),
        count => format!(", {count} loss cells"),
    };
    format!(
        "pickup {}, {}, {}{cells}",
        with_prefix(pickup.inductance.value(), "H"),
        with_prefix(pickup.resistance.value(), "Ω"),
        with_prefix(pickup.capacitance.value(), "F")
    )
}

fn volume(volume: &Volume) -> String {
    if !volume.is_fitted {
        return "no volume control".to_owned();
    }
    let bleed = volume.bleed.as_ref().map(|bleed| format!(", bleed {bleed}"));
    format!("volume {}{}", pot(&volume.pot), bleed.unwrap_or_default())
}

fn pot(pot: &Potentiometer) -> String {
    format!("{} {}", with_prefix(pot.resistance.value(), "Ω"), pot.taper)
}

fn tone(tone: &Tone) -> String {
    let mut text = format!("tone {}", pot(&tone.pot));
    match &tone.network {
        Some(network) => text.push_str(&format!(", {network}")),
        None => text.push_str(", nothing fitted"),
    }
    if tone.hookup == Hookup::Shelf {
        text.push_str(", shelf");
    }
    if let Some(bypass) = &tone.bypass {
        text.push_str(&format!(", bypass {bypass}"));
    }
    text.push_str(&format!(", joined at the {}", joint(tone.joined_at)));
    if tone.no_load {
        text.push_str(", no load at full");
    }
    text
}

fn joint(joint: Joint) -> &'static str {
    match joint {
        Joint::Pickup => "pickup",
        Joint::Wiper => "wiper",
    }
}
