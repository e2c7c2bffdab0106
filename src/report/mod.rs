//! Results as text and data.
