//! Models of line and balloon.

mod line;

pub use line::LineModel;
