//! See `interstice_web::fuzz::request`.

#![no_main]

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| interstice_web::fuzz::request(bytes));
