//! The yard in 3D.
