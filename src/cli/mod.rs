//! The commands of the program, each a function from arguments to text or files.

mod inspect;

pub use inspect::{Inspection, inspect};
