//! See `interstice_book::fuzz::rows`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| interstice_book::fuzz::rows(bytes));
