//! The files that come with the program, embedded. The only module that embeds anything.

/// A shipped file: the name a user types and its text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ShippedFile {
    /// The name a user types.
    pub name: &'static str,
    /// The whole text.
    pub text: &'static str,
}

/// The font of every picture: a subset of an open font, its licence beside it.
pub const PLOT_FONT: &[u8] = include_bytes!("report/plot/fonts/plot.ttf");

/// The style of every page to hand over.
pub const PAGE_STYLE: &str = include_str!("report/forms/page.css");

/// The script of every page to hand over.
pub const PAGE_SCRIPT: &str = include_str!("report/forms/page.js");

/// The sample guitars of several pickups.
pub const WHOLE_GUITARS: &[ShippedFile] = &[
    ShippedFile {
        name: "bustard",
        text: include_str!("../stock-values/whole-guitars/bustard.toml"),
    },
    ShippedFile {
        name: "grebe",
        text: include_str!("../stock-values/whole-guitars/grebe.toml"),
    },
    ShippedFile {
        name: "teal",
        text: include_str!("../stock-values/whole-guitars/teal.toml"),
    },
    ShippedFile {
        name: "sandpiper",
        text: include_str!("../stock-values/whole-guitars/sandpiper.toml"),
    },
    ShippedFile {
        name: "lapwing",
        text: include_str!("../stock-values/whole-guitars/lapwing.toml"),
    },
    ShippedFile {
        name: "oriole",
        text: include_str!("../stock-values/whole-guitars/oriole.toml"),
    },
    ShippedFile {
        name: "pelican",
        text: include_str!("../stock-values/whole-guitars/pelican.toml"),
    },
    ShippedFile {
        name: "redshank",
        text: include_str!("../stock-values/whole-guitars/redshank.toml"),
    },
    ShippedFile {
        name: "gannet",
        text: include_str!("../stock-values/whole-guitars/gannet.toml"),
    },
    ShippedFile {
        name: "petrel",
        text: include_str!("../stock-values/whole-guitars/petrel.toml"),
    },
    ShippedFile {
        name: "snipe",
        text: include_str!("../stock-values/whole-guitars/snipe.toml"),
    },
    ShippedFile {
        name: "wigeon",
        text: include_str!("../stock-values/whole-guitars/wigeon.toml"),
    },
    ShippedFile {
        name: "smew",
        text: include_str!("../stock-values/whole-guitars/smew.toml"),
    },
];

/// The sample guitars of one pickup; the first is the default.
pub const GUITARS: &[ShippedFile] = &[
    ShippedFile {
        name: "wren-bridge",
        text: include_str!("../stock-values/guitars/wren-bridge.toml"),
    },
    ShippedFile {
        name: "kestrel-bridge",
        text: include_str!("../stock-values/guitars/kestrel-bridge.toml"),
    },
    ShippedFile {
        name: "bittern-neck",
        text: include_str!("../stock-values/guitars/bittern-neck.toml"),
    },
    ShippedFile {
        name: "heron-bridge",
        text: include_str!("../stock-values/guitars/heron-bridge.toml"),
    },
    ShippedFile {
        name: "plover-bridge",
        text: include_str!("../stock-values/guitars/plover-bridge.toml"),
    },
    ShippedFile {
        name: "shrike-bridge",
        text: include_str!("../stock-values/guitars/shrike-bridge.toml"),
    },
    ShippedFile {
        name: "nightjar-neck",
        text: include_str!("../stock-values/guitars/nightjar-neck.toml"),
    },
    ShippedFile {
        name: "avocet-middle",
        text: include_str!("../stock-values/guitars/avocet-middle.toml"),
    },
    ShippedFile {
        name: "dunlin-bridge",
        text: include_str!("../stock-values/guitars/dunlin-bridge.toml"),
    },
    ShippedFile {
        name: "siskin-bridge",
        text: include_str!("../stock-values/guitars/siskin-bridge.toml"),
    },
    ShippedFile {
        name: "linnet-neck",
        text: include_str!("../stock-values/guitars/linnet-neck.toml"),
    },
    ShippedFile {
        name: "curlew-middle",
        text: include_str!("../stock-values/guitars/curlew-middle.toml"),
    },
];

