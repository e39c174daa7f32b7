//! Bytes that begin as a BMP does are read or refused.
#![no_main]

use barewash::decode::Format;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| barewash_fuzz::read(bytes, Format::Bmp));
