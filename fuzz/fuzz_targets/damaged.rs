//! See `interstice_findings::fuzz::damaged`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| interstice_findings::fuzz::damaged(bytes));
