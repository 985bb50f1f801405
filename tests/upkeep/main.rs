//! What keeps a formulary good, through the library and the real program.

mod diff;
