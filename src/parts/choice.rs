//! What a free part may be.
