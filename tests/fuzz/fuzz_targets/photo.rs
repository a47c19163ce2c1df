//! Feeds `photo` to the fuzzer.

#![no_main]

libfuzzer_sys::fuzz_target!(init: waywright_fuzz::quiet(), |bytes: &[u8]| waywright_fuzz::photo(bytes));
