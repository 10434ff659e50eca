//! Text and JSON faces of the plan.
