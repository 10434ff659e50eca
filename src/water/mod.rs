//! Finished surface and level → water.
