//! Curves under sliders: the frame, the controls and the readout. The script fills them from the data beside them.

use crate::picture::Sweep;
use crate::report::escape::escaped;
use crate::report::plot::labelled_frequencies;

/// The drawing's size and the frame of its curves, as the script has them.
const SIZE: [u32; 2] = [720, 430];
const LEFT: f64 = 58.0;
const RIGHT: f64 = 698.0;
const TOP: f64 = 14.0;
const BOTTOM: f64 = 386.0;
/// Level lines, top and bottom included, 5 dB apart.
const LINES: usize = 9;

/// A section's inside, its heading included.
pub(super) fn player(sweep: &Sweep, heading: &str) -> String {
    let case = sweep
        .case
        .as_ref()
        .map(|case| format!(" In the {} {}.", sweep.case_word, escaped(case)))
        .unwrap_or_default();
    let left_out = match sweep.left_out {
        0 => String::new(),
        count => format!(" {count} more builds are in the table only."),
    };
    format!(
        "<h2>{}</h2>\n<p>Turn the knobs and watch what reaches the amplifier.{case}{left_out}</p>\n<div id=\"player\">\n{}\n{}\n{}\n\
         <p id=\"readout\" role=\"status\">The curves need scripts, which are off here; the pictures and figures below stand by themselves.</p>\n\
         </div>\n<p class=\"note\">Level in dB at the output, the pickup's own voltage being 0 dB. The program computed it at {} × {} knob \
         positions; between them the page interpolates, to 0.1 dB of the program from 1 % of the volume knob's travel up.</p>",
        escaped(heading),
        choices(sweep),
        frame(sweep),
        knobs(sweep),
        sweep.volume.nodes.len(),
        sweep.tone.nodes.len()
    )
}

fn choices(sweep: &Sweep) -> String {
    let options = |shown: usize| -> String {
        let option = |(index, build): (usize, &crate::picture::Swept)| {
            let selected = if index == shown { " selected=\"selected\"" } else { "" };
            format!("<option value=\"{index}\"{selected}>{}</option>", escaped(&build.name))
        };
        sweep.builds.iter().enumerate().map(option).collect()
    };
    let [before, after] = sweep.shown;
    let radio = |value: &str, checked: bool| {
        let checked = if checked { " checked=\"checked\"" } else { "" };
        format!("<label><input type=\"radio\" name=\"show\" value=\"{value}\"{checked}/> {value}</label>")
    };
    format!(
        "<div class=\"choices\">\n<p><label for=\"before\"><svg class=\"swatch\" viewBox=\"0 0 40 10\" aria-hidden=\"true\">\
         <path class=\"curve before\" d=\"M1 5H39\"/></svg> Before</label> <select id=\"before\">{}</select></p>\n\
         <p><label for=\"after\"><svg class=\"swatch\" viewBox=\"0 0 40 10\" aria-hidden=\"true\"><path class=\"curve after\" d=\"M1 5H39\"/></svg> \
         After</label> <select id=\"after\">{}</select></p>\n<fieldset><legend>Show</legend>{}{}{}</fieldset>\n</div>",
        options(before),
        options(after),
        radio("before", false),
        radio("both", true),
        radio("after", false)
    )
}

/// The frame with frequency lines, level lines whose labels the script writes, two empty curves and the reading line.
fn frame(sweep: &Sweep) -> String {
    let ends = [sweep.frequencies_hz.first(), sweep.frequencies_hz.last()].map(|end| end.copied().unwrap_or(1.0));
    let x = |hertz: f64| LEFT + (RIGHT - LEFT) * (hertz / ends[0]).ln() / (ends[1] / ends[0]).ln();
    let mut body = String::new();
    for (hertz, label) in labelled_frequencies(ends[0], ends[1]) {
        let x = x(hertz);
        let class = if label.is_some() { "line" } else { "line minor" };
        body.push_str(&format!("<path class=\"{class}\" d=\"M{x:.1} {TOP}V{BOTTOM}\"/>\n"));
        if let Some(label) = label {
            body.push_str(&format!(
                "<text class=\"hertz\" x=\"{x:.1}\" y=\"{:.1}\">{label}</text>\n",
                BOTTOM + 22.0
            ));
        }
    }
    for index in 0..LINES {
        let y = TOP + (BOTTOM - TOP) * index as f64 / (LINES - 1) as f64;
        body.push_str(&format!(
            "<path class=\"line\" d=\"M{LEFT} {y:.1}H{RIGHT}\"/>\n<text class=\"level\" x=\"{:.1}\" y=\"{:.1}\"></text>\n",
            LEFT - 7.0,
            y + 5.0
        ));
    }
    format!(
        "<svg id=\"curves\" viewBox=\"0 0 {} {}\" role=\"img\" aria-labelledby=\"curves-title curves-text\" data-frame=\"{LEFT} {TOP} {RIGHT} \
         {BOTTOM}\">\n<title id=\"curves-title\">Level in dB over frequency in Hz, before and after</title>\n<desc id=\"curves-text\"></desc>\n{body}\
         <text class=\"unit\" x=\"{LEFT}\" y=\"{:.1}\">dB over Hz</text>\n\
         <rect class=\"frame\" x=\"{LEFT}\" y=\"{TOP}\" width=\"{}\" height=\"{}\"/>\n\
         <svg x=\"{LEFT}\" y=\"{TOP}\" width=\"{w}\" height=\"{h}\" viewBox=\"{LEFT} {TOP} {w} {h}\" overflow=\"hidden\">\n\
         <path id=\"curve-before\" class=\"curve before\"/>\n<path id=\"curve-after\" class=\"curve after\"/>\n\
         <path id=\"reading\" class=\"reading\"/>\n<circle id=\"dot-before\" class=\"dot before\" r=\"5\" cx=\"-99\" cy=\"-99\"/>\n\
         <circle id=\"dot-after\" class=\"dot after\" r=\"5\" cx=\"-99\" cy=\"-99\"/>\n</svg>\n</svg>",
        SIZE[0],
        SIZE[1],
        BOTTOM + 40.0,
        RIGHT - LEFT,
        BOTTOM - TOP,
        w = RIGHT - LEFT,
        h = BOTTOM - TOP,
    )
}

fn knobs(sweep: &Sweep) -> String {
    let start = |rotation: f64| (rotation * 100.0).round();
    let slider = |id: &str, label: &str, most: usize, value: f64| {
        format!(
            "<p><label for=\"{id}\">{label}</label> <input type=\"range\" id=\"{id}\" min=\"0\" max=\"{most}\" step=\"1\" value=\"{value}\"/> \
             <output id=\"{id}-value\" for=\"{id}\"></output></p>"
        )
    };
    let mut sliders = vec![slider("volume", "Volume", 100, start(sweep.start.volume))];
    if sweep.tone.nodes.len() > 1 {
        sliders.push(slider("tone", "Tone", 100, start(sweep.start.tone)));
    }
    let last = sweep.frequencies_hz.len().saturating_sub(1);
    let at = sweep.frequencies_hz.iter().position(|hertz| *hertz >= 3000.0).unwrap_or(last);
    sliders.push(slider("frequency", "Read at", last, at as f64));
    format!("<div class=\"knobs\">\n{}\n</div>", sliders.join("\n"))
}
