//! Measures of a lift against the truth.
