//! Reads scans and writes what was read: the other side of `tests/reference/formats.py`.
//!
//! `read_scan FILE OUT.raw`: the samples as read, RGB, 8 or 16 bits in little-endian order, to OUT.raw; one line of JSON on standard
//! output, `{ width, height, bits, ppi, profile, pages, warnings }`, or `{ error, message }`.

use std::error::Error;
use std::fs;

use barewash::decode::read;
use barewash::image::Samples;
use serde_json::json;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let (Some(file), Some(out)) = (arguments.next(), arguments.next()) else { return Err("read_scan FILE OUT.raw".into()) };
    match read(&fs::read(file)?) {
        Err(why) => println!("{}", json!({ "error": why.kind().code(), "message": why.message() })),
        Ok(scan) => {
            let sheet = &scan.sheet;
            let bytes = match sheet.samples() {
                Samples::Eight(v) => v,
                Samples::Sixteen(v) => v.iter().flat_map(|v| v.to_le_bytes()).collect(),
            };
            fs::write(out, bytes)?;
            let warnings: Vec<&str> = scan.warnings.iter().map(|w| w.code).collect();
            println!(
                "{}",
                json!({
                    "width": sheet.width(), "height": sheet.height(), "bits": sheet.bits(), "ppi": sheet.ppi().map(|p| p.0),
                    "profile": scan.profile, "pages": scan.pages, "warnings": warnings,
                })
            );
        }
    }
    Ok(())
}
