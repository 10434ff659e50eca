//! Grading steps from the design.
