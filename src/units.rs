//! Lengths as people write them.
