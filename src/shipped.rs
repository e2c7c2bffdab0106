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
