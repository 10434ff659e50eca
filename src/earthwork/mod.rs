//! Ground and grading steps → surfaces, cut and fill, soil.
