//! The `winterfig` program.

fn main() {}
