//! The files that come with the program, embedded as text. The only module that embeds anything.

/// A shipped file: the name a user types and its text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ShippedFile {
    /// The name a user types.
    pub name: &'static str,
    /// The whole text.
    pub text: &'static str,
}

/// The sample guitars; the first is the default.
pub const GUITARS: &[ShippedFile] = &[];

/// The shipped targets; the first is the default target.
pub const TARGETS: &[ShippedFile] = &[];

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