/// The shipped targets; the first is the default target.
pub const TARGETS: &[ShippedFile] = &[
    ShippedFile {
        name: "highs-and-feel",
        text: include_str!("../targets/highs-and-feel.toml"),
    },
    ShippedFile {
        name: "highs-to-quarter",
        text: include_str!("../targets/highs-to-quarter.toml"),
    },
    ShippedFile {
        name: "highs-and-feel-to-quarter",
        text: include_str!("../targets/highs-and-feel-to-quarter.toml"),
    },
    ShippedFile {
        name: "clearer-closed-tone",
        text: include_str!("../targets/clearer-closed-tone.toml"),
    },
    ShippedFile {
        name: "tone-sweep",
        text: include_str!("../targets/tone-sweep.toml"),
    },
    ShippedFile {
        name: "darker-not-duller",
        text: include_str!("../targets/darker-not-duller.toml"),
    },
    ShippedFile {
        name: "match-another-guitar",
        text: include_str!("../targets/match-another-guitar.toml"),
    },
];

/// The series of preferred numbers of IEC 60063, each a CSV with the header `value` and the values from 1 to below 10.
pub const SERIES: &[ShippedFile] = &[
    ShippedFile {
        name: "E3",
        text: include_str!("../stock-values/series/e3.csv"),
    },
    ShippedFile {
        name: "E6",
        text: include_str!("../stock-values/series/e6.csv"),
    },
    ShippedFile {
        name: "E12",
        text: include_str!("../stock-values/series/e12.csv"),
    },
    ShippedFile {
        name: "E24",
        text: include_str!("../stock-values/series/e24.csv"),
    },
    ShippedFile {
        name: "E48",
        text: include_str!("../stock-values/series/e48.csv"),
    },
    ShippedFile {
        name: "E96",
        text: include_str!("../stock-values/series/e96.csv"),
    },
    ShippedFile {
        name: "E192",
        text: include_str!("../stock-values/series/e192.csv"),
    },
];
/// The sample stock lists.
pub const STOCK: &[ShippedFile] = &[ShippedFile {
    name: "small-workshop",
    text: include_str!("../stock-values/stock/small-workshop.csv"),
}];

/// The sample catalogues, many guitars each; the first is the default of a kit.
pub const CATALOGUES: &[ShippedFile] = &[ShippedFile {
    name: "sixty-birds",
    text: include_str!("../stock-values/catalogues/sixty-birds.csv"),
}];

/// The shipped curves, for targets that match one.
pub const CURVES: &[ShippedFile] = &[ShippedFile {
    name: "wren",
    text: include_str!("../targets/curves/wren.csv"),
}];

/// The chapters of the guide, in the order in which they are listed; the README has the same list.
pub const GUIDE: &[ShippedFile] = &[
    ShippedFile {
        name: "player",
        text: include_str!("guide/player.md"),
    },
    ShippedFile {
        name: "luthier",
        text: include_str!("guide/luthier.md"),
    },
    ShippedFile {
        name: "pickups",
        text: include_str!("guide/pickups.md"),
    },
    ShippedFile {
        name: "wiring",
        text: include_str!("guide/wiring.md"),
    },
    ShippedFile {
        name: "kit",
        text: include_str!("guide/kit.md"),
    },
    ShippedFile {
        name: "measuring",
        text: include_str!("guide/measuring.md"),
    },
    ShippedFile {
        name: "pictures",
        text: include_str!("guide/pictures.md"),
    },
    ShippedFile {
        name: "files",
        text: include_str!("guide/files.md"),
    },
    ShippedFile {
        name: "phrases",
        text: include_str!("guide/phrases.md"),
    },
    ShippedFile {
        name: "networks",
        text: include_str!("guide/networks.md"),
    },
];
