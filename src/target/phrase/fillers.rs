//! What is passed over in a phrase, as tables (common practice, no source).

/// Words without a share in the meaning, passed over wherever they stand.
pub(super) const PASSED_OVER: &[&str] = &[
    "a", "an", "the", "my", "our", "your", "this", "that", "these", "those", "some", "any", "here", "knob", "knobs", "control", "pot",
    "controls", "pots", "i", "i'd", "i'm", "you", "we", "me", "us", "it", "want", "need", "needs", "like", "love", "wish", "would",
    "could", "can", "should", "will", "how", "do", "does", "help", "make", "makes", "making", "made", "give", "gives", "have", "having",
    "be", "being", "please", "pls", "thanks", "thank", "cheers", "thx", "hi", "hello", "hey", "sound", "sounding", "tonal", "just", "also",
    "really", "quite", "very", "rather", "pretty", "think", "find", "looking", "trying", "with", "on", "fit", "install", "fix", "cure",
    "stop", "setting", "get", "getting", "know", "why", "use", "cures", "fixes", "stops", "id", "im", "i've", "ive",
];

/// Words that stand for the guitar itself, passed over as well, with what joins them to the rest.
pub(super) const GUITAR: &[&str] = &[
    "guitar",
    "guitars",
    "guitar's",
    "pickup",
    "pickups",
    "pickup's",
    "pup",
    "pups",
    "neck",
    "bridge",
    "humbucker",
    "humbuckers",
    "coil",
    "coils",
    "single",
    "position",
];

/// What an ear likes; "too dark for my taste" says no more than "too dark".
pub(super) const TASTE: &[&str] = &["taste", "tastes", "liking", "ears", "now", "before"];

/// What joins [`GUITAR`] and [`TASTE`] to the rest, passed over with them: "for a humbucker", "in the neck position", "from my neck pickup".
pub(super) const JOINING: &[&str] = &["for", "in", "of", "from", "to", "than"];

/// Passed over where a part is asked for ("a better tone cap"), and words that begin so ("choose", "recommendation").
pub(super) const ASKING: &[&str] = &[
    "pick", "picking", "try", "big", "size", "better", "new", "put", "go", "buy", "order", "about", "advice",
];
pub(super) const ASKING_STEMS: &[&str] = &["recommend", "suggest", "choos", "select", "replac", "upgrad", "swap", "chang"];

/// Passed over as well; what follows is a statement, not a wish.
pub(super) const STATES: &[&str] = &[
    "is", "are", "was", "it's", "its", "sounds", "gets", "got", "becomes", "feels", "seems", "looks", "goes", "going", "has", "there",
    "there's", "theres", "that's",
];
