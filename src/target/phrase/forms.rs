//! What is shown when a phrase was not understood: the word that was meant, and three whole sentences that fit.

use super::NamedBand;
use super::lexer::Token;
use super::qualities::{QUALITIES, WIDE};
use super::speech;
use crate::error::{Error, one_slip};

/// The words a clause of the language's own forms can begin with.
pub(super) const FIRST_WORDS: [&str; 7] = ["keep", "cut", "no", "less", "more", "darker", "brighter"];

/// Sentences by the word a wish begins with; BAND stands for the band that was named.
const SENTENCES: [(&str, [&str; 3]); 8] = [
    (
        "keep",
        [
            "keep BAND within 3 dB from full to half volume",
            "keep BAND within 3 dB at tone 5",
            "keep level",
        ],
    ),
    (
        "cut",
        [
            "cut BAND by 6 to 12 dB at tone 0",
            "cut BAND by at least 3 dB at tone 5",
            "less BAND",
        ],
    ),
    (
        "no",
        ["no bump at tone 0", "no bump over 3 dB at tone 5", "no bump in mids at tone 0"],
    ),
    ("less", ["less BAND", "a bit less BAND", "less BAND by 2 dB at tone 5"]),
    ("more", ["more BAND", "a bit more BAND", "more BAND by 2 dB at half volume"]),
    ("darker", ["darker", "a bit darker", "darker by 2 dB at half volume"]),
    ("brighter", ["brighter", "a bit brighter", "brighter by 2 dB at half volume"]),
    ("BAND", ["less BAND", "more BAND", "keep BAND within 3 dB from full to half volume"]),
];
/// Where nothing at all was understood.
const COMMON: [&str; 3] = ["less mud", "brighter", "keep highs when I turn down"];

/// Adds three sentences that read: those of a word that is too wide, else those of the wish's first word and band.
pub(super) fn add(error: Error, first: Option<&str>, tokens: &[Token], bands: &[NamedBand]) -> Error {
    let wide = WIDE
        .iter()
        .find(|(words, _)| first.is_none() && tokens.iter().any(|token| words.contains(&token.written.as_str())));
    let sentences = match wide {
        Some((_, sentences)) => sentences.map(ToOwned::to_owned),
        None => fitting(first, tokens, bands),
    };
    let [one, two, three] = sentences;
    error
        .help(format!("for example: {one}"))
        .help(format!("or: {two}"))
        .help(format!("or: {three}"))
}

fn fitting(first: Option<&str>, tokens: &[Token], bands: &[NamedBand]) -> [String; 3] {
    let named = tokens.iter().find_map(|token| {
        let quality = QUALITIES
            .iter()
            .find(|quality| quality.word == token.word)
            .map(|quality| quality.band);
        let band = bands
            .iter()
            .find(|band| band.name.to_lowercase() == token.word)
            .map(|band| band.name.as_str());
        band.or(quality)
    });
    let begun = |word: &str| SENTENCES.iter().find(|(known, _)| *known == word);
    let first = first.and_then(begun).or_else(|| tokens.iter().find_map(|token| begun(&token.word)));
    let found = first.or_else(|| named.and_then(|_| begun("BAND")));
    let sentences = found.map_or(COMMON, |(_, sentences)| *sentences);
    sentences.map(|sentence| sentence.replace("BAND", named.unwrap_or("highs")))
}

/// Adds the word that was meant, where it is one slip of the finger away and nothing of another sense is.
pub(super) fn nearest_word(error: Error, written: &str, expected: &[&str]) -> Error {
    let written = written.to_lowercase();
    let asks_for_subject = expected.contains(&"highs");
    let own = expected.iter().copied().map(|word| (word, word));
    let first = FIRST_WORDS.into_iter().map(|word| (word, word));
    let qualities = QUALITIES.iter().map(|quality| (quality.word, quality.word));
    let spoken = speech::synonyms().flat_map(|(sense, words)| words.iter().map(move |word| (*sense, *word)));
    // Short words are near too many others, and alternatives are no word.
    let spoken = qualities.chain(spoken).filter(|(_, word)| word.len() >= 5 && !word.contains('/'));
    let subjects: Vec<(&str, &str)> = first.chain(spoken).filter(|_| asks_for_subject).collect();
    // A word of the language stands at the wrong place; it is no slip.
    if subjects.iter().any(|(_, word)| *word == written) {
        return error;
    }
    let mut near: Vec<(&str, &str)> = own.chain(subjects).filter(|(_, word)| one_slip(&written, word)).collect();
    // What can stand at this place goes before what can stand elsewhere.
    if near.iter().any(|(_, word)| expected.contains(word)) {
        near.retain(|(_, word)| expected.contains(word));
    }
    match near.split_first() {
        Some(((sense, word), rest)) if rest.iter().all(|(other, _)| other == sense) => error.help(format!("did you mean `{word}`?")),
        _ => error,
    }
}
