//! See `interstice_intake::fuzz::own_table`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| interstice_intake::fuzz::own_table(bytes));
