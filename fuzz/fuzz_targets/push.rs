//! See `interstice_intake::fuzz::push`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| interstice_intake::fuzz::push(bytes));
